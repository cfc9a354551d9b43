//! What is asked of the engine's regions, worked out without it: point by point, edge by edge, in whole numbers.

use super::super::GridPoint;
use super::super::faces::Shapes;
use super::super::rings::Winding;
use super::cases::Ring;

/// Positive when p is left of the line from a to b.
fn side(a: GridPoint, b: GridPoint, p: GridPoint) -> i128 {
    i128::from(b.x - a.x) * i128::from(p.y - a.y) - i128::from(b.y - a.y) * i128::from(p.x - a.x)
}

fn edges(ring: &[GridPoint]) -> impl Iterator<Item = (GridPoint, GridPoint)> + '_ {
    ring.iter()
        .copied()
        .zip(ring.iter().copied().cycle().skip(1))
}

/// How often a ring winds about a point that is not on it.
pub(super) fn winding(ring: &[GridPoint], p: GridPoint) -> i32 {
    let crossings = edges(ring).map(|(a, b)| match (a.y <= p.y, b.y <= p.y) {
        (true, false) => i32::from(side(a, b, p) > 0),
        (false, true) => -i32::from(side(a, b, p) < 0),
        _ => 0,
    });
    crossings.sum()
}

/// The two windings of weighted rings about a point.
pub(super) fn windings(rings: &[Ring], p: GridPoint) -> Winding {
    rings
        .iter()
        .fold(Winding::default(), |sum, (ring, weight)| {
            let times = winding(ring, p);
            Winding {
                of: sum.of + times * weight.of,
                by: sum.by + times * weight.by,
            }
        })
}

/// Whether some edge comes nearer to a point than so many steps.
pub(super) fn is_near(rings: &[Ring], p: GridPoint, steps: f64) -> bool {
    rings
        .iter()
        .flat_map(|(ring, _)| edges(ring))
        .any(|(a, b)| {
            let [dx, dy] = [(b.x - a.x) as f64, (b.y - a.y) as f64];
            let [px, py] = [(p.x - a.x) as f64, (p.y - a.y) as f64];
            let squared = dx * dx + dy * dy;
            let share = if squared > 0.0 {
                ((px * dx + py * dy) / squared).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (px - share * dx).hypot(py - share * dy) < steps
        })
}

/// The length of all edges, steps.
pub(super) fn length(rings: &[Ring]) -> f64 {
    let of = |(a, b): (GridPoint, GridPoint)| ((b.x - a.x) as f64).hypot((b.y - a.y) as f64);
    rings.iter().flat_map(|(ring, _)| edges(ring)).map(of).sum()
}

/// Twice the area.
pub(super) fn doubled_area(ring: &[GridPoint]) -> i128 {
    let Some(&origin) = ring.first() else {
        return 0;
    };
    edges(ring).map(|(a, b)| side(origin, a, b)).sum()
}

pub(super) fn doubled_area_of(shapes: &Shapes) -> i128 {
    shapes.iter().flatten().map(|ring| doubled_area(ring)).sum()
}

fn is_on(ring: &[GridPoint], p: GridPoint) -> bool {
    let within = |a: i64, b: i64, p: i64| a.min(b) <= p && p <= a.max(b);
    edges(ring).any(|(a, b)| side(a, b, p) == 0 && within(a.x, b.x, p.x) && within(a.y, b.y, p.y))
}

/// What is wrong with shapes by the rules of OGC 06-103r4 (Simple Features), 6.1.11.1: windings, a ring that touches
/// itself, a hole outside, edges that cross or lie on each other.
pub(super) fn fault(shapes: &Shapes) -> Option<&'static str> {
    for shape in shapes {
        for (place, ring) in shape.iter().enumerate() {
            let doubled = doubled_area(ring);
            if doubled == 0 || (doubled > 0) != (place == 0) {
                return Some("winding");
            }
            let mut corners = ring.clone();
            corners.sort();
            corners.dedup();
            if corners.len() != ring.len() {
                return Some("a corner twice in a ring");
            }
            let outside = |p: &GridPoint| winding(&shape[0], *p) == 0 && !is_on(&shape[0], *p);
            if place > 0 && ring.iter().any(outside) {
                return Some("a hole outside");
            }
        }
    }
    let all: Vec<(GridPoint, GridPoint)> = shapes
        .iter()
        .flatten()
        .flat_map(|ring| edges(ring))
        .collect();
    let pairs = all
        .iter()
        .enumerate()
        .flat_map(|(place, one)| all[..place].iter().map(move |other| (one, other)));
    pairs
        .filter_map(|(one, other)| fault_of(*one, *other))
        .next()
}

fn fault_of(
    (a, b): (GridPoint, GridPoint),
    (c, d): (GridPoint, GridPoint),
) -> Option<&'static str> {
    let apart = |a: i64, b: i64, c: i64, d: i64| a.max(b) < c.min(d) || c.max(d) < a.min(b);
    if apart(a.x, b.x, c.x, d.x) || apart(a.y, b.y, c.y, d.y) {
        return None;
    }
    let [c_side, d_side, a_side, b_side] =
        [side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)].map(i128::signum);
    if c_side * d_side < 0 && a_side * b_side < 0 {
        return Some("edges cross");
    }
    if [c_side, d_side, a_side, b_side] == [0; 4] {
        let along = |p: GridPoint| if a.x == b.x { p.y } else { p.x };
        let [a, b, c, d] = [a, b, c, d].map(along);
        if a.min(b).max(c.min(d)) < a.max(b).min(c.max(d)) {
            return Some("edges lie on each other");
        }
    }
    None
}
