//! Places of a fast logger on a coarse grid of degrees.
//!
//! Five fixes a second at 3 m/s are 0.6 m apart, five decimals of degrees 1.1 m: most fixes repeat a place,
//! some leap, and a speed between two fixes is that of the grid. So the path is taken over several fixes: a
//! parabola through those within a short while, weighted towards the middle (local regression, W. S.
//! Cleveland, *Journal of the American Statistical Association* 74, 1979, from memory), but never beyond
//! the cell that the logged place is the middle of. Every place still reads as it was logged.

use super::{MOVING_M_S, Rounding, displacement_m, median};
use crate::geometry::place::east_deg;
use crate::geometry::plane::length_m;
use crate::input::log::Fix;

/// Speeds are measured over so long when the usual one is looked for, s: some steps of the coarsest grid (tolerance).
const CHORD_S: f64 = 2.0;
/// The path is looked at over so many steps of the grid on either side: enough to average it out, little beside a
/// turn of 6 m (tolerance).
const STEPS_BESIDE: f64 = 2.0;
/// ... but no longer than this, s: a slow rig stops and starts in less (trade judgement).
const LONGEST_S: f64 = 1.5;
/// Fewer fixes make no parabola (arithmetic).
const LEAST_FIXES: usize = 5;

/// Steadies the places of a run. Nothing is done where its usual step is longer than the grid's, or where
/// there is no grid.
pub(super) fn steady(fixes: &mut [Fix], rounding: Option<Rounding>) {
    let Some(grid) = rounding else { return };
    let step_m = grid.north_m.max(grid.east_m);
    let Some(usual_m_s) = usual_speed_m_s(fixes) else {
        return;
    };
    let mut intervals_s: Vec<f64> = fixes
        .windows(2)
        .map(|pair| pair[1].time.seconds_since(pair[0].time))
        .collect();
    if usual_m_s * median(&mut intervals_s) >= step_m {
        return;
    }
    let half_s = (STEPS_BESIDE * step_m / usual_m_s).min(LONGEST_S);
    let logged: Vec<Fix> = fixes.to_vec();
    let mut first = 0;
    for (i, fix) in fixes.iter_mut().enumerate() {
        let after_s = |k: usize| logged[k].time.seconds_since(logged[i].time);
        while after_s(first) < -half_s {
            first += 1;
        }
        let near = (first..logged.len()).take_while(|&k| after_s(k) <= half_s);
        let near: Vec<(f64, f64, f64)> = near
            .map(|k| {
                let (from, to) = (logged[i].place, logged[k].place);
                (
                    after_s(k) / half_s,
                    east_deg(from.lon_deg, to.lon_deg),
                    to.lat_deg - from.lat_deg,
                )
            })
            .collect();
        let Some((lon_deg, lat_deg)) = middle(&near) else {
            continue;
        };
        let half_deg = grid.step_deg / 2.0;
        let lon_deg = fix.place.lon_deg + lon_deg.clamp(-half_deg, half_deg);
        // Across the date line; elsewhere a remainder would cost the last digits.
        fix.place.lon_deg = if lon_deg.abs() > 180.0 {
            lon_deg - 360.0_f64.copysign(lon_deg)
        } else {
            lon_deg
        };
        fix.place.lat_deg += lat_deg.clamp(-half_deg, half_deg);
    }
}

/// Median speed over a few seconds while moving, m/s; `None` where nothing moved.
fn usual_speed_m_s(fixes: &[Fix]) -> Option<f64> {
    let mut speeds_m_s = Vec::new();
    let mut to = 0;
    for from in fixes {
        while to < fixes.len() && fixes[to].time.seconds_since(from.time) < CHORD_S {
            to += 1;
        }
        let Some(end) = fixes.get(to) else { break };
        let seconds = end.time.seconds_since(from.time);
        let (east_m, north_m) = displacement_m(from.place, end.place);
        let speed_m_s = length_m(east_m, north_m) / seconds;
        if seconds < 2.0 * CHORD_S && speed_m_s > MOVING_M_S {
            speeds_m_s.push(speed_m_s);
        }
    }
    (!speeds_m_s.is_empty()).then(|| median(&mut speeds_m_s))
}

