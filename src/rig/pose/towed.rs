//! Where a trailer points: its axle follows the hitch point as the rear axle follows the antenna.
//!
//! In reverse a trailer is pushed, which is unstable: its heading grows away from any error. Run
//! backward in time it is pulled, and converges, but from an end that nobody knows: it is taken to be
//! in line there. In a straight line that holds (a driver keeps it so); in a turn it may be anything.

use super::Posed;
use super::curve::{GREATEST_SUB_STEPS, SUB_STEP_RAD, has_direction};
use super::heading::{self, GearLeg, Headings, Path};
use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::input::fleet::Hitch;
use crate::rig::boom::Boom;
use crate::rig::track::Track;
use std::f64::consts::PI;
use std::ops::Range;

/// The hitch's path is followed in steps of this at most, m: a tenth of a short drawbar (tolerance).
const HITCH_STEP_M: f64 = 0.25;
/// A drawbar meets the vehicle at about this angle (common practice).
const JACKKNIFE_RAD: f64 = 90.0 * PI / 180.0;
/// From this angle on a pushed trailer is in a turn: at it, a drawbar of 3 m is 0.8 m out of line, as far as
/// positions are off (trade judgement).
const TURN_RAD: f64 = 15.0 * PI / 180.0;
/// A turn is felt over so many times the length from hitch to axle: there e^-2, a seventh, is left of it (trade
/// judgement).
const FELT_LENGTHS: f64 = 2.0;

/// The path of the hitch point, from that of the antenna and the rig's headings on it.
#[must_use]
pub fn hitch_path(antenna: &Path, headings_rad: &[f64], boom: &Boom, hitch: Hitch) -> Path {
    let behind = |(point, rad): (&(f64, f64), &f64)| {
        let (sin, cos) = rad.sin_cos();
        let (back_m, left_m) = (hitch.behind_antenna_m, boom.antenna_right_m);
        (
            point.0 - back_m * cos - left_m * sin,
            point.1 - back_m * sin + left_m * cos,
        )
    };
    Path {
        points: antenna
            .points
            .iter()
            .zip(headings_rad)
            .map(behind)
            .collect(),
        motion: antenna.motion,
    }
}

/// The trailer's headings on a path of its hitch, from those known at its ends.
#[must_use]
pub fn within(path: &Path, ends_rad: (f64, f64), hitch: Hitch) -> Headings {
    path.followed(ends_rad, |rad, course_rad, step_m| {
        dragged_rad(rad, course_rad, step_m, hitch)
    })
}

/// The tractrix without the guard that the rear axle has: a hitch behind the axle does swing against
/// the trailer in tight turns.
fn dragged_rad(rad: f64, course_rad: f64, step_m: f64, hitch: Hitch) -> f64 {
    let off_rad = wrapped_rad(rad - course_rad);
    course_rad + 2.0 * ((off_rad / 2.0).tan() * (-step_m / hitch.to_axle_m).exp()).atan()
}

/// Follows the trailer through a track whose rig is posed already.
pub(super) fn follow(track: &Track, posed: &mut Posed, boom: &Boom, hitch: Hitch) {
    posed.trailer_rad = posed.heading_rad.clone();
    posed.unsure.resize(posed.curves.len(), false);
    for stretch in track.stretches() {
        let mut doubt_m = 0.0;
        for leg in heading::legs(&posed.curves, stretch.start..stretch.end - 1) {
            drag(track, posed, boom, hitch, &leg);
            if leg.reverse {
                mark_turns(track, posed, hitch, leg.steps.clone());
                doubt_m = doubt_m_after(track, posed, hitch, leg.steps);
            } else {
                doubt_m = mark_pulled(track, posed, leg.steps, doubt_m);
            }
        }
    }
}

/// The trailer over one leg: forward from its start; in reverse from its end, in line there, and the
/// heading that the leg before ended with stands at its start.
fn drag(track: &Track, posed: &mut Posed, boom: &Boom, hitch: Hitch, leg: &GearLeg) {
    let pull = |rad, course_rad, step_m| dragged_rad(rad, course_rad, step_m, hitch);
    let path = |posed: &Posed, i: usize| hitch_path_of_step(track, posed, boom, hitch, i);
    let held = |posed: &Posed, i: usize| posed.curves[i].motion == Motion::Parked;
    if leg.reverse {
        let mut rad = posed.heading_rad[leg.steps.end];
        for i in leg.steps.clone().rev() {
            posed.trailer_rad[i + 1] = rad;
            if !held(posed, i) {
                rad = short_of_jackknife(path(posed, i).pushed(rad, pull), posed.heading_rad[i]);
            }
            refine(posed, i, rad);
        }
    } else {
        for i in leg.steps.clone() {
            let mut rad = posed.trailer_rad[i];
            if !held(posed, i) {
                rad =
                    short_of_jackknife(path(posed, i).pulled(rad, pull), posed.heading_rad[i + 1]);
            }
            posed.trailer_rad[i + 1] = rad;
            refine(posed, i, posed.trailer_rad[i]);
        }
    }
}

