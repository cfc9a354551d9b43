//! `swathbook new`: the smallest night there is, to start from.

use super::Exit;
use super::finish::finish_page;
use crate::error::{Error, Result};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// The files of the night and their texts. The README shows them too; a test holds the two together.
pub(super) const FILES: [(&str, &str); 4] = [
    ("fleet.toml", include_str!("new/fleet.toml")),
    ("sites.geojson", include_str!("new/sites.geojson")),
    ("orders.csv", include_str!("new/orders.csv")),
    ("logs/north.gpx", include_str!("new/north.gpx")),
];

/// What `new` takes.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Folder to create; it must be missing or empty.
    dir: PathBuf,
}

/// Runs the command.
///
/// # Errors
/// A folder that holds something already, or that cannot be made or written.
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    let dir = &arguments.dir;
    if fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some()) || dir.is_file() {
        return Err(
            Error::new("expected a folder that is empty or not there yet")
                .at(dir)
                .advice("Name another one."),
        );
    }
    for (name, text) in FILES {
        let path = dir.join(name);
        write(&path, text).map_err(|cause| {
            Error::new(format!("the file cannot be written: {cause}"))
                .at(&path)
                .advice("Check the folder's permissions and the free space.")
        })?;
    }
    let page = format!(
        "Made a night of one rig, one lot and one order. Audit it:\n  swathbook audit {0} --out {0}/out\n\
         Then put your own rigs, sites and logs in the place of these.\n",
        dir.display()
    );
    finish_page(&page, false)
}

/// Writes a file that is not there, and makes its folders.
fn write(path: &Path, text: &str) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    // Whatever came there meanwhile is not written over.
    let mut file = fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)?;
    file.write_all(text.as_bytes())
}
