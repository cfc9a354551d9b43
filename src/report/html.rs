//! `report.html`: the night on one page for a phone and for paper, in one file that asks for nothing else and
//! runs no script. The page model decides what is said first; this module only puts it into words and boxes.

mod blocks;
mod chart;
mod dose;
mod ruler;

use crate::ground::Site;
use crate::notation::clean::clean;
use crate::notation::numbers::{RateUnit, Units};
use crate::notation::style::Style;
use crate::report::drawing::{self, Drawing};
use crate::report::page::Trip;
use crate::report::terminal;
use crate::report::trip_words;
use crate::result::Audit;
use crate::site::Outcome;
use crate::site::outcome::ZoneOutcome;
use crate::site::summary::Trail;
use askama::Template;
pub(crate) use blocks::paper;
use blocks::{Block, block};
pub use dose::DoseSheet;
use rayon::prelude::*;
use std::borrow::Cow;

/// The whole page.
#[derive(Template)]
#[template(path = "page.html", config = "src/report/html/askama.toml")]
struct Night {
    head: Vec<String>,
    verdict: String,
    missing: bool,
    trips: Vec<Item>,
    look_into: Vec<Line>,
    record: Vec<Line>,
    metered: Option<String>,
    went: Vec<(&'static str, String)>,
    sites: Vec<Link>,
    others: Vec<Link>,
    untouched: Vec<String>,
    blocks: Vec<Block>,
    rigs: Vec<Rig>,
    positions: String,
    cautions: &'static [&'static str],
    traffic: &'static str,
    rates: String,
    patterns: String,
    plan_style: &'static str,
    keys: Vec<Key>,
    steps: Vec<(String, String)>,
    charts: Vec<Chart>,
}

/// The rate of one rig over the night.
struct Chart {
    rig: String,
    svg: String,
}

/// What is drawn of one application, or of bare ground.
#[derive(Debug, Clone, Default)]
pub struct ApplicationDrawing {
    /// The plan.
    pub plan: Drawing,
    /// How the liquid lies, where that is known.
    pub dose: Option<DoseSheet>,
    /// Of each zone of the application: the runs that swept some of it.
    pub swept_by: Vec<Vec<usize>>,
}

/// One site to go back to.
struct Item {
    site: String,
    anchor: usize,
    address: Option<String>,
    due: Option<String>,
    parts: Vec<ItemPart>,
    coordinates: String,
    geo: String,
}

struct ItemPart {
    ground: String,
    shown: String,
    rig: Option<String>,
    check: Cow<'static, str>,
}

/// A finding in a list.
struct Line {
    text: String,
    check: Cow<'static, str>,
    anchor: Option<usize>,
}

struct Link {
    name: String,
    anchor: usize,
}

struct Rig {
    name: String,
    from: String,
    to: String,
    distance: String,
    wet: String,
    volume: String,
    position: String,
    dropouts: usize,
}

/// An entry of the key: a sample, and what it stands for.
struct Key {
    sample: String,
    words: &'static str,
}

/// Classes of a plan and what they stand for.
const KEYS: [(&str, &str); 11] = [
    ("t", "treated: inside a swath"),
    ("p", "patch without liquid, or ground not treated"),
    ("q", "perhaps a patch"),
    ("o", "two passes or more"),
    ("u", "unlogged: the log is silent"),
    ("z", "other gap"),
    ("k", "keep off"),
    ("b", "blocked"),
    ("h", "by hand"),
    ("n", "too narrow to judge"),
    ("a", "drive direction"),
];

/// The plans of every site: one for each application, or one of the ground where there is none.
#[must_use]
pub fn plans(
    audit: &Audit,
    sites: &[Site],
    outcomes: &[Outcome],
    units: Units,
) -> Vec<Vec<ApplicationDrawing>> {
    let sites = sites.par_iter().zip(outcomes).zip(&audit.sites);
    let plans = sites.map(|((site, outcome), of)| {
        if of.area_m2 <= 0.0 {
            return Vec::new();
        }
        let plan = |application: Option<usize>| {
            let title = blocks::title(of, application.map(|index| &of.applications[index]), units);
            let dose = application.and_then(|index| outcome.applications[index].dose.as_ref());
            let zones = application.map(|index| &outcome.applications[index].zones);
            let swept_by = |zone: &ZoneOutcome| {
                let legs = zone.legs.iter();
                legs.map(|&leg| outcome.legs[leg].run).collect()
            };
            ApplicationDrawing {
                plan: drawing::plan(site, outcome, application, &drawing::escaped(&title), units),
                dose: dose.map(|dose| dose::sheet(site, dose, &trip_words::site(of), audit.band)),
                swept_by: zones.into_iter().flatten().map(swept_by).collect(),
            }
        };
        match outcome.applications.len() {
            0 => vec![plan(None)],
            number => (0..number).map(|index| plan(Some(index))).collect(),
        }
    });
    plans.collect()
}

