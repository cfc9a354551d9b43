//! How the sheet words what a lot costs: sums of money, ranges, reasons, the choice between rigs.

use crate::input::fleet::Spread;
use crate::measure::cost_sheet::Swing;
use crate::measure::cost_sheet::{ApplicationSheet, CostSheet, NightSheet, StopSaving, Sums};
use crate::measure::sheet::{RigSheet, Sheet};
use crate::notation::clean::clean;
use crate::notation::numbers::{Measure, NOT_KNOWN, Units, count, duration, grouped, percent};

/// Reasons named for a range (layout).
const REASONS: usize = 3;
/// Amounts from this on are whole, in money (layout).
const WHOLE_FROM: f64 = 20.0;

/// What prices stand on.
pub(crate) const COST_CAUTIONS: [&str; 2] = [
    "Prices and hours are those of the settings, and as sure as they are: look at the ground before bidding.",
    "Product labels and local codes set the rate, not this sheet.",
];

/// A sum of money such as `$1,240` or `12.50`.
pub(super) fn money(sum: f64, currency: Option<&str>) -> String {
    if !sum.is_finite() {
        return NOT_KNOWN.to_owned();
    }
    let decimals = if sum.abs() < WHOLE_FROM { 2 } else { 0 };
    let number = grouped(sum, decimals);
    match currency.map(|currency| clean(currency).into_owned()) {
        None => number,
        Some(own) if own.chars().all(char::is_alphabetic) => format!("{number} {own}"),
        Some(own) => format!("{own}{number}"),
    }
}

/// `140 (120 to 167)`, or one number where it is sure.
pub(super) fn range(spread: &Spread, write: impl Fn(f64) -> String) -> String {
    let likely = write(spread.likely);
    let (low, high) = (write(spread.low), write(spread.high));
    if low == likely && high == likely {
        likely
    } else {
        format!("{likely} ({low} to {high})")
    }
}

/// The same of a time: `29 min (24 to 46)`, `42 h (24 to 77)`. Over ten hours minutes mean nothing.
pub(super) fn durations(spread: &Spread) -> String {
    /// Ten hours (layout).
    const IN_HOURS_FROM_S: f64 = 36_000.0;
    /// Seconds in an hour (arithmetic).
    const S_PER_H: f64 = 3600.0;
    if spread.likely >= IN_HOURS_FROM_S {
        let numbers = range(spread, |s| grouped(s / S_PER_H, 0));
        return with_unit(&numbers, "h");
    }
    let minutes = |s: f64| duration(s).strip_suffix(" min").map(str::to_owned);
    let bare = |s: f64| minutes(s).filter(|text| !text.contains('h'));
    match [spread.low, spread.likely, spread.high].map(bare) {
        [Some(low), Some(likely), Some(high)] if low != likely || high != likely => {
            format!("{likely} min ({low} to {high})")
        }
        _ => range(spread, duration),
    }
}

/// The same in a unit: `111 gal (107 to 120)`.
pub(super) fn quantities(spread: &Spread, measure: &Measure) -> String {
    let numbers = range(spread, |si| measure.number(si));
    with_unit(&numbers, measure.label)
}

fn with_unit(numbers: &str, unit: &str) -> String {
    match numbers.split_once(' ') {
        Some((likely, ends)) => format!("{likely} {unit} {ends}"),
        None => format!("{numbers} {unit}"),
    }
}

/// What the amount is.
pub(super) fn amount_is(of: &ApplicationSheet) -> &'static str {
    if of.minimum_binds {
        "minimum charge"
    } else if of.price.is_some() {
        "price"
    } else {
        "direct cost"
    }
}

/// A setting in words.
pub(super) fn setting(key: &str) -> &str {
    match key {
        "turn_time" => "time of a turn",
        "overlap_beyond" => "overlap beyond the plan",
        "applied" => "rate applied over target",
        "occupied" => "parked cars",
        "hand_rate" => "hand work",
        "walk_rate" => "cart on walks",
        "step_time" => "steps",
        "hand_setup" => "setting up for hand work",
        "fill_rate" => "filling",
        "fill_trip" => "way to the filling place",
        "heel" => "heel in the tank",
        "rinse" => "rinsing",
        "per_visit" => "fixed time on site",
        "between" => "ways between lots",
        "crew_hour" => "crew's hour",
        "rig.rig_hour" => "rig's hour",
        "product.price" => "price of the product",
        "trip" => "trip charge",
        other => other,
    }
}

/// The settings that move the amount most, each with what it does alone.
pub(super) fn reasons(of: &ApplicationSheet, sheet: &Sheet) -> Vec<String> {
    let currency = sheet.settings.costs.currency.as_deref();
    let in_money = of.amount.is_some();
    let write = |by: f64| {
        if in_money {
            money(by, currency)
        } else {
            duration(by)
        }
    };
    let reason = |swing: &Swing| {
        format!(
            "{} ({} less to {} more)",
            setting(swing.key),
            write(-swing.down),
            write(swing.up)
        )
    };
    of.swings.iter().take(REASONS).map(reason).collect()
}

