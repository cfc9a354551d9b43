//! The cells of one row, each read for itself: times, rates, names.

use crate::geometry::place::Instant;
use crate::units::{self, Dimension};
use jiff::tz::TimeZone;

/// Times before and after are typing errors: receivers have no earlier ones, nobody orders for the next century.
const YEARS: std::ops::Range<i16> = 1980..2200;

/// An instant: RFC 3339 with its zone, or date and time of day in `timezone`. A time of day that the change of
/// clocks skips is taken after it, one that comes twice is the first.
///
/// # Errors
/// What was found, as a clause.
pub(super) fn instant(text: &str, timezone: &TimeZone) -> Result<Instant, String> {
    let timestamp = match text.parse::<jiff::Timestamp>() {
        Ok(zoned) => Some(zoned),
        Err(_) if text.contains(':') => text
            .parse::<jiff::civil::DateTime>()
            .ok()
            .and_then(|civil| timezone.to_timestamp(civil).ok()),
        Err(_) => None,
    };
    timestamp
        .filter(|timestamp| YEARS.contains(&timezone.to_datetime(*timestamp).year()))
        .map(|timestamp| Instant(timestamp.as_microsecond()))
        .ok_or_else(|| {
            format!("\"{text}\" is no time such as 2026-01-12 05:30 or 2026-01-12T05:30:00-06:00")
        })
}

/// A rate over 0 with its unit, mL/m2.
///
/// # Errors
/// What was found, as a clause.
pub(super) fn target_ml_m2(text: &str) -> Result<f64, String> {
    match units::parse(text, Dimension::Rate)? {
        rate if rate > 0.0 => Ok(rate),
        _ => Err(format!("\"{text}\" is not more than 0")),
    }
}
