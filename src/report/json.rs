//! `audit.json`: everything, in SI, for other programs. The shape is documented in
//! `docs/formats.md` and `docs/audit.schema.json`.
//!
//! Litres are rounded to 1e-9 L, areas to 1e-6 m2, every other number to 1e-9 of its unit: beyond
//! that the digits depend on the order of sums, not on the ground. A number that is not finite
//! would be a fault of an earlier stage; it becomes `null`, "not known", and a debug build stops.

use crate::findings::sections::Side;
use crate::findings::{Finding, Severity};
use crate::geometry::place::Instant;
use crate::input::digest::InputFile;
use crate::notation::style::Style;
use crate::result::{self, Audit, OutputFile, SiteStrips};
use serde::Serialize;
use serde_json::{Number, Value};

/// Name and version of the format; the number grows when a field changes its meaning or goes.
pub const FORMAT: &str = "swathbook-audit/2";

/// Areas are written to a square millimetre (tolerance).
pub(crate) const AREA_STEPS_PER_M2: f64 = 1e6;
/// Other numbers are written to nine decimals: far below what any of them is good to (tolerance).
pub(crate) const STEPS_PER_UNIT: f64 = 1e9;

/// The object at the top.
#[derive(Serialize)]
struct Document<'a> {
    format: &'static str,
    /// Only where the logs are plans.
    #[serde(skip_serializing_if = "Option::is_none")]
    planned: Option<&'static str>,
    caution: String,
    program: Program,
    settings: Settings<'a>,
    inputs: &'a [InputFile],
    outputs: &'a [OutputFile],
    runs: &'a [result::Run],
    sites: &'a [result::Site],
    orders: Option<&'a [result::Order]>,
    findings: Vec<Entry<'a>>,
}

#[derive(Serialize)]
struct Program {
    name: &'static str,
    version: &'static str,
}

#[derive(Serialize)]
struct Settings<'a> {
    timezone: Option<&'a str>,
    band: f64,
}

/// A finding with its figures and its words.
#[derive(Serialize)]
struct Entry<'a> {
    code: &'static str,
    severity: Severity,
    rig: Option<&'a str>,
    site: Option<&'a str>,
    zone: Option<&'a str>,
    start: Option<Instant>,
    lon: Option<f64>,
    lat: Option<f64>,
    figure: Option<f64>,
    limit: Option<f64>,
    unit: Option<&'static str>,
    text: String,
    check: std::borrow::Cow<'static, str>,
    sections: Option<&'a [usize]>,
    sections_of: Option<usize>,
    side: Option<Side>,
}

/// The bytes of `audit.json`. Numbers are SI whatever the style; the findings' texts follow it. `outputs` are
/// the files written beside it.
///
/// # Panics
///
/// If the result held a map whose keys are not strings, which its types rule out; in a debug build
/// also if a ledger line is not finite.
#[must_use]
pub fn render(audit: &Audit, style: &Style, outputs: &[OutputFile]) -> Vec<u8> {
    debug_assert!(
        audit.runs.iter().all(has_whole_ledger),
        "a ledger line is not a number"
    );
    let document = Document {
        format: FORMAT,
        planned: audit.planned.then_some(super::terminal::PLANNED),
        caution: crate::report::terminal::CAUTIONS.join(" "),
        program: Program {
            name: env!("CARGO_PKG_NAME"),
            version: env!("CARGO_PKG_VERSION"),
        },
        settings: Settings {
            timezone: audit
                .timezone
                .as_ref()
                .and_then(|timezone| timezone.iana_name()),
            band: audit.band,
        },
        inputs: &audit.inputs,
        outputs,
        runs: &audit.runs,
        sites: &audit.sites,
        orders: audit.orders.as_deref(),
        findings: audit
            .findings
            .iter()
            .map(|finding| entry(finding, style))
            .collect(),
    };
    let mut value = serde_json::to_value(&document)
        .expect("only strings as keys and no failing Serialize in the result");
    round_all(&mut value, STEPS_PER_UNIT);
    let mut bytes = serde_json::to_vec_pretty(&value).expect("a JSON value always serialises");
    bytes.push(b'\n');
    bytes
}

/// The bytes of `strips.json`: full precision, so that areas can be computed again from it.
///
/// # Panics
///
/// If the strips held a map whose keys are not strings, which their types rule out.
#[must_use]
pub fn strips(strips: &[SiteStrips]) -> Vec<u8> {
    let mut bytes =
        serde_json::to_vec(strips).expect("no maps and no failing Serialize in the strips");
    bytes.push(b'\n');
    bytes
}

