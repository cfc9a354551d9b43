//! Findings about logged positions.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use crate::notation::numbers::{count, duration};
use crate::notation::style::Style;

/// About logged positions.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutPositions {
    /// Positions that cannot be: jumps that no rig can make.
    JumpsDropped {
        /// How many fixes were left out.
        count: u64,
        /// Speed limit, m/s.
        limit_m_s: f64,
    },
    /// Coordinates were logged with few decimals.
    RoundedPositions {
        /// Decimals of degrees.
        decimals: u32,
        /// Their step north, m.
        step_m: f64,
        /// Rounding moves 95 % of the positions by less, m.
        radius_m: f64,
    },
    /// Places that the receiver disowns: bridged by a curve, or left where they were logged.
    PlacesBridged {
        /// Fixes whose place is that of the curve.
        bridged: usize,
        /// Fixes in rows too long for one.
        left: usize,
        /// Rows.
        rows: usize,
        /// Longest bridge, s.
        longest_s: f64,
    },
    /// Parked, the receiver drifted by more than the position error that is stated or assumed.
    PositionDrifts {
        /// What the drift comes to (95 %), m.
        shown_m: f64,
        /// Position error of the fleet file, m; `None` where none is stated, and the drift is used.
        told_m: Option<f64>,
    },
}

impl AboutPositions {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Count, Length};
        match self {
            Self::JumpsDropped { count, .. } => {
                Card::new("jumps_dropped", "Impossible positions", Stake::Data)
                    .figure(*count as f64, Count("fixes"))
            }
            Self::RoundedPositions { step_m, .. } => {
                Card::new("rounded_positions", "Rounded positions", Stake::Data)
                    .figure(*step_m, Length)
            }
            Self::PlacesBridged { bridged, left, .. } => Card::new(
                "places_bridged",
                "Positions the receiver doubts",
                Stake::Data,
            )
            .figure((*bridged + *left) as f64, Count("fixes")),
            Self::PositionDrifts { shown_m, told_m } => {
                let card = Card::new(
                    "position_drifts",
                    "Positions drift more than assumed",
                    Stake::Data,
                );
                match *told_m {
                    Some(told_m) => card.against(*shown_m, told_m, Length),
                    None => card.figure(*shown_m, Length),
                }
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::JumpsDropped {
                count: number,
                limit_m_s,
            } => format!(
                "{} left out: positions no rig can reach (faster than {}).",
                count(*number, "fix was", "fixes were"),
                style.units.speed().text(*limit_m_s),
            ),
            Self::RoundedPositions {
                decimals,
                step_m,
                radius_m,
            } => format!(
                "Positions are logged to {decimals} decimal places, in steps of {}; rounding alone puts one in twenty \
                 more than {} off, which is counted in the position error.",
                style.short_length(*step_m),
                style.short_length(*radius_m),
            ),
            Self::PlacesBridged {
                bridged,
                left,
                rows,
                longest_s,
            } => bridged_text(*bridged as u64, *left as u64, *rows as u64, *longest_s),
            Self::PositionDrifts { shown_m, told_m } => {
                let use_of_it = match told_m {
                    Some(told_m) => format!(
                        "the fleet file says {}, which was used",
                        style.short_length(*told_m)
                    ),
                    None => "that was used as its position error".to_owned(),
                };
                format!(
                    "While the rig stood still, its positions drifted like those of a receiver with 95 % within {}; \
                     {use_of_it}.",
                    style.short_length(*shown_m),
                )
            }
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::JumpsDropped { .. } => {
                "Check the antenna's mount, cable and view of the sky; canopies and tall walls do this too."
            }
            Self::RoundedPositions { .. } => {
                "Set the logger or the export to seven decimal places."
            }
            Self::PlacesBridged { .. } => {
                "Check the antenna's mount and its view of the sky; walls and canopies beside the lot do this too."
            }
            Self::PositionDrifts { .. } => {
                "Set the rig's position error in the fleet file from the receiver's data sheet and a test in the yard."
            }
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        vec![
            Self::JumpsDropped {
                count: 12,
                limit_m_s: 45.0,
            },
            Self::RoundedPositions {
                decimals: 5,
                step_m: 1.11,
                radius_m: 0.57,
            },
            Self::PlacesBridged {
                bridged: 22,
                left: 16,
                rows: 9,
                longest_s: 7.0,
            },
            Self::PositionDrifts {
                shown_m: 2.9,
                told_m: Some(0.9),
            },
        ]
    }
}

fn bridged_text(bridged: u64, left: u64, rows: u64, longest_s: f64) -> String {
    let rows = count(rows, "stretch", "stretches");
    let curve = format!(
        "{} in {rows} of up to {} were bridged by a curve between good ones",
        count(bridged, "position", "positions"),
        duration(longest_s),
    );
    let stays = format!(
        "{} stayed as logged, in stretches too long to bridge",
        count(left, "position", "positions"),
    );
    let what = match (bridged, left) {
        (_, 0) => curve,
        (0, _) => stays,
        _ => format!("{curve}; {stays}"),
    };
    format!(
        "Reception was poor at times, by the dilution of precision or by steps to the side that no rig makes: {what}. \
         They count as less certain."
    )
}
