//! Lines with fewer points, for drawings.
//!
//! Base module. From each point that stays, a wedge is kept of the directions that pass every point since within the
//! tolerance (J. Sklansky and V. Gonzalez, "Fast polygonal approximation of digitized curves", *Pattern Recognition* 12,
//! 1980). Its time is linear for any line, where splitting at the farthest point goes with the square at worst.

use crate::geometry::plane::Xy;

/// Places of the points that stay, the first and the last among them: all others lie within the tolerance of the
/// straight line between those beside them.
#[must_use]
pub fn kept(line: &[Xy], tolerance_m: f64) -> Vec<usize> {
    let Some(&first) = line.first() else {
        return Vec::new();
    };
    let mut kept = vec![0];
    let mut wedge = Wedge::at(first, tolerance_m);
    for (k, &point) in line.iter().enumerate().skip(1) {
        if !wedge.takes(point) {
            kept.push(k - 1);
            wedge = Wedge::at(line[k - 1], tolerance_m);
            // Nothing but its tip bounds a fresh wedge.
            wedge.takes(point);
        }
    }
    if line.len() > 1 {
        kept.push(line.len() - 1);
    }
    kept
}

/// The points that stay.
#[must_use]
pub fn simple(line: &[Xy], tolerance_m: f64) -> Vec<Xy> {
    kept(line, tolerance_m)
        .into_iter()
        .map(|k| line[k])
        .collect()
}

/// The directions in which a line from its tip passes all corners taken so far.
struct Wedge {
    tip: Xy,
    /// Its right and left side; `None` while every corner taken lies at the tip.
    sides: Option<(Xy, Xy)>,
    /// Greatest distance of a corner taken, m.
    reach_m: f64,
    tolerance_m: f64,
}

impl Wedge {
    fn at(tip: Xy, tolerance_m: f64) -> Self {
        Self {
            tip,
            sides: None,
            reach_m: 0.0,
            tolerance_m,
        }
    }

    /// Whether the line from the tip to this corner passes all corners before it; then the corner is taken.
    fn takes(&mut self, corner: Xy) -> bool {
        let way = corner.minus(self.tip);
        let away_m = way.length_m();
        // A line that turns back would leave the turn uncovered.
        if away_m < self.reach_m {
            return false;
        }
        if let Some((right, left)) = self.sides
            && (right.cross(way) < 0.0 || way.cross(left) < 0.0)
        {
            return false;
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

    #[test]
    fn a_line_keeps_its_ends_and_its_corners() {
        let line = [(0.0, 0.0), (1.0, 0.01), (2.0, 0.0), (2.0, 1.0), (2.0, 2.0)]
            .map(|(x, y)| Xy::new(x, y));
        assert_eq!(kept(&line, 0.1), [0, 2, 4]);
        assert_eq!(kept(&line[..1], 0.1), [0]);
        assert_eq!(kept(&[], 0.1), [0_usize; 0]);
    }

    #[test]
    fn a_line_out_and_back_keeps_its_turn() {
        let line = [0.0, 3.0, 6.0, 3.0, 0.0].map(|x| Xy::new(x, 0.0));
        assert_eq!(kept(&line, 0.1), [0, 2, 4]);
    }
}
