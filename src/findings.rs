//! Findings: there is a result, read this about it.
//!
//! Every stage may return findings; [`crate::verdict`] makes those that need the whole night. A
//! finding carries its figures in SI; [`crate::report::wording`] alone turns it into words.

mod matter;

pub use matter::{ClosedSections, GapCause, InPartReason, LeftOut, Matter, ShiftTold, Side};

use crate::geometry::place::{Instant, LonLat};
use serde::Serialize;

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
    pub matter: Matter,
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
    pub fn new(severity: Severity, matter: Matter) -> Self {
        Self {
            severity,
            matter,
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
        let listed = match &self.matter {
            Matter::NotVisited { sites, .. } | Matter::OutsideTime { sites, .. } => {
                sites.as_slice()
            }
            _ => &[],
        };
        self.site.iter().chain(listed).map(String::as_str)
    }
}
