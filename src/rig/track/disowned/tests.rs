//! Random drives of lanes and turns whose receiver goes astray for a few seconds now and then.

use super::super::{Link, Step, Track, displacement_m};
use super::*;
use crate::geometry::place::{Instant, LonLat};
use crate::input::log::Fix;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A drive, with the truth beside it.
struct Drive {
    truth: Vec<LonLat>,
    track: Track,
}

fn place(east_m: f64, north_m: f64) -> LonLat {
    LonLat {
        lon_deg: -30.0 + east_m / 78_847.0,
        lat_deg: 45.0 + north_m / 111_132.0,
    }
}

/// Lanes of 50 to 90 m at 3 m/s and turns of 6 m, `per_s` fixes a second with 0.02 m of noise; about every
/// 40 s the receiver is 3 to 8 m off for 2 to 7 s. `hdop`: it says so.
fn drive(seed: u64, per_s: f64, hdop: bool) -> Drive {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let (mut east_m, mut north_m, mut rad) = (0.0_f64, 0.0_f64, chance.random_range(0.0..6.0_f64));
    let dt_s = 1.0 / per_s;
    let (mut truth, mut fixes) = (Vec::new(), Vec::new());
    let (mut astray, mut off) = (
        -(chance.random_range(20.0..40.0) * per_s) as i64,
        (0.0, 0.0),
    );
    for lane in 0..12 {
        let turn = if lane % 2 == 0 { 1.0 / 6.0 } else { -1.0 / 6.0 };
        let lane_s = chance.random_range(17.0..30.0);
        let turn_s = std::f64::consts::PI * 6.0 / 3.0;
        for (seconds, curvature) in [(lane_s, 0.0), (turn_s, turn)] {
            for _ in 0..(seconds * per_s) as usize {
                rad += 3.0 * dt_s * curvature;
                east_m += 3.0 * dt_s * rad.cos();
                north_m += 3.0 * dt_s * rad.sin();
                if lane == 11 && astray < 0 {
                    // Good to the end: a row that nothing follows is not bridged.
                    astray = -1_000_000;
                }
                astray += 1;
                if astray == 0 {
                    // Across the way, as an echo that a rig could not have driven to.
                    let side_m = chance.random_range(3.0..8.0)
                        * if chance.random::<bool>() { 1.0 } else { -1.0 };
                    off = (-rad.sin() * side_m, rad.cos() * side_m);
                } else if astray as f64 >= chance.random_range(2.0..7.0) * per_s {
                    astray = -(chance.random_range(30.0..50.0) * per_s) as i64;
                    off = (0.0, 0.0);
                }
                let mut noise = || 0.02 * chance.random_range(-1.7..1.7);
                let logged = place(east_m + off.0 + noise(), north_m + off.1 + noise());
                let time = Instant((truth.len() as f64 * dt_s * 1e6) as i64);
                let mut fix = Fix::bare(time, logged, 1);
                fix.hdop = match (hdop, astray >= 0) {
                    (false, _) => f32::NAN,
                    (true, false) => 0.9,
                    (true, true) => 2.4,
                };
                truth.push(place(east_m, north_m));
                fixes.push(fix);
            }
        }
    }
    let steps = fixes.windows(2).map(|pair: &[Fix]| {
        let (east_m, north_m) = displacement_m(pair[0].place, pair[1].place);
        Step {
            link: Link::Driven,
            seconds: dt_s,
            east_m,
            north_m,
        }
    });
    let mut track = Track::eastward(2, |_, _| {});
    (track.steps, track.fixes) = (steps.collect(), fixes);
    Drive { truth, track }
}

fn errors_m(drive: &Drive) -> Vec<f64> {
    let error_m = |(truth, fix): (&LonLat, &Fix)| {
        let (east_m, north_m) = displacement_m(*truth, fix.place);
        east_m.hypot(north_m)
    };
    drive
        .truth
        .iter()
        .zip(&drive.track.fixes)
        .map(error_m)
        .collect()
}

#[test]
fn places_with_a_dilution_far_over_the_usual_one_are_bridged() {
    let mut usual_m = Vec::new();
    for seed in 0..30 {
        for per_s in [1.0, 5.0] {
            let mut drive = drive(seed, per_s, true);
            bridge(&mut drive.track);
            let disowned = drive.track.manner.disowned;
            assert!(disowned.bridged > 5 && disowned.left == 0, "{disowned:?}");
            let errors_m = errors_m(&drive);
            let worst_m = errors_m.iter().copied().fold(0.0, f64::max);
            // Off by 3 to 8 m as logged; a cubic over all of a turn of 6 m leaves it by up to 4 m.
            assert!(worst_m < 4.5, "seed {seed}: {worst_m}");
            let bridged = errors_m
                .iter()
                .zip(&drive.track.extra_m)
                .filter(|(_, extra_m)| **extra_m > 0.0)
                .map(|(error_m, _)| *error_m);
            usual_m.extend(bridged);
        }
    }
    assert!(crate::rig::track::median(&mut usual_m) < 0.25);
}

