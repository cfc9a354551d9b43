//! Step 4 of the flow: where the antenna was between fixes, and which way the rig pointed.
//!
//! The antenna's path is a smooth curve: a cubic Hermite by time whose tangent at a fix is the mean
//! of its two chord angles, each weighted with the other chord's length, and whose tangent length is
//! L (1 + turn^2 / 24) (the arc over the chord of a circle, to second order). It is straight where a
//! curve would be invented: at sharp joints, over tiny steps, when nearly standing.
//!
//! The rig does not point where its antenna moves. Its heading follows the rear axle: for a step of
//! length s in direction c, with the antenna d ahead of the axle, psi' = c + 2 atan(tan((psi - c) / 2)
//! e^(-s/d)). That is the exact solution of the tractrix of a point pulled along a straight line.
//!
//! Angles are counter-clockwise from true east until [`crate::swath`] turns them into a plane.

use crate::boom::Boom;
use crate::track::{Link, Track};
use std::f64::consts::{PI, TAU};

/// A joint that turns more than this is a corner, not a curve (75 degrees in one step: closer to a
/// change of gear than to steering).
const CORNER_RAD: f64 = 75.0 * PI / 180.0;
/// A step shorter than this has no direction of its own, m.
const SHORT_STEP_M: f64 = 0.2;
/// Slower than this the rig is as good as parked; its direction is held, m/s.
const PARKED_SPEED_M_S: f64 = 0.3;
/// Most turn in one sub-step: at 3 degrees the chord of a 6 m turn is within 2 mm of the arc.
const SUB_STEP_RAD: f64 = 3.0 * PI / 180.0;
/// Most sub-steps in one step; a step turns at most half a circle.
const GREATEST_SUB_STEPS: usize = 64;
/// A reversal of the motion by more than this is a change of gear ...
const GEAR_RAD: f64 = 120.0 * PI / 180.0;
/// ... when it happens within this distance, m ...
const GEAR_DISTANCE_M: f64 = 3.0;
/// ... at less than this speed, m/s.
const GEAR_SPEED_M_S: f64 = 0.5;
/// Nobody backs up a spraying rig farther than this; a longer "reverse" stretch means that the
/// change of gear before it was no such thing, m.
const LONGEST_REVERSE_M: f64 = 60.0;
/// A logged heading that follows the motion this closely in turns is a course, not a heading.
const COURSE_RAD: f64 = 4.0 * PI / 180.0;
/// Joints that turn at least this much are turns when a logged heading is judged.
const TURN_RAD: f64 = 8.0 * PI / 180.0;

/// A track with its curve and heading.
#[derive(Debug, Clone)]
pub struct Posed {
    /// Of each step.
    pub curves: Vec<Curve>,
    /// Of each fix: where the rig points.
    pub heading_rad: Vec<f64>,
    /// The heading comes from the log, not from the motion.
    pub heading_logged: bool,
}

/// The antenna's path over one step.
#[derive(Debug, Clone, Copy)]
pub struct Curve {
    /// Direction of motion at the start.
    pub start_rad: f64,
    /// Direction of motion at the end.
    pub end_rad: f64,
    /// Direction of the chord.
    pub chord_rad: f64,
    /// Sub-steps to cut it into.
    pub sub_steps: u8,
    /// How the rig moved.
    pub motion: Motion,
}

/// How a rig moved over a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Standing, or creeping too slowly to tell: heading held.
    Parked,
    /// Forward.
    Forward,
    /// Backward.
    Reverse,
}

/// An angle brought to (-pi, pi].
#[must_use]
pub fn wrapped_rad(angle_rad: f64) -> f64 {
    let turned = (angle_rad + PI).rem_euclid(TAU) - PI;
    if turned <= -PI { PI } else { turned }
}

/// The heading after a step of length `step_m` in direction `course_rad`, pulled by an antenna
/// `axle_m` ahead of the rear axle. Without that distance the rig points where it moves; so does one
/// that seems to be pulled backward, where the formula is unstable and the heading before was wrong.
#[must_use]
pub fn towed_rad(heading_rad: f64, course_rad: f64, step_m: f64, axle_m: f64) -> f64 {
    if axle_m <= 0.0 {
        return course_rad;
    }
    let off_rad = wrapped_rad(heading_rad - course_rad);
    if off_rad.abs() > GEAR_RAD {
        return course_rad;
    }
    course_rad + 2.0 * ((off_rad / 2.0).tan() * (-step_m / axle_m).exp()).atan()
}

