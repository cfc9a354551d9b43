//! Service records as their readers meet them.

mod cut_short;
mod ground;
mod hostile;
mod kept;
mod keys;
mod leaks;
mod nights;

use crate::night::{Night, number};
use nights::{demo, record, record_of, small, try_record};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Every file of a folder, by its name.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(folder: &Path, prefix: &str, files: &mut BTreeMap<String, Vec<u8>>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{name}/"), files);
            } else {
                files.insert(name, std::fs::read(entry.path()).unwrap());
            }
        }
    }
    let mut all = BTreeMap::new();
    walk(folder, "", &mut all);
    all
}

fn json(folder: &Path, name: &str) -> Value {
    serde_json::from_slice(&std::fs::read(folder.join(name)).unwrap()).unwrap()
}

/// Runs `verify` and gives its exit code and its checks by name.
fn verify(
    night: &Night,
    folder: &Path,
    flags: &[&str],
) -> (i32, BTreeMap<String, (String, String)>) {
    let mut arguments = vec!["verify", folder.to_str().unwrap(), "--json"];
    arguments.extend(flags);
    let outcome = night.run(&arguments, &night.path("none"), &[]);
    let report: Value = serde_json::from_str(&outcome.stdout).unwrap_or_default();
    let checks = report["checks"].as_array().cloned().unwrap_or_default();
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let checks = checks.iter().map(|check| {
        let details: Vec<String> = check["details"]
            .as_array()
            .unwrap()
            .iter()
            .map(text)
            .collect();
        (
            text(&check["check"]),
            (text(&check["result"]), details.join("\n")),
        )
    });
    (outcome.code, checks.collect())
}

/// The figures of every site of the demo night are those of its audit, and hold when they are computed again.
#[test]
fn the_demos_records_state_what_its_audit_states() {
    let night = demo();
    let outcome = night.audit(&["--fail-on", "never"]);
    let out = record(&night, &["--all"]);
    let mut told = 0;
    for site in outcome.audit()["sites"].as_array().unwrap() {
        let id = site["site"].as_str().unwrap();
        let folder = out.join(format!("{id}-2026-01-11"));
        if !folder.exists() {
            assert!(site["applications"].as_array().unwrap().is_empty(), "{id}");
            continue;
        }
        let record = json(&folder, "data/service-record.json");
        let applications = record["figures"]["applications"].as_array().unwrap();
        let audited = site["applications"].as_array().unwrap();
        assert_eq!(applications.len(), audited.len(), "{id}");
        for (of, audit) in applications.iter().zip(audited) {
            assert_eq!((&of["start"], &of["end"]), (&audit["start"], &audit["end"]));
            for (zone, audit) in of["zones"]
                .as_array()
                .unwrap()
                .iter()
                .zip(audit["zones"].as_array().unwrap())
            {
                told += same_zone(zone, audit);
            }
        }
        let (code, checks) = verify(&night, &folder, &[]);
        assert_eq!(code, 0, "{id}: {checks:?}");
        for check in ["files", "figures", "page", "spreadsheet"] {
            assert_eq!(checks[check].0, "holds", "{id}: {checks:?}");
        }
    }
    assert!(told >= 8, "{told} zones");
}

/// `audit.json` has litres to 1e-9 and areas to 1e-6 m2.
fn same_zone(zone: &Value, audit: &Value) -> usize {
    assert_eq!(zone["zone"], audit["zone"]);
    let litres = number(&zone["volume_l"]) - number(&audit["volume_l"]);
    assert!(litres.abs() < 1e-8, "{zone}");
    if zone["liquid_m2"].is_null() {
        assert_ne!(audit["verdict"], "area");
        return 0;
    }
    for (own, theirs) in [
        ("liquid_m2", "treated_m2"),
        ("no_fixes_m2", "unlogged_m2"),
        ("area_m2", "area_m2"),
    ] {
        let apart = number(&zone[own]) - number(&audit[theirs]);
        assert!(apart.abs() < 1e-5, "{own}: {zone}");
    }
    let columns = [
        "liquid_m2",
        "patches_m2",
        "perhaps_m2",
        "no_fixes_m2",
        "not_resolved_m2",
    ];
    let sum_m2: f64 = columns.iter().map(|name| number(&zone[*name])).sum();
    assert!((sum_m2 - number(&zone["area_m2"])).abs() < 1e-6, "{zone}");
    1
}

