//! The properties of one feature, each checked for itself.

use super::{LandUse, Method};
use crate::geometry::place::Instant;
use crate::input::fleet::ON_FILE;
use crate::input::text::clean;
use crate::units::{self, Dimension};
use geojson::JsonObject;
use serde_json::Value;
use std::collections::BTreeMap;

/// Properties of a zone. Remarks are clauses about what was not as it should be.
#[derive(Debug)]
pub(super) struct Properties {
    pub(super) site: String,
    pub(super) zone: Option<String>,
    pub(super) name: Option<String>,
    pub(super) client: Option<String>,
    pub(super) land_use: LandUse,
    pub(super) method: Method,
    pub(super) target_ml_m2: Option<f64>,
    pub(super) priority: f64,
    pub(super) blocked_from: Option<Instant>,
    pub(super) blocked_until: Option<Instant>,
    pub(super) reason: Option<String>,
    /// What is on file for the site's record.
    pub(super) record: BTreeMap<String, String>,
    /// What is not one of the above, carried along.
    pub(super) others: JsonObject,
    /// Changes no area, nothing to do.
    pub(super) notes: Vec<String>,
    /// Something that was asked for is ignored.
    pub(super) ignored: Vec<String>,
}

/// Reads a feature's properties; `None` for a parcel line, which is ignored.
///
/// # Errors
/// Why the feature cannot be used, as a clause.
pub(super) fn read(properties: &JsonObject) -> Result<Option<Properties>, String> {
    let (mut notes, mut ignored) = (Vec::new(), Vec::new());
    let Some(land_use) = land_use(properties, &mut notes)? else {
        return Ok(None);
    };
    let site = text(properties, "site").ok_or_else(|| "it has no `site` id".to_owned())?;
    let found = Properties {
        site,
        zone: text(properties, "zone"),
        name: text(properties, "name"),
        client: text(properties, "client"),
        land_use,
        method: method(properties)?,
        target_ml_m2: target(properties, &mut ignored),
        priority: priority(properties, &mut ignored),
        blocked_from: instant(properties, "from", &mut ignored),
        blocked_until: instant(properties, "until", &mut ignored),
        reason: text(properties, "reason"),
        record: record(properties, &mut ignored),
        others: others(properties),
        notes,
        ignored,
    };
    if matches!((found.blocked_from, found.blocked_until), (Some(from), Some(until)) if from >= until)
    {
        return Err("its `until` is not after its `from`".to_owned());
    }
    Ok(Some(found))
}

/// Properties that the program gives a meaning.
const KNOWN: [&str; 12] = [
    "site", "zone", "name", "client", "use", "method", "target", "priority", "from", "until",
    "reason", "record",
];

/// Most other properties carried along, and the longest name and text among them: figures and remarks, not
/// attachments (limit).
const MOST_OTHERS: usize = 50;

/// Other properties with a plain value.
fn others(properties: &JsonObject) -> JsonObject {
    let plain = |(key, value): (&String, &Value)| match value {
        Value::String(text) => Some((clean(key), Value::String(clean(text)))),
        Value::Number(_) | Value::Bool(_) => Some((clean(key), value.clone())),
        Value::Null | Value::Array(_) | Value::Object(_) => None,
    };
    let unknown = properties
        .iter()
        .filter(|(key, _)| !KNOWN.contains(&key.as_str()));
    unknown.filter_map(plain).take(MOST_OTHERS).collect()
}

/// The entries of `record`.
fn record(properties: &JsonObject, ignored: &mut Vec<String>) -> BTreeMap<String, String> {
    let mut record = BTreeMap::new();
    match properties.get("record") {
        None | Some(Value::Null) => {}
        Some(Value::Object(entries)) => {
            for key in entries.keys() {
                match (ON_FILE.contains(&key.as_str()), text(entries, key)) {
                    (true, Some(text)) => {
                        record.insert(key.clone(), text);
                    }
                    _ => ignored.push(format!(
                        "has \"{}\" in its `record`, which is ignored: expected a text under {}",
                        clean(key),
                        ON_FILE.join(", ")
                    )),
                }
            }
        }
        Some(_) => ignored.push("has a `record` that is not a table; it was ignored".to_owned()),
    }
    record
}

/// A text or a number as text; `None` where missing, null or blank.
pub(super) fn text(properties: &JsonObject, key: &str) -> Option<String> {
    let text = match properties.get(key)? {
        Value::String(text) => clean(text),
        Value::Number(number) => number.to_string(),
        _ => return None,
    };
    (!text.is_empty()).then_some(text)
}

fn land_use(properties: &JsonObject, notes: &mut Vec<String>) -> Result<Option<LandUse>, String> {
    let Some(word) = text(properties, "use") else {
        notes.push("has no `use`; read as a lot".to_owned());
        return Ok(Some(LandUse::Lot));
    };
    Ok(Some(match word.to_ascii_lowercase().as_str() {
        "lot" => LandUse::Lot,
        "drive" => LandUse::Drive,
        "walk" => LandUse::Walk,
        "keep_off" => LandUse::KeepOff,
        "blocked" => LandUse::Blocked,
        "yard" => LandUse::Yard,
        "outline" => return Ok(None),
        _ => {
            return Err(format!(
                "its `use` is \"{word}\", expected lot, drive, walk, keep_off, blocked, yard, outline, obstacle, edge, entrance, stalls or aisle"
            ));
        }
    }))
}

fn method(properties: &JsonObject) -> Result<Method, String> {
    match text(properties, "method").as_deref() {
        None | Some("boom") => Ok(Method::Boom),
        Some("hand") => Ok(Method::Hand),
        Some(word) => Err(format!("its `method` is \"{word}\", expected boom or hand")),
    }
}

fn target(properties: &JsonObject, ignored: &mut Vec<String>) -> Option<f64> {
    let value = properties.get("target").filter(|value| !value.is_null())?;
    let found = match value {
        Value::String(text) => units::parse(text, Dimension::Rate).map_err(|why| clean(&why)),
        _ => Err("a target needs its unit, such as \"35 gal/ac\"".to_owned()),
    };
    match found {
        Ok(rate) if rate > 0.0 => Some(rate),
        Ok(_) => {
            ignored
                .push("has a `target` that is not more than 0; the target was ignored".to_owned());
            None
        }
        Err(why) => {
            ignored.push(format!(
                "has a `target` that cannot be read ({why}); the target was ignored"
            ));
            None
        }
    }
}

fn priority(properties: &JsonObject, ignored: &mut Vec<String>) -> f64 {
    let Some(value) = properties.get("priority").filter(|value| !value.is_null()) else {
        return 1.0;
    };
    let number = match value {
        Value::Number(number) => number.as_f64(),
        Value::String(text) => text.trim().parse().ok(),
        _ => None,
    };
    number
        .filter(|number| number.is_finite() && *number > 0.0)
        .unwrap_or_else(|| {
            ignored.push("has a `priority` that is not a number above 0; read as 1".to_owned());
            1.0
        })
}

fn instant(properties: &JsonObject, key: &str, ignored: &mut Vec<String>) -> Option<Instant> {
    let value = properties.get(key).filter(|value| !value.is_null())?;
    let found = value
        .as_str()
        .and_then(|text| text.trim().parse::<jiff::Timestamp>().ok());
    if found.is_none() {
        ignored.push(format!(
            "has a `{key}` that is not a time with zone, such as 2026-01-12T02:00:00-06:00; it was ignored"
        ));
    }
    found.map(|timestamp| Instant(timestamp.as_microsecond()))
}
