//! Boxes on a plane, to leave out of exact work what cannot meet.
//!
//! Base module, the metric sibling of [`crate::geometry::bounds`].

use crate::geometry::plane::Xy;

/// A box along the axes of a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Least x and y, m.
    pub low: Xy,
    /// Greatest x and y, m.
    pub high: Xy,
}

impl Extent {
    /// The box of no points at all: it meets nothing.
    pub const NOWHERE: Self = Self {
        low: Xy {
            x_m: f64::INFINITY,
            y_m: f64::INFINITY,
        },
        high: Xy {
            x_m: f64::NEG_INFINITY,
            y_m: f64::NEG_INFINITY,
        },
    };

    /// The box of these points.
    #[must_use]
    pub fn of<'a>(points: impl IntoIterator<Item = &'a Xy>) -> Self {
        points.into_iter().fold(Self::NOWHERE, |extent, point| {
            extent.with(Self {
                low: *point,
                high: *point,
            })
        })
    }

    /// The box with a margin all around.
    #[must_use]
    pub fn grown(self, margin_m: f64) -> Self {
        let (low, high) = (self.low, self.high);
        Self {
            low: Xy::new(low.x_m - margin_m, low.y_m - margin_m),
            high: Xy::new(high.x_m + margin_m, high.y_m + margin_m),
        }
    }

    /// Its corners with a margin, counter-clockwise.
    #[must_use]
    pub fn ring(&self, margin_m: f64) -> [Xy; 4] {
        let (low_x, low_y) = (self.low.x_m - margin_m, self.low.y_m - margin_m);
        let (high_x, high_y) = (self.high.x_m + margin_m, self.high.y_m + margin_m);
        [
            Xy::new(low_x, low_y),
            Xy::new(high_x, low_y),
            Xy::new(high_x, high_y),
            Xy::new(low_x, high_y),
        ]
    }

    /// The box around both.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        Self {
            low: Xy::new(
                self.low.x_m.min(other.low.x_m),
                self.low.y_m.min(other.low.y_m),
            ),
            high: Xy::new(
                self.high.x_m.max(other.high.x_m),
                self.high.y_m.max(other.high.y_m),
            ),
        }
    }

    /// Whether the boxes share a point; edges that touch do.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        self.low.x_m <= other.high.x_m
            && other.low.x_m <= self.high.x_m
            && self.low.y_m <= other.high.y_m
            && other.low.y_m <= self.high.y_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn extent(west: f64, south: f64, east: f64, north: f64) -> Extent {
        Extent::of(&[Xy::new(east, south), Xy::new(west, north)])
    }

    #[test]
    fn boxes_meet_when_they_overlap_on_both_axes_or_touch() {
        let square = extent(0.0, 0.0, 10.0, 10.0);
        for (other, meets) in [
            (extent(5.0, 5.0, 15.0, 15.0), true),
            (extent(2.0, 2.0, 3.0, 3.0), true),
            (extent(10.0, 10.0, 12.0, 12.0), true),
            (extent(11.0, 0.0, 12.0, 10.0), false),
            (extent(0.0, -5.0, 10.0, -1.0), false),
            (Extent::NOWHERE, false),
        ] {
            assert_eq!(square.meets(&other), meets, "{other:?}");
            assert_eq!(other.meets(&square), meets, "{other:?}");
        }
    }
}
