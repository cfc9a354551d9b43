//! How far off a leg's places may be: a first-order Gauss-Markov error on each axis (R. G. Brown and P. Y. C.
//! Hwang, *Introduction to Random Signals and Applied Kalman Filtering*, from memory): variance s^2, and
//! autocovariance s^2 exp(-t / tau).
//!
//! It is drawn at knots of absolute time and linear between them, so that the law does not depend on how often the
//! receiver wrote: e' = a e + s sqrt(1 - a^2) n with a = exp(-dt / tau), from a stationary start. In the middle between
//! two knots the variance is 1.3 % under s^2.

use super::draws::{Draws, Purpose};
use crate::geometry::place::Instant;
use crate::geometry::plane::Xy;
use crate::site::leg::LegFix;
use std::ops::Range;

/// Knots are so far apart, us (tolerance).
const KNOT_US: i64 = 4_000_000;

/// The law of a receiver's error.
#[derive(Debug, Clone, Copy)]
pub(super) struct Law {
    /// Standard deviation on each axis, m.
    pub(super) deviation_m: f64,
    /// Time over which the error is forgotten, s.
    pub(super) tau_s: f64,
}

/// The knots of a leg, and where its fixes lie between them.
pub(super) struct Knots {
    /// Numbers of the knots, in order.
    numbers: Vec<i64>,
    /// Of each knot: what stays of the error of the one before, and the deviation of what is new, in
    /// standard deviations.
    passes_on: Vec<(f64, f64)>,
    /// Of each fix: the knot before it and the share of the way to the next.
    places: Vec<(u32, f32)>,
    /// Of each fix: deviation on top, m; empty where no place is disowned.
    extra_m: Vec<f32>,
    law: Law,
}

impl Knots {
    /// Of the fixes at the ends of these steps; the others have no error. What the rig did elsewhere or before
    /// says nothing of them, so that a record of these steps alone draws the same.
    pub(super) fn of(fixes: &[LegFix], steps: &[Range<usize>], law: Law) -> Self {
        let mut numbers: Vec<i64> = Vec::new();
        let mut places = Vec::with_capacity(fixes.len());
        let is_end = |fix: usize| {
            let mut steps = steps.iter();
            steps.any(|steps| !steps.is_empty() && (steps.start..=steps.end).contains(&fix))
        };
        for (at, fix) in fixes.iter().enumerate() {
            if !is_end(at) {
                places.push((0, 0.0));
                continue;
            }
            let Instant(time_us) = fix.time;
            let number = time_us.div_euclid(KNOT_US);
            for number in [number, number + 1] {
                if numbers.last().is_none_or(|&last| last < number) {
                    numbers.push(number);
                }
            }
            let share = time_us.rem_euclid(KNOT_US) as f32 / KNOT_US as f32;
            places.push((numbers.len() as u32 - 2, share));
        }
        let passes_on = numbers.iter().enumerate().map(|(k, number)| {
            let Some(before) = k.checked_sub(1) else {
                return (0.0, 1.0);
            };
            let seconds = ((number - numbers[before]) * KNOT_US) as f64 / 1e6;
            let kept = libm::exp(-seconds / law.tau_s);
            (kept, (1.0 - kept * kept).sqrt())
        });
        let disowned = fixes.iter().any(|fix| fix.extra_m > 0.0);
        Self {
            passes_on: passes_on.collect(),
            extra_m: if disowned {
                fixes.iter().map(|fix| fix.extra_m).collect()
            } else {
                Vec::new()
            },
            numbers,
            places,
            law,
        }
    }

    /// One drawn error of each fix, m.
    pub(super) fn draw(&self, draws: Draws, draw: u32) -> Vec<Xy> {
        let own = self.chain(draws, Purpose::Error, draw);
        let mut errors: Vec<Xy> = self
            .places
            .iter()
            .map(|&place| between(&own, place, self.law.deviation_m))
            .collect();
        if !self.extra_m.is_empty() {
            let extra = self.chain(draws, Purpose::Extra, draw);
            for ((error, &place), &extra_m) in
                errors.iter_mut().zip(&self.places).zip(&self.extra_m)
            {
                *error = error.plus(between(&extra, place, f64::from(extra_m)), 1.0);
            }
        }
        errors
    }

