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
#[derive(Clone)]
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
    let ways: Vec<Plan> = drafts
        .into_par_iter()
        .map(|draft| finish(field, terms, draft))
        .collect();
    // A plan that leaves ground is quick for that.
    let least = ways.iter().map(|way| way.lacks).min_by(f64::total_cmp)?;
    let whole = ways.iter().filter(|way| way.lacks <= least + AS_WHOLE);
    let best_s = whole
        .clone()
        .map(|way| way.seconds(terms))
        .min_by(f64::total_cmp)?;
    let quick = whole.filter(|way| way.seconds(terms) <= best_s * AS_QUICK);
    let fewest = quick.min_by_key(|way| way.lanes.len())?;
    let mut plan = better(field, terms, fewest);
    // Neither fewer lanes nor ground left by what was bettered is a reason to take longer than the best single way that
    // leaves no more.
    while let Some(way) = quicker(field, terms, &ways, &plan) {
        plan = better(field, terms, way);
    }
    plan.stops = fill::stops(field, terms, &plan.laid);
    Some(plan)
}

/// The quickest way that leaves no more than a plan and takes less time.
fn quicker<'a>(field: &Field, terms: &Terms, ways: &'a [Plan], plan: &Plan) -> Option<&'a Plan> {
    let lacks = Worth::of(field, terms, terms.until, &plan.laid).lacks();
    ways.iter()
        .filter(|way| way.lacks <= lacks && way.seconds(terms) < plan.seconds(terms))
        .min_by(|a, b| a.seconds(terms).total_cmp(&b.seconds(terms)))
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
    let mut plan = better(field, terms, &finish(field, terms, draft));
    plan.stops = fill::stops(field, terms, &plan.laid);
    plan
}

/// The plan tried again in places, where that is quicker in full.
fn better(field: &Field, terms: &Terms, plan: &Plan) -> Plan {
    let laid = improve::improved(field, terms, plan.laid.clone());
    let (lanes, between) = order::order(field, &laid, terms.turning.as_ref());
    let tried = Plan {
        laid,
        lanes,
        between,
        stops: Vec::new(),
        ..*plan
    };
    if tried.seconds(terms) < plan.seconds(terms) {
        tried
    } else {
        plan.clone()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground;
    use crate::input::{fleet, sites};
    use crate::measure::lot::Lot;
    use crate::measure::terms::Until;
    use crate::measure::turns::Turning;
    use crate::measure::vehicle::Vehicle;
    use crate::measure::{bent, reach};
    use std::path::Path;

    const MISSED: f64 = 1.15;

    /// Real lots (fixtures/lots): long, bent like an L, three-cornered, with a step, round, a court. Every way that is drafted,
    /// finished for itself as the only one, is the yardstick. `plan` finishes only those whose drafts are good, and may miss it by so much.
    #[test]
    fn no_lot_is_driven_much_slower_than_by_the_best_single_way() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/lots");
        let read = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
        let fleet = fleet::read(&read("fleet.toml"), Path::new("fleet.toml")).unwrap();
        let drawn = sites::read(&read("helsinki.geojson"), Path::new("sites"), None).unwrap();
        let (sites, _) = ground::divide(&drawn.zones, &[]).unwrap();
        let vehicle = Vehicle::of(&fleet, 0).unwrap().unwrap();
        let terms = Terms {
            lap_m: fleet.estimate.lap_m.unwrap(),
            speed_m_s: fleet.estimate.speed_m_s.unwrap(),
            until: Until::share(fleet.estimate.plan_until),
            attempts: 20,
            turning: Turning::of(&vehicle),
        };
        let asked = [
            "h030", "h035", "h037", "h060", "h066", "h080", "h087", "h105", "h127",
        ];
        let mut looked_at = 0;
        for site in sites
            .iter()
            .filter(|site| asked.contains(&site.id.as_str()))
        {
            let lot = Lot::of(site, &[], &fleet.estimate);
            let reach = reach::reach(&lot, &vehicle);
            let mut field = Field::of(&lot, &reach, &vehicle);
            field.contours = bent::contours(&field, terms.lap_m);
            let kept = plan(&field, &terms).unwrap();
            let left = |lanes: &[Arc<Laid>]| Worth::of(&field, &terms, terms.until, lanes).lacks();
            let ways: Vec<f64> = drafts(&field, &terms)
                .into_par_iter()
                .map(|draft| finish(&field, &terms, draft))
                .filter(|way| way.lacks <= left(&kept.laid))
                .map(|way| way.seconds(&terms))
                .collect();
            let best_s = ways.iter().copied().fold(f64::INFINITY, f64::min);
            let kept_s = kept.seconds(&terms);
            assert!(ways.len() > 5, "{}: {}", site.id, ways.len());
            assert!(
                kept_s <= MISSED * best_s,
                "{}: {kept_s} s, one way {best_s} s",
                site.id
            );
            looked_at += 1;
        }
        assert_eq!(looked_at, asked.len());
    }
}