impl Curve {
    /// Position on the curve at share `u` of the step's time, between `from` and `to`, as (x, y);
    /// `turn_rad` is added to the curve's angles (the plane's angle offset).
    #[must_use]
    pub fn at(&self, u: f64, from: (f64, f64), to: (f64, f64), turn_rad: f64) -> (f64, f64) {
        let length_m = (to.0 - from.0).hypot(to.1 - from.1);
        let bend_rad = wrapped_rad(self.end_rad - self.start_rad);
        let tangent_m = length_m * (1.0 + bend_rad * bend_rad / 24.0);
        let (sin0, cos0) = (self.start_rad + turn_rad).sin_cos();
        let (sin1, cos1) = (self.end_rad + turn_rad).sin_cos();
        let (u2, u3) = (u * u, u * u * u);
        let (h10, h01, h11) = (u3 - 2.0 * u2 + u, 3.0 * u2 - 2.0 * u3, u3 - u2);
        (
            from.0 + h01 * (to.0 - from.0) + tangent_m * (h10 * cos0 + h11 * cos1),
            from.1 + h01 * (to.1 - from.1) + tangent_m * (h10 * sin0 + h11 * sin1),
        )
    }
}

/// Curve and heading of a whole track.
#[must_use]
pub fn pose(track: &Track, boom: &Boom) -> Posed {
    let mut posed = Posed {
        curves: track.steps.iter().map(straight).collect(),
        heading_rad: vec![0.0; track.fixes.len()],
        heading_logged: false,
    };
    for stretch in track.stretches() {
        bend(track, &mut posed.curves, stretch.clone());
        for leg in legs(track, &posed.curves, stretch.clone()) {
            mark_reverse(&mut posed.curves, &leg);
        }
    }
    posed.heading_logged = heading_is_logged(track, &posed.curves);
    if posed.heading_logged {
        take_logged_headings(track, &mut posed);
    } else {
        for stretch in track.stretches() {
            pull(track, &mut posed, boom.axle_m, stretch);
        }
    }
    posed
}

fn straight(step: &crate::track::Step) -> Curve {
    let chord_rad = step.north_m.atan2(step.east_m);
    let slow = step.speed_m_s() < PARKED_SPEED_M_S;
    let motion = if slow {
        Motion::Parked
    } else {
        Motion::Forward
    };
    Curve {
        start_rad: chord_rad,
        end_rad: chord_rad,
        chord_rad,
        sub_steps: 1,
        motion,
    }
}

/// A step that may be curved, and may bend its neighbours.
fn has_direction(track: &Track, i: usize) -> bool {
    let step = &track.steps[i];
    step.length_m() >= SHORT_STEP_M && step.speed_m_s() >= PARKED_SPEED_M_S
}

