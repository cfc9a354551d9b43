//! Ordered and not done: one finding for orders of which nothing was done, one a zone for the rest.

use super::labels;
use crate::findings::{Finding, Matter, Severity};
use crate::result::{Application, OrderStatus, Site};
use crate::treatment::{NOT_DONE_SHARE, OrderFact, Treatment, ZoneState};
use crate::verdict::Night;
use std::collections::BTreeMap;

/// Ordered ground that was not done weighs this many times its area: it comes before patches.
const NOT_DONE_WEIGHT: f64 = 10.0;

/// Orders and zones of one not-done finding.
#[derive(Default)]
struct Missing<'a> {
    orders: Vec<&'a OrderFact>,
    zones: Vec<usize>,
}

/// Ordered and not done.
pub(super) fn not_done(night: &Night, treatment: &Treatment) -> Vec<Finding> {
    let mut whole = Missing::default();
    // By zone, and apart what was treated later: it calls for something else.
    let mut parts: BTreeMap<usize, Missing> = BTreeMap::new();
    let mut later = Missing::default();
    for fact in &treatment.orders {
        let undone = fact
            .zones
            .iter()
            .filter(|(_, state)| *state == ZoneState::NotDone);
        let zones: Vec<usize> = undone.map(|(zone, _)| *zone).collect();
        let is_later = zones
            .iter()
            .all(|&zone| is_treated_after(treatment, fact, zone));
        match fact.status {
            OrderStatus::NotDone if is_later => later.add(fact, &zones),
            OrderStatus::NotDone => whole.add(fact, &zones),
            OrderStatus::InPart => {
                for zone in zones {
                    if is_treated_after(treatment, fact, zone) {
                        later.add(fact, &[zone]);
                    } else {
                        parts.entry(zone).or_default().add(fact, &[zone]);
                    }
                }
            }
            _ => {}
        }
    }
    parts.retain(|zone, _| !whole.zones.contains(zone));
    let mut findings = Vec::new();
    findings.extend(whole.finding(night, &treatment.report, false));
    findings.extend(later.finding(night, &treatment.report, true));
    for part in parts.values() {
        findings.extend(part.finding(night, &treatment.report, false));
    }
    findings
}

/// Whether an application after the order's time (any, where it has none) treated a zone: then nobody has
/// to go back for this order.
fn is_treated_after(treatment: &Treatment, fact: &OrderFact, zone: usize) -> bool {
    let due = fact.order.by.or(fact.order.from);
    let id = &treatment.report.ground[zone].zone;
    let after = treatment
        .report
        .applications
        .iter()
        .filter(|application| due.is_none_or(|due| application.end > due));
    let treated = |application: &Application| {
        let zone = application.zones.iter().find(|zone| &zone.zone == id);
        zone.is_some_and(|zone| {
            let share = zone.treated_m2.map(|treated_m2| treated_m2 / zone.area_m2);
            share.is_some_and(|share| share >= NOT_DONE_SHARE)
        })
    };
    after.into_iter().any(treated)
}

impl<'a> Missing<'a> {
    fn add(&mut self, fact: &'a OrderFact, zones: &[usize]) {
        self.orders.push(fact);
        self.zones.extend(zones);
        self.zones.sort_unstable();
        self.zones.dedup();
    }

    fn finding(&self, night: &Night, site: &Site, treated_later: bool) -> Option<Finding> {
        if self.orders.is_empty() {
            return None;
        }
        let ground = || self.zones.iter().map(|&zone| &site.ground[zone]);
        let area_m2 = ground().map(|ground| ground.area_m2).sum();
        let matter = Matter::NotDone {
            orders: labels(&self.orders),
            zones: ground().map(|ground| ground.zone.clone()).collect(),
            area_m2,
            by: self.orders.iter().filter_map(|fact| fact.order.by).min(),
            logs_missing: night.logs_missing(),
            treated_later,
        };
        let severity = if treated_later {
            Severity::LookInto
        } else {
            Severity::GoBack
        };
        let mut finding = Finding::new(severity, matter);
        finding.zone = match self.zones.as_slice() {
            [zone] => Some(site.ground[*zone].zone.clone()),
            _ => None,
        };
        let weighed_m2: f64 = ground()
            .map(|ground| ground.area_m2 * ground.priority)
            .sum();
        finding.weight = NOT_DONE_WEIGHT * weighed_m2;
        Some(finding)
    }
}
