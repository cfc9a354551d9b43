//! Where sections switch along a lane.

use super::lane::{LEAST_OPEN_M, Lane, Open, Station};
use super::rows::{Rows, Stretches};
use super::vehicle::Vehicle;
use crate::geometry::plane::Xy;

/// Where sections switch: open while the middle of the section is over the target; where ground is to be
/// kept off or kept inside, only while all of the section is.
pub struct Switches {
    /// Edges of the target.
    pub(super) target: Vec<(Xy, Xy)>,
    /// Edges that no open section may lie across.
    pub(super) strict: Vec<(Xy, Xy)>,
    /// Both in rows along the plane's x: a bend has hundreds of steps, each near to a few edges.
    rows: [Rows; 2],
}

impl Switches {
    pub(super) fn of(target: Vec<(Xy, Xy)>, strict: Vec<(Xy, Xy)>) -> Self {
        Self {
            rows: [Rows::of(&target, 0.0), Rows::of(&strict, 0.0)],
            target,
            strict,
        }
    }

    /// What is open on a lane.
    pub(super) fn open(&self, vehicle: &Vehicle, lane: &Lane) -> Vec<Open> {
        let mut open: Vec<Open> = Vec::new();
        for section in 0..vehicle.sections() {
            let first = open.len();
            for pair in lane.stations.windows(2) {
                let step = Step::of(vehicle, section, pair[0], pair[1]);
                let inside = if lane.is_straight() {
                    crossings(&step.frame.near(&self.target, 0.0), 0.0)
                } else {
                    step.inside(&self.rows[0])
                };
                for (from_m, to_m) in step.open(inside, &self.rows[1]) {
                    match open[first..].last_mut() {
                        Some(last) if from_m - last.to_m < JOINED_M => last.to_m = to_m,
                        _ => open.push(Open {
                            section,
                            from_m,
                            to_m,
                        }),
                    }
                }
            }
        }
        open.retain(|open| open.to_m - open.from_m >= LEAST_OPEN_M);
        open
    }
}

/// Openings this near to each other are one, m (tolerance).
const JOINED_M: f64 = 1e-9;

/// One section from one station to the next.
struct Step {
    frame: Frame,
    /// Distance that the section's middle moves, m.
    length_m: f64,
    half_m: f64,
    from_m: f64,
    /// Metres of the lane to each of the section's own.
    stretch: f64,
}

impl Step {
    fn of(vehicle: &Vehicle, section: usize, a: Station, b: Station) -> Self {
        let right_m = vehicle.section_middle_m(section);
        let middle = |station: Station| {
            let ahead = Xy::at_angle(station.heading_rad);
            station.at.plus(Xy::new(ahead.y_m, -ahead.x_m), right_m)
        };
        let (from, to) = (middle(a), middle(b));
        let way = to.minus(from);
        let length_m = way.length_m();
        let heading_rad = if length_m > 0.0 {
            way.y_m.atan2(way.x_m)
        } else {
            a.heading_rad
        };
        Self {
            frame: Frame::new(from, heading_rad),
            length_m,
            half_m: (vehicle.edges_m[section + 1] - vehicle.edges_m[section]) / 2.0,
            from_m: a.along_m,
            stretch: if length_m > 0.0 {
                (b.along_m - a.along_m) / length_m
            } else {
                0.0
            },
        }
    }

    /// Stretches of the step over some ground, m from its beginning: told by the edges that it crosses and by where the
    /// middle of its longest stretch lies.
    fn inside(&self, ground: &Rows) -> Stretches {
        let mut at_m = vec![0.0];
        for (a, b) in self.frame.beside(ground, self.length_m, 0.0) {
            if (a.y_m <= 0.0) != (b.y_m <= 0.0) {
                let along_m = a.x_m - a.y_m / (b.y_m - a.y_m) * (b.x_m - a.x_m);
                at_m.push(along_m.clamp(0.0, self.length_m));
            }
        }
        at_m.push(self.length_m);
        at_m.sort_by(f64::total_cmp);
        let wide_m = |k: &usize| at_m[k + 1] - at_m[*k];
        let longest = (0..at_m.len() - 1).max_by(|a, b| wide_m(a).total_cmp(&wide_m(b)));
        let longest = longest.unwrap_or(0);
        let middle_m = f64::midpoint(at_m[longest], at_m[longest + 1]);
        let is_inside = ground.has(self.frame.from.plus(self.frame.ahead, middle_m));
        let stretches = at_m.windows(2).enumerate();
        stretches
            .filter(|(k, _)| k.abs_diff(longest).is_multiple_of(2) == is_inside)
            .map(|(_, pair)| (pair[0], pair[1]))
            .collect()
    }

