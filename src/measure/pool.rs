//! Lanes that wait for being laid, the one that gains most a second first.

use super::field::By;
use super::lane::Lane;
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// Lanes found so far for what is left. Covering ground only lessens what others gain, so a lane is weighed anew only when it
/// is the best one left.
pub(super) struct Pool {
    pub(super) by: By,
    waiting: BinaryHeap<Waiting>,
    /// Lanes that were ever added.
    added: usize,
    /// Patches that lanes were found for, by a hash of their cells.
    pub(super) seen: BTreeSet<u64>,
}

/// A lane, and the cells it gains a second.
struct Waiting {
    rate: f64,
    /// Of two alike the later one is taken first.
    number: usize,
    lane: Lane,
    /// Lanes laid when it was weighed.
    as_of: usize,
}

impl Ord for Waiting {
    fn cmp(&self, other: &Self) -> Ordering {
        let rates = self.rate.total_cmp(&other.rate);
        rates.then(self.number.cmp(&other.number))
    }
}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Waiting {}

impl Pool {
    pub(super) fn new(by: By) -> Self {
        Self {
            by,
            waiting: BinaryHeap::new(),
            added: 0,
            seen: BTreeSet::new(),
        }
    }

    /// Takes out the lane that gains most a second, as things stand; `weighed` weighs a lane anew.
    pub(super) fn next(
        &mut self,
        laid: usize,
        weighed: impl Fn(Lane) -> Option<(f64, Lane)>,
    ) -> Option<(f64, Lane)> {
        loop {
            let Waiting {
                rate, lane, as_of, ..
            } = self.waiting.pop()?;
            if as_of == laid {
                return Some((rate, lane));
            }
            self.add(weighed(lane), laid);
        }
    }

    pub(super) fn add(&mut self, found: impl IntoIterator<Item = (f64, Lane)>, as_of: usize) {
        for (rate, lane) in found {
            self.added += 1;
            self.waiting.push(Waiting {
                rate,
                number: self.added,
                lane,
                as_of,
            });
        }
    }
}
