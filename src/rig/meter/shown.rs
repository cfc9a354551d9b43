//! The flow that a log shows, held from fix to fix and moved to when it was.

use super::MeteredBy;
use crate::input::channels::Channel;
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track, median};

/// Litres of each step by the logged flow or rate, before the meter factor; 0 where the step was not
/// driven or nothing is logged.
pub(super) fn held_l(track: &Track, boom: &Boom, by: MeteredBy) -> Vec<f64> {
    (0..track.steps.len())
        .map(|i| flow_l_s(track, boom, by, i) * track.steps[i].seconds)
        .collect()
}

fn flow_l_s(track: &Track, boom: &Boom, by: MeteredBy, i: usize) -> f64 {
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

/// Median time between the fixes that say the meter themselves, s: a flow that comes every 5 s is
/// up to 5 s old.
pub(super) fn interval_s(track: &Track, by: MeteredBy) -> f64 {
    let says = |fix: &crate::input::log::Fix| match by {
        MeteredBy::Flow | MeteredBy::FlowAndVolume => fix.own & Channel::Flow.bit() != 0,
        MeteredBy::Rate => fix.own & Channel::Rate.bit() != 0,
        MeteredBy::Volume => fix.volume_l.is_finite(),
        MeteredBy::Nothing => false,
    };
    let mut intervals_s = Vec::new();
    for stretch in track.stretches() {
        let fixes = &track.fixes[stretch];
        let times: Vec<_> = fixes.iter().filter(|fix| says(fix)).collect();
        intervals_s.extend(
            times
                .windows(2)
                .map(|pair| pair[1].time.seconds_since(pair[0].time)),
        );
    }
    median(&mut intervals_s)
}

/// Moves the litres of each stretch earlier by `delay_s`; what falls off its front stays in its
/// first step, so that no litre is lost.
pub(super) fn shift(track: &Track, litres: &mut [f64], delay_s: f64) {
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
            sums_l.push(sums_l[sums_l.len() - 1] + litres[i]);
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
            litres[i] = moved[k + 1] - moved[k];
        }
    }
}
