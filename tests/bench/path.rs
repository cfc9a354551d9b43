//! Straight lines, half circles and waits, one after the other.

use std::f64::consts::{FRAC_PI_2, PI};

/// Where a rig is at some time.
pub(crate) struct At {
    pub place_m: [f64; 2],
    pub heading_rad: f64,
    pub speed_m_s: f64,
    /// On a lane.
    pub working: bool,
}

enum Way {
    Line {
        working: bool,
    },
    /// Half a circle that bulges to the east (1) or west (-1).
    Turn {
        bulge: f64,
    },
    Wait,
}

struct Leg {
    start_s: f64,
    seconds: f64,
    from_m: [f64; 2],
    to_m: [f64; 2],
    speed_m_s: f64,
    way: Way,
}

/// Legs one after the other, from time 0 on.
pub(crate) struct Path {
    legs: Vec<Leg>,
    end_m: [f64; 2],
    end_s: f64,
}

impl Path {
    pub(crate) fn from(place_m: [f64; 2]) -> Self {
        Self {
            legs: Vec::new(),
            end_m: place_m,
            end_s: 0.0,
        }
    }

    /// How long it takes so far, s.
    pub(crate) fn seconds(&self) -> f64 {
        self.end_s
    }

    pub(crate) fn line_to(&mut self, to_m: [f64; 2], speed_m_s: f64, working: bool) {
        let length_m = (to_m[0] - self.end_m[0]).hypot(to_m[1] - self.end_m[1]);
        self.push(to_m, length_m / speed_m_s, speed_m_s, Way::Line { working });
    }

    /// Half a circle to a place straight north or south.
    pub(crate) fn turn_to(&mut self, to_m: [f64; 2], bulge: f64, speed_m_s: f64) {
        let length_m = (to_m[1] - self.end_m[1]).abs() * FRAC_PI_2;
        self.push(to_m, length_m / speed_m_s, speed_m_s, Way::Turn { bulge });
    }

    pub(crate) fn wait(&mut self, seconds: f64) {
        self.push(self.end_m, seconds.max(0.0), 0.0, Way::Wait);
    }

    fn push(&mut self, to_m: [f64; 2], seconds: f64, speed_m_s: f64, way: Way) {
        self.legs.push(Leg {
            start_s: self.end_s,
            seconds,
            from_m: self.end_m,
            to_m,
            speed_m_s,
            way,
        });
        self.end_m = to_m;
        self.end_s += seconds;
    }

    /// Where the rig is at a time, s.
    pub(crate) fn at(&self, time_s: f64) -> At {
        let begun = self.legs.partition_point(|leg| leg.start_s <= time_s);
        let leg = &self.legs[begun.max(1) - 1];
        let u = ((time_s - leg.start_s) / leg.seconds.max(1e-9)).min(1.0);
        let [dx, dy] = [leg.to_m[0] - leg.from_m[0], leg.to_m[1] - leg.from_m[1]];
        let (place_m, heading_rad) = match leg.way {
            Way::Line { .. } | Way::Wait => (
                [leg.from_m[0] + u * dx, leg.from_m[1] + u * dy],
                dy.atan2(dx),
            ),
            Way::Turn { bulge } => {
                let (sin, cos) = (PI * u - FRAC_PI_2).sin_cos();
                let place_m = [
                    leg.from_m[0] + bulge * dy.abs() / 2.0 * cos,
                    leg.from_m[1] + dy / 2.0 * (1.0 + sin),
                ];
                (place_m, (dy.signum() * cos).atan2(-bulge * sin))
            }
        };
        At {
            place_m,
            heading_rad,
            speed_m_s: leg.speed_m_s,
            working: matches!(leg.way, Way::Line { working: true }),
        }
    }
}
