//! Forward or reverse, inferred from the antenna's motion where no heading is logged.

mod rolling;

use super::curve::{Curve, has_direction};
use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::rig::track::{Step, Track};
use std::f64::consts::PI;
use std::ops::Range;

/// A reversal of the motion by more than this is a change of gear (trade judgement) ...
pub(super) const GEAR_RAD: f64 = 120.0 * PI / 180.0;
/// ... when it happens within this distance, m (trade judgement) ...
const GEAR_DISTANCE_M: f64 = 3.0;
/// ... or by more than this: from lock to lock an antenna 2.7 m ahead of the axle leaves a 6 m turn 48 degrees off
/// where it entered, in either gear (trade judgement) ...
const LOCK_TO_LOCK_RAD: f64 = 100.0 * PI / 180.0;
/// ... within this distance, in which no rig turns that far in one gear, m (trade judgement) ...
const LOCK_TO_LOCK_DISTANCE_M: f64 = 1.5;
/// ... at less than this speed, m/s (trade judgement).
const GEAR_SPEED_M_S: f64 = 0.5;
/// Few back up a spraying rig farther than this; a longer "reverse" stretch mostly means that the
/// change of gear before it was no such thing, m (trade judgement) ...
const LONGEST_REVERSE_M: f64 = 60.0;
/// ... unless the way in before it and the way on after it, both as long, are longer: who backs out of a lane that was
/// driven into. No lane is longer than this, m (trade judgement).
const LONGEST_BACK_OUT_M: f64 = 150.0;

/// Where no leg is that long, the first one is in reverse if the others in its gear and it are so many times shorter
/// than those in the other gear (trade judgement).
const MOSTLY_FORWARD: f64 = 3.0;

/// Marks the steps of one stretch that were driven in reverse. Returns the steps of which the gear stays
/// uncertain.
pub(super) fn infer(track: &Track, curves: &mut [Curve], fixes: Range<usize>) -> Vec<Range<usize>> {
    let steps = fixes.start..fixes.end - 1;
    let mut cuts = changes(track, curves, steps.clone());
    let cusps = rolling::cusps(track, steps.clone(), &cuts);
    cuts.extend(cusps.iter().filter(|cusp| cusp.sure).map(|cusp| cusp.step));
    cuts.sort_unstable();
    let starts = std::iter::once(steps.start).chain(cuts.iter().copied());
    let ends = cuts.iter().copied().chain([steps.end]);
    let legs: Vec<Range<usize>> = starts.zip(ends).map(|(start, end)| start..end).collect();
    let length_m =
        |leg: &Range<usize>| -> f64 { track.steps[leg.clone()].iter().map(Step::length_m).sum() };
    let lengths_m: Vec<f64> = legs.iter().map(length_m).collect();
    for (leg, reverse) in legs.iter().zip(in_reverse(&lengths_m)) {
        let moved = |curve: &&mut Curve| reverse && curve.motion == Motion::Forward;
        for curve in curves[leg.clone()].iter_mut().filter(moved) {
            curve.motion = Motion::Reverse;
        }
    }
    let rolling = cusps.iter().any(|cusp| cusp.sure);
    let mut unsure: Vec<Range<usize>> = odd_legs(&lengths_m, rolling)
        .into_iter()
        .map(|k| legs[k].clone())
        .collect();
    for doubt in cusps.iter().filter(|cusp| !cusp.sure).map(|cusp| cusp.step) {
        // If the gear changed there, one of the two sides was driven in the other one.
        let leg = &legs[cuts.partition_point(|&cut| cut <= doubt)];
        let sides = [leg.start..doubt, doubt..leg.end];
        let shorter = sides
            .into_iter()
            .min_by(|a, b| length_m(a).total_cmp(&length_m(b)));
        unsure.extend(shorter.filter(|side| length_m(side) <= LONGEST_REVERSE_M));
    }
    unsure
}

/// The legs whose gear does not come out even. Between two long legs, both forward, lies an odd number of
/// others; an even one says that a change of gear was missed, or was none. And with no long leg at all,
/// nothing says which gear the rolling changes began in, unless most was driven in one of them.
fn odd_legs(lengths_m: &[f64], rolling: bool) -> Vec<usize> {
    let long: Vec<usize> = (0..lengths_m.len())
        .filter(|&k| is_long(lengths_m, k))
        .collect();
    if long.is_empty() {
        let sum_m = |parity| lengths_m.iter().skip(parity).step_by(2).sum::<f64>();
        let (less_m, more_m) = (f64::min(sum_m(0), sum_m(1)), f64::max(sum_m(0), sum_m(1)));
        let even = rolling && more_m <= MOSTLY_FORWARD * less_m;
        return if even {
            (0..lengths_m.len()).collect()
        } else {
            Vec::new()
        };
    }
    let between = long.windows(2).map(|pair| pair[0] + 1..pair[1]);
    between
        .filter(|legs| legs.len() % 2 == 0)
        .flatten()
        .collect()
}

