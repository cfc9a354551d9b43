//! Step 7 of the flow: from the night's numbers to findings, ranked.
//!
//! Thresholds are constants here, each with its reason. A night without faults must give a page
//! without alarms, so every limit lies outside what drift, laps, turns and meter tails do to a healthy
//! rig. One finding per cause, rig and zone, with its count.

mod asked_for;
mod blocked;
mod cells;
mod clocks;
pub mod ledger;
pub mod log_ends;
pub mod outside;
mod rank;
mod rigs;
pub mod sections;
mod zones;

use crate::findings::meter::AboutMeter;
use crate::findings::rate::AboutRate;
use crate::findings::{Finding, Kind, Severity};
use crate::ground::Site;
use crate::input::digest::InputFile;
use crate::input::fleet::Fleet;
use crate::input::orders::Order;
use crate::result::{Ledger, NightSpan, OrderStatus};
use crate::site::outcome::{Application, OrderFact};
use crate::site::summary::Summary;
use crate::site::{Outcome, Rules};
use outside::OutsideOrder;

/// Less liquid on ground that does not count as treated is not worth mentioning, L (layout).
const LEAST_SOME_L: f64 = 1.0;

/// What the verdicts look at.
pub struct Night<'a> {
    /// The fleet.
    pub fleet: &'a Fleet,
    /// The ground.
    pub sites: &'a [Site],
    /// What counts at each site.
    pub rules: &'a [Rules],
    /// What became of each site.
    pub outcomes: &'a [Outcome],
    /// All runs.
    pub runs: &'a [Summary],
    /// Their ledgers.
    pub ledgers: &'a [Ledger],
    /// The time of the night's logs.
    pub span: Option<NightSpan>,
    /// What was read.
    pub files: &'a [InputFile],
    /// A log file could not be used at all.
    pub files_lost: bool,
    /// Orders whose ground was treated outside their time.
    pub outside: Vec<OutsideOrder>,
}

/// All findings of the night's numbers, not yet ranked.
#[must_use]
pub fn judge(night: &Night) -> Vec<Finding> {
    let mut findings = zones::not_visited(night);
    findings.extend(asked_for::outside_logs(night));
    findings.extend(asked_for::not_shown(night));
    findings.extend(zones::check_on_foot(night));
    for case in night.cases() {
        let asked = asked_for::judge(&case);
        findings.extend(zones::judge(&case, &asked));
        findings.extend(asked);
        let in_part = asked_for::in_part(&case, &findings);
        findings.extend(in_part);
        findings.extend(blocked::in_part(&case));
        findings.extend(cells::told(&case));
    }
    for index in 0..night.runs.len() {
        findings.extend(rigs::judge(night, index));
    }
    findings.extend(clocks::odd(night));
    findings.extend(outside::judge(night));
    findings.extend(rigs::without_log(night));
    let rigs = |told: &dyn Fn(usize) -> bool| -> Vec<String> {
        let runs = (0..night.runs.len()).filter(|&index| told(index));
        runs.map(|index| night.rig_id(index)).collect()
    };
    let leaking = rigs(&|index| rigs::hidden_leak(night, index).is_some());
    let slow = rigs(&|index| night.runs[index].late.slow_start().is_some());
    explain(&mut findings, &leaking, &slow);
    findings
}

/// Rates that a leak may have made too high, or slow starts too low, explain nothing more: they stay for the record.
fn explain(findings: &mut [Finding], leaking: &[String], slow: &[String]) {
    for finding in findings {
        let high = match &finding.kind {
            Kind::Rate(AboutRate::OffRate {
                rate_ml_m2,
                target_ml_m2,
                ..
            }) => rate_ml_m2 > target_ml_m2,
            Kind::Rate(AboutRate::Uneven {
                share_low,
                limit_low,
                ..
            }) => share_low <= limit_low,
            _ => continue,
        };
        let rigs = if high { leaking } else { slow };
        if finding.rig.as_ref().is_some_and(|rig| rigs.contains(rig)) {
            finding.severity = Severity::ForTheRecord;
        }
    }
}

