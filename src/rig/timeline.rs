//! Step 4 of the flow: which sections were open on the ground when, wet or dry, with which litres.
//!
//! Section states are a step function of time. A switch lands on the ground after a delay: a
//! commanded interval [a, b] is wet on the ground over [a + open_delay, b + close_delay], and the
//! litres metered over the one are laid over the other, in the shape of the flow. Litres that have no
//! open section get a line of their own: gun, closed. Nothing is lost: over a track, span litres +
//! gun + closed + silences = metered.

mod bouts;
pub mod wet;

use crate::input::fleet::Rig;
use crate::rig::boom::{Boom, Sections};
use crate::rig::meter::{Metered, MeteredBy};
use crate::rig::track::{Link, Track};

/// Sections and litres on the ground over a piece of one step.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// Step it lies in.
    pub step: u32,
    /// Share of the step's time at which it starts.
    pub from_u: f32,
    /// Share of the step's time at which it ends.
    pub to_u: f32,
    /// Sections open on the ground.
    pub open: Sections,
    /// Open with liquid (or, where nothing is metered, open).
    pub wet: bool,
    /// Liquid laid on the ground, L.
    pub litres: f64,
    /// Sections that differ from the span before were switched, at some time in so long about this span's
    /// start, s; `None`: the log shows no switch there.
    pub switched_within_s: Option<f32>,
}

impl Span {
    /// Its share of the step's time. The difference is taken in `f64`: in `f32` it would round, and the
    /// litres of a step's parts would no longer add up to the step's.
    #[must_use]
    pub fn share_of_step(&self) -> f64 {
        f64::from(self.to_u) - f64::from(self.from_u)
    }
}

/// A track's time on the ground.
#[derive(Debug, Clone, Default)]
pub struct Timeline {
    /// In order of time; they cover every driven step without a hole.
    pub spans: Vec<Span>,
    /// Of each step: its first span; one entry more than steps.
    pub first_span: Vec<u32>,
    /// Metered with every section closed, per step, L; only steps that have any.
    pub closed: Vec<(u32, f64)>,
    /// Through the hand gun, per step, L; only steps that have any.
    pub gun: Vec<(u32, f64)>,
    /// Litres are known at all.
    pub metered: bool,
    /// Way at the ends of bouts that reads dry and is not judged, since the meter may be that late, m.
    pub not_judged_m: f64,
}

impl Timeline {
    /// The spans of a step.
    #[must_use]
    pub fn of_step(&self, step: usize) -> &[Span] {
        &self.spans[self.first_span[step] as usize..self.first_span[step + 1] as usize]
    }
}

/// What the timeline needs to know beside track and meter.
#[derive(Debug, Clone, Copy)]
pub struct WetRules {
    /// Rate under which a boom is dry, mL/m2, of [`wet::dry_below_ml_m2`]; `None` without any target.
    pub dry_below_ml_m2: Option<f64>,
    /// Flow this close to spraying belongs to that spraying, s.
    pub meter_tail_s: f64,
}

/// The timeline of a track.
#[must_use]
pub fn lay_out(
    track: &Track,
    metered: &Metered,
    rig: &Rig,
    boom: &Boom,
    rules: WetRules,
) -> Timeline {
    let mut timeline = Timeline {
        metered: metered.by != MeteredBy::Nothing,
        first_span: Vec::with_capacity(track.steps.len() + 1),
        ..Timeline::default()
    };
    timeline.first_span.push(0);
    let mut fixes = track.fixes.iter();
    let has_states = fixes.any(|fix| fix.open.is_some() || fix.master.is_some());
    let mut next = 0;
    for stretch in track.stretches() {
        // Steps before the stretch are silences: no spans.
        timeline
            .first_span
            .resize(stretch.start + 1, timeline.spans.len() as u32);
        let bouts = bouts::Bouts {
            track,
            metered,
            rig,
            boom,
            tail_s: rules.meter_tail_s + metered.interval_s,
            ramp_s: wet::RAMP_S + metered.interval_s,
            has_states,
        };
        bouts.lay(stretch.clone(), &mut timeline);
        let first = next;
        next = timeline.spans.len();
        timeline.not_judged_m += wet_or_dry(
            &mut timeline.spans[first..],
            track,
            metered,
            rig,
            boom,
            rules,
        );
    }
    timeline
        .first_span
        .resize(track.steps.len() + 1, timeline.spans.len() as u32);
    // It stays to the end of the night.
    timeline.spans.shrink_to_fit();
    timeline
}

/// Sections switched open on the two sides of a silence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SilenceEnds {
    /// At the last fix before it.
    pub before: Sections,
    /// At the first fix after it.
    pub after: Sections,
}

/// Sections switched open beside the silence that `step` is. A silence has no flow of its own: a rig
/// with one section and no states was open when liquid flowed in the step before or after it.
#[must_use]
pub fn open_beside(track: &Track, metered: &Metered, boom: &Boom, step: usize) -> SilenceEnds {
    let flows = |step: Option<usize>| {
        step.and_then(|step| Some((step, track.steps.get(step)?)))
            .is_some_and(|(step, of)| metered.flows(step, of.speed_m_s()))
    };
    SilenceEnds {
        before: boom.switched_open(&track.fixes[step], flows(step.checked_sub(1))),
        after: boom.switched_open(&track.fixes[step + 1], flows(Some(step + 1))),
    }
}

/// Marks the open spans of a stretch that have liquid; gives the way at the ends of its bouts that is not judged, m.
fn wet_or_dry(
    spans: &mut [Span],
    track: &Track,
    metered: &Metered,
    rig: &Rig,
    boom: &Boom,
    rules: WetRules,
) -> f64 {
    let meter = wet::MeterTraits::of(metered, rig);
    let shown: Vec<wet::Shown> = spans
        .iter()
        .map(|span| {
            let step = span.step as usize;
            wet::Shown {
                open_m: boom.width_m(span.open),
                seconds: span.share_of_step() * track.steps[step].seconds,
                speed_m_s: track.steps[step].speed_m_s(),
                flow_l_s: metered.flow_l_s[step],
                dry_below_ml_m2: rules.dry_below_ml_m2,
            }
        })
        .collect();
    for (span, wet) in spans.iter_mut().zip(wet::judge(&shown, meter)) {
        span.wet = wet;
    }
    wet::not_judged_m(&shown, meter)
}

/// Litres of the steps that were not driven, by what lay in them.
#[must_use]
pub fn silent_litres(track: &Track, metered: &Metered, link: Link) -> f64 {
    let lies = |(_, step): &(usize, &crate::rig::track::Step)| step.link == link;
    track
        .steps
        .iter()
        .enumerate()
        .filter(lies)
        .map(|(i, _)| metered.litres[i])
        .sum()
}

#[cfg(test)]
mod tests;
