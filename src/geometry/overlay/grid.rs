//! Which edges may meet: a uniform grid of square cells, refined where it is crowded.
//!
//! Every edge stands in every cell that holds the centre of a pixel it passes (lemma 2 of `docs/overlay.md`), so two
//! edges that pass one pixel share that pixel's cell. Cells are about as wide as an edge is long: a lane's edge stands
//! in a handful. A cell with many edges is cut in 8 x 8, and so on, so that edges far shorter than the usual one, or
//! long ones that fan out from one place, are compared with those beside them only.

use super::GridPoint;
use super::rings::{Edge, Fail, MOST_CORNERS, MOST_PAIRS, Rings, counted, number};

number! {
    /// An edge in a cell; those of a cell are a list.
    Entry
}

/// A cell with more edges is cut, if that helps (by trial).
const CROWD: u32 = 48;
/// Cells along a side of a crowded cell (by trial).
const CUT_BITS: u32 = 3;
/// Cells are not cut below 2^8 steps (15 um): the margin of a slanted edge is three steps (limit).
const LEAST_BITS: u32 = 8;
/// A slanted edge's cells are those it comes this near to, steps: half a pixel, the rounding of the line, the cut to
/// a whole number, and one to spare (tolerance).
const MARGIN: i64 = 3;
/// More pairs that may meet than this for each edge are a heap, but for a few edges (by trial).
const HEAP: usize = 32;
/// So few pairs that may meet are never a heap (by trial).
const FEW_PAIRS: usize = 4096;

#[derive(Clone, Copy)]
struct Listed {
    edge: Edge,
    next: Option<Entry>,
}

#[derive(Clone, Copy)]
enum Cell {
    Leaf {
        first: Option<Entry>,
        count: u32,
    },
    /// Cut: its parts begin at this place of the cells, row by row.
    Cut(u32),
}

const EMPTY: Cell = Cell::Leaf {
    first: None,
    count: 0,
};

/// A block of cells: the whole grid, or one crowded cell.
#[derive(Clone, Copy)]
struct Block {
    /// Of the cells.
    first: usize,
    columns: usize,
    rows: usize,
    low: [i64; 2],
    /// A cell is 2^bits steps wide.
    bits: u32,
}

/// Edges by place.
pub(super) struct Grid {
    whole: Block,
    cells: Vec<Cell>,
    entries: Vec<Listed>,
    /// Whether an edge stands in all cells of its box, none of which is cut.
    fills_box: Vec<bool>,
}

/// The box around an edge: low x, low y, high x, high y.
#[inline(always)]
fn box_of((a, b): (GridPoint, GridPoint)) -> [i64; 4] {
    [a.x.min(b.x), a.y.min(b.y), a.x.max(b.x), a.y.max(b.y)]
}

impl Block {
    fn cell(&self, column: usize, row: usize) -> usize {
        self.first + row * self.columns + column
    }

    /// Column and row of a place, which may lie outside.
    #[inline(always)]
    fn place(&self, x: i64, y: i64) -> (i64, i64) {
        (
            (x - self.low[0]) >> self.bits,
            (y - self.low[1]) >> self.bits,
        )
    }

    /// The block of a cut cell.
    fn part(&self, column: usize, row: usize, first: u32) -> Self {
        Self {
            first: first as usize,
            columns: 1 << CUT_BITS,
            rows: 1 << CUT_BITS,
            low: [
                self.low[0] + ((column as i64) << self.bits),
                self.low[1] + ((row as i64) << self.bits),
            ],
            bits: self.bits - CUT_BITS,
        }
    }

    /// Calls with every cell that the edge may pass; returns whether these are all of its box.
    #[inline(always)]
    fn walk(&self, (a, b): (GridPoint, GridPoint), mut visit: impl FnMut(usize)) -> bool {
        let [low_x, low_y, high_x, high_y] = box_of((a, b));
        let (column, row) = self.place(low_x, low_y);
        let (last_column, last_row) = self.place(high_x, high_y);
        let (column, row) = (column.max(0), row.max(0));
        let last_column = last_column.min(self.columns as i64 - 1);
        let last_row = last_row.min(self.rows as i64 - 1);
        let few = last_column - column <= 1 && last_row - row <= 1;
        if few || column == last_column || row == last_row || low_x == high_x {
            for row in row..=last_row {
                for column in column..=last_column {
                    visit(self.cell(column as usize, row as usize));
                }
            }
            return true;
        }
        let slope = (b.y - a.y) as f64 / (b.x - a.x) as f64;
        let y_at = |x: i64| a.y as f64 + (x - a.x) as f64 * slope;
        for column in column..=last_column {
            let left = self.low[0] + (column << self.bits);
            let from = (left - MARGIN).clamp(low_x, high_x);
            let to = (left + (1 << self.bits) + MARGIN).clamp(low_x, high_x);
            let (y, other_y) = (y_at(from), y_at(to));
            let (_, first) = self.place(0, y.min(other_y) as i64 - MARGIN);
            let (_, last) = self.place(0, y.max(other_y) as i64 + MARGIN);
            for row in first.max(row)..=last.min(last_row) {
                visit(self.cell(column as usize, row as usize));
            }
        }
        false
    }
}

