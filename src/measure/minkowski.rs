//! Ground and the things moved over it: which places leave a rectangle on the ground, and what a line
//! sweeps that is carried over all of them. Exact on the overlay's grid.

use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;

/// The convex hull of the edge from `a` to `b` carried along a convex counter-clockwise ring.
pub(super) fn edge_sum(a: Xy, b: Xy, convex: &[Xy]) -> Vec<Xy> {
    let edge = b.minus(a);
    let count = convex.len();
    // Corners that lie farthest to the right of the edge's direction start the side that belongs to `a`.
    let mut hull = Vec::with_capacity(count + 2);
    let right = |k: usize| edge.cross(convex[k % count]);
    let first = (0..count)
        .min_by(|&i, &j| right(i).total_cmp(&right(j)))
        .unwrap_or(0);
    let last = (0..count)
        .max_by(|&i, &j| right(i).total_cmp(&right(j)))
        .unwrap_or(0);
    // Counter-clockwise from the rightmost to the leftmost corner runs ahead of the edge: at its end.
    let mut k = first;
    loop {
        hull.push(b.plus(convex[k % count], 1.0));
        if k % count == last {
            break;
        }
        k += 1;
    }
    let mut k = last;
    loop {
        hull.push(a.plus(convex[k % count], 1.0));
        if k % count == first {
            break;
        }
        k += 1;
    }
    hull
}

/// All edges of a region.
pub(super) fn edges(region: &Region) -> Vec<(Xy, Xy)> {
    let rings = region.rings();
    rings
        .iter()
        .flat_map(|ring| (0..ring.len()).map(move |k| (ring[k], ring[(k + 1) % ring.len()])))
        .collect()
}

/// Where the middle of a convex ring (given around its middle, symmetric about it) can be with all of it
/// on the ground.
pub(super) fn eroded(ground: &Region, convex: &[Xy]) -> Region {
    let sums: Vec<Vec<Xy>> = edges(ground)
        .into_iter()
        .map(|(a, b)| edge_sum(a, b, convex))
        .collect();
    ground.difference(&Region::union_of_positive(sums.iter().map(Vec::as_slice)))
}

/// The ground under a line of `across` times plus and minus `half_m`, its middle anywhere in the region.
pub(super) fn swept(region: &Region, across: Xy, half_m: f64) -> Region {
    if region.is_empty() || half_m <= 0.0 {
        return region.clone();
    }
    let quads: Vec<[Xy; 4]> = edges(region)
        .into_iter()
        .map(|(a, b)| {
            let quad = [
                a.plus(across, -half_m),
                b.plus(across, -half_m),
                b.plus(across, half_m),
                a.plus(across, half_m),
            ];
            if b.minus(a).cross(across) < 0.0 {
                [quad[3], quad[2], quad[1], quad[0]]
            } else {
                quad
            }
        })
        .collect();
    let under_edges = Region::union_of_positive(quads.iter().map(<[Xy; 4]>::as_slice));
    Region::union_of([region, &under_edges])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> [Xy; 4] {
        [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Xy::new(x, y))
    }

    fn region(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Region::inside_any([rectangle(x0, y0, x1, y1).as_slice()])
    }

    #[test]
    fn a_rectangle_in_a_rectangle_leaves_a_rectangle() {
        let middles = eroded(
            &region(0.0, 0.0, 40.0, 20.0),
            &rectangle(-3.0, -1.0, 3.0, 1.0),
        );
        assert!((middles.area_m2() - 34.0 * 18.0).abs() < 1e-5);
    }

    #[test]
    fn an_island_takes_its_sum_with_the_rectangle() {
        let ground = region(0.0, 0.0, 40.0, 40.0).difference(&region(18.0, 19.0, 22.0, 21.0));
        let middles = eroded(&ground, &rectangle(-3.0, -1.0, 3.0, 1.0));
        assert!((middles.area_m2() - (34.0 * 38.0 - 10.0 * 4.0)).abs() < 1e-5);
    }

    /// A body of 2 x 6 m at 45 degrees in a square of side 40: its middle stays 8 / (2 sqrt 2) m off each side.
    #[test]
    fn a_slanting_rectangle_keeps_its_corners_inside() {
        let (along, across) = (
            Xy::at_angle(0.25 * std::f64::consts::PI),
            Xy::at_angle(0.75 * std::f64::consts::PI),
        );
        let corners = [(3.0, -1.0), (3.0, 1.0), (-3.0, 1.0), (-3.0, -1.0)]
            .map(|(a, b)| Xy::default().plus(along, a).plus(across, b));
        let middles = eroded(&region(0.0, 0.0, 40.0, 40.0), &corners);
        let side_m = 40.0 - 2.0 * 8.0 / 8.0_f64.sqrt();
        assert!((middles.area_m2() - side_m * side_m).abs() < 1e-5);
    }

    #[test]
    fn a_line_sweeps_its_length_beside_the_ground() {
        let ground = region(0.0, 0.0, 10.0, 4.0).difference(&region(4.0, 1.0, 6.0, 3.0));
        let swept = swept(&ground, Xy::new(0.0, 1.0), 0.5);
        // 10 x 5 around; the hole of 2 x 2 loses half a metre at its top and its foot.
        assert!((swept.area_m2() - (50.0 - 2.0)).abs() < 1e-5);
    }
}
