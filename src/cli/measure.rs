//! `swathbook measure`: its flags, and from them to files and the page.

use super::flags::{EpsgCode, UnitsFlag};
use super::progress::Bar;
use super::threads::{start_threads, thread_count};
use super::{Exit, print};
use crate::error::Result;
use crate::input::job;
use crate::measure::{self, Task, report};
use crate::report::numbers::Units;
use crate::report::write::write_all;
use std::path::PathBuf;

/// Cells in a line of the page.
const PAGE_WIDTH: usize = 120;

#[derive(Debug, clap::Args)]
pub(super) struct MeasureArguments {
    /// Folder with fleet.toml and sites.geojson, such as a night folder; logs are not looked at.
    night: Option<PathBuf>,
    /// Fleet file, instead of the folder's fleet.toml.
    #[arg(long, value_name = "FILE")]
    fleet: Option<PathBuf>,
    /// Sites file, instead of the folder's sites.geojson.
    #[arg(long, value_name = "FILE")]
    sites: Option<PathBuf>,
    /// Rig to measure with; may be given several times. The default is every rig with a `body`.
    #[arg(long, value_name = "ID")]
    rig: Vec<String>,
    /// Folder for measure.json, measure.csv, measure.geojson and drive-plan.gpx (drive-plan-2.gpx and so on
    /// for more rigs); made when it is not there. Without it only the terminal's page is printed.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Units of the tables; measure.json is always SI.
    #[arg(long, value_enum, default_value_t = UnitsFlag::Us)]
    units: UnitsFlag,
    /// EPSG code of the sites file's coordinates, when they are not longitude and latitude.
    #[arg(long, value_name = "CODE")]
    sites_crs: Option<EpsgCode>,
    /// Threads to work with; the default is one a core. The result does not depend on it.
    #[arg(long, value_name = "N", value_parser = thread_count)]
    threads: Option<usize>,
}

pub(super) fn run(arguments: &MeasureArguments) -> Result<Exit> {
    start_threads(arguments.threads)?;
    let (fleet, sites) = job::ground_files(
        arguments.night.as_deref(),
        arguments.fleet.as_deref(),
        arguments.sites.as_deref(),
    )?;
    let task = Task {
        night: arguments.night.clone(),
        fleet,
        sites,
        rigs: arguments.rig.clone(),
        sites_epsg: arguments.sites_crs.map(|code| code.0),
    };
    let bar = Bar::default();
    let measured = measure::measure(&task, &|what, done, of| bar.show(what, done, of));
    bar.clear();
    let measured = measured?;
    let units = match arguments.units {
        UnitsFlag::Us => Units::Us,
        UnitsFlag::Metric => Units::Metric,
    };
    if let Some(dir) = &arguments.out {
        let files = report::files(&measured, units);
        let named: Vec<(&str, Vec<u8>)> = files
            .iter()
            .map(|(name, bytes)| (name.as_str(), bytes.clone()))
            .collect();
        let owned: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
        write_all(dir, named, &owned)?;
    }
    print(&report::terminal::render(
        &measured.sheet,
        units,
        PAGE_WIDTH,
    ))?;
    Ok(Exit::Done)
}
