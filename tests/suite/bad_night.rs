//! Folders, fleet files and flags that are wrong or missing: no result, and the message says what to do.

use crate::night::{FLEET, Night, Outcome, gpx, healthy};

fn fleet(toml: &str) -> Outcome {
    Night::new().fleet(toml).audit(&[])
}

/// The usual rig with more lines.
fn rig_with(lines: &str) -> Outcome {
    fleet(&format!("{FLEET}{lines}\n"))
}

#[test]
fn a_missing_part_is_named_with_the_folder_s_layout() {
    Night::new().without("fleet.toml").audit(&[]).refused(&[
        "fleet.toml",
        "file not found",
        "--fleet",
    ]);
    Night::new().without("sites.geojson").audit(&[]).refused(&[
        "sites.geojson",
        "file not found",
        "--sites",
    ]);
    Night::new().no_logs().audit(&[]).refused(&["logs", ".gpx"]);
    let night = Night::new().no_logs();
    std::fs::remove_dir(night.path("logs")).unwrap();
    night.audit(&[]).refused(&["logs", "A night folder holds"]);
}

#[test]
fn a_folder_in_place_of_a_file_is_said() {
    for name in ["fleet.toml", "sites.geojson"] {
        let night = Night::new().without(name);
        std::fs::create_dir(night.path(name)).unwrap();
        night
            .audit(&[])
            .refused(&[name, "expected a file, found a folder"]);
    }
    let night = Night::new();
    std::fs::create_dir(night.path("logs/folder.gpx")).unwrap();
    night.audit(&[]).still_audited();
}

#[test]
fn a_night_that_is_no_folder_is_said() {
    let night = Night::new();
    let out = night.path("out");
    for (path, says) in [
        (night.path("fleet.toml"), "found a file"),
        (night.path("nowhere"), "no such night folder"),
    ] {
        night
            .run(&["audit", path.to_str().unwrap()], &out, &[])
            .refused(&[says]);
    }
    night
        .run(&["audit"], &out, &[])
        .refused(&["Name a night folder"]);
}

#[test]
fn empty_files_are_said_in_words_that_fit_them() {
    let outcome = fleet("");
    outcome.refused(&["fleet.toml", "empty"]);
    assert!(!outcome.stderr.contains("logger"), "{}", outcome.stderr);
    let outcome = Night::new().sites("").audit(&[]);
    outcome.refused(&["sites.geojson", "empty"]);
    assert!(!outcome.stderr.contains("logger"), "{}", outcome.stderr);
    fleet("# nobody\n").refused(&["the fleet file has no rig", "[[rig]]"]);
}

#[test]
fn a_wrong_unit_shows_the_line_and_the_units() {
    fleet(&FLEET.replace("30 mL/m2", "30 furlongs")).refused(&[
        "fleet.toml:2:",
        "furlongs",
        "gal/ac",
    ]);
    fleet(&FLEET.replace("30 mL/m2", "30 ft")).refused(&["fleet.toml:2:", "gal/ac"]);
}

#[test]
fn a_bare_number_shows_the_line() {
    fleet(&FLEET.replace("\"30 mL/m2\"", "30")).refused(&["fleet.toml:2:", "target = 30", "unit"]);
    fleet(&FLEET.replace("\"1 m\", \"1 m\"", "1, \"1 m\"")).refused(&["fleet.toml:6:", "unit"]);
    rig_with("tank = \"400\"").refused(&["fleet.toml:7:", "unit"]);
}

#[test]
fn broken_toml_shows_the_line() {
    fleet("[[rig]\nid = 1").refused(&["fleet.toml:1:", "not TOML"]);
    fleet(&format!(
        "{FLEET}x = {}1{}",
        "[".repeat(100_000),
        "]".repeat(100_000)
    ))
    .refused(&["fleet.toml"]);
    fleet(&("a.".repeat(50_000) + "b = 1")).refused(&["fleet.toml"]);
    Night::new()
        .file("fleet.toml", b"\xff\xfe\x00\x01[[rig]]")
        .audit(&[])
        .refused(&["fleet.toml"]);
    Night::new()
        .file("fleet.toml", b"[[rig]]\nid = \"n\xf6rd\"\n")
        .audit(&[])
        .refused(&["fleet.toml", "UTF-8"]);
}

