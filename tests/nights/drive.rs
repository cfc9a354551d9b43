//! Step 3: how a driver treats a site: lanes in lands, dead ends backed out of, crosswise passes last.

use crate::chance::Chance;
use crate::dubins::{EAST, NORTH, Pose, WEST};
use crate::plan::{Outing, Tweak};
use crate::rig::GAL_AC_ML_M2;
use crate::route::Manner;
use crate::scene::{At, CLEAR_M, DRIVE_Y_M, Island, Lot, OVER_M, Site};

/// Lanes open this far inside the ground that the crosswise pass treats, m, and close this far inside it.
const OPEN_EARLY_M: (f64, f64) = (2.0, 5.0);
const CLOSE_LATE_M: (f64, f64) = (0.5, 2.0);
/// Crosswise passes open and close this far outside the lot's line, m.
const OPEN_OUTSIDE_M: f64 = 2.0;
const CLOSE_OUTSIDE_M: f64 = 0.6;
const CROSS_SPEED_M_S: f64 = 3.0;
const APPROACH_M_S: f64 = 5.0;
const BACK_M_S: f64 = 1.5;
/// Share of turns at a lane's end that are made in three points.
const THREE_POINT_SHARE: f64 = 0.15;
/// Where rigs stand in the yard, and the road's two lanes.
const STAND: Pose = Pose {
    x_m: -60.0,
    y_m: -55.0,
    psi_rad: NORTH,
};
const ROAD_Y_M: f64 = 2.0;

/// Lanes in lands of `size`; the lanes of both halves of a land take turns, which makes wider turns.
fn lands(count: usize, size: usize) -> Vec<usize> {
    let half = size.div_ceil(2);
    (0..count.div_ceil(size) * size)
        .map(|turn| turn / size * size + (turn % size) / 2 + half * (turn % 2))
        .filter(|&lane| lane < count)
        .collect()
}

/// One lane or what an island leaves of it.
struct Task {
    lane: usize,
    from_m: f64,
    to_m: f64,
    /// The rig cannot drive on and backs out.
    dead_end: bool,
}

impl Outing {
    pub(crate) fn road_to(&mut self, x_m: f64) {
        let from_x_m = self.route.pose.x_m.max(-10.0);
        let way = if x_m > from_x_m { 1.0 } else { -1.0 };
        let (psi_rad, y_m) = if way > 0.0 {
            (EAST, -ROAD_Y_M)
        } else {
            (WEST, ROAD_Y_M)
        };
        self.route
            .go(Pose::new(from_x_m + way * 25.0, y_m, psi_rad), APPROACH_M_S);
        self.route.go(
            Pose::new(x_m, y_m, psi_rad),
            self.machine.rig.road_speed_m_s,
        );
    }

    /// To the yard, where the rig loads through its meter (or not) and stands.
    pub(crate) fn home(&mut self, seconds: f64, load_l: f64) {
        self.road_to(-10.0);
        self.route.go(STAND, APPROACH_M_S);
        self.load(seconds, load_l);
    }

    pub(crate) fn load(&mut self, seconds: f64, load_l: f64) {
        let l_s = 4.0;
        if load_l > 0.0 {
            self.pour(60.0, load_l / l_s, l_s);
        }
        self.route.stop(seconds);
    }

    fn manner(&self, rate: f64) -> Manner {
        Manner {
            site: "",
            open: vec![true; self.machine.rig.sections_m.len()],
            rate_ml_m2: rate * self.machine.target_gal_ac * GAL_AC_ML_M2,
            speed_m_s: self.machine.rig.lane_speed_m_s,
        }
    }

    /// Treats a site's lot and drive.
    pub(crate) fn treat(&mut self, site: &Site, tweak: &Tweak, refill: bool, chance: &mut Chance) {
        let lot = &site.lot;
        let mut manner = self.manner(tweak.rate);
        if let Some(section) = tweak.never {
            manner.open[section] = false;
        }
        self.road_to(lot.x_m.0 - 40.0);
        for _ in 0..tweak.times {
            let mut tasks = tasks(lot, 2 * (1 + chance.below(2)));
            tasks.retain(|task| tweak.skip_lane != Some(task.lane));
            let half = tasks.len() / 2;
            for (i, task) in tasks.iter().enumerate() {
                if refill && i == half {
                    let away_s = self.route.length_m;
                    self.home(5_400.0, 500.0);
                    debug_assert!(self.route.length_m > away_s);
                    self.road_to(lot.x_m.0 - 40.0);
                }
                let last = i + 1 == tasks.len();
                self.lane(lot, task, &manner, tweak, last, chance);
            }
            self.crosses(lot, &manner);
        }
        if let (Some(lanes), false) = (lot.drive_lanes_m(), tweak.skip_drive) {
            let slow = Manner {
                speed_m_s: manner.speed_m_s.min(3.6),
                ..manner
            };
            let y = |m: f64| lot.away * m;
            self.spray(
                (lanes.0, y(DRIVE_Y_M.1 + 1.5)),
                (lanes.0, y(DRIVE_Y_M.0 - 0.5)),
                &slow,
            );
            self.spray(
                (lanes.1, y(DRIVE_Y_M.0 - 2.0)),
                (lanes.1, y(DRIVE_Y_M.1 + 0.5)),
                &slow,
            );
        }
    }

