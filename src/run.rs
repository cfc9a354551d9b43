//! Steps 2 to 5 and 7a together: everything that is known of one rig's run before any site is looked at.

use crate::boom::Boom;
use crate::findings::Finding;
use crate::input::fleet::{Fleet, Rig};
use crate::input::log::Log;
use crate::meter::{self, Metered};
use crate::passes::{self, Passes};
use crate::place::Instant;
use crate::pose::{self, Motion, Posed};
use crate::position::{self, PositionFrom};
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
    /// Some fix says whether the hand gun was open.
    pub has_gun: bool,
    /// Some fix has a set rate.
    pub has_set_rate: bool,
    /// Where that comes from.
    pub position_from: PositionFrom,
    /// Added to its logged times, s.
    pub clock_offset_s: f64,
    /// A plan: it treats whatever its length.
    pub planned: bool,
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

/// The runs of one rig, from all its logs. `targets_ml_m2`: every rate that somebody asked for on some
/// ground, whoever was to lay it there.
#[must_use]
pub fn follow(
    fleet: &Fleet,
    targets_ml_m2: &[f64],
    rig_index: usize,
    logs: Vec<Log>,
) -> (Vec<Run>, Vec<Finding>) {
    let rig = &fleet.rigs[rig_index];
    let (tracks, findings) = track::clean(rig, logs, &fleet.defaults);
    let runs = tracks
        .into_iter()
        .map(|track| one(fleet, targets_ml_m2, rig, track))
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

fn one(fleet: &Fleet, targets_ml_m2: &[f64], rig: &Rig, track: Track) -> Run {
    let boom = Boom::of(rig);
    let dry_below_ml_m2 = dry_below_ml_m2(fleet, targets_ml_m2, rig, &track);
    let metered = meter::measure(&track, rig, &boom, dry_below_ml_m2);
    let posed = pose::pose(&track, &boom);
    let rules = Rules {
        dry_below_ml_m2,
        meter_tail_s: fleet.defaults.meter_tail_s,
    };
    let timeline = timeline::lay_out(&track, &metered, rig, &boom, rules);
    let passes = passes::split(&track, &posed, &timeline);
    let position = position::judge(&track, rig, &fleet.defaults);
    let mut fixes = track.fixes.iter();
    Run {
        has_gun: fixes.clone().any(|fix| fix.gun.is_some()),
        has_set_rate: fixes.any(|fix| fix.set_rate_ml_m2.is_finite()),
        boom,
        track,
        metered,
        posed,
        timeline,
        passes,
        position_m: position.radius_m,
        position_from: position.from,
        clock_offset_s: rig.clock_offset_s,
        planned: fleet.planned,
    }
}

/// Of all rates that the run may be held against: those of the ground, of the products it carried, and
/// the fleet's.
fn dry_below_ml_m2(fleet: &Fleet, targets_ml_m2: &[f64], rig: &Rig, track: &Track) -> Option<f64> {
    let logged = track.products.iter().map(|id| Some(id.as_str()));
    let products = logged.chain([rig.product.as_deref()]);
    let own_ml_m2: Vec<f64> = products
        .filter_map(|product| product_target_ml_m2(fleet, product))
        .collect();
    timeline::dry_below_ml_m2(&own_ml_m2, targets_ml_m2)
}