/// Values at 0 of the weighted parabolas through (place from -1 to 1, value, value); `None` with too few, or
/// where they lie on one side only, which would be a guess.
fn middle(near: &[(f64, f64, f64)]) -> Option<(f64, f64)> {
    let both_sides = near.first()?.0 < -0.3 && near.last()?.0 > 0.3;
    if near.len() < LEAST_FIXES || !both_sides {
        return None;
    }
    // Moments of the weights, and of the values with them.
    let (mut m, mut a, mut b) = ([0.0; 5], [0.0; 3], [0.0; 3]);
    for &(x, first, second) in near {
        // Cleveland's tricube.
        let weight = (1.0 - x.abs().powi(3)).max(0.0).powi(3);
        let powers = [1.0, x, x * x, x * x * x, x * x * x * x];
        for (k, power) in powers.into_iter().enumerate() {
            m[k] += weight * power;
            if k < 3 {
                a[k] += weight * power * first;
                b[k] += weight * power * second;
            }
        }
    }
    // Cramer's rule for the constant term of the normal equations.
    let minors = [
        m[2] * m[4] - m[3] * m[3],
        m[2] * m[3] - m[1] * m[4],
        m[1] * m[3] - m[2] * m[2],
    ];
    let whole = m[0] * minors[0] + m[1] * minors[1] + m[2] * minors[2];
    let constant = |v: [f64; 3]| (v[0] * minors[0] + v[1] * minors[1] + v[2] * minors[2]) / whole;
    let (first, second) = (constant(a), constant(b));
    (first.is_finite() && second.is_finite()).then_some((first, second))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::place::{Instant, LonLat};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// A drive of random lanes and turns of 6 m at `per_s` fixes a second: true places and rounded ones. It
    /// begins and ends with ten seconds standing.
    fn drive(seed: u64, per_s: usize, decimals: i32) -> (Vec<LonLat>, Vec<Fix>) {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let (mut east_m, mut north_m, mut rad): (f64, f64, f64) =
            (0.0, 0.0, chance.random_range(0.0..6.0));
        let mut orders = vec![(10.0, 0.0, 0.0)];
        for _ in 0..6 {
            let turn = if chance.random::<bool>() { 1.0 } else { -1.0 };
            orders.push((chance.random_range(10.0..20.0), 3.0, 0.0));
            orders.push((std::f64::consts::PI * 6.0 / 2.0, 2.0, turn / 6.0));
        }
        orders.push((10.0, 0.0, 0.0));
        let (mut truth, mut fixes) = (Vec::new(), Vec::new());
        let dt_s = 1.0 / per_s as f64;
        let mut speed_m_s: f64 = 0.0;
        for (seconds, aim_m_s, curvature) in orders {
            for _ in 0..(seconds * per_s as f64) as usize {
                let change: f64 = aim_m_s - speed_m_s;
                speed_m_s += change.clamp(-1.5 * dt_s, 1.5 * dt_s);
                rad += speed_m_s * dt_s * curvature / 2.0;
                east_m += speed_m_s * dt_s * rad.cos();
                north_m += speed_m_s * dt_s * rad.sin();
                rad += speed_m_s * dt_s * curvature / 2.0;
                let place = LonLat {
                    lon_deg: -30.0 + east_m / 78_847.0,
                    lat_deg: 45.0 + north_m / 111_132.0,
                };
                let per_deg = 10_f64.powi(decimals);
                let rounded = LonLat {
                    lon_deg: (place.lon_deg * per_deg).round() / per_deg,
                    lat_deg: (place.lat_deg * per_deg).round() / per_deg,
                };
                let time = Instant((truth.len() as f64 * dt_s * 1e6) as i64);
                truth.push(place);
                fixes.push(Fix::bare(time, rounded, 1));
            }
        }
        (truth, fixes)
    }

    fn five() -> Option<Rounding> {
        Some(Rounding {
            decimals: 5,
            step_deg: 1e-5,
            north_m: 1.111,
            east_m: 0.788,
        })
    }

    fn rms_m(truth: &[LonLat], fixes: &[Fix]) -> f64 {
        let squares = truth.iter().zip(fixes).map(|(truth, fix)| {
            let (east_m, north_m) = displacement_m(*truth, fix.place);
            east_m * east_m + north_m * north_m
        });
        (squares.sum::<f64>() / truth.len() as f64).sqrt()
    }

    #[test]
    fn steadied_places_still_read_as_they_were_logged_and_are_nearer_to_the_truth() {
        for seed in 0..20 {
            let (truth, logged) = drive(seed, 5, 5);
            let mut steadied = logged.clone();
            steady(&mut steadied, five());
            for (logged, steadied) in logged.iter().zip(&steadied) {
                let off = |a: f64, b: f64| (a - b).abs() <= 0.5e-5 + 1e-12;
                assert!(off(logged.place.lon_deg, steadied.place.lon_deg));
                assert!(off(logged.place.lat_deg, steadied.place.lat_deg));
            }
            let (before_m, after_m) = (rms_m(&truth, &logged), rms_m(&truth, &steadied));
            // A grid of 1.1 m by 0.8 m puts places 0.4 m off; the fixes of a second and a half take a good part of that away.
            assert!(after_m < 0.75 * before_m, "{before_m} to {after_m}");
        }
    }

    #[test]
    fn a_rig_that_moves_does_not_seem_to_stand() {
        let slow = |fixes: &[Fix], truth: &[LonLat]| {
            let speed_m_s = |a: LonLat, b: LonLat| {
                let (east_m, north_m) = displacement_m(a, b);
                east_m.hypot(north_m) / 0.2
            };
            let steps = fixes.windows(2).zip(truth.windows(2));
            steps
                .filter(|(_, truth)| speed_m_s(truth[0], truth[1]) > 1.5)
                .filter(|(fixes, _)| speed_m_s(fixes[0].place, fixes[1].place) < 0.3)
                .count()
        };
        for seed in 0..20 {
            let (truth, logged) = drive(seed, 5, 5);
            let mut steadied = logged.clone();
            steady(&mut steadied, five());
            // As logged it often seems to stand: otherwise nothing would be tested.
            assert!(slow(&logged, &truth) > 100 && slow(&steadied, &truth) == 0);
        }
    }

    #[test]
    fn a_parked_rig_stays_where_it_is() {
        let (_, mut fixes) = drive(3, 5, 5);
        let parked = fixes[0].place;
        steady(&mut fixes, five());
        assert!(fixes[..40].iter().all(|fix| fix.place == parked));
    }

    #[test]
    fn steps_longer_than_the_grid_are_left_as_logged() {
        for (per_s, grid) in [(1, five()), (5, None)] {
            let (_, logged) = drive(1, per_s, 5);
            let mut same = logged.clone();
            steady(&mut same, grid);
            let moved = |(a, b): (&Fix, &Fix)| a.place != b.place;
            assert!(!logged.iter().zip(&same).any(moved));
        }
    }
}
