//! Ground that a run wetted outside all zones, for the map.
//!
//! In cells of [`CELL_M`] about the run's first fix: what lies outside may be a few metres at the end of a lane, or
//! hours of circling that nobody drew a zone around, and the work must go with its length either way. No figure but
//! the drawing's own area comes from it.

use super::Run;
use crate::geometry::cells::{self, CellRun, Scan};
use crate::geometry::extent::Extent;
use crate::geometry::place::{LonLat, east_deg};
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::rig::boom::{Boom, Sections};
use crate::rig::track::displacement_m;

/// Side of a cell, m: half a section (tolerance).
pub const CELL_M: f64 = 0.5;
/// Metres in a degree of latitude, near enough to draw with (arithmetic).
const M_PER_DEG: f64 = 111_195.0;
/// Most cells around one piece: more is not a step of a rig (limit).
const MOST_CELLS: f64 = 1e6;
/// When so many stretches of cells have come together, those that are there twice are left out (limit).
const MANY: usize = 1 << 16;
/// Rows and columns beyond this lie off any drive (2,000 km) (limit).
const FARTHEST: f64 = 4e6;

/// Ground wetted outside all zones.
#[derive(Debug, Clone, PartialEq)]
pub struct Outside {
    first: LonLat,
    /// Metres in a degree of longitude there.
    east_m: f64,
    /// Row, first column, column behind the last.
    stretches: Vec<[i32; 3]>,
    tidy: usize,
}

impl Outside {
    /// None yet, on a run that begins here.
    #[must_use]
    pub fn around(first: LonLat) -> Self {
        Self {
            first,
            east_m: M_PER_DEG * first.lat_deg.to_radians().cos(),
            stretches: Vec::new(),
            tidy: 0,
        }
    }

    fn to_xy(&self, at: LonLat) -> Xy {
        let east_deg = east_deg(self.first.lon_deg, at.lon_deg);
        Xy::new(
            east_deg * self.east_m,
            (at.lat_deg - self.first.lat_deg) * M_PER_DEG,
        )
    }

    fn to_lon_lat(&self, at: Xy) -> LonLat {
        LonLat {
            lon_deg: self.first.lon_deg + at.x_m / self.east_m,
            lat_deg: self.first.lat_deg + at.y_m / M_PER_DEG,
        }
    }

    /// Adds the ground inside some rings: counter-clockwise, their holes clockwise.
    pub fn add(&mut self, rings: &[Vec<LonLat>]) {
        let to_xy = |ring: &Vec<LonLat>| ring.iter().map(|&at| self.to_xy(at)).collect();
        let rings: Vec<Vec<Xy>> = rings.iter().map(to_xy).collect();
        self.add_metres(&rings);
    }

    fn add_metres(&mut self, rings: &[Vec<Xy>]) {
        let Extent { low, high } = Extent::of(rings.iter().flatten());
        let (column, row) = ((low.x_m / CELL_M).floor(), (low.y_m / CELL_M).floor());
        let (columns, rows) = (
            (high.x_m / CELL_M).ceil() - column,
            (high.y_m / CELL_M).ceil() - row,
        );
        // Not a number where there is no ring at all.
        let is_fit = columns * rows <= MOST_CELLS && column.abs().max(row.abs()) < FARTHEST;
        if !is_fit || self.east_m < 1.0 {
            return;
        }
        let grid = Grid {
            origin: Xy::new(column * CELL_M, row * CELL_M),
            cell_m: CELL_M,
            columns: columns as usize,
            rows: rows as usize,
        };
        let (column, row) = (column as i32, row as i32);
        let rings = rings.iter().map(Vec::as_slice);
        Scan::default().each_run(&grid, rings, |run| {
            let at = |cells: usize, from: i32| from + cells as i32;
            self.stretches
                .push([at(run.row, row), at(run.from, column), at(run.to, column)]);
        });
        if self.stretches.len() > MANY + 2 * self.tidy {
            self.tidy_up();
        }
    }

    /// Adds the strip of open sections between two positions of the antenna, driven straight.
    pub fn add_straight(&mut self, ends: (LonLat, LonLat), boom: &Boom, open: Sections) {
        let (from, to) = (self.to_xy(ends.0), self.to_xy(ends.1));
        let way = to.minus(from);
        if open == 0 || way.length_m() <= 0.0 {
            return;
        }
        let ahead = Xy::default().plus(way, 1.0 / way.length_m());
        let right = Xy::new(ahead.y_m, -ahead.x_m);
        let back_m = boom
            .hitch
            .map_or(boom.antenna_ahead_m, |hitch| hitch.length_m());
        let strip = |(first, end): (usize, usize)| {
            let corner = |at: Xy, edge: usize| {
                let right_m = boom.edges_m[edge] - boom.antenna_right_m;
                at.plus(ahead, -back_m).plus(right, right_m)
            };
            vec![
                corner(from, end),
                corner(to, end),
                corner(to, first),
                corner(from, first),
            ]
        };
        let strips: Vec<Vec<Xy>> = boom.runs(open).map(strip).collect();
        self.add_metres(&strips);
    }

    /// Adds what a step of its run laid, driven straight from fix to fix.
    pub fn add_step(&mut self, run: &Run, i: usize) {
        let [a, b] = [i, i + 1].map(|fix| run.track.fixes[fix].place);
        let at = |u: f32| LonLat {
            lon_deg: a.lon_deg + f64::from(u) * (b.lon_deg - a.lon_deg),
            lat_deg: a.lat_deg + f64::from(u) * (b.lat_deg - a.lat_deg),
        };
        let spans = run.timeline.of_step(i).iter();
        for span in spans.filter(|span| span.litres > 0.0) {
            self.add_straight((at(span.from_u), at(span.to_u)), &run.boom, span.open);
        }
    }

