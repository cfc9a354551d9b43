//! What values the quantities of the fleet file may have.

use super::section::Section;
use crate::error::Result;
use crate::units::Dimension;

/// A quantity of more than 0.
///
/// # Errors
/// Any other.
pub(super) fn positive(
    section: &Section<'_, '_>,
    key: &str,
    dimension: Dimension,
) -> Result<Option<f64>> {
    in_range(
        section,
        key,
        section.quantity(key, dimension)?,
        |x| x > 0.0,
        "more than 0",
    )
}

/// A quantity of 0 or more.
///
/// # Errors
/// Any other.
pub(super) fn not_negative(
    section: &Section<'_, '_>,
    key: &str,
    dimension: Dimension,
) -> Result<Option<f64>> {
    in_range(
        section,
        key,
        section.quantity(key, dimension)?,
        |x| x >= 0.0,
        "0 or more",
    )
}

/// A share between 0 and all.
///
/// # Errors
/// Any other.
pub(super) fn share(section: &Section<'_, '_>, key: &str) -> Result<Option<f64>> {
    let within = |x: f64| x > 0.0 && x < 1.0;
    in_range(
        section,
        key,
        section.quantity(key, Dimension::Share)?,
        within,
        "between 0 and 100 %",
    )
}

/// A value that fits, or none.
///
/// # Errors
/// One that does not fit, with its line and what was expected.
pub(super) fn in_range(
    section: &Section<'_, '_>,
    key: &str,
    value: Option<f64>,
    fits: impl Fn(f64) -> bool,
    expected: &str,
) -> Result<Option<f64>> {
    match value {
        Some(value) if !fits(value) => Err(section.error_at(
            key,
            &format!("`{key}` in {} must be {expected}", section.name),
            "",
        )),
        other => Ok(other),
    }
}
