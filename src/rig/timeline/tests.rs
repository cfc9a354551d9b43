//! Tests of delays, tails, gun and dry spells; one fix a second, 4 m/s, flow in L/s.

use super::*;

fn rig(open_delay_s: f64, close_delay_s: f64) -> Rig {
    Rig {
        open_delay_s,
        close_delay_s,
        log_lag_s: Some(0.0),
        gun_flow_l_s: Some(0.3),
        ..Rig::bare(vec![2.0, 2.0])
    }
}

/// One second a step: sections open and flow of each fix.
fn night(seconds: &[(u64, f64)]) -> Track {
    Track::eastward(seconds.len(), |i, fix| {
        (fix.open, fix.flow_l_s) = (Some(seconds[i].0), seconds[i].1);
    })
}

fn lay(track: &Track, rig: &Rig) -> Timeline {
    let boom = Boom::of(rig);
    let metered = crate::rig::meter::measure(track, rig, &boom, None);
    let timeline = lay_out(
        track,
        &metered,
        rig,
        &boom,
        WetRules {
            dry_below_ml_m2: None,
            meter_tail_s: 2.0,
        },
    );
    let laid: f64 = timeline.spans.iter().map(|span| span.litres).sum();
    let lines: f64 = timeline
        .closed
        .iter()
        .chain(&timeline.gun)
        .map(|(_, litres)| litres)
        .sum();
    let all: f64 = metered.litres.iter().sum();
    assert!(
        (laid + lines - all).abs() < 1e-9,
        "laid {laid} + lines {lines} is not {all}"
    );
    timeline
}

/// Open times on the ground, in seconds.
fn open_times(timeline: &Timeline) -> Vec<(f64, f64)> {
    let mut times: Vec<(f64, f64)> = Vec::new();
    for span in timeline.spans.iter().filter(|span| span.open != 0) {
        let (from, to) = (
            f64::from(span.step) + f64::from(span.from_u),
            f64::from(span.step) + f64::from(span.to_u),
        );
        match times.last_mut() {
            Some(last) if (last.1 - from).abs() < 1e-6 => last.1 = to,
            _ => times.push((from, to)),
        }
    }
    times
}

#[test]
fn switches_land_on_the_ground_after_their_delays() {
    let track = night(&[
        (0, 0.0),
        (0, 0.0),
        (3, 1.0),
        (3, 1.0),
        (3, 1.0),
        (0, 0.0),
        (0, 0.0),
    ]);
    let times = open_times(&lay(&track, &rig(0.4, 0.3)));
    assert_eq!(times.len(), 1);
    assert!(
        (times[0].0 - 2.4).abs() < 1e-6 && (times[0].1 - 5.3).abs() < 1e-6,
        "{times:?}"
    );
}

/// Switches thrown half a second before the fix that shows them; the early half second is wet too, and gets
/// its part of the liquid.
#[test]
fn a_logs_lag_moves_the_switches_back() {
    let track = night(&[(0, 0.0), (0, 0.0), (3, 1.0), (3, 1.0), (0, 0.0), (0, 0.0)]);
    let lagging = Rig {
        log_lag_s: Some(0.5),
        ..rig(0.0, 0.0)
    };
    let timeline = lay(&track, &lagging);
    assert_eq!(open_times(&timeline), [(1.5, 3.5)]);
    let early = timeline.spans.iter().find(|span| span.open != 0).unwrap();
    assert!(early.wet && (early.litres - 0.5).abs() < 1e-9, "{early:?}");
}

/// Shown at seconds 2 and 4: thrown at some time in the second before.
#[test]
fn a_sampled_switch_is_taken_in_the_middle_of_its_interval() {
    let track = night(&[(0, 0.0), (0, 0.0), (3, 1.0), (3, 1.0), (0, 0.0), (0, 0.0)]);
    let sampled = Rig {
        log_lag_s: None,
        ..rig(0.4, 0.3)
    };
    let timeline = lay(&track, &sampled);
    let times = open_times(&timeline);
    assert_eq!(times.len(), 1);
    assert!(
        (times[0].0 - 1.9).abs() < 1e-6 && (times[0].1 - 3.8).abs() < 1e-6,
        "{times:?}"
    );
    let windows: Vec<f32> = timeline
        .spans
        .iter()
        .filter_map(|span| span.switched_within_s)
        .collect();
    assert_eq!(windows, [1.0, 1.0]);
}

