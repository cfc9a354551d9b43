//! Which lanes a driver would not drive: across a throat, against a one-way aisle.

use super::bits::Bits;
use super::cells::Cells;
use super::edges::{Edge, distance_m};
use super::lane::Lane;
use super::lot::Lot;
use super::patches::connected;
use super::reach::apart_rad;
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::{Xy, signed_area_m2};
use std::f64::consts::FRAC_PI_4;

/// A passage narrower than so many lengths of the body is a throat: nobody turns around in it at the end of every lane
/// (trade judgement).
const THROAT_LENGTHS: f64 = 1.75;
/// Side of the cells in which throats are remembered, m (tolerance) ...
const CELL_M: f64 = 0.5;
/// ... and most of them (limit).
const MOST_CELLS: f64 = 200_000.0;
/// Edges shorter than this do not tell how a throat runs, m (trade judgement).
const LEAST_EDGE_M: f64 = 3.0;
/// A lane within this of an aisle's line is in the aisle, m: half of a two-way aisle of 24 ft (common practice).
const AISLE_HALF_M: f64 = 3.66;
/// Within this of an aisle's direction a lane runs along it (trade judgement).
const ALONG_RAD: f64 = 30.0 * std::f64::consts::PI / 180.0;

/// Throats and one-way aisles of a lot.
pub(super) struct Manners {
    throats: Option<Throats>,
    one_way: Vec<Edge>,
}

impl Manners {
    pub(super) fn of(lot: &Lot, vehicle: &Vehicle) -> Self {
        let one_way = lot.aisles.iter().filter(|aisle| aisle.one_way);
        Self {
            throats: Throats::of(&lot.target, THROAT_LENGTHS * vehicle.length_m),
            one_way: one_way
                .flat_map(|aisle| aisle.line.windows(2).map(|pair| (pair[0], pair[1])))
                .collect(),
        }
    }

    /// Whether a lane may be driven as it is.
    pub(super) fn allow(&self, lane: &Lane) -> bool {
        !self.is_against(lane, 1.0)
    }

    /// Whether it lies across a throat: a single one may be needed at a dead end, a row of them nobody drives.
    pub(super) fn is_across(&self, lane: &Lane) -> bool {
        self.throats
            .as_ref()
            .is_some_and(|throats| throats.is_across(lane))
    }

    /// Whether it may be driven from its other end.
    pub(super) fn allow_back(&self, lane: &Lane) -> bool {
        !self.is_against(lane, -1.0)
    }

    fn is_against(&self, lane: &Lane, sign: f64) -> bool {
        if self.one_way.is_empty() {
            return false;
        }
        let here = lane.at(lane.length_m() / 2.0);
        let ahead = Xy::at_angle(here.heading_rad);
        self.one_way.iter().any(|&(a, b)| {
            let way = b.minus(a);
            let along = way.dot(ahead) * sign;
            along < -ALONG_RAD.cos() * way.length_m() && distance_m(here.at, a, b) <= AISLE_HALF_M
        })
    }
}

/// Where passages are so narrow that they are only driven lengthwise.
struct Throats {
    cells: Cells,
    /// Of each cell: how its throat runs; NaN elsewhere.
    along_rad: Vec<f32>,
}