    /// Of the stretches over the target, those with the section open, m along the lane.
    fn open(&self, mut inside: Stretches, strict: &Rows) -> Vec<(f64, f64)> {
        let strict = self.frame.beside(strict, self.length_m, self.half_m);
        for (a, b) in strict {
            if let Some((from_m, to_m)) = within_band(a, b, -self.half_m, self.half_m) {
                inside = without(&inside, from_m, to_m);
            }
        }
        inside
            .into_iter()
            .map(|(from_m, to_m)| (from_m.max(0.0), to_m.min(self.length_m)))
            .filter(|(from_m, to_m)| to_m > from_m)
            .map(|(from_m, to_m)| {
                let along_m = |own_m: f64| self.from_m + own_m * self.stretch;
                (along_m(from_m), along_m(to_m))
            })
            .collect()
    }
}

/// Stretches of a line that lie in a region, given by the region's edges: from and to along `heading_rad`,
/// m from `from`.
pub(super) fn stretches(edges: &[(Xy, Xy)], from: Xy, heading_rad: f64) -> Stretches {
    let frame = Frame::new(from, heading_rad);
    crossings(&frame.near(edges, 0.0), 0.0)
}

/// How far a line runs inside some ground from a point on, `most_m` at most; 0 outside of it.
pub(super) fn clear_ahead_m(ground: &Rows, from: Xy, heading_rad: f64, most_m: f64) -> f64 {
    if !ground.has(from) {
        return 0.0;
    }
    let frame = Frame::new(from, heading_rad);
    let ends = frame.beside(ground, most_m, 0.0).into_iter();
    ends.filter(|(a, b)| (a.y_m <= 0.0) != (b.y_m <= 0.0))
        .map(|(a, b)| a.x_m - a.y_m / (b.y_m - a.y_m) * (b.x_m - a.x_m))
        .filter(|ahead_m| *ahead_m >= 0.0)
        .fold(most_m, f64::min)
}

/// Along and to the right of a lane.
struct Frame {
    from: Xy,
    ahead: Xy,
}

impl Frame {
    fn new(from: Xy, heading_rad: f64) -> Self {
        Self {
            from,
            ahead: Xy::at_angle(heading_rad),
        }
    }

    /// Edges in rows along the plane's x that may come within `reach_m` of the line's first `length_m`, as (along, right).
    fn beside(&self, edges: &Rows, length_m: f64, reach_m: f64) -> Vec<(Xy, Xy)> {
        let to = self.from.plus(self.ahead, length_m);
        let (low_m, high_m) = (self.from.y_m.min(to.y_m), self.from.y_m.max(to.y_m));
        let (left_m, right_m) = (self.from.x_m.min(to.x_m), self.from.x_m.max(to.x_m));
        let mut near = Vec::new();
        edges.each_in(low_m - reach_m, high_m + reach_m, |a, b| {
            if a.x_m.max(b.x_m) >= left_m - reach_m && a.x_m.min(b.x_m) <= right_m + reach_m {
                near.push((a, b));
            }
        });
        self.near(&near, reach_m)
    }

    /// Edges within `reach_m` of the line, as (along, right).
    fn near(&self, edges: &[(Xy, Xy)], reach_m: f64) -> Vec<(Xy, Xy)> {
        let turn = |point: Xy| {
            let off = point.minus(self.from);
            Xy::new(off.dot(self.ahead), -self.ahead.cross(off))
        };
        edges
            .iter()
            .filter_map(|&(a, b)| {
                let (a, b) = (turn(a), turn(b));
                let apart = a.y_m.min(b.y_m) > reach_m || a.y_m.max(b.y_m) < -reach_m;
                (!apart).then_some((a, b))
            })
            .collect()
    }
}

/// Stretches inside on the line `right_m` to the right.
fn crossings(edges: &[(Xy, Xy)], right_m: f64) -> Stretches {
    let mut at: Vec<f64> = edges
        .iter()
        .filter(|(a, b)| (a.y_m <= right_m) != (b.y_m <= right_m))
        .map(|(a, b)| a.x_m + (right_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m))
        .collect();
    at.sort_by(f64::total_cmp);
    at.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

/// What an edge takes of a band, along the lane.
pub(super) fn within_band(a: Xy, b: Xy, low_m: f64, high_m: f64) -> Option<(f64, f64)> {
    if a.y_m.max(b.y_m) <= low_m || a.y_m.min(b.y_m) >= high_m {
        return None;
    }
    let at = |y_m: f64| {
        let y_m = y_m.clamp(low_m, high_m);
        if (b.y_m - a.y_m).abs() < f64::MIN_POSITIVE {
            return None;
        }
        Some(a.x_m + (y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m))
    };
    let (p, q) = match (at(a.y_m), at(b.y_m)) {
        (Some(p), Some(q)) => (p, q),
        _ => (a.x_m, b.x_m),
    };
    Some((p.min(q), p.max(q)))
}

/// Stretches less one.
pub(super) fn without(stretches: &[(f64, f64)], from_m: f64, to_m: f64) -> Stretches {
    let mut left = Stretches::new();
    for &(a, b) in stretches {
        if to_m <= a || from_m >= b {
            left.push((a, b));
            continue;
        }
        if from_m > a {
            left.push((a, from_m));
        }
        if to_m < b {
            left.push((to_m, b));
        }
    }
    left
}

#[cfg(test)]
mod tests;
