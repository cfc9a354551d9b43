//! Whether a rig can be at a place: the exact question that bent lanes ask at every step.

use super::lane::Station;
use super::lot::Lot;
use super::minkowski::edges;
use super::places::Places;
use super::reach::Reach;
use super::rows::Rows;
use super::vehicle::Vehicle;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// A body that touches an edge does not cross it, m (tolerance).
const TOUCH_M: f64 = 1e-4;

/// What a body and a boom may run into.
pub(super) struct Body<'a> {
    vehicle: &'a Vehicle,
    places: &'a Places,
    drivable: Rows,
    tall: Rows,
}

impl<'a> Body<'a> {
    pub(super) fn of(lot: &Lot, reach: &'a Reach, vehicle: &'a Vehicle) -> Self {
        Self {
            vehicle,
            places: &reach.places,
            drivable: Rows::of(&edges(&reach.drivable), 0.0),
            tall: Rows::of(&edges(&lot.tall), 0.0),
        }
    }

    /// What the body can stand on, in rows along the plane's x.
    pub(super) fn drivable(&self) -> &Rows {
        &self.drivable
    }

    /// Whether the body lies on drivable ground that rigs get to, the boom over nothing tall.
    pub(super) fn fits(&self, boom: Station) -> bool {
        let ahead = Xy::at_angle(boom.heading_rad);
        let middle = boom.at.plus(ahead, -self.vehicle.boom_ahead_m);
        let half = Xy::new(
            self.vehicle.length_m / 2.0 - TOUCH_M,
            self.vehicle.width_m / 2.0 - TOUCH_M,
        );
        let line = Xy::new(0.0, self.vehicle.half_boom_m());
        self.places.is_near_heading(middle, boom.heading_rad)
            && self.drivable.has(middle)
            && is_clear(&self.drivable, middle, boom.heading_rad, half)
            && !self.tall.has(boom.at)
            && is_clear(&self.tall, boom.at, boom.heading_rad, line)
    }
}

/// No edge crosses a rectangle around a middle, `half` of it along and across a heading.
fn is_clear(ground: &Rows, middle: Xy, heading_rad: f64, half: Xy) -> bool {
    let (ahead, left) = (
        Xy::at_angle(heading_rad),
        Xy::at_angle(heading_rad + PI / 2.0),
    );
    let reach_m = (half.x_m * ahead.y_m).abs() + (half.y_m * left.y_m).abs();
    let own = |point: Xy| {
        let off = point.minus(middle);
        Xy::new(off.dot(ahead), off.dot(left))
    };
    let mut clear = true;
    ground.each_in(middle.y_m - reach_m, middle.y_m + reach_m, |a, b| {
        clear &= !meets_box(own(a), own(b), half);
    });
    clear
}

/// Whether a line between two points meets a box around the origin (Liang and Barsky, ACM Trans. Graphics 3, 1984).
fn meets_box(a: Xy, b: Xy, half: Xy) -> bool {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (a_m, b_m, half_m) in [(a.x_m, b.x_m, half.x_m), (a.y_m, b.y_m, half.y_m)] {
        let way_m = b_m - a_m;
        if way_m.abs() < f64::MIN_POSITIVE {
            if a_m.abs() > half_m {
                return false;
            }
            continue;
        }
        let (p, q) = ((-half_m - a_m) / way_m, (half_m - a_m) / way_m);
        from = from.max(p.min(q));
        to = to.min(p.max(q));
    }
    from < to
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_a_box_meets_it_and_one_beside_it_does_not() {
        let half = Xy::new(3.0, 1.0);
        let meets =
            |a: (f64, f64), b: (f64, f64)| meets_box(Xy::new(a.0, a.1), Xy::new(b.0, b.1), half);
        assert!(meets((-9.0, 0.0), (9.0, 0.5)));
        assert!(meets((0.0, -9.0), (0.0, 9.0)));
        assert!(meets((-0.1, 0.1), (0.1, 0.1)), "wholly inside");
        assert!(!meets((-9.0, 1.5), (9.0, 1.5)));
        assert!(!meets((-9.0, 0.0), (-4.0, 0.0)), "ends short of it");
        assert!(!meets((2.0, 3.0), (5.0, 0.0)), "past its corner");
        assert!(meets((2.0, 1.5), (3.5, 0.0)), "cuts its corner");
    }
}
