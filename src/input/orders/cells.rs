//! The cells of one row, each read for itself: times, rates, names.

use crate::geometry::place::Instant;
use crate::units::{self, Dimension};
use jiff::tz::TimeZone;

/// Times before and after are typing errors: receivers have no earlier ones, nobody orders for the next century
/// (limit).
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
    let timestamp = timestamp.or_else(|| {
        let civil = slashed(text, month_first(timezone))?;
        timezone.to_timestamp(civil).ok()
    });
    timestamp
        .filter(|timestamp| YEARS.contains(&timezone.to_datetime(*timestamp).year()))
        .map(|timestamp| Instant(timestamp.as_microsecond()))
        .ok_or_else(|| {
            format!(
                "\"{text}\" is not a time such as 2026-01-12 05:30 or 2026-01-12T05:30:00-06:00"
            )
        })
}

/// Which number of `01/12/2026` is the month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum MonthFirst {
    /// The first: the United States.
    Yes,
    /// Only where the other number is not a month.
    IfPlain,
}

/// Zones in which people write the month first; elsewhere only a date that can be read one way is read.
fn month_first(timezone: &TimeZone) -> MonthFirst {
    let name = timezone.iana_name().unwrap_or_default();
    if name.starts_with("America/") || name.starts_with("US/") || name == "Pacific/Honolulu" {
        MonthFirst::Yes
    } else {
        MonthFirst::IfPlain
    }
}

/// Whether a text begins with a date with slashes.
pub(super) fn is_slashed(text: &str) -> bool {
    text.split_whitespace()
        .next()
        .is_some_and(|date| date.bytes().filter(|byte| *byte == b'/').count() == 2)
}

/// `1/12/2026 5:30 PM`, `01/12/26 17:30`: as spreadsheets write it.
fn slashed(text: &str, month_first: MonthFirst) -> Option<jiff::civil::DateTime> {
    let (date, clock) = text.split_once(char::is_whitespace)?;
    let numbers: Vec<i16> = date
        .split('/')
        .map_while(|part| part.parse().ok())
        .collect();
    let [first, second, year] = numbers.as_slice() else {
        return None;
    };
    let year = if *year < 100 { 2000 + year } else { *year };
    let (month, day) = match (month_first, *first > 12, *second > 12) {
        (_, true, false) => (*second, *first),
        (_, false, true) | (MonthFirst::Yes, false, false) => (*first, *second),
        (MonthFirst::IfPlain, false, false) | (_, true, true) => return None,
    };
    let (hour, minute, second) = clock_time(clock.trim())?;
    let [month, day] = [month, day].map(|number| i8::try_from(number).ok());
    jiff::civil::DateTime::new(year, month?, day?, hour, minute, second, 0).ok()
}

/// `5:30`, `17:30:00`, `5:30 PM`.
fn clock_time(text: &str) -> Option<(i8, i8, i8)> {
    let upper = text.to_ascii_uppercase();
    let (digits, half) = if let Some(digits) = upper.strip_suffix("AM") {
        (digits, Some(0))
    } else if let Some(digits) = upper.strip_suffix("PM") {
        (digits, Some(12))
    } else {
        (upper.as_str(), None)
    };
    let parts: Vec<i8> = digits
        .trim()
        .split(':')
        .map(|part| part.parse().ok())
        .collect::<Option<_>>()?;
    let (hour, minute, second) = match parts.as_slice() {
        [hour, minute] => (*hour, *minute, 0),
        [hour, minute, second] => (*hour, *minute, *second),
        _ => return None,
    };
    let hour = match half {
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(_) => return None,
        None => hour,
    };
    Some((hour, minute, second))
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
