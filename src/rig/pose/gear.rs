//! Forward or reverse, inferred from the antenna's motion where no heading is logged.

mod rolling;

use super::curve::{Curve, has_direction};
use super::motion::Motion;
use crate::geometry::angle::wrapped_rad;
use crate::rig::track::{Step, Track};
use std::f64::consts::{FRAC_PI_2, PI};
use std::ops::Range;

/// A reversal of the motion by more than this is a change of gear (trade judgement) ...
pub(super) const GEAR_RAD: f64 = 120.0 * PI / 180.0;
/// ... when it happens within this distance, m (trade judgement) ...
const GEAR_DISTANCE_M: f64 = 3.0;
/// ... or by more than this: from lock to lock an antenna 2.7 m ahead of the axle leaves a 6 m turn 48 degrees off
/// where it entered, in either gear (trade judgement) ...
const LOCK_TO_LOCK_RAD: f64 = 100.0 * PI / 180.0;
/// ... within this distance, in which no rig turns that far in one gear, m (trade judgement) ...
const LOCK_TO_LOCK_DISTANCE_M: f64 = 1.5;
/// ... after a step that is slower than this, m/s, or whose path turns back (trade judgement).
const GEAR_SPEED_M_S: f64 = 0.5;
/// A way between two stops leads at least this far, m, or it was noise (trade judgement) ...
const LEAST_WAY_M: f64 = 1.0;
/// ... and half as far without its longest step, which is a jump of a place unless it is as long as this, m (trade
/// judgement).
const GREATEST_JUMP_M: f64 = 2.5;
/// Few back up a spraying rig farther than this; a longer "reverse" stretch mostly means that the
/// change of gear before it was no such thing, m (trade judgement) ...
const LONGEST_REVERSE_M: f64 = 60.0;
/// ... unless the way in before it and the way on after it, both as long, are longer, or it goes back along the way in: who
/// backs out of a lane that was driven into. No lane is longer than this, m (trade judgement).
const LONGEST_BACK_OUT_M: f64 = 150.0;
/// It goes back along the way in where it keeps within this of it, m: half of a narrow lane, so that the next lane is
/// another one (trade judgement) ...
const SAME_LINE_M: f64 = 1.2;
/// ... over this share of its fixes (trade judgement).
const SAME_LINE_SHARE: f64 = 0.9;
/// Such a way ends at least this share of its length from where it begins: turns at the ends of lanes do not (trade
/// judgement).
const STRAIGHT_SHARE: f64 = 0.8;

/// Where no leg is that long, the first one is in reverse if the others in its gear and it are so many times shorter
/// than those in the other gear (trade judgement).
const MOSTLY_FORWARD: f64 = 3.0;

