//! Verdicts on orders: ordered and not done, done and not ordered, late, with another product.
//!
//! One finding per site for orders of which nothing was done, one per zone for what is missing of the others.

mod in_part;
mod not_done;

use super::{Case, Night};
pub(super) use in_part::{in_part, not_shown};

use crate::findings::orders::AboutOrders;
use crate::findings::{Finding, Kind, Severity};
use crate::geometry::place::Instant;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::orders::LATE_S;
use crate::result::OrderStatus;
use crate::site::outcome::NotOrderedFact;
use std::collections::BTreeMap;

/// A late order weighs this many m2 a minute (trade judgement).
const LATE_M2_PER_MIN: f64 = 10.0;

/// Findings about the orders of one site.
pub(super) fn judge(case: &Case) -> Vec<Finding> {
    let mut findings = not_done::not_done(case);
    let unasked = case.outcome.not_ordered.iter();
    let unasked = unasked.filter(|fact| !super::outside::is_told(case, fact.application));
    findings.extend(unasked.map(|fact| not_ordered(case, fact)));
    findings.extend(late(case));
    findings.extend(other_products(case));
    for finding in &mut findings {
        finding.site = case.id();
    }
    findings
}

/// Whether one of the findings sends somebody back to the whole of a zone.
pub(super) fn is_not_done(findings: &[Finding], zone: &str) -> bool {
    findings.iter().any(|finding| match &finding.kind {
        Kind::Orders(AboutOrders::NotDone(it)) => {
            finding.severity == Severity::GoBack && it.zones.iter().any(|known| known == zone)
        }
        _ => false,
    })
}

/// Orders whose time no log covers, in one line.
pub(super) fn outside_logs(night: &Night) -> Option<Finding> {
    let cases: Vec<Case> = night.cases().collect();
    let orders = cases.iter().flat_map(Case::orders);
    let orders: Vec<String> = orders
        .filter(|(order, fact)| night.status(order, fact) == OrderStatus::OutsideLogs)
        .map(|(order, _)| order.label())
        .collect();
    (!orders.is_empty())
        .then(|| Finding::new(Severity::LookInto, AboutOrders::OutsideLogs { orders }))
}

fn labels(orders: &[&Order]) -> Vec<String> {
    orders.iter().map(|order| order.label()).collect()
}

fn not_ordered(case: &Case, fact: &NotOrderedFact) -> Finding {
    let application = &case.outcome.applications[fact.application];
    let by_boom = |zone: usize| case.site.zones[zone].method == Method::Boom;
    let zones = application.zones.iter();
    let zones: Vec<_> = zones
        .filter(|zone| by_boom(zone.zone) && fact.zones.contains(&zone.zone))
        .collect();
    let treated = zones.iter().map(|zone| Some(zone.areas?.treated_m2));
    let treated_m2 = treated.sum::<Option<f64>>();
    let kind = AboutOrders::NotOrdered {
        application: fact.application + 1,
        zones: zones.iter().map(|zone| case.zone_id(zone.zone)).collect(),
        treated_m2,
        volume_l: zones.iter().map(|zone| zone.litres).sum(),
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    finding.rig = case.only_rig(application);
    finding.zone = match (fact.whole, fact.zones.as_slice()) {
        (false, [zone]) => Some(case.zone_id(*zone)),
        _ => None,
    };
    finding.start = Some(application.start);
    finding.place = application.place;
    finding.weight = treated_m2.unwrap_or(0.0);
    finding
}

/// An order, its delay in s, when it was finished and when it was to be.
type LateWork<'a> = (&'a Order, f64, Instant, Instant);
/// An order, the application that served it, and ground treated with another product, m2.
type OtherWork<'a> = (&'a Order, Option<usize>, f64);
/// Zone of the order, product ordered, product laid.
type Cause<'a> = (Option<&'a str>, &'a str, &'a str);

/// One finding for each scope (the site, or a zone) with late orders.
fn late(case: &Case) -> Vec<Finding> {
    let mut by_scope: BTreeMap<Option<&str>, Vec<LateWork>> = BTreeMap::new();
    for (order, fact) in case.orders() {
        if super::outside::is_outside(case.night, &case.site.id, order) {
            continue;
        }
        let is_done = matches!(fact.status, OrderStatus::Done | OrderStatus::InPart);
        if let (true, Some(by), Some(finished)) = (is_done, order.by, fact.finished) {
            let late_s = finished.seconds_since(by);
            if late_s > LATE_S {
                let scope = order.zone.as_deref();
                let late = by_scope.entry(scope).or_default();
                late.push((order, late_s, finished, by));
            }
        }
    }
    by_scope
        .into_iter()
        .filter_map(|(zone, late)| {
            let (_, late_s, finished, by) = *late.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
            let orders: Vec<&Order> = late.iter().map(|(order, ..)| *order).collect();
            let kind = AboutOrders::Late {
                orders: labels(&orders),
                late_s,
                finished,
                by,
                limit_s: LATE_S,
            };
            let mut finding = Finding::new(Severity::LookInto, kind);
            finding.zone = zone.map(str::to_owned);
            finding.weight = LATE_M2_PER_MIN * late_s / 60.0;
            Some(finding)
        })
        .collect()
}

/// One finding for each scope, product ordered and product laid.
fn other_products(case: &Case) -> Vec<Finding> {
    let mut by_cause: BTreeMap<Cause, Vec<OtherWork>> = BTreeMap::new();
    for (order, fact) in case.orders() {
        let Some(ordered) = order.product.as_deref() else {
            continue;
        };
        for (applied, &area_m2) in &fact.other_products {
            let cause = (order.zone.as_deref(), ordered, applied.as_str());
            let found = by_cause.entry(cause).or_default();
            found.push((order, fact.application, area_m2));
        }
    }
    by_cause
        .into_iter()
        .map(|((zone, ordered, applied), found)| {
            let orders: Vec<&Order> = found.iter().map(|(order, ..)| *order).collect();
            let area_m2 = found.iter().map(|(.., area_m2)| area_m2).sum();
            let kind = AboutOrders::OtherProduct {
                orders: labels(&orders),
                ordered: ordered.to_owned(),
                applied: applied.to_owned(),
                area_m2,
            };
            let mut finding = Finding::new(Severity::LookInto, kind);
            finding.zone = zone.map(str::to_owned);
            let application = found.first().and_then(|(_, application, _)| *application);
            let application = application.map(|index| &case.outcome.applications[index]);
            finding.start = application.map(|application| application.start);
            finding.place = application.and_then(|application| application.place);
            finding.weight = area_m2;
            finding
        })
        .collect()
}
