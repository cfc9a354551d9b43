//! Findings: there is a result, read this about it.
//!
//! Every stage may return findings; [`crate::verdict`] makes those that need the whole night. A finding carries its
//! figures in SI.
//!
//! The kinds stand by subject, one file each, with all that there is to one kind: its figures, its card (code, title,
//! stake, figure), its sentence, what to check, a sample. A kind is added there and at the place that raises it; the
//! compiler asks for every part. `docs/formats.md` and `docs/audit.schema.json` list the codes, which tests hold.

pub mod card;
pub mod cause;
pub mod clocks;
pub mod cover;
pub mod liquid;
pub mod log;
pub mod meter;
pub mod orders;
pub mod positions;
pub mod rate;
pub mod rig;
#[cfg(test)]
pub(crate) mod sample;
pub mod sections;
pub mod sites;
mod text;

use crate::geometry::place::{Instant, LonLat};
use crate::notation::style::Style;
use card::{Card, Figure};
use clocks::AboutClocks;
use cover::AboutCover;
use liquid::AboutLiquid;
use log::AboutLog;
use meter::AboutMeter;
use orders::AboutOrders;
use positions::AboutPositions;
use rate::AboutRate;
use rig::AboutRig;
use serde::Serialize;
use sites::AboutSites;
use std::borrow::Cow;

/// How much a finding matters. The order is the order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Send a rig (or a crew) before the cars arrive.
    GoBack,
    /// Somebody should check a rig, a setting or a file.
    LookInto,
    /// Nothing to do; it explains a number.
    ForTheRecord,
}

/// Something to read, about one cause at one rig, site or zone.
#[derive(Debug, Clone)]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// What it is, with its figures.
    pub kind: Kind,
    /// Rig id.
    pub rig: Option<String>,
    /// Site id.
    pub site: Option<String>,
    /// Zone id.
    pub zone: Option<String>,
    /// When it began.
    pub start: Option<Instant>,
    /// Where to look.
    pub place: Option<LonLat>,
    /// The log of the rig at work there breaks off there at this time: what it did next may be missing.
    pub log_ends: Option<Instant>,
    /// Rank within the severity, greater first: what it costs or risks, in m2 of ground (litres and
    /// seconds are brought to it by the caller).
    pub weight: f64,
}

impl Finding {
    /// A finding without a place; the caller fills in what it knows.
    #[must_use]
    pub fn new(severity: Severity, kind: impl Into<Kind>) -> Self {
        Self {
            severity,
            kind: kind.into(),
            rig: None,
            site: None,
            zone: None,
            start: None,
            place: None,
            log_ends: None,
            weight: 0.0,
        }
    }

    /// The sites that it is about, also those of a list.
    pub fn sites(&self) -> impl Iterator<Item = &str> {
        let listed = self.kind.card().sites;
        self.site.iter().chain(listed).map(String::as_str)
    }
}

/// The kinds, by subject: one line here, and each subject has its own type with the same five parts.
macro_rules! subjects {
    ($($(#[$doc:meta])* $subject:ident($about:ident),)*) => {
        /// What a finding is about, by subject.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Kind {
            $($(#[$doc])* $subject($about),)*
        }

        impl Kind {
            /// Its index card: code, title, stake, figure.
            #[must_use]
            pub fn card(&self) -> Card<'_> {
                match self {
                    $(Self::$subject(about) => about.card(),)*
                }
            }

            /// Its figures in a sentence, without place and time.
            #[must_use]
            pub fn sentence(&self, style: &Style) -> String {
                match self {
                    $(Self::$subject(about) => about.sentence(style),)*
                }
            }

            /// What to check or do about it.
            fn check(&self, severity: Severity) -> Cow<'static, str> {
                match self {
                    $(Self::$subject(about) => about.check(severity).into(),)*
                }
            }

            /// One of every kind, and more where the words differ.
            #[cfg(test)]
            pub(crate) fn samples() -> Vec<Self> {
                let mut all = Vec::new();
                $(all.extend($about::samples().into_iter().map(Self::from));)*
                all
            }
        }

        $(impl From<$about> for Kind {
            fn from(about: $about) -> Self {
                Self::$subject(about)
            }
        })*
    };
}

subjects! {
    /// Work asked for, its time, its product.
    Orders(AboutOrders),
    /// Ground that was treated, was not, or was treated twice.
    Cover(AboutCover),
    /// Liquid per area, against the target.
    Rate(AboutRate),
    /// Liquid that ended where it should not.
    Liquid(AboutLiquid),
    /// The boom, its sections, how the rig drove.
    Rig(AboutRig),
    /// The meter and what it can tell.
    Meter(AboutMeter),
    /// Logged positions.
    Positions(AboutPositions),
    /// Clocks, and what the times of orders say of them.
    Clocks(AboutClocks),
    /// Log files, readings, silences.
    Log(AboutLog),
    /// The sites file and the grounds drawn in it.
    Sites(AboutSites),
}

impl Kind {
    /// The code, as in `audit.json`.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.card().code
    }

    /// Its figure; `None` where there is nothing to count or measure.
    #[must_use]
    pub fn figure(&self) -> Option<Figure> {
        self.card().figure
    }

    /// Ground that was to be treated and got nothing or too little: bare patches, thin cover, an order not done.
    #[must_use]
    pub fn is_missed_ground(&self) -> bool {
        matches!(
            self,
            Self::Cover(AboutCover::BarePatch(_) | AboutCover::ThinCover { .. })
                | Self::Orders(AboutOrders::NotDone(_))
        )
    }
}
