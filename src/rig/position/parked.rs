//! What a receiver shows of its own error while the rig stands.
//!
//! A parked antenna does not move, so what its places do is error: the mean square of their difference over
//! a time dt, per axis, is D(dt) = 2 s^2 (1 - exp(-dt / tau)) + noise for a first-order Gauss-Markov error of
//! standard deviation s and correlation time tau (Brown and Hwang, *Introduction to Random Signals and
//! Applied Kalman Filtering*, from memory).
//!
//! It shows a part of the error only: what drifts slower than the stops last, and what is the same all night,
//! do not show; many receivers freeze when parked, and rounding hides it. So it may say that the error
//! is greater than was thought, never that it is smaller.

use crate::geometry::plane::length_m;
use crate::rig::track::{Link, Track, displacement_m};
use std::ops::Range;

/// A stop must last so long to show anything, s (trade judgement).
const LEAST_STOP_S: f64 = 180.0;
/// All places of a stop are within this of its first, m (trade judgement).
const STANDS_M: f64 = 6.0;
/// Faster than this over three seconds the rig rolled, or the receiver jumped, m/s (trade judgement).
const ROLLS_M_S: f64 = 0.4;
/// See [`ROLLS_M_S`] (trade judgement).
const ROLLS_OVER_S: f64 = 3.0;
/// With more of its places repeated to the last digit a receiver is frozen (trade judgement).
const MOST_REPEATED: f64 = 0.3;
/// Differences are looked at over these times, s (tolerance) ...
const LAGS_S: [f64; 9] = [2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0];
/// ... and correlation times are tried, s; none longer than the longest difference, so that nothing is extrapolated
/// beyond what was seen (tolerance).
const TAUS_S: [f64; 8] = [10.0, 20.0, 40.0, 60.0, 90.0, 150.0, 250.0, 400.0];
/// All stops together last this many times the correlation time twice over: of 8 independent places the error is
/// known to a sixth (arithmetic).
const LEAST_PIECES: f64 = 8.0;
/// Places nearer in time than this say nothing new, s (tolerance).
const EVERY_S: f64 = 1.0;

/// Standard deviation of the drift on each axis as the stops show it, m; `None` where they show none.
pub(super) fn deviation_m(track: &Track) -> Option<f64> {
    if track.manner.rounding.is_some() {
        return None;
    }
    let stops: Vec<Vec<Place>> = stops(track)
        .iter()
        .filter_map(|stop| places(track, stop))
        .collect();
    let whole_s: f64 = stops.iter().map(|stop| stop[stop.len() - 1].time_s).sum();
    let squares: Vec<(f64, f64)> = LAGS_S
        .iter()
        .filter_map(|&lag_s| Some((lag_s, mean_square_m2(&stops, lag_s)?)))
        .collect();
    let longest_s = squares.last()?.0;
    let fits = TAUS_S
        .iter()
        .filter(|&&tau_s| tau_s <= longest_s && whole_s >= LEAST_PIECES * 2.0 * tau_s)
        .filter_map(|&tau_s| fit(&squares, tau_s));
    let (_, square_m2) = fits.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (square_m2 > 0.0).then(|| square_m2.sqrt())
}

/// Where the antenna seemed to be, after the stop's first place.
struct Place {
    time_s: f64,
    east_m: f64,
    north_m: f64,
}

/// Fixes of unbroken standing, long enough.
fn stops(track: &Track) -> Vec<Range<usize>> {
    let mut stops = Vec::new();
    let mut first = 0;
    while first < track.fixes.len() {
        let (mut end, mut gone) = (first + 1, (0.0, 0.0));
        while let Some(step) = track.steps.get(end - 1) {
            gone = (gone.0 + step.east_m, gone.1 + step.north_m);
            let stands = matches!(step.link, Link::Driven | Link::Parking);
            if !stands || length_m(gone.0, gone.1) > STANDS_M {
                break;
            }
            end += 1;
        }
        let stop = first..end;
        if seconds(track, first, end - 1) >= LEAST_STOP_S {
            stops.push(stop);
            first = end;
        } else {
            first += 1;
        }
    }
    stops
}

