//! The strips of a site, kept so that its areas and volumes can be computed again elsewhere.

use super::applications::Applications;
use super::laid::Laid;
use super::sums::{Sums, ZoneSum};
use crate::geometry::plane::Xy;
use crate::result::{ApplicationStrips, DoseCells, Ring, SiteStrips};
use std::collections::{BTreeMap, HashSet};
use std::ops::Range;

fn ring(points: &[Xy]) -> Ring {
    points.iter().map(|point| (point.x_m, point.y_m)).collect()
}

/// All strips of a site by application and pass.
pub(super) fn strips(laid: &Laid, done: &Applications, sums: &Sums) -> SiteStrips {
    let site = laid.site;
    SiteStrips {
        site: site.id.clone(),
        centre: site.plane.origin(),
        turn_rad: site.plane.turn_rad(),
        zones: site
            .zones
            .iter()
            .map(|zone| {
                (
                    zone.id.clone(),
                    zone.region
                        .rings()
                        .iter()
                        .map(|points| ring(points))
                        .collect(),
                )
            })
            .collect(),
        applications: (0..done.groups.len())
            .map(|app| application(laid, done, app, &sums.zones[app]))
            .collect(),
    }
}

/// The dose grids of an application.
fn grids(laid: &Laid, sums: &[ZoneSum]) -> Vec<DoseCells> {
    let zones = laid.site.zones.iter().zip(sums);
    let cells = zones.filter_map(|(zone, sum)| {
        let dose = sum.grid.as_ref()?;
        let grid = dose.grid();
        Some(DoseCells {
            zone: zone.id.clone(),
            origin: (grid.origin.x_m, grid.origin.y_m),
            cell_m: grid.cell_m,
            columns: grid.columns,
            litres: dose.litres(),
        })
    });
    cells.collect()
}

fn application(
    laid: &Laid,
    done: &Applications,
    app: usize,
    sums: &[ZoneSum],
) -> ApplicationStrips {
    let of_app = |leg: usize, steps: &Range<usize>| done.of_steps(leg, steps) == Some(app);
    let mut passes: BTreeMap<(usize, u32), Vec<Ring>> = BTreeMap::new();
    let mut kept = ApplicationStrips {
        number: app + 1,
        passes: vec![],
        unlogged: vec![],
        pieces: vec![],
        grids: grids(laid, sums),
    };
    for (leg, strips) in laid.strips.iter().enumerate() {
        let own: HashSet<u32> = strips
            .passes
            .iter()
            .filter(|pass| of_app(leg, &pass.steps))
            .map(|pass| pass.pass)
            .collect();
        for strip in strips
            .recorded
            .iter()
            .filter(|strip| own.contains(&strip.pass))
        {
            passes
                .entry((leg, strip.pass))
                .or_default()
                .push(ring(strip.ground.corners()));
        }
        let unlogged = strips.corridors.iter().filter(|corridor| {
            corridor.unlogged && of_app(leg, &(corridor.step..corridor.step + 1))
        });
        kept.unlogged
            .extend(unlogged.map(|corridor| ring(&corridor.ring)));
        let pieces = strips.pieces.iter().filter(|piece| {
            piece.litres > 0.0 && of_app(leg, &(piece.step as usize..piece.step as usize + 1))
        });
        kept.pieces
            .extend(pieces.map(|piece| (ring(piece.ground.corners()), piece.litres)));
    }
    kept.passes = passes.into_values().collect();
    kept
}
