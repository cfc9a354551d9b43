use super::*;
use crate::findings::Kind;
use crate::findings::log::AboutLog;
use crate::findings::sites::{AboutSites, Remark};
use std::path::Path;

const SQUARE: &str = "[[[-33,45],[-32.999,45],[-32.999,45.001],[-33,45.001],[-33,45]]]";

fn feature(properties: &str, coordinates: &str) -> String {
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{{properties}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":{coordinates}}}}}"
    )
}

fn collection(features: &[String]) -> String {
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
        features.join(",")
    )
}

fn read_text(text: &str) -> crate::error::Result<SitesReading> {
    read(text, Path::new("night/sites.geojson"), None)
}

fn lots(properties: &[&str]) -> SitesReading {
    let features: Vec<String> = properties.iter().map(|p| feature(p, SQUARE)).collect();
    read_text(&collection(&features)).unwrap()
}

/// What each finding says, whatever its kind.
fn says(reading: &SitesReading) -> Vec<String> {
    reading
        .findings
        .iter()
        .map(|finding| match &finding.kind {
            Kind::Sites(AboutSites::SiteRemark {
                what: Remark::Read(what),
                ..
            }) => what.clone(),
            Kind::Log(AboutLog::InputSkipped { why, .. }) => why.clone(),
            other => panic!("{other:?}"),
        })
        .collect()
}

#[test]
fn a_full_feature_reads_whole() {
    let reading = lots(&[
        r#""site":"elm","zone":"n","name":"Elm\u0007 Court","client":"C","use":"blocked","method":"hand","target":"35 gal/ac","priority":2,"from":"2026-01-12T02:00:00-06:00","until":"2026-01-12T10:00:00Z","reason":"cars","colour":"red""#,
    ]);
    assert!(reading.findings.is_empty(), "{:?}", says(&reading));
    let zone = &reading.zones[0];
    assert_eq!(
        (zone.site.as_str(), zone.zone.as_str(), zone.name.as_deref()),
        ("elm", "n", Some("Elm Court"))
    );
    assert_eq!(
        (zone.land_use, zone.method),
        (LandUse::Blocked, Method::Hand)
    );
    assert!((zone.target_ml_m2.unwrap() - 32.738_846).abs() < 1e-6);
    assert_eq!(
        zone.blocked_until
            .unwrap()
            .seconds_since(zone.blocked_from.unwrap()),
        2.0 * 3600.0
    );
    assert_eq!(zone.polygons[0][0].len(), 5);
}

#[test]
fn a_feature_without_use_is_a_lot_and_says_so() {
    let reading = lots(&["\"site\":7"]);
    assert_eq!(
        (reading.zones[0].land_use, reading.zones[0].site.as_str()),
        (LandUse::Lot, "7")
    );
    assert_eq!(says(&reading), ["has no `use`; read as a lot"]);
}

#[test]
fn zone_ids_are_made_up_and_made_unique() {
    let a = "\"site\":\"a\",\"use\":\"lot\"";
    let with = |zone: &str| format!("{a},\"zone\":\"{zone}\"");
    let reading = lots(&[
        a,
        &with("1"),
        &with("x"),
        &with("x"),
        a,
        "\"site\":\"b\",\"use\":\"lot\"",
    ]);
    let ids: Vec<&str> = reading
        .zones
        .iter()
        .map(|zone| zone.zone.as_str())
        .collect();
    assert_eq!(ids, ["2", "1", "x", "x-2", "3", "1"]);
    assert_eq!(says(&reading).len(), 1);
    assert!(says(&reading)[0].contains("x-2"));
}

#[test]
fn a_bad_feature_costs_no_other() {
    let good = feature("\"site\":\"good\",\"use\":\"lot\"", SQUARE);
    let site = "\"site\":\"s\",\"use\":\"lot\"";
    let bad = [
        (feature("\"use\":\"lot\"", SQUARE), "no `site`"),
        (
            feature("\"site\":\"s\",\"use\":\"roof\"", SQUARE),
            "expected lot, drive",
        ),
        (
            feature("\"site\":\"s\",\"method\":\"drone\"", SQUARE),
            "expected boom or hand",
        ),
        (feature(site, "[[[0,0],[1,1],[0,0]]]"), "three distinct"),
        (
            feature(site, "[[[0,0],[500,1],[1,1],[0,0]]]"),
            "no position 500, 1",
        ),
        (
            feature(site, "[[[0],[1,1],[1,0],[0,0]]]"),
            "fewer than two numbers",
        ),
        (
            feature(site, "[[[null,0],[1,1],[1,0],[0,0]]]"),
            "feature 1 of site \"s\"",
        ),
        (feature(site, "[]"), "three distinct"),
        (
            format!("{{\"type\":\"Feature\",\"properties\":{{{site}}},\"geometry\":null}}"),
            "no geometry",
        ),
        (
            format!(
                "{{\"type\":\"Feature\",\"properties\":{{{site}}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":[0,0]}}}}"
            ),
            "it is a Point",
        ),
        ("17".to_owned(), "feature 1 cannot be used"),
    ];
    for (bad, expected) in bad {
        let reading = read_text(&collection(&[bad.clone(), good.clone()])).unwrap();
        assert_eq!(reading.zones.len(), 1, "{bad}");
        assert_eq!(reading.zones[0].feature, 1);
        assert!(
            says(&reading).len() == 1 && says(&reading)[0].contains(expected),
            "{bad}: {:?}",
            says(&reading)
        );
    }
}

