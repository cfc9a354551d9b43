//! How long it takes from the end of one lane to the beginning of the next. Turns are timed, not drawn: nothing here
//! promises that a turn fits.

use super::lane::Station;
use super::rows::Rows;
use super::switches::clear_ahead_m;
use super::vehicle::Vehicle;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// What turning costs a rig.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    /// Radius of the rear axle's middle, m.
    pub(super) radius_m: f64,
    /// Speed, m/s.
    pub(super) speed_m_s: f64,
    /// A change of gear, s.
    pub(super) gear_s: f64,
    /// The rear axle behind the boom, m; negative: ahead of it.
    pub(super) axle_behind_boom_m: f64,
    /// Ahead of the rear axle that a half turn sweeps, m.
    pub(super) depth_m: f64,
}

/// An end of a lane: the rear axle there and where the rig points.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    /// Rear axle.
    pub(super) axle: Xy,
    /// Heading.
    pub(super) heading_rad: f64,
    /// What the depth ahead lacks for a half turn, m.
    pub(super) lacks_m: f64,
}

impl Turning {
    /// What turning costs; `None` where the fleet file does not say.
    pub(super) fn of(vehicle: &Vehicle) -> Option<Self> {
        let radius_m = vehicle.radius_m?;
        let ahead_m = vehicle.length_m / 2.0 + vehicle.middle_ahead_m;
        Some(Self {
            radius_m,
            speed_m_s: vehicle.turn_speed_m_s?,
            gear_s: vehicle.gear_change_s?,
            axle_behind_boom_m: vehicle.boom_ahead_m + vehicle.middle_ahead_m,
            depth_m: ahead_m.hypot(radius_m + vehicle.width_m / 2.0),
        })
    }

    /// The beginning of a lane.
    pub(super) fn start(&self, boom: Station) -> End {
        End {
            axle: self.axle(boom),
            heading_rad: boom.heading_rad,
            lacks_m: 0.0,
        }
    }

    fn axle(&self, boom: Station) -> Xy {
        boom.at
            .plus(Xy::at_angle(boom.heading_rad), -self.axle_behind_boom_m)
    }

    /// The end of a lane, with the depth of drivable ground ahead of it.
    pub(super) fn end(&self, boom: Station, drivable: &Rows) -> End {
        let axle = self.axle(boom);
        let ahead_m = clear_ahead_m(drivable, axle, boom.heading_rad, self.depth_m);
        End {
            axle,
            heading_rad: boom.heading_rad,
            lacks_m: (self.depth_m - ahead_m).max(0.0),
        }
    }

    /// Seconds from one lane's end to another's beginning: the quicker of going there forward and in
    /// reverse.
    ///
    /// Forward, the two ends turn into the line between them by `a` and `b`: an arc each and a straight
    /// line, R (a + b) + max(0, d - R (sin a + sin b)); where there is no room for the arcs between the
    /// ends, two changes of gear more. For neighbouring lanes driven against each other, d apart, this is
    /// pi R + max(0, d - 2R), two changes of gear where d is under 2R (the words of J. A. Reeds and
    /// L. A. Shepp, Pacific J. Math. 145, 1990).
    pub(super) fn seconds(&self, from: &End, to: &End) -> f64 {
        let way = to.axle.minus(from.axle);
        let distance_m = way.length_m();
        let toward_rad = if distance_m > 0.0 {
            way.y_m.atan2(way.x_m)
        } else {
            from.heading_rad
        };
        let forward = self.arcs_s(
            distance_m,
            turn_rad(toward_rad, from.heading_rad),
            turn_rad(to.heading_rad, toward_rad),
        ) + self.backing_s(from.lacks_m, turn_rad(toward_rad, from.heading_rad));
        let behind_rad = toward_rad + PI;
        let backward = self.arcs_s(
            distance_m,
            turn_rad(behind_rad, from.heading_rad),
            turn_rad(to.heading_rad, behind_rad),
        ) + 2.0 * self.gear_s;
        forward.min(backward)
    }

