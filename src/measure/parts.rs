//! Cuts of a lot at its reflex corners, along one of the two edges there.

use super::bits::Bits;
use super::field::{Field, across};
use crate::plane::Xy;

/// A corner turns in by at least this much, as a sine.
const LEAST_TURN: f64 = 0.2;
/// Both edges of a corner are at least this long, m.
const LEAST_EDGE_M: f64 = 3.0;
/// Cuts that are tried, those at the longest edges first.
const MOST_CUTS: usize = 4;
/// A part with less than this share of the lot is no part.
const LEAST_PART: f64 = 0.05;

/// One cut.
pub(super) struct Cut {
    /// What lies on either side.
    pub(super) parts: Vec<Bits>,
}

/// The cuts worth trying.
pub(super) fn cuts(field: &Field) -> Vec<Cut> {
    let edges = &field.reach_edges;
    let mut lines: Vec<(f64, Xy, f64)> = Vec::new();
    for &(a, b) in edges {
        let Some(&(_, c)) = edges.iter().find(|next| next.0 == b) else {
            continue;
        };
        let (before, after) = (b.minus(a), c.minus(b));
        let (long_m, other_m) = (before.length_m(), after.length_m());
        let short_m = long_m.min(other_m);
        // Ground lies to the left: a right turn is a reflex corner.
        if short_m < LEAST_EDGE_M || before.cross(after) >= -LEAST_TURN * long_m * other_m {
            continue;
        }
        for edge in [before, after] {
            lines.push((short_m, b, edge.y_m.atan2(edge.x_m)));
        }
    }
    lines.sort_by(|p, q| q.0.total_cmp(&p.0));
    lines.truncate(MOST_CUTS);
    let whole = field.reach.count() as f64;
    lines
        .into_iter()
        .filter_map(|(_, corner, heading_rad)| {
            let left = side(field, corner, heading_rad);
            let mut right = field.reach.clone();
            right.take(&left);
            let enough = |part: &Bits| part.count() as f64 >= LEAST_PART * whole;
            (enough(&left) && enough(&right)).then(|| Cut {
                parts: vec![left, right],
            })
        })
        .collect()
}

/// The reached cells to the left of a line.
fn side(field: &Field, corner: Xy, heading_rad: f64) -> Bits {
    /// Farther than any lot reaches, m.
    const FAR_M: f64 = 50_000.0;
    let ahead = Xy::at_angle(heading_rad);
    let left = across(heading_rad);
    let (from, to) = (corner.plus(ahead, -FAR_M), corner.plus(ahead, FAR_M));
    let ring = [from, to, to.plus(left, FAR_M), from.plus(left, FAR_M)];
    let mut bits = Bits::none(&field.cells);
    field
        .cells
        .scan_convex(&ring, |row, columns| bits.set(row, columns));
    bits.keep(&field.reach);
    bits
}
