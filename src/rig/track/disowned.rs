//! Places that the receiver disowns: beside walls and under canopies it takes echoes for satellites, and puts the rig
//! metres aside.
//!
//! It mostly says so, by a dilution far over its usual one; else the place steps sideways as no rig can,
//! and after a while steps back. Such places count as missing. The way is then a curve from the last good
//! place to the next, with the speeds there, as if the log had been silent; but sections and meter are known,
//! so it is not a dropout.

use super::{Link, Step, Track, displacement_m, median};
use crate::geometry::place::LonLat;
use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::ops::Range;

/// A dilution over this many times the run's median (trade judgement) ...
const HDOP_TIMES: f64 = 1.6;
/// ... and over it by this is a receiver that doubts itself (trade judgement).
const HDOP_MORE: f64 = 0.8;
/// The longest that a curve bridges, s, and the farthest, m: a lane's end and a turn are longer (trade judgement).
const LONGEST_S: f64 = 14.0;
/// See [`LONGEST_S`] (trade judgement).
const FARTHEST_M: f64 = 30.0;
/// How far the true way may be from the curve in its middle, on each axis, one standard deviation: for each second of
/// it, m/s (by trial) ...
const EXTRA_M_S: f64 = 0.05;
/// ... and for each square of a second and m/s by which the speed has to change, 1/s: straight on a curve is right to
/// decimetres, in a turn of eight seconds it is 2 m off (by trial).
const EXTRA_1_S: f64 = 0.004;
/// How far off places are at least that no curve replaces, on each axis, one standard deviation, m: echoes of walls put a
/// rig 2 to 6 m aside (trade judgement).
const ECHO_M: f64 = 3.0;
/// Good places between bad ones that last no longer than this are part of them, s (trade judgement).
const BETWEEN_S: f64 = 2.0;
/// The velocity at the ends of the curve is that over this time, s, or over one step: over a longer one it would be
/// that of a chord in turns (tolerance).
const SPEED_S: f64 = 1.0;
/// A step to the side counts when it leads farther aside than ahead, and by this more, m: an antenna ahead of the
/// axle swings out by up to 40 degrees when the wheels go from lock to lock, and a step of a second holds all of it
/// (trade judgement) ...
const LEAST_SIDE_M: f64 = 1.0;
/// ... and over this many times the run's usual one: a noisy receiver is not disowned every second (trade judgement).
const SIDE_TIMES: f64 = 6.0;
/// The direction before and after it is the same to this; else the rig turned, or changed gear (trade judgement).
const SAME_RAD: f64 = 60.0 * PI / 180.0;
/// The step back undoes it to this share (trade judgement).
const BACK_SHARE: f64 = 0.4;
/// Steps longer than this hide what a rig can do in them, s (trade judgement).
const LONGEST_STEP_S: f64 = 2.0;

/// Places that count as missing.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Disowned {
    /// Fixes whose place is that of the curve.
    pub bridged: usize,
    /// Fixes that are left where they were logged: too many in a row.
    pub left: usize,
    /// Rows of them.
    pub rows: usize,
    /// Longest row, from good place to good place, s.
    pub longest_s: f64,
}

/// Puts the places that the receiver disowns onto curves, and says how much farther off they may be.
pub(super) fn bridge(track: &mut Track) {
    let mut bad = by_dilution(track);
    for row in stepped_aside(track) {
        bad[row].fill(true);
    }
    if !bad.contains(&true) {
        return;
    }
    track.extra_m = vec![0.0; track.fixes.len()];
    let stretches: Vec<Range<usize>> = track.stretches().collect();
    for stretch in stretches {
        for row in rows(track, &bad, stretch.clone()) {
            bridge_row(track, &stretch, row);
        }
    }
}

fn seconds(track: &Track, from: usize, to: usize) -> f64 {
    track.fixes[to].time.seconds_since(track.fixes[from].time)
}

/// Of each fix: its dilution is far over the run's.
fn by_dilution(track: &Track) -> Vec<bool> {
    let moving = track.fixes.iter().zip(&track.steps);
    let mut hdops: Vec<f64> = moving
        .filter(|(fix, step)| step.is_moving() && fix.hdop.is_finite())
        .map(|(fix, _)| f64::from(fix.hdop))
        .collect();
    let usual = median(&mut hdops);
    let limit = (HDOP_TIMES * usual).max(usual + HDOP_MORE);
    let over = |hdop: f32| !hdops.is_empty() && f64::from(hdop) > limit;
    track.fixes.iter().map(|fix| over(fix.hdop)).collect()
}

