//! Ground as whole cells of a grid: which cells lie in rings, and boxes around those that do.
//!
//! Base module. A cell lies in ground when its middle does, so an outline of cells is nowhere farther from the
//! ground's own than half a cell's diagonal. The work follows the rows that outlines pass, and never how often
//! outlines cross each other.

use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use std::ops::Range;

/// Cells side by side in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct CellRun {
    /// The row.
    pub row: usize,
    /// First column.
    pub from: usize,
    /// Behind the last column.
    pub to: usize,
}

/// An outline that passes a row: the cells from `column` on lie east of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Passage {
    row: u32,
    column: u32,
    /// What being east of it adds to the winding.
    adds: i8,
}

/// Finds the cells in rings; its memory is used again from one set of rings to the next.
#[derive(Default)]
pub struct Scan {
    passages: Vec<Passage>,
}

impl Scan {
    /// Calls with every run of cells that the rings wind about more often counter-clockwise than clockwise, from the
    /// lowest row up.
    pub fn each_run<'a>(
        &mut self,
        grid: &Grid,
        rings: impl IntoIterator<Item = &'a [Xy]>,
        mut each: impl FnMut(CellRun),
    ) {
        self.passages.clear();
        for ring in rings {
            let mut from = ring.last();
            for to in ring {
                if let Some(from) = from {
                    self.pass(grid, *from, *to);
                }
                from = Some(to);
            }
        }
        self.passages.sort_unstable();
        let (mut winding, mut from) = (0_i32, 0);
        for passage in &self.passages {
            let was_in = winding > 0;
            winding += i32::from(passage.adds);
            if !was_in && winding > 0 {
                from = passage.column;
            } else if was_in && winding <= 0 && from < passage.column {
                each(CellRun {
                    row: passage.row as usize,
                    from: from as usize,
                    to: passage.column as usize,
                });
            }
        }
    }

    /// Every row of the grid that an edge passes. An edge has the rows from its lower end's up to its upper end's
    /// own, so that rings close whatever is rounded.
    fn pass(&mut self, grid: &Grid, a: Xy, b: Xy) {
        let first = |m: f64, count: usize| {
            let middles = (m / grid.cell_m - 0.5).ceil();
            middles.clamp(0.0, count as f64) as u32
        };
        let row = |at: Xy| first(at.y_m - grid.origin.y_m, grid.rows);
        let (adds, rows) = if a.y_m < b.y_m {
            (-1, row(a)..row(b))
        } else {
            (1, row(b)..row(a))
        };
        let slope = (b.x_m - a.x_m) / (b.y_m - a.y_m);
        for row in rows {
            let y_m = grid.origin.y_m + (f64::from(row) + 0.5) * grid.cell_m;
            let x_m = a.x_m + (y_m - a.y_m) * slope;
            self.passages.push(Passage {
                row,
                column: first(x_m - grid.origin.x_m, grid.columns),
                adds,
            });
        }
    }
}

/// Some cells of a grid.
pub struct Mask {
    grid: Grid,
    held: Vec<bool>,
    /// Rows with any.
    rows: Range<usize>,
    /// Columns with any.
    columns: Range<usize>,
}

impl Mask {
    /// None of the cells.
    #[must_use]
    pub fn none(grid: Grid) -> Self {
        Self {
            grid,
            held: vec![false; grid.cells()],
            rows: grid.rows..0,
            columns: grid.columns..0,
        }
    }

    /// Adds a run.
    pub fn add(&mut self, run: CellRun) {
        let start = run.row * self.grid.columns;
        self.held[start + run.from..start + run.to].fill(true);
        self.rows = self.rows.start.min(run.row)..self.rows.end.max(run.row + 1);
        self.columns = self.columns.start.min(run.from)..self.columns.end.max(run.to);
    }

    /// How many cells of a run it has.
    #[must_use]
    pub fn count(&self, run: CellRun) -> usize {
        let start = run.row * self.grid.columns;
        let held = &self.held[start + run.from..start + run.to];
        held.iter().filter(|held| **held).count()
    }

