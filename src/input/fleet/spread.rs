//! A setting that is one value, or three: low, likely, high.

use super::section::Section;
use crate::error::Result;
use crate::units::Dimension;

/// A quantity as the estimator knows it: each outer value is passed one time in ten, either side of the likely one is
/// met one time in two. One value alone is sure.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Spread {
    /// Passed downward one time in ten.
    pub low: f64,
    /// As often above as below.
    pub likely: f64,
    /// Passed upward one time in ten.
    pub high: f64,
}

impl Spread {
    /// One sure value.
    #[must_use]
    pub fn sure(value: f64) -> Self {
        Self {
            low: value,
            likely: value,
            high: value,
        }
    }

    /// Whether it is one value only.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.low >= self.high
    }

    /// Every value times a factor of 0 or more.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        Self {
            low: self.low * factor,
            likely: self.likely * factor,
            high: self.high * factor,
        }
    }

    /// The sum of two that go up and down together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            low: self.low + other.low,
            likely: self.likely + other.likely,
            high: self.high + other.high,
        }
    }
}

/// What a value must be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Bound {
    /// More than 0.
    Positive,
    /// 0 or more.
    NotNegative,
    /// A fraction from 0 to 1, both included.
    Share,
    /// A fraction from 0 to under 1.
    LessThanAll,
}

impl Bound {
    fn holds(self, value: f64) -> bool {
        match self {
            Self::Positive => value > 0.0,
            Self::NotNegative => value >= 0.0,
            Self::Share => (0.0..=1.0).contains(&value),
            Self::LessThanAll => (0.0..1.0).contains(&value),
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Positive => "more than 0",
            Self::NotNegative => "0 or more",
            Self::Share => "from 0 to 100 %",
            Self::LessThanAll => "from 0 to under 100 %",
        }
    }
}

/// Reads a quantity that is one value or three.
///
/// # Errors
/// Another number of values, values that do not rise, a value out of bounds, or none of the units.
pub(super) fn quantity(
    section: &Section<'_, '_>,
    key: &str,
    dimension: Dimension,
    bound: Bound,
) -> Result<Option<Spread>> {
    if !section.is_list(key) {
        let value = section.quantity(key, dimension)?;
        return checked(section, key, value.map(|value| vec![value]), bound);
    }
    checked(section, key, section.quantities(key, dimension)?, bound)
}

/// The same for bare numbers.
///
/// # Errors
/// As [`quantity`].
pub(super) fn number(section: &Section<'_, '_>, key: &str, bound: Bound) -> Result<Option<Spread>> {
    if !section.is_list(key) {
        let value = section.number(key)?;
        return checked(section, key, value.map(|value| vec![value]), bound);
    }
    checked(section, key, section.numbers(key)?, bound)
}

fn checked(
    section: &Section<'_, '_>,
    key: &str,
    values: Option<Vec<f64>>,
    bound: Bound,
) -> Result<Option<Spread>> {
    let Some(values) = values else {
        return Ok(None);
    };
    let wrong = |what: String, advice: &str| {
        let what = format!("`{key}` in {}: {what}", section.name);
        Err(section.error_at(key, &what, advice))
    };
    let spread = match values[..] {
        [value] => Spread::sure(value),
        [low, likely, high] => Spread { low, likely, high },
        _ => {
            let what = format!("expected one value or three, found {}", values.len());
            return wrong(what, "Three values are low, likely, high.");
        }
    };
    if spread.low > spread.likely || spread.likely > spread.high {
        return wrong(
            "the three values must rise: low, likely, high".to_owned(),
            "Each outer value is the one that is passed one time in ten.",
        );
    }
    if values.iter().all(|value| bound.holds(*value)) {
        Ok(Some(spread))
    } else {
        wrong(format!("must be {}", bound.words()), "")
    }
}
