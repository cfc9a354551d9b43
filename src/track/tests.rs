//! Tests of cleaning: each on a handful of fixes one second and about ten metres apart.

use super::*;
use crate::input::log::own;

/// 1e-4 degrees of latitude is 11.11 m at 45 N (GeographicLib: 111131.787 m a degree).
pub(crate) fn fix(second: i64, north: f64) -> Fix {
    let place = LonLat {
        lon_deg: -30.0,
        lat_deg: 45.0 + north * 1e-4,
    };
    Fix {
        open: Some(1),
        own: own::OPEN | own::FLOW,
        ..Fix::bare(Instant(second * 1_000_000), place, 1)
    }
}

fn log(file: &str, fixes: Vec<Fix>, segment_starts: Vec<usize>) -> Log {
    Log {
        file: file.into(),
        rig: 0,
        fixes,
        segment_starts,
        volume_since_last_fix: false,
        products: vec![],
    }
}

fn one_track(logs: Vec<Log>) -> Track {
    let merged = merge::merge(lanes::lanes(logs).remove(0).logs, 5.0);
    link(merged, 5.0, SectionLog::Sampled).0.unwrap()
}

fn links(track: &Track) -> Vec<Link> {
    track.steps.iter().map(|step| step.link).collect()
}

#[test]
fn steps_have_the_length_of_geographiclib() {
    let track = one_track(vec![log("a", vec![fix(0, 0.0), fix(1, 10.0)], vec![0])]);
    // GeographicLib 2.1: 111131.787 m a degree of latitude at 45 N, so 111.13 m for 1e-3 degrees.
    assert!((track.steps[0].north_m - 111.1318).abs() < 1e-3);
}

#[test]
fn a_log_split_in_two_is_one_log() {
    let whole: Vec<Fix> = (0..6).map(|i| fix(i, i as f64)).collect();
    let joined = one_track(vec![log("a", whole.clone(), vec![0])]);
    let split = one_track(vec![
        log("b", whole[3..].to_vec(), vec![0]),
        log("a", whole[..4].to_vec(), vec![0]),
    ]);
    assert_eq!(links(&joined), links(&split));
    assert_eq!((split.fixes.len(), split.fixes_repeated), (6, 1));
}

#[test]
fn nothing_holds_across_segments() {
    let fixes: Vec<Fix> = (0..4).map(|i| fix(i, i as f64)).collect();
    let track = one_track(vec![log("a", fixes, vec![0, 2])]);
    assert_eq!(links(&track), [Link::Driven, Link::Dropout, Link::Driven]);
}

#[test]
fn a_long_silence_is_a_dropout_a_lost_fix_is_not() {
    let seconds = [0, 1, 2, 4, 5, 6, 7, 14, 15];
    let fixes = seconds.iter().map(|&s| fix(s, s as f64)).collect();
    let track = one_track(vec![log("a", fixes, vec![0])]);
    let dropouts = links(&track)
        .iter()
        .filter(|&&link| link == Link::Dropout)
        .count();
    assert_eq!(
        (dropouts, track.steps[6].link, track.steps[2].link),
        (1, Link::Dropout, Link::Driven)
    );
}

#[test]
fn a_silence_without_motion_is_parking() {
    let fixes = vec![
        fix(0, 0.0),
        fix(1, 1.0),
        fix(2, 2.0),
        fix(300, 2.01),
        fix(301, 3.0),
    ];
    assert_eq!(
        one_track(vec![log("a", fixes, vec![0])]).steps[2].link,
        Link::Parking
    );
}

#[test]
fn fixes_under_one_whole_second_are_spread_over_it() {
    let fixes = vec![fix(0, 0.0), fix(1, 1.0), fix(1, 1.5), fix(2, 2.0)];
    let track = one_track(vec![log("a", fixes, vec![0])]);
    let seconds: Vec<f64> = track.steps.iter().map(|step| step.seconds).collect();
    assert!(
        (seconds[1] - 0.5).abs() < 1e-9 && track.fixes.len() == 4,
        "{seconds:?}"
    );
}

#[test]
fn a_single_impossible_position_is_left_out_and_counted() {
    let fixes = vec![fix(0, 0.0), fix(1, 1.0), fix(2, 900.0), fix(3, 3.0)];
    let merged = merge::merge(vec![log("a", fixes, vec![0])], 5.0);
    let (track, findings) = link(merged, 5.0, SectionLog::Sampled);
    assert_eq!(track.unwrap().fixes.len(), 3);
    assert!(matches!(
        findings[0].matter,
        Matter::JumpsDropped { count: 1, .. }
    ));
}

#[test]
fn one_id_in_two_places_makes_two_lanes() {
    let here: Vec<Fix> = (0..20).map(|i| fix(i, i as f64)).collect();
    let there: Vec<Fix> = (0..20).map(|i| fix(i, 500.0 + i as f64)).collect();
    let lanes = lanes::lanes(vec![
        log("a", here.clone(), vec![0]),
        log("b", there, vec![0]),
    ]);
    assert_eq!(lanes.len(), 2);
    assert!(
        (lanes[1].distance_m - 5556.6).abs() < 1.0,
        "{}",
        lanes[1].distance_m
    );
    assert_eq!(
        lanes::lanes(vec![
            log("a", here.clone(), vec![0]),
            log("b", here, vec![0])
        ])
        .len(),
        1
    );
}

#[test]
fn a_log_every_ten_seconds_cannot_show_coverage() {
    let fixes = (0..10).map(|i| fix(i * 10, i as f64 * 3.0)).collect();
    assert_eq!(
        one_track(vec![log("a", fixes, vec![0])]).coarse_interval_s,
        Some(10.0)
    );
}

#[test]
fn a_fast_log_with_one_silence_is_not_coarse() {
    // 10 Hz at 4 m/s: steps of 0.4 m, then one of 28 m in 7 s.
    let mut fixes: Vec<Fix> = (0..50).map(|i| fix(0, f64::from(i) * 0.036)).collect();
    for (i, fix) in fixes.iter_mut().enumerate() {
        fix.time.0 = 100_000 * i as i64 + if i >= 25 { 7_000_000 } else { 0 };
        fix.place.lat_deg += if i >= 25 { 2.5e-4 } else { 0.0 };
    }
    assert_eq!(
        one_track(vec![log("a", fixes, vec![0])]).coarse_interval_s,
        None
    );
}

#[test]
fn nothing_holds_through_a_dropout() {
    let mut fixes: Vec<Fix> = [0, 1, 2, 3, 20, 21, 22]
        .iter()
        .map(|&s| fix(s, s as f64))
        .collect();
    for fix in &mut fixes[1..6] {
        fix.own = 0; // held from the first, as the reader leaves it
    }
    let track = one_track(vec![log("a", fixes, vec![0])]);
    let open: Vec<bool> = track.fixes.iter().map(|fix| fix.open.is_some()).collect();
    assert_eq!(open, [true, true, true, true, false, false, true]);
}
