//! The page that `audit` prints: what to go back for, what to look into, the table, where the liquid went,
//! and what the figures cannot say. Plain text, no colours, nothing that moves a cursor.

mod blocked;
mod liquid;
mod zones;

pub(in crate::report) use liquid::went;
pub(in crate::report) use zones::{patches, treated};

use crate::findings::clocks::AboutClocks;
use crate::findings::{Finding, Kind};
use crate::notation::clean::clean;
use crate::notation::numbers::{RateUnit, Units, count, signed_duration};
use crate::notation::style::Style;
use crate::report::page::{Entry, Page, Trip};
use crate::report::table::wrap;
use crate::report::trip_words;
use crate::result::{self, Audit, OrderStatus};
use std::collections::HashSet;

/// Entries printed; the rest is in `findings.csv` (layout).
const ENTRIES_SHOWN: usize = 15;

/// What the figures mean and what they do not say.
pub const CAUTIONS: [&str; 2] = [
    "\"Treated\" is ground inside a swath: the bare lines between streams count as treated. The logs know \
     nothing of hand work.",
    "These figures say what the logs show, not what state the ground is in: look at it before relying on \
     them. Local codes, product labels and licensed practice come first.",
];

/// The page, in lines of at most `width` cells.
#[must_use]
pub fn render(
    audit: &Audit,
    page: &Page,
    units: Units,
    rate_unit: RateUnit,
    width: usize,
) -> String {
    let style = Style::of(audit.timezone.as_ref(), units, rate_unit);
    let mut lines = Vec::new();
    if audit.planned {
        lines.push(format!("{PLANNED}: the times below are made up."));
    }
    lines.extend(wrap("", &trip_words::verdict(page, audit, &style), width));
    lines.extend(wrap("", &head(audit, &style).join(" "), width));
    lines.extend(trips(audit, page, &style, width));
    let shown = ENTRIES_SHOWN.saturating_sub(page.trips.len());
    let look_into = ("Look into", page.look_into.as_slice());
    lines.extend(entries(
        audit,
        look_into,
        page.trips.len(),
        shown,
        &style,
        width,
    ));
    lines.push(String::new());
    lines.extend(zones::lines(audit, page, &style, width));
    let blocked = blocked::lines(&audit.sites, &style, width);
    let liquid = liquid::lines(&audit.runs, &style, width);
    if blocked.is_empty() {
        lines.extend(liquid);
    } else {
        lines.extend(wrap("", &[blocked, liquid].concat().join(" "), width));
    }
    lines.extend(wrap("", &positions(&audit.runs, &style), width));
    if !page.record.is_empty() {
        lines.extend(wrap("", &record(audit, &page.record), width));
    }
    if page.trips.len() > ENTRIES_SHOWN {
        lines.push("More to go back for in findings.csv and touchup.gpx.".to_owned());
    }
    lines.push(String::new());
    lines.extend(wrap("", &CAUTIONS.join(" "), width));
    lines.push(String::new());
    lines.join("\n")
}

/// Heads every output on plans.
pub(crate) const PLANNED: &str = "Planned, not driven";

/// The night in a few lines: when, who, what became of the orders, whose clock was set.
#[must_use]
pub fn head(audit: &Audit, style: &Style) -> Vec<String> {
    let mut lines = vec![night(audit, style)];
    if let Some(orders) = &audit.orders {
        lines[0] += &format!(" {}", orders_line(audit, orders));
    }
    lines.extend(clocks(&audit.runs));
    lines
}

fn night(audit: &Audit, style: &Style) -> String {
    let rigs: HashSet<&str> = audit.runs.iter().map(|run| run.rig.as_str()).collect();
    let sites = audit.sites.iter().filter(|site| site.area_m2 > 0.0).count();
    let treated = audit
        .sites
        .iter()
        .filter(|site| !site.applications.is_empty())
        .count();
    let what = format!(
        "{}, {}, {}, {treated} with treatment in the logs",
        count(rigs.len() as u64, "rig", "rigs"),
        count(audit.runs.len() as u64, "run", "runs"),
        count(sites as u64, "site", "sites"),
    );
    match audit.span {
        Some(span) => {
            format!(
                "{} to {}: {what}.",
                style.time(span.first),
                style.time(span.last)
            )
        }
        None => format!("No run in the logs: {what}."),
    }
}

