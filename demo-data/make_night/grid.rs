//! The truth on the ground, on a fine grid: which cells the true boom wetted.
//!
//! The audit works with exact polygons of the logged track; this works with cells of the true
//! track. The two share no code and no method.

use std::ops::Range;

/// Side of a cell, m.
pub(crate) const CELL_M: f64 = 0.1;
/// Ground kept around the site's zones, m: more than any distance asked of the grid.
const MARGIN_M: f64 = 3.0;

/// A yes or no for each cell, row by row from the south-west.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    x0_m: f64,
    y0_m: f64,
    columns: usize,
    rows: usize,
    pub cells: Vec<bool>,
}

impl Grid {
    /// An empty grid around some corners.
    pub(crate) fn around(corners_m: &[(f64, f64)]) -> Self {
        let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for corner in corners_m {
            low = (low.0.min(corner.0), low.1.min(corner.1));
            high = (high.0.max(corner.0), high.1.max(corner.1));
        }
        let size = |low: f64, high: f64| ((high - low + 2.0 * MARGIN_M) / CELL_M).ceil() as usize;
        let (columns, rows) = (size(low.0, high.0), size(low.1, high.1));
        Self {
            x0_m: low.0 - MARGIN_M,
            y0_m: low.1 - MARGIN_M,
            columns,
            rows,
            cells: vec![false; columns * rows],
        }
    }

    /// The grid with another content.
    pub(crate) fn with(&self, cells: Vec<bool>) -> Self {
        Self {
            cells,
            ..self.clone_frame()
        }
    }

    fn clone_frame(&self) -> Self {
        Self {
            x0_m: self.x0_m,
            y0_m: self.y0_m,
            columns: self.columns,
            rows: self.rows,
            cells: Vec::new(),
        }
    }

    /// The grid in which `keep` decides cell by cell.
    pub(crate) fn select(&self, keep: impl Fn(usize) -> bool) -> Self {
        self.with((0..self.cells.len()).map(keep).collect())
    }

    pub(crate) fn area_m2(&self) -> f64 {
        self.cells.iter().filter(|&&cell| cell).count() as f64 * CELL_M * CELL_M
    }

    /// Mean place of the cells that are set.
    pub(crate) fn centre_m(&self) -> Option<(f64, f64)> {
        let (mut x_m, mut y_m, mut count) = (0.0, 0.0, 0.0);
        for (i, _) in self.cells.iter().enumerate().filter(|(_, cell)| **cell) {
            let place = self.place_m(i);
            (x_m, y_m, count) = (x_m + place.0, y_m + place.1, count + 1.0);
        }
        (count > 0.0).then(|| (x_m / count, y_m / count))
    }

    fn place_m(&self, index: usize) -> (f64, f64) {
        let (row, column) = (index / self.columns, index % self.columns);
        (
            self.x0_m + (column as f64 + 0.5) * CELL_M,
            self.y0_m + (row as f64 + 0.5) * CELL_M,
        )
    }

    /// Calls `visit` with the index of each cell whose centre lies in a polygon (even-odd rule).
    pub(crate) fn fill(&mut self, ring_m: &[(f64, f64)], mut visit: impl FnMut(&mut bool, usize)) {
        let ys = ring_m.iter().map(|corner| corner.1);
        let rows = Self::span(
            ys.clone().fold(f64::MAX, f64::min) - self.y0_m,
            ys.fold(f64::MIN, f64::max) - self.y0_m,
            self.rows,
        );
        for row in rows {
            let y_m = self.y0_m + (row as f64 + 0.5) * CELL_M;
            let mut crossings_m: Vec<f64> = (0..ring_m.len())
                .filter_map(|i| crossing_m(ring_m[i], ring_m[(i + 1) % ring_m.len()], y_m))
                .collect();
            crossings_m.sort_by(f64::total_cmp);
            for pair in crossings_m.chunks_exact(2) {
                for column in Self::span(pair[0] - self.x0_m, pair[1] - self.x0_m, self.columns) {
                    let index = row * self.columns + column;
                    visit(&mut self.cells[index], index);
                }
            }
        }
    }

    /// Cells whose centre lies in an interval.
    fn span(from_m: f64, to_m: f64, count: usize) -> Range<usize> {
        let cell = |m: f64| ((m / CELL_M - 0.5).ceil().max(0.0) as usize).min(count);
        cell(from_m)..cell(to_m)
    }

    /// Cells from which every cell within `radius_m` is set; beyond the grid counts as `beyond`.
    pub(crate) fn eroded(&self, radius_m: f64, beyond: bool) -> Self {
        let reach = (radius_m / CELL_M).round() as isize;
        let free = self.free_run();
        let halves: Vec<i32> = (-reach..=reach)
            .map(|dy| ((reach * reach - dy * dy) as f64).sqrt() as i32)
            .collect();
        self.select(|index| {
            let (row, column) = ((index / self.columns) as isize, index % self.columns);
            self.cells[index]
                && (-reach..=reach).zip(&halves).all(|(dy, &half)| {
                    let row = row + dy;
                    if row < 0 || row >= self.rows as isize {
                        beyond
                    } else {
                        free[row as usize * self.columns + column] > half
                    }
                })
        })
    }

    /// Cells within `radius_m` of a set cell.
    pub(crate) fn dilated(&self, radius_m: f64) -> Self {
        let inverse = self
            .select(|index| !self.cells[index])
            .eroded(radius_m, true);
        self.select(|index| !inverse.cells[index])
    }

    /// What is left of the set cells where a disc of `radius_m` fits, in connected pieces.
    pub(crate) fn pieces(&self, radius_m: f64, smallest_m2: f64) -> Vec<Self> {
        let mut left = self.eroded(radius_m, false).dilated(radius_m);
        let mut pieces = Vec::new();
        while let Some(first) = left.cells.iter().position(|&cell| cell) {
            let mut piece = self.with(vec![false; self.cells.len()]);
            let mut stack = vec![first];
            while let Some(index) = stack.pop() {
                if std::mem::take(&mut left.cells[index]) {
                    piece.cells[index] = true;
                    // The margin is empty, so a set cell is never at the grid's rim.
                    stack.extend([
                        index - 1,
                        index + 1,
                        index - self.columns,
                        index + self.columns,
                    ]);
                }
            }
            if piece.area_m2() >= smallest_m2 {
                pieces.push(piece);
            }
        }
        pieces
    }

    /// How many cells to the nearer side are set in the cell's row, itself included.
    fn free_run(&self) -> Vec<i32> {
        let mut free = vec![i32::MAX; self.cells.len()];
        for (cells, free) in self
            .cells
            .chunks_exact(self.columns)
            .zip(free.chunks_exact_mut(self.columns))
        {
            let columns = cells.len();
            for order in [
                (0..columns).collect::<Vec<_>>(),
                (0..columns).rev().collect(),
            ] {
                let mut run = 1_000_000;
                for column in order {
                    run = if cells[column] { run + 1 } else { 0 };
                    free[column] = free[column].min(run);
                }
            }
        }
        free
    }
}

/// Where an edge crosses a line of latitude.
fn crossing_m(a: (f64, f64), b: (f64, f64), y_m: f64) -> Option<f64> {
    ((a.1 > y_m) != (b.1 > y_m)).then(|| a.0 + (y_m - a.1) / (b.1 - a.1) * (b.0 - a.0))
}
