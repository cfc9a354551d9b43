//! Cuts of a lot: at its reflex corners along one of the two edges there, and across a heading wherever an island or a
//! corner begins to part the lanes.

use super::bits::Bits;
use super::edges::Edge;
use super::field::Field;
use super::line::{Line, across};
use super::patches::connected;
use super::switches::stretches;
use crate::geometry::plane::Xy;
use std::collections::HashMap;

/// A corner turns in by at least this much, as a sine (trade judgement).
const LEAST_TURN: f64 = 0.2;
/// Both edges of a corner are at least this long, m (trade judgement).
const LEAST_EDGE_M: f64 = 3.0;
/// Cuts that are tried, those at the longest edges first (by trial).
const MOST_CUTS: usize = 4;
/// A part with less than this share of the lot is no part (trade judgement).
const LEAST_PART: f64 = 0.05;

/// One cut.
pub(super) struct Cut {
    /// What lies on either side.
    pub(super) parts: Vec<Bits>,
}

/// The cuts worth trying.
pub(super) fn cuts(field: &Field) -> Vec<Cut> {
    let mut lines: Vec<(f64, Xy, f64)> = Vec::new();
    for [a, b, c] in corners(&field.reach_edges) {
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

/// Corners of ground, each with the corner before and the one after it.
fn corners(edges: &[Edge]) -> impl Iterator<Item = [Xy; 3]> + '_ {
    let key = |point: Xy| (point.x_m.to_bits(), point.y_m.to_bits());
    let mut onward: HashMap<(u64, u64), Xy> = HashMap::with_capacity(edges.len());
    for &(a, b) in edges {
        onward.entry(key(a)).or_insert(b);
    }
    edges
        .iter()
        .filter_map(move |&(a, b)| Some([a, b, *onward.get(&key(b))?]))
}

/// The reached cells to the left of a line.
fn side(field: &Field, corner: Xy, heading_rad: f64) -> Bits {
    /// Farther than any lot reaches, m (limit).
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

/// A place this near to a corner is at it, m (tolerance).
const AT_M: f64 = 1e-3;
/// With more places where lanes part than this, cells would be crumbs (by trial).
const MOST_PARTINGS: usize = 400;

/// The reached ground in cells within which lanes along a line run side by side from end to end; `None` where nothing
/// parts them, or too much does.
pub(super) fn cells_along(field: &Field, line: &Line) -> Option<Cut> {
    let ahead = Xy::at_angle(line.heading_rad);
    let side = across(line.heading_rad);
    let edges = &field.reach_edges;
    // Where the ground parts, and on which side of the corner.
    let parting = |[a, b, c]: [Xy; 3]| {
        let (before, after) = (a.minus(b).dot(ahead), c.minus(b).dot(ahead));
        let turns_in = b.minus(a).cross(c.minus(b)) < 0.0;
        // Both neighbours on one side of the line across through the corner.
        let same_side = before * after >= 0.0 && (before - after).abs() > AT_M;
        (turns_in && same_side).then(|| (b, -(before + after).signum()))
    };
    let partings: Vec<(Xy, f64)> = corners(edges).filter_map(parting).collect();
    if partings.is_empty() || partings.len() > MOST_PARTINGS {
        return None;
    }
    let mut left = field.reach.clone();
    for (b, side_of_it) in partings {
        let away = side_of_it * field.cells.cell_m / 2.0;
        let from = b.plus(ahead, away);
        for (low_m, high_m) in
            stretches(edges, from, line.heading_rad + std::f64::consts::FRAC_PI_2)
        {
            if low_m > field.cells.cell_m || high_m < -field.cells.cell_m {
                continue;
            }
            let wall_m = 0.8 * field.cells.cell_m;
            let at = |along_m: f64, across_m: f64| from.plus(ahead, along_m).plus(side, across_m);
            let wall = [
                at(-wall_m, low_m - wall_m),
                at(wall_m, low_m - wall_m),
                at(wall_m, high_m + wall_m),
                at(-wall_m, high_m + wall_m),
            ];
            field
                .cells
                .scan_convex(&wall, |row, columns| left.clear(row, columns));
        }
    }
    let parts = connected(&left, &field.cells);
    let parts = parts.into_iter().map(|cells| {
        let mut part = Bits::none(&field.cells);
        for (column, row) in cells {
            part.set(row, column..column + 1);
        }
        part
    });
    Some(Cut {
        parts: parts.collect(),
    })
}
