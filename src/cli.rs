//! The command line: flags, messages on stderr, exit codes.
//!
//! Data goes to stdout, talk to stderr. A progress bar shows only where stderr is a terminal.

use crate::audit::{self, Settings};
use crate::error::{Error, Result};
use crate::findings::Severity;
use crate::job;
use crate::place::LonLat;
use crate::report;
use crate::report::clean::clean;
use crate::report::numbers::{RateUnit, Units};
use clap::{Parser, Subcommand, ValueEnum};
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Mutex;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// Done, and there is a finding at or above `--fail-on`.
    Findings,
    /// No result was possible.
    NoResult,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        match exit {
            Exit::Done => Self::SUCCESS,
            Exit::Findings => Self::from(1),
            Exit::NoResult => Self::from(2),
        }
    }
}

const EXIT_CODES: &str = "\
Exit codes:
  0  done
  1  done, and there is a finding at or above --fail-on
  2  no result was possible; the message says why

The numbers are a record of what the logs say, not of what state any surface is in.
Local codes, product labels and licensed practice come first.";

/// Audits a night of liquid de-icing from the rigs' logs.
#[derive(Debug, Parser)]
#[command(version, about, after_help = EXIT_CODES)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// What was treated, missed, done twice, at what rate, and where the liquid went.
    #[command(after_help = EXIT_CODES)]
    Audit(AuditArguments),
}

#[derive(Debug, clap::Args)]
struct AuditArguments {
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
    /// Folder for audit.json, zones.csv, visits.csv, runs.csv, findings.csv, coverage.geojson and
    /// touchup.gpx, report.html (and orders_done.csv with orders, strips.json with --strips); made when it is not there. Without it only the terminal's page is printed.
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
    /// Threads to work with; the default is one a core. The result does not depend on it.
    #[arg(long, value_name = "N")]
    threads: Option<std::num::NonZeroUsize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum UnitsFlag {
    /// Feet, acres, US gallons.
    Us,
    /// Metres, litres.
    Metric,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RateUnitFlag {
    /// Gallons an acre.
    GalAc,
    /// Gallons a thousand square feet.
    #[value(name = "gal-1000ft2")]
    Gal1000Ft2,
    /// Gallons a mile of 12 ft lane.
    GalLaneMi,
    /// Litres a hectare.
    LHa,
    /// Millilitres a square metre.
    MlM2,
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

/// `2046`, `EPSG:2046` or `epsg:2046`.
#[derive(Debug, Clone, Copy)]
struct EpsgCode(u32);

impl std::str::FromStr for EpsgCode {
    type Err = String;
    fn from_str(text: &str) -> std::result::Result<Self, String> {
        let digits = text
            .strip_prefix("EPSG:")
            .or_else(|| text.strip_prefix("epsg:"))
            .unwrap_or(text);
        digits
            .parse()
            .map(Self)
            .map_err(|_| format!("expected an EPSG code such as EPSG:32614, found {text:?}"))
    }
}

/// `-30.01,45.02`: longitude and latitude, degrees.
#[derive(Debug, Clone, Copy)]
struct StartPoint(LonLat);

impl std::str::FromStr for StartPoint {
    type Err = String;
    fn from_str(text: &str) -> std::result::Result<Self, String> {
        let degrees = |text: &str, greatest: f64| {
            let number = text.trim().parse::<f64>().ok()?;
            (-greatest..=greatest).contains(&number).then_some(number)
        };
        text.split_once(',')
            .and_then(|(lon, lat)| {
                Some(Self(LonLat {
                    lon_deg: degrees(lon, 180.0)?,
                    lat_deg: degrees(lat, 90.0)?,
                }))
            })
            .ok_or_else(|| {
                format!("expected longitude, then latitude in degrees, such as -30.01,45.02, found {text:?}")
            })
    }
}

/// Runs the program on the process's arguments.
#[must_use]
pub fn run() -> Exit {
    let arguments = Arguments::parse();
    let result = match arguments.command {
        Command::Audit(arguments) => run_audit(&arguments),
    };
    match result {
        Ok(exit) => exit,
        Err(error) => {
            // Nothing can be done when even stderr is gone.
            let _ = writeln!(std::io::stderr(), "swathbook: {}", error_text(&error));
            Exit::NoResult
        }
    }
}

fn run_audit(arguments: &AuditArguments) -> Result<Exit> {
    if let Some(threads) = arguments.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads.get())
            .build_global()
            .map_err(|cause| Error::new(format!("cannot start {threads} threads: {cause}")))?;
    }
    let job = job::find(
        arguments.night.as_deref(),
        arguments.fleet.as_deref(),
        arguments.sites.as_deref(),
        arguments.orders.as_deref(),
        &arguments.logs,
    )?;
    if let Some(dir) = &arguments.out {
        job::check_out(&job, dir)?;
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
    let (units, rate_unit) = units(arguments);
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
        report::write::write_all(dir, files)?;
    }
    print(&report::page(audit, &audited.page, units, rate_unit))?;
    let fails = |severity: Severity| match arguments.fail_on {
        FailOn::GoBack => severity <= Severity::GoBack,
        FailOn::LookInto => severity <= Severity::LookInto,
        FailOn::ForTheRecord => true,
        FailOn::Never => false,
    };
    let found = audit.findings.iter().any(|finding| fails(finding.severity));
    Ok(if found { Exit::Findings } else { Exit::Done })
}

fn units(arguments: &AuditArguments) -> (Units, RateUnit) {
    let units = match arguments.units {
        UnitsFlag::Us => Units::Us,
        UnitsFlag::Metric => Units::Metric,
    };
    let rate_unit = match (arguments.rate_unit, units) {
        (Some(RateUnitFlag::GalAc), _) => RateUnit::GalPerAcre,
        (Some(RateUnitFlag::Gal1000Ft2), _) | (None, Units::Us) => RateUnit::GalPer1000Ft2,
        (Some(RateUnitFlag::GalLaneMi), _) => RateUnit::GalPerLaneMile,
        (Some(RateUnitFlag::LHa), _) => RateUnit::LPerHa,
        (Some(RateUnitFlag::MlM2), _) | (None, Units::Metric) => RateUnit::MlPerM2,
    };
    (units, rate_unit)
}

/// An error's lines, each made fit for a terminal.
fn error_text(error: &Error) -> String {
    error
        .to_string()
        .lines()
        .map(clean)
        .collect::<Vec<_>>()
        .join("\n")
}

/// Prints data on stdout. A reader that has had enough (`| head`) is no error.
fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(cause) if cause.kind() != std::io::ErrorKind::BrokenPipe => Err(Error::new(format!(
            "cannot write to standard output: {cause}"
        ))),
        _ => Ok(()),
    }
}

