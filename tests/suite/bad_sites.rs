//! Sites files and polygons that cannot be as they are: repaired or left out, said with the feature's
//! number, and never at the cost of the other zones.

use crate::night::{
    Night, ON_TARGET_L_MIN, Outcome, feature, gpx_of, lon_lat_from, number, point_at, rectangle,
    ring, sites, time, zone, zone_with,
};

fn lot() -> String {
    zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0))
}

/// The healthy night's lot, and more features behind it.
fn beside(features: &[String]) -> Outcome {
    let all: Vec<String> = std::iter::once(lot())
        .chain(features.iter().cloned())
        .collect();
    let outcome = Night::new().sites(&sites(&all)).audit(&[]);
    outcome.still_audited();
    outcome
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{found}, expected {expected}"
    );
}

/// A polygon of one ring, closed here.
fn polygon(places_m: &[(f64, f64)]) -> String {
    let closed: Vec<(f64, f64)> = places_m.iter().chain(&places_m[..1]).copied().collect();
    format!("[{}]", ring(&closed))
}

#[test]
fn text_that_is_no_json_shows_the_line() {
    let night = Night::new();
    night
        .clone()
        .sites("{\n\"type\": oops }")
        .audit(&[])
        .refused(&["sites.geojson:2:", "not JSON"]);
    night
        .clone()
        .sites("{\"type\":\"FeatureCollection\",\"features\":[")
        .audit(&[])
        .refused(&["sites.geojson:1:"]);
    night
        .clone()
        .sites(&"[".repeat(1_000_000))
        .audit(&[])
        .refused(&["sites.geojson:1:", "not JSON"]);
    night
        .sites("{\"type\":\"FeatureCollection\",\"features\":[]}")
        .audit(&[])
        .refused(&["no zone", "no features"]);
}

#[test]
fn json_that_is_no_feature_collection_says_what_it_is() {
    let night = Night::new();
    for (text, says) in [
        ("[]", "no `type`"),
        ("null", "no `type`"),
        ("{\"type\":\"Topology\"}", "the type \"Topology\""),
        ("{\"type\":\"FeatureCollection\"}", "a list `features`"),
        (
            "{\"type\":\"FeatureCollection\",\"features\":{}}",
            "a list `features`",
        ),
        (
            "{\"type\":\"FeatureCollection\",\"features\":[1,null,{}]}",
            "feature 1",
        ),
    ] {
        night
            .clone()
            .sites(text)
            .audit(&[])
            .refused(&["sites.geojson", says]);
    }
}

#[test]
fn a_bow_tie_keeps_both_lobes() {
    // Diagonals of a square of 40 m: two lobes of 400 m2 each. Drawn as signed areas they cancel.
    let bow = polygon(&[(0.0, 50.0), (40.0, 90.0), (40.0, 50.0), (0.0, 90.0)]);
    let outcome = beside(&[zone("bow", "tie", &bow)]);
    close(number(&outcome.ground(1, 0)["area_m2"]), 800.0, 0.1);
    let text = outcome.text("ring_repaired");
    assert!(
        text.contains("bow/tie") && text.contains("crosses itself"),
        "{text}"
    );
    assert!(text.contains("8,610 ft2"), "800 m2 are 8,611 ft2: {text}");
}

#[test]
fn an_unclosed_ring_is_closed_and_said() {
    let open = format!(
        "[{}]",
        ring(&[(0.0, 50.0), (40.0, 50.0), (40.0, 90.0), (0.0, 90.0)])
    );
    let outcome = beside(&[zone("open", "a", &open)]);
    close(number(&outcome.ground(1, 0)["area_m2"]), 1600.0, 0.1);
    assert!(outcome.text("ring_repaired").contains("not closed"));
}

#[test]
fn a_ring_drawn_twice_counts_once() {
    let square = [(0.0, 50.0), (40.0, 50.0), (40.0, 90.0), (0.0, 90.0)];
    let doubled: Vec<(f64, f64)> = square.iter().chain(&square).copied().collect();
    let outcome = beside(&[zone("twice", "a", &polygon(&doubled))]);
    close(number(&outcome.ground(1, 0)["area_m2"]), 1600.0, 0.1);
    let text = outcome.text("ring_repaired");
    assert!(
        text.contains("34,440 ft2") && text.contains("17,220 ft2"),
        "3200 and 1600 m2: {text}"
    );
}

