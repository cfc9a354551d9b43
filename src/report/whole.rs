//! Whether the files of an output folder belong together.
//!
//! Files are moved into place one by one, `audit.json` last, and that one holds the digests of the others. A
//! run that is killed between two moves leaves files of two runs: the digests tell.

use crate::input::digest::sha256;
use crate::report::write::lock;
use crate::report::{AUDIT, OWNED};
use serde::Deserialize;
use std::fs;
use std::path::Path;

/// Largest file looked at, bytes: far more than a night's outputs have. What is larger is none of them (limit).
const MOST_BYTES: u64 = 1 << 30;

/// The part of `audit.json` that names the other files.
#[derive(Deserialize)]
struct Listing {
    outputs: Vec<Listed>,
}

#[derive(Deserialize)]
struct Listed {
    name: String,
    bytes: u64,
    sha256: String,
}

/// Names of files in `dir` that are not as the `audit.json` beside them says: of another run, changed since, or
/// gone. Empty where all fit, and where there is no `audit.json` that lists any.
#[must_use]
pub fn misfits(dir: &Path) -> Vec<String> {
    // While another run writes there the files are of two runs, and that one will end it.
    let Ok(_locked) = lock(dir) else {
        return Vec::new();
    };
    let small = |path: &Path| {
        fs::metadata(path).is_ok_and(|about| about.is_file() && about.len() <= MOST_BYTES)
    };
    let audit = dir.join(AUDIT);
    let listing = small(&audit)
        .then(|| fs::read(&audit).ok())
        .flatten()
        .and_then(|bytes| serde_json::from_slice::<Listing>(&bytes).ok());
    let Some(listing) = listing else {
        return Vec::new();
    };
    let fits = |listed: &Listed| {
        let path = dir.join(&listed.name);
        let same_size =
            fs::metadata(&path).is_ok_and(|about| about.is_file() && about.len() == listed.bytes);
        // Size first: most that do not fit differ in it.
        same_size
            && small(&path)
            && fs::read(&path).is_ok_and(|bytes| sha256(&bytes) == listed.sha256)
    };
    let listed = |name: &str| listing.outputs.iter().any(|listed| listed.name == name);
    // A name that is none of the program's is not looked up: the file may come from anywhere.
    let wrong = listing
        .outputs
        .iter()
        .filter(|listed| OWNED.contains(&listed.name.as_str()) && !fits(listed))
        .map(|listed| listed.name.clone());
    let stray = OWNED
        .into_iter()
        .filter(|name| *name != AUDIT && !listed(name) && dir.join(name).is_file())
        .map(str::to_owned);
    wrong.chain(stray).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{sample, write_all};

    fn written() -> tempfile::TempDir {
        let out = tempfile::tempdir().unwrap();
        write_all(out.path(), sample::files(), &OWNED).unwrap();
        out
    }

    #[test]
    fn a_folder_of_one_run_fits() {
        assert_eq!(misfits(written().path()), Vec::<String>::new());
        assert_eq!(misfits(Path::new("/nonexistent")), Vec::<String>::new());
    }

    #[test]
    fn a_file_of_another_run_a_missing_and_a_stray_one_are_named() {
        let out = written();
        fs::write(out.path().join("zones.csv"), "of another run").unwrap();
        fs::remove_file(out.path().join("touchup.gpx")).unwrap();
        fs::write(out.path().join("strips.json"), "[]").unwrap();
        assert_eq!(
            misfits(out.path()),
            ["zones.csv", "touchup.gpx", "strips.json"]
        );
    }

    #[test]
    fn names_that_are_none_of_ours_are_not_looked_up() {
        let out = tempfile::tempdir().unwrap();
        let text = r#"{"outputs":[{"name":"../secret","bytes":1,"sha256":""}]}"#;
        fs::write(out.path().join(AUDIT), text).unwrap();
        assert!(misfits(out.path()).is_empty());
        fs::write(out.path().join(AUDIT), "{}").unwrap();
        assert!(misfits(out.path()).is_empty());
    }
}
