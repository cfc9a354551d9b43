//! How a driver treats a lot: lanes in lands, crosswise passes at the ends last.

use crate::dubins::{EAST, NORTH, Pose, WEST};
use crate::ground::Lot;
use crate::route::{LEAD_M, Manner, Route, Trouble};

/// A lane opens this far inside the crosswise pass: a log at 1 Hz shows the opening up to a second late.
const OPEN_EARLY_M: f64 = 4.0;
/// A lane closes this far inside the crosswise pass; the log shows that late, too.
const CLOSE_LATE_M: f64 = 0.8;
/// A pass that ends at a lot's line opens and closes this far outside it.
const OPEN_OUTSIDE_M: f64 = 2.0;
const CLOSE_OUTSIDE_M: f64 = 0.6;
/// Crosswise passes are driven slowly, m/s.
const CROSS_SPEED_M_S: f64 = 3.0;
/// A swerve takes this much way, on arcs of this radius; the boom closes this far before the island.
const SWERVE_M: f64 = 11.5;
const SWERVE_RADIUS_M: f64 = 8.0;
const ISLAND_CLEAR_M: f64 = 1.0;
/// Off the road, m/s.
const APPROACH_M_S: f64 = 5.0;
/// Where the rigs stand in the yard, and the road's two lanes.
const STAND: Pose = Pose {
    x_m: -60.0,
    y_m: -55.0,
    psi_rad: NORTH,
};
const ROAD_Y_M: f64 = 2.0;
const ROAD_X0_M: f64 = -10.0;

/// What differs on one lane.
pub(crate) type LaneTrouble = (usize, Option<Trouble>);

/// Lanes `first..first + count` in lands of `size` lanes. Within a land the lanes of both halves take
/// turns, which makes wider turns; small lands keep neighbouring lanes near in time, as a driver
/// without markers does to see his last edge.
pub(crate) fn lands(first: usize, count: usize, size: usize) -> Vec<usize> {
    let half = size.div_ceil(2);
    (0..count.div_ceil(size) * size)
        .map(|turn| first + turn / size * size + (turn % size) / 2 + half * (turn % 2))
        .filter(|&lane| lane < first + count)
        .collect()
}

impl Route {
    /// A route that begins where the rig stands in the yard.
    pub(crate) fn from_yard(rig: crate::rig::Rig, seconds: f64) -> Self {
        let mut route = Self::new(rig, STAND);
        route.stop(seconds);
        route
    }

    /// Along the road to `x_m`, seen from wherever the rig is.
    pub(crate) fn road_to(&mut self, x_m: f64) {
        let from_x_m = self.pose.x_m.max(ROAD_X0_M);
        let (psi_rad, y_m) = if x_m > from_x_m {
            (EAST, -ROAD_Y_M)
        } else {
            (WEST, ROAD_Y_M)
        };
        let way = if x_m > from_x_m { 1.0 } else { -1.0 };
        self.go(Pose::new(from_x_m + way * 25.0, y_m, psi_rad), APPROACH_M_S);
        self.go(Pose::new(x_m, y_m, psi_rad), self.rig.road_speed_m_s);
    }

    /// Back to the yard, and standing there.
    pub(crate) fn home(&mut self, seconds: f64) {
        self.road_to(ROAD_X0_M);
        self.go(STAND, APPROACH_M_S);
        self.stop(seconds);
    }

