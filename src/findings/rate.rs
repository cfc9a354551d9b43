//! Findings about the rate on the ground, against the target.

use super::Severity;
use super::card::hands_on;
use super::card::{Card, Quantity, Stake};
use crate::notation::numbers::percent;
use crate::notation::style::Style;

/// About the rate on the ground, against the target.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutRate {
    /// The mean rate is outside the band around the target.
    OffRate {
        /// Swept rate.
        rate_ml_m2: f64,
        /// Target.
        target_ml_m2: f64,
        /// Half-width of the band, as a fraction.
        band: f64,
    },
    /// The controller was set to another rate than the target.
    SetRateDiffers {
        /// Set on the controller, most of the spraying time.
        set_ml_m2: f64,
        /// Target.
        target_ml_m2: f64,
        /// Greatest difference, as a fraction.
        limit: f64,
    },
    /// The mean may be right, but the liquid lies unevenly.
    Uneven {
        /// Share of the treated ground with too little.
        share_low: f64,
        /// Greatest share with too little.
        limit_low: f64,
        /// Share of the treated ground with too much.
        share_high: f64,
        /// Greatest share with too much.
        limit_high: f64,
    },
}

impl AboutRate {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Rate, Share};
        match self {
            Self::OffRate {
                rate_ml_m2,
                target_ml_m2,
                band,
            } => Card::new(
                "off_rate",
                "Off the target rate",
                low_or_money(rate_ml_m2 < target_ml_m2),
            )
            .against(
                *rate_ml_m2,
                nearer_bound(*rate_ml_m2, *target_ml_m2, *band),
                Rate,
            ),
            Self::SetRateDiffers {
                set_ml_m2,
                target_ml_m2,
                limit,
            } => Card::new(
                "set_rate_differs",
                "Controller set to another rate",
                low_or_money(set_ml_m2 < target_ml_m2),
            )
            .against(
                *set_ml_m2,
                nearer_bound(*set_ml_m2, *target_ml_m2, *limit),
                Rate,
            ),
            Self::Uneven {
                share_low,
                limit_low,
                share_high,
                limit_high,
            } => {
                let card = Card::new("uneven", "Uneven", low_or_money(share_low > limit_low));
                // The one that is farther over its own limit.
                if share_low * limit_high >= share_high * limit_low {
                    card.against(*share_low, *limit_low, Share)
                } else {
                    card.against(*share_high, *limit_high, Share)
                }
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::OffRate {
                rate_ml_m2,
                target_ml_m2,
                band,
            } => format!(
                "The swept rate is {}, {} the target of {}; the band is {} either way.",
                style.rate(*rate_ml_m2),
                over_or_under(*rate_ml_m2, *target_ml_m2),
                style.rate(*target_ml_m2),
                percent(*band),
            ),
            Self::SetRateDiffers {
                set_ml_m2,
                target_ml_m2,
                limit,
            } => format!(
                "The controller was set to {}, {} the target of {}; the limit is {} either way.",
                style.rate(*set_ml_m2),
                over_or_under(*set_ml_m2, *target_ml_m2),
                style.rate(*target_ml_m2),
                percent(*limit),
            ),
            Self::Uneven {
                share_low,
                limit_low,
                share_high,
                limit_high,
            } => uneven((*share_low, *limit_low), (*share_high, *limit_high)),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::OffRate {
                rate_ml_m2,
                target_ml_m2,
                ..
            } => off_rate(*rate_ml_m2 < *target_ml_m2),
            Self::SetRateDiffers { .. } => {
                "Ask who chose the setting and why; then correct the controller or the target."
            }
            Self::Uneven { .. } => hands_on!(
                "check nozzles and strainers for blockage, section valves, and how steadily the controller follows \
             the speed."
            ),
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::TARGET_ML_M2;
        vec![
            Self::OffRate {
                rate_ml_m2: TARGET_ML_M2 * 1.25,
                target_ml_m2: TARGET_ML_M2,
                band: 0.1,
            },
            Self::SetRateDiffers {
                set_ml_m2: 24.0,
                target_ml_m2: TARGET_ML_M2,
                limit: 0.05,
            },
            Self::Uneven {
                share_low: 0.12,
                limit_low: 0.1,
                share_high: 0.03,
                limit_high: 0.05,
            },
        ]
    }
}

/// Each a share of the treated ground and its limit; only limits that were passed are named.
fn uneven(low: (f64, f64), high: (f64, f64)) -> String {
    let told = [(low, "under half"), (high, "over 2.2 times")];
    let passed = told.into_iter().filter(|((share, limit), _)| share > limit);
    let parts: Vec<String> = passed
        .map(|((share, limit), what)| {
            format!(
                "{} of the treated ground got {what} the target (limit {})",
                percent(share),
                percent(limit)
            )
        })
        .collect();
    format!("{}.", parts.join(", "))
}

/// `25 % over`, `8 % under`.
fn over_or_under(rate_ml_m2: f64, target_ml_m2: f64) -> String {
    let difference = rate_ml_m2 / target_ml_m2 - 1.0;
    let side = if difference < 0.0 { "under" } else { "over" };
    format!("{} {side}", percent(difference.abs()))
}

fn off_rate(under: bool) -> &'static str {
    if under {
        "Check set rate, pressure, boom width and meter constant; then, engine off, pressure relieved, eyes protected, \
         blocked nozzles or strainers. A catch test at the boom settles it."
    } else {
        "Check set rate, boom width, speed and meter constant; then, engine off, pressure relieved, eyes protected, \
         worn or wrong nozzles. A catch test at the boom settles it."
    }
}

/// The edge of the band around the target on the side where the rate is.
fn nearer_bound(rate_ml_m2: f64, target_ml_m2: f64, band: f64) -> f64 {
    let signed = if rate_ml_m2 < target_ml_m2 {
        -band
    } else {
        band
    };
    target_ml_m2 * (1.0 + signed)
}

/// Too little on the ground risks ice, too much costs money.
fn low_or_money(low: bool) -> Stake {
    if low { Stake::LowRate } else { Stake::Money }
}
