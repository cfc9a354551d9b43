//! Step 7: the night on disk, and the audit of it through the library.

use crate::logbook;
use crate::plan::Plan;
use crate::pumping::Driven;
use std::fs;
use std::path::Path;
use swathbook::audit::{Settings, audit};
use swathbook::findings::Finding;
use swathbook::input::paths;

/// Writes the planned night into a folder.
pub(crate) fn write(plan: &Plan, seed: u64, folder: &Path) -> std::io::Result<()> {
    fs::create_dir_all(folder.join("logs"))?;
    fs::write(folder.join("fleet.toml"), crate::machine::toml(&plan.fleet))?;
    fs::write(folder.join("sites.geojson"), plan.scene.geojson())?;
    if let Some(orders) = &plan.orders {
        fs::write(folder.join("orders.csv"), plan.orders_csv(orders))?;
    }
    for (outing, number) in plan.outings(seed).into_iter().zip(0..) {
        if outing.lost {
            continue;
        }
        let driven = Driven::new(outing, seed, number);
        for (name, text) in logbook::files(&driven, &plan.scene, seed, number) {
            fs::write(folder.join("logs").join(name), text)?;
        }
    }
    Ok(())
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
