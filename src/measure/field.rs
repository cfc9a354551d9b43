//! Lanes weighed against each other on bit rows: what a lane would cover that is not covered yet.

use super::bits::{Bits, Cells};
use super::lane::{Lane, Switches, stretches};
use super::lot::Lot;
use super::minkowski::edges;
use super::reach::{Reach, Way, apart_rad};
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// Side of a cell, m: a fifth of a narrow section.
const CELL_M: f64 = 0.2;
/// Most cells; above, cells grow: ten acres have a million.
const MOST_CELLS: f64 = 1_000_000.0;
/// Shortest lane, m.
const LEAST_LANE_M: f64 = 1.0;
/// Ends of places and lanes this near are the same, m.
const SAME_M: f64 = 1e-6;

/// Which way a lane is driven, seen from its way's heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Toward {
    /// Along the heading.
    Ahead,
    /// Against it.
    Back,
}

/// One way with the edges of its places at hand.
pub(super) struct Line {
    pub(super) heading_rad: f64,
    ahead: Vec<(Xy, Xy)>,
    back: Vec<(Xy, Xy)>,
    /// Least and greatest place across the way, m left of the plane's origin; ahead, then back.
    reach_across_m: [Option<(f64, f64)>; 2],
}

impl Line {
    fn of(way: &Way) -> Self {
        let (ahead, back) = (edges(&way.ahead), edges(&way.back));
        let across = across(way.heading_rad);
        let spread = |edges: &[(Xy, Xy)]| {
            let at = edges.iter().map(|(a, _)| a.dot(across));
            let low_m = at.clone().min_by(f64::total_cmp)?;
            Some((low_m, at.max_by(f64::total_cmp)?))
        };
        Self {
            heading_rad: way.heading_rad,
            reach_across_m: [spread(&ahead), spread(&back)],
            ahead,
            back,
        }
    }

    fn places(&self, toward: Toward) -> &[(Xy, Xy)] {
        match toward {
            Toward::Ahead => &self.ahead,
            Toward::Back => &self.back,
        }
    }

    /// The offset nearest to `offset_m` at which the boom's middle can be at all.
    pub(super) fn possible_m(&self, toward: Toward, offset_m: f64) -> Option<f64> {
        let (low_m, high_m) = self.reach_across_m[toward as usize]?;
        // Just inside: on the line itself there is no stretch.
        let slack_m = 1e-4_f64.min((high_m - low_m) / 2.0);
        Some(offset_m.clamp(low_m + slack_m, high_m - slack_m))
    }
}

/// To the left of a heading.
pub(super) fn across(heading_rad: f64) -> Xy {
    Xy::at_angle(heading_rad + PI / 2.0)
}

/// The ground to cover and how.
pub(super) struct Field<'a> {
    pub(super) vehicle: &'a Vehicle,
    pub(super) cells: Cells,
    /// What is reached.
    pub(super) reach: Bits,
    pub(super) lines: Vec<Line>,
    pub(super) switches: Switches,
    /// The reached ground's edges.
    pub(super) reach_edges: Vec<(Xy, Xy)>,
    /// Edges of what the body can stand on.
    pub(super) drivable: Vec<(Xy, Xy)>,
}

/// What a lane would add.
pub(super) struct Gain {
    /// Cells not covered yet.
    pub(super) cells: u32,
    /// First and last of them along the lane, m.
    pub(super) from_m: f64,
    /// See `from_m`.
    pub(super) to_m: f64,
}

impl<'a> Field<'a> {
    pub(super) fn of(lot: &Lot, reach: &Reach, vehicle: &'a Vehicle) -> Self {
        let extent = reach.ground.extent();
        let box_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cell_m = CELL_M.max((box_m2.max(0.0) / MOST_CELLS).sqrt());
        let cells = Cells::over(extent, cell_m, 2.0 * cell_m);
        Self {
            vehicle,
            reach: Bits::of(&reach.ground, &cells),
            cells,
            lines: reach.ways.iter().map(Line::of).collect(),
            switches: switches(lot),
            reach_edges: edges(&reach.ground),
            drivable: edges(&reach.drivable),
        }
    }

    /// Area of a cell, m2.
    pub(super) fn cell_m2(&self) -> f64 {
        self.cells.cell_m * self.cells.cell_m
    }

    /// The line with this heading, if there is one.
    pub(super) fn line_along(&self, heading_rad: f64) -> Option<usize> {
        (0..self.lines.len())
            .find(|&k| apart_rad(self.lines[k].heading_rad, heading_rad) < 0.5_f64.to_radians())
    }