/// Marks the steps of one stretch that were driven in reverse. Returns the steps of which the gear stays
/// uncertain.
pub(super) fn infer(track: &Track, curves: &mut [Curve], fixes: Range<usize>) -> Vec<Range<usize>> {
    let steps = fixes.start..fixes.end - 1;
    let mut cuts = changes(track, curves, steps.clone());
    let cusps = rolling::cusps(track, steps.clone(), &cuts);
    cuts.extend(cusps.iter().filter(|cusp| cusp.sure).map(|cusp| cusp.step));
    cuts.sort_unstable();
    let starts = std::iter::once(steps.start).chain(cuts.iter().copied());
    let ends = cuts.iter().copied().chain([steps.end]);
    let legs: Vec<Range<usize>> = starts.zip(ends).map(|(start, end)| start..end).collect();
    let length_m =
        |leg: &Range<usize>| -> f64 { track.steps[leg.clone()].iter().map(Step::length_m).sum() };
    let lengths_m: Vec<f64> = legs.iter().map(length_m).collect();
    let straight: Vec<bool> = legs
        .iter()
        .zip(&lengths_m)
        .map(|(leg, length_m)| away_m(&track.steps[leg.clone()]) >= STRAIGHT_SHARE * length_m)
        .collect();
    let same_line: Vec<bool> = (0..legs.len())
        .map(|k| {
            let out = lengths_m[k] > LONGEST_REVERSE_M && lengths_m[k] <= LONGEST_BACK_OUT_M;
            out && straight[k] && k > 0 && goes_back(track, &legs[k - 1], &legs[k])
        })
        .collect();
    let long = long_legs(&lengths_m, &straight, &same_line);
    let reverse = in_reverse(&lengths_m, &long);
    for (leg, &reverse) in legs.iter().zip(&reverse) {
        let moved = |curve: &&mut Curve| reverse && curve.motion == Motion::Forward;
        for curve in curves[leg.clone()].iter_mut().filter(moved) {
            curve.motion = Motion::Reverse;
        }
    }
    let rolling = cusps.iter().any(|cusp| cusp.sure);
    let odd = odd_legs(&lengths_m, &long, rolling).into_iter();
    let odd = odd.chain(missed_legs(&long, &reverse));
    let mut unsure: Vec<Range<usize>> = odd.map(|k| legs[k].clone()).collect();
    for doubt in cusps.iter().filter(|cusp| !cusp.sure).map(|cusp| cusp.step) {
        // If the gear changed there, one of the two sides was driven in the other one.
        let leg = &legs[cuts.partition_point(|&cut| cut <= doubt)];
        let sides = [leg.start..doubt, doubt..leg.end];
        let shorter = sides
            .into_iter()
            .min_by(|a, b| length_m(a).total_cmp(&length_m(b)));
        unsure.extend(shorter.filter(|side| length_m(side) <= LONGEST_REVERSE_M));
    }
    unsure
}

/// The legs whose gears do not add up. Between two long legs, both forward, lies an odd number of
/// others; an even one says that a change of gear was missed, or was none. And with no long leg at all,
/// nothing says which gear the rolling changes began in, unless most was driven in one of them.
fn odd_legs(lengths_m: &[f64], long: &[bool], rolling: bool) -> Vec<usize> {
    let long: Vec<usize> = (0..long.len()).filter(|&k| long[k]).collect();
    if long.is_empty() {
        let sum_m = |parity| lengths_m.iter().skip(parity).step_by(2).sum::<f64>();
        let (less_m, more_m) = (f64::min(sum_m(0), sum_m(1)), f64::max(sum_m(0), sum_m(1)));
        let even = rolling && more_m <= MOSTLY_FORWARD * less_m;
        return if even {
            (0..lengths_m.len()).collect()
        } else {
            Vec::new()
        };
    }
    let between = long.windows(2).map(|pair| pair[0] + 1..pair[1]);
    between
        .filter(|legs| legs.len() % 2 == 0)
        .flatten()
        .collect()
}

/// Short legs beside a change of gear that was missed or was none.
fn missed_legs(long: &[bool], reverse: &[bool]) -> Vec<usize> {
    let missed = (1..reverse.len()).filter(|&k| !long[k] && reverse[k - 1] == reverse[k]);
    let mut legs: Vec<usize> = missed.flat_map(|k| [k - 1, k]).collect();
    legs.retain(|&k| !long[k]);
    legs.dedup();
    legs
}

/// The steps with which another gear begins: between two ways at a stop the path has turned round. A place that jumps while
/// the rig stands, or creeps, points anywhere: the ways before and after it decide.
fn changes(track: &Track, curves: &[Curve], steps: Range<usize>) -> Vec<usize> {
    let ways = ways(track, steps);
    let pairs = ways.windows(2);
    pairs
        .filter_map(|pair| change(track, curves, &pair[0], &pair[1]))
        .collect()
}

