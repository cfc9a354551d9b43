//! Ground as bit rows: the coarse side of the search for places and lanes. Figures never come from here.

use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;

/// Bits in a word.
const WORD: usize = 64;

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
    fn rows_between(&self, low_m: f64, high_m: f64) -> std::ops::Range<usize> {
        range(
            (low_m - self.low.y_m) / self.cell_m,
            (high_m - self.low.y_m) / self.cell_m,
            self.rows,
        )
    }

    /// Columns whose middles lie from `low_m` up to `high_m`.
    fn columns_between(&self, low_m: f64, high_m: f64) -> std::ops::Range<usize> {
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
        for row in self.rows_between(low, high) {
            let y_m = self.low.y_m + (row as f64 + 0.5) * self.cell_m;
            let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
            for k in 0..ring.len() {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                if (a.y_m <= y_m) != (b.y_m <= y_m) {
                    let x_m = a.x_m + (y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m);
                    from = from.min(x_m);
                    to = to.max(x_m);
                }
            }
            if from < to {
                each(row, self.columns_between(from, to));
            }
        }
    }
}

/// Whole numbers k with `low <= k + 0.5 < high`, within `0..count`.
fn range(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    let edge = |x: f64| ((x - 0.5).ceil().max(0.0) as usize).min(count);
    let (from, to) = (edge(low), edge(high));
    from..to.max(from)
}

/// One bit a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bits {
    words_a_row: usize,
    columns: usize,
    rows: usize,
    words: Vec<u64>,
}

impl Bits {
    /// No cell set.
    pub(super) fn none(cells: &Cells) -> Self {
        let words_a_row = cells.columns.div_ceil(WORD);
        Self {
            words_a_row,
            columns: cells.columns,
            rows: cells.rows,
            words: vec![0; words_a_row * cells.rows],
        }
    }

    /// The cells whose middles lie in the region.
    pub(super) fn of(region: &Region, cells: &Cells) -> Self {
        let mut bits = Self::none(cells);
        let mut crossings: Vec<(usize, f64)> = Vec::new();
        for ring in region.rings() {
            for k in 0..ring.len() {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                for row in cells.rows_between(a.y_m.min(b.y_m), a.y_m.max(b.y_m)) {
                    let y_m = cells.low.y_m + (row as f64 + 0.5) * cells.cell_m;
                    if (a.y_m <= y_m) != (b.y_m <= y_m) {
                        let share = (y_m - a.y_m) / (b.y_m - a.y_m);
                        crossings.push((row, a.x_m + share * (b.x_m - a.x_m)));
                    }
                }
            }
        }
        crossings.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut k = 0;
        while k + 1 < crossings.len() {
            if crossings[k].0 == crossings[k + 1].0 {
                let columns = cells.columns_between(crossings[k].1, crossings[k + 1].1);
                bits.set(crossings[k].0, columns);
                k += 2;
            } else {
                k += 1;
            }
        }
        bits
    }

    fn row(&self, row: usize) -> &[u64] {
        &self.words[row * self.words_a_row..(row + 1) * self.words_a_row]
    }

    pub(super) fn has(&self, column: usize, row: usize) -> bool {
        self.words[row * self.words_a_row + column / WORD] >> (column % WORD) & 1 == 1
    }

    /// Calls `each` with the index of every word that a stretch of a row touches and the mask of its bits.
    fn masks(
        words_a_row: usize,
        row: usize,
        columns: std::ops::Range<usize>,
        mut each: impl FnMut(usize, u64),
    ) {
        if columns.is_empty() {
            return;
        }
        let start = row * words_a_row;
        let (first, last) = (columns.start / WORD, (columns.end - 1) / WORD);
        for word in first..=last {
            let mut mask = u64::MAX;
            if word == first {
                mask &= u64::MAX << (columns.start % WORD);
            }
            if word == last {
                mask &= u64::MAX >> (WORD - 1 - (columns.end - 1) % WORD);
            }
            each(start + word, mask);
        }
    }

    pub(super) fn set(&mut self, row: usize, columns: std::ops::Range<usize>) {
        let words = &mut self.words;
        Self::masks(self.words_a_row, row, columns, |word, mask| {
            words[word] |= mask
        });
    }

    pub(super) fn clear(&mut self, row: usize, columns: std::ops::Range<usize>) {
        let words = &mut self.words;
        Self::masks(self.words_a_row, row, columns, |word, mask| {
            words[word] &= !mask
        });
    }

