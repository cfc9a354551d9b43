//! Bare ground that the rigs' paths bend round: a driver saw what stood there.
//!
//! A path bends round a patch where it runs straight, shifts by a metre or more away from the patch and runs along
//! again beside it; whether it comes back does not matter, since a lane may end there. Or it goes all the way round close
//! by. A corner that was left out and a curved lane do neither: there the path goes on in another direction.

use super::leg::Leg;
use super::lines::Place;
use super::outcome::PassLine;
use crate::findings::cause::GapCause;
use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;
use crate::site::coverage::PatchGround;

/// Eight stalls of 9 by 18 ft, and as much again that stays bare beside them while the path shifts out and back, m2:
/// what is greater is no row of cars that a lane bends round (common practice).
const GREATEST_M2: f64 = 241.0;
/// A path shifts by at least this much, m, and at least its receiver's error: far more than a driver wobbles (trade
/// judgement).
const LEAST_SHIFT_M: f64 = 1.0;
/// It is straight for this long before it shifts, m (trade judgement) ...
const STRAIGHT_M: f64 = 6.0;
/// ... nowhere farther than this from its chord, m (trade judgement).
const STRAIGHT_WITHIN_M: f64 = 0.25;
/// It shifts within this distance, m: a truck takes about ten metres to shift by its own width (trade judgement).
const SHIFTS_WITHIN_M: f64 = 40.0;
/// It turns by at least this while it shifts, rad: a driver who wobbles by a foot over a truck's length or two turns by
/// less (trade judgement).
const LEAST_TURN_RAD: f64 = 0.2;
/// Beside the patch it runs along again to within this, rad, and to half of what it turned in between: a curved lane
/// turns more and more (trade judgement).
const ALONG_RAD: f64 = 0.25;
/// It does so for this long, m: where a lane begins, the turn before it may end in a shift, but in a shorter one (trade
/// judgement).
const ALONG_M: f64 = 3.0;
/// The boom's end passes this near to the patch, m (trade judgement).
const BESIDE_M: f64 = 2.5;
/// A path that turns so far about a patch, never farther from it than the boom reaches, goes all the way round it
/// (trade judgement) ...
const ROUND_RAD: f64 = 1.9 * std::f64::consts::PI;
/// ... if it sprays over this share of that: a turn at a lane's end does not (trade judgement).
const LEAST_WET: f64 = 0.75;
/// Paths are sampled at this distance, m (tolerance).
const EVERY_M: f64 = 1.0;

/// Says so of a patch that no boom reached or that was crossed with spraying off. `lines` are passes, `ways` all that was
/// driven, each with its leg.
pub(super) fn mark(
    patch: &mut PatchGround,
    lines: &[PassLine],
    ways: &[(usize, Vec<Place>)],
    legs: &[Leg],
) {
    let asked = matches!(patch.cause, GapCause::NeverReached | GapCause::SprayingOff);
    if !asked || patch.area_m2 > GREATEST_M2 {
        return;
    }
    let outline: Vec<Xy> = patch.region.rings().into_iter().flatten().collect();
    let beside_m = |leg: usize| legs[leg].boom.width_m(legs[leg].boom.all()) / 2.0 + BESIDE_M;
    let bends = lines.iter().any(|line| {
        let shift_m = LEAST_SHIFT_M.max(legs[line.leg].decided.position_m);
        bends_round(&line.middle, &outline, beside_m(line.leg), shift_m)
    }) || ways
        .iter()
        .any(|(leg, way)| goes_round(way, &outline, beside_m(*leg)));
    if bends {
        patch.cause = GapCause::BentRound;
    }
}

/// Whether a line of a boom's middle bends round ground with these corners, its boom's end this near, by a shift of so
/// much at least.
fn bends_round(line: &[Xy], outline: &[Xy], beside_m: f64, shift_m: f64) -> bool {
    let ground = Nearby::of(outline, beside_m);
    if !Extent::of(line).meets(&ground.around) {
        return false;
    }
    let mut way: Vec<(Xy, bool)> = evenly(line)
        .into_iter()
        .map(|point| (point, ground.is_near(point)))
        .collect();
    if shifts_away(&way, outline, shift_m) {
        return true;
    }
    way.reverse();
    shifts_away(&way, outline, shift_m)
}

