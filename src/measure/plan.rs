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

/// Ways that are finished and timed in full in a file of many sites (by trial) ...
const FINISHED: usize = 8;
/// ... and where the ground is full of islands (by trial);
const FINISHED_CROWDED: usize = 6;
/// ... those whose drafts are worth at most so many times the best one; the others fell behind by their first lanes
/// (by trial).
const BEHIND: f64 = 1.3;
/// The quickest ways are tried again in places, so many of them (by trial) ...
const STARTS: usize = 4;
/// ... with at least so many attempts each (by trial).
const LEAST_ATTEMPTS: usize = 50;
/// Ways that take the same time to within this are the same plan, s (tolerance).
const SAME_S: f64 = 0.05;
/// Plans that leave at most this much more of the reach than the one that leaves least count as leaving no more (by
/// trial).
const AS_WHOLE: f64 = 0.001;
/// Of plans within this of the quickest the one with fewest lanes is kept (by trial).
const AS_QUICK: f64 = 1.03;
/// ... but as few lanes that leave nothing are kept as long as they are within this of it: nobody drives past the last stripe
/// of a lot because a share would do (trade judgement).
const AS_QUICK_COMPLETE: f64 = 1.1;

/// A plan.
#[derive(Clone)]
pub(super) struct Plan {
    /// How it was made.
    pub(super) manner: Manner,
    /// Of the reach, of what it was to cover.
    lacks: f64,
    /// Its lanes lie side by side and leave nothing.
    complete: bool,
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
    fn length_m(&self) -> f64 {
        self.lanes.iter().map(Lane::length_m).sum()
    }

    fn seconds(&self, terms: &Terms) -> f64 {
        self.length_m() / terms.speed_m_s + self.between
    }
}

/// The best plan of all ways; `None` where nothing is reached.
pub(super) fn plan(field: &Field, terms: &Terms) -> Option<Plan> {
    if field.reach.is_empty() {
        return None;
    }
    let ways = ways(field, terms);
    let terms = &terms.on_ground_of(field.reach_cells);
    let starts = starts(terms, &ways);
    let own = terms.shared_by(starts.len());
    let bettered: Vec<Plan> = starts
        .into_par_iter()
        .map(|way| better(field, &own, way))
        .collect();
    let mut plan = chosen(terms, &ways, &bettered)?.clone();
    // Neither fewer lanes nor ground left by what was bettered is a reason to take longer than the best single way that
    // leaves no more.
    while let Some(way) = quicker(terms, &ways, &plan) {
        plan = better(field, &own, way);
    }
    plan.stops = fill::stops(field, terms, &plan.laid);
    Some(plan)
}

/// The ways, finished.
fn ways(field: &Field, terms: &Terms) -> Vec<Plan> {
    let mut drafts = drafts(field, terms);
    drafts.sort_by(|a, b| a.score.total_cmp(&b.score));
    let most = match (field.is_crowded(), terms.all_ways) {
        (true, _) => Some(FINISHED_CROWDED),
        (false, true) => None,
        (false, false) => Some(FINISHED),
    };
    if let Some(most) = most {
        drafts.truncate(most);
        let best = drafts.first().map_or(0.0, |draft| draft.score);
        drafts.retain(|draft| draft.score <= BEHIND * best);
    }
    drafts
        .into_par_iter()
        .map(|draft| finish(field, terms, draft))
        .collect()
}

