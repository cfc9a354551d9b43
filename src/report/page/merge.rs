//! Findings of one cause as one entry, so that a page tells each cause once. The findings stay apart in
//! `audit.json` and in the spreadsheets.

use crate::findings::liquid::AboutLiquid;
use crate::findings::{Finding, Kind, Severity};

/// Findings that are read together: one cause, the first one leading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Indices into the audit's findings.
    pub findings: Vec<usize>,
}

/// The findings of one severity as entries, in their order; those in `told` stand elsewhere on the page.
#[must_use]
pub fn entries(findings: &[Finding], severity: Severity, told: &[usize]) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    let of_this = findings.iter().enumerate();
    let of_this = of_this.filter(|(index, of)| of.severity == severity && !told.contains(index));
    for (index, finding) in of_this {
        let same = |entry: &&mut Entry| is_one_cause(&findings[entry.findings[0]], finding);
        match entries.iter_mut().find(same) {
            Some(entry) => entry.findings.push(index),
            None => entries.push(Entry {
                findings: vec![index],
            }),
        }
    }
    entries
}

/// Liquid at the wrong rate also lies unevenly, where laps double it. What laps laid twice is one line a night on a page.
fn is_one_cause(a: &Finding, b: &Finding) -> bool {
    let is_rate = |finding: &Finding| matches!(finding.kind, Kind::Rate(_));
    let is_twice =
        |finding: &Finding| matches!(finding.kind, Kind::Liquid(AboutLiquid::LaidTwice { .. }));
    if is_twice(a) && is_twice(b) {
        return true;
    }
    let same_work = a.site.is_some() && a.site == b.site && a.zone == b.zone;
    is_rate(a) && is_rate(b) && same_work && a.start == b.start
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::log::AboutLog;
    use crate::findings::rate::AboutRate;

    fn finding(kind: impl Into<Kind>, site: &str) -> Finding {
        let mut finding = Finding::new(Severity::LookInto, kind);
        finding.site = Some(site.to_owned());
        finding.zone = Some("lot".to_owned());
        finding
    }

    #[test]
    fn a_wrong_rate_and_what_comes_of_it_are_one_entry_of_one_lot() {
        let off = AboutRate::OffRate {
            rate_ml_m2: 41.0,
            target_ml_m2: 33.0,
            band: 0.1,
        };
        let uneven = AboutRate::Uneven {
            share_low: 0.0,
            limit_low: 0.1,
            share_high: 0.07,
            limit_high: 0.05,
        };
        let findings = [
            finding(off.clone(), "auk"),
            finding(uneven.clone(), "tern"),
            finding(uneven, "auk"),
            finding(AboutLog::NoLog, "auk"),
        ];
        let of = |told: &[usize]| -> Vec<Vec<usize>> {
            let entries = entries(&findings, Severity::LookInto, told);
            entries.into_iter().map(|entry| entry.findings).collect()
        };
        assert_eq!(of(&[]), [vec![0, 2], vec![1], vec![3]]);
        assert_eq!(of(&[0, 3]), [vec![1], vec![2]]);
    }
}
