//! How sure a figure is: each setting moved alone, and what they do together worked out from that.
//!
//! A setting is a two-piece normal through its 10th, 50th and 90th percentile: below the likely value a half normal with
//! (likely - low) / 1.2816 as its deviation, above one with (high - likely) / 1.2816. Settings are independent. All low
//! ones together would be far rarer than one time in ten: such a range was twice as wide as it should be. Swings of a side
//! added in squares miss that many settings likelier to be dearer than cheaper move the whole range: 21 % of the likely
//! figure was missing at the high end. So:
//!
//! - the setting that swings most keeps its own distribution, point by point; the sum of all others has their mean,
//!   variance and skewness (which add), and its percentiles by E. A. Cornish and R. A. Fisher's expansion to the third
//!   cumulant (Revue de l'Institut International de Statistique 5, 1938);
//! - this is done once with the swings as differences and once as ratios, and the mean of both is taken: hours of
//!   different work add, hours and wages multiply, and moving one at a time does not say which.

use super::setting::{Known, Setting, Values};
use crate::input::fleet::Spread;
use crate::measure::cost_sheet::Swing;
use std::f64::consts::{PI, TAU};

/// The 90th percentile of the standard normal (arithmetic).
const Z90: f64 = 1.281_551_565_544_6;
/// Half the points at which a distribution is sampled, evenly over so many deviations on either side (tolerance).
const HALF_POINTS: usize = 40;
/// See [`HALF_POINTS`]; 3 in 100,000 lie beyond either (tolerance).
const FARTHEST: f64 = 4.0;
/// Halvings to a percentile: to 1e-9 of the distribution's whole width (tolerance).
const HALVINGS: usize = 30;

/// A figure's range, and what makes it.
#[derive(Debug, Clone)]
pub(super) struct Ranged {
    /// Low, likely, high.
    pub(super) range: Spread,
    /// What moves it, most first.
    pub(super) swings: Vec<Swing>,
}

/// The range of a figure of the settings; `None` where a setting that it needs is not known.
pub(super) fn range(known: &Known, figure: impl Fn(&Values) -> Option<f64>) -> Option<Ranged> {
    let values = known.likely();
    let likely = figure(&values)?;
    let mut swings = Vec::new();
    for setting in Setting::ALL {
        let Some(spread) = known.get(setting).filter(|spread| !spread.is_sure()) else {
            continue;
        };
        let moved =
            |value: f64| figure(&values.with(setting, value)).map_or(0.0, |figure| figure - likely);
        let (a, b) = (moved(spread.low), moved(spread.high));
        let swing = Swing {
            key: setting.key(),
            down: a.min(b).min(0.0),
            up: a.max(b).max(0.0),
        };
        if swing.up - swing.down > 0.0 {
            swings.push(swing);
        }
    }
    swings.sort_by(|a, b| (b.up - b.down).total_cmp(&(a.up - a.down)));
    let moved: Vec<(f64, f64)> = swings.iter().map(|of| (of.down, of.up)).collect();
    Some(Ranged {
        range: together(likely, &moved),
        swings,
    })
}

/// The range of a figure that independent things move, each by so much down (0 or less) and so much up.
pub(super) fn together(likely: f64, moved: &[(f64, f64)]) -> Spread {
    let laws = |of: fn(f64) -> f64, scale: f64| -> Vec<Halves> {
        let halves = moved.iter().map(|(down, up)| Halves {
            down: -of(down / scale),
            up: of(up / scale),
        });
        let mut laws: Vec<Halves> = halves.filter(|law| law.up + law.down > 0.0).collect();
        laws.sort_by(|a, b| (b.up + b.down).total_cmp(&(a.up + a.down)));
        laws
    };
    let (down, up) = percentiles(&laws(|change| change, 1.0));
    let (mut low, mut high) = (likely + down, likely + up);
    // Zero has no ratios.
    if moved.iter().all(|(down, _)| likely + down > 0.0) {
        let (down, up) = percentiles(&laws(f64::ln_1p, likely));
        low = f64::midpoint(low, likely * down.exp());
        high = f64::midpoint(high, likely * up.exp());
    }
    Spread {
        low: low.clamp(likely.min(0.0), likely),
        likely,
        high: high.max(likely),
    }
}