/// Keys that are missing, each once.
pub(super) fn left_out(sheets: &[&CostSheet]) -> Vec<&'static str> {
    let mut keys: Vec<&'static str> = Vec::new();
    for key in sheets.iter().flat_map(|sheet| &sheet.left_out) {
        if !keys.contains(key) {
            keys.push(key);
        }
    }
    keys
}

/// What stopping at a share of the reach saves, as a sentence without its stop.
pub(super) fn saving(stop: &StopSaving, sheet: &Sheet, units: Units) -> Option<String> {
    let currency = sheet.settings.costs.currency.as_deref();
    let share = percent(stop.share);
    let seconds = stop.seconds?;
    // Lanes are chosen anew for each end: the sparser plan may come out no shorter.
    if seconds <= 0.0 || stop.lanes <= 0 {
        return Some(format!("Stopping at {share} of the reach saves nothing"));
    }
    let mut parts = vec![
        count(stop.lanes.unsigned_abs(), "lane", "lanes"),
        duration(seconds),
    ];
    let liquid_l = stop.liquid_l.filter(|litres| *litres > 0.0);
    parts.extend(liquid_l.map(|litres| units.volume().text(litres)));
    parts.extend(stop.money.map(|sum| money(sum, currency)));
    Some(format!(
        "Stopping at {share} of the reach saves {}; what is left then is hand work or stays untreated",
        listed(&parts)
    ))
}

/// `a, b and c`.
pub(super) fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Tank loads: whole ones, or a part of a route's.
pub(super) fn loads(number: f64) -> String {
    if (number - number.round()).abs() < 1e-9 {
        grouped(number, 0)
    } else {
        grouped(number, if number < 1.0 { 2 } else { 1 })
    }
}

/// That the pump holds the rig back.
pub(super) fn flow_limit(of: &ApplicationSheet, rig: &RigSheet, units: Units) -> String {
    let speed = Measure {
        step: 0.1,
        ..units.speed()
    };
    format!(
        "the pump holds {} to {}, slower than the speed set",
        clean(&rig.rig),
        of.flow_speed_m_s
            .map_or_else(|| NOT_KNOWN.to_owned(), |m_s| speed.text(m_s))
    )
}

/// Time, liquid and money of sums, in a sentence part.
pub(super) fn sums(of: &Sums, sheet: &Sheet, units: Units) -> String {
    let currency = sheet.settings.costs.currency.as_deref();
    let mut parts = Vec::new();
    parts.extend(of.total_s.map(|s| durations(&s)));
    parts.extend(of.liquid_l.map(|l| quantities(&l, &units.volume())));
    parts.extend(of.amount.map(|sum| range(&sum, |sum| money(sum, currency))));
    if parts.is_empty() {
        NOT_KNOWN.to_owned()
    } else {
        parts.join(", ")
    }
}

/// What all lots take with one rig, and how many rigs are done in time.
pub(super) fn night(of: &NightSheet, sheet: &Sheet, units: Units) -> Vec<String> {
    let currency = sheet.settings.costs.currency.as_deref();
    let how = if of.route {
        "as one route, filling shared by liquid and ways by lots"
    } else {
        "each lot on its own"
    };
    let mut lines = vec![format!(
        "Rig {}: {} once: {}, {how}.",
        clean(&of.rig),
        count(of.sites as u64, "lot", "lots"),
        sums(&of.application, sheet, units)
    )];
    if let Some(season) = &of.season {
        lines.push(format!(
            "A season with rig {}: {}.",
            clean(&of.rig),
            sums(season, sheet, units)
        ));
    }
    lines.extend(of.window_s.map(|window_s| opening(of, window_s, currency)));
    lines
}

/// How many rigs are done before the lots open.
fn opening(of: &NightSheet, window_s: f64, currency: Option<&str>) -> String {
    let in_time = of.crews.iter().find(|crew| crew.in_time == Some(true));
    let surely = of
        .crews
        .iter()
        .find(|crew| crew.surely_in_time == Some(true));
    let rigs = |rigs: usize| count(rigs as u64, "rig", "rigs");
    let mut line = match in_time {
        Some(crew) => format!(
            "Before the opening ({}): {} like {} in {}",
            duration(window_s),
            rigs(crew.rigs),
            clean(&of.rig),
            range(&crew.finish_s, duration)
        ),
        None => format!(
            "Before the opening ({}): not even {} like {}",
            duration(window_s),
            rigs(of.crews.last().map_or(1, |crew| crew.rigs)),
            clean(&of.rig)
        ),
    };
    match surely {
        Some(crew) if Some(crew.rigs) != in_time.map(|crew| crew.rigs) => {
            line += &format!("; {} nine times in ten", rigs(crew.rigs));
        }
        _ => {}
    }
    if let Some(more) = of
        .crews
        .iter()
        .find_map(|crew| crew.one_more)
        .filter(|more| *more > 0.0)
    {
        line += &format!("; each more rig costs {}", money(more, currency));
    }
    line + "."
}
