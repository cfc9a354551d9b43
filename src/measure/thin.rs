//! Lanes that others make superfluous are left out, and ends that others cover are cut off.

use super::field::{By, Field};
use super::footprint::{Footprint, Tally};
use super::lane::Lane;
use super::terms::{Terms, Until};

/// Only lanes that cover less ground of their own a second than this share of what all do are left out: a good lane
/// left out would leave a bare stripe (by trial).
const AS_POOR: f64 = 0.6;
/// An end is cut off from this length on, m (trade judgement).
const LEAST_END_M: f64 = 0.5;

/// Leaves out lanes, those that cover least ground of their own a second first, as long as the share stays
/// covered; then cuts off what others cover of the ends.
pub(super) fn thinned(field: &Field, terms: &Terms, until: Until, lanes: Vec<Lane>) -> Vec<Lane> {
    let (mut switched, mut on_switched) = tallied(field, &lanes, By::Switched);
    let (mut swath, mut on_swath) = tallied(field, &lanes, By::Swath);
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
        let (own_switched, own_swath) = (switched.own(&on_switched[k]), swath.own(&on_swath[k]));
        let rate = own_switched.max(own_swath) as f64 / terms.lane_s(lane, spacing_m);
        if rate > bounds[k] {
            bounds[k] = rate;
            continue;
        }
        let fits = own_switched as f64 <= switched.spare(field, until.switched)
            && own_swath as f64 <= swath.spare(field, until.swath);
        if fits {
            switched.take(&on_switched[k]);
            swath.take(&on_swath[k]);
            kept[k] = None;
        } else {
            bounds[k] = f64::INFINITY;
        }
    }
    let mut lanes = Vec::with_capacity(kept.len());
    for (k, lane) in kept.into_iter().enumerate() {
        let Some(mut lane) = lane else { continue };
        let tallies = [
            (&mut switched, &mut on_switched[k]),
            (&mut swath, &mut on_swath[k]),
        ];
        cut_ends(field, &mut lane, tallies);
        lanes.push(lane);
    }
    lanes
}

/// How many lanes cover each cell, and the cells of each lane.
fn tallied(field: &Field, lanes: &[Lane], by: By) -> (Tally, Vec<Footprint>) {
    let mut tally = Tally::none(field, by);
    let footprints: Vec<Footprint> = lanes
        .iter()
        .map(|lane| tally.footprint(field, lane))
        .collect();
    footprints.iter().for_each(|footprint| tally.add(footprint));
    (tally, footprints)
}

/// Of each lane: cells a second that no other covers.
pub(super) fn own_rates(field: &Field, terms: &Terms, lanes: &[Lane]) -> Vec<f64> {
    let (swath, footprints) = tallied(field, lanes, By::Swath);
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    lanes
        .iter()
        .zip(&footprints)
        .map(|(lane, cells)| swath.own(cells) as f64 / terms.lane_s(lane, spacing_m))
        .collect()
}

/// Cuts off the ends of a lane that others cover.
fn cut_ends(field: &Field, lane: &mut Lane, tallies: [(&mut Tally, &mut Footprint); 2]) {
    let ends_m = tallies
        .each_ref()
        .map(|(tally, _)| tally.own_ends_m(field, lane));
    let [(a, b), (c, d)] = ends_m;
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
    for (tally, footprint) in tallies {
        tally.take(footprint);
        *footprint = tally.footprint(field, &cut);
        tally.add(footprint);
    }
    *lane = cut;
}
