//! Logs that break off at a site: what the rig did next is missing from them, so ground that they show as missed
//! may have been treated.
//!
//! Step 7 of the flow: findings that would send a rig back there say so.

use crate::findings::{Finding, Severity};
use crate::geometry::place::{Instant, LonLat};
use crate::input::log::Log;
use crate::input::sites::DrawnZone;

/// A log that breaks off this near to the box around a site's zones breaks off there, degrees north: 50 m, as far as
/// a site looks for rigs (arithmetic).
const NEAR_DEG: f64 = 0.000_45;

/// Where and when a damaged log ends, with nothing later of its rig in another log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogEnd {
    /// Time of the last fix.
    pub time: Instant,
    /// Its place.
    pub place: LonLat,
}

/// The ends of the logs that break off.
#[must_use]
pub fn ends(logs: &[Log]) -> Vec<LogEnd> {
    let goes_on = |broken: &Log, time: Instant| {
        let own = logs.iter().filter(|log| log.rig == broken.rig);
        own.flat_map(|log| &log.fixes).any(|fix| fix.time > time)
    };
    logs.iter()
        .filter(|log| log.breaks_off)
        .filter_map(|log| Some((log, log.fixes.last()?)))
        .filter(|(log, last)| !goes_on(log, last.time))
        .map(|(_, last)| LogEnd {
            time: last.time,
            place: last.place,
        })
        .collect()
}

/// Marks the findings that would send a rig back to a site where a log breaks off.
pub fn tell(findings: &mut [Finding], ends: &[LogEnd], zones: &[DrawnZone]) {
    for end in ends {
        for finding in findings.iter_mut() {
            let goes_back = finding.severity == Severity::GoBack && finding.kind.is_missed_ground();
            let Some(site) = finding.site.as_ref().filter(|_| goes_back) else {
                continue;
            };
            if zones
                .iter()
                .filter(|zone| zone.site == *site)
                .any(|zone| is_near(zone, end.place))
            {
                finding.log_ends = Some(end.time);
            }
        }
    }
}

fn is_near(zone: &DrawnZone, place: LonLat) -> bool {
    let corners = || zone.polygons.iter().flatten().flatten();
    let margin_lon_deg = NEAR_DEG / place.lat_deg.to_radians().cos().max(NEAR_DEG);
    let within = |of: fn(&LonLat) -> f64, margin: f64| {
        let low = corners().map(of).fold(f64::INFINITY, f64::min) - margin;
        let high = corners().map(of).fold(f64::NEG_INFINITY, f64::max) + margin;
        (low..=high).contains(&of(&place))
    };
    within(|place| place.lon_deg, margin_lon_deg) && within(|place| place.lat_deg, NEAR_DEG)
}
