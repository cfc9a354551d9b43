//! Step 9: the table, and what of the goals was missed.

use crate::faults::KINDS;
use crate::judge::brief;
use crate::{Night, count};
use std::collections::BTreeMap;
use std::fmt::Write;
use swathbook::findings::Severity;

/// Share of the faults of each kind that must be found.
const LEAST_FOUND: f64 = 0.95;
/// Findings to look into that a healthy night may have on average.
const MOST_LOOK_INTO: f64 = 1.0;

/// Of faulty nights so many may have a go back that does not follow from the fault. What a fault changes of
/// the way makes a new night of it, with drift of its own: in thousands of them some lanes drift apart by more
/// than twice the position error, and their log then looks as a lane left out does.
const MOST_FALSE_GO_BACK: f64 = 0.02;

/// False findings to look into that a night with a fault may have on average. They are those that
/// healthy nights have too: other turns and another minute make another error of position.
const MOST_FALSE: f64 = 0.10;

/// What became of one kind: found, missed; false findings by severity.
#[derive(Default)]
struct Tally {
    found: usize,
    missed: usize,
    go_back: usize,
    look_into: usize,
}

fn tally(nights: &[Night], kind: usize) -> Tally {
    let mut tally = Tally::default();
    for outcome in nights
        .iter()
        .filter_map(|night| night.faulty[kind].as_ref())
    {
        tally.found += usize::from(outcome.found);
        tally.missed += usize::from(!outcome.found);
        let wrong = |severity| {
            outcome
                .wrong
                .iter()
                .filter(|(of, _)| *of == severity)
                .count()
        };
        tally.go_back += wrong(Severity::GoBack);
        tally.look_into += wrong(Severity::LookInto);
    }
    tally
}

/// Two tables in Markdown.
pub(crate) fn table(nights: &[Night]) -> String {
    let mut text = String::from(
        "| planted | size, tolerance | nights | found | missed | false, go back | false, look into |\n|---|---|---|---|---|---|---|\n",
    );
    for (index, kind) in KINDS.iter().enumerate() {
        let tally = tally(nights, index);
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} |",
            kind.name,
            kind.size,
            tally.found + tally.missed,
            tally.found,
            tally.missed,
            tally.go_back,
            tally.look_into
        );
    }
    let _ = writeln!(
        text,
        "\n{} healthy nights\n\n| code | severity | findings | nights |\n|---|---|---|---|",
        nights.len()
    );
    let mut codes: BTreeMap<(Severity, &str), (usize, usize)> = BTreeMap::new();
    for night in nights {
        let mut seen = Vec::new();
        for finding in &night.healthy {
            let key = (finding.severity, finding.kind.code());
            let tally = codes.entry(key).or_default();
            tally.0 += 1;
            tally.1 += usize::from(!seen.contains(&key));
            seen.push(key);
        }
    }
    for ((severity, code), (findings, in_nights)) in codes {
        let _ = writeln!(
            text,
            "| `{code}` | {severity:?} | {findings} | {in_nights} |"
        );
    }
    text
}

/// The goals that were missed.
pub(crate) fn failures(nights: &[Night]) -> Vec<String> {
    let mut failures = Vec::new();
    let all = |severity| {
        nights
            .iter()
            .map(|night| count(&night.healthy, severity))
            .sum::<usize>()
    };
    let alarms = all(Severity::GoBack);
    if alarms > 0 {
        failures.push(format!(
            "{alarms} go_back on healthy nights, none is allowed"
        ));
    }
    let look_into = all(Severity::LookInto) as f64 / nights.len() as f64;
    if look_into > MOST_LOOK_INTO {
        failures.push(format!(
            "{look_into:.2} look_into a healthy night, {MOST_LOOK_INTO} allowed"
        ));
    }
    for (index, kind) in KINDS.iter().enumerate() {
        let tally = tally(nights, index);
        let planted = tally.found + tally.missed;
        // With a handful of nights one may be missed.
        if tally.missed > 1 && (tally.found as f64) < LEAST_FOUND * planted as f64 {
            failures.push(format!("{}: {} of {planted} found", kind.name, tally.found));
        }
        if tally.go_back > 1 && tally.go_back as f64 > MOST_FALSE_GO_BACK * planted as f64 {
            failures.push(format!(
                "{}: {} go_back that do not follow from it",
                kind.name, tally.go_back
            ));
        }
        if tally.look_into > 1 && tally.look_into as f64 > MOST_FALSE * planted as f64 {
            failures.push(format!(
                "{}: {} look_into that do not follow from it",
                kind.name, tally.look_into
            ));
        }
    }
    failures
}

/// Every alarm and every fault that was not found.
pub(crate) fn tell(nights: &[Night]) {
    for night in nights {
        for finding in night
            .healthy
            .iter()
            .filter(|finding| finding.severity != Severity::ForTheRecord)
        {
            println!(
                "seed {} healthy {:?}: {}",
                night.seed,
                finding.severity,
                brief(finding)
            );
        }
        for (kind, outcome) in KINDS.iter().zip(&night.faulty) {
            let Some(outcome) = outcome else { continue };
            for missing in &outcome.missing {
                println!("seed {} {}: {missing}", night.seed, kind.name);
            }
            for (_, wrong) in &outcome.wrong {
                println!("seed {} {} false: {wrong}", night.seed, kind.name);
            }
        }
    }
}
