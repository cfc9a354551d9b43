//! How far off a run's positions may be: the radius that holds 95 % of them.
//!
//! Patches, keep-off ground, the fringe of the zones and zones that are too narrow are all judged with
//! it, so it is in every run's report, with where it comes from.
//!
//! # Assumptions
//!
//! The error is a circular normal one: of standard deviation s each way, 50 % lie within 1.17741 s (CEP),
//! 95 % within 2.44775 s (R95), 98.17 % within 2.82843 s (2DRMS); the share within r is
//! 1 - exp(-r^2 / (2 s^2)). So R95 = 2.07892 CEP = 1.73082 DRMS. (National Research Council, *The Global
//! Positioning System: A Shared National Asset*, 1995, has the relations in rounded figures.)

mod parked;

use crate::input::fleet::{Defaults, GREATEST_POSITION_M, Rig};
use crate::rig::track::{Link, Rounding, Track};
use serde::{Deserialize, Serialize};

/// Radius that holds 95 % of a circular normal error of standard deviation 1 each way: sqrt(-2 ln 0.05) (arithmetic).
pub const R95: f64 = 2.447_746_830_680_816;
/// The dilution is the one that this share of the moving fixes stays within: a run is as good as its worst stretches,
/// and one fix under a canopy is not a stretch (trade judgement).
const HDOP_SHARE: f64 = 0.95;
/// At least this share of the moving fixes must have a dilution before it says anything of the run (trade judgement).
const LEAST_HDOPS: f64 = 0.5;
/// A drift while parked counts when it is this many times what is stated or assumed: it is known to a sixth at worst,
/// so anything less may be chance (by trial).
const PARKED_TIMES: f64 = 1.5;

/// Position error of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// 95 % of positions are within this, m.
    pub radius_m: f64,
    /// Where it comes from.
    pub from: PositionFrom,
    /// What the receiver's drift while the rig stood comes to, m (95 %), where that is far over what is stated or
    /// assumed.
    pub parked_m: Option<f64>,
}

/// Where a position error comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PositionFrom {
    /// The rig's `position` in the fleet file.
    Fleet,
    /// `defaults.position`, written in the fleet file.
    Defaults,
    /// The dilution of precision in its logs, times that.
    DefaultsHdop,
    /// The dilution of precision in its logs, times what is assumed where nothing is stated.
    Hdop,
    /// What is assumed where nothing is stated.
    Default,
    /// The drift that its receiver showed while it stood.
    Parked,
}

impl PositionFrom {
    /// Name in the outputs.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Fleet => "fleet",
            Self::Defaults => "defaults",
            Self::DefaultsHdop => "defaults_hdop",
            Self::Hdop => "hdop",
            Self::Default => "default",
            Self::Parked => "parked",
        }
    }

    /// Whether it rests on what is assumed where neither the fleet file nor the receiver itself says how far off it is.
    #[must_use]
    pub fn is_untold(self) -> bool {
        matches!(self, Self::Hdop | Self::Default)
    }
}

/// The position error of a track.
#[must_use]
pub fn judge(track: &Track, rig: &Rig, defaults: &Defaults) -> Position {
    let (usual, by_hdop) = if defaults.position_told {
        (PositionFrom::Defaults, PositionFrom::DefaultsHdop)
    } else {
        (PositionFrom::Default, PositionFrom::Hdop)
    };
    let (receiver_m, from) = match (rig.position_m, usual_hdop(track)) {
        (Some(position_m), _) => (position_m, PositionFrom::Fleet),
        // The error grows in proportion to the dilution: 2drms = 2 x HDOP x the ranging error (a weak
        // source, see the method page). The default is taken to be that of a dilution of 1; a better one
        // does not make a receiver better than that.
        (None, Some(hdop)) if hdop > 1.0 => (defaults.position_m * hdop, by_hdop),
        (None, _) => (defaults.position_m, usual),
    };
    let parked_m = parked::deviation_m(track)
        .map(|deviation_m| R95 * deviation_m)
        .filter(|&parked_m| parked_m > PARKED_TIMES * receiver_m);
    // What the fleet file says stays, with a word of doubt.
    let (receiver_m, from) = match parked_m.filter(|_| from != PositionFrom::Fleet) {
        Some(parked_m) => (parked_m, PositionFrom::Parked),
        None => (receiver_m, from),
    };
    let radius_m = with_rounding_m(receiver_m, track.manner.rounding.as_ref());
    Position {
        radius_m: radius_m.min(GREATEST_POSITION_M),
        from,
        parked_m,
    }
}

/// The radius that holds 95 % after rounding. Independent errors add up in their variances, not in their
/// 95 % radii: an even error has no tails, and with its radius of 95 % only 93.8 % would be within. The sum
/// is taken as normal, which is on the wide side where rounding is the greater part.
fn with_rounding_m(receiver_m: f64, rounding: Option<&Rounding>) -> f64 {
    receiver_m.hypot(rounding.map_or(0.0, |rounding| R95 * rounding.deviation_m()))
}

/// The dilution that 95 % of the moving fixes stay within; `None` where most of them have none.
fn usual_hdop(track: &Track) -> Option<f64> {
    // What the receiver disowns is kept separate, with an error of its own.
    let owned = |i: usize| track.extra_m.get(i).is_none_or(|&extra_m| extra_m <= 0.0);
    let moving = track
        .steps
        .iter()
        .zip(&track.fixes)
        .enumerate()
        .filter(|(i, (step, _))| step.link == Link::Driven && step.is_moving() && owned(*i));
    let mut count = 0;
    let mut hdops: Vec<f32> = Vec::new();
    for (_, (_, fix)) in moving {
        count += 1;
        hdops.extend(Some(fix.hdop).filter(|hdop| hdop.is_finite()));
    }
    // Places put into silences have none: they count against nobody.
    let logged = count - track.manner.filled.min(count);
    if hdops.is_empty() || (hdops.len() as f64) < LEAST_HDOPS * logged as f64 {
        return None;
    }
    let rank = (HDOP_SHARE * hdops.len() as f64).ceil() as usize - 1;
    Some(f64::from(
        *hdops.select_nth_unstable_by(rank, f32::total_cmp).1,
    ))
}

#[cfg(test)]
mod tests;
