//! Rings that are not outlines: a scribble of a few thousand corners crosses itself millions of times,
//! and dissolving it would take hours. An outline traced by hand or by a receiver crosses itself a few times.

use crate::geometry::place::LonLat;
use rstar::primitives::GeomWithData;
use rstar::{RTree, primitives::Rectangle};

/// Most crossings of a ring that are worth repairing; they take under a second (limit).
pub(super) const MOST_CROSSINGS: usize = 10_000;
/// Most pairs of edges looked at: a comb of long slanted teeth has many that meet in their boxes only (limit).
const MOST_PAIRS: usize = 20_000_000;

type Edge = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// Whether a closed ring crosses itself more than [`MOST_CROSSINGS`] times. Corners are compared as
/// they stand: a ring across the antimeridian has two edges round the globe, which changes nothing here.
pub(super) fn is_scribble(ring: &[LonLat]) -> bool {
    // n edges cross at most n (n - 3) / 2 times.
    if ring.len() * ring.len() / 2 <= MOST_CROSSINGS {
        return false;
    }
    let corner = |index: usize| [ring[index].lon_deg, ring[index].lat_deg];
    let edges: Vec<Edge> = (1..ring.len())
        .map(|end| Edge::new(Rectangle::from_corners(corner(end - 1), corner(end)), end))
        .collect();
    let tree = RTree::bulk_load(edges);
    let crossings = tree
        .intersection_candidates_with_other_tree(&tree)
        .filter(|(a, b)| a.data < b.data)
        .take(MOST_PAIRS)
        .filter(|(a, b)| {
            let (from, to) = (corner(a.data - 1), corner(a.data));
            let (start, end) = (corner(b.data - 1), corner(b.data));
            side(from, to, start) * side(from, to, end) < 0.0
                && side(start, end, from) * side(start, end, to) < 0.0
        });
    crossings.take(MOST_CROSSINGS + 1).count() > MOST_CROSSINGS
}

/// -1, 0 or 1: on which side of the line from `from` to `to` a point lies.
fn side(from: [f64; 2], to: [f64; 2], point: [f64; 2]) -> f64 {
    let cross = (to[0] - from[0]) * (point[1] - from[1]) - (to[1] - from[1]) * (point[0] - from[0]);
    if cross > 0.0 {
        1.0
    } else if cross < 0.0 {
        -1.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A star polygon with an odd number of points, each joined to the nearly opposite one: with n
    /// points and step k it crosses itself n (k - 1) times.
    fn star(points: usize) -> Vec<LonLat> {
        (0..=points)
            .map(|i| {
                let turn = (i * (points / 2) % points) as f64 / points as f64;
                let (sin, cos) = (std::f64::consts::TAU * turn).sin_cos();
                LonLat {
                    lon_deg: 0.001 * cos,
                    lat_deg: 0.001 * sin,
                }
            })
            .collect()
    }

    #[test]
    fn a_star_of_many_points_is_a_scribble() {
        // 143 x (71 - 1) = 10,010 and 141 x (70 - 1) = 9,729 crossings.
        assert!(is_scribble(&star(143)));
        assert!(!is_scribble(&star(141)));
    }

    #[test]
    fn a_round_outline_of_many_corners_is_none() {
        let ring: Vec<LonLat> = (0..=50_000)
            .map(|i| {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / 50_000.0).sin_cos();
                LonLat {
                    lon_deg: cos,
                    lat_deg: sin,
                }
            })
            .collect();
        assert!(!is_scribble(&ring));
    }
}
