//! Findings about clocks and times of day: what a log's clock says, and what orders' times say of it.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use super::log::first_at;
use crate::notation::names::names;
use crate::notation::numbers::{count, duration, signed_duration};
use crate::notation::style::Style;
use std::borrow::Cow;

/// Receivers count so many weeks (published: GPS interface specification IS-GPS-200).
const ROLLOVER_WEEKS: u32 = 1024;

/// About clocks and times of day.
/// Areas in m2, times in s.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutClocks {
    /// Ordered ground that was treated in the same night outside its time.
    OutsideTime {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Their sites.
        sites: Vec<String>,
        /// Their ground, m2.
        area_m2: f64,
        /// Of the first: how long before its time it was begun (negative), or after it finished, s.
        off_s: f64,
        /// What must be added to the rig's clock so that all of its orders fit.
        shift: Option<ShiftTold>,
    },
    /// A rig that was out while no other was, and would not have been with the night's time zone off its clock.
    ClockApart {
        /// That shift.
        shift: ShiftTold,
        /// Orders that it brings into their time.
        mended: usize,
    },
    /// Orders whose times cannot be read: without them nothing can be late.
    TimesUnread {
        /// File name.
        file: String,
        /// Line of the first.
        line: u64,
        /// How many orders.
        count: u64,
        /// Why the first cannot be read, as a clause.
        why: String,
    },
    /// A log's clock needs a second look: no zone, backwards, another day.
    ClockOdd {
        /// File name.
        file: String,
        /// Line of the first.
        line: Option<u64>,
        /// How many fixes.
        count: u64,
        /// What is odd.
        what: ClockFault,
    },
    /// The fleet file moves the logged times.
    ClockShifted {
        /// Added to them, s.
        offset_s: f64,
    },
}

/// What must be added to a rig's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftTold {
    /// To what its log says now, s.
    pub add_s: f64,
    /// In all, with what the fleet file already adds, s: for `clock_offset`.
    pub offset_s: f64,
    /// Other whole hours that fit as well.
    pub others: usize,
}

/// What is odd about a clock.
#[derive(Debug, Clone, PartialEq)]
pub enum ClockFault {
    /// What the stamps themselves show, as a clause: `times have no zone, read as UTC`.
    Read(String),
    /// It stood still while the rig moved.
    StoodStill,
    /// Its date is another than the other logs'.
    OtherDate {
        /// After theirs, s; negative before.
        off_s: f64,
        /// The receiver's week number rolled over so often.
        rollovers: Option<u32>,
        /// The fleet file already moves its times.
        has_offset: bool,
        /// Further log files of the rig with that date.
        others: usize,
    },
}

impl ClockFault {
    /// ` and 2 more`, after the first file.
    fn others(&self) -> String {
        match self {
            Self::OtherDate { others, .. } if *others > 0 => format!(" and {others} more"),
            _ => String::new(),
        }
    }

    fn clause(&self) -> String {
        match *self {
            Self::Read(ref what) => what.clone(),
            Self::StoodStill => {
                "the clock stopped while the rig moved on; all but the first of each time were left out".to_owned()
            }
            Self::OtherDate {
                off_s,
                rollovers,
                has_offset,
                others: _,
            } => other_date(off_s, rollovers, has_offset),
        }
    }
}