/// Whether a way is straight, then shifts away from some ground and runs along beside it. Each point with whether it is
/// near the ground.
fn shifts_away(way: &[(Xy, bool)], outline: &[Xy], shift_m: f64) -> bool {
    let straight = (STRAIGHT_M / EVERY_M) as usize;
    let farthest = (SHIFTS_WITHIN_M / EVERY_M) as usize;
    (straight..way.len()).any(|at| {
        let beyond = &way[at..way.len().min(at + farthest + 1)];
        if !beyond.iter().any(|(_, is_near)| *is_near) {
            return false;
        }
        let Some(before) = Straight::of(&way[at - straight..=at]) else {
            return false;
        };
        let ground = before.extent(outline);
        let (mut turned_rad, mut along_for_m): (f64, f64) = (0.0, 0.0);
        beyond.windows(2).any(|pair| {
            let (to, is_near) = pair[1];
            let off_rad = before.turned_rad(pair[0].0, to);
            turned_rad = turned_rad.max(off_rad);
            let (along_m, off_m) = before.sees(to);
            let middle_m = f64::midpoint(ground.off_m.0, ground.off_m.1);
            let away =
                (off_m - middle_m).abs() >= middle_m.abs() + shift_m && off_m.abs() >= shift_m;
            let beside = (ground.along_m.0..=ground.along_m.1).contains(&along_m);
            let runs_along = is_near
                && away
                && beside
                && turned_rad >= LEAST_TURN_RAD
                && off_rad <= ALONG_RAD.min(turned_rad / 2.0);
            along_for_m = if runs_along {
                along_for_m + EVERY_M
            } else {
                0.0
            };
            along_for_m >= ALONG_M
        })
    })
}

/// Whether a way goes all the way round some ground, close by and mostly spraying.
fn goes_round(way: &[Place], outline: &[Xy], beside_m: f64) -> bool {
    let Some(middle) = middle(outline) else {
        return false;
    };
    let ground = Nearby::of(outline, beside_m);
    let (mut round_rad, mut wet_rad) = (0.0_f64, 0.0_f64);
    way.windows(2).any(|pair| {
        if !ground.is_near(pair[1].middle) {
            (round_rad, wet_rad) = (0.0, 0.0);
            return false;
        }
        let [from, to] = [0, 1].map(|end: usize| pair[end].middle.minus(middle));
        let turn_rad = from.cross(to).atan2(from.dot(to));
        round_rad += turn_rad;
        wet_rad += if pair[1].wet { turn_rad } else { 0.0 };
        round_rad.abs() >= ROUND_RAD && wet_rad / round_rad >= LEAST_WET
    })
}

/// What lies near the corners of some ground. Most of what is asked about lies far off, outside a box.
struct Nearby<'a> {
    outline: &'a [Xy],
    within_m: f64,
    around: Extent,
}

impl<'a> Nearby<'a> {
    fn of(outline: &'a [Xy], within_m: f64) -> Self {
        Self {
            outline,
            within_m,
            around: Extent::of(outline).grown(within_m),
        }
    }

    fn is_near(&self, point: Xy) -> bool {
        let near = |corner: &Xy| corner.minus(point).length_m() <= self.within_m;
        Extent::of([&point]).meets(&self.around) && self.outline.iter().any(near)
    }
}

fn middle(outline: &[Xy]) -> Option<Xy> {
    let first = *outline.first()?;
    let sum = outline.iter().fold(Xy::new(0.0, 0.0), |sum, &corner| {
        sum.plus(corner.minus(first), 1.0)
    });
    Some(first.plus(sum, 1.0 / outline.len() as f64))
}

/// A straight piece of a way, with its end as origin.
struct Straight {
    end: Xy,
    along: Xy,
}

/// Where some ground lies beside a straight piece.
struct Beside {
    along_m: (f64, f64),
    off_m: (f64, f64),
}

impl Straight {
    /// `None` where it bends.
    fn of(piece: &[(Xy, bool)]) -> Option<Self> {
        let (&(first, _), &(end, _)) = (piece.first()?, piece.last()?);
        let chord = end.minus(first);
        let chord_m = chord.length_m();
        if chord_m < STRAIGHT_M / 2.0 {
            return None;
        }
        let straight = Self {
            end,
            along: Xy::new(chord.x_m / chord_m, chord.y_m / chord_m),
        };
        let within = |(point, _): &(Xy, bool)| straight.sees(*point).1.abs() <= STRAIGHT_WITHIN_M;
        piece.iter().all(within).then_some(straight)
    }

    /// How far beyond its end and how far to its left a point lies, m.
    fn sees(&self, point: Xy) -> (f64, f64) {
        let from = point.minus(self.end);
        (self.along.dot(from), self.along.cross(from))
    }

