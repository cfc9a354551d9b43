//! Step 3 of the flow: litres for each step between fixes.
//!
//! A logged flow holds forward from its fix; the difference of two totals belongs to the step before
//! the later one. Where a log has both, the total gives the amount and the flow its shape between
//! two ticks of the total. Where only a coarse total exists, each tick is spread over the spraying
//! time since the last. What the total gained in a silence or between two logs stays there.
//!
//! A magnetic or turbine meter reads volume whatever the liquid's density (EPA-600/2-84-187): no
//! density enters.

use crate::boom::Boom;
use crate::input::fleet::Rig;
use crate::track::{Link, Track};

/// A total that does not tick in this share of the steps with open sections is coarse: a fine one
/// ticks in nearly all of them. Common practice: meters pulse every 0.01 to 1 gal.
const COARSE_SHARE: f64 = 0.3;

/// What the litres come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
}

impl Metered {
    /// What the total gained in a step that was not driven, L; `None` when there is no total.
    #[must_use]
    pub fn gained_l(&self, step: usize) -> Option<f64> {
        matches!(self.by, MeteredBy::Volume | MeteredBy::FlowAndVolume).then(|| self.litres[step])
    }
}

/// Litres for each step of a track.
#[must_use]
pub fn measure(track: &Track, rig: &Rig, boom: &Boom) -> Metered {
    let has = |value: fn(&crate::input::log::Fix) -> f64| {
        track.fixes.iter().any(|fix| value(fix).is_finite())
    };
    let (flow, volume) = (has(|fix| fix.flow_l_s), has(|fix| fix.volume_l));
    let by = match (flow, volume) {
        (true, true) => MeteredBy::FlowAndVolume,
        (true, false) => MeteredBy::Flow,
        (false, true) => MeteredBy::Volume,
        (false, false) if has(|fix| fix.rate_ml_m2) => MeteredBy::Rate,
        (false, false) => MeteredBy::Nothing,
    };
    let factor = rig.meter.factor;
    let shown_l_s: Vec<f64> = (0..track.steps.len())
        .map(|i| factor * shown_flow_l_s(track, boom, by, i))
        .collect();
    let held_l = || {
        track
            .steps
            .iter()
            .zip(&shown_l_s)
            .map(|(step, flow)| flow * step.seconds)
    };
    let mut metered = match by {
        MeteredBy::Flow | MeteredBy::Rate => Metered {
            by,
            litres: held_l().collect(),
            flow_l_s: shown_l_s,
        },
        MeteredBy::Nothing => Metered {
            by,
            litres: vec![0.0; shown_l_s.len()],
            flow_l_s: shown_l_s,
        },
        MeteredBy::Volume | MeteredBy::FlowAndVolume => {
            let gains = gains(track, rig);
            let weights = match by {
                MeteredBy::FlowAndVolume => held_l().collect(),
                _ => open_seconds(track, boom, &gains),
            };
            let litres = spread(track, &gains, &weights, factor);
            let flow_l_s = match by {
                MeteredBy::FlowAndVolume => shown_l_s,
                _ => driven_flow(track, &litres),
            };
            Metered {
                by,
                litres,
                flow_l_s,
            }
        }
    };
    if rig.meter.delay_s.abs() > 0.0 {
        shift(track, &mut metered, rig.meter.delay_s);
    }
    metered
}

/// Flow that the log shows during a step, before the meter factor; 0 where the step was not driven
/// or nothing is logged.
fn shown_flow_l_s(track: &Track, boom: &Boom, by: MeteredBy, i: usize) -> f64 {
    let (fix, step) = (&track.fixes[i], &track.steps[i]);
    if step.link != Link::Driven {
        return 0.0;
    }
    let flow_l_s = match by {
        MeteredBy::Rate => {
            let own_m_s = f64::from(fix.speed_m_s);
            let speed_m_s = if own_m_s.is_finite() {
                own_m_s
            } else {
                step.speed_m_s()
            };
            let width_m = boom.width_m(boom.switched_open(fix, fix.rate_ml_m2 > 0.0));
            // mL/m2 x m x m/s = mL/s.
            fix.rate_ml_m2 * width_m * speed_m_s / 1000.0
        }
        _ => fix.flow_l_s,
    };
    if flow_l_s.is_finite() {
        flow_l_s.max(0.0)
    } else {
        0.0
    }
}

/// A gain of the total: over which steps, and how much before the meter factor.
#[derive(Debug, Clone, Copy)]
struct Gain {
    first_step: usize,
    end_step: usize,
    litres: f64,
}

/// Differences of neighbouring readings of the total, or the volumes since the last fix.
fn gains(track: &Track, rig: &Rig) -> Vec<Gain> {
    let mut gains = Vec::new();
    let mut last: Option<usize> = None;
    for (i, fix) in track
        .fixes
        .iter()
        .enumerate()
        .filter(|(_, fix)| fix.volume_l.is_finite())
    {
        if let Some(before) = last {
            let seconds = fix.time.seconds_since(track.fixes[before].time);
            let litres = if track.volume_since_last_fix {
                fix.volume_l.max(0.0)
            } else {
                gain_l(track.fixes[before].volume_l, fix.volume_l, seconds, rig)
            };
            gains.push(Gain {
                first_step: before,
                end_step: i,
                litres,
            });
        }
        last = Some(i);
    }
    gains
}

