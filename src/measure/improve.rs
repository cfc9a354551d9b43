//! A finished plan tried again in places: a lane that adds little is taken out with its neighbours, what they leave is filled
//! anew, and the outcome is kept where it takes less time.

use super::field::{Covered, Field};
use super::fill::fill;
use super::lane::Lane;
use super::terms::{SWITCHED_SHARE, Terms};
use super::thin::{own_rates, thinned};

/// Cells of all attempts together; on great ground few are made, each takes long (limit).
const CELLS: u64 = 400_000;
/// Attempts at most (by trial).
const MOST_ATTEMPTS: u64 = 24;
/// Lanes that are taken out together (by trial).
const TOGETHER: usize = 3;
/// Less than this is not worth another plan, s (by trial).
const LEAST_SAVING_S: f64 = 0.1;

/// The lanes, or better ones.
pub(super) fn improved(field: &Field, terms: &Terms, mut lanes: Vec<Lane>) -> Vec<Lane> {
    let attempts = (CELLS / field.reach_cells.max(1)).min(MOST_ATTEMPTS) as usize;
    let mut best = Worth::of(field, terms, &lanes);
    let mut next = 0;
    let mut poorest = order_by_rate(field, terms, &lanes);
    for _ in 0..attempts {
        let Some(&worst) = poorest.get(next) else {
            break;
        };
        let (mut tried, mut covered) = without(field, &lanes, worst);
        fill(field, terms, terms.until, &mut tried, &mut covered);
        let tried = thinned(field, terms, terms.until, tried);
        let worth = Worth::of(field, terms, &tried);
        if worth.is_better(&best) {
            (lanes, best) = (tried, worth);
            poorest = order_by_rate(field, terms, &lanes);
            next = 0;
        } else {
            next += 1;
        }
    }
    lanes
}

/// What a plan takes and lacks.
struct Worth {
    time_s: f64,
    lacks_share: f64,
}

impl Worth {
    fn of(field: &Field, terms: &Terms, lanes: &[Lane]) -> Self {
        let covered = field.covered_by(lanes);
        let spacing_m = field.vehicle.boom_m() - terms.lap_m;
        let switched = terms.until.min(SWITCHED_SHARE) - field.share(&covered.switched);
        let swath = terms.until - field.share(&covered.swath);
        Self {
            time_s: lanes.iter().map(|lane| terms.lane_s(lane, spacing_m)).sum(),
            lacks_share: switched.max(0.0) + swath.max(0.0),
        }
    }

    fn is_better(&self, other: &Self) -> bool {
        self.lacks_share <= other.lacks_share && self.time_s < other.time_s - LEAST_SAVING_S
    }
}

/// Indices of the lanes, those that add least ground of their own a second first.
fn order_by_rate(field: &Field, terms: &Terms, lanes: &[Lane]) -> Vec<usize> {
    let rates = own_rates(field, terms, lanes);
    let mut order: Vec<usize> = (0..lanes.len()).collect();
    order.sort_by(|&a, &b| rates[a].total_cmp(&rates[b]));
    order
}

/// All lanes but one and those nearest to it, and what they cover.
fn without(field: &Field, lanes: &[Lane], worst: usize) -> (Vec<Lane>, Covered) {
    let middle = |lane: &Lane| lane.at(lane.length_m() / 2.0).at;
    let here = middle(&lanes[worst]);
    let mut near: Vec<usize> = (0..lanes.len()).collect();
    near.sort_by(|&a, &b| {
        let far_m = |k: usize| middle(&lanes[k]).minus(here).length_m();
        far_m(a).total_cmp(&far_m(b))
    });
    near.truncate(TOGETHER);
    let kept: Vec<Lane> = lanes
        .iter()
        .enumerate()
        .filter(|(k, _)| *k != worst && !near.contains(k))
        .map(|(_, lane)| lane.clone())
        .collect();
    let covered = field.covered_by(&kept);
    (kept, covered)
}
