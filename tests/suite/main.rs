//! The program as its users meet it, one binary: nights in folders in, exit codes and files out.
//!
//! Every audit of a made-up night also checks what holds for all of them, in [`night`]. Which outside source checks
//! which figure stands in one table, under "Checks" in docs/method.md.

#![allow(clippy::unwrap_used)]

/// The kept corpus of the fuzz targets.
mod any_bytes;
/// Logs as real loggers write them: clocks, copies, rhythms and positions.
mod as_logged;
/// Logs that are damaged, absurd or empty.
mod bad_logs;
/// Fleet files and folders that are wrong or missing.
mod bad_night;
/// Sites files and polygons that cannot be as they are.
mod bad_sites;
/// Ground that is blocked for a time.
mod blocked;
/// Numbers that can be worked out by hand or are published.
mod closed_forms;
/// Flags, exit codes, streams, and the same bytes whatever the threads, file order and locale.
mod command_line;
/// Every constant has a reason.
mod constants;
/// What new lots cost.
mod costs;
/// The demo night against what was planted in it.
mod demo;
/// What the documents say, held against the program.
mod documents;
/// How an application was driven.
mod driving;
/// Runs cut short, runs at once, logs that change, disks that are full.
mod faults;
/// Slips of a first hour with the program.
mod first_hour;
/// Files made to do harm.
mod hostile;
/// What must not change the numbers.
mod invariants;
/// Unions that another library got wrong.
mod kept_unions;
/// A meter that reads late.
mod late_meters;
/// Bare patches by probability.
mod likely;
/// Logs that would cost the square of the drive.
mod load;
/// Lots that nobody has driven.
mod measure;
/// One drive, logged by every kind of meter.
mod meters;
/// Zones that are narrow throughout.
mod narrow_ground;
/// Makes small nights and runs the program on them.
mod night;
/// Other clients' ground, rigs and orders change no figure of a site.
mod nobody_else;
/// Orders against what the logs show.
mod orders;
/// The page for a phone and for paper.
mod page;
/// Sound work under a poor log.
mod poor_logs;
/// Service records: what they state, what they give away, and what does not hold.
mod records;
/// Which room uses which.
mod rooms;
/// Which rigs and which dry stretches count at a site.
mod took_part;
/// Booms on trailers, and reversing.
mod trailers;
/// Verdicts on sound work and on single faults.
mod verdicts;