#[test]
fn a_switch_written_when_it_is_thrown_is_exact() {
    let track = night(&[(0, 0.0), (0, 0.0), (3, 1.0), (3, 1.0), (0, 0.0), (0, 0.0)]);
    let on_change = Rig {
        log_lag_s: None,
        section_log: crate::input::fleet::SectionLog::OnChange,
        ..rig(0.0, 0.0)
    };
    let timeline = lay(&track, &on_change);
    assert_eq!(open_times(&timeline), [(2.0, 4.0)]);
    let switched = |span: &Span| span.switched_within_s == Some(0.0);
    assert_eq!(
        timeline.spans.iter().filter(|span| switched(span)).count(),
        2
    );
}

/// Open from the first fix to the last: nothing was switched.
#[test]
fn the_ends_of_a_log_are_no_switches() {
    let sampled = Rig {
        log_lag_s: None,
        ..rig(0.4, 0.3)
    };
    let timeline = lay(&night(&[(3, 1.0); 5]), &sampled);
    assert_eq!(open_times(&timeline), [(0.0, 4.0)]);
    assert!(
        timeline
            .spans
            .iter()
            .all(|span| span.switched_within_s.is_none())
    );
}

#[test]
fn litres_metered_over_the_command_lie_over_the_ground_time() {
    let track = night(&[(0, 0.0), (3, 1.0), (3, 2.0), (0, 0.0), (0, 0.0)]);
    let timeline = lay(&track, &rig(0.5, 0.5));
    let laid: f64 = timeline.spans.iter().map(|span| span.litres).sum();
    assert!((laid - 3.0).abs() < 1e-9);
    // Shape: 0.5 s at 1 L/s, 1.5 s at 2 L/s, scaled to 3 L in all.
    let first = timeline.spans.iter().find(|span| span.open != 0).unwrap();
    assert!(
        (first.litres - 3.0 * 0.5 / 3.5).abs() < 1e-6,
        "{}",
        first.litres
    );
}

#[test]
fn the_meters_tail_belongs_to_the_spraying_before_it() {
    let track = night(&[(3, 1.0), (3, 1.0), (0, 0.5), (0, 0.1), (0, 0.0), (0, 0.0)]);
    assert!(lay(&track, &rig(0.0, 0.0)).closed.is_empty());
}

#[test]
fn flow_long_after_spraying_is_a_line_of_its_own() {
    let mut seconds = vec![(3, 1.0), (0, 0.0), (0, 0.0), (0, 0.0), (0, 0.0)];
    seconds.extend([(0, 0.7), (0, 0.7), (0, 0.0)]);
    let closed: f64 = lay(&night(&seconds), &rig(0.0, 0.0))
        .closed
        .iter()
        .map(|(_, litres)| litres)
        .sum();
    assert!((closed - 1.4).abs() < 1e-9);
}

#[test]
fn the_gun_takes_all_alone_and_its_known_flow_beside_sections() {
    let mut track = night(&[(3, 1.0), (3, 1.0), (0, 0.5), (0, 0.5), (0, 0.0)]);
    track.fixes[1].gun = Some(true);
    track.fixes[2].gun = Some(true);
    track.fixes[3].gun = Some(true);
    let gun: f64 = lay(&track, &rig(0.0, 0.0))
        .gun
        .iter()
        .map(|(_, litres)| litres)
        .sum();
    assert!((gun - (0.3 + 0.5 + 0.5)).abs() < 1e-9, "{gun}");
}

#[test]
fn open_without_flow_is_dry_but_a_short_spell_is_the_controllers_ramp() {
    let long = night(&[
        (3, 1.0),
        (3, 0.0),
        (3, 0.0),
        (3, 0.0),
        (3, 0.0),
        (3, 1.0),
        (0, 0.0),
    ]);
    let dry = |timeline: &Timeline| {
        timeline
            .spans
            .iter()
            .filter(|span| span.open != 0 && !span.wet)
            .count()
    };
    assert_eq!(dry(&lay(&long, &rig(0.0, 0.0))), 4);
    let short = night(&[(3, 1.0), (3, 0.0), (3, 0.0), (3, 1.0), (0, 0.0)]);
    assert_eq!(dry(&lay(&short, &rig(0.0, 0.0))), 0);
}

#[test]
fn sections_switch_one_by_one() {
    let track = night(&[(1, 1.0), (3, 1.0), (2, 1.0), (0, 0.0), (0, 0.0)]);
    let open: Vec<u64> = lay(&track, &rig(0.0, 0.0))
        .spans
        .iter()
        .map(|span| span.open)
        .collect();
    assert_eq!(open, [1, 3, 2, 0]);
}

