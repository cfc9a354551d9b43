//! The axis that a total is even over: what was to be sprayed, summed along the track.

use super::readings::Reading;
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track};
use std::ops::Range;

/// A boom that stands is taken as moving this fast, m/s: slower than any spraying, so that litres go to standing time
/// only where the total rises meanwhile (tolerance).
pub(super) const SLOW_M_S: f64 = 0.3;
/// An open hand gun counts as this much ground a second, m2/s: about 5 gal/min at 35 gal/ac (common practice).
const GUN_M2_S: f64 = 10.0;
/// A second with nothing to spray, on the axis (m2 or L): next to nothing, but not nothing, so that what leaks
/// meanwhile has a place (tolerance).
const IDLE_S: f64 = 1e-6;
/// Flow under this is the trace that a shared tick leaves in idle time, L/s: a drop in ten seconds (tolerance).
const TRACE_L_S: f64 = 1e-5;
/// What was to be sprayed, summed along the track.
pub(super) struct Axis {
    /// At each fix.
    pub(super) at_fix: Vec<f64>,
    /// At each fix, s after the first.
    time_s: Vec<f64>,
    /// Of each step: something was to be sprayed.
    busy: Vec<bool>,
    pub(super) delay_s: f64,
}

impl Axis {
    pub(super) fn new(track: &Track, boom: &Boom, held_l: Option<&[f64]>, delay_s: f64) -> Self {
        let (mut at_fix, mut time_s, mut busy) = (vec![0.0], vec![0.0], Vec::new());
        for (i, step) in track.steps.iter().enumerate() {
            let work = match held_l {
                Some(held_l) => flowed_l(track, boom, held_l, i),
                None => ground_m2(track, boom, i),
            };
            busy.push(work > 0.0);
            at_fix.push(at_fix[i] + work + IDLE_S * step.seconds);
            time_s.push(time_s[i] + step.seconds);
        }
        Self {
            at_fix,
            time_s,
            busy,
            delay_s,
        }
    }

    /// Shortens steps to a share of what they were, in order; one without any work left is idle.
    pub(super) fn shorten(&mut self, shares: &[(usize, f64)]) {
        let mut shares = shares.iter().peekable();
        let mut shorter = 0.0;
        for i in 0..self.busy.len() {
            if let Some((_, share)) = shares.next_if(|(step, _)| *step == i) {
                let idle = IDLE_S * (self.time_s[i + 1] - self.time_s[i]);
                let work = self.at_fix[i + 1] - shorter - self.at_fix[i] - idle;
                self.busy[i] &= *share > 0.0;
                shorter += (1.0 - share) * work;
            }
            self.at_fix[i + 1] -= shorter;
        }
    }

    /// Place of a reading: where the rig was when the liquid that it counts passed.
    pub(super) fn of_reading(&self, reading: &Reading) -> f64 {
        if self.delay_s.abs() <= 0.0 || self.time_s.len() < 2 {
            return self.at_fix[reading.fix];
        }
        let t_s = self.time_s[reading.fix] - self.delay_s;
        let after = self
            .time_s
            .partition_point(|&end_s| end_s <= t_s)
            .clamp(1, self.time_s.len() - 1);
        let (from_s, to_s) = (self.time_s[after - 1], self.time_s[after]);
        let share = ((t_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
        self.at_fix[after - 1] + share * (self.at_fix[after] - self.at_fix[after - 1])
    }

    /// Brings the traces that shared ticks leave in idle steps to the next busy one.
    pub(super) fn sweep_traces(&self, track: &Track, litres: &mut [f64]) {
        let Some(last) = self.busy.iter().rposition(|&busy| busy) else {
            return;
        };
        let is_trace =
            |i: usize, litres: f64| !self.busy[i] && litres < TRACE_L_S * track.steps[i].seconds;
        let mut traces_l = 0.0;
        for (i, of_step) in litres.iter_mut().enumerate() {
            if is_trace(i, *of_step) {
                traces_l += std::mem::take(of_step);
            } else if self.busy[i] {
                *of_step += std::mem::take(&mut traces_l);
            }
        }
        litres[last] += traces_l;
    }
}

/// Sections were open over these steps; `None` where the log has no states.
pub(super) fn was_open(track: &Track, boom: &Boom, steps: Range<usize>) -> Option<bool> {
    let mut fixes = track.fixes[steps.clone()].iter();
    if boom.sections() == 1 && fixes.any(|fix| fix.open.is_none()) {
        return None;
    }
    let open = |i: usize| {
        track.steps[i].link == Link::Driven && boom.switched_open(&track.fixes[i], false) != 0
    };
    Some(steps.clone().all(|i| track.steps[i].link == Link::Driven) && steps.into_iter().any(open))
}

/// Ground under open sections in a step, m2; of a silence in which they may have been open too.
fn ground_m2(track: &Track, boom: &Boom, i: usize) -> f64 {
    let step = &track.steps[i];
    let open = |fix: usize| boom.switched_open(&track.fixes[fix], true);
    let sections = match step.link {
        Link::Driven => open(i),
        Link::Dropout => open(i) | open(i + 1),
        Link::Parking | Link::BetweenLogs => return 0.0,
    };
    let gun = step.link == Link::Driven && track.fixes[i].gun == Some(true);
    let gun_m2_s = if gun { GUN_M2_S } else { 0.0 };
    (boom.width_m(sections) * step.speed_m_s().max(SLOW_M_S) + gun_m2_s) * step.seconds
}

/// Litres of the logged flow in a step; in a silence with open sections beside it, what the flow before
/// it would have come to.
fn flowed_l(track: &Track, boom: &Boom, held_l: &[f64], i: usize) -> f64 {
    let open = |fix: usize| boom.switched_open(&track.fixes[fix], true) != 0;
    match track.steps[i].link {
        Link::Driven => held_l[i],
        Link::Dropout if open(i) || open(i + 1) => i.checked_sub(1).map_or(0.0, |before| {
            held_l[before] / track.steps[before].seconds * track.steps[i].seconds
        }),
        _ => 0.0,
    }
}
