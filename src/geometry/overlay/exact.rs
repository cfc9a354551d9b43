//! Exact questions about grid points, edges and pixels.
//!
//! Coordinates lie within ±2^40 steps, so differences stay within 2^41 and products of two within 2^82: far
//! inside `i128`. Bounds are derived in `docs/overlay.md`.

use super::GridPoint;
use std::cmp::Ordering;

/// Cross product of two differences of grid points.
#[inline(always)]
pub(super) fn cross(a: [i64; 2], b: [i64; 2]) -> i128 {
    i128::from(a[0]) * i128::from(b[1]) - i128::from(a[1]) * i128::from(b[0])
}

/// From one point to another.
#[inline(always)]
pub(super) fn step(from: GridPoint, to: GridPoint) -> [i64; 2] {
    [to.x - from.x, to.y - from.y]
}

/// Twice the area of the triangle a, b, p: positive when p lies left of the line from a to b.
#[inline(always)]
pub(super) fn side(a: GridPoint, b: GridPoint, p: GridPoint) -> i128 {
    cross(step(a, b), step(a, p))
}

/// Leftmost first, then lowest.
#[inline(always)]
pub(super) fn is_before(a: GridPoint, b: GridPoint) -> bool {
    (a.x, a.y) < (b.x, b.y)
}

/// An edge's length as rooks move.
#[inline(always)]
pub(super) fn rook_length(a: GridPoint, b: GridPoint) -> u64 {
    a.x.abs_diff(b.x) + a.y.abs_diff(b.y)
}

/// Whether the edge a b passes the pixel of p, the unit square [-1/2, 1/2) around it, given `side(a, b, p)`. An
/// edge passes the pixels of its own ends.
///
/// Over the square, the line's equation varies by half the rook length to either side; that half itself is
/// reached only in the corner that belongs to the pixel, which is when it has the sign of dx - dy and dx, dy
/// differ in sign. A line that passes does so within the edge when p lies in the edge's box (lemma 1).
#[inline(always)]
pub(super) fn passes(a: GridPoint, b: GridPoint, p: GridPoint, side_of_p: i128) -> bool {
    let [dx, dy] = step(a, b);
    let reach = i128::from(dx.abs() + dy.abs());
    let twice = 2 * side_of_p;
    let on = twice.abs() < reach || (twice.abs() == reach && twice == i128::from(dx - dy));
    on && in_box(a, b, p)
}

/// Whether p lies in the closed box around a and b.
#[inline(always)]
pub(super) fn in_box(a: GridPoint, b: GridPoint, p: GridPoint) -> bool {
    let within = |a: i64, b: i64, p: i64| a.min(b) <= p && p <= a.max(b);
    within(a.x, b.x, p.x) && within(a.y, b.y, p.y)
}

/// The pixel of the point at `share` = num / den of the way from a to b, 0 <= num <= den: rounded to the nearest
/// grid point, halves up, as pixels are half-open.
///
/// In `f64` where that is certain: the quotient is right to 2^-51, so its product with a step of at most 2^41 is
/// right to 2^-9, and a result farther than 0.01 from a half rounds as the exact one does. Else in `i128`:
/// 2 num is at most 2^84, times 2^41 makes 2^125.
#[inline]
pub(super) fn at_share(a: GridPoint, b: GridPoint, num: i128, den: i128) -> GridPoint {
    let share = num as f64 / den as f64;
    let along = |by: i64| {
        let near = share * by as f64;
        let whole = (near + 0.5).floor();
        if (near - whole).abs() < 0.49 {
            return whole as i64;
        }
        ((2 * num * i128::from(by) + den).div_euclid(2 * den)) as i64
    };
    let [dx, dy] = step(a, b);
    GridPoint::new(a.x + along(dx), a.y + along(dy))
}

/// Directions by their angle, from just above -180 degrees to 180.
#[inline]
pub(super) fn by_angle(a: [i64; 2], b: [i64; 2]) -> Ordering {
    let part = |[dx, dy]: [i64; 2]| match (dy.cmp(&0), dx > 0) {
        (Ordering::Less, _) => 0,
        (Ordering::Equal, true) => 1,
        (Ordering::Greater, _) => 2,
        (Ordering::Equal, false) => 3_u8,
    };
    part(a).cmp(&part(b)).then_with(|| 0.cmp(&cross(a, b)))
}

