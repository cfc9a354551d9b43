//! `swathbook audit`: the night.

use super::finish::finish;
use super::flags::{GroundFlags, RateUnitFlag, StartPoint, WorkFlags, rate_unit};
use super::progress::Bar;
use super::threads::start_threads;
use super::{Exit, say};
use crate::audit::{self, Settings};
use crate::error::Result;
use crate::findings::Severity;
use crate::input::paths;
use crate::report;
use clap::ValueEnum;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Night folder with fleet.toml, sites.geojson, logs/ (*.gpx, *.gpx.gz) and, where there are any, orders.csv.
    night: Option<PathBuf>,
    #[command(flatten)]
    ground: GroundFlags,
    /// Orders file, instead of the night folder's orders.csv: the work asked for, by when and with what.
    #[arg(long, value_name = "FILE")]
    orders: Option<PathBuf>,
    /// A run log or a folder of them, instead of the night folder's logs/; may be given several times.
    #[arg(long, value_name = "PATH")]
    logs: Vec<PathBuf>,
    /// Folder for audit.json, zones.csv, visits.csv, runs.csv, findings.csv, coverage.geojson, touchup.gpx and
    /// report.html (and orders_done.csv with orders, strips.json with --strips); created if missing. Without it only
    /// the terminal's page is printed.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    #[command(flatten)]
    work: WorkFlags,
    /// Unit of rates in the tables; the default is gal-1000ft2, or ml-m2 with metric units.
    #[arg(long, value_enum, value_name = "UNIT")]
    rate_unit: Option<RateUnitFlag>,
    /// Start of the route in touchup.gpx, longitude and latitude in degrees; the default is the yard
    /// of the sites file, or else the greatest patch.
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    from: Option<StartPoint>,
    /// Exit 1 if any finding is at least this severe.
    #[arg(long, value_enum, default_value_t = FailOn::GoBack)]
    fail_on: FailOn,
    /// Also write strips.json to the --out folder: every strip and zone in metres, for recomputing areas and volumes
    /// with other tools. Large.
    #[arg(long, requires = "out")]
    strips: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// Anything to send a rig back for.
    GoBack,
    /// Anything that somebody should check.
    LookInto,
    /// Any finding.
    ForTheRecord,
    /// Never.
    Never,
}

/// Says which files of an earlier run in the output folder are not as its `audit.json` says: they go with this run.
fn name_misfits(dir: &std::path::Path) {
    let misfits = report::whole::misfits(dir);
    if !misfits.is_empty() {
        say(&format!(
            "{}: does not match its audit.json: {} (a run that was cut short, or files changed since); this run replaces it",
            dir.display(),
            misfits.join(", ")
        ));
    }
}

/// What the makers of the program would like to hear of: the ground is right either way.
fn diagnosis(fallbacks: u32) -> String {
    format!(
        "overlays done by the general engine: {fallbacks} (slower; the figures are as good; worth a report with the night's files)"
    )
}

/// Runs the command.
///
/// # Errors
/// As [`paths::find`], [`audit::audit`] and [`report::write::write_all`].
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    start_threads(arguments.work.threads)?;
    let paths = paths::find(
        arguments.night.as_deref(),
        arguments.ground.fleet.as_deref(),
        arguments.ground.sites.as_deref(),
        arguments.orders.as_deref(),
        &arguments.logs,
    )?;
    if let Some(dir) = &arguments.out {
        paths::check_out(&paths, dir, &report::OWNED)?;
        name_misfits(dir);
    }
    let bar = Bar::default();
    let settings = Settings {
        sites_epsg: arguments.ground.epsg(),
        keep_strips: arguments.strips,
    };
    let audited = audit::audit(&paths, settings, &|what, done, of| bar.show(what, done, of));
    bar.clear();
    let audited = audited?;
    let (audit, page) = (&audited.audit, &audited.page);
    let units = arguments.work.units.into();
    let rate_unit = rate_unit(units, arguments.rate_unit);
    let files = || {
        let from = arguments.from.map(|start| start.0);
        report::files(audit, page, &audited.drawn(units), units, rate_unit, from)
    };
    finish(
        arguments.out.as_deref(),
        files,
        &report::OWNED,
        &report::page(audit, page, units, rate_unit),
    )?;
    if audited.fallbacks() > 0 {
        say(&diagnosis(audited.fallbacks()));
    }
    let fails = |severity: Severity| match arguments.fail_on {
        FailOn::GoBack => severity <= Severity::GoBack,
        FailOn::LookInto => severity <= Severity::LookInto,
        FailOn::ForTheRecord => true,
        FailOn::Never => false,
    };
    let found = audit.findings.iter().any(|finding| fails(finding.severity));
    Ok(if found { Exit::Findings } else { Exit::Done })
}
