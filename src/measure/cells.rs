//! Square cells over a piece of a plane: what rows and columns a ring covers.

use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;
use smallvec::SmallVec;

/// Square cells over a piece of a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cells {
    /// Corner of the first cell.
    pub(super) low: Xy,
    /// Side, m.
    pub(super) cell_m: f64,
    /// Cells along x.
    pub(super) columns: usize,
    /// Cells along y.
    pub(super) rows: usize,
}

impl Cells {
    /// Cells over an extent, with a margin.
    pub(super) fn over(extent: Extent, cell_m: f64, margin_m: f64) -> Self {
        let low = Xy::new(extent.low.x_m - margin_m, extent.low.y_m - margin_m);
        let count = |from_m: f64, to_m: f64| {
            // Extents are finite; an empty one gives a single cell.
            (((to_m - from_m + 2.0 * margin_m) / cell_m).ceil()).max(1.0) as usize
        };
        Self {
            low,
            cell_m,
            columns: count(extent.low.x_m, extent.high.x_m),
            rows: count(extent.low.y_m, extent.high.y_m),
        }
    }

    /// Middle of a cell.
    pub(super) fn middle(&self, column: usize, row: usize) -> Xy {
        Xy::new(
            self.low.x_m + (column as f64 + 0.5) * self.cell_m,
            self.low.y_m + (row as f64 + 0.5) * self.cell_m,
        )
    }

    /// The cell of a point, if it is on the grid.
    pub(super) fn at(&self, point: Xy) -> Option<(usize, usize)> {
        let column = ((point.x_m - self.low.x_m) / self.cell_m).floor();
        let row = ((point.y_m - self.low.y_m) / self.cell_m).floor();
        (column >= 0.0 && row >= 0.0 && column < self.columns as f64 && row < self.rows as f64)
            .then_some((column as usize, row as usize))
    }

    /// Rows whose middles lie from `low_m` up to `high_m`.
    pub(super) fn rows_between(&self, low_m: f64, high_m: f64) -> std::ops::Range<usize> {
        range(
            (low_m - self.low.y_m) / self.cell_m,
            (high_m - self.low.y_m) / self.cell_m,
            self.rows,
        )
    }

    /// Columns whose middles lie from `low_m` up to `high_m`.
    pub(super) fn columns_between(&self, low_m: f64, high_m: f64) -> std::ops::Range<usize> {
        range(
            (low_m - self.low.x_m) / self.cell_m,
            (high_m - self.low.x_m) / self.cell_m,
            self.columns,
        )
    }

    /// Calls `each` with every row of a convex ring and the columns whose middles lie in it.
    pub(super) fn scan_convex(
        &self,
        ring: &[Xy],
        mut each: impl FnMut(usize, std::ops::Range<usize>),
    ) {
        // In cells from the middle of the first: a row or column is a whole number.
        let scale = self.cell_m.recip();
        let place = |point: &Xy| {
            let x = (point.x_m - self.low.x_m) * scale - 0.5;
            (x, (point.y_m - self.low.y_m) * scale - 0.5)
        };
        let corners: SmallVec<[(f64, f64); 4]> = ring.iter().map(place).collect();
        let ys = corners.iter().map(|corner| corner.1);
        let high = ys.clone().fold(f64::NEG_INFINITY, f64::max);
        let Some((lowest, low)) = ys.enumerate().min_by(|a, b| a.1.total_cmp(&b.1)) else {
            return;
        };
        let mut sides = [Side::from(lowest, 1), Side::from(lowest, corners.len() - 1)];
        for row in whole_from(low, self.rows)..whole_from(high, self.rows) {
            let [one, other] = sides
                .each_mut()
                .map(|side| side.at(row, &corners, self.rows));
            let (from, to) = (one.min(other), one.max(other));
            if from < to {
                let columns = whole_from(from, self.columns)..whole_from(to, self.columns);
                each(row, columns);
            }
        }
    }
}

/// One of the two ways up from the lowest corner of a convex ring to its highest.
struct Side {
    corner: usize,
    /// To the next corner up, counted around the ring.
    step: usize,
    /// The edge: where it begins, and columns a row.
    begins: (f64, f64),
    slope: f64,
    /// Rows below this one are the edge's.
    until: usize,
}

impl Side {
    fn from(corner: usize, step: usize) -> Self {
        Self {
            corner,
            step,
            begins: (0.0, 0.0),
            slope: 0.0,
            until: 0,
        }
    }

    /// The column at which it crosses a row; rows come in rising order and below the highest corner.
    fn at(&mut self, row: usize, corners: &[(f64, f64)], rows: usize) -> f64 {
        while row >= self.until {
            let next = (self.corner + self.step) % corners.len();
            // Either side takes an edge the way the ring goes: the same edge gives the same columns to both its neighbours.
            let (a, b) = if self.step == 1 {
                (corners[self.corner], corners[next])
            } else {
                (corners[next], corners[self.corner])
            };
            self.begins = a;
            self.slope = (b.0 - a.0) / (b.1 - a.1);
            self.corner = next;
            self.until = whole_from(corners[next].1, rows);
        }
        self.begins.0 + (row as f64 - self.begins.1) * self.slope
    }
}

/// The least whole number from `x` on, within `0..=most`. A cast truncates, and gives 0 for what is negative: quicker
/// than calling for a ceiling.
fn whole_from(x: f64, most: usize) -> usize {
    let cut = x as usize;
    (cut + usize::from((cut as f64) < x)).min(most)
}

/// Whole numbers k with `low <= k + 0.5 < high`, within `0..count`.
fn range(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    let (from, to) = (whole_from(low - 0.5, count), whole_from(high - 0.5, count));
    from..to.max(from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Turned rectangles, some of them beyond the cells, either way around: a cell is in one where its middle is to the left
    /// (the right) of all four edges.
    #[test]
    fn rows_of_a_convex_ring_hold_the_cells_whose_middles_lie_in_it() {
        let cells = Cells {
            low: Xy::new(-3.0, 2.0),
            cell_m: 0.5,
            columns: 90,
            rows: 40,
        };
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        for case in 0..300 {
            let ahead = Xy::at_angle(chance.random_range(0.0..std::f64::consts::TAU));
            let left = Xy::new(-ahead.y_m, ahead.x_m);
            let from = Xy::new(
                chance.random_range(-9.0..50.0),
                chance.random_range(-5.0..30.0),
            );
            let (long_m, wide_m) = (
                chance.random_range(0.0..40.0),
                chance.random_range(0.0..6.0),
            );
            let to = from.plus(ahead, long_m);
            let mut ring = [from, to, to.plus(left, wide_m), from.plus(left, wide_m)];
            if case % 2 == 1 {
                ring.reverse();
            }
            let mut found = vec![false; cells.columns * cells.rows];
            cells.scan_convex(&ring, |row, columns| {
                columns.for_each(|column| found[row * cells.columns + column] = true);
            });
            for row in 0..cells.rows {
                for column in 0..cells.columns {
                    let off = cells.middle(column, row).minus(from);
                    let (along_m, aside_m) = (off.dot(ahead), off.dot(left));
                    let inside =
                        (0.0..long_m).contains(&along_m) && (0.0..wide_m).contains(&aside_m);
                    assert_eq!(
                        found[row * cells.columns + column],
                        inside,
                        "{case}: {column} {row}"
                    );
                }
            }
        }
    }
}