/// How many orders were done and what became of the others, in one line.
fn orders_line(audit: &Audit, orders: &[result::Order]) -> String {
    let number = |status: OrderStatus| orders.iter().filter(|order| order.status == status).count();
    let others = [
        (OrderStatus::InPart, "in part"),
        (OrderStatus::NotDone, "not done"),
        (OrderStatus::ByHand, "by hand"),
        (OrderStatus::NotKnown, "not known"),
        (OrderStatus::OutsideLogs, "outside the time of the logs"),
    ];
    let mut text = format!(
        "Orders: {} of {} done",
        number(OrderStatus::Done),
        orders.len()
    );
    for (status, words) in others {
        match number(status) {
            0 => {}
            count => text += &format!(", {count} {words}"),
        }
    }
    let unread = audit.findings.iter().map(|finding| match finding.kind {
        Kind::Clocks(AboutClocks::TimesUnread { count, .. }) => count,
        _ => 0,
    });
    match unread.sum::<u64>() {
        0 => {}
        count => {
            text += &format!(
                " (times of {count} not understood, so whether they are late is not known)"
            )
        }
    }
    text + "."
}

/// So many rigs are named in a line about clocks; more are counted (layout).
const MOST_NAMED: usize = 3;

/// A line for each offset by which clocks were set: the times of these rigs are not those of their logs.
fn clocks(runs: &[result::Run]) -> impl Iterator<Item = String> {
    let mut set: Vec<(f64, Vec<&str>)> = Vec::new();
    for run in runs.iter().filter(|run| run.clock_offset_s.abs() > 0.0) {
        let same = |of: &&mut (f64, Vec<&str>)| of.0.total_cmp(&run.clock_offset_s).is_eq();
        match set.iter_mut().find(same) {
            Some((_, rigs)) => rigs.push(&run.rig),
            None => set.push((run.clock_offset_s, vec![&run.rig])),
        }
    }
    set.into_iter().map(|(offset_s, mut rigs)| {
        rigs.dedup();
        let offset = signed_duration(offset_s);
        let named = |rig: &&str| clean(rig).into_owned();
        let rigs = match rigs.len() {
            1 => format!("rig {}: {offset} to its log", clean(rigs[0])),
            2..=MOST_NAMED => {
                let names: Vec<String> = rigs.iter().map(named).collect();
                format!("rigs {}: {offset} to their logs", names.join(", "))
            }
            number => format!("{number} rigs: {offset} to their logs"),
        };
        format!("Times of {rigs} (clock_offset).")
    })
}

/// Most rigs of one position error named in a line: the others have it too, and `runs.csv` names them all (layout).
const MOST_RIGS: usize = 8;

/// The first of some names, and how many more there are.
fn first_of(names: &[String], most: usize) -> String {
    let more = names.len().saturating_sub(most);
    let first = names[..names.len() - more].join(", ");
    if more == 0 {
        return first;
    }
    format!("{first} and {more} more")
}

/// The position error assumed for each rig and where it comes from: patches and narrow zones are judged by it.
#[must_use]
pub fn positions(runs: &[result::Run], style: &Style) -> String {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for run in runs {
        let from = match run.position_from {
            "fleet" => "fleet file",
            "defaults" => "fleet file, for all rigs",
            "hdop" | "defaults_hdop" => "logged dilution of precision",
            "parked" => "its drift while it stood",
            _ => "default",
        };
        let error = format!("{} ({from})", style.short_length(run.position_m));
        let rig = clean(&run.rig).into_owned();
        match groups.iter_mut().find(|(known, _)| *known == error) {
            Some((_, rigs)) if rigs.contains(&rig) => {}
            Some((_, rigs)) => rigs.push(rig),
            None => groups.push((error, vec![rig])),
        }
    }
    let said: Vec<String> = groups
        .iter()
        .map(|(error, rigs)| format!("{} {error}", first_of(rigs, MOST_RIGS)))
        .collect();
    if said.is_empty() {
        return "Position error: no rig.".to_owned();
    }
    format!("Position error, 95 % within: {}.", said.join("; "))
}

