//! What belongs to no zone of an application: sprayed keep-off ground, and where the rigs drove.

use super::{STEPS_PER_DEGREE, geometry, rounded};
use crate::geometry::place::LonLat;
use crate::report::earth::{EarthShapes, WetKeepOff};
use crate::report::json::{AREA_STEPS_PER_M2, STEPS_PER_UNIT, round};
use crate::result::{self, Audit};
use crate::site::summary::Trail;
use ::geojson::{Feature, Geometry, JsonObject, Position};
use geo::Polygon;
use serde_json::{Value, json};

/// Keep-off ground of one site that rigs sprayed, as far as it is sure.
pub(super) fn keep_off(audit: &Audit, site: &result::Site, shapes: &EarthShapes) -> Vec<Feature> {
    let wet = shapes.keep_off.iter();
    wet.filter_map(|wet| of_keep_off(audit, site, wet))
        .collect()
}

fn of_keep_off(audit: &Audit, site: &result::Site, wet: &WetKeepOff) -> Option<Feature> {
    let mut properties = JsonObject::new();
    properties.insert("site".into(), json!(site.site));
    properties.insert("zone".into(), json!(site.ground[wet.zone].zone));
    properties.insert("application".into(), Value::Null);
    properties.insert("kind".into(), json!("keep_off_wet"));
    properties.insert("rig".into(), json!(audit.runs[wet.run].rig));
    properties.insert(
        "area_m2".into(),
        rounded(Some(wet.area_m2), AREA_STEPS_PER_M2),
    );
    properties.insert("volume_l".into(), rounded(wet.volume_l, STEPS_PER_UNIT));
    Some(Feature {
        geometry: Some(geometry(&wet.ground)?),
        properties: Some(properties),
        ..Feature::default()
    })
}

/// A line in rounded degrees; `None` where all of it is one place.
fn drawn(line: &[LonLat]) -> Option<Vec<Position>> {
    let degrees = |raw: f64| round(raw, STEPS_PER_DEGREE);
    let mut places: Vec<[f64; 2]> = line
        .iter()
        .map(|at| [degrees(at.lon_deg), degrees(at.lat_deg)])
        .collect();
    places.dedup();
    (places.len() > 1).then(|| places.into_iter().map(Position::from).collect())
}

/// What a run wetted outside all zones.
pub(super) fn outside((run, trail): (&result::Run, &Trail)) -> Option<Feature> {
    let (boxes, area_m2) = &trail.outside;
    let polygon = |corners: &[LonLat; 4]| {
        let ring = corners.iter().map(|at| (at.lon_deg, at.lat_deg));
        Polygon::new(ring.collect(), Vec::new())
    };
    let ground = geometry(&boxes.iter().map(polygon).collect())?;
    let mut properties = of_run("outside_wet", run);
    properties.insert("area_m2".into(), rounded(Some(*area_m2), AREA_STEPS_PER_M2));
    let volume_l = Some(run.ledger_l.outside);
    properties.insert("volume_l".into(), rounded(volume_l, STEPS_PER_UNIT));
    Some(Feature {
        geometry: Some(ground),
        properties: Some(properties),
        ..Feature::default()
    })
}

/// What every feature of a run says.
fn of_run(kind: &str, run: &result::Run) -> JsonObject {
    let mut properties = JsonObject::new();
    properties.insert("site".into(), Value::Null);
    properties.insert("zone".into(), Value::Null);
    properties.insert("application".into(), Value::Null);
    properties.insert("kind".into(), json!(kind));
    properties.insert("rig".into(), json!(run.rig));
    properties.insert("start".into(), json!(run.start));
    properties.insert("end".into(), json!(run.end));
    properties
}

/// Where a run drove; `None` where it never moved.
pub(super) fn driven((run, trail): (&result::Run, &Trail)) -> Option<Feature> {
    let lines: Vec<Vec<Position>> = trail.driven.iter().filter_map(|line| drawn(line)).collect();
    if lines.is_empty() {
        return None;
    }
    Some(Feature {
        geometry: Some(Geometry::new_multi_line_string(lines)),
        properties: Some(of_run("driven", run)),
        ..Feature::default()
    })
}
