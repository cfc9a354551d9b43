//! Bent lanes: along edges that bend so gently that a rig can follow them, pass inside pass.
//!
//! The rear axle follows the edge's contour, its corners rounded as widely as the contour allows, never tighter than the
//! rig turns. The boom hangs behind the axle and swings a little outward in turns: what it passes over is what is laid.
//! Where the contour turns too tightly a lane ends; the next one begins backed up to the corner.

use super::field::{Field, LEAST_LANE_M};
use super::lane::{Contours, Lane, Station};
use super::vehicle::Vehicle;
use crate::geometry::angle::wrapped_rad;
use crate::geometry::plane::Xy;
use geo::{LineString, Simplify};
use std::f64::consts::PI;

/// Contours are thinned to this, m: drawn lines are no more accurate (tolerance).
const THINNED_M: f64 = 0.1;
/// Rounding a corner may stray this far from the contour, m: a third of a lap (by trial).
const CUT_IN_M: f64 = 0.1;
/// Least distance between two places that are checked, m (tolerance).
const STEP_M: f64 = 0.25;
/// Most turn between two stations: within 3 degrees a reader of the plan file takes the chord (tolerance).
const STATION_RAD: f64 = 1.9 * PI / 180.0;
/// Most passes inside one another (by trial).
const MOST_PASSES: usize = 6;
/// Where the first pass may lie, in passes off the edge (by trial).
const FIRST_PASSES: [f64; 3] = [0.0, 0.2, 0.4];
/// A lane over this share of a run need not be tried the other way around (by trial).
const WHOLE_SHARE: f64 = 0.9;
/// The inner end of the boom keeps at least this far from the middle of the tightest turn, m: nearer, it nearly stands
/// still and lays too much (trade judgement).
const LEAST_INNER_M: f64 = 0.5;

/// All contours of a field's ground.
pub(super) fn contours(field: &Field, lap_m: f64) -> Contours {
    let mut found = Contours::default();
    let Some(radius_m) = tightest_m(field.vehicle) else {
        return found;
    };
    let boom_m = field.vehicle.boom_m();
    let spacing_m = (boom_m - lap_m).max(boom_m / 10.0);
    let at = |passes: f64| {
        let inside = field.target.offset(-(boom_m / 2.0 + passes * spacing_m));
        let rings = inside.rings();
        let runs = rings
            .iter()
            .flat_map(|ring| runs(&thinned(ring), radius_m, lap_m));
        runs.flat_map(|run| along(field, &run))
            .collect::<Vec<Lane>>()
    };
    let length_m = |lanes: &[Lane]| lanes.iter().map(Lane::length_m).sum::<f64>();
    // In a tight curve the body's front corner swings out farther than the boom: the first pass keeps off by as much.
    let firsts = FIRST_PASSES.map(|passes| (passes, at(passes)));
    let Some((base, _)) = firsts
        .iter()
        .filter(|(_, lanes)| !lanes.is_empty())
        .max_by(|a, b| {
            length_m(&a.1)
                .total_cmp(&length_m(&b.1))
                .then(b.0.total_cmp(&a.0))
        })
    else {
        return found;
    };
    let base = *base;
    found
        .pool
        .extend(firsts.into_iter().flat_map(|(_, lanes)| lanes));
    for half in 0..2 * MOST_PASSES {
        let lanes = at(base + half as f64 / 2.0);
        if lanes.is_empty() {
            break;
        }
        if half > 0 {
            found.pool.extend(lanes.iter().cloned());
        }
        if half % 2 == 0 {
            found.passes.push(lanes);
        }
    }
    found
}

/// Radius of the rear axle's tightest turn in which the boom still lays well; `None` where it is not known or the boom is
/// towed.
fn tightest_m(vehicle: &Vehicle) -> Option<f64> {
    if vehicle.towed {
        return None;
    }
    let least_m = vehicle.half_boom_m() + LEAST_INNER_M;
    vehicle.radius_m.map(|radius_m| radius_m.max(least_m))
}

fn thinned(ring: &[Xy]) -> Vec<Xy> {
    let closed = ring.iter().chain(ring.first());
    let line = LineString::from(
        closed
            .map(|point| (point.x_m, point.y_m))
            .collect::<Vec<_>>(),
    );
    let mut thin: Vec<Xy> = line
        .simplify(THINNED_M)
        .coords()
        .map(|c| Xy::new(c.x, c.y))
        .collect();
    thin.pop();
    thin
}

/// A part of a contour that can be followed.
struct Run {
    points: Vec<Xy>,
    /// Of each point: the radius that rounds it, m; 0 at the ends.
    radii_m: Vec<f64>,
    closed: bool,
}