/// Rows of fixes between a step to the side and the step back.
fn stepped_aside(track: &Track) -> Vec<Range<usize>> {
    let sides: Vec<Option<Side>> = (0..track.steps.len()).map(|i| Side::of(track, i)).collect();
    let mut usual_m: Vec<f64> = sides
        .iter()
        .flatten()
        .map(|side| side.left_m.abs())
        .collect();
    let noise_m = SIDE_TIMES * median(&mut usual_m);
    let jumps = |i: usize| sides[i].filter(|side| side.left_m.abs() > side.limit_m.max(noise_m));
    let mut rows = Vec::new();
    let mut i = 0;
    while i < sides.len() {
        let Some(out) = jumps(i) else {
            i += 1;
            continue;
        };
        let back = (i + 1..sides.len())
            .take_while(|&k| {
                track.steps[k].link == Link::Driven && seconds(track, i, k) <= LONGEST_S
            })
            .find(|&k| {
                let undoes = |back: Side| {
                    let rest_m = (back.off_m.0 + out.off_m.0).hypot(back.off_m.1 + out.off_m.1);
                    rest_m < BACK_SHARE * out.off_m.0.hypot(out.off_m.1)
                };
                sides[k].is_some_and(undoes)
            });
        match back {
            Some(k) => {
                rows.push(i + 1..k + 1);
                i = k + 1;
            }
            None => i += 1,
        }
    }
    rows
}

/// How far a step leads to the side of the way before and after it.
#[derive(Debug, Clone, Copy)]
struct Side {
    /// To the left, m.
    left_m: f64,
    /// Off where the way before and after would have led, east and north, m: when it steps back the rig may
    /// point elsewhere.
    off_m: (f64, f64),
    /// What a rig may do in it, m.
    limit_m: f64,
}

impl Side {
    /// `None` where the way before or after is not known, or is another one.
    fn of(track: &Track, i: usize) -> Option<Self> {
        let known = |step: &&Step| step.link == Link::Driven && step.seconds <= LONGEST_STEP_S;
        let step = track.steps.get(i).filter(known)?;
        let velocity = |step: &Step| (step.east_m / step.seconds, step.north_m / step.seconds);
        let before = velocity(track.steps.get(i.checked_sub(1)?).filter(known)?);
        let after = velocity(track.steps.get(i + 1).filter(known)?);
        let turn_rad = after.1.atan2(after.0) - before.1.atan2(before.0);
        let mean = (
            f64::midpoint(before.0, after.0),
            f64::midpoint(before.1, after.1),
        );
        let speed_m_s = mean.0.hypot(mean.1);
        if crate::geometry::angle::wrapped_rad(turn_rad).abs() > SAME_RAD
            || speed_m_s < super::MOVING_M_S
        {
            return None;
        }
        Some(Self {
            off_m: (
                step.east_m - mean.0 * step.seconds,
                step.north_m - mean.1 * step.seconds,
            ),
            left_m: (mean.0 * step.north_m - mean.1 * step.east_m) / speed_m_s,
            limit_m: LEAST_SIDE_M + speed_m_s * step.seconds,
        })
    }
}

/// Rows of bad fixes of a stretch; short good pieces between two are part of them.
fn rows(track: &Track, bad: &[bool], stretch: Range<usize>) -> Vec<Range<usize>> {
    let mut rows: Vec<Range<usize>> = Vec::new();
    for i in stretch.filter(|&i| bad[i]) {
        match rows.last_mut() {
            Some(row) if seconds(track, row.end - 1, i) <= BETWEEN_S => row.end = i + 1,
            _ => rows.push(i..i + 1),
        }
    }
    rows
}

fn bridge_row(track: &mut Track, stretch: &Range<usize>, row: Range<usize>) {
    track.manner.disowned.rows += 1;
    let ends = row
        .start
        .checked_sub(1)
        .filter(|from| stretch.contains(from))
        .zip(Some(row.end).filter(|to| stretch.contains(to)));
    let curve = ends.and_then(|ends| Bridge::of(track, stretch, ends));
    let Some(curve) = curve else {
        track.manner.disowned.left += row.len();
        // On two axes together as far as the place stepped aside.
        let extra_m = (stepped_m(track, &row) * FRAC_1_SQRT_2).max(ECHO_M);
        track.extra_m[row].fill(extra_m as f32);
        return;
    };
    track.manner.disowned.bridged += row.len();
    let middle_m = curve.extra_m();
    for i in row {
        let u = seconds(track, curve.from, i) / curve.seconds;
        // Nothing at the ends, all in the middle.
        track.extra_m[i] = (middle_m * 4.0 * u * (1.0 - u)) as f32;
    }
    onto_curve(track, &curve);
}

