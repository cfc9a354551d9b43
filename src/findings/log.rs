//! Findings about logs: files, readings, silences.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use crate::notation::names::names;
use crate::notation::numbers::{count, duration};
use crate::notation::style::Style;

/// About logs: files, readings, silences.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutLog {
    /// A point, a feature or a whole file could not be used.
    InputSkipped {
        /// File name.
        file: String,
        /// Line of the first, where known.
        line: Option<u64>,
        /// How many points or features; 0 for a whole file.
        count: u64,
        /// Why, as a clause.
        why: String,
    },
    /// Readings of a log that say nothing, or not enough; their points stay.
    ReadingOdd {
        /// File name.
        file: String,
        /// Line of the first.
        line: Option<u64>,
        /// How many readings.
        count: u64,
        /// What, as a clause.
        what: String,
    },
    /// A fleet rig without a log.
    NoLog,
    /// The log is too coarse for coverage: visits and volume only.
    CoarseLog {
        /// Median time between moving fixes, s.
        interval_s: f64,
        /// Longest that can show coverage, s.
        limit_s: f64,
    },
    /// What a logger that does not write every second or two cannot show.
    SparseLog {
        /// When it writes, with the figures that tell how much.
        left_out: LeftOut,
    },
    /// One rig id in two places at once.
    SharedRigId {
        /// Logs of the second run.
        logs: Vec<String>,
        /// Greatest distance at one time, m.
        distance_m: f64,
    },
    /// Silence in the log while the rig was at work there.
    DropoutNearby {
        /// How many.
        count: usize,
        /// Seconds together.
        seconds: f64,
        /// Ground reported as unlogged.
        unlogged_m2: f64,
        /// Liquid that the total gained meanwhile; `None` where there is no total.
        volume_l: Option<f64>,
    },
}

/// How a log leaves out what happened: by when its logger writes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeftOut {
    /// After a time.
    Time {
        /// Between moving fixes, s.
        interval_s: f64,
    },
    /// After a distance.
    Distance {
        /// Between moving fixes, m.
        step_m: f64,
    },
    /// When a section switches.
    OnChange {
        /// Longest silence that was followed, s.
        longest_s: f64,
        /// Longest way in such a silence, m.
        longest_m: f64,
    },
}

impl AboutLog {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Count, Length, Time};
        match self {
            Self::InputSkipped { count, .. } => {
                let card = Card::new("input_skipped", "Input left out", Stake::Data);
                match *count {
                    0 => card.figure(1.0, Count("files")),
                    count => card.figure(count as f64, Count("items")),
                }
            }
            Self::ReadingOdd { count, .. } => Card::new("reading_odd", "Odd readings", Stake::Data)
                .figure(*count as f64, Count("items")),
            Self::NoLog => Card::new("no_log", "No log received", Stake::Data),
            Self::CoarseLog {
                interval_s,
                limit_s,
            } => Card::new("coarse_log", "Log too coarse", Stake::Data).against(
                *interval_s,
                *limit_s,
                Time,
            ),
            Self::SparseLog { left_out } => {
                let card = Card::new("sparse_log", "What the log leaves out", Stake::Data);
                // The usual gap between two fixes, in what the logger goes by.
                match *left_out {
                    LeftOut::Time { interval_s } => card.figure(interval_s, Time),
                    LeftOut::Distance { step_m } => card.figure(step_m, Length),
                    LeftOut::OnChange { longest_s, .. } => card.figure(longest_s, Time),
                }
            }
            Self::SharedRigId { distance_m, .. } => {
                Card::new("shared_rig_id", "One rig id twice", Stake::Data)
                    .figure(*distance_m, Length)
            }
            Self::DropoutNearby { seconds, .. } => {
                Card::new("dropout_nearby", "Silence in the log", Stake::Unlogged)
                    .figure(*seconds, Time)
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::InputSkipped {
                file,
                line,
                count,
                why,
            } => skipped(file, *line, *count, why),
            Self::ReadingOdd {
                file,
                line,
                count: number,
                what,
            } => format!(
                "{file}: {}{}: {what}.",
                count(*number, "reading", "readings"),
                first_at(*line)
            ),
            Self::NoLog => {
                "No log was received; what it did is missing from every figure.".to_owned()
            }
            Self::CoarseLog {
                interval_s,
                limit_s,
            } => format!(
                "The log has one fix every {} while moving; beyond {} it cannot show coverage, so only visits and \
                 volume are given.",
                duration(*interval_s),
                duration(*limit_s),
            ),
            Self::SparseLog { left_out } => sparse(*left_out, style),
            Self::SharedRigId { logs, distance_m } => format!(
                "One rig id is in two places at once, up to {} apart; the second run is from {}.",
                style.length(*distance_m),
                names(logs),
            ),
            Self::DropoutNearby {
                count: number,
                seconds,
                unlogged_m2,
                volume_l,
            } => silent(*number, *seconds, *unlogged_m2, *volume_l, style),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::InputSkipped { .. } => {
                "Check the file at the place named; fetch it again from its source if it is damaged."
            }
            Self::ReadingOdd { .. } => {
                "Check the file at the place named; for a log, the rig's [rig.channels] in the fleet file too."
            }
            Self::NoLog => "Fetch the log from the rig and run the audit again.",
            Self::CoarseLog { .. } => "Set the logger to one fix a second.",
            Self::SparseLog { .. } => {
                "Set the logger to one fix a second if it can; else read the starts and ends of swaths with that in \
                 mind."
            }
            Self::SharedRigId { .. } => {
                "Find out which logger rode in which rig and give each its own id."
            }
            Self::DropoutNearby { .. } => {
                "Ask the driver what was done there; check the logger's power and the antenna cable."
            }
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::LOG;
        vec![
            Self::InputSkipped {
                file: LOG.into(),
                line: Some(12),
                count: 3,
                why: "the latitude is not a number".into(),
            },
            Self::ReadingOdd {
                file: LOG.into(),
                line: Some(15),
                count: 65,
                what: "\"15\" is not a reading of `sections`; taken as unknown".into(),
            },
            Self::NoLog,
            Self::CoarseLog {
                interval_s: 10.0,
                limit_s: 5.0,
            },
            Self::SparseLog {
                left_out: LeftOut::Distance { step_m: 10.0 },
            },
            Self::SharedRigId {
                logs: vec!["a.gpx".into(), "b.gpx".into()],
                distance_m: 1_900.0,
            },
            Self::DropoutNearby {
                count: 1,
                seconds: 8.0,
                unlogged_m2: 98.0,
                volume_l: Some(3.2),
            },
        ]
    }
}

