//! What one rig did on one site, self-contained: the input of a site's work.
//!
//! A leg holds all that the site stage reads of a run and nothing else, so it can be compared, written
//! down and read back, and a site's figures follow from its legs and rules alone. It comes from a logged
//! run ([`super::logged`]); a planned drive or a stored record makes the same value. The order of its
//! stretches is part of it.
//!
//! A section of a span is open, closed, or **masked**: its ground in that step is not this site's. Masked
//! is not a closing: a masked section lays no liquid and leaves no idle ground, and neither switches nor
//! breaks a pass.

mod perhaps;

pub use perhaps::Perhaps;

use crate::geometry::place::{Instant, LonLat};
use crate::rig::boom::{Boom, Sections};
use crate::rig::meter::MeteredBy;
use crate::rig::pose::{Curve, Motion};
use crate::rig::position::PositionFrom;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// No pass: the span is closed, dry or masked (arithmetic).
pub const NO_PASS: u32 = u32::MAX;

/// What one rig did on one site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Leg {
    /// Number of the run in its night (in a record: of the rig in the record). Nothing is computed from it.
    pub run: usize,
    /// The boom.
    pub boom: Boom,
    /// What was decided of the whole run.
    pub decided: Decided,
    /// Product ids; [`LegFix::product`] points into it.
    pub products: Vec<String>,
    /// In order of time.
    pub fixes: Vec<LegFix>,
    /// `steps[i]` lies between `fixes[i]` and `fixes[i + 1]`.
    pub steps: Vec<LegStep>,
    /// In order of time; they cover every driven step without a hole.
    pub spans: Vec<LegSpan>,
    /// Of each step: its first span; one entry more than steps.
    pub first_span: Vec<u32>,
    /// Through the hand gun from a fix to the next one of the run, L; only fixes here that have any.
    pub gun: Vec<(u32, f64)>,
    /// When the rig was here, in order of time.
    pub presences: Vec<Presence>,
}

/// What was decided of a whole run before it was cut to a site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Decided {
    /// 95 % of positions are within this, m.
    pub position_m: f64,
    /// Where that comes from.
    pub position_from: PositionFrom,
    /// Median time between moving fixes, s, when too long to show coverage.
    pub coarse_interval_s: Option<f64>,
    /// What the litres come from.
    pub metered_by: MeteredBy,
    /// Under a coarse total: ground that a dry stretch must have for the readings to show it, m2, `None` where the run
    /// laid nothing to tell it by and they show none; else 0.
    pub least_dry_m2: Option<f64>,
    /// Some fix says whether the hand gun was open.
    pub has_gun: bool,
    /// A plan: it treats whatever its length.
    pub planned: bool,
    /// The heading comes from the log, not from the motion, and the gear with it.
    pub heading_logged: bool,
}

/// One position of the antenna.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LegFix {
    /// When.
    pub time: Instant,
    /// Where.
    pub place: LonLat,
    /// Where the vehicle points, counter-clockwise from true east, rad.
    pub heading_rad: f64,
    /// Where the trailer points; 0 without one, rad.
    pub trailer_rad: f64,
    /// Index into [`Leg::products`].
    pub product: Option<u16>,
    /// Rate set on the controller, mL/m2.
    pub set_rate_ml_m2: Perhaps<f32>,
    /// In a yard of this site.
    pub in_yard: bool,
    /// Within 10 m of this site, and of no other site nearer.
    pub here: bool,
    /// So much farther off than the rig's position error its place may be, m: the receiver disowns it.
    pub extra_m: f32,
}

/// From one fix to the next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LegStep {
    /// What is known of it.
    pub link: LegLink,
    /// Straight length, m.
    pub length_m: f64,
    /// The antenna's path.
    pub curve: Curve,
    /// A towed boom went backward in a turn: nobody knows well where it was.
    pub unsure: bool,
}

impl LegStep {
    /// A step in which nothing is laid: its curve says nothing.
    #[must_use]
    pub fn idle(link: LegLink) -> Self {
        Self {
            link,
            length_m: 0.0,
            curve: Curve {
                start_rad: 0.0,
                end_rad: 0.0,
                chord_rad: 0.0,
                sub_steps: 1,
                motion: Motion::Parked,
            },
            unsure: false,
        }
    }
}

