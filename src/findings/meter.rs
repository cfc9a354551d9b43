//! Findings about the meter and what it can tell.

use super::Severity;
use super::card::hands_on;
use super::card::{Card, Quantity, Stake};
use crate::notation::numbers::{count, duration};
use crate::notation::style::Style;

/// About the meter and what it can tell.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutMeter {
    /// Liquid comes late at the starts, with a meter that is prompt.
    SlowStart {
        /// How much later than the switch, s.
        late_s: f64,
        /// Bouts that it comes from.
        closings: usize,
    },
    /// The meter reads late; its readings were moved.
    MeterLate {
        /// Lateness, s.
        late_s: f64,
        /// Half of its 95 % interval, s.
        within_s: f64,
        /// Bouts that it comes from.
        closings: usize,
    },
    /// Ends of bouts that read dry for less than the meter may be late: not judged.
    EndsNotJudged {
        /// Way driven there, m.
        length_m: f64,
        /// The meter may be so late, s.
        late_s: f64,
    },
    /// Readings of the meter's total that cannot be.
    MeterOdd {
        /// Readings that the total came back from: left out.
        slips: usize,
        /// Rises that no pump makes: not counted.
        jumps: usize,
        /// Liquid that these, and what resets began with, would come to.
        uncounted_l: f64,
    },
    /// A coarse total may hide a leak with every section closed among what was sprayed.
    PerhapsLeaked {
        /// Best guess.
        volume_l: f64,
        /// 95 % upper bound.
        at_most_l: f64,
        /// Time with every section closed, s.
        closed_s: f64,
        /// Least volume that counts.
        limit_l: f64,
    },
    /// No flow, volume or rate in the log: treated by valve state only.
    ValveStateOnly,
    /// A channel is mapped without a unit and the log gives none either.
    UnitTaken {
        /// File name.
        file: String,
        /// The channel's name.
        channel: &'static str,
        /// The unit taken.
        unit: &'static str,
        /// What the readings come to in that unit, as a fraction of the target; `None` where there is no
        /// target or nothing to tell it by.
        of_target: Option<f64>,
        /// A unit that fits the target, and the fraction with it, where the one taken does not.
        better: Option<(&'static str, f64)>,
    },
}

