//! Step 12 of the flow: from the night's numbers to findings, ranked.
//!
//! Thresholds are constants here, each with its reason. A night without faults must give a page
//! without alarms, so every limit lies outside what drift, laps, turns and meter tails do to a healthy
//! rig. One finding per cause, rig and zone, with its count.

mod clocks;
mod orders;
mod rank;
mod rigs;
mod zones;

use crate::findings::Finding;
use crate::input::fleet::Fleet;
use crate::result::{Ledger, Site};
use crate::run::Run;
use crate::treatment::Treatment;

/// What the verdicts look at.
pub struct Night<'a> {
    /// The fleet.
    pub fleet: &'a Fleet,
    /// All runs.
    pub runs: &'a [Run],
    /// Their ledgers.
    pub ledgers: &'a [Ledger],
    /// Where each run was.
    pub whereabouts: &'a [crate::visit::Whereabouts],
    /// What became of each site.
    pub treatments: &'a [Treatment],
    /// There is an orders file.
    pub has_orders: bool,
    /// A log file could not be used at all.
    pub files_lost: bool,
}

/// All findings of the night's numbers, not yet ranked.
#[must_use]
pub fn judge(night: &Night) -> Vec<Finding> {
    let mut findings = zones::not_visited(night);
    findings.extend(orders::outside_logs(night));
    for treatment in night.treatments {
        let asked = orders::judge(night, treatment);
        findings.extend(zones::judge(night, treatment, &asked));
        findings.extend(asked);
    }
    for index in 0..night.runs.len() {
        findings.extend(rigs::judge(night, index));
    }
    findings.extend(clocks::odd(night));
    findings.extend(rigs::without_log(night));
    findings
}

/// Puts findings in the order in which they are read: severity, what is at stake, weight, place in the input.
pub fn rank(findings: &mut [Finding]) {
    rank::rank(findings);
}

impl Night<'_> {
    /// A log is known to be missing: what was not treated may have been, in a log not received.
    #[must_use]
    pub fn logs_missing(&self) -> bool {
        // A log of another date may hold the work of this night.
        self.files_lost || rigs::logs_missing(self) || !clocks::odd(self).is_empty()
    }
}

/// A rig's id by its run.
fn rig_id(night: &Night, run: usize) -> String {
    night.fleet.rigs[night.runs[run].track.rig].id.clone()
}

/// Name of a site's id, for findings.
fn id(site: &Site) -> Option<String> {
    Some(site.site.clone())
}
