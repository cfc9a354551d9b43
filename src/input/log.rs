//! Run logs: GPX 1.1 with the flow side in `<extensions>`.
//!
//! Bytes become text in [`decode`], text becomes logs in [`read`]: `gpx` gives points in the words
//! of the file, `rig_choice` says whose they are, `rules` turns their leaves into channels in SI.
//! What could not be used is counted in `troubles` and comes back as findings.

mod complaint;
mod decimal;
mod decode;
mod reading;
mod rig_choice;
mod rule;
mod rules;
mod stamp;
mod states;
mod troubles;
mod unit_taken;

pub use decode::{Decoded, FREE_BYTES, Turns, decode, decode_in_turn};
pub use reading::{read, read_by_events};

use crate::findings::Finding;
use crate::geometry::place::{Instant, LonLat};

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

/// One logged position with its channels, in SI.
///
/// Within a segment every channel but `volume_l` already holds from its fix to the next fix that
/// has it. `NaN` (or `None`) means not logged. Numbers that only need a few digits are `f32`, and
/// channels that nothing is computed from (pressure, tank level, temperatures) are checked on reading
/// and not kept: a fleet's night has millions of fixes.
#[derive(Debug, Clone, Copy)]
pub struct Fix {
    /// When.
    pub time: Instant,
    /// Where the antenna was.
    pub place: LonLat,
    /// Flow through the meter, L/s, before the meter factor.
    pub flow_l_s: f64,
    /// Meter total, or volume since the last fix, L, before the meter factor. Not held.
    pub volume_l: f64,
    /// Rate the controller says it applied, mL/m2.
    pub rate_ml_m2: f64,
    /// Open sections, bit 0 the leftmost.
    pub open: Option<u64>,
    /// Spraying switched on at all.
    pub master: Option<bool>,
    /// Hand gun open.
    pub gun: Option<bool>,
    /// Rate set on the controller, mL/m2.
    pub set_rate_ml_m2: f32,
    /// The controller's own speed, m/s.
    pub speed_m_s: f32,
    /// Where the vehicle points, degrees clockwise from north.
    pub heading_deg: f32,
    /// Horizontal dilution of precision. Not held.
    pub hdop: f32,
    /// Index into `Log::products`.
    pub product: Option<u16>,
    /// Which of the channels in [`own`] the point itself says; the others hold from before.
    pub own: u16,
    /// Line in the file.
    pub line: u32,
}

/// Bits of [`Fix::own`].
pub mod own {
    /// `flow_l_s`
    pub const FLOW: u16 = 1;
    /// `rate_ml_m2`
    pub const RATE: u16 = 1 << 1;
    /// `open`
    pub const OPEN: u16 = 1 << 2;
    /// `master`
    pub const MASTER: u16 = 1 << 3;
    /// `gun`
    pub const GUN: u16 = 1 << 4;
    /// `set_rate_ml_m2`
    pub const SET_RATE: u16 = 1 << 5;
    /// `speed_m_s`
    pub const SPEED: u16 = 1 << 6;
    /// `heading_deg`
    pub const HEADING: u16 = 1 << 7;
    /// `product`
    pub const PRODUCT: u16 = 1 << 8;
    /// What may change unseen in a silence: all but the product, since a tank does not change by itself.
    pub const LOST_IN_SILENCE: u16 = PRODUCT - 1;
}

impl Fix {
    /// A fix of which only time, place and line are known.
    #[must_use]
    pub fn bare(time: Instant, place: LonLat, line: u32) -> Self {
        Self {
            time,
            place,
            flow_l_s: f64::NAN,
            volume_l: f64::NAN,
            rate_ml_m2: f64::NAN,
            open: None,
            master: None,
            gun: None,
            set_rate_ml_m2: f32::NAN,
            speed_m_s: f32::NAN,
            heading_deg: f32::NAN,
            hdop: f32::NAN,
            product: None,
            own: 0,
            line,
        }
    }
}

#[cfg(test)]
mod tests;
