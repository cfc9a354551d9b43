//! Spans of a leg to passes.
//!
//! A pass is one unbroken stretch of spraying by one rig in roughly one direction. It ends when
//! nothing was sprayed for a second, at a silence, at a change of gear, or when the rig points more
//! than 60 degrees away from the mean of the pass's first 3 m. A pass over its own ground (a swath's
//! inner edge in a turn) is not overlap; a pass over another's is.

use super::leg::{Leg, LegLink, LegSpan, NO_PASS};
use crate::geometry::angle::wrapped_rad;
use crate::geometry::place::Instant;
use crate::rig::pose::Motion;
use std::f64::consts::PI;

/// A break in spraying longer than this ends a pass, s (trade judgement).
const BREAK_S: f64 = 1.0;
/// A rig that points this far from where the pass began is on another pass (trade judgement).
pub(super) const TURN_RAD: f64 = 60.0 * PI / 180.0;
/// The direction of a pass is the mean over its first metres, m (tolerance).
const FIRST_M: f64 = 3.0;

/// A pass while it is being followed.
struct Open {
    number: u32,
    reverse: bool,
    ends: Instant,
    step: usize,
    length_m: f64,
    sum: (f64, f64),
}

impl Open {
    fn new(number: u32, leg: &Leg, span: &LegSpan) -> Self {
        let step = span.step as usize;
        Self {
            number,
            reverse: leg.steps[step].curve.motion == Motion::Reverse,
            ends: leg.at(step, span.from_u),
            step,
            length_m: 0.0,
            sum: (0.0, 0.0),
        }
    }

    /// Whether a wet span belongs to the same pass.
    fn goes_on(&self, leg: &Leg, span: &LegSpan) -> bool {
        let step = span.step as usize;
        let motion = leg.steps[step].curve.motion;
        let reverse = motion == Motion::Reverse;
        let gear = motion != Motion::Parked && self.reverse != reverse;
        let silence = (self.step..step).any(|k| leg.steps[k].link != LegLink::Driven);
        let from_start_rad = leg.fixes[step].heading_rad - self.sum.1.atan2(self.sum.0);
        let turned = wrapped_rad(from_start_rad).abs() > TURN_RAD && self.length_m > 0.0;
        let paused = leg.at(step, span.from_u).seconds_since(self.ends) > BREAK_S;
        !(gear || silence || paused || turned)
    }

    fn take(&mut self, leg: &Leg, span: &LegSpan) {
        let step = span.step as usize;
        let length_m = span.share_of_step() * leg.steps[step].length_m;
        if self.length_m < FIRST_M {
            let (sin, cos) = leg.fixes[step].heading_rad.sin_cos();
            self.sum.0 += cos * length_m;
            self.sum.1 += sin * length_m;
        }
        self.length_m += length_m;
        (self.ends, self.step) = (leg.at(step, span.to_u), step);
    }
}

/// Gives each wet span of a leg its pass.
pub(super) fn split(leg: &mut Leg) {
    let mut open: Option<Open> = None;
    let mut count = 0;
    for k in 0..leg.spans.len() {
        let span = leg.spans[k];
        if !span.wet {
            continue;
        }
        let mut pass = match open.take() {
            Some(pass) if pass.goes_on(leg, &span) => pass,
            _ => {
                count += 1;
                Open::new(count - 1, leg, &span)
            }
        };
        pass.take(leg, &span);
        leg.spans[k].pass = pass.number;
        open = Some(pass);
    }
}

/// Numbers the passes that are left in a leg from 0, in order.
pub(super) fn renumber(leg: &mut Leg) {
    let (mut last, mut count) = (None, 0);
    for span in leg.spans.iter_mut().filter(|span| span.pass != NO_PASS) {
        // Passes follow one another, so a known one is the last.
        if last != Some(span.pass) {
            (last, count) = (Some(span.pass), count + 1);
        }
        span.pass = count - 1;
    }
}
