//! The strip between two boom positions as one or two convex pieces.

use crate::geometry::plane::{Xy, signed_area_m2};
use smallvec::{SmallVec, smallvec};

/// Pieces smaller than this have no ground to lay liquid on, m2 (a millimetre square) (tolerance).
const NO_GROUND_M2: f64 = 1e-6;

/// A convex polygon of three or four corners, counter-clockwise.
#[derive(Debug, Clone, Copy)]
pub struct Convex {
    corners: [Xy; 4],
    count: u8,
}

impl Convex {
    /// Of three or four corners, either way round.
    pub(super) fn new(corners: &[Xy]) -> Self {
        let mut four = [Xy::default(); 4];
        four[..corners.len()].copy_from_slice(corners);
        if signed_area_m2(corners) < 0.0 {
            four[..corners.len()].reverse();
        }
        Self {
            corners: four,
            count: corners.len() as u8,
        }
    }

    /// Its corners.
    #[must_use]
    pub fn corners(&self) -> &[Xy] {
        &self.corners[..usize::from(self.count)]
    }

    /// Area, m2.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        signed_area_m2(self.corners())
    }
}

/// Convex pieces with their shares of the strip's litres; the shares add up to 1.
pub(super) type Split = SmallVec<[(Convex, f64); 2]>;

/// A strip by its corners: the boom's ends at the old and at the new position.
#[derive(Debug, Clone, Copy)]
pub(super) struct Quad {
    pub(super) old_left: Xy,
    pub(super) old_right: Xy,
    pub(super) new_left: Xy,
    pub(super) new_right: Xy,
}

impl Quad {
    /// Corners in the order that is counter-clockwise when the boom moves forward.
    pub(super) fn corners(&self) -> [Xy; 4] {
        [self.old_left, self.old_right, self.new_right, self.new_left]
    }

    /// Twice the signed area, m2, of a strip whose corners all turn the same way: nearly every one. Such a strip is
    /// convex, and none of its sides cross; where they do, two corners turn left and two right.
    fn convex_doubled_m2(&self) -> Option<f64> {
        let turns = self.turns();
        let same = turns.iter().all(|turn| *turn > 0.0) || turns.iter().all(|turn| *turn < 0.0);
        same.then(|| turns[0] + turns[2])
    }

    /// Of the corners b, c, d and a: twice the signed area of the triangle with their neighbours, m2.
    fn turns(&self) -> [f64; 4] {
        let [a, b, c, d] = self.corners();
        [(a, b, c), (b, c, d), (c, d, a), (d, a, b)].map(|(p, q, r)| q.minus(p).cross(r.minus(q)))
    }

    /// Which way the strip winds when its corners are taken as for a forward move: 1 for forward, -1
    /// for backward, 0 where two of its sides cross: such a strip winds both ways and cannot join an
    /// outline.
    pub(super) fn direction(&self) -> i8 {
        if let Some(doubled_m2) = self.convex_doubled_m2() {
            let has_ground = doubled_m2.abs() >= 2.0 * NO_GROUND_M2;
            return if has_ground {
                doubled_m2.signum() as i8
            } else {
                0
            };
        }
        let crosses = crossing(self.old_left, self.old_right, self.new_left, self.new_right)
            .is_some()
            || crossing(self.old_left, self.new_left, self.old_right, self.new_right).is_some();
        let area_m2 = signed_area_m2(&self.corners());
        if crosses || area_m2.abs() < NO_GROUND_M2 {
            0
        } else {
            area_m2.signum() as i8
        }
    }

    /// Convex pieces of the strip. Where the boom lines cross, the litres go by width on either
    /// side of the crossing; elsewhere by area. `None` when there is no ground.
    pub(super) fn split(&self) -> Option<Split> {
        if let Some(doubled_m2) = self.convex_doubled_m2() {
            let mut corners = self.corners();
            if doubled_m2 < 0.0 {
                corners.reverse();
            }
            let has_ground = doubled_m2.abs() >= 2.0 * NO_GROUND_M2;
            return has_ground.then(|| smallvec![(Convex { corners, count: 4 }, 1.0)]);
        }
        if let Some((at, old_share, new_share)) =
            crossing(self.old_left, self.old_right, self.new_left, self.new_right)
        {
            let left = f64::midpoint(old_share, new_share);
            let pieces: Split = smallvec![
                (Convex::new(&[self.old_left, at, self.new_left]), left),
                (
                    Convex::new(&[self.old_right, self.new_right, at]),
                    1.0 - left
                ),
            ];
            return with_ground(pieces);
        }
        if let Some((at, ..)) =
            crossing(self.old_left, self.new_left, self.old_right, self.new_right)
        {
            return by_area(&[
                &[self.old_left, self.old_right, at],
                &[self.new_left, at, self.new_right],
            ]);
        }
        let [a, b, c, d] = self.corners();
        let turns = self.turns();
        let sign = signed_area_m2(&self.corners()).signum();
        match turns.iter().position(|turn| turn * sign < 0.0) {
            None => by_area(&[&[a, b, c, d]]),
            // Reflex at b or d: cut along b-d; at c or a: along a-c.
            Some(0 | 2) => by_area(&[&[a, b, d], &[b, c, d]]),
            Some(_) => by_area(&[&[a, b, c], &[a, c, d]]),
        }
    }
}

