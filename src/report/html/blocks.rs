//! The block of one site: plans, tables by zone, visits, findings.

use super::ruler::{off_it, ruler};
use super::{ApplicationDrawing, DoseSheet};
use crate::findings::Finding;
use crate::notation::clean::clean;
use crate::notation::numbers::{NOT_KNOWN, Units, count, duration, percent, share};
use crate::notation::style::Style;
use crate::report::page::{Entry, Page};
use crate::report::terminal;
use crate::report::trip_words;
use crate::result::{self, Audit, Driving, ZoneVerdict};

/// From this area on land is given in acres or hectares: an acre (arithmetic).
const LAND_FROM_M2: f64 = 4_046.856_422_4;

/// A plan's title names so many zones, the first ones; the table has them all (layout).
const MOST_IN_TITLE: usize = 12;

pub(super) struct Block {
    pub(super) anchor: usize,
    pub(super) name: String,
    pub(super) well: bool,
    pub(super) works: Vec<Panel>,
    pub(super) findings: Vec<String>,
}

/// One application, or the bare ground.
pub(super) struct Panel {
    pub(super) heading: String,
    pub(super) plan: String,
    pub(super) letters: Vec<(String, String)>,
    pub(super) patches: Option<String>,
    pub(super) dose: Option<DoseSheet>,
    pub(super) driving: Option<String>,
    pub(super) zones: Vec<ZoneRow>,
    pub(super) visits: Vec<VisitRow>,
}

pub(super) struct ZoneRow {
    /// What stands for its name on the plan.
    pub(super) letter: Option<String>,
    pub(super) zone: String,
    pub(super) area: String,
    pub(super) treated: String,
    pub(super) patches: String,
    pub(super) overlap: String,
    pub(super) rate: String,
    pub(super) target: String,
    pub(super) ruler: String,
}

pub(super) struct VisitRow {
    pub(super) rig: String,
    pub(super) arrive: String,
    pub(super) first: String,
    pub(super) last: String,
    pub(super) depart: String,
    pub(super) products: String,
}

/// Square feet as paper writes them.
pub(crate) fn paper(text: String) -> String {
    text.replace(" ft2", " sq ft")
}

fn area(m2: f64, units: Units) -> String {
    if m2 >= LAND_FROM_M2 {
        units.land().text(m2)
    } else {
        paper(units.area().text(m2))
    }
}

/// A plan's figures in a sentence, for whoever does not see it.
pub(super) fn title(
    site: &result::Site,
    application: Option<&result::Application>,
    units: Units,
) -> String {
    let name = trip_words::site(site);
    let Some(application) = application else {
        let area = area(site.area_m2, units);
        return format!("Plan of {name}: {area} to treat, no treatment in the logs.");
    };
    let zones = application.zones.iter().map(|zone| {
        let treated = terminal::treated(zone).map(|share| format!(", {share} treated"));
        let patches = worth(zone).filter(|number| *number > 0);
        let patches = patches.map(|number| format!(", {}", count(number, "patch", "patches")));
        format!(
            "{} {}{}{}",
            clean(&zone.zone),
            area(zone.area_m2, units),
            treated.unwrap_or_default(),
            patches.unwrap_or_default()
        )
    });
    let zones: Vec<String> = zones.take(MOST_IN_TITLE).collect();
    let more = application.zones.len() - zones.len();
    let more =
        (more > 0).then(|| format!("; and {}", count(more as u64, "more zone", "more zones")));
    format!(
        "Plan of {name}, application {}: {}{}.",
        application.number,
        zones.join("; "),
        more.unwrap_or_default()
    )
}

/// Patches worth a trip, as the finding of that name counts them.
fn worth(zone: &result::Zone) -> Option<u64> {
    let patches = zone.patches.as_ref()?;
    Some(
        patches
            .iter()
            .filter(|patch| patch.is_worth_a_trip())
            .count() as u64,
    )
}

