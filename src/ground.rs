//! Step 2 of the flow: drawn zones to divided ground, one plane a site.
//!
//! People draw an island as a keep-off polygon on top of a lot without a hole. So the ground is
//! divided before anything is measured: keep-off before blocked before walk before drive before
//! lot before yard, the higher cut out of the lower; where two zones of one use overlap, the first
//! in the file has the ground. After that every spot has at most one zone, across sites too. What
//! blocked ground takes from a zone is kept separate. Ground that is blocked for a time is compared with the time of
//! work at its site, which is known once the rigs' legs are: where they do not meet, the ground is divided again
//! without it.

pub(crate) mod crowd;
mod divider;
pub mod drawn;
pub(crate) mod remarks;

use crate::error::Result;
use crate::findings::Finding;
use crate::geometry::bounds::{Bounds, Boxed};
use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;
use crate::geometry::plane::Plane;
use crate::input::sites::{DrawnZone, LandUse, Method};
use divider::Divider;
use rayon::prelude::*;
use rstar::RTree;

/// Zones of other sites within this distance are divided and kept separate on a site's plane too, so that liquid on a
/// neighbour's ground is not called strayed, m (trade judgement).
pub const NEIGHBOUR_M: f64 = 60.0;

/// One site: its plane, its zones, and the neighbours' ground as seen on that plane.
pub struct Site {
    /// Site id.
    pub id: String,
    /// Name to show.
    pub name: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// Its plane, x along the site's long edge.
    pub plane: Plane,
    /// Bounds of all its zones.
    pub bounds: Bounds,
    /// Zones in the order of the file.
    pub zones: Vec<Zone>,
    /// Ground of other sites nearby, on this site's plane.
    pub neighbours: Vec<(LandUse, Region)>,
    /// Ground of blocked zones of another time that no zone has: nobody's, but legs were cut with it.
    pub lifted: Region,
}

/// One zone's ground.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Zone id.
    pub id: String,
    /// Position of its feature in the sites file, from 0.
    pub feature: usize,
    /// Use.
    pub land_use: LandUse,
    /// Method.
    pub method: Method,
    /// Rate asked for here, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Weight in the ranking.
    pub priority: f64,
    /// What was drawn, m2.
    pub area_drawn_m2: f64,
    /// What blocked ground took from it: its own but for that, and in no other figure, m2.
    pub excluded_m2: f64,
    /// From when it is blocked; `None` when open, or not blocked at all.
    pub blocked_from: Option<Instant>,
    /// Until when it is blocked; the same.
    pub blocked_until: Option<Instant>,
    /// Why it is blocked.
    pub reason: Option<String>,
    /// Other properties, carried along.
    pub others: serde_json::Map<String, serde_json::Value>,
    /// What is left after dividing.
    pub region: Region,
}

impl Zone {
    /// Whether blocked ground is blocked at any time from `start` to `end`: from `blocked_from` on and before
    /// `blocked_until`, either side open where it is missing.
    #[must_use]
    pub fn is_blocked(&self, start: Instant, end: Instant) -> bool {
        self.blocked_from.is_none_or(|from| from <= end)
            && self.blocked_until.is_none_or(|until| until > start)
    }

    /// Ground that the contractor is to treat.
    #[must_use]
    pub fn is_to_treat(&self) -> bool {
        self.land_use.is_to_treat()
    }

    /// The same, by a rig's boom: the only ground whose coverage and dose a log can tell.
    #[must_use]
    pub fn is_by_boom(&self) -> bool {
        self.is_to_treat() && self.method == Method::Boom
    }
}

/// Divides the ground of all sites; the zones at these indices of `drawn` count as not there.
///
/// Sites come in the order of their first feature. Zones that cannot lie on their site's plane
/// (more than 10 km from its centre) are skipped with a finding.
///
/// # Errors
/// When PROJ cannot make a plane, or the zones lie over each other so often that dividing them would take
/// hours.
pub fn divide(drawn: &[DrawnZone], lifted: &[usize]) -> Result<(Vec<Site>, Vec<Finding>)> {
    let mut findings = Vec::new();
    let bounds: Vec<Bounds> = drawn
        .iter()
        .map(|zone| Bounds::of(zone.polygons.iter().flatten().flatten().copied()))
        .map(|bounds| {
            bounds.unwrap_or(Bounds {
                west_deg: 0.0,
                south_deg: 0.0,
                east_deg: 0.0,
                north_deg: 0.0,
            })
        })
        .collect();
    let tree = RTree::bulk_load(
        bounds
            .iter()
            .enumerate()
            .flat_map(|(index, &bounds)| Boxed::all(index, bounds))
            .collect(),
    );
    let mut members: Vec<(&str, Vec<usize>)> = Vec::new();
    let mut index_of = std::collections::HashMap::new();
    for (index, zone) in drawn.iter().enumerate() {
        let at = *index_of.entry(zone.site.as_str()).or_insert(members.len());
        if at == members.len() {
            members.push((&zone.site, Vec::new()));
        }
        members[at].1.push(index);
    }
    crowd::check(drawn, &bounds, &tree, &members)?;
    let divided: Vec<Result<(Option<Site>, Vec<Finding>)>> = members
        .par_iter()
        .map(|(_, own)| {
            Divider {
                drawn,
                bounds: &bounds,
                tree: &tree,
                lifted,
            }
            .site(own)
        })
        .collect();
    let mut sites = Vec::new();
    for result in divided {
        let (site, notes) = result?;
        sites.extend(site);
        findings.extend(notes);
    }
    Ok((sites, findings))
}
