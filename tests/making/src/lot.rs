//! A lot of parallel lanes along the road, in metres on a plane: x along the road, y away from it or toward it.

use crate::rig::Rig;

/// A place on the plane: east, north, m.
pub type At = (f64, f64);

/// The boom's end reaches this far over a lot's line, m.
pub const OVER_M: f64 = 0.4;
/// Where a lot's drive runs, seen from the road, m.
pub const DRIVE_Y_M: (f64, f64) = (20.0, 80.0);

/// Ground in the middle of a lot that takes the place of lanes.
#[derive(Debug, Clone, Copy)]
pub struct Island {
    /// Both ends.
    pub x_m: (f64, f64),
    /// The lanes on either side of it.
    pub lanes: (usize, usize),
    /// Ground left between it and the boom's end beside it, m.
    pub clear_m: f64,
}

/// A lot of parallel lanes, numbered from its line by the road; `s` counts from there.
#[derive(Debug, Clone, Copy)]
pub struct Lot {
    /// Treats it.
    pub rig: Rig,
    /// Both ends.
    pub x_m: (f64, f64),
    /// The line nearest to the road.
    pub y0_m: f64,
    /// The way from the road: 1 north, -1 south.
    pub away: f64,
    /// How many lanes it has.
    pub lanes: usize,
    /// From its line by the road to the far one.
    pub height_m: f64,
    /// An L: lanes from this number on end at this x.
    pub short: Option<(usize, f64)>,
    /// Ground in the middle that is not treated.
    pub island: Option<Island>,
    /// Its drive begins at this x.
    pub drive_x_m: Option<f64>,
}

impl Lot {
    /// A rectangle as wide as its lanes.
    pub const fn rectangle(rig: Rig, x_m: (f64, f64), y0_m: f64, away: f64, lanes: usize) -> Self {
        Self {
            rig,
            x_m,
            y0_m,
            away,
            lanes,
            height_m: (lanes - 1) as f64 * rig.spacing_m() + rig.width_m() - 2.0 * OVER_M,
            short: None,
            island: None,
            drive_x_m: None,
        }
    }

    /// From a lot's line to the centre of the pass beside it.
    pub fn half_m(&self) -> f64 {
        self.rig.width_m() / 2.0 - OVER_M
    }

    /// Centre of a lane; the last one keeps to the lot's far line.
    pub fn lane_s_m(&self, lane: usize) -> f64 {
        let half_m = self.half_m();
        (half_m + lane as f64 * self.rig.spacing_m()).min(self.height_m - half_m)
    }

    /// North of the road.
    pub fn y_m(&self, s_m: f64) -> f64 {
        self.y0_m + self.away * s_m
    }

    /// Centre of a lane.
    pub fn lane_y_m(&self, lane: usize) -> f64 {
        self.y_m(self.lane_s_m(lane))
    }

    /// The far line.
    pub fn y1_m(&self) -> f64 {
        self.y_m(self.height_m)
    }

    /// Far line of the part that only lanes before `lane` cover.
    pub fn step_s_m(&self, lane: usize) -> f64 {
        self.lane_s_m(lane - 1) + self.half_m()
    }

    /// Both ends of a lane's ground.
    pub fn ends_m(&self, lane: usize) -> (f64, f64) {
        match self.short {
            Some((first, x_m)) if lane >= first => (self.x_m.0, x_m),
            _ => self.x_m,
        }
    }

    /// Both ends of a lane's ground less what the crosswise passes treat.
    pub fn inner_m(&self, lane: usize) -> (f64, f64) {
        let (head_m, (x0_m, x1_m)) = (self.rig.width_m() - OVER_M, self.ends_m(lane));
        (x0_m + head_m, x1_m - head_m)
    }

    /// Corners, counter-clockwise, not closed.
    pub fn ring_m(&self) -> Vec<At> {
        let ((x0, x1), top) = (self.x_m, self.y1_m());
        let mut ring_m = vec![(x0, self.y0_m), (x1, self.y0_m)];
        match self.short {
            None => ring_m.extend([(x1, top), (x0, top)]),
            Some((lane, xs)) => {
                let step = self.y_m(self.step_s_m(lane));
                ring_m.extend([(x1, step), (xs, step), (xs, top), (x0, top)]);
            }
        }
        if self.away < 0.0 {
            ring_m.reverse();
        }
        ring_m
    }

