//! `swathbook measure`: its flags, and from them to files and the page.

use super::Exit;
use super::finish::finish;
use super::flags::{GroundFlags, OutputFlags, WorkFlags};
use super::progress::Bar;
use super::threads::start_threads;
use crate::error::Result;
use crate::input::paths;
use crate::measure::{self, Task, report};
use std::path::PathBuf;

/// Cells in a line of the sheet: its tables have more columns than the page of a night (layout).
const SHEET_WIDTH: usize = 120;

const OUT_HELP: &str = "Folder for measure.html, measure.json, measure.csv, measure.geojson and drive-plan.gpx \
     (drive-plan-2.gpx and so on for more rigs); created if missing. Without it only the terminal's page is printed";

#[derive(Debug, clap::Args)]
#[command(mut_arg("out", |out| out.help(OUT_HELP)))]
pub(super) struct Arguments {
    /// Folder with fleet.toml and sites.geojson, such as a night folder; logs are not read.
    night: Option<PathBuf>,
    #[command(flatten)]
    ground: GroundFlags,
    /// Rig to measure with; may be given several times. The default is every rig with a `body`.
    #[arg(long, value_name = "ID")]
    rig: Vec<String>,
    /// Audited night of your own (its --out folder or audit.json); may be given several times. Offers speed, lap, turning
    /// time and rate as lines for the fleet file, and sets driven lots beside their plans.
    #[arg(long, value_name = "DIR")]
    nights: Vec<PathBuf>,
    #[command(flatten)]
    output: OutputFlags,
    #[command(flatten)]
    work: WorkFlags,
}

/// Runs the command.
///
/// # Errors
/// As [`paths::ground_files`], [`paths::spare_inputs`], [`measure::measure`] and [`finish`].
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    start_threads(arguments.work.threads)?;
    let (fleet, sites) = paths::ground_files(
        arguments.night.as_deref(),
        arguments.ground.fleet.as_deref(),
        arguments.ground.sites.as_deref(),
    )?;
    let task = Task {
        night: arguments.night.clone(),
        fleet,
        sites,
        rigs: arguments.rig.clone(),
        sites_epsg: arguments.ground.epsg(),
        nights: arguments.nights.clone(),
    };
    let owned = report::owned();
    if let Some(dir) = &arguments.output.out {
        paths::spare_inputs([task.fleet.as_path(), task.sites.as_path()], dir, &owned)?;
    }
    let bar = Bar::default();
    let measured = measure::measure(&task, &|what, done, of| bar.show(what, done, of));
    bar.clear();
    let measured = measured?;
    let units = arguments.work.units.into();
    finish(
        arguments.output.out.as_deref(),
        || report::files(&measured, units),
        &owned,
        &report::terminal::render(&measured.sheet, units, SHEET_WIDTH),
        false,
    )
}
