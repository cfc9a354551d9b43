//! Findings held against what was planted.

use crate::faults::{Expect, Planted};
use crate::scene::Scene;
use geographiclib_rs::{Geodesic, InverseGeodesic};
use making::lot::At;
use swathbook::findings::cover::{AboutCover, BarePatch};
use swathbook::findings::liquid::AboutLiquid;
use swathbook::findings::log::AboutLog;
use swathbook::findings::meter::AboutMeter;
use swathbook::findings::rate::AboutRate;
use swathbook::findings::rig::AboutRig;
use swathbook::findings::{Finding, Kind, Severity};

/// What one faulty night showed.
pub(crate) struct Outcome {
    /// All that was expected is there, at the right place and size.
    pub found: bool,
    /// What was missing: what was expected, and what came nearest.
    pub missing: Vec<String>,
    /// Findings that neither follow from the fault nor stand in the healthy twin of the night.
    pub wrong: Vec<(Severity, String)>,
}

/// Holds a night's findings against what was planted; `healthy` are those of the night without it.
pub(crate) fn judge(
    planted: &Planted,
    findings: &[Finding],
    healthy: &[Finding],
    scene: &Scene,
) -> Outcome {
    let missing: Vec<String> = planted
        .expect
        .iter()
        .filter(|expect| !findings.iter().any(|finding| meets(expect, finding, scene)))
        .map(|expect| {
            let of_code = findings
                .iter()
                .filter(|finding| expect.codes.contains(&finding.kind.code()));
            format!(
                "expected {expect:?}, found {:?}",
                of_code.map(brief).collect::<Vec<_>>()
            )
        })
        .collect();
    let wrong = findings
        .iter()
        .filter(|finding| {
            !explained(planted, finding) && !healthy.iter().any(|twin| same(twin, finding))
        })
        .map(|finding| (finding.severity, brief(finding)))
        .collect();
    Outcome {
        found: missing.is_empty(),
        missing,
        wrong,
    }
}

/// A finding in one line.
pub(crate) fn brief(finding: &Finding) -> String {
    format!(
        "{:?} {:?} {:?} {:?} {:?}",
        finding.kind, finding.rig, finding.site, finding.zone, finding.place
    )
}

fn same(a: &Finding, b: &Finding) -> bool {
    a.kind.code() == b.kind.code() && a.rig == b.rig && a.site == b.site && a.zone == b.zone
}

fn explained(planted: &Planted, finding: &Finding) -> bool {
    let code = finding.kind.code();
    let asked = planted.expect.iter().flat_map(|expect| expect.codes);
    let by_code = asked.chain(planted.follows).any(|known| *known == code);
    let here = match &finding.site {
        Some(site) => planted.sites.iter().any(|known| known == site),
        None => {
            finding.rig.is_none() || planted.rig.is_none() || finding.rig.as_deref() == planted.rig
        }
    };
    by_code && here
}

fn meets(expect: &Expect, finding: &Finding, scene: &Scene) -> bool {
    let fits = |wanted: Option<&str>, found: &Option<String>| {
        wanted.is_none_or(|id| found.as_deref() == Some(id))
    };
    expect.codes.contains(&finding.kind.code())
        && fits(expect.rig, &finding.rig)
        && fits(expect.site, &finding.site)
        && fits(expect.zone, &finding.zone)
        && expect.near.is_none_or(|near| is_near(near, finding, scene))
        && expect.figure.is_none_or(|(name, value, tolerance)| {
            figure(&finding.kind, name).is_some_and(|found| (found - value).abs() <= tolerance)
        })
}

/// Whether the finding's place is near a line, by the sum of its distances from both ends and by that
/// from its nearest point among a hundred.
fn is_near((a, b, off_m): (At, At, f64), finding: &Finding, scene: &Scene) -> bool {
    let Some(place) = finding.place else {
        return false;
    };
    (0..=100).any(|i| {
        let share = f64::from(i) / 100.0;
        let at = (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1));
        let [lon_deg, lat_deg] = scene.lon_lat_deg(at);
        let distance_m: f64 =
            Geodesic::wgs84().inverse(lat_deg, lon_deg, place.lat_deg, place.lon_deg);
        distance_m <= off_m
    })
}

/// A figure of a finding by name.
fn figure(matter: &Kind, name: &str) -> Option<f64> {
    Some(match (matter, name) {
        (
            Kind::Cover(AboutCover::BarePatch(BarePatch { area_m2, .. }))
            | Kind::Liquid(AboutLiquid::KeepOffWet { area_m2, .. }),
            "area_m2",
        ) => *area_m2,
        (
            Kind::Rig(AboutRig::OpenDry { seconds, .. })
            | Kind::Log(AboutLog::DropoutNearby { seconds, .. }),
            "seconds",
        ) => *seconds,
        (
            Kind::Rate(AboutRate::OffRate {
                rate_ml_m2,
                target_ml_m2,
                ..
            }),
            "rate_share",
        ) => rate_ml_m2 / target_ml_m2,
        (
            Kind::Rate(AboutRate::SetRateDiffers {
                set_ml_m2,
                target_ml_m2,
                ..
            }),
            "rate_share",
        ) => set_ml_m2 / target_ml_m2,
        (Kind::Cover(AboutCover::ThinCover { treated_share, .. }), "treated_share") => {
            *treated_share
        }
        (Kind::Cover(AboutCover::BarePatch(BarePatch { treated_share, .. })), "treated_share") => {
            (*treated_share)?
        }
        (Kind::Cover(AboutCover::Doubled { overlap_share, .. }), "overlap_share") => *overlap_share,
        (
            Kind::Liquid(AboutLiquid::ParkedFlow { volume_l, .. })
            | Kind::Liquid(AboutLiquid::ClosedFlow { volume_l, .. }),
            "volume_l",
        ) => *volume_l,
        (Kind::Meter(AboutMeter::PerhapsLeaked { volume_l, .. }), "volume_l") => *volume_l,
        (Kind::Rig(AboutRig::NeverOpened { closed, .. }), "section")
            if closed.numbers.len() == 1 =>
        {
            closed.numbers[0] as f64
        }
        _ => return None,
    })
}
