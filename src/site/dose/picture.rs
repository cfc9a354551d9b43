//! How the liquid of an application lies, coarsely enough to draw: cells of a metre in steps of the target, and
//! the ground by tenths of it. All zones with a target together, each against its own.

use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::ground::Zone;
use std::ops::Range;

/// Side of a drawn cell, m: a pixel of a plan as wide as a phone shows about a third of it (tolerance).
const DRAWN_M: f64 = 1.0;
/// Most cells of a picture; wider ground gets larger cells (limit).
const GREATEST_CELLS: usize = 250_000;
/// A cell with less known ground than this share of it is left blank: a sliver at a zone's line has any dose (layout).
const LEAST_GROUND: f64 = 0.1;
/// Tenths of the target counted one by one; all over three times the target is counted together (layout).
pub const TENTHS: usize = 30;
/// Steps of a picture (layout).
pub const STEPS: u8 = 6;
/// A cell whose dose is not known, or that has no ground (arithmetic).
pub const BLANK: u8 = 0;

/// How the liquid of one application lies.
#[derive(Debug, Clone, PartialEq)]
pub struct DosePicture {
    /// Where its cells lie on the site's plane.
    pub grid: Grid,
    /// Of each cell, row by row from the lower left: [`BLANK`], or a step from 1 (least) to [`STEPS`].
    pub cells: Vec<u8>,
    /// Where the steps end, as multiples of the target; the last has no end.
    pub ends: [f64; STEPS as usize - 1],
    /// Share of the known ground by tenths of the target; the last one is all beyond.
    pub tenths: [f64; TENTHS + 1],
    /// Share of the ground under, within and over the band, and not known; together 1.
    pub shares: Shares,
}

/// Shares of the ground of an application's zones with a target.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Shares {
    /// Under the band.
    pub under: f64,
    /// Within it.
    pub within: f64,
    /// Over it.
    pub over: f64,
    /// Not known: the log is silent.
    pub unknown: f64,
}

/// Where the steps end: half the target, the band's two ends, half as much again, and more than two full passes.
#[must_use]
pub fn ends(band: f64) -> [f64; STEPS as usize - 1] {
    let (low, high) = ((1.0 - band).max(0.0), 1.0 + band);
    [
        super::LOW_SHARE.min(low),
        low,
        high,
        high.max(1.5),
        high.max(super::HIGH_SHARE),
    ]
}

/// A picture while the cells of zones are added.
pub struct Painter {
    grid: Grid,
    band: f64,
    /// Of each cell: liquid as ground that it would cover at the target, and known ground, m2.
    sums_m2: Vec<(f32, f32)>,
    tenths_m2: [f64; TENTHS + 1],
    ground_m2: f64,
    unknown_m2: f64,
    under_m2: f64,
    over_m2: f64,
}

impl Painter {
    /// A blank picture over some zones whose own cells are at most so wide, m.
    #[must_use]
    pub fn over<'a>(zones: impl Iterator<Item = &'a Zone>, own_cell_m: f64, band: f64) -> Self {
        let corners: Vec<Xy> = zones
            .flat_map(|zone| zone.region.rings().concat())
            .collect();
        // Two of a zone's cells a side, or some drawn ones would have none.
        let cell_m = DRAWN_M.max(2.0 * own_cell_m);
        let grid = Grid::over(corners.iter(), 0.0, cell_m, GREATEST_CELLS);
        Self {
            grid,
            band,
            sums_m2: vec![(0.0, 0.0); grid.cells()],
            tenths_m2: [0.0; TENTHS + 1],
            ground_m2: 0.0,
            unknown_m2: 0.0,
            under_m2: 0.0,
            over_m2: 0.0,
        }
    }

    /// The cells of one zone, whose grid this is, against its target.
    #[must_use]
    pub fn zone(&mut self, grid: Grid, target_ml_m2: f64) -> ZonePainter<'_> {
        // Cells of half a metre lie within a drawn one but for its edge, so that litres and ground stay together.
        let middle_m = |index: usize| (index as f64 + 0.5) * grid.cell_m;
        let drawn = |index: isize, count: usize| {
            let index = usize::try_from(index).ok()?;
            (index < count).then_some(index)
        };
        let column = |column: usize| {
            let middle = Xy::new(grid.origin.x_m + middle_m(column), grid.origin.y_m);
            drawn(self.grid.cell_of(middle).0, self.grid.columns)
        };
        let row = |row: usize| {
            let middle = Xy::new(grid.origin.x_m, grid.origin.y_m + middle_m(row));
            drawn(self.grid.cell_of(middle).1, self.grid.rows)
        };
        ZonePainter {
            columns: (0..grid.columns).map(column).collect(),
            rows: (0..grid.rows).map(row).collect(),
            painter: self,
            target_ml_m2,
        }
    }

    /// The picture; `None` where no ground was added.
    #[must_use]
    pub fn finish(self) -> Option<DosePicture> {
        if self.ground_m2 <= 0.0 {
            return None;
        }
        let ends = ends(self.band);
        let least_m2 = LEAST_GROUND * self.grid.cell_m * self.grid.cell_m;
        let step = |&(covered_m2, known_m2): &(f32, f32)| {
            if f64::from(known_m2) < least_m2 {
                return BLANK;
            }
            let of_target = f64::from(covered_m2) / f64::from(known_m2);
            1 + ends.iter().filter(|end| of_target > **end).count() as u8
        };
        let known_m2: f64 = self.tenths_m2.iter().sum();
        let share = |m2: f64| (m2 / self.ground_m2).clamp(0.0, 1.0);
        Some(DosePicture {
            grid: self.grid,
            cells: self.sums_m2.iter().map(step).collect(),
            ends,
            tenths: self
                .tenths_m2
                .map(|m2| if known_m2 > 0.0 { m2 / known_m2 } else { 0.0 }),
            shares: Shares {
                under: share(self.under_m2),
                within: share(known_m2 - self.under_m2 - self.over_m2),
                over: share(self.over_m2),
                unknown: share(self.unknown_m2),
            },
        })
    }
}