fn short_of_jackknife(trailer_rad: f64, heading_rad: f64) -> f64 {
    let off_rad = wrapped_rad(trailer_rad - heading_rad);
    heading_rad + off_rad.clamp(-JACKKNIFE_RAD, JACKKNIFE_RAD)
}

fn hitch_path_of_step(track: &Track, posed: &Posed, boom: &Boom, hitch: Hitch, i: usize) -> Path {
    let (curve, step) = (&posed.curves[i], &track.steps[i]);
    let fine = (step.length_m() / HITCH_STEP_M).ceil() as usize;
    let count = fine.clamp(usize::from(curve.sub_steps), GREATEST_SUB_STEPS);
    let antenna = Path::of_step(curve, step, count);
    let us = (0..=count).map(|k| k as f64 / count as f64);
    let ends_rad = (posed.heading_rad[i], posed.heading_rad[i + 1]);
    let headings = heading::within(&antenna, us, ends_rad, posed.heading_logged, boom.axle_m);
    hitch_path(&antenna, &headings, boom, hitch)
}

/// More sub-steps where rig or trailer turn though the antenna goes straight.
fn refine(posed: &mut Posed, i: usize, start_rad: f64) {
    let curve = &mut posed.curves[i];
    if curve.motion == Motion::Parked {
        return;
    }
    let turn_rad = wrapped_rad(curve.end_rad - curve.start_rad).abs()
        + wrapped_rad(posed.heading_rad[i + 1] - posed.heading_rad[i]).abs()
        + wrapped_rad(posed.trailer_rad[i + 1] - start_rad).abs();
    let count = ((turn_rad / SUB_STEP_RAD).ceil() as usize).min(GREATEST_SUB_STEPS) as u8;
    curve.sub_steps = curve.sub_steps.max(count);
}

/// Marks the steps of a reverse leg at which it is not sure where the trailer was: where it stands out of
/// line, where the rig turns within reach, and where the leg began out of line.
fn mark_turns(track: &Track, posed: &mut Posed, hitch: Hitch, steps: Range<usize>) {
    let felt_m = FELT_LENGTHS * hitch.to_axle_m;
    let off_rad = |fix: usize| wrapped_rad(posed.trailer_rad[fix] - posed.heading_rad[fix]).abs();
    // The trailer's heading at the leg's first fix is that of the leg before.
    let mut bent_m = if off_rad(steps.start) > TURN_RAD {
        0.0
    } else {
        f64::INFINITY
    };
    let mut unsure = Vec::new();
    for i in steps.clone() {
        let turns = turns_near(track, posed, steps.clone(), i, felt_m);
        if turns || off_rad(i + 1) > TURN_RAD || bent_m < felt_m {
            unsure.push(i);
        }
        bent_m += track.steps[i].length_m();
    }
    unsure.into_iter().for_each(|i| posed.unsure[i] = true);
}

/// How far the trailer is pulled after a reverse leg until it is sure again where it is: nobody knows whether it stood in
/// line when the leg ended in a turn.
fn doubt_m_after(track: &Track, posed: &Posed, hitch: Hitch, steps: Range<usize>) -> f64 {
    let felt_m = FELT_LENGTHS * hitch.to_axle_m;
    let mut gone_m = 0.0;
    let near = steps.rev().take_while(|&i| {
        let near = gone_m <= felt_m;
        gone_m += track.steps[i].length_m();
        near
    });
    if near.into_iter().any(|i| posed.unsure[i]) {
        felt_m
    } else {
        0.0
    }
}

/// Marks the first steps of a forward leg, for so long a way. Returns how much of that is left.
fn mark_pulled(track: &Track, posed: &mut Posed, steps: Range<usize>, doubt_m: f64) -> f64 {
    let mut left_m = doubt_m;
    for i in steps {
        if left_m <= 0.0 {
            return 0.0;
        }
        posed.unsure[i] = true;
        left_m -= track.steps[i].length_m();
    }
    left_m
}

/// The direction of motion differs by more than a turn from that of a step near in the same leg.
fn turns_near(track: &Track, posed: &Posed, leg: Range<usize>, i: usize, felt_m: f64) -> bool {
    let differs = |k: usize| {
        let turn_rad = wrapped_rad(posed.curves[k].chord_rad - posed.curves[i].chord_rad);
        has_direction(track, k) && turn_rad.abs() > TURN_RAD
    };
    let within = |steps: &mut dyn Iterator<Item = usize>| {
        let mut gone_m = 0.0;
        steps
            .take_while(|&k| {
                let near = gone_m <= felt_m;
                gone_m += track.steps[k].length_m();
                near
            })
            .any(differs)
    };
    has_direction(track, i) && (within(&mut (i + 1..leg.end)) || within(&mut (leg.start..i).rev()))
}

#[cfg(test)]
mod tests;
