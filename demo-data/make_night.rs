//! Makes the demo night: an invented contractor's logs of one winter night, with planted faults.
//!
//! `cargo run --release --example make_night -- OUTDIR [--seed N] [--copies N]` writes `OUTDIR/night/` and
//! `OUTDIR/planted.json`; with copies a great night, and no list of what is planted. It uses nothing of the audit, only its file formats: paths (`dubins`,
//! `work`, `plan`) -> `route` -> `motion` -> `pump` -> `log`, and beside it the truth (`grid`,
//! `truth`, `planted`). Same seed, same bytes.

#[allow(dead_code)] // `tests/nights` draws more kinds of numbers.
#[path = "make_night/chance.rs"]
mod chance;
#[path = "make_night/copies.rs"]
mod copies;
#[path = "make_night/dubins.rs"]
mod dubins;
#[path = "make_night/grid.rs"]
mod grid;
#[path = "make_night/ground.rs"]
mod ground;
#[path = "make_night/log.rs"]
mod log;
#[path = "make_night/motion.rs"]
mod motion;
#[path = "make_night/plan.rs"]
mod plan;
#[path = "make_night/planted.rs"]
mod planted;
#[path = "make_night/pump.rs"]
mod pump;
#[path = "make_night/rig.rs"]
mod rig;
#[path = "make_night/rigs.rs"]
mod rigs;
#[allow(dead_code)] // `tests/nights` drives backward, too.
#[path = "make_night/route.rs"]
mod route;
#[path = "make_night/truth.rs"]
mod truth;
#[path = "make_night/work.rs"]
mod work;

use chance::Chance;
use copies::Copy;
use planted::Driven;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The seed of the night in the repository: 45 N, 030 W.
const SEED: u64 = 45_030;

/// What every meter showed before the night, L.
const FIRST_TOTAL_L: f64 = 48_211.0;

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
    fs::write(night.join("fleet.toml"), fleet)?;
    fs::write(night.join("sites.geojson"), sites)?;
    fs::write(night.join("orders.csv"), orders)
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
        let fixes = log::gpx(
            &driven.outing,
            &driven.motion,
            &driven.pumped,
            Chance::new(seed, 3 * number + 2),
        );
        let file = copy.file(driven.outing.file);
        write_log(&logs.join(&file), &copy.log(&fixes))?;
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
    let motion = motion::Motion::new(outing.route.clone(), &mut Chance::new(seed, 3 * number));
    let pumped = pump::Pumped::new(
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

/// Writes the log, compressed where its name says so. The gzip header carries no time.
fn write_log(path: &Path, text: &str) -> io::Result<()> {
    if path.extension().is_some_and(|extension| extension == "gz") {
        let mut file = flate2::GzBuilder::new()
            .mtime(0)
            .write(fs::File::create(path)?, flate2::Compression::best());
        file.write_all(text.as_bytes())?;
        file.finish()?.flush()
    } else {
        fs::write(path, text)
    }
}
