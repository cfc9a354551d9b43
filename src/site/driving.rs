//! How an application was driven: speed with liquid, lap, turns, and what share of its time on site the boom's full
//! width was at work. Estimates of other ground learn from it; no figure of coverage rests on it.

use super::applications::Applications;
use super::laid::Laid;
use super::leg::{Leg, LegLink, LegSpan};
use super::lines;
use super::outcome::{PassLine, ZoneOutcome};
use super::passes::TURN_RAD;
use super::swath::PassRings;
use crate::geometry::angle::wrapped_rad;
use crate::geometry::plane::Xy;
use crate::result::Driving;
use std::f64::consts::PI;

/// A longer time between two passes is not a turn but a wait, a fill or another place, s (trade judgement: a truck
/// backing around takes under a minute).
const LONGEST_TURN_S: f64 = 120.0;
/// A lane is a pass at least so many booms long: shorter ones are corners and headlands (trade judgement).
const LANE_BOOMS: f64 = 3.0;
/// A lane's ends lie at least this share of its length apart: the others are bent (trade judgement).
const STRAIGHT: f64 = 0.98;
/// Lanes run within this of each other: a driver's wobble is a degree or two (trade judgement).
pub const PARALLEL_RAD: f64 = 10.0 * PI / 180.0;
/// Neighbours lie from this to `FARTHEST_LANE` booms apart: nearer is the same lane again, farther is none (trade
/// judgement).
pub const NEAREST_LANE: f64 = 0.5;
/// See [`NEAREST_LANE`] (trade judgement).
const FARTHEST_LANE: f64 = 1.5;
/// Two lanes are neighbours where they run beside each other over this share of the shorter (trade judgement).
const BESIDE_SHARE: f64 = 0.5;
/// The lap is taken from so many lanes, the first ones; each is compared with each (limit).
const MOST_LANES: usize = 500;

/// How one application was driven.
pub(super) fn of_application(
    laid: &Laid,
    done: &Applications,
    app: usize,
    lines: &[PassLine],
    zones: &[ZoneOutcome],
) -> Driving {
    if done.is_coarse(app) {
        return Driving::default();
    }
    let passes: Vec<Pass> = lines::passes(laid, done, app)
        .map(|(leg, rings)| Pass { leg, rings })
        .collect();
    let turns = turns_s(laid, done, app, &passes);
    Driving {
        speed_m_s: speed_m_s(laid, passes.iter().copied()),
        lap_m: lap_m(laid, lines),
        turns: turns.len(),
        turning_s: turns.iter().sum(),
        field_efficiency: field_efficiency(laid, done, app, &passes, zones),
    }
}

/// One pass of a leg.
#[derive(Clone, Copy)]
struct Pass<'a> {
    leg: usize,
    rings: &'a PassRings,
}

/// The wet spans of a pass.
fn spans<'a>(leg: &'a Leg, pass: Pass) -> impl DoubleEndedIterator<Item = &'a LegSpan> {
    let (steps, number) = (&pass.rings.steps, pass.rings.pass);
    let first = leg.span_range(steps.start).start;
    let end = leg.span_range(steps.end - 1).end;
    let own = leg.spans[first..end].iter();
    own.filter(move |span| span.pass == number)
}

/// Distance over time with liquid, of the antenna, standing left aside.
fn speed_m_s<'a>(laid: &Laid, passes: impl Iterator<Item = Pass<'a>>) -> Option<f64> {
    let (mut length_m, mut seconds) = (0.0, 0.0);
    for pass in passes {
        let leg = &laid.legs[pass.leg];
        for span in spans(leg, pass).filter(|span| !leg.is_parked(span.step as usize)) {
            length_m += span.share_of_step() * leg.steps[span.step as usize].length_m;
            seconds += leg.span_s(span);
        }
    }
    (seconds > 0.0 && length_m > 0.0).then(|| length_m / seconds)
}

