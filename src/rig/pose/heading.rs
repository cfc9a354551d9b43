//! Where the rig points: its rear axle follows the antenna like a towed wheel.

use super::Posed;
use super::curve::Curve;
use super::gear::GEAR_RAD;
use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::geometry::plane::length_m;
use crate::rig::track::{Step, Track};
use smallvec::SmallVec;
use std::f64::consts::PI;
use std::ops::Range;

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

/// Headings at points on the path of one step, from those known at its ends: by the tractrix from the
/// start, on a reverse step from the end. `us` are the points' shares of the step's time; a logged
/// heading turns evenly over them.
#[must_use]
pub fn within(
    path: &Path,
    us: impl Iterator<Item = f64>,
    ends_rad: (f64, f64),
    logged: bool,
    axle_m: f64,
) -> Headings {
    if logged {
        let turn_rad = wrapped_rad(ends_rad.1 - ends_rad.0);
        return us.map(|u| ends_rad.0 + u * turn_rad).collect();
    }
    path.followed(ends_rad, |heading_rad, course_rad, step_m| {
        towed_rad(heading_rad, course_rad, step_m, axle_m)
    })
}

/// Headings at a few points.
pub type Headings = SmallVec<[f64; 8]>;

/// Points, in metres, that something was pulled along, in order of time.
pub struct Path {
    /// At least two.
    pub points: SmallVec<[(f64, f64); 8]>,
    /// How it moved.
    pub motion: Motion,
}

impl Path {
    /// The antenna's path over a step of local metres, at so many sub-steps.
    pub(super) fn of_step(curve: &Curve, step: &Step, count: usize) -> Self {
        let to = (step.east_m, step.north_m);
        let at = |k: usize| curve.at(k as f64 / count as f64, (0.0, 0.0), to, 0.0);
        Self {
            points: (0..=count).map(at).collect(),
            motion: curve.motion,
        }
    }

    /// Heading at the end of something pulled along this path, from that at its start.
    pub(super) fn pulled(&self, start_rad: f64, pull: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let pairs = self.points.windows(2);
        pairs.fold(start_rad, |rad, pair| pulled(rad, pair[0], pair[1], &pull))
    }

    /// Heading at the start of something that went this path backward, from that at its end.
    pub(super) fn pushed(&self, end_rad: f64, pull: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let pairs = self.points.windows(2).rev();
        pairs.fold(end_rad, |rad, pair| pulled(rad, pair[1], pair[0], &pull))
    }

    /// Headings at all points, those at the ends as they are known.
    pub(super) fn followed(
        &self,
        ends_rad: (f64, f64),
        pull: impl Fn(f64, f64, f64) -> f64,
    ) -> Headings {
        let (points, last) = (&self.points, self.points.len() - 1);
        let mut headings: Headings = SmallVec::from_elem(ends_rad.0, points.len());
        match self.motion {
            Motion::Parked => {}
            Motion::Forward => {
                for n in 1..last {
                    headings[n] = pulled(headings[n - 1], points[n - 1], points[n], &pull);
                }
                headings[last] = ends_rad.1;
            }
            Motion::Reverse => {
                headings[last] = ends_rad.1;
                for n in (0..last).rev() {
                    headings[n] = pulled(headings[n + 1], points[n + 1], points[n], &pull);
                }
            }
        }
        headings
    }
}

fn pulled(rad: f64, from: (f64, f64), to: (f64, f64), pull: &impl Fn(f64, f64, f64) -> f64) -> f64 {
    let (dx_m, dy_m) = (to.0 - from.0, to.1 - from.1);
    pull(rad, dy_m.atan2(dx_m), length_m(dx_m, dy_m))
}

/// Headings over one stretch by the tractrix: forward legs from their start, reverse legs backward
/// from their end (run backward in time a reverse leg is a forward one, and only so it converges).
pub(super) fn pull(track: &Track, posed: &mut Posed, axle_m: f64, fixes: Range<usize>) {
    let steps = fixes.start..fixes.end - 1;
    let towed = |rad, course_rad, step_m| towed_rad(rad, course_rad, step_m, axle_m);
    let path = |curve: &Curve, i: usize| {
        Path::of_step(curve, &track.steps[i], usize::from(curve.sub_steps))
    };
    let moving = |i: &usize| posed.curves[*i].motion != Motion::Parked;
    let first_moving = steps.clone().find(moving);
    let start_rad = first_moving.map_or(0.0, |i| {
        pointing_rad(&posed.curves[i], posed.curves[i].start_rad)
    });
    posed.heading_rad[steps.start] = start_rad;
    for leg in legs(&posed.curves, steps) {
        if !leg.reverse {
            for i in leg.steps {
                let (curve, start_rad) = (&posed.curves[i], posed.heading_rad[i]);
                posed.heading_rad[i + 1] = match curve.motion {
                    Motion::Parked => start_rad,
                    _ => path(curve, i).pulled(start_rad, towed),
                };
            }
            continue;
        }
        // Parked steps behind the last metre in reverse hold the heading that the leg ends with.
        let in_reverse = |i: &usize| posed.curves[*i].motion == Motion::Reverse;
        let last = leg
            .steps
            .clone()
            .rfind(in_reverse)
            .unwrap_or(leg.steps.start);
        let mut rad = pointing_rad(&posed.curves[last], posed.curves[last].end_rad);
        for i in leg.steps.rev() {
            posed.heading_rad[i + 1] = rad;
            let curve = &posed.curves[i];
            if curve.motion != Motion::Parked {
                rad = path(curve, i).pushed(rad, towed);
            }
        }
    }
}

/// Unbroken steps in one gear.
pub(super) struct GearLeg {
    pub(super) steps: Range<usize>,
    pub(super) reverse: bool,
}

/// Legs of a stretch; parked steps belong to the leg before them.
pub(super) fn legs(curves: &[Curve], steps: Range<usize>) -> Vec<GearLeg> {
    let mut legs: Vec<GearLeg> = Vec::new();
    for i in steps {
        let reverse = curves[i].motion == Motion::Reverse;
        let held = curves[i].motion == Motion::Parked;
        match legs.last_mut() {
            Some(leg) if held || leg.reverse == reverse => leg.steps.end = i + 1,
            _ => legs.push(GearLeg {
                steps: i..i + 1,
                reverse,
            }),
        }
    }
    legs
}

/// Where the rig points when it moves in this direction.
fn pointing_rad(curve: &Curve, motion_rad: f64) -> f64 {
    if curve.motion == Motion::Reverse {
        motion_rad + PI
    } else {
        motion_rad
    }
}
