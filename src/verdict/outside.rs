//! Ordered ground that was treated in the same night, but outside its order's time: one finding a rig that says so,
//! instead of "not done" beside "treated without an order".
//!
//! Where one shift of the rig's clock brings all of its orders into their time, the finding names it with the line for
//! the fleet file. Nothing is shifted here, and nobody is sent back: whether the clock was wrong or the work is for
//! somebody to say.

use super::{Case, Night};
use crate::findings::clocks::{AboutClocks, ShiftTold};
use crate::findings::{Finding, Severity};
use crate::geometry::place::Instant;
use crate::input::orders::Order;
use crate::orders::night::ANOTHER_NIGHT_S;
use crate::orders::{ClockShift, LATE_S, Spell, Sprayed, Window, clock_shift};
use crate::result::OrderStatus;
use crate::site::NOT_DONE_SHARE;
use crate::site::outcome::{Application, NotOrderedFact, OrderFact, ZoneOutcome};
use std::collections::{BTreeMap, BTreeSet};

/// Ground of an order counts as treated outside its time from this share on: less is a turn on it, or another's work
/// (trade judgement).
const TREATED_SHARE: f64 = 0.5;
/// Rigs that are at work within so long of each other are out at the same time, s (trade judgement).
const TOGETHER_S: f64 = 1_800.0;
/// Seconds in an hour (arithmetic).
const HOUR_S: f64 = 3_600.0;
/// A time zone nearer to UTC makes no clock look wrong, s (trade judgement).
const LEAST_ZONE_S: f64 = 3_600.0;

/// One order whose ground was treated outside its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OutsideOrder {
    /// Index of the site.
    pub site: usize,
    /// Index of the order among the site's.
    pub order: usize,
    /// Index of the application.
    pub application: usize,
    /// Index of the run whose rig did most of it.
    run: usize,
}

/// All such orders of a night.
#[must_use]
pub fn find(night: &Night) -> Vec<OutsideOrder> {
    let mut found = Vec::new();
    for (site, case) in night.cases().enumerate() {
        let mut taken: Vec<usize> = Vec::new();
        for (index, fact) in case.outcome.orders.iter().enumerate() {
            let open = fact.status == OrderStatus::NotDone && fact.application.is_none();
            let mut unasked = case.outcome.not_ordered.iter();
            let by =
                unasked.find(|by| open && !taken.contains(&by.application) && did(&case, fact, by));
            let Some(by) = by else { continue };
            let application = &case.outcome.applications[by.application];
            let off_s = off_s(&case.rules.placed()[index].order, application);
            // A clock on another date is a finding of its own, with the key that puts it right.
            if off_s.abs() > ANOTHER_NIGHT_S {
                continue;
            }
            let Some(&leg) = application.legs.first() else {
                continue;
            };
            taken.push(by.application);
            found.push(OutsideOrder {
                site,
                order: index,
                application: by.application,
                run: case.outcome.legs[leg].run,
            });
        }
    }
    found.extend(all_late(night));
    found
}

/// Orders that rigs finished late: where a rig (or the first of several) was late with every order that it did any of, and
/// with two or more, and whole hours on its clock bring all of them into their time, they are reported as outside their time.
fn all_late(night: &Night) -> Vec<OutsideOrder> {
    let cases: Vec<Case> = night.cases().collect();
    let rigs: BTreeSet<usize> = night.runs.iter().map(|run| run.rig).collect();
    let mut found = Vec::new();
    for rig in rigs {
        let done = sprayed(night, &cases, rig);
        let all = done.len() > 1 && done.iter().all(|order| !order.fits(0.0));
        let shift = clock_shift(&done, utc_offset_s(night)).filter(|_| all);
        let whole = shift.is_some_and(|shift| (shift.add_s / HOUR_S).fract().abs() < 1e-9);
        if whole {
            found.extend(late_of(night, &cases, rig));
        }
    }
    found
}

fn late_of(night: &Night, cases: &[Case], rig: usize) -> Vec<OutsideOrder> {
    let mut found = Vec::new();
    for (site, case) in cases.iter().enumerate() {
        for (index, (order, fact)) in case.orders().enumerate() {
            let late = |by: Instant| {
                fact.finished
                    .is_some_and(|end| end.seconds_since(by) > LATE_S)
            };
            let (Some(application), true) = (fact.application, order.by.is_some_and(late)) else {
                continue;
            };
            let legs = case.outcome.applications[application].legs.iter();
            let first = legs.map(|&leg| case.outcome.legs[leg].run).next();
            let own = first.filter(|&run| night.runs[run].rig == rig);
            found.extend(own.map(|run| OutsideOrder {
                site,
                order: index,
                application,
                run,
            }));
        }
    }
    found
}

