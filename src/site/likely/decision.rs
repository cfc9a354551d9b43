//! From a patch as logged and the spread of its drawn areas to a probability and an interval.
//!
//! The patch as logged is the centre, never the draws: a log less a drawn error carries the error twice, so that
//! corners bounded by several passes shrink in the draws, and gaps between lanes grow.
//!
//! Two questions. Is there a gap at all? Most seeming gaps are drift, since the greatest of hundreds of laps is the
//! most wrong one: the odds are small before the patch is looked at, and grow with its area over the spread. And
//! is it great enough, if it is there? One question for both (the odds against the smallest size) took corners of
//! twice that size for drift and wide nets of narrow laps for bare ground.

use crate::findings::cause::GapCause;
use crate::site::coverage::{LEAST_PATCH_M2, Likelihood, PatchGround};
use std::f64::consts::SQRT_2;

/// Odds that a seeming gap, or a zone that seems to be treated thinly, is one, before its size and its place are looked at
/// (by trial: fitted, see the method page).
pub(crate) const ODDS_OF_GAP: f64 = 0.015;
/// The same of a patch in the midst of a zone, between passes (by trial, on seeds 101 to 160 of `tests/field`).
const ODDS_BETWEEN: f64 = 0.002;
/// They grow by exp of this times the share of the patch's outline along the zone's line: what is skipped is a corner or an
/// edge, what drifts apart are lanes (by trial, on the same).
const ALONG_LINE: f64 = 6.0;
/// A strip along a curb lies along it with half of its outline; more says nothing more (trade judgement).
const MOST_ALONG: f64 = 0.6;
/// The same of ground that a boom passed with some sections closed by its log and others open, or open without liquid, or
/// over which the log is silent: there the log itself shows why, and it is no drift unless a lane beside it lies elsewhere
/// (by trial).
const ODDS_OF_SHOWN: f64 = 0.15;
/// Drift alone makes gaps of so many times the spread of the draws (by trial).
const DRIFT_SPREAD: f64 = 1.3;
/// The true size of a patch lies around the log by so many times the spread of the draws (by trial).
const SIZE_SPREAD: f64 = 1.2;
/// The same for the interval (by trial).
const INTERVAL_SPREAD: f64 = 1.25;
/// Odds that keep-off ground which seems to be sprayed was: beds are few, laps are many (trade judgement).
const ODDS_OF_SPRAY: f64 = 0.15;
/// Errors alone spray so many times the spread of the draws (by trial).
const SPRAY_SPREAD: f64 = 1.4;
/// 90 % of a normal distribution lie within so many standard deviations of its mean (arithmetic).
const WITHIN_90: f64 = 1.645;
/// Least standard deviation of an area, m2: what the raster and the edges of a swath leave (tolerance).
const LEAST_DEVIATION_M2: f64 = 1.0;
/// Most that ground near swaths of a trailer that backed up in a turn is said to be: a toss (trade judgement).
const MOST_UNSURE: f64 = 0.5;
/// The spread of all draws lies between that of sixteen over this and times this, in all but one case of a hundred
/// (published: 99.5 % and 0.5 % of chi squared with 15 degrees of freedom are 32.8 and 4.6, any table).
const SPREAD_OFF: f64 = 1.8;
/// What is clearly likely, and clearly not (trade judgement).
const CLEAR: (f64, f64) = (0.2, 0.9);
/// What errors add to a sum of narrow gaps is known to this share of it, one standard deviation: the law that is drawn is one
/// of many (trade judgement).
const ADDED_KNOWN_TO: f64 = 1.0;
/// A zone is so many spreads over or under the limit of thin cover where no draw is needed any more (trade judgement).
const CLEAR_SPREADS: f64 = 5.0;

/// Of a patch with `core_m2` inside the edge, whose drawn areas inside the edge these are.
pub(super) fn of_patch(patch: &PatchGround, drawn_m2: &[f64]) -> Likelihood {
    with_spread(patch, deviation(drawn_m2))
}

