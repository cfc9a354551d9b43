//! The night on disk, and the audit of it through the library.

use crate::machine;
use crate::plan::{Outing, Plan};
use making::chance::Chance;
use making::files;
use making::gpx::{Clock, Head, SetRate};
use making::log::Log;
use making::motion::Motion;
use making::pump::{FIRST_TOTAL_L, Pumped};
use making::rig::GAL_AC_ML_M2;
use std::path::Path;
use swathbook::audit::{Settings, audit};
use swathbook::findings::Finding;
use swathbook::input::paths;

/// The loggers' clock.
const CLOCK: Clock = Clock {
    month: "2026-01",
    day: 11,
    digits: 1,
};
/// 1,024 weeks earlier.
const ROLLED_OVER: Clock = Clock {
    month: "2006-05",
    day: 28,
    digits: 1,
};

/// Writes the planned night into a folder.
pub(crate) fn write(plan: &Plan, seed: u64, folder: &Path) -> std::io::Result<()> {
    let orders = plan.orders.as_ref().map(|orders| plan.orders_csv(orders));
    files::write_ground(
        folder,
        &machine::toml(&plan.fleet),
        &plan.scene.geojson(),
        orders.as_deref(),
    )?;
    for (outing, number) in plan.outings(seed).iter().zip(0..) {
        if outing.lost {
            continue;
        }
        for (text, part) in logs(plan, outing, seed, number).iter().zip(0..) {
            // A logger that sleeps begins no file.
            if text.contains("<trkpt") {
                files::write_log(&folder.join(format!("logs/{number}-{part}.gpx")), text)?;
            }
        }
    }
    Ok(())
}

fn logs(plan: &Plan, outing: &Outing, seed: u64, number: u64) -> Vec<String> {
    let chance = |stream: u64| Chance::new(seed, stream + number);
    let motion = Motion::new(outing.route.clone(), &mut chance(300));
    let pumped = Pumped::new(&motion, FIRST_TOTAL_L, &mut chance(400));
    let rig = &outing.route.rig;
    let set_rate = outing.set_rate * machine::target_gal_ac(rig) * GAL_AC_ML_M2;
    let split_at = outing.split_at;
    let log = Log {
        motion: &motion,
        pumped: &pumped,
        head: Head {
            creator: "random night",
            name: None,
            rig: Some(outing.id),
            set_rate: rig.logger.set_rate.then_some(SetRate::MlM2(set_rate)),
        },
        clock: (
            if outing.rolled_over {
                ROLLED_OVER
            } else {
                CLOCK
            },
            outing.start_s,
        ),
        split_s: split_at.map_or(f64::INFINITY, |share| share * motion.end_s()),
    };
    log.files(|at| plan.scene.lon_lat_deg(at), chance(500))
}

/// What the audit finds in it.
pub(crate) fn findings(plan: &Plan, seed: u64) -> Vec<Finding> {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    write(plan, seed, folder.path()).expect("the temporary folder can be written to");
    let paths =
        paths::find(Some(folder.path()), None, None, None, &[]).expect("the night is whole");
    audit(&paths, Settings::default(), &|_, _, _| {})
        .expect("the night can be audited")
        .audit
        .findings
}
