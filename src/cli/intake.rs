//! `swathbook intake`: digests of a night's files at download.

use super::Exit;
use super::finish::finish_page;
use super::nights::{NightArguments, now};
use crate::error::Result;
use crate::input::digest::InputFile;
use crate::input::paths::{self, NightPaths};
use crate::record::intake::{self, By, Intake};
use crate::report;

#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    night: NightArguments,
}

/// Runs the command.
///
/// # Errors
/// When a file cannot be read, or was changed since an earlier intake.
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    let folder = arguments.night.folder();
    let files = files(&arguments.night.paths()?)?;
    let intake = match intake::read(folder)? {
        None => intake::take(&files, now(), By::Intake)?,
        Some(mut intake) => {
            intake.add(&files, now());
            intake.check(&files)?;
            intake
        }
    };
    write(folder, &intake)?;
    let page = format!(
        "{} files in {}. Keep a copy of {} where only you can read it: its secret opens the digests of all records of this night.\n",
        intake.files.len(),
        folder.display(),
        intake::FILE
    );
    finish_page(&page, false)
}

/// Every file of a night, read and described.
fn files(paths: &NightPaths) -> Result<Vec<InputFile>> {
    let night = paths.night.as_deref();
    let one =
        |path: &std::path::Path, role| paths::read_file(path, role, night).map(|(_, file)| file);
    let mut files = vec![one(&paths.fleet, "fleet")?, one(&paths.sites, "sites")?];
    if let Some(path) = &paths.orders {
        files.push(one(path, "orders")?);
    }
    for path in &paths.logs {
        files.push(one(path, "log")?);
    }
    Ok(files)
}

/// Writes a night's intake, readable for its owner only.
pub(super) fn write(folder: &std::path::Path, intake: &Intake) -> Result<()> {
    report::write::write_private(folder, intake::FILE, &intake.write())
}
