//! A rig whose clock is off by whole hours: local time written as if it were UTC.
//!
//! Its orders then read as not done, and its work as done without an order. What gives it away is that one
//! shift of its clock brings all of its work into the time of the orders for the same ground.

use super::{Spell, Window};
use crate::geometry::place::Instant;

/// Farthest that local time is from UTC, s: 14 hours east (published: IANA time zone database, Pacific/Kiritimati).
const FARTHEST_S: f64 = 14.0 * 3_600.0;
/// Seconds in an hour (arithmetic).
const HOUR_S: f64 = 3_600.0;
/// Some zones are a quarter of an hour off whole hours (published: IANA: Asia/Kathmandu).
const QUARTER_S: f64 = 900.0;
/// Seconds in a minute (arithmetic).
const MINUTE_S: f64 = 60.0;
/// Work that ends so much past its time is not late, s: people read clocks to the minute (common practice).
pub const LATE_S: f64 = 60.0;

/// One order, and what one rig sprayed on its ground.
#[derive(Debug, Clone)]
pub struct Sprayed {
    /// When the order is to be done.
    pub window: Window,
    /// From first to last liquid of each visit that treated the ground, by the rig's own clock.
    pub spells: Vec<Spell>,
}

/// What must be added to a rig's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClockShift {
    /// To add, s: for `clock_offset`.
    pub add_s: f64,
    /// Orders that the logged times miss and the shifted ones meet.
    pub orders: usize,
    /// Other whole hours within the farthest time zone that fit as well.
    pub others: usize,
}

/// The shift of one rig's clock that brings work into the time of every one of its orders. `utc_offset_s`:
/// what local time is ahead of UTC, which is tried first. Then whole hours, quarters of an hour, and any
/// minute; of equals the smallest, and earlier before later. `None` where the logged times miss none of them,
/// or where no shift meets all: then the clock is not what is wrong.
#[must_use]
pub fn clock_shift(orders: &[Sprayed], utc_offset_s: Option<f64>) -> Option<ClockShift> {
    let missed = |add_s: f64| orders.iter().filter(|order| !order.fits(add_s)).count();
    let missed_now = missed(0.0);
    if missed_now == 0 {
        return None;
    }
    let fits = |add_s: &f64| missed(*add_s) == 0;
    let hours = || steps(HOUR_S).filter(fits);
    let local = utc_offset_s.map(|offset_s| -offset_s).filter(fits);
    let add_s = local
        .or_else(|| hours().next())
        .or_else(|| steps(QUARTER_S).find(fits))
        .or_else(|| minutes(orders).into_iter().find(fits))?;
    Some(ClockShift {
        add_s,
        orders: missed_now,
        others: hours()
            .filter(|hours_s| (hours_s - add_s).abs() > MINUTE_S)
            .count(),
    })
}

/// Multiples of a step up to the farthest time zone, the smallest first.
fn steps(step_s: f64) -> impl Iterator<Item = f64> {
    let count = (FARTHEST_S / step_s).floor() as i32;
    (1..=count).flat_map(move |k| [-f64::from(k) * step_s, f64::from(k) * step_s])
}

/// Whole minutes just inside what some visit allows, the smallest first.
fn minutes(orders: &[Sprayed]) -> Vec<f64> {
    let inside = |order: &Sprayed| -> Vec<f64> {
        let ends = order.spells.iter().flat_map(|&Spell { start, end }| {
            let earliest = order.window.from.map(|from| from.seconds_since(start));
            let latest = order.window.by.map(|by| by.seconds_since(end));
            [
                earliest.map(|add_s| (add_s / MINUTE_S).ceil() * MINUTE_S),
                latest.map(|add_s| (add_s / MINUTE_S).floor() * MINUTE_S),
            ]
        });
        ends.flatten().collect()
    };
    let mut all_s: Vec<f64> = orders.iter().flat_map(inside).collect();
    all_s.retain(|add_s| add_s.abs() <= FARTHEST_S);
    all_s.sort_by(|a, b| a.abs().total_cmp(&b.abs()).then(a.total_cmp(b)));
    all_s
}