/// Runs of steps that got somewhere. They end where the rig is slow or its path turns back.
fn ways(track: &Track, steps: Range<usize>) -> Vec<Range<usize>> {
    let mut ways: Vec<Range<usize>> = Vec::new();
    let mut start = steps.start;
    for i in steps.clone() {
        if track.steps[i].speed_m_s() < GEAR_SPEED_M_S {
            ways.push(start..i);
            start = i + 1;
        } else if i > start && turns_back(&track.steps[i - 1], &track.steps[i]) {
            ways.push(start..i);
            start = i;
        }
    }
    ways.push(start..steps.end);
    ways.retain(|way| gets_somewhere(&track.steps[way.clone()]));
    ways
}

/// Whether the path turns at a joint farther than steering takes it over so short a way.
fn turns_back(a: &Step, b: &Step) -> bool {
    let (a_m, b_m) = (a.length_m(), b.length_m());
    let along = a.east_m * b.east_m + a.north_m * b.north_m;
    along < LOCK_TO_LOCK_RAD.cos() * a_m * b_m && f64::midpoint(a_m, b_m) <= rolling::FARTHEST_M
}

/// No jump of a place: that is one step, and the rest of its way is nothing.
fn gets_somewhere(way: &[Step]) -> bool {
    let away_m = away_m(way);
    let greatest_m = way.iter().map(Step::length_m).fold(0.0, f64::max);
    away_m >= LEAST_WAY_M
        && (away_m - greatest_m >= LEAST_WAY_M / 2.0 || greatest_m >= GREATEST_JUMP_M)
}

/// How far some steps lead, not summed along them: a parked receiver's jitter sums up to any length.
fn away_m(steps: &[Step]) -> f64 {
    let gone = steps.iter().fold((0.0, 0.0), |(east_m, north_m), step| {
        (east_m + step.east_m, north_m + step.north_m)
    });
    f64::hypot(gone.0, gone.1)
}

/// The step with which the gear of the second way begins, if it is another one.
fn change(
    track: &Track,
    curves: &[Curve],
    before: &Range<usize>,
    after: &Range<usize>,
) -> Option<usize> {
    let away_m = away_m(&track.steps[before.end..after.start]);
    let least_rad = if away_m < LOCK_TO_LOCK_DISTANCE_M {
        LOCK_TO_LOCK_RAD
    } else {
        GEAR_RAD
    };
    let from_rad = course_rad(track.steps[before.clone()].iter().rev());
    let to_rad = course_rad(track.steps[after.clone()].iter());
    if away_m >= GEAR_DISTANCE_M || wrapped_rad(to_rad - from_rad).abs() <= least_rad {
        return None;
    }
    // Slow steps that lead the new way belong to it.
    let slow = (before.end..after.start).rev();
    let of_it = slow.take_while(|&i| {
        has_direction(track, i) && wrapped_rad(curves[i].chord_rad - to_rad).abs() < FRAC_PI_2
    });
    Some(after.start - of_it.count())
}

/// Where some steps lead over a little way.
fn course_rad<'a>(steps: impl Iterator<Item = &'a Step>) -> f64 {
    let (mut way_m, mut gone) = (0.0, (0.0, 0.0));
    for step in steps {
        gone = (gone.0 + step.east_m, gone.1 + step.north_m);
        way_m += step.length_m();
        if way_m >= rolling::REACH_M {
            break;
        }
    }
    f64::atan2(gone.1, gone.0)
}

