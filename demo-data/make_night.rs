//! Makes the demo night: an invented contractor's logs of one winter night, with planted faults.
//!
//! `cargo run --release --example make_night -- OUTDIR [--seed N] [--copies N]` writes `OUTDIR/night/` and
//! `OUTDIR/planted.json`; with copies a great night, and no list of what is planted. The world, the driving and the
//! logs are those of `tests/making`; here stand what is driven (`rigs`, `ground`, `lanes`, `plan`) and the truth about it
//! (`grid`, `truth`, `planted`). Same seed, same bytes.

#[path = "make_night/copies.rs"]
mod copies;
#[path = "make_night/grid.rs"]
mod grid;
#[path = "make_night/ground.rs"]
mod ground;
#[path = "make_night/lanes.rs"]
mod lanes;
#[path = "make_night/plan.rs"]
mod plan;
#[path = "make_night/planted.rs"]
mod planted;
#[path = "make_night/rigs.rs"]
mod rigs;
#[path = "make_night/truth.rs"]
mod truth;

use copies::Copy;
use making::chance::Chance;
use making::files;
use making::gpx::{Clock, Head, SetRate};
use making::log::Log;
use making::motion::Motion;
use making::pump::{FIRST_TOTAL_L, Pumped};
use making::rig::Liquid;
use planted::Driven;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The seed of the night in the repository: 45 N, 030 W.
const SEED: u64 = 45_030;

/// The loggers' clock; seconds count from the first midnight of the night, UTC.
const CLOCK: Clock = Clock {
    month: "2026-01",
    day: 11,
    digits: 0,
};

fn main() -> ExitCode {
    let Some(asked) = Asked::of(std::env::args().skip(1)) else {
        eprintln!("usage: make_night OUTDIR [--seed N] [--copies N]");
        return ExitCode::from(2);
    };
    match write_night(&asked) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{}: {error}", asked.folder.display());
            ExitCode::from(2)
        }
    }
}

/// What the command line asks for.
struct Asked {
    folder: PathBuf,
    seed: u64,
    copies: u32,
}

impl Asked {
    fn of(mut given: impl Iterator<Item = String>) -> Option<Self> {
        let mut asked = Self {
            folder: given.next()?.into(),
            seed: SEED,
            copies: 1,
        };
        while let Some(flag) = given.next() {
            match flag.as_str() {
                "--seed" => asked.seed = given.next()?.parse().ok()?,
                "--copies" => asked.copies = given.next()?.parse().ok()?,
                _ => return None,
            }
        }
        Some(asked)
    }

    /// The demo's own night, or so many others.
    fn copies(&self) -> impl Iterator<Item = Copy> {
        let first = u32::from(self.copies > 1);
        (first..first + self.copies).map(Copy)
    }
}

fn write_night(asked: &Asked) -> io::Result<()> {
    let night = asked.folder.join("night");
    fs::create_dir_all(night.join("logs"))?;
    let mut driven = Vec::new();
    for copy in asked.copies() {
        let own = write_logs(&night.join("logs"), asked.seed + u64::from(copy.0), copy)?;
        if asked.copies == 1 {
            driven = own;
        }
    }
    write_ground(&night, asked)?;
    if asked.copies > 1 {
        return Ok(());
    }
    let planted = serde_json::to_string_pretty(&planted::list(&driven))?;
    fs::write(asked.folder.join("planted.json"), planted + "\n")
}

/// Fleet, sites and orders.
fn write_ground(night: &Path, asked: &Asked) -> io::Result<()> {
    let (mut fleet, mut orders) = (rigs::FLEET_TOML.to_owned(), plan::ORDERS_CSV.to_owned());
    let mut sites = ground::geojson();
    if asked.copies > 1 {
        fleet.truncate(Copy::before_rigs(rigs::FLEET_TOML).len());
        orders.truncate(orders.find('\n').map_or(0, |end| end + 1));
        let mut features = Vec::new();
        for copy in asked.copies() {
            features.extend(copy.features(&sites)?);
            fleet += &copy.rigs(rigs::FLEET_TOML);
            orders += &copy.orders(plan::ORDERS_CSV);
        }
        sites =
            serde_json::json!({ "type": "FeatureCollection", "features": features }).to_string();
    }
    files::write_ground(night, &fleet, &sites, Some(&orders))
}

fn write_logs(logs: &Path, seed: u64, copy: Copy) -> io::Result<Vec<Driven>> {
    let mut night = Vec::new();
    for (outing, number) in plan::outings().into_iter().zip(0_u64..) {
        // A meter's total goes on from log to log.
        let id = outing.route.rig.id;
        let before = night
            .iter()
            .rfind(|driven: &&Driven| driven.outing.route.rig.id == id);
        let first_total_l = before.map_or(FIRST_TOTAL_L, last_total_l);
        let driven = drive(outing, first_total_l, seed, number);
        let file = copy.file(driven.outing.file);
        let text = log(&driven, Chance::new(seed, 3 * number + 2));
        files::write_log(&logs.join(&file), &copy.log(&text))?;
        println!(
            "{file}: {:.0} s, {:.0} L",
            driven.motion.end_s(),
            last_total_l(&driven) - first_total_l
        );
        night.push(driven);
    }
    Ok(night)
}

fn drive(outing: plan::Outing, first_total_l: f64, seed: u64, number: u64) -> Driven {
    let motion = Motion::new(outing.route.clone(), &mut Chance::new(seed, 3 * number));
    let pumped = Pumped::new(
        &motion,
        first_total_l,
        &mut Chance::new(seed, 3 * number + 1),
    );
    Driven {
        outing,
        motion,
        pumped,
    }
}

fn last_total_l(driven: &Driven) -> f64 {
    driven.pumped.total_at_l(driven.motion.end_s())
}

fn log(driven: &Driven, chance: Chance) -> String {
    let (outing, rig) = (&driven.outing, &driven.motion.route().rig);
    let own_elements = rig.logger.liquid != Liquid::Valves;
    let behind_s = if rig.id == rigs::TRAIL.id {
        rigs::TRAIL_BEHIND_S
    } else {
        0.0
    };
    let log = Log {
        motion: &driven.motion,
        pumped: &driven.pumped,
        head: Head {
            creator: "demo night",
            name: outing.file.split('.').next(),
            rig: own_elements.then_some(rig.id),
            set_rate: rig
                .logger
                .set_rate
                .then_some(SetRate::GalAc(outing.set_rate_gal_ac)),
        },
        clock: (CLOCK, outing.start_s - behind_s),
        split_s: f64::INFINITY,
    };
    log.files(ground::lon_lat_deg, chance).concat()
}
