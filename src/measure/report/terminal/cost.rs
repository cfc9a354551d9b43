//! The part of the page that says what lots cost.

use super::super::{choice, words};
use crate::input::fleet::Spread;
use crate::measure::cost_sheet::CostSheet;
use crate::measure::sheet::{RigSheet, Sheet, SiteSheet};
use crate::notation::clean::clean;
use crate::notation::numbers::{NOT_KNOWN, Units};
use crate::report::table::{Row, Table, wrap};

/// Sites whose choice of rig is worded; the others have their line in the table (layout).
const MOST_CHOICES: usize = 5;

/// The lines; none where nothing is known of any cost.
pub(super) fn lines(sheet: &Sheet, units: Units, width: usize) -> Vec<String> {
    let costs: Vec<(&SiteSheet, &RigSheet, &CostSheet)> = sheet
        .sites
        .iter()
        .flat_map(|site| site.rigs.iter().map(move |rig| (site, rig)))
        .filter_map(|(site, rig)| Some((site, rig, rig.cost.as_ref()?)))
        .collect();
    let known = |cost: &CostSheet| {
        cost.application.total_s.is_some() || cost.application.liquid_l.is_some()
    };
    if !costs.iter().any(|(_, _, cost)| known(cost)) {
        return Vec::new();
    }
    let mut lines = vec![String::new()];
    lines.extend(table(&costs, sheet, units).lines(width));
    lines.push(String::new());
    let mut texts = Vec::new();
    let choices = sheet
        .sites
        .iter()
        .map(|site| (site, choice::choice(site, sheet, units)))
        .filter(|(_, lines)| !lines.is_empty());
    for (site, lines) in choices.take(MOST_CHOICES) {
        texts.push(format!("{}: {}", clean(&site.site), lines.join(" ")));
    }
    texts.extend(why(&costs, sheet));
    for night in &sheet.nights {
        texts.extend(words::night(night, sheet, units));
    }
    let all: Vec<&CostSheet> = costs.iter().map(|(_, _, cost)| *cost).collect();
    let missing = words::left_out(&all);
    if !missing.is_empty() {
        texts.push(format!(
            "Not in these figures, for want of keys in the fleet file: {}.",
            missing.join(", ")
        ));
    }
    lines.extend(texts.iter().flat_map(|text| wrap("", text, width)));
    lines
}

/// What moves the dearest line's amount most.
fn why(costs: &[(&SiteSheet, &RigSheet, &CostSheet)], sheet: &Sheet) -> Option<String> {
    let amount = |cost: &CostSheet| cost.application.amount.or(cost.application.total_s);
    let (site, rig, cost) = costs
        .iter()
        .filter(|(_, _, cost)| !cost.application.swings.is_empty())
        .max_by(|a, b| {
            let likely = |cost| amount(cost).map_or(0.0, |spread: Spread| spread.likely);
            likely(a.2).total_cmp(&likely(b.2))
        })?;
    Some(format!(
        "What moves the largest of these most ({}, rig {}): {}.",
        clean(&site.site),
        clean(&rig.rig),
        words::reasons(&cost.application, sheet).join("; ")
    ))
}

fn table(costs: &[(&SiteSheet, &RigSheet, &CostSheet)], sheet: &Sheet, units: Units) -> Table {
    let currency = sheet.settings.costs.currency.as_deref();
    let volume = units.volume();
    let minutes =
        |s: Option<f64>| s.map_or_else(|| NOT_KNOWN.to_owned(), |s| format!("{:.0}", s / 60.0));
    let likely = |spread: Option<Spread>, write: &dyn Fn(f64) -> String| {
        spread.map_or_else(|| NOT_KNOWN.to_owned(), |spread| write(spread.likely))
    };
    let mut last = "";
    let rows = costs.iter().map(|(site, rig, cost)| {
        let of = &cost.application;
        let name = if last == site.site { "" } else { &site.site };
        last = &site.site;
        let sum = |side: fn(&Spread) -> f64| {
            of.amount.as_ref().map_or_else(
                || NOT_KNOWN.to_owned(),
                |amount| words::money(side(amount), currency),
            )
        };
        Row::Cells(vec![
            clean(name).into_owned(),
            clean(&rig.rig).into_owned(),
            minutes(of.time.filling_s),
            minutes(of.time.hand_s),
            minutes(of.total_s.map(|s| s.likely)),
            likely(of.liquid_l, &|l| volume.number(l)),
            likely(of.loads, &words::loads),
            sum(|amount| amount.low),
            sum(|amount| amount.likely),
            sum(|amount| amount.high),
        ])
    });
    let rows: Vec<Row> = rows.collect();
    let is_price = costs
        .iter()
        .any(|(_, _, cost)| cost.application.price.is_some());
    let headings = vec![
        "site",
        "rig",
        "fill min",
        "hand min",
        "min in all",
        volume.label,
        "loads",
        if is_price { "price low" } else { "cost low" },
        "likely",
        "high",
    ];
    Table { headings, rows }
}
