//! A raster in a site's frame and the one way to paint on it.
//!
//! A cell belongs to a shape when its centre does. The error of an area is about 0.3 cells times the square root of
//! (outline / cell): for 10 m2 on cells of 0.1 m under 0.1 m2.

use crate::plane::P;

/// Cells of equal size from a lower left corner, row by row.
#[derive(Clone)]
pub(crate) struct Grid<T> {
    pub(crate) corner: P,
    pub(crate) cell_m: f64,
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    pub(crate) cells: Vec<T>,
}

impl<T: Copy> Grid<T> {
    /// Over the box from `low` to `high`, all cells `value`.
    pub(crate) fn over(low: P, high: P, cell_m: f64, value: T) -> Self {
        let columns = ((high[0] - low[0]) / cell_m).ceil() as usize;
        let rows = ((high[1] - low[1]) / cell_m).ceil() as usize;
        Self {
            corner: low,
            cell_m,
            columns,
            rows,
            cells: vec![value; columns * rows],
        }
    }

    /// Another raster on the same cells.
    pub(crate) fn like<U: Copy>(&self, value: U) -> Grid<U> {
        Grid {
            corner: self.corner,
            cell_m: self.cell_m,
            columns: self.columns,
            rows: self.rows,
            cells: vec![value; self.cells.len()],
        }
    }

    /// The cell that holds `p`.
    pub(crate) fn at(&self, p: P) -> Option<T> {
        let x = (p[0] - self.corner[0]) / self.cell_m;
        let y = (p[1] - self.corner[1]) / self.cell_m;
        if x < 0.0 || y < 0.0 || x >= self.columns as f64 || y >= self.rows as f64 {
            return None;
        }
        Some(self.cells[y as usize * self.columns + x as usize])
    }

    /// Centre of a cell.
    pub(crate) fn centre(&self, cell: usize) -> P {
        let (row, column) = (cell / self.columns, cell % self.columns);
        [
            self.corner[0] + (column as f64 + 0.5) * self.cell_m,
            self.corner[1] + (row as f64 + 0.5) * self.cell_m,
        ]
    }

    /// Area of a cell.
    pub(crate) fn cell_m2(&self) -> f64 {
        self.cell_m * self.cell_m
    }

    /// Cells whose centre lies inside rings (even-odd).
    pub(crate) fn inside(&self, rings: &[&[P]]) -> Vec<usize> {
        let mut found = Vec::new();
        self.visit(rings, &mut |cell| found.push(cell));
        found
    }

    /// Calls `each` with every cell whose centre lies inside rings (even-odd).
    pub(crate) fn visit(&self, rings: &[&[P]], each: &mut impl FnMut(usize)) {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for p in rings.iter().copied().flatten() {
            low = low.min(p[1]);
            high = high.max(p[1]);
        }
        let first = ((low - self.corner[1]) / self.cell_m - 0.5).ceil().max(0.0) as usize;
        let mut cuts: Vec<f64> = Vec::with_capacity(8);
        for row in first..self.rows {
            let y = self.corner[1] + (row as f64 + 0.5) * self.cell_m;
            if y > high {
                break;
            }
            cuts.clear();
            for ring in rings {
                for (i, a) in ring.iter().enumerate() {
                    let b = ring[(i + 1) % ring.len()];
                    if (a[1] <= y) != (b[1] <= y) {
                        cuts.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                    }
                }
            }
            cuts.sort_by(f64::total_cmp);
            for pair in cuts.chunks_exact(2) {
                let from = ((pair[0] - self.corner[0]) / self.cell_m - 0.5)
                    .ceil()
                    .max(0.0);
                let to = ((pair[1] - self.corner[0]) / self.cell_m - 0.5)
                    .ceil()
                    .max(0.0);
                for column in from as usize..(to as usize).min(self.columns) {
                    each(row * self.columns + column);
                }
            }
        }
    }
}

impl Grid<bool> {
    /// Squares of `radius` cells either way: set only where all of the square is set.
    pub(crate) fn shrunk(&self, radius: usize) -> Self {
        self.swept(radius, false)
    }

    /// Set where any cell of the square is set.
    pub(crate) fn grown(&self, radius: usize) -> Self {
        self.swept(radius, true)
    }

    /// Along rows, then along columns: `value` spreads by `radius` cells.
    fn swept(&self, radius: usize, value: bool) -> Self {
        let mut wide = self.like(!value);
        let mut out = self.like(!value);
        spread(
            &self.cells,
            &mut wide.cells,
            (self.rows, self.columns, self.columns, 1),
            radius,
            value,
        );
        spread(
            &wide.cells,
            &mut out.cells,
            (self.columns, self.rows, 1, self.columns),
            radius,
            value,
        );
        out
    }

    /// Groups of set cells that touch by a side.
    pub(crate) fn groups(&self) -> Vec<Vec<usize>> {
        let mut left = self.cells.clone();
        let mut groups = Vec::new();
        for start in 0..left.len() {
            if !left[start] {
                continue;
            }
            left[start] = false;
            let mut group = vec![start];
            let mut next = 0;
            while next < group.len() {
                let cell = group[next];
                next += 1;
                let column = cell % self.columns;
                let around = [
                    (column > 0).then(|| cell - 1),
                    (column + 1 < self.columns).then(|| cell + 1),
                    cell.checked_sub(self.columns),
                    (cell + self.columns < left.len()).then_some(cell + self.columns),
                ];
                for near in around.into_iter().flatten() {
                    if left[near] {
                        left[near] = false;
                        group.push(near);
                    }
                }
            }
            groups.push(group);
        }
        groups
    }
}

/// Spreads `value` along `count` lines of `length` cells: line and cell strides come last in the shape.
fn spread(
    from: &[bool],
    to: &mut [bool],
    shape: (usize, usize, usize, usize),
    radius: usize,
    value: bool,
) {
    let (count, length, line_stride, cell_stride) = shape;
    for line in 0..count {
        let base = line * line_stride;
        let mut last: Option<usize> = None;
        let mut next = 0;
        for i in 0..length {
            while next < length && next <= i + radius {
                if from[base + next * cell_stride] == value {
                    last = Some(next);
                }
                next += 1;
            }
            if last.is_some_and(|l| l + radius >= i) {
                to[base + i * cell_stride] = value;
            }
        }
    }
}
