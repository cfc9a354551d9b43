//! Runs a process and says what it used.

use crate::Result;
use std::ffi::OsStr;
use std::io::Read as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;
use wait4::Wait4 as _;

/// What a process used.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Usage {
    pub wall_s: f64,
    /// User and system.
    pub cpu_s: f64,
    /// Greatest resident memory.
    pub peak_bytes: f64,
}

impl Usage {
    /// The least of each figure: what else the machine did only adds.
    pub(crate) fn least(all: &[Self]) -> Self {
        let least = |figure: fn(&Self) -> f64| all.iter().map(figure).fold(f64::INFINITY, f64::min);
        Self {
            wall_s: least(|usage| usage.wall_s),
            cpu_s: least(|usage| usage.cpu_s),
            peak_bytes: least(|usage| usage.peak_bytes),
        }
    }
}

/// Runs a program to its end: what it used, and what it printed.
pub(crate) fn run(program: &Path, words: &[&OsStr]) -> Result<(Usage, String)> {
    let start = Instant::now();
    let mut child = Command::new(program)
        .args(words)
        .stdout(Stdio::piped())
        .spawn()?;
    let mut text = String::new();
    if let Some(mut out) = child.stdout.take() {
        out.read_to_string(&mut text)?;
    }
    let end = child.wait4()?;
    // 0 is done, 1 done with findings.
    if !matches!(end.status.code(), Some(0 | 1)) {
        return Err(format!("{} {words:?} ended with {}", program.display(), end.status).into());
    }
    let usage = Usage {
        wall_s: start.elapsed().as_secs_f64(),
        cpu_s: (end.rusage.utime + end.rusage.stime).as_secs_f64(),
        peak_bytes: end.rusage.maxrss as f64,
    };
    Ok((usage, text))
}
