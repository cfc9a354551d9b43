//! Step 4 of the flow: litres for each step between fixes.
//!
//! A logged flow holds forward from its fix; the difference of two totals belongs to the time before
//! the later one. Where a log has both, the total gives the amount and the flow its shape. A coarse
//! total is known to one tick only: its litres are laid as evenly as its readings allow, over the
//! ground that could be sprayed meanwhile. What the total gained in a silence or between two logs
//! stays there.
//!
//! `shown` is the flow that the log shows, `readings` the total without its slips, `tick` its
//! coarseness, `axis` what it is even over, `tube` the evenest line through its readings; `curve`
//! puts them together. `late` fits how late the meter reads.
//!
//! A magnetic or turbine meter reads volume whatever the liquid's density (EPA-600/2-84-187): no
//! density enters.

mod axis;
mod curve;
mod late;
mod leak;
mod readings;
mod shown;
mod tick;
mod tube;

pub use late::{Fitted, Late};
pub use leak::PerhapsLeaked;
pub use readings::Oddities;

use crate::input::fleet::Rig;
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track};
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Of flow and total, one that shows less than this share of what the other shows is a channel without a sensor: no
/// meter is off by a factor of ten (trade judgement).
const DEAD_SHARE: f64 = 0.1;
/// Less liquid than this shows no dead channel, L (trade judgement).
const DEAD_FROM_L: f64 = 20.0;

/// What the litres come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeteredBy {
    /// Flow only.
    Flow,
    /// Meter total, or volume since the last fix.
    Volume,
    /// The total's amount in the flow's shape.
    FlowAndVolume,
    /// The rate that the controller says it applied.
    Rate,
    /// Nothing: treated by valve state only.
    Nothing,
}

impl MeteredBy {
    /// Name in the outputs.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Flow => "flow",
            Self::Volume => "volume",
            Self::FlowAndVolume => "flow_and_volume",
            Self::Rate => "rate",
            Self::Nothing => "none",
        }
    }

    fn has_total(self) -> bool {
        matches!(self, Self::Volume | Self::FlowAndVolume)
    }
}

/// Litres and flow over the steps of a track.
#[derive(Debug, Clone)]
pub struct Metered {
    /// Where they come from.
    pub by: MeteredBy,
    /// Through the meter in each step, L. In a dropout or between logs: what the total gained.
    pub litres: Vec<f64>,
    /// Flow in each driven step, L/s; tells wet from dry. 0 in other steps.
    pub flow_l_s: Vec<f64>,
    /// Median time between two fixes that say the meter themselves, s; 0 where nothing is metered.
    pub interval_s: f64,
    /// Least flow that opens a rig with one section and no states, L/s for each m/s of speed: a flow
    /// made from ticks of the total is never quite 0. 0 where the flow is logged.
    pub least_flow_l_m: f64,
    /// Where a coarse total is all there is: its tick, L; else 0.
    pub tick_l: f64,
    /// Steps between the first and the last reading of the total.
    pub read: Range<usize>,
    /// Readings of the total that cannot be.
    pub oddities: Oddities,
    /// How late the meter reads.
    pub late: Late,
    /// What perhaps leaked under a coarse total.
    pub leaked: Option<PerhapsLeaked>,
}

impl Metered {
    /// What the total gained in a step that was not driven, L; `None` when no total tells.
    #[must_use]
    pub fn gained_l(&self, step: usize) -> Option<f64> {
        (self.by.has_total() && self.read.contains(&step)).then(|| self.litres[step])
    }

    /// Liquid flows in a step at `speed_m_s`; no step, no flow.
    #[must_use]
    pub fn flows(&self, step: usize, speed_m_s: f64) -> bool {
        let flow_l_s = self.flow_l_s.get(step).copied().unwrap_or(0.0);
        flow_l_s > 0.0 && flow_l_s >= self.least_flow_l_m * speed_m_s.max(axis::SLOW_M_S)
    }
}

/// Litres for each step of a track. `least_ml_m2`: a rate under which a boom is dry.
#[must_use]
pub fn measure(track: &Track, rig: &Rig, boom: &Boom, least_ml_m2: Option<f64>) -> Metered {
    let logged = logged(track);
    let mut held_l = shown::held_l(track, boom, logged);
    let readings = if logged.has_total() {
        readings::of(track, rig)
    } else {
        readings::Readings::default()
    };
    let by = alive(track, logged, &held_l, &readings);
    let late = lateness(track, rig, boom, by, (&held_l, &readings));
    let delay_s = late.moved_s;
    if delay_s.abs() > 0.0 {
        shown::shift(track, &mut held_l, delay_s);
    }
    let shown_l_s = |litres: &[f64]| driven_flow(track, litres);
    let factor = rig.meter.factor;
    let mut tick_l = 0.0;
    let (litres, flow_l_s) = match by {
        MeteredBy::Flow | MeteredBy::Rate => (held_l.clone(), shown_l_s(&held_l)),
        MeteredBy::Nothing => (vec![0.0; held_l.len()], vec![0.0; held_l.len()]),
        MeteredBy::FlowAndVolume => {
            let (litres, _) = curve::litres(track, boom, delay_s, &readings, Some(&held_l));
            (litres, shown_l_s(&held_l))
        }
        MeteredBy::Volume => {
            let (litres, tick) = curve::litres(track, boom, delay_s, &readings, None);
            tick_l = factor * tick;
            let flow_l_s = shown_l_s(&litres);
            (litres, flow_l_s)
        }
    };
    let times_factor = |values: Vec<f64>| values.into_iter().map(|value| factor * value).collect();
    let fixes = |reading: Option<&readings::Reading>| reading.map_or(0, |reading| reading.fix);
    Metered {
        by,
        litres: times_factor(litres),
        flow_l_s: times_factor(flow_l_s),
        interval_s: shown::interval_s(track, by),
        tick_l,
        least_flow_l_m: match (by, least_ml_m2) {
            // mL/m2 x m = mL/m.
            (MeteredBy::Volume, Some(least)) => least * boom.width_m(boom.all()) / 1000.0,
            _ => 0.0,
        },
        read: fixes(readings.list.first())..fixes(readings.list.last()),
        oddities: readings.oddities,
        late,
        leaked: leaked(track, rig, boom, &readings, tick_l),
    }
}

