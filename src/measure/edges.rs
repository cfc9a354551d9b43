//! Edges of ground: cut where drawn lines bend, as strips of some thickness, near to points.

use super::places::disc;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::input::sites::AidKind;

/// A piece of an outline, from corner to corner.
pub(super) type Edge = (Xy, Xy);

/// A drawn edge line this near to a zone's edge runs along it, m (tolerance).
pub(super) const ALONG_M: f64 = 1.0;
/// Corners this near to an edge lie on it, m: the overlay's grid is far finer (tolerance).
pub(super) const ON_EDGE_M: f64 = 1e-3;

/// An edge cut where drawn edge lines begin, end or bend beside it.
pub(super) fn split(a: Xy, b: Xy, lines: &[(Vec<Xy>, AidKind)]) -> Vec<Edge> {
    let along = b.minus(a);
    let squared_m2 = along.dot(along);
    let mut cuts: Vec<f64> = lines
        .iter()
        .flat_map(|(line, _)| line)
        .filter(|&&point| distance_m(point, a, b) <= ALONG_M)
        .map(|point| point.minus(a).dot(along) / squared_m2)
        .filter(|share| *share > 0.0 && *share < 1.0)
        .collect();
    cuts.sort_by(f64::total_cmp);
    let mut parts = Vec::with_capacity(cuts.len() + 1);
    let mut from = a;
    for cut in cuts {
        let to = a.plus(along, cut);
        if to.minus(from).length_m() > ON_EDGE_M {
            parts.push((from, to));
            from = to;
        }
    }
    parts.push((from, b));
    parts
}

/// Ground within a distance of curbs. Round only where the ground's corner points inward, or a curb ends: elsewhere
/// the straight strips meet.
pub(super) fn near(curbs: &[Edge], distance_m: f64) -> Region {
    let mut rings: Vec<Vec<Xy>> = Vec::new();
    for &(a, b) in curbs {
        rings.push(thick(a, b, distance_m));
        let along = b.minus(a);
        let bends_in = |next: &(Xy, Xy)| along.cross(next.1.minus(b)) < 0.0;
        if curbs.iter().filter(|next| next.0 == b).all(bends_in) {
            rings.push(disc(b, distance_m));
        }
        if curbs.iter().all(|before| before.1 != a) {
            rings.push(disc(a, distance_m));
        }
    }
    Region::union_of_positive(rings.iter().map(Vec::as_slice))
}

/// A line of some thickness, counter-clockwise.
pub(super) fn thick(a: Xy, b: Xy, half_m: f64) -> Vec<Xy> {
    let along = b.minus(a);
    let length_m = along.length_m();
    if length_m <= 0.0 {
        return disc(a, half_m);
    }
    let left = Xy::new(-along.y_m / length_m, along.x_m / length_m);
    vec![
        a.plus(left, -half_m),
        b.plus(left, -half_m),
        b.plus(left, half_m),
        a.plus(left, half_m),
    ]
}

/// Distance of a point from a line between two points, m.
pub(super) fn distance_m(point: Xy, a: Xy, b: Xy) -> f64 {
    let along = b.minus(a);
    let squared_m2 = along.dot(along);
    let share = if squared_m2 > 0.0 {
        (point.minus(a).dot(along) / squared_m2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    point.minus(a.plus(along, share)).length_m()
}

/// The middle of an edge.
pub(super) fn middle((a, b): Edge) -> Xy {
    Xy::new(f64::midpoint(a.x_m, b.x_m), f64::midpoint(a.y_m, b.y_m))
}
