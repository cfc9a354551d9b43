//! Outcomes of nights kept in a file, a line of JSON each: a long run may be cut short and goes on where it stopped, and two
//! builds' outcomes on the same nights can be laid side by side.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;
use std::sync::Mutex;

use crate::classes::Class;
use crate::table::Row;

/// A file of outcomes: those it had, and where new ones go.
pub(crate) struct Stored {
    had: HashMap<(&'static str, u64), Row>,
    file: Mutex<File>,
}

impl Stored {
    /// Opens or begins a file.
    pub(crate) fn open(path: &Path) -> Result<Self, String> {
        let told = |error: std::io::Error| format!("{}: {error}", path.display());
        let had = match path.exists() {
            true => read(path)?,
            false => Vec::new(),
        };
        let file = OpenOptions::new().append(true).create(true).open(path);
        Ok(Self {
            had: had
                .into_iter()
                .map(|row| ((row.class.name(), row.seed), row))
                .collect(),
            file: Mutex::new(file.map_err(told)?),
        })
    }

    /// The outcome of a night: the one that the file has, else the one that `make` finds, which is put there.
    pub(crate) fn row(&self, class: Class, seed: u64, make: impl FnOnce() -> Row) -> Row {
        if let Some(row) = self.had.get(&(class.name(), seed)) {
            return row.clone();
        }
        let row = make();
        let mut line = serde_json::to_string(&row).expect("a row has no maps with odd keys");
        line.push('\n');
        let mut file = self.file.lock().expect("no thread breaks off in here");
        // in one piece: who ends the run leaves whole lines
        file.write_all(line.as_bytes())
            .expect("the file of outcomes can be written");
        row
    }
}

/// All outcomes of a file.
pub(crate) fn read(path: &Path) -> Result<Vec<Row>, String> {
    let text = std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
    let rows: Result<Vec<Row>, _> = text.lines().map(serde_json::from_str).collect();
    rows.map_err(|e: serde_json::Error| format!("{}: {e}", path.display()))
}
