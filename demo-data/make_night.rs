//! Makes the demo night: an invented contractor's logs of one winter night, with planted faults.
//!
//! `cargo run --release --example make_night -- OUTDIR [--seed N]` writes `OUTDIR/night/` and
//! `OUTDIR/planted.json`. It uses nothing of the audit, only its file formats: paths (`dubins`,
//! `work`, `plan`) -> `route` -> `motion` -> `pump` -> `log`, and beside it the truth (`grid`,
//! `truth`, `planted`). Same seed, same bytes.

#[allow(dead_code)] // `tests/nights` draws more kinds of numbers.
#[path = "make_night/chance.rs"]
mod chance;
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
    let Some((folder, seed)) = arguments() else {
        eprintln!("usage: make_night OUTDIR [--seed N]");
        return ExitCode::from(2);
    };
    match write_night(&folder, seed) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{}: {error}", folder.display());
            ExitCode::from(2)
        }
    }
}

fn arguments() -> Option<(PathBuf, u64)> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    match given.as_slice() {
        [folder] => Some((folder.into(), SEED)),
        [folder, flag, seed] if flag == "--seed" => Some((folder.into(), seed.parse().ok()?)),
        _ => None,
    }
}

fn write_night(folder: &Path, seed: u64) -> io::Result<()> {
    let logs = folder.join("night").join("logs");
    fs::create_dir_all(&logs)?;
    fs::write(folder.join("night").join("fleet.toml"), rigs::FLEET_TOML)?;
    fs::write(
        folder.join("night").join("sites.geojson"),
        ground::geojson(),
    )?;
    fs::write(folder.join("night").join("orders.csv"), plan::ORDERS_CSV)?;
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
        write_log(&logs.join(driven.outing.file), &fixes)?;
        println!(
            "{}: {:.0} s, {:.0} L",
            driven.outing.file,
            driven.motion.end_s(),
            last_total_l(&driven) - first_total_l
        );
        night.push(driven);
    }
    let planted = serde_json::to_string_pretty(&planted::list(&night))?;
    fs::write(folder.join("planted.json"), planted + "\n")
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
