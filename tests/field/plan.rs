//! How drivers take a lot: laps along the edge, lanes, spirals, corners backed into, cars and islands bent round.

use std::f64::consts::FRAC_PI_2;

use crate::chance::Chance;
use crate::drive::{Driver, Move};
use crate::ground::Use;
use crate::plane::{P, ahead, distance};
use crate::route::{Node, round_things, shortest_turn};

/// A line that the boom's centre is to follow with liquid.
pub(crate) struct Stroke {
    pub(crate) from: P,
    pub(crate) to: P,
    /// Begins by backing the boom to `from`.
    pub(crate) back_in: bool,
    /// The turn that leads there is sprayed too.
    pub(crate) wet_turn: bool,
    /// Driven in dry and backed out of, spraying.
    pub(crate) push: bool,
}

/// The order of work on a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pattern {
    LapsThenLanes(usize),
    Lanes,
    Spiral,
}

/// Strokes over a lot between two values of x.
pub(crate) fn lot_strokes(
    driver: &Driver,
    span: (f64, f64),
    pattern: Pattern,
    chance: &mut Chance,
) -> Vec<Stroke> {
    let zone = &driver.site.zones[0];
    let ring = clipped(&zone.ring, span);
    let width = driver.rig.width_m();
    let spacing = width - chance.even(0.25, 0.25 + 0.05 * width);
    let outside = chance.even(-0.25, 0.3); // of the boom's end over the line
    let mut strokes = Vec::new();
    let laps = match pattern {
        Pattern::LapsThenLanes(laps) => laps,
        Pattern::Lanes => 0,
        Pattern::Spiral => 30,
    };
    let mut done = 0;
    for lap in 0..laps {
        let depth = width / 2.0 - outside + spacing * lap as f64;
        let Some(inner) = inset(&ring, depth) else {
            break;
        };
        lap_strokes(driver, &inner, lap == 0, &mut strokes);
        done = lap + 1;
    }
    if pattern == Pattern::Spiral {
        diagonals(&ring, width, &mut strokes);
        return strokes;
    }
    let depth = if done == 0 {
        -outside
    } else {
        spacing * done as f64 - outside + (width - spacing) / 2.0 - 0.3
    };
    lane_strokes(driver, &ring, depth, spacing, chance, &mut strokes);
    strokes
}

/// The part of a ring between two values of x (Sutherland and Hodgman's clipping; lots are simple enough).
fn clipped(ring: &[P], span: (f64, f64)) -> Vec<P> {
    let mut points = ring.to_vec();
    for (x, side) in [(span.0, 1.0), (span.1, -1.0)] {
        let mut kept = Vec::new();
        for (i, b) in points.iter().enumerate() {
            let a = points[(i + points.len() - 1) % points.len()];
            let (ia, ib) = ((a[0] - x) * side >= 0.0, (b[0] - x) * side >= 0.0);
            if ia != ib {
                kept.push([x, a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1])]);
            }
            if ib {
                kept.push(*b);
            }
        }
        points = kept;
    }
    points
}

/// The ring `depth` farther in (counter-clockwise rings); `None` where a side would vanish.
fn inset(ring: &[P], depth: f64) -> Option<Vec<P>> {
    let count = ring.len();
    let side = |i: usize| {
        let (a, b) = (ring[i % count], ring[(i + 1) % count]);
        ((b[1] - a[1]).atan2(b[0] - a[0]), a)
    };
    let mut out = Vec::new();
    for i in 0..count {
        let ((d0, p0), (d1, p1)) = (side(i + count - 1), side(i));
        let a = ahead(p0, d0 + FRAC_PI_2, depth);
        let b = ahead(p1, d1 + FRAC_PI_2, depth);
        let cross = d0.cos() * d1.sin() - d0.sin() * d1.cos();
        if cross.abs() < 0.05 {
            return None;
        }
        let s = ((b[0] - a[0]) * d1.sin() - (b[1] - a[1]) * d1.cos()) / cross;
        out.push(ahead(a, d0, s));
    }
    let sound = (0..count).all(|i| {
        let (d, _) = side(i);
        let (a, b) = (out[i], out[(i + 1) % count]);
        (b[0] - a[0]) * d.cos() + (b[1] - a[1]) * d.sin() > 2.0
    });
    sound.then_some(out)
}

/// Once round: each side straight; the first lap backs into its corners, the others round them.
fn lap_strokes(driver: &Driver, inner: &[P], first: bool, strokes: &mut Vec<Stroke>) {
    let radius = driver.rig.least_radius_m;
    let behind = driver.rig.boom_behind_m();
    let half = driver.rig.width_m() / 2.0;
    for (i, a) in inner.iter().enumerate() {
        let b = inner[(i + 1) % inner.len()];
        let length = distance(*a, b);
        let direction = (b[1] - a[1]).atan2(b[0] - a[0]);
        let last = i + 1 == inner.len();
        let to = if last && first {
            length + half
        } else {
            (length - radius - behind).max(1.0)
        };
        let from = if first {
            -half
        } else {
            (radius - behind).min(length / 2.0)
        };
        if to > from + 1.0 {
            strokes.push(Stroke {
                from: ahead(*a, direction, from),
                to: ahead(*a, direction, to),
                back_in: first,
                wet_turn: i > 0,
                push: false,
            });
        }
    }
}

