//! One straight lane and its sections as they switch.

use super::vehicle::Vehicle;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// Openings shorter than this are rounding, m.
const LEAST_OPEN_M: f64 = 0.01;

/// Shortest way between two switches, m: strips under 5 cm count as standing still, not as treated ground.
const LEAST_STEP_M: f64 = 0.06;

/// A stretch of a lane with one section open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Open {
    /// Section, from 0, left to right.
    pub section: usize,
    /// From here, m from the lane's beginning.
    pub from_m: f64,
    /// To here.
    pub to_m: f64,
}

/// A straight lane of the boom's middle.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Where the rig points, counter-clockwise from the plane's x.
    pub heading_rad: f64,
    /// The boom's middle at its beginning.
    pub from: Xy,
    /// The boom's middle at its end.
    pub to: Xy,
    /// What is open where, by section, then place.
    pub open: Vec<Open>,
    /// It can be driven from either end.
    pub either_way: bool,
    /// It runs along an edge.
    pub edge_pass: bool,
}

impl Lane {
    /// Its length, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.to.minus(self.from).length_m()
    }

    /// The unit vector ahead.
    #[must_use]
    pub fn ahead(&self) -> Xy {
        Xy::at_angle(self.heading_rad)
    }

    /// The same lane driven from the other end.
    #[must_use]
    pub fn turned(&self, vehicle: &Vehicle, switches: &Switches) -> Self {
        let mut lane = Self {
            heading_rad: (self.heading_rad + PI).rem_euclid(2.0 * PI),
            from: self.to,
            to: self.from,
            ..self.clone()
        };
        // Sections of uneven widths have their middles elsewhere.
        lane.open = switches.open(vehicle, lane.from, lane.heading_rad, lane.length_m());
        lane
    }

    /// Ground of each opening, counter-clockwise.
    pub(super) fn strips<'a>(&'a self, vehicle: &'a Vehicle) -> impl Iterator<Item = [Xy; 4]> + 'a {
        let ahead = self.ahead();
        let right = Xy::new(ahead.y_m, -ahead.x_m);
        self.open.iter().map(move |open| {
            let at =
                |along_m: f64, right_m: f64| self.from.plus(ahead, along_m).plus(right, right_m);
            let (left_m, right_m) = (
                vehicle.edges_m[open.section],
                vehicle.edges_m[open.section + 1],
            );
            [
                at(open.from_m, right_m),
                at(open.to_m, right_m),
                at(open.to_m, left_m),
                at(open.from_m, left_m),
            ]
        })
    }

    /// Ground swept, strip by strip, m2.
    #[must_use]
    pub fn swept_m2(&self, vehicle: &Vehicle) -> f64 {
        let width_m = |section: usize| vehicle.edges_m[section + 1] - vehicle.edges_m[section];
        self.open
            .iter()
            .map(|open| width_m(open.section) * (open.to_m - open.from_m))
            .sum()
    }

    /// Cut to the part from `from_m` to `to_m` of it.
    pub(super) fn cut(&mut self, from_m: f64, to_m: f64) {
        let ahead = self.ahead();
        self.to = self.from.plus(ahead, to_m);
        self.from = self.from.plus(ahead, from_m);
        for open in &mut self.open {
            open.from_m = open.from_m.max(from_m) - from_m;
            open.to_m = open.to_m.min(to_m) - from_m;
        }
        self.open
            .retain(|open| open.to_m - open.from_m >= LEAST_OPEN_M);
    }

    /// Brings switches that are nearer to each other than a strip counts as driven to one place, the first of them.
    pub(super) fn settle(&mut self) {
        let length_m = self.length_m();
        let mut at_m: Vec<f64> = vec![0.0, length_m];
        at_m.extend(self.open.iter().flat_map(|open| [open.from_m, open.to_m]));
        at_m.sort_by(f64::total_cmp);
        at_m.dedup_by(|next, kept| *next - *kept < LEAST_STEP_M);
        let settled = |place_m: f64| {
            let after = at_m.partition_point(|kept| *kept <= place_m);
            at_m[after.max(1) - 1]
        };
        for open in &mut self.open {
            (open.from_m, open.to_m) = (settled(open.from_m), settled(open.to_m));
        }
        self.open.retain(|open| open.to_m > open.from_m);
        let end_m = settled(length_m);
        self.to = self.from.plus(self.ahead(), end_m);
    }

    /// First and last place with a section open, m; `None` where none is.
    pub(super) fn busy_m(&self) -> Option<(f64, f64)> {
        let from_m = self
            .open
            .iter()
            .map(|open| open.from_m)
            .min_by(f64::total_cmp)?;
        let to_m = self
            .open
            .iter()
            .map(|open| open.to_m)
            .max_by(f64::total_cmp)?;
        Some((from_m, to_m))
    }
}

/// Where sections switch: open while the middle of the section is over the target; where ground is to be
/// kept off or kept inside, only while all of the section is.
#[derive(Debug, Clone, Default)]
pub struct Switches {
    /// Edges of the target.
    pub(super) target: Vec<(Xy, Xy)>,
    /// Edges that no open section may lie across.
    pub(super) strict: Vec<(Xy, Xy)>,
}