/// Twice a ring's signed area.
pub(super) fn doubled_area(ring: &[GridPoint]) -> i128 {
    let Some(&origin) = ring.first() else {
        return 0;
    };
    ring.windows(2)
        .map(|edge| cross(step(origin, edge[0]), step(origin, edge[1])))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether an edge passes a pixel, from its definition: in coordinates times 2 L, clip the edge to the half-open
    /// square and see whether anything is left.
    fn passes_by_clipping(a: GridPoint, b: GridPoint, p: GridPoint) -> bool {
        // t in [0, 1] with -1 <= 2 (a + t d - p) < 1 on both axes, as fractions over a positive denominator.
        let (mut low, mut low_open) = ((0_i128, 1_i128), false);
        let (mut high, mut high_open) = ((1_i128, 1_i128), false);
        let less = |a: (i128, i128), b: (i128, i128)| a.0 * b.1 < b.0 * a.1;
        for (a, d, p) in [(a.x, b.x - a.x, p.x), (a.y, b.y - a.y, p.y)] {
            let (a, d, p) = (i128::from(a), i128::from(d), i128::from(p));
            let (from, to) = (2 * (p - a) - 1, 2 * (p - a) + 1);
            if d == 0 {
                if from > 0 || to <= 0 {
                    return false;
                }
                continue;
            }
            let (enter, leave) = if d > 0 {
                (((from, 2 * d), false), ((to, 2 * d), true))
            } else {
                (((-to, -2 * d), true), ((-from, -2 * d), false))
            };
            if less(low, enter.0) || (!less(enter.0, low) && enter.1) {
                (low, low_open) = enter;
            }
            if less(leave.0, high) || (!less(high, leave.0) && leave.1) {
                (high, high_open) = leave;
            }
        }
        less(low, high) || (!less(high, low) && !low_open && !high_open)
    }

    #[test]
    fn an_edge_passes_a_pixel_when_clipping_leaves_something() {
        let a = GridPoint::new(0, 0);
        for (dx, dy) in (-7..=7).flat_map(|dx| (-7..=7).map(move |dy| (dx, dy))) {
            if (dx, dy) == (0, 0) {
                continue;
            }
            let b = GridPoint::new(dx, dy);
            for (x, y) in (-9..=9).flat_map(|x| (-9..=9).map(move |y| (x, y))) {
                let p = GridPoint::new(x, y);
                let got = passes(a, b, p, side(a, b, p));
                assert_eq!(got, passes_by_clipping(a, b, p), "{b:?} {p:?}");
            }
        }
    }

    #[test]
    fn a_share_of_the_longest_edge_is_rounded_as_in_whole_numbers() {
        let far = 1_i64 << 40;
        let (a, b) = (GridPoint::new(-far, far), GridPoint::new(far, -far + 1));
        // The greatest denominator: a difference of two cross products.
        let den = 1_i128 << 84;
        for num in [
            0,
            1,
            den / 3,
            den / 2 - 1,
            den / 2,
            den / 2 + 1,
            den - 1,
            den,
        ] {
            let p = at_share(a, b, num, den);
            // Nearest, halves up: -den <= 2 (num d - (p - a) den) < den.
            for (from, d, p) in [(a.x, b.x - a.x, p.x), (a.y, b.y - a.y, p.y)] {
                let rest = 2 * (num * i128::from(d) - i128::from(p - from) * den);
                assert!(-den <= rest && rest < den, "{num} {d}");
            }
        }
    }

    #[test]
    fn directions_go_round_once() {
        let round = [
            [-3, -1],
            [-1, -1],
            [0, -5],
            [4, -1],
            [2, 0],
            [3, 1],
            [1, 1],
            [0, 2],
            [-1, 1],
            [-7, 0],
        ];
        for (i, a) in round.iter().enumerate() {
            for (k, b) in round.iter().enumerate() {
                assert_eq!(by_angle(*a, *b), i.cmp(&k));
            }
        }
        assert_eq!(by_angle([2, 4], [1, 2]), Ordering::Equal);
    }

    #[test]
    fn the_greatest_square_has_its_area() {
        let far = 1_i64 << 40;
        let ring =
            [(-far, -far), (far, -far), (far, far), (-far, far)].map(|(x, y)| GridPoint::new(x, y));
        assert_eq!(doubled_area(&ring), 2 << 82);
    }
}