/// Which of a stretch's legs were driven in reverse, from their lengths. Gears alternate, a leg longer than anybody backs up
/// is forward, and of all that is left to choose the shortest distance was backed: a change that was missed, or was
/// none, counts as the longest leg that is ever backed. With each long leg after the first the count begins anew.
fn in_reverse(lengths_m: &[f64], long: &[bool]) -> Vec<bool> {
    // Whoever backs out of a long lane does so on purpose: it counts as the longest leg that is ever backed.
    let backed_m = |k: usize| {
        if long[k] {
            f64::INFINITY
        } else {
            lengths_m[k].min(LONGEST_REVERSE_M)
        }
    };
    // With no long leg the first one is forward, unless that leaves far too little forward.
    let others_m: f64 = lengths_m.iter().step_by(2).sum();
    let on_top_m = if long.contains(&true) {
        0.0
    } else {
        (MOSTLY_FORWARD - 1.0) * others_m
    };
    let mut least_m = [0.0, backed_m(0) + on_top_m];
    // Of each leg but the first, in either gear: it was the same before.
    let mut same: Vec<[bool; 2]> = Vec::with_capacity(lengths_m.len());
    for (k, &is_long) in long.iter().enumerate().skip(1) {
        let anew = is_long && long[..k].contains(&true);
        let missed_m = if anew { 0.0 } else { LONGEST_REVERSE_M };
        let stays = [0, 1].map(|gear: usize| least_m[gear] + missed_m < least_m[1 - gear]);
        let own_m = [0.0, backed_m(k)];
        least_m = [0, 1]
            .map(|gear: usize| own_m[gear] + f64::min(least_m[gear] + missed_m, least_m[1 - gear]));
        same.push(stays);
    }
    let mut gear = usize::from(least_m[1] < least_m[0]);
    let mut reverse = vec![gear == 1];
    for stays in same.iter().rev() {
        gear = if stays[gear] { gear } else { 1 - gear };
        reverse.push(gear == 1);
    }
    reverse.reverse();
    reverse
}

/// Whether a leg leads back along the one before it: each of its fixes lies near that one's line. Both are followed away
/// from where they meet.
fn goes_back(track: &Track, way_in: &Range<usize>, way_out: &Range<usize>) -> bool {
    let mut place_m = (0.0, 0.0);
    let mut line_m = vec![place_m];
    for step in track.steps[way_in.clone()].iter().rev() {
        place_m = (place_m.0 - step.east_m, place_m.1 - step.north_m);
        line_m.push(place_m);
    }
    let (mut at, mut near) = (0, 0);
    let mut place_m = (0.0, 0.0);
    for step in &track.steps[way_out.clone()] {
        place_m = (place_m.0 + step.east_m, place_m.1 + step.north_m);
        let off_m = |k: usize| to_line_m(place_m, line_m[k], line_m[k + 1]);
        while at + 2 < line_m.len() && off_m(at + 1) <= off_m(at) {
            at += 1;
        }
        near += usize::from(at + 1 < line_m.len() && off_m(at) <= SAME_LINE_M);
    }
    near as f64 >= SAME_LINE_SHARE * way_out.len() as f64
}

/// How far a place is from the piece of line between two others, m.
fn to_line_m(place_m: (f64, f64), from_m: (f64, f64), to_m: (f64, f64)) -> f64 {
    let along = (to_m.0 - from_m.0, to_m.1 - from_m.1);
    let off = (place_m.0 - from_m.0, place_m.1 - from_m.1);
    let squared = along.0 * along.0 + along.1 * along.1;
    let u = (off.0 * along.0 + off.1 * along.1) / squared;
    let u = if u.is_finite() {
        u.clamp(0.0, 1.0)
    } else {
        0.0
    };
    f64::hypot(off.0 - u * along.0, off.1 - u * along.1)
}

/// Legs longer than anybody backs up, but those that a lane was backed out of: straight, between two longer ones or back
/// along the way in, which is longer.
fn long_legs(lengths_m: &[f64], straight: &[bool], same_line: &[bool]) -> Vec<bool> {
    let backs_out = |k: usize| {
        let longer = |beside: Option<usize>| {
            let beside_m = beside.and_then(|beside| lengths_m.get(beside));
            beside_m.is_some_and(|&m| m > lengths_m[k])
        };
        let between = longer(k.checked_sub(1)) && (same_line[k] || longer(k.checked_add(1)));
        straight[k] && lengths_m[k] <= LONGEST_BACK_OUT_M && between
    };
    let legs = 0..lengths_m.len();
    legs.map(|k| lengths_m[k] > LONGEST_REVERSE_M && !backs_out(k))
        .collect()
}

#[cfg(test)]
mod tests;