pub(super) fn block(
    audit: &Audit,
    page: &Page,
    index: usize,
    plans: &[ApplicationDrawing],
    style: &Style,
) -> Block {
    let site = &audit.sites[index];
    let works = if site.applications.is_empty() {
        vec![bare(audit, site, plans, style)]
    } else {
        let works = site.applications.iter().enumerate();
        works
            .map(|(at, of)| panel(audit, of, plans.get(at), style))
            .collect()
    };
    let trips = page.trips.iter().filter(|trip| trip.site == index);
    let told: Vec<usize> = trips.flat_map(|trip| trip.findings()).collect();
    let own = audit.findings.iter().enumerate();
    let own = own.filter(|(at, of)| of.site.as_ref() == Some(&site.site) || told.contains(at));
    let entry = |(at, _): (usize, &Finding)| {
        terminal::sentences(&audit.findings, &Entry { findings: vec![at] }, style)
    };
    Block {
        anchor: index,
        name: trip_words::site(site),
        well: page.well.contains(&index),
        works,
        findings: own.map(entry).map(paper).collect(),
    }
}

fn panel(
    audit: &Audit,
    of: &result::Application,
    sheet: Option<&ApplicationDrawing>,
    style: &Style,
) -> Panel {
    let rigs: Vec<String> = of.rigs.iter().map(|rig| clean(rig).into_owned()).collect();
    let ApplicationDrawing { plan, dose, .. } = sheet.cloned().unwrap_or_default();
    let rows = of.zones.iter().map(|zone| row(zone, audit.band, style));
    let (zones, letters) = lettered(rows.collect(), plan.letters);
    let noun = if rigs.len() == 1 { "rig" } else { "rigs" };
    Panel {
        heading: format!(
            "Application {}: {} to {}, {noun} {}",
            of.number,
            style.clock(of.start),
            style.clock(of.end),
            rigs.join(", ")
        ),
        plan: plan.svg,
        letters,
        patches: patches(of, &plan.numbered_m2, style),
        dose,
        driving: driving(&of.driving, style),
        zones,
        visits: of
            .visits
            .iter()
            .map(|visit| visit_row(visit, style))
            .collect(),
    }
}

fn bare(audit: &Audit, site: &result::Site, plans: &[ApplicationDrawing], style: &Style) -> Panel {
    let ApplicationDrawing { plan, .. } = plans.first().cloned().unwrap_or_default();
    let missing = if audit.logs_missing { " received" } else { "" };
    let ground = site.ground.iter().filter(|ground| ground.to_treat());
    let rows = ground.map(|ground| ZoneRow {
        letter: None,
        zone: clean(&ground.zone).into_owned(),
        area: area(ground.area_m2, style.units),
        treated: NOT_KNOWN.to_owned(),
        patches: NOT_KNOWN.to_owned(),
        overlap: NOT_KNOWN.to_owned(),
        rate: NOT_KNOWN.to_owned(),
        target: ground.target_ml_m2.map_or_else(
            || NOT_KNOWN.to_owned(),
            |rate| style.rate_unit.measure().number(rate),
        ),
        ruler: String::new(),
    });
    let (zones, letters) = lettered(rows.collect(), plan.letters);
    Panel {
        heading: format!("No treatment in the logs{missing}"),
        plan: plan.svg,
        letters,
        patches: None,
        dose: None,
        driving: None,
        zones,
        visits: Vec::new(),
    }
}

/// Gives each zone the letter that stands for it on the plan; the letters left stand for something else.
fn lettered(
    mut rows: Vec<ZoneRow>,
    letters: Vec<(String, String)>,
) -> (Vec<ZoneRow>, Vec<(String, String)>) {
    let mut others = Vec::new();
    for (letter, name) in letters {
        let own = rows
            .iter_mut()
            .find(|row| row.letter.is_none() && row.zone == name);
        match own {
            Some(row) => row.letter = Some(letter),
            None => others.push((letter, name)),
        }
    }
    (rows, others)
}

