//! The last step of the flow: an [`Audit`] to bytes. Each format is a small pure function; only
//! [`mod@write`] knows files.
//!
//! | module | gives |
//! |---|---|
//! | [`terminal`] | the table and the findings, for people |
//! | [`json`] | `audit.json` |
//! | [`csv`] | `zones.csv`, `visits.csv`, `runs.csv`, `findings.csv`, `orders_done.csv` |
//! | [`geojson`] | `coverage.geojson` |
//! | [`html`] | `report.html` |
//! | [`drawing`] | the plan of a site |
//! | [`gpx`] | `touchup.gpx` |
//! | [`earth`] | ground in degrees, for the maps |
//! | [`whole`] | whether the files of a folder belong together |
//! | [`mod@write`] | the files, whole or not at all |

pub mod csv;
pub mod document;
pub mod drawing;
pub mod earth;
pub mod geojson;
pub mod gpx;
pub mod html;
pub mod json;
pub mod page;
pub(crate) mod table;
pub mod terminal;
pub mod trip_words;
pub mod whole;
pub mod write;

#[cfg(test)]
pub(crate) mod sample;

use crate::geometry::place::LonLat;
use crate::input::digest::sha256;
use crate::notation::numbers::{RateUnit, Units};
use crate::notation::style::Style;
use crate::report::page::Page;
use crate::result::{Audit, OutputFile};
use crate::site::summary::Trail;
use earth::EarthShapes;

pub use write::write_all;

/// The output that other programs read, and that holds the digests of the others.
pub const AUDIT: &str = "audit.json";

/// Every name that the program may write in an output folder: what an earlier run left under one of them goes.
pub const OWNED: [&str; 10] = [
    AUDIT,
    "zones.csv",
    "visits.csv",
    "runs.csv",
    "findings.csv",
    "orders_done.csv",
    "coverage.geojson",
    "report.html",
    "touchup.gpx",
    "strips.json",
];

/// Cells in a line of the page: what a terminal and a mail both show without breaking lines (layout).
const PAGE_WIDTH: usize = 100;

/// The page for people, for standard output.
#[must_use]
pub fn page(audit: &Audit, page: &Page, units: Units, rate_unit: RateUnit) -> String {
    terminal::render(audit, page, units, rate_unit, PAGE_WIDTH)
}

/// What maps and pages draw beside the document's figures.
pub struct Drawn<'a> {
    /// Ground of each site, in degrees.
    pub shapes: Vec<EarthShapes>,
    /// Plans of each site.
    pub plans: Vec<Vec<html::ApplicationDrawing>>,
    /// Of each run.
    pub trails: &'a [Trail],
}

