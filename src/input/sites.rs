//! The sites file: GeoJSON polygons as they were drawn.
//!
//! [`read`] gives polygons in WGS 84 with closed and rightly wound rings; rings that cross themselves
//! and zones that overlap are left to the dividing of the ground.

pub(crate) mod aids;
mod crossings;
mod projection;
mod properties;
mod reading;
mod rings;

pub use aids::{Aid, AidKind, AidShape};
pub use reading::read;

use crate::findings::Finding;
use crate::geometry::place::{Instant, LonLat};
use std::collections::BTreeMap;

/// What came out of the sites file.
#[derive(Debug, Clone)]
pub struct SitesReading {
    /// In the order of the file.
    pub zones: Vec<DrawnZone>,
    /// What says how the zones can be driven, in the order of the file.
    pub aids: Vec<Aid>,
    /// Features that could not be used, and remarks.
    pub findings: Vec<Finding>,
    /// EPSG code of the system that the file was read in; `None`: WGS 84 longitude and latitude.
    pub epsg: Option<u32>,
}

/// One polygon feature as drawn, repaired, not yet divided.
#[derive(Debug, Clone)]
pub struct DrawnZone {
    /// Position of the feature in the file, from 0.
    pub feature: usize,
    /// Site id.
    pub site: String,
    /// Zone id, unique in the site.
    pub zone: String,
    /// Name to show, if any.
    pub name: Option<String>,
    /// Client, if any.
    pub client: Option<String>,
    /// What the ground is.
    pub land_use: LandUse,
    /// How it is treated.
    pub method: Method,
    /// Rate asked for here, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Weight in the ranking; 1 where not given.
    pub priority: f64,
    /// From when the ground is blocked.
    pub blocked_from: Option<Instant>,
    /// Until when the ground is blocked.
    pub blocked_until: Option<Instant>,
    /// Why it is blocked.
    pub reason: Option<String>,
    /// What is on file for the site's service record beside the logs.
    pub record: BTreeMap<String, String>,
    /// Properties of the feature that the program does not know, carried along to the outputs.
    pub others: serde_json::Map<String, serde_json::Value>,
    /// What the reader had to mend in the rings, such as `ring not closed`.
    pub faults: Vec<String>,
    /// Polygons: each a list of rings, the outer first; rings closed, outer counter-clockwise, holes clockwise.
    pub polygons: Vec<Vec<Vec<LonLat>>>,
}

/// Use of a zone. The order is the precedence when the ground is divided: the earlier is cut out of the later.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum LandUse {
    /// Never to be sprayed.
    KeepOff,
    /// Not reachable for a time.
    Blocked,
    /// Sidewalk.
    Walk,
    /// Drive lane.
    Drive,
    /// Parking lot.
    Lot,
    /// The contractor's own yard.
    Yard,
}

impl LandUse {
    /// Ground that is there to be treated.
    #[must_use]
    pub fn is_to_treat(self) -> bool {
        matches!(self, Self::Walk | Self::Drive | Self::Lot)
    }
}

/// How a zone is treated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// By a rig's boom.
    Boom,
    /// On foot.
    Hand,
}

#[cfg(test)]
mod tests;
