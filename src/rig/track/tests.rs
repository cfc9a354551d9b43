//! Tests of cleaning: each on a handful of fixes one second and about ten metres apart.

use super::*;
use crate::findings::Kind;
use crate::findings::clocks::AboutClocks;
use crate::input::channels::Channel;

/// 1e-4 degrees of latitude is 11.11 m at 45 N (GeographicLib: 111131.787 m a degree).
pub(crate) fn fix(second: i64, north: f64) -> Fix {
    let place = LonLat {
        lon_deg: -30.0,
        lat_deg: 45.0 + north * 1e-4,
    };
    Fix {
        open: Some(1),
        own: Channel::Sections.bit() | Channel::Flow.bit(),
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
        breaks_off: false,
        planned: false,
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
        findings[0].kind,
        Kind::Positions(AboutPositions::JumpsDropped { count: 1, .. })
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

#[test]
fn set_rate_speed_and_heading_are_lost_in_a_dropout_and_the_product_is_not() {
    let mut fixes: Vec<Fix> = [0, 1, 2, 3, 20, 21]
        .iter()
        .map(|&s| fix(s, s as f64))
        .collect();
    for fix in &mut fixes {
        (fix.set_rate_ml_m2, fix.speed_m_s, fix.heading_deg) = (30.0, 4.0, 90.0);
        (fix.product, fix.own) = (Some(0), 0);
    }
    fixes[0].own = u16::MAX;
    fixes[5].own = Channel::Speed.bit();
    let mut own_log = log("a", fixes, vec![0]);
    own_log.products = vec!["brine".into()];
    let track = one_track(vec![own_log]);
    let known = |fix: &Fix| {
        let channels = [fix.set_rate_ml_m2, fix.speed_m_s, fix.heading_deg];
        (channels.map(f32::is_finite), fix.product)
    };
    assert_eq!(known(&track.fixes[3]), ([true; 3], Some(0)));
    assert_eq!(known(&track.fixes[4]), ([false; 3], Some(0)));
    assert_eq!(known(&track.fixes[5]), ([false, true, false], Some(0)));
}

#[test]
fn fixes_under_one_tenth_of_a_second_are_spread_over_it() {
    // 20 fixes a second, 4 m/s, stamps cut to tenths.
    let mut fixes: Vec<Fix> = (0..200).map(|i| fix(0, f64::from(i) * 0.018)).collect();
    for (i, fix) in fixes.iter_mut().enumerate() {
        fix.time.0 = 100_000 * (i as i64 / 2);
    }
    let track = one_track(vec![log("a", fixes, vec![0])]);
    assert_eq!(track.fixes.len(), 200);
    for step in &track.steps {
        assert!((step.seconds - 0.05).abs() < 1e-9 && step.link == Link::Driven);
    }
}

#[test]
fn a_stuck_clocks_fixes_are_counted_in_linear_time() {
    // With every fix compared to every other this would take minutes.
    let stuck = |north: f64| -> Vec<Fix> {
        let mut fixes: Vec<Fix> = (0..100_000)
            .map(|i| fix(1, north + f64::from(i) * 0.01))
            .collect();
        fixes.push(fix(2, 1.0));
        fixes
    };
    let begin = std::time::Instant::now();
    let logs = vec![log("a", stuck(0.0), vec![0]), log("b", stuck(0.0), vec![0])];
    let merged = merge::merge(logs, 5.0);
    let (track, findings) = link(merged, 5.0, SectionLog::Sampled);
    assert!(begin.elapsed().as_secs() < 10);
    let track = track.unwrap();
    assert_eq!((track.fixes.len(), track.fixes_repeated), (2, 100_001));
    assert!(matches!(
        findings[0].kind,
        Kind::Clocks(AboutClocks::ClockOdd { count: 99_999, .. })
    ));
}

#[test]
fn a_log_goes_to_the_lane_it_shares_times_and_places_with() {
    // Rig A: 0 to 60 and 70 to 120 s; rig B 500 m off, under the same id, 30 to 120 s in two files that
    // overlap. The last file of B shares no time with the first file of A.
    let drive = |from: i64, to: i64, north: f64| -> Vec<Fix> {
        (from..=to).map(|i| fix(i, north + i as f64)).collect()
    };
    let lanes = lanes::lanes(vec![
        log("a1", drive(0, 60, 0.0), vec![0]),
        log("b1", drive(30, 90, 50.0), vec![0]),
        log("b2", drive(70, 120, 50.0), vec![0]),
        log("z2", drive(95, 120, 0.0), vec![0]),
    ]);
    let files: Vec<Vec<&str>> = lanes
        .iter()
        .map(|lane| lane.logs.iter().map(|log| log.file.as_str()).collect())
        .collect();
    assert_eq!(files, [vec!["a1", "z2"], vec!["b1", "b2"]]);
}
