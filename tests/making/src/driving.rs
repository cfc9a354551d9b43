//! How drivers go to a lot and treat it: the yard, the road, lanes, crosswise passes.

use crate::dubins::{EAST, NORTH, Pose, WEST};
use crate::lot::{At, DRIVE_Y_M, Lot};
use crate::rig::Rig;
use crate::route::{Manner, Pour, Route};

/// A pass that ends at a lot's line opens and closes this far outside it.
const OPEN_OUTSIDE_M: f64 = 2.0;
const CLOSE_OUTSIDE_M: f64 = 0.6;
/// Crosswise passes are driven slowly, m/s.
const CROSS_SPEED_M_S: f64 = 3.0;
/// Drives are, too.
const DRIVE_SPEED_M_S: f64 = 3.6;
/// Off the road, m/s.
pub const APPROACH_M_S: f64 = 5.0;
/// Where rigs stand in the yard, and the road's two lanes.
const STAND: Pose = Pose {
    x_m: -60.0,
    y_m: -55.0,
    psi_rad: NORTH,
};
const ROAD_Y_M: f64 = 2.0;
const ROAD_X0_M: f64 = -10.0;
/// The yard's pump, L/s.
const LOADING_L_S: f64 = 4.0;

/// Lanes `first..first + count` in lands of `size` lanes. Within a land the lanes of both halves take
/// turns, which makes wider turns; small lands keep neighbouring lanes near in time, as a driver
/// without markers does to see his last edge.
pub fn lands(first: usize, count: usize, size: usize) -> Vec<usize> {
    let half = size.div_ceil(2);
    (0..count.div_ceil(size) * size)
        .map(|turn| first + turn / size * size + (turn % size) / 2 + half * (turn % 2))
        .filter(|&lane| lane < first + count)
        .collect()
}

impl Route {
    /// A route that begins where the rig stands in the yard.
    pub fn from_yard(rig: Rig) -> Self {
        Self::new(rig, STAND)
    }

    /// Stands in the yard, loading through the meter (or not).
    pub fn load(&mut self, seconds: f64, litres: f64) {
        if litres > 0.0 {
            self.pours.push(Pour {
                at_m: self.length_m,
                after_s: 60.0,
                seconds: litres / LOADING_L_S,
                l_s: LOADING_L_S,
            });
        }
        self.stop(seconds);
    }

    /// Along the road to `x_m`, seen from wherever the rig is.
    pub fn road_to(&mut self, x_m: f64) {
        let from_x_m = self.pose.x_m.max(ROAD_X0_M);
        let (way, psi_rad, y_m) = if x_m > from_x_m {
            (1.0, EAST, -ROAD_Y_M)
        } else {
            (-1.0, WEST, ROAD_Y_M)
        };
        self.go(Pose::new(from_x_m + way * 25.0, y_m, psi_rad), APPROACH_M_S);
        self.go(Pose::new(x_m, y_m, psi_rad), self.rig.road_speed_m_s);
    }

    /// Back to the yard, and standing there.
    pub fn home(&mut self, seconds: f64) {
        self.home_to_load(seconds, 0.0);
    }

    /// Back to the yard, and loading there.
    pub fn home_to_load(&mut self, seconds: f64, litres: f64) {
        self.road_to(ROAD_X0_M);
        self.go(STAND, APPROACH_M_S);
        self.load(seconds, litres);
    }

    /// From the end of a lane at `x_m` on to where the next lane's straight run begins: an even turn instead of a loop.
    pub fn run_on(&mut self, (x_m, y_m): At, way: f64, on_m: f64, speed_m_s: f64) {
        let psi_rad = if way > 0.0 { EAST } else { WEST };
        let level_x_m = x_m + way * (on_m - self.rig.boom_behind_m());
        self.go(Pose::new(level_x_m, y_m, psi_rad), speed_m_s);
    }

    /// A crosswise pass from line to line, over both.
    pub fn cross(&mut self, x_m: f64, y_m: (f64, f64), manner: &Manner) {
        let way = (y_m.1 - y_m.0).signum();
        let slow = Manner {
            speed_m_s: CROSS_SPEED_M_S,
            ..manner.clone()
        };
        self.spray(
            (x_m, y_m.0 - way * OPEN_OUTSIDE_M),
            (x_m, y_m.1 + way * CLOSE_OUTSIDE_M),
            &slow,
        );
    }

    /// The crosswise passes at a lot's ends: away from the road at the step of an L and at the east end, back at the
    /// west end.
    pub fn ends(&mut self, lot: &Lot, manner: &Manner) {
        let ((x0_m, x1_m), half_m) = (lot.x_m, lot.half_m());
        let east_y_m = match lot.short {
            Some((lane, step_x_m)) => {
                let step_y_m = lot.y_m(lot.step_s_m(lane));
                self.cross(step_x_m - half_m, (step_y_m, lot.y1_m()), manner);
                step_y_m
            }
            None => lot.y1_m(),
        };
        self.cross(x1_m - half_m, (lot.y0_m, east_y_m), manner);
        self.cross(x0_m + half_m, (lot.y1_m(), lot.y0_m), manner);
    }

    /// Both lanes of a lot's drive, where it has one: to the road, and back.
    pub fn drive(&mut self, lot: &Lot, manner: &Manner) {
        let Some(lanes_x_m) = lot.drive_lanes_m() else {
            return;
        };
        let slow = Manner {
            speed_m_s: manner.speed_m_s.min(DRIVE_SPEED_M_S),
            ..manner.clone()
        };
        let place = |x_m: f64, y_m: f64| (x_m, lot.away * y_m);
        let (road_m, lot_m) = DRIVE_Y_M;
        for (x_m, from_m, to_m) in [
            (lanes_x_m.0, lot_m + 1.5, road_m - 0.5),
            (lanes_x_m.1, road_m - 2.0, lot_m + 0.5),
        ] {
            self.spray(place(x_m, from_m), place(x_m, to_m), &slow);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lands_have_each_lane_once_and_their_halves_take_turns() {
        assert_eq!(lands(0, 8, 4), [0, 2, 1, 3, 4, 6, 5, 7]);
        for (first, count, size) in [(0, 22, 2), (7, 7, 4), (3, 1, 4), (0, 15, 4)] {
            let mut order = lands(first, count, size);
            order.sort_unstable();
            assert!(order.into_iter().eq(first..first + count));
        }
    }
}