/// Puts findings in the order in which they are read: severity, what is at stake, weight, place in the input.
pub fn rank(findings: &mut [Finding]) {
    without_unit(findings);
    rank::rank(findings);
}

/// A rig whose log was read in a unit that another one fits better has no rates yet: what they look like stays for the record.
fn without_unit(findings: &mut [Finding]) {
    let is_guessed = |finding: &&Finding| {
        let Kind::Meter(AboutMeter::UnitTaken { better, .. }) = &finding.kind else {
            return false;
        };
        better.is_some()
    };
    let guessed: Vec<Option<String>> = findings
        .iter()
        .filter(is_guessed)
        .map(|finding| finding.rig.clone())
        .collect();
    for finding in findings {
        let by_rate = matches!(
            finding.kind,
            Kind::Rate(AboutRate::OffRate { .. } | AboutRate::Uneven { .. })
        );
        if by_rate && finding.rig.is_some() && guessed.contains(&finding.rig) {
            finding.severity = Severity::ForTheRecord;
        }
    }
}

impl Night<'_> {
    /// A log is known to be missing: what was not treated may have been, in a log not received.
    #[must_use]
    pub fn logs_missing(&self) -> bool {
        // A log of another date may hold the work of this night.
        self.files_lost || rigs::logs_missing(self) || !clocks::odd(self).is_empty()
    }

    /// There is an orders file.
    fn has_orders(&self) -> bool {
        self.rules.iter().any(|rules| rules.orders.is_some())
    }

    /// A rig's id by its run.
    #[must_use]
    pub fn rig_id(&self, run: usize) -> String {
        self.fleet.rigs[self.runs[run].rig].id.clone()
    }

    /// What became of an order, seen from the whole night: one that nothing served, and whose whole window
    /// lies before the first or after the last fix of all logs, is not for these logs to tell.
    #[must_use]
    pub fn status(&self, order: &Order, fact: &OrderFact) -> OrderStatus {
        let before = matches!((order.by, self.span), (Some(by), Some(span)) if by < span.first);
        let after = matches!((order.from, self.span), (Some(from), Some(span)) if from > span.last);
        let unserved = fact.status == OrderStatus::NotDone && fact.application.is_none();
        if unserved && outside::is_outside(self, &order.site, order) {
            // Treated, but when is in doubt.
            OrderStatus::NotKnown
        } else if unserved && (before || after) {
            OrderStatus::OutsideLogs
        } else {
            fact.status
        }
    }

    fn cases(&self) -> impl Iterator<Item = Case<'_>> {
        let sites = self.sites.iter().zip(self.rules).zip(self.outcomes);
        sites.map(|((site, rules), outcome)| Case {
            night: self,
            site,
            rules,
            outcome,
        })
    }
}

/// One site of the night.
struct Case<'a> {
    night: &'a Night<'a>,
    site: &'a Site,
    rules: &'a Rules,
    outcome: &'a Outcome,
}

impl Case<'_> {
    /// Name of the site's id, for findings.
    fn id(&self) -> Option<String> {
        Some(self.site.id.clone())
    }

    /// The run behind a leg.
    fn rig(&self, leg: usize) -> String {
        self.night.rig_id(self.outcome.legs[leg].run)
    }

    /// The rig of an application, when it was one.
    fn only_rig(&self, application: &Application) -> Option<String> {
        let mut rigs: Vec<String> = application.legs.iter().map(|&leg| self.rig(leg)).collect();
        rigs.sort();
        rigs.dedup();
        match rigs.as_slice() {
            [rig] => Some(rig.clone()),
            _ => None,
        }
    }

    /// Liquid on a zone's ground, L.
    fn litres_on(&self, zone: usize) -> f64 {
        self.outcome.legs.iter().map(|leg| leg.zones_l[zone]).sum()
    }

    fn zone_id(&self, zone: usize) -> String {
        self.site.zones[zone].id.clone()
    }

    /// The site's orders with what became of each.
    fn orders(&self) -> impl Iterator<Item = (&Order, &OrderFact)> {
        let placed = self.rules.placed().iter().map(|placed| &placed.order);
        placed.zip(&self.outcome.orders)
    }
}
