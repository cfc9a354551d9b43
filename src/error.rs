//! Errors: no result is possible.
//!
//! An error says where, what was expected, what was found and what to do, in that order, as whole
//! sentences; it is printed once, by `main`, and ends the program with exit code 2.

use std::path::{Path, PathBuf};

/// Why no result is possible.
#[derive(Debug)]
pub struct Error {
    /// The file or folder it is about, if any.
    pub path: Option<PathBuf>,
    /// Line in the file, from 1, where known.
    pub line: Option<u64>,
    /// What was expected and what was found.
    pub message: String,
    /// What to do about it; may be several lines (such as fleet-file lines to add).
    pub advice: Option<String>,
}

/// Shorthand for results of this crate.
pub type Result<T> = std::result::Result<T, Error>;

impl Error {
    /// An error without a place.
    #[must_use]
    pub fn new(message: impl Into<String>) -> Self {
        Self {
            path: None,
            line: None,
            message: message.into(),
            advice: None,
        }
    }

    /// Adds the file or folder.
    #[must_use]
    pub fn at(mut self, path: impl AsRef<Path>) -> Self {
        self.path = Some(path.as_ref().to_path_buf());
        self
    }

    /// Adds the line.
    #[must_use]
    pub fn line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    /// Adds what to do.
    #[must_use]
    pub fn advice(mut self, advice: impl Into<String>) -> Self {
        self.advice = Some(advice.into());
        self
    }
}

impl std::fmt::Display for Error {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some(path) = &self.path {
            write!(f, "{}", path.display())?;
            if let Some(line) = self.line {
                write!(f, ":{line}")?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{}", self.message)?;
        if let Some(advice) = &self.advice {
            write!(f, "\n{advice}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}