/// The bytes of `report.html`.
///
/// # Panics
///
/// If the template fails to write to memory, which it cannot.
#[must_use]
pub fn render(
    audit: &Audit,
    page: &crate::report::page::Page,
    plans: &[Vec<ApplicationDrawing>],
    trails: &[Trail],
    units: Units,
    rate_unit: RateUnit,
) -> Vec<u8> {
    let style = Style::of(audit.timezone.as_ref(), units, rate_unit);
    let shown: Vec<usize> = page.sites.iter().chain(&page.well).copied().collect();
    let link = |&site: &usize| Link {
        name: trip_words::site(&audit.sites[site]),
        anchor: site,
    };
    let liquid = terminal::went(&audit.runs);
    let scales = plans.iter().flatten().map(|sheet| sheet.plan.scale);
    let scales: Vec<usize> = scales.collect();
    let volume = |litres: f64| style.volume(litres);
    let name = |&site: &usize| clean(&audit.sites[site].site).into_owned();
    let night = Night {
        head: terminal::head(audit, &style),
        verdict: trip_words::verdict(page, audit, &style),
        missing: audit.logs_missing,
        trips: page
            .trips
            .iter()
            .map(|of| item(audit, of, &style))
            .collect(),
        look_into: lines(audit, &page.look_into, &style),
        record: lines(audit, &page.record, &style),
        metered: liquid.as_ref().map(|(metered, _)| volume(*metered)),
        went: liquid
            .iter()
            .flat_map(|(_, went)| went)
            .map(|(place, litres)| (*place, volume(*litres)))
            .collect(),
        sites: page.sites.iter().map(link).collect(),
        others: page.well.iter().map(link).collect(),
        untouched: page.untouched.iter().map(name).collect(),
        blocks: shown
            .iter()
            .map(|&site| block(audit, page, site, &plans[site], &style))
            .collect(),
        rigs: audit.runs.iter().map(|run| rig(run, &style)).collect(),
        positions: terminal::positions(&audit.runs, &style),
        cautions: &terminal::CAUTIONS,
        traffic: trip_words::TRAFFIC,
        rates: blocks::paper(style.rate_unit.measure().label.to_owned()),
        patterns: drawing::patterns(&scales),
        plan_style: drawing::STYLE,
        keys: KEYS.into_iter().map(key).collect(),
        steps: dose::steps(audit.band),
        charts: (0..audit.runs.len())
            .zip(trails)
            .filter_map(|(run, trail)| chart(audit, plans, (run, trail), &style))
            .collect(),
    };
    let text = night.render().expect("writing to memory cannot fail");
    text.into_bytes()
}

fn key((class, words): (&str, &'static str)) -> Key {
    Key {
        sample: drawing::swatch(class),
        words,
    }
}

fn chart(
    audit: &Audit,
    plans: &[Vec<ApplicationDrawing>],
    (run, trail): (usize, &Trail),
    style: &Style,
) -> Option<Chart> {
    Some(Chart {
        rig: clean(&audit.runs[run].rig).into_owned(),
        svg: chart::chart(audit, plans, (run, trail), style)?,
    })
}

fn item(audit: &Audit, of: &Trip, style: &Style) -> Item {
    let parts = of.parts.iter().map(|part| ItemPart {
        ground: blocks::paper(trip_words::ground(part, style)),
        shown: trip_words::shown(part, &audit.findings, style),
        rig: trip_words::rig(part, audit, style),
        check: part
            .findings
            .first()
            .map_or(Cow::Borrowed(""), |&lead| audit.findings[lead].check()),
    });
    Item {
        site: trip_words::site(&audit.sites[of.site]),
        anchor: of.site,
        address: of.address.as_deref().map(|text| clean(text).into_owned()),
        due: trip_words::due(of, style),
        parts: parts.collect(),
        coordinates: trip_words::coordinates(of),
        // RFC 5870: latitude first, WGS 84.
        geo: format!("geo:{:.6},{:.6}", of.place.lat_deg, of.place.lon_deg),
    }
}

fn lines(audit: &Audit, entries: &[crate::report::page::Entry], style: &Style) -> Vec<Line> {
    let line = |entry| line(audit, entry, style);
    entries.iter().map(line).collect()
}

fn line(audit: &Audit, entry: &crate::report::page::Entry, style: &Style) -> Line {
    let lead = &audit.findings[entry.findings[0]];
    let site = audit
        .sites
        .iter()
        .position(|site| Some(&site.site) == lead.site.as_ref());
    Line {
        text: blocks::paper(terminal::sentences(&audit.findings, entry, style)),
        check: lead.check(),
        anchor: site.filter(|&site| audit.sites[site].area_m2 > 0.0),
    }
}

fn rig(run: &crate::result::Run, style: &Style) -> Rig {
    let metered = run.metered_by != "none";
    Rig {
        name: clean(&run.rig).into_owned(),
        from: style.clock(run.start),
        to: style.clock(run.end),
        distance: style.units.distance().text(run.distance_m),
        wet: crate::notation::numbers::duration(run.wet_s),
        volume: if metered {
            style.volume(run.ledger_l.metered)
        } else {
            "not metered".to_owned()
        },
        position: style.short_length(run.position_m),
        dropouts: run.dropouts.len(),
    }
}

#[cfg(test)]
mod tests;
