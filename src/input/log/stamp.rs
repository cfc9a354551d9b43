//! Time stamps of points, to whole microseconds.

use crate::geometry::place::Instant;

/// Days from 0000-03-01 to 1970-01-01 in the proleptic Gregorian calendar (arithmetic).
const DAYS_TO_1970: i64 = 719_468;
/// Days in 400 years (arithmetic).
const DAYS_IN_ERA: i64 = 146_097;

/// A time stamp and whether it says its zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    /// The instant; read as UTC where no zone stands.
    pub(super) instant: Instant,
    /// The text names UTC or an offset.
    pub(super) zoned: bool,
}

/// Reads an RFC 3339 (`xsd:dateTime`) stamp. Digits beyond the microsecond are cut off.
pub(super) fn read(text: &str) -> Option<Stamp> {
    let text = text.trim();
    plain(text.as_bytes())
        .map(|us| Stamp {
            instant: Instant(us),
            zoned: true,
        })
        .or_else(|| other(text))
}

/// The form nearly every log has, `YYYY-MM-DDThh:mm:ss[.f]Z`, without the general parser.
fn plain(text: &[u8]) -> Option<i64> {
    let (last, text) = text.split_last()?;
    if *last != b'Z' || text.len() < 19 {
        return None;
    }
    let marks = [text[4], text[7], text[10], text[13], text[16]];
    if marks != *b"--T::" {
        return None;
    }
    let (year, month, day) = (
        digits(&text[..4])?,
        digits(&text[5..7])?,
        digits(&text[8..10])?,
    );
    let (hour, minute, second) = (
        digits(&text[11..13])?,
        digits(&text[14..16])?,
        digits(&text[17..19])?,
    );
    if hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    let seconds = days_since_1970(year, month, day)? * 86_400 + hour * 3600 + minute * 60 + second;
    let fraction_us = match &text[19..] {
        [] => 0,
        [b'.', digits @ ..] => microseconds(digits)?,
        _ => return None,
    };
    Some(seconds * 1_000_000 + fraction_us)
}

fn digits(text: &[u8]) -> Option<i64> {
    text.iter().try_fold(0, |number, byte| {
        byte.is_ascii_digit()
            .then(|| number * 10 + i64::from(byte - b'0'))
    })
}

/// The digits after the point as microseconds.
fn microseconds(text: &[u8]) -> Option<i64> {
    if text.is_empty() || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let shown = text.len().min(6);
    Some(digits(&text[..shown])? * 10_i64.pow(6 - shown as u32))
}

/// Days since 1970-01-01, counted in years that begin in March so that the leap day comes last.
fn days_since_1970(year: i64, month: i64, day: i64) -> Option<i64> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + i64::from(leap),
        _ => return None,
    };
    if day < 1 || day > length {
        return None;
    }
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    Some(era * DAYS_IN_ERA + day_of_era - DAYS_TO_1970)
}

/// Any other form: offsets, a blank for the `T`, leap seconds, no zone at all.
fn other(text: &str) -> Option<Stamp> {
    if let Ok(timestamp) = text.parse::<jiff::Timestamp>() {
        return Some(Stamp {
            instant: Instant(timestamp.as_microsecond()),
            zoned: true,
        });
    }
    let civil = text.parse::<jiff::civil::DateTime>().ok()?;
    // A date alone is no time of a fix.
    if !text.contains(':') {
        return None;
    }
    let timestamp = jiff::tz::TimeZone::UTC.to_timestamp(civil).ok()?;
    Some(Stamp {
        instant: Instant(timestamp.as_microsecond()),
        zoned: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn us(text: &str) -> Option<i64> {
        read(text).map(|stamp| stamp.instant.0)
    }

    #[test]
    fn the_epoch_is_zero_and_a_day_has_86400_seconds() {
        assert_eq!(us("1970-01-01T00:00:00Z"), Some(0));
        assert_eq!(us("1970-01-02T00:00:00Z"), Some(86_400_000_000));
        assert_eq!(us("1969-12-31T23:59:59Z"), Some(-1_000_000));
    }

    #[test]
    fn every_day_of_five_centuries_agrees_with_the_calendar_library() {
        let mut day = jiff::civil::date(1600, 1, 1);
        let last = jiff::civil::date(2101, 1, 1);
        while day < last {
            let expected = jiff::tz::TimeZone::UTC
                .to_timestamp(day.at(1, 2, 3, 0))
                .unwrap()
                .as_microsecond();
            assert_eq!(us(&format!("{day}T01:02:03Z")), Some(expected), "{day}");
            day = day.tomorrow().unwrap();
        }
    }

    #[test]
    fn fractions_are_kept_to_the_microsecond() {
        assert_eq!(us("1970-01-01T00:00:01.5Z"), Some(1_500_000));
        assert_eq!(us("1970-01-01T00:00:00.000001Z"), Some(1));
        assert_eq!(us("1970-01-01T00:00:00.1234567891234Z"), Some(123_456));
        assert_eq!(us("1970-01-01T00:00:00.Z"), None);
    }

    #[test]
    fn offsets_are_taken_off() {
        assert_eq!(us("1970-01-01T01:00:00+01:00"), Some(0));
        assert_eq!(us("1969-12-31T18:00:00-06:00"), Some(0));
        assert!(read("1970-01-01T01:00:00+01:00").unwrap().zoned);
    }

    #[test]
    fn a_stamp_without_zone_is_utc_and_says_so() {
        let stamp = read(" 1970-01-01T00:00:02 ").unwrap();
        assert_eq!((stamp.instant.0, stamp.zoned), (2_000_000, false));
    }

    #[test]
    fn what_is_no_time_is_none() {
        for text in [
            "",
            "noon",
            "2026-02-30T00:00:00Z",
            "2026-01-12",
            "2026-13-01T00:00:00Z",
            "2026-01-12T25:00:00Z",
        ] {
            assert_eq!(us(text), None, "{text}");
        }
    }
}
