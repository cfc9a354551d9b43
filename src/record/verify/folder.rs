//! The files of a folder that anybody may have made: listed without following a link, read under limits.

use super::named;
use crate::error::{Error, Result};
use crate::notation::clean;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read as _;
use std::path::Path;

/// Largest file that is read, bytes: the evidence of 2,000,000 fixes has 300 MB (limit).
const MOST_BYTES: u64 = 320 << 20;
/// Largest file of any other name, bytes (limit).
const MOST_OTHER_BYTES: u64 = 64 << 20;
/// Most bytes of all files together: nobody's folder makes its reader's machine run out of memory (limit).
const MOST_TOTAL_BYTES: u64 = 512 << 20;
/// Most files and folders in it (limit).
const MOST_ENTRIES: usize = 1000;
/// Deepest folder in it: `data/evidence/1` (limit).
const DEEPEST: usize = 4;

/// What lies in a folder.
#[derive(Debug, Default)]
pub struct Folder {
    files: BTreeMap<String, Vec<u8>>,
    /// What is there and was not read, with the reason.
    unread: BTreeMap<String, String>,
    /// Files that no record has: they are named, never read.
    strangers: BTreeSet<String>,
    /// Bytes of all that was read.
    total_bytes: u64,
}

impl Folder {
    /// Names of all files, those that were not read too.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let unread = self.unread.keys().chain(&self.strangers);
        self.files.keys().chain(unread).map(String::as_str)
    }

    /// Names of files that do not belong to a record.
    pub fn strangers(&self) -> impl Iterator<Item = &str> {
        self.strangers.iter().map(String::as_str)
    }

    /// Whether a file of this name is there.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.files.contains_key(name) || self.unread.contains_key(name)
    }

    /// The bytes of a file.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&Vec<u8>> {
        self.files.get(name)
    }

    /// The bytes of a file that must be there.
    ///
    /// # Errors
    /// Why it cannot be used, as a sentence.
    pub fn wanted(&self, name: &str) -> std::result::Result<&[u8], String> {
        match (self.files.get(name), self.unread.get(name)) {
            (Some(bytes), _) => Ok(bytes),
            (None, Some(why)) => Err(format!("{name}: {why}")),
            (None, None) => Err(format!("{name} is missing")),
        }
    }

    /// Why some files were not read.
    pub fn unread(&self) -> impl Iterator<Item = String> {
        let unread = self.unread.iter();
        unread.map(|(name, why)| format!("{}: {why}", clean(name)))
    }
}

/// Reads the files of a record in a folder; of others only the names.
///
/// # Errors
/// When it is none, or cannot be read.
pub fn read(path: &Path) -> Result<Folder> {
    let failed =
        |cause: std::io::Error| Error::new(format!("the folder cannot be read: {cause}")).at(path);
    if !fs::metadata(path).map_err(failed)?.is_dir() {
        return Err(
            Error::new("expected the folder of a service record, found a file")
                .at(path)
                .advice("If it is an archive, unpack it and name the folder inside."),
        );
    }
    let mut folder = Folder::default();
    walk(path, "", DEEPEST, &mut folder).map_err(failed)?;
    Ok(folder)
}

fn walk(path: &Path, prefix: &str, depth: usize, folder: &mut Folder) -> std::io::Result<()> {
    for entry in fs::read_dir(path)? {
        let entry = entry?;
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if folder.names().count() >= MOST_ENTRIES {
            let why = format!("the folder has more than {MOST_ENTRIES} files");
            folder.unread.insert(name, why);
            return Ok(());
        }
        // Not followed: a link says nothing of the record.
        let kind = entry.file_type()?;
        if kind.is_dir() && depth > 0 {
            let before = folder.names().count();
            walk(&entry.path(), &format!("{name}/"), depth - 1, folder)?;
            if folder.names().count() == before {
                folder.unread.insert(name, "an empty folder".to_owned());
            }
        } else if kind.is_file() && !named::belongs(&name) {
            folder.strangers.insert(name);
        } else if kind.is_file() {
            add(folder, name, &entry.path());
        } else {
            let what = if kind.is_symlink() {
                "a link; links are not followed"
            } else {
                "neither a file nor a folder of a record"
            };
            folder.unread.insert(name, what.to_owned());
        }
    }
    Ok(())
}

fn add(folder: &mut Folder, name: String, path: &Path) {
    let most = if name.starts_with(super::super::make::EVIDENCE) {
        MOST_BYTES
    } else {
        MOST_OTHER_BYTES
    };
    let left = MOST_TOTAL_BYTES - folder.total_bytes;
    match bytes(path, most.min(left)) {
        Ok(Some(bytes)) => {
            folder.total_bytes += bytes.len() as u64;
            folder.files.insert(name, bytes);
        }
        Ok(None) => {
            let why = if left < most {
                format!(
                    "all files together are larger than {} MiB",
                    MOST_TOTAL_BYTES >> 20
                )
            } else {
                format!("larger than {} MiB", most >> 20)
            };
            folder.unread.insert(name, why);
        }
        Err(cause) => {
            folder
                .unread
                .insert(name, format!("it cannot be read: {cause}"));
        }
    }
}

/// The bytes of a file; `None` where it is larger than this.
fn bytes(path: &Path, most: u64) -> std::io::Result<Option<Vec<u8>>> {
    if fs::symlink_metadata(path)?.len() > most {
        return Ok(None);
    }
    let mut bytes = Vec::new();
    let file = fs::File::open(path)?;
    file.take(most + 1).read_to_end(&mut bytes)?;
    Ok((bytes.len() as u64 <= most).then_some(bytes))
}