    /// Its cells as runs, from the lowest row up; after that it has none.
    pub fn take(&mut self) -> Vec<CellRun> {
        let mut runs = Vec::new();
        for row in self.rows.clone() {
            let start = row * self.grid.columns;
            let held = &mut self.held[start + self.columns.start..start + self.columns.end];
            let mut from = self.columns.start;
            for same in held.chunk_by(|a, b| a == b) {
                let to = from + same.len();
                if same[0] {
                    runs.push(CellRun { row, from, to });
                }
                from = to;
            }
            held.fill(false);
        }
        self.rows = self.grid.rows..0;
        self.columns = self.grid.columns..0;
        runs
    }
}

/// Boxes, counter-clockwise, that together are the cells of some runs, which come row by row. Runs of the same columns in
/// rows one above the other are one box.
#[must_use]
pub fn boxes(grid: &Grid, runs: &[CellRun]) -> Vec<[Xy; 4]> {
    let mut boxes = Vec::new();
    // Of the row below: runs with the row in which their box begins.
    let mut below: Vec<(CellRun, usize)> = Vec::new();
    for row in runs.chunk_by(|a, b| a.row == b.row) {
        let mut own: Vec<(CellRun, usize)> = row.iter().map(|run| (*run, run.row)).collect();
        let mut under = below.iter().peekable();
        for (run, bottom) in &mut own {
            while let Some((done, begin)) = under.next_if(|(lower, _)| lower.from < run.from) {
                boxes.push(around(grid, done, *begin));
            }
            if let Some((lower, begin)) = under.next_if(|(lower, _)| lower.from == run.from) {
                if lower.to == run.to && lower.row + 1 == run.row {
                    *bottom = *begin;
                } else {
                    boxes.push(around(grid, lower, *begin));
                }
            }
        }
        boxes.extend(under.map(|(done, begin)| around(grid, done, *begin)));
        below = own;
    }
    boxes.extend(below.iter().map(|(done, begin)| around(grid, done, *begin)));
    boxes
}

