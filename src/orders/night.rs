//! Which of the logs' dates is the night: a clock that lost its date must not stretch it over years.

use crate::geometry::place::Instant;
use crate::input::log::Log;
use crate::result::NightSpan;

/// Logs whose middles are farther apart than this are not of one night, s. Two days: the longest night's work with
/// the day before and after it stays within, and the dates of a wrong clock seldom do (trade judgement).
pub const ANOTHER_NIGHT_S: f64 = 2.0 * 86_400.0;

/// Receivers count weeks in ten bits: after 1,024 weeks the count begins again, and an old receiver goes on with a
/// date so many weeks back (GPS interface specification IS-GPS-200), s (published).
pub const ROLLOVER_S: f64 = 1024.0 * 604_800.0;
/// Within this of whole rollovers, s: logs of one night begin and end at other hours (trade judgement).
const ROLLOVER_WITHIN_S: f64 = 86_400.0;

/// How many rollovers lie between two dates so many seconds apart; `None` if they are apart otherwise.
#[must_use]
pub fn rollovers(apart_s: f64) -> Option<u32> {
    let count = (apart_s.abs() / ROLLOVER_S).round();
    let whole = (apart_s.abs() - count * ROLLOVER_S).abs() <= ROLLOVER_WITHIN_S;
    (count >= 1.0 && whole).then_some(count as u32)
}

/// Logs by date, and which date is the night: the one that most rigs share, then most logs; of equals the
/// later, since a clock that lost its date falls back. A date with another one just 1,024 weeks later is
/// that of receivers whose week number rolled over, however many they are. Items must be in order of
/// their middles.
pub fn by_date<T>(
    items: &[T],
    middle: impl Fn(&T) -> Instant,
    rig: impl Fn(&T) -> usize,
) -> (Vec<&[T]>, usize) {
    let dates: Vec<&[T]> = items
        .chunk_by(|a, b| middle(b).seconds_since(middle(a)) <= ANOTHER_NIGHT_S)
        .collect();
    let rigs = |date: &[T]| {
        let mut rigs: Vec<usize> = date.iter().map(&rig).collect();
        rigs.sort_unstable();
        rigs.dedup();
        rigs.len()
    };
    let middle_of = |date: &[T]| middle(&date[date.len() / 2]);
    let rolled_over = |&index: &usize| {
        let later = dates[index + 1..].iter();
        let mut behind_s =
            later.map(|later| middle_of(later).seconds_since(middle_of(dates[index])));
        behind_s.any(|behind_s| rollovers(behind_s).is_some())
    };
    let most = (0..dates.len())
        .filter(|index| !rolled_over(index))
        .max_by_key(|&index| (rigs(dates[index]), dates[index].len(), index));
    (dates, most.unwrap_or(0))
}

/// The span of the logs of the night, without those of another date; `None` without a fix.
#[must_use]
pub fn span(logs: &[Log]) -> Option<NightSpan> {
    let mut spans: Vec<(NightSpan, usize)> = logs
        .iter()
        .filter_map(|log| {
            let times = log.fixes.iter().map(|fix| fix.time);
            let (first, last) = (times.clone().min()?, times.max()?);
            Some((NightSpan { first, last }, log.rig))
        })
        .collect();
    let middle = |span: &(NightSpan, usize)| Instant(span.0.first.0.midpoint(span.0.last.0));
    spans.sort_by_key(|span| (middle(span), span.1));
    let (dates, night) = by_date(&spans, middle, |span| span.1);
    let of_night = dates.get(night)?.iter().map(|(span, _)| *span);
    of_night.reduce(|a, b| NightSpan {
        first: a.first.min(b.first),
        last: a.last.max(b.last),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::place::LonLat;
    use crate::input::log::Fix;

    fn log(rig: usize, hours: [i64; 2]) -> Log {
        let place = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        let fix = |hour: i64| Fix::bare(Instant(hour * 3_600_000_000), place, 1);
        Log {
            file: "a.gpx".into(),
            rig,
            fixes: hours.map(fix).into(),
            segment_starts: vec![0],
            volume_since_last_fix: false,
            products: vec![],
            breaks_off: false,
            planned: false,
        }
    }

    #[test]
    fn a_clock_without_a_date_does_not_stretch_the_night() {
        let rollover = 1024 * 7 * 24;
        let logs = [
            log(0, [200_000, 200_008]),
            log(1, [200_002, 200_010]),
            log(2, [200_000 - rollover, 200_008 - rollover]),
        ];
        let span = super::span(&logs).unwrap();
        let hour = |instant: Instant| instant.0 / 3_600_000_000;
        assert_eq!((hour(span.first), hour(span.last)), (200_000, 200_010));
        // Two old receivers do not outvote the one that is right.
        let logs = [
            logs[0].clone(),
            logs[2].clone(),
            log(3, [200_001 - rollover, 200_002 - rollover]),
        ];
        let span = super::span(&logs).unwrap();
        assert_eq!((hour(span.first), hour(span.last)), (200_000, 200_008));
        assert_eq!(super::span(&[]), None);
    }
}
