//! How plans drive: round edges, aisles, stalls, throats.

use super::{
    FLEET, FT, Measured, circle, feature, lon_lat, rectangle, ring, round, sites, with, zone,
};
use serde_json::{Value, json};

/// The lanes of a plan as lines in metres, with their properties.
fn lanes(measured: &Measured) -> Vec<(Vec<[f64; 2]>, Value)> {
    let bytes = std::fs::read(measured.out.join("measure.geojson")).unwrap();
    let document: Value = serde_json::from_slice(&bytes).unwrap();
    let ([lon0, lat0], [lon1, lat1]) = (lon_lat(0.0, 0.0), lon_lat(1000.0, 1000.0));
    let place = |position: &Value| {
        let degrees = |k: usize| position[k].as_f64().unwrap();
        let east_m = (degrees(0) - lon0) / (lon1 - lon0) * 1000.0;
        [east_m, (degrees(1) - lat0) / (lat1 - lat0) * 1000.0]
    };
    let features = document["features"].as_array().unwrap().iter();
    features
        .filter(|feature| feature["properties"]["kind"] == "lane")
        .map(|feature| {
            let line = feature["geometry"]["coordinates"].as_array().unwrap();
            (
                line.iter().map(place).collect(),
                feature["properties"].clone(),
            )
        })
        .collect()
}

/// A line's length and its way from end to end, m.
fn way(line: &[[f64; 2]]) -> (f64, [f64; 2]) {
    let length_m = line
        .windows(2)
        .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
        .sum();
    let (a, b) = (line[0], line[line.len() - 1]);
    (length_m, [b[0] - a[0], b[1] - a[1]])
}

