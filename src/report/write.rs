//! Files on disk, whole or not at all: everything is written beside its place first and moved into
//! place at the end; what was there before comes back if a move fails.
//!
//! One run at a time writes into a folder: a lock on it keeps another out, so that it never holds
//! files of two runs. What a run left that was cut short (power, Ctrl-C) is cleared away by the next,
//! and files that it had set aside come back first.

use crate::error::{Error, Result};
use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::{NamedTempFile, TempDir};

/// Passing names begin with this; a dot hides them from file managers.
const PASSING: &str = ".swathbook-";
/// Ending of the folder that holds what was there before.
const ATTIC: &str = "-former";

/// Writes the files into `dir`, which is made if need be, in their order. What an earlier run left under a name
/// in `owned` goes, also where this run writes no such file; files of other names are left alone.
///
/// # Errors
///
/// If the folder or a file cannot be made, written or replaced, or another run is writing there. The
/// folder then holds what it held before.
pub fn write_all<N: AsRef<str>>(
    dir: &Path,
    files: Vec<(N, Vec<u8>)>,
    owned: &[impl AsRef<str>],
) -> Result<()> {
    let made = make_dir(dir)?;
    let written = lock(dir).and_then(|_locked| {
        clear_leavings(dir)?;
        stage(dir, &files).and_then(|staged| put_in_place(dir, staged, owned))
    });
    if written.is_err() && made {
        // Only an empty folder goes; whatever else came into it meanwhile stays.
        let _ = fs::remove_dir(dir);
    }
    written
}

/// Does some work on `dir`, which is made if need be, while no other run writes there.
///
/// # Errors
/// If the folder cannot be made, another run is writing there, or the work fails.
pub fn alone<T>(dir: &Path, work: impl FnOnce() -> Result<T>) -> Result<T> {
    make_dir(dir)?;
    let _locked = lock(dir)?;
    clear_leavings(dir)?;
    work()
}

/// Writes one file that only its owner may read, in place of any of its name.
///
/// # Errors
/// If the folder or the file cannot be made or replaced.
pub fn write_private(dir: &Path, name: &str, bytes: &[u8]) -> Result<()> {
    let failed_at =
        |error: &io::Error| failed("the file cannot be written", &dir.join(name), error);
    make_dir(dir)?;
    // The mode of a temporary file: 0600.
    let mut file = tempfile::Builder::new()
        .prefix(PASSING)
        .tempfile_in(dir)
        .map_err(|error| failed_at(&error))?;
    let written = file
        .write_all(bytes)
        .and_then(|()| file.as_file().sync_all());
    written.map_err(|error| failed_at(&error))?;
    file.persist(dir.join(name))
        .map_err(|error| failed_at(&error.error))?;
    Ok(())
}

/// Writes a folder of files into `dir`, whole or not at all; nothing of its name may be there. Names of the files may
/// have folders in them, with `/`.
///
/// # Errors
/// If something of that name is there, or a file cannot be written.
pub fn write_folder(dir: &Path, name: &str, files: &[(String, Vec<u8>)]) -> Result<()> {
    make_dir(dir)?;
    let target = dir.join(name);
    let failed_at = |error: &io::Error| failed("the folder cannot be written", &target, error);
    if target.symlink_metadata().is_ok() {
        return Err(Error::new("something of this name is already there").at(&target));
    }
    let staged = tempfile::Builder::new()
        .prefix(PASSING)
        .tempdir_in(dir)
        .map_err(|error| failed_at(&error))?;
    for (name, bytes) in files {
        write_in(&staged.path().join(name), bytes).map_err(|error| failed_at(&error))?;
    }
    open_to_others(staged.path()).map_err(|error| failed_at(&error))?;
    fs::rename(staged.path(), &target).map_err(|error| failed_at(&error))?;
    // What it held has moved: there is nothing to clear away.
    let _ = staged.keep();
    Ok(())
}

fn write_in(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut file = File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// A folder made for passing is its owner's only; a record is for others to read.
fn open_to_others(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(folder, fs::Permissions::from_mode(0o755))?;
    }
    Ok(())
}

/// Keeps other runs out until the handle is dropped; `None` where folders cannot be locked: the files
/// are still moved in whole.
pub(super) fn lock(dir: &Path) -> Result<Option<File>> {
    let Ok(folder) = File::open(dir) else {
        return Ok(None);
    };
    match folder.try_lock() {
        Ok(()) => Ok(Some(folder)),
        Err(TryLockError::WouldBlock) => Err(Error::new("another run is writing here")
            .at(dir)
            .advice("Wait until it has ended, or name another output folder.")),
        Err(TryLockError::Error(_)) => Ok(None),
    }
}

/// Removes what a run that was cut short left behind; files that it had set aside come back where
/// nothing took their place.
fn clear_leavings(dir: &Path) -> Result<()> {
    let unreadable = |error: io::Error| failed("the output folder cannot be read", dir, &error);
    for entry in fs::read_dir(dir).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if !name.starts_with(PASSING) {
            continue;
        }
        if path.is_dir() && name.ends_with(ATTIC) {
            restore(&path, dir);
        }
        if path.is_dir() {
            let _ = fs::remove_dir_all(&path);
        } else {
            let _ = fs::remove_file(&path);
        }
    }
    Ok(())
}

