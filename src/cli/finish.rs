//! How a command ends: its files written, its page printed, its exit code picked.

use super::{Exit, say};
use crate::error::{Error, Result};
use crate::report::write::write_all;
use std::io::Write as _;
use std::path::Path;

/// Writes the files to the folder named by `--out`, then prints the page. `owned` are the names that an earlier run
/// may have left there; `found` makes the exit code 1. A page that cannot be
/// printed is an error only where there are no files: with them the result is there.
///
/// # Errors
/// As [`write_all`], and [`finish_page`] without files.
pub(super) fn finish<N: AsRef<str>>(
    out: Option<&Path>,
    files: impl FnOnce() -> Vec<(N, Vec<u8>)>,
    owned: &[impl AsRef<str>],
    page: &str,
    found: bool,
) -> Result<Exit> {
    let Some(dir) = out else {
        return finish_page(page, found);
    };
    write_all(dir, files(), owned)?;
    if let Err(error) = print(page) {
        say(&format!(
            "{error}; the files in {} are all written",
            dir.display()
        ));
    }
    Ok(exit(found))
}

/// The end of a command whose result is its page.
///
/// # Errors
/// Standard output that cannot be written.
pub(super) fn finish_page(page: &str, found: bool) -> Result<Exit> {
    print(page)?;
    Ok(exit(found))
}

fn exit(found: bool) -> Exit {
    if found { Exit::Findings } else { Exit::Done }
}

/// Prints data on stdout. A reader that has had enough (`| head`) is not an error.
fn print(text: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(cause) if cause.kind() != std::io::ErrorKind::BrokenPipe => Err(Error::new(format!(
            "cannot write to standard output: {cause}"
        ))),
        _ => Ok(()),
    }
}
