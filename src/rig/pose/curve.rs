//! The antenna's path over a step: a cubic through the fixes, straight where a curve would be invented.

use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::geometry::plane::length_m;
use crate::rig::track::{Step, Track};
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// A joint that turns more than this is a corner, not a curve (75 degrees in one step: closer to a change of gear
/// than to steering) (trade judgement).
const CORNER_RAD: f64 = 75.0 * PI / 180.0;
/// A step shorter than this has no direction of its own, m (tolerance).
const SHORT_STEP_M: f64 = 0.2;
/// Slower than this the rig is as good as parked; its direction is held, m/s (tolerance).
const PARKED_SPEED_M_S: f64 = 0.3;
/// Most turn in one sub-step: at 3 degrees the chord of a 6 m turn is within 2 mm of the arc (tolerance).
pub(super) const SUB_STEP_RAD: f64 = 3.0 * PI / 180.0;
/// Most sub-steps in one step; a step turns at most half a circle (limit).
pub(super) const GREATEST_SUB_STEPS: usize = 64;
/// The antenna's path over one step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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

impl Curve {
    /// Position on the curve at share `u` of the step's time, between `from` and `to`, as (x, y);
    /// `turn_rad` is added to the curve's angles (the plane's angle offset).
    #[must_use]
    pub fn at(&self, u: f64, from: (f64, f64), to: (f64, f64), turn_rad: f64) -> (f64, f64) {
        // At its ends, which are all that is asked of most steps, the tangents have no say.
        if u <= 0.0 {
            return from;
        }
        if u >= 1.0 {
            // As the sum below has it: rounded to `from`'s last digit, so not always `to` itself.
            return (from.0 + (to.0 - from.0), from.1 + (to.1 - from.1));
        }
        let chord_m = length_m(to.0 - from.0, to.1 - from.1);
        let bend_rad = wrapped_rad(self.end_rad - self.start_rad);
        let tangent_m = chord_m * (1.0 + bend_rad * bend_rad / 24.0);
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

pub(super) fn straight(step: &Step) -> Curve {
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
pub(super) fn has_direction(track: &Track, i: usize) -> bool {
    let step = &track.steps[i];
    step.length_m() >= SHORT_STEP_M && step.speed_m_s() >= PARKED_SPEED_M_S
}

/// Gives the steps of one stretch their tangents and sub-steps.
pub(super) fn bend(track: &Track, curves: &mut [Curve], fixes: std::ops::Range<usize>) {
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
