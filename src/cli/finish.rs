//! How a command ends: its files written, its page printed.

use super::say;
use crate::error::{Error, Result};
use crate::report::write::write_all;
use std::io::Write as _;
use std::path::Path;

/// Writes the files to the folder named by `--out`, then prints the page. `owned` are the names that an earlier run
/// may have left there. A page that cannot be printed is an error only where there are no files: with them the
/// result is there.
///
/// # Errors
/// As [`write_all`], and [`print`] without files.
pub(super) fn finish<N: AsRef<str>>(
    out: Option<&Path>,
    files: impl FnOnce() -> Vec<(N, Vec<u8>)>,
    owned: &[impl AsRef<str>],
    page: &str,
) -> Result<()> {
    let Some(dir) = out else {
        return print(page);
    };
    write_all(dir, files(), owned)?;
    if let Err(error) = print(page) {
        say(&format!(
            "{error}; the files in {} are complete",
            dir.display()
        ));
    }
    Ok(())
}

/// Prints data on stdout. A reader that has had enough (`| head`) is not an error.
///
/// # Errors
/// Standard output that cannot be written.
pub(super) fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(cause) if cause.kind() != std::io::ErrorKind::BrokenPipe => Err(Error::new(format!(
            "cannot write to standard output: {cause}"
        ))),
        _ => Ok(()),
    }
}
