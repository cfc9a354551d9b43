//! The record's sentences. A record says what the logs show, never what state the ground was in; it names no cause and no
//! blame.

use super::document::Record;
use super::figures::{ApplicationFigures, OrderFigures, VisitFigures, ZoneFigures};
use super::sheet;
use crate::input::sites::{LandUse, Method};
use crate::notation::clean::clean;
use crate::notation::numbers::{Measure, count, percent};
use crate::notation::style::Style;
use crate::result::{OrderStatus, ZoneVerdict};
use crate::rig::meter::MeteredBy;
use crate::rig::position::PositionFrom;
use crate::site::NOT_DONE_SHARE;
use crate::site::coverage::LEAST_COVER;

/// What stands first.
pub const STATEMENT: &str = "This record states what the rigs' logs show: where the boom was, when its section signals read open, what the meter counted. It does not state that any surface was free of ice or safe, then or later. Duties follow the parties' agreement, not this record; local codes and the product label apply.";

/// How a site's ground stands after an application.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Done,
    InPart,
    NotTreated,
}

fn state(zone: &ZoneFigures) -> Option<State> {
    let share = zone.liquid_m2.filter(|_| zone.area_m2 > 0.0)? / zone.area_m2;
    Some(if share >= LEAST_COVER {
        State::Done
    } else if share >= NOT_DONE_SHARE {
        State::InPart
    } else {
        State::NotTreated
    })
}

fn has_patch(zone: &ZoneFigures) -> bool {
    zone.patches.iter().any(|patch| patch.likely)
}

/// What became of the site in an application, in a few words.
#[must_use]
pub fn outcome(application: &ApplicationFigures) -> String {
    let states: Vec<State> = application.zones.iter().filter_map(state).collect();
    let patch = application.zones.iter().any(has_patch);
    let all = |of: State| !states.is_empty() && states.iter().all(|state| *state == of);
    let ground = if states.is_empty() {
        "volume only; areas not judged"
    } else if all(State::NotTreated) {
        "boom ground not treated"
    } else if !all(State::Done) {
        "in part"
    } else if patch {
        "done, patch open"
    } else {
        "boom ground done"
    };
    let unseen = application
        .zones
        .iter()
        .any(|zone| matches!(zone.verdict, ZoneVerdict::Hand | ZoneVerdict::TooNarrow));
    if unseen && !states.is_empty() {
        return format!("{ground}; steps and narrow walks not shown");
    }
    ground.to_owned()
}

/// Litres to a tenth of the unit: a record is compared with invoices.
fn volume(style: &Style, litres: f64) -> String {
    let measure = Measure {
        step: 0.1,
        ..style.units.volume()
    };
    measure.text(litres)
}

/// Square feet as paper writes them.
#[must_use]
pub fn paper(text: &str) -> String {
    text.replace(" ft2", " sq ft")
}

/// An area with its unit.
#[must_use]
pub fn area(style: &Style, m2: f64) -> String {
    paper(&style.area(m2))
}

/// `Rig 1: on site 23:07 to 23:30, liquid from 23:07 to 23:30; 109.2 gal of NaCl 23.3 % on the zones.`
#[must_use]
pub fn visit(record: &Record, visit: &VisitFigures, style: &Style) -> String {
    let mut text = format!(
        "{}: on site {} to {}",
        record.rig_name(visit.rig),
        style.clock(visit.arrive),
        style.clock(visit.depart)
    );
    if let (Some(first), Some(last)) = (visit.first_liquid, visit.last_liquid) {
        text += &format!(
            ", liquid from {} to {}",
            style.clock(first),
            style.clock(last)
        );
    }
    let gun_l = visit.gun_l.unwrap_or(0.0);
    let volumes = visit.products.iter().map(|of| {
        let product = of
            .product
            .as_deref()
            .map_or("an unnamed product".into(), clean);
        match of.volume_l {
            Some(litres) => format!("{} of {product}", volume(style, litres)),
            None => format!("{product}, not metered"),
        }
    });
    let volumes: Vec<String> = volumes.collect();
    if !volumes.is_empty() {
        let gun = if gun_l > 0.0 {
            format!(" and through the hand gun ({} of it)", volume(style, gun_l))
        } else {
            String::new()
        };
        text += &format!("; {} on the zones{gun}", volumes.join(", "));
    }
    text + "."
}