impl AboutMeter {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Count, Length, Share, Time, Volume};
        match self {
            Self::SlowStart { late_s, .. } => {
                Card::new("slow_start", "Liquid comes late at the starts", Stake::Bare)
                    .figure(*late_s, Time)
            }
            Self::MeterLate { late_s, .. } => {
                Card::new("meter_late", "Meter reads late", Stake::Data).figure(*late_s, Time)
            }
            Self::EndsNotJudged { length_m, .. } => {
                Card::new("ends_not_judged", "Ends of swaths not judged", Stake::Data)
                    .figure(*length_m, Length)
            }
            Self::MeterOdd { slips, jumps, .. } => {
                Card::new("meter_odd", "Odd meter total", Stake::Data)
                    .figure((*slips + *jumps) as f64, Count("fixes"))
            }
            Self::PerhapsLeaked {
                volume_l, limit_l, ..
            } => Card::new(
                "perhaps_leaked",
                "A leak that the meter cannot tell from spraying",
                Stake::Figures,
            )
            .against(*volume_l, *limit_l, Volume),
            Self::ValveStateOnly => Card::new("valve_state_only", "Valve states only", Stake::Data),
            Self::UnitTaken {
                of_target, better, ..
            } => {
                let stake = if better.is_some() {
                    Stake::Figures
                } else {
                    Stake::Data
                };
                let card = Card::new("unit_taken", "Unit not given", stake);
                match *of_target {
                    Some(of_target) => card.figure(of_target, Share),
                    None => card,
                }
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::SlowStart { late_s, closings } => format!(
                "Liquid reaches the boom {late_s:.1} s after the sections open (median of {}), and nothing runs on \
                 after they close: the meter is prompt, and the starts of lanes stay dry.",
                count(*closings as u64, "bout", "bouts"),
            ),
            Self::MeterLate {
                late_s,
                within_s,
                closings,
            } => format!(
                "The meter reads {late_s:.1} s late, to within {within_s:.1} s: over {} the flow follows the open \
                 sections by that much, and what their starts lack runs on after they close. Its readings were moved \
                 earlier to match.",
                count(*closings as u64, "bout of spraying", "bouts of spraying"),
            ),
            Self::EndsNotJudged { length_m, late_s } => format!(
                "Swath ends of {} in all read dry for no longer than the meter may lag ({late_s:.1} s); they count as \
                 treated and are not judged.",
                style.length(*length_m)
            ),
            Self::MeterOdd {
                slips,
                jumps,
                uncounted_l,
            } => meter_odd(*slips as u64, *jumps as u64, *uncounted_l, style),
            Self::PerhapsLeaked {
                volume_l,
                at_most_l,
                closed_s,
                ..
            } => format!(
                "The meter's steps are too coarse to tell a leak from spraying: about {}, at most {}, ran through in \
                 {} with every section closed and was counted as sprayed. This rig's rates and doses are too high by \
                 that much.",
                style.volume(*volume_l),
                style.volume(*at_most_l),
                duration(*closed_s),
            ),
            Self::ValveStateOnly => {
                "The log has no flow, volume or rate: ground counts as treated by valve state alone, without rates."
                    .to_owned()
            }
            Self::UnitTaken {
                file,
                channel,
                unit,
                of_target,
                better,
            } => unit_taken(file, channel, unit, *of_target, *better),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::SlowStart { .. } => hands_on!(
                "check for a slow section valve, a leaking check valve that lets the boom drain back, and air in the boom; \
             or open earlier (open_delay in the controller)."
            ),
            Self::MeterLate { .. } => {
                "Put it in the fleet file as the meter's delay, or set a shorter averaging time in the controller; \
                 delay = \"0 s\" leaves the readings as they are."
            }
            Self::EndsNotJudged { .. } => {
                "Give the meter's delay in the fleet file (\"0 s\" for a prompt one) to have them judged."
            }
            Self::MeterOdd { .. } => {
                "Check the meter's plug and cable, and whether another meter or a refill was counted; compare \
             the volume with the tank."
            }
            Self::PerhapsLeaked { .. } => {
                "From the seat, close all sections with the pump on and watch the total. Then engine off, pressure relieved, \
             eyes protected: check the section valves and the return line; nozzles and set rate come after that."
            }
            Self::ValveStateOnly => {
                "Log the meter if the rig has one, or map its element in the fleet file."
            }
            Self::UnitTaken {
                better: Some(_), ..
            } => {
                "Find out which unit the logger writes and name it in [rig.channels]; do not rely on this rig's rates \
                 until then."
            }
            Self::UnitTaken { .. } => "Name the unit in [rig.channels] of the fleet file.",
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::LOG;
        vec![
            Self::SlowStart {
                late_s: 2.6,
                closings: 31,
            },
            Self::MeterLate {
                late_s: 3.4,
                within_s: 0.3,
                closings: 42,
            },
            Self::EndsNotJudged {
                length_m: 240.0,
                late_s: 5.0,
            },
            Self::MeterOdd {
                slips: 2,
                jumps: 1,
                uncounted_l: 4_000.0,
            },
            Self::PerhapsLeaked {
                volume_l: 208.0,
                at_most_l: 240.0,
                closed_s: 1_900.0,
                limit_l: 20.0,
            },
            Self::ValveStateOnly,
            Self::UnitTaken {
                file: LOG.into(),
                channel: "flow",
                unit: "L/min",
                of_target: Some(0.98),
                better: None,
            },
            Self::UnitTaken {
                file: LOG.into(),
                channel: "flow",
                unit: "L/min",
                of_target: Some(0.26),
                better: Some(("gal/min", 0.99)),
            },
        ]
    }
}

fn meter_odd(slips: u64, jumps: u64, uncounted_l: f64, style: &Style) -> String {
    let slipped = format!(
        "{} left out as spikes from which the meter total came back.",
        count(slips, "reading was", "readings were")
    );
    let jumped = format!(
        "The meter total rose faster than a pump can deliver, {}; {} not counted.",
        count(jumps, "time", "times"),
        style.volume(uncounted_l),
    );
    match (slips, jumps) {
        (_, 0) => slipped,
        (0, _) => jumped,
        _ => format!("{jumped} {slipped}"),
    }
}

fn unit_taken(
    file: &str,
    channel: &str,
    unit: &str,
    of_target: Option<f64>,
    better: Option<(&str, f64)>,
) -> String {
    let said = format!("{file}: `{channel}` is mapped without a unit; {unit} was assumed");
    let percent = |fraction: f64| format!("{:.0} %", 100.0 * fraction);
    match (of_target, better) {
        (Some(taken), Some((other, fits))) => format!(
            "{said}, which gives {} of the target rate; {other} would give {}.",
            percent(taken),
            percent(fits)
        ),
        (Some(taken), None) => {
            format!("{said}, which gives {} of the target rate.", percent(taken))
        }
        (None, _) => format!("{said}."),
    }
}
