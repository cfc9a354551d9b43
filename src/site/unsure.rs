//! Swaths that a towed boom laid in reverse in a turn: the trailer may have stood elsewhere. Their area
//! is given, but no verdict on patches and keep-off ground leans on them.

use super::covers::Covers;
use super::heaped;
use super::laid::{Laid, PassGround};
use super::leg::Leg;
use super::outcome::ReverseTowedFact;
use super::overlap;
use super::swath::Strips;
use super::zones::point_in;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::site::coverage::LEAST_PATCH_M2;
use std::borrow::Cow;
use std::ops::Range;

/// An unbroken row of such steps of one leg; many rows where grounds are made of cells.
pub(super) struct UnsureGround {
    pub(super) leg: usize,
    pub(super) steps: Range<usize>,
    /// Its swath.
    pub(super) ground: Region,
    /// All ground that it may have covered instead: as far as the boom is long, and the position error.
    pub(super) reach: Region,
}

/// All such swaths near a site.
pub(super) fn swaths(
    legs: &[Leg],
    strips: &[Strips],
    position_m: f64,
    cells: &[Option<Grid>],
) -> Vec<UnsureGround> {
    let mut swaths = Vec::new();
    for (leg, strips) in strips.iter().enumerate() {
        let boom = &legs[leg].boom;
        let reach_m = boom.width_m(boom.all()) + position_m;
        if let Some(grid) = cells[leg].filter(|_| !strips.unsure.is_empty()) {
            swaths.extend(heaped::unsure(grid, leg, &legs[leg], strips, reach_m));
            continue;
        }
        let rows = strips.unsure.chunk_by(|a, b| b.step <= a.step + 1);
        swaths.extend(rows.map(|row| {
            let rings: Vec<&[Xy]> = row.iter().map(|strip| strip.ground.corners()).collect();
            let ground = Region::union_of_positive(rings);
            UnsureGround {
                leg,
                steps: row[0].step..row[row.len() - 1].step + 1,
                reach: ground.offset(reach_m),
                ground,
            }
        }));
    }
    swaths
}

/// The ground of a pass without its unsure swaths.
pub(super) fn sure_part<'a>(laid: &Laid, pass: &'a PassGround) -> Cow<'a, Region> {
    let of_pass =
        |swath: &&UnsureGround| swath.leg == pass.leg && overlap(&swath.steps, &pass.steps);
    let unsure = laid.unsure.iter().filter(of_pass);
    let unsure = Region::union_of(unsure.map(|swath| &swath.ground));
    if unsure.is_empty() {
        Cow::Borrowed(&pass.region)
    } else {
        Cow::Owned(pass.region.difference(&unsure))
    }
}

/// One fact a leg that laid such swaths on the site's zones.
pub(super) fn facts(laid: &Laid, covers: &Covers) -> Vec<ReverseTowedFact> {
    let mut legs: Vec<usize> = laid.unsure.iter().map(|swath| swath.leg).collect();
    legs.sort_unstable();
    legs.dedup();
    let zones = &laid.site.zones;
    let ground = Region::union_of(zones.iter().map(|zone| &zone.region));
    let fact = |leg: usize| {
        let own = laid.unsure.iter().filter(|swath| swath.leg == leg);
        let own: Vec<&UnsureGround> = own.collect();
        let on_site = Region::union_of(own.iter().map(|swath| &swath.ground)).intersection(&ground);
        let place = point_in(&on_site, &laid.site.plane)?;
        let reach = Region::union_of(own.iter().map(|swath| &swath.reach));
        let patches: Vec<f64> = covers
            .zones
            .iter()
            .flatten()
            .flat_map(|cover| &cover.patches)
            .filter(|patch| patch.unsure && patch.core_m2 >= LEAST_PATCH_M2)
            .filter(|patch| !patch.region.intersection(&reach).is_empty())
            .map(|patch| patch.area_m2)
            .collect();
        Some(ReverseTowedFact {
            leg,
            area_m2: on_site.area_m2(),
            patches: patches.len(),
            patches_m2: patches.iter().sum(),
            start: laid.legs[leg].fixes[own.first()?.steps.start].time,
            place,
        })
    };
    legs.into_iter().filter_map(fact).collect()
}