fn entry<'a>(finding: &'a Finding, style: &Style) -> Entry<'a> {
    let figure = finding.kind.figure();
    let closed = finding.kind.card().closed;
    Entry {
        code: finding.kind.code(),
        severity: finding.severity,
        rig: finding.rig.as_deref(),
        site: finding.site.as_deref(),
        zone: finding.zone.as_deref(),
        start: finding.start,
        lon: finding.place.map(|place| place.lon_deg),
        lat: finding.place.map(|place| place.lat_deg),
        figure: figure.map(|figure| figure.figure),
        limit: figure.and_then(|figure| figure.limit),
        unit: figure.map(|figure| figure.quantity.si_unit()),
        text: finding.text(style),
        check: finding.check(),
        sections: closed.map(|closed| closed.numbers.as_slice()),
        sections_of: closed.map(|closed| closed.of),
        side: closed.map(|closed| closed.side),
    }
}

/// The word that `audit.json` uses for a use, a method, a severity and the like; other formats
/// write the same one.
pub(super) fn word(of: impl Serialize) -> String {
    let value = serde_json::to_value(of).ok();
    // Only enums without fields come here, and those serialise as strings.
    value
        .as_ref()
        .and_then(Value::as_str)
        .unwrap_or_default()
        .to_owned()
}

fn has_whole_ledger(run: &result::Run) -> bool {
    let l = &run.ledger_l;
    [
        l.metered,
        l.zones,
        l.keep_off,
        l.fringe,
        l.outside,
        l.yard,
        l.gun,
        l.closed,
        l.dropout,
        l.between_logs,
    ]
    .iter()
    .all(|litres| litres.is_finite())
}

/// Rounds every float below `value`, areas (keys that end in `_m2` but are not rates) coarser.
fn round_all(value: &mut Value, steps: f64) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let rounded = number.as_f64().map(|raw| round(raw, steps));
            *number = rounded
                .and_then(Number::from_f64)
                .expect("a rounded finite number is finite");
        }
        Value::Array(items) => items.iter_mut().for_each(|item| round_all(item, steps)),
        Value::Object(fields) => {
            for (key, field) in fields {
                // `gap_causes_m2` holds its areas one level down.
                let is_area = key.ends_with("_m2") && !key.ends_with("ml_m2");
                let inherited = if is_area { AREA_STEPS_PER_M2 } else { steps };
                round_all(field, inherited);
            }
        }
        _ => {}
    }
}