/// Gives the steps of one stretch their tangents and sub-steps.
fn bend(track: &Track, curves: &mut [Curve], fixes: std::ops::Range<usize>) {
    let last = fixes.end - 1;
    // Tangent at each joint, or `None` where the path has a corner or an end.
    let tangent = |joint: usize, curves: &[Curve]| {
        if joint == fixes.start
            || joint == last
            || !has_direction(track, joint - 1)
            || !has_direction(track, joint)
        {
            return None;
        }
        let turn_rad = wrapped_rad(curves[joint].chord_rad - curves[joint - 1].chord_rad);
        let (before_m, after_m) = (
            track.steps[joint - 1].length_m(),
            track.steps[joint].length_m(),
        );
        (turn_rad.abs() <= CORNER_RAD)
            .then(|| curves[joint - 1].chord_rad + turn_rad * before_m / (before_m + after_m))
    };
    let tangents: Vec<Option<f64>> = fixes.clone().map(|joint| tangent(joint, curves)).collect();
    for i in fixes.start..last {
        let (start, end) = (tangents[i - fixes.start], tangents[i + 1 - fixes.start]);
        let curve = &mut curves[i];
        if !has_direction(track, i) {
            continue;
        }
        // At an end or a corner the curve leaves as it arrives: the arc of a circle.
        let mirrored = |known: Option<f64>| {
            known.map(|rad| curve.chord_rad - wrapped_rad(rad - curve.chord_rad))
        };
        let start_rad = start.or_else(|| mirrored(end)).unwrap_or(curve.chord_rad);
        let end_rad = end.or_else(|| mirrored(start)).unwrap_or(curve.chord_rad);
        let bend_rad = wrapped_rad(start_rad - curve.chord_rad).abs()
            + wrapped_rad(end_rad - curve.chord_rad).abs();
        (curve.start_rad, curve.end_rad) = (start_rad, end_rad);
        curve.sub_steps =
            ((bend_rad / SUB_STEP_RAD).ceil() as usize).clamp(1, GREATEST_SUB_STEPS) as u8;
    }
}

/// A part of a stretch in one gear: its steps, and whether it is a reverse leg.
struct Leg {
    steps: std::ops::Range<usize>,
    reverse: bool,
}

/// Cuts a stretch at its inferred (or logged) changes of gear.
fn legs(track: &Track, curves: &[Curve], fixes: std::ops::Range<usize>) -> Vec<Leg> {
    let mut legs: Vec<Leg> = Vec::new();
    let mut first = fixes.start;
    let mut moving: Option<usize> = None; // last step with a direction
    let mut since_m = 0.0; // distance crept since it ended
    let mut slowest_m_s = f64::INFINITY;
    let steps = fixes.start..fixes.end - 1;
    for i in steps.clone() {
        if !has_direction(track, i) {
            since_m += track.steps[i].length_m();
            slowest_m_s = slowest_m_s.min(track.steps[i].speed_m_s());
            continue;
        }
        if let Some(before) = moving {
            let slowest = slowest_m_s
                .min(track.steps[before].speed_m_s())
                .min(track.steps[i].speed_m_s());
            let back = wrapped_rad(curves[i].chord_rad - curves[before].chord_rad).abs() > GEAR_RAD;
            if back && since_m < GEAR_DISTANCE_M && slowest < GEAR_SPEED_M_S {
                legs.push(Leg {
                    steps: first..i,
                    reverse: false,
                });
                first = i;
            }
        }
        (moving, since_m, slowest_m_s) = (Some(i), 0.0, f64::INFINITY);
    }
    legs.push(Leg {
        steps: first..steps.end,
        reverse: false,
    });
    // The first leg is forward; gears alternate, but nobody backs up far.
    let mut reverse = false;
    for leg in &mut legs {
        let length_m: f64 = track.steps[leg.steps.clone()]
            .iter()
            .map(crate::track::Step::length_m)
            .sum();
        reverse = reverse && length_m <= LONGEST_REVERSE_M;
        leg.reverse = reverse;
        reverse = !reverse;
    }
    legs
}

fn mark_reverse(curves: &mut [Curve], leg: &Leg) {
    if leg.reverse {
        for curve in curves[leg.steps.clone()]
            .iter_mut()
            .filter(|curve| curve.motion == Motion::Forward)
        {
            curve.motion = Motion::Reverse;
        }
    }
}

/// Headings over one stretch by the tractrix: forward legs from their start, reverse legs backward
/// from their end (run backward in time a reverse leg is a forward one, and only so it converges).
fn pull(track: &Track, posed: &mut Posed, axle_m: f64, fixes: std::ops::Range<usize>) {
    let steps = fixes.start..fixes.end - 1;
    let first_moving = steps
        .clone()
        .find(|&i| posed.curves[i].motion != Motion::Parked);
    let start_rad = first_moving.map_or(0.0, |i| {
        pointing_rad(&posed.curves[i], posed.curves[i].start_rad)
    });
    let mut heading_rad = start_rad;
    let mut i = steps.start;
    posed.heading_rad[i] = heading_rad;
    while i < steps.end {
        if posed.curves[i].motion == Motion::Reverse {
            let end = (i..steps.end)
                .find(|&k| posed.curves[k].motion == Motion::Forward)
                .unwrap_or(steps.end);
            heading_rad = pull_backward(track, posed, axle_m, i..end);
            i = end;
        } else {
            heading_rad = advance_rad(track, &posed.curves[i], i, heading_rad, axle_m);
            posed.heading_rad[i + 1] = heading_rad;
            i += 1;
        }
    }
}

