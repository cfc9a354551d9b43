//! Flags, exit codes, streams, and the same bytes whatever the threads, file order and locale.

use crate::night::{Night, Outcome, gpx, healthy, number, pass, rectangle, sites, zone};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Outputs of an audit, as docs/formats.md lists them.
const OUTPUTS: [&str; 8] = [
    "audit.json",
    "coverage.geojson",
    "findings.csv",
    "report.html",
    "runs.csv",
    "touchup.gpx",
    "visits.csv",
    "zones.csv",
];

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/night")
}

/// All files of a folder with their bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap();
    entries
        .map(|entry| {
            let path = entry.unwrap().path();
            (
                path.file_name().unwrap().to_str().unwrap().to_owned(),
                std::fs::read(path).unwrap(),
            )
        })
        .collect()
}

/// The healthy night and a second lot that nobody treated.
fn untreated() -> Night {
    let zones = [
        zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone("mole", "lot", &rectangle(0.0, 100.0, 80.0, 112.0)),
    ];
    Night::new().sites(&sites(&zones))
}

fn program(arguments: &[&str]) -> Outcome {
    let night = Night::empty();
    night.run(arguments, &night.path("out"), &[])
}

#[test]
fn exit_codes_follow_fail_on() {
    let healthy = Night::new();
    // The passes leave 18 m of this lot without liquid.
    let bad = Night::new().sites(&sites(&[zone(
        "quay",
        "lot",
        &rectangle(0.0, 0.0, 80.0, 30.0),
    )]));
    for (flags, of_healthy, of_bad) in [
        (&[][..], 0, 1),
        (&["--fail-on", "go-back"], 0, 1),
        (&["--fail-on", "look-into"], 0, 1),
        (&["--fail-on", "never"], 0, 0),
    ] {
        assert_eq!(healthy.audit(flags).code, of_healthy, "{flags:?}");
        assert_eq!(bad.audit(flags).code, of_bad, "{flags:?}");
    }
}

#[test]
fn a_remark_for_the_record_fails_only_when_asked() {
    // A time without zone is such a remark.
    let night = Night::new()
        .no_logs()
        .log("a.gpx", gpx(&healthy()).replace("Z</time>", "</time>"));
    assert_eq!(night.audit(&["--fail-on", "look-into"]).code, 0);
    assert_eq!(night.audit(&["--fail-on", "for-the-record"]).code, 1);
    assert_eq!(Night::new().audit(&["--fail-on", "for-the-record"]).code, 0);
}

#[test]
fn the_output_does_not_go_among_the_logs_nor_over_a_file() {
    let night = Night::new();
    for (out, why) in [
        ("logs", "the output folder holds the logs"),
        ("fleet.toml", "found a file"),
    ] {
        let path = night.path(out);
        let folder = night.path("");
        let arguments = [
            "audit",
            folder.to_str().unwrap(),
            "--out",
            path.to_str().unwrap(),
        ];
        let outcome = night.run(&arguments, &night.path("out"), &[]);
        assert_eq!(outcome.code, 2, "{out}");
        assert!(outcome.stderr.contains(why), "{}", outcome.stderr);
    }
    assert!(!night.path("logs/touchup.gpx").exists());
}

