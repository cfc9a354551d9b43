//! Logs that are damaged, absurd or empty: each is said with its place, and costs no other log.
//!
//! Most nights here have the healthy log too, so that "the rest of the night" is there to be audited.

/// Whole files.
mod files;
/// Times and positions.
mod fixes;
/// Channels, ids and names.
mod readings;

use crate::night::{FLEET, Night, Outcome, gpx_of, number, point_with};
use std::io::Write;

/// A second rig, so that a bad log of its own never mixes with the healthy one.
const OTHER_RIG: &str = r#"
[[rig]]
id = "other"
sections = ["1 m", "1 m", "1 m", "1 m"]
logs = ["bad*"]
"#;

/// The healthy night, and a log of another rig beside it.
fn beside(name: &str, bytes: impl AsRef<[u8]>) -> Outcome {
    let fleet = FLEET.replace("id = \"north\"", "id = \"north\"\nlogs = [\"healthy*\"]");
    let night = Night::new().fleet(&(fleet + OTHER_RIG)).log(name, bytes);
    let outcome = night.audit(&[]);
    outcome.still_audited();
    outcome
}

/// The healthy night with another log in the healthy one's place.
fn alone(bytes: impl AsRef<[u8]>) -> Outcome {
    Night::new().no_logs().log("bad.gpx", bytes).audit(&[])
}

/// A pass far from the site, with any extensions at each point.
fn elsewhere(extensions: impl Fn(usize) -> String) -> String {
    let points: String = (0..30)
        .map(|i| point_with(i as f64, 500.0 + 4.0 * i as f64, 500.0, &extensions(i)))
        .collect();
    gpx_of(&points)
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

/// What the run of the bad log metered, L.
fn metered_l(outcome: &Outcome) -> f64 {
    let run = outcome
        .runs()
        .iter()
        .find(|run| run["rig"] == "other")
        .unwrap();
    number(&run["ledger_l"]["metered"])
}

#[test]
fn the_healthy_night_has_no_findings_but_for_the_record() {
    let outcome = Night::new().audit(&["--fail-on", "look-into"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stdout);
    outcome.still_audited();
}
