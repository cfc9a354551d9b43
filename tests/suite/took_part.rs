//! Which rigs count at a site, and which dry stretches are the site's.

use crate::night::{
    FLEET, Fix, Night, Outcome, gpx, gpx_of, healthy, number, pass, point_with, rectangle, sites,
    zone, zone_with,
};

/// The healthy night's fleet and a second rig without a meter, whose positions are poor.
fn two_rigs() -> Night {
    let south = r#"logs = ["north*"]

[[rig]]
id = "south"
logs = ["south*"]
position = "5 m"
sections = ["1 m", "1 m", "1 m", "1 m"]
"#;
    Night::new()
        .no_logs()
        .fleet(&format!("{FLEET}{south}"))
        .log("north.gpx", gpx(&healthy()))
}

/// A log of section states only: from one place to another at a fix a second and this speed.
fn states(from: (f64, f64), to: (f64, f64), speed_m_s: f64, states: &str) -> String {
    let (east_m, north_m) = (to.0 - from.0, to.1 - from.1);
    let steps = (east_m.hypot(north_m) / speed_m_s).round() as usize;
    let at = |i: usize| {
        let u = i as f64 / steps as f64;
        let states = if i == steps { "0000" } else { states };
        let extensions = format!("<s:sections>{states}</s:sections>");
        point_with(
            600.0 + i as f64,
            from.0 + u * east_m,
            from.1 + u * north_m,
            &extensions,
        )
    };
    gpx_of(&(0..=steps).map(at).collect::<String>())
}

fn rigs(outcome: &Outcome) -> Vec<&str> {
    outcome.first_zone();
    let rigs = &outcome.audit()["sites"][0]["applications"][0]["rigs"];
    let rigs = rigs.as_array().unwrap().iter();
    rigs.map(|rig| rig.as_str().unwrap()).collect()
}

#[test]
fn a_rig_that_only_drives_past_does_not_make_a_zone_too_narrow() {
    // 12 m are under three times 5 m. On the street 28 m off, closed, south says nothing of the lot.
    let past = states((-50.0, 40.0), (130.0, 40.0), 4.0, "0000");
    let outcome = two_rigs().log("south.gpx", past).audit(&[]);
    assert_eq!(outcome.first_zone()["verdict"], "area");
    // Nor does it on the lot for 80 s: it laid nothing.
    let on_it = states((0.0, 6.0), (80.0, 6.0), 1.0, "0000");
    let outcome = two_rigs().log("south.gpx", on_it).audit(&[]);
    assert_eq!(outcome.first_zone()["verdict"], "area");
    assert_eq!(rigs(&outcome), ["north"], "south laid nothing");
    // With liquid on it for 7 s it does.
    let wet = states((20.0, 6.0), (48.0, 6.0), 4.0, "1111");
    let outcome = two_rigs().log("south.gpx", wet).audit(&[]);
    assert_eq!(outcome.first_zone()["verdict"], "too_narrow");
}

#[test]
fn a_rig_that_sprayed_outside_any_treating_visit_took_part() {
    let outcome = two_rigs()
        .log("south.gpx", states((20.0, 6.0), (48.0, 6.0), 4.0, "1111"))
        .audit(&[]);
    // Seven seconds make no treating visit; what the boom laid is still on the lot, and unmetered.
    assert_eq!(rigs(&outcome), ["north", "south"]);
    assert!(outcome.first_zone()["volume_l"].is_null());
    assert!(number(&outcome.first_zone()["overlap_m2"]) > 28.0 * 4.0 - 1.0);
}

#[test]
fn a_rig_that_sprayed_beside_the_zones_did_not() {
    // The same 8 m south of the lot.
    let outcome = two_rigs()
        .log("south.gpx", states((20.0, -8.0), (48.0, -8.0), 4.0, "1111"))
        .audit(&[]);
    assert_eq!(rigs(&outcome), ["north"]);
    // 0.03 L/m2 on 80 m x 12 m.
    let volume_l = number(&outcome.first_zone()["volume_l"]);
    assert!((volume_l - 28.8).abs() < 0.1, "{volume_l}");
}

/// The healthy passes, then along y = 6 with open sections and no liquid at 4 m/s, without the fixes
/// after one time and before another.
fn then_dry(west_m: f64, east_m: f64, silence_s: (f64, f64)) -> Vec<Fix> {
    let mut fixes = healthy();
    let mut dry = pass(100.0, (west_m, 6.0), (east_m, 6.0));
    dry.iter_mut().for_each(|fix| fix.4 = 0.0);
    dry.retain(|fix| fix.0 <= silence_s.0 || fix.0 >= silence_s.1);
    fixes.extend(dry);
    fixes
}

const NO_SILENCE: (f64, f64) = (0.0, 0.0);

fn lot(id: &str, west_m: f64, east_m: f64) -> String {
    zone("quay", id, &rectangle(west_m, 0.0, east_m, 12.0))
}

/// Seconds of the dry run, if there is one.
fn dry_s(zones: &[String], fixes: &[Fix]) -> Option<f64> {
    let night = Night::new().sites(&sites(zones));
    let outcome = night.log("healthy.gpx", gpx(fixes)).audit(&[]);
    let found = outcome.findings("dry_run");
    found.first().map(|finding| number(&finding["figure"]))
}

#[test]
fn rinsing_in_the_yard_is_no_dry_run() {
    let yard = zone_with(
        r#""site":"quay","zone":"yard","use":"yard""#,
        &rectangle(100.0, 0.0, 160.0, 12.0),
    );
    let fixes = then_dry(104.0, 156.0, NO_SILENCE);
    assert_eq!(dry_s(&[lot("a", 0.0, 80.0), yard], &fixes), None);
    let seconds = dry_s(&[lot("a", 0.0, 80.0), lot("b", 100.0, 160.0)], &fixes);
    assert!(
        seconds.is_some_and(|s| (s - 13.0).abs() < 1.0),
        "{seconds:?}"
    );
}

#[test]
fn a_dry_stretch_ends_where_the_rig_leaves() {
    // Dry from 62 to 168 m. On two lots with 60 m between them it is there for 7 s and for 9.5 s.
    let fixes = then_dry(62.0, 168.0, NO_SILENCE);
    let apart = [lot("a", 0.0, 80.0), lot("b", 140.0, 220.0)];
    assert_eq!(dry_s(&apart, &fixes), None);
    let seconds = dry_s(&[lot("a", 0.0, 220.0)], &fixes);
    assert!(
        seconds.is_some_and(|s| (s - 26.5).abs() < 1.0),
        "{seconds:?}"
    );
}

#[test]
fn a_dry_stretch_ends_at_a_silence() {
    // 7 s, 8 s without a fix, 8 s.
    let fixes = then_dry(0.0, 92.0, (107.0, 115.0));
    assert_eq!(dry_s(&[lot("a", 0.0, 220.0)], &fixes), None);
    let fixes = then_dry(0.0, 92.0, NO_SILENCE);
    let seconds = dry_s(&[lot("a", 0.0, 220.0)], &fixes);
    assert!(
        seconds.is_some_and(|s| (s - 23.0).abs() < 1.0),
        "{seconds:?}"
    );
}