/// The ways worth trying again: of those that leave least (a plan that leaves ground is quick for that), the one with fewest
/// lanes of those as quick as any, and the quickest others. As few lanes that leave nothing are taken as they are, even
/// where leaving a little would be quicker.
fn starts<'a>(terms: &Terms, ways: &'a [Plan]) -> Vec<&'a Plan> {
    let least = ways
        .iter()
        .map(|way| way.lacks)
        .fold(f64::INFINITY, f64::min);
    let mut whole: Vec<&Plan> = ways
        .iter()
        .filter(|way| way.lacks <= least + AS_WHOLE)
        .collect();
    whole.sort_by(|a, b| a.seconds(terms).total_cmp(&b.seconds(terms)));
    let Some(&quickest) = whole.first() else {
        return Vec::new();
    };
    let as_quick = |way: &&&Plan| way.seconds(terms) <= quickest.seconds(terms) * AS_QUICK;
    let fewest = whole
        .iter()
        .take_while(as_quick)
        .min_by_key(|way| way.lanes.len());
    let first = fewest.map_or(quickest, |way| *way);
    let complete = whole.iter().find(|way| {
        let slow = way.seconds(terms) > quickest.seconds(terms) * AS_QUICK_COMPLETE;
        way.complete && way.lanes.len() <= first.lanes.len() && !slow
    });
    if let Some(way) = complete {
        return vec![way];
    }
    let mut starts = vec![first];
    let most = (terms.attempts / LEAST_ATTEMPTS).clamp(1, STARTS);
    whole.dedup_by(|next, kept| next.seconds(terms) - kept.seconds(terms) <= SAME_S);
    for way in whole {
        if starts.len() < most && !std::ptr::eq(way, starts[0]) {
            starts.push(way);
        }
    }
    starts
}

/// Of some plans, those that are as quick as any and no slower than a way that leaves no more: the one with fewest lanes, of
/// such the shortest.
fn chosen<'a>(terms: &Terms, ways: &[Plan], plans: &'a [Plan]) -> Option<&'a Plan> {
    let seconds = |plan: &&Plan| plan.seconds(terms);
    let quickest = plans
        .iter()
        .min_by(|a, b| seconds(a).total_cmp(&seconds(b)))?;
    let fits = |plan: &&Plan| {
        seconds(plan) <= seconds(&quickest) * AS_QUICK && quicker(terms, ways, plan).is_none()
    };
    let fewest = plans.iter().filter(fits).min_by(|a, b| {
        let lanes = a.lanes.len().cmp(&b.lanes.len());
        lanes.then(a.length_m().total_cmp(&b.length_m()))
    });
    fewest.or(Some(quickest))
}

/// The quickest way that leaves no more than a plan and takes less time. Where a plan leaves nothing, neither does the way:
/// nobody leaves out the last lane of a lot because a share would do.
fn quicker<'a>(terms: &Terms, ways: &'a [Plan], plan: &Plan) -> Option<&'a Plan> {
    ways.iter()
        .filter(|way| way.lacks <= plan.lacks && (way.complete || !plan.complete))
        .filter(|way| way.seconds(terms) < plan.seconds(terms))
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
    let own = terms.on_ground_of(field.reach_cells);
    let mut plan = better(field, &own, &finish(field, terms, draft));
    plan.stops = fill::stops(field, terms, &plan.laid);
    plan
}

/// The plan tried again in places, where that is quicker in full.
fn better(field: &Field, terms: &Terms, plan: &Plan) -> Plan {
    let laid = improve::improved(field, terms, plan.laid.clone());
    let (lanes, between) = order::order(field, &laid, terms.turning.as_ref());
    let tried = Plan {
        lacks: Worth::of(field, terms, terms.until, &laid).lacks(),
        complete: improve::is_complete(field, &laid),
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
        complete: improve::is_complete(field, &laid),
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

    /// Real lots (fixtures/lots): long, bent like an L, three-cornered, with a step, round, a court. Every way that is drafted,
    /// finished for itself as the only one, is the yardstick.
    #[test]
    fn no_lot_is_driven_slower_than_by_the_best_single_way() {
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
            all_ways: true,
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
            let ways: Vec<f64> = drafts(&field, &terms)
                .into_par_iter()
                .map(|draft| finish(&field, &terms, draft))
                .filter(|way| way.lacks <= kept.lacks && (way.complete || !kept.complete))
                .map(|way| way.seconds(&terms))
                .collect();
            let best_s = ways.iter().copied().fold(f64::INFINITY, f64::min);
            let kept_s = kept.seconds(&terms);
            assert!(ways.len() > 1, "{}: {}", site.id, ways.len());
            assert!(
                kept_s <= best_s,
                "{}: {kept_s} s, one way {best_s} s",
                site.id
            );
            looked_at += 1;
        }
        assert_eq!(looked_at, asked.len());
    }
}