/// Whether an application that nobody ordered treated an order's ground.
fn did(case: &Case, fact: &OrderFact, by: &NotOrderedFact) -> bool {
    let application = &case.outcome.applications[by.application];
    let asked = |zone: usize| fact.zones.iter().any(|(of, _)| *of == zone);
    let own = application.zones.iter().filter(|of| asked(of.zone));
    let (mut treated_m2, mut area_m2) = (0.0, 0.0);
    for zone in own {
        area_m2 += zone.area_m2;
        treated_m2 += zone.treated_share().unwrap_or(0.0) * zone.area_m2;
    }
    area_m2 > 0.0 && treated_m2 >= TREATED_SHARE * area_m2
}

/// One finding for each rig with such orders, and one for each that was at work while no other was and would have been
/// with the night's time zone off its clock.
pub(super) fn judge(night: &Night) -> Vec<Finding> {
    let mut by_rig: BTreeMap<usize, Vec<OutsideOrder>> = BTreeMap::new();
    for order in &night.outside {
        let rig = night.runs[order.run].rig;
        by_rig.entry(rig).or_default().push(*order);
    }
    let told: Vec<usize> = by_rig.keys().copied().collect();
    let mut findings: Vec<Finding> = by_rig
        .into_iter()
        .map(|(rig, orders)| finding(night, rig, &orders))
        .collect();
    findings.extend(apart(night, &told));
    findings
}

