//! Files made to do harm, or that some machine made so: each costs itself, and the healthy log beside it is
//! still audited. Bombs, deep nesting and entities of a log stand in `bad_logs/files.rs`.

use crate::night::{FLEET, Night, Outcome, gpx, healthy, rectangle, sites, zone};

/// A night with one more log, or what is named like one.
fn with(make: impl FnOnce(&Night)) -> Outcome {
    let night = Night::new();
    make(&night);
    let outcome = night.audit(&["--fail-on", "never"]);
    outcome.still_audited();
    outcome
}

/// What the findings say of a file.
fn told(outcome: &Outcome, file: &str) -> String {
    let texts = outcome.findings("input_skipped");
    let mut texts = texts
        .iter()
        .map(|finding| finding["text"].as_str().unwrap());
    let text = texts.find(|text| text.contains(file));
    text.unwrap_or_else(|| panic!("nothing of {file}: {}", outcome.stdout))
        .to_owned()
}

#[test]
fn nul_bytes_cost_only_their_file() {
    let text = gpx(&healthy());
    for bytes in [
        vec![0; 100_000],
        [text.as_bytes(), &[0; 4096]].concat(),
        text.replacen("<time>", "<time>\0", 1).into_bytes(),
        text.replace("flow", "flow\0").into_bytes(),
    ] {
        let outcome = with(|night| drop(night.clone().log("nul.gpx", bytes)));
        assert!(!outcome.stdout.contains('\0'));
    }
}

#[test]
fn a_folder_named_like_a_log_is_told() {
    let outcome = with(|night| std::fs::create_dir(night.path("logs/x.gpx")).unwrap());
    assert!(told(&outcome, "x.gpx").contains("found a folder"));
}

#[test]
fn an_empty_log_is_told() {
    let outcome = with(|night| drop(night.clone().log("none.gpx", "")));
    assert!(told(&outcome, "none.gpx").contains("the file is empty"));
}

#[test]
#[cfg(unix)]
fn a_pipe_named_like_a_log_is_told_and_not_waited_for() {
    let outcome = with(|night| {
        let made = std::process::Command::new("mkfifo")
            .arg(night.path("logs/pipe.gpx"))
            .status();
        assert!(made.unwrap().success());
    });
    assert!(told(&outcome, "pipe.gpx").contains("found a pipe"));
}

#[test]
#[cfg(unix)]
fn links_to_themselves_to_nowhere_and_to_a_device_are_told() {
    let outcome = with(|night| {
        let link = |to: &str, name: &str| {
            std::os::unix::fs::symlink(to, night.path(name)).unwrap();
        };
        link("loop.gpx", "logs/loop.gpx");
        link("gone", "logs/gone.gpx");
        link("/dev/zero", "logs/zero.gpx");
    });
    assert!(told(&outcome, "loop.gpx").contains("cannot be read"));
    assert!(told(&outcome, "gone.gpx").contains("cannot be read"));
    assert!(told(&outcome, "zero.gpx").contains("found a device"));
}

#[test]
#[cfg(unix)]
fn a_log_that_must_not_be_read_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let outcome = with(|night| {
        let night = night.clone().log("secret.gpx", "<gpx></gpx>");
        let shut = std::fs::Permissions::from_mode(0o000);
        std::fs::set_permissions(night.path("logs/secret.gpx"), shut).unwrap();
    });
    // The superuser may read it all the same: then it is a log without points.
    let text = told(&outcome, "secret.gpx");
    assert!(
        text.contains("cannot be read") || text.contains("no points"),
        "{text}"
    );
}

#[test]
fn a_log_with_a_name_of_any_letters_costs_only_itself() {
    let long = format!("{}.gpx", "n".repeat(250));
    let outcome = with(|night| drop(night.clone().log(&long, "<gpx/>")));
    assert!(told(&outcome, &long).contains("no points"));
    #[cfg(unix)]
    {
        let outcome = with(|night| drop(night.clone().log("a\u{1b}[2J\nb.gpx", "<gpx/>")));
        assert!(told(&outcome, "a[2Jb.gpx").contains("no points"));
        assert!(!outcome.stdout.contains('\u{1b}'));
    }
}

#[test]
fn endless_names_in_a_log_are_cut() {
    let endless = "x".repeat(1 << 16);
    let text = gpx(&healthy()).replace(
        "<s:flow>",
        &format!("<s:product>{endless}</s:product><s:flow>"),
    );
    // The text of 75 points with a product of 64 KiB each.
    let outcome = Night::new()
        .log("healthy.gpx", text)
        .audit(&["--fail-on", "never"]);
    outcome.still_audited();
    let shown = outcome.json.as_ref().unwrap().to_string();
    assert!(shown.len() < 1 << 16, "{} bytes", shown.len());
}

