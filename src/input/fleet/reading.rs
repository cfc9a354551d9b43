//! From the fleet file's text to [`Fleet`]: what is missing gets its default, what is wrong gets an
//! error with its line. The channel mapping is read in `mapping`, where things are mounted in `geometry`.

use super::estimate::{self, Estimate};
use super::geometry;
use super::limits::{in_range, not_negative, positive, share};
use super::mapping;
use super::section::{Section, Source};
use super::spread::{self, Bound};
use super::{Defaults, Fleet, GREATEST_POSITION_M, Meter, ON_FILE, Product, Rig, SectionLog};
use crate::error::{Error, Result};
use crate::units::Dimension;
use std::collections::BTreeMap;
use std::path::Path;
use toml::de::DeTable;

/// Half-width of the band around the target: 10 %, the deviation that the literature on spraying counts as off rate
/// (published: Luck et al., Precision Agriculture, 2010).
const BAND: f64 = 0.10;
/// Loggers write once a second; five silent seconds at 8 mph are 18 m (trade judgement).
const DROPOUT_S: f64 = 5.0;
/// A refill trip takes under an hour and a half (trade judgement).
const APPLICATION_PAUSE_S: f64 = 90.0 * 60.0;
/// Rigs keep about this far off curbs (common practice).
const EDGE_M: f64 = 1.0;
/// A receiver with satellite corrections: 95 % within 0.6 to 1.1 m (published: FAA, WAAS report 10, 2004).
const POSITION_M: f64 = 1.0;
/// A controller's flow reading lags by about this much (common practice).
const METER_TAIL_S: f64 = 2.0;
/// Probability from which a bare patch is reported: a trip for nothing costs about three times less than ice left on a
/// lot (trade judgement).
const LIKELY: f64 = 0.75;
/// Likely bare ground of a zone from which it is worth a trip, m2: 500 ft2, three or four parking spaces (trade
/// judgement).
const GO_BACK_M2: f64 = 46.451_52;
/// The same as a share of the zone (trade judgement).
const GO_BACK_SHARE: f64 = 0.02;
/// Most sections of a boom: their states are held in the bits of one 64-bit number (arithmetic).
const MOST_SECTIONS: usize = 64;

/// Most rigs of a file, and most products: ids are compared pair by pair, which takes time with the square (limit).
pub const MOST_TABLES: usize = 1000;
/// Most file-name patterns of a rig: each is tried on every log's name (limit).
const MOST_PATTERNS: usize = 100;

/// Most lists of alternatives in a pattern: each multiplies the ways to match (limit).
const MOST_BRACES: usize = 2;

/// Narrowest section, m: below it is a slip in the unit (limit).
const LEAST_WIDTH_M: f64 = 0.01;
/// Longest delay of a valve or a meter, s: more is a slip in the unit (limit).
const GREATEST_DELAY_S: f64 = 60.0;
/// Greatest clock offset, s: a century. Two rollovers of a receiver's week number are 39 years (limit).
const GREATEST_OFFSET_S: f64 = 100.0 * 365.25 * 86_400.0;
/// Meter factors run from litres per millilitre to litres per cubic metre, with room on either side (limit).
const METER_FACTORS: std::ops::RangeInclusive<f64> = 1e-6..=1e6;

/// Reads the fleet file.
///
/// `path` is only shown in errors.
///
/// # Errors
/// With line, the line's text and what to do: text that is no TOML, an unknown key, a bare number
/// where a unit is needed, an unknown unit or time zone, a missing or repeated id, no or too many
/// sections, a number outside its range, a product that is not in the file, a bad file-name
/// pattern, a channel mapping that contradicts itself; or no rig at all.
pub fn read(text: &str, path: &Path) -> Result<Fleet> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let source = Source { path, text };
    let document = DeTable::parse(text).map_err(|error| {
        let what = format!("this is not TOML: {}", error.message());
        source.error(
            &error.span().unwrap_or(0..0),
            &what,
            "The fleet file is TOML: key = \"value\" lines under [tables].",
        )
    })?;
    let top = Section::new(&source, document.get_ref(), "the fleet file", 0..0);
    top.only(&["defaults", "product", "rig", "estimate", "record"])?;
    let defaults = match top.table("defaults", "[defaults]")? {
        Some(section) => defaults(&section)?,
        None => Defaults::default(),
    };
    let products = products(&top)?;
    let rigs = rigs(&top, &products)?;
    if rigs.is_empty() {
        return Err(Error::new("the fleet file has no rig")
            .at(path)
            .advice("Add one:\n[[rig]]\nid = \"north\"\nsections = [\"30 in\", \"30 in\"]"));
    }
    let estimate = match top.table("estimate", "[estimate]")? {
        Some(section) => estimate::read(&section)?,
        None => Estimate::default(),
    };
    let record = match top.table("record", "[record]")? {
        Some(section) => record(&section)?,
        None => BTreeMap::new(),
    };
    Ok(Fleet {
        defaults,
        products,
        rigs,
        estimate,
        record,
        planned: false,
    })
}

