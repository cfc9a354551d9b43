//! Exact-area accumulation of polygons on a grid. Knows nothing of doses.
//!
//! Base module. Each edge of a polygon adds its signed area to the cells it crosses and to the cell
//! right of them; a running sum along each row then gives, in every cell, the exact area of the
//! polygon in it (times its weight). The cost follows the outline, not the area. The method is the
//! one of scan converters for outline fonts: coverage and area per cell, summed along the scan line.
//!
//! Polygons of any winding may be added: counter-clockwise ground counts positive, clockwise negative,
//! so a ring with its holes, or a concave ring clipped by a convex one with its coincident edges, comes
//! out right. Ground outside the grid is left out.

use crate::geometry::plane::Xy;
use std::ops::Range;

/// Where a grid lies: lower left corner, cell size, number of cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Lower left corner.
    pub origin: Xy,
    /// Side of a cell, m.
    pub cell_m: f64,
    /// Cells along x.
    pub columns: usize,
    /// Cells along y.
    pub rows: usize,
}

impl Grid {
    /// A grid over the bounds of some points: cells of `cell_m`, grown to keep to `greatest_cells`.
    #[must_use]
    pub fn over<'a>(
        points: impl Iterator<Item = &'a Xy>,
        margin_m: f64,
        cell_m: f64,
        greatest_cells: usize,
    ) -> Self {
        let (mut low, mut high) = (
            Xy::new(f64::INFINITY, f64::INFINITY),
            Xy::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
        );
        for point in points {
            low = Xy::new(low.x_m.min(point.x_m), low.y_m.min(point.y_m));
            high = Xy::new(high.x_m.max(point.x_m), high.y_m.max(point.y_m));
        }
        if low.x_m > high.x_m {
            return Self {
                origin: Xy::default(),
                cell_m,
                columns: 1,
                rows: 1,
            };
        }
        let (width_m, height_m) = (
            high.x_m - low.x_m + 2.0 * margin_m,
            high.y_m - low.y_m + 2.0 * margin_m,
        );
        let mut cell_m = cell_m;
        let count = |side_m: f64, cell_m: f64| (side_m / cell_m).floor() + 1.0;
        while count(width_m, cell_m) * count(height_m, cell_m) > greatest_cells as f64 {
            cell_m *= 1.25;
        }
        Self {
            origin: Xy::new(low.x_m - margin_m, low.y_m - margin_m),
            cell_m,
            columns: count(width_m, cell_m) as usize,
            rows: count(height_m, cell_m) as usize,
        }
    }

    /// Number of cells.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.columns * self.rows
    }

    /// The box, counter-clockwise, around some cells of a row, with a margin.
    #[must_use]
    pub fn around(&self, row: usize, columns: Range<usize>, margin_m: f64) -> [Xy; 4] {
        let x = |column: usize| self.origin.x_m + column as f64 * self.cell_m;
        let y = |row: usize| self.origin.y_m + row as f64 * self.cell_m;
        let (low_x, high_x) = (x(columns.start) - margin_m, x(columns.end) + margin_m);
        let (low_y, high_y) = (y(row) - margin_m, y(row + 1) + margin_m);
        [
            Xy::new(low_x, low_y),
            Xy::new(high_x, low_y),
            Xy::new(high_x, high_y),
            Xy::new(low_x, high_y),
        ]
    }

    /// Column and row of a point, which may lie outside.
    #[must_use]
    pub fn cell_of(&self, point: Xy) -> (isize, isize) {
        // Without SSE 4.1, which the program does not ask for, `floor` is a call.
        let floor = |m: f64| {
            let cells = m / self.cell_m;
            let whole = cells as isize;
            whole.saturating_sub(isize::from((whole as f64) > cells))
        };
        (
            floor(point.x_m - self.origin.x_m),
            floor(point.y_m - self.origin.y_m),
        )
    }
}

/// A grid that polygons are being added to.
#[derive(Debug, Clone)]
pub struct Raster {
    grid: Grid,
    /// Differences along each row; one spare column, since an edge adds to the cell right of it.
    differences: Vec<f64>,
}

impl Raster {
    /// An empty one.
    #[must_use]
    pub fn new(grid: Grid) -> Self {
        Self {
            grid,
            differences: vec![0.0; (grid.columns + 1) * grid.rows],
        }
    }

    /// Adds a ring (closed by itself), times `weight`.
    pub fn add(&mut self, ring: &[Xy], weight: f64) {
        let Some(&last) = ring.last() else { return };
        let mut from = self.scaled(last);
        for &point in ring {
            let to = self.scaled(point);
            self.add_edge(from, to, weight);
            from = to;
        }
    }