fn seconds(track: &Track, from: usize, to: usize) -> f64 {
    track.fixes[to].time.seconds_since(track.fixes[from].time)
}

/// The places of a stop, about one a second, without its first and last seconds; `None` where the rig rolled
/// or the receiver is frozen.
fn places(track: &Track, stop: &Range<usize>) -> Option<Vec<Place>> {
    let inner = |i: &usize| {
        seconds(track, stop.start, *i) > 2.0 * ROLLS_OVER_S
            && seconds(track, *i, stop.end - 1) > 2.0 * ROLLS_OVER_S
    };
    let inner: Vec<usize> = stop.clone().filter(inner).collect();
    let origin = track.fixes[*inner.first()?];
    let mut places: Vec<Place> = Vec::new();
    for &i in &inner {
        let time_s = track.fixes[i].time.seconds_since(origin.time);
        if places
            .last()
            .is_some_and(|last| time_s - last.time_s < 0.99 * EVERY_S)
        {
            continue;
        }
        let (east_m, north_m) = displacement_m(origin.place, track.fixes[i].place);
        places.push(Place {
            time_s,
            east_m,
            north_m,
        });
    }
    let same = |pair: &&[Place]| {
        (pair[0].east_m - pair[1].east_m).abs() < 1e-6
            && (pair[0].north_m - pair[1].north_m).abs() < 1e-6
    };
    let repeated = places.windows(2).filter(same).count();
    if repeated as f64 > MOST_REPEATED * places.len() as f64 {
        return None;
    }
    let mut from = 0;
    for place in &places {
        while place.time_s - places[from].time_s > ROLLS_OVER_S + EVERY_S {
            from += 1;
        }
        let earlier = &places[from];
        let apart_s = place.time_s - earlier.time_s;
        let apart_m = (place.east_m - earlier.east_m).hypot(place.north_m - earlier.north_m);
        if apart_s >= ROLLS_OVER_S && apart_m > ROLLS_M_S * apart_s {
            return None;
        }
    }
    (places.len() > 2).then_some(places)
}

/// Mean square of the differences over a time, per axis, m2, over all stops at least twice as long; `None`
/// without any.
fn mean_square_m2(stops: &[Vec<Place>], lag_s: f64) -> Option<f64> {
    let (mut sum_m2, mut count) = (0.0, 0_usize);
    for stop in stops
        .iter()
        .filter(|stop| stop[stop.len() - 1].time_s >= 2.0 * lag_s)
    {
        let mut to = 0;
        for from in stop {
            while to < stop.len() && stop[to].time_s - from.time_s < lag_s - EVERY_S / 2.0 {
                to += 1;
            }
            let Some(other) = stop.get(to) else { break };
            // Across a logger's sleep there is no place so much later.
            if other.time_s - from.time_s < lag_s + EVERY_S {
                let (e_m, n_m) = (other.east_m - from.east_m, other.north_m - from.north_m);
                sum_m2 += (e_m * e_m + n_m * n_m) / 2.0;
                count += 1;
            }
        }
    }
    (count > 0).then(|| sum_m2 / count as f64)
}