/// Failures are passed over: a file that cannot come back is about to be written anew.
fn restore(attic: &Path, dir: &Path) {
    for former in fs::read_dir(attic).into_iter().flatten().flatten() {
        let target = dir.join(former.file_name());
        if !target.exists() {
            let _ = fs::rename(former.path(), target);
        }
    }
}

/// Says whether the folder had to be made.
fn make_dir(dir: &Path) -> Result<bool> {
    if dir.is_dir() {
        return Ok(false);
    }
    if dir.exists() {
        return Err(Error::new("expected a folder for the output, found a file")
            .at(dir)
            .advice("Name another folder, or move the file away."));
    }
    fs::create_dir_all(dir)
        .map_err(|error| failed("the output folder cannot be made", dir, &error))?;
    Ok(true)
}

/// A file written and synced under a passing name, and where it belongs.
struct Staged {
    file: NamedTempFile,
    target: PathBuf,
}

fn stage(dir: &Path, files: &[(impl AsRef<str>, Vec<u8>)]) -> Result<Vec<Staged>> {
    let mut staged = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        let target = dir.join(name.as_ref());
        if target.is_dir() {
            return Err(Error::new("expected a file to replace, found a folder")
                .at(&target)
                .advice("Move the folder away, or name another output folder."));
        }
        let file = write_beside(dir, bytes)
            .map_err(|error| failed("the file cannot be written", &target, &error))?;
        staged.push(Staged { file, target });
    }
    Ok(staged)
}

fn write_beside(dir: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PASSING);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // A report is for others to read: what the user's umask allows, not the 0600 of a
        // temporary file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(dir)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    Ok(file)
}

fn put_in_place(dir: &Path, staged: Vec<Staged>, owned: &[impl AsRef<str>]) -> Result<()> {
    let attic = tempfile::Builder::new()
        .prefix(PASSING)
        .suffix(ATTIC)
        .tempdir_in(dir)
        .map_err(|error| failed("the output folder cannot be written", dir, &error))?;
    let mut done: Vec<(PathBuf, Option<PathBuf>)> = Vec::with_capacity(staged.len());
    let leftover = owned.iter().map(|name| dir.join(name.as_ref()));
    // A folder of that name is nobody's report.
    let leftover =
        leftover.filter(|path| !path.is_dir() && staged.iter().all(|new| new.target != *path));
    for target in leftover {
        match set_aside(&attic, &target) {
            Ok(None) => {}
            Ok(former) => done.push((target, former)),
            Err(error) => {
                bring_back(&done);
                return Err(failed("the file cannot be set aside", &target, &error));
            }
        }
    }
    for Staged { file, target } in staged {
        let moved = set_aside(&attic, &target).and_then(|former| {
            done.push((target.clone(), former));
            file.persist(&target).map_err(|error| error.error)
        });
        if let Err(error) = moved {
            bring_back(&done);
            return Err(failed("the file cannot be put in place", &target, &error));
        }
    }
    Ok(())
}

