//! Ground as bit rows: the coarse side of the search for places and lanes. Figures never come from here.

use super::cells::Cells;
use crate::geometry::overlay::Region;

/// Bits in a word (arithmetic).
const WORD: usize = 64;

/// One bit a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bits {
    words_a_row: usize,
    columns: usize,
    rows: usize,
    words: Vec<u64>,
}

/// Cells of a stretch of a row.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Found {
    /// How many.
    pub(super) count: u32,
    /// Column of the first one.
    pub(super) first: usize,
    /// Column of the last one.
    pub(super) last: usize,
}

impl Found {
    /// Adds the cells of the next word of the row, its first cell in this column.
    pub(super) fn add(&mut self, column: usize, bits: u64) {
        if bits == 0 {
            return;
        }
        if self.count == 0 {
            self.first = column + bits.trailing_zeros() as usize;
        }
        self.last = column + WORD - 1 - bits.leading_zeros() as usize;
        self.count += bits.count_ones();
    }
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

    /// Of a stretch of a row: how many cells are set here and not in `other`, the first and the last of them.
    pub(super) fn without(
        &self,
        other: &Self,
        row: usize,
        columns: std::ops::Range<usize>,
    ) -> Found {
        let mut found = Found::default();
        let start = row * self.words_a_row;
        Self::masks(self.words_a_row, row, columns, |word, mask| {
            found.add(
                (word - start) * WORD,
                self.words[word] & !other.words[word] & mask,
            );
        });
        found
    }

    /// Of a stretch of a row: every word with a set cell, its index and its set cells.
    pub(super) fn each_word(
        &self,
        row: usize,
        columns: std::ops::Range<usize>,
        mut each: impl FnMut(usize, u64),
    ) {
        Self::masks(self.words_a_row, row, columns, |word, mask| {
            let bits = self.words[word] & mask;
            if bits != 0 {
                each(word, bits);
            }
        });
    }

    /// Adds cells of some words.
    pub(super) fn add_words(&mut self, words: &[(usize, u64)]) {
        for &(word, bits) in words {
            self.words[word] |= bits;
        }
    }

    /// Words in all.
    pub(super) fn len(&self) -> usize {
        self.words.len()
    }

    /// Column of a word's first cell.
    pub(super) fn column_of(&self, word: usize) -> usize {
        word % self.words_a_row * WORD
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
mod tests;