/// The steps with which another gear begins.
fn changes(track: &Track, curves: &[Curve], steps: Range<usize>) -> Vec<usize> {
    let mut cuts: Vec<usize> = Vec::new();
    let mut moving: Option<Mover> = None; // last step with a direction
    let mut fast: Option<Mover> = None; // last step with a direction that noise cannot turn
    for i in steps {
        let (step, speed_m_s) = (&track.steps[i], track.steps[i].speed_m_s());
        if has_direction(track, i) {
            let turns = |from: &Mover| {
                let least_rad = if from.away_m() < LOCK_TO_LOCK_DISTANCE_M {
                    LOCK_TO_LOCK_RAD
                } else {
                    GEAR_RAD
                };
                wrapped_rad(curves[i].chord_rad - curves[from.step].chord_rad).abs() > least_rad
                    && from.slowest_m_s.min(speed_m_s) < GEAR_SPEED_M_S
            };
            let near = |from: &&Mover| from.away_m() < GEAR_DISTANCE_M;
            if moving.as_ref().filter(near).is_some_and(turns) {
                cuts.push(i);
            }
            if speed_m_s >= GEAR_SPEED_M_S {
                // Between two fast steps the slow ones may point anywhere: the fast ones decide.
                if let Some(from) = fast.as_ref().filter(near) {
                    let since = cuts.iter().filter(|&&cut| cut > from.step).count();
                    if (since % 2 == 1) != turns(from) {
                        cuts.truncate(cuts.len() - since);
                        cuts.extend(turns(from).then_some(i));
                    }
                }
                fast = Some(Mover::new(i, speed_m_s));
            }
            moving = Some(Mover::new(i, speed_m_s));
        }
        for mover in [&mut moving, &mut fast].into_iter().flatten() {
            mover.go(i, step);
        }
    }
    cuts
}

/// A step with a direction, and what came after it.
struct Mover {
    step: usize,
    slowest_m_s: f64,
    /// Gone since it ended, not summed along the way: a parked receiver's jitter sums up to any length.
    gone_m: (f64, f64),
}

impl Mover {
    fn new(step: usize, speed_m_s: f64) -> Self {
        Self {
            step,
            slowest_m_s: speed_m_s,
            gone_m: (0.0, 0.0),
        }
    }

    fn go(&mut self, i: usize, step: &Step) {
        if i > self.step {
            self.gone_m.0 += step.east_m;
            self.gone_m.1 += step.north_m;
            self.slowest_m_s = self.slowest_m_s.min(step.speed_m_s());
        }
    }

    fn away_m(&self) -> f64 {
        self.gone_m.0.hypot(self.gone_m.1)
    }
}

/// Which of a stretch's legs were driven in reverse, from their lengths: gears alternate, and a leg
/// longer than anybody backs up is forward. Before the first such leg they are counted back from it;
/// where there is none the first leg is forward, unless that leaves far too little forward.
fn in_reverse(lengths_m: &[f64]) -> Vec<bool> {
    let long = |k: usize| is_long(lengths_m, k);
    let first = match (0..lengths_m.len()).position(long) {
        Some(long) => long % 2 == 1,
        None => {
            let sum_m = |parity| lengths_m.iter().skip(parity).step_by(2).sum::<f64>();
            sum_m(1) > MOSTLY_FORWARD * sum_m(0)
        }
    };
    let mut reverse = first;
    (0..lengths_m.len())
        .map(|k| {
            let this = reverse && !long(k);
            reverse = !this;
            this
        })
        .collect()
}

/// Longer than anybody backs up.
fn is_long(lengths_m: &[f64], k: usize) -> bool {
    let length_m = lengths_m[k];
    let beside = |k: Option<usize>| k.and_then(|k| lengths_m.get(k)).copied();
    let (before_m, after_m) = (beside(k.checked_sub(1)), beside(k.checked_add(1)));
    let backs_out = length_m <= LONGEST_BACK_OUT_M
        && [before_m, after_m]
            .iter()
            .all(|beside_m| beside_m.is_some_and(|m| m > length_m));
    length_m > LONGEST_REVERSE_M && !backs_out
}

#[cfg(test)]
mod tests;
