//! `swathbook audit`: the night.

use super::finish::finish;
use super::flags::{NightFlags, OutputFlags, RateUnitFlag, StartPoint, WorkFlags, rate_unit};
use super::progress::Bar;
use super::threads::start_threads;
use super::{Exit, say};
use crate::audit::{self, Settings};
use crate::error::Result;
use crate::findings::{Finding, Severity};
use crate::input::paths;
use crate::report;
use clap::ValueEnum;
use std::path::PathBuf;

const OUT_HELP: &str = "Folder for audit.json, zones.csv, visits.csv, runs.csv, findings.csv, coverage.geojson, \
     touchup.gpx and report.html (and orders_done.csv with orders, strips.json with --strips); created if missing. \
     Without it only the terminal's page is printed";

#[derive(Debug, clap::Args)]
#[command(mut_arg("out", |out| out.help(OUT_HELP)))]
pub(super) struct Arguments {
    /// Night folder with fleet.toml, sites.geojson, logs/ (*.gpx, *.gpx.gz) and, where there are any, orders.csv.
    night: Option<PathBuf>,
    #[command(flatten)]
    files: NightFlags,
    #[command(flatten)]
    output: OutputFlags,
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

impl FailOn {
    /// A finding of this severity makes the exit code 1.
    fn meets(self, severity: Severity) -> bool {
        match self {
            Self::GoBack => severity <= Severity::GoBack,
            Self::LookInto => severity <= Severity::LookInto,
            Self::ForTheRecord => true,
            Self::Never => false,
        }
    }
}

/// Says which files of an earlier run in the output folder do not match its `audit.json`: this run replaces them.
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
/// As [`paths::find`], [`paths::check_out`], [`audit::audit`] and [`finish`].
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    start_threads(arguments.work.threads)?;
    let paths = arguments.files.paths(arguments.night.as_deref())?;
    let out = arguments.output.out.as_deref();
    if let Some(dir) = out {
        paths::check_out(&paths, dir, &report::OWNED)?;
        name_misfits(dir);
    }
    let bar = Bar::default();
    let settings = Settings {
        sites_epsg: arguments.files.ground.epsg(),
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
    let fails = |finding: &Finding| arguments.fail_on.meets(finding.severity);
    let exit = finish(
        out,
        files,
        &report::OWNED,
        &report::page(audit, page, units, rate_unit),
        audit.findings.iter().any(fails),
    )?;
    if audited.fallbacks() > 0 {
        say(&diagnosis(audited.fallbacks()));
    }
    Ok(exit)
}