#[test]
fn steps_to_the_side_and_back_are_bridged_without_a_dilution() {
    let (mut astray, mut cured) = (0, 0);
    for seed in 0..30 {
        let mut drive = drive(seed, 5.0, false);
        let before_m = errors_m(&drive);
        bridge(&mut drive.track);
        let after_m = errors_m(&drive);
        astray += before_m.iter().filter(|error_m| **error_m > 2.0).count();
        cured += before_m
            .iter()
            .zip(&after_m)
            .filter(|(b, a)| **b > 2.0 && **a < 2.0)
            .count();
    }
    // Not all: a step aside within a turn looks like the turn.
    assert!(cured as f64 > 0.9 * astray as f64, "{cured} of {astray}");
}

#[test]
fn the_extra_error_grows_to_the_middle_of_a_bridge_and_is_nothing_elsewhere() {
    let mut track = Track::eastward(30, |i, fix| {
        fix.hdop = if (10..14).contains(&i) { 3.0 } else { 1.0 };
        fix.place.lon_deg += i as f64 * 4.0 / 78_847.0;
    });
    bridge(&mut track);
    // From fix 9 to fix 14: 5 s.
    for (i, extra_m) in track.extra_m.iter().enumerate() {
        let u = (i as f64 - 9.0) / 5.0;
        let want_m = if (0.0..1.0).contains(&u) {
            0.05 * 5.0 * 4.0 * u * (1.0 - u)
        } else {
            0.0
        };
        assert!(
            (f64::from(*extra_m) - want_m).abs() < 1e-6,
            "{i}: {extra_m}"
        );
    }
    assert!(track.steps.iter().all(|step| step.link == Link::Driven));
}

#[test]
fn longer_rows_stay_where_they_were_logged() {
    let bad = |i: usize| (40..60).contains(&i);
    let mut track = Track::eastward(200, |i, fix| {
        fix.hdop = if bad(i) { 3.0 } else { 1.0 };
        fix.place.lon_deg += (i as f64 * 4.0 + if bad(i) { 3.0 } else { 0.0 }) / 78_847.0;
    });
    let logged = track.clone();
    bridge(&mut track);
    assert_eq!(
        (track.manner.disowned.bridged, track.manner.disowned.left),
        (0, 20)
    );
    assert!(
        track
            .fixes
            .iter()
            .zip(&logged.fixes)
            .all(|(a, b)| a.place == b.place)
    );
    assert!((track.extra_m[50] - 3.0).abs() < 1e-6);
}

/// 6 m to the north in one step of 4 m to the east, and back: 6 m over the root of 2 on each axis.
#[test]
fn longer_rows_are_as_far_off_as_they_stepped_aside() {
    let mut track = Track::eastward(200, |i, fix| {
        let bad = (40..60).contains(&i);
        fix.hdop = if bad { 3.0 } else { 1.0 };
        fix.place.lon_deg += i as f64 * 4.0 / 78_847.0;
        fix.place.lat_deg += if bad { 6.0 } else { 0.0 } / 111_132.0;
    });
    (track.steps[39].north_m, track.steps[59].north_m) = (6.0, -6.0);
    bridge(&mut track);
    assert_eq!(track.manner.disowned.left, 20);
    assert!(
        (track.extra_m[50] - 4.243).abs() < 0.02,
        "{}",
        track.extra_m[50]
    );
    assert!(track.extra_m[30].abs() < 1e-9);
}

#[test]
fn turns_gears_and_noise_are_not_disowned() {
    for seed in 0..20 {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let (mut east_m, mut north_m, mut rad) = (0.0_f64, 0.0_f64, 0.0_f64);
        let mut places = Vec::new();
        for leg in 0..40 {
            // Slaloms as tight as a truck's, with a change of gear now and then.
            let curvature = chance.random_range(-1.0 / 6.0..1.0 / 6.0);
            let speed_m_s = if leg % 7 == 6 { -1.5 } else { 3.0 };
            for _ in 0..4 {
                rad += speed_m_s * curvature;
                east_m += speed_m_s * rad.cos();
                north_m += speed_m_s * rad.sin();
                let mut noise = || 0.3 * chance.random_range(-1.7..1.7);
                places.push(place(east_m + noise(), north_m + noise()));
            }
        }
        let mut track = Track::eastward(places.len(), |i, fix| {
            (fix.place, fix.hdop) = (places[i], 0.8 + 0.1 * (i % 4) as f32);
        });
        for (i, step) in track.steps.iter_mut().enumerate() {
            (step.east_m, step.north_m) = displacement_m(places[i], places[i + 1]);
        }
        bridge(&mut track);
        assert!(
            track.extra_m.is_empty(),
            "seed {seed}: {:?}",
            track.manner.disowned
        );
    }
}
