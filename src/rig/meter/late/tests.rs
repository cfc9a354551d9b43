//! Lateness of meters that are simulated here: a window of half a second, a filter, a delay.

use super::*;
use crate::rig::meter::{Metered, measure};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Steps of the truth in a second.
const STEPS: usize = 20;
const DT_S: f64 = 1.0 / STEPS as f64;
/// True rate, L/m2.
const RATE_L_M2: f64 = 0.033;

/// How a night is made.
#[derive(Clone, Copy)]
struct Night {
    lanes: usize,
    lane_s: f64,
    /// Of the meter's delay and of its filter, s.
    delay_s: f64,
    filter_s: f64,
    /// Liquid comes so long after the switch, s.
    valve_s: f64,
    seed: u64,
}

const PROMPT: Night = Night {
    lanes: 16,
    lane_s: 30.0,
    delay_s: 0.0,
    filter_s: 0.1,
    valve_s: 0.0,
    seed: 1,
};

fn rig() -> Rig {
    Rig::bare(vec![2.0, 2.0])
}

/// One fix a second; the rig brakes before it closes and closes a little before the lane's end.
fn track(night: Night) -> Track {
    let mut chance = ChaCha8Rng::seed_from_u64(night.seed);
    let (mut speed_m_s, mut shown_l_s, mut clock) = (1.5, 0.0, 0_usize);
    let (mut truth, mut wanted): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    let mut fixes: Vec<(bool, f64, f64)> = Vec::new();
    let delay = (night.delay_s / DT_S).round() as usize;
    let window = STEPS / 2;
    for _ in 0..night.lanes {
        let cruise_m_s = chance.random_range(2.5..3.8);
        let lane_s = night.lane_s * chance.random_range(0.8..1.2);
        let turn_s = chance.random_range(9.0..14.0);
        for k in 0..((lane_s + turn_s) * STEPS as f64) as usize {
            let t_s = k as f64 * DT_S - turn_s;
            let aim_m_s = if t_s < 0.0 || t_s > lane_s - 2.0 {
                1.5
            } else {
                cruise_m_s
            };
            let change_m_s: f64 = aim_m_s - speed_m_s;
            speed_m_s += change_m_s.clamp(-DT_S, DT_S);
            let open = (0.0..lane_s - 0.3).contains(&t_s);
            let asked_l_s = if open {
                4.0 * speed_m_s * RATE_L_M2
            } else {
                0.0
            };
            wanted.push(if t_s < night.valve_s { 0.0 } else { asked_l_s });
            truth.push(wanted[clock]);
            let upto = clock.saturating_sub(delay);
            let from = upto.saturating_sub(window);
            let mean_l_s = truth[from..=upto].iter().sum::<f64>() / (upto - from + 1) as f64;
            shown_l_s += (mean_l_s - shown_l_s) * (DT_S / night.filter_s).min(1.0);
            if clock.is_multiple_of(STEPS) {
                let noise = 1.0 + 0.01 * chance.random_range(-1.7..1.7);
                fixes.push((open, shown_l_s * noise, speed_m_s));
            }
            clock += 1;
        }
    }
    let mut track = Track::eastward(fixes.len(), |i, fix| {
        fix.open = Some(if fixes[i].0 { 3 } else { 0 });
        fix.flow_l_s = fixes[i].1;
    });
    for (step, fix) in track.steps.iter_mut().zip(&fixes) {
        step.east_m = fix.2;
    }
    track
}

fn measured(night: Night, rig: &Rig) -> Metered {
    measure(&track(night), rig, &Boom::of(rig), None)
}

#[test]
fn a_late_meter_is_found_to_half_a_second_whatever_its_filter() {
    for (delay_s, filter_s) in [(1.0, 0.5), (2.0, 0.5), (3.0, 1.0), (4.5, 0.5), (0.5, 2.0)] {
        for (seed, lane_s) in [(1, 30.0), (2, 12.0), (3, 20.0), (4, 60.0)] {
            let night = Night {
                delay_s,
                filter_s,
                lane_s,
                seed,
                ..PROMPT
            };
            let late = measured(night, &rig()).late;
            // Mean of the delay, the window and the filter.
            let want_s = delay_s + 0.25 + filter_s;
            assert!((late.moved_s - want_s).abs() <= 0.5, "{want_s}: {late:?}");
            assert!(late.greatest_s <= 0.5, "{late:?}");
        }
    }
}