/// Parts of a ring between corners that are too tight, those with a bend.
fn runs(ring: &[Xy], radius_m: f64, lap_m: f64) -> Vec<Run> {
    let count = ring.len();
    if count < 3 {
        return Vec::new();
    }
    let way = |k: usize| ring[(k + 1) % count].minus(ring[k]);
    let turn = |k: usize| {
        let (a, b) = (way((k + count - 1) % count), way(k));
        a.cross(b).atan2(a.dot(b)).abs()
    };
    let tangent_m = |k: usize| radius_m * (turn(k) / 2.0).tan();
    let cut_in_m = |k: usize| radius_m * (1.0 / (turn(k) / 2.0).cos() - 1.0);
    let mut tight: Vec<bool> = (0..count)
        .map(|k| turn(k) > PI / 2.0 || cut_in_m(k) > lap_m.max(CUT_IN_M))
        .collect();
    for k in 0..count {
        let next = (k + 1) % count;
        if !tight[k] && !tight[next] && tangent_m(k) + tangent_m(next) > way(k).length_m() {
            tight[if turn(k) > turn(next) { k } else { next }] = true;
        }
    }
    // As wide as neighbours leave room for, as tight as the contour asks for.
    let rounding_m = |k: usize| {
        let share = |edge: usize, other: usize| {
            let free_m = way(edge).length_m();
            if tight[other] { free_m } else { free_m / 2.0 }
        };
        let room_m =
            share(k, (k + 1) % count).min(share((k + count - 1) % count, (k + count - 1) % count));
        let half_rad = turn(k) / 2.0;
        let widest_m = room_m / half_rad.tan();
        (CUT_IN_M / (1.0 / half_rad.cos() - 1.0))
            .min(widest_m)
            .max(radius_m)
    };
    let Some(first) = tight.iter().position(|&tight| tight) else {
        return vec![closed(ring, rounding_m)];
    };
    let mut found = Vec::new();
    let mut start = first;
    for step in 1..=count {
        let k = (first + step) % count;
        if !tight[k] {
            continue;
        }
        let inner = (k + count - start) % count;
        let inner = if inner == 0 { count } else { inner };
        if inner >= 2 {
            let corners = (0..=inner).map(|j| (start + j) % count);
            let mut radii_m: Vec<f64> = corners.clone().map(rounding_m).collect();
            (radii_m[0], radii_m[inner]) = (0.0, 0.0);
            found.push(Run {
                points: corners.map(|j| ring[j]).collect(),
                radii_m,
                closed: false,
            });
        }
        start = k;
    }
    found
}

/// A whole ring, from the middle of its longest edge around to it.
fn closed(ring: &[Xy], rounding_m: impl Fn(usize) -> f64) -> Run {
    let count = ring.len();
    let length_m = |k: usize| ring[(k + 1) % count].minus(ring[k]).length_m();
    let longest = (0..count)
        .max_by(|&a, &b| length_m(a).total_cmp(&length_m(b)))
        .unwrap_or(0);
    let middle = super::edges::middle((ring[longest], ring[(longest + 1) % count]));
    let corners = (1..=count).map(|j| (longest + j) % count);
    let mut points = vec![middle];
    points.extend(corners.clone().map(|k| ring[k]));
    points.push(middle);
    let mut radii_m = vec![0.0];
    radii_m.extend(corners.map(rounding_m));
    radii_m.push(0.0);
    Run {
        points,
        radii_m,
        closed: true,
    }
}

/// Lanes along a run, in the direction in which more of it can be driven.
fn along(field: &Field, run: &Run) -> Vec<Lane> {
    let run_m: f64 = run
        .points
        .windows(2)
        .map(|pair| pair[1].minus(pair[0]).length_m())
        .sum();
    let length_m = |lanes: &[Lane]| lanes.iter().map(Lane::length_m).sum::<f64>();
    let onward = lanes(field, &stations(field.vehicle, run));
    // One lane over nearly all of it is as good as it gets.
    if onward.len() == 1 && length_m(&onward) >= WHOLE_SHARE * run_m {
        return onward;
    }
    let reversed = Run {
        points: run.points.iter().rev().copied().collect(),
        radii_m: run.radii_m.iter().rev().copied().collect(),
        closed: run.closed,
    };
    let backward = lanes(field, &stations(field.vehicle, &reversed));
    if length_m(&backward) > length_m(&onward) {
        backward
    } else {
        onward
    }
}