/// Least squares of the model with this correlation time, relative to each value: (rest, s^2). Noise is what is left at
/// a time of zero, and never negative.
fn fit(squares: &[(f64, f64)], tau_s: f64) -> Option<(f64, f64)> {
    let model = |lag_s: f64| 2.0 * (1.0 - (-lag_s / tau_s).exp());
    let (mut mm, mut m1, mut ss, mut md, mut sd) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &(lag_s, d_m2) in squares {
        let weight = 1.0 / (d_m2 * d_m2).max(1e-12);
        let m = model(lag_s);
        mm += weight * m * m;
        m1 += weight * m;
        ss += weight;
        md += weight * m * d_m2;
        sd += weight * d_m2;
    }
    let determinant = mm * ss - m1 * m1;
    let noise_m2 = ((mm * sd - m1 * md) / determinant).max(0.0);
    let square_m2 = (md - noise_m2 * m1) / mm;
    let rest = squares
        .iter()
        .map(|&(lag_s, d_m2)| {
            ((square_m2 * model(lag_s) + noise_m2) / d_m2.max(1e-6) - 1.0).powi(2)
        })
        .sum::<f64>();
    rest.is_finite().then_some((rest, square_m2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::place::{Instant, LonLat};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Stops of so many seconds with 100 s of driving between, under a Gauss-Markov error of this standard
    /// deviation and correlation time on each axis, and 1 cm of noise.
    fn night(seed: u64, stops_s: &[usize], deviation_m: f64, tau_s: f64) -> Track {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let mut normal =
            move || -> f64 { (0..12).map(|_| chance.random::<f64>()).sum::<f64>() - 6.0 };
        let keeps = (-1.0 / tau_s).exp();
        let fresh_m = deviation_m * (1.0 - keeps * keeps).sqrt();
        let mut error = (deviation_m * normal(), deviation_m * normal());
        let mut east_m = 0.0;
        let mut places = Vec::new();
        for &stop_s in stops_s {
            for k in 0..100 + stop_s {
                east_m += if k < 100 { 4.0 } else { 0.0 };
                error.0 = keeps * error.0 + fresh_m * normal();
                error.1 = keeps * error.1 + fresh_m * normal();
                places.push((
                    east_m + error.0 + 0.01 * normal(),
                    error.1 + 0.01 * normal(),
                ));
            }
        }
        of(&places)
    }

    fn of(places: &[(f64, f64)]) -> Track {
        let mut track = Track::eastward(places.len(), |i, fix| {
            fix.time = Instant(i as i64 * 1_000_000);
            fix.place = LonLat {
                lon_deg: -30.0 + places[i].0 / 78_847.0,
                lat_deg: 45.0 + places[i].1 / 111_132.0,
            };
        });
        for (step, pair) in track.steps.iter_mut().zip(places.windows(2)) {
            (step.east_m, step.north_m) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        }
        track
    }

    #[test]
    fn a_drift_is_found_to_a_third_where_the_rig_stood_long_enough() {
        for (deviation_m, tau_s) in [(0.3, 20.0), (0.5, 60.0), (1.0, 60.0), (0.8, 120.0)] {
            let mut found_m: Vec<f64> = (0..40)
                .filter_map(|seed| {
                    super::deviation_m(&night(seed, &[1800, 2400, 1200], deviation_m, tau_s))
                })
                .collect();
            // Nearly every night shows it. One night knows the drift to about a third, the middle of forty far better;
            // two nights at either end are left out.
            assert!(found_m.len() >= 36, "{}", found_m.len());
            found_m.sort_by(f64::total_cmp);
            let (low, middle, high) = (
                found_m[2],
                found_m[found_m.len() / 2],
                found_m[found_m.len() - 3],
            );
            assert!(
                (middle / deviation_m - 1.0).abs() < 0.2,
                "{deviation_m}: {middle}"
            );
            assert!(
                high < 1.5 * deviation_m && low > 0.5 * deviation_m,
                "{low} {high}"
            );
        }
    }

    #[test]
    fn short_stops_and_frozen_receivers_show_nothing() {
        assert_eq!(deviation_m(&night(1, &[120; 30], 0.5, 60.0)), None);
        assert_eq!(deviation_m(&of(&[(0.0, 0.0); 4000])), None);
    }

    #[test]
    fn a_rig_that_creeps_forward_in_a_queue_is_no_drift() {
        let creeping: Vec<(f64, f64)> = (0..4000)
            .map(|i| {
                (
                    f64::from(i / 200) * 3.0 - f64::from((200 - i % 200).min(3)),
                    0.001 * f64::from(i % 7),
                )
            })
            .collect();
        let shown_m = deviation_m(&of(&creeping));
        // Less than any receiver is stated with: it replaces nothing.
        assert!(shown_m.is_none_or(|m| m < 0.2), "{shown_m:?}");
    }
}