/// With the night's files the digests open and the evidence comes out again, byte for byte.
#[test]
fn the_nights_files_give_the_evidence_again() {
    let night = small();
    let folder = record_of(&night, "quay");
    let path = night.path("");
    let (code, checks) = verify(&night, &folder, &["--night", path.to_str().unwrap()]);
    assert_eq!(
        (code, checks["originals"].0.as_str()),
        (0, "holds"),
        "{checks:?}"
    );
    // A log that was changed since is named.
    let log = night.path("logs/a.gpx");
    let text = std::fs::read_to_string(&log).unwrap();
    std::fs::write(&log, text.replacen("-29.99", "-29.98", 1)).unwrap();
    let (code, checks) = verify(&night, &folder, &["--night", path.to_str().unwrap()]);
    assert_eq!(code, 1);
    assert!(checks["originals"].1.contains("logs/a.gpx"), "{checks:?}");
}

/// What no figure follows from is held against the night too: `--night` compares all that the record says, but for the
/// version of the program that wrote it.
#[test]
fn the_nights_files_hold_all_that_a_record_says() {
    let night = small();
    let folder = record_of(&night, "quay");
    let path = night.path("");
    let name = "data/service-record.json";
    let original = std::fs::read_to_string(folder.join(name)).unwrap();
    let with_night = |change: &dyn Fn(&mut Value)| {
        let mut record: Value = serde_json::from_str(&original).unwrap();
        change(&mut record);
        let bytes = serde_json::to_vec(&record).unwrap();
        std::fs::write(folder.join(name), bytes).unwrap();
        hostile::list_again(&folder);
        verify(&night, &folder, &["--night", path.to_str().unwrap()]).1["originals"].clone()
    };
    assert_eq!(with_night(&|_| {}).0, "holds");
    assert_eq!(
        with_night(&|record| record["program"] = "0.0.9".into()).0,
        "holds"
    );
    let changes: [(&str, Value); 8] = [
        ("/record", "quay-2026-01-10".into()),
        ("/night", "2026-01-10".into()),
        ("/intake", "2026-01-12T06:00:00Z".into()),
        ("/intake_by", "intake".into()),
        ("/timezone", "Etc/GMT+3".into()),
        ("/on_file", serde_json::json!({ "photos": "forty" })),
        ("/rigs/0/clock_offset_s", 60.0.into()),
        ("/rigs/0/id", "north".into()),
    ];
    for (place, new) in changes {
        let (result, details) = with_night(&|record| {
            let old = record.pointer_mut(place).unwrap();
            assert_ne!(*old, new, "{place}");
            *old = new.clone();
        });
        assert_eq!(result, "does_not_hold", "{place}");
        assert_eq!(
            details, "data/service-record.json does not follow from the night's files",
            "{place}"
        );
    }
}

#[test]
fn a_file_changed_since_intake_makes_no_record() {
    let night = small();
    let path = night.path("");
    let intake = night.run(
        &["intake", path.to_str().unwrap()],
        &night.path("none"),
        &[],
    );
    assert_eq!(intake.code, 0, "{}", intake.stderr);
    let fleet = std::fs::read_to_string(night.path("fleet.toml")).unwrap();
    let night = night.fleet(&format!("{fleet}\n# one more line\n"));
    let out = night.path("records");
    let outcome = try_record(&night, &["--all"]);
    outcome.refused(&["fleet.toml", "changed since the night's intake"]);
    assert!(!out.exists());
}

#[test]
fn the_record_says_how_its_files_were_taken_in() {
    let night = small();
    let path = night.path("");
    night.run(
        &["intake", path.to_str().unwrap()],
        &night.path("none"),
        &[],
    );
    let taken = json(&record_of(&night, "quay"), "data/service-record.json");
    assert_eq!(taken["intake_by"], "intake");
    let made = json(&record_of(&small(), "quay"), "data/service-record.json");
    assert_eq!(made["intake_by"], "record");
}

/// Whatever the threads, and made twice from one intake: the same bytes.
#[test]
fn one_night_gives_one_record() {
    let night = small();
    let first = files(&record_of(&night, "quay"));
    std::fs::rename(night.path("records"), night.path("before")).unwrap();
    let out = record(&night, &["--site", "quay", "--threads", "1"]);
    assert_eq!(first, files(&out.join("quay-2026-01-12")));
}

