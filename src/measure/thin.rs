//! Lanes that others make superfluous are left out, and ends that others cover are cut off.

use super::field::{By, Field};
use super::footprint::{Laid, Tally};
use super::terms::{Terms, Until};
use std::sync::Arc;

/// Only lanes that cover less ground of their own a second than this share of what all do are left out: a good lane
/// left out would leave a bare stripe (by trial).
const AS_POOR: f64 = 0.6;
/// An end is cut off from this length on, m (trade judgement).
const LEAST_END_M: f64 = 0.5;

/// Leaves out lanes, those that cover least ground of their own a second first, as long as the share stays
/// covered; then cuts off what others cover of the ends. On coarse cells lanes stay as they are.
pub(super) fn thinned(
    field: &Field,
    terms: &Terms,
    until: Until,
    mut lanes: Vec<Arc<Laid>>,
) -> Vec<Arc<Laid>> {
    if field.is_coarse() {
        return lanes;
    }
    let mut tallies = [By::Switched, By::Swath].map(|by| Tally::of(field, &lanes, by));
    leave_out(field, terms, until, &mut lanes, &mut tallies);
    for lane in &mut lanes {
        cut_ends(field, lane, &mut tallies);
    }
    lanes
}

fn leave_out(
    field: &Field,
    terms: &Terms,
    until: Until,
    lanes: &mut Vec<Arc<Laid>>,
    [switched, swath]: &mut [Tally; 2],
) {
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let seconds: Vec<f64> = lanes
        .iter()
        .map(|laid| terms.lane_s(&laid.lane, spacing_m))
        .collect();
    let poor = AS_POOR * swath.covered as f64 / seconds.iter().sum::<f64>();
    let mut kept = vec![true; lanes.len()];
    // Ground of their own only grows while others are left out, so an old figure is a lower bound.
    let mut bounds: Vec<f64> = vec![0.0; kept.len()];
    loop {
        let waiting = (0..kept.len()).filter(|&k| kept[k] && bounds[k] <= poor);
        let Some(k) = waiting.min_by(|&a, &b| bounds[a].total_cmp(&bounds[b])) else {
            break;
        };
        let (own_switched, own_swath) = (switched.own(&lanes[k]), swath.own(&lanes[k]));
        let rate = own_switched.max(own_swath) as f64 / seconds[k];
        if rate > bounds[k] {
            bounds[k] = rate;
            continue;
        }
        let fits = own_switched as f64 <= switched.spare(field, until.switched)
            && own_swath as f64 <= swath.spare(field, until.swath);
        if fits {
            switched.take(&lanes[k]);
            swath.take(&lanes[k]);
            kept[k] = false;
        } else {
            bounds[k] = f64::INFINITY;
        }
    }
    let mut keeps = kept.into_iter();
    lanes.retain(|_| keeps.next() == Some(true));
}

/// Of each lane: cells a second that no other covers.
pub(super) fn own_rates(field: &Field, terms: &Terms, lanes: &[Arc<Laid>]) -> Vec<f64> {
    let swath = Tally::of(field, lanes, By::Swath);
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    lanes
        .iter()
        .map(|laid| swath.own(laid) as f64 / terms.lane_s(&laid.lane, spacing_m))
        .collect()
}

/// Cuts off the ends of a lane that others cover.
fn cut_ends(field: &Field, laid: &mut Arc<Laid>, tallies: &mut [Tally; 2]) {
    let lane = &laid.lane;
    let [(a, b), (c, d)] = tallies
        .each_ref()
        .map(|tally| tally.own_ends_m(field, lane));
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
    let cut = Laid::of(field, cut);
    for tally in tallies {
        tally.take(laid);
        tally.add(&cut);
    }
    *laid = cut;
}
