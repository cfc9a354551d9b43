//! From readings of the total to litres for each step.
//!
//! The sum of the total is a curve over an axis that grows with what was to be sprayed: the litres of
//! the logged flow or, without one, the ground under open sections. A rate controller keeps the
//! ratio of the two, so the curve is as straight as the readings allow. Time with nothing to spray
//! hardly counts on the axis: it gets only what the readings leave no other place for.

use super::axis::{self, Axis};
use super::readings::{Reading, Readings};
use super::tick;
use super::tube::{self, Gate, Point};
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track};
use std::ops::Range;

/// The rate at the ends of a coarse total is that of so many ticks next to them (trade judgement).
const END_TICKS: usize = 8;

/// Litres of each step, and the tick of the total, both before the meter factor. `held_l` is what the
/// logged flow says; the readings are `delay_s` late.
pub(super) fn litres(
    track: &Track,
    boom: &Boom,
    delay_s: f64,
    readings: &Readings,
    held_l: Option<&[f64]>,
) -> (Vec<f64>, f64) {
    if readings.list.is_empty() {
        let held_l = held_l.map_or_else(|| vec![0.0; track.steps.len()], <[f64]>::to_vec);
        return (held_l, 0.0);
    }
    let mut axis = Axis::new(track, boom, held_l, delay_s);
    let tick_l = tick_l(track, boom, readings);
    let ratio = match held_l {
        Some(_) => 1.0,
        None => usual_ratio(track, readings, &axis),
    };
    let mut curve = sum_curve(track, readings, &axis, tick_l, (ratio, held_l.is_some()));
    let mut litres = along(&curve, &axis);
    if tick_l > 0.0 && hold_silences(track, readings, &litres, ratio, &mut axis) {
        curve = sum_curve(track, readings, &axis, tick_l, (ratio, held_l.is_some()));
        litres = along(&curve, &axis);
    }
    axis.sweep_traces(track, &mut litres);
    if let Some(held_l) = held_l {
        // Where the total says nothing the flow alone does.
        let read =
            curve.first().map_or(0.0, |point| point.h)..curve.last().map_or(0.0, |point| point.h);
        for (i, litres) in litres.iter_mut().enumerate() {
            if axis.at_fix[i + 1] <= read.start || axis.at_fix[i] >= read.end {
                *litres = held_l[i];
            }
        }
    }
    (litres, tick_l)
}

/// Litres of each step by the curve.
fn along(curve: &[Point], axis: &Axis) -> Vec<f64> {
    let mut sums = Sums::of(curve);
    let sums_l: Vec<f64> = axis.at_fix.iter().map(|&h| sums.at(h)).collect();
    sums_l.windows(2).map(|pair| pair[1] - pair[0]).collect()
}

/// Shortens the silences on the axis that got more than the total gained over them, to what that gain takes
/// at the usual ratio. Between two readings
/// of a coarse total a tick may always have begun, and a silence counts as sprayed through; but a silence over which
/// the total stood still must take nothing from the spraying beside it. True where there was one.
fn hold_silences(
    track: &Track,
    readings: &Readings,
    litres: &[f64],
    ratio: f64,
    axis: &mut Axis,
) -> bool {
    let mut shares = Vec::new();
    for pair in readings.list.windows(2).filter(|pair| !pair[1].anew) {
        let silent = |i: &usize| track.steps[*i].link != Link::Driven;
        let silent: Vec<usize> = (pair[0].fix..pair[1].fix).filter(silent).collect();
        let got_l: f64 = silent.iter().map(|&i| litres[i]).sum();
        let gain_l = pair[1].gain_l;
        if got_l > gain_l {
            let work = |&i: &usize| axis.at_fix[i + 1] - axis.at_fix[i];
            let usual_l = ratio * silent.iter().map(work).sum::<f64>();
            let share = if gain_l > 0.0 {
                (gain_l / usual_l).min(1.0)
            } else {
                0.0
            };
            shares.extend(silent.iter().map(|&i| (i, share)));
        }
    }
    axis.shorten(&shares);
    !shares.is_empty()
}