fn aid(site: &str, properties: &str, kind: &str, places: &[(f64, f64)]) -> String {
    let line = ring(places);
    let coordinates = match kind {
        "Polygon" => format!("[{line}]"),
        _ => line,
    };
    feature(
        &format!(r#""site":"{site}",{properties}"#),
        &format!(r#"{{"type":"{kind}","coordinates":{coordinates}}}"#),
    )
}

/// A round lot of 120 ft takes 72 straight lanes (a prototype without bent ones); a tenth of the ground lies in corners
/// between straight lanes and the edge. Passes around it are few.
#[test]
fn a_round_lot_is_driven_around() {
    let measured = Measured::of(FLEET, &round(60.0));
    let lanes = lanes(&measured);
    assert!(lanes.len() <= 24, "{}", lanes.len());
    assert!(
        lanes.iter().any(|(line, _)| line.len() > 60),
        "no lane is bent"
    );
    assert!(measured.plan("gap_m2") < 0.03 * measured.m2("reach_m2"));
}

/// A ring of 40 ft around a hole: 84 straight lanes in a prototype without bent ones.
#[test]
fn a_ring_is_driven_around() {
    let (outer, mut inner) = (circle(120.0 * FT), circle(80.0 * FT));
    inner.reverse();
    let ground = format!("[{},{}]", ring(&outer), ring(&inner));
    let measured = Measured::of(FLEET, &sites(&[zone("quay", "lot", &ground)]));
    let lanes = lanes(&measured);
    assert!(lanes.len() <= 30, "{}", lanes.len());
    assert!(measured.plan("gap_m2") < 0.03 * measured.m2("reach_m2"));
}

/// The rear axle, 6.5 ft behind the antenna, never turns tighter than on sqrt(25^2 - 12^2) - 6.7 / 2 ft: from places and
/// headings of the plan file alone.
#[test]
fn bent_lanes_turn_no_tighter_than_the_rig() {
    let measured = Measured::of(FLEET, &round(60.0));
    let least_m = ((25.0_f64.powi(2) - 144.0).sqrt() - 3.35) * FT;
    let plan = std::fs::read_to_string(measured.out.join("drive-plan.gpx")).unwrap();
    let ([lon0, lat0], [lon1, lat1]) = (lon_lat(0.0, 0.0), lon_lat(1000.0, 1000.0));
    let mut bends = 0;
    for segment in plan.split("<trkseg>").skip(1) {
        let mut before: Option<([f64; 2], f64)> = None;
        for point in segment.split("<trkpt ").skip(1) {
            let number = |from: &str, to: &str| -> f64 {
                let text = &point[point.find(from).unwrap() + from.len()..];
                text[..text.find(to).unwrap()].parse().unwrap()
            };
            let heading = number("<s:heading>", "<").to_radians();
            let antenna = [
                (number("lon=\"", "\"") - lon0) / (lon1 - lon0) * 1000.0,
                (number("lat=\"", "\"") - lat0) / (lat1 - lat0) * 1000.0,
            ];
            let axle = [
                antenna[0] - 6.5 * FT * heading.sin(),
                antenna[1] - 6.5 * FT * heading.cos(),
            ];
            if let Some((last, last_heading)) = before {
                let way_m = (axle[0] - last[0]).hypot(axle[1] - last[1]);
                let turn = (heading - last_heading + 3.0 * std::f64::consts::PI)
                    .rem_euclid(2.0 * std::f64::consts::PI)
                    - std::f64::consts::PI;
                bends += usize::from(turn.abs() > 1e-3);
                assert!(
                    turn.abs() * least_m <= 1.01 * way_m + 1e-3,
                    "{turn} rad on {way_m} m"
                );
            }
            before = Some((axle, heading));
        }
    }
    assert!(bends > 20, "{bends}");
}

/// Two aisles of 24 ft side by side, each drawn one way: every lane goes the way of its aisle.
#[test]
fn lanes_in_a_one_way_aisle_go_its_way() {
    let lot = zone("quay", "lot", &rectangle(0.0, 0.0, 90.0, 48.0 * FT));
    let aisle = |north_ft: f64, from: f64, to: f64| {
        let places = [(from, north_ft * FT), (to, north_ft * FT)];
        aid(
            "quay",
            r#""use":"aisle","one_way":true"#,
            "LineString",
            &places,
        )
    };
    let measured = Measured::of(
        FLEET,
        &sites(&[lot, aisle(12.0, 2.0, 88.0), aisle(36.0, 88.0, 2.0)]),
    );
    let mut along = [0, 0];
    for (line, properties) in lanes(&measured) {
        let (length_m, [east_m, north_m]) = way(&line);
        if north_m.abs() > 0.5 * east_m.abs() {
            continue;
        }
        let middle_m = (line[0][1] + line[line.len() - 1][1]) / 2.0;
        // Between the aisles either way is right.
        let (low, high) = (middle_m < 15.0 * FT, middle_m > 33.0 * FT);
        assert!(!low || east_m > 0.0, "{length_m} {properties}");
        assert!(!high || east_m < 0.0, "{length_m} {properties}");
        along[0] += usize::from(low);
        along[1] += usize::from(high);
    }
    assert!(along.iter().all(|&lanes| lanes >= 1), "{along:?}");
}

/// A row with cars on nine in ten stalls is driven around; one with cars on a fifth is not.
#[test]
fn a_row_full_of_cars_is_in_no_plan() {
    let lot = zone("quay", "lot", &rectangle(0.0, 0.0, 60.0, 40.0));
    let row = |west_m: f64, share: &str| {
        let (a, b) = (west_m, west_m + 5.0);
        let places = [(a, 10.0), (b, 10.0), (b, 30.0), (a, 30.0), (a, 10.0)];
        let properties = format!(r#""use":"stalls","occupied":"{share}""#);
        aid("quay", &properties, "Polygon", &places)
    };
    let bare = Measured::of(FLEET, &sites(std::slice::from_ref(&lot)));
    let full = Measured::of(
        FLEET,
        &sites(&[lot.clone(), row(15.0, "90 %"), row(40.0, "20 %")]),
    );
    let expected_m2 = 0.9 * 100.0 + 0.2 * 100.0;
    let found_m2 = full.json["sites"][0]["cars_expected_m2"].as_f64().unwrap();
    assert!((found_m2 / expected_m2 - 1.0).abs() < 1e-4, "{found_m2}");
    assert!(bare.json["sites"][0]["cars_expected_m2"].is_null());
    // The row and 3 ft around it.
    let around_m2 = (5.0 + 6.0 * FT) * (20.0 + 6.0 * FT);
    let less_m2 = bare.m2("reach_m2") - full.m2("reach_m2");
    assert!(
        (less_m2 / around_m2 - 1.0).abs() < 0.02,
        "{less_m2} {around_m2}"
    );
    assert!(full.page.contains("Cars are likely"), "{}", full.page);
}

/// Two courts joined by a passage of 26 ft and 30 m: no lane lies across the passage.
#[test]
fn a_throat_is_driven_along() {
    let measured = Measured::of(
        FLEET,
        &sites(&[
            zone("quay", "west", &rectangle(0.0, 0.0, 40.0, 40.0)),
            zone("quay", "throat", &rectangle(40.0, 16.0, 70.0, 24.0)),
            zone("quay", "east", &rectangle(70.0, 0.0, 110.0, 40.0)),
        ]),
    );
    let mut along = 0;
    for (line, properties) in lanes(&measured) {
        let (a, b) = (line[0], line[line.len() - 1]);
        let inside = |x: f64| (45.0..65.0).contains(&x);
        if !inside(a[0]) && !inside(b[0]) && !inside((a[0] + b[0]) / 2.0) {
            continue;
        }
        let (_, [east_m, north_m]) = way(&line);
        assert!(east_m.abs() > north_m.abs(), "{properties} {line:?}");
        along += 1;
    }
    assert!(along >= 2, "{along}");
}

/// What a plan leaves in pieces worth a walk is hand work, and within its gap.
#[test]
fn what_a_plan_leaves_is_told_as_hand_work() {
    let early = FLEET.replace(
        "speed = \"6 mph\"",
        "speed = \"6 mph\"\nplan_until = \"80 %\"",
    );
    let measured = Measured::of(&early, &super::lot(150.0, 90.0, ""));
    let left_m2: f64 = measured.rig()["hand"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|hand| hand["left_by_plan"] == json!(true))
        .map(|hand| hand["area_m2"].as_f64().unwrap())
        .sum();
    let gap_m2 = measured.plan("gap_m2");
    assert!(gap_m2 > 0.05 * measured.m2("reach_m2"), "{gap_m2}");
    assert!(
        left_m2 > 0.5 * gap_m2 && left_m2 <= gap_m2 + 1e-6,
        "{left_m2} {gap_m2}"
    );
}

/// An island that a boom may not pass over, and one that it may.
#[test]
fn a_low_island_costs_less_than_a_tall_one() {
    let island = |more: &str| {
        with(
            "quay",
            "bed",
            &rectangle(28.0, 18.0, 34.0, 20.0),
            &format!(r#","use":"keep_off"{more}"#),
        )
    };
    let lot = zone("quay", "lot", &rectangle(0.0, 0.0, 60.0, 40.0));
    let tall = Measured::of(FLEET, &sites(&[lot.clone(), island("")]));
    let low = Measured::of(FLEET, &sites(&[lot, island(r#","low":true"#)]));
    assert!(low.m2("reach_m2") >= tall.m2("reach_m2") - 1e-6);
    assert!(
        low.plan("spraying_s") + low.plan("turning_s")
            <= tall.plan("spraying_s") + tall.plan("turning_s")
    );
}
