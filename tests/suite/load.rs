//! Logs that would cost the square of the drive: twice the drive costs about twice the time and memory, and one log
//! never takes the memory of all.
//!
//! Each drive is made by a fixed recipe, so that its cost is the same on every run but for the machine. What is
//! compared is processor time, not the clock's: the suite's other tests run beside these.

use crate::night::{Fix, Night, gpx, number, rectangle, sites, zone};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;
use std::process::{Command, Stdio};
use wait4::Wait4 as _;

const PROGRAM: &str = env!("CARGO_BIN_EXE_swathbook");

/// The limit on time for twice the drive, and what the smallest night costs anyway.
const MOST_TIMES: f64 = 2.3;
const ANYWAY_S: f64 = 0.4;
/// The same of memory.
const MOST_MEMORY: f64 = 2.1;
const ANYWAY_KB: f64 = 24_000.0;

/// A lot of 80 m x 80 m about the origin under one log.
fn night(fixes: &[Fix]) -> Night {
    Night::empty()
        .fleet(crate::night::FLEET)
        .sites(&sites(&[zone(
            "quay",
            "lot",
            &rectangle(-40.0, -40.0, 40.0, 40.0),
        )]))
        .log("a.gpx", gpx(fixes))
}

/// Processor time, s, and greatest memory, kB, of an audit.
fn cost(fixes: &[Fix]) -> (f64, f64) {
    let night = night(fixes);
    let mut child = Command::new(PROGRAM)
        .args(["audit".as_ref(), night.path("").as_os_str()])
        .args(["--threads", "1", "--fail-on", "never", "--out"])
        .arg(night.path("out"))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let end = child.wait4().unwrap();
    assert_eq!(end.status.code(), Some(0));
    let seconds = (end.rusage.utime + end.rusage.stime).as_secs_f64();
    (seconds, end.rusage.maxrss as f64 / 1024.0)
}

/// Twice the drive costs at most about twice as much.
fn holds(name: &str, drive: impl Fn(usize) -> Vec<Fix>, fixes: usize) {
    let ((once_s, once_kb), (twice_s, twice_kb)) = (cost(&drive(fixes)), cost(&drive(2 * fixes)));
    assert!(
        twice_s < MOST_TIMES * once_s.max(ANYWAY_S),
        "{name}: {once_s} s, then {twice_s} s"
    );
    assert!(
        twice_kb < MOST_MEMORY * once_kb.max(ANYWAY_KB),
        "{name}: {once_kb} kB, then {twice_kb} kB"
    );
}

/// At 10 Hz and 2 m/s around a ring of 6 m, a centimetre or two off each time.
fn circling(fixes: usize) -> Vec<Fix> {
    let mut chance = ChaCha8Rng::seed_from_u64(1);
    let off = |chance: &mut ChaCha8Rng| chance.random_range(-0.02..0.02);
    (0..fixes)
        .map(|k| {
            let seconds = k as f64 / 10.0;
            let (sin, cos) = (2.0 * seconds / 6.0_f64).sin_cos();
            (
                seconds,
                6.0 * cos + off(&mut chance),
                6.0 * sin + off(&mut chance),
                "1111",
                15.0,
            )
        })
        .collect()
}

/// As many lanes one way as the other over the same 64 m x 64 m.
fn hatching(fixes: usize) -> Vec<Fix> {
    let mut chance = ChaCha8Rng::seed_from_u64(2);
    let lanes = fixes / 36;
    let mut drive = Vec::new();
    for k in 0..2 * lanes {
        let aside_m = -32.0 + 64.0 * ((k % lanes) as f64 + 0.5) / lanes as f64;
        for step in 0..18 {
            let along_m = -34.0 + 4.0 * f64::from(step);
            let along_m = if k % 2 == 0 { along_m } else { -along_m };
            let aside_m = aside_m + chance.random_range(-0.05..0.05);
            let (east_m, north_m) = if k < lanes {
                (along_m, aside_m)
            } else {
                (aside_m, along_m)
            };
            let states = if step == 17 { "0000" } else { "1111" };
            drive.push((drive.len() as f64, east_m, north_m, states, 28.8));
        }
    }
    drive
}

