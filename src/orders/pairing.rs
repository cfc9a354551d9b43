//! Orders to applications, each at most once: as many orders as can be met; among those ways the least time
//! outside their windows; then nearest to `from` (else `by`); then in the order of rows and of time.
//!
//! Walking both lists in order of time fails where an order has only one end of its window, and taking the nearest
//! for each order in turn leaves a later order without an application that it needed. So the whole assignment is
//! weighed at once (shortest augmenting paths: H. W. Kuhn, *Naval Research Logistics Quarterly* 2, 1955,
//! doi:10.1002/nav.3800020109, from memory; in the form with potentials).

use crate::geometry::place::Instant;

/// Work that ended longer before an order's `from` is not that order's, s. Crews start ahead of a window, an
/// evening's pre-treatment is not the morning's service (trade judgement).
pub(super) const EARLIEST_S: f64 = 2.0 * 3600.0;
/// Work that began longer after an order's `by` is not that order's, s: half a day, the next night's (trade
/// judgement).
const LATEST_S: f64 = 12.0 * 3600.0;

/// Cost of an application without order, s: more than all that pairs can cost together (limit).
const ALONE_S: f64 = 1e7;
/// Cost of a pair that cannot be, s: never better than leaving both alone (limit).
const NEVER_S: f64 = 3.0 * ALONE_S;
/// Weight of the distance to the window's start, beside time outside it (tolerance).
const NEARNESS: f64 = 1e-3;
/// Weight of the order of rows, beside all else (tolerance).
const ROWS: f64 = 1e-6;

/// When an order is to be done; `None` is an open end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Not before.
    pub from: Option<Instant>,
    /// Finished by.
    pub by: Option<Instant>,
}

/// First to last liquid of an application.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spell {
    /// First liquid.
    pub start: Instant,
    /// Last liquid.
    pub end: Instant,
}

impl Window {
    /// Time between the window and a spell, s; `None` when the spell is too far off to be its work.
    fn off_s(&self, spell: &Spell) -> Option<f64> {
        let early_s = self.from.map_or(0.0, |from| from.seconds_since(spell.end));
        let late_s = self.by.map_or(0.0, |by| spell.start.seconds_since(by));
        (early_s <= EARLIEST_S && late_s <= LATEST_S).then(|| early_s.max(late_s).max(0.0))
    }

    /// Whether a spell is near enough to be the window's work.
    #[must_use]
    pub fn has(&self, spell: Spell) -> bool {
        self.off_s(&spell).is_some()
    }

    fn cost_s(&self, spell: &Spell) -> f64 {
        let Some(off_s) = self.off_s(spell) else {
            return NEVER_S;
        };
        let start = self.from.or(self.by);
        let away_s = start.map_or(0.0, |start| spell.start.seconds_since(start).abs());
        // Far windows must not outweigh a met order.
        off_s + NEARNESS * away_s.min(ALONE_S)
    }
}

/// The application of each order. `can(order, application)` rules pairs out.
#[must_use]
pub fn pair(
    windows: &[Window],
    spells: &[Spell],
    can: impl Fn(usize, usize) -> bool,
) -> Vec<Option<usize>> {
    let orders = windows.len();
    // Each application has a column of its own for "no order".
    let cost_s = |spell: usize, column: usize| -> f64 {
        if column >= orders {
            return if column - orders == spell {
                ALONE_S
            } else {
                NEVER_S
            };
        }
        if !can(column, spell) {
            return NEVER_S;
        }
        // Of equal orders the first rows are met, by the first applications, in the same order: one application
        // earlier is worth more than any row.
        let rank = column * (spells.len() - spell) + orders * spell;
        windows[column].cost_s(&spells[spell]) + ROWS * rank as f64
    };
    let rows_of = assign(spells.len(), orders + spells.len(), &cost_s);
    (0..orders)
        .map(|order| rows_of[order].filter(|&spell| cost_s(spell, order) < ALONE_S))
        .collect()
}

/// The row of each column in the cheapest assignment of all `rows` to `columns`, at least as many.
fn assign(rows: usize, columns: usize, cost: &impl Fn(usize, usize) -> f64) -> Vec<Option<usize>> {
    let mut row_of: Vec<Option<usize>> = vec![None; columns];
    let (mut of_row, mut of_column) = (vec![0.0; rows], vec![0.0; columns]);
    for new in 0..rows {
        // The cheapest path from the new row to a free column (Dijkstra on reduced costs).
        let mut reach = vec![f64::INFINITY; columns];
        let mut before: Vec<Option<usize>> = vec![None; columns];
        let mut done = vec![false; columns];
        let (mut row, mut via, mut length) = (new, None, 0.0);
        let last = loop {
            for column in (0..columns).filter(|&column| !done[column]) {
                let through = length + cost(row, column) - of_row[row] - of_column[column];
                if through < reach[column] {
                    reach[column] = through;
                    before[column] = via;
                }
            }
            let nearest = (0..columns)
                .filter(|&column| !done[column])
                .min_by(|&a, &b| reach[a].total_cmp(&reach[b]));
            // There are at least as many columns as rows, so one is left.
            let Some(column) = nearest else { return row_of };
            done[column] = true;
            length = reach[column];
            match row_of[column] {
                Some(taken) => (row, via) = (taken, Some(column)),
                None => break column,
            }
        };
        of_row[new] += length;
        for column in (0..columns).filter(|&column| done[column]) {
            if let Some(taken) = row_of[column] {
                of_row[taken] += length - reach[column];
            }
            of_column[column] -= length - reach[column];
        }
        // Along the path every row moves one column on.
        let mut column = last;
        while let Some(earlier) = before[column] {
            row_of[column] = row_of[earlier];
            column = earlier;
        }
        row_of[column] = Some(new);
    }
    row_of
}

#[cfg(test)]
mod tests;
