//! New lots, from polygons and rigs alone: how much ground, how much of it a boom reaches, how to drive it.
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | ground | `lot`, `furnish` | divided site, aids | what is treated, driven on, in the way |
//! | places | `places` | drivable ground, vehicle | what hangs together |
//! | reach | `reach`, `left` | places | ground under the boom; edge strip, hand work, slivers |
//! | lanes | `field`, `line`, `drafts`, `fill`, `thin`, `improve`, `plan` | reach | lanes with their sections as they switch |
//! | order | `order`, `turns` | lanes | driving order and time |
//! | treat | `drive`, [`crate::site::planned`] | lanes | a planned leg, treated as a logged one is |
//! | cost | [`cost`] | everything before | time, liquid and money, and how sure that is |
//! | sheet | `work`, [`sheet`], [`mod@report`] | everything | outputs |
//! | file | `plan_file` | lanes | a run log, marked as planned |

mod bent;
mod bits;
mod body;
mod cells;
pub mod cost;
pub mod cost_sheet;
mod drafts;
mod drive;
mod edge_passes;
mod edges;
mod field;
mod fill;
mod footprint;
mod furnish;
mod improve;
mod lane;
mod left;
mod line;
mod lot;
mod luck;
mod manners;
mod minkowski;
mod order;
mod own;
mod parts;
mod patches;
mod places;
mod plan;
mod plan_file;
mod pool;
mod reach;
mod reclose;
pub mod report;
mod rows;
pub mod sheet;
mod stripes;
mod switches;
mod terms;
mod thin;
mod turns;
mod vehicle;
mod work;

pub use lane::{Lane, Open, Station};
pub use switches::Switches;
pub use terms::{Manner, Stop};
pub use vehicle::Vehicle;

use crate::error::{Error, Result};
use crate::findings::Finding;
use crate::ground::{self, Site, Zone};
use crate::input::digest::InputFile;
use crate::input::fleet::{self, Estimate, Fleet};
use crate::input::log;
use crate::input::paths;
use crate::input::progress::{Count, Progress};
use crate::input::sites::{self, Aid, SitesReading};
use crate::site::Rules;
use crate::site::planned::PlannedLane;
use rayon::prelude::*;
use sheet::{OwnNights, Sheet, SheetSettings, SiteSheet};
use std::path::{Path, PathBuf};
use work::{Given, RigWork};

/// What is to be measured.
#[derive(Debug, Clone)]
pub struct Task {
    /// The night folder, for names.
    pub night: Option<PathBuf>,
    /// The fleet file.
    pub fleet: PathBuf,
    /// The sites file.
    pub sites: PathBuf,
    /// Ids of rigs; none: every rig that has a `body`.
    pub rigs: Vec<String>,
    /// Coordinates of the sites file.
    pub sites_epsg: Option<u32>,
    /// Folders of audited nights, or their `audit.json`.
    pub nights: Vec<PathBuf>,
}

/// The sheet and the plan files, one a rig.
pub struct Measured {
    /// The sheet.
    pub sheet: Sheet,
    /// Plan files by rig, in the order of the sheet's rigs.
    pub plans: Vec<(String, Vec<u8>)>,
    /// The divided ground, in the order of the sheet's sites: for drawings.
    pub sites: Vec<Site>,
}

/// Measures all sites of a file.
///
/// # Errors
/// When a file cannot be used, a rig is not known, or there is no ground to measure.
pub fn measure(task: &Task, progress: Progress) -> Result<Measured> {
    let (fleet, fleet_file) = read_fleet(task)?;
    let (drawn, sites_file) = read_sites(task)?;
    let (sites, aids, findings) = to_treat(drawn, task)?;
    let rigs = chosen(&fleet, &task.rigs)?;
    let vehicles = rigs
        .iter()
        .map(|&rig| Vehicle::of(&fleet, rig).map_err(|error| error.at(&task.fleet)))
        .collect::<Result<Vec<Option<Vehicle>>>>()?;
    let rules = Rules::of(&fleet.clone().of_plan(), None);
    let given = Given {
        fleet: &fleet,
        rules: &rules,
        rigs: &rigs,
        sites: sites.len(),
        vehicles: &vehicles,
    };
    let count = Count::of("sites", sites.len(), progress);
    let works: Vec<(SiteSheet, Vec<RigWork>)> = sites
        .par_iter()
        .map(|site| {
            let own: Vec<&Aid> = aids.iter().filter(|aid| aid.site == site.id).collect();
            let work = work::site_work(site, &own, &given);
            count.one_more();
            work
        })
        .collect();
    let (mut sheets, works): (Vec<SiteSheet>, Vec<Vec<RigWork>>) = works.into_iter().unzip();
    let plans = plan_files(&vehicles, &works, progress)?;
    for (sheet, works) in sheets.iter_mut().zip(works) {
        sheet.rigs = works.into_iter().map(|work| work.sheet).collect();
    }
    let priced = cost::Measured {
        sites: &sites,
        aids: &aids,
        fleet: &fleet,
        rigs: &rigs,
        vehicles: &vehicles,
    };
    let nights = cost::enter(&mut sheets, &priced, &task.fleet)?;
    let (own, night_files) = own_nights(task, &sheets)?;
    let mut inputs = vec![fleet_file, sites_file];
    inputs.extend(night_files);
    inputs.sort();
    Ok(Measured {
        sheet: Sheet {
            inputs,
            settings: settings(&fleet.estimate),
            sites: sheets,
            nights,
            own,
            findings,
        },
        plans,
        sites,
    })
}