    /// Of a stretch of a row: words of what is set here and not in `other`, each with the column of its
    /// lowest bit; words of nothing are left out.
    pub(super) fn without(
        &self,
        other: &Self,
        row: usize,
        columns: std::ops::Range<usize>,
    ) -> smallvec::SmallVec<[(usize, u64); 16]> {
        let mut words = smallvec::SmallVec::new();
        let start = row * self.words_a_row;
        Self::masks(self.words_a_row, row, columns, |word, mask| {
            let bits = self.words[word] & !other.words[word] & mask;
            if bits != 0 {
                words.push(((word - start) * WORD, bits));
            }
        });
        words
    }

    pub(super) fn count(&self) -> u64 {
        self.words
            .iter()
            .map(|word| u64::from(word.count_ones()))
            .sum()
    }

    /// Cells set in both.
    pub(super) fn count_common(&self, other: &Self) -> u64 {
        let both = self.words.iter().zip(&other.words);
        both.map(|(a, b)| u64::from((a & b).count_ones())).sum()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.words.iter().all(|&word| word == 0)
    }

    pub(super) fn meets(&self, other: &Self) -> bool {
        self.words.iter().zip(&other.words).any(|(a, b)| a & b != 0)
    }

    pub(super) fn add(&mut self, other: &Self) {
        for (own, word) in self.words.iter_mut().zip(&other.words) {
            *own |= word;
        }
    }

    pub(super) fn keep(&mut self, other: &Self) {
        for (own, word) in self.words.iter_mut().zip(&other.words) {
            *own &= word;
        }
    }

    pub(super) fn take(&mut self, other: &Self) {
        for (own, word) in self.words.iter_mut().zip(&other.words) {
            *own &= !word;
        }
    }

    /// The first set cell.
    pub(super) fn first(&self) -> Option<(usize, usize)> {
        self.first_from(0).map(|(_, cell)| cell)
    }

    /// The first set cell in the words from `start` on, and its word.
    pub(super) fn first_from(&self, start: usize) -> Option<(usize, (usize, usize))> {
        let index = start + self.words[start..].iter().position(|&word| word != 0)?;
        let column = index % self.words_a_row * WORD + self.words[index].trailing_zeros() as usize;
        Some((index, (column, index / self.words_a_row)))
    }

    /// Of each row with a set cell: its index, its first and its last set column.
    pub(super) fn row_ends(&self) -> impl Iterator<Item = (usize, usize, usize)> + '_ {
        (0..self.rows).filter_map(|row| {
            let words = self.row(row);
            let first = words.iter().position(|&word| word != 0)?;
            let last = words.iter().rposition(|&word| word != 0)?;
            let low = first * WORD + words[first].trailing_zeros() as usize;
            let high = last * WORD + WORD - 1 - words[last].leading_zeros() as usize;
            Some((row, low, high))
        })
    }

    /// Adds the cells of `from`, moved, that lie in `within`; true if that set any new one.
    pub(super) fn add_moved(
        &mut self,
        from: &Self,
        (columns, rows): (isize, isize),
        within: &Self,
    ) -> bool {
        let mut changed = false;
        for row in 0..self.rows {
            let Some(source) = row.checked_add_signed(-rows).filter(|&row| row < self.rows) else {
                continue;
            };
            changed |= self.add_row(row, from.row(source), columns, within);
        }
        changed
    }

    fn add_row(&mut self, row: usize, source: &[u64], columns: isize, within: &Self) -> bool {
        let start = row * self.words_a_row;
        let (jump, bits) = (
            columns.div_euclid(WORD as isize),
            columns.rem_euclid(WORD as isize),
        );
        let mut changed = false;
        let at = |index: isize| {
            usize::try_from(index)
                .ok()
                .and_then(|index| source.get(index))
                .copied()
                .unwrap_or(0)
        };
        for word in 0..self.words_a_row {
            let index = word as isize - jump;
            let mut moved = at(index) << bits;
            if bits > 0 {
                moved |= at(index - 1) >> (WORD as isize - bits);
            }
            let new = moved & within.words[start + word] & !self.words[start + word];
            changed |= new != 0;
            self.words[start + word] |= new;
        }
        changed
    }

    /// Spreads along one of the eight directions, either way, as far as `within` reaches; true if that set
    /// any new cell.
    pub(super) fn spread(&mut self, (columns, rows): (isize, isize), within: &Self) -> bool {
        if rows == 0 {
            return self.spread_in_rows(within);
        }
        let mut changed = false;
        for row in 1..self.rows {
            changed |= self.spread_row(row - 1, row, columns * rows.signum(), within);
        }
        for row in (0..self.rows.saturating_sub(1)).rev() {
            changed |= self.spread_row(row + 1, row, -columns * rows.signum(), within);
        }
        changed
    }

    fn spread_row(&mut self, from: usize, to: usize, columns: isize, within: &Self) -> bool {
        let source: smallvec::SmallVec<[u64; 16]> = self.row(from).into();
        self.add_row(to, &source, columns, within)
    }

    fn spread_in_rows(&mut self, within: &Self) -> bool {
        let mut changed = false;
        for row in 0..self.rows {
            let range = row * self.words_a_row..(row + 1) * self.words_a_row;
            let free = &within.words[range.clone()];
            let own = &mut self.words[range];
            let mut carry = 0;
            for word in 0..own.len() {
                let filled = fill_up(own[word] | (carry & free[word]), free[word]);
                changed |= filled != own[word];
                own[word] = filled;
                carry = filled >> 63;
            }
            carry = 0;
            for word in (0..own.len()).rev() {
                let filled = fill_down(own[word] | (carry & free[word]), free[word]);
                changed |= filled != own[word];
                own[word] = filled;
                carry = filled << 63;
            }
        }
        changed
    }

    /// Every set cell.
    pub(super) fn cells(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        (0..self.rows).flat_map(move |row| {
            (0..self.columns)
                .filter_map(move |column| self.has(column, row).then_some((column, row)))
        })
    }
}