/// Why a zone is not judged; `None` where it is.
#[must_use]
pub fn not_judged(verdict: ZoneVerdict) -> Option<&'static str> {
    match verdict {
        ZoneVerdict::Area => None,
        ZoneVerdict::TooNarrow => Some("not judged: too narrow for the position error"),
        ZoneVerdict::Hand => Some("not judged: treated by hand, which logs do not show"),
        ZoneVerdict::CoarseLog => Some("not judged: fixes too far apart"),
    }
}

/// What the logs say of ground of a zone without liquid.
#[must_use]
pub fn bare(zone: &ZoneFigures, style: &Style) -> Vec<String> {
    let name = clean(&zone.zone);
    if state(zone) == Some(State::NotTreated) {
        return vec![format!(
            "{name}: no liquid logged by these rigs, or next to none."
        )];
    }
    let mut lines = Vec::new();
    for (likely, what) in [
        (true, "with no liquid logged by these rigs"),
        (false, "perhaps without liquid"),
    ] {
        let patches = zone.patches.iter().filter(|patch| patch.likely == likely);
        let number = patches.clone().count() as u64;
        if number == 0 {
            continue;
        }
        let sum =
            |of: fn(&super::figures::PatchFigures) -> f64| -> f64 { patches.clone().map(of).sum() };
        let text = format!(
            "{name}: {} {what}, {} in all",
            count(number, "patch", "patches"),
            area(style, sum(|patch| patch.area_m2)),
        );
        let interval = (number == 1).then(|| {
            format!(
                " (inside the edge {} to {}, nine times in ten)",
                area(style, sum(|patch| patch.area_low_m2)),
                area(style, sum(|patch| patch.area_high_m2))
            )
        });
        lines.push(text + &interval.unwrap_or_default() + ".");
    }
    if zone.no_fixes_m2.is_some_and(|m2| m2 >= 1.0) {
        let m2 = zone.no_fixes_m2.unwrap_or(0.0);
        lines.push(format!(
            "{name}: {} passed over while the log had no fixes; whether liquid fell there is not known.",
            area(style, m2)
        ));
    }
    lines
}

/// An order by its number, else by its window.
#[must_use]
pub fn order_name(order: &OrderFigures, style: &Style) -> String {
    if let Some(id) = &order.order {
        return clean(id).into_owned();
    }
    match (order.from, order.by) {
        (Some(from), Some(by)) => format!("{} to {}", style.time(from), style.time(by)),
        (Some(from), None) => format!("from {}", style.time(from)),
        (None, Some(by)) => format!("by {}", style.time(by)),
        (None, None) => "without number or time".to_owned(),
    }
}

/// What the logs show of an order.
#[must_use]
pub fn order(order: &OrderFigures, style: &Style) -> String {
    let mut text = match order.status {
        OrderStatus::Done => "done, by these logs".to_owned(),
        OrderStatus::InPart => "in part, by these logs".to_owned(),
        OrderStatus::NotDone => "no treatment in the logs received".to_owned(),
        OrderStatus::ByHand => "hand work, which logs do not show".to_owned(),
        OrderStatus::NotKnown => "the logs cannot tell".to_owned(),
        OrderStatus::OutsideLogs => "its time lies outside the logs".to_owned(),
    };
    if let Some(share) = order.liquid_share {
        text += &format!("; liquid logged on {} of its ground", percent(share));
    }
    if let Some(finished) = order.finished {
        text += &format!("; finished {}", style.clock(finished));
    }
    if let Some(number) = order.application {
        text += &format!("; application {number}");
    }
    for (product, m2) in &order.other_products_m2 {
        text += &format!("; {} with {} instead", area(style, *m2), clean(product));
    }
    text
}