#[test]
fn a_parcel_line_is_ignored_without_a_word() {
    let reading = read_text(&collection(&[
        feature("\"use\":\"outline\"", SQUARE),
        feature("\"site\":\"a\",\"use\":\"lot\"", SQUARE),
    ]))
    .unwrap();
    assert_eq!((reading.zones.len(), reading.findings.len()), (1, 0));
}

#[test]
fn an_unclosed_ring_is_closed_and_kept_as_a_fault() {
    let reading = read_text(&collection(&[feature(
        "\"site\":\"a\",\"use\":\"lot\"",
        "[[[0,0],[1,0],[1,1]]]",
    )]))
    .unwrap();
    assert_eq!(reading.zones[0].faults, ["ring not closed"]);
    assert_eq!(reading.zones[0].polygons[0][0].len(), 4);
}

#[test]
fn settings_that_cannot_be_read_are_ignored_with_a_remark() {
    let reading = lots(&[
        "\"site\":\"a\",\"use\":\"lot\",\"target\":35,\"priority\":\"high\",\"from\":\"noon\"",
    ]);
    let zone = &reading.zones[0];
    assert!(
        zone.target_ml_m2.is_none()
            && zone.blocked_from.is_none()
            && (zone.priority - 1.0).abs() < 1e-12
    );
    assert_eq!(says(&reading).len(), 3);
}

#[test]
fn utm_coordinates_are_transformed() {
    // UTM 25N: (-33, 45) -> 500000.0000 4982950.4002; (-33.27, 44.98) -> 478712.4679 4980764.1121
    // (computed with pyproj 3.7.2).
    let ring = "[[[500000.0,4982950.4002],[478712.4679,4980764.1121],[479028.9324,4981096.3303],[500000.0,4982950.4002]]]";
    let text = collection(&[feature("\"site\":\"a\",\"use\":\"lot\"", ring)]);
    let by_flag = read(&text, Path::new("s"), Some(32625)).unwrap();
    let member = "{\"type\":\"FeatureCollection\",\"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"urn:ogc:def:crs:EPSG::32625\"}},";
    let by_member =
        read_text(&text.replacen("{\"type\":\"FeatureCollection\",", member, 1)).unwrap();
    assert_eq!(by_flag.zones[0].polygons, by_member.zones[0].polygons);
    let ring = &by_flag.zones[0].polygons[0][0];
    let near = |lon: f64, lat: f64| {
        ring.iter()
            .any(|p| (p.lon_deg - lon).abs() < 1e-8 && (p.lat_deg - lat).abs() < 1e-8)
    };
    assert!(
        near(-33.0, 45.0) && near(-33.27, 44.98) && near(-33.266, 44.983),
        "{ring:?}"
    );
}

#[test]
fn crs84_and_4326_need_no_transformation() {
    for name in [
        "urn:ogc:def:crs:OGC:1.3:CRS84",
        "EPSG:4326",
        "urn:ogc:def:crs:EPSG::4326",
    ] {
        let text = collection(&[feature("\"site\":\"a\",\"use\":\"lot\"", SQUARE)]);
        let member =
            format!("{{\"crs\":{{\"type\":\"name\",\"properties\":{{\"name\":\"{name}\"}}}},");
        let reading = read_text(&text.replacen('{', &member, 1)).unwrap();
        assert!(
            (reading.zones[0].polygons[0][0][0].lon_deg - -33.0).abs() < 1e-12,
            "{name}"
        );
    }
    let text = collection(&[feature("\"site\":\"a\"", SQUARE)]).replacen(
        '{',
        "{\"crs\":{\"type\":\"link\"},",
        1,
    );
    assert!(
        read_text(&text)
            .unwrap_err()
            .to_string()
            .contains("--sites-crs")
    );
    assert!(
        read(
            &collection(&[feature("\"site\":\"a\"", SQUARE)]),
            Path::new("s"),
            Some(999_999)
        )
        .is_err()
    );
}

#[test]
fn text_that_is_no_collection_is_an_error_with_its_line() {
    let error = read_text("{\n\"type\": oops}").unwrap_err();
    assert_eq!(error.line, Some(2), "{error}");
    assert!(
        read_text("{\"type\":\"Feature\"}")
            .unwrap_err()
            .to_string()
            .contains("found the type \"Feature\"")
    );
    assert!(read_text("[]").is_err() && read_text("").is_err());
    assert!(
        read_text("{\"type\":\"FeatureCollection\"}")
            .unwrap_err()
            .to_string()
            .contains("`features`")
    );
    assert!(
        read_text(&collection(&[]))
            .unwrap_err()
            .to_string()
            .contains("no features")
    );
    assert!(read_text(&"[".repeat(100_000)).is_err());
    let error = read_text(&collection(&[feature("\"use\":\"lot\"", SQUARE)]))
        .unwrap_err()
        .to_string();
    assert!(error.contains("no `site`"), "{error}");
}