/// Moves what stands at `target` into the attic; `None` when there was nothing.
fn set_aside(attic: &TempDir, target: &Path) -> io::Result<Option<PathBuf>> {
    let kept = attic.path().join(target.file_name().unwrap_or_default());
    match fs::rename(target, &kept) {
        Ok(()) => Ok(Some(kept)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}

/// Undoes the moves. Failures here are passed over: the first error is the one to report.
fn bring_back(done: &[(PathBuf, Option<PathBuf>)]) {
    for (target, former) in done {
        let _ = match former {
            Some(former) => fs::rename(former, target),
            None => fs::remove_file(target),
        };
    }
}

fn failed(what: &str, path: &Path, error: &io::Error) -> Error {
    Error::new(format!("{what}: {error}"))
        .at(path)
        .advice("Check the folder's permissions and the free space, or name another output folder.")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Owns no names.
    const NONE: [&str; 0] = [];

    fn names(dir: &Path) -> Vec<String> {
        let entries = fs::read_dir(dir).expect("a folder");
        let mut names: Vec<String> = entries
            .map(|entry| {
                entry
                    .expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }

    fn file(name: &str, text: &str) -> (&'static str, Vec<u8>) {
        let name = if name == "a" { "a.json" } else { "b.csv" };
        (name, text.as_bytes().to_vec())
    }

    #[test]
    fn files_appear_under_their_names_and_replace_older_ones() {
        let night = tempfile::tempdir().expect("a folder");
        let out = night.path().join("deep/out");
        write_all(&out, vec![file("a", "old"), file("b", "old")], &NONE).expect("written");
        write_all(&out, vec![file("a", "new")], &NONE).expect("written again");
        assert_eq!(names(&out), ["a.json", "b.csv"]);
        assert_eq!(
            fs::read_to_string(out.join("a.json")).expect("a file"),
            "new"
        );
        assert_eq!(
            fs::read_to_string(out.join("b.csv")).expect("a file"),
            "old"
        );
    }

    #[test]
    fn what_an_earlier_run_left_under_a_name_of_ours_goes() {
        let night = tempfile::tempdir().expect("a folder");
        let dir = night.path();
        fs::write(dir.join("notes.txt"), "mine").expect("written");
        fs::write(dir.join("b.csv"), "old").expect("written");
        write_all(dir, vec![file("a", "new")], &["a.json", "b.csv"]).expect("written");
        assert_eq!(names(dir), ["a.json", "notes.txt"]);
    }

    #[test]
    fn a_leftover_comes_back_when_a_move_fails() {
        let night = tempfile::tempdir().expect("a folder");
        let dir = night.path();
        fs::write(dir.join("b.csv"), "old").expect("written");
        let staged = Staged {
            file: write_beside(dir, b"new").expect("staged"),
            target: dir.join("missing/a.json"),
        };
        put_in_place(dir, vec![staged], &["b.csv"]).expect_err("no such folder");
        assert_eq!(
            fs::read_to_string(dir.join("b.csv")).expect("a file"),
            "old"
        );
    }

    #[test]
    fn a_file_in_place_of_the_folder_is_a_clear_error() {
        let night = tempfile::tempdir().expect("a folder");
        let out = night.path().join("out");
        fs::write(&out, "notes").expect("written");
        let error = write_all(&out, vec![file("a", "new")], &NONE).expect_err("no folder there");
        let text = error.to_string();
        assert!(
            text.contains("out: expected a folder for the output, found a file"),
            "{text}"
        );
        assert_eq!(fs::read_to_string(&out).expect("still there"), "notes");
    }

    #[test]
    fn nothing_changes_when_one_file_cannot_be_written() {
        let night = tempfile::tempdir().expect("a folder");
        let out = night.path().join("out");
        write_all(&out, vec![file("a", "old")], &NONE).expect("written");
        fs::create_dir(out.join("b.csv")).expect("made");
        let files = vec![file("a", "new"), file("b", "new")];
        let error = write_all(&out, files, &NONE).expect_err("a folder is in the way");
        assert!(
            error
                .to_string()
                .contains("b.csv: expected a file to replace, found a folder")
        );
        assert_eq!(
            fs::read_to_string(out.join("a.json")).expect("a file"),
            "old"
        );
        assert_eq!(names(&out), ["a.json", "b.csv"]);
    }

    #[test]
    fn former_files_come_back_when_a_later_move_fails() {
        let night = tempfile::tempdir().expect("a folder");
        let dir = night.path();
        fs::write(dir.join("a.json"), "old").expect("written");
        // The second target lies in a folder that is not there, so that its move must fail.
        let staged = ["a.json", "missing/b.csv"].map(|name| Staged {
            file: write_beside(dir, b"new").expect("staged"),
            target: dir.join(name),
        });
        put_in_place(dir, staged.into(), &NONE).expect_err("the second move fails");
        assert_eq!(
            fs::read_to_string(dir.join("a.json")).expect("a file"),
            "old"
        );
        assert_eq!(names(dir), ["a.json"]);
    }

    #[test]
    fn a_second_run_waits_its_turn_with_a_clear_error() {
        let night = tempfile::tempdir().expect("a folder");
        let first = lock(night.path()).expect("locked");
        let error = write_all(night.path(), vec![file("a", "new")], &NONE).expect_err("locked out");
        assert!(error.to_string().contains("another run is writing here"));
        assert!(names(night.path()).is_empty());
        drop(first);
        write_all(night.path(), vec![file("a", "new")], &NONE).expect("free again");
    }

    #[test]
    fn what_a_run_cut_short_left_behind_is_cleared_and_former_files_come_back() {
        let night = tempfile::tempdir().expect("a folder");
        let dir = night.path();
        // Cut short after `b.csv` was set aside, before its new one was moved in.
        let attic = dir.join(".swathbook-x-former");
        fs::create_dir(&attic).expect("made");
        fs::write(attic.join("b.csv"), "old").expect("written");
        fs::write(attic.join("a.json"), "older").expect("written");
        fs::write(dir.join("a.json"), "in place").expect("written");
        fs::write(dir.join(".swathbook-half"), "half").expect("written");
        clear_leavings(dir).expect("cleared");
        assert_eq!(names(dir), ["a.json", "b.csv"]);
        let text = |name: &str| fs::read_to_string(dir.join(name)).expect("a file");
        assert_eq!(
            (text("a.json"), text("b.csv")),
            ("in place".into(), "old".into())
        );
    }

    #[test]
    fn a_folder_made_for_nothing_goes_again() {
        let night = tempfile::tempdir().expect("a folder");
        let out = night.path().join("out");
        write_all(&out, vec![("missing/a.json", b"new".to_vec())], &NONE)
            .expect_err("no such folder");
        assert!(!out.exists());
    }
}