/// Times without liquid on the site between two passes of a rig that turned meanwhile, s.
fn turns_s(laid: &Laid, done: &Applications, app: usize, passes: &[Pass]) -> Vec<f64> {
    let one_visit = |a: &Pass, b: &Pass| {
        let visits = done.groups[app]
            .visits
            .iter()
            .map(|&visit| done.visit(visit));
        let mut own = visits.filter(|visit| visit.leg == a.leg);
        own.any(|visit| {
            super::overlap(&visit.fixes, &a.rings.steps)
                && super::overlap(&visit.fixes, &b.rings.steps)
        })
    };
    let turn_s = |pair: &[Pass]| {
        let (before, after) = (pair[0], pair[1]);
        let leg = &laid.legs[before.leg];
        let (last, first) = (spans(leg, before).next_back()?, spans(leg, after).next()?);
        let heading_rad = |span: &LegSpan| leg.fixes[span.step as usize].heading_rad;
        let turned_rad = wrapped_rad(heading_rad(first) - heading_rad(last)).abs();
        // Beyond the site's reach a leg has no steps: that is part of a turn, a silence is not.
        let silent = |step: u32| matches!(leg.steps[step as usize].link, LegLink::Silence { .. });
        let ends = leg.at(last.step as usize, last.to_u);
        let between_s = leg
            .at(first.step as usize, first.from_u)
            .seconds_since(ends);
        let is_turn = turned_rad > TURN_RAD
            && (0.0..=LONGEST_TURN_S).contains(&between_s)
            && !(last.step..=first.step).any(silent);
        is_turn.then_some(between_s)
    };
    let pairs = passes.windows(2);
    let of_a_rig = pairs.filter(|pair| pair[0].leg == pair[1].leg && one_visit(&pair[0], &pair[1]));
    of_a_rig.filter_map(turn_s).collect()
}

/// A pass that is a lane.
struct Lane<'a> {
    line: &'a [Xy],
    unit: Xy,
    length_m: f64,
    boom_m: f64,
}

impl<'a> Lane<'a> {
    fn of(laid: &Laid, line: &'a PassLine) -> Option<Self> {
        let boom = &laid.legs[line.leg].boom;
        let boom_m = boom.width_m(boom.all());
        let chord = line.middle.last()?.minus(*line.middle.first()?);
        let length_m = chord.length_m();
        let steps = line
            .middle
            .windows(2)
            .map(|pair| pair[1].minus(pair[0]).length_m());
        let is_lane = length_m >= LANE_BOOMS * boom_m && length_m >= STRAIGHT * steps.sum::<f64>();
        is_lane.then(|| Self {
            line: &line.middle,
            unit: Xy::new(chord.x_m / length_m, chord.y_m / length_m),
            length_m,
            boom_m,
        })
    }

    /// Distance of a lane beside it, m; `None` where none is.
    fn apart_m(&self, other: &Lane) -> Option<f64> {
        if self.unit.cross(other.unit).abs() > PARALLEL_RAD.sin() {
            return None;
        }
        let along_m = |at: &Xy| at.minus(self.line[0]).dot(self.unit);
        let (from_m, to_m) = (along_m(&other.line[0]), along_m(other.line.last()?));
        let (low_m, high_m) = (
            from_m.min(to_m).max(0.0),
            from_m.max(to_m).min(self.length_m),
        );
        if high_m - low_m < BESIDE_SHARE * self.length_m.min(other.length_m) {
            return None;
        }
        let beside_m = |line: &[Xy]| self.beside_m(line, (low_m, high_m));
        Some((beside_m(self.line)? - beside_m(other.line)?).abs())
    }

    /// How far a line lies to the left of this lane's chord between two distances along it, on the mean, m.
    fn beside_m(&self, line: &[Xy], (low_m, high_m): (f64, f64)) -> Option<f64> {
        let (mut sum_m2, mut length_m) = (0.0, 0.0);
        for pair in line.windows(2) {
            let off = [0, 1].map(|end| pair[end].minus(self.line[0]));
            let along_m = off.map(|off| off.dot(self.unit));
            let left_m = off.map(|off| self.unit.cross(off));
            let own_m =
                along_m[0].max(along_m[1]).min(high_m) - along_m[0].min(along_m[1]).max(low_m);
            if own_m > 0.0 {
                sum_m2 += own_m * f64::midpoint(left_m[0], left_m[1]);
                length_m += own_m;
            }
        }
        (length_m > 0.0).then(|| sum_m2 / length_m)
    }
}