/// The numbered patches with their areas, and how many more there are.
fn patches(of: &result::Application, numbered_m2: &[f64], style: &Style) -> Option<String> {
    let numbered = numbered_m2.iter().enumerate();
    let numbered =
        numbered.map(|(index, area_m2)| format!("{}: {}", index + 1, style.area(*area_m2)));
    let numbered: Vec<String> = numbered.collect();
    let all: u64 = of.zones.iter().filter_map(worth).sum();
    let more = all.saturating_sub(numbered.len() as u64);
    let more = (more > 0).then(|| format!("; and {more} smaller"));
    let text = format!(
        "Patches on the plan: {}{}.",
        numbered.join(", "),
        more.unwrap_or_default()
    );
    (!numbered.is_empty()).then(|| paper(text))
}

/// How it was driven, for whoever sets routes and rigs.
fn driving(of: &Driving, style: &Style) -> Option<String> {
    let units = style.units;
    let mut parts = vec![format!(
        "{} with liquid on",
        units.speed().text(of.speed_m_s?)
    )];
    parts.extend(
        of.lap_m
            .map(|lap_m| format!("laps of {}", units.short_length().text(lap_m))),
    );
    if of.turns > 0 {
        let turn_s = of.turning_s / of.turns as f64;
        let turns = count(of.turns as u64, "turn", "turns");
        parts.push(format!("{turns} of {} on average", duration(turn_s)));
    }
    let efficiency = of.field_efficiency.map(percent);
    parts.extend(efficiency.map(|share| format!("field efficiency {share}")));
    Some(format!("Driven: {}.", parts.join(", ")))
}

fn row(zone: &result::Zone, band: f64, style: &Style) -> ZoneRow {
    let known = |text: Option<String>| text.unwrap_or_else(|| NOT_KNOWN.to_owned());
    let treated = match zone.verdict {
        ZoneVerdict::Area => known(terminal::treated(zone)),
        ZoneVerdict::TooNarrow => "too narrow".to_owned(),
        ZoneVerdict::Hand => "by hand".to_owned(),
        ZoneVerdict::CoarseLog => "log too coarse".to_owned(),
    };
    let rate =
        |ml_m2: Option<f64>| known(ml_m2.map(|ml_m2| style.rate_unit.measure().number(ml_m2)));
    let of_target = zone.rate_swept_ml_m2.zip(zone.target_ml_m2);
    let of_target = of_target.filter(|(_, target)| *target > 0.0);
    let off = |(rate, target): (f64, f64)| off_it(rate / target);
    ZoneRow {
        letter: None,
        zone: clean(&zone.zone).into_owned(),
        area: area(zone.area_m2, style.units),
        treated,
        patches: known(terminal::patches(zone)),
        overlap: known(share(zone.overlap_m2, zone.area_m2).map(percent)),
        rate: rate(zone.rate_swept_ml_m2) + &of_target.and_then(off).unwrap_or_default(),
        target: rate(zone.target_ml_m2),
        ruler: of_target.map_or_else(String::new, |(rate, target)| ruler(rate / target, band)),
    }
}

fn visit_row(visit: &result::Visit, style: &Style) -> VisitRow {
    let time = |time: Option<crate::geometry::place::Instant>| {
        time.map_or_else(|| NOT_KNOWN.to_owned(), |time| style.clock(time))
    };
    let products = visit.products.iter().map(|of| {
        let product = of.product.as_deref().unwrap_or("product not known");
        let volume = of
            .volume_l
            .map_or_else(|| "not metered".to_owned(), |l| style.volume(l));
        clean(&format!("{volume} {product}")).into_owned()
    });
    VisitRow {
        rig: clean(&visit.rig).into_owned(),
        arrive: style.clock(visit.arrive),
        first: time(visit.spray_start),
        last: time(visit.spray_end),
        depart: style.clock(visit.depart),
        products: products.collect::<Vec<_>>().join("; "),
    }
}