/// What perhaps leaked, where a coarse total is all there is.
fn leaked(
    track: &Track,
    rig: &Rig,
    boom: &Boom,
    readings: &readings::Readings,
    tick_l: f64,
) -> Option<PerhapsLeaked> {
    if tick_l <= 0.0 {
        return None;
    }
    let leaked = leak::perhaps(track, boom, readings)?;
    let factor = rig.meter.factor;
    Some(PerhapsLeaked {
        litres: factor * leaked.litres,
        at_most_l: factor * leaked.at_most_l,
        ..leaked
    })
}

/// How late the meter reads: as the fleet file says, else fitted to flow or total.
fn lateness(
    track: &Track,
    rig: &Rig,
    boom: &Boom,
    by: MeteredBy,
    (held_l, readings): (&[f64], &readings::Readings),
) -> Late {
    match (rig.meter.delay_s, by) {
        (Some(delay_s), MeteredBy::Flow | MeteredBy::FlowAndVolume) => {
            let flow_l_s = driven_flow(track, &shifted(track, held_l, delay_s));
            Late::told(delay_s).checked(late::fit(track, rig, boom, &flow_l_s))
        }
        (Some(delay_s), _) => Late::told(delay_s),
        (None, MeteredBy::Rate | MeteredBy::Nothing) => Late::default(),
        (None, MeteredBy::Volume) => Late::of(late_total(track, rig, boom, readings)),
        (None, MeteredBy::Flow | MeteredBy::FlowAndVolume) => {
            Late::of(late::fit(track, rig, boom, &driven_flow(track, held_l)))
        }
    }
}

fn shifted(track: &Track, held_l: &[f64], delay_s: f64) -> Vec<f64> {
    let mut shifted = held_l.to_vec();
    if delay_s.abs() > 0.0 {
        shown::shift(track, &mut shifted, delay_s);
    }
    shifted
}

/// The lateness of a total that is read at each fix and counts without ticks; a coarse one does not show
/// its own.
fn late_total(
    track: &Track,
    rig: &Rig,
    boom: &Boom,
    readings: &readings::Readings,
) -> Option<Fitted> {
    if curve::tick_l(track, boom, readings) > 0.0 {
        return None;
    }
    let mut flow_l_s = vec![f64::NAN; track.steps.len()];
    for pair in readings.list.windows(2) {
        if pair[1].fix == pair[0].fix + 1 && pair[1].known {
            flow_l_s[pair[0].fix] = pair[1].gain_l / track.steps[pair[0].fix].seconds;
        }
    }
    late::fit(track, rig, boom, &flow_l_s)
}

/// The channels that the log has.
fn logged(track: &Track) -> MeteredBy {
    let has = |value: fn(&crate::input::log::Fix) -> f64| {
        track.fixes.iter().any(|fix| value(fix).is_finite())
    };
    match (has(|fix| fix.flow_l_s), has(|fix| fix.volume_l)) {
        (true, true) => MeteredBy::FlowAndVolume,
        (true, false) => MeteredBy::Flow,
        (false, true) => MeteredBy::Volume,
        (false, false) if has(|fix| fix.rate_ml_m2) => MeteredBy::Rate,
        (false, false) => MeteredBy::Nothing,
    }
}

/// Of flow and total only the live one, where the other shows next to nothing.
fn alive(
    track: &Track,
    logged: MeteredBy,
    held_l: &[f64],
    readings: &readings::Readings,
) -> MeteredBy {
    if logged != MeteredBy::FlowAndVolume {
        return logged;
    }
    let (mut total_l, mut flow_l) = (0.0, 0.0);
    for pair in readings.list.windows(2) {
        let steps = pair[0].fix..pair[1].fix;
        let driven = track.steps[steps.clone()]
            .iter()
            .all(|step| step.link == Link::Driven);
        if driven && pair[1].known {
            total_l += pair[1].gain_l;
            flow_l += held_l[steps].iter().sum::<f64>();
        }
    }
    if total_l > DEAD_FROM_L && flow_l < DEAD_SHARE * total_l {
        MeteredBy::Volume
    } else if flow_l > DEAD_FROM_L && total_l < DEAD_SHARE * flow_l {
        MeteredBy::Flow
    } else {
        MeteredBy::FlowAndVolume
    }
}

fn driven_flow(track: &Track, litres: &[f64]) -> Vec<f64> {
    let flow = |(step, &litres): (&crate::rig::track::Step, &f64)| {
        if step.link == Link::Driven {
            litres / step.seconds
        } else {
            0.0
        }
    };
    track.steps.iter().zip(litres).map(flow).collect()
}

#[cfg(test)]
mod tests;