/// The box of a run's columns from a row up to its own.
fn around(grid: &Grid, top: &CellRun, bottom: usize) -> [Xy; 4] {
    let x = |column: usize| grid.origin.x_m + column as f64 * grid.cell_m;
    let y = |row: usize| grid.origin.y_m + row as f64 * grid.cell_m;
    let (low, high) = (y(bottom), y(top.row + 1));
    [
        Xy::new(x(top.from), low),
        Xy::new(x(top.to), low),
        Xy::new(x(top.to), high),
        Xy::new(x(top.from), high),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::overlay::Region;
    use crate::geometry::plane::signed_area_m2;
    use proptest::prelude::*;

    const GRID: Grid = Grid {
        origin: Xy { x_m: 0.0, y_m: 0.0 },
        cell_m: 1.0,
        columns: 12,
        rows: 8,
    };

    fn ring(points: &[(f64, f64)]) -> Vec<Xy> {
        points.iter().map(|&(x, y)| Xy::new(x, y)).collect()
    }

    fn runs(rings: &[Vec<Xy>]) -> Vec<(usize, usize, usize)> {
        let mut runs = Vec::new();
        Scan::default().each_run(&GRID, rings.iter().map(Vec::as_slice), |run| {
            runs.push((run.row, run.from, run.to));
        });
        runs
    }

    #[test]
    fn a_cell_lies_in_ground_when_its_middle_does() {
        // Middles at x 1.5, 2.5 and y 0.5, 1.5 lie inside.
        let square = ring(&[(1.4, 0.4), (2.6, 0.4), (2.6, 1.6), (1.4, 1.6)]);
        assert_eq!(runs(&[square]), [(0, 1, 3), (1, 1, 3)]);
    }

    #[test]
    fn a_hole_wound_the_other_way_is_left_out_and_a_clockwise_ring_is_nothing() {
        let outer = ring(&[(0.0, 0.0), (6.0, 0.0), (6.0, 1.0), (0.0, 1.0)]);
        let hole = ring(&[(2.0, 0.0), (2.0, 1.0), (4.0, 1.0), (4.0, 0.0)]);
        assert_eq!(runs(&[outer, hole.clone()]), [(0, 0, 2), (0, 4, 6)]);
        assert_eq!(runs(&[hole]), []);
    }

    #[test]
    fn what_lies_beyond_the_grid_is_cut_off() {
        let wide = ring(&[(-9.0, -9.0), (99.0, -9.0), (99.0, 0.7), (-9.0, 0.7)]);
        assert_eq!(runs(&[wide]), [(0, 0, 12)]);
    }

    #[test]
    fn rows_of_the_same_columns_are_one_box() {
        let run = |row, from, to| CellRun { row, from, to };
        let found = boxes(
            &GRID,
            &[run(1, 2, 4), run(2, 2, 4), run(2, 6, 7), run(3, 2, 5)],
        );
        let areas: Vec<f64> = found.iter().map(|ring| signed_area_m2(ring)).collect();
        // 2 x 2, 1 x 1, 3 x 1.
        assert_eq!(areas.len(), 3);
        assert_eq!(areas.iter().sum::<f64>(), 8.0);
    }

    #[test]
    fn a_mask_gives_back_what_was_added_once() {
        let mut mask = Mask::none(GRID);
        let run = |row, from, to| CellRun { row, from, to };
        for run in [run(2, 1, 4), run(2, 3, 6), run(1, 0, 1)] {
            mask.add(run);
        }
        assert_eq!(mask.count(run(2, 0, 12)), 5);
        assert_eq!(mask.take(), [run(1, 0, 1), run(2, 1, 6)]);
        assert_eq!(mask.take(), []);
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(1),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]
        /// The exact engine's area of the boxes is the number of cells whose middle a crossing test finds inside.
        #[test]
        fn the_boxes_are_the_cells_whose_middles_lie_inside(
            corners in proptest::collection::vec((0..110_u32, 0..70_u32), 3..9),
        ) {
            let ring: Vec<Xy> = corners.iter()
                .map(|&(x, y)| Xy::new(f64::from(x) / 10.0 + 0.03, f64::from(y) / 10.0 + 0.03)).collect();
            // Whether a middle on the outline itself is inside is for rounding to say.
            let on_outline = |at: Xy| (0..ring.len()).any(|k| {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                b.minus(a).cross(at.minus(a)).abs() < 1e-9
            });
            let middle = |row: usize, column: usize| Xy::new(column as f64 + 0.5, row as f64 + 0.5);
            let mut middles = (0..GRID.rows).flat_map(|row| (0..GRID.columns).map(move |column| middle(row, column)));
            prop_assume!(!middles.any(on_outline));
            let winding = |at: Xy| -> i32 {
                (0..ring.len()).map(|k| {
                    let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                    let is_left = b.minus(a).cross(at.minus(a)) > 0.0;
                    match (a.y_m <= at.y_m, b.y_m <= at.y_m) {
                        (true, false) if is_left => 1,
                        (false, true) if !is_left => -1,
                        _ => 0,
                    }
                }).sum()
            };
            let inside = (0..GRID.rows).flat_map(|row| (0..GRID.columns).map(move |column| (column, row)))
                .filter(|&(column, row)| winding(middle(row, column)) > 0)
                .count();
            let mut runs = Vec::new();
            Scan::default().each_run(&GRID, [ring.as_slice()], |run| runs.push(run));
            let boxes = boxes(&GRID, &runs);
            let region = Region::union_of_positive(boxes.iter().map(<[Xy; 4]>::as_slice));
            prop_assert!((region.area_m2() - inside as f64).abs() < 1e-6);
            let added: f64 = boxes.iter().map(|ring| signed_area_m2(ring)).sum();
            prop_assert!((added - inside as f64).abs() < 1e-9, "boxes overlap");
        }
    }
}
