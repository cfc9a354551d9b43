//! What a lane covers, word by word, and how many lanes cover each cell.

use super::bits::{Bits, Found};
use super::field::{By, Covered, Field, Gain};
use super::lane::Lane;
use std::sync::Arc;

/// Words under a lane of usual length: room for them is made at once (tolerance).
const USUAL_WORDS: usize = 256;

/// A lane and the cells of the reach under it. Plans share lanes, since most plans differ from others in a few.
pub(super) struct Laid {
    pub(super) lane: Lane,
    switched: Footprint,
    swath: Footprint,
}

impl Laid {
    pub(super) fn of(field: &Field, lane: Lane) -> Arc<Self> {
        Arc::new(Self {
            switched: Footprint::of(field, &lane, By::Switched),
            swath: Footprint::of(field, &lane, By::Swath),
            lane,
        })
    }

    pub(super) fn cells(&self, by: By) -> &Footprint {
        match by {
            By::Switched => &self.switched,
            By::Swath => &self.swath,
        }
    }
}

/// The cells of the reach under a lane: words of the field's rows in rising order, each once.
pub(super) struct Footprint(Vec<(usize, u64)>);

impl Footprint {
    fn of(field: &Field, lane: &Lane, by: By) -> Self {
        let mut words: Vec<(usize, u64)> = Vec::with_capacity(USUAL_WORDS);
        field.each_strip(lane, by, |strip| {
            field.cells.scan_convex(&strip.ring, |row, columns| {
                field
                    .reach
                    .each_word(row, columns, |word, bits| words.push((word, bits)));
            });
        });
        // Strips of a lane lie side by side and over each other: each of them is in order already.
        words.sort_by_key(|(word, _)| *word);
        words.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 |= next.1;
            }
            same
        });
        Self(words)
    }

    /// Adds its cells to others.
    pub(super) fn enter(&self, bits: &mut Bits) {
        bits.add_words(&self.0);
    }
}

impl Covered {
    /// What lanes cover.
    pub(super) fn by_lanes(field: &Field, lanes: &[Arc<Laid>]) -> Self {
        let mut covered = Self::none(&field.cells);
        for lane in lanes {
            covered.add(lane);
        }
        covered
    }

    /// Adds what a lane covers.
    pub(super) fn add(&mut self, lane: &Laid) {
        lane.cells(By::Switched).enter(&mut self.switched);
        lane.cells(By::Swath).enter(&mut self.swath);
    }
}

/// How many lanes cover each cell of the reach: binary digits of the numbers, 64 cells a word.
pub(super) struct Tally {
    by: By,
    words: usize,
    /// The lowest digit first; as many as the greatest number needs.
    digits: Vec<Vec<u64>>,
    /// Cells that any lane covers.
    pub(super) covered: u64,
}

impl Tally {
    pub(super) fn of(field: &Field, lanes: &[Arc<Laid>], by: By) -> Self {
        let mut tally = Self {
            by,
            words: field.reach.len(),
            digits: Vec::new(),
            covered: 0,
        };
        for lane in lanes {
            tally.add(lane);
        }
        tally
    }

    fn any(&self, word: usize) -> u64 {
        self.digits.iter().fold(0, |any, digit| any | digit[word])
    }

    /// Cells of a word that one lane covers, no more.
    fn once(&self, word: usize) -> u64 {
        let Some((ones, more)) = self.digits.split_first() else {
            return 0;
        };
        let more = more.iter().fold(0, |any, digit| any | digit[word]);
        ones[word] & !more
    }

    pub(super) fn add(&mut self, lane: &Laid) {
        for &(word, bits) in &lane.cells(self.by).0 {
            self.covered += u64::from((bits & !self.any(word)).count_ones());
            let mut carry = bits;
            for digit in &mut self.digits {
                let both = digit[word] & carry;
                digit[word] ^= carry;
                carry = both;
                if carry == 0 {
                    break;
                }
            }
            if carry != 0 {
                let mut digit = vec![0; self.words];
                digit[word] = carry;
                self.digits.push(digit);
            }
        }
    }

    /// Takes out a lane that was added.
    pub(super) fn take(&mut self, lane: &Laid) {
        for &(word, bits) in &lane.cells(self.by).0 {
            let mut borrow = bits;
            for digit in &mut self.digits {
                digit[word] ^= borrow;
                borrow &= digit[word];
                if borrow == 0 {
                    break;
                }
            }
            self.covered -= u64::from((bits & !self.any(word)).count_ones());
        }
    }

    /// Cells that only this lane covers, of those that were added.
    pub(super) fn own(&self, lane: &Laid) -> u64 {
        let own = lane.cells(self.by).0.iter();
        own.map(|&(word, bits)| u64::from((bits & self.once(word)).count_ones()))
            .sum()
    }

    /// The first and the last of them along the lane, m.
    pub(super) fn own_ends_m(&self, field: &Field, lane: &Lane) -> (f64, f64) {
        let mut own = Gain::none();
        field.each_strip(lane, self.by, |strip| {
            field.cells.scan_convex(&strip.ring, |row, columns| {
                let mut found = Found::default();
                field.reach.each_word(row, columns, |word, bits| {
                    let first = field.reach.column_of(word);
                    found.add(first, bits & self.once(word));
                });
                own.add(&field.cells, &strip, row, found);
            });
        });
        (own.from_m, own.to_m)
    }

    /// Cells covered beyond a share of the reach.
    pub(super) fn spare(&self, field: &Field, share: f64) -> f64 {
        self.covered as f64 - share * field.reach_cells as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::plane::Xy;
    use rand::{RngExt, SeedableRng};

    /// Words that a row of 200 cells has.
    const WORDS: usize = 4;

    fn laid(words: [u64; WORDS]) -> Laid {
        let footprint = || Footprint(words.into_iter().enumerate().collect());
        Laid {
            lane: Lane::straight(Xy::default(), 0.0, 1.0),
            switched: footprint(),
            swath: footprint(),
        }
    }

    #[test]
    fn lanes_a_cell_are_counted_as_one_by_one() {
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        let mut tally = Tally {
            by: By::Swath,
            words: WORDS,
            digits: Vec::new(),
            covered: 0,
        };
        let mut lanes: Vec<(Laid, [u64; WORDS])> = Vec::new();
        let mut counts = [[0_u32; 64]; WORDS];
        let count = |counts: &mut [[u32; 64]; WORDS], words: [u64; WORDS], add: bool| {
            for (counts, word) in counts.iter_mut().zip(words) {
                for (bit, count) in counts.iter_mut().enumerate() {
                    let set = (word >> bit & 1) as u32;
                    *count = if add { *count + set } else { *count - set };
                }
            }
        };
        for step in 0..400 {
            if step % 3 == 2 && !lanes.is_empty() {
                let (lane, words) = lanes.swap_remove(chance.random_range(0..lanes.len()));
                tally.take(&lane);
                count(&mut counts, words, false);
            } else {
                let words: [u64; WORDS] = chance.random();
                tally.add(&laid(words));
                count(&mut counts, words, true);
                lanes.push((laid(words), words));
            }
            let covered = counts.iter().flatten().filter(|count| **count > 0).count();
            assert_eq!(tally.covered, covered as u64, "step {step}");
            for (lane, words) in &lanes {
                let own = (0..64 * WORDS)
                    .filter(|k| words[k / 64] >> (k % 64) & 1 == 1 && counts[k / 64][k % 64] == 1);
                assert_eq!(tally.own(lane), own.count() as u64, "step {step}");
            }
        }
    }
}
