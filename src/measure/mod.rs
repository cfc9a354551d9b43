//! New lots, from polygons and rigs alone: how much ground, how much of it a boom reaches, how to drive it.
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | ground | `lot` | divided site, aids | what is treated, driven on, in the way |
//! | places | `places` | drivable ground, vehicle | what hangs together |
//! | reach | `reach`, `left` | places | ground under the boom; edge strip, hand work, slivers |
//! | lanes | `plan`, `fill`, `parts`, `lane`, `field` | reach | lanes with their sections as they switch |
//! | order | `order`, `turns` | lanes | driving order and time |
//! | file | `plan_file` | lanes | a run log, marked as planned |
//! | proof | `proof` | the file | what the audit says of it |
//! | cost | [`cost`] | everything before | time, liquid and money, and how sure that is |
//! | sheet | [`sheet`], [`mod@report`] | everything | outputs |

mod bits;
pub mod cost;
mod field;
mod fill;
mod lane;
mod left;
mod lot;
mod minkowski;
mod order;
pub mod own;
mod parts;
mod places;
mod plan;
mod plan_file;
mod proof;
mod reach;
pub mod report;
pub mod sheet;
mod turns;
mod vehicle;

pub use lane::{Lane, Open, Switches};
pub use plan::{Manner, Stop};
pub use vehicle::Vehicle;

use crate::error::{Error, Result};
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::ground::{self, Site, Zone};
use crate::input::fleet::{self, Estimate, Fleet};
use crate::input::job;
use crate::input::log;
use crate::input::progress::{Count, Progress};
use crate::input::sites::{self, Aid, SitesReading};
use crate::report::earth::on_earth;
use crate::result::InputFile;
use field::Field;
use lot::Lot;
use own::OwnNights;
use plan::Terms;
use rayon::prelude::*;
use sheet::{
    DrivenLane, HandSheet, PlanSheet, RigShapes, RigSheet, Sheet, SheetSettings, SiteShapes,
    SiteSheet, ZonePlan, ZoneSheet,
};
use std::path::{Path, PathBuf};
use turns::Turning;

/// Speed of made-up times where the fleet file has none, m/s: 6 mph.
const SOME_SPEED_M_S: f64 = 2.7;

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

/// One rig's work on one site before it is proved.
struct RigWork {
    sheet: RigSheet,
    lanes: Vec<Lane>,
}

