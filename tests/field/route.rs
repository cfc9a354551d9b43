//! Paths of the rear axle: straights, bends round what stands in the way, shortest turns between two poses.
//!
//! The shortest turns are those of L. E. Dubins, American Journal of Mathematics 79 (1957), from memory.

use std::f64::consts::{PI, TAU};

use crate::plane::{P, ahead, distance};

/// Distance between two nodes.
pub(crate) const STEP_M: f64 = 0.2;

/// A point of a path, its direction of travel and its curvature to the left.
#[derive(Clone, Copy)]
pub(crate) struct Node {
    pub(crate) p: P,
    pub(crate) direction: f64,
    pub(crate) curvature: f64,
}

/// A straight path.
pub(crate) fn straight(from: P, to: P) -> Vec<Node> {
    let direction = (to[1] - from[1]).atan2(to[0] - from[0]);
    let length = distance(from, to);
    let count = (length / STEP_M).ceil().max(1.0);
    (0..=count as usize)
        .map(|i| Node {
            p: ahead(from, direction, length * i as f64 / count),
            direction,
            curvature: 0.0,
        })
        .collect()
}

/// A straight path that bends round boxes (corners of convex rings), by `clearance` from its middle line and with turns of
/// `radius`. What would push it aside by more than `most` is left standing in the way.
pub(crate) fn round_things(
    from: P,
    to: P,
    things: &[(Vec<P>, f64)],
    radius: f64,
    most: f64,
) -> Vec<Node> {
    let line = straight(from, to);
    let direction = line[0].direction;
    let length = distance(from, to);
    let (sin, cos) = direction.sin_cos();
    let mut shifts: Vec<[f64; 4]> = Vec::new(); // from, to, ramp, shift
    for (ring, clearance) in things {
        let mut span = [
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
        ];
        for p in ring {
            let d = [p[0] - from[0], p[1] - from[1]];
            let (along, across) = (cos * d[0] + sin * d[1], -sin * d[0] + cos * d[1]);
            span = [
                span[0].min(along),
                span[1].max(along),
                span[2].min(across),
                span[3].max(across),
            ];
        }
        let (low, high) = (span[2] - clearance, span[3] + clearance);
        let shift = if high < -low { high } else { low };
        if low < 0.0 && high > 0.0 && shift.abs() < most && span[1] > 0.0 && span[0] < length {
            let ramp = PI * (shift.abs() * radius * 0.7).sqrt();
            shifts.push([span[0] - 1.0, span[1] + 1.0, ramp.max(2.0), shift]);
        }
    }
    if shifts.is_empty() {
        return line;
    }
    let aside = |along: f64| {
        let (mut least, mut most) = (0.0_f64, 0.0_f64);
        for [begin, end, ramp, shift] in &shifts {
            let outside = (begin - along).max(along - end).max(0.0);
            if outside < *ramp {
                let value = shift * (1.0 + (PI * outside / ramp).cos()) / 2.0;
                least = least.min(value);
                most = most.max(value);
            }
        }
        least + most
    };
    let points: Vec<P> = (0..line.len())
        .map(|i| {
            let p = line[i].p;
            ahead(p, direction + PI / 2.0, aside(distance(from, p)))
        })
        .collect();
    along_points(&points, direction)
}

/// Nodes on points that lie about a step apart.
fn along_points(points: &[P], first_direction: f64) -> Vec<Node> {
    let last = points.len() - 1;
    let directions: Vec<f64> = (0..points.len())
        .map(|i| {
            let (a, b) = (points[i.saturating_sub(1)], points[(i + 1).min(last)]);
            if distance(a, b) > 0.0 {
                (b[1] - a[1]).atan2(b[0] - a[0])
            } else {
                first_direction
            }
        })
        .collect();
    (0..points.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            let way = distance(points[a], points[b]).max(1e-9);
            Node {
                p: points[i],
                direction: directions[i],
                curvature: wrapped(directions[b] - directions[a]) / way,
            }
        })
        .collect()
}