fn skipped(file: &str, line: Option<u64>, number: u64, why: &str) -> String {
    // Reasons may come as whole sentences, from an error.
    let why = why.trim_end_matches('.');
    if number == 0 {
        let line = line.map_or_else(String::new, |line| format!(", line {line}"));
        return format!("{file}{line}: not used, or not in full: {why}.");
    }
    let lower = file.to_ascii_lowercase();
    let is_log = lower.ends_with(".gpx") || lower.ends_with(".gpx.gz");
    if lower.ends_with(".csv") {
        // A row may have lost a cell only: the reason says which.
        let rows = count(number, "row", "rows");
        return format!("{file}: {rows}{}: {why}.", first_at(line));
    }
    let things = if is_log {
        count(number, "point", "points")
    } else {
        count(number, "feature", "features")
    };
    format!("{file}: {things} left out{}: {why}.", first_at(line))
}

/// `, the first at line 12`.
pub(super) fn first_at(line: Option<u64>) -> String {
    line.map_or_else(String::new, |line| format!(", the first at line {line}"))
}

/// What such a logger can say and what it cannot, once for all sites.
fn sparse(left_out: LeftOut, style: &Style) -> String {
    match left_out {
        LeftOut::Time { interval_s } => format!(
            "The log has one fix every {} while moving: a switch shows up to that much late, and what switches on and \
             off in between does not show at all.",
            duration(interval_s),
        ),
        LeftOut::Distance { step_m } => format!(
            "The logger writes a fix every {} and none while the rig stands: a switch shows up to that far late, and \
             stops, with what was sprayed during them, do not show.",
            style.short_length(step_m),
        ),
        LeftOut::OnChange {
            longest_s,
            longest_m,
        } => format!(
            "The logger writes a fix when a section switches (section_log), so silences of up to {} and {} were \
             followed: the section states are known there, the path is assumed straight.",
            duration(longest_s),
            style.length(longest_m),
        ),
    }
}

fn silent(
    number: usize,
    seconds: f64,
    unlogged_m2: f64,
    volume_l: Option<f64>,
    style: &Style,
) -> String {
    let liquid = match volume_l {
        Some(volume_l) => format!(
            "the meter total gained {} meanwhile",
            style.volume(volume_l)
        ),
        None => "there is no meter total to tell what was sprayed meanwhile".to_owned(),
    };
    let silence = match number {
        1 => format!("for {}", duration(seconds)),
        _ => format!("{number} times, {} together", duration(seconds)),
    };
    format!(
        "No fixes {silence}; {} is reported as unlogged; {liquid}.",
        style.area(unlogged_m2),
    )
}
