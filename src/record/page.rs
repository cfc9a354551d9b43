//! `service-record.html`: the record for the property manager, in one file that asks for nothing else and runs no script.
//!
//! Its figures are those of `service-record.json`; its plans are drawn from the evidence. Both are made again by
//! `verify` and must be the same bytes.

mod rows;

use super::document::{ON_FILE, Record};
use super::evidence::Evidence;
use super::intake::By;
use super::words;
use crate::notation::clean::clean;
use crate::notation::numbers::grouped;
use crate::notation::style::Style;
use crate::report::drawing::{self, Drawing};
use crate::site::Outcome;
use askama::Template;
use rows::{LiquidRow, ZoneRow};

/// Name of the file in a record.
pub const FILE: &str = "data/service-record.html";

#[derive(Template)]
#[template(path = "page.html", config = "src/record/page/askama.toml")]
struct Page {
    statement: &'static str,
    site: String,
    head: Vec<(&'static str, String)>,
    outcome: String,
    works: Vec<Work>,
    scope: Vec<(String, &'static str, String, String)>,
    others: Vec<String>,
    presence: String,
    orders: Vec<(String, String, String)>,
    bare: Vec<String>,
    sure: Vec<String>,
    products: Vec<String>,
    on_file: Vec<(&'static str, String)>,
    shown: String,
    patterns: String,
    plan_style: &'static str,
    keys: [(String, &'static str); 8],
    area_unit: &'static str,
    rates: String,
    issued: String,
    record: String,
    version: String,
}

/// One application, or the bare ground.
struct Work {
    heading: String,
    visits: Vec<String>,
    plan: String,
    letters: Vec<(String, String)>,
    zones: Vec<ZoneRow>,
    liquid: Vec<LiquidRow>,
}

const KEYS: [(&str, &str); 8] = [
    ("t", "liquid logged: inside a swath"),
    ("p", "patch with no liquid logged"),
    ("q", "perhaps a patch"),
    ("o", "two passes or more"),
    ("u", "no fixes in the log"),
    ("k", "keep off"),
    ("b", "blocked"),
    ("h", "by hand"),
];

/// The bytes of the page.
///
/// # Panics
///
/// If the template fails to write to memory, which it cannot.
#[must_use]
pub fn render(record: &Record, evidence: &Evidence, outcome: &Outcome) -> Vec<u8> {
    let style = record.style();
    let plans = plans(record, evidence, outcome, &style);
    let scales: Vec<usize> = plans.iter().map(|plan| plan.scale).chain([1]).collect();
    let figures = &record.figures;
    let page = Page {
        statement: words::STATEMENT,
        site: words::site(record),
        head: head(record, &style),
        outcome: summary(record, &style),
        works: works(record, plans, &style),
        scope: scope(record, &style),
        others: figures
            .other_visits
            .iter()
            .map(|visit| words::visit(record, visit, &style))
            .collect(),
        presence: presence(record, &style),
        orders: orders(record, &style),
        bare: bare(record, &style),
        sure: words::sureness(record, &style),
        products: record.products.iter().map(product).collect(),
        on_file: on_file(record),
        shown: shown(record),
        patterns: drawing::patterns(&scales),
        plan_style: drawing::STYLE,
        keys: KEYS.map(|(class, words)| (drawing::swatch(class), words)),
        area_unit: if style.units.area().label == "ft2" {
            "sq ft"
        } else {
            "m2"
        },
        rates: words::paper(&style.rate_label()),
        issued: record.issued.clone(),
        record: record.record.clone(),
        version: record.program.clone(),
    };
    let text = page.render().expect("writing to memory cannot fail");
    text.into_bytes()
}

fn plans(record: &Record, evidence: &Evidence, outcome: &Outcome, style: &Style) -> Vec<Drawing> {
    let plan = |index: Option<usize>| {
        let of = index.and_then(|index| record.figures.applications.get(index));
        let title = drawing::escaped(&words::plan(record, of, style));
        drawing::plan(&evidence.site, outcome, index, &title, style.units)
    };
    match outcome.applications.len() {
        _ if evidence.site.zones.iter().all(|zone| !zone.is_to_treat()) => Vec::new(),
        0 => vec![plan(None)],
        number => (0..number).map(|index| plan(Some(index))).collect(),
    }
}

fn head(record: &Record, style: &Style) -> Vec<(&'static str, String)> {
    let mut head = vec![("Site", words::site(record))];
    if let Some(client) = &record.client {
        head.push(("Client", clean(client).into_owned()));
    }
    let by = match record.intake_by {
        By::Intake => "at download, by the intake command",
        By::Record => "not before this record was made",
    };
    head.extend([
        ("Night of", record.night.clone()),
        ("Issued", record.issued.clone()),
        (
            "Logs taken in",
            format!("{}, {by}", style.time(record.intake)),
        ),
        ("Times", zone(record, style)),
    ]);
    head
}

/// The time zone with its offset that night.
fn zone(record: &Record, style: &Style) -> String {
    let name = style.zone_in_heading();
    let start = record.figures.applications.first().map(|of| of.start);
    let start = start.unwrap_or(record.intake);
    let offset = start.timestamp().map(|at| {
        at.to_zoned_datetime(style.timezone.clone())
            .strftime("%:z")
            .to_string()
    });
    format!("{name} (UTC{})", offset.unwrap_or_default())
}

fn summary(record: &Record, style: &Style) -> String {
    let applications = &record.figures.applications;
    if applications.is_empty() {
        return "The logs received show no treatment of this site.".to_owned();
    }
    let lines = applications.iter().map(|of| {
        format!(
            "{} to {}: {}.",
            style.clock(of.start),
            style.clock(of.end),
            words::outcome(of)
        )
    });
    lines.collect::<Vec<_>>().join(" ")
}

fn works(record: &Record, plans: Vec<Drawing>, style: &Style) -> Vec<Work> {
    let applications = &record.figures.applications;
    if applications.is_empty() {
        let bare = |plan: Drawing| Work {
            heading: "The ground".to_owned(),
            visits: Vec::new(),
            plan: plan.svg,
            letters: plan.letters,
            zones: Vec::new(),
            liquid: Vec::new(),
        };
        return plans.into_iter().map(bare).collect();
    }
    let works = applications.iter().zip(plans);
    works
        .map(|(of, plan)| Work {
            heading: format!("Application {}: {}", of.number, words::outcome(of)),
            visits: of
                .visits
                .iter()
                .map(|visit| words::visit(record, visit, style))
                .collect(),
            plan: plan.svg,
            letters: plan.letters,
            zones: rows::ground(of, style),
            liquid: rows::liquid(of, style),
        })
        .collect()
}

fn scope(record: &Record, style: &Style) -> Vec<(String, &'static str, String, String)> {
    let ground = record.figures.ground.iter();
    ground
        .map(|of| {
            let mut notes = Vec::new();
            if of.excluded_m2 > 0.0 {
                notes.push(format!(
                    "{} blocked and not counted",
                    words::area(style, of.excluded_m2)
                ));
            }
            if let Some(reason) = &of.reason {
                notes.push(clean(reason).into_owned());
            }
            let time = |time| style.time(time);
            match (of.from.map(time), of.until.map(time)) {
                (Some(from), Some(until)) => notes.push(format!("{from} to {until}")),
                (Some(from), None) => notes.push(format!("from {from}")),
                (None, Some(until)) => notes.push(format!("until {until}")),
                (None, None) => {}
            }
            if let Some(litres) = of.keep_off_l.filter(|litres| *litres > 0.0) {
                notes.push(format!("{} logged on it", style.volume(litres)));
            }
            let name = clean(&of.zone).into_owned();
            let area = words::area(style, of.area_m2);
            (
                name,
                words::scope(of.land_use, of.method),
                area,
                notes.join("; "),
            )
        })
        .collect()
}

fn presence(record: &Record, style: &Style) -> String {
    if !record.show.presence {
        return "Visits without liquid are not listed.".to_owned();
    }
    let visits = record.figures.without_liquid.iter().map(|visit| {
        format!(
            "{} {} to {}",
            record.rig_name(visit.rig),
            style.clock(visit.arrive),
            style.clock(visit.depart)
        )
    });
    let visits: Vec<String> = visits.collect();
    if visits.is_empty() {
        return "No visits without liquid in the logs.".to_owned();
    }
    format!("Visits without liquid: {}.", visits.join(", "))
}

fn orders(record: &Record, style: &Style) -> Vec<(String, String, String)> {
    let orders = record.figures.orders.iter();
    orders
        .map(|order| {
            let asked = [&order.service, &order.zone, &order.product];
            let mut asked: Vec<String> = asked
                .into_iter()
                .flatten()
                .map(|text| clean(text).into_owned())
                .collect();
            asked.extend(order.target_ml_m2.map(|rate| style.rate(rate)));
            if order.order.is_some() {
                asked.extend(order.by.map(|by| format!("by {}", style.time(by))));
            }
            let name = words::order_name(order, style);
            (
                name,
                words::paper(&asked.join(", ")),
                words::order(order, style),
            )
        })
        .collect()
}

/// What was not treated, zone by zone, after the last application that reached it.
fn bare(record: &Record, style: &Style) -> Vec<String> {
    let Some(last) = record.figures.applications.last() else {
        return vec!["The logs received show no liquid on any of its ground.".to_owned()];
    };
    let lines = record.figures.applications.iter().flat_map(|of| {
        let lines = of.zones.iter().flat_map(|zone| words::bare(zone, style));
        let many = last.number > 1;
        lines.map(move |line| {
            if many {
                format!("Application {}: {line}", of.number)
            } else {
                line
            }
        })
    });
    let mut lines: Vec<String> = lines.collect();
    if lines.is_empty() {
        lines.push("No patch that the positions can resolve.".to_owned());
    }
    lines
}

fn product(of: &super::evidence::settings::Liquid) -> String {
    let mut text = clean(&of.product).into_owned();
    if let Some(solute) = &of.solute {
        text += &format!(": {}", clean(solute));
        if let Some(share) = of.mass_fraction {
            text += &format!(" {} % by mass", grouped(100.0 * share, 1));
        }
    }
    if let Some(gravity) = of.specific_gravity {
        text += &format!(", specific gravity {}", grouped(gravity, 3));
    }
    text
}

fn on_file(record: &Record) -> Vec<(&'static str, String)> {
    let entries = ON_FILE.iter().map(|(key, what)| {
        let text = record
            .on_file
            .get(*key)
            .map(|text| clean(text).into_owned());
        let none = match *key {
            "conditions" => "not on file; temperatures in logs are not kept",
            _ => "not on file",
        };
        (*what, text.unwrap_or_else(|| none.to_owned()))
    });
    entries.collect()
}

/// What of the logs is in the folder.
fn shown(record: &Record) -> String {
    format!(
        "The evidence holds {} fixes of the rigs that sprayed here; {} of them lie more than 10 m away or nearer to other ground, at the ends of steps whose liquid fell here. Sections over other ground are masked.",
        grouped(record.fixes as f64, 0),
        grouped(record.fixes_beyond as f64, 0)
    )
}