    /// Lanes on one line of the boom's middle, `offset_m` to the left of the plane's origin, each cut to
    /// where its sections open.
    pub(super) fn lanes(&self, line: &Line, toward: Toward, offset_m: f64) -> Vec<Lane> {
        let heading_rad = match toward {
            Toward::Ahead => line.heading_rad,
            Toward::Back => line.heading_rad + PI,
        };
        let start = Xy::default().plus(across(line.heading_rad), offset_m);
        let ahead = Xy::at_angle(heading_rad);
        stretches(line.places(toward), start, heading_rad)
            .into_iter()
            .filter(|(from_m, to_m)| to_m - from_m >= LEAST_LANE_M)
            .filter_map(|(from_m, to_m)| {
                let from = start.plus(ahead, from_m);
                let mut lane = Lane {
                    heading_rad,
                    from,
                    to: start.plus(ahead, to_m),
                    open: self
                        .switches
                        .open(self.vehicle, from, heading_rad, to_m - from_m),
                    either_way: false,
                    edge_pass: false,
                };
                let (busy_from_m, busy_to_m) = lane.busy_m()?;
                lane.cut(busy_from_m, busy_to_m);
                (busy_to_m - busy_from_m >= LEAST_LANE_M).then_some(lane)
            })
            .collect()
    }

    /// Whether a lane could be driven from the other end as well.
    pub(super) fn either_way(&self, line: &Line, toward: Toward, lane: &Lane) -> bool {
        let other = match toward {
            Toward::Ahead => Toward::Back,
            Toward::Back => Toward::Ahead,
        };
        let length_m = lane.length_m();
        stretches(line.places(other), lane.from, lane.heading_rad)
            .iter()
            .any(|(from_m, to_m)| *from_m <= SAME_M && *to_m >= length_m - SAME_M)
    }

    /// What a lane adds to what is covered.
    pub(super) fn gain(&self, lane: &Lane, covered: &Bits) -> Gain {
        let ahead = lane.ahead();
        let mut gain = Gain {
            cells: 0,
            from_m: f64::INFINITY,
            to_m: f64::NEG_INFINITY,
        };
        for strip in lane.strips(self.vehicle) {
            self.cells.scan_convex(&strip, |row, columns| {
                for (column, bits) in self.reach.without(covered, row, columns) {
                    gain.cells += bits.count_ones();
                    // The outermost bits of a word bound its place along the lane.
                    for bit in [bits.trailing_zeros(), 63 - bits.leading_zeros()] {
                        let middle = self.cells.middle(column + bit as usize, row);
                        let along_m = middle.minus(lane.from).dot(ahead);
                        gain.from_m = gain.from_m.min(along_m);
                        gain.to_m = gain.to_m.max(along_m);
                    }
                }
            });
        }
        gain
    }

    /// Cuts a lane to where it adds ground; what is left may be nothing.
    pub(super) fn trim(&self, mut lane: Lane, gain: &Gain) -> Option<Lane> {
        if gain.cells == 0 {
            return None;
        }
        let length_m = lane.length_m();
        // An end within a cell or two of the lane's own is the lane's own; the others overlap by as much.
        let slack_m = 2.0 * self.cells.cell_m;
        let from_m = if gain.from_m < slack_m {
            0.0
        } else {
            gain.from_m - slack_m
        };
        let to_m = if gain.to_m > length_m - slack_m {
            length_m
        } else {
            gain.to_m + slack_m
        };
        lane.cut(from_m.max(0.0), to_m.min(length_m));
        (lane.length_m() >= LEAST_LANE_M && !lane.open.is_empty()).then_some(lane)
    }

    /// Adds a lane's ground to what is covered.
    pub(super) fn cover(&self, lane: &Lane, covered: &mut Bits) {
        for strip in lane.strips(self.vehicle) {
            self.cells
                .scan_convex(&strip, |row, columns| covered.set(row, columns));
        }
    }

    /// Share of the reach that is covered.
    pub(super) fn share(&self, covered: &Bits) -> f64 {
        let all = self.reach.count();
        if all == 0 {
            return 1.0;
        }
        let mut left = self.reach.clone();
        left.take(covered);
        1.0 - left.count() as f64 / all as f64
    }
}

fn switches(lot: &Lot) -> Switches {
    Switches {
        target: edges(&lot.target),
        strict: strict(lot),
    }
}

/// Edges that no open section may lie across.
pub(super) fn strict(lot: &Lot) -> Vec<(Xy, Xy)> {
    let mut strict = edges(&lot.keep_off);
    strict.extend(edges(&lot.keep_inside));
    strict
}

/// Ground under lanes, strip by strip.
pub(super) fn ground(lanes: &[Lane], vehicle: &Vehicle) -> Region {
    let strips: Vec<[Xy; 4]> = lanes.iter().flat_map(|lane| lane.strips(vehicle)).collect();
    Region::union_of_positive(strips.iter().map(<[Xy; 4]>::as_slice))
}
