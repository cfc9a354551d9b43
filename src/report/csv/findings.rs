//! `findings.csv`: a row for every finding, ranked, with its figure, its words and what to check.

use super::Columns;
use crate::findings::Finding;
use crate::findings::card::{Figure, Quantity};
use crate::notation::numbers::cell;
use crate::notation::style::Style;
use crate::report::json::word;
use crate::result::Audit;

/// The bytes of `findings.csv`.
#[must_use]
pub fn render(audit: &Audit, style: &Style) -> Vec<u8> {
    columns(style).write(&audit.findings)
}

fn columns<'a>(style: &Style) -> Columns<&'a Finding> {
    let mut columns = Columns::<&'a Finding>::new();
    columns.plain("severity", |finding| word(finding.severity));
    columns.plain("code", |finding| finding.kind.code().to_owned());
    columns.plain("title", |finding| finding.kind.card().title.to_owned());
    columns.text("site", |finding| finding.site.clone().unwrap_or_default());
    columns.text("zone", |finding| finding.zone.clone().unwrap_or_default());
    columns.text("rig", |finding| finding.rig.clone().unwrap_or_default());
    columns.time("start", style, |finding| finding.start);
    columns.plain("lon_deg", |finding| {
        cell(finding.place.map(|place| place.lon_deg), 7)
    });
    columns.plain("lat_deg", |finding| {
        cell(finding.place.map(|place| place.lat_deg), 7)
    });
    let (of_figure, of_limit, of_unit) = (style.clone(), style.clone(), style.clone());
    columns.plain("figure", move |finding| {
        written(finding, &of_figure, |figure| Some(figure.figure)).0
    });
    columns.plain("limit", move |finding| {
        written(finding, &of_limit, |figure| figure.limit).0
    });
    columns.plain("unit", move |finding| {
        written(finding, &of_unit, |_| None).1.to_owned()
    });
    let of_text = style.clone();
    columns.text("text", move |finding| finding.text(&of_text));
    columns.plain("check", |finding| finding.check().into_owned());
    columns.plain("sections", |finding| {
        let closed = finding.kind.card().closed;
        closed.map_or_else(String::new, |closed| {
            let numbers: Vec<String> = closed.numbers.iter().map(usize::to_string).collect();
            format!("{} of {}", numbers.join(" "), closed.of)
        })
    });
    columns.plain("side", |finding| {
        let closed = finding.kind.card().closed;
        closed.map_or_else(String::new, |closed| word(closed.side))
    });
    columns
}

/// One number of the finding's figure in the style's unit, and that unit.
fn written(
    finding: &Finding,
    style: &Style,
    number: impl Fn(&Figure) -> Option<f64>,
) -> (String, &'static str) {
    let Some(figure) = finding.kind.figure() else {
        return (String::new(), "");
    };
    let measure = match figure.quantity {
        Quantity::Area => style.units.area(),
        Quantity::Volume => style.units.volume(),
        Quantity::Rate => style.rate_unit.measure(),
        Quantity::Length => style.units.length(),
        Quantity::Time => return (cell(number(&figure), 1), "s"),
        Quantity::Share => return (cell(number(&figure).map(|share| share * 100.0), 1), "%"),
        Quantity::Count(things) => return (cell(number(&figure), 0), things),
    };
    (measure.cell(number(&figure)), measure.label)
}