/// The tick of the total, L, before the meter factor; 0 for one that is as fine as can be.
pub(super) fn tick_l(track: &Track, boom: &Boom, readings: &Readings) -> f64 {
    tick::tick_l(readings, |k| {
        let steps = readings.list[k].fix..readings.list[k + 1].fix;
        axis::was_open(track, boom, steps)
    })
}

/// Corners of the sum over the axis, from the first reading to the last.
fn sum_curve(
    track: &Track,
    readings: &Readings,
    axis: &Axis,
    tick_l: f64,
    (ratio, has_flow): (f64, bool),
) -> Vec<Point> {
    let mut curve: Vec<Point> = Vec::new();
    let mut at = 0;
    for piece in readings.list.chunk_by(|_, next| !next.anew) {
        let gates = gates(track, &readings.list, at..at + piece.len(), axis, ratio);
        let Some(first) = gates.first().copied() else {
            continue;
        };
        // The piece's own sums begin with 0 at its first reading.
        let corners = even(&gates, tick_l);
        let base_l = match curve.last() {
            None => 0.0,
            Some(last) => {
                let gap_l = if piece[0].known {
                    piece[0].gain_l
                } else if has_flow {
                    first.h - last.h
                } else {
                    0.0
                };
                last.sum_l + gap_l - corners[0].sum_l
            }
        };
        // A reading that a delay moves before the curve's end has nothing of its own.
        let end_h = curve.last().map_or(f64::NEG_INFINITY, |last| last.h);
        curve.extend(
            corners
                .into_iter()
                .filter(|corner| corner.h > end_h)
                .map(|corner| Point {
                    h: corner.h,
                    sum_l: base_l + corner.sum_l,
                }),
        );
        at += piece.len();
    }
    curve
}

/// Gates of zero width (the tick comes later): the readings of a piece, and the ends of the silences
/// between two of them.
fn gates(
    track: &Track,
    list: &[Reading],
    piece: Range<usize>,
    axis: &Axis,
    ratio: f64,
) -> Vec<Point> {
    let mut gates: Vec<Point> = Vec::with_capacity(piece.len());
    let mut sum_l = 0.0;
    for k in piece.clone() {
        let h = axis.of_reading(&list[k]);
        if k > piece.start {
            let from = list[k - 1].fix;
            silences(
                track,
                from..list[k].fix,
                axis,
                ratio,
                (sum_l, list[k].gain_l),
                &mut gates,
            );
            sum_l += list[k].gain_l;
        }
        while gates.len() > 1 && gates[gates.len() - 1].h >= h && k > piece.start {
            gates.pop();
        }
        match gates.last() {
            // Several readings before the start of the track: the first one counts from there.
            Some(last) if last.h >= h => {}
            _ => gates.push(Point { h, sum_l }),
        }
    }
    gates
}

/// A gain that spans a silence and driven steps: those get what they sprayed at the usual ratio, at most
/// the gain, and the silence the rest.
fn silences(
    track: &Track,
    steps: Range<usize>,
    axis: &Axis,
    ratio: f64,
    (sum_l, gain_l): (f64, f64),
    gates: &mut Vec<Point>,
) {
    let silent = |i: &usize| track.steps[*i].link != Link::Driven;
    let count = steps.clone().filter(silent).count();
    if count == 0 || count == steps.len() || axis.delay_s.abs() > 0.0 {
        return;
    }
    let work = |i: usize| axis.at_fix[i + 1] - axis.at_fix[i];
    let driven: f64 = steps.clone().filter(|i| !silent(i)).map(work).sum();
    let silent_s: f64 = steps
        .clone()
        .filter(silent)
        .map(|i| track.steps[i].seconds)
        .sum();
    let driven_l = gain_l.min(ratio * driven);
    let rest_l = gain_l - driven_l;
    let mut sum_l = sum_l;
    for i in steps.clone() {
        let is_silent = silent(&i);
        if is_silent && i > steps.start {
            gates.push(Point {
                h: axis.at_fix[i],
                sum_l,
            });
        }
        sum_l += if is_silent {
            rest_l * track.steps[i].seconds / silent_s
        } else {
            driven_l * work(i) / driven
        };
        if is_silent && i + 1 < steps.end {
            gates.push(Point {
                h: axis.at_fix[i + 1],
                sum_l,
            });
        }
    }
}

