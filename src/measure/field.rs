//! The ground as lanes meet it: where the boom can be, where sections switch, and, on bit rows, what a lane would cover
//! that is not covered yet.

use super::bits::{Bits, Found};
use super::body::Body;
use super::cells::Cells;
use super::edges::Edge;
use super::lane::{Contours, Lane, Strip};
use super::line::{Line, Toward, across, clipped};
use super::lot::Lot;
use super::manners::Manners;
use super::minkowski::edges;
use super::reach::{Reach, apart_rad};
use super::switches::Switches;
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// Side of a cell, m: a fifth of a narrow section (tolerance).
const CELL_M: f64 = 0.2;
/// Most cells; above, cells grow: ten acres have a million (limit).
const MOST_CELLS: f64 = 1_000_000.0;
/// Shortest lane, m (trade judgement).
pub(super) const LEAST_LANE_M: f64 = 1.0;
/// All of a line, m (arithmetic).
pub(super) const EVERYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
/// Ends of places and lanes this near are the same, m (tolerance).
const SAME_M: f64 = 1e-6;

/// The ground to cover and how.
pub(super) struct Field<'a> {
    pub(super) vehicle: &'a Vehicle,
    pub(super) cells: Cells,
    /// What is reached.
    pub(super) reach: Bits,
    /// Its number of cells.
    pub(super) reach_cells: u64,
    pub(super) lines: Vec<Line>,
    pub(super) switches: Switches,
    /// The reached ground's edges.
    pub(super) reach_edges: Vec<Edge>,
    /// The ground where sections open.
    pub(super) target: Region,
    /// What the rig may run into.
    pub(super) body: Body<'a>,
    /// Which lanes are not driven.
    pub(super) manners: Manners,
    /// Lanes that follow bent edges.
    pub(super) contours: Contours,
}

/// What is covered of the reach, cell by cell.
#[derive(Debug, Clone)]
pub(super) struct Covered {
    /// By the sections as they switch.
    pub(super) switched: Bits,
    /// By the whole boom, whatever is open.
    pub(super) swath: Bits,
}

/// Which of the two a lane is weighed by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum By {
    /// The sections as they switch.
    Switched,
    /// The whole boom.
    Swath,
}

impl Covered {
    pub(super) fn none(cells: &Cells) -> Self {
        Self {
            switched: Bits::none(cells),
            swath: Bits::none(cells),
        }
    }

    pub(super) fn by(&self, by: By) -> &Bits {
        match by {
            By::Switched => &self.switched,
            By::Swath => &self.swath,
        }
    }
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

impl Gain {
    pub(super) fn none() -> Self {
        Self {
            cells: 0,
            from_m: f64::INFINITY,
            to_m: f64::NEG_INFINITY,
        }
    }

    /// Adds cells of a row under a strip. The outermost of them bound the row's place along the lane.
    pub(super) fn add(&mut self, cells: &Cells, strip: &Strip, row: usize, found: Found) {
        if found.count == 0 {
            return;
        }
        self.cells += found.count;
        for column in [found.first, found.last] {
            let off = cells.middle(column, row).minus(strip.from.at);
            let along_m = strip.from.along_m + off.dot(strip.ahead);
            self.from_m = self.from_m.min(along_m);
            self.to_m = self.to_m.max(along_m);
        }
    }
}

impl<'a> Field<'a> {
    pub(super) fn of(lot: &Lot, reach: &'a Reach, vehicle: &'a Vehicle) -> Self {
        let extent = reach.ground.extent();
        let box_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cell_m = CELL_M.max((box_m2.max(0.0) / MOST_CELLS).sqrt());
        let cells = Cells::over(extent, cell_m, 2.0 * cell_m);
        let bits = Bits::of(&reach.ground, &cells);
        let switches = switches(lot);
        Self {
            vehicle,
            reach_cells: bits.count(),
            reach: bits,
            cells,
            lines: reach
                .ways
                .iter()
                .map(|way| Line::of(way, &switches))
                .collect(),
            switches,
            reach_edges: edges(&reach.ground),
            target: lot.target.clone(),
            body: Body::of(lot, reach, vehicle),
            manners: Manners::of(lot, vehicle),
            contours: Contours::default(),
        }
    }

    /// The same ground on cells half as wide.
    pub(super) fn finer(self, reach: &Reach) -> Self {
        let cell_m = self.cells.cell_m / 2.0;
        let cells = Cells::over(reach.ground.extent(), cell_m, 2.0 * cell_m);
        let bits = Bits::of(&reach.ground, &cells);
        Self {
            reach_cells: bits.count(),
            reach: bits,
            cells,
            ..self
        }
    }

    /// Ground full of islands: there are so many lanes that few ways can be tried.
    pub(super) fn is_crowded(&self) -> bool {
        /// Edges of the reached ground; a lot without islands has hundreds (limit).
        const MANY_EDGES: usize = 2000;
        self.reach_edges.len() > MANY_EDGES
    }

