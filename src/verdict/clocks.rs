//! Verdicts on clocks: logs whose dates are far from the others' of the night.
//!
//! Nothing is shifted here: which clock is right is for somebody to say, with `clock_offset`.

use super::Night;
use crate::findings::clocks::{AboutClocks, ClockFault};
use crate::findings::{Finding, Severity};
use crate::geometry::place::Instant;
use crate::orders::night::{by_date, rollovers};
use crate::rig::track::FileSpan;

/// A whole run is in doubt: above every other remark on data (arithmetic).
const WEIGHT: f64 = 1e6;

/// A log with the run it belongs to.
#[derive(Clone, Copy)]
struct Dated<'a> {
    run: usize,
    file: &'a FileSpan,
    middle: Instant,
}

/// One finding for each run with logs of another date than most runs'.
pub(super) fn odd(night: &Night) -> Vec<Finding> {
    let mut logs: Vec<Dated> = night
        .runs
        .iter()
        .enumerate()
        .flat_map(|(run, of)| {
            of.files.iter().map(move |file| Dated {
                run,
                file,
                middle: Instant(file.start.0.midpoint(file.end.0)),
            })
        })
        .collect();
    logs.sort_by_key(|log| (log.middle, log.run));
    let (dates, index) = by_date(&logs, |log| log.middle, |log| night.runs[log.run].rig);
    let Some(of_night) = dates.get(index) else {
        return Vec::new();
    };
    let runs = |date: &[Dated]| {
        let mut runs: Vec<usize> = date.iter().map(|log| log.run).collect();
        runs.sort_unstable();
        runs.dedup();
        runs
    };
    let usual = of_night[of_night.len() / 2].middle;
    let others = dates.iter().enumerate().filter(|(date, _)| *date != index);
    others
        .flat_map(|(_, date)| {
            runs(date).into_iter().map(|run| {
                let own: Vec<Dated> = date.iter().filter(|log| log.run == run).copied().collect();
                finding(night, &own, usual)
            })
        })
        .collect()
}

/// The finding of one run's logs of another date.
fn finding(night: &Night, logs: &[Dated], usual: Instant) -> Finding {
    let run = &night.runs[logs[0].run];
    let off_s = logs[logs.len() / 2].middle.seconds_since(usual);
    let kind = AboutClocks::ClockOdd {
        file: logs[0].file.file.clone(),
        line: None,
        count: logs.iter().map(|log| log.file.fixes as u64).sum(),
        what: ClockFault::OtherDate {
            off_s,
            rollovers: rollovers(off_s),
            has_offset: run.clock_offset_s.abs() > 0.0,
            others: logs.len() - 1,
        },
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    finding.rig = Some(night.rig_id(logs[0].run));
    finding.start = logs.iter().map(|log| log.file.start).min();
    finding.weight = WEIGHT;
    finding
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rollovers_are_told_from_other_distances() {
        let week_s = 604_800.0;
        let rolled = |off_s: f64| rollovers(off_s).is_some();
        // GPS weeks began again on 1999-08-22 and 2019-04-07, 1,024 weeks or 7,168 days apart.
        assert!(rolled(-7_168.0 * 86_400.0) && rolled(-14_336.0 * 86_400.0));
        assert!(rolled(-1024.0 * week_s - 80_000.0) && rolled(1024.0 * week_s));
        assert!(!rolled(-1024.0 * week_s - 100_000.0) && !rolled(-1023.0 * week_s));
        assert!(!rolled(-3.0 * 86_400.0) && !rolled(0.0));
    }
}