/// Adds the cells of one zone to a picture.
pub struct ZonePainter<'a> {
    painter: &'a mut Painter,
    /// Of each column of the zone's grid: that of the picture; `None` beside it.
    columns: Vec<Option<usize>>,
    /// The same of each row.
    rows: Vec<Option<usize>>,
    target_ml_m2: f64,
}

impl ZonePainter<'_> {
    /// Adds neighbouring cells of a row that have the same: their dose over their known ground, and of each of them the
    /// known ground and that which is not known.
    pub fn add(
        &mut self,
        row: usize,
        columns: Range<usize>,
        dose_ml_m2: f64,
        known_m2: f64,
        unknown_m2: f64,
    ) {
        let of_target = dose_ml_m2 / self.target_ml_m2;
        let (own, cells) = (&mut *self.painter, columns.len() as f64);
        let all_m2 = cells * known_m2;
        own.ground_m2 += cells * (known_m2 + unknown_m2);
        own.unknown_m2 += cells * unknown_m2;
        own.tenths_m2[((of_target * 10.0) as usize).min(TENTHS)] += all_m2;
        own.under_m2 += if of_target < 1.0 - own.band {
            all_m2
        } else {
            0.0
        };
        own.over_m2 += if of_target > 1.0 + own.band {
            all_m2
        } else {
            0.0
        };
        let Some(row) = self.rows[row] else { return };
        let drawn = &mut own.sums_m2[row * own.grid.columns..(row + 1) * own.grid.columns];
        let (covered_m2, known_m2) = ((of_target * known_m2) as f32, known_m2 as f32);
        for column in self.columns[columns].iter().flatten() {
            let sums = &mut drawn[*column];
            sums.0 += covered_m2;
            sums.1 += known_m2;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::dose::CELL_M;

    fn painter(columns: usize, rows: usize) -> Painter {
        let corners = [
            Xy::default(),
            Xy::new(columns as f64 - 0.5, rows as f64 - 0.5),
        ];
        let mut painter = Painter::over(std::iter::empty(), CELL_M, 0.1);
        painter.grid = Grid::over(corners.iter(), 0.0, 1.0, 1000);
        painter.sums_m2 = vec![(0.0, 0.0); painter.grid.cells()];
        painter
    }

    fn fine(columns: usize, rows: usize) -> Grid {
        Grid {
            origin: Xy::default(),
            cell_m: 0.5,
            columns,
            rows,
        }
    }

    #[test]
    fn steps_and_tenths_on_squared_paper() {
        let mut painter = painter(3, 1);
        let mut zone = painter.zone(fine(6, 2), 40.0);
        for row in 0..2 {
            // 1 m of nothing, 1 m at the target, 1 m of which one half has three times the target.
            for (column, dose) in [0.0, 0.0, 40.0, 40.0, 120.0, 40.0].into_iter().enumerate() {
                zone.add(row, column..column + 1, dose, 0.25, 0.0);
            }
        }
        let picture = painter.finish().unwrap();
        // None, within the band, twice the target on the whole: between half as much again and 2.2.
        assert_eq!(picture.cells, [1, 3, 5]);
        let shares = picture.shares;
        let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
        assert!(
            near(shares.under, 1.0 / 3.0)
                && near(shares.within, 0.5)
                && near(shares.over, 1.0 / 6.0)
        );
        assert!(near(picture.tenths[0], 1.0 / 3.0) && near(picture.tenths[10], 0.5));
        assert!(near(picture.tenths[TENTHS], 1.0 / 6.0));
    }

    #[test]
    fn ground_that_is_not_known_is_blank_and_has_its_share() {
        let mut painter = painter(2, 1);
        let mut zone = painter.zone(fine(4, 2), 40.0);
        for row in 0..2 {
            zone.add(row, 0..2, 40.0, 0.25, 0.0);
            zone.add(row, 2..4, 0.0, 0.0, 0.25);
        }
        let picture = painter.finish().unwrap();
        assert_eq!(picture.cells, [3, BLANK]);
        assert!((picture.shares.unknown - 0.5).abs() < 1e-12);
    }

    #[test]
    fn steps_rise_whatever_the_band() {
        for band in [0.0, 0.05, 0.1, 0.5, 0.9, 1.5] {
            let ends = ends(band);
            assert!(
                ends.windows(2).all(|pair| pair[0] <= pair[1]),
                "{band}: {ends:?}"
            );
        }
    }
}
