//! An order in which to drive to a set of places: nearest neighbour from the first, then 2-opt
//! (G. A. Croes, "A Method for Solving Traveling-Salesman Problems", Operations Research 6, 1958):
//! a stretch of the way is turned round wherever that shortens it.
//!
//! Straight distances stand in for roads, so the order is a good start and no promise. The way
//! is open: it begins at the first place and ends anywhere.

use crate::geometry::place::{LonLat, east_deg};

/// Mean radius of the Earth, m (R1 of GRS 80, H. Moritz, "Geodetic Reference System 1980"). The order needs no
/// better: the ellipsoid changes distances by 0.3 % (published).
const EARTH_RADIUS_M: f64 = 6_371_008.771_4;

/// A turn must save more than this, m; it ends the search among ways of equal length (tolerance).
const LEAST_SAVING_M: f64 = 1e-6;

/// Sweeps over all pairs. Ways of a few dozen places settle in under ten (limit).
const MOST_SWEEPS: usize = 40;

/// Pairs looked at in all sweeps together: keeps the search under a second, however many places (limit).
const MOST_PAIRS: usize = 50_000_000;

/// Indices of `places` in driving order from `start`, or from the first of them where the start is not
/// known. Equal input gives equal output.
#[must_use]
pub fn driving_order(start: Option<LonLat>, places: &[LonLat]) -> Vec<usize> {
    match start {
        None => order_from_first(places),
        Some(start) => {
            let all: Vec<LonLat> = std::iter::once(start)
                .chain(places.iter().copied())
                .collect();
            let order = order_from_first(&all).into_iter().skip(1);
            order.map(|index| index - 1).collect()
        }
    }
}

/// Indices of `places` in driving order; index 0 comes first.
fn order_from_first(places: &[LonLat]) -> Vec<usize> {
    let points = on_plane(places);
    let mut order = nearest_neighbour(&points);
    let pairs = points.len() * points.len() / 2;
    let sweeps = MOST_SWEEPS.min(MOST_PAIRS / pairs.max(1));
    for _ in 0..sweeps {
        if !shorten(&mut order, &points) {
            break;
        }
    }
    order
}

/// East and north of the first place, m: equirectangular at its latitude. A night's sites lie within
/// a few dozen km, where this is good to a percent, and an order needs no better.
fn on_plane(places: &[LonLat]) -> Vec<[f64; 2]> {
    let Some(origin) = places.first() else {
        return Vec::new();
    };
    let east_scale = EARTH_RADIUS_M * origin.lat_deg.to_radians().cos();
    places
        .iter()
        .map(|place| {
            // Across the 180th meridian the short way round counts.
            let east_deg = east_deg(origin.lon_deg, place.lon_deg);
            let north_deg = place.lat_deg - origin.lat_deg;
            [
                east_deg.to_radians() * east_scale,
                north_deg.to_radians() * EARTH_RADIUS_M,
            ]
        })
        .collect()
}

fn nearest_neighbour(points: &[[f64; 2]]) -> Vec<usize> {
    let mut left: Vec<usize> = (1..points.len()).collect();
    let mut order: Vec<usize> = (0..points.len().min(1)).collect();
    while let Some(&here) = order.last() {
        let distance = |index: usize| distance_m(points[here], points[index]);
        // Of equally near places the first wins, since `min_by` keeps the earlier one.
        let nearest = left
            .iter()
            .enumerate()
            .min_by(|a, b| distance(*a.1).total_cmp(&distance(*b.1)));
        let Some((at, _)) = nearest else { break };
        order.push(left.remove(at));
    }
    order
}

/// One sweep: turns round every stretch whose turning shortens the way. Says whether any did.
fn shorten(order: &mut [usize], points: &[[f64; 2]]) -> bool {
    let mut shortened = false;
    for from in 1..order.len() {
        for to in from + 1..order.len() {
            let between = |a: usize, b: usize| distance_m(points[order[a]], points[order[b]]);
            let mut saving_m = between(from - 1, from) - between(from - 1, to);
            if to + 1 < order.len() {
                saving_m += between(to, to + 1) - between(from, to + 1);
            }
            if saving_m > LEAST_SAVING_M {
                order[from..=to].reverse();
                shortened = true;
            }
        }
    }
    shortened
}

