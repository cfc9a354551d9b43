//! Which lanes a driver would not drive: across a throat, against a one-way aisle.

use super::cells::Cells;
use super::edges::{Edge, distance_m};
use super::lane::{Lane, Station};
use super::lot::Lot;
use super::minkowski::edges;
use super::reach::apart_rad;
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::{Xy, signed_area_m2};
use std::f64::consts::FRAC_PI_4;

/// A passage narrower than so many lengths of the body is a throat: nobody turns around in it once a lane.
const THROAT_LENGTHS: f64 = 1.75;
/// Side of the cells in which throats are remembered, m ...
const CELL_M: f64 = 1.0;
/// ... and most of them.
const MOST_CELLS: f64 = 200_000.0;
/// Edges shorter than this do not tell how a throat runs, m.
const LEAST_EDGE_M: f64 = 3.0;
/// A lane within this of an aisle's line is in the aisle, m: half of 24 ft (two-way aisles, common practice).
const AISLE_HALF_M: f64 = 3.66;
/// Within this of an aisle's direction a lane runs along it.
const ALONG_RAD: f64 = 30.0 * std::f64::consts::PI / 180.0;

/// Throats and one-way aisles of a lot.
pub(super) struct Manners {
    throats: Option<Throats>,
    one_way: Vec<Edge>,
}

impl Manners {
    pub(super) fn of(lot: &Lot, reach: &Region, vehicle: &Vehicle) -> Self {
        let one_way = lot.aisles.iter().filter(|aisle| aisle.one_way);
        Self {
            throats: Throats::of(reach, THROAT_LENGTHS * vehicle.length_m),
            one_way: one_way
                .flat_map(|aisle| aisle.line.windows(2).map(|pair| (pair[0], pair[1])))
                .collect(),
        }
    }

    /// Whether a lane may be driven as it is.
    pub(super) fn allow(&self, lane: &Lane) -> bool {
        !self.is_against(lane.at(lane.length_m() / 2.0), 1.0)
    }

    /// Whether it lies across a throat: a single one may be needed at a dead end, a row of them nobody drives.
    pub(super) fn is_across(&self, lane: &Lane) -> bool {
        self.throats
            .as_ref()
            .is_some_and(|throats| throats.is_across(lane))
    }

    /// Whether it may be driven from its other end.
    pub(super) fn allow_back(&self, lane: &Lane) -> bool {
        !self.is_against(lane.at(lane.length_m() / 2.0), -1.0)
    }

    fn is_against(&self, here: Station, sign: f64) -> bool {
        let ahead = Xy::at_angle(here.heading_rad);
        self.one_way.iter().any(|&(a, b)| {
            let way = b.minus(a);
            let along = way.dot(ahead) * sign;
            along < -ALONG_RAD.cos() * way.length_m() && distance_m(here.at, a, b) <= AISLE_HALF_M
        })
    }
}

/// Where passages are so narrow that they are driven along only.
struct Throats {
    cells: Cells,
    /// Of each cell: how its throat runs; NaN elsewhere.
    along_rad: Vec<f32>,
}

impl Throats {
    fn of(reach: &Region, width_m: f64) -> Option<Self> {
        // An island leaves passages on either side that are no throats.
        let rings = reach.rings();
        let great: Vec<&[Xy]> = rings
            .iter()
            .filter(|ring| !(-width_m * width_m..0.0).contains(&signed_area_m2(ring)))
            .map(Vec::as_slice)
            .collect();
        let ground = Region::union_of_positive(great.iter().copied().filter(|ring| signed_area_m2(ring) > 0.0))
            .difference(&Region::inside_any(great.iter().copied().filter(|ring| signed_area_m2(ring) < 0.0)));
        // Corners of wide ground are left by an opening too: they are smaller.
        let narrow = ground
            .difference(&ground.opened(width_m / 2.0))
            .greater_than(width_m * width_m / 4.0);
        if narrow.is_empty() {
            return None;
        }
        let extent = narrow.extent();
        let box_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cell_m = CELL_M.max((box_m2 / MOST_CELLS).sqrt());
        let cells = Cells::over(extent, cell_m, cell_m);
        let mut along_rad = vec![f32::NAN; cells.columns * cells.rows];
        let long: Vec<Edge> = edges(&ground)
            .into_iter()
            .filter(|(a, b)| b.minus(*a).length_m() >= LEAST_EDGE_M)
            .collect();
        for (column, row) in super::bits::Bits::of(&narrow, &cells).cells() {
            let middle = cells.middle(column, row);
            let nearest = long.iter().min_by(|p, q| {
                distance_m(middle, p.0, p.1).total_cmp(&distance_m(middle, q.0, q.1))
            });
            if let Some((a, b)) = nearest {
                let way = b.minus(*a);
                along_rad[row * cells.columns + column] = way.y_m.atan2(way.x_m) as f32;
            }
        }
        Some(Self { cells, along_rad })
    }

    /// Most of the lane lies across a throat.
    fn is_across(&self, lane: &Lane) -> bool {
        /// Places looked at, as shares of the lane.
        const SHARES: [f64; 3] = [0.2, 0.5, 0.8];
        let across = |share: &&f64| {
            let here = lane.at(**share * lane.length_m());
            let Some((column, row)) = self.cells.at(here.at) else {
                return false;
            };
            let along_rad = f64::from(self.along_rad[row * self.cells.columns + column]);
            along_rad.is_finite() && apart_rad(here.heading_rad, along_rad) > FRAC_PI_4
        };
        SHARES.iter().filter(across).count() * 2 > SHARES.len()
    }
}
