//! Channels that the fleet file maps without a unit, in a log that gives none: which unit was taken, and whether
//! the night's readings are plausible in it.
//!
//! The readings are compared with the target rate: liquid over the ground that the open sections swept. That knows
//! nothing of overlap and of turns, so it only shows errors of a factor.

use super::{Fix, Log};
use crate::findings::meter::AboutMeter;
use crate::findings::{Finding, Severity};
use crate::geometry::place::LonLat;
use crate::input::channels::Channel;
use crate::input::fleet::{Fleet, Rig};

/// Shares of the target that count as a fit. A gallon is 3.8 litres, a quart 0.9: the limits lie between what a night
/// off its rate comes to and what a wrong unit does (trade judgement).
const FITS: std::ops::RangeInclusive<f64> = 0.7..=1.4;

/// Longest step between two fixes that is used, s: over a longer one nobody knows what was open (trade judgement).
const LONGEST_STEP_S: f64 = 5.0;

/// Fewest square metres swept before a rate is worked out: a few seconds of spraying (trade judgement).
const LEAST_SWEPT_M2: f64 = 50.0;

/// One finding for each of the channels.
pub(super) fn findings(log: &Log, fleet: &Fleet, channels: &[Channel]) -> Vec<Finding> {
    let rig = &fleet.rigs[log.rig];
    let of_channel = |&channel: &Channel| finding(log, fleet, rig, channel);
    channels.iter().filter_map(of_channel).collect()
}

fn finding(log: &Log, fleet: &Fleet, rig: &Rig, channel: Channel) -> Option<Finding> {
    let (dimension, unit) = channel.measure()?;
    let of_target = target_ml_m2(fleet, rig)
        .and_then(|target_ml_m2| Some(rate_ml_m2(log, rig, channel)? / target_ml_m2));
    let (taken_scale, _) = channel.default_scale();
    let better = of_target
        .filter(|share| !FITS.contains(share))
        .and_then(|share| {
            dimension
                .scales()
                .map(|(name, scale)| (name, share * scale / taken_scale))
                .filter(|(_, share)| FITS.contains(share))
                .min_by(|a, b| a.1.ln().abs().total_cmp(&b.1.ln().abs()))
        });
    let severity = match better {
        Some(_) => Severity::LookInto,
        None => Severity::ForTheRecord,
    };
    let kind = AboutMeter::UnitTaken {
        file: log.file.clone(),
        channel: channel.name(),
        unit,
        of_target,
        better,
    };
    let mut finding = Finding::new(severity, kind);
    finding.rig = Some(rig.id.clone());
    Some(finding)
}

fn target_ml_m2(fleet: &Fleet, rig: &Rig) -> Option<f64> {
    let product = fleet
        .products
        .iter()
        .find(|product| rig.product.as_ref() == Some(&product.id));
    product
        .and_then(|product| product.target_ml_m2)
        .or(fleet.defaults.target_ml_m2)
}

/// What the channel's readings come to as a rate over the ground swept; `None` for channels that are not liquid and
/// where too little was swept.
fn rate_ml_m2(log: &Log, rig: &Rig, channel: Channel) -> Option<f64> {
    let (mut litres, mut swept_m2, mut rate_x_m2) = (0.0, 0.0, 0.0);
    let bounds = log.segment_starts.iter().copied().skip(1);
    let ends = bounds.chain([log.fixes.len()]);
    for (&start, end) in log.segment_starts.iter().zip(ends) {
        for pair in log.fixes[start..end].windows(2) {
            let (from, to) = (&pair[0], &pair[1]);
            let seconds = to.time.seconds_since(from.time);
            let width_m = open_width_m(rig, from);
            let step_m = distance_m(from.place, to.place);
            if !(seconds > 0.0 && seconds <= LONGEST_STEP_S && width_m > 0.0 && step_m > 0.0) {
                continue;
            }
            let step_l = match channel {
                Channel::Flow => from.flow_l_s * seconds,
                Channel::Volume if log.volume_since_last_fix => to.volume_l,
                Channel::Volume => to.volume_l - from.volume_l,
                _ => 0.0,
            };
            let rate = match channel {
                Channel::Rate => from.rate_ml_m2,
                Channel::SetRate => f64::from(from.set_rate_ml_m2),
                _ => 0.0,
            };
            // Not logged is NaN; a total that falls is a reset.
            if step_l >= 0.0 && rate >= 0.0 {
                litres += step_l * rig.meter.factor;
                swept_m2 += step_m * width_m;
                rate_x_m2 += rate * step_m * width_m;
            }
        }
    }
    if swept_m2 < LEAST_SWEPT_M2 {
        return None;
    }
    match channel {
        Channel::Flow | Channel::Volume => Some(1000.0 * litres / swept_m2),
        Channel::Rate | Channel::SetRate => Some(rate_x_m2 / swept_m2),
        _ => None,
    }
    .filter(|rate_ml_m2| *rate_ml_m2 > 0.0)
}

/// Width of the open sections, m; without states the whole boom, while liquid flows or where that is not logged.
fn open_width_m(rig: &Rig, fix: &Fix) -> f64 {
    if fix.master == Some(false) {
        return 0.0;
    }
    let widths = rig.section_widths_m.iter().enumerate();
    let open = |section: usize| fix.open.is_none_or(|open| open >> section & 1 == 1);
    widths
        .filter(|(section, _)| open(*section))
        .map(|(_, width_m)| width_m)
        .sum()
}

/// Distance of two near places on a sphere with the mean radius of the Earth, m: to 0.5 %, enough for a factor.
fn distance_m(from: LonLat, to: LonLat) -> f64 {
    /// Metres in a degree on a sphere of 6,371 km, near enough for a rate (arithmetic).
    const M_PER_DEG: f64 = 111_195.0;
    let cos = from.lat_deg.to_radians().cos();
    let (east_deg, north_deg) = ((to.lon_deg - from.lon_deg) * cos, to.lat_deg - from.lat_deg);
    M_PER_DEG * east_deg.hypot(north_deg)
}
