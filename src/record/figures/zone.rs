//! One zone in one application: its ground in columns that add up, its liquid and its rates.

use super::Worked;
use crate::result::{LEAST_PERHAPS, ZoneVerdict};
use crate::site::coverage::PatchGround;
use crate::site::outcome::{ZoneAreas, ZoneOutcome};
use serde::{Deserialize, Serialize};

/// One zone in one application.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ZoneFigures {
    /// Zone id.
    pub zone: String,
    /// What the logs can tell of it.
    pub verdict: ZoneVerdict,
    /// Its ground, m2.
    pub area_m2: f64,
    /// Length of its outline, m.
    pub outline_m: f64,
    /// Inside at least one swath, m2; `None` where areas cannot be told.
    pub liquid_m2: Option<f64>,
    /// Patches with no liquid logged by these rigs, m2.
    pub patches_m2: Option<f64>,
    /// Patches that are perhaps bare, m2.
    pub perhaps_m2: Option<f64>,
    /// Passed over in a silence of the log, m2.
    pub no_fixes_m2: Option<f64>,
    /// Slivers under what the positions can resolve, m2.
    pub not_resolved_m2: Option<f64>,
    /// In two passes or more, m2.
    pub overlap_m2: Option<f64>,
    /// Sum of the strips' areas, m2.
    pub swept_m2: Option<f64>,
    /// Distance driven with liquid, m.
    pub wet_length_m: Option<f64>,
    /// Patches, greatest first.
    pub patches: Vec<PatchFigures>,
    /// Liquid on its ground, L; `None` where it is not metered.
    pub volume_l: Option<f64>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Litres over its area, mL/m2.
    pub rate_over_zone_ml_m2: Option<f64>,
    /// Litres over the sum of the strips' areas, mL/m2.
    pub rate_swept_ml_m2: Option<f64>,
    /// Number of its order in the record's list, from 1.
    pub order: Option<usize>,
}

/// A patch with no liquid logged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PatchFigures {
    /// Area, m2.
    pub area_m2: f64,
    /// Part of it inside the zone's edge, m2.
    pub core_m2: f64,
    /// Probability that 10 m2 or more of it are truly bare.
    pub probability: f64,
    /// 90 % interval of what is truly bare inside the edge: its lower end, m2.
    pub area_low_m2: f64,
    /// Its upper end, m2.
    pub area_high_m2: f64,
    /// Likely enough to be reported as a patch; otherwise perhaps bare.
    pub likely: bool,
}

/// The figures of a zone.
pub(super) fn of(worked: &Worked, zone: &ZoneOutcome) -> ZoneFigures {
    let ground = &worked.site.zones[zone.zone];
    // Of a zone too narrow to judge, only volume and driven length say something.
    let judged = zone.areas.filter(|_| zone.verdict == ZoneVerdict::Area);
    let patches: Vec<PatchFigures> = match judged {
        Some(_) => zone
            .cover
            .patches
            .iter()
            .zip(&zone.patch_likely)
            .filter_map(|(of, likely)| patch(of, *likely))
            .collect(),
        None => Vec::new(),
    };
    let sum = |likely: bool| -> f64 {
        let of = patches.iter().filter(|patch| patch.likely == likely);
        of.map(|patch| patch.area_m2).sum()
    };
    let (told_m2, perhaps_m2) = (sum(true), sum(false));
    let area = |of: fn(&ZoneAreas) -> f64| judged.as_ref().map(of);
    ZoneFigures {
        zone: ground.id.clone(),
        verdict: zone.verdict,
        area_m2: zone.area_m2,
        outline_m: ground.region.outline_m(),
        liquid_m2: area(|areas| areas.treated_m2),
        patches_m2: judged.map(|_| told_m2),
        perhaps_m2: judged.map(|_| perhaps_m2),
        no_fixes_m2: area(|areas| areas.unlogged_m2),
        not_resolved_m2: judged.map(|areas| areas.gap_m2 - told_m2 - perhaps_m2),
        overlap_m2: area(|areas| areas.overlap_m2),
        swept_m2: area(|areas| areas.swept_m2),
        wet_length_m: zone.areas.map(|areas| areas.wet_length_m),
        patches,
        volume_l: zone.litres,
        target_ml_m2: zone.target_ml_m2,
        rate_over_zone_ml_m2: zone.rate_ml_m2(zone.area_m2),
        rate_swept_ml_m2: judged.and_then(|_| zone.rate_swept_ml_m2()),
        order: zone.order.map(|order| order + 1),
    }
}

/// A patch that is at least perhaps bare; the others are not resolved.
fn patch(of: &PatchGround, likely: bool) -> Option<PatchFigures> {
    let likelihood = of.likelihood?;
    (likely || likelihood.probability >= LEAST_PERHAPS).then_some(PatchFigures {
        area_m2: of.area_m2,
        core_m2: of.core_m2,
        probability: likelihood.probability,
        area_low_m2: likelihood.interval_m2.0,
        area_high_m2: likelihood.interval_m2.1,
        likely,
    })
}
