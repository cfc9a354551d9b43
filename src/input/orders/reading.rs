//! From the orders file's text to orders: row by row, so that one bad row costs no other.

use super::{Order, OrdersReading, cells};
use crate::error::{Error, Result};
use crate::findings::clocks::AboutClocks;
use crate::findings::log::AboutLog;
use crate::findings::{Finding, Severity};
use crate::input::fleet::Fleet;
use crate::input::text::{LONGEST_NAME, clean};
use csv::StringRecord;
use jiff::tz::TimeZone;
use std::borrow::Cow;
use std::collections::HashSet;
use std::path::Path;

/// Most rows of a file: a large fleet's night has a few thousand orders (limit).
const MOST_ROWS: usize = 100_000;
/// Columns, as in the first line.
const COLUMNS: [&str; 8] = [
    "site", "zone", "service", "product", "target", "from", "by", "order",
];
const ADVICE: &str = "The first line names the columns: site, zone, service, product, target, from, by, order; \
                      only site must be there.";

/// Reads the orders file; `path` is shown in errors, `file` in findings. Times without a zone are in the fleet's
/// time zone, UTC without one.
///
/// # Errors
/// No heading `site`, a heading twice, or more rows than any night has.
pub fn read(text: &str, path: &Path, file: &str, fleet: &Fleet) -> Result<OrdersReading> {
    let text = &one_line_end(text.strip_prefix('\u{feff}').unwrap_or(text));
    let mut rows = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let failed = |error: csv::Error| Error::new(format!("this is not CSV: {error}")).at(path);
    let headings = rows.headers().map_err(failed)?.clone();
    let mut reading = Reading {
        file,
        fleet,
        timezone: fleet.defaults.timezone.clone().unwrap_or(TimeZone::UTC),
        columns: columns(&headings).map_err(|error| error.at(path).line(1))?,
        width: headings.len(),
        orders: Vec::new(),
        seen: HashSet::new(),
        remarks: Vec::new(),
        unread: Vec::new(),
    };
    reading.unknown_columns(&headings);
    let mut row = StringRecord::new();
    let mut count = 0;
    while rows.read_record(&mut row).map_err(failed)? {
        count += 1;
        if count > MOST_ROWS {
            return Err(
                Error::new(format!("the file has more than {MOST_ROWS} rows"))
                    .at(path)
                    .advice("Keep to the orders of the night."),
            );
        }
        let line = row.position().map_or(0, |at| line_of(text, at));
        if let Err((kind, why)) = reading.row(&row, line) {
            reading.remark(Severity::LookInto, kind, line, why);
        }
    }
    Ok(OrdersReading {
        findings: reading.findings(),
        orders: reading.orders,
    })
}

