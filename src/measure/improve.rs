//! A finished plan tried again in places: a lane and its neighbours are taken out, what they leave is filled anew, and the
//! outcome is kept where it takes less time; early on also where it takes a little more, since the way to a better plan often
//! leads through a worse one (S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, Science 220, 1983; taking out and filling anew:
//! P. Shaw, LNCS 1520, 1998).

use super::bits::Bits;
use super::drafts::stripe_left;
use super::field::{Covered, Field};
use super::fill::{Known, fill};
use super::footprint::Laid;
use super::luck::Luck;
use super::terms::{Terms, Until};
use super::thin::{own_rates, thinned};
use std::sync::Arc;

/// A lane is taken out with one to so many of those nearest to it (by trial).
const MOST_TOGETHER: usize = 5;
/// Over all attempts together a plan may come to cover this much less of the reach: cells at the ends of lanes
/// (tolerance).
const AS_MUCH: f64 = 0.005;
/// Lanes that cover so much of the reach lie side by side with their laps: between fewer of them the laps would be squeezed
/// (tolerance).
const COMPLETE: f64 = 0.9995;
/// Less than this is not worth another plan, s (by trial).
const LEAST_SAVING_S: f64 = 0.1;
/// At first a plan may take so much longer than the one it comes from, as a share of the best; less and less later on (by
/// trial).
const WARM: f64 = 0.01;
/// An attempt whose lanes take so many times what it may take is given up: leaving superfluous ones out seldom saves as much
/// (by trial: 95 of 100 that were kept had come to 1.12 times at most).
const TOO_SLOW: f64 = 1.2;
/// Every other attempt lanes are held to be worth less by up to this share (by trial).
const LUCK: f64 = 0.3;
/// One attempt of so many lays stripes before it fills (by trial).
const STRIPES_EVERY: u64 = 3;
/// Steps of this share of a whole fall evenly however many there are (published: golden section).
const GOLDEN: f64 = 0.618_033_988_749_894_8;

/// A plan on the way.
#[derive(Clone)]
struct Tried {
    worth: Worth,
    lanes: Vec<Arc<Laid>>,
}

/// The lanes, or better ones.
pub(super) fn improved(field: &Field, terms: &Terms, lanes: Vec<Arc<Laid>>) -> Vec<Arc<Laid>> {
    let attempts = terms.attempts as u64;
    let searched = !field.is_crowded() && !field.is_coarse();
    if lanes.is_empty() || !searched || is_complete(field, &lanes) {
        return lanes;
    }
    let covered = Covered::by_lanes(field, &lanes);
    let until = kept(field, terms, &covered);
    let mut known = Known::default();
    let mut here = Tried {
        worth: Worth::of(field, terms, until, &lanes),
        lanes,
    };
    let mut best = here.clone();
    let mut poorest = order_by_rate(field, terms, &here.lanes);
    for attempt in 0..attempts {
        let cool = 1.0 - attempt as f64 / attempts as f64;
        let may_take_s = here.worth.time_s + WARM * cool * best.worth.time_s;
        known.most_s = Some(TOO_SLOW * may_take_s);
        let tried = again(
            field,
            terms,
            until,
            (&here.lanes, &poorest),
            attempt,
            &mut known,
        );
        let Some(tried) = tried else { continue };
        let fits = tried.worth.lacks_no_more(&best.worth) && !tried.lanes.is_empty();
        if !fits || tried.worth.time_s >= may_take_s {
            continue;
        }
        poorest = order_by_rate(field, terms, &tried.lanes);
        if tried.worth.time_s < best.worth.time_s - LEAST_SAVING_S {
            best = tried.clone();
        }
        here = tried;
    }
    best.lanes
}

/// These lanes lie side by side and leave nothing.
pub(super) fn is_complete(field: &Field, lanes: &[Arc<Laid>]) -> bool {
    field.share(&Covered::by_lanes(field, lanes).swath) >= COMPLETE
}

/// One attempt: a lane, of those that add little rather than of the others, and some of its neighbours are laid anew; `None`
/// where that is given up.
fn again(
    field: &Field,
    terms: &Terms,
    until: Until,
    (lanes, poorest): (&[Arc<Laid>], &[usize]),
    attempt: u64,
    known: &mut Known,
) -> Option<Tried> {
    let share = (attempt as f64 * GOLDEN).fract();
    let picked = (share * share * poorest.len() as f64) as usize;
    let together = 1 + attempt as usize % MOST_TOGETHER;
    let (mut tried, mut covered) = without(field, lanes, poorest[picked], together);
    if attempt % STRIPES_EVERY == STRIPES_EVERY - 1 {
        stripe_left(field, terms, &mut tried, &mut covered);
    }
    known.luck = Luck {
        most: if attempt.is_multiple_of(2) { LUCK } else { 0.0 },
        salt: attempt,
    };
    fill(field, terms, until, (&mut tried, &mut covered), known);
    if known.gives_up(field, terms, &tried) {
        return None;
    }
    let lanes = thinned(field, terms, until, tried);
    Some(Tried {
        worth: Worth::of(field, terms, until, &lanes),
        lanes,
    })
}

/// What the lanes cover, at least what they were to cover: a plan is not bettered by leaving a bare stripe.
fn kept(field: &Field, terms: &Terms, covered: &Covered) -> Until {
    let share = |own: &Bits, asked: f64| asked.max(field.share(own) - AS_MUCH);
    Until {
        switched: share(&covered.switched, terms.until.switched),
        swath: share(&covered.swath, terms.until.swath),
    }
}

/// What a plan takes and lacks.
#[derive(Debug, Clone, Copy)]
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

    fn lacks_no_more(&self, other: &Self) -> bool {
        let lacks = self.lacks.iter().zip(&other.lacks);
        lacks.into_iter().all(|(own, other)| own <= other)
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
