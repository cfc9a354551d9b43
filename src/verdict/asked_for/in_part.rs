//! Orders in part: each has a line with its zones, their shares and the reason; and what no log shows of those that
//! are done.

use crate::findings::cause::GapCause;
use crate::findings::orders::{AboutOrders, InPartReason};
use crate::findings::{Finding, Severity};
use crate::input::sites::Method;
use crate::result::{GapCauses, OrderStatus};
use crate::site::coverage::LEAST_COVER;
use crate::site::outcome::{OrderFact, ZoneOutcome, ZoneState};
use crate::verdict::{Case, Night};

/// A line for each order in part. Where another finding sends or points to one of its zones already, it is for the
/// record.
pub(crate) fn in_part(case: &Case, findings: &[Finding]) -> Vec<Finding> {
    let orders = case.orders();
    let in_part =
        orders.filter(|(order, fact)| case.night.status(order, fact) == OrderStatus::InPart);
    in_part
        .filter_map(|(order, fact)| {
            // Of zones of which nothing was done `not_done` names the order.
            let some = |state: &(usize, ZoneState)| state.1 == ZoneState::InPart;
            if !fact.zones.iter().any(some) {
                return None;
            }
            let undone: Vec<usize> = fact
                .zones
                .iter()
                .filter(|(_, state)| matches!(state, ZoneState::InPart | ZoneState::NotDone))
                .map(|(zone, _)| *zone)
                .collect();
            let greatest = undone.iter().max_by(|a, b| {
                let area_m2 = |zone: &usize| case.site.zones[*zone].region.area_m2();
                area_m2(a).total_cmp(&area_m2(b))
            })?;
            let share = |zone: &usize| (case.zone_id(*zone), share(case, fact, *zone));
            let kind = AboutOrders::OrderInPart {
                order: order.label(),
                zones: undone.iter().map(share).collect(),
                limit: LEAST_COVER,
                reason: reason(case, fact, *greatest),
            };
            let told = |finding: &Finding| {
                let zone = undone
                    .iter()
                    .any(|zone| finding.zone == Some(case.zone_id(*zone)));
                finding.kind.is_missed_ground()
                    && finding.site == case.id()
                    && zone
                    && finding.severity != Severity::ForTheRecord
            };
            let severity = if findings.iter().any(told) {
                Severity::ForTheRecord
            } else {
                Severity::LookInto
            };
            let mut finding = Finding::new(severity, kind);
            finding.site = case.id();
            finding.zone = match undone.as_slice() {
                [zone] => Some(case.zone_id(*zone)),
                _ => None,
            };
            finding.weight = case.site.zones[*greatest].region.area_m2();
            Some(finding)
        })
        .collect()
}

/// The zone in the application that served an order.
fn served<'a>(case: &Case<'a>, fact: &OrderFact, zone: usize) -> Option<&'a ZoneOutcome> {
    let application = &case.outcome.applications[fact.application?];
    application.zones.iter().find(|of| of.zone == zone)
}

/// Treated share of a zone, inside its edge where that is known.
fn share(case: &Case, fact: &OrderFact, zone: usize) -> Option<f64> {
    let Some(of) = served(case, fact, zone) else {
        return Some(0.0);
    };
    of.areas?;
    let core = of.cover.core_treated_m2 / of.core_m2;
    if core.is_finite() && of.has_verdict() {
        Some(core)
    } else {
        of.treated_share()
    }
}

fn reason(case: &Case, fact: &OrderFact, zone: usize) -> InPartReason {
    let state = fact.zones.iter().find(|(of, _)| *of == zone);
    if state.is_some_and(|(_, state)| *state == ZoneState::NotDone) {
        return InPartReason::Untreated;
    }
    let Some(of) = served(case, fact, zone).filter(|of| of.areas.is_some()) else {
        return InPartReason::NotKnown;
    };
    let open = |patch: &crate::site::coverage::PatchGround| {
        patch.is_likely(case.rules.likely) && patch.cause.is_for_a_trip()
    };
    if of.cover.patches.iter().any(open) {
        return InPartReason::Patch;
    }
    InPartReason::Thin(main(&of.cover.causes))
}

/// The cause of most of a gap; of equals the one that says least.
fn main(causes: &GapCauses) -> GapCause {
    let mut main = (GapCause::NeverReached, causes.never_reached);
    for cause in [
        (GapCause::SprayingOff, causes.spraying_off),
        (GapCause::Closed, causes.closed),
        (GapCause::Dry, causes.dry),
        (GapCause::Silence, causes.silence),
    ] {
        if cause.1 > main.1 {
            main = cause;
        }
    }
    main.0
}

/// Orders that are done as far as logs show it, with ground of which they show none, in one line a night.
pub(crate) fn not_shown(night: &Night) -> Option<Finding> {
    let (mut orders, mut zones) = (Vec::new(), Vec::new());
    for case in night.cases() {
        for (order, fact) in case.orders() {
            let untold = fact.not_shown.iter().filter(|zone| {
                // A gun's litres tell of hand ground, a meter's of narrow ground.
                let by_hand = case.site.zones[**zone].method == Method::Hand;
                let state = fact.zones.iter().find(|(of, _)| of == *zone);
                by_hand || state.is_none_or(|(_, state)| *state != ZoneState::NotDone)
            });
            let untold: Vec<String> = untold
                .map(|zone| format!("{}/{}", case.site.id, case.zone_id(*zone)))
                .collect();
            if night.status(order, fact) == OrderStatus::Done && !untold.is_empty() {
                orders.push(order.label());
                zones.extend(untold);
            }
        }
    }
    zones.sort();
    zones.dedup();
    (!orders.is_empty()).then(|| {
        Finding::new(
            Severity::ForTheRecord,
            AboutOrders::OrdersNotShown { orders, zones },
        )
    })
}
