//! Step 7a of the flow: spans on the ground to passes.
//!
//! A pass is one unbroken stretch of spraying by one rig in roughly one direction. It ends when
//! nothing was sprayed for a second, at a silence, at a change of gear, or when the rig points more
//! than 60 degrees away from the mean of the pass's first 3 m. A pass over its own ground (a swath's
//! inner edge in a turn) is no overlap; a pass over another's is.

use crate::place::Instant;
use crate::pose::{Motion, Posed, wrapped_rad};
use crate::timeline::Timeline;
use crate::track::{Link, Track};
use std::f64::consts::PI;

/// A break in spraying longer than this ends a pass, s.
const BREAK_S: f64 = 1.0;
/// A rig that points this far from where the pass began is on another pass.
const TURN_RAD: f64 = 60.0 * PI / 180.0;
/// The direction of a pass is the mean over its first metres, m.
const FIRST_M: f64 = 3.0;

/// No pass: the span is closed or dry.
pub const NO_PASS: u32 = u32::MAX;

/// The passes of a track.
#[derive(Debug, Clone, Default)]
pub struct Passes {
    /// Of each span of the timeline: its pass, or [`NO_PASS`].
    pub of_span: Vec<u32>,
    /// How many.
    pub count: u32,
}

/// A pass while it is being followed.
struct Open {
    number: u32,
    reverse: bool,
    ends: Instant,
    step: usize,
    length_m: f64,
    sum: (f64, f64),
}

/// Splits the wet spans of a track into passes.
#[must_use]
pub fn split(track: &Track, posed: &Posed, timeline: &Timeline) -> Passes {
    let mut passes = Passes {
        of_span: Vec::with_capacity(timeline.spans.len()),
        count: 0,
    };
    let mut open: Option<Open> = None;
    for span in &timeline.spans {
        if !span.wet {
            passes.of_span.push(NO_PASS);
            continue;
        }
        let i = span.step as usize;
        let step = &track.steps[i];
        let at = |u: f32| {
            track.fixes[i]
                .time
                .plus_seconds(f64::from(u) * step.seconds)
        };
        let heading_rad = posed.heading_rad[i];
        let reverse = posed.curves[i].motion == Motion::Reverse;
        let goes_on = open.as_ref().is_some_and(|pass| {
            let gear = posed.curves[i].motion != Motion::Parked && pass.reverse != reverse;
            let silence = (pass.step..i).any(|k| track.steps[k].link != Link::Driven);
            let turned = wrapped_rad(heading_rad - pass.sum.1.atan2(pass.sum.0)).abs() > TURN_RAD;
            let paused = at(span.from_u).seconds_since(pass.ends) > BREAK_S;
            let ends = gear || silence || paused || (turned && pass.length_m > 0.0);
            !ends
        });
        if !goes_on {
            open = Some(Open {
                number: passes.count,
                reverse,
                ends: at(span.from_u),
                step: i,
                length_m: 0.0,
                sum: (0.0, 0.0),
            });
            passes.count += 1;
        }
        if let Some(pass) = &mut open {
            let length_m = span.share_of_step() * step.length_m();
            if pass.length_m < FIRST_M {
                pass.sum.0 += heading_rad.cos() * length_m;
                pass.sum.1 += heading_rad.sin() * length_m;
            }
            pass.length_m += length_m;
            (pass.ends, pass.step) = (at(span.to_u), i);
            passes.of_span.push(pass.number);
        }
    }
    passes
}
