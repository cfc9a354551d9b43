//! What lies between two fixes: driven, parking, or a dropout in which nobody knows what happened.

use super::rhythm::{self, Rhythm};
use super::{COARSE_INTERVAL_S, Link, PARKING_MOVE_M, Step, Track, displacement_m, median};
use crate::geometry::place::{Instant, LonLat, east_deg};
use crate::input::channels::Forgetting;
use crate::input::fleet::SectionLog;
use crate::input::log::Fix;
use std::f64::consts::PI;

/// A dropout is at least this many of the segment's median intervals long: one lost fix of a log at a constant
/// interval is two, so three tells a silence from a hiccup (trade judgement).
pub(super) const DROPOUT_INTERVALS: f64 = 3.0;

/// With each switch logged, a silence is followed up to this time, s: a rig at work switches its sections at every
/// end of a lane, and after a minute a logger that died is likelier (trade judgement).
pub(super) const ON_CHANGE_S: f64 = 60.0;
/// ... and up to this way, m: the longest lanes of lots (common practice); on longer ones the straight line between
/// the fixes says too little of where the rig was.
const ON_CHANGE_M: f64 = 200.0;
/// A step that leaves its neighbours' direction by more than this was not driven straight (trade judgement).
const STRAIGHT_RAD: f64 = 45.0 * PI / 180.0;
/// A chord driven at less than this share of the speed shown by the controller was no straight line (trade judgement)
/// ...
const LEAST_OF_SPEED: f64 = 0.8;
/// ... nor was one at less than this share of the rig's usual speed while spraying, where none is shown (trade
/// judgement).
const LEAST_OF_USUAL: f64 = 0.5;
/// Followed silences get places in between, this far apart, m: a second's way, as of any log (tolerance).
const FILL_M: f64 = 4.0;

/// Marks dropouts and parking among the driven steps, and says in which rhythm the log was written.
pub(super) fn mark(track: &mut Track, dropout_s: f64, section_log: SectionLog) {
    let rhythm = rhythm::recognised(&track.steps);
    let followed = match section_log {
        SectionLog::Sampled => vec![false; track.steps.len()],
        SectionLog::OnChange => followed(track),
    };
    mark_dropouts(track, dropout_s, rhythm, section_log, &followed);
    mark_parking(track, rhythm);
    track.manner.rhythm = rhythm;
    let long: Vec<bool> = followed
        .iter()
        .zip(&track.steps)
        .map(|(followed, step)| *followed && step.seconds > dropout_s)
        .collect();
    if section_log == SectionLog::OnChange {
        let all = || track.steps.iter().zip(&long).filter(|(_, long)| **long);
        track.manner.rhythm = Rhythm::OnChange {
            interval_s: rhythm.interval_s(),
            longest_s: all().map(|(step, _)| step.seconds).fold(0.0, f64::max),
            longest_m: all().map(|(step, _)| step.length_m()).fold(0.0, f64::max),
        };
    }
    track.coarse_interval_s = coarse_interval_s(track);
    forget(track);
    if long.contains(&true) && track.coarse_interval_s.is_none() {
        fill(track, &long);
    }
}

fn mark_dropouts(
    track: &mut Track,
    dropout_s: f64,
    rhythm: Rhythm,
    section_log: SectionLog,
    followed: &[bool],
) {
    let stretches: Vec<_> = track.stretches().collect();
    for stretch in stretches {
        let steps = stretch.start..stretch.end - 1;
        let mut intervals_s: Vec<f64> = track.steps[steps.clone()]
            .iter()
            .map(|step| step.seconds)
            .collect();
        let limit_s = match section_log {
            SectionLog::Sampled => dropout_s.max(DROPOUT_INTERVALS * median(&mut intervals_s)),
            // The intervals are those of the work, not of the logger.
            SectionLog::OnChange => dropout_s,
        };
        for i in steps {
            let step = &mut track.steps[i];
            if step.seconds > limit_s && !followed[i] && !rhythm.explains(step) {
                step.link = Link::Dropout;
            }
        }
    }
}

fn mark_parking(track: &mut Track, rhythm: Rhythm) {
    for i in 0..track.steps.len() {
        let step = &track.steps[i];
        // A logger by distance is silent from the last full step before a stop to the first one after it.
        let hardly_moved = step.length_m() < PARKING_MOVE_M || rhythm.is_usual_length(step);
        if step.link == Link::Dropout && hardly_moved && meter_stood_still(track, i) {
            track.steps[i].link = Link::Parking;
        }
    }
}

/// The total did not advance; without a total, nothing flowed on either side.
fn meter_stood_still(track: &Track, step: usize) -> bool {
    let (before, after) = (&track.fixes[step], &track.fixes[step + 1]);
    if track.volume_since_last_fix {
        return after.volume_l.is_nan() || after.volume_l <= 0.0;
    }
    if before.volume_l.is_finite() && after.volume_l.is_finite() {
        return after.volume_l <= before.volume_l;
    }
    let flows = |reading: f64| reading.is_finite() && reading > 0.0;
    let dry = |fix: &Fix| !flows(fix.flow_l_s) && !flows(fix.rate_ml_m2);
    dry(before) && dry(after)
}

/// Sections switched open at a fix; `None` where the log does not say.
fn is_open(fix: &Fix) -> Option<bool> {
    let open = fix.open? != 0;
    Some(open && fix.master != Some(false))
}