/// From each corner inward, over the crescents that rounded corners leave.
fn diagonals(ring: &[P], width: f64, strokes: &mut Vec<Stroke>) {
    let centre = [
        ring.iter().map(|p| p[0]).sum::<f64>() / ring.len() as f64,
        ring.iter().map(|p| p[1]).sum::<f64>() / ring.len() as f64,
    ];
    for (i, p) in ring.iter().enumerate() {
        let (Some(outer), Some(deep)) = (inset(ring, width), inset(ring, 2.0 * width)) else {
            return;
        };
        let direction = (deep[i][1] - outer[i][1]).atan2(deep[i][0] - outer[i][0]);
        let length = distance(*p, centre) * 0.8;
        strokes.push(Stroke {
            from: outer[i],
            to: ahead(outer[i], direction, length),
            back_in: true,
            wet_turn: false,
            push: false,
        });
    }
}

/// Lanes along x over a ring, `depth` inside it, every second one first where turns need the room.
fn lane_strokes(
    driver: &Driver,
    ring: &[P],
    depth: f64,
    spacing: f64,
    chance: &mut Chance,
    strokes: &mut Vec<Stroke>,
) {
    let width = driver.rig.width_m();
    let Some(inner) = (if depth.abs() < 0.01 {
        Some(ring.to_vec())
    } else {
        inset(ring, depth)
    }) else {
        return;
    };
    let (low, high) = inner
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
            (l.min(p[1]), h.max(p[1]))
        });
    let room = (high - low - width).max(0.0);
    let count = (room / spacing).ceil() as usize + 1;
    let rows: Vec<f64> = (0..count)
        .map(|k| low + width / 2.0 + room * k as f64 / (count - 1).max(1) as f64)
        .collect();
    let order: Vec<usize> = if chance.yes(0.7) {
        (0..count).step_by(2).chain((1..count).step_by(2)).collect()
    } else {
        (0..count).collect()
    };
    let flips = chance.yes(0.5);
    for (turn, k) in order.into_iter().enumerate() {
        for (a, b) in crossings(&inner, rows[k], width) {
            let (from, to) = ([a, rows[k]], [b, rows[k]]);
            let (from, to) = if (turn % 2 == 0) == flips {
                (to, from)
            } else {
                (from, to)
            };
            strokes.push(Stroke {
                from,
                to,
                back_in: false,
                wet_turn: false,
                // Every third lane is one that ends at a wall.
                push: driver.rig.pushes && turn % 3 == 1,
            });
        }
    }
}