/// Whether a patch is clearly likely, or clearly not, with any spread of all draws that these first ones may stand for.
pub(super) fn is_settled(patch: &PatchGround, drawn_m2: &[f64], likely: f64) -> bool {
    let (low, high) = (CLEAR.0.min(likely), CLEAR.1.max(likely));
    let drawn_m2 = deviation(drawn_m2);
    let spreads_m2 = [drawn_m2 / SPREAD_OFF, drawn_m2 * SPREAD_OFF];
    let of_each = spreads_m2.map(|spread_m2| with_spread(patch, spread_m2).probability);
    of_each.iter().all(|&of| of < low) || of_each.iter().all(|&of| of >= high)
}

fn with_spread(patch: &PatchGround, deviation_m2: f64) -> Likelihood {
    let odds = match patch.cause {
        GapCause::Closed | GapCause::Dry | GapCause::Silence => ODDS_OF_SHOWN,
        _ => patch.along_line.map_or(ODDS_OF_GAP, odds_by_place),
    };
    likelihood(patch.core_m2, deviation_m2, odds, patch.unsure)
}

fn odds_by_place(along_line: f64) -> f64 {
    ODDS_BETWEEN * libm::exp(ALONG_LINE * along_line.min(MOST_ALONG))
}

fn likelihood(core_m2: f64, deviation_m2: f64, odds: f64, unsure: bool) -> Likelihood {
    let deviation_m2 = deviation_m2.max(LEAST_DEVIATION_M2);
    let is_there = chance(odds, core_m2 / (DRIFT_SPREAD * deviation_m2));
    let is_great = normal_below((core_m2 - LEAST_PATCH_M2) / (SIZE_SPREAD * deviation_m2));
    let probability = is_there * is_great;
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

/// How far the bare ground of a zone lies over the most of thin cover, in spreads.
pub(super) struct Thin(f64);

impl Thin {
    /// Where the log leaves `bare_m2`, and `most_m2` is no thin cover yet.
    pub(super) fn of(bare_m2: f64, most_m2: f64, drawn_m2: &[f64]) -> Self {
        let (centre_m2, deviation_m2) = less_what_errors_add(bare_m2, drawn_m2);
        let added_m2 = bare_m2 - centre_m2;
        let deviation_m2 = deviation_m2.hypot(ADDED_KNOWN_TO * added_m2);
        Self((centre_m2 - most_m2) / (DRIFT_SPREAD * deviation_m2))
    }

    /// That more than the most is truly bare.
    pub(super) fn probability(&self) -> f64 {
        chance(ODDS_OF_GAP, self.0)
    }

    /// So far off that more draws would say the same.
    pub(super) fn is_settled(&self) -> bool {
        self.0.abs() >= CLEAR_SPREADS
    }
}

/// That `least_m2` of keep-off ground or more were truly sprayed, where the log has `area_m2`.
pub(super) fn of_spray(area_m2: f64, least_m2: f64, drawn_m2: &[f64]) -> f64 {
    let (centre_m2, deviation_m2) = less_what_errors_add(area_m2, drawn_m2);
    let over = (centre_m2 - least_m2) / (SPRAY_SPREAD * deviation_m2);
    chance(ODDS_OF_SPRAY, over)
}

/// Here the draws tell the centre as well: errors only ever add to the sum of hundreds of gaps between lanes or of
/// edges of a bed, in the log by as much as in the draws over it (the bootstrap's correction of a bias; B. Efron
/// and R. J. Tibshirani, *An Introduction to the Bootstrap*, from memory).
fn less_what_errors_add(logged_m2: f64, drawn_m2: &[f64]) -> (f64, f64) {
    let added_m2 = (mean(drawn_m2) - logged_m2).max(0.0);
    (
        logged_m2 - added_m2,
        deviation(drawn_m2).max(LEAST_DEVIATION_M2),
    )
}

/// That something is there which seems to be so many deviations over nothing, with these odds before it was
/// looked at.
fn chance(odds: f64, over: f64) -> f64 {
    let (greater, less) = (normal_below(over), normal_below(-over));
    odds * greater / (odds * greater + less)
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

    /// At the smallest size and 1.3 spreads from nothing: 0.841345 and 0.158655 below and above a deviation, half for
    /// the size.
    #[test]
    fn a_patch_of_the_smallest_size_may_be_smaller() {
        let spread_m2 = 10.0 / 1.3;
        let small = likelihood(10.0, spread_m2, ODDS_OF_GAP, false);
        let there = 0.015 * 0.841_345 / (0.015 * 0.841_345 + 0.158_655);
        assert!((small.probability - there / 2.0).abs() < 1e-6);
    }

    /// The same area over the smallest size, the same spread: ground of 30 m2 is there, ground of 12 m2 may be drift.
    #[test]
    fn what_is_many_spreads_over_nothing_is_there() {
        let great = likelihood(30.0, 6.0, ODDS_OF_GAP, false).probability;
        let small = likelihood(12.0, 6.0, ODDS_OF_GAP, false).probability;
        assert!(great > 0.95 && small < 0.3, "{great} {small}");
    }

    #[test]
    fn what_the_draws_add_is_taken_off_a_sum_of_narrow_gaps() {
        let (centre_m2, deviation_m2) = less_what_errors_add(50.0, &[68.0, 70.0, 72.0]);
        assert!((centre_m2 - 30.0).abs() < 1e-12 && (deviation_m2 - 2.0).abs() < 1e-12);
    }

    /// A lot of which 20 m2 seem bare, 10 m2 may be, and errors add 5 m2 that are known to 5 m2: (20 - 5 - 10) / (1.3 x
    /// sqrt(1 + 25)) = 0.754 spreads over, of which tables have 0.7746 below.
    #[test]
    fn what_errors_add_is_known_no_better_than_their_law() {
        let thin = Thin::of(20.0, 10.0, &[24.0, 25.0, 26.0]);
        let expected = 0.015 * 0.7746 / (0.015 * 0.7746 + 0.2254);
        assert!((thin.probability() - expected).abs() < 1e-3);
        assert!(!thin.is_settled() && Thin::of(90.0, 10.0, &[89.0, 90.0, 91.0]).is_settled());
    }

    /// 60 m2 and a spread of 5 m2 are many spreads over nothing even where it is 9 m2; 14 m2 are not, and 11 m2 of a spread
    /// of 30 m2 are far from likely even where it is 17 m2.
    #[test]
    fn the_first_draws_settle_what_no_spread_would_change() {
        let patch = |core_m2: f64| PatchGround {
            region: crate::geometry::overlay::Region::default(),
            area_m2: core_m2,
            core_m2,
            along_line: None,
            cause: GapCause::NeverReached,
            closed_by: None,
            unsure: false,
            likelihood: None,
        };
        let drawn_m2 = |spread_m2: f64| [-spread_m2, 0.0, spread_m2];
        assert!(is_settled(&patch(60.0), &drawn_m2(5.0), 0.75));
        assert!(!is_settled(&patch(14.0), &drawn_m2(5.0), 0.75));
        assert!(is_settled(&patch(11.0), &drawn_m2(30.0), 0.75));
    }

    /// exp(6 x 0.3) = 6.05: what lies along a curb with three tenths of its outline has six times the odds of what lies
    /// between lanes; from six tenths on nothing is added.
    #[test]
    fn what_reaches_the_zone_s_line_is_likelier_to_be_left_out() {
        assert!((odds_by_place(0.0) - 0.002).abs() < 1e-12);
        assert!((odds_by_place(0.3) / 0.002 - 6.05).abs() < 0.01);
        assert!((odds_by_place(0.6) - odds_by_place(0.9)).abs() < 1e-12);
    }

    #[test]
    fn ground_beyond_doubt_is_certain_and_no_nan() {
        let sure = likelihood(5_000.0, 0.0, ODDS_OF_GAP, false);
        assert!((sure.probability - 1.0).abs() < 1e-12);
        let half_m2 = 1.645 * 1.25;
        let (low_m2, high_m2) = sure.interval_m2;
        assert!((low_m2 - (5_000.0 - half_m2)).abs() < 1e-9);
        assert!((high_m2 - (5_000.0 + half_m2)).abs() < 1e-9);
        let held = likelihood(5_000.0, 0.0, ODDS_OF_GAP, true);
        assert!((held.probability - 0.5).abs() < 1e-12);
    }

    #[test]
    fn no_interval_reaches_below_nothing() {
        let wide = likelihood(11.0, 20.0, ODDS_OF_GAP, false);
        assert!(wide.interval_m2.0.abs() < 1e-12);
    }
}