fn finding(night: &Night, rig: usize, orders: &[OutsideOrder]) -> Finding {
    let cases: Vec<Case> = night.cases().collect();
    let of = |order: &OutsideOrder| {
        let case = &cases[order.site];
        let row = &case.rules.placed()[order.order].order;
        (case, row, &case.outcome.applications[order.application])
    };
    let sites: BTreeSet<usize> = orders.iter().map(|order| order.site).collect();
    let sites: Vec<String> = sites
        .into_iter()
        .filter_map(|site| cases[site].id())
        .collect();
    let off = |order: &OutsideOrder| {
        let (_, row, application) = of(order);
        off_s(row, application)
    };
    let first = orders.iter().min_by_key(|order| of(order).2.start);
    let offset_s = night.fleet.rigs[rig].clock_offset_s;
    let shift = clock_shift(&sprayed(night, &cases, rig), utc_offset_s(night));
    // Two orders may ask for one zone.
    let ground: BTreeSet<(usize, usize)> = orders
        .iter()
        .flat_map(|order| {
            let zones = cases[order.site].outcome.orders[order.order].zones.iter();
            zones.map(|(zone, _)| (order.site, *zone))
        })
        .collect();
    let area_m2 = ground
        .iter()
        .map(|&(site, zone)| cases[site].site.zones[zone].region.area_m2())
        .sum();
    let kind = AboutClocks::OutsideTime {
        orders: orders.iter().map(|order| of(order).1.label()).collect(),
        sites: sites.clone(),
        area_m2,
        off_s: first.map_or(0.0, off),
        shift: shift.map(|shift| told(shift, offset_s)),
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    finding.rig = Some(night.fleet.rigs[rig].id.clone());
    finding.site = match sites.as_slice() {
        [site] => Some(site.clone()),
        _ => None,
    };
    finding.start = first.map(|order| of(order).2.start);
    finding.place = first.and_then(|order| of(order).2.place);
    finding.weight = area_m2;
    finding
}

fn told(shift: ClockShift, offset_s: f64) -> ShiftTold {
    ShiftTold {
        add_s: shift.add_s,
        offset_s: offset_s + shift.add_s,
        others: shift.others,
    }
}

/// How long before the order's time the work ended (negative), or after it began, s.
fn off_s(order: &Order, application: &Application) -> f64 {
    let early_s = order
        .from
        .map_or(0.0, |from| application.start.seconds_since(from).min(0.0));
    let late_s = order
        .by
        .map_or(0.0, |by| application.end.seconds_since(by).max(0.0));
    if early_s < 0.0 { early_s } else { late_s }
}

/// What one rig sprayed on the ground of each order that it did any of.
fn sprayed(night: &Night, cases: &[Case], rig: usize) -> Vec<Sprayed> {
    let mut all = Vec::new();
    for case in cases {
        for (index, fact) in case.outcome.orders.iter().enumerate() {
            let order = &case.rules.placed()[index].order;
            let spells = spells(night, case, fact, rig);
            if !spells.is_empty() {
                all.push(Sprayed {
                    window: Window {
                        from: order.from,
                        by: order.by,
                    },
                    spells,
                });
            }
        }
    }
    all
}

/// The rig's visits in the applications that treated some of an order's ground.
fn spells(night: &Night, case: &Case, fact: &OrderFact, rig: usize) -> Vec<Spell> {
    let some = |of: &ZoneOutcome| {
        let asked = fact.zones.iter().any(|(zone, _)| *zone == of.zone);
        asked
            && of
                .treated_share()
                .is_some_and(|share| share >= NOT_DONE_SHARE)
    };
    let applications = case.outcome.applications.iter();
    let visits = applications
        .filter(|application| application.zones.iter().any(some))
        .flat_map(|application| &application.visits);
    let visits = visits.map(|&index| &case.outcome.visits[index]);
    let own = visits.filter(|visit| night.runs[case.outcome.legs[visit.leg].run].rig == rig);
    own.filter_map(|visit| visit.spraying)
        .map(|(start, end)| Spell { start, end })
        .collect()
}

/// What the night's local time is ahead of UTC, s; `None` where the fleet file names no zone.
fn utc_offset_s(night: &Night) -> Option<f64> {
    let timezone = night.fleet.defaults.timezone.as_ref()?;
    let Instant(micros) = night.span?.first;
    let first = jiff::Timestamp::from_microsecond(micros).ok()?;
    Some(f64::from(timezone.to_offset(first).seconds()))
}

/// Runs that meet no other rig's, and would with the time zone off their clock: since their orders are in time, they
/// would pass without a word.
fn apart(night: &Night, told: &[usize]) -> Vec<Finding> {
    let zone_s = utc_offset_s(night).filter(|zone_s| zone_s.abs() >= LEAST_ZONE_S);
    let Some(zone_s) = zone_s else {
        return Vec::new();
    };
    let cases: Vec<Case> = night.cases().collect();
    let others_meet = |run: usize, add_s: f64| {
        let own = &night.runs[run];
        let (start, end) = (own.start.plus_seconds(add_s), own.end.plus_seconds(add_s));
        let mut others = night.runs.iter().filter(|other| other.rig != own.rig);
        others.any(|other| {
            other.start.seconds_since(end) < TOGETHER_S
                && start.seconds_since(other.end) < TOGETHER_S
        })
    };
    let runs = 0..night.runs.len();
    runs.filter(|&run| !told.contains(&night.runs[run].rig) && !others_meet(run, 0.0))
        .filter_map(|run| {
            let add_s = [-zone_s, zone_s]
                .into_iter()
                .find(|&add_s| others_meet(run, add_s))?;
            let orders = sprayed(night, &cases, night.runs[run].rig);
            let missed = |add_s: f64| orders.iter().filter(|order| !order.fits(add_s)).count();
            let (now, shifted) = (missed(0.0), missed(add_s));
            (!orders.is_empty() && shifted <= now)
                .then(|| apart_finding(night, run, add_s, now - shifted))
        })
        .collect()
}

fn apart_finding(night: &Night, run: usize, add_s: f64, mended: usize) -> Finding {
    let own = &night.runs[run];
    let kind = AboutClocks::ClockApart {
        shift: ShiftTold {
            add_s,
            offset_s: own.clock_offset_s + add_s,
            others: 0,
        },
        mended,
    };
    // With orders that it alone made late the clock is likely; else it is worth a line.
    let severity = if mended > 0 {
        Severity::LookInto
    } else {
        Severity::ForTheRecord
    };
    let mut finding = Finding::new(severity, kind);
    finding.rig = Some(night.rig_id(run));
    finding.start = Some(own.start);
    finding
}

/// Of one site: whether an order was treated outside its time.
pub(super) fn is_outside(night: &Night, site: &str, order: &Order) -> bool {
    night.outside.iter().any(|of| {
        night.sites[of.site].id == site
            && night.rules[of.site].placed()[of.order].order.line == order.line
    })
}

/// Whether an application is one of these.
pub(super) fn is_told(case: &Case, application: usize) -> bool {
    case.night
        .outside
        .iter()
        .any(|of| case.night.sites[of.site].id == case.site.id && of.application == application)
}
