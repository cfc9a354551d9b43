//! Bare patches by probability, through the whole program: one patch of 12 m x 4 m in a lot of 960 m2, left where
//! the boom was closed for three seconds.

use crate::night::{FLEET, Night, gpx, healthy, number};

/// The healthy night with the boom closed for three seconds in the middle of its second pass.
fn night(defaults: &str) -> Night {
    let mut fixes = healthy();
    let passes: Vec<usize> = (0..fixes.len())
        .filter(|&k| (fixes[k].2 - 6.0).abs() < 0.1)
        .collect();
    let middle = passes[passes.len() / 2];
    for fix in &mut fixes[middle..middle + 3] {
        (fix.3, fix.4) = ("0000", 0.0);
    }
    Night::new()
        .fleet(&FLEET.replace("[defaults]\n", &format!("[defaults]\n{defaults}\n")))
        .log("healthy.gpx", gpx(&fixes))
}

#[test]
fn a_likely_patch_says_how_likely_and_how_great_it_is() {
    let outcome = night("").audit(&[]);
    let patch = &outcome.first_zone()["patches"][0];
    assert!(number(&patch["probability"]) > 0.75, "{patch}");
    let (low_m2, high_m2) = (
        number(&patch["area_low_m2"]),
        number(&patch["area_high_m2"]),
    );
    assert!(low_m2 < 48.0 && 48.0 < high_m2, "{patch}");
    let text = outcome.text("bare_patch");
    assert!(
        text.contains("likely bare: 9") && text.contains(" in 100, "),
        "{text}"
    );
}

/// 48 m2 are 5 % of the lot. The rig's position error is told: else nobody would be sent.
#[test]
fn how_much_is_worth_a_trip_is_for_the_fleet_file_to_say() {
    let severity = |defaults: &str, position: &str| {
        let fleet = FLEET.replace("[defaults]\n", &format!("[defaults]\n{defaults}\n"));
        let night = night("").fleet(&format!("{fleet}position = \"{position}\"\n"));
        let outcome = night.audit(&[]);
        let findings = outcome.findings("bare_patch");
        findings.first().map(|finding| finding["severity"].clone())
    };
    assert_eq!(severity("", "1 m").unwrap(), "go_back");
    let lavish = "go_back_area = \"2000 ft2\"\ngo_back_share = \"20 %\"";
    assert_eq!(severity(lavish, "1 m").unwrap(), "look_into");
    // More likely bare than not is worth a look all the same.
    assert_eq!(
        severity("likely = \"99.99 %\"", "2 m").unwrap(),
        "look_into"
    );
}

/// Half a position error in the fleet file makes the same patch likelier, never less likely.
#[test]
fn a_better_receiver_makes_surer() {
    let probability = |defaults: &str| {
        let outcome = night(defaults).audit(&[]);
        number(&outcome.first_zone()["patches"][0]["probability"])
    };
    assert!(probability("position = \"0.1 m\"") > probability("position = \"2 m\""));
}