impl Default for Defaults {
    fn default() -> Self {
        Self {
            timezone: None,
            target_ml_m2: None,
            band: BAND,
            dropout_s: DROPOUT_S,
            application_pause_s: APPLICATION_PAUSE_S,
            edge_m: EDGE_M,
            position_m: POSITION_M,
            position_told: false,
            meter_tail_s: METER_TAIL_S,
            likely: LIKELY,
            go_back_m2: GO_BACK_M2,
            go_back_share: GO_BACK_SHARE,
        }
    }
}

/// What is on file, in the contractor's words.
fn record(section: &Section<'_, '_>) -> Result<BTreeMap<String, String>> {
    section.only(&ON_FILE)?;
    let mut record = BTreeMap::new();
    for key in ON_FILE {
        if let Some(text) = section.text(key)? {
            record.insert(key.to_owned(), text);
        }
    }
    Ok(record)
}

fn defaults(section: &Section<'_, '_>) -> Result<Defaults> {
    section.only(&[
        "timezone",
        "target",
        "band",
        "dropout",
        "application_pause",
        "edge",
        "position",
        "meter_tail",
        "likely",
        "go_back_area",
        "go_back_share",
    ])?;
    let standard = Defaults::default();
    let position_m = position(section)?;
    let or = |value: Option<f64>, default: f64| value.unwrap_or(default);
    Ok(Defaults {
        timezone: timezone(section)?,
        target_ml_m2: positive(section, "target", Dimension::Rate)?,
        band: or(share(section, "band")?, standard.band),
        dropout_s: or(
            positive(section, "dropout", Dimension::Time)?,
            standard.dropout_s,
        ),
        application_pause_s: or(
            positive(section, "application_pause", Dimension::Time)?,
            standard.application_pause_s,
        ),
        edge_m: or(
            not_negative(section, "edge", Dimension::Length)?,
            standard.edge_m,
        ),
        position_m: or(position_m, standard.position_m),
        position_told: position_m.is_some(),
        meter_tail_s: or(
            not_negative(section, "meter_tail", Dimension::Time)?,
            standard.meter_tail_s,
        ),
        likely: or(share(section, "likely")?, standard.likely),
        go_back_m2: or(
            not_negative(section, "go_back_area", Dimension::Area)?,
            standard.go_back_m2,
        ),
        go_back_share: or(share(section, "go_back_share")?, standard.go_back_share),
    })
}

fn timezone(section: &Section<'_, '_>) -> Result<Option<jiff::tz::TimeZone>> {
    let Some(name) = section.text("timezone")? else {
        return Ok(None);
    };
    // The database in the program, not the machine's: the same input gives the same bytes everywhere.
    jiff::tz::TimeZoneDatabase::bundled().get(&name).map(Some).map_err(|_| {
        let what = format!("`timezone`: \"{name}\" is not a time zone of the IANA database");
        section.error_at("timezone", &what, "Write a name such as \"America/Winnipeg\" or \"Europe/Helsinki\", or leave it out for UTC.")
    })
}

fn products(top: &Section<'_, '_>) -> Result<Vec<Product>> {
    let mut products: Vec<Product> = Vec::new();
    for section in few(top.tables("product")?)? {
        section.only(&[
            "id",
            "solute",
            "mass_fraction",
            "specific_gravity",
            "price",
            "lowest_pavement",
            "target",
        ])?;
        let id = id(&section, products.iter().map(|product| product.id.as_str()))?;
        products.push(Product {
            id,
            solute: section.text("solute")?,
            mass_fraction: share(&section, "mass_fraction")?,
            specific_gravity: in_range(
                &section,
                "specific_gravity",
                section.number("specific_gravity")?,
                |x| x > 0.0,
                "more than 0",
            )?,
            price_per_l: spread::quantity(&section, "price", Dimension::Price, Bound::NotNegative)?,
            lowest_pavement_degc: section.quantity("lowest_pavement", Dimension::Temperature)?,
            target_ml_m2: positive(&section, "target", Dimension::Rate)?,
        });
    }
    Ok(products)
}

