//! Runs of `record` that are cut short: never a record that nobody can open.

use super::nights::{record, small, try_record};
use super::{files, json, verify};
use std::process::Command;

/// A disk that takes 4 kB a file: enough for `openings.json`, not for the evidence.
#[test]
#[cfg(unix)]
fn openings_are_written_before_the_record_that_they_open() {
    let night = small();
    let (path, out) = (night.path(""), night.path("records"));
    let limited = Command::new("sh")
        .args(["-c", r#"trap '' XFSZ; ulimit -f 8; exec "$@""#, "sh"])
        .arg(env!("CARGO_BIN_EXE_swathbook"))
        .args(["record", "--site", "quay", "--date", "2026-01-13", "--out"])
        .args([&out, &path])
        .output()
        .unwrap();
    let stderr = String::from_utf8_lossy(&limited.stderr);
    assert_eq!(limited.status.code(), Some(2), "{stderr}");
    assert!(
        stderr.contains("quay-2026-01-12") && stderr.contains("cannot be written"),
        "{stderr}"
    );
    let names: Vec<String> = files(&out).into_keys().collect();
    assert_eq!(names, ["openings.json"], "no part of a record stays");
    let before = json(&out, "openings.json")["records"]["quay-2026-01-12"].clone();
    assert_eq!(
        before.as_array().unwrap().len(),
        3,
        "fleet, sites and a log"
    );
    // The next run writes the record, and what was there opens it.
    let out = record(&night, &["--site", "quay"]);
    let digests = json(
        &out.join("quay-2026-01-12"),
        "data/evidence/commitments.json",
    );
    for file in digests["files"].as_array().unwrap() {
        let mut openings = before.as_array().unwrap().iter();
        assert!(openings.any(|of| of["digest"] == file["digest"]), "{file}");
    }
    let night_path = path.to_str().unwrap();
    let checks = verify(
        &night,
        &out.join("quay-2026-01-12"),
        &["--night", night_path],
    );
    assert_eq!(checks.0, 0, "{checks:?}");
}

/// Where the openings cannot be kept no record is made.
#[test]
fn no_record_is_made_where_its_openings_cannot_be_written() {
    let night = small();
    let out = night.path("records");
    for kind in ["folder", "strange"] {
        let openings = out.join("openings.json");
        if kind == "folder" {
            std::fs::create_dir_all(&openings).unwrap();
        } else {
            std::fs::remove_dir(&openings).unwrap();
            std::fs::write(&openings, "{}").unwrap();
        }
        let outcome = try_record(&night, &["--all"]);
        outcome.refused(&["openings.json"]);
        let entries = std::fs::read_dir(&out).unwrap().count();
        assert_eq!(entries, 1, "{kind}: only what was there");
    }
}