/// Sites with ground to treat, what is drawn to help planning, and remarks.
fn to_treat(drawn: SitesReading, task: &Task) -> Result<(Vec<Site>, Vec<Aid>, Vec<Finding>)> {
    let (sites, notes) =
        ground::divide(&drawn.zones, &[]).map_err(|error| error.at(&task.sites))?;
    let mut findings = drawn.findings;
    findings.extend(notes);
    let sites: Vec<Site> = sites
        .into_iter()
        .filter(|site| site.zones.iter().any(Zone::is_to_treat))
        .collect();
    if sites.is_empty() {
        return Err(Error::new("there is no zone to be treated")
            .at(&task.sites)
            .advice("Each zone is a Polygon feature with `use` lot, drive or walk."));
    }
    Ok((sites, drawn.aids, findings))
}

/// Of each rig with a plan: its id and the bytes of its plan file.
fn plan_files(
    vehicles: &[Option<Vehicle>],
    works: &[Vec<RigWork>],
    progress: Progress,
) -> Result<Vec<(String, Vec<u8>)>> {
    let mut plans = Vec::new();
    for (index, vehicle) in vehicles.iter().enumerate() {
        let Some(vehicle) = vehicle else { continue };
        progress("plans", index, vehicles.len());
        let bytes = plan_file_of(vehicle, works, index)?;
        plans.extend(bytes.map(|bytes| (vehicle.id.clone(), bytes)));
    }
    Ok(plans)
}

fn settings(estimate: &Estimate) -> SheetSettings {
    SheetSettings {
        lap_m: estimate.lap_m,
        speed_m_s: estimate.speed_m_s,
        curb_clearance_m: estimate.curb_clearance_m,
        object_clearance_m: estimate.object_clearance_m,
        body_clearance_m: estimate.body_clearance_m,
        outline_m: estimate.outline_m,
        plan_until: estimate.plan_until,
        reclose: estimate.reclose,
        hose_m: estimate.hose_m,
        costs: estimate.costs.clone(),
    }
}

/// One rig's plan as a file; `None` where it has no lanes.
fn plan_file_of(
    vehicle: &Vehicle,
    works: &[Vec<RigWork>],
    index: usize,
) -> Result<Option<Vec<u8>>> {
    let drives: Vec<&[PlannedLane]> = works
        .iter()
        .map(|works| works[index].driven.as_slice())
        .collect();
    if drives.iter().all(|lanes| lanes.is_empty()) {
        return Ok(None);
    }
    plan_file::render(vehicle, &drives).map(Some)
}

/// Indices of the rigs that are asked for.
fn chosen(fleet: &Fleet, ids: &[String]) -> Result<Vec<usize>> {
    if ids.is_empty() {
        let with_body: Vec<usize> = (0..fleet.rigs.len())
            .filter(|&k| fleet.rigs[k].body.is_some())
            .collect();
        return Ok(if with_body.is_empty() {
            vec![0]
        } else {
            with_body
        });
    }
    ids.iter()
        .map(|id| {
            fleet
                .rigs
                .iter()
                .position(|rig| rig.id == *id)
                .ok_or_else(|| {
                    let known: Vec<&str> = fleet.rigs.iter().map(|rig| rig.id.as_str()).collect();
                    Error::new(format!("there is no rig \"{id}\""))
                        .advice(format!("Rigs in the fleet file: {}.", known.join(", ")))
                })
        })
        .collect()
}

/// Reads the contractor's own nights; `None` where none is named.
fn own_nights(task: &Task, sheets: &[SiteSheet]) -> Result<(Option<OwnNights>, Vec<InputFile>)> {
    let mut files = Vec::new();
    let mut inputs = Vec::new();
    for path in &task.nights {
        let file = if path.is_dir() {
            path.join("audit.json")
        } else {
            path.clone()
        };
        let (bytes, input) = paths::read_file(&file, "night", None)?;
        let name = path.file_name().unwrap_or(path.as_os_str());
        let name = name.to_string_lossy().into_owned();
        files.push((name.clone(), bytes));
        inputs.push(InputFile { name, ..input });
    }
    let own = (!files.is_empty()).then(|| own::own_nights(&files, sheets));
    Ok((own, inputs))
}

fn read_fleet(task: &Task) -> Result<(Fleet, InputFile)> {
    let (text, file) = read(task, &task.fleet, "fleet")?;
    Ok((fleet::read(&text, &task.fleet)?, file))
}

fn read_sites(task: &Task) -> Result<(SitesReading, InputFile)> {
    let (text, file) = read(task, &task.sites, "sites")?;
    Ok((sites::read(&text, &task.sites, task.sites_epsg)?, file))
}

fn read(task: &Task, path: &Path, role: &'static str) -> Result<(String, InputFile)> {
    let (bytes, file) = paths::read_file(path, role, task.night.as_deref())?;
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Error::new("the file is empty")
            .at(path)
            .advice("docs/formats.md says what it holds."));
    }
    let decoded = log::decode(bytes, false).map_err(|error| error.at(path))?;
    if let Some(why) = decoded.damage {
        return Err(Error::new(why).at(path).advice("Save the file as UTF-8."));
    }
    Ok((decoded.text.to_string(), file))
}