/// To whole steps; never `-0.0`.
pub(crate) fn round(raw: f64, steps_per_unit: f64) -> f64 {
    let scaled = raw * steps_per_unit;
    // From 2^53 on a float has no fraction left to round, and dividing back would only add error (arithmetic).
    const FIRST_WITHOUT_FRACTION: f64 = 9_007_199_254_740_992.0;
    if scaled.abs() >= FIRST_WITHOUT_FRACTION {
        return raw;
    }
    // Adding +0.0 turns -0.0 into 0.0.
    scaled.round() / steps_per_unit + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notation::numbers::{RateUnit, Units};
    use crate::report::sample;

    fn rendered() -> Value {
        let audit = sample::audit();
        let style = Style::of(audit.timezone.as_ref(), Units::Us, RateUnit::GalPer1000Ft2);
        serde_json::from_slice(&render(&audit, &style, &[])).expect("valid JSON")
    }

    fn schema() -> jsonschema::Validator {
        let text = include_str!("../../docs/audit.schema.json");
        let schema: Value = serde_json::from_str(text).expect("the schema is JSON");
        jsonschema::meta::validate(&schema).expect("the schema is a valid schema");
        jsonschema::validator_for(&schema).expect("the schema compiles")
    }

    #[test]
    fn output_follows_the_published_schema() {
        let rendered = rendered();
        let errors: Vec<String> = schema()
            .iter_errors(&rendered)
            .map(|error| format!("{}: {error}", error.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{errors:#?}");
    }

    #[test]
    fn the_schema_refuses_what_is_not_documented() {
        let schema = schema();
        let changes: [(&str, Value); 7] = [
            ("/format", "swathbook-audit/3".into()),
            ("/runs/0/ledger_l/metered", Value::Null),
            ("/runs/0/start", "last night".into()),
            ("/sites/0/applications/0/zones/0/use", "outline".into()),
            ("/sites/0/applications/0/zones/0/treated_m2", (-1.0).into()),
            ("/findings/0/severity", "urgent".into()),
            ("/findings/0/text", 7.into()),
        ];
        for (pointer, wrong) in changes {
            let mut changed = rendered();
            *changed.pointer_mut(pointer).expect(pointer) = wrong;
            assert!(
                !schema.is_valid(&changed),
                "{pointer} was changed and nobody noticed"
            );
        }
        for pointer in [
            "",
            "/settings",
            "/runs/0",
            "/sites/0",
            "/sites/0/applications/0/zones/0",
        ] {
            let mut changed = rendered();
            let object = changed.pointer_mut(pointer).and_then(Value::as_object_mut);
            object.expect(pointer).insert("surprise".into(), 1.into());
            assert!(
                !schema.is_valid(&changed),
                "{pointer} took an unknown field"
            );
        }
    }

    #[test]
    fn every_field_of_the_schema_is_described() {
        fn walk(schema: &Value, path: &str, bare: &mut Vec<String>) {
            for (group, needs_words) in [("properties", true), ("$defs", false)] {
                for (name, field) in schema[group].as_object().into_iter().flatten() {
                    let path = format!("{path}/{name}");
                    if needs_words && field["description"].as_str().is_none_or(str::is_empty) {
                        bare.push(path.clone());
                    }
                    walk(field, &path, bare);
                    walk(&field["items"], &path, bare);
                }
            }
        }
        let text = include_str!("../../docs/audit.schema.json");
        let mut bare = Vec::new();
        walk(
            &serde_json::from_str(text).expect("the schema is JSON"),
            "",
            &mut bare,
        );
        assert!(bare.is_empty(), "without a description: {bare:?}");
    }

    /// Fields of an object and what they mean by its table in `docs/formats.md`, without the words that the schema lists.
    fn documented(object: &str) -> Vec<(&'static str, &'static str)> {
        const FORMATS: &str = include_str!("../../docs/formats.md");
        let heading = format!("\n### {object}\n");
        let start = FORMATS.find(&heading).expect(&heading) + heading.len();
        let table = FORMATS[start..].split("\n### ").next().expect("a part");
        let row = |line: &'static str| {
            let mut cells = line.strip_suffix(" |")?.splitn(3, " | ");
            let field = cells.next()?.strip_prefix("| `")?.strip_suffix('`')?;
            let meaning = cells.nth(1)?;
            let words = meaning.find(" One of `").unwrap_or(meaning.len());
            Some((field, &meaning[..words]))
        };
        table.lines().filter_map(row).collect()
    }

    #[test]
    fn the_schema_says_of_every_field_what_the_formats_page_says() {
        let text = include_str!("../../docs/audit.schema.json");
        let schema: Value = serde_json::from_str(text).expect("the schema is JSON");
        let objects = schema["$defs"].as_object().expect("objects");
        let objects = objects.iter().filter(|(_, of)| of["type"] == "object");
        let top = ("The object at the top", &schema);
        let mut fields = 0;
        for (name, of) in objects.map(|(name, of)| (name.as_str(), of)).chain([top]) {
            let table = documented(name);
            for (field, meaning) in &table {
                let pointer = format!("/properties/{}", field.replace('.', "/properties/"));
                let told = of.pointer(&pointer).map(|field| &field["description"]);
                assert_eq!(told, Some(&Value::from(*meaning)), "{name}: {field}");
            }
            let own = of["properties"].as_object().expect("fields");
            for field in own.keys() {
                let is_there = table.iter().any(|(known, _)| known == field);
                assert!(is_there, "{name}: {field} is not in docs/formats.md");
            }
            fields += table.len();
        }
        assert!(fields > 150, "only {fields} fields were compared");
    }

    #[test]
    fn litres_keep_nine_decimals_and_areas_six() {
        let document = rendered();
        let zone = &document["sites"][0]["applications"][0]["zones"][0];
        // The sample says 9_712.123_456_789 m2 and 250.123_456_789_12 L.
        assert_eq!(zone["area_m2"], 9_712.123_457);
        assert_eq!(zone["volume_l"], 250.123_456_789);
        assert_eq!(round(-1e-12, STEPS_PER_UNIT).to_bits(), 0.0_f64.to_bits());
    }

    #[test]
    fn positions_and_figures_are_in_si() {
        let document = rendered();
        let patch = &document["sites"][0]["applications"][0]["zones"][0]["patches"][0];
        assert_eq!(patch["lon"], sample::PATCHES[0].0);
        assert_eq!(patch["lat"], sample::PATCHES[0].1);
        let mut findings = document["findings"].as_array().expect("a list").iter();
        let bare_patch = findings.find(|finding| finding["code"] == "bare_patch");
        let bare_patch = bare_patch.expect("the sample has one");
        assert_eq!(bare_patch["figure"], 215.0);
        assert_eq!(bare_patch["limit"], 10.0);
        assert_eq!(bare_patch["unit"], "m2");
    }
}