/// Litres for each unit of the axis where the total ran on without a silence.
fn usual_ratio(track: &Track, readings: &Readings, axis: &Axis) -> f64 {
    let (mut gained_l, mut work) = (0.0, 0.0);
    for pair in readings.list.windows(2) {
        let steps = pair[0].fix..pair[1].fix;
        let driven = track.steps[steps.clone()]
            .iter()
            .all(|step| step.link == Link::Driven);
        if driven && !pair[1].anew {
            gained_l += pair[1].gain_l;
            work += axis.at_fix[steps.end] - axis.at_fix[steps.start];
        }
    }
    if work > 0.0 { gained_l / work } else { 0.0 }
}

/// The evenest curve from the first to the last of these readings of a total with this tick. The first
/// and the last are known to one tick too: the rate beside them says where in it they are.
fn even(points: &[Point], tick_l: f64) -> Vec<Point> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    if tick_l <= 0.0 || points.len() < 2 || last.sum_l <= first.sum_l {
        return points.to_vec();
    }
    // A tick shows at the first reading after it: on average half a reading late.
    let ticks: Vec<Point> = points
        .windows(2)
        .filter(|pair| pair[1].sum_l > pair[0].sum_l)
        .map(|pair| Point {
            h: f64::midpoint(pair[0].h, pair[1].h),
            sum_l: pair[1].sum_l,
        })
        .collect();
    let rate = |from: &Point, to: &Point| {
        if to.h > from.h {
            (to.sum_l - from.sum_l) / (to.h - from.h)
        } else {
            (last.sum_l - first.sum_l) / (last.h - first.h)
        }
    };
    let (head, tail) = (ticks[0], ticks[ticks.len() - 1]);
    let near_head = rate(&head, &ticks[END_TICKS.min(ticks.len() - 1)]);
    let near_tail = rate(&ticks[(ticks.len() - 1).saturating_sub(END_TICKS)], &tail);
    let within = |sum_l: f64, reading_l: f64| sum_l.clamp(reading_l, reading_l + tick_l);
    let start_l = within(head.sum_l - near_head * (head.h - first.h), first.sum_l);
    let end_l = within(tail.sum_l + near_tail * (last.h - tail.h), last.sum_l).max(start_l);
    let mut gates: Vec<Gate> = points[1..]
        .iter()
        .map(|point| Gate {
            h: point.h,
            least_l: point.sum_l,
            most_l: point.sum_l + tick_l,
        })
        .collect();
    if let Some(gate) = gates.last_mut() {
        (gate.least_l, gate.most_l) = (end_l, end_l);
    }
    let start = Point {
        h: first.h,
        sum_l: start_l,
    };
    tube::shortest(start, &gates)
}

/// Reads a curve from left to right.
struct Sums<'a> {
    curve: &'a [Point],
    next: usize,
}

impl<'a> Sums<'a> {
    fn of(curve: &'a [Point]) -> Self {
        Self { curve, next: 0 }
    }

    /// The sum at a place not before the last one asked for; flat outside the curve.
    fn at(&mut self, h: f64) -> f64 {
        while self.curve.get(self.next).is_some_and(|point| point.h <= h) {
            self.next += 1;
        }
        match (
            self.next.checked_sub(1).map(|k| self.curve[k]),
            self.curve.get(self.next),
        ) {
            (Some(from), Some(to)) => {
                from.sum_l + (to.sum_l - from.sum_l) * (h - from.h) / (to.h - from.h)
            }
            (Some(last), None) => last.sum_l,
            (None, first) => first.map_or(0.0, |first| first.sum_l),
        }
    }
}