impl Grid {
    /// Puts all edges of the rings, at least one, into cells.
    ///
    /// # Errors
    ///
    /// Coordinates out of range, or too many entries.
    pub(super) fn of(rings: &Rings) -> Result<Self, Fail> {
        let mut grid = Self {
            whole: whole(rings)?,
            cells: Vec::new(),
            entries: Vec::with_capacity(6 * rings.edge_count()),
            fills_box: vec![false; rings.corners.len()],
        };
        let block = grid.whole;
        grid.cells.resize(block.columns * block.rows, EMPTY);
        for edge in rings.edges() {
            grid.fills_box[edge.at()] = grid.put(&block, edge, rings);
        }
        counted(grid.entries.len())?;
        for row in 0..block.rows {
            for column in 0..block.columns {
                grid.refine(&block, (column, row), rings)?;
            }
        }
        Ok(grid)
    }

    /// Lists an edge in its cells of a block; whether these are all of its box.
    fn put(&mut self, block: &Block, edge: Edge, rings: &Rings) -> bool {
        let (cells, entries) = (&mut self.cells, &mut self.entries);
        block.walk(rings.ends(edge), |cell| {
            if let Cell::Leaf { first, count } = &mut cells[cell] {
                let next = first.replace(Entry::new(entries.len()));
                *count += 1;
                entries.push(Listed { edge, next });
            }
        })
    }

    /// Cuts a crowded cell, and its parts.
    fn refine(
        &mut self,
        block: &Block,
        (column, row): (usize, usize),
        rings: &Rings,
    ) -> Result<(), Fail> {
        let cell = block.cell(column, row);
        let Cell::Leaf { first, count } = self.cells[cell] else {
            return Ok(());
        };
        if count <= CROWD || block.bits < LEAST_BITS + CUT_BITS {
            return Ok(());
        }
        let (cells, entries) = (self.cells.len(), self.entries.len());
        counted(cells.max(entries + ((count as usize) << (2 * CUT_BITS))))?;
        let part = block.part(column, row, cells as u32);
        self.cells.resize(cells + part.columns * part.rows, EMPTY);
        let mut at = first;
        while let Some(entry) = at {
            let listed = self.entries[entry.at()];
            self.put(&part, listed.edge, rings);
            at = listed.next;
        }
        if self.run_along(cells, count) {
            self.cells.truncate(cells);
            self.entries.truncate(entries);
            return Ok(());
        }
        let mut at = first;
        while let Some(entry) = at {
            let listed = self.entries[entry.at()];
            self.fills_box[listed.edge.at()] = false;
            at = listed.next;
        }
        self.cells[cell] = Cell::Cut(part.first as u32);
        for row in 0..part.rows {
            for column in 0..part.columns {
                self.refine(&part, (column, row), rings)?;
            }
        }
        Ok(())
    }

    /// Whether edges run along each other through a cut cell, whose parts are the last cells: then each of them would
    /// be compared with all others in a whole row of parts. Edges that meet in one place, which may lie where four
    /// parts meet, are no such case: beyond it they part.
    fn run_along(&self, parts: usize, count: u32) -> bool {
        let holds_most = |cell: &&Cell| matches!(cell, Cell::Leaf { count: held, .. } if *held > count - count / 4);
        self.cells[parts..].iter().filter(holds_most).count() > 4
    }

    /// Pairs of edges, no neighbours, whose boxes meet in some cell; each once, in order.
    ///
    /// # Errors
    ///
    /// [`Fail::Heap`] when there are many for each edge and `heaps` are not wanted, [`Fail::Count`].
    pub(super) fn pairs(&self, rings: &Rings, heaps: bool) -> Result<Vec<(Edge, Edge)>, Fail> {
        let edges = rings.edge_count();
        let most = if heaps {
            MOST_PAIRS
        } else {
            (HEAP * edges + FEW_PAIRS).min(MOST_PAIRS)
        };
        let mut pairs = Pairs {
            list: Vec::with_capacity(2 * edges),
            most,
            sorted: 0,
        };
        let mut stack = vec![self.whole];
        while let Some(block) = stack.pop() {
            for row in 0..block.rows {
                for column in 0..block.columns {
                    let full = match self.cells[block.cell(column, row)] {
                        Cell::Cut(first) => {
                            stack.push(block.part(column, row, first));
                            false
                        }
                        Cell::Leaf { first, .. } => self.compare(
                            &block,
                            (column as i64, row as i64),
                            first,
                            rings,
                            &mut pairs,
                        ),
                    };
                    if full {
                        return Err(if heaps { Fail::Count } else { Fail::Heap });
                    }
                }
            }
        }
        if pairs.settle() {
            return Err(if heaps { Fail::Count } else { Fail::Heap });
        }
        Ok(pairs.list)
    }

