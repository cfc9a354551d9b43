//! Any bytes as a sites file: read, then the ground divided. The zones must lie beside each other.

use std::path::Path;
use swathbook::geometry::overlay::Region;
use swathbook::ground::{self, Site};
use swathbook::input::sites::{self, SitesReading};

/// Ground that two zones may share: what rounding to the grid leaves along their borders, m2 a metre. Cut
/// ground is rounded to 60 nm a few times over.
const RIM_M2_M: f64 = 1e-6;
/// Sites with more zones than this are not compared pair by pair.
const MOST_COMPARED: usize = 30;

/// Reads the bytes as a sites file in WGS 84.
pub(crate) fn check(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    let SitesReading {
        zones,
        aids: _,
        findings,
        epsg: _,
    } = match sites::read(&text, Path::new("sites.geojson"), None) {
        Ok(reading) => reading,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    super::log::worded(&findings);
    assert!(!zones.is_empty());
    for zone in &zones {
        assert!(!zone.site.is_empty() && !zone.zone.is_empty());
        assert!(zone.priority > 0.0 && zone.target_ml_m2.is_none_or(|rate| rate > 0.0));
        for ring in zone.polygons.iter().flatten() {
            assert!(ring.len() > 3 && ring.first() == ring.last());
            assert!(ring.iter().all(|place| place.is_valid()));
        }
    }
    let Ok((sites, findings)) = ground::divide(&zones, &[]) else {
        return;
    };
    super::log::worded(&findings);
    sites.iter().for_each(divided);
}

fn divided(site: &Site) {
    let mut rim_m = 1.0;
    for zone in &site.zones {
        let length_m: f64 = zone.region.rings().iter().map(|ring| around_m(ring)).sum();
        rim_m += length_m;
        let (drawn_m2, left_m2) = (zone.area_drawn_m2, zone.region.area_m2());
        assert!(drawn_m2.is_finite() && left_m2 >= 0.0 && zone.excluded_m2 >= 0.0);
        assert!(left_m2 + zone.excluded_m2 <= drawn_m2 * (1.0 + 1e-9) + RIM_M2_M * rim_m);
    }
    if site.zones.len() > MOST_COMPARED {
        return;
    }
    let all = Region::union_of(site.zones.iter().map(|zone| &zone.region));
    let sum_m2: f64 = site.zones.iter().map(|zone| zone.region.area_m2()).sum();
    let shared_m2 = sum_m2 - all.area_m2();
    assert!(
        shared_m2.abs() <= RIM_M2_M * rim_m,
        "{}: {shared_m2} m2 shared",
        site.id
    );
}

/// Length of a ring.
pub(crate) fn around_m(ring: &[swathbook::geometry::plane::Xy]) -> f64 {
    let next = ring.iter().cycle().skip(1);
    ring.iter()
        .zip(next)
        .map(|(a, b)| b.minus(*a).length_m())
        .sum()
}