fn rigs(top: &Section<'_, '_>, products: &[Product]) -> Result<Vec<Rig>> {
    let mut rigs: Vec<Rig> = Vec::new();
    for section in few(top.tables("rig")?)? {
        let id = id(&section, rigs.iter().map(|rig| rig.id.as_str()))?;
        rigs.push(rig(&section, id, products)?);
    }
    Ok(rigs)
}

/// The tables, unless they are more than any fleet has.
fn few<'a, 'i>(tables: Vec<Section<'a, 'i>>) -> Result<Vec<Section<'a, 'i>>> {
    match tables.get(MOST_TABLES) {
        None => Ok(tables),
        Some(section) => {
            let what = format!("more than {MOST_TABLES} {} tables", section.name);
            Err(section.error_at(
                "",
                &what,
                "Split the fleet file, and audit each part with its logs.",
            ))
        }
    }
}

/// Keys of a `[[rig]]`.
const RIG_KEYS: [&str; 24] = [
    "id",
    "product",
    "sections",
    "antenna",
    "axle",
    "hitch",
    "position",
    "clock_offset",
    "section_log",
    "log_lag",
    "open_delay",
    "close_delay",
    "meter",
    "tank",
    "greatest_flow",
    "gun_flow",
    "body",
    "turning_circle",
    "wheelbase",
    "turn_speed",
    "gear_change",
    "rig_hour",
    "logs",
    "channels",
];

fn rig(section: &Section<'_, '_>, id: String, products: &[Product]) -> Result<Rig> {
    section.only(&RIG_KEYS)?;
    let section_widths_m = section_widths(section)?;
    let geometry = geometry::read(section, section_widths_m.iter().sum())?;
    let channels = match section.table("channels", "[rig.channels]")? {
        Some(table) => mapping::read(&table, section_widths_m.len())?,
        None => super::ChannelMap::default(),
    };
    Ok(Rig {
        id,
        product: product(section, products)?,
        section_widths_m,
        antenna_ahead_m: geometry.antenna_ahead_m,
        antenna_right_m: geometry.antenna_right_m,
        axle_m: geometry.axle_m,
        hitch: geometry.hitch,
        position_m: position(section)?,
        clock_offset_s: clock_offset(section)?,
        section_log: section_log(section)?,
        log_lag_s: told_delay(section, "log_lag")?,
        open_delay_s: delay(section, "open_delay")?,
        close_delay_s: delay(section, "close_delay")?,
        meter: meter(section)?,
        tank_l: positive(section, "tank", Dimension::Volume)?,
        greatest_flow_l_s: positive(section, "greatest_flow", Dimension::Flow)?,
        gun_flow_l_s: positive(section, "gun_flow", Dimension::Flow)?,
        body: estimate::body(section)?,
        turning_circle_m: positive(section, "turning_circle", Dimension::Length)?,
        wheelbase_m: positive(section, "wheelbase", Dimension::Length)?,
        turn_speed_m_s: positive(section, "turn_speed", Dimension::Speed)?,
        gear_change_s: not_negative(section, "gear_change", Dimension::Time)?,
        rig_hour: spread::quantity(section, "rig_hour", Dimension::Wage, Bound::NotNegative)?,
        logs: logs(section)?,
        channels,
    })
}

fn id<'x>(section: &Section<'_, '_>, mut taken: impl Iterator<Item = &'x str>) -> Result<String> {
    let id = section.text("id")?.unwrap_or_default();
    if id.is_empty() {
        return Err(section.error_at(
            "id",
            &format!("this {} has no `id`", section.name),
            "Add a line such as id = \"north\".",
        ));
    }
    if taken.any(|other| other == id) {
        let what = format!("the id \"{id}\" stands at two {} tables", section.name);
        return Err(section.error_at("id", &what, "Give each an id of its own."));
    }
    Ok(id)
}

fn section_widths(section: &Section<'_, '_>) -> Result<Vec<f64>> {
    let advice = "List the sprayed width of each section, left to right seen forward: sections = [\"30 in\", \"30 in\"].";
    let widths = section
        .quantities("sections", Dimension::Length)?
        .unwrap_or_default();
    if widths.is_empty() {
        return Err(section.error_at("sections", "this rig has no `sections`", advice));
    }
    if widths.len() > MOST_SECTIONS {
        let what = format!(
            "a boom can have {MOST_SECTIONS} sections at most, found {}",
            widths.len()
        );
        return Err(section.error_at("sections", &what, advice));
    }
    if let Some(position) = widths.iter().position(|width| *width < LEAST_WIDTH_M) {
        let what = format!("section {} is narrower than 1 cm", position + 1);
        return Err(section.error_at("sections", &what, advice));
    }
    Ok(widths)
}

