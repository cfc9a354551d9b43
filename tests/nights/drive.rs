//! How the drivers treat a site: lanes in lands, dead ends backed out of, crosswise passes last.

use crate::machine::target_gal_ac;
use crate::plan::{Outing, Tweak};
use crate::scene::{CLEAR_M, Site};
use making::chance::Chance;
use making::driving::{APPROACH_M_S, lands};
use making::dubins::{EAST, Pose};
use making::lot::{Island, Lot};
use making::route::{Manner, Pour, Stop, While};

/// Lanes open this far inside the ground that the crosswise pass treats, m, and close this far inside it.
const OPEN_EARLY_M: (f64, f64) = (2.0, 5.0);
const CLOSE_LATE_M: (f64, f64) = (0.5, 2.0);
/// From the end of a lane to where the boom is level with the next one's straight run, m.
const RUN_ON_M: f64 = 8.0;
const BACK_M_S: f64 = 1.5;
/// Share of turns at a lane's end that are made in three points.
const THREE_POINT_SHARE: f64 = 0.15;

/// One lane or what an island leaves of it.
struct Task {
    lane: usize,
    from_m: f64,
    to_m: f64,
    /// The rig cannot drive on and backs out.
    dead_end: bool,
}

impl Outing {
    fn manner(&self, rate: f64) -> Manner {
        let rig = &self.route.rig;
        Manner::usual(rig, "", rate * target_gal_ac(rig))
    }

    /// Treats a site's lot and drive.
    pub(crate) fn treat(&mut self, site: &Site, tweak: &Tweak, refill: bool, chance: &mut Chance) {
        let lot = &site.lot;
        let mut manner = self.manner(tweak.rate);
        if let Some(section) = tweak.never {
            manner.open[section] = false;
        }
        self.route.road_to(lot.x_m.0 - 40.0);
        for _ in 0..tweak.times {
            let mut tasks = tasks(lot, 2 * (1 + chance.below(2)));
            tasks.retain(|task| tweak.skip_lane != Some(task.lane));
            let half = tasks.len() / 2;
            for (i, task) in tasks.iter().enumerate() {
                if refill && i == half {
                    self.route.home_to_load(5_400.0, 500.0);
                    self.route.road_to(lot.x_m.0 - 40.0);
                }
                let last = i + 1 == tasks.len();
                self.lane(lot, task, &manner, tweak, last, chance);
            }
            if let Some(island) = lot.island {
                let (near, far) = lot.island_s_m(&island);
                for x_m in island_crosses_m(lot, &island) {
                    self.route
                        .cross(x_m, (lot.y_m(near), lot.y_m(far)), &manner);
                }
            }
            self.route.ends(lot, &manner);
        }
        if !tweak.skip_drive {
            self.route.drive(lot, &manner);
        }
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
        let mut as_if_at_m_s = None;
        if let Some(fixed) = tweak.fixed_flow {
            // The driver is slow in every third lane, and the controller does not notice.
            let nominal_m_s = manner.speed_m_s;
            if task.lane % 3 == 1 {
                manner.speed_m_s = fixed;
            }
            as_if_at_m_s = Some(nominal_m_s);
        }
        self.route.spray((from_m, y_m), (to_m, y_m), &manner);
        self.trouble(task.lane, tweak, as_if_at_m_s);
        if task.dead_end {
            self.route.back(chance.between(9.0, 16.0), 0.0, BACK_M_S);
            return;
        }
        self.route
            .run_on((to_m, y_m), way, RUN_ON_M, manner.speed_m_s);
        if !last && chance.uniform() < THREE_POINT_SHARE {
            // Toward the lanes that are still to do.
            let turn = way * lot.away / self.route.rig.radius_m;
            self.route.arc(1.2 / turn.abs(), turn, 2.5);
            self.route.back(0.9 / turn.abs(), -turn, BACK_M_S);
        }
    }

    /// What goes wrong in the lane that was just driven.
    fn trouble(&mut self, lane: usize, tweak: &Tweak, as_if_at_m_s: Option<f64>) {
        let stretch = self.route.stretches.last_mut();
        let stretch = stretch.expect("a lane is a stretch");
        stretch.as_if_at_m_s = as_if_at_m_s;
        let in_lane = |(troubled, at_m, seconds): (usize, f64, f64)| {
            (troubled == lane).then_some(While { at_m, seconds })
        };
        stretch.dry = tweak.dry.and_then(in_lane);
        stretch.silent = tweak.silent.and_then(in_lane);
        if let Some((_, at_m, seconds, l_s)) = tweak.parked.filter(|parked| parked.0 == lane) {
            let at_m = stretch.open_at_m + at_m;
            self.route.stops.push(Stop {
                at_m,
                seconds,
                gun: Vec::new(),
            });
            self.route.pours.push(Pour {
                at_m,
                after_s: 0.0,
                seconds,
                l_s,
            });
        }
    }

    /// Through a lot with the boom closed, on the way to elsewhere.
    pub(crate) fn pass_through(&mut self, lot: &Lot) {
        self.route.road_to(lot.x_m.0 - 40.0);
        let middle_m = lot.y_m(lot.height_m / 2.0);
        for in_m in [10.0, 60.0] {
            let pose = Pose::new(lot.x_m.0 + in_m, middle_m, EAST);
            self.route.go(pose, APPROACH_M_S);
        }
    }

    /// The cart's work: walks by boom, steps with the gun.
    pub(crate) fn walks(&mut self, site: &Site) {
        let manner = self.manner(1.0);
        self.route.road_to(site.lot.x_m.0 - 30.0);
        for &(a, b) in &site.walks_m {
            self.route.spray(a, b, &manner);
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
    let (mut tasks, mut east) = (Vec::new(), true);
    let mut ends = Vec::new();
    for lane in lands(0, lot.lanes, land) {
        let (from_m, to_m) = lot.inner_m(lane);
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
