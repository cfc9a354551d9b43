//! Run logs: GPX 1.1 with the flow side in `<extensions>`.
//!
//! Bytes become text in [`decode`], text becomes logs in [`read`]: `gpx` gives points in the words
//! of the file, `rig_choice` says whose they are, `rig_reader` turns their leaves into channels in SI.
//! What could not be used is counted in `troubles` and comes back as findings.

mod complaint;
mod decimal;
mod decode;
mod mapping;
mod reading;
mod rig_choice;
mod rig_reader;
mod stamp;
mod states;
mod troubles;
mod unit_taken;

pub use decode::{Decoded, FREE_BYTES, Turns, decode, decode_in_turn};
pub use reading::{read, read_by_events};

use crate::findings::Finding;

pub use super::channels::Fix;

/// What came out of one file.
#[derive(Debug, Clone)]
pub struct LogReading {
    /// One for each rig in the file, in order of their first fix.
    pub logs: Vec<Log>,
    /// What could not be used, and what is odd.
    pub findings: Vec<Finding>,
}

/// What one log file says of one rig. A file that holds several rigs gives several logs.
#[derive(Debug, Clone)]
pub struct Log {
    /// File name as shown.
    pub file: String,
    /// Index of the rig in the fleet file.
    pub rig: usize,
    /// Fixes in the order of the file, grouped by segment.
    pub fixes: Vec<Fix>,
    /// The index of each segment's first fix; starts with 0 unless there are no fixes.
    pub segment_starts: Vec<usize>,
    /// Volume is logged as volume since the last fix, not as a total.
    pub volume_since_last_fix: bool,
    /// Products named in the log, in order of first use; `Fix::product` points into it.
    pub products: Vec<String>,
    /// The file breaks off behind the last fix: what the rig did next is not in it.
    pub breaks_off: bool,
    /// A plan instead of a drive: its times are made up, its places are exact.
    pub planned: bool,
}

impl Log {
    /// Line of the last fix; 0 without any.
    fn last_line(&self) -> u32 {
        self.fixes.last().map_or(0, |fix| fix.line)
    }
}

#[cfg(test)]
mod tests;