    fn spray(&mut self, from: At, to: At, manner: &Manner) {
        self.route.spray(from, to, manner, None);
    }

    fn lane(
        &mut self,
        lot: &Lot,
        task: &Task,
        manner: &Manner,
        tweak: &Tweak,
        last: bool,
        chance: &mut Chance,
    ) {
        let way = (task.to_m - task.from_m).signum();
        let y_m = lot.lane_y_m(task.lane);
        let from_m = task.from_m - way * chance.between(OPEN_EARLY_M.0, OPEN_EARLY_M.1);
        let to_m = task.to_m + way * chance.between(CLOSE_LATE_M.0, CLOSE_LATE_M.1);
        let mut manner = manner.clone();
        close_over_treated(lot, task.lane, way, &mut manner.open);
        if let Some((lane, section)) = tweak.closed
            && lane == task.lane
        {
            manner.open[section] = false;
        }
        if let Some(fixed) = tweak.fixed_flow {
            // The driver is slow in every third lane, and the controller does not notice.
            let nominal_m_s = manner.speed_m_s;
            if task.lane % 3 == 1 {
                manner.speed_m_s = fixed;
            }
            self.fixed.push((self.route.stretches.len(), nominal_m_s));
        }
        self.spray((from_m, y_m), (to_m, y_m), &manner);
        let stretch = self.route.stretches.len() - 1;
        self.trouble(stretch, task.lane, tweak);
        if task.dead_end {
            self.route.back(chance.between(9.0, 16.0), 0.0, BACK_M_S);
            return;
        }
        // On to where the next lane's straight run begins: an even turn instead of a loop.
        let psi_rad = if way > 0.0 { EAST } else { WEST };
        let level_m = to_m + way * (8.0 - self.machine.rig.boom_behind_m());
        self.route
            .go(Pose::new(level_m, y_m, psi_rad), manner.speed_m_s);
        if !last && chance.uniform() < THREE_POINT_SHARE {
            // Toward the lanes that are still to do.
            let turn = way * lot.away / self.machine.rig.radius_m;
            self.route.arc(1.2 / turn.abs(), turn, 2.5);
            self.route.back(0.9 / turn.abs(), -turn, BACK_M_S);
        }
    }

    /// What goes wrong in one lane.
    fn trouble(&mut self, stretch: usize, lane: usize, tweak: &Tweak) {
        if let Some((_, at_m, seconds)) = tweak.dry.filter(|dry| dry.0 == lane) {
            self.dries.push((stretch, at_m, seconds));
        }
        if let Some((_, at_m, seconds)) = tweak.silent.filter(|silent| silent.0 == lane) {
            self.silences.push((stretch, at_m, seconds));
        }
        if let Some((_, at_m, seconds, l_s)) = tweak.parked.filter(|parked| parked.0 == lane) {
            let at_m = self.route.stretches[stretch].open_at_m + at_m;
            self.route.stops.push(crate::route::Stop {
                at_m,
                seconds,
                gun: Vec::new(),
            });
            self.pours.push((at_m, 0.0, seconds, l_s));
        }
    }

    fn crosses(&mut self, lot: &Lot, manner: &Manner) {
        let slow = Manner {
            speed_m_s: CROSS_SPEED_M_S,
            ..manner.clone()
        };
        let half_m = lot.rig.width_m() / 2.0;
        let (x0, x1) = lot.x_m;
        let top = lot.height_m;
        if let Some(island) = lot.island {
            let (near, far) = lot.island_s_m(&island);
            for x_m in island_crosses_m(lot, &island) {
                self.cross(lot, x_m, (near, far), &slow);
            }
        }
        let (right_top, step) = match lot.short {
            Some((lane, xs)) => (
                lot.step_s_m(lane),
                Some((xs - half_m + OVER_M, lot.step_s_m(lane))),
            ),
            None => (top, None),
        };
        if let Some((x_m, from_s)) = step {
            self.cross(lot, x_m, (from_s, top), &slow);
        }
        self.cross(lot, x1 - half_m + OVER_M, (0.0, right_top), &slow);
        self.cross(lot, x0 + half_m - OVER_M, (top, 0.0), &slow);
    }