    /// Adds what another one has; both began with the same run.
    pub fn extend(&mut self, other: &Self) {
        self.stretches.extend(&other.stretches);
    }

    /// Stretches in order, each cell once.
    fn tidy_up(&mut self) {
        self.stretches.sort_unstable();
        let mut tidy: Vec<[i32; 3]> = Vec::new();
        for &[row, from, to] in &self.stretches {
            match tidy.last_mut() {
                Some(last) if last[0] == row && from <= last[2] => last[2] = last[2].max(to),
                _ => tidy.push([row, from, to]),
            }
        }
        self.tidy = tidy.len();
        self.stretches = tidy;
    }

    /// Boxes, counter-clockwise, and their area, m2.
    #[must_use]
    pub fn boxes(mut self) -> (Vec<[LonLat; 4]>, f64) {
        self.tidy_up();
        let least = |k: usize| self.stretches.iter().map(|of| of[k]).min().unwrap_or(0);
        let (row, column) = (least(0), least(1));
        let grid = Grid {
            origin: Xy::new(f64::from(column) * CELL_M, f64::from(row) * CELL_M),
            cell_m: CELL_M,
            columns: 0,
            rows: 0,
        };
        let of_grid = |of: &[i32; 3]| CellRun {
            row: (of[0] - row) as usize,
            from: (of[1] - column) as usize,
            to: (of[2] - column) as usize,
        };
        let runs: Vec<CellRun> = self.stretches.iter().map(of_grid).collect();
        let boxes = cells::boxes(&grid, &runs).into_iter();
        let boxes: Vec<[LonLat; 4]> = boxes
            .flat_map(|ring| cut(ring.map(|at| self.to_lon_lat(at))))
            .collect();
        let area_m2 = boxes.iter().map(area_m2).sum();
        (boxes, area_m2)
    }
}

/// Area of a box between two meridians and two parallels, m2: on the ellipsoid, whatever the cells' sides are taken to be.
fn area_m2(corners: &[LonLat; 4]) -> f64 {
    let (east_m, north_m) = displacement_m(corners[0], corners[2]);
    (east_m * north_m).abs()
}

/// A box whose longitudes count on from its run's first fix, brought home: cut where it lies over the antimeridian (RFC
/// 7946, section 3.1.9).
fn cut(ring: [LonLat; 4]) -> Vec<[LonLat; 4]> {
    let [west_deg, east_deg] = [ring[0], ring[1]].map(|at| at.lon_deg);
    let between = |from_deg: f64, to_deg: f64, turn_deg: f64| {
        let within = |at: LonLat| LonLat {
            lon_deg: at.lon_deg.clamp(from_deg, to_deg) + turn_deg,
            ..at
        };
        (west_deg < to_deg && east_deg > from_deg).then(|| ring.map(within))
    };
    let worlds = [
        between(-540.0, -180.0, 360.0),
        between(-180.0, 180.0, 0.0),
        between(180.0, 540.0, -360.0),
    ];
    worlds.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn begin() -> LonLat {
        LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        }
    }

    fn boom() -> Boom {
        Boom {
            edges_m: vec![-2.0, 0.0, 2.0],
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            axle_m: 0.0,
            hitch: None,
        }
    }

    /// 100 m east with a boom of 4 m, driven twice; then with its left half only, 50 m on.
    #[test]
    fn ground_counts_once_and_closed_sections_have_none() {
        let mut outside = Outside::around(begin());
        let at = |x_m: f64| outside.to_lon_lat(Xy::new(x_m, 0.0));
        let (a, b, c) = (at(0.0), at(100.0), at(150.0));
        outside.add_straight((a, b), &boom(), 0b11);
        outside.add_straight((a, b), &boom(), 0b11);
        outside.add_straight((b, c), &boom(), 0b01);
        let (boxes, area_m2) = outside.clone().boxes();
        assert!((area_m2 - 500.0).abs() <= 2.0, "{area_m2}");
        assert!(boxes.len() <= 4, "{}", boxes.len());
        let mut both = outside.clone();
        both.extend(&outside);
        assert!((both.boxes().1 - area_m2).abs() < 1e-9);
    }

    #[test]
    fn a_run_over_the_antimeridian_is_one_place() {
        let first = LonLat {
            lon_deg: 179.9999,
            lat_deg: 0.0,
        };
        let over = LonLat {
            lon_deg: -179.9999,
            lat_deg: 0.0,
        };
        let mut outside = Outside::around(first);
        outside.add_straight((first, over), &boom(), 0b11);
        // 0.0002 degrees: 22.2 m.
        let (boxes, area_m2) = outside.boxes();
        assert!((area_m2 - 4.0 * 22.2).abs() < 4.0, "{area_m2}");
        let west_east: Vec<[f64; 2]> = boxes
            .iter()
            .map(|ring| [ring[0].lon_deg, ring[1].lon_deg])
            .collect();
        assert_eq!(west_east.len(), 2, "{west_east:?}");
        assert!(
            west_east.iter().flatten().all(|lon| lon.abs() <= 180.0)
                && west_east[0][1] == 180.0
                && west_east[1][0] == -180.0,
            "{west_east:?}"
        );
    }
}
