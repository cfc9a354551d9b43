//! Blocked ground: out of every figure in its time, and not there at any other.

use crate::night::{Night, Outcome, number, rectangle, sites, zone, zone_with};

/// The healthy night's lot: 80 m x 12 m, treated from 02:00:00 to 02:01:14 UTC.
const LOT_M2: f64 = 960.0;

fn lot() -> String {
    zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0))
}

/// A blocked zone of the lot's site with more properties, such as `,"from":"..."`.
fn blocked(id: &str, more: &str, coordinates: &str) -> String {
    let properties = format!(r#""site":"quay","zone":"{id}","use":"blocked"{more}"#);
    zone_with(&properties, coordinates)
}

/// A pile of 10 m x 6 m in the lot's south-west corner, drawn 5 m beyond its edge.
fn pile(more: &str) -> String {
    blocked("pile", more, &rectangle(-5.0, 0.0, 10.0, 6.0))
}

const PILE_M2: f64 = 60.0;

fn audit(zones: &[String]) -> Outcome {
    Night::new()
        .sites(&sites(zones))
        .audit(&["--units", "metric"])
}

fn close(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() < 0.01,
        "{found}, expected {expected}"
    );
}

/// The parts of the first zone add up, and it was treated from edge to edge.
fn whole_but(outcome: &Outcome, excluded_m2: f64) {
    let zone = outcome.first_zone();
    close(number(&zone["area_m2"]), LOT_M2 - excluded_m2);
    close(number(&zone["excluded_m2"]), excluded_m2);
    let parts = ["treated_m2", "unlogged_m2", "gap_m2"];
    let sum: f64 = parts.iter().map(|part| number(&zone[part])).sum();
    close(sum, LOT_M2 - excluded_m2);
    assert!(number(&zone["treated_m2"]) > 0.98 * (LOT_M2 - excluded_m2));
}

#[test]
fn ground_is_out_when_its_time_meets_the_night_and_there_otherwise() {
    let out = [
        // Over the night, into it, out of it, within it.
        r#","from":"2026-01-11T20:00:00Z","until":"2026-01-12T08:00:00Z""#,
        r#","from":"2026-01-11T20:00:00Z","until":"2026-01-12T02:00:30Z""#,
        r#","from":"2026-01-12T02:00:30Z","until":"2026-01-12T08:00:00Z""#,
        r#","from":"2026-01-12T02:00:20Z","until":"2026-01-12T02:00:30Z""#,
        // Open on one side or both; 20:00 at six hours behind UTC is 02:00, when the first liquid fell.
        r#","from":"2026-01-11T20:00:00-06:00""#,
        r#","until":"2026-01-11T20:00:05-06:00""#,
        "",
    ];
    for window in out {
        let outcome = audit(&[lot(), pile(window)]);
        whole_but(&outcome, PILE_M2);
        assert!(outcome.findings("site_remark").is_empty(), "{window}");
        assert!(
            outcome.stdout.contains("Blocked: 60 m2 on 1 site"),
            "{}",
            outcome.stdout
        );
    }
    let there = [
        // Before the night, up to its first fix, and after it.
        r#","from":"2026-01-10T20:00:00Z","until":"2026-01-11T20:00:00Z""#,
        r#","until":"2026-01-12T02:00:00Z""#,
        r#","from":"2026-01-12T02:01:15Z""#,
    ];
    for window in there {
        let outcome = audit(&[lot(), pile(window)]);
        whole_but(&outcome, 0.0);
        let ground = outcome.audit()["sites"][0]["ground"].as_array().unwrap();
        assert_eq!(ground.len(), 1, "the pile is no zone: {ground:#?}");
        let remark = outcome.findings("site_remark")[0];
        assert_eq!(remark["severity"], "for_the_record");
        assert_eq!(remark["zone"], "pile");
        assert!(outcome.text("site_remark").contains("blocked ground"));
        assert!(!outcome.stdout.contains("Blocked:"));
    }
}

