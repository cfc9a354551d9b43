//! Blocked ground is there only in its time: parked cars, a snow pile, the client's wish for a night.
//!
//! A time of its own is compared with the time of work at the site: first to last liquid on it; where there was none
//! the windows of its orders; without these the ground counts as blocked.

use super::{Leg, Rules};
use crate::findings::sites::Remark;
use crate::findings::{Finding, Severity};
use crate::geometry::place::Instant;
use crate::ground::{Site, Zone, remarks};
use crate::input::sites::{DrawnZone, LandUse};

/// From the first to the last liquid of all legs on a site.
fn liquid(legs: &[Leg]) -> Option<(Instant, Instant)> {
    let spans = legs
        .iter()
        .flat_map(|leg| leg.spans.iter().map(move |span| (leg, span)));
    let laid = spans.filter(|(_, span)| span.wet || span.litres > 0.0);
    let times = laid.map(|(leg, span)| {
        let step = span.step as usize;
        (leg.at(step, span.from_u), leg.at(step, span.to_u))
    });
    times.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// Whether a zone was blocked while anybody worked, or was to work, at its site.
fn is_there(zone: &Zone, legs: &[Leg], rules: &Rules) -> bool {
    if let Some((first, last)) = liquid(legs) {
        return zone.is_blocked(first, last);
    }
    let mut windows = rules
        .placed()
        .iter()
        .map(|placed| (placed.order.from, placed.order.by));
    let none = rules.placed().is_empty();
    none || windows.any(|(from, by)| {
        zone.is_blocked(
            from.unwrap_or(Instant(i64::MIN)),
            by.unwrap_or(Instant(i64::MAX)),
        )
    })
}

/// The blocked zones, as indices of `drawn`, whose time does not meet the time at their site, and a remark on
/// each. `legs` and `rules` of each site.
#[must_use]
pub fn lifted(
    drawn: &[DrawnZone],
    sites: &[Site],
    legs: &[Vec<Leg>],
    rules: &[Rules],
) -> (Vec<usize>, Vec<Finding>) {
    let (mut lifted, mut findings) = (Vec::new(), Vec::new());
    for ((site, legs), rules) in sites.iter().zip(legs).zip(rules) {
        let timed = |zone: &&Zone| {
            let has_time = zone.blocked_from.is_some() || zone.blocked_until.is_some();
            zone.land_use == LandUse::Blocked && has_time
        };
        let zones = site.zones.iter().filter(timed);
        for zone in zones.filter(|zone| !is_there(zone, legs, rules)) {
            let feature =
                |drawn: &DrawnZone| drawn.feature == zone.feature && drawn.zone == zone.id;
            if let Some(index) = drawn.iter().position(feature) {
                lifted.push(index);
                findings.push(not_there(&drawn[index], liquid(legs)));
            }
        }
    }
    lifted.sort_unstable();
    (lifted, findings)
}

fn not_there(zone: &DrawnZone, liquid: Option<(Instant, Instant)>) -> Finding {
    let what = Remark::MeetsNone {
        from: zone.blocked_from,
        until: zone.blocked_until,
        liquid,
    };
    let mut finding = remarks::remark(zone, what);
    finding.severity = Severity::ForTheRecord;
    finding
}
