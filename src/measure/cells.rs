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
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for point in ring {
            low = low.min(point.y_m);
            high = high.max(point.y_m);
        }
        let rows = self.rows_between(low, high);
        let first = rows.start;
        // Of each row: from where to where the ring goes; edge by edge, since each goes on straight from row to row.
        let mut ends: smallvec::SmallVec<[(f64, f64); 64]> =
            smallvec::smallvec![(f64::INFINITY, f64::NEG_INFINITY); rows.len()];
        for k in 0..ring.len() {
            let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
            let own = self.rows_between(a.y_m.min(b.y_m), a.y_m.max(b.y_m));
            if own.is_empty() {
                continue;
            }
            let slope = (b.x_m - a.x_m) / (b.y_m - a.y_m);
            for row in own {
                let y_m = self.low.y_m + (row as f64 + 0.5) * self.cell_m;
                let x_m = a.x_m + (y_m - a.y_m) * slope;
                let end = &mut ends[row - first];
                *end = (end.0.min(x_m), end.1.max(x_m));
            }
        }
        for (row, (from, to)) in rows.zip(ends) {
            if from < to {
                each(row, self.columns_between(from, to));
            }
        }
    }
}

/// Whole numbers k with `low <= k + 0.5 < high`, within `0..count`.
fn range(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    // The least k with x <= k + 0.5. The cast cuts down, and gives 0 below it: quicker than a call for a ceiling.
    let edge = |x: f64| {
        let k = (x + 0.5) as usize;
        let exact = k as f64 - 0.5 >= x;
        (k - usize::from(exact && k > 0)).min(count)
    };
    let (from, to) = (edge(low), edge(high));
    from..to.max(from)
}