#[test]
fn a_bare_patch_under_a_pile_is_none() {
    // The first pass stays away from the west end: 30 m x 4 m bare.
    let mut fixes = crate::night::pass(0.0, (30.0, 2.0), (90.0, 2.0));
    fixes.extend(crate::night::pass(30.0, (88.0, 6.0), (-8.0, 6.0)));
    fixes.extend(crate::night::pass(60.0, (-8.0, 10.0), (88.0, 10.0)));
    let night = Night::new().log("healthy.gpx", crate::night::gpx(&fixes));
    assert_eq!(night.audit(&[]).findings("bare_patch").len(), 1);
    let pile = blocked("pile", "", &rectangle(-1.0, -1.0, 30.5, 4.5));
    let outcome = night.sites(&sites(&[lot(), pile])).audit(&[]);
    assert!(outcome.findings("bare_patch").is_empty());
    close(number(&outcome.first_zone()["excluded_m2"]), 30.5 * 4.5);
}

#[test]
fn two_blocked_zones_take_their_common_ground_once() {
    // 10 x 6 and 10 x 6 m that share 5 x 6 m: 90 m2 in all.
    let second = blocked(
        "cars",
        r#","reason":"parked cars""#,
        &rectangle(5.0, 0.0, 15.0, 6.0),
    );
    let outcome = audit(&[lot(), pile(r#","reason":"snow pile""#), second]);
    whole_but(&outcome, 90.0);
    let page = &outcome.stdout;
    assert!(
        page.contains("Blocked: 90 m2 on 1 site (snow pile, parked cars)"),
        "{page}"
    );
    let remark = outcome.findings("site_remark")[0];
    assert_eq!(remark["severity"], "for_the_record", "{remark}");
}

#[test]
fn each_zone_under_blocked_ground_has_its_own_share() {
    // A drive 4 m wide along the lot's south edge, a bed of 3 m x 3 m on it; the pile is 10 x 6 m.
    let of = |id: &str, land_use: &str, coordinates: &str| {
        let properties = format!(r#""site":"quay","zone":"{id}","use":"{land_use}""#);
        zone_with(&properties, coordinates)
    };
    let outcome = audit(&[
        lot(),
        of("drive", "drive", &rectangle(0.0, 0.0, 80.0, 4.0)),
        of("bed", "keep_off", &rectangle(0.0, 0.0, 3.0, 3.0)),
        pile(""),
    ]);
    let excluded = |zone: usize| number(&outcome.ground(0, zone)["excluded_m2"]);
    close(excluded(0), 10.0 * 2.0);
    close(excluded(1), 10.0 * 4.0 - 9.0);
    close(excluded(2), 0.0);
    close(excluded(3), 0.0);
    close(number(&outcome.ground(0, 2)["area_m2"]), 9.0);
    // The pile as drawn: 15 x 6 m, less the bed.
    close(number(&outcome.ground(0, 3)["area_m2"]), 90.0 - 9.0);
    let zones = std::fs::read_to_string(outcome.out.join("zones.csv")).unwrap();
    assert!(zones.lines().next().unwrap().contains(",excluded_m2,"));
}

#[test]
fn the_map_shows_blocked_ground_with_its_reason_and_time() {
    let window = r#","reason":"snow pile","from":"2026-01-11T20:00:00Z""#;
    let outcome = audit(&[lot(), pile(window)]);
    let text = std::fs::read_to_string(outcome.out.join("coverage.geojson")).unwrap();
    let map: serde_json::Value = serde_json::from_str(&text).unwrap();
    let features = map["features"].as_array().unwrap();
    let blocked: Vec<_> = features
        .iter()
        .map(|feature| &feature["properties"])
        .filter(|properties| properties["kind"] == "blocked")
        .collect();
    assert_eq!(blocked.len(), 1);
    assert_eq!(blocked[0]["reason"], "snow pile");
    assert_eq!(blocked[0]["from"], "2026-01-11T20:00:00Z");
    assert!(blocked[0]["until"].is_null());
    close(number(&blocked[0]["area_m2"]), 90.0);
}

#[test]
fn a_site_that_is_blocked_alone_at_another_time_is_an_error_that_says_so() {
    let zones = [pile(r#","until":"2026-01-11T20:00:00Z""#)];
    let night = Night::new().sites(&sites(&zones));
    night
        .audit(&[])
        .refused(&["no zone can be used", "blocked ground"]);
}