    fn turned_rad(&self, from: Xy, to: Xy) -> f64 {
        let way = to.minus(from);
        self.along.cross(way).atan2(self.along.dot(way)).abs()
    }

    fn extent(&self, outline: &[Xy]) -> Beside {
        let start = (f64::INFINITY, f64::NEG_INFINITY);
        let wider = |(low, high): (f64, f64), m: f64| (m.min(low), m.max(high));
        let mut beside = Beside {
            along_m: start,
            off_m: start,
        };
        for &corner in outline {
            let (along_m, off_m) = self.sees(corner);
            beside.along_m = wider(beside.along_m, along_m);
            beside.off_m = wider(beside.off_m, off_m);
        }
        beside
    }
}

/// Points of a line, evenly along it.
fn evenly(line: &[Xy]) -> Vec<Xy> {
    let mut points: Vec<Xy> = line.first().copied().into_iter().collect();
    let mut left_m = EVERY_M;
    for pair in line.windows(2) {
        let way = pair[1].minus(pair[0]);
        let way_m = way.length_m();
        while left_m <= way_m {
            points.push(pair[0].plus(way, left_m / way_m));
            left_m += EVERY_M;
        }
        left_m -= way_m;
    }
    points
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

    /// Corners of a square of 4 m, every metre.
    fn square(x_m: f64, y_m: f64) -> Vec<Xy> {
        let side = [-2.0, -1.0, 0.0, 1.0, 2.0];
        let all = side.iter().flat_map(|x| side.map(|y| (*x, y)));
        all.map(|(x, y)| Xy::new(x_m + x, y_m + y)).collect()
    }

    #[test]
    fn a_path_bends_round_what_it_shifts_away_from() {
        let car = square(30.0, -2.0);
        assert!(bends_round(&line(bump), &car, 4.5, 1.0));
        // A lane that ends before it comes back, either way along it.
        let mut short = line(bump)[..=32].to_vec();
        assert!(bends_round(&short, &car, 4.5, 1.0));
        short.reverse();
        assert!(bends_round(&short, &car, 4.5, 1.0));
        // On the other side it shifts towards it.
        assert!(!bends_round(&line(bump), &square(30.0, 6.0), 4.5, 1.0));
        // Too far to be the reason.
        assert!(!bends_round(&line(bump), &square(30.0, -12.0), 4.5, 1.0));
        // Two metres are nothing to a receiver of three.
        assert!(!bends_round(&line(bump), &car, 4.5, 3.0));
    }

    #[test]
    fn a_path_that_goes_all_the_way_round_close_by_and_sprays_bends_round_it() {
        let circle = |radius_m: f64, degrees: i32, wet: bool| -> Vec<Place> {
            (0..=degrees)
                .map(|k| Xy::at_angle(f64::from(k).to_radians()))
                .map(|at| Xy::new(radius_m * at.x_m, radius_m * at.y_m))
                .map(|middle| Place { middle, wet })
                .collect()
        };
        let car = square(0.0, 0.0);
        assert!(goes_round(&circle(5.0, 360, true), &car, 4.5));
        assert!(!goes_round(&circle(5.0, 200, true), &car, 4.5));
        // A turn at the end of a lane.
        assert!(!goes_round(&circle(5.0, 360, false), &car, 4.5));
        // Once round the lot.
        assert!(!goes_round(&circle(25.0, 360, true), &car, 4.5));
    }

    #[test]
    fn straight_ways_curved_lanes_and_corners_bend_round_nothing() {
        let patch = square(30.0, -4.0);
        assert!(!bends_round(&line(|_| 0.0), &patch, 4.5, 1.0));
        assert!(!bends_round(
            &line(|x| 0.3 * (x / 4.0).sin()),
            &patch,
            4.5,
            1.0
        ));
        // Radius 40 m.
        let curve = |x: f64| (1_600.0 - (x - 30.0).powi(2)).max(0.0).sqrt() - 40.0;
        assert!(!bends_round(&line(curve), &patch, 4.5, 1.0));
        // Round a corner of the lot, the inner ground bare.
        let mut corner: Vec<Xy> = (0..=30).map(|x| Xy::new(f64::from(x), 0.0)).collect();
        corner.extend((1..=30).map(|y| Xy::new(30.0, f64::from(y))));
        assert!(!bends_round(&corner, &square(26.0, 4.0), 4.5, 1.0));
        assert!(!bends_round(&corner, &square(33.0, -3.0), 4.5, 1.0));
    }
}
