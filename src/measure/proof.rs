//! The sheet's treated, doubled and swept ground: what the program's own audit says of the plan file.
//!
//! The one place where a plan meets the engine; nothing here computes coverage a second time.

use crate::audit::{self, Settings};
use crate::error::{Error, Result};
use crate::input::job::Job;
use std::collections::HashMap;
use std::path::Path;

/// What the audit says of one zone of the plan.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Proved {
    /// In at least one swath, m2.
    pub(super) treated_m2: Option<f64>,
    /// In two or more passes, m2.
    pub(super) overlap_m2: Option<f64>,
    /// Sum of the strips' areas on the zone, m2.
    pub(super) swept_m2: Option<f64>,
}

/// By site and zone.
pub(super) type Zones = HashMap<(String, String), Proved>;

/// Audits a plan file, given by its bytes, on the same fleet and sites.
///
/// # Errors
/// When the file cannot be kept for a moment, or the audit has no result.
pub(super) fn prove(
    fleet: &Path,
    sites: &Path,
    sites_epsg: Option<u32>,
    plan: &[u8],
) -> Result<Zones> {
    let failed = |error: std::io::Error| {
        Error::new(format!("the plan cannot be kept for its audit: {error}"))
    };
    let folder = tempfile::tempdir().map_err(failed)?;
    let log = folder.path().join("drive-plan.gpx");
    std::fs::write(&log, plan).map_err(failed)?;
    let job = Job {
        night: None,
        fleet: fleet.to_path_buf(),
        sites: sites.to_path_buf(),
        orders: None,
        logs: vec![log],
    };
    let settings = Settings {
        sites_epsg,
        keep_strips: false,
    };
    let audit = audit::audit(&job, settings, &|_, _, _| {})?.audit;
    let mut zones = Zones::new();
    for site in &audit.sites {
        for zone in site
            .applications
            .iter()
            .flat_map(|application| &application.zones)
        {
            let proved = zones
                .entry((site.site.clone(), zone.zone.clone()))
                .or_default();
            proved.treated_m2 = sum(proved.treated_m2, zone.treated_m2);
            proved.overlap_m2 = sum(proved.overlap_m2, zone.overlap_m2);
            proved.swept_m2 = sum(proved.swept_m2, zone.swept_m2);
        }
    }
    Ok(zones)
}

fn sum(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a + b),
        (a, b) => a.or(b),
    }
}
