//! The columns of `measure.csv` that say what one treatment, a storm and a season take.

use super::super::words;
use super::Row;
use crate::input::fleet::Spread;
use crate::measure::cost_sheet::{ApplicationSheet, CostSheet, LiquidSheet, TimeSheet};
use crate::notation::numbers::{Units, cell};
use crate::report::csv::Columns;

/// A part of something by its name in a heading.
type Part<T, F = f64> = (&'static str, fn(&T) -> F);

/// The three ends of a range.
const ENDS: [Part<Spread>; 3] = [
    ("low", |spread| spread.low),
    ("likely", |spread| spread.likely),
    ("high", |spread| spread.high),
];

/// Adds them.
pub(super) fn add(columns: &mut Columns<Row>, units: Units) {
    times(columns);
    liquids(columns, units);
    sums(columns);
    columns.text("left_out", |row| {
        cost(row).map_or_else(String::new, |of| of.left_out.join("; "))
    });
}

fn cost<'a>(row: &Row<'a>) -> Option<&'a CostSheet> {
    row.1.cost.as_ref()
}

fn once<'a>(row: &Row<'a>) -> Option<&'a ApplicationSheet> {
    cost(row).map(|cost| &cost.application)
}

fn times(columns: &mut Columns<Row>) {
    let parts: [Part<TimeSheet, Option<f64>>; 4] = [
        ("filling", |time| time.filling_s),
        ("hand", |time| time.hand_s),
        ("fixed", |time| time.fixed_s),
        ("deadhead", |time| time.deadhead_s),
    ];
    for (name, part) in parts {
        columns.minutes(name, move |row| part(&once(row)?.time));
    }
    for (end, side) in ENDS {
        columns.minutes(&format!("total_{end}"), move |row| {
            once(row)?.total_s.as_ref().map(side)
        });
    }
}

fn liquids(columns: &mut Columns<Row>, units: Units) {
    let volume = units.volume();
    for (end, side) in ENDS {
        columns.quantity(&format!("liquid_{end}"), volume, move |row| {
            once(row)?.liquid_l.as_ref().map(side)
        });
    }
    let parts: [Part<LiquidSheet>; 5] = [
        ("ground", |of| of.ground_l),
        ("overlap", |of| of.overlap_l),
        ("outside", |of| of.outside_l),
        ("hand", |of| of.hand_l + of.cart_l),
        ("heel_rinse", |of| of.heel_l + of.rinse_l),
    ];
    for (name, part) in parts {
        columns.quantity(&format!("liquid_{name}"), volume, move |row| {
            once(row)?.liquid.as_ref().map(part)
        });
    }
    likely(columns, "loads", |of| of.loads);
    likely(columns, "chloride_kg", |of| of.chloride_kg);
}

/// The likely value of a range, to two decimals.
fn likely(columns: &mut Columns<Row>, name: &str, figure: fn(&ApplicationSheet) -> Option<Spread>) {
    columns.plain(name, move |row| {
        let range = once(row).and_then(figure);
        cell(range.map(|range| range.likely), 2)
    });
}

fn sums(columns: &mut Columns<Row>) {
    let figures: [Part<CostSheet, Option<Spread>>; 4] = [
        ("direct_cost", |of| of.application.direct_cost),
        ("amount", |of| of.application.amount),
        ("event", |of| of.event.as_ref()?.sums.amount),
        ("season", |of| of.season.as_ref()?.sums.amount),
    ];
    for (name, figure) in figures {
        for (end, side) in ENDS {
            columns.plain(format!("{name}_{end}"), move |row| {
                cell(cost(row).and_then(figure).as_ref().map(side), 2)
            });
        }
    }
    columns.plain("amount_is", |row| {
        let of = once(row).filter(|of| of.amount.is_some());
        of.map_or_else(String::new, |of| words::amount_is(of).to_owned())
    });
}