#[test]
fn unknown_keys_rigs_products_and_zones_are_errors_with_their_lines() {
    rig_with("colour = \"red\"").refused(&["fleet.toml:7:", "colour"]);
    rig_with("product = \"beet\"").refused(&["fleet.toml:7:", "there is no product \"beet\""]);
    fleet(&FLEET.replace("[defaults]", "[defaults]\ntimezone = \"Mars/Base\""))
        .refused(&["fleet.toml:2:", "IANA"]);
    fleet(&FLEET.replace("id = \"north\"\n", "")).refused(&["no `id`"]);
    fleet(&format!(
        "{FLEET}[[rig]]\nid = \"north\"\nsections = [\"1 m\"]\n"
    ))
    .refused(&["fleet.toml:8:", "stands at two"]);
}

#[test]
fn sections_are_at_most_64_and_wider_than_nothing() {
    let of = |count: usize, width: &str| {
        let widths = vec![format!("\"{width}\""); count].join(", ");
        fleet(&format!("[[rig]]\nid = \"north\"\nsections = [{widths}]\n"))
    };
    of(65, "0.1 m").refused(&["fleet.toml:3:", "64 sections at most, found 65"]);
    of(2, "0 m").refused(&["fleet.toml:3:", "section 1 is narrower than 1 cm"]);
    of(2, "-1 m").refused(&["fleet.toml:3:", "section 1 is narrower than 1 cm"]);
    of(0, "").refused(&["fleet.toml:3:", "no `sections`"]);
}

#[test]
fn measures_that_no_rig_has_are_errors() {
    let wide = FLEET.replacen("\"1 m\"", "\"1 km\"", 1);
    fleet(&wide).refused(&["fleet.toml:6:", "sections"]);
    for width in ["1e300 m", "1e-300 m", "NaN m", "inf m", "1e999 m"] {
        fleet(&FLEET.replacen("1 m", width, 1)).refused(&["fleet.toml:6:"]);
    }
    for antenna in [
        "{ ahead = \"7 km\" }",
        "{ right = \"-1e9 m\" }",
        "{ ahead = \"1e308 ft\" }",
    ] {
        rig_with(&format!("antenna = {antenna}")).refused(&["fleet.toml:7:", "antenna"]);
    }
    rig_with("axle = \"9 km\"").refused(&["fleet.toml:7:", "axle"]);
    rig_with("position = \"5 km\"").refused(&["fleet.toml:7:", "position"]);
    rig_with("open_delay = \"-0.4 s\"").refused(&["fleet.toml:7:", "`open_delay`", "0 or more"]);
    rig_with("close_delay = \"-1 s\"").refused(&["fleet.toml:7:", "`close_delay`"]);
    rig_with("open_delay = \"40 min\"").refused(&["fleet.toml:7:", "`open_delay`"]);
    rig_with("meter = { factor = 0.0 }").refused(&["fleet.toml:7:", "factor"]);
    rig_with("meter = { factor = nan }").refused(&["fleet.toml:7:", "factor"]);
    rig_with("meter = { factor = 1e300 }").refused(&["fleet.toml:7:", "factor"]);
    rig_with("meter = { delay = \"-2 s\" }").refused(&["fleet.toml:7:", "delay"]);
    rig_with("meter = { delay = \"1e9 s\" }").refused(&["fleet.toml:7:", "delay"]);
}