fn distance_m(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    fn at(lon_deg: f64, lat_deg: f64) -> LonLat {
        LonLat { lon_deg, lat_deg }
    }

    fn length_m(order: &[usize], points: &[[f64; 2]]) -> f64 {
        order
            .windows(2)
            .map(|pair| distance_m(points[pair[0]], points[pair[1]]))
            .sum()
    }

    #[test]
    fn no_place_and_one_place_are_ways_too() {
        assert_eq!(driving_order(None, &[]), Vec::<usize>::new());
        assert_eq!(driving_order(None, &[at(-30.0, 45.0)]), [0]);
    }

    #[test]
    fn places_on_a_street_are_visited_along_it() {
        let street = [3.0, 0.0, 4.0, 1.0, 2.0].map(|step| at(-30.0 + step * 1e-3, 45.0));
        // From the middle: the two to the east are nearer than the three to the west, but 4.0 is
        // only one step away, so it comes first.
        assert_eq!(driving_order(None, &street), [0, 2, 4, 3, 1]);
    }

    #[test]
    fn the_way_begins_at_the_place_nearest_to_the_start() {
        let street = [3.0, 0.0, 4.0, 1.0, 2.0].map(|step| at(-30.0 + step * 1e-3, 45.0));
        let start = Some(at(-30.001, 45.0));
        assert_eq!(driving_order(start, &street), [1, 3, 4, 0, 2]);
        assert_eq!(driving_order(start, &[]), Vec::<usize>::new());
    }

    /// One degree of latitude on a sphere of radius 6,371,008.7714 m is R x pi / 180; at 60 degrees
    /// north a degree of longitude is half of that.
    #[test]
    fn a_degree_is_111_195_m_and_half_of_it_eastward_at_60_north() {
        let points = on_plane(&[at(179.5, 60.0), at(179.5, 61.0), at(-179.5, 60.0)]);
        assert!((points[1][1] - 111_195.08).abs() < 0.01, "{points:?}");
        assert!((points[2][0] - 55_597.54).abs() < 0.01, "{points:?}");
    }

    /// Brute force over all orders of seven places: 2-opt may miss the best, but not by much.
    #[test]
    fn the_way_is_close_to_the_best_of_all_orders() {
        fn best_m(order: &mut Vec<usize>, fixed: usize, points: &[[f64; 2]]) -> f64 {
            if fixed == order.len() {
                return length_m(order, points);
            }
            let mut best = f64::INFINITY;
            for swap in fixed..order.len() {
                order.swap(fixed, swap);
                best = best.min(best_m(order, fixed + 1, points));
                order.swap(fixed, swap);
            }
            best
        }
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        for _ in 0..20 {
            let places: Vec<LonLat> = (0..7)
                .map(|_| {
                    at(
                        -30.0 + rng.random::<f64>() * 0.02,
                        45.0 + rng.random::<f64>() * 0.02,
                    )
                })
                .collect();
            let order = driving_order(None, &places);
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, [0, 1, 2, 3, 4, 5, 6], "each place once");
            assert_eq!(order[0], 0, "the way begins at the first place");
            let best_m = best_m(&mut (0..7).collect(), 1, &on_plane(&places));
            assert!(length_m(&order, &on_plane(&places)) <= 1.15 * best_m);
        }
    }

    #[test]
    fn thousands_of_places_are_each_visited_once() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        let places: Vec<LonLat> = (0..3_000)
            .map(|_| at(-30.0 + rng.random::<f64>(), 45.0 + rng.random::<f64>()))
            .collect();
        let mut order = driving_order(None, &places);
        order.sort_unstable();
        assert!(order.into_iter().eq(0..3_000));
    }
}
