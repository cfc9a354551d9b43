//! Findings about the rig: its boom, its sections, how it drove.

use super::Severity;
use super::card::hands_on;
use super::card::{Card, Quantity, Stake};
use super::sections::ClosedSections;
use crate::notation::names::capital;
use crate::notation::numbers::{count, duration};
use crate::notation::style::Style;
use std::borrow::Cow;

/// About the rig: its boom, its sections, how it drove.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutRig {
    /// Sections were open without liquid.
    OpenDry {
        /// How long, all stretches together.
        seconds: f64,
        /// How far.
        length_m: f64,
        /// How many stretches.
        count: usize,
        /// Shortest stretch that counts, s.
        limit_s: f64,
    },
    /// A section never opened all night.
    NeverOpened {
        /// Which.
        closed: ClosedSections,
        /// How long the others sprayed, s.
        others_open_s: f64,
    },
    /// A boom wider than those of the trade: a slip in the unit?
    WideBoom {
        /// Sprayed width of the whole boom, m.
        width_m: f64,
        /// Number of its sections.
        sections: usize,
        /// Width from which on it is asked about, m.
        limit_m: f64,
    },
    /// A towed boom sprayed in reverse in turns: where it was is not known well.
    ReverseTowed {
        /// Ground of the site's zones in such swaths.
        area_m2: f64,
        /// Patches within their reach that make no finding.
        patches: usize,
        /// Their area together.
        patches_m2: f64,
    },
    /// A rig sprayed where its gear stays uncertain.
    GearUnsure {
        /// Ground of the site's zones in such swaths.
        area_m2: f64,
        /// Patches within their reach that make no finding.
        patches: usize,
        /// Their area together.
        patches_m2: f64,
    },
}

impl AboutRig {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Count, Length, Time};
        match self {
            Self::OpenDry {
                seconds, limit_s, ..
            } => Card::new("dry_run", "Open without liquid", Stake::NotDone)
                .against(*seconds, *limit_s, Time),
            Self::NeverOpened { closed, .. } => {
                Card::new("never_opened", "Section never opened", Stake::Bare)
                    .figure(closed.numbers.len() as f64, Count("sections"))
                    .closed(Some(closed))
            }
            Self::WideBoom {
                width_m, limit_m, ..
            } => Card::new("wide_boom", "Very wide boom", Stake::Figures)
                .against(*width_m, *limit_m, Length),
            Self::ReverseTowed { area_m2, .. } => {
                Card::new("reverse_towed", "Trailer backed up in a turn", Stake::Data)
                    .figure(*area_m2, Area)
            }
            Self::GearUnsure { area_m2, .. } => {
                Card::new("gear_unsure", "Forward or reverse not certain", Stake::Data)
                    .figure(*area_m2, Area)
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::OpenDry {
                seconds,
                length_m,
                count: number,
                limit_s,
            } => format!(
                "Sections were open without liquid for {} over {}, in {} (smallest counted: {}).",
                duration(*seconds),
                style.length(*length_m),
                count(*number as u64, "stretch", "stretches"),
                duration(*limit_s),
            ),
            Self::NeverOpened {
                closed,
                others_open_s,
            } => format!(
                "{} never opened all night; the others sprayed for {}.",
                capital(&closed.named()),
                duration(*others_open_s),
            ),
            Self::WideBoom {
                width_m,
                sections,
                limit_m,
            } => {
                format!(
                    "The fleet file gives this rig a boom of {} in {}: is that right? (booms over {} are queried)",
                    style.length(*width_m),
                    count(*sections as u64, "section", "sections"),
                    style.length(*limit_m),
                ) + "."
            }
            Self::ReverseTowed {
                area_m2,
                patches,
                patches_m2,
            } => reverse_towed(*area_m2, *patches, *patches_m2, style),
            Self::GearUnsure {
                area_m2,
                patches,
                patches_m2,
            } => gear_unsure(*area_m2, *patches, *patches_m2, style),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> Cow<'static, str> {
        let plain = match self {
            Self::OpenDry { .. } => hands_on!(
                "check the tank level, the pump, the suction strainer and the section valves; a meter that stopped \
             counting looks the same."
            ),
            Self::NeverOpened { closed, .. } => return never_opened(closed).into(),
            Self::WideBoom { .. } => {
                "Check the widths and their units against the machine; correct the fleet file if they are a slip."
            }
            Self::ReverseTowed { .. } => {
                "Look at the ground there, and at curbs and planting beside it; coverage.geojson shows where."
            }
            Self::GearUnsure { .. } => {
                "Log the vehicle's heading (the heading channel), or stop for a second when changing direction; \
                 coverage.geojson shows where."
            }
        };
        plain.into()
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        vec![
            Self::OpenDry {
                seconds: 31.0,
                length_m: 119.0,
                count: 2,
                limit_s: 10.0,
            },
            Self::NeverOpened {
                closed: ClosedSections::sample(),
                others_open_s: 2_460.0,
            },
            Self::WideBoom {
                width_m: 42.7,
                sections: 4,
                limit_m: 12.2,
            },
            Self::ReverseTowed {
                area_m2: 61.0,
                patches: 1,
                patches_m2: 14.0,
            },
            Self::GearUnsure {
                area_m2: 62.0,
                patches: 1,
                patches_m2: 14.0,
            },
        ]
    }
}

/// The patches that such swaths keep from being findings.
fn held_back(patches: usize, patches_m2: f64, style: &Style) -> String {
    match patches {
        0 => String::new(),
        _ => format!(
            ", and {} within its reach ({}) makes no finding",
            count(patches as u64, "patch", "patches"),
            style.area(patches_m2),
        ),
    }
}

fn gear_unsure(area_m2: f64, patches: usize, patches_m2: f64, style: &Style) -> String {
    let held_back = held_back(patches, patches_m2, style);
    format!(
        "It sprayed {} where the log does not clearly tell forward from reverse, nor on which side of the antenna the \
         boom was. The ground counts as treated; keep-off ground under it is not judged{held_back}.",
        style.area(area_m2),
    )
}

fn reverse_towed(area_m2: f64, patches: usize, patches_m2: f64, style: &Style) -> String {
    let held_back = held_back(patches, patches_m2, style);
    format!(
        "Its trailer boom sprayed {} backing through turns, where the log does not show well where a pushed trailer \
         was. The ground counts as treated; keep-off ground under it is not judged{held_back}.",
        style.area(area_m2),
    )
}

fn never_opened(closed: &ClosedSections) -> String {
    let more = hands_on!(
        "check switch, master, automatic shut-off, the wiring if the logger reads the valve, and how the fleet file \
         maps the state."
    );
    format!("{more}{}", closed.not_again())
}
