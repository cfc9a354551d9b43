//! All of a night's files, or those that there are: bytes to plain data.

use super::fleet::{self, Fleet};
use super::log::{self, Log};
use super::orders::{self, OrdersReading};
use super::sites::{self, SitesReading};
use crate::error::{Error, Result};
use crate::findings::log::AboutLog;
use crate::findings::{Finding, Severity};
use crate::input::digest::InputFile;
use crate::input::paths::{self, NightPaths};
use crate::input::progress::{Count, Progress};
use rayon::prelude::*;
use std::path::Path;

/// What a night's files say.
pub struct NightFiles {
    /// The fleet.
    pub fleet: Fleet,
    /// The zones as drawn.
    pub drawn: SitesReading,
    /// The orders with the name of their file, where there is one.
    pub orders: Option<(OrdersReading, String)>,
    /// The logs, in the order of their files.
    pub logs: Vec<Log>,
    /// Remarks on the logs.
    pub findings: Vec<Finding>,
    /// What was read.
    pub files: Vec<InputFile>,
    /// Some log file gave nothing.
    pub files_lost: bool,
}

/// Reads a night.
///
/// # Errors
/// When the fleet, sites or orders file cannot be used, or none of the logs can.
pub fn read(paths: &NightPaths, sites_epsg: Option<u32>, progress: Progress) -> Result<NightFiles> {
    let (fleet, fleet_file) = read_fleet(paths)?;
    let (drawn, sites_file) = read_sites(paths, sites_epsg)?;
    let logs = read_logs(paths, &fleet, progress)?;
    let mut night = NightFiles {
        fleet,
        drawn,
        orders: None,
        logs: logs.logs,
        findings: logs.findings,
        files: logs.files,
        files_lost: logs.files_lost,
    };
    night.files.extend([fleet_file, sites_file]);
    if let Some((orders, file)) = read_orders(paths, &night.fleet)? {
        night.orders = Some((orders, file.name.clone()));
        night.files.push(file);
    }
    night.files.sort();
    Ok(night)
}

/// The fleet file.
///
/// # Errors
/// When it cannot be used.
pub fn read_fleet(paths: &NightPaths) -> Result<(Fleet, InputFile)> {
    let (decoded, file) = read_text(paths, &paths.fleet, "fleet")?;
    if let Some(why) = decoded.damage {
        return Err(Error::new(why)
            .at(&paths.fleet)
            .advice("A fleet file is UTF-8 text: save it as UTF-8."));
    }
    Ok((fleet::read(&decoded.text, &paths.fleet)?, file))
}

/// The sites file. `epsg`: its coordinates, when they are not longitude and latitude.
///
/// # Errors
/// When it cannot be used.
pub fn read_sites(paths: &NightPaths, epsg: Option<u32>) -> Result<(SitesReading, InputFile)> {
    let (decoded, file) = read_text(paths, &paths.sites, "sites")?;
    let mut reading = sites::read(&decoded.text, &paths.sites, epsg)?;
    if let Some(why) = decoded.damage {
        reading.findings.push(damaged(&file.name, why));
    }
    Ok((reading, file))
}

fn read_orders(paths: &NightPaths, fleet: &Fleet) -> Result<Option<(OrdersReading, InputFile)>> {
    let Some(path) = &paths.orders else {
        return Ok(None);
    };
    let (decoded, file) = read_text(paths, path, "orders")?;
    if let Some(why) = decoded.damage {
        return Err(Error::new(why)
            .at(path)
            .advice("An orders file is UTF-8 text: save it as CSV UTF-8."));
    }
    let reading = orders::read(&decoded.text, path, &file.name, fleet)?;
    Ok(Some((reading, file)))
}

fn read_text(
    paths: &NightPaths,
    path: &Path,
    role: &'static str,
) -> Result<(log::Decoded, InputFile)> {
    let (bytes, file) = paths::read_file(path, role, paths.night.as_deref())?;
    if bytes.iter().all(u8::is_ascii_whitespace) {
        let advice = "docs/formats.md says what it holds.";
        return Err(Error::new("the file is empty").at(path).advice(advice));
    }
    let decoded = log::decode(bytes, false).map_err(|error| error.at(path))?;
    Ok((decoded, file))
}

/// The finding of a file whose bytes are damaged but still worth reading.
fn damaged(file: &str, why: String) -> Finding {
    let kind = AboutLog::InputSkipped {
        file: file.to_owned(),
        line: None,
        count: 0,
        why,
    };
    Finding::new(Severity::LookInto, kind)
}

/// What all logs together gave.
struct Logs {
    logs: Vec<Log>,
    findings: Vec<Finding>,
    files: Vec<InputFile>,
    /// Some file gave nothing.
    files_lost: bool,
}

/// Reads all logs, each for itself: a file that cannot be used is a finding, unless all are.
fn read_logs(paths: &NightPaths, fleet: &Fleet, progress: Progress) -> Result<Logs> {
    let count = Count::of("logs", paths.logs.len(), progress);
    let turns = log::Turns::default();
    let readings: Vec<(Option<InputFile>, Result<log::LogReading>)> = paths
        .logs
        .par_iter()
        .map(|path| {
            let reading = read_log(paths, path, fleet, &turns);
            count.one_more();
            reading
        })
        .collect();
    let mut all = Logs {
        logs: Vec::new(),
        findings: Vec::new(),
        files: Vec::new(),
        files_lost: false,
    };
    let mut first_error: Option<Error> = None;
    for (path, (file, reading)) in paths.logs.iter().zip(readings) {
        all.files.extend(file);
        match reading {
            Ok(reading) => {
                all.logs.extend(reading.logs);
                all.findings.extend(reading.findings);
            }
            Err(error) => {
                all.findings.push(unusable(paths, path, &error));
                all.files_lost = true;
                first_error.get_or_insert(error);
            }
        }
    }
    match first_error {
        Some(error) if all.logs.is_empty() => Err(error),
        _ => Ok(all),
    }
}

fn read_log(
    paths: &NightPaths,
    path: &Path,
    fleet: &Fleet,
    turns: &log::Turns,
) -> (Option<InputFile>, Result<log::LogReading>) {
    let mut turn = None;
    let mut large = || {
        turn.get_or_insert_with(|| turns.wait());
    };
    if std::fs::metadata(path).is_ok_and(|about| about.len() > log::FREE_BYTES) {
        large();
    }
    let (bytes, file) = match paths::read_file(path, "log", paths.night.as_deref()) {
        Ok(read) => read,
        Err(error) => return (None, Err(error)),
    };
    let zipped = bytes.starts_with(&[0x1f, 0x8b]);
    let reading = log::decode_in_turn(bytes, zipped, &mut large).and_then(|decoded| {
        let mut reading = log::read(&file.name, &decoded.text, fleet)?;
        if let Some(why) = decoded.damage {
            reading.findings.push(damaged(&file.name, why));
        }
        Ok(reading)
    });
    (
        Some(file),
        reading.map_err(|error| {
            if error.path.is_none() {
                error.at(path)
            } else {
                error
            }
        }),
    )
}

fn unusable(paths: &NightPaths, path: &Path, error: &Error) -> Finding {
    let why = match &error.advice {
        Some(advice) => format!("{}\n{advice}", error.message),
        None => error.message.clone(),
    };
    let kind = AboutLog::InputSkipped {
        file: paths::shown_name(path, paths.night.as_deref()),
        line: error.line,
        count: 0,
        why,
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    // A whole log is missing: above remarks on single points.
    finding.weight = 1e6;
    finding
}
