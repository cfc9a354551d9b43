//! Findings about the sites file and the grounds drawn in it.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use crate::notation::style::Style;

/// About the sites file and the grounds drawn in it.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutSites {
    /// A drawn ring was repaired.
    RingRepaired {
        /// What was wrong: `crosses itself`, `not closed`, `drawn twice`, ...
        fault: String,
        /// Area as drawn (sum of signed areas), m2.
        before_m2: f64,
        /// Area after.
        after_m2: f64,
    },
    /// A sites file remark that changes no area: missing `use`, zones that overlap, ...
    SiteRemark {
        /// What, as a clause: `has no use; read as a lot`.
        what: String,
        /// Feature number from 0.
        feature: usize,
    },
    /// Outlines lay in a heap on a site: its grounds are made of cells.
    GroundByCells {
        /// Side of a cell, m.
        cell_m: f64,
        /// Outlines are nowhere farther off than this for it, m.
        off_m: f64,
    },
}

impl AboutSites {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Length};
        match self {
            Self::RingRepaired {
                before_m2,
                after_m2,
                ..
            } => Card::new("ring_repaired", "Outline repaired", Stake::Data)
                .figure(after_m2 - before_m2, Area),
            Self::SiteRemark { .. } => {
                Card::new("site_remark", "Remark on the sites file", Stake::Data)
            }
            Self::GroundByCells { off_m, .. } => {
                Card::new("ground_by_cells", "Ground counted in cells", Stake::Data)
                    .figure(*off_m, Length)
            }
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::RingRepaired {
                fault,
                before_m2,
                after_m2,
            } => format!(
                "The outline as drawn had a fault: {fault}. Its area was {}, repaired it is {}.",
                style.area(*before_m2),
                style.area(*after_m2),
            ),
            Self::SiteRemark { what, feature } => {
                // People count from one.
                format!("Feature {} of the sites file {what}.", feature + 1)
            }
            Self::GroundByCells { cell_m, off_m } => format!(
                "Swaths lie on top of each other here so often that its grounds are counted in cells of {}; no \
             outline is farther off for that than {}. Liquid and rates are not touched.",
                style.short_length(*cell_m),
                style.short_length(*off_m),
            ),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> &'static str {
        match self {
            Self::RingRepaired { .. } => {
                "Compare the repaired outline with the ground and redraw it."
            }
            Self::SiteRemark { .. } => {
                "Correct the feature in the sites file if it is not as you meant it."
            }
            Self::GroundByCells { .. } => {
                "Look whether the rig truly worked there for so long; a log made of other logs, or a receiver gone \
             wild, does this too."
            }
        }
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        vec![
            Self::RingRepaired {
                fault: "crosses itself".into(),
                before_m2: 93.0,
                after_m2: 95.0,
            },
            Self::SiteRemark {
                what: "has no use; read as a lot".into(),
                feature: 3,
            },
            Self::GroundByCells {
                cell_m: 0.1,
                off_m: 0.071,
            },
        ]
    }
}