/// A two-piece normal about 0 by how far its 10th percentile lies below and its 90th above; both 0 or more.
#[derive(Debug, Clone, Copy)]
struct Halves {
    down: f64,
    up: f64,
}

impl Halves {
    /// So many deviations off.
    fn at(&self, z: f64) -> f64 {
        z / Z90 * if z < 0.0 { self.down } else { self.up }
    }

    /// Mean, variance and third central moment; of a half normal E|z| is sqrt(2/pi), E|z|^3 twice that.
    fn cumulants(&self) -> [f64; 3] {
        let (a, b) = (self.down / Z90, self.up / Z90);
        let mean_of_half = (2.0 / PI).sqrt();
        let mean = (b - a) * mean_of_half / 2.0;
        let second = f64::midpoint(a * a, b * b);
        let third = (b.powi(3) - a.powi(3)) * mean_of_half;
        [
            mean,
            second - mean * mean,
            third - 3.0 * mean * second + 2.0 * mean.powi(3),
        ]
    }
}

/// Deviations at which distributions are sampled.
fn points() -> impl DoubleEndedIterator<Item = f64> + Clone {
    let step = FARTHEST / HALF_POINTS as f64;
    (0..=2 * HALF_POINTS).map(move |k| (k as f64 - HALF_POINTS as f64) * step)
}

/// 10th and 90th percentile of the sum of some distributions, the widest first.
fn percentiles(laws: &[Halves]) -> (f64, f64) {
    let Some((widest, others)) = laws.split_first() else {
        return (0.0, 0.0);
    };
    if others.is_empty() {
        return (-widest.down, widest.up);
    }
    let rest = rest(others);
    let step = FARTHEST / HALF_POINTS as f64;
    let weights: Vec<f64> = points()
        .map(|z| step * (-z * z / 2.0).exp() / TAU.sqrt())
        .collect();
    let own: Vec<f64> = points().map(|z| widest.at(z)).collect();
    // Share of all outcomes up to a sum; the others' own share by straight lines between their points.
    let share = |sum: f64| -> f64 {
        let each = own.iter().zip(&weights);
        each.map(|(own, weight)| weight * rest.share(sum - own))
            .sum()
    };
    let percentile = |asked: f64| {
        let ends = |of: &[f64]| (of[0], of[2 * HALF_POINTS]);
        let (a, b) = (ends(&own), ends(&rest.at));
        let (mut low, mut high) = (a.0 + b.0, a.1 + b.1);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if share(middle) < asked {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    };
    (percentile(0.1), percentile(0.9))
}

/// A distribution by its points, rising.
struct Rest {
    at: Vec<f64>,
    /// Share of the outcomes up to each.
    shares: Vec<f64>,
}

/// The sum of many distributions.
fn rest(laws: &[Halves]) -> Rest {
    let mut sums = [0.0; 3];
    for law in laws {
        for (sum, own) in sums.iter_mut().zip(law.cumulants()) {
            *sum += own;
        }
    }
    let [mean, variance, third] = sums;
    let deviation = variance.sqrt();
    let skewness = third / (variance * deviation);
    let mut at: Vec<f64> = points()
        .map(|z| mean + deviation * (z + (z * z - 1.0) * skewness / 6.0))
        .collect();
    // Far out the expansion of a very skewed distribution turns back; from there on it is held.
    for k in HALF_POINTS + 1..=2 * HALF_POINTS {
        at[k] = at[k].max(at[k - 1]);
    }
    for k in (0..HALF_POINTS).rev() {
        at[k] = at[k].min(at[k + 1]);
    }
    Rest {
        at,
        shares: points().map(normal_share).collect(),
    }
}

/// Share of a standard normal below so many deviations.
fn normal_share(z: f64) -> f64 {
    libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2) / 2.0
}

impl Rest {
    fn share(&self, value: f64) -> f64 {
        let after = self.at.partition_point(|at| *at <= value);
        if after == 0 {
            return 0.0;
        }
        if after == self.at.len() {
            return 1.0;
        }
        let (a, b) = (self.at[after - 1], self.at[after]);
        let part = (value - a) / (b - a);
        self.shares[after - 1] + part * (self.shares[after] - self.shares[after - 1])
    }
}
