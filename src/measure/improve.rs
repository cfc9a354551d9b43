//! A finished plan tried again in places: a lane that adds little is taken out with its neighbours, what they leave is filled
//! anew, and the outcome is kept where it takes less time.

use super::bits::Bits;
use super::drafts::stripe_left;
use super::field::{Covered, Field};
use super::fill::{Hopeless, fill};
use super::footprint::Laid;
use super::terms::{Terms, Until};
use super::thin::{own_rates, thinned};
use std::sync::Arc;

/// Cells of all attempts together; on great ground few are made, each takes long (limit).
const CELLS: u64 = 3_000_000;
/// Lanes that are taken out together (by trial).
const TOGETHER: usize = 3;
/// A better plan may cover so much less of the reach than the one it betters, all attempts together: cells at ends of lanes
/// (tolerance).
const AS_MUCH: f64 = 0.005;
/// Lanes that cover so much of the reach lie side by side with their laps: between fewer of them the laps would be squeezed
/// (tolerance).
const COMPLETE: f64 = 0.9995;
/// Less than this is not worth another plan, s (by trial).
const LEAST_SAVING_S: f64 = 0.1;

/// The lanes, or better ones.
pub(super) fn improved(field: &Field, terms: &Terms, mut lanes: Vec<Arc<Laid>>) -> Vec<Arc<Laid>> {
    let attempts = (CELLS / field.reach_cells.max(1)).min(terms.attempts as u64);
    if lanes.is_empty() || field.is_crowded() {
        return lanes;
    }
    if field.share(&Covered::by_lanes(field, &lanes).swath) >= COMPLETE {
        return lanes;
    }
    let until = kept(field, terms, &lanes);
    let mut best = Worth::of(field, terms, until, &lanes);
    let mut known = Hopeless::default();
    let mut next = 0;
    let mut poorest = order_by_rate(field, terms, &lanes);
    for _ in 0..attempts {
        // Once all lanes had their turn, with stripes for what they leave; then with more of their neighbours.
        let round = next / lanes.len();
        let together = TOGETHER * (1 + round / 2);
        if together >= lanes.len() && round > 0 {
            break;
        }
        let worst = poorest[next % lanes.len()];
        let (mut tried, mut covered) = without(field, &lanes, worst, together);
        if round % 2 == 1 {
            stripe_left(field, terms, &mut tried, &mut covered);
        }
        fill(field, terms, until, (&mut tried, &mut covered), &mut known);
        let tried = thinned(field, terms, until, tried);
        let worth = Worth::of(field, terms, until, &tried);
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

/// What the lanes cover, at least what they were to cover: a plan is not bettered by leaving a bare stripe.
fn kept(field: &Field, terms: &Terms, lanes: &[Arc<Laid>]) -> Until {
    let covered = Covered::by_lanes(field, lanes);
    let share = |own: &Bits, asked: f64| asked.max(field.share(own) - AS_MUCH);
    Until {
        switched: share(&covered.switched, terms.until.switched),
        swath: share(&covered.swath, terms.until.swath),
    }
}

/// What a plan takes and lacks.
pub(super) struct Worth {
    pub(super) time_s: f64,
    /// Of the reach, by the sections as they switch and by the whole boom.
    lacks: [f64; 2],
}

impl Worth {
    pub(super) fn of(field: &Field, terms: &Terms, until: Until, lanes: &[Arc<Laid>]) -> Self {
        let covered = Covered::by_lanes(field, lanes);
        let spacing_m = field.vehicle.boom_m() - terms.lap_m;
        Self {
            time_s: lanes
                .iter()
                .map(|laid| terms.lane_s(&laid.lane, spacing_m))
                .sum(),
            lacks: until.lacks(field, &covered),
        }
    }

    fn is_better(&self, other: &Self) -> bool {
        let lacks = self.lacks.iter().zip(&other.lacks);
        lacks.into_iter().all(|(own, other)| own <= other)
            && self.time_s < other.time_s - LEAST_SAVING_S
    }

    /// What is lacking, the worse of the two.
    pub(super) fn lacks(&self) -> f64 {
        self.lacks[0].max(self.lacks[1])
    }
}

/// Indices of the lanes, those that add least ground of their own a second first.
fn order_by_rate(field: &Field, terms: &Terms, lanes: &[Arc<Laid>]) -> Vec<usize> {
    let rates = own_rates(field, terms, lanes);
    let mut order: Vec<usize> = (0..lanes.len()).collect();
    order.sort_by(|&a, &b| rates[a].total_cmp(&rates[b]));
    order
}

/// All lanes but one and those nearest to it, and what they cover.
fn without(
    field: &Field,
    lanes: &[Arc<Laid>],
    worst: usize,
    together: usize,
) -> (Vec<Arc<Laid>>, Covered) {
    let middle = |laid: &Laid| laid.lane.at(laid.lane.length_m() / 2.0).at;
    let here = middle(&lanes[worst]);
    let mut near: Vec<usize> = (0..lanes.len()).collect();
    near.sort_by(|&a, &b| {
        let far_m = |k: usize| middle(&lanes[k]).minus(here).length_m();
        far_m(a).total_cmp(&far_m(b))
    });
    near.truncate(together);
    let kept: Vec<Arc<Laid>> = lanes
        .iter()
        .enumerate()
        .filter(|(k, _)| *k != worst && !near.contains(k))
        .map(|(_, lane)| Arc::clone(lane))
        .collect();
    let covered = Covered::by_lanes(field, &kept);
    (kept, covered)
}
