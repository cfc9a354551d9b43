//! Where booms drove: the line of the boom's middle in each pass, and how long each section sprayed. Drawings
//! and the list of where to go back read it; no figure of a zone rests on it.

use super::applications::Applications;
use super::laid::Laid;
use super::leg::{Leg, LegLink, LegSpan};
use super::outcome::PassLine;
use super::swath::{OnPlane, PassRings};
use crate::geometry::place::Instant;
use crate::geometry::plane::Xy;
use crate::geometry::thinned::thinned;
use crate::rig::pose::Motion;

/// Lines are simplified to this, m: a tenth of a receiver's error, and nothing to see on a drawing (tolerance).
const TOLERANCE_M: f64 = 0.1;

/// The passes of an application, each with its leg, in order of the legs, then of time.
pub(super) fn passes<'a>(
    laid: &'a Laid,
    done: &'a Applications,
    app: usize,
) -> impl Iterator<Item = (usize, &'a PassRings)> {
    let grounds = done.passes(app).filter(|ground| !ground.again);
    grounds.flat_map(|ground| {
        let passes = &laid.strips[ground.leg].passes;
        let before = |number: u32| passes.partition_point(|pass| pass.pass < number);
        let own = before(ground.numbers.start)..before(ground.numbers.end);
        passes[own].iter().map(|pass| (ground.leg, pass))
    })
}

/// The lines of an application's passes.
pub(super) fn of_application(laid: &Laid, done: &Applications, app: usize) -> Vec<PassLine> {
    passes(laid, done, app)
        .map(|(leg, pass)| PassLine {
            leg,
            start: laid.legs[leg].fixes[pass.steps.start].time,
            end: laid.legs[leg].fixes[pass.steps.end].time,
            reverse: laid.legs[leg].steps[pass.steps.start].curve.motion == Motion::Reverse,
            middle: middle(&laid.planes[leg], pass),
        })
        .filter(|line| line.middle.len() > 1)
        .collect()
}

fn middle(leg: &OnPlane, pass: &PassRings) -> Vec<Xy> {
    let own = |step: usize| {
        let mut spans = leg.leg.of_step(step).iter();
        spans.any(|span| span.pass == pass.pass)
    };
    let mut fixes: Vec<usize> = Vec::new();
    for step in pass.steps.clone().filter(|&step| own(step)) {
        if fixes.last() != Some(&step) {
            fixes.push(step);
        }
        fixes.push(step + 1);
    }
    let line: Vec<Xy> = fixes.into_iter().map(|fix| boom_middle(leg, fix)).collect();
    let kept = thinned(line.iter().copied(), TOLERANCE_M);
    kept.into_iter().map(|k| line[k]).collect()
}

/// Where the middle of a boom was at a fix, and whether the step to it was sprayed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) middle: Xy,
    pub(super) wet: bool,
}

/// All that a leg drove, stretch by stretch.
pub(super) fn driven(leg: &OnPlane) -> Vec<Vec<Place>> {
    let steps: Vec<usize> = (0..leg.leg.steps.len()).collect();
    let is_driven = |step: usize| leg.leg.steps[step].link == LegLink::Driven;
    let stretches = steps.chunk_by(|&a, &b| is_driven(a) && is_driven(b));
    stretches
        .filter(|stretch| is_driven(stretch[0]))
        .map(|stretch| {
            let first = Place {
                middle: boom_middle(leg, stretch[0]),
                wet: false,
            };
            let next = stretch.iter().map(|&step| Place {
                middle: boom_middle(leg, step + 1),
                wet: leg.leg.of_step(step).iter().any(|span| span.wet),
            });
            std::iter::once(first).chain(next).collect()
        })
        .collect()
}

/// The middle of the whole boom at a fix.
fn boom_middle(leg: &OnPlane, fix: usize) -> Xy {
    let (boom, at) = (&leg.leg.boom, &leg.leg.fixes[fix]);
    let ahead = Xy::at_angle(at.heading_rad + leg.offset_rad[fix]);
    let right = Xy::new(ahead.y_m, -ahead.x_m);
    let antenna = leg.xy[fix];
    match boom.hitch {
        None => antenna
            .plus(ahead, -boom.antenna_ahead_m)
            .plus(right, -boom.antenna_right_m),
        Some(hitch) => {
            let trailer = Xy::at_angle(at.trailer_rad + leg.offset_rad[fix]);
            antenna
                .plus(ahead, -hitch.behind_antenna_m)
                .plus(right, -boom.antenna_right_m)
                .plus(trailer, -(hitch.to_axle_m + hitch.axle_to_boom_m))
        }
    }
}

/// Of each section: time with liquid, s.
pub(super) fn sections_wet_s(leg: &Leg) -> Vec<f64> {
    wet_s_from(leg, 0)
}

/// The same from a step on.
pub(super) fn wet_s_from(leg: &Leg, step: usize) -> Vec<f64> {
    let mut seconds = vec![0.0; leg.boom.sections()];
    for span in driven_wet(leg).filter(|span| span.step as usize >= step) {
        for (section, wet_s) in seconds.iter_mut().enumerate() {
            if span.open >> section & 1 == 1 {
                *wet_s += leg.span_s(span);
            }
        }
    }
    seconds
}

/// First and last liquid of the boom.
pub(super) fn wet(leg: &Leg) -> Option<(Instant, Instant)> {
    let first = driven_wet(leg).next()?;
    let last = driven_wet(leg).last()?;
    let (start, end) = (first.step as usize, last.step as usize);
    Some((leg.at(start, first.from_u), leg.at(end, last.to_u)))
}

fn driven_wet(leg: &Leg) -> impl Iterator<Item = &LegSpan> {
    let driven = |span: &&LegSpan| span.wet && !leg.is_parked(span.step as usize);
    leg.spans.iter().filter(driven)
}