fn position(section: &Section<'_, '_>) -> Result<Option<f64>> {
    let position_m = section.quantity("position", Dimension::Length)?;
    let fits = |x: f64| x > 0.0 && x <= GREATEST_POSITION_M;
    in_range(
        section,
        "position",
        position_m,
        fits,
        "more than 0 and 20 m at most",
    )
}

/// What to add to logged times; 0 where none is given.
fn clock_offset(section: &Section<'_, '_>) -> Result<f64> {
    let offset_s = section.quantity("clock_offset", Dimension::Time)?;
    let fits = |x: f64| x.abs() <= GREATEST_OFFSET_S;
    let expected = "a hundred years at most, either way";
    Ok(in_range(section, "clock_offset", offset_s, fits, expected)?.unwrap_or(0.0))
}

fn section_log(section: &Section<'_, '_>) -> Result<SectionLog> {
    match section.text("section_log")?.as_deref() {
        None | Some("sampled") => Ok(SectionLog::Sampled),
        Some("on_change") => Ok(SectionLog::OnChange),
        Some(other) => {
            let what =
                format!("`section_log`: expected \"sampled\" or \"on_change\", found \"{other}\"");
            Err(section.error_at(
                "section_log",
                &what,
                "\"on_change\" is for loggers that write a point whenever a section switches.",
            ))
        }
    }
}

/// A delay; 0 where none is given.
fn delay(section: &Section<'_, '_>, key: &str) -> Result<f64> {
    Ok(told_delay(section, key)?.unwrap_or(0.0))
}

/// A delay, if one is given.
fn told_delay(section: &Section<'_, '_>, key: &str) -> Result<Option<f64>> {
    let delay_s = section.quantity(key, Dimension::Time)?;
    let fits = |x: f64| (0.0..=GREATEST_DELAY_S).contains(&x);
    in_range(section, key, delay_s, fits, "0 or more and 60 s at most")
}

fn meter(section: &Section<'_, '_>) -> Result<Meter> {
    let Some(table) = section.table("meter", "meter")? else {
        return Ok(Meter {
            kind: None,
            factor: 1.0,
            delay_s: None,
        });
    };
    table.only(&["kind", "factor", "delay"])?;
    Ok(Meter {
        kind: table.text("kind")?,
        factor: in_range(
            &table,
            "factor",
            table.number("factor")?,
            |x| METER_FACTORS.contains(&x),
            "from 0.000001 to 1000000",
        )?
        .unwrap_or(1.0),
        delay_s: told_delay(&table, "delay")?,
    })
}

fn product(section: &Section<'_, '_>, products: &[Product]) -> Result<Option<String>> {
    let Some(id) = section.text("product")? else {
        return Ok(None);
    };
    if products.iter().any(|product| product.id == id) {
        return Ok(Some(id));
    }
    let known: Vec<&str> = products.iter().map(|product| product.id.as_str()).collect();
    let advice = match known.as_slice() {
        [] => format!("Add it:\n[[product]]\nid = \"{id}\""),
        _ => format!("Products in this file: {}.", known.join(", ")),
    };
    Err(section.error_at("product", &format!("there is no product \"{id}\""), &advice))
}

fn logs(section: &Section<'_, '_>) -> Result<Vec<String>> {
    let patterns = section.texts("logs")?.unwrap_or_default();
    if patterns.len() > MOST_PATTERNS {
        let what = format!("`logs` has more than {MOST_PATTERNS} patterns");
        return Err(section.error_at("logs", &what, "Write patterns such as \"north-*.gpx\"."));
    }
    for pattern in &patterns {
        if let Some(fault) = pattern_fault(pattern) {
            let what = format!("`logs`: \"{pattern}\" is not a file-name pattern: {fault}");
            return Err(section.error_at(
                "logs",
                &what,
                "Write patterns such as \"north-*.gpx\"; * stands for any letters, ? for one.",
            ));
        }
    }
    Ok(patterns)
}

/// What keeps a text from being a file-name pattern.
fn pattern_fault(pattern: &str) -> Option<String> {
    if pattern.starts_with('!') {
        return Some("it begins with !, which would match every other name".to_owned());
    }
    if pattern.matches('{').count() > MOST_BRACES {
        return Some(format!("it has more than {MOST_BRACES} lists in braces"));
    }
    fast_glob::validate(pattern)
        .err()
        .map(|fault| fault.to_string())
}