/// An angle between -pi and pi.
pub(crate) fn wrapped(angle: f64) -> f64 {
    angle - TAU * (angle / TAU).round()
}

/// The shortest way forward from one pose to another with turns of `radius`.
pub(crate) fn shortest_turn(from: (P, f64), to: (P, f64), radius: f64) -> Vec<Node> {
    let d = distance(from.0, to.0) / radius;
    let theta = (to.0[1] - from.0[1]).atan2(to.0[0] - from.0[0]);
    let (alpha, beta) = (
        (from.1 - theta).rem_euclid(TAU),
        (to.1 - theta).rem_euclid(TAU),
    );
    let best = words(alpha, beta, d).into_iter().flatten().min_by(|a, b| {
        a.iter()
            .map(|x| x.1)
            .sum::<f64>()
            .total_cmp(&b.iter().map(|x| x.1).sum::<f64>())
    });
    let mut nodes = Vec::new();
    let (mut p, mut direction) = from;
    for (turn, size) in best.into_iter().flatten() {
        let length = size * radius;
        let curvature = turn / radius;
        let count = (length / STEP_M).ceil() as usize;
        for _ in 0..count {
            let step = length / count as f64;
            nodes.push(Node {
                p,
                direction,
                curvature,
            });
            p = ahead(p, direction + curvature * step / 2.0, step);
            direction += curvature * step;
        }
    }
    nodes.push(Node {
        p,
        direction,
        curvature: 0.0,
    });
    nodes
}

type Word = [(f64, f64); 3];

/// The six kinds of way: turn (left 1, straight 0, right -1) and size of each piece, for radius 1.
fn words(alpha: f64, beta: f64, d: f64) -> [Option<Word>; 6] {
    let ((sa, ca), (sb, cb)) = (alpha.sin_cos(), beta.sin_cos());
    let cab = (alpha - beta).cos();
    let root = |x: f64| (x >= 0.0).then(|| x.sqrt());
    let turn = |x: f64| x.rem_euclid(TAU);
    let lsl = root(2.0 + d * d - 2.0 * cab + 2.0 * d * (sa - sb)).map(|p| {
        let t = (cb - ca).atan2(d + sa - sb);
        [(1.0, turn(t - alpha)), (0.0, p), (1.0, turn(beta - t))]
    });
    let rsr = root(2.0 + d * d - 2.0 * cab + 2.0 * d * (sb - sa)).map(|p| {
        let t = (ca - cb).atan2(d - sa + sb);
        [(-1.0, turn(alpha - t)), (0.0, p), (-1.0, turn(t - beta))]
    });
    let lsr = root(-2.0 + d * d + 2.0 * cab + 2.0 * d * (sa + sb)).map(|p| {
        let t = (-ca - cb).atan2(d + sa + sb) - (-2.0_f64).atan2(p);
        [(1.0, turn(t - alpha)), (0.0, p), (-1.0, turn(t - beta))]
    });
    let rsl = root(-2.0 + d * d + 2.0 * cab - 2.0 * d * (sa + sb)).map(|p| {
        let t = (ca + cb).atan2(d - sa - sb) - 2.0_f64.atan2(p);
        [(-1.0, turn(alpha - t)), (0.0, p), (1.0, turn(beta - t))]
    });
    let three = |x: f64| (x.abs() <= 1.0).then(|| turn(TAU - x.acos()));
    let rlr = three((6.0 - d * d + 2.0 * cab + 2.0 * d * (sa - sb)) / 8.0).map(|p| {
        let t = turn(alpha - (ca - cb).atan2(d - sa + sb) + p / 2.0);
        [(-1.0, t), (1.0, p), (-1.0, turn(alpha - beta - t + p))]
    });
    let lrl = three((6.0 - d * d + 2.0 * cab + 2.0 * d * (sb - sa)) / 8.0).map(|p| {
        let t = turn(-alpha - (ca - cb).atan2(d + sa - sb) + p / 2.0);
        [(1.0, t), (-1.0, p), (1.0, turn(beta - alpha - t + p))]
    });
    [lsl, rsr, lsr, rsl, rlr, lrl]
}