/// Steps of 1 to 5 m with turns of up to two radians in a square of 40 m; `states` of the sections at each.
fn wandering(
    fixes: usize,
    seconds: impl Fn(usize) -> f64,
    states: impl Fn(usize) -> &'static str,
) -> Vec<Fix> {
    let mut chance = ChaCha8Rng::seed_from_u64(3);
    let (mut at, mut way_rad) = ((0.0, 0.0), 0.0_f64);
    let mut time_s = 0.0;
    let mut drive = Vec::new();
    for k in 0..fixes {
        let states = states(k);
        let flow = if states == "0000" { 0.0 } else { 15.0 };
        drive.push((time_s, at.0, at.1, states, flow));
        time_s += seconds(k);
        loop {
            way_rad += chance.random_range(-2.0..2.0);
            let length_m = chance.random_range(1.0..5.0);
            let next = (
                at.0 + length_m * way_rad.cos(),
                at.1 + length_m * way_rad.sin(),
            );
            if next.0.abs() < 20.0 && next.1.abs() < 20.0 {
                at = next;
                break;
            }
        }
    }
    drive
}

/// Section states that change at every fix, from a fixed list.
fn chatter(k: usize) -> &'static str {
    ["1010", "0110", "1101", "0011", "1001", "0101"][(k * k + k / 7) % 6]
}

#[test]
fn twice_the_circling_costs_twice_as_much() {
    holds("circling", circling, 6_000);
}

#[test]
fn twice_the_hatching_costs_twice_as_much() {
    holds("hatching", hatching, 9_000);
}

#[test]
fn twice_the_wandering_costs_twice_as_much() {
    holds(
        "wandering",
        |fixes| wandering(fixes, |_| 1.0, |_| "1111"),
        1_500,
    );
}

#[test]
fn twice_the_chatter_costs_twice_as_much() {
    holds("chatter", |fixes| wandering(fixes, |_| 1.0, chatter), 1_500);
    let idle = |k: usize| if k < 60 { "1111" } else { "0000" };
    holds("idle", |fixes| wandering(fixes, |_| 1.0, idle), 2_000);
}

#[test]
fn twice_the_silences_cost_twice_as_much() {
    let seconds = |k: usize| if k.is_multiple_of(4) { 7.0 } else { 1.0 };
    holds(
        "silences",
        |fixes| wandering(fixes, seconds, |_| "1111"),
        1_500,
    );
}

/// A ring of 6 m under a boom of 4 m: between 4 m and 8 m from its middle all is treated, and nearly all of it many
/// times. The finding says how far off outlines may be.
#[test]
fn ground_counted_in_cells_has_the_areas_of_the_ring_that_was_driven() {
    let fixes = circling(6_000);
    let outcome = night(&fixes).audit(&["--fail-on", "never"]);
    let told = outcome.text("ground_by_cells");
    assert!(
        told.contains("cells of 0.3 ft") && told.contains("0.2 ft"),
        "{told}"
    );
    let lot = outcome.first_zone();
    let ring_m2 = TAU / 2.0 * (8.0 * 8.0 - 4.0 * 4.0);
    // The antenna is 2 cm off at most; that is 2 x 2 cm of a ring's two sides.
    for figure in ["treated_m2", "overlap_m2"] {
        let area_m2 = number(&lot[figure]);
        assert!(
            (area_m2 / ring_m2 - 1.0).abs() < 0.02,
            "{figure} {area_m2}, the ring has {ring_m2}"
        );
    }
    let metered_l = number(&outcome.runs()[0]["ledger_l"]["metered"]);
    assert!((number(&lot["volume_l"]) / metered_l - 1.0).abs() < 1e-6);
}

/// A healthy night is worked through exactly: no finding of cells.
#[test]
fn a_healthy_night_is_exact() {
    let outcome = Night::new().audit(&[]);
    assert!(outcome.findings("ground_by_cells").is_empty());
}

/// However little memory there is, the end is a documented exit code with a message, never an abort.
#[test]
#[cfg(target_os = "linux")]
fn too_little_memory_ends_with_exit_code_2() {
    let night = night(&wandering(3_000, |_| 1.0, |_| "1111"));
    let mut codes = Vec::new();
    for megabytes in [60, 75, 90, 105, 120, 140, 160, 200, 2_000] {
        let limited = Command::new("sh")
            .args([
                "-c",
                &format!(r#"ulimit -v {}; exec "$@""#, megabytes * 1000),
                "sh",
                PROGRAM,
            ])
            .args(["audit".as_ref(), night.path("").as_os_str()])
            .args(["--threads", "1", "--fail-on", "never"])
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&limited.stderr);
        let code = limited.status.code();
        assert!(
            matches!(code, Some(0 | 2)),
            "{megabytes} MB: {:?} {said}",
            limited.status
        );
        assert!(
            code == Some(0) || said.contains("memory"),
            "{megabytes} MB: {said}"
        );
        codes.push(code);
    }
    assert_eq!(codes.last(), Some(&Some(0)));
    assert!(codes.contains(&Some(2)), "{codes:?}");
}
