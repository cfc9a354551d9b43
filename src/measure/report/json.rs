//! `measure.json`: everything, in SI, for other programs. Areas to 1e-6 m2, other numbers to 1e-9.

use crate::measure::sheet::Sheet;
use crate::report::json::{AREA_STEPS_PER_M2, STEPS_PER_UNIT, round};
use serde_json::{Value, json};

/// Name and version of the format.
pub const FORMAT: &str = "swathbook-measure/1";

/// The bytes of `measure.json`.
///
/// # Panics
/// Never: a sheet has no maps with keys that are no texts.
#[must_use]
pub fn render(sheet: &Sheet) -> Vec<u8> {
    let mut document = json!({
        "format": FORMAT,
        "program": { "name": env!("CARGO_PKG_NAME"), "version": env!("CARGO_PKG_VERSION") },
        "planned": "planned, not driven",
        "cautions": super::cautions(sheet),
    });
    let body = serde_json::to_value(sheet).expect("plain data becomes JSON");
    if let (Value::Object(document), Value::Object(body)) = (&mut document, body) {
        document.extend(body);
    }
    rounded(&mut document, STEPS_PER_UNIT);
    let mut bytes = serde_json::to_vec_pretty(&document).expect("plain data becomes JSON");
    bytes.push(b'\n');
    bytes
}

/// Rounds every number, areas by their names.
fn rounded(value: &mut Value, steps: f64) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| rounded(item, steps)),
        Value::Object(fields) => {
            for (name, field) in fields.iter_mut() {
                let steps = if name.ends_with("_m2") {
                    AREA_STEPS_PER_M2
                } else {
                    STEPS_PER_UNIT
                };
                rounded(field, steps);
            }
        }
        Value::Number(number) if number.is_f64() => {
            if let Some(number) = number.as_f64() {
                *value = json!(round(number, steps));
            }
        }
        _ => {}
    }
}
