//! Findings about the sites file and the grounds drawn in it.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use crate::geometry::place::Instant;
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
        /// What.
        what: Remark,
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

/// What is remarked on a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// What its properties say or lack, as a clause: `has no use; read as a lot`.
    Read(String),
    /// Ground that an earlier zone of the same use has.
    Overlaps {
        /// The earlier zone, as `site/zone`.
        first: String,
        /// That ground, m2.
        area_m2: f64,
    },
    /// Its site's plane cannot hold it.
    TooFar,
    /// Blocked ground whose time meets some applications.
    MeetsSome {
        /// So many.
        met: usize,
        /// Of so many.
        of: usize,
    },
    /// Blocked ground whose time meets no work at its site.
    MeetsNone {
        /// Blocked from.
        from: Option<Instant>,
        /// Blocked until.
        until: Option<Instant>,
        /// First and last liquid at the site; `None`: its orders are for other times.
        liquid: Option<(Instant, Instant)>,
    },
}

impl Remark {
    /// What is remarked, as a clause.
    #[must_use]
    pub fn clause(&self, style: &Style) -> String {
        match self {
            Self::Read(what) => what.clone(),
            Self::Overlaps { first, area_m2 } => format!(
                "overlaps {first} of the same use by {}; the first in the file has that ground",
                style.area(*area_m2)
            ),
            Self::TooFar => {
                "lies more than 10 km from its site's centre, where areas are no longer accurate; skipped".to_owned()
            }
            Self::MeetsSome { met, of } => format!(
                "is blocked ground whose time meets {met} of {of} applications; it is left out of all of them"
            ),
            Self::MeetsNone { from, until, liquid } => {
                let side = |word: &str, time: &Option<Instant>| {
                    time.map_or_else(String::new, |time| format!(" {word} {}", style.time(time)))
                };
                let work = liquid.map_or_else(
                    || "its orders are for other times".to_owned(),
                    |(first, last)| {
                        let (first, last) = (style.time(first), style.time(last));
                        format!("the liquid here was laid from {first} to {last}")
                    },
                );
                format!(
                    "is blocked ground{}{}, and {work}; left out, so the zones under it keep their ground",
                    side("from", from),
                    side("until", until),
                )
            }
        }
    }
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
                "The outline as drawn had a fault: {fault}. Its area was {}; repaired, it is {}.",
                style.area(*before_m2),
                style.area(*after_m2),
            ),
            Self::SiteRemark { what, feature } => {
                // People count from one.
                format!(
                    "Feature {} of the sites file {}.",
                    feature + 1,
                    what.clause(style)
                )
            }
            Self::GroundByCells { cell_m, off_m } => format!(
                "Swaths lie on top of each other so often here that ground is counted in cells of {}, which moves no \
                 outline by more than {}. Liquid and rates are not affected.",
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
                "Correct the feature in the sites file if this is not what you meant."
            }
            Self::GroundByCells { .. } => {
                "Check that the rig really worked there that long; a log pieced together from others, or a faulty \
                 receiver, does this too."
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
                what: Remark::Read("has no use; read as a lot".into()),
                feature: 3,
            },
            Self::GroundByCells {
                cell_m: 0.1,
                off_m: 0.071,
            },
        ]
    }
}