    /// Treats lanes in the given order between two lines, turning round after each. The first is
    /// driven east. Lane troubles apply to the lanes named.
    pub(crate) fn lanes(
        &mut self,
        lot: &Lot,
        order: &[usize],
        x_m: (f64, f64),
        manner: &Manner,
        troubles: &[LaneTrouble],
    ) {
        let mut east = true;
        for &lane in order {
            let y_m = lot.lane_y_m(lane);
            let (from_m, to_m) = if east {
                (x_m.0 - OPEN_EARLY_M, x_m.1 + CLOSE_LATE_M)
            } else {
                (x_m.1 + OPEN_EARLY_M, x_m.0 - CLOSE_LATE_M)
            };
            let trouble = troubles
                .iter()
                .find(|(troubled, _)| *troubled == lane)
                .and_then(|(_, trouble)| *trouble);
            self.spray((from_m, y_m), (to_m, y_m), manner, trouble);
            // On to where the next lane's straight run begins: an even turn instead of a loop.
            let (way, psi_rad) = if east { (1.0, EAST) } else { (-1.0, WEST) };
            let level_x_m =
                to_m + way * (LEAD_M + OPEN_EARLY_M - CLOSE_LATE_M - self.rig.boom_behind_m());
            self.go(Pose::new(level_x_m, y_m, psi_rad), manner.speed_m_s);
            east = !east;
        }
    }

    /// A lane that swerves round an island into the lane beside it, with the boom closed alongside.
    pub(crate) fn swerve(
        &mut self,
        lot: &Lot,
        lanes: (usize, usize),
        x_m: (f64, f64),
        island_x_m: (f64, f64),
        manner: &Manner,
    ) {
        let (own_y_m, aside_y_m) = (lot.lane_y_m(lanes.0), lot.lane_y_m(lanes.1));
        let way = (x_m.1 - x_m.0).signum();
        let (near_x_m, far_x_m) = (
            island_x_m.0 - way * ISLAND_CLEAR_M,
            island_x_m.1 + way * ISLAND_CLEAR_M,
        );
        let psi_rad = if way > 0.0 { EAST } else { WEST };
        let behind_m = way * self.rig.boom_behind_m();
        let pose = |x_m: f64, y_m: f64| Pose::new(x_m + behind_m, y_m, psi_rad);
        self.spray(
            (x_m.0 - way * OPEN_EARLY_M, own_y_m),
            (near_x_m - way * SWERVE_M, own_y_m),
            manner,
            None,
        );
        self.spray_on(pose(near_x_m, aside_y_m), SWERVE_RADIUS_M, manner);
        self.go(pose(far_x_m, aside_y_m), manner.speed_m_s);
        self.spray_afresh(
            pose(far_x_m + way * SWERVE_M, own_y_m),
            SWERVE_RADIUS_M,
            manner,
        );
        self.spray_on(
            pose(x_m.1 + way * CLOSE_LATE_M, own_y_m),
            SWERVE_RADIUS_M,
            manner,
        );
        self.go(
            pose(x_m.1 + way * (CLOSE_LATE_M + 1.0), own_y_m),
            manner.speed_m_s,
        );
    }

    /// A crosswise pass from line to line, over both.
    pub(crate) fn cross(&mut self, x_m: f64, y_m: (f64, f64), manner: &Manner) {
        let way = (y_m.1 - y_m.0).signum();
        let slow = Manner {
            speed_m_s: CROSS_SPEED_M_S,
            ..manner.clone()
        };
        self.spray(
            (x_m, y_m.0 - way * OPEN_OUTSIDE_M),
            (x_m, y_m.1 + way * CLOSE_OUTSIDE_M),
            &slow,
            None,
        );
    }

    /// Both crosswise passes of a rectangular lot: away from the road at the east end, back at the west end.
    pub(crate) fn ends(&mut self, lot: &Lot, manner: &Manner) {
        self.cross(
            lot.cross_x_m(lot.x1_m(), -1.0),
            (lot.y0_m, lot.y1_m()),
            manner,
        );
        self.cross(lot.cross_x_m(lot.x0_m, 1.0), (lot.y1_m(), lot.y0_m), manner);
    }

    /// The two lines between which only lanes cover a rectangular lot.
    pub(crate) fn inner(lot: &Lot) -> (f64, f64) {
        (
            lot.inner_x_m(lot.x0_m, 1.0),
            lot.inner_x_m(lot.x1_m(), -1.0),
        )
    }
}