/// Where segment a-b crosses c-d, with the share of each at the crossing.
fn crossing(a: Xy, b: Xy, c: Xy, d: Xy) -> Option<(Xy, f64, f64)> {
    let (first, second) = (b.minus(a), d.minus(c));
    let denominator = first.cross(second);
    let off = c.minus(a);
    let (u, v) = (
        off.cross(second) / denominator,
        off.cross(first) / denominator,
    );
    // Parallel lines give infinities or NaN, which fail.
    let inside = |share: f64| share > 0.0 && share < 1.0;
    (inside(u) && inside(v)).then(|| (a.plus(first, u), u, v))
}

fn by_area(pieces: &[&[Xy]]) -> Option<Split> {
    let pieces: Split = pieces
        .iter()
        .map(|corners| {
            let piece = Convex::new(corners);
            (piece, piece.area_m2())
        })
        .collect();
    let total_m2: f64 = pieces.iter().map(|(_, area_m2)| area_m2).sum();
    if total_m2 < NO_GROUND_M2 {
        return None;
    }
    Some(
        pieces
            .into_iter()
            .filter(|(_, area_m2)| *area_m2 > 0.0)
            .map(|(piece, area_m2)| (piece, area_m2 / total_m2))
            .collect(),
    )
}

/// Drops pieces without ground; the other one takes their litres.
fn with_ground(pieces: Split) -> Option<Split> {
    let mut kept: Split = pieces
        .into_iter()
        .filter(|(piece, _)| piece.area_m2() >= NO_GROUND_M2)
        .collect();
    let total: f64 = kept.iter().map(|(_, share)| share).sum();
    if total <= 0.0 {
        return None;
    }
    kept.iter_mut().for_each(|(_, share)| *share /= total);
    Some(kept)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(corners: [(f64, f64); 4]) -> Quad {
        let [old_left, old_right, new_right, new_left] = corners.map(|(x, y)| Xy::new(x, y));
        Quad {
            old_left,
            old_right,
            new_left,
            new_right,
        }
    }

    #[test]
    fn a_straight_strip_is_one_piece() {
        let split = quad([(-1.0, 0.0), (1.0, 0.0), (1.0, 3.0), (-1.0, 3.0)])
            .split()
            .unwrap();
        assert_eq!(split.len(), 1);
        assert!((split[0].0.area_m2() - 6.0).abs() < 1e-12);
    }

    #[test]
    fn a_strip_driven_backward_still_runs_counter_clockwise() {
        let reverse = quad([(-1.0, 0.0), (1.0, 0.0), (1.0, -3.0), (-1.0, -3.0)]);
        assert_eq!(reverse.direction(), -1);
        assert!((reverse.split().unwrap()[0].0.area_m2() - 6.0).abs() < 1e-12);
    }

    /// Boom 4 wide, turning about a point 1 m in from its left end: litres 1 : 3, areas 1 : 9.
    #[test]
    fn crossing_boom_lines_share_litres_by_width() {
        let (sin, cos) = 0.1_f64.sin_cos();
        let turned = |r: f64| (-1.0 + r * cos, r * sin);
        let split = quad([(-2.0, 0.0), (2.0, 0.0), turned(3.0), turned(-1.0)])
            .split()
            .unwrap();
        assert_eq!(split.len(), 2);
        assert!((split[0].1 - 0.25).abs() < 1e-9 && (split[1].1 - 0.75).abs() < 1e-9);
        assert!((split[1].0.area_m2() / split[0].0.area_m2() - 9.0).abs() < 1e-9);
    }

    #[test]
    fn a_strip_whose_sides_cross_joins_no_outline() {
        // The boom swings round by more than it advances: both ends move forward, the lines still cross.
        let swung = quad([(-2.0, 0.0), (2.0, 0.0), (0.5, 2.5), (-1.0, -0.2)]);
        assert_eq!(swung.direction(), 0);
        let area_m2: f64 = swung
            .split()
            .unwrap()
            .iter()
            .map(|(piece, _)| piece.area_m2())
            .sum();
        assert!(area_m2 > 0.0);
    }

    #[test]
    fn a_dart_is_cut_into_two_convex_pieces() {
        let split = quad([(0.0, 0.0), (4.0, 0.0), (1.0, 1.0), (0.0, 4.0)])
            .split()
            .unwrap();
        let area_m2: f64 = split.iter().map(|(piece, _)| piece.area_m2()).sum();
        assert_eq!(split.len(), 2);
        assert!((area_m2 - 4.0).abs() < 1e-12, "{area_m2}");
    }

    /// Corners on squared paper, in all orders: a strip all of whose corners turn the same way has no sides that cross.
    #[test]
    fn only_strips_whose_sides_do_not_cross_turn_one_way() {
        let places: Vec<(f64, f64)> = (0..9)
            .map(|k| (f64::from(k % 3), f64::from(k / 3)))
            .collect();
        let mut convex = 0;
        for k in 0..9_usize.pow(4) {
            let corners = [1, 9, 81, 729].map(|place| places[k / place % 9]);
            let strip = quad(corners);
            let crosses = crossing(
                strip.old_left,
                strip.old_right,
                strip.new_left,
                strip.new_right,
            )
            .or(crossing(
                strip.old_left,
                strip.new_left,
                strip.old_right,
                strip.new_right,
            ));
            let Some(doubled_m2) = strip.convex_doubled_m2() else {
                continue;
            };
            assert!(crosses.is_none(), "{corners:?}");
            assert!((doubled_m2 - 2.0 * signed_area_m2(&strip.corners())).abs() < 1e-12);
            convex += 1;
        }
        assert!(convex > 100);
    }

    #[test]
    fn no_motion_has_no_ground() {
        assert!(
            quad([(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 0.0)])
                .split()
                .is_none()
        );
    }
}