#[test]
fn a_record_that_is_there_is_never_replaced() {
    let night = small();
    let folder = record_of(&night, "quay");
    let before = files(&folder);
    let path = night.path("");
    let out = night.path("records");
    let arguments = [
        "record",
        path.to_str().unwrap(),
        "--site",
        "quay",
        "--out",
        out.to_str().unwrap(),
    ];
    let outcome = night.run(&arguments, &out, &[]);
    outcome.refused(&["quay-2026-01-12", "already"]);
    assert_eq!(before, files(&folder));
}

/// A planned drive is no service.
#[test]
fn a_plan_is_refused() {
    let night = small();
    let log = std::fs::read_to_string(night.path("logs/a.gpx")).unwrap();
    let planned = log.replacen(
        "<trk>",
        "<trk><extensions><s:planned>1</s:planned></extensions>",
        1,
    );
    let night = night.log("a.gpx", planned);
    let out = night.path("records");
    try_record(&night, &["--all"]).refused(&["plans"]);
    assert!(!out.exists());
}

/// Words that no record may use of itself; the one sentence that says what it is not comes first.
#[test]
fn a_record_promises_nothing() {
    let night = demo();
    let out = record(&night, &["--all", "--presence"]);
    let mut pages = 0;
    for entry in std::fs::read_dir(out).unwrap() {
        let page = entry.unwrap().path().join("data/service-record.html");
        let Ok(text) = std::fs::read_to_string(&page) else {
            continue;
        };
        let statement = swathbook::record::words::STATEMENT.replace('\'', "&#39;");
        assert!(text.contains(&statement), "{}", page.display());
        let rest = text.replace(&statement, "").to_lowercase();
        let body = rest.split_once("<body>").unwrap().1;
        for word in [
            "safe",
            "clear",
            "ice-free",
            "complete",
            "compliant",
            "per contract",
            "certified",
            "proof",
            "guaranteed",
        ] {
            let found = body
                .split(|c: char| !c.is_alphanumeric() && c != '-')
                .any(|of| of == word);
            assert!(
                !found && (!word.contains(' ') || !body.contains(word)),
                "{word}: {}",
                page.display()
            );
        }
        pages += 1;
    }
    assert_eq!(pages, 7);
}

/// Site ids that would escape the folder, or fold to one name.
#[test]
fn no_site_id_becomes_a_path() {
    let long = "x".repeat(10_000);
    for id in [
        "../../quay",
        "..",
        "/tmp/quay",
        "nul",
        "Quay",
        "q\\u00e4y",
        long.as_str(),
    ] {
        let night = nights::small_named(id);
        let out = record(&night, &["--all"]);
        let made: Vec<PathBuf> = std::fs::read_dir(&out)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        assert_eq!(
            made.len(),
            2,
            "{id:.40}: a record and openings.json: {made:?}"
        );
        let folder = made.iter().find(|path| path.is_dir()).unwrap();
        assert_eq!(verify(&night, folder, &[]).0, 0, "{id:.40}");
    }
}

/// `Quay`, `quay` and `QUAY` fold to one name, and on some systems two names that differ in case are one.
#[test]
fn sites_that_fold_to_one_name_have_a_folder_each() {
    use crate::night::{FLEET, gpx, healthy, rectangle, sites, zone};
    let ids = ["Quay", "quay", "QUAY"];
    let (mut zones, mut fixes) = (Vec::new(), Vec::new());
    for (row, id) in ids.iter().enumerate() {
        let (north_m, later_s) = (300.0 * row as f64, 600.0 * row as f64);
        zones.push(zone(
            id,
            "lot",
            &rectangle(0.0, north_m, 80.0, north_m + 12.0),
        ));
        let own = healthy().into_iter();
        fixes
            .extend(own.map(|(s, x, y, states, flow)| (s + later_s, x, y + north_m, states, flow)));
    }
    let night = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&zones))
        .log("a.gpx", gpx(&fixes));
    let out = record(&night, &["--all"]);
    let mut names: Vec<String> = std::fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().to_lowercase())
        .filter(|name| name != "openings.json")
        .collect();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), 3, "{names:?}");
    let mut sites = Vec::new();
    for name in &names {
        let folder = out.join(name);
        assert_eq!(verify(&night, &folder, &[]).0, 0, "{name}");
        let site = json(&folder, "data/service-record.json")["site"].clone();
        sites.push(site.as_str().unwrap().to_owned());
    }
    sites.sort();
    assert_eq!(sites, ["QUAY", "Quay", "quay"]);
}