/// How far the place steps aside at either end of a row of bad fixes, m; 0 where that does not show.
fn stepped_m(track: &Track, row: &Range<usize>) -> f64 {
    let ends = [row.start.checked_sub(1), row.end.checked_sub(1)];
    let sides = ends
        .into_iter()
        .flatten()
        .filter_map(|i| Side::of(track, i));
    sides
        .map(|side| side.off_m.0.hypot(side.off_m.1))
        .fold(0.0, f64::max)
}

/// From one good fix to another.
struct Bridge {
    from: usize,
    to: usize,
    seconds: f64,
    /// From end to end, east and north, m.
    chord: (f64, f64),
    /// Velocities at the ends, m/s.
    start: (f64, f64),
    end: (f64, f64),
}

impl Bridge {
    /// `None` where it is too long.
    fn of(track: &mut Track, stretch: &Range<usize>, (from, to): (usize, usize)) -> Option<Self> {
        let whole_s = seconds(track, from, to);
        let longest_s = &mut track.manner.disowned.longest_s;
        *longest_s = longest_s.max(whole_s);
        let chord = displacement_m(track.fixes[from].place, track.fixes[to].place);
        let mean = (chord.0 / whole_s, chord.1 / whole_s);
        let start = velocity(track, from, (stretch.start..from).rev()).unwrap_or(mean);
        let end = velocity(track, to, to + 1..stretch.end).unwrap_or(mean);
        let speed_m_s = f64::midpoint(start.0.hypot(start.1), end.0.hypot(end.1));
        let way_m = chord.0.hypot(chord.1).max(speed_m_s * whole_s);
        (whole_s <= LONGEST_S && way_m <= FARTHEST_M).then_some(Self {
            from,
            to,
            seconds: whole_s,
            chord,
            start,
            end,
        })
    }

    /// How far the true way may be from it in its middle, m.
    fn extra_m(&self) -> f64 {
        let turned = (self.end.0 - self.start.0).hypot(self.end.1 - self.start.1);
        let off = |start: f64, end: f64, chord_m: f64| start + end - 2.0 * chord_m / self.seconds;
        let detour = off(self.start.0, self.end.0, self.chord.0).hypot(off(
            self.start.1,
            self.end.1,
            self.chord.1,
        ));
        EXTRA_M_S * self.seconds + EXTRA_1_S * self.seconds.powi(2) * (turned + detour)
    }
}

/// Puts the fixes between two good ones onto the cubic by time with these velocities at its ends, m/s.
fn onto_curve(track: &mut Track, curve: &Bridge) {
    let &Bridge {
        from,
        to,
        seconds: whole_s,
        chord,
        start,
        end,
    } = curve;
    let begin = track.fixes[from].place;
    // Metres of a ten-thousandth of a degree here: a bridge is short beside the earth.
    let beside = LonLat {
        lon_deg: begin.lon_deg + 1e-4,
        lat_deg: begin.lat_deg + 1e-4,
    };
    let (east_m, north_m) = displacement_m(begin, beside);
    for i in from + 1..to {
        let u = seconds(track, from, i) / whole_s;
        let (u2, u3) = (u * u, u * u * u);
        let (h10, h01, h11) = (u3 - 2.0 * u2 + u, 3.0 * u2 - 2.0 * u3, u3 - u2);
        let at = |chord_m: f64, start_m_s: f64, end_m_s: f64| {
            h01 * chord_m + whole_s * (h10 * start_m_s + h11 * end_m_s)
        };
        let lon_deg = begin.lon_deg + at(chord.0, start.0, end.0) / east_m * 1e-4;
        track.fixes[i].place = LonLat {
            lon_deg: (lon_deg + 540.0).rem_euclid(360.0) - 180.0,
            lat_deg: begin.lat_deg + at(chord.1, start.1, end.1) / north_m * 1e-4,
        };
    }
    for i in from..to {
        let (east_m, north_m) = displacement_m(track.fixes[i].place, track.fixes[i + 1].place);
        (track.steps[i].east_m, track.steps[i].north_m) = (east_m, north_m);
    }
}

/// Velocity at a good fix over the good ones beside it, nearest first, m/s; `None` where there are none.
fn velocity(track: &Track, fix: usize, beside: impl Iterator<Item = usize>) -> Option<(f64, f64)> {
    let mut good = beside.take_while(|&i| track.extra_m[i] <= 0.0);
    let nearest = good.next()?;
    let near = good.take_while(|&i| seconds(track, fix, i).abs() <= SPEED_S);
    let other = near.last().unwrap_or(nearest);
    let (east_m, north_m) = displacement_m(track.fixes[fix].place, track.fixes[other].place);
    let seconds = seconds(track, fix, other);
    Some((east_m / seconds, north_m / seconds))
}

#[cfg(test)]
mod tests;