/// Measures all sites of a file.
///
/// # Errors
/// When a file cannot be used, a rig is not known, or there is no ground to measure.
pub fn measure(task: &Task, progress: Progress) -> Result<Measured> {
    let (fleet, fleet_file) = read_fleet(task)?;
    let (drawn, sites_file) = read_sites(task)?;
    let SitesReading {
        zones,
        aids,
        mut findings,
        epsg: _,
    } = drawn;
    let (sites, notes) = ground::divide(&zones, &[]).map_err(|error| error.at(&task.sites))?;
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
    let rigs = chosen(&fleet, &task.rigs)?;
    let vehicles = rigs
        .iter()
        .map(|&rig| Vehicle::of(&fleet, rig).map_err(|error| error.at(&task.fleet)))
        .collect::<Result<Vec<Option<Vehicle>>>>()?;
    let count = Count::of("sites", sites.len(), progress);
    let works: Vec<(SiteSheet, Vec<RigWork>)> = sites
        .par_iter()
        .map(|site| {
            let own: Vec<&Aid> = aids.iter().filter(|aid| aid.site == site.id).collect();
            let work = site_work(site, &own, &fleet, &rigs, &vehicles);
            count.one_more();
            work
        })
        .collect();
    let (mut sheets, mut works): (Vec<SiteSheet>, Vec<Vec<RigWork>>) = works.into_iter().unzip();
    let mut plans = Vec::new();
    for (index, vehicle) in vehicles.iter().enumerate() {
        let Some(vehicle) = vehicle else { continue };
        progress("proof", index, vehicles.len());
        let bytes = proved(task, &fleet, vehicle, &sites, &mut works, index)?;
        plans.extend(bytes.map(|bytes| (vehicle.id.clone(), bytes)));
    }
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
    let (own, night_files) = own_nights(task, &fleet, &sheets)?;
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

/// Writes one rig's plan and has it audited; the sheet takes what the audit says.
fn proved(
    task: &Task,
    fleet: &Fleet,
    vehicle: &Vehicle,
    sites: &[Site],
    works: &mut [Vec<RigWork>],
    index: usize,
) -> Result<Option<Vec<u8>>> {
    let drives: Vec<plan_file::Drive> = sites
        .iter()
        .zip(works.iter())
        .map(|(site, works)| plan_file::Drive {
            plane: &site.plane,
            lanes: &works[index].lanes,
        })
        .filter(|drive| !drive.lanes.is_empty())
        .collect();
    if drives.is_empty() {
        return Ok(None);
    }
    let speed_m_s = fleet.estimate.speed_m_s.unwrap_or(SOME_SPEED_M_S);
    let bytes = plan_file::render(vehicle, speed_m_s, &drives)?;
    let zones = proof::prove(&task.fleet, &task.sites, task.sites_epsg, &bytes)?;
    for (site, works) in sites.iter().zip(works) {
        let Some(plan) = &mut works[index].sheet.plan else {
            continue;
        };
        let own: Vec<&proof::Proved> = site
            .zones
            .iter()
            .filter_map(|zone| zones.get(&(site.id.clone(), zone.id.clone())))
            .collect();
        let total = |figure: fn(&proof::Proved) -> Option<f64>| {
            let known: Vec<f64> = own.iter().filter_map(|zone| figure(zone)).collect();
            (!known.is_empty()).then(|| known.iter().sum())
        };
        plan.zones = site
            .zones
            .iter()
            .filter_map(|zone| {
                let proved = zones.get(&(site.id.clone(), zone.id.clone()))?;
                Some(ZonePlan {
                    zone: zone.id.clone(),
                    treated_m2: proved.treated_m2?,
                    overlap_m2: proved.overlap_m2?,
                    swept_m2: proved.swept_m2?,
                })
            })
            .collect();
        plan.treated_m2 = total(|zone| zone.treated_m2);
        plan.overlap_m2 = total(|zone| zone.overlap_m2);
        plan.swept_m2 = total(|zone| zone.swept_m2);
    }
    Ok(Some(bytes))
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

fn site_work(
    site: &Site,
    aids: &[&Aid],
    fleet: &Fleet,
    rigs: &[usize],
    vehicles: &[Option<Vehicle>],
) -> (SiteSheet, Vec<RigWork>) {
    let estimate = &fleet.estimate;
    let lot = Lot::of(site, aids, estimate);
    let mut remarks = lot.remarks.clone();
    let zones: Vec<ZoneSheet> = site
        .zones
        .iter()
        .filter(|zone| zone.is_to_treat())
        .map(|zone| zone_sheet(zone, estimate, &mut remarks))
        .collect();
    let works = rigs
        .iter()
        .zip(vehicles)
        .map(|(&rig, vehicle)| match vehicle {
            Some(vehicle) => rig_work(site, &lot, fleet, vehicle),
            None => RigWork {
                sheet: without_body(fleet, rig),
                lanes: Vec::new(),
            },
        })
        .collect();
    let area_m2 = zones.iter().map(|zone| zone.area_m2).sum();
    let sheet = SiteSheet {
        site: site.id.clone(),
        name: site.name.clone(),
        client: site.client.clone(),
        area_m2,
        area_error_m2: zones.iter().map(|zone| zone.area_error_m2).sum(),
        zones,
        shapes: SiteShapes {
            curbs: lot.curbs.iter().map(|&(a, b)| [a, b]).collect(),
            objects: lot.blocked.difference(&lot.keep_off),
        },
        assumed: lot.assumed,
        remarks,
        rigs: Vec::new(),
    };
    (sheet, works)
}

fn without_body(fleet: &Fleet, rig: usize) -> RigSheet {
    RigSheet {
        rig: fleet.rigs[rig].id.clone(),
        missing: vec!["body".to_owned()],
        boom_m: fleet.rigs[rig].boom_width_m(),
        reach_m2: None,
        edge_strip_m2: None,
        edge_strip_m: None,
        hand: Vec::new(),
        hand_walk_m: 0.0,
        slivers_m2: None,
        plan: None,
        cost: None,
        shapes: RigShapes::default(),
    }
}

fn zone_sheet(zone: &Zone, estimate: &Estimate, remarks: &mut Vec<String>) -> ZoneSheet {
    let edges = minkowski::edges(&zone.region);
    let perimeter_m = edges.iter().map(|(a, b)| b.minus(*a).length_m()).sum();
    let contract_area_m2 = lot::contract_m2(zone).unwrap_or_else(|why| {
        remarks.push(format!("zone {}: {why}; it was ignored", zone.id));
        None
    });
    ZoneSheet {
        zone: zone.id.clone(),
        land_use: zone.land_use,
        method: zone.method,
        area_m2: zone.region.area_m2(),
        area_drawn_m2: zone.area_drawn_m2,
        area_error_m2: estimate.outline_m.map(|outline_m| outline_m * perimeter_m),
        perimeter_m,
        holes: zone
            .region
            .shapes()
            .iter()
            .map(|shape| shape.len() - 1)
            .sum(),
        longest_run_m: reach::longest_run_m(&zone.region),
        contract_area_m2,
    }
}

/// Keys that are missing for a plan and its times.
fn missing(fleet: &Fleet, vehicle: &Vehicle) -> Vec<String> {
    let rig = &fleet.rigs[vehicle.rig];
    let keys = [
        (rig.turning_circle_m.is_some(), "turning_circle"),
        (rig.wheelbase_m.is_some(), "wheelbase"),
        (rig.turn_speed_m_s.is_some(), "turn_speed"),
        (rig.gear_change_s.is_some(), "gear_change"),
        (fleet.estimate.lap_m.is_some(), "estimate.lap"),
        (fleet.estimate.speed_m_s.is_some(), "estimate.speed"),
    ];
    keys.iter()
        .filter(|(there, _)| !there)
        .map(|(_, key)| (*key).to_owned())
        .collect()
}

fn rig_work(site: &Site, lot: &Lot, fleet: &Fleet, vehicle: &Vehicle) -> RigWork {
    let reach = reach::reach(lot, vehicle);
    let left = left::left(lot, &reach);
    let earth = |region: &Region| on_earth(region, &site.plane);
    let mut shapes = RigShapes {
        reach: earth(&reach.ground),
        edge_strip: earth(&left.edge_strip),
        hand: Vec::new(),
        gap: geo::MultiPolygon(Vec::new()),
    };
    let mut hand = Vec::new();
    for (hand_zone, works) in [(false, &left.hand), (true, &left.hand_zones)] {
        for work in works {
            hand.push(HandSheet {
                hand_zone,
                area_m2: work.ground.area_m2(),
                hose_m: work.hose_m,
                place: middle(&work.ground, site),
            });
            shapes.hand.push(earth(&work.ground));
        }
    }
    let mut sheet = RigSheet {
        missing: missing(fleet, vehicle),
        rig: vehicle.id.clone(),
        boom_m: vehicle.boom_m(),
        reach_m2: Some(reach.ground.area_m2()),
        edge_strip_m2: Some(left.edge_strip.area_m2()),
        edge_strip_m: Some(left.edge_strip_m),
        hand,
        hand_walk_m: left.walk_m,
        slivers_m2: Some(left.slivers.area_m2()),
        plan: None,
        cost: None,
        shapes,
    };
    let lanes = plan_lanes(site, lot, fleet, vehicle, &reach, &mut sheet);
    RigWork { sheet, lanes }
}

/// Somewhere in a region.
fn middle(region: &Region, site: &Site) -> Option<LonLat> {
    use geo::InteriorPoint;
    let shape = on_earth(region, &site.plane);
    let point = shape.interior_point()?;
    Some(LonLat {
        lon_deg: point.x(),
        lat_deg: point.y(),
    })
}

/// Plans the lanes and enters them in the sheet.
fn plan_lanes(
    site: &Site,
    lot: &Lot,
    fleet: &Fleet,
    vehicle: &Vehicle,
    reach: &reach::Reach,
    sheet: &mut RigSheet,
) -> Vec<Lane> {
    let estimate = &fleet.estimate;
    let Some(lap_m) = estimate.lap_m else {
        return Vec::new();
    };
    let field = Field::of(lot, reach, vehicle);
    let terms = Terms {
        lap_m,
        speed_m_s: estimate.speed_m_s.unwrap_or(SOME_SPEED_M_S),
        until: estimate.plan_until,
        turning: Turning::of(vehicle),
    };
    let Some(plan) = plan::plan(&field, &terms) else {
        return Vec::new();
    };
    let mut lanes = plan.lanes;
    if estimate.reclose {
        lanes = plan::reclosed(lot, vehicle, lanes);
    }
    lanes.iter_mut().for_each(Lane::settle);
    let sprayed = field::ground(&lanes, vehicle);
    let gap = reach.ground.difference(&sprayed);
    let zones = site.zones.iter().filter(|zone| zone.is_to_treat());
    let to_treat = Region::union_of(zones.map(|zone| &zone.region));
    let length_m: f64 = lanes.iter().map(Lane::length_m).sum();
    let reach_m2 = reach.ground.area_m2();
    sheet.shapes.gap = on_earth(&gap, &site.plane);
    sheet.plan = Some(PlanSheet {
        manner: plan.manner,
        lanes: lanes.len(),
        length_m,
        length_ratio: length_m * (vehicle.boom_m() - lap_m) / reach_m2,
        spraying_s: estimate.speed_m_s.map(|speed_m_s| length_m / speed_m_s),
        turning_s: terms.turning.is_some().then_some(plan.between),
        treated_m2: None,
        overlap_m2: None,
        swept_m2: None,
        gap_m2: gap.area_m2(),
        outside_m2: sprayed.difference(&to_treat).area_m2(),
        zones: Vec::new(),
        stops: plan.stops,
        driven: lanes
            .iter()
            .map(|lane| DrivenLane {
                ends: [lane.from, lane.to].map(|end| site.plane.to_lon_lat(end)),
                lane: lane.clone(),
            })
            .collect(),
    });
    lanes
}

/// Reads the own nights; `None` where none is named.
fn own_nights(
    task: &Task,
    fleet: &Fleet,
    sheets: &[SiteSheet],
) -> Result<(Option<OwnNights>, Vec<InputFile>)> {
    let mut files = Vec::new();
    let mut inputs = Vec::new();
    for path in &task.nights {
        let file = if path.is_dir() {
            path.join("audit.json")
        } else {
            path.clone()
        };
        let (bytes, input) = job::read_file(&file, "night", None)?;
        let name = path.file_name().unwrap_or(path.as_os_str());
        let name = name.to_string_lossy().into_owned();
        files.push((name.clone(), bytes));
        inputs.push(InputFile { name, ..input });
    }
    let own = (!files.is_empty()).then(|| own::own_nights(&files, fleet, sheets));
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
    let (bytes, file) = job::read_file(path, role, task.night.as_deref())?;
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
