//! Remarks on blocked ground whose time fits only a part of the night's work on it.

use super::Case;
use crate::findings::sites::{AboutSites, Remark};
use crate::findings::{Finding, Severity};
use crate::ground::Zone;
use crate::input::sites::LandUse;
use crate::site::outcome::Application;

/// Blocked ground is left out of every application or of none: say where its time meets only some.
pub(super) fn in_part(case: &Case) -> Vec<Finding> {
    let zones = case.site.zones.iter();
    let blocked = zones.filter(|zone| zone.land_use == LandUse::Blocked);
    let applications = &case.outcome.applications;
    blocked
        .filter_map(|zone| {
            let meets =
                |application: &&Application| zone.is_blocked(application.start, application.end);
            let met = applications.iter().filter(meets).count();
            (met < applications.len()).then(|| remark(case, zone, met, applications.len()))
        })
        .collect()
}

fn remark(case: &Case, zone: &Zone, met: usize, of: usize) -> Finding {
    let kind = AboutSites::SiteRemark {
        feature: zone.feature,
        what: Remark::MeetsSome { met, of },
    };
    let mut finding = Finding::new(Severity::ForTheRecord, kind);
    finding.site = case.id();
    finding.zone = Some(zone.id.clone());
    finding
}