/// Every file of a report: its name in the output folder and its content, in the order in which they are to be
/// put in place: `audit.json`, which holds the digests of the others, is the last. The route in `touchup.gpx` starts
/// at `from`, else at the yard, else at the first site of the list.
#[must_use]
pub fn files(
    audit: &Audit,
    page: &Page,
    drawn: &Drawn,
    units: Units,
    rate_unit: RateUnit,
    from: Option<LonLat>,
) -> Vec<(&'static str, Vec<u8>)> {
    let Drawn {
        shapes,
        plans,
        trails,
    } = drawn;
    let style = Style::of(audit.timezone.as_ref(), units, rate_unit);
    let start = from.or_else(|| earth::yard(&audit.sites, shapes));
    let stops = page.stops(start);
    let mut files = vec![
        ("zones.csv", csv::zones::render(audit, &style)),
        ("visits.csv", csv::visits::render(audit, &style)),
        ("runs.csv", csv::runs::render(audit, &style)),
        ("findings.csv", csv::findings::render(audit, &style)),
        ("coverage.geojson", geojson::render(audit, shapes, trails)),
        (
            "report.html",
            html::render(audit, page, plans, trails, units, rate_unit),
        ),
        ("touchup.gpx", gpx::render(audit, &stops, &style)),
    ];
    if let Some(orders) = &audit.orders {
        files.push(("orders_done.csv", csv::orders_done::render(orders, &style)));
    }
    if audit.planned {
        for (name, bytes) in &mut files {
            if name.ends_with(".csv") {
                *bytes = csv::marked(bytes, "planned", terminal::PLANNED);
            }
        }
    }
    if !audit.strips.is_empty() {
        files.push(("strips.json", json::strips(&audit.strips)));
    }
    let outputs: Vec<OutputFile> = files
        .iter()
        .map(|(name, bytes)| OutputFile {
            name,
            bytes: bytes.len() as u64,
            sha256: sha256(bytes),
        })
        .collect();
    files.push((AUDIT, json::render(audit, &style, &outputs)));
    files
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Kind;
    use serde_json::Value;
    use std::collections::BTreeSet;

    const FORMATS: &str = include_str!("../../docs/formats.md");

    #[test]
    fn every_file_has_a_name_of_ours_and_the_audit_comes_last() {
        let names: Vec<&str> = sample::files().into_iter().map(|(name, _)| name).collect();
        assert!(names.iter().all(|name| OWNED.contains(name)), "{names:?}");
        assert_eq!(names.last(), Some(&AUDIT));
    }

    #[test]
    fn the_same_audit_gives_the_same_bytes() {
        assert_eq!(sample::files(), sample::files());
    }

    #[test]
    fn every_file_and_every_code_is_documented() {
        for (name, _) in sample::files() {
            assert!(FORMATS.contains(&format!("`{name}`")), "{name}");
        }
        for kind in Kind::samples() {
            let card = kind.card();
            let row = format!("| `{}` | {} |", card.code, card.title);
            assert!(FORMATS.contains(&row), "{row}");
        }
    }

    #[test]
    fn every_json_field_is_documented() {
        fn names(value: &Value, found: &mut BTreeSet<String>) {
            match value {
                Value::Array(items) => items.iter().for_each(|item| names(item, found)),
                Value::Object(fields) => fields.iter().for_each(|(name, field)| {
                    found.insert(name.clone());
                    names(field, found);
                }),
                _ => {}
            }
        }
        let mut found = BTreeSet::new();
        for (name, bytes) in sample::files() {
            if name.ends_with("json") {
                names(&serde_json::from_slice(&bytes).expect("JSON"), &mut found);
            }
        }
        // GeoJSON's own members.
        for standard in ["type", "features", "geometry", "properties", "coordinates"] {
            found.remove(standard);
        }
        assert!(found.len() > 90, "only {} fields found", found.len());
        let documented = |name: &String| {
            FORMATS.contains(&format!("`{name}`")) || FORMATS.contains(&format!(".{name}`"))
        };
        let missing: Vec<&String> = found.iter().filter(|name| !documented(name)).collect();
        assert!(missing.is_empty(), "not in docs/formats.md: {missing:?}");
    }

    #[test]
    fn every_spreadsheet_heading_is_documented() {
        for (name, bytes) in sample::files()
            .into_iter()
            .filter(|(name, _)| name.ends_with(".csv"))
        {
            let text = String::from_utf8(bytes).expect("UTF-8");
            let text = text.strip_prefix('\u{FEFF}').expect("a byte-order mark");
            for heading in text.lines().next().expect("a heading line").split(',') {
                // A RATE or TIME column is documented once, without its ending.
                let rate = ["_gal_1000ft2", "_gal_ac"]
                    .iter()
                    .find_map(|end| heading.strip_suffix(end));
                let local = heading.split_once("_local_").map(|(name, _)| name);
                let time = local.or(heading.strip_suffix("_utc"));
                let entry = match (rate, time) {
                    (Some(name), _) => format!("`{name}` RATE"),
                    (_, Some(name)) => format!("`{name}` TIME"),
                    _ => format!("`{heading}`"),
                };
                assert!(FORMATS.contains(&entry), "{name}: {entry}");
            }
        }
    }
}
