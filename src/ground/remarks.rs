//! Findings about drawn zones: what was repaired, left out, or drawn twice over.

use super::drawn::on_plane;
use crate::findings::sites::{AboutSites, Remark};
use crate::findings::{Finding, Severity};
use crate::geometry::plane::{Plane, signed_area_m2};
use crate::input::sites::{DrawnZone, LandUse};

/// Two areas that differ by less than this fraction, or by [`SAME_AREA_M2`], are the same: coordinates are rounded to
/// a grid of 60 nm (tolerance).
const SAME_AREA: f64 = 1e-6;
/// See [`SAME_AREA`], m2 (tolerance).
const SAME_AREA_M2: f64 = 1e-3;

/// Overlaps of zones of one use below this are drawing noise along a shared edge, m2 (tolerance).
const OVERLAP_NOISE_M2: f64 = 0.5;

/// A finding when the rings did not enclose what they drew, or when the reader had to close them.
pub(super) fn repair(zone: &DrawnZone, plane: &Plane, after_m2: f64) -> Option<Finding> {
    let before_m2: f64 = zone
        .polygons
        .iter()
        .flat_map(|polygon| polygon.iter().enumerate())
        .filter_map(|(place, ring)| {
            let area_m2 = signed_area_m2(&on_plane(plane, ring)?).abs();
            Some(if place == 0 { area_m2 } else { -area_m2 })
        })
        .sum();
    let mut faults = zone.faults.clone();
    if (before_m2 - after_m2).abs() > SAME_AREA_M2.max(SAME_AREA * after_m2.max(before_m2)) {
        faults.push(
            if before_m2 < after_m2 {
                "ring crosses itself"
            } else {
                "ring or polygon drawn twice over"
            }
            .into(),
        );
    }
    if faults.is_empty() {
        return None;
    }
    let fault = faults.join(", ");
    let mut finding = Finding::new(
        Severity::LookInto,
        AboutSites::RingRepaired {
            fault,
            before_m2,
            after_m2,
        },
    );
    place_in(&mut finding, zone);
    finding.weight = (after_m2 - before_m2).abs();
    Some(finding)
}

/// A remark on ground that an earlier zone of the same use has.
pub(super) fn overlap(zone: &DrawnZone, first: &DrawnZone, area_m2: f64) -> Option<Finding> {
    if area_m2 < OVERLAP_NOISE_M2 {
        return None;
    }
    let first = format!("{}/{}", first.site, first.zone);
    let mut finding = remark(zone, Remark::Overlaps { first, area_m2 });
    if zone.land_use == LandUse::Blocked {
        // Nobody treats it, whichever of the two has it.
        finding.severity = Severity::ForTheRecord;
    }
    finding.weight = area_m2;
    Some(finding)
}

/// A zone that its site's plane cannot hold.
pub(super) fn too_far(zone: &DrawnZone) -> Finding {
    remark(zone, Remark::TooFar)
}

/// A zone without ground.
pub(super) fn empty(zone: &DrawnZone) -> Finding {
    remark(zone, Remark::Read("encloses no ground; skipped".to_owned()))
}

/// A remark on a feature of the sites file.
pub(crate) fn remark(zone: &DrawnZone, what: Remark) -> Finding {
    let kind = AboutSites::SiteRemark {
        what,
        feature: zone.feature,
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    place_in(&mut finding, zone);
    finding
}

fn place_in(finding: &mut Finding, zone: &DrawnZone) {
    finding.site = Some(zone.site.clone());
    finding.zone = Some(zone.zone.clone());
    finding.place = zone
        .polygons
        .first()
        .and_then(|rings| rings.first())
        .and_then(|ring| ring.first())
        .copied();
}