/// A limit on the size of files stands in for a full disk: the first file that is too large fails.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_what_was_there() {
    let night = Night::new();
    let out = night.path("full");
    std::fs::create_dir(&out).unwrap();
    std::fs::write(out.join("audit.json"), "old").unwrap();
    let limited = Command::new("sh")
        .args(["-c", r#"trap '' XFSZ; ulimit -f 1; exec "$@""#, "sh"])
        .arg(env!("CARGO_BIN_EXE_swathbook"))
        .args([
            "audit".as_ref(),
            night.path("").as_os_str(),
            "--out".as_ref(),
            out.as_os_str(),
        ])
        .output()
        .unwrap();
    let stderr = String::from_utf8_lossy(&limited.stderr);
    assert_eq!(limited.status.code(), Some(2), "{stderr}");
    assert!(stderr.contains("cannot be written"), "{stderr}");
    assert_eq!(
        files(&out),
        BTreeMap::from([("audit.json".to_owned(), b"old".to_vec())])
    );
}

#[test]
fn a_start_that_is_no_place_is_refused() {
    let night = Night::new();
    assert_eq!(night.audit(&["--from", "-30.01,45.02"]).code, 0);
    for bad in ["45.02", "-30.01 45.02", "45.02,-100", "here,there", "nan,0"] {
        let outcome = night.audit(&["--from", bad]);
        assert_eq!(outcome.code, 2, "{bad}");
        assert!(
            outcome.stderr.contains("longitude, then latitude"),
            "{bad}: {}",
            outcome.stderr
        );
    }
}

#[test]
fn help_tells_the_exit_codes() {
    for arguments in [&["--help"][..], &["audit", "--help"]] {
        let outcome = program(arguments);
        assert_eq!(outcome.code, 0);
        for says in [
            "Exit codes:",
            "0  done",
            "1  done, and there is a finding at or above --fail-on",
            "2  no result was possible",
        ] {
            assert!(
                outcome.stdout.contains(says),
                "no {says:?} in {}",
                outcome.stdout
            );
        }
    }
    let version = concat!("swathbook ", env!("CARGO_PKG_VERSION"), "\n");
    assert_eq!(program(&["-V"]).stdout, version);
    let told = program(&["--version"]).stdout;
    assert!(told.starts_with(version), "{told}");
    assert!(
        told.contains("urn:swathbook:log:1") && told.contains("swathbook-audit/2"),
        "{told}"
    );
}

#[test]
fn unknown_flags_and_values_are_exit_2() {
    for arguments in [
        &["audit", "--colour"][..],
        &["audit", "x", "--fail-on", "sometimes"],
        &["audit", "x", "--units", "imperial"],
        &["audit", "x", "--rate-unit", "gal"],
        &["audit", "x", "--threads", "0"],
        &["audit", "x", "--threads", "many"],
        &["audit", "x", "--sites-crs", "utm"],
        &["audit", "x", "--strips"],
        &["audit", "x", "y"],
        &["inspekt"],
        &[],
    ] {
        let outcome = program(arguments);
        assert_eq!(outcome.code, 2, "{arguments:?}");
        assert!(
            outcome.stdout.is_empty() && !outcome.stderr.is_empty(),
            "{arguments:?}"
        );
    }
}

/// What cannot be started is a message, not a panic; what is more than a machine has is cut down.
#[cfg(unix)]
#[test]
fn threads_are_capped_and_a_pool_that_cannot_start_is_exit_2() {
    let night = Night::new();
    assert_eq!(night.audit(&["--threads", "1000000"]).code, 0);
    for bad in ["0", "-1", "many"] {
        let outcome = night.audit(&[&format!("--threads={bad}")]);
        assert!(
            outcome.code == 2 && outcome.stderr.contains("1 or more"),
            "{bad}: {}",
            outcome.stderr
        );
    }
    // A stack of 64 GiB does not fit under a limit of 8 GB, so that not even the first thread starts; with a limit on
    // memory alone a thread may start and then lack the bytes to live, which no program can tell.
    let limited = Command::new("sh")
        .args(["-c", r#"ulimit -v 8000000; exec "$@""#, "sh"])
        .arg(env!("CARGO_BIN_EXE_swathbook"))
        .args(["audit".as_ref(), night.path("").as_os_str()])
        .args(["--threads", "2"])
        .env("RUST_MIN_STACK", (64_u64 << 30).to_string())
        .output()
        .unwrap();
    let stderr = String::from_utf8_lossy(&limited.stderr);
    assert_eq!(limited.status.code(), Some(2), "{stderr}");
    assert!(
        stderr.contains("cannot be started") && !stderr.contains("panicked"),
        "{stderr}"
    );
}

/// A pipe says what it is; a log that the system makes up as it is read holds nobody.
#[cfg(unix)]
#[test]
fn special_files_are_named_and_never_waited_for() {
    let night = Night::new().without("fleet.toml");
    let pipe = night.path("fleet.toml");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    night
        .audit(&[])
        .refused(&["fleet file: expected a file, found a pipe"]);
    let night = Night::new();
    if Path::new("/proc/kmsg").exists() {
        let outcome = night.audit(&["--logs", "/proc/kmsg"]);
        outcome.refused(&["/proc/kmsg"]);
    }
    let outcome = night.audit(&["--logs", "/dev/zero"]);
    outcome.refused(&["/dev/zero: expected a log or a folder of logs, found a device"]);
}

/// A full disk behind stdout: nothing is said to be missing that is there.
#[cfg(target_os = "linux")]
#[test]
fn files_that_are_written_count_though_the_page_cannot_be_printed() {
    let night = Night::new();
    let run = |flags: &[&std::ffi::OsStr]| {
        Command::new(env!("CARGO_BIN_EXE_swathbook"))
            .args(["audit".as_ref(), night.path("").as_os_str()])
            .args(flags)
            .stdout(
                std::fs::OpenOptions::new()
                    .write(true)
                    .open("/dev/full")
                    .unwrap(),
            )
            .output()
            .unwrap()
    };
    let out = night.path("told");
    let output = run(&["--out".as_ref(), out.as_os_str()]);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{stderr}");
    assert!(
        stderr.contains("cannot write to standard output") && stderr.contains("are all written"),
        "{stderr}"
    );
    assert!(out.join("audit.json").exists());
    // Without files there is no result at all.
    assert_eq!(run(&[]).status.code(), Some(2));
}

#[test]
fn what_an_earlier_run_left_goes_and_files_that_do_not_fit_are_named() {
    let night = Night::new().file("orders.csv", "site\nquay\n");
    let first = night.audit(&["--strips"]);
    assert!(first.out.join("orders_done.csv").exists() && first.out.join("strips.json").exists());
    let night = night.without("orders.csv");
    let second = night.audit(&[]);
    assert_eq!(files(&second.out).into_keys().collect::<Vec<_>>(), OUTPUTS);
    assert_eq!(second.stderr, "");
    let outputs = second.audit()["outputs"].as_array().unwrap();
    assert_eq!(outputs.len(), OUTPUTS.len() - 1);
    for output in outputs {
        use sha2::Digest;
        let bytes = std::fs::read(second.out.join(output["name"].as_str().unwrap())).unwrap();
        let digest: String = sha2::Sha256::digest(&bytes)
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        assert_eq!(output["sha256"], digest.as_str());
    }
    std::fs::write(second.out.join("zones.csv"), "of another run").unwrap();
    let third = night.audit(&[]);
    assert!(
        third
            .stderr
            .contains("does not match its audit.json: zones.csv"),
        "{}",
        third.stderr
    );
    assert_eq!(night.audit(&[]).stderr, "");
}

#[test]
fn an_output_folder_that_holds_an_input_is_refused_and_the_input_stays() {
    let night = Night::new();
    let made = night.audit(&[]).out;
    let sites = made.join("coverage.geojson");
    let before = std::fs::read(&sites).unwrap();
    let outcome = night.audit_to("out", &["--sites", sites.to_str().unwrap()], &[]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("is an input"), "{}", outcome.stderr);
    assert_eq!(std::fs::read(&sites).unwrap(), before);
}

#[test]
fn every_shell_gets_completions_that_know_the_commands() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let outcome = program(&["completions", shell]);
        assert_eq!(outcome.code, 0, "{shell}: {}", outcome.stderr);
        for word in ["audit", "sites-crs", "completions"] {
            assert!(
                outcome.stdout.contains(word),
                "{shell} does not know {word}"
            );
        }
    }
    assert_eq!(program(&["completions", "abacus"]).code, 2);
}

/// The first hour: make a night, audit it, and there is a result without an alarm.
#[test]
fn a_new_night_is_audited_at_the_first_try() {
    let place = Night::empty();
    let folder = place.path("first");
    let night = folder.to_str().unwrap();
    let made = place.run(&["new", night], &place.path("none"), &[]);
    assert_eq!(made.code, 0, "{}", made.stderr);
    assert!(
        made.stdout
            .contains(&format!("swathbook audit {night} --out {night}/out")),
        "{}",
        made.stdout
    );
    let out = folder.join("out");
    let outcome = place.run(&["audit", night, "--out", out.to_str().unwrap()], &out, &[]);
    assert_eq!(outcome.code, 0, "{}{}", outcome.stdout, outcome.stderr);
    assert_eq!(outcome.audit()["findings"], serde_json::json!([]));
    assert_eq!(outcome.audit()["orders"][0]["status"], "done");
    let zone = outcome.first_zone();
    // 40 m by 6 m, to the seven decimals of its corners; a boom of 20 ft covers it all.
    assert!((number(&zone["area_m2"]) - 240.0).abs() < 0.4, "{zone}");
    assert!(
        number(&zone["treated_m2"]) > 0.99 * number(&zone["area_m2"]),
        "{zone}"
    );
    let again = place.run(&["new", night], &place.path("none"), &[]);
    again.refused(&["expected a folder that is empty or not there yet"]);
}

#[test]
fn data_goes_to_stdout_and_talk_to_stderr() {
    let outcome = untreated().audit(&[]);
    assert!(outcome.stdout.contains("quay") && outcome.stdout.contains("Sites without treatment"));
    assert_eq!(outcome.stderr, "", "no bar where stderr is no terminal");
    let outcome = Night::new().without("fleet.toml").audit(&[]);
    assert!(
        outcome.stdout.is_empty() && outcome.stderr.starts_with("swathbook: "),
        "{}",
        outcome.stderr
    );
}

#[test]
fn all_outputs_are_there_and_no_others() {
    let outcome = untreated().audit(&[]);
    assert_eq!(files(&outcome.out).into_keys().collect::<Vec<_>>(), OUTPUTS);
    let formats = include_str!("../../docs/formats.md");
    for name in OUTPUTS {
        assert!(
            formats.contains(&format!("`{name}`")),
            "{name} is not in docs/formats.md"
        );
    }
}

#[test]
fn strips_come_when_asked_and_add_up_to_the_ledger() {
    let night = Night::new();
    let outcome = night.audit(&["--strips"]);
    let bytes = std::fs::read(outcome.out.join("strips.json")).unwrap();
    let strips: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    assert!(
        strips.as_array().is_some_and(|list| !list.is_empty()) || strips.is_object(),
        "{strips}"
    );
    assert!(
        !night
            .audit_to("plain", &[], &[])
            .out
            .join("strips.json")
            .exists()
    );
}

#[test]
fn threads_locale_and_time_zone_change_no_byte() {
    let night = Night::empty();
    let folder = demo();
    let folder = folder.to_str().unwrap();
    let mut first: Option<(BTreeMap<String, Vec<u8>>, String)> = None;
    for (number, (threads, variables)) in [
        ("1", &[][..]),
        ("2", &[][..]),
        (
            "7",
            &[
                ("LANG", "de_DE.UTF-8"),
                ("LC_ALL", "de_DE.UTF-8"),
                ("TZ", "Asia/Kathmandu"),
            ],
        ),
        (
            "2",
            &[
                ("LANG", "C"),
                ("LC_ALL", "tr_TR"),
                ("TZ", ":nonsense"),
                ("TZDIR", "/nonexistent"),
            ],
        ),
        (
            "2",
            &[
                ("RAYON_NUM_THREADS", "3"),
                ("COLUMNS", "40"),
                ("NO_COLOR", "1"),
                ("PROJ_DATA", "/nonexistent"),
            ],
        ),
    ]
    .into_iter()
    .enumerate()
    {
        let out = night.path(&number.to_string());
        let arguments = [
            "audit",
            folder,
            "--out",
            out.to_str().unwrap(),
            "--threads",
            threads,
            "--strips",
        ];
        let outcome = night.run(&arguments, &out, variables);
        let made = (files(&out), outcome.stdout);
        match &first {
            None => first = Some(made),
            Some(first) => assert!(*first == made, "{threads} threads, {variables:?}"),
        }
    }
}

#[test]
fn the_order_and_place_of_the_files_change_no_byte() {
    let night = Night::new()
        .log("b.gpx", gpx(&pass(100.0, (500.0, 0.0), (600.0, 0.0))))
        .log("c.gpx", gpx(&pass(200.0, (0.0, 300.0), (100.0, 300.0))));
    let path = |name: &str| night.path(name).to_str().unwrap().to_owned();
    let made = |out: &str, logs: &[&str]| {
        let mut arguments = vec![
            "audit".to_owned(),
            "--fleet".into(),
            path("fleet.toml"),
            "--sites".into(),
            path("sites.geojson"),
        ];
        for log in logs {
            arguments.extend(["--logs".to_owned(), path(log)]);
        }
        arguments.extend(["--out".to_owned(), path(out)]);
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let outcome = night.run(&arguments, &night.path(out), &[]);
        assert_ne!(outcome.code, 2, "{}", outcome.stderr);
        (files(&outcome.out), outcome.stdout)
    };
    let first = made("out1", &["logs/healthy.gpx", "logs/b.gpx", "logs/c.gpx"]);
    assert!(first == made("out2", &["logs/c.gpx", "logs/healthy.gpx", "logs/b.gpx"]));
    assert!(first == made("out3", &["logs"]));
    assert!(
        first == made("out4", &["logs/b.gpx", "logs"]),
        "a log named twice counts once"
    );
}

#[test]
fn flags_stand_in_for_the_night_folder_or_parts_of_it() {
    let night = Night::new();
    let elsewhere = Night::empty().file(
        "my fleet.toml",
        std::fs::read(night.path("fleet.toml")).unwrap(),
    );
    let night = night.without("fleet.toml");
    night
        .audit(&["--fleet", elsewhere.path("my fleet.toml").to_str().unwrap()])
        .still_audited();
    night
        .audit(&["--fleet", elsewhere.path("gone.toml").to_str().unwrap()])
        .refused(&["gone.toml", "--fleet"]);
    let (fleet, sites, logs) = (
        elsewhere.path("my fleet.toml"),
        night.path("sites.geojson"),
        night.path("logs"),
    );
    let arguments = [
        "audit",
        "--fleet",
        fleet.to_str().unwrap(),
        "--sites",
        sites.to_str().unwrap(),
        "--logs",
        logs.to_str().unwrap(),
    ];
    let outcome = night.run(&arguments, &night.path("none"), &[]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.json.is_none() && outcome.stdout.contains("quay"));
    let outcome = night.run(&arguments[..5], &night.path("none"), &[]);
    outcome.refused(&["no logs are named", "--logs"]);
}

#[test]
fn no_path_of_the_machine_reaches_an_output() {
    let night = untreated();
    let outcome = night.audit(&["--strips"]);
    let secret = night
        .path("")
        .to_str()
        .unwrap()
        .trim_end_matches('/')
        .to_owned();
    for (name, bytes) in files(&outcome.out) {
        assert!(
            !String::from_utf8(bytes).unwrap().contains(&secret),
            "{name}"
        );
    }
    assert!(!outcome.stdout.contains(&secret));
}

#[test]
fn metric_units_change_the_tables_and_not_the_json() {
    let night = untreated();
    let (us, metric) = (
        night.audit_to("us", &[], &[]),
        night.audit_to("metric", &["--units", "metric"], &[]),
    );
    let heading = |outcome: &Outcome, name: &str| {
        std::fs::read_to_string(outcome.out.join(name))
            .unwrap()
            .lines()
            .next()
            .unwrap()
            .to_owned()
    };
    assert!(
        heading(&us, "zones.csv").contains("area_ft2")
            && heading(&us, "zones.csv").contains("rate_swept_gal_1000ft2")
    );
    assert!(
        heading(&metric, "zones.csv").contains("area_m2")
            && heading(&metric, "zones.csv").contains("rate_swept_ml_m2")
    );
    assert!(
        !heading(&metric, "zones.csv").contains("ft2")
            && !heading(&metric, "runs.csv").contains("gal")
    );
    // 80 m x 12 m.
    let table = std::fs::read_to_string(metric.out.join("zones.csv")).unwrap();
    assert!(table.contains(",960"), "{table}");
    let table = std::fs::read_to_string(us.out.join("zones.csv")).unwrap();
    // 960 m2 / 0.09290304.
    assert!(table.contains("10333"), "{table}");
    let mut numbers = (us.json.clone().unwrap(), metric.json.clone().unwrap());
    for json in [&mut numbers.0, &mut numbers.1] {
        json.as_object_mut().unwrap().remove("outputs");
        for finding in json["findings"].as_array_mut().unwrap() {
            // Findings' words are for people, in the units chosen; so are the tables, whose digests differ.
            finding
                .as_object_mut()
                .unwrap()
                .retain(|key, _| key != "text" && key != "check");
        }
    }
    assert_eq!(numbers.0, numbers.1);
}

#[test]
fn the_rate_unit_is_the_one_asked_for() {
    // Off its target, so that the table shows the site.
    let night = Night::new().fleet(&crate::night::FLEET.replace("30 mL/m2", "20 mL/m2"));
    for (flag, shown) in [
        ("gal-ac", "gal/ac"),
        ("gal-1000ft2", "gal/1000 ft2"),
        ("gal-lane-mi", "gal/lane-mi"),
        ("l-ha", "L/ha"),
        ("ml-m2", "mL/m2"),
    ] {
        let outcome = night.audit(&["--rate-unit", flag]);
        assert!(outcome.stdout.contains(shown), "{flag}: {}", outcome.stdout);
        assert_eq!(outcome.code, 0);
    }
    // 30 mL/m2 are 300 L/ha; as the healthy night lays.
    assert!(night.audit(&["--rate-unit", "l-ha"]).stdout.contains("300"));
}

#[test]
fn a_reader_that_has_had_enough_is_no_error() {
    let mut program = Command::new(env!("CARGO_BIN_EXE_swathbook"))
        .args(["audit", demo().to_str().unwrap(), "--fail-on", "never"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Closed before anything is written, as by `| head -0`.
    drop(program.stdout.take());
    let output = program.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn a_second_audit_replaces_the_first_and_leaves_other_files_alone() {
    let night = untreated();
    let out = night.audit(&[]).out;
    std::fs::write(out.join("notes.txt"), "mine").unwrap();
    let before = files(&out);
    night.audit(&[]);
    assert!(before == files(&out));
}