/// The gain from one reading to the next. A falling total is a reset: the new reading counts when
/// the pump could have given it since, and only then.
fn gain_l(before_l: f64, after_l: f64, seconds: f64, rig: &Rig) -> f64 {
    if after_l >= before_l {
        return after_l - before_l;
    }
    let possible_l = rig.greatest_flow_l_s.unwrap_or(0.0) * seconds / rig.meter.factor;
    if (0.0..=possible_l).contains(&after_l) {
        after_l
    } else {
        0.0
    }
}

/// Weights for a log with a total only: the open time of each step where the total is coarse,
/// otherwise its whole time (each gain then stays in its own step).
fn open_seconds(track: &Track, boom: &Boom, gains: &[Gain]) -> Vec<f64> {
    let open: Vec<f64> = (0..track.steps.len())
        .map(|i| {
            let driven = track.steps[i].link == Link::Driven;
            let is_open = driven && boom.switched_open(&track.fixes[i], true) != 0;
            if is_open { track.steps[i].seconds } else { 0.0 }
        })
        .collect();
    let ticked = |gain: &&Gain| gain.litres > 0.0;
    let over_open = |gain: &&Gain| {
        open[gain.first_step..gain.end_step]
            .iter()
            .any(|&seconds| seconds > 0.0)
    };
    let all = gains.iter().filter(over_open).count();
    let still = all - gains.iter().filter(over_open).filter(ticked).count();
    if still as f64 > COARSE_SHARE * all as f64 {
        return open;
    }
    track
        .steps
        .iter()
        .map(|step| {
            if step.link == Link::Driven {
                step.seconds
            } else {
                0.0
            }
        })
        .collect()
}

/// Lays each gain over the driven steps since the last one, by weight. A gain over a silence stays
/// in the silence.
fn spread(track: &Track, gains: &[Gain], weights: &[f64], factor: f64) -> Vec<f64> {
    let mut litres = vec![0.0; track.steps.len()];
    let fine = weights
        .iter()
        .zip(&track.steps)
        .all(|(&weight, step)| step.link != Link::Driven || weight > 0.0);
    let mut since = 0;
    for gain in gains {
        let own = gain.first_step..gain.end_step;
        if let Some(silence) = own.clone().find(|&i| track.steps[i].link != Link::Driven) {
            litres[silence] += factor * gain.litres;
            since = gain.end_step;
            continue;
        }
        if gain.litres <= 0.0 {
            continue;
        }
        let steps = if fine {
            own.clone()
        } else {
            since..gain.end_step
        };
        let total: f64 = weights[steps.clone()].iter().sum();
        if total > 0.0 {
            for i in steps {
                litres[i] += factor * gain.litres * weights[i] / total;
            }
        } else {
            litres[gain.end_step - 1] += factor * gain.litres;
        }
        since = gain.end_step;
    }
    litres
}

fn driven_flow(track: &Track, litres: &[f64]) -> Vec<f64> {
    let flow = |(step, &litres): (&crate::track::Step, &f64)| {
        if step.link == Link::Driven {
            litres / step.seconds
        } else {
            0.0
        }
    };
    track.steps.iter().zip(litres).map(flow).collect()
}

/// Moves the readings of each stretch earlier by `delay_s`; what falls off its front stays in its
/// first step, so that no litre is lost.
fn shift(track: &Track, metered: &mut Metered, delay_s: f64) {
    for stretch in track.stretches() {
        let steps = stretch.start..stretch.end - 1;
        let time_s = |fix: usize| {
            track.fixes[fix]
                .time
                .seconds_since(track.fixes[stretch.start].time)
        };
        let ends_s: Vec<f64> = stretch.clone().map(time_s).collect();
        let mut sums_l = vec![0.0];
        for i in steps.clone() {
            sums_l.push(sums_l[sums_l.len() - 1] + metered.litres[i]);
        }
        let sum_at = |t_s: f64| {
            let after = ends_s
                .partition_point(|&end_s| end_s <= t_s)
                .clamp(1, ends_s.len() - 1);
            let share = (t_s - ends_s[after - 1]) / (ends_s[after] - ends_s[after - 1]);
            sums_l[after - 1] + share.clamp(0.0, 1.0) * (sums_l[after] - sums_l[after - 1])
        };
        let moved: Vec<f64> = (0..ends_s.len())
            .map(|k| match k {
                0 => 0.0,
                k if k + 1 == ends_s.len() => sums_l[sums_l.len() - 1],
                k => sum_at(ends_s[k] + delay_s),
            })
            .collect();
        for (k, i) in steps.enumerate() {
            metered.litres[i] = moved[k + 1] - moved[k];
            metered.flow_l_s[i] = metered.litres[i] / track.steps[i].seconds;
        }
    }
}