    /// Compares the edges of a cell. Whether there are too many pairs now.
    #[inline(always)]
    fn compare(
        &self,
        block: &Block,
        place: (i64, i64),
        first: Option<Entry>,
        rings: &Rings,
        pairs: &mut Pairs,
    ) -> bool {
        let mut at = first;
        while let Some(entry) = at {
            let one = self.entries[entry.at()];
            let a = box_of(rings.ends(one.edge));
            at = one.next;
            let mut with = at;
            while let Some(entry) = with {
                let other = self.entries[entry.at()];
                with = other.next;
                let b = box_of(rings.ends(other.edge));
                if (a[0] > b[2]) | (b[0] > a[2]) | (a[1] > b[3]) | (b[1] > a[3]) {
                    continue;
                }
                // Two edges that stand in all cells of their boxes are compared in the first that they share. Others
                // may share some cell but not that one: sorting finds what is found twice.
                let everywhere = self.fills_box[one.edge.at()] && self.fills_box[other.edge.at()];
                if everywhere && block.place(a[0].max(b[0]), a[1].max(b[1])) != place {
                    continue;
                }
                let (first, second) = (one.edge.min(other.edge), one.edge.max(other.edge));
                if !rings.are_neighbours(first, second) {
                    pairs.list.push((first, second));
                }
            }
            if pairs.list.len() > 2 * pairs.most.max(pairs.sorted) && pairs.settle() {
                return true;
            }
        }
        false
    }

    /// Calls with every edge that may pass the pixel of a point.
    pub(super) fn at(&self, point: GridPoint, mut visit: impl FnMut(Edge)) {
        let mut block = self.whole;
        loop {
            let (column, row) = block.place(point.x, point.y);
            let (column, row) = (column as usize, row as usize);
            match self.cells[block.cell(column, row)] {
                Cell::Cut(first) => block = block.part(column, row, first),
                Cell::Leaf { first, .. } => return self.listed(first, &mut visit),
            }
        }
    }

    /// Calls with every edge of a cell's list.
    fn listed(&self, first: Option<Entry>, visit: &mut impl FnMut(Edge)) {
        let mut at = first;
        while let Some(entry) = at {
            let listed = self.entries[entry.at()];
            visit(listed.edge);
            at = listed.next;
        }
    }

    /// Goes west from a point, cell by cell, calling with every edge on the way (some twice); `stop` is asked after each
    /// cell of the whole grid with its western end.
    pub(super) fn west_of(
        &self,
        point: GridPoint,
        mut visit: impl FnMut(Edge),
        mut stop: impl FnMut(i64) -> bool,
    ) {
        let (last, _) = self.whole.place(point.x, point.y);
        for column in (0..=last as usize).rev() {
            self.in_row(&self.whole, column, point, &mut visit);
            if stop(self.whole.low[0] + ((column as i64) << self.whole.bits)) {
                return;
            }
        }
    }

    fn in_row(&self, block: &Block, column: usize, point: GridPoint, visit: &mut impl FnMut(Edge)) {
        let (_, row) = block.place(point.x, point.y);
        match self.cells[block.cell(column, row as usize)] {
            Cell::Leaf { first, .. } => self.listed(first, visit),
            Cell::Cut(first) => {
                let part = block.part(column, row as usize, first);
                for column in 0..part.columns {
                    self.in_row(&part, column, point, visit);
                }
            }
        }
    }
}

/// Pairs as they are found, some more than once.
struct Pairs {
    list: Vec<(Edge, Edge)>,
    most: usize,
    /// How many there were when they were last sorted.
    sorted: usize,
}

impl Pairs {
    /// Each once, in order. Whether there are too many.
    fn settle(&mut self) -> bool {
        self.list.sort_unstable();
        self.list.dedup();
        self.sorted = self.list.len();
        self.sorted > self.most
    }
}

/// The whole grid: cells as wide as the mean edge is long, but at most some four for each edge.
fn whole(rings: &Rings) -> Result<Block, Fail> {
    if rings.corners.len() > MOST_CORNERS {
        return Err(Fail::Count);
    }
    let edges = rings.edge_count() as u64;
    let (mut low, mut high) = ([i64::MAX; 2], [i64::MIN; 2]);
    for point in &rings.corners {
        low = [low[0].min(point.x), low[1].min(point.y)];
        high = [high[0].max(point.x), high[1].max(point.y)];
    }
    let far = super::GREATEST_STEPS as i64;
    if low.iter().any(|&steps| steps < -far) || high.iter().any(|&steps| steps > far) {
        return Err(Fail::Range);
    }
    let [width, height] = [0, 1].map(|axis| high[axis].abs_diff(low[axis]));
    let mean = rings.total_reach() / edges.max(1);
    let mut bits = mean.max(1).ilog2();
    let cells = |bits: u32| (u128::from(width >> bits) + 1) * (u128::from(height >> bits) + 1);
    while cells(bits) > u128::from(4 * edges + 16) {
        bits += 1;
    }
    Ok(Block {
        first: 0,
        columns: (width >> bits) as usize + 1,
        rows: (height >> bits) as usize + 1,
        low,
        bits,
    })
}