/// Heading at the fix after a forward (or parked) step.
fn advance_rad(track: &Track, curve: &Curve, step: usize, heading_rad: f64, axle_m: f64) -> f64 {
    if curve.motion == Motion::Parked {
        return heading_rad;
    }
    let step = &track.steps[step];
    let count = usize::from(curve.sub_steps);
    let mut last = (0.0, 0.0);
    let mut heading_rad = heading_rad;
    for k in 1..=count {
        let next = curve.at(
            k as f64 / count as f64,
            (0.0, 0.0),
            (step.east_m, step.north_m),
            0.0,
        );
        let (dx_m, dy_m) = (next.0 - last.0, next.1 - last.1);
        heading_rad = towed_rad(heading_rad, dy_m.atan2(dx_m), dx_m.hypot(dy_m), axle_m);
        last = next;
    }
    heading_rad
}

/// Fills the headings of a reverse leg from its end to its start; returns the heading at its end.
fn pull_backward(
    track: &Track,
    posed: &mut Posed,
    axle_m: f64,
    steps: std::ops::Range<usize>,
) -> f64 {
    let last = steps
        .clone()
        .rev()
        .find(|&i| posed.curves[i].motion == Motion::Reverse)
        .unwrap_or(steps.start);
    let end_rad = pointing_rad(&posed.curves[last], posed.curves[last].end_rad);
    let mut heading_rad = end_rad;
    for i in steps.rev() {
        posed.heading_rad[i + 1] = heading_rad;
        let curve = posed.curves[i];
        if curve.motion == Motion::Parked {
            continue;
        }
        let (step, count) = (&track.steps[i], usize::from(curve.sub_steps));
        let to = (step.east_m, step.north_m);
        for k in (0..count).rev() {
            let later = curve.at((k + 1) as f64 / count as f64, (0.0, 0.0), to, 0.0);
            let sooner = curve.at(k as f64 / count as f64, (0.0, 0.0), to, 0.0);
            let (dx_m, dy_m) = (sooner.0 - later.0, sooner.1 - later.1);
            heading_rad = towed_rad(heading_rad, dy_m.atan2(dx_m), dx_m.hypot(dy_m), axle_m);
        }
    }
    end_rad
}

/// Where the rig points when it moves in this direction.
fn pointing_rad(curve: &Curve, motion_rad: f64) -> f64 {
    if curve.motion == Motion::Reverse {
        motion_rad + PI
    } else {
        motion_rad
    }
}

/// Heading at a fix as logged, counter-clockwise from east.
fn logged_rad(track: &Track, fix: usize) -> f64 {
    (90.0 - f64::from(track.fixes[fix].heading_deg)).to_radians()
}

/// The log has a heading on nearly every fix, and in turns it is not just the direction of motion.
fn heading_is_logged(track: &Track, curves: &[Curve]) -> bool {
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
    turns > 0 && follows * 2 < turns
}

/// Takes headings, and with them the gear, from the log.
fn take_logged_headings(track: &Track, posed: &mut Posed) {
    let mut held_rad = 0.0;
    for fix in 0..track.fixes.len() {
        let rad = logged_rad(track, fix);
        held_rad = if rad.is_finite() { rad } else { held_rad };
        posed.heading_rad[fix] = held_rad;
    }
    for (i, curve) in posed
        .curves
        .iter_mut()
        .enumerate()
        .filter(|(_, curve)| curve.motion != Motion::Parked)
    {
        let backward = wrapped_rad(posed.heading_rad[i] - curve.start_rad).abs() > PI / 2.0;
        curve.motion = if backward {
            Motion::Reverse
        } else {
            Motion::Forward
        };
    }
}

#[cfg(test)]
mod tests;
