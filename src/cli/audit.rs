//! `swathbook audit`: the night.

use super::flags::{EpsgCode, RateUnitFlag, StartPoint, UnitsFlag, units};
use super::progress::Bar;
use super::threads::{start_threads, thread_count};
use super::{Exit, print, say};
use crate::audit::{self, Settings};
use crate::error::Result;
use crate::findings::Severity;
use crate::input::job;
use crate::report;
use clap::ValueEnum;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Night folder with fleet.toml, sites.geojson, logs/ (*.gpx, *.gpx.gz) and, where there are any, orders.csv.
    night: Option<PathBuf>,
    /// Fleet file, instead of the night folder's fleet.toml.
    #[arg(long, value_name = "FILE")]
    fleet: Option<PathBuf>,
    /// Sites file, instead of the night folder's sites.geojson.
    #[arg(long, value_name = "FILE")]
    sites: Option<PathBuf>,
    /// Orders file, instead of the night folder's orders.csv: the work asked for, by when and with what.
    #[arg(long, value_name = "FILE")]
    orders: Option<PathBuf>,
    /// A run log or a folder of them, instead of the night folder's logs/; may be given several times.
    #[arg(long, value_name = "PATH")]
    logs: Vec<PathBuf>,
    /// Folder for audit.json, zones.csv, visits.csv, runs.csv, findings.csv, coverage.geojson,
    /// touchup.gpx and report.html (and orders_done.csv with orders, strips.json with --strips); made when it is not there. Without it only the terminal's page is printed.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Units of the tables and texts; audit.json is always SI.
    #[arg(long, value_enum, default_value_t = UnitsFlag::Us)]
    units: UnitsFlag,
    /// Unit of rates in the tables; the default is gal-1000ft2, or ml-m2 with metric units.
    #[arg(long, value_enum, value_name = "UNIT")]
    rate_unit: Option<RateUnitFlag>,
    /// Where the way of touchup.gpx begins, longitude and latitude in degrees; the default is the yard
    /// of the sites file, or else the greatest patch.
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    from: Option<StartPoint>,
    /// Least severity of a finding that makes the exit code 1.
    #[arg(long, value_enum, default_value_t = FailOn::GoBack)]
    fail_on: FailOn,
    /// EPSG code of the sites file's coordinates, when they are not longitude and latitude.
    #[arg(long, value_name = "CODE")]
    sites_crs: Option<EpsgCode>,
    /// Also write strips.json to the --out folder: every strip and zone in metres, so that areas and
    /// volumes can be computed again with other tools. Large.
    #[arg(long, requires = "out")]
    strips: bool,
    /// Threads to work with, 1 or more; the default is one a core. The result does not depend on it.
    #[arg(long, value_name = "N", value_parser = thread_count)]
    threads: Option<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// Something to send a rig back for.
    GoBack,
    /// Something somebody should check.
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
            "{}: not as the audit.json there says: {} (a run that was cut short, or changed since); this run replaces it",
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
/// As [`job::find`], [`audit::audit`] and [`report::write::write_all`].
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    start_threads(arguments.threads)?;
    let job = job::find(
        arguments.night.as_deref(),
        arguments.fleet.as_deref(),
        arguments.sites.as_deref(),
        arguments.orders.as_deref(),
        &arguments.logs,
    )?;
    if let Some(dir) = &arguments.out {
        job::check_out(&job, dir, &report::OWNED)?;
        name_misfits(dir);
    }
    let bar = Bar::default();
    let settings = Settings {
        sites_epsg: arguments.sites_crs.map(|code| code.0),
        keep_strips: arguments.strips,
    };
    let audit = audit::audit(&job, settings, &|what, done, of| bar.show(what, done, of));
    bar.clear();
    let audited = audit?;
    let audit = &audited.audit;
    let (units, rate_unit) = units(arguments.units, arguments.rate_unit);
    if let Some(dir) = &arguments.out {
        let from = arguments.from.map(|start| start.0);
        let shapes = report::earth::shapes(&audited.sites, &audited.outcomes);
        let plans = report::html::plans(&audited, units);
        let files = report::files(
            audit,
            &audited.page,
            &shapes,
            &plans,
            units,
            rate_unit,
            from,
        );
        report::write::write_all(dir, files, &report::OWNED)?;
    }
    match (
        print(&report::page(audit, &audited.page, units, rate_unit)),
        &arguments.out,
    ) {
        (Err(error), Some(dir)) => {
            // The result is there, so the exit code is that of the findings.
            say(&format!(
                "{error}; the files in {} are complete",
                dir.display()
            ));
        }
        (printed, _) => printed?,
    }
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
