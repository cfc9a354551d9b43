//! Where the liquid went, and who sprayed much of it in reverse.

use crate::notation::clean::clean;
use crate::notation::numbers::percent;
use crate::notation::style::Style;
use crate::report::table::wrap;
use crate::result::{self, Ledger};

/// Greatest share of spraying time in reverse that is not worth a line: backing out of the corners of a lot takes a
/// few per cent (layout).
const REVERSE_SHOWN: f64 = 0.05;
/// Less than a thousandth of a litre is not a place where liquid went, L (tolerance).
const LEAST_L: f64 = 1e-3;

/// The page's lines on liquid.
pub(super) fn lines(runs: &[result::Run], style: &Style, width: usize) -> Vec<String> {
    let mut lines = wrap("", &ledger(runs, style), width);
    lines.extend(reverse(runs, width));
    lines
}

/// A place where liquid went, and how much, L.
pub(in crate::report) type Went = (&'static str, f64);

/// What was metered, L, and where it went, all runs together; places without liquid are left out. `None` where
/// nothing was metered.
#[must_use]
pub(in crate::report) fn went(runs: &[result::Run]) -> Option<(f64, Vec<Went>)> {
    if runs.iter().all(|run| run.metered_by == "none") {
        return None;
    }
    let sum =
        |line: fn(&Ledger) -> f64| -> f64 { runs.iter().map(|run| line(&run.ledger_l)).sum() };
    let lines = [
        ("zones", sum(|ledger| ledger.zones)),
        ("keep-off ground", sum(|ledger| ledger.keep_off)),
        ("fringe of the zones", sum(|ledger| ledger.fringe)),
        ("outside", sum(|ledger| ledger.outside)),
        ("yard", sum(|ledger| ledger.yard)),
        ("hand gun", sum(|ledger| ledger.gun)),
        ("all sections closed", sum(|ledger| ledger.closed)),
        ("dropouts", sum(|ledger| ledger.dropout)),
        ("between logs", sum(|ledger| ledger.between_logs)),
    ];
    let went = lines
        .into_iter()
        .filter(|(_, litres)| litres.abs() >= LEAST_L);
    Some((sum(|ledger| ledger.metered), went.collect()))
}

fn ledger(runs: &[result::Run], style: &Style) -> String {
    let Some((metered, went)) = went(runs) else {
        return "Liquid: not metered.".to_owned();
    };
    let went: Vec<String> = went
        .iter()
        .map(|(place, litres)| format!("{place} {}", style.volume(*litres)))
        .collect();
    let metered = style.volume(metered);
    if went.is_empty() {
        format!("Liquid: {metered} metered.")
    } else {
        format!("Liquid: {metered} metered: {}.", went.join(", "))
    }
}

/// Runs that sprayed a good part of their time in reverse, in one line; how the gear is known decides how
/// far to trust where they were.
fn reverse(runs: &[result::Run], width: usize) -> Vec<String> {
    let worth = |run: &&result::Run| run.reverse_wet_s > REVERSE_SHOWN * run.wet_s;
    let said = |run: &result::Run| {
        let inferred = if run.gear_from == "motion" {
            " (gear inferred from the motion)"
        } else {
            ""
        };
        let part = percent(run.reverse_wet_s / run.wet_s);
        format!("rig {} {part}{inferred}", clean(&run.rig))
    };
    let said: Vec<String> = runs.iter().filter(worth).map(said).collect();
    if said.is_empty() {
        return Vec::new();
    }
    let text = format!("Spraying time in reverse: {}.", said.join(", "));
    wrap("", &text, width)
}