#[test]
fn a_file_larger_than_any_of_its_role_is_refused_before_it_is_read() {
    // Files with nothing in them but their length.
    for (name, most_mib) in [
        ("fleet.toml", 4),
        ("orders.csv", 64),
        ("sites.geojson", 256),
    ] {
        let night = Night::new();
        let file = std::fs::File::create(night.path(name)).unwrap();
        file.set_len((most_mib << 20) + 1).unwrap();
        let says = format!("larger than {most_mib} MiB");
        night.audit(&[]).refused(&[name, &says]);
    }
    let outcome = with(|night| {
        let file = std::fs::File::create(night.path("logs/large.gpx")).unwrap();
        file.set_len((512 << 20) + 1).unwrap();
    });
    assert!(told(&outcome, "large.gpx").contains("larger than 512 MiB"));
}

#[test]
fn a_sites_file_of_nothing_but_brackets_is_refused_before_it_fills_the_memory() {
    let sites = format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{}0]}}",
        "[],".repeat(9_000_000)
    );
    Night::new()
        .sites(&sites)
        .audit(&[])
        .refused(&["sites.geojson", "more than 17000000 values"]);
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    Night::new()
        .sites(&deep)
        .audit(&[])
        .refused(&["sites.geojson", "not JSON"]);
}

#[test]
fn a_sites_file_that_stacks_its_zones_is_refused_before_it_takes_hours() {
    let ground = rectangle(0.0, 0.0, 80.0, 12.0);
    let stack: Vec<String> = (0..400)
        .map(|i| zone(&format!("s{i}"), "1", &ground))
        .collect();
    let night = Night::new().sites(&sites(&stack));
    night
        .audit(&[])
        .refused(&["sites.geojson", "lie over and next to each other"]);
}

#[test]
fn combs_laid_across_each_other_are_refused_before_they_take_hours() {
    // 300 teeth each way have two edges each: 300 x 2 x 300 x 2 crossings.
    let comb = |lying: bool| {
        let teeth = (0..300).flat_map(|i| {
            let at = f64::from(i) * 0.2;
            [(at, -1.0), (at, 61.0), (at + 0.1, 61.0), (at + 0.1, -1.0)]
        });
        let turned = teeth.map(|(a, b)| if lying { (b, a) } else { (a, b) });
        let mut ring: Vec<(f64, f64)> = turned.collect();
        ring.extend(if lying {
            [(-2.0, 60.0), (-2.0, 0.0)]
        } else {
            [(60.0, -2.0), (0.0, -2.0)]
        });
        ring.push(ring[0]);
        format!("[{}]", crate::night::ring(&ring))
    };
    let combs = [
        zone("quay", "1", &comb(false)),
        zone("quay", "2", &comb(true)),
    ];
    let night = Night::new().sites(&sites(&combs));
    night
        .audit(&[])
        .refused(&["sites.geojson", "quay", "cross each other"]);
}

#[test]
fn more_rigs_products_or_patterns_than_any_fleet_has_are_refused() {
    let fleet = |toml: &str| Night::new().fleet(toml).audit(&[]);
    let rigs: String = (0..1001)
        .map(|i| format!("[[rig]]\nid = \"r{i}\"\nsections = [\"1 m\"]\n"))
        .collect();
    fleet(&rigs).refused(&["fleet.toml:3001:", "more than 1000 [[rig]] tables"]);
    let products: String = (0..1001)
        .map(|i| format!("[[product]]\nid = \"p{i}\"\n"))
        .collect();
    fleet(&format!("{products}{FLEET}")).refused(&["more than 1000 [[product]] tables"]);
    let patterns = vec!["\"a*\""; 101].join(", ");
    fleet(&format!("{FLEET}logs = [{patterns}]\n")).refused(&["more than 100 patterns"]);
}

#[test]
fn more_orders_than_any_night_has_are_refused() {
    let rows = "quay,lot,A\n".repeat(100_001);
    let night = Night::new().file("orders.csv", format!("site,zone,order\n{rows}"));
    night
        .audit(&[])
        .refused(&["orders.csv", "more than 100000 rows"]);
}

/// A reader of such text once called every row the first line's.
#[test]
fn orders_with_the_line_ends_of_an_old_machine_keep_their_lines() {
    let night = Night::new().file(
        "orders.csv",
        "site,zone,target\rquay,lot,\rquay,lot,three\r",
    );
    let outcome = night.audit(&["--fail-on", "never"]);
    outcome.still_audited();
    assert!(
        told(&outcome, "orders.csv").contains("line 3: `target` cannot be read"),
        "{}",
        outcome.stdout
    );
}