/// What is known of the time between two fixes of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum LegLink {
    /// Followed closely.
    Driven,
    /// A silence too long to know what happened.
    Silence {
        /// Short, driven straight, and liquid may have flowed: its ground counts as unlogged.
        unlogged: bool,
        /// What the meter's total gained, L; unknown where no total tells.
        gained_l: Perhaps<f64>,
    },
    /// The rig stood, was elsewhere, or changed logs: nothing of it is this leg's.
    Apart,
}

/// Sections and litres on the ground over a piece of one step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LegSpan {
    /// Step it lies in.
    pub step: u32,
    /// Share of the step's time at which it starts.
    pub from_u: f32,
    /// Share of the step's time at which it ends.
    pub to_u: f32,
    /// Sections open on the ground; none of the masked.
    pub open: Sections,
    /// Sections whose ground in this step is not this site's.
    pub masked: Sections,
    /// Open with liquid (or, where nothing is metered, open).
    pub wet: bool,
    /// Liquid that the open sections laid, L.
    pub litres: f64,
    /// Its pass in the leg, or [`NO_PASS`].
    pub pass: u32,
    /// Sections that differ from the span before were switched, at some time in so long about this span's
    /// start, s; unknown: no switch is known there (a silence's edge, a log's end, liquid that runs out).
    pub switched_within_s: Perhaps<f32>,
}

impl LegSpan {
    /// Its share of the step's time. The difference is taken in `f64`: in `f32` it would round, and the
    /// litres of a step's parts would no longer add up to the step's.
    #[must_use]
    pub fn share_of_step(&self) -> f64 {
        f64::from(self.to_u) - f64::from(self.from_u)
    }
}

/// One unbroken presence at the site: from arrival to departure, without an absence of five minutes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Presence {
    /// Fixes of the leg from arrival to departure.
    pub fixes: Range<usize>,
}

impl Leg {
    /// A leg without anything in it yet, for its makers.
    #[must_use]
    pub fn empty(run: usize, boom: Boom, decided: Decided) -> Self {
        Self {
            run,
            boom,
            decided,
            products: Vec::new(),
            fixes: Vec::new(),
            steps: Vec::new(),
            spans: Vec::new(),
            first_span: vec![0],
            gun: Vec::new(),
            presences: Vec::new(),
        }
    }

    /// Adds a step, of which the spans are there already.
    pub fn add_step(&mut self, step: LegStep) {
        self.steps.push(step);
        self.first_span.push(self.spans.len() as u32);
    }

    /// The spans of a step.
    #[must_use]
    pub fn of_step(&self, step: usize) -> &[LegSpan] {
        &self.spans[self.span_range(step)]
    }

    /// Where the spans of a step are.
    #[must_use]
    pub fn span_range(&self, step: usize) -> Range<usize> {
        self.first_span[step] as usize..self.first_span[step + 1] as usize
    }

    /// Time of a step, s.
    #[must_use]
    pub fn seconds(&self, step: usize) -> f64 {
        let [from, to] = [step, step + 1].map(|fix| self.fixes[fix].time);
        to.seconds_since(from)
    }

    /// The instant at share `u` of a step.
    #[must_use]
    pub fn at(&self, step: usize, u: f32) -> Instant {
        let time = self.fixes[step].time;
        time.plus_seconds(f64::from(u) * self.seconds(step))
    }

    /// Time of a span, s.
    #[must_use]
    pub fn span_s(&self, span: &LegSpan) -> f64 {
        span.share_of_step() * self.seconds(span.step as usize)
    }

    /// The steps of a presence.
    #[must_use]
    pub fn steps_of(&self, presence: &Presence) -> Range<usize> {
        presence.fixes.start..presence.fixes.end.min(self.steps.len())
    }

    /// Product at a fix: what the log says, else what the rig carries.
    #[must_use]
    pub fn product(&self, fix: usize) -> Option<&str> {
        let index = self.fixes[fix].product?;
        self.products.get(usize::from(index)).map(String::as_str)
    }

    /// Litres are known.
    #[must_use]
    pub fn is_metered(&self) -> bool {
        self.decided.metered_by != MeteredBy::Nothing
    }

    /// The rig stood over a step.
    #[must_use]
    pub fn is_parked(&self, step: usize) -> bool {
        self.steps[step].curve.motion == Motion::Parked
    }
}

#[cfg(test)]
mod size {
    use super::*;

    /// What a fix of a leg takes: with its step and one span, 168 bytes.
    #[test]
    fn a_leg_keeps_to_its_room() {
        assert_eq!(
            (
                size_of::<LegFix>(),
                size_of::<LegStep>(),
                size_of::<LegSpan>()
            ),
            (56, 64, 48)
        );
    }
}
