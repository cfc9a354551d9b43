//! Lanes that others make superfluous are left out, and ends that others cover are cut off.

use super::field::{By, Field};
use super::lane::Lane;
use super::terms::{SWITCHED_SHARE, Terms};

/// Only lanes that cover less ground of their own a second than this share of what all do are left out: a good lane
/// left out would leave a bare stripe (by trial).
const AS_POOR: f64 = 0.6;
/// An end is cut off from this length on, m (trade judgement).
const LEAST_END_M: f64 = 0.5;

/// How many lanes cover each cell of the reach.
struct Tally {
    by: By,
    lanes: Vec<u16>,
    /// The last lane that was counted on a cell: a lane counts once.
    last: Vec<u32>,
    covered: u64,
    stamp: u32,
}

impl Tally {
    fn of(field: &Field, lanes: &[Lane], by: By) -> Self {
        let cells = field.cells.columns * field.cells.rows;
        let mut tally = Self {
            by,
            lanes: vec![0; cells],
            last: vec![0; cells],
            covered: 0,
            stamp: 0,
        };
        for lane in lanes {
            tally.add(field, lane);
        }
        tally
    }

    fn add(&mut self, field: &Field, lane: &Lane) {
        self.stamp += 1;
        field.each_cell(lane, self.by, |cell, _| {
            if self.last[cell] != self.stamp {
                self.last[cell] = self.stamp;
                self.lanes[cell] += 1;
                self.covered += u64::from(self.lanes[cell] == 1);
            }
        });
    }

    fn take(&mut self, field: &Field, lane: &Lane) {
        self.stamp += 1;
        field.each_cell(lane, self.by, |cell, _| {
            if self.last[cell] != self.stamp {
                self.last[cell] = self.stamp;
                self.lanes[cell] -= 1;
                self.covered -= u64::from(self.lanes[cell] == 0);
            }
        });
    }

    /// Cells that only this lane covers, and the first and last of them along it, m.
    fn own(&mut self, field: &Field, lane: &Lane) -> (u64, f64, f64) {
        self.stamp += 1;
        let mut own = (0, f64::INFINITY, f64::NEG_INFINITY);
        field.each_cell(lane, self.by, |cell, along_m| {
            if self.lanes[cell] == 1 {
                own.0 += u64::from(self.last[cell] != self.stamp);
                self.last[cell] = self.stamp;
                own.1 = own.1.min(along_m);
                own.2 = own.2.max(along_m);
            }
        });
        own
    }

    /// Cells covered beyond a share of the reach.
    fn spare(&self, field: &Field, share: f64) -> f64 {
        self.covered as f64 - share * field.reach_cells as f64
    }
}

/// Leaves out lanes, those that cover least ground of their own a second first, as long as the share stays
/// covered; then cuts off what others cover of the ends.
pub(super) fn thinned(field: &Field, terms: &Terms, until: f64, lanes: Vec<Lane>) -> Vec<Lane> {
    let mut switched = Tally::of(field, &lanes, By::Switched);
    let mut swath = Tally::of(field, &lanes, By::Swath);
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let whole_s: f64 = lanes.iter().map(|lane| terms.lane_s(lane, spacing_m)).sum();
    let poor = AS_POOR * swath.covered as f64 / whole_s;
    let mut kept: Vec<Option<Lane>> = lanes.into_iter().map(Some).collect();
    // Ground of their own only grows while others are left out, so an old figure is a lower bound.
    let mut bounds: Vec<f64> = vec![0.0; kept.len()];
    loop {
        let waiting = (0..kept.len()).filter(|&k| kept[k].is_some() && bounds[k] <= poor);
        let Some(k) = waiting.min_by(|&a, &b| bounds[a].total_cmp(&bounds[b])) else {
            break;
        };
        let Some(lane) = &kept[k] else { break };
        let (own_switched, own_swath) = (switched.own(field, lane).0, swath.own(field, lane).0);
        let rate = own_switched.max(own_swath) as f64 / terms.lane_s(lane, spacing_m);
        if rate > bounds[k] {
            bounds[k] = rate;
            continue;
        }
        let fits = own_switched as f64 <= switched.spare(field, until.min(SWITCHED_SHARE))
            && own_swath as f64 <= swath.spare(field, until);
        if fits {
            switched.take(field, lane);
            swath.take(field, lane);
            kept[k] = None;
        } else {
            bounds[k] = f64::INFINITY;
        }
    }
    let mut lanes: Vec<Lane> = kept.into_iter().flatten().collect();
    for lane in &mut lanes {
        cut_ends(field, lane, &mut switched, &mut swath);
    }
    lanes
}

/// Of each lane: cells a second that no other covers.
pub(super) fn own_rates(field: &Field, terms: &Terms, lanes: &[Lane]) -> Vec<f64> {
    let mut swath = Tally::of(field, lanes, By::Swath);
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    lanes
        .iter()
        .map(|lane| swath.own(field, lane).0 as f64 / terms.lane_s(lane, spacing_m))
        .collect()
}

/// Cuts off the ends of a lane that others cover.
fn cut_ends(field: &Field, lane: &mut Lane, switched: &mut Tally, swath: &mut Tally) {
    let ((_, a, b), (_, c, d)) = (switched.own(field, lane), swath.own(field, lane));
    let slack_m = 2.0 * field.cells.cell_m;
    let (from_m, to_m) = (a.min(c) - slack_m, b.max(d) + slack_m);
    let length_m = lane.length_m();
    let from_m = if from_m < LEAST_END_M { 0.0 } else { from_m };
    let to_m = if to_m > length_m - LEAST_END_M {
        length_m
    } else {
        to_m
    };
    let shorter = to_m - from_m < length_m && to_m - from_m >= super::field::LEAST_LANE_M;
    if !shorter {
        return;
    }
    let mut cut = lane.clone();
    cut.cut(from_m, to_m);
    if cut.open.is_empty() {
        return;
    }
    for tally in [switched, swath] {
        tally.take(field, lane);
        tally.add(field, &cut);
    }
    *lane = cut;
}