    /// Cell units from metres.
    fn scaled(&self, point: Xy) -> (f64, f64) {
        let grid = &self.grid;
        (
            (point.x_m - grid.origin.x_m) / grid.cell_m,
            (point.y_m - grid.origin.y_m) / grid.cell_m,
        )
    }

    /// Adds one edge, in cell units.
    fn add_edge(&mut self, from: (f64, f64), to: (f64, f64), weight: f64) {
        // An edge that runs down has its inside (of a counter-clockwise ring) on the right: positive.
        let (low, high, sign) = if from.1 > to.1 {
            (to, from, 1.0)
        } else {
            (from, to, -1.0)
        };
        let rise = high.1 - low.1;
        if rise <= 0.0 {
            return;
        }
        let slope = (high.0 - low.0) / rise;
        let top = high.1.min(self.grid.rows as f64);
        let mut y = low.1.max(0.0);
        let mut x = low.0 + (y - low.1) * slope;
        while y < top {
            let row = whole(y);
            let next_y = ((row + 1) as f64).min(top);
            let next_x = if next_y >= high.1 {
                high.0
            } else {
                low.0 + (next_y - low.1) * slope
            };
            self.add_in_row(row, x, next_x, sign * weight * (next_y - y));
            (x, y) = (next_x, next_y);
        }
    }

    /// Adds the part of an edge within one row, from `x0` to `x1`, of signed height `height`.
    fn add_in_row(&mut self, row: usize, x0: f64, x1: f64, height: f64) {
        let columns = self.grid.columns as f64;
        let (left, right) = if x0 < x1 { (x0, x1) } else { (x1, x0) };
        if left >= columns {
            return;
        }
        let start = row * (self.grid.columns + 1);
        if right <= 0.0 {
            self.differences[start] += height;
            return;
        }
        let cells = &mut self.differences[start..=start + self.grid.columns];
        let width = right - left;
        if width <= 0.0 || (left >= 0.0 && (whole(left) + 1) as f64 >= right) {
            // Within one column: the cell gets what lies right of the edge, the next ones all.
            let column = whole(left);
            let share_right = column as f64 + 1.0 - (left + right) / 2.0;
            cells[column] += height * share_right;
            cells[column + 1] += height * (1.0 - share_right);
            return;
        }
        let per_width = height / width;
        let mut x = left;
        if x < 0.0 {
            cells[0] += per_width * -x;
            x = 0.0;
        }
        let end = right.min(columns);
        while x < end {
            let column = whole(x);
            let beyond = (column + 1) as f64;
            let next = beyond.min(end);
            let part = per_width * (next - x);
            let share_right = beyond - (x + next) / 2.0;
            cells[column] += part * share_right;
            cells[column + 1] += part * (1.0 - share_right);
            x = next;
        }
    }

    /// The weighted area in each cell, m2 x weight, row by row from the lower left.
    #[must_use]
    pub fn areas(&self) -> Vec<f64> {
        let mut areas = Vec::with_capacity(self.grid.cells());
        (0..self.grid.rows).for_each(|row| areas.extend(self.row(row)));
        areas
    }

    /// What each cell of a row has more than the one left of it, in cells x weight.
    fn changes(&self, row: usize) -> &[f64] {
        let start = row * (self.grid.columns + 1);
        &self.differences[start..start + self.grid.columns]
    }

    /// The weighted area in each cell of a row, m2 x weight, from the left.
    pub fn row(&self, row: usize) -> impl Iterator<Item = f64> + '_ {
        let cell_m2 = self.grid.cell_m * self.grid.cell_m;
        let mut sum = 0.0;
        self.changes(row).iter().map(move |difference| {
            sum += difference;
            sum * cell_m2
        })
    }
}

/// The row or column of a place on a grid, in cells from its corner. A grid has fewer than fit 32 bits, which is the
/// cheaper cast.
fn whole(cells: f64) -> usize {
    cells as u32 as usize
}

/// Most rasters that [`runs`] goes through together (by trial).
pub const MOST_TOGETHER: usize = 4;

