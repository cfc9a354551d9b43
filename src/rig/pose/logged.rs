//! A logged heading: whether it really is one, and the gear that it shows.

use super::Posed;
use super::curve::Curve;
use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::rig::track::{Link, Step, Track};
use std::f64::consts::PI;
use std::ops::Range;

/// A logged heading that follows the motion this closely in turns is a course, not a heading (trade judgement).
const COURSE_RAD: f64 = 4.0 * PI / 180.0;
/// Joints that turn at least this much are turns when a logged heading is judged (trade judgement).
const TURN_RAD: f64 = 8.0 * PI / 180.0;

/// A heading that points so far off the motion (trade judgement) ...
const AGAINST_RAD: f64 = 150.0 * PI / 180.0;
/// ... at this speed or more, where noise turns no direction, m/s (trade judgement) ...
const AGAINST_SPEED_M_S: f64 = 1.0;
/// ... for so long without a break is not a course, not even one that lags a second or two at a change of gear, m (trade
/// judgement).
const AGAINST_M: f64 = 5.0;

/// Heading at a fix as logged, counter-clockwise from east.
fn logged_rad(track: &Track, fix: usize) -> f64 {
    (90.0 - f64::from(track.fixes[fix].heading_deg)).to_radians()
}

/// The log has a heading on nearly every fix, and in turns it is not just the direction of motion.
pub(super) fn is_heading(track: &Track, curves: &[Curve]) -> bool {
    let logged = track
        .fixes
        .iter()
        .filter(|fix| fix.heading_deg.is_finite())
        .count();
    if logged * 20 < track.fixes.len() * 19 || track.fixes.is_empty() {
        return false;
    }
    let turning = |i: &usize| {
        let (before, after) = (&curves[i - 1], &curves[*i]);
        track.steps[i - 1].link == Link::Driven
            && track.steps[*i].link == Link::Driven
            && before.motion != Motion::Parked
            && after.motion != Motion::Parked
            && wrapped_rad(after.chord_rad - before.chord_rad).abs() > TURN_RAD
    };
    let (mut turns, mut follows) = (0_usize, 0_usize);
    for i in (1..curves.len()).filter(turning) {
        // A course may be that of the chord before, of the chord after, or of the tangent between.
        let near = [
            curves[i - 1].chord_rad,
            curves[i].start_rad,
            curves[i].chord_rad,
        ]
        .iter()
        .any(|&rad| wrapped_rad(logged_rad(track, i) - rad).abs() < COURSE_RAD);
        turns += 1;
        follows += usize::from(near);
    }
    let differs = turns > 0 && follows * 2 < turns;
    (differs || longest_against_m(track, curves) >= AGAINST_M) && mostly_ahead(track, curves)
}

/// A step fast enough to compare its direction with a heading.
fn is_fast(step: &Step) -> bool {
    step.link == Link::Driven && step.speed_m_s() >= AGAINST_SPEED_M_S
}

/// How far the heading stayed against the motion, as no course does: a rig whose antenna is over its
/// rear axle backs up.
fn longest_against_m(track: &Track, curves: &[Curve]) -> f64 {
    let (mut against_m, mut longest_m) = (0.0_f64, 0.0_f64);
    for (i, step) in track.steps.iter().enumerate() {
        let off_rad = wrapped_rad(logged_rad(track, i) - curves[i].chord_rad).abs();
        against_m = if is_fast(step) && off_rad > AGAINST_RAD {
            against_m + step.length_m()
        } else {
            0.0
        };
        longest_m = longest_m.max(against_m);
    }
    longest_m
}

/// A night is mostly driven forward: a heading that says otherwise is set up the wrong way round.
fn mostly_ahead(track: &Track, curves: &[Curve]) -> bool {
    let (mut ahead_m, mut back_m) = (0.0, 0.0);
    for (i, step) in track
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| is_fast(step))
    {
        let off_rad = wrapped_rad(logged_rad(track, i) - curves[i].chord_rad).abs();
        if off_rad > PI / 2.0 {
            back_m += step.length_m();
        } else {
            ahead_m += step.length_m();
        }
    }
    ahead_m >= back_m
}

/// Takes the headings of one stretch, and with them the gear, from the log; false, and nothing taken,
/// where the stretch has none. A fix without one has that of the fix before, the first ones that of
/// the first fix that has one; nothing is held through a dropout.
pub(super) fn take(track: &Track, posed: &mut Posed, fixes: Range<usize>) -> bool {
    let logged = |fix: usize| Some(logged_rad(track, fix)).filter(|rad| rad.is_finite());
    let Some(mut held_rad) = fixes.clone().find_map(logged) else {
        return false;
    };
    for fix in fixes.clone() {
        held_rad = logged(fix).unwrap_or(held_rad);
        posed.heading_rad[fix] = held_rad;
    }
    for i in fixes.start..fixes.end - 1 {
        let curve = &mut posed.curves[i];
        if curve.motion != Motion::Parked {
            let backward = wrapped_rad(posed.heading_rad[i] - curve.start_rad).abs() > PI / 2.0;
            curve.motion = if backward {
                Motion::Reverse
            } else {
                Motion::Forward
            };
        }
    }
    true
}

#[cfg(test)]
mod tests;