/// Of each step: whether the states known at its start hold through it and the way is known well enough.
/// With every section closed nothing was laid, wherever the rig went.
fn followed(track: &Track) -> Vec<bool> {
    let open: Vec<Option<bool>> = track.fixes.iter().map(is_open).collect();
    let driven_open = |i: usize| {
        open[i] == Some(true)
            && track
                .steps
                .get(i)
                .is_some_and(|step| step.link == Link::Driven && step.is_moving())
    };
    let mut speeds_m_s: Vec<f64> = (0..track.steps.len())
        .filter(|&i| driven_open(i))
        .map(|i| track.steps[i].speed_m_s())
        .collect();
    let usual_m_s = median(&mut speeds_m_s);
    let course_rad = |step: &Step| step.north_m.atan2(step.east_m);
    let straight = |i: usize| {
        let step = &track.steps[i];
        let beside = [i.checked_sub(1), Some(i + 1)];
        let turns = beside.into_iter().flatten().any(|k| {
            driven_open(k)
                && crate::geometry::angle::wrapped_rad(
                    course_rad(&track.steps[k]) - course_rad(step),
                )
                .abs()
                    > STRAIGHT_RAD
        });
        let shown = [&track.fixes[i], &track.fixes[i + 1]].map(|fix| f64::from(fix.speed_m_s));
        let shown_m_s = f64::midpoint(shown[0], shown[1]);
        let least_m_s = if shown_m_s.is_finite() {
            LEAST_OF_SPEED * shown_m_s
        } else {
            LEAST_OF_USUAL * usual_m_s
        };
        !turns && step.speed_m_s() >= least_m_s
    };
    (0..track.steps.len())
        .map(|i| {
            let step = &track.steps[i];
            let near = step.link == Link::Driven
                && step.seconds <= ON_CHANGE_S
                && step.length_m() <= ON_CHANGE_M;
            match open[i] {
                Some(false) => near,
                Some(true) => near && straight(i),
                None => false,
            }
        })
        .collect()
}

/// Nothing holds through a dropout: what a fix has from before one is taken away again, up to the first
/// fix that says it itself. The product stays: a tank does not change by itself.
fn forget(track: &mut Track) {
    let mut forgetting = Forgetting::default();
    for (step, fix) in track.steps.iter().zip(&mut track.fixes[1..]) {
        if step.link == Link::Dropout {
            forgetting.begins();
        }
        forgetting.pass(fix);
    }
}

/// The median interval, where it is too long to show coverage.
fn coarse_interval_s(track: &Track) -> Option<f64> {
    let rhythm = track.manner.rhythm;
    let is_coarse = match rhythm {
        Rhythm::Distance { step_m, .. } => step_m > rhythm::COARSE_STEP_M,
        _ => rhythm.interval_s() > track.coarse_limit_s(),
    };
    is_coarse.then(|| rhythm.interval_s())
}

/// Longest median interval that can show coverage, s.
pub(super) fn coarse_limit_s(rhythm: Rhythm) -> f64 {
    match rhythm {
        Rhythm::OnChange { .. } => ON_CHANGE_S,
        _ => COARSE_INTERVAL_S,
    }
}

/// Puts places on the straight lines of long followed steps, at an even speed, so that what was laid
/// there is looked for along the whole way, not at its ends only.
fn fill(track: &mut Track, long: &[bool]) {
    let pieces = |i: usize| {
        let step = &track.steps[i];
        if long[i] && step.length_m() > 2.0 * FILL_M {
            (step.length_m() / FILL_M).ceil() as i64
        } else {
            1
        }
    };
    let mut fixes = Vec::with_capacity(track.fixes.len());
    let mut steps = Vec::with_capacity(track.steps.len());
    for i in 0..track.steps.len() {
        let (from, to) = (track.fixes[i], track.fixes[i + 1]);
        let count = pieces(i);
        let share = |n: i64| n as f64 / count as f64;
        let whole_us = to.time.0 - from.time.0;
        for n in 0..count {
            let mut fix = from;
            if n > 0 {
                fix.time = Instant(from.time.0 + whole_us * n / count);
                fix.place = between(from.place, to.place, share(n));
                (fix.volume_l, fix.hdop, fix.own) = (f64::NAN, f32::NAN, 0);
                track.manner.filled += 1;
            }
            fixes.push(fix);
            let end_us = whole_us * (n + 1) / count - whole_us * n / count;
            let (east_m, north_m) = match count {
                1 => (track.steps[i].east_m, track.steps[i].north_m),
                _ => displacement_m(
                    between(from.place, to.place, share(n)),
                    between(from.place, to.place, share(n + 1)),
                ),
            };
            steps.push(Step {
                link: track.steps[i].link,
                seconds: end_us as f64 / crate::geometry::place::US_PER_S,
                east_m,
                north_m,
            });
        }
    }
    fixes.extend(track.fixes.last());
    (track.fixes, track.steps) = (fixes, steps);
}

/// The place at a share of the way from one place to another; the shorter way round the earth.
fn between(from: LonLat, to: LonLat, share: f64) -> LonLat {
    let east_deg = east_deg(from.lon_deg, to.lon_deg);
    let lon_deg = from.lon_deg + share * east_deg;
    LonLat {
        lon_deg: (lon_deg + 540.0).rem_euclid(360.0) - 180.0,
        lat_deg: from.lat_deg + share * (to.lat_deg - from.lat_deg),
    }
}
