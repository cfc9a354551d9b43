//! Lines with fewer corners, for drawings only: no figure comes from them.
//!
//! From each corner that stays, a wedge is kept of the directions that pass every corner since within the tolerance
//! (J. Sklansky and V. Gonzalez, "Fast polygonal approximation of digitized curves", *Pattern Recognition* 12, 1980).
//! Its time is linear for any line, where splitting at the farthest corner goes with the square at worst.

use crate::geometry::plane::Xy;

/// The places of the corners that stay, the first and the last among them: all others lie within the tolerance of the
/// straight line between those before and after.
#[must_use]
pub fn thinned(line: impl IntoIterator<Item = Xy>, tolerance_m: f64) -> Vec<usize> {
    let mut line = line.into_iter().enumerate();
    let Some((_, first)) = line.next() else {
        return Vec::new();
    };
    let mut kept = vec![0];
    let mut wedge = Wedge::at(first, tolerance_m);
    let mut before = (0, first);
    for (k, corner) in line {
        if !wedge.takes(corner) {
            kept.push(before.0);
            wedge = Wedge::at(before.1, tolerance_m);
            // Nothing but its tip bounds a fresh wedge.
            wedge.takes(corner);
        }
        before = (k, corner);
    }
    if before.0 > 0 {
        kept.push(before.0);
    }
    kept
}

/// The directions in which a line from its tip passes all corners taken so far.
struct Wedge {
    tip: Xy,
    tolerance_m: f64,
    /// Its right and left side; `None` while every corner taken lies within the tolerance of the tip.
    sides: Option<(Xy, Xy)>,
    /// Greatest distance of a corner taken, m.
    reach_m: f64,
}

impl Wedge {
    fn at(tip: Xy, tolerance_m: f64) -> Self {
        Self {
            tip,
            tolerance_m,
            sides: None,
            reach_m: 0.0,
        }
    }

    /// Whether the line from the tip to this corner passes all corners before it; then the corner is taken.
    fn takes(&mut self, corner: Xy) -> bool {
        let way = corner.minus(self.tip);
        let away_m = way.length_m();
        if let Some((right, left)) = self.sides {
            // A line that turns back would leave the turn uncovered.
            let turns_back = away_m < self.reach_m;
            if turns_back || right.cross(way) < 0.0 || way.cross(left) < 0.0 {
                return false;
            }
        }
        self.reach_m = self.reach_m.max(away_m);
        if away_m <= self.tolerance_m {
            return true;
        }
        // Along the tangents to the circle of the tolerance around the corner.
        let along_m = (away_m * away_m - self.tolerance_m * self.tolerance_m).sqrt();
        let across = Xy::new(-way.y_m, way.x_m);
        let side = |by_m: f64| Xy::default().plus(way, along_m).plus(across, by_m);
        let (right, left) = (side(-self.tolerance_m), side(self.tolerance_m));
        self.sides = Some(match self.sides {
            None => (right, left),
            Some((old_right, old_left)) => (
                if old_right.cross(right) > 0.0 {
                    right
                } else {
                    old_right
                },
                if old_left.cross(left) < 0.0 {
                    left
                } else {
                    old_left
                },
            ),
        });
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TOLERANCE_M: f64 = 0.02;

    fn distance_m(point: Xy, from: Xy, to: Xy) -> f64 {
        let (way, off) = (to.minus(from), point.minus(from));
        let along = (off.dot(way) / way.dot(way).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        off.minus(Xy::default().plus(way, along)).length_m()
    }

    #[test]
    fn a_standing_rig_is_one_place() {
        let drift = |k: u32| Xy::new(0.01 * f64::from(k).sin(), 0.01 * f64::from(k).cos());
        let line = (0..100).map(drift).chain([Xy::new(5.0, 0.0)]);
        assert!(thinned(line, TOLERANCE_M).len() <= 3);
    }

    #[test]
    fn ends_stay() {
        assert_eq!(thinned([], 1.0), Vec::<usize>::new());
        assert_eq!(thinned([Xy::new(3.0, 4.0)], 1.0), [0]);
        let line = (0..5).map(|k| Xy::new(f64::from(k), 0.0));
        assert_eq!(thinned(line, 1.0), [0, 4]);
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(1),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]
        /// Whatever the line: every corner left out lies within the tolerance of the line drawn past it.
        #[test]
        fn no_corner_lies_farther_off_than_the_tolerance(steps in proptest::collection::vec((-20..20_i32, -20..20_i32), 3..60)) {
            let (mut x, mut y) = (0, 0);
            let corners: Vec<Xy> = steps.iter().map(|(dx, dy)| {
                (x, y) = (x + dx, y + dy);
                Xy::new(f64::from(x) / 300.0, f64::from(y) / 300.0)
            }).collect();
            let ends = thinned(corners.iter().copied(), TOLERANCE_M);
            prop_assert_eq!((ends.first(), ends.last()), (Some(&0), Some(&(corners.len() - 1))));
            for pair in ends.windows(2) {
                let (from, to) = (corners[pair[0]], corners[pair[1]]);
                for corner in &corners[pair[0]..pair[1]] {
                    prop_assert!(distance_m(*corner, from, to) <= TOLERANCE_M + 1e-12);
                }
            }
        }
    }
}