/// Axle and heading along a run, a small step apart, as places of the boom.
fn stations(vehicle: &Vehicle, run: &Run) -> Vec<Station> {
    let mut walk = Walk {
        boom_ahead_m: vehicle.boom_ahead_m + vehicle.middle_ahead_m,
        stations: Vec::new(),
    };
    let count = run.points.len();
    let heading = |k: usize| {
        let way = run.points[k + 1].minus(run.points[k]);
        way.y_m.atan2(way.x_m)
    };
    // Straight on at either end, as far as a rig can stand.
    let beyond_m = if run.closed {
        0.0
    } else {
        vehicle.length_m + vehicle.boom_m()
    };
    let mut from = run.points[0].plus(Xy::at_angle(heading(0)), -beyond_m);
    for k in 1..count - 1 {
        let (before_rad, after_rad) = (heading(k - 1), heading(k));
        let turn_rad = (after_rad - before_rad + PI).rem_euclid(2.0 * PI) - PI;
        let tangent_m = run.radii_m[k] * (turn_rad.abs() / 2.0).tan();
        let (enter, leave) = (
            run.points[k].plus(Xy::at_angle(before_rad), -tangent_m),
            run.points[k].plus(Xy::at_angle(after_rad), tangent_m),
        );
        walk.straight(from, enter, before_rad);
        walk.arc(enter, before_rad, turn_rad, run.radii_m[k]);
        from = leave;
    }
    let last_rad = heading(count - 2);
    let to = run.points[count - 1].plus(Xy::at_angle(last_rad), beyond_m);
    walk.straight(from, to, last_rad);
    walk.stations
}

struct Walk {
    /// The boom ahead of the axle, m.
    boom_ahead_m: f64,
    stations: Vec<Station>,
}

impl Walk {
    fn add(&mut self, axle: Xy, heading_rad: f64) {
        let at = axle.plus(Xy::at_angle(heading_rad), self.boom_ahead_m);
        // Headings run on from one station to the next, past half a turn too: places in between are interpolated.
        let heading_rad = self.stations.last().map_or(heading_rad, |last| {
            last.heading_rad + wrapped_rad(heading_rad - last.heading_rad)
        });
        let along_m = self
            .stations
            .last()
            .map_or(0.0, |last| last.along_m + at.minus(last.at).length_m());
        self.stations.push(Station {
            along_m,
            at,
            heading_rad,
        });
    }

    fn straight(&mut self, from: Xy, to: Xy, heading_rad: f64) {
        let length_m = to.minus(from).dot(Xy::at_angle(heading_rad)).max(0.0);
        let count = (length_m / STEP_M).ceil() as usize;
        let start = usize::from(!self.stations.is_empty());
        for k in start..=count {
            let share = k as f64 / (count.max(1)) as f64;
            self.add(
                from.plus(Xy::at_angle(heading_rad), share * length_m),
                heading_rad,
            );
        }
    }

    fn arc(&mut self, from: Xy, heading_rad: f64, turn_rad: f64, radius_m: f64) {
        let count = (turn_rad.abs() / STATION_RAD)
            .max(radius_m * turn_rad.abs() / STEP_M)
            .ceil() as usize;
        let side = turn_rad.signum();
        let middle = from.plus(Xy::at_angle(heading_rad + side * PI / 2.0), radius_m);
        for k in 1..=count {
            let turned_rad = heading_rad + turn_rad * k as f64 / count as f64;
            let axle = middle.plus(Xy::at_angle(turned_rad - side * PI / 2.0), radius_m);
            self.add(axle, turned_rad);
        }
    }
}

/// Stretches of a walk where the rig fits, with their sections; only those that bend.
fn lanes(field: &Field, stations: &[Station]) -> Vec<Lane> {
    let fitting: Vec<(bool, Station)> = stations
        .iter()
        .map(|&station| (field.body.fits(station), station))
        .collect();
    fitting
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|part| part[0].0 && part.len() > 1)
        .filter_map(|part| {
            let mut lane = Lane {
                stations: straightened(part),
                open: Vec::new(),
                either_way: false,
                edge_pass: true,
            };
            if lane.is_straight() {
                return None;
            }
            lane.open = field.switches.open(field.vehicle, &lane);
            let (from_m, to_m) = lane.busy_m()?;
            lane.cut(from_m, to_m);
            (to_m - from_m >= LEAST_LANE_M && !lane.is_straight()).then_some(lane)
        })
        .collect()
}

/// The stations, less those that the boom passes on a straight line anyway.
fn straightened(part: &[(bool, Station)]) -> Vec<Station> {
    /// Headings this near to each other are one (tolerance).
    const SAME_RAD: f64 = 1e-9;
    let from_m = part[0].1.along_m;
    let mut kept: Vec<Station> = Vec::with_capacity(part.len());
    for (k, (_, station)) in part.iter().enumerate() {
        let turns = |other: Option<&(bool, Station)>| {
            other
                .is_none_or(|(_, other)| (other.heading_rad - station.heading_rad).abs() > SAME_RAD)
        };
        let before = k.checked_sub(1).and_then(|k| part.get(k));
        if turns(before) || turns(part.get(k + 1)) {
            kept.push(Station {
                along_m: station.along_m - from_m,
                ..*station
            });
        }
    }
    kept
}
