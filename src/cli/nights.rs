//! The files of a night on the command line, for the commands that make records of it.

use super::flags::{EpsgCode, NightFlags};
use super::progress::Bar;
use crate::audit::{self, Gathered, Settings};
use crate::error::{Error, Result};
use crate::geometry::place::Instant;
use crate::input::paths::{self, NightPaths};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(super) struct NightArguments {
    /// Night folder with fleet.toml, sites.geojson, logs/ and, where there are any, orders.csv. Its intake.json is kept there.
    night: PathBuf,
    #[command(flatten)]
    files: NightFlags,
}

impl NightArguments {
    /// The night in this folder, without any other file.
    pub(super) fn of(night: PathBuf, sites_crs: Option<EpsgCode>) -> Self {
        Self {
            night,
            files: NightFlags::bare(sites_crs),
        }
    }

    pub(super) fn folder(&self) -> &std::path::Path {
        &self.night
    }

    pub(super) fn paths(&self) -> Result<NightPaths> {
        self.files.paths(Some(&self.night))
    }

    /// A night of these, read and followed, with a progress bar.
    pub(super) fn gather(&self, paths: &NightPaths) -> Result<Gathered> {
        let bar = Bar::default();
        let settings = Settings {
            sites_epsg: self.files.ground.epsg(),
            ..Settings::default()
        };
        let night = audit::gather(paths, settings, &|what, done, of| bar.show(what, done, of));
        bar.clear();
        night
    }
}

/// The moment at which the command runs.
pub(super) fn now() -> Instant {
    Instant(jiff::Timestamp::now().as_microsecond())
}

/// A day as `2026-01-12`.
pub(super) fn day(text: &str) -> std::result::Result<String, String> {
    let date: jiff::civil::Date = text
        .parse()
        .map_err(|_| format!("expected a day such as 2026-01-12, found {text:?}"))?;
    Ok(date.to_string())
}

/// Refuses a folder that lies in the night's own: the next record would find itself there.
pub(super) fn check_out(paths: &NightPaths, out: &std::path::Path) -> Result<()> {
    paths::check_out(paths, out, &[]).map_err(|error| Error {
        advice: Some("Name another folder for --out.".into()),
        ..error
    })
}
