//! Blocked ground is there only in its time: parked cars, a snow pile, the client's wish for a night.

use super::remarks;
use crate::findings::{Finding, Severity};
use crate::input::sites::{DrawnZone, LandUse};
use crate::night::NightSpan;
use crate::place::Instant;

/// Whether a zone is blocked at any time of the night: from `from` on and before `until`, either side
/// open where it is missing.
fn meets(night: NightSpan, zone: &DrawnZone) -> bool {
    zone.blocked_from.is_none_or(|from| from <= night.last)
        && zone.blocked_until.is_none_or(|until| until > night.first)
}

/// The drawn zones without blocked ground of another time, and a remark on each of those.
pub(super) fn there(
    drawn: &[DrawnZone],
    night: Option<NightSpan>,
) -> (Vec<&DrawnZone>, Vec<Finding>) {
    let Some(night) = night else {
        return (drawn.iter().collect(), Vec::new());
    };
    let (there, elsewhen): (Vec<&DrawnZone>, Vec<&DrawnZone>) = drawn
        .iter()
        .partition(|zone| zone.land_use != LandUse::Blocked || meets(night, zone));
    let findings = elsewhen.iter().map(|zone| not_there(zone, night)).collect();
    (there, findings)
}

fn not_there(zone: &DrawnZone, night: NightSpan) -> Finding {
    let side = |word: &str, time: Option<Instant>| {
        time.map_or_else(String::new, |time| format!(" {word} {time}"))
    };
    let what = format!(
        "is blocked ground{}{}, and the logs run from {} to {}; left out, so the zones under it keep \
         their ground",
        side("from", zone.blocked_from),
        side("until", zone.blocked_until),
        night.first,
        night.last,
    );
    let mut finding = remarks::remark(zone, &what);
    finding.severity = Severity::ForTheRecord;
    finding
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(first: i64, last: i64) -> NightSpan {
        NightSpan {
            first: Instant(first),
            last: Instant(last),
        }
    }

    fn blocked(from: Option<i64>, until: Option<i64>) -> DrawnZone {
        let text = r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":
            {"site":"s","use":"blocked"},"geometry":{"type":"Polygon","coordinates":
            [[[-30,45],[-29.999,45],[-29.999,45.001],[-30,45]]]}}]}"#;
        let read = crate::input::sites::read(text, std::path::Path::new("s"), None);
        let mut zone = read.unwrap().zones.remove(0);
        (zone.blocked_from, zone.blocked_until) = (from.map(Instant), until.map(Instant));
        zone
    }

    #[test]
    fn a_window_meets_the_night_in_any_instant_before_its_end() {
        let night = span(100, 200);
        for (from, until, meets) in [
            (Some(10), Some(100), false),
            (Some(10), Some(101), true),
            (Some(120), Some(130), true),
            (Some(10), Some(900), true),
            (Some(200), Some(900), true),
            (Some(201), Some(900), false),
            (None, Some(100), false),
            (None, Some(101), true),
            (Some(200), None, true),
            (Some(201), None, false),
            (None, None, true),
        ] {
            assert_eq!(
                super::meets(night, &blocked(from, until)),
                meets,
                "{from:?} to {until:?}"
            );
        }
    }
}