fn trips(audit: &Audit, page: &Page, style: &Style, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    lines.push(match page.trips.len() {
        0 => "Go back: no findings".to_owned(),
        number => format!("Go back ({number})"),
    });
    for (index, trip) in page.trips.iter().enumerate().take(ENTRIES_SHOWN) {
        let lead = format!("{:>3}. ", index + 1);
        lines.extend(wrap(&lead, &trip_text(audit, trip, style), width));
    }
    lines
}

/// Everything about one site to go back to, in one paragraph.
fn trip_text(audit: &Audit, of: &Trip, style: &Style) -> String {
    let due = trip_words::due(of, style).map(|due| format!(", {due}"));
    let address = of
        .address
        .as_deref()
        .map(|text| format!(", {}", clean(text)));
    let mut text = format!(
        "{}{}{}.",
        trip_words::site(&audit.sites[of.site]),
        address.unwrap_or_default(),
        due.unwrap_or_default(),
    );
    for part in &of.parts {
        text += &format!(
            " {}. {}",
            trip_words::ground(part, style),
            trip_words::shown(part, &audit.findings, style)
        );
        text +=
            &trip_words::rig(part, audit, style).map_or_else(String::new, |rig| format!(" {rig}"));
        let check = part
            .findings
            .first()
            .map(|&lead| audit.findings[lead].check());
        text += &format!(" > {}", check.unwrap_or_default());
    }
    text + &format!(" At {}.", trip_words::coordinates(of))
}

fn entries(
    audit: &Audit,
    (heading, entries): (&str, &[Entry]),
    before: usize,
    shown: usize,
    style: &Style,
    width: usize,
) -> Vec<String> {
    let mut lines = vec![String::new()];
    lines.push(match entries.len() {
        0 => format!("{heading}: no findings"),
        number => format!("{heading} ({number})"),
    });
    for (index, entry) in entries.iter().enumerate().take(shown) {
        let lead = format!("{:>3}. ", before + index + 1);
        let text = entry_text(&audit.findings, entry, style);
        lines.extend(wrap(&lead, &text, width));
    }
    let left_out = entries.len().saturating_sub(shown);
    if left_out > 0 {
        lines.push(format!("and {left_out} more in findings.csv"));
    }
    lines
}

/// What explains a number, by title and place: two screens are for what has to be done, and `findings.csv` says the
/// rest.
fn record(audit: &Audit, entries: &[Entry]) -> String {
    let told = entries.iter().take(ENTRIES_SHOWN).map(|entry| {
        let lead = &audit.findings[entry.findings[0]];
        let rig = lead.rig.as_ref().map(|rig| format!("rig {rig}"));
        let place = lead.site.clone().or(rig);
        let place = place.map_or_else(String::new, |place| format!(" ({place})"));
        clean(&(lead.kind.card().title.to_lowercase() + &place)).into_owned()
    });
    let told: Vec<String> = told.collect();
    let more = match entries.len().saturating_sub(ENTRIES_SHOWN) {
        0 => String::new(),
        number => format!("; and {number} more"),
    };
    format!(
        "For the record ({}), in findings.csv: {}{more}.",
        entries.len(),
        told.join("; "),
    )
}

/// Findings of one cause in one paragraph, with what to check.
#[must_use]
pub fn entry_text(findings: &[Finding], entry: &Entry, style: &Style) -> String {
    let lead = &findings[entry.findings[0]];
    format!("{} > {}", sentences(findings, entry, style), lead.check())
}

/// The same without what to check.
#[must_use]
pub fn sentences(findings: &[Finding], entry: &Entry, style: &Style) -> String {
    let Some((lead, others)) = entry.findings.split_first() else {
        return String::new();
    };
    let lead = &findings[*lead];
    let mut text = lead.titled(style);
    for other in others {
        let other = &findings[*other];
        let rig = other.rig.as_ref().filter(|_| other.rig != lead.rig);
        let rig = rig.map_or_else(String::new, |rig| format!("Rig {rig}: "));
        text += &format!(" {}", clean(&(rig + &other.kind.sentence(style))));
    }
    text
}

#[cfg(test)]
mod tests;
