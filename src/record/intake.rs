//! `intake.json`: the night's files as they were when they were downloaded, and the secret from which the salts of all
//! its records come.
//!
//! It stays with the night. Whoever has the secret and the files can open every digest that the records hold; without
//! it nobody can, the contractor included.

use super::evidence::pretty;
use crate::error::{Error, Result};
use crate::geometry::place::Instant;
use crate::input::digest::InputFile;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Name of the file in a night folder.
pub const FILE: &str = "intake.json";
const FORMAT: &str = "swathbook-intake/1";
/// Largest intake file, bytes: a thousand logs have 300 kB (limit).
const MOST_BYTES: u64 = 16 << 20;

/// The files of a night at intake.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Intake {
    format: String,
    /// When it was made.
    pub made: Instant,
    /// The command that made it.
    pub by: By,
    /// 32 bytes in hexadecimal.
    pub secret: String,
    /// By role, then name.
    pub files: Vec<Taken>,
}

/// The command that made an intake.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum By {
    /// `swathbook intake`, to be run at download.
    Intake,
    /// `swathbook record`, since there was none.
    Record,
}

/// One file at intake.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Taken {
    /// `fleet`, `sites`, `orders` or `log`.
    pub role: String,
    /// Name relative to the night folder.
    pub name: String,
    /// Size as stored.
    pub bytes: u64,
    /// SHA-256 of the bytes as stored, without salt.
    pub sha256: String,
    /// When it was taken in.
    pub taken: Instant,
}

/// A new intake of these files.
///
/// # Errors
/// When the system has no random numbers to give.
pub fn take(files: &[InputFile], now: Instant, by: By) -> Result<Intake> {
    let mut secret = [0; 32];
    getrandom::fill(&mut secret).map_err(|cause| {
        Error::new(format!("the system has no random numbers to give: {cause}"))
    })?;
    let mut intake = Intake {
        format: FORMAT.to_owned(),
        made: now,
        by,
        secret: crate::input::digest::hex(&secret),
        files: Vec::new(),
    };
    intake.add(files, now);
    Ok(intake)
}

impl Intake {
    /// Adds files that came later; those that are known stay as they were.
    pub fn add(&mut self, files: &[InputFile], now: Instant) {
        for file in files {
            if self.of(file).is_none() {
                self.files.push(Taken {
                    role: file.role.to_owned(),
                    name: file.name.clone(),
                    bytes: file.bytes,
                    sha256: file.sha256.clone(),
                    taken: now,
                });
            }
        }
        self.files
            .sort_by(|a, b| (&a.role, &a.name).cmp(&(&b.role, &b.name)));
    }

    fn of(&self, file: &InputFile) -> Option<&Taken> {
        let mut files = self.files.iter();
        files.find(|taken| taken.role == file.role && taken.name == file.name)
    }

    /// When the last of some files, each a role and a name, was taken in.
    #[must_use]
    pub fn last_of<'a>(&self, files: impl Iterator<Item = (&'a str, &'a str)>) -> Instant {
        let taken = files.filter_map(|(role, name)| {
            let mut taken = self.files.iter();
            taken.find(|taken| taken.role == role && taken.name == name)
        });
        let last = taken.map(|taken| taken.taken).max();
        last.unwrap_or(self.made)
    }

    /// Checks that these files are as they were.
    ///
    /// # Errors
    /// A file that was changed since, or that came since.
    pub fn check(&self, files: &[InputFile]) -> Result<()> {
        for file in files {
            match self.of(file) {
                None => {
                    return Err(Error::new("the file came after the night's intake")
                        .at(&file.name)
                        .advice("Run `swathbook intake` again: it adds new files and leaves the others as they are."));
                }
                Some(taken) if taken.sha256 != file.sha256 => {
                    return Err(Error::new("the file was changed since the night's intake")
                        .at(&file.name)
                        .advice("Restore the file as it was downloaded. A record rests on the files taken in."));
                }
                Some(_) => {}
            }
        }
        Ok(())
    }

    /// The secret's bytes.
    ///
    /// # Errors
    /// When they are not 32 in hexadecimal.
    pub fn secret(&self) -> Result<[u8; 32]> {
        super::commit::bytes(&self.secret)
            .ok_or_else(|| Error::new("the secret is not 32 bytes in hexadecimal").at(FILE))
    }

    /// The bytes of the file.
    #[must_use]
    pub fn write(&self) -> Vec<u8> {
        pretty(self)
    }
}

/// The intake of a night; `None` where there is none.
///
/// # Errors
/// A file that is not an intake, or one of a later version.
pub fn read(night: &Path) -> Result<Option<Intake>> {
    let path = night.join(FILE);
    let about = match std::fs::symlink_metadata(&path) {
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(cause) => return Err(Error::new(format!("the file cannot be read: {cause}")).at(&path)),
        Ok(about) => about,
    };
    if !about.is_file() || about.len() > MOST_BYTES {
        return Err(Error::new("expected the night's intake, a small file").at(&path));
    }
    let bytes = std::fs::read(&path)
        .map_err(|cause| Error::new(format!("the file cannot be read: {cause}")).at(&path))?;
    let intake: Intake = serde_json::from_slice(&bytes).map_err(|cause| {
        Error::new(format!("this is not an intake: {cause}"))
            .at(&path)
            .advice("Restore it from a backup: without its secret the digests of earlier records cannot be opened.")
    })?;
    if intake.format != FORMAT {
        return Err(Error::new(format!("expected {FORMAT}, found {:?}", intake.format)).at(&path));
    }
    intake.secret().map_err(|error| error.at(&path))?;
    Ok(Some(intake))
}
