//! The modules of step 4 together: everything that is known of one rig's run before any site is looked at.

pub mod driven;
pub mod minutes;
pub mod outside;

use crate::findings::Finding;
use crate::geometry::place::Instant;
use crate::input::fleet::{Fleet, Rig};
use crate::input::log::Log;
use crate::orders::targets::Targets;
use crate::rig::boom::Boom;
use crate::rig::meter::{self, Metered};
use crate::rig::pose::{self, Motion, Posed};
use crate::rig::position::{self, PositionFrom};
use crate::rig::timeline::{self, Span, Timeline, WetRules};
use crate::rig::track::{self, Track};

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
    /// 95 % of positions are within this, m.
    pub position_m: f64,
    /// Where that comes from.
    pub position_from: PositionFrom,
    /// What the receiver's drift while the rig stood comes to, m, where it is far over what is stated or
    /// assumed.
    pub drift_m: Option<f64>,
    /// Some fix says whether the hand gun was open.
    pub has_gun: bool,
    /// Liquid that it lays on ground under its open sections, L/m2; 0 where it lays none.
    pub usual_l_m2: f64,
    /// Added to its logged times, s.
    pub clock_offset_s: f64,
    /// A plan: it treats whatever its length.
    pub planned: bool,
}

impl Run {
    /// Spans with liquid on the ground.
    pub fn wet_spans(&self) -> impl Iterator<Item = &Span> {
        self.timeline.spans.iter().filter(|span| span.wet)
    }

    /// How long a span lasts, s.
    #[must_use]
    pub fn span_s(&self, span: &Span) -> f64 {
        span.share_of_step() * self.track.steps[span.step as usize].seconds
    }

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

/// Adds each rig's clock offset to its logged times. This is the only place where times are changed, and
/// it comes before anything looks at them.
pub fn set_clocks(fleet: &Fleet, logs: &mut [Log]) {
    for log in logs {
        let offset_s = fleet.rigs[log.rig].clock_offset_s;
        for fix in &mut log.fixes {
            fix.time = fix.time.plus_seconds(offset_s);
        }
    }
}

fn one(fleet: &Fleet, rig: &Rig, track: Track) -> Run {
    let boom = Boom::of(rig);
    let dry_below_ml_m2 = dry_below_ml_m2(fleet, rig, &track);
    let metered = meter::measure(&track, rig, &boom, dry_below_ml_m2);
    let posed = if fleet.planned {
        pose::pose_of_plan(&track, &boom)
    } else {
        pose::pose(&track, &boom)
    };
    let rules = WetRules {
        dry_below_ml_m2,
        meter_tail_s: fleet.defaults.meter_tail_s,
    };
    let timeline = timeline::lay_out(&track, &metered, rig, &boom, rules);
    let position = position::judge(&track, rig, &fleet.defaults);
    Run {
        has_gun: track.fixes.iter().any(|fix| fix.gun.is_some()),
        usual_l_m2: usual_l_m2(&track, &timeline, &boom),
        boom,
        track,
        metered,
        posed,
        timeline,
        position_m: position.radius_m,
        position_from: position.from,
        drift_m: position.parked_m,
        clock_offset_s: rig.clock_offset_s,
        planned: fleet.planned,
    }
}

/// Of the products that the run carried: where it sprayed what ground, its sites judge again.
fn dry_below_ml_m2(fleet: &Fleet, rig: &Rig, track: &Track) -> Option<f64> {
    let targets = Targets::of(fleet);
    let logged = track.products.iter().map(|id| Some(id.as_str()));
    let products = logged.chain([rig.product.as_deref()]);
    let own_ml_m2: Vec<f64> = products
        .filter_map(|product| targets.of_product(product))
        .collect();
    timeline::wet::dry_below_ml_m2(&own_ml_m2, &[])
}

fn usual_l_m2(track: &Track, timeline: &Timeline, boom: &Boom) -> f64 {
    let (mut litres, mut area_m2) = (0.0, 0.0);
    for span in timeline.spans.iter().filter(|span| span.wet) {
        let length_m = span.share_of_step() * track.steps[span.step as usize].length_m();
        area_m2 += length_m * boom.width_m(span.open);
        litres += span.litres;
    }
    if area_m2 > 0.0 { litres / area_m2 } else { 0.0 }
}