impl Throats {
    fn of(target: &Region, width_m: f64) -> Option<Self> {
        // An island leaves passages on either side that are no throats.
        let rings = target.rings();
        let is_island = |ring: &&Vec<Xy>| (-width_m * width_m..0.0).contains(&signed_area_m2(ring));
        let (islands, great): (Vec<&Vec<Xy>>, Vec<&Vec<Xy>>) = rings.iter().partition(is_island);
        let extent = target.extent();
        let box_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cell_m = CELL_M.max((box_m2 / MOST_CELLS).sqrt());
        let cells = Cells::over(extent, cell_m, 2.0 * cell_m);
        let mut ground = Bits::of(target, &cells);
        for island in islands {
            ground.add(&Bits::of(&Region::inside_any([island.as_slice()]), &cells));
        }
        let narrow = narrow(&ground, &cells, width_m / 2.0);
        if narrow.is_empty() {
            return None;
        }
        let long: Vec<Edge> = great
            .iter()
            .flat_map(|ring| (0..ring.len()).map(|k| (ring[k], ring[(k + 1) % ring.len()])))
            .filter(|(a, b)| b.minus(*a).length_m() >= LEAST_EDGE_M)
            .collect();
        let mut along_rad = vec![f32::NAN; cells.columns * cells.rows];
        for (column, row) in narrow {
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
        /// Places looked at, as shares of the lane (tolerance).
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

/// Cells of ground that no disc of this radius reaches when it stays inside: an opening. Corners of wide ground, which
/// are smaller than a throat, are left out.
fn narrow(ground: &Bits, cells: &Cells, radius_m: f64) -> Vec<(usize, usize)> {
    let steps = radius_m / cells.cell_m;
    let inside = |column: usize, row: usize| ground.has(column, row);
    let from_edge = distances(cells, |column, row| !inside(column, row));
    let deep = |column: usize, row: usize| from_edge[row * cells.columns + column] >= steps;
    let from_deep = distances(cells, deep);
    let mut left = Bits::none(cells);
    for (column, row) in ground.cells() {
        if from_deep[row * cells.columns + column] > steps {
            left.set(row, column..column + 1);
        }
    }
    let least = steps * steps;
    connected(&left, cells)
        .into_iter()
        .filter(|patch| patch.len() as f64 >= least)
        .flatten()
        .collect()
}

/// Distance of every cell from the nearest of some, in cells, by steps to the eight neighbours (G. Borgefors, Computer Vision,
/// Graphics, and Image Processing 34, 1986: at most 6 % off).
fn distances(cells: &Cells, is_source: impl Fn(usize, usize) -> bool) -> Vec<f64> {
    /// A step to the side, in cells (published: Borgefors 1986).
    const STRAIGHT: f64 = 0.955;
    /// A step across the corner, in cells (published: Borgefors 1986).
    const SLANT: f64 = 1.369;
    let (columns, rows) = (cells.columns, cells.rows);
    let mut far = vec![f64::INFINITY; columns * rows];
    for row in 0..rows {
        for column in 0..columns {
            if is_source(column, row) {
                far[row * columns + column] = 0.0;
            }
        }
    }
    let neighbours = [
        (-1, 0, STRAIGHT),
        (-1, -1, SLANT),
        (0, -1, STRAIGHT),
        (1, -1, SLANT),
    ];
    let count = columns * rows;
    for forward in [true, false] {
        for k in 0..count {
            let index = if forward { k } else { count - 1 - k };
            let (column, row) = (index % columns, index / columns);
            for (dc, dr, step) in neighbours {
                let sign = if forward { 1 } else { -1 };
                let (Some(c), Some(r)) = (
                    column.checked_add_signed(sign * dc),
                    row.checked_add_signed(sign * dr),
                ) else {
                    continue;
                };
                if c < columns && r < rows {
                    far[index] = far[index].min(far[r * columns + c] + step);
                }
            }
        }
    }
    far
}

#[cfg(test)]
mod tests {
    use super::*;

    fn box_of(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Region::inside_any([[(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            .map(|(x, y)| Xy::new(x, y))
            .as_slice()])
    }

    fn lane(from: (f64, f64), heading_rad: f64, length_m: f64) -> Lane {
        Lane::straight(Xy::new(from.0, from.1), heading_rad, length_m)
    }

    #[test]
    fn a_passage_between_two_courts_is_a_throat_and_the_courts_are_none() {
        let ground = Region::union_of([
            &box_of(0.0, 0.0, 40.0, 40.0),
            &box_of(40.0, 16.0, 70.0, 24.0),
            &box_of(70.0, 0.0, 110.0, 40.0),
        ]);
        let throats = Throats::of(&ground, 12.0).unwrap();
        let north = std::f64::consts::FRAC_PI_2;
        assert!(throats.is_across(&lane((55.0, 16.5), north, 7.0)));
        assert!(!throats.is_across(&lane((42.0, 20.0), 0.0, 26.0)));
        assert!(!throats.is_across(&lane((20.0, 1.0), north, 38.0)));
        assert!(!throats.is_across(&lane((1.0, 20.0), 0.0, 38.0)));
    }

    #[test]
    fn beside_an_island_there_is_no_throat() {
        let ground = box_of(0.0, 0.0, 40.0, 40.0).difference(&box_of(18.0, 17.0, 22.0, 23.0));
        assert!(Throats::of(&ground, 12.0).is_none());
    }
}