#[test]
fn a_polygon_twice_in_a_multipolygon_counts_once() {
    let square = rectangle(0.0, 50.0, 40.0, 90.0);
    let geometry = format!(r#"{{"type":"MultiPolygon","coordinates":[{square},{square}]}}"#);
    let outcome = beside(&[feature(r#""site":"two","zone":"a","use":"lot""#, &geometry)]);
    close(number(&outcome.ground(1, 0)["area_m2"]), 1600.0, 0.1);
}

#[test]
fn a_scribble_is_left_out_before_it_takes_hours() {
    use rand::{RngExt, SeedableRng};
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
    // 4,000 corners anywhere in a square: some two million crossings.
    let mut place = || {
        (
            random.random_range(0.0..200.0),
            random.random_range(50.0..250.0),
        )
    };
    let places: Vec<(f64, f64)> = (0..4000).map(|_| place()).collect();
    let outcome = beside(&[zone("scribble", "a", &polygon(&places))]);
    let text = outcome.text("input_skipped");
    assert!(
        text.contains("feature 2 of site \"scribble\"") && text.contains("10000 times"),
        "{text}"
    );
}

#[test]
fn a_hole_outside_its_polygon_takes_nothing_and_gives_nothing() {
    let outer = rectangle(0.0, 50.0, 40.0, 90.0);
    let hole = rectangle(100.0, 50.0, 140.0, 90.0);
    let coordinates = format!(
        "[{},{}]",
        &outer[1..outer.len() - 1],
        &hole[1..hole.len() - 1]
    );
    let outcome = beside(&[zone("hole", "a", &coordinates)]);
    close(number(&outcome.ground(1, 0)["area_m2"]), 1600.0, 0.1);
}

#[test]
fn a_zone_without_area_is_left_out_and_said() {
    let line = polygon(&[(0.0, 50.0), (40.0, 50.0), (80.0, 50.0)]);
    let spike = polygon(&[(0.0, 50.0), (40.0, 50.0), (0.0, 50.0)]);
    let dot = polygon(&[(0.0, 50.0), (0.0, 50.0), (0.0, 50.0)]);
    for (coordinates, code, says) in [
        (
            line,
            "site_remark",
            "flat/a: Feature 2 of the sites file encloses no ground",
        ),
        (
            spike,
            "input_skipped",
            "feature 2 of site \"flat\" cannot be used",
        ),
        (
            dot,
            "input_skipped",
            "feature 2 of site \"flat\" cannot be used",
        ),
    ] {
        let outcome = beside(&[zone("flat", "a", &coordinates)]);
        assert!(outcome.text(code).contains(says), "{}", outcome.text(code));
        assert_eq!(outcome.audit()["sites"].as_array().unwrap().len(), 1);
    }
}

#[test]
fn geometry_that_is_no_polygon_is_left_out_and_said() {
    let properties = r#""site":"odd","zone":"a","use":"lot""#;
    let nested = (0..40).fold(
        r#"{"type":"Point","coordinates":[-30,45]}"#.to_owned(),
        |inner, _| format!(r#"{{"type":"GeometryCollection","geometries":[{inner}]}}"#),
    );
    let cases = [
        "null".to_owned(),
        r#"{"type":"Point","coordinates":[-30,45]}"#.to_owned(),
        r#"{"type":"LineString","coordinates":[[-30,45],[-30,46]]}"#.to_owned(),
        r#"{"type":"Polygon"}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[]]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[[1],[2],[3]]]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[["a","b"],["c","d"]]]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[[null,null],[1,1],[2,2]]]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[[1e308,1e308],[1,1],[2,2]]]}"#.to_owned(),
        r#"{"type":"Polygon","coordinates":[[[630000,4980000],[630100,4980000],[630100,4980100]]]}"#.to_owned(),
        r#"{"type":"MultiPolygon","coordinates":[]}"#.to_owned(),
        r#"{"type":"Blob","coordinates":[]}"#.to_owned(),
        nested,
    ];
    for geometry in cases {
        let outcome = beside(&[feature(properties, &geometry)]);
        let text = outcome.text("input_skipped");
        assert!(
            text.contains("sites.geojson") && text.contains("feature 2"),
            "{geometry}: {text}"
        );
    }
}

#[test]
fn properties_that_are_wrong_are_said() {
    let square = rectangle(0.0, 50.0, 40.0, 90.0);
    for (properties, says) in [
        (r#""zone":"a","use":"lot""#, "no `site` id"),
        (r#""site":"x","use":"pond""#, "`use` is \"pond\""),
        (
            r#""site":"x","use":"lot","method":"magic""#,
            "`method` is \"magic\"",
        ),
        (
            r#""site":"x","use":"blocked","from":"2026-01-12T04:00:00Z","until":"2026-01-12T03:00:00Z""#,
            "`until` is not after",
        ),
    ] {
        let outcome = beside(&[zone_with(properties, &square)]);
        assert!(
            outcome.text("input_skipped").contains(says),
            "{}",
            outcome.text("input_skipped")
        );
    }
    for (properties, says) in [
        (r#""site":"x","use":"lot","target":35"#, "target"),
        (r#""site":"x","use":"lot","target":"-5 gal/ac""#, "target"),
        (
            r#""site":"x","use":"lot","target":"1e999 gal/ac""#,
            "target",
        ),
        (r#""site":"x","use":"lot","priority":"high""#, "priority"),
        (r#""site":"x","use":"blocked","from":"noon""#, "from"),
    ] {
        let outcome = beside(&[zone_with(properties, &square)]);
        assert!(
            outcome.text("site_remark").contains(says),
            "{}",
            outcome.text("site_remark")
        );
    }
}

#[test]
fn absurd_priorities_and_targets_stay_finite() {
    let square = rectangle(0.0, 50.0, 40.0, 90.0);
    beside(&[zone_with(
        r#""site":"x","use":"lot","priority":1e308,"target":"1e300 L/m2""#,
        &square,
    )]);
    let lot = zone_with(
        r#""site":"quay","zone":"lot","use":"lot","priority":1e308,"target":"1e-300 mL/m2""#,
        &rectangle(0.0, 0.0, 80.0, 12.0),
    );
    Night::new()
        .sites(&sites(&[lot]))
        .audit(&[])
        .still_audited();
}

#[test]
fn zones_that_touch_share_no_ground() {
    let outcome = beside(&[zone("quay", "next", &rectangle(80.0, 0.0, 100.0, 12.0))]);
    close(number(&outcome.ground(0, 0)["area_m2"]), 960.0, 0.1);
    close(number(&outcome.ground(0, 1)["area_m2"]), 240.0, 0.1);
    assert!(
        outcome.findings("site_remark").is_empty(),
        "{}",
        outcome.stdout
    );
}

#[test]
fn a_zone_within_a_zone_of_its_use_has_no_ground_left() {
    let outcome = beside(&[zone("quay", "inner", &rectangle(10.0, 2.0, 30.0, 8.0))]);
    close(number(&outcome.ground(0, 0)["area_m2"]), 960.0, 0.1);
    close(number(&outcome.ground(0, 1)["area_m2"]), 0.0, 1e-6);
    assert!(
        outcome.text("site_remark").contains("Feature 2 of"),
        "{}",
        outcome.text("site_remark")
    );
}

#[test]
fn identical_zones_leave_the_ground_to_the_first() {
    // Of the same site, and of another one.
    for site in ["quay", "rival"] {
        let outcome = beside(&[zone(site, "again", &rectangle(0.0, 0.0, 80.0, 12.0))]);
        close(number(&outcome.ground(0, 0)["area_m2"]), 960.0, 0.1);
        assert_eq!(
            outcome.findings("site_remark").len(),
            1,
            "{}",
            outcome.stdout
        );
    }
}

#[test]
fn a_keep_off_zone_over_everything_leaves_no_ground_to_treat() {
    let over = zone_with(
        r#""site":"quay","zone":"all","use":"keep_off""#,
        &rectangle(-5.0, -5.0, 85.0, 17.0),
    );
    let outcome = Night::new().sites(&sites(&[lot(), over])).audit(&[]);
    close(number(&outcome.ground(0, 0)["area_m2"]), 0.0, 1e-6);
    assert_eq!(
        outcome.findings("keep_off_wet").len(),
        1,
        "{}",
        outcome.stdout
    );
}

#[test]
fn two_zones_of_one_id_are_told_apart() {
    let outcome = beside(&[zone("quay", "lot", &rectangle(0.0, 50.0, 40.0, 90.0))]);
    assert_eq!(outcome.ground(0, 1)["zone"], "lot-2");
    assert!(outcome.text("site_remark").contains("called \"lot-2\""));
}

#[test]
fn one_zone_far_off_costs_neither_its_site_nor_the_night() {
    // Longitude and latitude swapped in one feature: 13,000 km away.
    let swapped = r#"[[[45.0,-30.0],[45.001,-30.0],[45.001,-30.001],[45.0,-30.001],[45.0,-30.0]]]"#;
    let outcome = beside(&[zone("quay", "swapped", swapped)]);
    let text = outcome.text("site_remark");
    assert!(
        text.contains("quay/swapped: Feature 2 of") && text.contains("more than 10 km"),
        "{text}"
    );
    close(number(&outcome.ground(0, 0)["area_m2"]), 960.0, 0.1);
}

#[test]
fn a_zone_as_large_as_a_country_is_left_out() {
    let huge = "[[[-40,40],[-20,40],[-20,50],[-40,50],[-40,40]]]";
    let outcome = beside(&[zone("land", "a", huge)]);
    assert!(outcome.text("site_remark").contains("land/a: Feature 2 of"));
    // Nor may it draw the plane away from the lots of its own site.
    let outcome = beside(&[zone("quay", "land", huge)]);
    assert!(
        outcome
            .text("site_remark")
            .contains("quay/land: Feature 2 of")
    );
    let alone = Night::new()
        .sites(&sites(&[zone("land", "a", huge)]))
        .audit(&[]);
    alone.refused(&[
        "sites.geojson",
        "no zone can be used: feature 1 lies more than 10 km",
    ]);
}

#[test]
fn a_polygon_of_a_hundred_thousand_corners_is_measured() {
    // A regular polygon of radius 300 m: n/2 r^2 sin(2 pi/n).
    let corners = 100_000;
    let angle = std::f64::consts::TAU / f64::from(corners);
    let places: Vec<(f64, f64)> = (0..corners)
        .map(|i| {
            (
                300.0 * (angle * f64::from(i)).cos(),
                800.0 + 300.0 * (angle * f64::from(i)).sin(),
            )
        })
        .collect();
    let outcome = beside(&[zone("round", "a", &polygon(&places))]);
    let exact_m2 = f64::from(corners) / 2.0 * 300.0 * 300.0 * angle.sin();
    close(
        number(&outcome.ground(1, 0)["area_m2"]) / exact_m2,
        1.0,
        5e-4,
    );
}

/// A lot of 0.001 x 0.0002 degrees at (`lon`, `lat`), drawn with these rings, treated by a pass along its middle.
fn far_away(lon: f64, lat: f64, coordinates: &str, kind: &str) -> Outcome {
    let wrap = |lon: f64| if lon > 180.0 { lon - 360.0 } else { lon };
    let points: String = (0..=30_u32)
        .map(|i| {
            let [x, y] = lon_lat_from(lon, lat, 4.0 * f64::from(i) - 4.0, 11.0);
            let extensions =
                format!("<s:flow>{ON_TARGET_L_MIN}</s:flow><s:sections>1111</s:sections>");
            point_at(wrap(x), y, &time(f64::from(i)), &extensions)
        })
        .collect();
    let geometry = format!(r#"{{"type":"{kind}","coordinates":{coordinates}}}"#);
    let file = sites(&[feature(
        r#""site":"date","zone":"line","use":"lot""#,
        &geometry,
    )]);
    Night::new()
        .no_logs()
        .log("a.gpx", gpx_of(&points))
        .sites(&file)
        .audit(&[])
}

#[test]
fn a_lot_across_the_antimeridian_is_one_lot_however_it_is_drawn() {
    // Split at the antimeridian (RFC 7946, section 3.1.9), in one piece with negative longitudes, and unsplit.
    let split = "[[[[179.9995,10],[180,10],[180,10.0002],[179.9995,10.0002],[179.9995,10]]],\
                 [[[-180,10],[-179.9995,10],[-179.9995,10.0002],[-180,10.0002],[-180,10]]]]";
    let joined =
        "[[[179.9995,10],[-179.9995,10],[-179.9995,10.0002],[179.9995,10.0002],[179.9995,10]]]";
    let mut treated = Vec::new();
    for (coordinates, kind) in [(split, "MultiPolygon"), (joined, "Polygon")] {
        let outcome = far_away(179.9995, 10.0, coordinates, kind);
        let zone = outcome.first_zone();
        // WGS 84 at 10.0001 N: 109.6397 m x 22.1218 m (series of the meridian and parallel lengths).
        close(number(&zone["area_m2"]), 109.6397 * 22.1218, 0.5);
        // The pass is 4 m wide and longer than the lot.
        close(number(&zone["treated_m2"]), 4.0 * 109.64, 0.5);
        treated.push(number(&zone["treated_m2"]));
        let text = std::fs::read_to_string(outcome.out.join("coverage.geojson")).unwrap();
        let geojson: serde_json::Value = serde_json::from_str(&text).unwrap();
        in_range(&geojson["features"]);
    }
    close(treated[0], treated[1], 1e-3);
}

/// No coordinate beyond the ends of the earth.
fn in_range(value: &serde_json::Value) {
    for feature in value.as_array().unwrap() {
        let text = feature["geometry"]["coordinates"].to_string();
        let numbers = text
            .split(['[', ']', ','])
            .filter_map(|word| word.parse::<f64>().ok());
        for number in numbers {
            assert!(number.abs() <= 180.0, "{number}");
        }
        // RFC 7946, section 3.1.9: what crosses the antimeridian is cut there, so no polygon spans the globe.
        let is_line = feature["geometry"]["type"] == "MultiLineString";
        for part in feature["geometry"]["coordinates"].as_array().unwrap() {
            let line = if is_line { part } else { &part[0] };
            let lons: Vec<f64> = line
                .as_array()
                .unwrap()
                .iter()
                .map(|place| place[0].as_f64().unwrap())
                .collect();
            let (west, east) = lons.iter().fold((f64::MAX, f64::MIN), |(w, e), &lon| {
                (w.min(lon), e.max(lon))
            });
            assert!(east - west < 1.0, "from {west} to {east}");
        }
    }
}

#[test]
fn lots_at_the_poles_do_no_harm() {
    for lat in [90.0, -90.0] {
        let toward = if lat > 0.0 { -0.0002 } else { 0.0002 };
        let coordinates = format!(
            "[[[0,{lat}],[90,{}],[180,{}],[-90,{}],[0,{}],[0,{lat}]]]",
            lat + toward,
            lat + toward,
            lat + toward,
            lat + toward
        );
        let file = sites(&[lot(), zone("pole", "a", &coordinates)]);
        Night::new().sites(&file).audit(&[]).still_audited();
    }
}

#[test]
fn an_unknown_coordinate_system_is_an_error() {
    let named = sites(&[lot()]).replacen(
        "{",
        r#"{"crs":{"type":"name","properties":{"name":"local"}},"#,
        1,
    );
    Night::new().sites(&named).audit(&[]).refused(&[
        "sites.geojson",
        "names no EPSG code",
        "--sites-crs",
    ]);
    let numbered = named.replace("\"local\"", "\"urn:ogc:def:crs:EPSG::999999\"");
    Night::new()
        .sites(&numbered)
        .audit(&[])
        .refused(&["sites.geojson", "EPSG:999999"]);
}

#[test]
fn bytes_that_are_no_utf8_are_said() {
    let mut bytes = sites(&[zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0))]).into_bytes();
    let at = bytes.windows(4).position(|word| word == b"quay").unwrap();
    bytes[at] = 0xe9;
    let outcome = Night::new().file("sites.geojson", bytes).audit(&[]);
    outcome.still_audited();
    assert!(
        outcome
            .text("input_skipped")
            .contains("sites.geojson: not used, or not in full: some bytes are not UTF-8")
    );
}

#[test]
fn random_damage_never_panics() {
    use rand::{RngExt, SeedableRng};
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
    let whole = sites(&[lot(), zone("b", "c", &rectangle(0.0, 50.0, 40.0, 90.0))]).into_bytes();
    let night = Night::new();
    for _ in 0..60 {
        let mut bytes = whole.clone();
        for _ in 0..random.random_range(1..4) {
            let at = random.random_range(0..bytes.len());
            // Digits for digits, so that most files stay JSON.
            bytes[at] = if bytes[at].is_ascii_digit() {
                b'0' + random.random_range(0..10)
            } else {
                random.random_range(32..127)
            };
        }
        night.clone().file("sites.geojson", bytes).audit(&[]);
        let _ = std::fs::remove_dir_all(night.path("out"));
    }
}