/// One progress bar, renewed for each kind of work.
#[derive(Default)]
struct Bar {
    shown: Mutex<Option<(&'static str, indicatif::ProgressBar)>>,
}

impl Bar {
    fn show(&self, what: &'static str, done: usize, of: usize) {
        if !std::io::stderr().is_terminal() {
            return;
        }
        let Ok(mut shown) = self.shown.lock() else {
            return;
        };
        if shown.as_ref().is_none_or(|(known, _)| *known != what) {
            let bar = indicatif::ProgressBar::new(of as u64);
            if let Ok(style) =
                indicatif::ProgressStyle::with_template("{msg:6} {wide_bar} {pos}/{len}")
            {
                bar.set_style(style);
            }
            bar.set_message(what);
            if let Some((_, old)) = shown.replace((what, bar)) {
                old.finish_and_clear();
            }
        }
        if let Some((_, bar)) = shown.as_ref() {
            bar.set_position(bar.position().max(done as u64));
        }
    }

    fn clear(&self) {
        if let Ok(mut shown) = self.shown.lock()
            && let Some((_, bar)) = shown.take()
        {
            bar.finish_and_clear();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_flags_are_sound() {
        use clap::CommandFactory;
        Arguments::command().debug_assert();
    }

    #[test]
    fn an_epsg_code_may_have_its_prefix() {
        assert_eq!("EPSG:32614".parse::<EpsgCode>().unwrap().0, 32614);
        assert!("utm".parse::<EpsgCode>().is_err());
    }
}