#[test]
fn a_bout_that_the_delays_swallow_has_no_ground() {
    let mut track = night(&[(0, 0.0), (3, 1.0), (0, 0.0), (0, 0.0)]);
    for fix in &mut track.fixes {
        fix.flow_l_s = if fix.open == Some(3) { 1.0 } else { 0.0 };
    }
    let timeline = lay(&track, &rig(1.2, 0.0));
    assert!(timeline.spans.iter().all(|span| span.open == 0));
    assert!(
        (timeline
            .closed
            .iter()
            .map(|(_, litres)| litres)
            .sum::<f64>()
            - 1.0)
            .abs()
            < 1e-9
    );
}

#[test]
fn a_logs_ends_and_the_edges_of_a_silence_are_no_switches() {
    // Open from the first fix to the last, with a silence of the rig's, a break and another log between.
    for link in [Link::Dropout, Link::BetweenLogs, Link::Parking] {
        for (open_delay_s, close_delay_s, log_lag_s) in
            [(0.4, 0.3, Some(0.0)), (0.0, 0.0, Some(2.0))]
        {
            let mut track = night(&[(3, 1.0); 8]);
            track.steps[3].link = link;
            let rig = Rig {
                log_lag_s,
                ..rig(open_delay_s, close_delay_s)
            };
            assert_eq!(open_times(&lay(&track, &rig)), [(0.0, 3.0), (4.0, 7.0)]);
        }
    }
}

#[test]
fn a_switch_beside_a_silence_moves_and_the_silence_does_not() {
    // Opens at 2 s, is silent from 5 to 6 s, closes at 8 s.
    let mut seconds = [(3, 1.0); 12];
    for i in [0, 1, 8, 9, 10, 11] {
        seconds[i] = (0, 0.0);
    }
    let mut track = night(&seconds);
    track.steps[5].link = Link::Dropout;
    let lagging = Rig {
        log_lag_s: Some(0.5),
        ..rig(0.0, 0.0)
    };
    let times = open_times(&lay(&track, &lagging));
    assert_eq!(times, [(1.5, 5.0), (6.0, 7.5)]);
}

#[test]
fn a_rig_without_states_was_open_before_a_silence_when_liquid_flowed() {
    let mut single = rig(0.0, 0.0);
    single.section_widths_m = vec![4.0];
    let boom = Boom::of(&single);
    let beside = |flows: [f64; 5]| {
        let mut track = night(&flows.map(|flow| (0, flow)));
        track.fixes.iter_mut().for_each(|fix| fix.open = None);
        track.steps[2].link = Link::Dropout;
        let metered = crate::rig::meter::measure(&track, &single, &boom, None);
        let beside = open_beside(&track, &metered, &boom, 2);
        (beside.before, beside.after)
    };
    assert_eq!(beside([1.0, 1.0, 1.0, 0.0, 0.0]), (1, 0));
    assert_eq!(beside([0.0, 0.0, 0.0, 1.0, 1.0]), (0, 1));
    assert_eq!(beside([0.0; 5]), (0, 0));
}

#[test]
fn a_quarter_of_the_least_target_is_dry_but_never_a_leak() {
    assert_eq!(wet::dry_below_ml_m2(&[], &[]), None);
    assert_eq!(wet::dry_below_ml_m2(&[32.0], &[]), Some(8.0));
    assert_eq!(wet::dry_below_ml_m2(&[32.0], &[16.0, 40.0]), Some(4.0));
    assert_eq!(wet::dry_below_ml_m2(&[], &[16.0]), Some(4.0));
    // A twentieth of the run's own rate.
    assert_eq!(wet::dry_below_ml_m2(&[40.0], &[0.1]), Some(2.0));
    // What somebody else's ground asks for makes nothing dry.
    assert_eq!(wet::dry_below_ml_m2(&[32.0], &[1e9]), Some(8.0));
}

#[test]
fn what_the_meter_counts_late_at_the_end_it_missed_at_the_start() {
    // Open for six seconds, the flow shown two seconds late.
    let flows = [0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0];
    let mut seconds: Vec<(u64, f64)> = flows.iter().map(|&flow| (3, flow)).collect();
    seconds.iter_mut().skip(6).for_each(|second| second.0 = 0);
    let timeline = lay(&night(&seconds), &rig(0.0, 0.0));
    for span in timeline.spans.iter().filter(|span| span.open != 0) {
        assert!(span.wet && (span.litres - 1.0).abs() < 1e-9, "{span:?}");
    }
}
