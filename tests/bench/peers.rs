//! The scripts that somebody would write instead, on the same night: what they cost, and how far off they are.

use crate::Result;
use crate::measure::{self, Usage};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The scripts, and what they are in a few words.
const SCRIPTS: [(&str, &str); 2] = [
    ("careful", "regular expressions, numpy, shapely"),
    ("raster", "the same log, cells of 0.25 m"),
];
/// The careful one is to take so many times the program's processor time at least.
pub(crate) const TIMES_WANTED: f64 = 3.0;
/// The four figures of a lot that a script gives.
const FIGURES: [&str; 4] = ["treated_m2", "gap_m2", "overlap_m2", "rate_over_zone_ml_m2"];

/// One script on one night.
pub(crate) struct Peer {
    pub what: &'static str,
    pub usage: Usage,
    /// Of each figure, as a share of the audit's: the difference over all lots together, and that of the middle lot.
    /// The worst lot would say little: a gap of a few square feet may be anything.
    pub off: [(f64, f64); FIGURES.len()],
}

/// Figures by site.
type Lots = BTreeMap<String, [f64; FIGURES.len()]>;

/// Runs each script once; `None` without an interpreter that has what they need.
pub(crate) fn run(night: &Path, audit: &Path) -> Result<Vec<Peer>> {
    let Some(python) = std::env::var_os("PEERS_PYTHON").map(PathBuf::from) else {
        return Ok(Vec::new());
    };
    let wanted = of_audit(&std::fs::read_to_string(audit)?)?;
    let peer = |(name, what): &(&str, &'static str)| {
        let script = format!("{}/tests/bench/{name}.py", env!("CARGO_MANIFEST_DIR"));
        let (usage, text) = measure::run(&python, &[script.as_ref(), night.as_os_str()])?;
        let off = differences(&of_script(&text)?, &wanted)?;
        Ok(Peer { what, usage, off })
    };
    SCRIPTS.iter().map(peer).collect()
}

fn figures(object: &Value) -> Option<[f64; FIGURES.len()]> {
    let values: Option<Vec<f64>> = FIGURES.iter().map(|name| object[*name].as_f64()).collect();
    values?.try_into().ok()
}

fn of_audit(text: &str) -> Result<Lots> {
    let audit: Value = serde_json::from_str(text)?;
    let mut lots = Lots::new();
    for site in audit["sites"].as_array().ok_or("no sites")? {
        // One application each: the night's rigs treat a lot once.
        let zone = &site["applications"][0]["zones"][0];
        let name = site["site"].as_str().ok_or("no name")?;
        lots.insert(name.to_owned(), figures(zone).ok_or("no figures")?);
    }
    Ok(lots)
}

/// A script prints an object a line.
fn of_script(text: &str) -> Result<Lots> {
    let mut lots = Lots::new();
    for line in text.lines() {
        let lot: Value = serde_json::from_str(line)?;
        let name = lot["site"].as_str().ok_or("no name")?;
        lots.insert(name.to_owned(), figures(&lot).ok_or("no figures")?);
    }
    Ok(lots)
}

fn differences(found: &Lots, wanted: &Lots) -> Result<[(f64, f64); FIGURES.len()]> {
    if found.len() != wanted.len() {
        return Err(format!("{} lots of {}", found.len(), wanted.len()).into());
    }
    Ok(std::array::from_fn(|k| {
        let of = |lots: &Lots| lots.values().map(|lot| lot[k]).sum::<f64>();
        let off = |(name, lot): (&String, &[f64; FIGURES.len()])| {
            let off = (found[name][k] - lot[k]).abs() / lot[k];
            (lot[k] > 0.0).then_some(off)
        };
        let mut off: Vec<f64> = wanted.iter().filter_map(off).collect();
        off.sort_by(f64::total_cmp);
        let middle = off.get(off.len() / 2).copied().unwrap_or(0.0);
        ((of(found) - of(wanted)).abs() / of(wanted), middle)
    }))
}

/// The heading's last columns, and a row's.
pub(crate) const COLUMNS: &str = "treated off by | gap off by | overlap off by | rate off by";

impl Peer {
    /// Difference of each figure, of all lots and of the middle one.
    pub(crate) fn cells(&self) -> String {
        let cell =
            |(all, middle): &(f64, f64)| format!("{:.2} %, {:.2} %", 100.0 * all, 100.0 * middle);
        self.off.iter().map(cell).collect::<Vec<_>>().join(" | ")
    }
}