    /// Errors at the knots, in standard deviations.
    fn chain(&self, draws: Draws, purpose: Purpose, draw: u32) -> Vec<Xy> {
        let mut error = Xy::new(0.0, 0.0);
        let knots = self.numbers.iter().zip(&self.passes_on);
        knots
            .map(|(&number, &(kept, new))| {
                let (x, y) = draws.normal(purpose, draw, number);
                error = Xy::new(kept * error.x_m + new * x, kept * error.y_m + new * y);
                error
            })
            .collect()
    }
}

fn between(knots: &[Xy], (knot, share): (u32, f32), deviation_m: f64) -> Xy {
    let (from, to) = (knots[knot as usize], knots[knot as usize + 1]);
    let share = f64::from(share);
    let at = |from: f64, to: f64| deviation_m * (from + share * (to - from));
    Xy::new(at(from.x_m, to.x_m), at(from.y_m, to.y_m))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::place::LonLat;
    use crate::site::leg::Perhaps;

    fn fixes(times_s: impl Iterator<Item = f64>) -> Vec<LegFix> {
        let fix = |s: f64| LegFix {
            time: Instant((s * 1e6) as i64),
            place: LonLat {
                lon_deg: -30.0,
                lat_deg: 45.0,
            },
            heading_rad: 0.0,
            trailer_rad: 0.0,
            product: None,
            set_rate_ml_m2: Perhaps::UNKNOWN,
            in_yard: false,
            here: true,
            extra_m: 0.0,
        };
        times_s.map(fix).collect()
    }

    fn steps(first: usize, end: usize) -> Range<usize> {
        first..end
    }

    const LAW: Law = Law {
        deviation_m: 0.5,
        tau_s: 150.0,
    };

    /// s^2 and s^2 exp(-t / tau), for 2 x 50,000 draws; a product of two such errors has a standard deviation of
    /// s^2 sqrt(1 + r^2).
    #[test]
    fn variance_and_autocovariance_are_those_of_the_law() {
        let knots = Knots::of(&fixes([0.0, 60.0, 300.0].into_iter()), &[steps(0, 2)], LAW);
        let draws = Draws::of("elm", 1);
        let mut sums = [0.0; 3];
        for draw in 0..50_000 {
            let errors = knots.draw(draws, draw);
            for (sum, later) in sums.iter_mut().zip(&errors) {
                *sum += errors[0].x_m * later.x_m + errors[0].y_m * later.y_m;
            }
        }
        for (sum, seconds) in sums.into_iter().zip([0.0_f64, 60.0, 300.0]) {
            let share = (-seconds / 150.0).exp();
            let standard_error = 0.25 * (1.0 + share * share).sqrt() / 1e5_f64.sqrt();
            let covariance = sum / 1e5;
            assert!(
                (covariance - 0.25 * share).abs() < 4.0 * standard_error,
                "{seconds} s: {covariance}"
            );
        }
    }

    /// A leg that ends sooner, and what of it is masked, has the same errors to the bit.
    #[test]
    fn fixes_cut_off_at_the_end_change_no_bit() {
        let draws = Draws::of("elm", 1);
        let whole = Knots::of(&fixes((0..40).map(f64::from)), &[steps(0, 39)], LAW).draw(draws, 5);
        let cut = Knots::of(&fixes((0..17).map(f64::from)), &[steps(0, 16)], LAW).draw(draws, 5);
        for (a, b) in whole.iter().zip(&cut) {
            assert_eq!(a.x_m.to_bits(), b.x_m.to_bits());
            assert_eq!(a.y_m.to_bits(), b.y_m.to_bits());
        }
    }

    /// More fixes between the same ones change nothing at all of the errors that they had.
    #[test]
    fn fixes_put_in_between_change_no_error() {
        let draws = Draws::of("elm", 1);
        let thin = Knots::of(&fixes((0..40).map(f64::from)), &[steps(0, 39)], LAW).draw(draws, 5);
        let five = fixes((0..196).map(|k| f64::from(k) / 5.0));
        let dense = Knots::of(&five, &[steps(0, 195)], LAW).draw(draws, 5);
        for (k, error) in thin.iter().enumerate() {
            assert!(error.minus(dense[5 * k]).length_m() < 1e-9);
        }
    }

    /// Nor do fixes before, after and between the steps that are asked about.
    #[test]
    fn fixes_of_other_steps_change_no_error() {
        let draws = Draws::of("elm", 1);
        let alone =
            Knots::of(&fixes((100..140).map(f64::from)), &[steps(0, 39)], LAW).draw(draws, 5);
        let among = fixes((0..900).map(f64::from));
        let among = Knots::of(&among, &[steps(100, 139)], LAW).draw(draws, 5);
        assert_eq!(alone, among[100..140]);
    }
}