impl AboutClocks {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Count, Time};
        match self {
            Self::OutsideTime { sites, area_m2, .. } => {
                Card::new("outside_time", "Treated outside its time", Stake::NotDone)
                    .figure(*area_m2, Area)
                    .at(sites)
            }
            Self::ClockApart { shift, .. } => {
                Card::new("clock_apart", "Out when no other rig was", Stake::Data)
                    .figure(shift.add_s, Time)
            }
            Self::TimesUnread { count, .. } => {
                Card::new("times_unread", "Order times not understood", Stake::Data)
                    .figure(*count as f64, Count("orders"))
            }
            Self::ClockOdd { count, .. } => Card::new("clock_odd", "Odd clock", Stake::Data)
                .figure(*count as f64, Count("fixes")),
            Self::ClockShifted { offset_s } => {
                Card::new("clock_shifted", "Clock set by the fleet file", Stake::Data)
                    .figure(*offset_s, Time)
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, _style: &Style) -> String {
        match self {
            Self::OutsideTime {
                orders,
                sites,
                off_s,
                shift,
                ..
            } => outside_time(orders, sites, *off_s, shift.as_ref()),
            Self::ClockApart { shift, mended } => clock_apart(shift, *mended),
            Self::TimesUnread {
                file,
                line,
                count: number,
                why,
            } => format!(
                "{file}: the times of {} were not understood, so whether that work was late is not known; line \
                 {line}: {why}.",
                count(*number, "order", "orders"),
            ),
            Self::ClockOdd {
                file,
                line,
                count: number,
                what,
            } => {
                format!(
                    "{file}{}: {} ({}{}).",
                    what.others(),
                    what.clause(),
                    count(*number, "fix", "fixes"),
                    first_at(*line)
                )
            }
            Self::ClockShifted { offset_s } => format!(
                "The logged times were shifted by {} (clock_offset in the fleet file).",
                signed_duration(*offset_s),
            ),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> Cow<'static, str> {
        let plain = match self {
            Self::OutsideTime {
                shift: Some(shift), ..
            } => {
                return format!(
            "Check the logger's clock against the time of day. If it is off, put {} for the rig in the fleet file and \
             audit again; if not, ask the crew, and send a rig where the work is still to be done.",
            clock_line(shift)
        )
        .into();
            }
            Self::OutsideTime { .. } => {
                "Ask the crew when and why it was treated then; send a rig where the work is still to be done."
            }
            Self::ClockApart { shift, .. } => {
                return format!(
                    "Check the logger's clock against the time of day; if it is off, put {} for the rig in the fleet \
                     file and audit again.",
                    clock_line(shift)
                )
                .into();
            }
            Self::TimesUnread { .. } => {
                "Write times as 2026-01-12 05:30, or with their zone as 2026-01-12T05:30:00-06:00, and audit again."
            }
            Self::ClockOdd { .. } => {
                "Check the logger's clock and its time-zone setting before relying on these times."
            }
            Self::ClockShifted { .. } => {
                "Check it against the rig's clock now and then; remove `clock_offset` once the clock is corrected."
            }
        };
        plain.into()
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::LOG;
        let later = ShiftTold {
            add_s: 18_000.0,
            offset_s: 18_000.0,
            others: 3,
        };
        vec![
            Self::OutsideTime {
                orders: vec!["N-1".into(), "N-3".into()],
                sites: vec!["quay".into(), "mill".into()],
                area_m2: 7_000.0,
                off_s: -15_240.0,
                shift: Some(later),
            },
            Self::OutsideTime {
                orders: vec!["N-1".into()],
                sites: vec!["quay".into()],
                area_m2: 7_000.0,
                off_s: 15_240.0,
                shift: None,
            },
            Self::ClockApart {
                shift: later,
                mended: 1,
            },
            Self::TimesUnread {
                file: "orders.csv".into(),
                line: 2,
                count: 3,
                why: "`by` cannot be read (\"1/12/2026 5:30 AM\" is not a time)".into(),
            },
            Self::ClockOdd {
                file: LOG.into(),
                line: Some(9),
                count: 3_600,
                what: ClockFault::Read("times have no zone, read as UTC".into()),
            },
            Self::ClockShifted { offset_s: -3_600.0 },
        ]
    }
}

fn outside_time(
    orders: &[String],
    sites: &[String],
    off_s: f64,
    shift: Option<&ShiftTold>,
) -> String {
    let asked = match orders {
        [order] => format!("order {order}"),
        _ => format!("{} orders ({})", orders.len(), names(orders)),
    };
    let when = match off_s {
        off_s if off_s < 0.0 => format!("begun {} before its window opens", duration(-off_s)),
        off_s => format!("finished {} after its window ends", duration(off_s)),
    };
    let clock = shift.map_or_else(
        || {
            "no single shift of its clock brings all of this rig's orders into their time"
                .to_owned()
        },
        |shift| {
            let others = match shift.others {
                0 => String::new(),
                others => format!(
                    ", as {} would",
                    count(others as u64, "other whole hour", "other whole hours")
                ),
            };
            format!(
                "{} on its clock brings all of this rig's orders into their time{others}",
                signed_duration(shift.add_s)
            )
        },
    );
    format!(
        "The ground of {asked} at {} was treated outside its time, the first {when}; {clock}.",
        names(sites)
    )
}

fn clock_apart(shift: &ShiftTold, mended: usize) -> String {
    let orders = match mended {
        0 => "its orders are in time either way".to_owned(),
        mended => format!(
            "that would bring {} into its time",
            count(mended as u64, "order", "orders")
        ),
    };
    format!(
        "By its log no other rig was out at that time; with {} on its clock, the difference between local time and \
         UTC, others were: {orders}.",
        signed_duration(shift.add_s)
    )
}

/// The key for the fleet file, in the greatest unit that needs no fraction.
fn clock_line(shift: &ShiftTold) -> String {
    let seconds = shift.offset_s.round();
    let whole = |unit_s: f64| (seconds / unit_s).fract().abs() < 1e-9;
    let (number, unit) = if whole(3_600.0) {
        (seconds / 3_600.0, "h")
    } else if whole(60.0) {
        (seconds / 60.0, "min")
    } else {
        (seconds, "s")
    };
    format!("clock_offset = \"{number:.0} {unit}\"")
}

/// How far the times are from the others', and what to write where a week number rolled over.
fn other_date(off_s: f64, rollovers: Option<u32>, has_offset: bool) -> String {
    let side = if off_s < 0.0 { "before" } else { "after" };
    let Some(rollovers) = rollovers else {
        // More than two, or they would be of one night.
        let days = (off_s.abs() / 86_400.0).round();
        return format!("the times are {days} days {side} those of the other logs");
    };
    let weeks = rollovers * ROLLOVER_WEEKS;
    let sign = if off_s < 0.0 { "" } else { "-" };
    let key = if has_offset {
        format!("add {sign}{weeks} weeks to its clock_offset")
    } else {
        format!("set clock_offset = \"{sign}{weeks} weeks\" for the rig")
    };
    format!(
        "the times are {weeks} weeks {side} those of the other logs: the receiver's week number rolled over; {key}"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_date_says_what_to_write_where_weeks_rolled_over() {
        let weeks_s = |weeks: f64| weeks * 604_800.0;
        let back = other_date(weeks_s(-2048.0), Some(2), false);
        assert!(back.contains("clock_offset = \"2048 weeks\""), "{back}");
        let ahead = other_date(weeks_s(1024.0), Some(1), false);
        assert!(ahead.contains("clock_offset = \"-1024 weeks\""), "{ahead}");
        assert!(other_date(weeks_s(-1024.0), Some(1), true).contains("add 1024 weeks"));
        assert_eq!(
            other_date(-7.2 * 86_400.0, None, false),
            "the times are 7 days before those of the other logs"
        );
    }
}
