//! Findings about liquid that ended where it should not, or that nobody meant to lay.

use super::Severity;
use super::card::hands_on;
use super::card::{Card, Quantity, Stake};
use crate::notation::numbers::{duration, percent};
use crate::notation::style::Style;

/// About liquid that ended where it should not, or that nobody meant to lay.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutLiquid {
    /// Keep-off ground was sprayed.
    KeepOffWet {
        /// Ground sprayed, beyond the position error.
        area_m2: f64,
        /// Smallest area that counts.
        limit_m2: f64,
        /// Liquid on it.
        volume_l: Option<f64>,
    },
    /// Liquid was sprayed away from every zone.
    Strayed {
        /// Liquid outside all zones, beyond the position error.
        volume_l: f64,
        /// Its share of what the rig sprayed.
        share: f64,
        /// Greatest share.
        limit: f64,
    },
    /// Liquid ran while the rig stood.
    ParkedFlow {
        /// Liquid.
        volume_l: f64,
        /// How long.
        seconds: f64,
        /// Least volume that counts.
        limit_l: f64,
    },
    /// Liquid passed the meter with every section closed.
    ClosedFlow {
        /// Liquid.
        volume_l: f64,
        /// Its share of the metered liquid.
        share: f64,
        /// Greatest share.
        limit: f64,
    },
    /// What a rig laid on ground that was treated already.
    LaidTwice {
        /// Liquid.
        volume_l: f64,
        /// Its share of the rig's liquid on zones.
        share: f64,
    },
}

impl AboutLiquid {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Share, Volume};
        match self {
            Self::KeepOffWet {
                area_m2, limit_m2, ..
            } => Card::new("keep_off_wet", "Keep-off ground sprayed", Stake::KeepOff)
                .against(*area_m2, *limit_m2, Area),
            Self::Strayed { share, limit, .. } => {
                Card::new("strayed", "Sprayed outside the zones", Stake::Money)
                    .against(*share, *limit, Share)
            }
            Self::ParkedFlow {
                volume_l, limit_l, ..
            } => Card::new("parked_flow", "Flow while parked", Stake::Money)
                .against(*volume_l, *limit_l, Volume),
            Self::ClosedFlow { share, limit, .. } => {
                Card::new("closed_flow", "Flow with all sections closed", Stake::Money)
                    .against(*share, *limit, Share)
            }
            Self::LaidTwice { volume_l, .. } => {
                Card::new("laid_twice", "Laid on ground already treated", Stake::Money)
                    .figure(*volume_l, Volume)
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::KeepOffWet {
                area_m2,
                limit_m2,
                volume_l,
            } => {
                let volume = volume_l.map_or_else(String::new, |volume_l| {
                    format!(" with {}", style.volume(volume_l))
                });
                format!(
                    "{} was sprayed{volume}, deeper inside than position error explains (smallest counted: {}).",
                    style.area(*area_m2),
                    style.area(*limit_m2),
                )
            }
            Self::Strayed {
                volume_l,
                share,
                limit,
            } => format!(
                "{} was sprayed outside every zone, {} of what the rig sprayed (limit {}).",
                style.volume(*volume_l),
                percent(*share),
                percent(*limit),
            ),
            Self::ParkedFlow {
                volume_l,
                seconds,
                limit_l,
            } => format!(
                "{} ran out in {} while the rig stood still (smallest counted: {}).",
                style.volume(*volume_l),
                duration(*seconds),
                style.volume(*limit_l),
            ),
            Self::ClosedFlow {
                volume_l,
                share,
                limit,
            } => format!(
                "{} passed the meter with every section closed, {} of the metered liquid (limit {}).",
                style.volume(*volume_l),
                percent(*share),
                percent(*limit),
            ),
            Self::LaidTwice { volume_l, share } => format!(
                "{}, {} of what it laid on zones, went on ground already treated.",
                style.volume(*volume_l),
                percent(*share),
            ),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::KeepOffWet { .. } => {
                "Check the section switching there and the drawn line; follow the product label and what \
             was agreed with the client."
            }
            Self::Strayed { .. } => {
                "coverage.geojson shows where; check that sections close at the exits and that no site is missing \
             from the sites file."
            }
            Self::ParkedFlow { .. } => hands_on!(
                "check for a valve stuck open or a leak; rinsing or filling through the meter looks the same."
            ),
            Self::ClosedFlow { .. } => hands_on!(
                "check for a leaking section valve or a return line behind the meter; gun work that is not logged looks \
             the same."
            ),
            Self::LaidTwice { .. } => "Wider lane spacing and automatic section control reduce it.",
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        vec![
            Self::KeepOffWet {
                area_m2: 25.0,
                limit_m2: 10.0,
                volume_l: Some(1.0),
            },
            Self::Strayed {
                volume_l: 87.0,
                share: 0.04,
                limit: 0.03,
            },
            Self::ParkedFlow {
                volume_l: 23.0,
                seconds: 45.0,
                limit_l: 10.0,
            },
            Self::ClosedFlow {
                volume_l: 30.0,
                share: 0.03,
                limit: 0.02,
            },
            Self::LaidTwice {
                volume_l: 38.0,
                share: 0.17,
            },
        ]
    }
}
