//! Bare ground that the rigs' paths bend round: a driver saw what stood there.
//!
//! A path bends round a patch where it leaves the straight way beside it by a metre or more, away from the patch, and
//! comes back to it. A corner that was left out and a curved lane do not: there the path goes on in another direction.

use super::leg::Leg;
use super::outcome::PassLine;
use crate::findings::cause::GapCause;
use crate::geometry::plane::Xy;
use crate::site::coverage::PatchGround;

/// Eight stalls of 9 by 18 ft (common practice), m2: what is greater is no row of cars that a lane bends round.
const GREATEST_M2: f64 = 120.5;
/// A path leaves the straight way by so much, m: far over a driver's wobble (trade judgement).
const LEAST_BEND_M: f64 = 1.0;
/// The way is straight again so far beyond the patch, m: a truck takes about ten metres to shift by its own width
/// (trade judgement).
const BEYOND_M: f64 = 12.0;
/// With less of the way than this beyond the patch, m, nothing is said (trade judgement).
const LEAST_BEYOND_M: f64 = 4.0;
/// Before and after the path runs along the straight way to within this, rad: a curved lane does not (trade
/// judgement).
const ALONG_RAD: f64 = 0.25;
/// The boom's end passes this near to the patch, m (trade judgement).
const BESIDE_M: f64 = 2.5;

/// Says so of a patch that no boom reached or that was crossed with spraying off.
pub(super) fn mark(patch: &mut PatchGround, lines: &[PassLine], legs: &[Leg]) {
    let asked = matches!(patch.cause, GapCause::NeverReached | GapCause::SprayingOff);
    if !asked || patch.area_m2 > GREATEST_M2 {
        return;
    }
    let extent = patch.region.extent();
    let size = extent.high.minus(extent.low);
    let middle = extent.low.plus(size, 0.5);
    let radius_m = size.length_m() / 2.0;
    let bends = lines.iter().any(|line| {
        let boom = &legs[line.leg].boom;
        let half_m = boom.width_m(boom.all()) / 2.0;
        bends_round(&line.middle, middle, radius_m, half_m)
    });
    if bends {
        patch.cause = GapCause::BentRound;
    }
}

/// Whether a line of a boom's middle bends round what lies within a circle.
fn bends_round(line: &[Xy], middle: Xy, radius_m: f64, half_boom_m: f64) -> bool {
    let Some((at_m, away_m)) = nearest(line, middle) else {
        return false;
    };
    let all_m = length_m(line);
    let before_m = at_m.min(radius_m + BEYOND_M);
    let after_m = (all_m - at_m).min(radius_m + BEYOND_M);
    let beside = away_m <= radius_m + half_boom_m + BESIDE_M;
    if !beside || before_m.min(after_m) < radius_m + LEAST_BEYOND_M {
        return false;
    }
    let [from, here, to] = [at_m - before_m, at_m, at_m + after_m].map(|at_m| place(line, at_m));
    let chord = to.0.minus(from.0);
    let chord_m = chord.length_m();
    if chord_m < before_m.max(after_m) {
        return false;
    }
    let along = Xy::new(chord.x_m / chord_m, chord.y_m / chord_m);
    let runs_along = [from.1, to.1]
        .iter()
        .all(|way| way.dot(along) > 0.0 && along.cross(*way).abs() < ALONG_RAD.sin());
    let off_m = |point: Xy| along.cross(point.minus(from.0));
    let (bend_m, patch_m) = (off_m(here.0), off_m(middle));
    let away_from_it = (bend_m - patch_m).abs() >= patch_m.abs() + LEAST_BEND_M;
    runs_along && bend_m.abs() >= LEAST_BEND_M && away_from_it
}

/// The point of a line nearest to another: how far along it, and how far away, m.
fn nearest(line: &[Xy], point: Xy) -> Option<(f64, f64)> {
    let mut passed_m = 0.0;
    let mut best: Option<(f64, f64)> = None;
    for pair in line.windows(2) {
        let way = pair[1].minus(pair[0]);
        let way_m = way.length_m();
        if way_m > 0.0 {
            let share = (point.minus(pair[0]).dot(way) / (way_m * way_m)).clamp(0.0, 1.0);
            let away_m = point.minus(pair[0].plus(way, share)).length_m();
            if best.is_none_or(|(_, least_m)| away_m < least_m) {
                best = Some((passed_m + share * way_m, away_m));
            }
        }
        passed_m += way_m;
    }
    best
}

fn length_m(line: &[Xy]) -> f64 {
    line.windows(2)
        .map(|pair| pair[1].minus(pair[0]).length_m())
        .sum()
}

/// The point so far along a line, and the direction there.
fn place(line: &[Xy], at_m: f64) -> (Xy, Xy) {
    let mut left_m = at_m;
    let mut last = (line[0], Xy::new(0.0, 0.0));
    for pair in line.windows(2) {
        let way = pair[1].minus(pair[0]);
        let way_m = way.length_m();
        if way_m <= 0.0 {
            continue;
        }
        let unit = Xy::new(way.x_m / way_m, way.y_m / way_m);
        last = (pair[0].plus(unit, left_m.min(way_m)), unit);
        if left_m <= way_m {
            break;
        }
        left_m -= way_m;
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(of: impl Fn(f64) -> f64) -> Vec<Xy> {
        (0..=60)
            .map(|x| Xy::new(f64::from(x), of(f64::from(x))))
            .collect()
    }

    /// A shift by 2 m to the left and back, between x = 20 and 40.
    fn bump(x: f64) -> f64 {
        let share = ((x - 20.0) / 20.0).clamp(0.0, 1.0);
        1.0 - (std::f64::consts::TAU * share).cos()
    }

    #[test]
    fn a_path_bends_round_what_it_shifts_away_from_and_comes_back() {
        let car = Xy::new(30.0, -2.0);
        assert!(bends_round(&line(bump), car, 3.0, 2.0));
        // On the other side it shifts towards it.
        assert!(!bends_round(&line(bump), Xy::new(30.0, 6.0), 3.0, 2.0));
        // Too far to be the reason.
        assert!(!bends_round(&line(bump), Xy::new(30.0, -12.0), 3.0, 2.0));
    }

    #[test]
    fn straight_ways_curved_lanes_and_corners_bend_round_nothing() {
        let patch = Xy::new(30.0, -4.0);
        assert!(!bends_round(&line(|_| 0.0), patch, 3.0, 2.0));
        assert!(!bends_round(
            &line(|x| 0.3 * (x / 4.0).sin()),
            patch,
            3.0,
            2.0
        ));
        // Radius 40 m.
        let curve = |x: f64| (1_600.0 - (x - 30.0).powi(2)).max(0.0).sqrt() - 40.0;
        assert!(!bends_round(&line(curve), patch, 3.0, 2.0));
        // Round a corner of the lot, the inner ground bare.
        let mut corner: Vec<Xy> = (0..=30).map(|x| Xy::new(f64::from(x), 0.0)).collect();
        corner.extend((1..=30).map(|y| Xy::new(30.0, f64::from(y))));
        assert!(!bends_round(&corner, Xy::new(26.0, 4.0), 3.0, 2.0));
        assert!(!bends_round(&corner, Xy::new(33.0, -3.0), 3.0, 2.0));
    }
}
