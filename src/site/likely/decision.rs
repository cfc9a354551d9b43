//! From a patch as logged and the spread of its drawn areas to a probability and an interval.
//!
//! The patch as logged is the centre, never the draws: a log less a drawn error carries the error twice, so that
//! corners bounded by several passes shrink in the draws, and gaps between lanes grow. Most seeming gaps are
//! drift all the same, since the greatest of hundreds of laps is the most wrong one: hence the odds.

use crate::site::coverage::{LEAST_PATCH_M2, Likelihood};
use std::f64::consts::SQRT_2;

/// Odds, before its size is looked at, that a piece of gap of the smallest size that counts is truly bare (trade
/// judgement, fitted; see the method page).
const ODDS: f64 = 0.15;
/// The spread of the draws times this is that of the truth around the log, for the probability (fitted).
const SPREAD: f64 = 1.4;
/// The same for the interval (fitted).
const INTERVAL_SPREAD: f64 = 1.6;
/// 90 % of a normal distribution lie within so many standard deviations of its mean.
const WITHIN_90: f64 = 1.645;
/// Least standard deviation of an area, m2: what the raster and the edges of a swath leave.
const LEAST_DEVIATION_M2: f64 = 1.0;
/// Most that ground near swaths of a trailer that backed up in a turn is said to be: a toss.
const MOST_UNSURE: f64 = 0.5;

/// Of a patch with `core_m2` inside the edge, whose drawn areas inside the edge these are.
pub(super) fn of_patch(core_m2: f64, drawn_m2: &[f64], unsure: bool) -> Likelihood {
    let deviation_m2 = deviation(drawn_m2).max(LEAST_DEVIATION_M2);
    let probability = probability(core_m2 - LEAST_PATCH_M2, deviation_m2);
    let half_m2 = WITHIN_90 * INTERVAL_SPREAD * deviation_m2;
    Likelihood {
        probability: if unsure {
            probability.min(MOST_UNSURE)
        } else {
            probability
        },
        interval_m2: ((core_m2 - half_m2).max(0.0), core_m2 + half_m2),
    }
}

/// That more than `most_m2` of a zone is truly bare, where the log leaves `bare_m2`. Here the draws tell the centre
/// as well: errors only ever add to the sum of hundreds of gaps between lanes, in the log by as much as in the
/// draws over it (the bootstrap's correction of a bias; B. Efron and R. J. Tibshirani, *An Introduction to the
/// Bootstrap*, from memory).
pub(super) fn of_share(bare_m2: f64, most_m2: f64, drawn_m2: &[f64]) -> f64 {
    let added_m2 = (mean(drawn_m2) - bare_m2).max(0.0);
    let deviation_m2 = deviation(drawn_m2).max(LEAST_DEVIATION_M2);
    probability(bare_m2 - added_m2 - most_m2, deviation_m2)
}

/// That an area which seems to be over a limit by so much is truly over it.
fn probability(over_m2: f64, deviation_m2: f64) -> f64 {
    let over = over_m2 / (SPREAD * deviation_m2);
    let (greater, less) = (normal_below(over), normal_below(-over));
    ODDS * greater / (ODDS * greater + less)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn deviation(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    let mean = mean(values);
    let squares = values.iter().map(|value| (value - mean).powi(2));
    (squares.sum::<f64>() / (count - 1.0)).sqrt()
}

/// Share of a normal distribution of variance 1 that lies below `x`.
fn normal_below(x: f64) -> f64 {
    libm::erfc(-x / SQRT_2) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any table of the normal distribution.
    #[test]
    fn shares_below_are_those_of_the_tables() {
        for (x, share) in [
            (0.0, 0.5),
            (1.0, 0.841_345),
            (1.645, 0.950_015),
            (-2.0, 0.022_750),
        ] {
            assert!((normal_below(x) - share).abs() < 1e-6, "{x}");
        }
    }

    /// At the smallest size an even chance is left to the odds: 0.15 / 1.15.
    #[test]
    fn the_smallest_patch_has_its_odds() {
        let even = of_patch(10.0, &[8.0, 10.0, 12.0], false);
        assert!((even.probability - 0.15 / 1.15).abs() < 1e-12);
    }

    #[test]
    fn ground_beyond_doubt_is_certain_and_no_nan() {
        let sure = of_patch(5_000.0, &[5_000.0; 8], false);
        assert!((sure.probability - 1.0).abs() < 1e-12);
        let (low_m2, high_m2) = sure.interval_m2;
        assert!((low_m2 - 4_997.368).abs() < 1e-9 && (high_m2 - 5_002.632).abs() < 1e-9);
        let held = of_patch(5_000.0, &[5_000.0; 8], true);
        assert!((held.probability - 0.5).abs() < 1e-12);
    }

    #[test]
    fn no_interval_reaches_below_nothing() {
        let wide = of_patch(11.0, &[0.0, 30.0, 5.0, 40.0], false);
        assert!(wide.interval_m2.0.abs() < 1e-12);
    }
}