#[test]
fn great_but_possible_settings_give_finite_figures() {
    let lines = "antenna = { ahead = \"12 m\", right = \"-3 m\" }\naxle = \"0 m\"\nopen_delay = \"10 s\"\nclose_delay = \"0 s\"";
    assert_ne!(rig_with(lines).code, 2);
    let defaults = "[defaults]\nband = \"99 %\"\ndropout = \"1e9 s\"\napplication_pause = \"1e9 h\"\nedge = \"1e6 m\"\nmeter_tail = \"1e9 s\"";
    assert_ne!(fleet(&FLEET.replace("[defaults]", defaults)).code, 2);
    assert_ne!(fleet(&FLEET.replace("30 mL/m2", "10 L/m2")).code, 2);
    fleet(&FLEET.replace("30 mL/m2", "1e300 L/m2")).refused(&["fleet.toml:", "10 L/m2"]);
    assert_ne!(fleet(&FLEET.replace("30 mL/m2", "1e-300 mL/m2")).code, 2);
    assert_ne!(
        rig_with("greatest_flow = \"1e-300 L/s\"\ntank = \"1e300 L\"\ngun_flow = \"1e300 L/s\"")
            .code,
        2
    );
}

#[test]
fn a_mapping_that_contradicts_itself_is_an_error() {
    rig_with("[rig.channels]\nsections = { element = \"x\", bits = 5 }")
        .refused(&["fleet.toml:8:", "5 section states"]);
    rig_with("[rig.channels]\nflow = { element = \"x\", unit = \"gal\" }")
        .refused(&["fleet.toml:8:"]);
    rig_with("[rig.channels]\nflow = { unit = \"gal/min\" }")
        .refused(&["fleet.toml:8:", "element"]);
    rig_with("[rig.channels]\nlow = { element = \"x\" }").refused(&["fleet.toml:8:", "low"]);
}

#[test]
fn an_output_folder_that_is_a_file_is_said_and_nothing_is_lost() {
    let night = Night::new().file("out", "mine");
    night
        .audit(&[])
        .refused(&["out", "expected a folder for the output, found a file"]);
    assert_eq!(std::fs::read_to_string(night.path("out")).unwrap(), "mine");
    let night = Night::new();
    std::fs::create_dir_all(night.path("out/audit.json")).unwrap();
    let outcome = night.run(
        &[
            "audit",
            night.path("").to_str().unwrap(),
            "--out",
            night.path("out").to_str().unwrap(),
        ],
        &night.path("nothing"),
        &[],
    );
    outcome.refused(&["audit.json", "found a folder"]);
    assert_eq!(std::fs::read_dir(night.path("out")).unwrap().count(), 1);
}

#[test]
fn an_unreadable_second_log_costs_only_itself() {
    let night = Night::new();
    // A link to nowhere is a name in the folder without a file behind it.
    #[cfg(unix)]
    std::os::unix::fs::symlink(night.path("gone"), night.path("logs/gone.gpx")).unwrap();
    night.audit(&[]).still_audited();
}

#[test]
fn all_logs_bad_is_no_result_and_says_why_of_the_first() {
    let night = Night::new()
        .no_logs()
        .log("a.gpx", "")
        .log("b.gpx", "<gpx>");
    night.audit(&[]).refused(&["a.gpx", "the file is empty"]);
    assert!(!night.path("out").exists());
}

#[test]
fn two_rigs_and_no_hint_asks_for_the_log_patterns() {
    let two = format!("{FLEET}[[rig]]\nid = \"south\"\nsections = [\"1 m\"]\n");
    let outcome = fleet(&two);
    outcome.refused(&[
        "healthy.gpx",
        "does not say which rig made it",
        "logs = [\"healthy.gpx\"]",
    ]);
    let both = two
        .replace("id = \"south\"", "id = \"south\"\nlogs = [\"h*\"]")
        .replace("id = \"north\"", "id = \"north\"\nlogs = [\"h*\"]");
    fleet(&both).refused(&["patterns of several rigs: north, south"]);
}

#[test]
fn a_rig_without_a_log_is_said() {
    let two = format!("{FLEET}logs = [\"*\"]\n[[rig]]\nid = \"south\"\nsections = [\"1 m\"]\n");
    let outcome = Night::new()
        .fleet(&two)
        .log("x.gpx", gpx(&healthy()))
        .audit(&[]);
    outcome.still_audited();
    assert!(outcome.text("no_log").contains("rig south"));
}
