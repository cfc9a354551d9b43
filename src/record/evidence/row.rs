//! One row of a table of evidence, read column by column; what is wrong with it names the file and the row.

use super::{Fault, fault};
use std::str::FromStr;

/// A row.
pub(super) struct Row<'a> {
    file: &'static str,
    columns: &'static [&'static str],
    row: &'a csv::StringRecord,
    number: usize,
}

impl<'a> Row<'a> {
    /// Row `number`, from 0, of a file with these columns.
    pub(super) fn of(
        file: &'static str,
        columns: &'static [&'static str],
        row: &'a csv::StringRecord,
        number: usize,
    ) -> Self {
        Self {
            file,
            columns,
            row,
            number,
        }
    }

    pub(super) fn wrong(&self, what: &str) -> Fault {
        fault(self.file, format!("row {} {what}", self.number))
    }

    pub(super) fn text(&self, column: usize) -> &str {
        self.row.get(column).unwrap_or_default()
    }

    pub(super) fn number<T: FromStr>(&self, column: usize) -> Result<T, Fault> {
        let parsed = self.text(column).parse();
        parsed.map_err(|_| self.wrong(&format!("has no {} that can be read", self.columns[column])))
    }

    /// A finite number up to this.
    pub(super) fn within(&self, column: usize, most: f64) -> Result<f64, Fault> {
        let value: f64 = self.number(column)?;
        // NaN is within nothing.
        if value.abs() <= most {
            return Ok(value);
        }
        Err(self.wrong(&format!("has a {} out of range", self.columns[column])))
    }

    pub(super) fn flag(&self, column: usize) -> Result<bool, Fault> {
        match self.text(column) {
            "0" => Ok(false),
            "1" => Ok(true),
            _ => Err(self.wrong(&format!(
                "has a {} that is neither 0 nor 1",
                self.columns[column]
            ))),
        }
    }

    /// `None` of an empty cell.
    pub(super) fn known<T>(
        &self,
        column: usize,
        value: impl Fn() -> Result<T, Fault>,
    ) -> Result<Option<T>, Fault> {
        if self.text(column).is_empty() {
            return Ok(None);
        }
        value().map(Some)
    }
}
