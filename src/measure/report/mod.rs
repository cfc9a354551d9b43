//! A measured sheet to bytes: each format a pure function.

mod choice;
pub mod csv;
pub mod geojson;
pub mod html;
pub mod json;
mod own_words;
pub mod terminal;
mod words;

use super::Measured;
use super::sheet::Sheet;
use crate::input::fleet::MOST_TABLES;
use crate::notation::numbers::Units;

/// Cautions where a driver or a bidder acts.
pub(crate) const CAUTIONS: [&str; 3] = [
    "Slopes, clearance, traffic and hand work at night are not in the plan, and nothing here promises that a turn fits: \
     walk the lot before bidding on it or driving it.",
    "Areas are those of the lines drawn; what they leave out is assumed as stated.",
    "Local codes, product labels and licensed practice come first.",
];

/// The cautions of a sheet: those of what it prices too.
#[must_use]
pub fn cautions(sheet: &Sheet) -> Vec<&'static str> {
    let mut rigs = sheet.sites.iter().flat_map(|site| &site.rigs);
    let priced = rigs.any(|rig| rig.cost.is_some());
    let more = if priced {
        &words::COST_CAUTIONS[..]
    } else {
        &[]
    };
    CAUTIONS.iter().chain(more).copied().collect()
}

/// Every file: its name in the output folder and its content.
#[must_use]
pub fn files(measured: &Measured, units: Units) -> Vec<(String, Vec<u8>)> {
    let sheet = &measured.sheet;
    let mut files = vec![
        ("measure.json".to_owned(), json::render(sheet)),
        ("measure.csv".to_owned(), csv::render(sheet, units)),
        ("measure.geojson".to_owned(), geojson::render(sheet)),
        ("measure.html".to_owned(), html::render(measured, units)),
    ];
    for (index, (_, plan)) in measured.plans.iter().enumerate() {
        files.push((plan_name(index), plan.clone()));
    }
    files
}

/// Every name that a run may write into its folder: what an earlier run left there goes with the next.
#[must_use]
pub fn owned() -> Vec<String> {
    let sheets = [
        "measure.json",
        "measure.csv",
        "measure.geojson",
        "measure.html",
    ];
    let plans = (0..MOST_TABLES).map(plan_name);
    sheets.map(str::to_owned).into_iter().chain(plans).collect()
}

/// Name of the plan file of the nth rig with a plan. An id from a file never becomes a path.
#[must_use]
pub fn plan_name(index: usize) -> String {
    match index {
        0 => "drive-plan.gpx".to_owned(),
        _ => format!("drive-plan-{}.gpx", index + 1),
    }
}