/// Neighbouring cells of a row that have the same in each of some rasters over one grid, from the left: how many, and
/// the weighted area in each of them, m2 x weight, in the order of the rasters. Inside large polygons most do.
///
/// # Panics
/// With more than [`MOST_TOGETHER`] rasters.
pub fn runs<'a>(
    rasters: &'a [&'a Raster],
    row: usize,
) -> impl Iterator<Item = (usize, [f64; MOST_TOGETHER])> + 'a {
    assert!(rasters.len() <= MOST_TOGETHER, "{} rasters", rasters.len());
    let grid = rasters.first().map(|raster| raster.grid);
    let (columns, cell_m2) = grid.map_or((0, 0.0), |grid| (grid.columns, grid.cell_m.powi(2)));
    let mut changes: [&[f64]; MOST_TOGETHER] = [&[]; MOST_TOGETHER];
    for (changes, raster) in changes.iter_mut().zip(rasters) {
        *changes = raster.changes(row);
    }
    let (count, mut at) = (rasters.len(), 0);
    let mut sums = [0.0; MOST_TOGETHER];
    std::iter::from_fn(move || {
        let begin = (at < columns).then_some(at)?;
        for (sum, changes) in sums.iter_mut().zip(&changes[..count]) {
            *sum += changes[begin];
        }
        at += 1;
        while at < columns && changes[..count].iter().all(|changes| changes[at] == 0.0) {
            at += 1;
        }
        Some((at - begin, sums.map(|sum| sum * cell_m2)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(columns: usize, rows: usize) -> Grid {
        Grid {
            origin: Xy::new(-1.0, -1.0),
            cell_m: 1.0,
            columns,
            rows,
        }
    }

    fn areas(ring: &[(f64, f64)], columns: usize, rows: usize) -> Vec<f64> {
        let ring: Vec<Xy> = ring
            .iter()
            .map(|&(x, y)| Xy::new(x - 1.0, y - 1.0))
            .collect();
        let mut raster = Raster::new(grid(columns, rows));
        raster.add(&ring, 1.0);
        raster.areas()
    }

    fn assert_close(got: &[f64], want: &[f64]) {
        assert!(
            got.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-12),
            "{got:?} is not {want:?}"
        );
    }

    #[test]
    fn a_square_off_the_grid_covers_quarters() {
        let got = areas(&[(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5)], 3, 2);
        assert_close(&got, &[0.25, 0.25, 0.0, 0.25, 0.25, 0.0]);
    }

    #[test]
    fn a_triangle_on_squared_paper() {
        // Legs 2 along x and y: cells (0,0) full, (1,0) and (0,1) half.
        assert_close(
            &areas(&[(0.0, 0.0), (2.0, 0.0), (0.0, 2.0)], 2, 2),
            &[1.0, 0.5, 0.5, 0.0],
        );
    }

    /// Two squares on 6 x 1 cells: cells 1 to 4 under the one, 3 to 5 under the other.
    #[test]
    fn equal_neighbours_are_one_run() {
        let mut rasters = [(); 2].map(|()| Raster::new(grid(6, 1)));
        for (raster, (from, to)) in rasters.iter_mut().zip([(0.0, 4.0), (2.0, 5.0)]) {
            let ring = [(from, -1.0), (to, -1.0), (to, 0.0), (from, 0.0)];
            raster.add(&ring.map(|(x, y)| Xy::new(x, y)), 1.0);
        }
        let together = [&rasters[0], &rasters[1]];
        let got: Vec<_> = runs(&together, 0)
            .map(|(count, areas)| (count, areas[0], areas[1]))
            .collect();
        assert_eq!(
            got,
            [(1, 0.0, 0.0), (2, 1.0, 0.0), (2, 1.0, 1.0), (1, 0.0, 1.0)]
        );
    }

    #[test]
    fn a_clockwise_ring_counts_negative() {
        assert_close(
            &areas(&[(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)], 1, 1),
            &[-1.0],
        );
    }

    #[test]
    fn ground_outside_the_grid_is_left_out() {
        let got = areas(&[(-3.0, -3.0), (5.0, -3.0), (5.0, 5.0), (-3.0, 5.0)], 2, 2);
        assert_close(&got, &[1.0; 4]);
    }

    /// Brute force: each cell sampled 200 x 200 times.
    #[test]
    fn a_slanted_polygon_matches_sampling() {
        let ring = [(0.3, 0.2), (3.9, 1.1), (2.27, 2.83), (1.9, 1.6), (0.1, 2.9)];
        let got = areas(&ring, 4, 3);
        let inside = |x: f64, y: f64| {
            let mut odd = false;
            for k in 0..ring.len() {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                if (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0) {
                    odd = !odd;
                }
            }
            odd
        };
        for (index, area) in got.iter().enumerate() {
            let (column, row) = ((index % 4) as f64, (index / 4) as f64);
            let mut count = 0;
            for i in 0..200 {
                for j in 0..200 {
                    count += usize::from(inside(
                        column + (f64::from(i) + 0.5) / 200.0,
                        row + (f64::from(j) + 0.5) / 200.0,
                    ));
                }
            }
            assert!(
                (area - count as f64 / 40_000.0).abs() < 3e-3,
                "cell {index}: {area}"
            );
        }
    }
}
