//! The drive plan: lanes that cover what is reached, made in several ways, the quickest kept.
//!
//! None of the ways wins everywhere: no, one or two passes along the edges first, straight or bent; lanes in one heading or
//! both; along each edge direction; with the lot cut at a reflex corner, each part in its own direction.
//! What a way leaves is filled lane by lane, each the one that covers most ground a second.

use super::drafts::{Draft, drafts};
use super::field::{Covered, Field};
use super::fill::{self, Known};
use super::footprint::Laid;
use super::improve::{self, Worth};
use super::lane::Lane;
use super::order;
use super::terms::{Manner, Stop, Terms};
use super::thin;
use rayon::prelude::*;
use std::sync::Arc;

/// Plans that are finished and timed in full, at most (by trial) ...
const FINISHED: usize = 8;
/// ... and where the ground is full of islands (by trial);
const FINISHED_CROWDED: usize = 2;
/// ... those whose drafts are worth at most so many times the best one; the others fell behind by their first lanes
/// (by trial).
const BEHIND: f64 = 1.3;
/// Plans that leave so much more of the reach than another are as whole as that one (by trial).
const AS_WHOLE: f64 = 0.001;
/// Of plans within this of the quickest the one with fewest lanes is kept (by trial).
const AS_QUICK: f64 = 1.03;

/// A plan.
pub(super) struct Plan {
    /// How it was made.
    pub(super) manner: Manner,
    /// Of the reach, of what it was to cover.
    lacks: f64,
    /// As they were laid.
    laid: Vec<Arc<Laid>>,
    /// In driving order.
    pub(super) lanes: Vec<Lane>,
    /// Between lanes, s; metres where turning is not known.
    pub(super) between: f64,
    /// Stopping at other shares of the reach.
    pub(super) stops: Vec<Stop>,
}

impl Plan {
    fn seconds(&self, terms: &Terms) -> f64 {
        self.lanes.iter().map(Lane::length_m).sum::<f64>() / terms.speed_m_s + self.between
    }
}

/// The best plan of all ways; `None` where nothing is reached.
pub(super) fn plan(field: &Field, terms: &Terms) -> Option<Plan> {
    if field.reach.is_empty() {
        return None;
    }
    let mut drafts = drafts(field, terms);
    drafts.sort_by(|a, b| a.score.total_cmp(&b.score));
    drafts.truncate(if field.is_crowded() {
        FINISHED_CROWDED
    } else {
        FINISHED
    });
    let best = drafts.first().map_or(0.0, |draft| draft.score);
    drafts.retain(|draft| draft.score <= BEHIND * best);
    let mut plans: Vec<Plan> = drafts
        .into_par_iter()
        .map(|draft| finish(field, terms, draft))
        .collect();
    // A plan that leaves ground is quick for that.
    let least = plans.iter().map(|plan| plan.lacks).min_by(f64::total_cmp)?;
    plans.retain(|plan| plan.lacks <= least + AS_WHOLE);
    plans.sort_by(|a, b| a.seconds(terms).total_cmp(&b.seconds(terms)));
    let best_s = plans.first()?.seconds(terms);
    plans.retain(|plan| plan.seconds(terms) <= best_s * AS_QUICK);
    let fewest = (0..plans.len()).min_by_key(|&k| plans[k].lanes.len())?;
    let mut plan = better(field, terms, plans.swap_remove(fewest));
    // Fewer lanes are no reason to take longer than the best single way does.
    if plan.seconds(terms) > best_s {
        let quickest = better(field, terms, plans.swap_remove(0));
        if quickest.seconds(terms) < plan.seconds(terms) {
            plan = quickest;
        }
    }
    plan.stops = fill::stops(field, terms, &plan.laid);
    Some(plan)
}

/// A plan looked at again on other cells: what they say it lacks is filled.
pub(super) fn continued(field: &Field, terms: &Terms, plan: &Plan) -> Plan {
    let lanes = plan
        .laid
        .iter()
        .map(|laid| Laid::of(field, laid.lane.clone()));
    let lanes: Vec<Arc<Laid>> = lanes.collect();
    let draft = Draft {
        manner: plan.manner,
        covered: Covered::by_lanes(field, &lanes),
        lanes,
        score: 0.0,
    };
    let plan = finish(field, terms, draft);
    let mut plan = better(field, terms, plan);
    plan.stops = fill::stops(field, terms, &plan.laid);
    plan
}

/// The plan tried again in places, where that is quicker in full.
fn better(field: &Field, terms: &Terms, plan: Plan) -> Plan {
    let laid = improve::improved(field, terms, plan.laid.clone());
    let (lanes, between) = order::order(field, &laid, terms.turning.as_ref());
    let tried = Plan {
        laid,
        lanes,
        between,
        stops: Vec::new(),
        ..plan
    };
    if tried.seconds(terms) < plan.seconds(terms) {
        tried
    } else {
        plan
    }
}

/// Fills a draft up and puts it in order.
fn finish(field: &Field, terms: &Terms, draft: Draft) -> Plan {
    let Draft {
        manner,
        mut lanes,
        mut covered,
        ..
    } = draft;
    let mut known = Known::default();
    fill::fill(
        field,
        terms,
        terms.until,
        (&mut lanes, &mut covered),
        &mut known,
    );
    let laid = thin::thinned(field, terms, terms.until, lanes);
    let lacks = Worth::of(field, terms, terms.until, &laid).lacks();
    let (lanes, between) = order::order(field, &laid, terms.turning.as_ref());
    Plan {
        manner,
        lacks,
        laid,
        lanes,
        between,
        stops: Vec::new(),
    }
}
