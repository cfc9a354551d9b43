//! Ground that a boom crossed while a section switched. A log sampled once a second shows a switch up to
//! a second late: whether liquid fell there nobody knows, so no verdict on patches and keep-off ground
//! leans on it. Areas and litres count it as the log has it.

use super::laid::{Laid, PassGround};
use super::overlap;
use super::swath::Strips;
use crate::overlay::Region;
use crate::plane::Xy;
use std::ops::Range;

/// One switching of one leg, all sections that took part.
pub(super) struct SwitchedGround {
    pub(super) leg: usize,
    pub(super) steps: Range<usize>,
    /// Told as wet, perhaps closed already; else told as closed, perhaps open already.
    pub(super) wet: bool,
    pub(super) ground: Region,
}

/// All such ground near a site.
pub(super) fn grounds(strips: &[Strips]) -> Vec<SwitchedGround> {
    let mut grounds = Vec::new();
    for (leg, strips) in strips.iter().enumerate() {
        for wet in [false, true] {
            let of_kind: Vec<_> = strips
                .switched
                .iter()
                .filter(|strip| strip.wet == wet)
                .collect();
            let rows = of_kind.chunk_by(|a, b| b.step <= a.step + 1);
            grounds.extend(rows.map(|row| {
                let rings: Vec<&[Xy]> = row.iter().map(|strip| strip.ground.corners()).collect();
                SwitchedGround {
                    leg,
                    steps: row[0].step..row[row.len() - 1].step + 1,
                    wet,
                    ground: Region::union_of_positive(rings),
                }
            }));
        }
    }
    grounds
}

/// What of some ground of a pass was wet beyond doubt about its switches.
pub(super) fn sure_part(laid: &Laid, pass: &PassGround, ground: &Region) -> Region {
    let of_pass = |switched: &&SwitchedGround| {
        switched.wet && switched.leg == pass.leg && overlap(&switched.steps, &pass.steps)
    };
    let switched = laid.switched.iter().filter(of_pass);
    ground.difference(&Region::union_of(switched.map(|switched| &switched.ground)))
}