    /// Near and far line of the island.
    pub fn island_s_m(&self, island: &Island) -> (f64, f64) {
        let half_m = self.rig.width_m() / 2.0 + island.clear_m;
        (
            self.lane_s_m(island.lanes.0) + half_m,
            self.lane_s_m(island.lanes.1) - half_m,
        )
    }

    /// Corners of the island.
    pub fn island_ring_m(&self, island: &Island) -> Vec<At> {
        let (near, far) = self.island_s_m(island);
        rectangle_m(
            (island.x_m.0, self.y_m(near)),
            (island.x_m.1, self.y_m(far)),
        )
    }

    /// Centre lines of the drive's two lanes, x.
    pub fn drive_lanes_m(&self) -> Option<(f64, f64)> {
        let first_m = self.drive_x_m? + self.half_m();
        Some((first_m, first_m + self.rig.spacing_m()))
    }

    /// Corners of the drive.
    pub fn drive_ring_m(&self) -> Option<Vec<At>> {
        let x1_m = self.drive_lanes_m()?.1 + self.half_m();
        Some(rectangle_m(
            (self.drive_x_m?, self.away * DRIVE_Y_M.0),
            (x1_m, self.away * DRIVE_Y_M.1),
        ))
    }
}

/// The corners of a rectangle between two opposite ones, counter-clockwise.
pub fn rectangle_m(a: At, b: At) -> Vec<At> {
    let ((x0, x1), (y0, y1)) = ((a.0.min(b.0), a.0.max(b.0)), (a.1.min(b.1), a.1.max(b.1)));
    vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::receiver::Wrong;
    use crate::rig::{Liquid, Logger, Meter};

    const RIG: Rig = Rig {
        id: "a",
        sections_m: &[1.0; 4],
        hitch: None,
        ahead_m: 3.0,
        right_m: 0.0,
        axle_m: 2.0,
        open_delay_s: 0.0,
        close_delay_s: 0.0,
        radius_m: 5.0,
        lap_m: 0.5,
        lane_speed_m_s: 3.0,
        road_speed_m_s: 10.0,
        meter: Meter {
            lag_s: 0.5,
            late_s: 0.0,
            tick_s: 0.1,
        },
        logger: Logger {
            liquid: Liquid::Flow,
            fixes_per_s: 1,
            wrong: Wrong {
                drift_m: 0.0,
                drift_s: 1.0,
                white_m: 0.0,
            },
            set_rate: false,
            gun: false,
            hdop: None,
            pavement: false,
            quiet: false,
        },
    };

    /// Twice the area inside, positive where the corners run counter-clockwise (the shoelace formula).
    fn twice_area_m2(ring_m: &[At]) -> f64 {
        let next = ring_m.iter().cycle().skip(1);
        let pairs = ring_m.iter().zip(next);
        pairs.map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum()
    }

    #[test]
    fn outlines_run_counter_clockwise_on_both_sides_of_the_road() {
        for away in [1.0, -1.0] {
            // Ten lanes 3.5 m apart and 4 m wide, 0.4 m over the line at both sides: 34.7 m.
            let mut lot = Lot::rectangle(RIG, (10.0, 110.0), 20.0 * away, away, 10);
            assert!((twice_area_m2(&lot.ring_m()) / 2.0 - 3_470.0).abs() < 1e-9);
            // Without the corner beyond lane 4: four lanes are 13.7 m, the other 21 m are 50 m shorter.
            lot.short = Some((4, 60.0));
            let of_l_m2 = 3_470.0 - 50.0 * (34.7 - 13.7);
            assert!((twice_area_m2(&lot.ring_m()) / 2.0 - of_l_m2).abs() < 1e-9);
        }
    }

    #[test]
    fn the_last_lane_keeps_to_the_far_line() {
        let mut lot = Lot::rectangle(RIG, (0.0, 50.0), 0.0, 1.0, 4);
        lot.height_m -= 2.0;
        let end_s_m = lot.lane_s_m(3) + RIG.width_m() / 2.0;
        assert!((end_s_m - lot.height_m - OVER_M).abs() < 1e-12);
    }
}
