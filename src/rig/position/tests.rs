//! Tests of the position error: the published figures of a circular normal, and the rules on small tracks.

use super::*;
use crate::input::fleet::{self, Fleet};
use rand::{RngExt, SeedableRng};
use std::path::Path;

const DRAWS: usize = 400_000;
/// Four standard deviations of a share of one half in that many draws.
const SHARE_TOLERANCE: f64 = 4.0 * 0.5 / 632.0;

/// A normal number of standard deviation 1, by Box and Muller's formula.
fn normal(random: &mut rand_chacha::ChaCha8Rng) -> f64 {
    let (u, v) = (random.random::<f64>(), random.random::<f64>());
    (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

#[test]
fn radii_of_a_circular_normal_hold_the_published_shares() {
    // CEP, R95 and 2DRMS of a circular normal error with standard deviation 1, and DRMS with 63.21 %:
    // National Research Council 1995 gives the same relations in rounded figures.
    let published = [
        (1.17741, 0.50),
        (2.0_f64.sqrt(), 0.6321),
        (2.44775, 0.95),
        (2.0 * 2.0_f64.sqrt(), 0.9817),
    ];
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(71);
    let radii: Vec<f64> = (0..DRAWS)
        .map(|_| normal(&mut random).hypot(normal(&mut random)))
        .collect();
    for (radius, share) in published {
        let closed = 1.0 - (-radius * radius / 2.0_f64).exp();
        assert!((closed - share).abs() < 5e-5, "{radius}: {closed}");
        let drawn = radii.iter().filter(|drawn| **drawn <= radius).count() as f64 / DRAWS as f64;
        assert!((drawn - share).abs() < SHARE_TOLERANCE, "{radius}: {drawn}");
    }
    assert!((R95 - (-2.0 * 0.05_f64.ln()).sqrt()).abs() < 1e-12);
    assert!((2.44775_f64 / 1.17741 - 2.07892).abs() < 1e-4);
    assert!((2.44775_f64 / 2.0_f64.sqrt() - 1.73082).abs() < 1e-4);
}

#[test]
fn rounding_adds_to_the_receiver_by_variances() {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(72);
    // Steps of 1e-5 degrees at 45 N, and of 1e-4: from far below the receiver's error to far above it.
    for (north_m, east_m, receiver_m) in [(1.1, 0.8, 1.0_f64), (1.1, 0.8, 0.3), (11.1, 7.9, 1.0)] {
        let rounding = Rounding {
            decimals: 5,
            step_deg: 1e-5,
            north_m,
            east_m,
        };
        let radius_m = with_rounding_m(receiver_m, Some(&rounding));
        let sigma_m = receiver_m / 2.44775;
        let inside = (0..DRAWS)
            .filter(|_| {
                let x_m = sigma_m * normal(&mut random) + east_m * (random.random::<f64>() - 0.5);
                let y_m = sigma_m * normal(&mut random) + north_m * (random.random::<f64>() - 0.5);
                x_m.hypot(y_m) <= radius_m
            })
            .count();
        let share = inside as f64 / DRAWS as f64;
        // Exact for two normal errors only; the even one has no tails, so that more are within.
        assert!(
            (0.949..=1.0).contains(&share),
            "{north_m} {receiver_m}: {share}"
        );
        if receiver_m > north_m / 2.0 {
            assert!(share < 0.96, "{north_m} {receiver_m}: {share}");
        }
    }
}

fn fleet(position: &str) -> Fleet {
    let text = format!("[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n{position}\n");
    fleet::read(&text, Path::new("fleet.toml")).unwrap()
}

/// A track of 4 m steps with these dilutions.
fn track(hdops: &[f32]) -> Track {
    Track::eastward(hdops.len(), |i, fix| fix.hdop = hdops[i])
}

fn judged(hdops: &[f32], position: &str) -> (f64, &'static str) {
    let fleet = fleet(position);
    let position = judge(&track(hdops), &fleet.rigs[0], &fleet.defaults);
    (position.radius_m, position.from.name())
}

#[test]
fn the_fleet_file_comes_before_the_dilution_and_that_before_the_default() {
    let bad = [3.0; 101];
    assert_eq!(judged(&bad, "position = \"0.5 m\""), (0.5, "fleet"));
    assert_eq!(judged(&bad, ""), (3.0, "hdop"));
    assert_eq!(judged(&[0.8; 101], ""), (1.0, "default"));
    assert_eq!(judged(&[f32::NAN; 101], ""), (1.0, "default"));
    assert_eq!(judged(&[49.0; 101], ""), (20.0, "hdop"));
}

#[test]
fn what_the_fleet_file_tells_of_all_rigs_is_told() {
    let defaults = "[defaults]\nposition = \"1 m\"";
    let judged = |hdops: &[f32]| {
        let text = format!("{defaults}\n[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n");
        let fleet = fleet::read(&text, Path::new("fleet.toml")).unwrap();
        let position = judge(&track(hdops), &fleet.rigs[0], &fleet.defaults);
        (position.radius_m, position.from)
    };
    for (dilution, expected) in [
        (0.8, (1.0, PositionFrom::Defaults)),
        (3.0, (3.0, PositionFrom::DefaultsHdop)),
    ] {
        let (radius_m, from) = judged(&[dilution; 101]);
        assert_eq!((radius_m, from), expected);
        assert!(!from.is_untold());
    }
    assert!(PositionFrom::Default.is_untold() && PositionFrom::Hdop.is_untold());
}

#[test]
fn the_dilution_is_the_95th_of_a_hundred() {
    // 100 moving fixes: five of them may be worse, a sixth may not. The last fix moves no more.
    let mut hdops = [1.5; 101];
    hdops[..5].fill(9.0);
    assert_eq!(judged(&hdops, ""), (1.5, "hdop"));
    hdops[5] = 9.0;
    assert_eq!(judged(&hdops, ""), (9.0, "hdop"));
    // Fewer than half of the fixes say nothing of the run.
    hdops[..60].fill(f32::NAN);
    assert_eq!(judged(&hdops, ""), (1.0, "default"));
}