    fn arcs_s(&self, distance_m: f64, a_rad: f64, b_rad: f64) -> f64 {
        let room_m = self.radius_m * (a_rad.sin() + b_rad.sin());
        let way_m = self.radius_m * (a_rad + b_rad) + (distance_m - room_m).max(0.0);
        // Rounding must not add a change of gear to lanes just two radii apart.
        let tight = distance_m < room_m - 1e-6 && a_rad + b_rad > 1e-6;
        way_m / self.speed_m_s + if tight { 2.0 * self.gear_s } else { 0.0 }
    }

    /// Backing before a turn that the ground ahead is too short for.
    fn backing_s(&self, lacks_m: f64, turn_rad: f64) -> f64 {
        // A rig that hardly turns needs no depth to do it in.
        let lacks_m = lacks_m * turn_rad.min(PI / 2.0).sin();
        if lacks_m > 0.0 {
            lacks_m / self.speed_m_s
        } else {
            0.0
        }
    }
}

/// Angle between two headings, 0 to a half turn.
fn turn_rad(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(2.0 * PI);
    turn.min(2.0 * PI - turn)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RADIUS_M: f64 = 5.6;

    fn turning() -> Turning {
        Turning {
            radius_m: RADIUS_M,
            speed_m_s: 1.0,
            gear_s: 100.0,
            axle_behind_boom_m: 0.0,
            depth_m: 0.0,
        }
    }

    fn end(x_m: f64, y_m: f64, heading_rad: f64) -> End {
        End {
            axle: Xy::new(x_m, y_m),
            heading_rad,
            lacks_m: 0.0,
        }
    }

    /// Length over radius and number of cusps of the shortest of two families of words of J. A. Reeds and
    /// L. A. Shepp (Pacific J. Math. 145, 1990): CSC (8.1) and C|C|C (8.3), from (0, 0, 0) to (x, y, phi).
    fn reeds_and_shepp(x: f64, y: f64, phi: f64) -> (f64, u32) {
        let turn = |angle: f64| angle.rem_euclid(2.0 * PI);
        let (xi, eta) = (x - phi.sin(), y - 1.0 + phi.cos());
        let (r, theta) = (xi.hypot(eta), eta.atan2(xi));
        // L S L: t = theta, u = r, v = phi - t.
        let straight = turn(theta) + r + turn(phi - theta);
        if r > 4.0 {
            return (straight, 0);
        }
        let a = (r / 4.0).asin();
        let (t, u) = (turn(a + PI / 2.0 + theta), turn(PI - 2.0 * a));
        let v = (phi - t - u + PI).rem_euclid(2.0 * PI) - PI;
        let cusps = t + u + v.abs();
        if cusps < straight - 1e-9 {
            (cusps, 2)
        } else {
            (straight, 0)
        }
    }

    #[test]
    fn turns_between_neighbouring_lanes_are_reeds_and_shepps() {
        for decimetres in 27..=200 {
            let apart_m = f64::from(decimetres) / 10.0;
            let seconds = turning().seconds(&end(0.0, 0.0, 0.0), &end(0.0, apart_m, PI));
            let (length, cusps) = reeds_and_shepp(0.0, apart_m / RADIUS_M, PI);
            let expected = length * RADIUS_M + 100.0 * f64::from(cusps);
            assert!(
                (seconds - expected).abs() < 1e-9,
                "{apart_m}: {seconds} {expected}"
            );
        }
    }

    #[test]
    fn straight_on_is_just_the_way() {
        let seconds = turning().seconds(
            &end(0.0, 0.0, 0.3),
            &end(0.3_f64.cos() * 10.0, 0.3_f64.sin() * 10.0, 0.3),
        );
        assert!((seconds - 10.0).abs() < 1e-6);
    }

    #[test]
    fn backing_to_a_lane_behind_takes_two_changes_of_gear() {
        let quick = Turning {
            gear_s: 3.0,
            ..turning()
        };
        let (here, behind) = (end(0.0, 0.0, 0.0), end(-12.0, 0.0, 0.0));
        assert!((quick.seconds(&here, &behind) - 18.0).abs() < 1e-6);
        // With gears that take long, a half turn at either end is quicker.
        let around = 2.0 * PI * RADIUS_M + 12.0;
        assert!((turning().seconds(&here, &behind) - around).abs() < 1e-6);
    }
}
