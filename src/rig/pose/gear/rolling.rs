//! Changes of gear in which the rig never seems to stand: the path has a cusp.
//!
//! At a change of gear the speed goes through nothing, but between two fixes. What shows at any speed is that
//! the way turns round within less than any steering needs: 100 degrees in 4.4 m would be a radius of 2.5 m, tighter
//! than trucks and carts turn, and an antenna ahead of the axle swings wider still.

use super::{GEAR_SPEED_M_S, LOCK_TO_LOCK_RAD};
use crate::geometry::angle::wrapped_rad;
use crate::rig::track::Track;
use std::f64::consts::PI;
use std::ops::Range;

/// Directions before and after are taken over this distance, m: noise of a tenth of a metre turns them by 5 degrees
/// (trade judgement).
pub(super) const REACH_M: f64 = 2.0;
/// From the middle of the way before to that of the way after, m (trade judgement).
pub(super) const FARTHEST_M: f64 = 4.4;
/// From this on the way turns faster than steering makes it (44 degrees in a radius of 2.5 m), but not as far as a
/// cusp: noise, or a gear changed from lock to lock (trade judgement).
const DOUBTFUL_RAD: f64 = 75.0 * PI / 180.0;
/// A leg shorter than this, s or m, is a place that jumped there and back (trade judgement).
const LEAST_LEG_S: f64 = 1.5;
/// See [`LEAST_LEG_S`] (trade judgement).
const LEAST_LEG_M: f64 = 1.0;

/// A change of gear, or what may be one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cusp {
    /// The step that the other gear begins with.
    pub(super) step: usize,
    /// Nothing else turns so.
    pub(super) sure: bool,
}

/// The cusps of a stretch at speeds at which the slow rule sees none. Steps with a change of gear beside them are known
/// already: `known`, in order.
pub(super) fn cusps(track: &Track, steps: Range<usize>, known: &[usize]) -> Vec<Cusp> {
    let mut found: Vec<(Cusp, f64)> = Vec::new();
    for i in steps.start + 1..steps.end {
        let Some(turn_rad) = turn_rad(track, &steps, i) else {
            continue;
        };
        let told = known.partition_point(|&cut| cut < i);
        let near = |cut: Option<&usize>| {
            cut.is_some_and(|&cut| is_shorter(track, cut.min(i)..cut.max(i), FARTHEST_M))
        };
        if near(known.get(told)) || near(told.checked_sub(1).and_then(|k| known.get(k))) {
            continue;
        }
        let cusp = Cusp {
            step: i,
            sure: turn_rad > LOCK_TO_LOCK_RAD,
        };
        match found.last_mut() {
            // One cusp shows at several joints: where it turns most it is.
            Some((last, most_rad)) if is_shorter(track, last.step..i, REACH_M) => {
                if turn_rad > *most_rad {
                    (*last, *most_rad) = (cusp, turn_rad);
                }
            }
            _ => found.push((cusp, turn_rad)),
        }
    }
    without_jumps(track, found.into_iter().map(|(cusp, _)| cusp))
}

/// Whether the way over some steps is shorter than this; it looks no farther.
fn is_shorter(track: &Track, steps: Range<usize>, than_m: f64) -> bool {
    let mut way_m = 0.0;
    track.steps[steps].iter().all(|step| {
        way_m += step.length_m();
        way_m < than_m
    })
}

/// How far the way turns at the start of step `i`; `None` unless by more than steering could.
fn turn_rad(track: &Track, steps: &Range<usize>, i: usize) -> Option<f64> {
    let (a, b) = (&track.steps[i - 1], &track.steps[i]);
    let ahead = a.east_m * b.east_m + a.north_m * b.north_m;
    // Most joints are no corner at all; 60 degrees.
    if ahead > 0.5 * a.length_m() * b.length_m() {
        return None;
    }
    let before = Reach::over(track, (steps.start..i).rev())?;
    let after = Reach::over(track, i..steps.end)?;
    if f64::midpoint(before.way_m, after.way_m) > FARTHEST_M {
        return None;
    }
    let turn_rad = wrapped_rad(after.course_rad - before.course_rad).abs();
    (turn_rad > DOUBTFUL_RAD).then_some(turn_rad)
}

/// The way over a few steps.
struct Reach {
    way_m: f64,
    course_rad: f64,
}

impl Reach {
    /// `None` where a step is slow: noise turns it, and the slow rule looks at it.
    fn over(track: &Track, steps: impl Iterator<Item = usize>) -> Option<Self> {
        let (mut way_m, mut gone) = (0.0, (0.0, 0.0));
        for i in steps {
            let step = &track.steps[i];
            if step.speed_m_s() < GEAR_SPEED_M_S {
                return None;
            }
            way_m += step.length_m();
            gone = (gone.0 + step.east_m, gone.1 + step.north_m);
            if way_m >= REACH_M {
                break;
            }
        }
        (way_m >= REACH_M).then(|| Self {
            way_m,
            course_rad: f64::atan2(gone.1, gone.0),
        })
    }
}

/// Leaves out pairs between which there is no leg to speak of.
fn without_jumps(track: &Track, cusps: impl Iterator<Item = Cusp>) -> Vec<Cusp> {
    let mut kept: Vec<Cusp> = Vec::new();
    for cusp in cusps {
        let leg = kept.last().map(|last| &track.steps[last.step..cusp.step]);
        let jumped = leg.is_some_and(|leg| {
            let seconds: f64 = leg.iter().map(|step| step.seconds).sum();
            let (east_m, north_m) = leg.iter().fold((0.0, 0.0), |(e, n), step| {
                (e + step.east_m, n + step.north_m)
            });
            seconds < LEAST_LEG_S || f64::hypot(east_m, north_m) < LEAST_LEG_M
        });
        if jumped {
            kept.pop();
        } else {
            kept.push(cusp);
        }
    }
    kept
}