/// The text with `\n` at the end of every line: the CSV reader ends a row at a lone `\r` too, but does not
/// count it as a line.
fn one_line_end(text: &str) -> Cow<'_, str> {
    if text.contains('\r') {
        Cow::Owned(text.replace("\r\n", "\n").replace('\r', "\n"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Line of a row; the CSV reader counts empty lines before a row as its own.
fn line_of(text: &str, at: &csv::Position) -> u64 {
    let rest = text
        .as_bytes()
        .get(at.byte() as usize..)
        .unwrap_or_default();
    let ends = rest.iter().take_while(|byte| **byte == b'\n');
    at.line() + ends.count() as u64
}

/// Spreadsheets write semicolons or tabs where the comma is the decimal point.
fn delimiter(text: &str) -> u8 {
    let first = text.lines().next().unwrap_or_default();
    let count = |mark: u8| first.bytes().filter(|&byte| byte == mark).count();
    // The comma wins a tie, and a file of one column.
    [b',', b';', b'\t']
        .into_iter()
        .rev()
        .max_by_key(|&mark| count(mark))
        .unwrap_or(b',')
}

/// Where each of [`COLUMNS`] stands.
fn columns(headings: &StringRecord) -> Result<[Option<usize>; COLUMNS.len()]> {
    let mut found = [None; COLUMNS.len()];
    for (at, heading) in headings.iter().enumerate() {
        let known = COLUMNS
            .iter()
            .position(|name| name.eq_ignore_ascii_case(heading));
        let Some(column) = known else { continue };
        if found[column].replace(at).is_some() {
            return Err(
                Error::new(format!("the column `{}` stands twice", COLUMNS[column])).advice(ADVICE),
            );
        }
    }
    if found[0].is_none() {
        let first = clean(headings.get(0).unwrap_or_default());
        return Err(Error::new(format!(
            "expected a heading `site` in the first line, found none (the line begins with \"{first}\")"
        ))
        .advice(ADVICE));
    }
    Ok(found)
}

/// Remarks of one kind: reported once, with the first line and a count.
struct Remark {
    severity: Severity,
    kind: &'static str,
    line: u64,
    count: u64,
    why: String,
}

struct Reading<'a> {
    file: &'a str,
    fleet: &'a Fleet,
    timezone: TimeZone,
    columns: [Option<usize>; COLUMNS.len()],
    width: usize,
    orders: Vec<Order>,
    /// Rows as they stand, to know repeated ones.
    seen: HashSet<Vec<String>>,
    remarks: Vec<Remark>,
    /// Rows whose `from` or `by` cannot be used, by kind: the first one's line and reason, and how many.
    unread: Vec<Remark>,
}

/// A kind of fault and why, as a clause.
type Fault = (&'static str, String);

impl Reading<'_> {
    fn unknown_columns(&mut self, headings: &StringRecord) {
        let unknown = headings
            .iter()
            .filter(|heading| {
                !heading.is_empty()
                    && !COLUMNS
                        .iter()
                        .any(|name| name.eq_ignore_ascii_case(heading))
            })
            .map(clean);
        for heading in unknown.collect::<Vec<_>>() {
            let why = format!("the column \"{heading}\" is not known and was ignored");
            self.remark(Severity::ForTheRecord, "column", 1, why);
        }
    }

    fn remark(&mut self, severity: Severity, kind: &'static str, line: u64, why: String) {
        count(&mut self.remarks, (severity, kind), line, why);
    }

    fn row(&mut self, row: &StringRecord, line: u64) -> std::result::Result<(), Fault> {
        if row.iter().all(str::is_empty) {
            return Ok(());
        }
        if row.iter().skip(self.width).any(|cell| !cell.is_empty()) {
            let why = "a row has more cells than the first line has headings and was left out; a text with \
                       a comma needs quotation marks";
            return Err(("cells", why.to_owned()));
        }
        if row.iter().any(|cell| cell.chars().count() > LONGEST_NAME) {
            let why = format!(
                "a row has a cell of over {LONGEST_NAME} characters and was left out; a quotation mark \
                 that is not closed swallows the rows after it"
            );
            return Err(("length", why));
        }
        if row.iter().any(|cell| cell.contains(['\n', '\r'])) {
            let why = "a quotation mark goes on over the end of its line; rows within it were not read as rows";
            self.remark(Severity::LookInto, "quotation", line, why.to_owned());
        }
        let cells: Vec<String> = self
            .columns
            .iter()
            .map(|at| clean(at.and_then(|at| row.get(at)).unwrap_or_default()))
            .collect();
        if cells[0].is_empty() {
            return Err(("site", "a row names no site and was left out".to_owned()));
        }
        if !self.seen.insert(cells.clone()) {
            let why = "a row says the same as an earlier one and counts once".to_owned();
            return Err(("repeated", why));
        }
        let order = self.order(&cells, line);
        self.orders.push(order);
        Ok(())
    }

    fn order(&mut self, cells: &[String], line: u64) -> Order {
        let text = |column: usize| Some(cells[column].clone()).filter(|text| !text.is_empty());
        let mut order = Order {
            line,
            site: cells[0].clone(),
            zone: text(1),
            service: text(2),
            product: text(3),
            target_ml_m2: None,
            from: None,
            by: None,
            id: text(7),
        };
        if let Some(product) = order.product.take_if(|product| !self.is_known(product)) {
            let why = format!(
                "there is no product \"{product}\" in the fleet file; the product was ignored"
            );
            self.remark(Severity::LookInto, "product", line, why);
        }
        if let Some(text) = text(4) {
            order.target_ml_m2 = self.or_ignored("target", line, cells::target_ml_m2(&text));
        }
        let timezone = self.timezone.clone();
        let instant = |text: String| cells::instant(&text, &timezone);
        if [5, 6]
            .into_iter()
            .filter_map(text)
            .any(|text| cells::is_slashed(&text))
        {
            let why =
                "dates such as 01/12/2026 were read with the month first, or the only way they can be; 2026-01-12 leaves no doubt"
                    .to_owned();
            self.remark(Severity::ForTheRecord, DATES, line, why);
        }
        let (from, by) = (text(5).map(instant), text(6).map(instant));
        let unread = [("from", &from), ("by", &by)];
        let unread = unread.into_iter().filter_map(|(column, found)| {
            let why = found.as_ref()?.as_ref().err()?;
            Some(format!("`{column}` cannot be read ({})", clean(why)))
        });
        self.times_unread("unread", line, unread.collect());
        order.from = from.and_then(std::result::Result::ok);
        order.by = by.and_then(std::result::Result::ok);
        if matches!((order.from, order.by), (Some(from), Some(by)) if from >= by) {
            (order.from, order.by) = (None, None);
            let why = "`by` is not after `from`; both were ignored".to_owned();
            self.times_unread("window", line, vec![why]);
        }
        order
    }

    /// Counts a row whose times cannot be used.
    fn times_unread(&mut self, kind: &'static str, line: u64, why: Vec<String>) {
        if !why.is_empty() {
            count(
                &mut self.unread,
                (Severity::LookInto, kind),
                line,
                why.join(", "),
            );
        }
    }

    fn or_ignored<T>(
        &mut self,
        column: &'static str,
        line: u64,
        found: std::result::Result<T, String>,
    ) -> Option<T> {
        found
            .map_err(|why| {
                let why = format!(
                    "`{column}` cannot be read ({}); it was ignored",
                    clean(&why)
                );
                self.remark(Severity::LookInto, column, line, why);
            })
            .ok()
    }

    fn is_known(&self, product: &str) -> bool {
        self.fleet.products.iter().any(|known| known.id == product)
    }

    fn findings(&mut self) -> Vec<Finding> {
        let file = self.file;
        let unread = self.unread.drain(..).map(|remark| {
            let kind = AboutClocks::TimesUnread {
                file: file.to_owned(),
                line: remark.line,
                count: remark.count,
                why: remark.why,
            };
            Finding::new(remark.severity, kind)
        });
        let others = self.remarks.drain(..).map(|remark| {
            let (file, line, count) = (file.to_owned(), Some(remark.line), remark.count);
            // Dates were read: nothing was left out.
            let kind = if remark.kind == DATES {
                AboutLog::ReadingOdd {
                    file,
                    line,
                    count,
                    what: remark.why,
                }
            } else {
                AboutLog::InputSkipped {
                    file,
                    line,
                    count,
                    why: remark.why,
                }
            };
            Finding::new(remark.severity, kind)
        });
        unread.chain(others).collect()
    }
}

/// The kind of remark on dates with slashes.
const DATES: &str = "dates";

/// Counts a remark of a kind, and keeps the first one's line and reason.
fn count(
    remarks: &mut Vec<Remark>,
    (severity, kind): (Severity, &'static str),
    line: u64,
    why: String,
) {
    match remarks.iter_mut().find(|known| known.kind == kind) {
        Some(known) => known.count += 1,
        None => remarks.push(Remark {
            severity,
            kind,
            line,
            count: 1,
            why,
        }),
    }
}