    fn cross(&mut self, lot: &Lot, x_m: f64, (from_s, to_s): (f64, f64), manner: &Manner) {
        let way = (to_s - from_s).signum();
        self.spray(
            (x_m, lot.y_m(from_s - way * OPEN_OUTSIDE_M)),
            (x_m, lot.y_m(to_s + way * CLOSE_OUTSIDE_M)),
            manner,
        );
    }

    /// Through a lot with the boom closed, on the way to elsewhere.
    pub(crate) fn pass_through(&mut self, lot: &Lot) {
        self.road_to(lot.x_m.0 - 40.0);
        let (middle, psi_rad) = (lot.y_m(lot.height_m / 2.0), EAST);
        self.route
            .go(Pose::new(lot.x_m.0 + 10.0, middle, psi_rad), APPROACH_M_S);
        self.route
            .go(Pose::new(lot.x_m.0 + 60.0, middle, psi_rad), APPROACH_M_S);
    }

    /// The cart's work: walks by boom, steps with the gun.
    pub(crate) fn walks(&mut self, site: &Site) {
        let manner = self.manner(1.0);
        self.road_to(site.lot.x_m.0 - 30.0);
        for &(a, b) in &site.walks_m {
            self.spray(a, b, &manner);
        }
        if let Some((x, y)) = site.steps_m {
            self.route.go(Pose::new(x - 2.0, y - 3.0, EAST), 2.0);
            let bursts = (0..6).map(|i| (20.0 + 27.0 * f64::from(i), 42.0 + 27.0 * f64::from(i)));
            self.route.stop_with_gun(200.0, bursts.collect());
        }
    }
}

/// Where the crosswise passes at both ends of an island run.
fn island_crosses_m(lot: &Lot, island: &Island) -> [f64; 2] {
    let out_m = lot.rig.width_m() / 2.0 + CLEAR_M;
    [island.x_m.0 - out_m, island.x_m.1 + out_m]
}

/// Lanes in the order in which they are driven.
fn tasks(lot: &Lot, land: usize) -> Vec<Task> {
    let head_m = lot.rig.width_m() - OVER_M;
    let (mut tasks, mut east) = (Vec::new(), true);
    let mut ends = Vec::new();
    for lane in lands(lot.lanes, land) {
        let (x0, x1) = lot.ends_m(lane);
        let (from_m, to_m) = (x0 + head_m, x1 - head_m);
        if let Some(island) = lot
            .island
            .filter(|island| island.lanes.0 < lane && lane < island.lanes.1)
        {
            let [west, east] = island_crosses_m(lot, &island);
            let half_m = lot.rig.width_m() / 2.0;
            ends.push((lane, from_m, west - half_m));
            ends.push((lane, to_m, east + half_m));
            continue;
        }
        let (from_m, to_m) = if east { (from_m, to_m) } else { (to_m, from_m) };
        tasks.push(Task {
            lane,
            from_m,
            to_m,
            dead_end: false,
        });
        east = !east;
    }
    // First the dead ends of one side, then those of the other.
    ends.sort_by(|a, b| a.1.total_cmp(&b.1));
    tasks.extend(ends.into_iter().map(|(lane, from_m, to_m)| Task {
        lane,
        from_m,
        to_m,
        dead_end: true,
    }));
    tasks
}

/// In the last lane, sections that lie wholly on treated ground stay closed.
fn close_over_treated(lot: &Lot, lane: usize, way: f64, open: &mut [bool]) {
    if lane + 1 != lot.lanes {
        return;
    }
    let done_s = lot.lane_s_m(lane - 1) + lot.rig.width_m() / 2.0 - lot.rig.lap_m;
    let mut right_m = -lot.rig.width_m() / 2.0;
    for (open, width_m) in open.iter_mut().zip(lot.rig.sections_m) {
        let ends = [right_m, right_m + width_m];
        // Driving east the right side lies south.
        let far_s = ends
            .map(|m| lot.lane_s_m(lane) - lot.away * way * m)
            .into_iter()
            .fold(f64::MIN, f64::max);
        if far_s < done_s {
            *open = false;
        }
        right_m += width_m;
    }
}