/// Spreads set bits towards higher ones through free bits (doubling strides).
fn fill_up(mut set: u64, mut free: u64) -> u64 {
    for step in [1, 2, 4, 8, 16, 32] {
        set |= free & (set << step);
        free &= free << step;
    }
    set
}

/// The same towards lower bits.
fn fill_down(mut set: u64, mut free: u64) -> u64 {
    for step in [1, 2, 4, 8, 16, 32] {
        set |= free & (set >> step);
        free &= free >> step;
    }
    set
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    const CELLS: Cells = Cells {
        low: Xy {
            x_m: -3.0,
            y_m: 2.0,
        },
        cell_m: 0.5,
        columns: 150,
        rows: 40,
    };

    fn random(seed: u64, share: f64) -> Bits {
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut bits = Bits::none(&CELLS);
        for row in 0..CELLS.rows {
            for column in 0..CELLS.columns {
                if chance.random_bool(share) {
                    bits.set(row, column..column + 1);
                }
            }
        }
        bits
    }

    #[test]
    fn cells_of_a_region_are_those_whose_middles_lie_in_it() {
        let ring = [
            (0.0, 4.0),
            (60.0, 3.0),
            (40.0, 20.0),
            (30.0, 8.0),
            (5.0, 19.0),
        ]
        .map(|(x, y)| Xy::new(x, y));
        let bits = Bits::of(&Region::inside_any([ring.as_slice()]), &CELLS);
        let inside = |point: Xy| {
            let crossed = (0..ring.len()).filter(|&k| {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                (a.y_m > point.y_m) != (b.y_m > point.y_m)
                    && point.x_m < a.x_m + (point.y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m)
            });
            crossed.count() % 2 == 1
        };
        for row in 0..CELLS.rows {
            for column in 0..CELLS.columns {
                assert_eq!(
                    bits.has(column, row),
                    inside(CELLS.middle(column, row)),
                    "{column} {row}"
                );
            }
        }
    }

    #[test]
    fn moving_is_moving_every_cell() {
        let (from, within) = (random(1, 0.3), random(2, 0.7));
        for by in [
            (0, 0),
            (1, 0),
            (-1, 2),
            (64, 1),
            (-65, -3),
            (3, -1),
            (149, 0),
        ] {
            let mut moved = Bits::none(&CELLS);
            let changed = moved.add_moved(&from, by, &within);
            let mut expected = Bits::none(&CELLS);
            for (column, row) in from.cells() {
                let (Some(c), Some(r)) = (
                    column.checked_add_signed(by.0),
                    row.checked_add_signed(by.1),
                ) else {
                    continue;
                };
                if c < CELLS.columns && r < CELLS.rows && within.has(c, r) {
                    expected.set(r, c..c + 1);
                }
            }
            assert!(moved == expected, "{by:?}");
            assert_eq!(changed, !expected.is_empty());
        }
    }

    #[test]
    fn spreading_is_stepping_as_long_as_anything_changes() {
        let within = random(3, 0.8);
        for by in [(1, 0), (0, 1), (1, 1), (-1, 1), (1, -1), (-1, 0)] {
            let mut seed = random(4, 0.01);
            seed.keep(&within);
            let mut expected = seed.clone();
            loop {
                let before = expected.clone();
                expected.add_moved(&before, by, &within);
                expected.add_moved(&before, (-by.0, -by.1), &within);
                if expected == before {
                    break;
                }
            }
            seed.spread(by, &within);
            assert!(seed == expected, "{by:?}");
        }
    }
}