/// What neighbouring lanes lap, m: the median over all pairs; negative where they leave ground between them.
fn lap_m(laid: &Laid, lines: &[PassLine]) -> Option<f64> {
    let lanes: Vec<Lane> = lines
        .iter()
        .filter_map(|line| Lane::of(laid, line))
        .take(MOST_LANES)
        .collect();
    let mut laps_m = Vec::new();
    for (index, lane) in lanes.iter().enumerate() {
        for other in &lanes[index + 1..] {
            let boom_m = f64::midpoint(lane.boom_m, other.boom_m);
            let near =
                |apart_m: &f64| (NEAREST_LANE * boom_m..FARTHEST_LANE * boom_m).contains(apart_m);
            laps_m.extend(
                lane.apart_m(other)
                    .filter(near)
                    .map(|apart_m| boom_m - apart_m),
            );
        }
    }
    laps_m.sort_by(f64::total_cmp);
    laps_m.get(laps_m.len() / 2).copied()
}

/// Ground treated, over what the whole boom would cover at the working speed in the time on site.
fn field_efficiency(
    laid: &Laid,
    done: &Applications,
    app: usize,
    passes: &[Pass],
    zones: &[ZoneOutcome],
) -> Option<f64> {
    let treated_m2: f64 = zones
        .iter()
        .filter_map(|zone| Some(zone.areas?.treated_m2))
        .sum();
    let mut could_m2 = 0.0;
    for &index in &done.groups[app].visits {
        let visit = done.visit(index);
        let own = passes.iter().copied().filter(|pass| pass.leg == visit.leg);
        let boom = &laid.legs[visit.leg].boom;
        let on_site_s = visit.depart.seconds_since(visit.arrive);
        could_m2 += boom.width_m(boom.all()) * speed_m_s(laid, own)? * on_site_s;
    }
    (could_m2 > 0.0 && treated_m2 > 0.0).then(|| treated_m2 / could_m2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lane(line: &[Xy]) -> Lane<'_> {
        let chord = line[line.len() - 1].minus(line[0]);
        let length_m = chord.length_m();
        Lane {
            line,
            unit: Xy::new(chord.x_m / length_m, chord.y_m / length_m),
            length_m,
            boom_m: 4.0,
        }
    }

    fn line(points: &[(f64, f64)]) -> Vec<Xy> {
        points.iter().map(|&(x_m, y_m)| Xy::new(x_m, y_m)).collect()
    }

    #[test]
    fn lanes_lie_apart_by_their_mean_distance_whatever_way_they_were_driven() {
        let straight = line(&[(0.0, 0.0), (60.0, 0.0)]);
        // Back again, 3.5 m to the north, with a wobble of half a metre over a third of it.
        let back = line(&[
            (70.0, 3.5),
            (40.0, 3.5),
            (30.0, 4.0),
            (20.0, 3.5),
            (5.0, 3.5),
        ]);
        let apart_m = lane(&straight).apart_m(&lane(&back)).unwrap();
        // 20 m of 55 m lie a quarter of a metre farther off on the mean.
        assert!(
            (apart_m - (3.5 + 0.25 * 20.0 / 55.0)).abs() < 1e-9,
            "{apart_m}"
        );
    }

    #[test]
    fn lanes_end_to_end_or_across_are_no_neighbours() {
        let straight = line(&[(0.0, 0.0), (60.0, 0.0)]);
        let next = line(&[(61.0, 0.1), (120.0, 0.1)]);
        let across = line(&[(30.0, -30.0), (30.0, 30.0)]);
        assert_eq!(lane(&straight).apart_m(&lane(&next)), None);
        assert_eq!(lane(&straight).apart_m(&lane(&across)), None);
    }
}
