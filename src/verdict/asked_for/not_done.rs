//! Ordered and not done: one finding for orders of which nothing was done, one a zone for the rest.

use super::labels;
use crate::findings::orders::{AboutOrders, NotDone};
use crate::findings::{Finding, Severity};
use crate::input::orders::Order;
use crate::result::OrderStatus;
use crate::site::NOT_DONE_SHARE;
use crate::site::outcome::{ZoneOutcome, ZoneState};
use crate::verdict::Case;
use crate::verdict::LEAST_SOME_L;
use std::collections::BTreeMap;

/// Ordered ground that was not done weighs this many times its area: beside sites that nobody ordered and dry
/// stretches it is read first (trade judgement).
const NOT_DONE_WEIGHT: f64 = 10.0;

/// Orders and zones of one not-done finding.
#[derive(Default)]
struct Missing<'a> {
    orders: Vec<&'a Order>,
    zones: Vec<usize>,
}

/// Ordered and not done.
pub(super) fn not_done(case: &Case) -> Vec<Finding> {
    let mut whole = Missing::default();
    // By zone, and apart what was treated later: it calls for something else.
    let mut parts: BTreeMap<usize, Missing> = BTreeMap::new();
    let mut later = Missing::default();
    for (order, fact) in case.orders() {
        let undone = fact
            .zones
            .iter()
            .filter(|(_, state)| *state == ZoneState::NotDone);
        let zones: Vec<usize> = undone.map(|(zone, _)| *zone).collect();
        let is_later = zones
            .iter()
            .all(|&zone| is_treated_after(case, order, zone));
        match case.night.status(order, fact) {
            OrderStatus::NotDone if is_later => later.add(order, &zones),
            OrderStatus::NotDone => whole.add(order, &zones),
            OrderStatus::InPart => {
                let (done_later, open): (Vec<usize>, Vec<usize>) = zones
                    .into_iter()
                    .partition(|&zone| is_treated_after(case, order, zone));
                if !done_later.is_empty() {
                    later.add(order, &done_later);
                }
                for zone in open {
                    parts.entry(zone).or_default().add(order, &[zone]);
                }
            }
            _ => {}
        }
    }
    parts.retain(|zone, _| !whole.zones.contains(zone));
    let mut findings = Vec::new();
    findings.extend(whole.finding(case, false));
    findings.extend(later.finding(case, true));
    for part in parts.values() {
        findings.extend(part.finding(case, false));
    }
    findings
}

/// Whether an application after the order's time (any, where it has none) treated a zone: then nobody has
/// to go back for this order.
fn is_treated_after(case: &Case, order: &Order, zone: usize) -> bool {
    let due = order.by.or(order.from);
    let applications = case.outcome.applications.iter();
    let mut after = applications.filter(|application| due.is_none_or(|due| application.end > due));
    after.any(|application| {
        let of = application.zones.iter().find(|of| of.zone == zone);
        of.and_then(ZoneOutcome::treated_share)
            .is_some_and(|share| share >= NOT_DONE_SHARE)
    })
}

impl<'a> Missing<'a> {
    fn add(&mut self, order: &'a Order, zones: &[usize]) {
        self.orders.push(order);
        self.zones.extend(zones);
        self.zones.sort_unstable();
        self.zones.dedup();
    }

    fn finding(&self, case: &Case, treated_later: bool) -> Option<Finding> {
        if self.orders.is_empty() {
            return None;
        }
        let ground = || self.zones.iter().map(|&zone| &case.site.zones[zone]);
        let area_m2 = ground().map(|ground| ground.region.area_m2()).sum();
        let some_l: f64 = self.zones.iter().map(|&zone| case.litres_on(zone)).sum();
        let kind = AboutOrders::NotDone(NotDone {
            some_l: (!treated_later && some_l >= LEAST_SOME_L).then_some(some_l),
            orders: labels(&self.orders),
            zones: ground().map(|ground| ground.id.clone()).collect(),
            area_m2,
            by: self.orders.iter().filter_map(|order| order.by).min(),
            logs_missing: case.night.logs_missing(),
            treated_later,
        });
        let severity = if treated_later {
            Severity::LookInto
        } else {
            Severity::GoBack
        };
        let mut finding = Finding::new(severity, kind);
        finding.zone = match self.zones.as_slice() {
            [zone] => Some(case.zone_id(*zone)),
            _ => None,
        };
        let weighed_m2: f64 = ground()
            .map(|ground| ground.region.area_m2() * ground.priority)
            .sum();
        finding.weight = NOT_DONE_WEIGHT * weighed_m2;
        Some(finding)
    }
}
