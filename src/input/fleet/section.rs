//! A table of the fleet file with its place in the text: every value that is asked for comes with
//! an error that shows the line. Knows TOML, knows nothing of rigs.

use crate::error::{Error, Result};
use crate::input::text::clean;
use crate::units::{self, Dimension};
use std::ops::Range;
use std::path::Path;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest part of a line shown in an error, in characters (limit).
const LONGEST_LINE_SHOWN: usize = 160;

/// Keys this many edits apart are taken for a typing slip (limit).
const SLIP_EDITS: usize = 3;

/// The whole text, for the lines that errors show.
pub(super) struct Source<'t> {
    /// The file.
    pub(super) path: &'t Path,
    /// Its text.
    pub(super) text: &'t str,
}

impl Source<'_> {
    /// An error at a place in the text: what is wrong, the line itself, what to do.
    pub(super) fn error(&self, span: &Range<usize>, what: &str, advice: &str) -> Error {
        let start = span.start.min(self.text.len());
        let before = &self.text.as_bytes()[..start];
        let line = 1 + memchr::memchr_iter(b'\n', before).count();
        let text = self.text.lines().nth(line - 1).unwrap_or("");
        let shown: String = text
            .trim()
            .chars()
            .filter(|c| !c.is_control())
            .take(LONGEST_LINE_SHOWN)
            .collect();
        let message = if shown.is_empty() {
            what.to_owned()
        } else {
            format!("{what}\n    {shown}")
        };
        let error = Error::new(message).at(self.path).line(line as u64);
        if advice.is_empty() {
            error
        } else {
            error.advice(advice)
        }
    }
}

/// One table, such as a `[[rig]]`.
pub(super) struct Section<'a, 'i> {
    source: &'a Source<'a>,
    table: &'a DeTable<'i>,
    /// How to call it in a message.
    pub(super) name: String,
    /// Where it begins.
    pub(super) span: Range<usize>,
}

impl<'a, 'i> Section<'a, 'i> {
    /// The table `table` that stands at `span`.
    pub(super) fn new(
        source: &'a Source<'a>,
        table: &'a DeTable<'i>,
        name: &str,
        span: Range<usize>,
    ) -> Self {
        Self {
            source,
            table,
            name: name.to_owned(),
            span,
        }
    }

    /// An error about the value of a key; about the table where there is no such key.
    pub(super) fn error_at(&self, key: &str, what: &str, advice: &str) -> Error {
        let span = self.entry(key).map_or(self.span.clone(), Spanned::span);
        self.source.error(&span, what, advice)
    }

    /// An unknown key is an error, because a slip that is silently ignored is worse.
    pub(super) fn only(&self, known: &[&str]) -> Result<()> {
        // The map is ordered by key; the first in the text is the one to show.
        let odd = self
            .table
            .keys()
            .filter(|key| !known.contains(&key.get_ref().as_ref()));
        let Some(key) = odd.min_by_key(|key| key.span().start) else {
            return Ok(());
        };
        let found = clean(key.get_ref());
        let nearest = known.iter().map(|name| (edits(name, &found), *name)).min();
        let advice = match nearest {
            // A short key that is half wrong is another key, not a slip.
            Some((distance, name))
                if distance <= SLIP_EDITS && 2 * distance <= found.chars().count() =>
            {
                format!("Did you mean `{name}`?")
            }
            _ => format!(
                "Known keys in this version ({}): {}.",
                env!("CARGO_PKG_VERSION"),
                known.join(", ")
            ),
        };
        Err(self.source.error(
            &key.span(),
            &format!("unknown key `{found}` in {}", self.name),
            &advice,
        ))
    }

    fn entry(&self, key: &str) -> Option<&'a Spanned<DeValue<'i>>> {
        self.table.get(key)
    }