/// What a zone is for.
#[must_use]
pub fn scope(land_use: LandUse, method: Method) -> &'static str {
    match (land_use, method) {
        (LandUse::KeepOff, _) => "keep off: not to be sprayed",
        (LandUse::Blocked, _) => "blocked: out of scope for as long as it was blocked",
        (LandUse::Yard, _) => "yard: no ground to treat",
        (_, Method::Hand) => "to be treated by hand: logs do not show it",
        (LandUse::Walk, _) => "walk, to be treated by boom",
        (LandUse::Drive, _) => "drive, to be treated by boom",
        (LandUse::Lot, _) => "lot, to be treated by boom",
    }
}

/// A plan's figures in a sentence, for whoever does not see it.
#[must_use]
pub fn plan(record: &Record, application: Option<&ApplicationFigures>, style: &Style) -> String {
    let name = site(record);
    match application {
        None => format!("Plan of {name}: no treatment in the logs."),
        Some(of) => format!(
            "Plan of {name}, application {}: {}; {}.",
            of.number,
            outcome(of),
            sheet::products(&of.visits)
                .iter()
                .map(|product| clean(product).into_owned())
                .chain([format!(
                    "from {} to {}",
                    style.clock(of.start),
                    style.clock(of.end)
                )])
                .collect::<Vec<_>>()
                .join(", ")
        ),
    }
}

/// The site as the page calls it.
#[must_use]
pub fn site(record: &Record) -> String {
    let id = clean(&record.site);
    match record.name.as_deref() {
        Some(name) if name != record.site => format!("{} ({id})", clean(name)),
        _ => id.into_owned(),
    }
}

/// How sure the figures are.
#[must_use]
pub fn sureness(record: &Record, style: &Style) -> Vec<String> {
    let mut lines: Vec<String> = record.rigs.iter().map(|rig| {
        let from = match rig.position_from {
            PositionFrom::Fleet => "stated by the contractor",
            PositionFrom::Defaults => "stated by the contractor for all rigs",
            PositionFrom::Hdop | PositionFrom::DefaultsHdop => "from the dilution it logged",
            PositionFrom::Default => "assumed: none was stated",
            PositionFrom::Parked => "from its drift while parked",
        };
        let meter = match rig.metered_by {
            MeteredBy::Flow => "litres from the logged flow",
            MeteredBy::Volume => "litres from the meter's total",
            MeteredBy::FlowAndVolume => "litres from the meter's total, spread by the logged flow",
            MeteredBy::Rate => "litres from the rate that its controller logged",
            MeteredBy::Nothing => "no litres: there is no meter in the log, and open sections count as spraying",
        };
        let clock = if rig.clock_offset_s == 0.0 {
            "times as logged".to_owned()
        } else {
            format!("{:+} s added to the logged times", rig.clock_offset_s)
        };
        format!(
            "{}: {} over {}, positions within {} nineteen times in twenty ({from}); {meter}; {clock}.",
            record.rig_name(rig.rig),
            count(rig.sections as u64, "section", "sections"),
            style.length(rig.boom_m),
            style.short_length(rig.position_m)
        )
    }).collect();
    if let Some(speed_m_s) = speed_m_s(record) {
        lines.push(format!(
            "While spraying, the booms moved {} a second on average: with fixes a second apart, the place of a switch is known to about that.",
            style.short_length(speed_m_s)
        ));
    }
    lines.push("Liquid counts as logged on all ground inside a swath. Stream nozzles leave bare lines on purpose; hand work is not shown. Ground too narrow for the positions to resolve is reported as not resolved.".to_owned());
    lines
}

/// Mean speed while liquid flowed, m/s.
fn speed_m_s(record: &Record) -> Option<f64> {
    let applications = &record.figures.applications;
    let zones = applications.iter().flat_map(|of| &of.zones);
    let length_m: f64 = zones.filter_map(|zone| zone.wet_length_m).sum();
    let visits = applications.iter().flat_map(|of| &of.visits);
    let wet_s: f64 = visits.map(|visit| visit.wet_s).sum();
    (wet_s > 0.0 && length_m > 0.0).then(|| length_m / wet_s)
}
