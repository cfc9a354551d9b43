//! `runs.csv`: a row for every run, with the line of its ledger.

use super::Columns;
use crate::notation::numbers::cell;
use crate::notation::style::Style;
use crate::result::{self, Audit, Ledger};

/// A line of the ledger: its heading and where its litres stand.
type LedgerLine = (&'static str, fn(&Ledger) -> f64);

/// The ledger's lines in the order of `audit.json`.
const LEDGER_LINES: [LedgerLine; 10] = [
    ("metered", |ledger| ledger.metered),
    ("zones", |ledger| ledger.zones),
    ("keep_off", |ledger| ledger.keep_off),
    ("fringe", |ledger| ledger.fringe),
    ("outside", |ledger| ledger.outside),
    ("yard", |ledger| ledger.yard),
    ("gun", |ledger| ledger.gun),
    ("closed", |ledger| ledger.closed),
    ("dropout", |ledger| ledger.dropout),
    ("between_logs", |ledger| ledger.between_logs),
];

/// The bytes of `runs.csv`.
#[must_use]
pub fn render(audit: &Audit, style: &Style) -> Vec<u8> {
    columns(style).write(&audit.runs)
}

fn columns<'a>(style: &Style) -> Columns<&'a result::Run> {
    let mut columns = Columns::<&'a result::Run>::new();
    columns.text("rig", |run| run.rig.clone());
    columns.text("logs", |run| run.logs.join("; "));
    columns.time("start", style, |run| Some(run.start));
    columns.time("end", style, |run| Some(run.end));
    columns.plain("fixes", |run| run.fixes.to_string());
    columns.plain("fixes_used", |run| run.fixes_used.to_string());
    columns.plain("fixes_repeated", |run| run.fixes_repeated.to_string());
    columns.quantity("distance", style.units.distance(), |run| {
        Some(run.distance_m)
    });
    columns.minutes("wet", |run| Some(run.wet_s));
    columns.minutes("wet_in_reverse", |run| Some(run.reverse_wet_s));
    columns.plain("gear_from", |run| run.gear_from.to_owned());
    columns.quantity("position", style.units.length(), |run| Some(run.position_m));
    columns.plain("position_from", |run| run.position_from.to_owned());
    columns.plain("clock_offset_s", |run| cell(Some(run.clock_offset_s), 3));
    columns.plain("metered_by", |run| run.metered_by.to_owned());
    columns.plain("dropouts", |run| run.dropouts.len().to_string());
    columns.plain("dropouts_s", |run| {
        cell(
            Some(run.dropouts.iter().map(|dropout| dropout.seconds).sum()),
            1,
        )
    });
    for (name, litres) in LEDGER_LINES {
        columns.quantity(name, style.units.volume(), move |run| {
            Some(litres(&run.ledger_l))
        });
    }
    columns
}
