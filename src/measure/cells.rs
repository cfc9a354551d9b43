//! Square cells over a piece of a plane: what rows and columns a ring covers.

use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;

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
        let Some(&last) = ring.last() else { return };
        // In cells from the middle of the first: a row or column is a whole number.
        let scale = self.cell_m.recip();
        let place = |point: Xy| {
            let x = (point.x_m - self.low.x_m) * scale - 0.5;
            (x, (point.y_m - self.low.y_m) * scale - 0.5)
        };
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for &point in ring {
            let y = place(point).1;
            low = low.min(y);
            high = high.max(y);
        }
        let first = whole_from(low, self.rows);
        let rows = first..whole_from(high, self.rows);
        // Of each row: from where to where the ring goes; edge by edge, since each goes on straight from row to row.
        let mut ends: smallvec::SmallVec<[(f64, f64); 64]> =
            smallvec::smallvec![(f64::INFINITY, f64::NEG_INFINITY); rows.len()];
        let mut a = place(last);
        for &point in ring {
            let b = place(point);
            let own = whole_from(a.1.min(b.1), self.rows)..whole_from(a.1.max(b.1), self.rows);
            if !own.is_empty() {
                let slope = (b.0 - a.0) / (b.1 - a.1);
                for row in own {
                    let x = a.0 + (row as f64 - a.1) * slope;
                    let end = &mut ends[row - first];
                    *end = (end.0.min(x), end.1.max(x));
                }
            }
            a = b;
        }
        for (row, (from, to)) in rows.zip(ends) {
            if from < to {
                each(
                    row,
                    whole_from(from, self.columns)..whole_from(to, self.columns),
                );
            }
        }
    }
}

/// The least whole number from `x` on, within `0..=most`. A cast cuts down, and gives 0 below it: quicker than a call for
/// a ceiling.
fn whole_from(x: f64, most: usize) -> usize {
    let cut = x as usize;
    (cut + usize::from((cut as f64) < x)).min(most)
}

/// Whole numbers k with `low <= k + 0.5 < high`, within `0..count`.
fn range(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    let (from, to) = (whole_from(low - 0.5, count), whole_from(high - 0.5, count));
    from..to.max(from)
}
