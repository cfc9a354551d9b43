//! The command line: what the arguments mean, messages on stderr, exit codes. Each command has a file of
//! its own: its arguments and one function that runs it.
//!
//! Data goes to stdout, talk to stderr. A progress bar shows only where stderr is a terminal.

mod audit;
mod completions;
mod finish;
mod flags;
mod intake;
mod measure;
mod new;
mod nights;
mod progress;
mod record;
mod threads;
mod verify;

use crate::notation::clean::clean;
use clap::{Parser, Subcommand};
use signal_hook::consts::SIGABRT;
use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Done, and there is a finding at or above `--fail-on`.
    Findings = 1,
    /// No result was possible.
    NoResult = 2,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

const EXIT_CODES: &str = "\
Exit codes:
  0  done
  1  done, and there is a finding at or above --fail-on
  2  no result was possible; the message says why

The numbers are a record of what the logs say, not of what state any surface is in.
Local codes, product labels and licensed practice come first.";

const VERIFY_EXIT_CODES: &str = "\
Exit codes:
  0  all that was checked holds
  1  something does not hold
  2  nothing could be checked; the message says why

No check tells whether the loggers were right, whether a point was left out, or what state the ground was in.";

/// What `--version` prints: the program's version, and those of the formats that it reads and writes.
const VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nreads:  GPX 1.1 with urn:swathbook:log:1, GeoJSON (RFC 7946), TOML 1.0, CSV (RFC 4180), swathbook-record/1",
    "\nwrites: swathbook-audit/2, swathbook-measure/1, swathbook-record/1 (BagIt 1.0, RFC 8493), GeoJSON (RFC 7946), GPX 1.1, CSV (RFC 4180)",
);

/// Audits a night of liquid de-icing from the rigs' logs.
#[derive(Debug, Parser)]
#[command(version, long_version = VERSION, about, after_help = EXIT_CODES)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// What was treated, missed, done twice, at what rate, and where the liquid went.
    #[command(after_help = EXIT_CODES)]
    Audit(audit::Arguments),
    /// Creates the smallest night there is to start from: one rig, one lot, one order and one log.
    New(new::Arguments),
    /// Prints completions for a shell, to be put where the shell looks for them.
    Completions(completions::Arguments),
    /// New lots: how much ground, how much of it a boom reaches, how to drive it.
    #[command(after_help = EXIT_CODES)]
    Measure(measure::Arguments),
    /// Registers a night's files at download by their digests, so that records can be checked against them.
    Intake(intake::Arguments),
    /// Service records: one folder per site, which its reader can recompute and which discloses nobody else.
    Record(record::Arguments),
    /// Checks a service record: its files, its signature, every figure.
    #[command(after_help = VERIFY_EXIT_CODES)]
    Verify(verify::Arguments),
}

/// The command line as clap knows it: for completions and the manual page.
#[must_use]
pub fn command() -> clap::Command {
    use clap::CommandFactory;
    Arguments::command()
}

/// Makes exit code 2 of an abort. Where memory runs out, the standard library says so on stderr and aborts, and
/// whoever called the program would see 134: no code of its own.
fn aborts_are_no_result() {
    let always = Arc::new(AtomicBool::new(true));
    let no_result = Exit::NoResult as i32;
    // Refused only for signals that nobody may take; then an abort stays what it is.
    let _ = signal_hook::flag::register_conditional_shutdown(SIGABRT, no_result, always);
}

/// Runs the program on the process's arguments.
#[must_use]
pub fn run() -> Exit {
    aborts_are_no_result();
    let arguments = Arguments::parse();
    let result = match arguments.command {
        Command::Audit(arguments) => audit::run(&arguments),
        Command::New(arguments) => new::run(&arguments),
        Command::Completions(arguments) => completions::run(&arguments),
        Command::Measure(arguments) => measure::run(&arguments),
        Command::Intake(arguments) => intake::run(&arguments),
        Command::Record(arguments) => record::run(&arguments),
        Command::Verify(arguments) => verify::run(&arguments),
    };
    match result {
        Ok(exit) => exit,
        Err(error) => {
            say(&error.to_string());
            Exit::NoResult
        }
    }
}

/// A message on stderr, each of its lines made fit for a terminal.
fn say(message: &str) {
    let lines: Vec<_> = message.lines().map(clean).collect();
    // Nothing can be done when even stderr is gone.
    let _ = writeln!(std::io::stderr(), "swathbook: {}", lines.join("\n"));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_flags_are_sound() {
        command().debug_assert();
    }

    #[test]
    fn the_version_names_the_formats_that_are_written() {
        assert!(VERSION.contains(crate::report::json::FORMAT), "{VERSION}");
        assert!(VERSION.contains(crate::record::FORMAT), "{VERSION}");
        assert!(include_str!("../docs/log.xsd").contains("urn:swathbook:log:1"));
    }
}
