//! Swaths that a towed boom laid in reverse in a turn: the trailer may have stood elsewhere. Their area
//! is given, but no verdict on patches and keep-off ground rests on them.

use super::grounds::UnsureGround;
use super::heaped;
use super::leg::Leg;
use super::swath::Strips;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;

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
