//! The strips of a site, kept so that its areas and volumes can be computed again elsewhere.

use super::Bench;
use super::pieces::{Sums, ZoneSum};
use crate::plane::Xy;
use crate::result::{ApplicationStrips, DoseCells, Ring, SiteStrips};
use std::collections::{BTreeMap, HashSet};
use std::ops::Range;

fn ring(points: &[Xy]) -> Ring {
    points.iter().map(|point| (point.x_m, point.y_m)).collect()
}

/// All strips of a site by application and pass.
pub(super) fn strips(bench: &Bench, sums: &Sums) -> SiteStrips {
    let site = bench.work.site;
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
        applications: (0..bench.groups.len())
            .map(|app| application(bench, app, &sums.zones[app]))
            .collect(),
    }
}

/// The dose grids of an application.
fn grids(bench: &Bench, sums: &[ZoneSum]) -> Vec<DoseCells> {
    let zones = bench.work.site.zones.iter().zip(sums);
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

fn application(bench: &Bench, app: usize, sums: &[ZoneSum]) -> ApplicationStrips {
    let of_app = |run: usize, steps: &Range<usize>| bench.application_of(run, steps) == Some(app);
    let mut passes: BTreeMap<(usize, u32), Vec<Ring>> = BTreeMap::new();
    let mut of_run = ApplicationStrips {
        number: app + 1,
        passes: vec![],
        unlogged: vec![],
        pieces: vec![],
        grids: grids(bench, sums),
    };
    for (run, strips) in &bench.strips {
        let own: HashSet<u32> = strips
            .passes
            .iter()
            .filter(|pass| of_app(*run, &pass.steps))
            .map(|pass| pass.pass)
            .collect();
        for strip in strips
            .recorded
            .iter()
            .filter(|strip| own.contains(&strip.pass))
        {
            passes
                .entry((*run, strip.pass))
                .or_default()
                .push(ring(strip.ground.corners()));
        }
        let unlogged = strips.corridors.iter().filter(|corridor| {
            corridor.unlogged && of_app(*run, &(corridor.step..corridor.step + 1))
        });
        of_run
            .unlogged
            .extend(unlogged.map(|corridor| ring(&corridor.ring)));
        let pieces = strips.pieces.iter().filter(|piece| {
            piece.litres > 0.0 && of_app(*run, &(piece.step as usize..piece.step as usize + 1))
        });
        of_run
            .pieces
            .extend(pieces.map(|piece| (ring(piece.ground.corners()), piece.litres)));
    }
    of_run.passes = passes.into_values().collect();
    of_run
}
