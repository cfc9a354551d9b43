//! Nights and what their records are made with.

use crate::night::{FLEET, Night, Outcome, gpx, healthy, rectangle, sites, zone_with};
use std::path::{Path, PathBuf};

/// The demo night, copied.
pub(super) fn demo() -> Night {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/night");
    let mut night = Night::empty();
    for name in ["fleet.toml", "sites.geojson", "orders.csv"] {
        night = night.file(name, std::fs::read(from.join(name)).unwrap());
    }
    for entry in std::fs::read_dir(from.join("logs")).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().to_string_lossy().into_owned();
        night = night.log(&name, std::fs::read(entry.path()).unwrap());
    }
    night
}

/// One lot, three passes, a lane left out between the second and the third.
pub(super) fn small() -> Night {
    small_named("quay")
}

/// The same with any site id, as it stands in JSON.
pub(super) fn small_named(id: &str) -> Night {
    let lot = zone_with(
        &format!(r#""site":"{id}","zone":"lot","use":"lot","client":"harbour""#),
        &rectangle(0.0, 0.0, 80.0, 14.0),
    );
    let mut fixes = healthy();
    fixes
        .iter_mut()
        .filter(|fix| fix.2 > 9.0)
        .for_each(|fix| fix.2 = 12.0);
    Night::empty()
        .fleet(FLEET)
        .sites(&sites(&[lot]))
        .log("a.gpx", gpx(&fixes))
}

/// Makes records of a night with these flags, issued on one day; gives their folder.
pub(super) fn record(night: &Night, flags: &[&str]) -> PathBuf {
    let outcome = try_record(night, flags);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    outcome.out
}

/// The same where it may be refused.
pub(super) fn try_record(night: &Night, flags: &[&str]) -> Outcome {
    let (path, out) = (night.path(""), night.path("records"));
    let mut arguments = vec![
        "record",
        path.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ];
    arguments.extend(["--date", "2026-01-13"]);
    arguments.extend(flags);
    night.run(&arguments, &out, &[])
}

/// The folder of one site's record.
pub(super) fn record_of(night: &Night, site: &str) -> PathBuf {
    record(night, &["--site", site]).join(format!("{site}-2026-01-12"))
}
