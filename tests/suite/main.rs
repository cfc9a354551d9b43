//! The program as its users meet it, one binary: nights in folders in, exit codes and files out.
//!
//! Every audit of a made-up night also checks what holds for all of them, in [`night`].

#![allow(clippy::unwrap_used)]

/// Logs that are damaged, absurd or empty.
mod bad_logs;
/// Fleet files and folders that are wrong or missing.
mod bad_night;
/// Sites files and polygons that cannot be as they are.
mod bad_sites;
/// Numbers that can be worked out by hand or are published.
mod closed_forms;
/// Flags, exit codes, streams, and the same bytes whatever the threads, file order and locale.
mod command_line;
/// The demo night against what was planted in it.
mod demo;
/// What the documents say, held against the program.
mod documents;
/// What must not change the numbers.
mod invariants;
/// One drive, logged by every kind of meter.
mod meters;
/// Makes small nights and runs the program on them.
mod night;
/// Booms on trailers, and reversing.
mod trailers;
