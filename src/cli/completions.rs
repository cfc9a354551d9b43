//! `swathbook completions`: what shells need to complete commands and flags.

use super::finish::finish_page;
use super::{Exit, command};
use crate::error::Result;
use clap_complete::Shell;

/// What `completions` takes.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The shell.
    #[arg(value_enum)]
    shell: Shell,
}

/// Runs the command.
///
/// # Errors
/// A full disk behind stdout.
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command(), "swathbook", &mut script);
    finish_page(&String::from_utf8_lossy(&script), false)
}
