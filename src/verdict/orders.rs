//! Verdicts on orders: ordered and not done, done and not ordered, late, with another product.
//!
//! One finding per site for orders of which nothing was done, one per zone for what is missing of the others.

mod not_done;

use super::{Night, id, rig_id};
use crate::findings::{Finding, Matter, Severity};
use crate::input::sites::Method;
use crate::place::Instant;
use crate::result::{Application, OrderStatus};
use crate::treatment::{NotOrderedFact, OrderFact, Treatment};
use std::collections::BTreeMap;

/// Finished so much after `by` is not late, s: people read clocks to the minute.
const LATE_S: f64 = 60.0;
/// A late order weighs this many m2 a minute.
const LATE_M2_PER_MIN: f64 = 10.0;

/// Findings about the orders of one site.
pub(super) fn judge(night: &Night, treatment: &Treatment) -> Vec<Finding> {
    let mut findings = not_done::not_done(night, treatment);
    findings.extend(
        treatment
            .not_ordered
            .iter()
            .map(|fact| not_ordered(night, treatment, fact)),
    );
    findings.extend(late(treatment));
    findings.extend(other_products(night, treatment));
    for finding in &mut findings {
        finding.site = id(&treatment.report);
    }
    findings
}

/// Whether one of the findings sends somebody back to the whole of a zone.
pub(super) fn is_not_done(findings: &[Finding], zone: &str) -> bool {
    findings.iter().any(|finding| match &finding.matter {
        Matter::NotDone { zones, .. } => {
            finding.severity == Severity::GoBack && zones.iter().any(|known| known == zone)
        }
        _ => false,
    })
}

/// Orders whose time no log covers, in one line.
pub(super) fn outside_logs(night: &Night) -> Option<Finding> {
    let facts = night
        .treatments
        .iter()
        .flat_map(|treatment| &treatment.orders);
    let orders: Vec<String> = facts
        .filter(|fact| fact.status == OrderStatus::OutsideLogs)
        .map(|fact| fact.order.label())
        .collect();
    (!orders.is_empty()).then(|| Finding::new(Severity::LookInto, Matter::OutsideLogs { orders }))
}

fn labels(facts: &[&OrderFact]) -> Vec<String> {
    facts.iter().map(|fact| fact.order.label()).collect()
}

fn not_ordered(night: &Night, treatment: &Treatment, fact: &NotOrderedFact) -> Finding {
    let site = &treatment.report;
    let application = &site.applications[fact.application];
    let ids: Vec<&String> = fact
        .zones
        .iter()
        .map(|&zone| &site.ground[zone].zone)
        .collect();
    let zones: Vec<_> = application
        .zones
        .iter()
        .filter(|zone| zone.method == Method::Boom && ids.contains(&&zone.zone))
        .collect();
    let treated_m2 = zones
        .iter()
        .map(|zone| zone.treated_m2)
        .sum::<Option<f64>>();
    let matter = Matter::NotOrdered {
        application: application.number,
        zones: zones.iter().map(|zone| zone.zone.clone()).collect(),
        treated_m2,
        volume_l: zones.iter().map(|zone| zone.volume_l).sum(),
    };
    let mut finding = Finding::new(Severity::LookInto, matter);
    finding.rig = match application.rigs.as_slice() {
        [rig] => Some(rig.clone()),
        _ => None,
    };
    finding.zone = match (fact.whole, fact.zones.as_slice()) {
        (false, [zone]) => Some(site.ground[*zone].zone.clone()),
        _ => None,
    };
    finding.start = Some(application.start);
    finding.place = first_fix(night, application);
    finding.weight = treated_m2.unwrap_or(0.0);
    finding
}

/// Where the first of an application's rigs was when it began.
fn first_fix(night: &Night, application: &Application) -> Option<crate::place::LonLat> {
    let visit = application.visits.first()?;
    let run = (0..night.runs.len()).find(|&run| {
        let fixes = &night.runs[run].track.fixes;
        rig_id(night, run) == visit.rig
            && fixes
                .first()
                .is_some_and(|fix| fix.time <= application.start)
            && fixes
                .last()
                .is_some_and(|fix| fix.time >= application.start)
    })?;
    let fixes = &night.runs[run].track.fixes;
    let next = fixes.partition_point(|fix| fix.time < application.start);
    fixes.get(next).map(|fix| fix.place)
}

/// An order, its delay in s, when it was finished and when it was to be.
type LateWork<'a> = (&'a OrderFact, f64, Instant, Instant);
/// Zone of the order, product ordered, product laid.
type Cause<'a> = (Option<&'a str>, &'a str, &'a str);

/// One finding for each scope (the site, or a zone) with late orders.
fn late(treatment: &Treatment) -> Vec<Finding> {
    let mut by_scope: BTreeMap<Option<&str>, Vec<LateWork>> = BTreeMap::new();
    for fact in &treatment.orders {
        let is_done = matches!(fact.status, OrderStatus::Done | OrderStatus::InPart);
        if let (true, Some(by), Some(finished)) = (is_done, fact.order.by, fact.finished) {
            let late_s = finished.seconds_since(by);
            if late_s > LATE_S {
                let scope = fact.order.zone.as_deref();
                by_scope
                    .entry(scope)
                    .or_default()
                    .push((fact, late_s, finished, by));
            }
        }
    }
    by_scope
        .into_iter()
        .filter_map(|(zone, late)| {
            let (_, late_s, finished, by) = *late.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
            let facts: Vec<&OrderFact> = late.iter().map(|(fact, ..)| *fact).collect();
            let matter = Matter::Late {
                orders: labels(&facts),
                late_s,
                finished,
                by,
                limit_s: LATE_S,
            };
            let mut finding = Finding::new(Severity::LookInto, matter);
            finding.zone = zone.map(str::to_owned);
            finding.weight = LATE_M2_PER_MIN * late_s / 60.0;
            Some(finding)
        })
        .collect()
}

/// One finding for each scope, product ordered and product laid.
fn other_products(night: &Night, treatment: &Treatment) -> Vec<Finding> {
    let mut by_cause: BTreeMap<Cause, Vec<(&OrderFact, f64)>> = BTreeMap::new();
    for fact in &treatment.orders {
        let Some(ordered) = fact.order.product.as_deref() else {
            continue;
        };
        for (applied, &area_m2) in &fact.other_products {
            let cause = (fact.order.zone.as_deref(), ordered, applied.as_str());
            by_cause.entry(cause).or_default().push((fact, area_m2));
        }
    }
    by_cause
        .into_iter()
        .map(|((zone, ordered, applied), found)| {
            let facts: Vec<&OrderFact> = found.iter().map(|(fact, _)| *fact).collect();
            let area_m2 = found.iter().map(|(_, area_m2)| area_m2).sum();
            let matter = Matter::OtherProduct {
                orders: labels(&facts),
                ordered: ordered.to_owned(),
                applied: applied.to_owned(),
                area_m2,
            };
            let mut finding = Finding::new(Severity::LookInto, matter);
            finding.zone = zone.map(str::to_owned);
            let application = facts.first().and_then(|fact| fact.application);
            let application = application.map(|index| &treatment.report.applications[index]);
            finding.start = application.map(|application| application.start);
            finding.place = application.and_then(|application| first_fix(night, application));
            finding.weight = area_m2;
            finding
        })
        .collect()
}
