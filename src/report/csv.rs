//! Spreadsheets: one file for zones, visits, runs and findings each.
//!
//! Every heading names its unit; cells are plain digits with a point, finer than printed numbers so
//! that columns add up; an empty cell is "not known". Times stand twice: local, as a
//! spreadsheet reads a date, its zone in the heading; and UTC for sorting.

pub mod findings;
pub mod orders_done;
pub mod runs;
pub mod visits;
pub mod zones;

use crate::geometry::place::Instant;
use crate::notation::clean::clean;
use crate::notation::numbers::{Measure, cell};
use crate::notation::style::Style;

/// UTF-8 with a byte-order mark: without it a spreadsheet reads names in the machine's own code page (arithmetic).
const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";

/// A column: its heading and how to fill its cell from a row's source. Kept together so that no
/// cell can slip under another heading.
struct Column<R> {
    heading: String,
    cell: Box<dyn Fn(&R) -> String>,
}

/// The columns of one table, in order.
pub(crate) struct Columns<R> {
    columns: Vec<Column<R>>,
}

impl<R> Columns<R> {
    pub(crate) fn new() -> Self {
        Self {
            columns: Vec::new(),
        }
    }

    /// A column whose cells are ready: numbers and words of the program itself.
    pub(crate) fn plain(
        &mut self,
        heading: impl Into<String>,
        cell: impl Fn(&R) -> String + 'static,
    ) {
        self.columns.push(Column {
            heading: heading.into(),
            cell: Box::new(cell),
        });
    }

    /// A column of text that came from input: made harmless.
    pub(crate) fn text(&mut self, heading: &str, cell: impl Fn(&R) -> String + 'static) {
        self.plain(heading, move |row| harmless(&cell(row)));
    }

    /// A quantity: SI in, the measure's unit out, and in the heading.
    pub(crate) fn quantity(
        &mut self,
        name: &str,
        measure: Measure,
        si: impl Fn(&R) -> Option<f64> + 'static,
    ) {
        self.plain(format!("{name}_{}", measure.heading), move |row| {
            measure.cell(si(row))
        });
    }

    /// A rate, once in each of the style's rate units.
    fn rate(
        &mut self,
        name: &str,
        style: &Style,
        ml_m2: impl Fn(&R) -> Option<f64> + Clone + 'static,
    ) {
        for unit in style.rate_columns() {
            self.quantity(name, unit.measure(), ml_m2.clone());
        }
    }

    /// A fraction as percent.
    fn percent(&mut self, name: &str, fraction: impl Fn(&R) -> Option<f64> + 'static) {
        self.plain(format!("{name}_pct"), move |row| {
            cell(fraction(row).map(|f| f * 100.0), 1)
        });
    }

    /// Seconds as minutes.
    pub(crate) fn minutes(&mut self, name: &str, seconds: impl Fn(&R) -> Option<f64> + 'static) {
        self.plain(format!("{name}_min"), move |row| {
            cell(seconds(row).map(|s| s / 60.0), 1)
        });
    }

    /// An instant, local and in UTC.
    pub(crate) fn time(
        &mut self,
        name: &str,
        style: &Style,
        time: impl Fn(&R) -> Option<Instant> + Clone + 'static,
    ) {
        let (style, utc) = (style.clone(), time.clone());
        let zone = style.zone_in_heading();
        self.plain(format!("{name}_local_{zone}"), move |row| {
            time(row).map_or_else(String::new, |time| style.sheet_time(time))
        });
        self.plain(format!("{name}_utc"), move |row| {
            utc(row).map_or_else(String::new, |time| time.to_string())
        });
    }

    /// The file.
    pub(crate) fn write(&self, rows: impl IntoIterator<Item = R>) -> Vec<u8> {
        const TO_MEMORY: &str = "writing to memory with equal row lengths cannot fail";
        let mut writer = ::csv::Writer::from_writer(BYTE_ORDER_MARK.to_vec());
        let headings = self.columns.iter().map(|column| column.heading.as_str());
        writer.write_record(headings).expect(TO_MEMORY);
        for row in rows {
            let cells = self.columns.iter().map(|column| (column.cell)(&row));
            writer.write_record(cells).expect(TO_MEMORY);
        }
        writer.into_inner().expect(TO_MEMORY)
    }
}

/// Characters that begin a formula. With an East Asian keyboard spreadsheets take the full-width forms for the plain
/// ones, and the small forms and the minus sign fold to them too (Unicode, compatibility decompositions).
const FORMULA_STARTS: [char; 13] = [
    '=', '+', '-', '@', '\u{FF1D}', '\u{FF0B}', '\u{FF0D}', '\u{FF20}', '\u{FE66}', '\u{FE62}',
    '\u{FE63}', '\u{FE6B}', '\u{2212}',
];
/// A written table with one more column, first, that says the same in every row.
pub(super) fn marked(table: &[u8], heading: &str, mark: &str) -> Vec<u8> {
    const IN_MEMORY: &str = "a table that was just written reads and writes again";
    let mut reader = ::csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(table);
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    for (index, row) in reader.records().enumerate() {
        let row = row.expect(IN_MEMORY);
        let first = if index == 0 { heading } else { mark };
        writer
            .write_record(std::iter::once(first).chain(row.iter()))
            .expect(IN_MEMORY);
    }
    writer.into_inner().expect(IN_MEMORY)
}

/// Text that a spreadsheet shows and never runs: a leading `=`, `+`, `-` or `@` (and the tab or
/// return that some programs skip over) would make it a formula, so an apostrophe goes before it.
fn harmless(text: &str) -> String {
    let cleaned = clean(text);
    if cleaned.trim_start().starts_with(FORMULA_STARTS) {
        format!("'{cleaned}")
    } else {
        cleaned.into_owned()
    }
}

#[cfg(test)]
mod tests;