/// Where a lane lies inside a ring: as far as any of three lines across the boom reaches.
fn crossings(ring: &[P], y: f64, width: f64) -> Vec<(f64, f64)> {
    let cuts = |y: f64| {
        let mut xs: Vec<f64> = (0..ring.len())
            .filter_map(|i| {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                ((a[1] <= y) != (b[1] <= y))
                    .then(|| a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
            })
            .collect();
        xs.sort_by(f64::total_cmp);
        xs.chunks_exact(2).map(|c| (c[0], c[1])).collect::<Vec<_>>()
    };
    let mut spans = cuts(y);
    for side in [-0.45, 0.45] {
        for (a, b) in cuts(y + side * width) {
            match spans.iter_mut().find(|s| s.0 < b && a < s.1) {
                Some(span) => *span = (span.0.min(a), span.1.max(b)),
                None => spans.push((a, b)),
            }
        }
    }
    spans
}

/// Lanes up and down a drive or along a walk.
pub(crate) fn strip_strokes(driver: &Driver, number: usize) -> Vec<Stroke> {
    let zone = &driver.site.zones[number];
    let (a, c) = (zone.ring[0], zone.ring[2]);
    let upright = zone.kind == Use::Drive;
    let across = if upright { c[0] - a[0] } else { c[1] - a[1] };
    let width = driver.rig.width_m();
    let count = if zone.kind == Use::Walk {
        1
    } else {
        ((across - width - 0.2) / (0.9 * width)).ceil().max(0.0) as usize + 1
    };
    (0..count)
        .map(|k| {
            let at = if count == 1 {
                across / 2.0
            } else {
                width / 2.0 - 0.1 + (across + 0.2 - width) * k as f64 / (count - 1) as f64
            };
            let (from, to) = if upright {
                ([a[0] + at, a[1]], [a[0] + at, c[1]])
            } else {
                ([a[0], a[1] + at], [c[0], a[1] + at])
            };
            let (from, to) = if k % 2 == 0 { (from, to) } else { (to, from) };
            Stroke {
                from,
                to,
                back_in: false,
                wet_turn: false,
                push: false,
            }
        })
        .collect()
}

/// The moves of a stroke from where the rig stands.
pub(crate) fn moves(driver: &Driver, stroke: &Stroke, lane: u32) -> Vec<Move> {
    if stroke.push {
        return pushed(driver, stroke, lane);
    }
    let rig = driver.rig;
    let direction = (stroke.to[1] - stroke.from[1]).atan2(stroke.to[0] - stroke.from[0]);
    let behind = rig.boom_behind_m();
    let settle = if rig.hitch.is_some() { 6.0 } else { 2.5 };
    let start = ahead(
        stroke.from,
        direction,
        behind - if stroke.back_in { 0.3 } else { settle },
    );
    let end = ahead(stroke.to, direction, behind + 0.8);
    let clearance = rig.width_m() / 2.0 + 0.4;
    let mut things: Vec<(Vec<P>, f64)> = driver
        .site
        .cars
        .iter()
        .map(|c| (c.clone(), clearance))
        .collect();
    things.extend(driver.site.islands.iter().map(|i| (i.clone(), 1.5)));
    let nodes = round_things(start, end, &things, rig.least_radius_m, 7.0);
    let length: f64 = nodes.windows(2).map(|n| distance(n[0].p, n[1].p)).sum();
    let lead = if stroke.back_in { 0.0 } else { settle - 0.6 };
    let here = (driver.pose.axle, driver.pose.heading);
    let forward = |nodes: Vec<Node>, spray, lane| {
        let speed_mps = rig.lane_speed_mps;
        Move {
            nodes,
            reverse: false,
            speed_mps,
            spray,
            lane,
        }
    };
    let lane_move = forward(nodes.clone(), Some((lead, length - 0.4)), lane);
    let wet_turn = |turn: &[Node]| {
        let short = (turn.len() as f64) * crate::route::STEP_M < 2.5 * rig.least_radius_m + 4.0; // no loops
        (stroke.wet_turn && short).then_some((0.0, 1e9))
    };
    if !stroke.back_in {
        let turn = shortest_turn(
            here,
            (nodes[0].p, nodes[0].direction),
            rig.least_radius_m * 1.1,
        );
        let spray = wet_turn(&turn);
        return vec![forward(turn, spray, 0), lane_move];
    }
    let reach = (rig.width_m() / 2.0 + rig.least_radius_m * 1.1 - behind).max(7.0);
    let far = nodes[((reach / crate::route::STEP_M) as usize).min(nodes.len() - 1)];
    let beyond = ahead(
        far.p,
        far.direction,
        if rig.hitch.is_some() { 4.0 } else { 0.0 },
    );
    let mut turn = shortest_turn(here, (far.p, far.direction), rig.least_radius_m * 1.1);
    if rig.hitch.is_some() {
        turn.extend(crate::route::straight(far.p, beyond));
    }
    let mut back = crate::route::straight(beyond, nodes[0].p);
    if distance(beyond, nodes[0].p) < 0.5 {
        back.truncate(1);
    }
    let reverse = Move {
        nodes: back,
        reverse: true,
        speed_mps: 1.4,
        spray: None,
        lane: 0,
    };
    let spray = wet_turn(&turn);
    vec![forward(turn, spray, 0), reverse, lane_move]
}

/// In over the lane with the boom closed, and backward out of it, the trailer first, spraying.
fn pushed(driver: &Driver, stroke: &Stroke, lane: u32) -> Vec<Move> {
    let rig = driver.rig;
    let direction = (stroke.to[1] - stroke.from[1]).atan2(stroke.to[0] - stroke.from[0]);
    let heading = direction + std::f64::consts::PI;
    let behind = rig.boom_behind_m();
    // The trailer leads by so much: its boom is over the stroke's ends when the axle is this far short of them.
    let start = ahead(stroke.from, direction, -behind - 4.0);
    let end = ahead(stroke.to, direction, -behind + 0.8);
    let far = ahead(stroke.to, direction, 8.0);
    let turn = shortest_turn(
        (driver.pose.axle, driver.pose.heading),
        (far, heading),
        rig.least_radius_m * 1.1,
    );
    let way = |nodes: Vec<Node>, reverse, speed_mps, spray, lane| Move {
        nodes,
        reverse,
        speed_mps,
        spray,
        lane,
    };
    let out = crate::route::straight(start, end);
    let length = distance(start, end);
    vec![
        way(turn, false, rig.lane_speed_mps, None, 0),
        way(
            crate::route::straight(far, start),
            false,
            rig.lane_speed_mps,
            None,
            0,
        ),
        way(out, true, 1.4, Some((1.0, length - 0.4)), lane),
    ]
}