#[test]
fn a_prompt_meter_is_left_alone() {
    for seed in 0..20 {
        let late = measured(Night { seed, ..PROMPT }, &rig()).late;
        assert!(
            late.moved_s.abs() <= 0.0 && late.greatest_s < 1.0,
            "{late:?}"
        );
    }
}

#[test]
fn a_valve_that_opens_late_is_no_late_meter() {
    for seed in 0..10 {
        for (valve_s, lane_s) in [(2.0, 30.0), (3.0, 12.0), (3.0, 30.0), (5.0, 30.0)] {
            let night = Night {
                valve_s,
                lane_s,
                seed,
                ..PROMPT
            };
            let late = measured(night, &rig()).late;
            assert!(late.moved_s.abs() <= 0.0, "{late:?}");
            let fitted = late.fitted.unwrap();
            assert!(
                // Most of the valve shows in the heads; only the meter's window of half a second and its filter run on.
                fitted.head_s > 0.5 * valve_s && fitted.tail_s < 0.6,
                "{fitted:?}"
            );
        }
    }
}

#[test]
fn a_delay_in_the_fleet_file_is_the_last_word() {
    let late = Night {
        delay_s: 3.0,
        ..PROMPT
    };
    for told_s in [0.0, 1.5] {
        let mut rig = rig();
        rig.meter.delay_s = Some(told_s);
        let late = measured(late, &rig).late;
        assert_eq!(
            (late.moved_s, late.fitted, late.greatest_s),
            (told_s, None, 0.0)
        );
    }
}

#[test]
fn told_delays_of_the_valves_are_no_lateness_of_the_meter() {
    let mut rig = rig();
    (rig.open_delay_s, rig.close_delay_s) = (1.2, 0.8);
    let night = Night {
        delay_s: 3.0,
        ..PROMPT
    };
    let (with, without) = (
        measured(night, &rig).late,
        measured(night, &self::rig()).late,
    );
    assert!((without.moved_s - with.moved_s - 1.0).abs() < 1e-9);
}

/// Of few and short bouts a fit is known to a second only: where heads and tails say the same it is believed, else not.
#[test]
fn heads_and_tails_that_agree_with_the_fit_stand_for_a_second_opinion() {
    let fit = |deviation_s, ends_agree| Fitted {
        late_s: 4.0,
        deviation_s,
        closings: 12,
        told_apart_s: 0.0,
        head_s: 4.2,
        tail_s: 4.4,
        ends_agree,
    };
    assert!(fit(0.2, false).is_lateness());
    assert!(!fit(0.4, false).is_lateness());
    assert!(fit(0.4, true).is_lateness());
    assert!(!fit(0.6, true).is_lateness());
}

#[test]
fn seven_closings_are_too_few() {
    let night = |lanes| Night {
        lanes,
        delay_s: 3.0,
        ..PROMPT
    };
    // The last lane of a night ends the log before its tail.
    assert!(measured(night(7), &rig()).late.fitted.is_none());
    assert!(measured(night(11), &rig()).late.moved_s > 2.5);
}

#[test]
fn litres_move_to_where_they_were_laid_and_none_is_lost() {
    let night = Night {
        delay_s: 3.0,
        ..PROMPT
    };
    let track = track(night);
    let prompt = rig();
    let moved = measure(&track, &prompt, &Boom::of(&prompt), None);
    let shown: f64 = track.fixes.iter().map(|fix| fix.flow_l_s).sum();
    let last = track.fixes[track.fixes.len() - 1].flow_l_s;
    assert!((moved.litres.iter().sum::<f64>() - shown + last).abs() < 1e-9);
    let closed = |i: &usize| track.fixes[*i].open == Some(0);
    let closed_l: f64 = (0..track.steps.len())
        .filter(closed)
        .map(|i| moved.litres[i])
        .sum();
    // The meter's window and filter smear the end of each bout: a few per cent stay behind its closing.
    assert!(closed_l < 0.03 * shown, "{closed_l} of {shown}");
}

#[test]
fn a_fine_total_tells_its_own_lateness() {
    let flows = track(Night {
        delay_s: 3.0,
        ..PROMPT
    });
    let mut total_l = 10.0;
    let mut totals = flows.clone();
    for fix in &mut totals.fixes {
        (fix.volume_l, total_l) = (total_l, total_l + fix.flow_l_s);
        fix.flow_l_s = f64::NAN;
    }
    let rig = rig();
    let late = measure(&totals, &rig, &Boom::of(&rig), None).late;
    // 3 s of delay, half of the window of 0.5 s, 0.1 s of filter; a lateness is known to 0.5 s.
    assert!((late.moved_s - 3.35).abs() <= 0.5, "{late:?}");
}
