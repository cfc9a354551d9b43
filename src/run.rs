//! Steps 2 to 5 and 7a together: everything that is known of one rig's run before any site is looked at.

use crate::boom::Boom;
use crate::findings::Finding;
use crate::input::fleet::{Fleet, Rig};
use crate::input::log::Log;
use crate::meter::{self, Metered};
use crate::passes::{self, Passes};
use crate::place::Instant;
use crate::pose::{self, Motion, Posed};
use crate::timeline::{self, Rules, Span, Timeline};
use crate::track::{self, Track};

/// One run, followed from its first fix to its last.
#[derive(Debug, Clone)]
pub struct Run {
    /// The boom.
    pub boom: Boom,
    /// Clean fixes.
    pub track: Track,
    /// Litres per step.
    pub metered: Metered,
    /// Curve and heading.
    pub posed: Posed,
    /// Sections and litres on the ground.
    pub timeline: Timeline,
    /// Passes.
    pub passes: Passes,
    /// 95 % of positions are within this, m.
    pub position_m: f64,
}

impl Run {
    /// The instant at share `u` of a step.
    #[must_use]
    pub fn at(&self, step: usize, u: f32) -> Instant {
        self.track.fixes[step]
            .time
            .plus_seconds(f64::from(u) * self.track.steps[step].seconds)
    }

    /// Time with liquid on the ground in reverse, s.
    #[must_use]
    pub fn reverse_wet_s(&self) -> f64 {
        let step = |span: &Span| span.step as usize;
        let backward =
            |span: &&Span| span.wet && self.posed.curves[step(span)].motion == Motion::Reverse;
        let spans = self.timeline.spans.iter().filter(backward);
        spans
            .map(|span| span.share_of_step() * self.track.steps[step(span)].seconds)
            .sum()
    }

    /// Product at a step: what the log says, else what the rig carries.
    #[must_use]
    pub fn product<'a>(&'a self, rig: &'a Rig, step: usize) -> Option<&'a str> {
        self.track.product_at(step).or(rig.product.as_deref())
    }
}

/// Rate asked for when a rig's product is all that is known: the product's, else the fleet's.
#[must_use]
pub fn product_target_ml_m2(fleet: &Fleet, product: Option<&str>) -> Option<f64> {
    fleet
        .products
        .iter()
        .find(|known| Some(known.id.as_str()) == product)
        .and_then(|product| product.target_ml_m2)
        .or(fleet.defaults.target_ml_m2)
}

/// The runs of one rig, from all its logs.
#[must_use]
pub fn follow(fleet: &Fleet, rig_index: usize, logs: Vec<Log>) -> (Vec<Run>, Vec<Finding>) {
    let rig = &fleet.rigs[rig_index];
    let (tracks, findings) = track::clean(rig, logs, &fleet.defaults);
    let runs = tracks
        .into_iter()
        .map(|track| one(fleet, rig, track))
        .collect();
    (runs, findings)
}

fn one(fleet: &Fleet, rig: &Rig, track: Track) -> Run {
    let boom = Boom::of(rig);
    let metered = meter::measure(&track, rig, &boom);
    let posed = pose::pose(&track, &boom);
    let rules = Rules {
        target_ml_m2: product_target_ml_m2(fleet, rig.product.as_deref()),
        meter_tail_s: fleet.defaults.meter_tail_s,
    };
    let timeline = timeline::lay_out(&track, &metered, rig, &boom, rules);
    let passes = passes::split(&track, &posed, &timeline);
    let position_m = rig.position_m.unwrap_or(fleet.defaults.position_m);
    Run {
        boom,
        track,
        metered,
        posed,
        timeline,
        passes,
        position_m,
    }
}
