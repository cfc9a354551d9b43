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

/// How much is read.
#[derive(Clone, Copy)]
struct Limits {
    /// Of a file of the evidence, bytes.
    evidence_bytes: u64,
    /// Of any other file, bytes.
    other_bytes: u64,
    /// Of all together, bytes.
    total_bytes: u64,
}

const LIMITS: Limits = Limits {
    evidence_bytes: MOST_BYTES,
    other_bytes: MOST_OTHER_BYTES,
    total_bytes: MOST_TOTAL_BYTES,
};
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
    read_within(path, LIMITS)
}

fn read_within(path: &Path, limits: Limits) -> Result<Folder> {
    let failed =
        |cause: std::io::Error| Error::new(format!("the folder cannot be read: {cause}")).at(path);
    if !fs::metadata(path).map_err(failed)?.is_dir() {
        return Err(
            Error::new("expected the folder of a service record, found a file")
                .at(path)
                .advice("Unpack an archive first, then name the folder in it."),
        );
    }
    let mut folder = Folder::default();
    walk(path, "", DEEPEST, limits, &mut folder).map_err(failed)?;
    Ok(folder)
}

fn walk(
    path: &Path,
    prefix: &str,
    depth: usize,
    limits: Limits,
    folder: &mut Folder,
) -> std::io::Result<()> {
    // No more are listed than are looked at. By name: which files fit under a limit is not the file system's to choose.
    let entries = fs::read_dir(path)?.take(MOST_ENTRIES + 1);
    let mut entries: Vec<fs::DirEntry> = entries.collect::<std::io::Result<_>>()?;
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
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
            let prefix = format!("{name}/");
            walk(&entry.path(), &prefix, depth - 1, limits, folder)?;
            if folder.names().count() == before {
                folder.unread.insert(name, "an empty folder".to_owned());
            }
        } else if kind.is_file() && !named::belongs(&name) {
            folder.strangers.insert(name);
        } else if kind.is_file() {
            add(folder, name, &entry.path(), limits);
        } else {
            let what = if kind.is_symlink() {
                "a link, which is not followed"
            } else {
                "neither a file nor a folder of a record"
            };
            folder.unread.insert(name, what.to_owned());
        }
    }
    Ok(())
}

fn add(folder: &mut Folder, name: String, path: &Path, limits: Limits) {
    let most = if name.starts_with(crate::record::make::EVIDENCE) {
        limits.evidence_bytes
    } else {
        limits.other_bytes
    };
    let left = limits.total_bytes - folder.total_bytes;
    match bytes(path, most.min(left)) {
        Ok(Some(bytes)) => {
            folder.total_bytes += bytes.len() as u64;
            folder.files.insert(name, bytes);
        }
        Ok(None) => {
            let why = if left < most {
                format!(
                    "all files together are larger than {} MiB",
                    limits.total_bytes >> 20
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::make::EVIDENCE;

    /// A folder whose evidence takes 3, 2, 2 and 4 MiB and whose figures take 1, without the bytes on the disk.
    fn large() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir_all(folder.path().join(EVIDENCE)).unwrap();
        let sizes = [
            ("fixes.csv", 3_u64),
            ("ground.json", 2),
            ("settings.json", 2),
            ("spans.csv", 4),
        ];
        let evidence = sizes.map(|(name, mib)| (format!("{EVIDENCE}{name}"), mib));
        let figures = ("data/service-record.json".to_owned(), 1);
        for (name, mib) in evidence.into_iter().chain([figures]) {
            let file = fs::File::create(folder.path().join(name)).unwrap();
            file.set_len(mib << 20).unwrap();
        }
        folder
    }

    fn unread(limits: [u64; 3]) -> Vec<String> {
        let [evidence, other, total] = limits.map(|mib| mib << 20);
        let limits = Limits {
            evidence_bytes: evidence,
            other_bytes: other,
            total_bytes: total,
        };
        let folder = read_within(large().path(), limits).unwrap();
        assert!(folder.total_bytes <= total, "{}", folder.total_bytes);
        let held: usize = folder.files.values().map(Vec::len).sum();
        assert_eq!(held as u64, folder.total_bytes);
        folder.unread().collect()
    }

    #[test]
    fn a_file_over_its_own_limit_is_named_and_not_read() {
        assert_eq!(unread([4, 1, 20]), [""; 0]);
        assert_eq!(
            unread([3, 1, 20]),
            ["data/evidence/1/spans.csv: larger than 3 MiB"]
        );
        assert_eq!(
            unread([4, 0, 20]),
            ["data/service-record.json: larger than 0 MiB"]
        );
    }

    /// Each fits alone; in the order of their names they fit until the sum is reached, and smaller ones after it still do.
    #[test]
    fn files_that_are_too_large_together_are_named_and_not_read() {
        assert_eq!(unread([4, 1, 12]), [""; 0]);
        assert_eq!(
            unread([4, 1, 11]),
            ["data/service-record.json: all files together are larger than 11 MiB"]
        );
        assert_eq!(
            unread([4, 1, 8]),
            ["data/evidence/1/spans.csv: all files together are larger than 8 MiB"]
        );
    }

    /// A folder of more files than a record can have is not listed to its end.
    #[test]
    fn a_folder_of_very_many_files_is_given_up() {
        let folder = tempfile::tempdir().unwrap();
        for number in 0..MOST_ENTRIES + 100 {
            fs::write(folder.path().join(format!("{number}.txt")), "").unwrap();
        }
        let read = read(folder.path()).unwrap();
        assert_eq!(read.names().count(), MOST_ENTRIES + 1);
        let why: Vec<String> = read.unread().collect();
        assert!(
            why.len() == 1 && why[0].contains("more than 1000 files"),
            "{why:?}"
        );
    }
}
