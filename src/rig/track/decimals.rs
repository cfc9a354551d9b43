//! Coordinates written with few decimals: every place is off by up to half a step.

use crate::geometry::place::LonLat;
use crate::input::log::Log;

/// Decimals of degrees that are worth a remark: five are steps of 1.1 m, six of 0.1 m (trade judgement).
const DECIMALS: std::ops::RangeInclusive<i32> = 1..=5;

/// Share of a log's fixes that stand on the grid when its coordinates were rounded to it; a few may come from
/// elsewhere, such as a start point typed in (trade judgement).
const LEAST_SHARE: f64 = 0.99;

/// Fewer fixes may all stand on a grid by chance (one in ten thousand does, with seven decimals) (arithmetic).
const LEAST_FIXES: usize = 20;

/// A coordinate this near to a multiple, in steps, is one: far above what a double loses at 180 degrees (3e-9 of a
/// step of 1e-5), far below the tenth of a step that a sixth decimal shows (tolerance).
const SAME_STEPS: f64 = 1e-4;

/// A grid on which all positions of a log stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rounding {
    /// Decimals of degrees.
    pub decimals: u32,
    /// Their step, degrees.
    pub step_deg: f64,
    /// Its length north, m.
    pub north_m: f64,
    /// Its length east, m.
    pub east_m: f64,
}

impl Rounding {
    /// 95 % of the places are within this of where they would be without rounding, m.
    #[must_use]
    pub fn radius_m(&self) -> f64 {
        rectangle_radius_m(self.north_m / 2.0, self.east_m / 2.0)
    }

    /// Standard deviation each way, m: the mean of the variances north and east, each a twelfth of the
    /// step's square.
    #[must_use]
    pub fn deviation_m(&self) -> f64 {
        self.north_m.hypot(self.east_m) / 24.0_f64.sqrt()
    }
}

/// The rounding of a log's coordinates; `None` when they have six decimals or more.
pub(super) fn rounding(log: &Log) -> Option<Rounding> {
    if log.fixes.len() < LEAST_FIXES {
        return None;
    }
    // A parked logger repeats one place, which says nothing new.
    let mut places: Vec<LonLat> = log.fixes.iter().map(|fix| fix.place).collect();
    places.dedup();
    if places.len() < LEAST_FIXES {
        return None;
    }
    let decimals = DECIMALS.into_iter().find(|&decimals| {
        let per_deg = 10_f64.powi(decimals);
        let whole = |deg: f64| (deg * per_deg - (deg * per_deg).round()).abs() < SAME_STEPS;
        let off = places
            .iter()
            .filter(|place| !(whole(place.lon_deg) && whole(place.lat_deg)));
        // Most logs are not rounded: their first few fixes show it.
        let most = ((1.0 - LEAST_SHARE) * places.len() as f64) as usize;
        off.take(most + 1).count() <= most
    })?;
    let step_deg = 10_f64.powi(-decimals);
    let middle = places[places.len() / 2];
    let half = |place: LonLat, sign: f64| LonLat {
        lon_deg: place.lon_deg + sign * step_deg / 2.0,
        lat_deg: place.lat_deg + sign * step_deg / 2.0,
    };
    let (east_m, north_m) = super::displacement_m(half(middle, -1.0), half(middle, 1.0));
    Some(Rounding {
        decimals: decimals.unsigned_abs(),
        step_deg,
        north_m,
        east_m,
    })
}

/// The rounding with the fewest decimals that a run's places have: of a fix that is in several logs the
/// finest place was kept, so a coarse copy of a fine log blurs nothing. `roundings`: of each log; `fixes`: the
/// logs that each fix is in.
pub(super) fn of_places(
    roundings: &[Option<Rounding>],
    fixes: impl Iterator<Item = impl Iterator<Item = usize>>,
) -> Option<Rounding> {
    let decimals = |log: usize| roundings[log].map_or(u32::MAX, |rounding| rounding.decimals);
    let mut count = 0;
    let mut fixes_of = vec![0_usize; roundings.len()];
    for logs in fixes {
        count += 1;
        if let Some(log) = logs.max_by_key(|&log| decimals(log)) {
            fixes_of[log] += 1;
        }
    }
    // A few coarse places among thousands blur nothing either.
    let least = (1.0 - LEAST_SHARE) * f64::from(count);
    let with_some = (0..roundings.len()).filter(|&log| fixes_of[log] as f64 > least);
    with_some
        .filter_map(|log| roundings[log])
        .min_by_key(|rounding| rounding.decimals)
}

/// Radius around the middle of a rectangle of half sides `a_m` and `b_m` that holds 95 % of it. Rounding
/// moves a place evenly within such a rectangle. For a square it is 0.599 of the side.
///
/// The part of a quarter of the rectangle within r is the integral over x of min(b, sqrt(r^2 - x^2)) from 0
/// to min(a, r), which has a closed form; r is found by halving.
fn rectangle_radius_m(a_m: f64, b_m: f64) -> f64 {
    let (longer_m, shorter_m) = (a_m.max(b_m), a_m.min(b_m));
    if shorter_m < 1e-3 * longer_m {
        // As good as a line, where the differences below would lose their digits: at the poles.
        return 0.95 * longer_m;
    }
    let under_arc = |r_m: f64, x_m: f64| {
        (x_m * (r_m * r_m - x_m * x_m).max(0.0).sqrt()
            + r_m * r_m * (x_m / r_m).clamp(-1.0, 1.0).asin())
            / 2.0
    };
    let share = |r_m: f64| {
        let flat_m = (r_m * r_m - b_m * b_m).max(0.0).sqrt().min(a_m);
        let end_m = a_m.min(r_m).max(flat_m);
        (b_m * flat_m + under_arc(r_m, end_m) - under_arc(r_m, flat_m)) / (a_m * b_m)
    };
    let (mut low_m, mut high_m) = (0.0, a_m.hypot(b_m));
    // 60 halvings are more digits than a double has.
    for _ in 0..60 {
        let middle_m = f64::midpoint(low_m, high_m);
        if middle_m > 0.0 && share(middle_m) < 0.95 {
            low_m = middle_m;
        } else {
            high_m = middle_m;
        }
    }
    high_m
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn a_circle_around_a_rectangle_holds_95_percent_of_it() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for (a_m, b_m) in [(0.5, 0.5), (0.55, 0.39), (0.2, 3.0)] {
            let radius_m = rectangle_radius_m(a_m, b_m);
            let inside = (0..200_000)
                .filter(|_| {
                    let x_m = a_m * random.random_range(-1.0..1.0_f64);
                    let y_m = b_m * random.random_range(-1.0..1.0_f64);
                    x_m.hypot(y_m) <= radius_m
                })
                .count();
            // Four standard deviations of a share of 0.95 in 200,000 draws are 0.002.
            assert!((inside as f64 / 200_000.0 - 0.95).abs() < 0.002, "{inside}");
        }
    }

    #[test]
    fn a_narrow_rectangle_is_a_line() {
        // Of a line of half length 1, 95 % lie within 0.95 of its middle.
        for narrow in [0.002, 0.0005] {
            assert!((rectangle_radius_m(1.0, narrow) - 0.95).abs() < 1e-5);
            assert!((rectangle_radius_m(narrow, 1.0) - 0.95).abs() < 1e-5);
        }
    }
}
