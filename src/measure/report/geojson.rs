//! `measure.geojson`: reach, hand work, edge strip, gaps left and lanes, for any GIS. RFC 7946; figures in SI.

use crate::geometry::overlay::degrees::STEPS_PER_DEGREE;
use crate::measure::sheet::{DrivenLane, RigSheet, Sheet, SiteSheet};
use crate::report::geojson::geometry;
use crate::report::json::{AREA_STEPS_PER_M2, STEPS_PER_UNIT, round};
use ::geojson::{Feature, FeatureCollection, Geometry, JsonObject, Position};
use serde_json::{Value, json};

/// The bytes of `measure.geojson`.
#[must_use]
pub fn render(sheet: &Sheet) -> Vec<u8> {
    let features = sheet
        .sites
        .iter()
        .flat_map(|site| site.rigs.iter().flat_map(move |rig| of_rig(site, rig)));
    let mut bytes = FeatureCollection::new(features).to_string().into_bytes();
    bytes.push(b'\n');
    bytes
}

fn area(m2: Option<f64>) -> (&'static str, Value) {
    let rounded = |m2: f64| json!(round(m2, AREA_STEPS_PER_M2));
    ("area_m2", m2.map_or(Value::Null, rounded))
}

fn metres(name: &'static str, m: Option<f64>) -> (&'static str, Value) {
    let rounded = |m: f64| json!(round(m, STEPS_PER_UNIT));
    (name, m.map_or(Value::Null, rounded))
}

/// The way of the boom's middle along a lane.
fn lane_line(driven: &DrivenLane) -> Geometry {
    let line = driven.line.iter().map(|place| {
        let degrees = [place.lon_deg, place.lat_deg].map(|deg| round(deg, STEPS_PER_DEGREE));
        Position::from(degrees)
    });
    Geometry::new_line_string(line.collect::<Vec<_>>())
}

fn of_rig(site: &SiteSheet, rig: &RigSheet) -> Vec<Feature> {
    let shapes = &rig.shapes;
    let feature = |kind: &str, geometry: Option<Geometry>, figures: Vec<(&str, Value)>| {
        let mut properties = JsonObject::new();
        properties.insert("site".into(), json!(site.site));
        properties.insert("rig".into(), json!(rig.rig));
        properties.insert("kind".into(), json!(kind));
        properties.extend(
            figures
                .into_iter()
                .map(|(name, value)| (name.to_owned(), value)),
        );
        geometry.map(|geometry| Feature {
            geometry: Some(geometry),
            properties: Some(properties),
            ..Feature::default()
        })
    };
    let mut features = vec![
        feature("reach", geometry(&shapes.reach), vec![area(rig.reach_m2)]),
        feature(
            "edge_strip",
            geometry(&shapes.edge_strip),
            vec![
                area(rig.edge_strip_m2),
                metres("length_m", rig.edge_strip_m),
            ],
        ),
    ];
    for (index, (hand, shape)) in rig.hand.iter().zip(&shapes.hand).enumerate() {
        let figures = vec![
            ("number", json!(index + 1)),
            ("hand_zone", json!(hand.hand_zone)),
            ("left_by_plan", json!(hand.left_by_plan)),
            area(Some(hand.area_m2)),
            metres("hose_m", hand.hose_m),
        ];
        features.push(feature("hand", geometry(shape), figures));
    }
    if let Some(plan) = &rig.plan {
        features.push(feature(
            "gap",
            geometry(&shapes.gap),
            vec![area(Some(plan.gap_m2))],
        ));
        for (index, driven) in plan.driven.iter().enumerate() {
            let figures = vec![
                ("lane", json!(index + 1)),
                metres("length_m", Some(driven.lane.length_m())),
                ("edge_pass", json!(driven.lane.edge_pass)),
                ("planned", json!("planned, not driven")),
            ];
            features.push(feature("lane", Some(lane_line(driven)), figures));
        }
    }
    features.into_iter().flatten().collect()
}