impl Sprayed {
    /// Some visit lies within the order's time when so much is added to the rig's clock.
    #[must_use]
    pub fn fits(&self, add_s: f64) -> bool {
        self.spells.iter().any(|&Spell { start, end }| {
            let early = |from: Instant| start.plus_seconds(add_s) < from;
            let late = |by: Instant| end.plus_seconds(add_s).seconds_since(by) > LATE_S;
            !self.window.from.is_some_and(early) && !self.window.by.is_some_and(late)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn at(hours: f64) -> Instant {
        Instant((hours * 3.6e9) as i64)
    }

    fn order(from: f64, by: f64, spells: &[(f64, f64)]) -> Sprayed {
        Sprayed {
            window: Window {
                from: Some(at(from)),
                by: Some(at(by)),
            },
            spells: spells
                .iter()
                .map(|&(start, end)| Spell {
                    start: at(start),
                    end: at(end),
                })
                .collect(),
        }
    }

    #[test]
    fn a_clock_in_local_time_is_off_by_the_fewest_whole_hours_that_fit_all_orders() {
        // Ordered for 22:30 to 31:00 (7 o'clock); the clock says 18:16, 20:00 and 22:40.
        let orders = [
            order(22.5, 31.0, &[(18.27, 18.9)]),
            order(22.5, 31.0, &[(20.0, 20.8)]),
            order(22.5, 31.0, &[(22.67, 23.4)]),
        ];
        let shift = clock_shift(&orders, None).unwrap();
        assert_eq!(
            (shift.add_s, shift.orders, shift.others),
            (5.0 * 3_600.0, 2, 2)
        );
        // Local time is six hours behind: that is what is likely.
        assert_eq!(
            clock_shift(&orders, Some(-6.0 * 3_600.0)).unwrap().add_s,
            6.0 * 3_600.0
        );
        // Two behind does not fit.
        assert_eq!(
            clock_shift(&orders, Some(-2.0 * 3_600.0)).unwrap().add_s,
            5.0 * 3_600.0
        );
    }

    #[test]
    fn work_in_its_time_and_work_that_no_clock_explains_ask_for_no_shift() {
        assert_eq!(clock_shift(&[], None), None);
        assert_eq!(
            clock_shift(&[order(22.0, 30.0, &[(23.0, 24.0)])], None),
            None
        );
        // One too early, one too late by more than the windows leave.
        let torn = [
            order(22.0, 24.0, &[(20.0, 20.5)]),
            order(22.0, 24.0, &[(26.0, 26.5)]),
        ];
        assert_eq!(clock_shift(&torn, None), None);
        // Never sprayed at all.
        assert_eq!(clock_shift(&[order(22.0, 24.0, &[])], None), None);
        // Open on one side.
        let mut open = order(22.0, 24.0, &[(20.0, 20.5)]);
        open.window.from = None;
        assert_eq!(clock_shift(&[open], None), None);
    }

    #[test]
    fn a_second_visit_may_be_the_one_that_was_ordered() {
        let orders = [
            order(22.0, 23.0, &[(12.0, 12.5), (17.2, 17.9)]),
            order(23.0, 24.0, &[(18.2, 18.8)]),
        ];
        assert_eq!(clock_shift(&orders, None).unwrap().add_s, 5.0 * 3_600.0);
    }

    #[test]
    fn the_shift_is_the_first_that_trying_them_one_by_one_finds() {
        let mut chance = ChaCha8Rng::seed_from_u64(4);
        let mut found = 0;
        for _ in 0..300 {
            let add_h = f64::from(chance.random_range(-12..=12_i32));
            let slack_h = chance.random_range(0.05..3.0);
            let orders: Vec<Sprayed> = (0..chance.random_range(1..5))
                .map(|_| {
                    let start = chance.random_range(18.0..30.0);
                    let end = start + chance.random_range(0.2..1.0);
                    let from = start - slack_h * chance.random::<f64>();
                    let by = end + slack_h * chance.random::<f64>();
                    order(from, by, &[(start - add_h, end - add_h)])
                })
                .collect();
            let brute = (1..=14).flat_map(|h| [-h, h]).find(|h| {
                orders.iter().all(|order| {
                    let Spell { start, end } = order.spells[0];
                    let add = Instant(i64::from(*h) * 3_600_000_000);
                    start.0 + add.0 >= order.window.from.unwrap().0
                        && end.0 + add.0 <= order.window.by.unwrap().0 + 60_000_000
                })
            });
            if let Some(shift) = clock_shift(&orders, None) {
                assert_eq!(Some(shift.add_s), brute.map(|h| f64::from(h) * 3_600.0));
                found += 1;
            } else {
                assert!(orders.iter().all(|order| order.fits(0.0)));
            }
        }
        assert!(found > 200, "{found}");
    }
}