    /// Ground so great that cells are too wide to tell whether a lane is superfluous: its neighbours may cover all their
    /// middles and still leave a stripe bare.
    pub(super) fn is_coarse(&self) -> bool {
        /// Cells across the boom (tolerance).
        const LEAST_ACROSS: f64 = 2.0;
        self.cells.cell_m > self.vehicle.boom_m() / LEAST_ACROSS
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
        self.lanes_over(line, toward, offset_m, EVERYWHERE)
    }

    /// Those of them that pass over a stretch of the line, m along its heading.
    pub(super) fn lanes_over(
        &self,
        line: &Line,
        toward: Toward,
        offset_m: f64,
        over_m: (f64, f64),
    ) -> Vec<Lane> {
        let heading_rad = match toward {
            Toward::Ahead => line.heading_rad,
            Toward::Back => line.heading_rad + PI,
        };
        let mut places = line.places(toward).stretches(offset_m);
        places.retain(|&mut (from_m, to_m)| {
            to_m - from_m >= LEAST_LANE_M && from_m < over_m.1 && to_m > over_m.0
        });
        if places.is_empty() {
            return Vec::new();
        }
        let open = line.open(self.vehicle, toward, offset_m);
        let origin = Xy::default().plus(across(line.heading_rad), offset_m);
        let along = Xy::at_angle(line.heading_rad);
        places
            .into_iter()
            .filter_map(|(from_m, to_m)| {
                let start_m = if toward == Toward::Ahead {
                    from_m
                } else {
                    to_m
                };
                let mut lane =
                    Lane::straight(origin.plus(along, start_m), heading_rad, to_m - from_m);
                lane.open = clipped(&open, toward, from_m, to_m);
                let (busy_from_m, busy_to_m) = lane.busy_m()?;
                lane.cut(busy_from_m, busy_to_m);
                let long = busy_to_m - busy_from_m >= LEAST_LANE_M;
                (long && self.manners.allow(&lane)).then_some(lane)
            })
            .collect()
    }

    /// Whether a lane on a line could be driven from the other end as well.
    pub(super) fn either_way(&self, line: &Line, toward: Toward, lane: &Lane) -> bool {
        let other = toward.turned();
        let along = Xy::at_angle(line.heading_rad);
        let ends_m = [lane.start(), lane.end()].map(|station| station.at.dot(along));
        let (low_m, high_m) = (ends_m[0].min(ends_m[1]), ends_m[0].max(ends_m[1]));
        let offset_m = lane.start().at.dot(across(line.heading_rad));
        line.places(other)
            .stretches(offset_m)
            .iter()
            .any(|(from_m, to_m)| *from_m <= low_m + SAME_M && *to_m >= high_m - SAME_M)
            && self.manners.allow_back(lane)
    }

    /// Calls `each` with the strips of a lane that count.
    pub(super) fn each_strip(&self, lane: &Lane, by: By, each: impl FnMut(Strip)) {
        match by {
            By::Switched => lane.joined_strips(self.vehicle, each),
            By::Swath => lane.swath(self.vehicle).for_each(each),
        }
    }

    /// What a lane adds to what is covered.
    pub(super) fn gain(&self, lane: &Lane, covered: &Covered, by: By) -> Gain {
        let mut gain = Gain::none();
        let covered = covered.by(by);
        self.each_strip(lane, by, |strip| {
            self.cells.scan_convex(&strip.ring, |row, columns| {
                let found = self.reach.without(covered, row, columns);
                gain.add(&self.cells, &strip, row, found);
            });
        });
        gain
    }

    /// Cuts a lane to where it adds ground; what is left may be nothing.
    pub(super) fn trim(&self, mut lane: Lane, gain: &Gain) -> Option<Lane> {
        if gain.cells == 0 {
            return None;
        }
        let length_m = lane.length_m();
        // An end within two cells of the lane's own stays there; any other keeps two cells of ground beyond what it
        // adds.
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

    /// The reached cells that are not covered.
    pub(super) fn left(&self, covered: &Bits) -> Bits {
        let mut left = self.reach.clone();
        left.take(covered);
        left
    }

    /// Share of the reach that is covered.
    pub(super) fn share(&self, covered: &Bits) -> f64 {
        if self.reach_cells == 0 {
            return 1.0;
        }
        self.reach.count_common(covered) as f64 / self.reach_cells as f64
    }
}

fn switches(lot: &Lot) -> Switches {
    Switches::of(edges(&lot.target), strict(lot))
}

/// Edges that no open section may lie across.
pub(super) fn strict(lot: &Lot) -> Vec<Edge> {
    let mut strict = edges(&lot.keep_off);
    strict.extend(edges(&lot.keep_inside));
    strict
}

/// Ground under lanes, strip by strip.
pub(super) fn ground(lanes: &[Lane], vehicle: &Vehicle) -> Region {
    let strips: Vec<[Xy; 4]> = lanes
        .iter()
        .flat_map(|lane| lane.strips(vehicle).map(|strip| strip.ring))
        .collect();
    Region::union_of_positive(strips.iter().map(<[Xy; 4]>::as_slice))
}