    /// Whether the key is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.entry(key).is_some()
    }

    fn wrong(
        &self,
        key: &str,
        value: &Spanned<DeValue<'i>>,
        expected: &str,
        advice: &str,
    ) -> Error {
        let what = format!(
            "`{key}` in {}: expected {expected}, found {}",
            self.name,
            kind(value.get_ref())
        );
        self.source.error(&value.span(), &what, advice)
    }

    /// A text, cleaned of control characters.
    pub(super) fn text(&self, key: &str) -> Result<Option<String>> {
        match self.entry(key) {
            None => Ok(None),
            Some(value) => match value.get_ref() {
                DeValue::String(text) => Ok(Some(clean(text))),
                _ => Err(self.wrong(
                    key,
                    value,
                    "a text in quotes",
                    &format!("Write {key} = \"...\"."),
                )),
            },
        }
    }

    /// A list of texts.
    pub(super) fn texts(&self, key: &str) -> Result<Option<Vec<String>>> {
        let Some(value) = self.entry(key) else {
            return Ok(None);
        };
        let advice = format!("Write {key} = [\"...\", \"...\"].");
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.wrong(key, value, "a list of texts", &advice));
        };
        let text = |item: &Spanned<DeValue<'i>>| match item.get_ref() {
            DeValue::String(text) => Ok(clean(text)),
            _ => Err(self.wrong(key, item, "a text in quotes", &advice)),
        };
        items.iter().map(text).collect::<Result<Vec<_>>>().map(Some)
    }

    /// A quantity with its unit, in the unit used inside.
    pub(super) fn quantity(&self, key: &str, dimension: Dimension) -> Result<Option<f64>> {
        self.entry(key)
            .map(|value| self.measured(key, value, dimension))
            .transpose()
    }

    /// A list of quantities.
    pub(super) fn quantities(&self, key: &str, dimension: Dimension) -> Result<Option<Vec<f64>>> {
        let Some(value) = self.entry(key) else {
            return Ok(None);
        };
        let DeValue::Array(items) = value.get_ref() else {
            let advice = format!("Write {key} = [\"{0}\", \"{0}\"].", dimension.sample());
            return Err(self.wrong(key, value, "a list of quantities", &advice));
        };
        items
            .iter()
            .map(|item| self.measured(key, item, dimension))
            .collect::<Result<Vec<_>>>()
            .map(Some)
    }

    fn measured(
        &self,
        key: &str,
        value: &Spanned<DeValue<'i>>,
        dimension: Dimension,
    ) -> Result<f64> {
        let advice = format!(
            "Write the number with its unit, in quotes, such as {key} = \"{}\". Units: {}.",
            dimension.sample(),
            dimension.accepted()
        );
        match value.get_ref() {
            DeValue::String(text) => units::parse(text, dimension).map_err(|why| {
                self.source.error(
                    &value.span(),
                    &format!("`{key}` in {}: {}", self.name, clean(&why)),
                    &advice,
                )
            }),
            _ => Err(self.wrong(
                key,
                value,
                &format!("a {} with its unit", dimension.name()),
                &advice,
            )),
        }
    }

    /// Whether the key's value is a list.
    pub(super) fn is_list(&self, key: &str) -> bool {
        self.entry(key)
            .is_some_and(|value| matches!(value.get_ref(), DeValue::Array(_)))
    }

    /// A list of numbers without a unit.
    pub(super) fn numbers(&self, key: &str) -> Result<Option<Vec<f64>>> {
        let Some(value) = self.entry(key) else {
            return Ok(None);
        };
        let advice = format!("Write {key} = [1, 2, 3].");
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.wrong(key, value, "a list of numbers", &advice));
        };
        items
            .iter()
            .map(|item| {
                bare(item.get_ref())
                    .ok_or_else(|| self.wrong(key, item, "a number without quotes", &advice))
            })
            .collect::<Result<Vec<_>>>()
            .map(Some)
    }

    /// A number without a unit.
    pub(super) fn number(&self, key: &str) -> Result<Option<f64>> {
        let Some(value) = self.entry(key) else {
            return Ok(None);
        };
        match bare(value.get_ref()) {
            Some(number) => Ok(Some(number)),
            None => Err(self.wrong(
                key,
                value,
                "a number without quotes",
                &format!("Write {key} = 1.0."),
            )),
        }
    }

    /// A whole number within a range.
    pub(super) fn whole(
        &self,
        key: &str,
        range: std::ops::RangeInclusive<u32>,
    ) -> Result<Option<u32>> {
        let Some(value) = self.entry(key) else {
            return Ok(None);
        };
        let number = match value.get_ref() {
            DeValue::Integer(number) => u32::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => None,
        };
        match number.filter(|number| range.contains(number)) {
            Some(number) => Ok(Some(number)),
            None => {
                let expected = format!("a whole number from {} to {}", range.start(), range.end());
                Err(self.wrong(key, value, &expected, ""))
            }
        }
    }

    /// `true` or `false`.
    pub(super) fn flag(&self, key: &str) -> Result<Option<bool>> {
        match self.entry(key) {
            None => Ok(None),
            Some(value) => match value.get_ref() {
                DeValue::Boolean(flag) => Ok(Some(*flag)),
                _ => Err(self.wrong(key, value, "true or false", &format!("Write {key} = true."))),
            },
        }
    }

    /// A table within this one.
    pub(super) fn table(&self, key: &str, name: &str) -> Result<Option<Section<'a, 'i>>> {
        match self.entry(key) {
            None => Ok(None),
            Some(value) => match value.get_ref() {
                DeValue::Table(table) => {
                    Ok(Some(Section::new(self.source, table, name, value.span())))
                }
                _ => Err(self.wrong(
                    key,
                    value,
                    "a table",
                    &format!("Write {key} = {{ ... }} or a table {name}."),
                )),
            },
        }
    }

    /// A list of tables, such as every `[[rig]]`.
    pub(super) fn tables(&self, key: &str) -> Result<Vec<Section<'a, 'i>>> {
        let Some(value) = self.entry(key) else {
            return Ok(Vec::new());
        };
        let advice = format!("Begin each one with a line [[{key}]] (two brackets on either side).");
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.wrong(key, value, "a list of tables", &advice));
        };
        let section = |item: &'a Spanned<DeValue<'i>>| match item.get_ref() {
            DeValue::Table(table) => Ok(Section::new(
                self.source,
                table,
                &format!("[[{key}]]"),
                item.span(),
            )),
            _ => Err(self.wrong(key, item, "a table", &advice)),
        };
        items.iter().map(section).collect()
    }
}

/// A finite number without a unit.
fn bare(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        DeValue::Float(number) => number.as_str().replace('_', "").parse::<f64>().ok(),
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
            .ok()
            .map(|n| n as f64),
        _ => None,
    };
    number.filter(|number| number.is_finite())
}

/// What a value is, for a message.
fn kind(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("the text \"{}\"", clean(text)),
        DeValue::Integer(number) => format!("the bare number {}", clean(number.as_str())),
        DeValue::Float(number) => format!("the bare number {}", clean(number.as_str())),
        DeValue::Boolean(flag) => format!("{flag}"),
        DeValue::Datetime(_) => "a date or time".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// Number of single-letter edits between two keys (Levenshtein).
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let change = diagonal + usize::from(x != *y);
            diagonal = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::edits;

    #[test]
    fn edits_count_single_letters() {
        assert_eq!(edits("antenna", "antena"), 1);
        assert_eq!(edits("tank", "tank"), 0);
        assert_eq!(edits("", "abc"), 3);
    }
}