impl Switches {
    /// What is open on a lane of the boom's middle.
    pub(super) fn open(
        &self,
        vehicle: &Vehicle,
        from: Xy,
        heading_rad: f64,
        length_m: f64,
    ) -> Vec<Open> {
        let frame = Frame::new(from, heading_rad);
        let reach_m = vehicle.edges_m[0]
            .abs()
            .max(vehicle.edges_m[vehicle.sections()].abs());
        let near = frame.near(&self.target, reach_m);
        let strict = frame.near(&self.strict, reach_m);
        let mut open = Vec::new();
        for section in 0..vehicle.sections() {
            let right_m = vehicle.section_middle_m(section);
            let mut inside = crossings(&near, right_m);
            let (low_m, high_m) = (vehicle.edges_m[section], vehicle.edges_m[section + 1]);
            for &(a, b) in &strict {
                if let Some((from_m, to_m)) = within_band(a, b, low_m, high_m) {
                    inside = without(&inside, from_m, to_m);
                }
            }
            for (from_m, to_m) in inside {
                let (from_m, to_m) = (from_m.max(0.0), to_m.min(length_m));
                if to_m - from_m >= LEAST_OPEN_M {
                    open.push(Open {
                        section,
                        from_m,
                        to_m,
                    });
                }
            }
        }
        open
    }
}

/// Stretches of a line that lie in a region, given by the region's edges: from and to along `heading_rad`,
/// m from `from`.
pub(super) fn stretches(edges: &[(Xy, Xy)], from: Xy, heading_rad: f64) -> Vec<(f64, f64)> {
    let frame = Frame::new(from, heading_rad);
    crossings(&frame.near(edges, 0.0), 0.0)
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
fn crossings(edges: &[(Xy, Xy)], right_m: f64) -> Vec<(f64, f64)> {
    let mut at: Vec<f64> = edges
        .iter()
        .filter(|(a, b)| (a.y_m <= right_m) != (b.y_m <= right_m))
        .map(|(a, b)| a.x_m + (right_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m))
        .collect();
    at.sort_by(f64::total_cmp);
    at.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

/// What an edge takes of a band, along the lane.
fn within_band(a: Xy, b: Xy, low_m: f64, high_m: f64) -> Option<(f64, f64)> {
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
fn without(stretches: &[(f64, f64)], from_m: f64, to_m: f64) -> Vec<(f64, f64)> {
    let mut left = Vec::with_capacity(stretches.len() + 1);
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
mod tests {
    use super::*;

    fn vehicle() -> Vehicle {
        Vehicle {
            id: "r".into(),
            rig: 0,
            length_m: 6.0,
            width_m: 2.0,
            middle_ahead_m: 1.0,
            boom_ahead_m: -4.0,
            edges_m: vec![-4.0, -2.0, 0.0, 2.0, 4.0],
            towed: false,
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            radius_m: None,
            turn_speed_m_s: None,
            gear_change_s: None,
        }
    }

    fn square(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<(Xy, Xy)> {
        let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Xy::new(x, y));
        (0..4).map(|k| (corners[k], corners[(k + 1) % 4])).collect()
    }

    fn open(switches: &Switches) -> Vec<(usize, f64, f64)> {
        let open = switches.open(&vehicle(), Xy::new(-10.0, 0.0), 0.0, 200.0);
        open.iter()
            .map(|open| (open.section, open.from_m, open.to_m))
            .collect()
    }

    /// The ground lies to the left of the lane, and under half a metre of the third section: not under its middle.
    #[test]
    fn a_section_is_open_while_its_middle_is_over_the_ground() {
        let switches = Switches {
            target: square(0.0, -0.5, 100.0, 20.0),
            strict: Vec::new(),
        };
        assert_eq!(open(&switches), [(0, 10.0, 110.0), (1, 10.0, 110.0)]);
    }

    /// A bed reaches half a metre under the second section, far from its middle.
    #[test]
    fn beside_keep_off_ground_all_of_a_section_must_be_clear() {
        let switches = Switches {
            target: square(0.0, 0.0, 100.0, 20.0),
            strict: square(40.0, 1.5, 50.0, 1.9),
        };
        assert_eq!(
            open(&switches),
            [(0, 10.0, 110.0), (1, 10.0, 50.0), (1, 60.0, 110.0)]
        );
    }

    #[test]
    fn sections_count_from_the_left_seen_forward() {
        let lane = Lane {
            heading_rad: PI / 2.0,
            from: Xy::new(0.0, 0.0),
            to: Xy::new(0.0, 10.0),
            open: vec![Open {
                section: 0,
                from_m: 0.0,
                to_m: 10.0,
            }],
            either_way: false,
            edge_pass: false,
        };
        let strip = lane.strips(&vehicle()).next().unwrap();
        // Heading north, the leftmost section lies to the west.
        assert!(
            strip
                .iter()
                .all(|point| point.x_m <= -2.0 + 1e-9 && point.x_m >= -4.0 - 1e-9)
        );
        assert!(
            (crate::geometry::plane::signed_area_m2(&strip) - 20.0).abs() < 1e-9,
            "counter-clockwise"
        );
    }
}
