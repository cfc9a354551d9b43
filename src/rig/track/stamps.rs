//! The fixes under one time stamp: copies of each other, several a second, or a clock that stood still.

use super::{GREATEST_SPEED_M_S, displacement_m, median};
use crate::geometry::place::{LonLat, US_PER_S};
use crate::input::log::Fix;
use std::collections::HashMap;

/// A copy in another log may be this far off, m: degrees cut to five decimals move a place by up to 1.1 m north and
/// less than that east. With fewer decimals it is their own step (arithmetic).
pub(super) const COPY_M: f64 = 1.5;

/// With more fixes under one stamp only copies to the last bit are looked for, which takes linear time (limit).
const MOST_COMPARED: usize = 64;

/// More different places than this under one stamp: the clock stood still. The fastest receivers in vehicles give 20
/// a second (common practice).
const MOST_A_STAMP: usize = 50;

/// One fix of a group with where it comes from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Raw {
    pub(super) fix: Fix,
    /// Number of its log and of its segment.
    pub(super) segment: (u32, u32),
}

/// What is known of each log when stamps are looked at.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Writing {
    /// Coordinates are multiples of this, degrees; 0 when finer than five decimals.
    pub(super) step_deg: f64,
    /// Diagonal of that step, m.
    pub(super) step_m: f64,
    /// Writes several places under one stamp.
    pub(super) several: bool,
    /// Stamps that another log has too.
    pub(super) shared: usize,
}

impl Writing {
    /// Fixes near to each other under one stamp may be copies: the log has one place a stamp, or it
    /// overlaps another one by more than the seams at its start and end, where the fixes of one second
    /// may be split over two files.
    fn may_be_copied(self) -> bool {
        !self.several || self.shared > 2
    }
}

/// A fix that is kept, with every segment it is in.
pub(super) struct Kept {
    pub(super) fix: Fix,
    pub(super) segments: smallvec::SmallVec<[(u32, u32); 1]>,
    step_deg: f64,
}

/// The different fixes of one stamp, in order, and how many were copies.
pub(super) fn distinct(group: &[Raw], writing: &[Writing]) -> (Vec<Kept>, usize) {
    let mut kept: Vec<Kept> = Vec::new();
    let mut by_place: HashMap<(u64, u64), usize> = HashMap::new();
    let bits = |place: LonLat| (place.lon_deg.to_bits(), place.lat_deg.to_bits());
    for raw in group {
        let log = writing[raw.segment.0 as usize];
        // Bit for bit: re-exported files mostly carry the very same text.
        let same = if group.len() > MOST_COMPARED {
            by_place.get(&bits(raw.fix.place)).copied()
        } else {
            let same = |known: &Kept| bits(known.fix.place) == bits(raw.fix.place);
            kept.iter()
                .position(same)
                .or_else(|| near_copy(&kept, raw, writing))
        };
        let Some(same) = same else {
            if group.len() > MOST_COMPARED {
                by_place.insert(bits(raw.fix.place), kept.len());
            }
            kept.push(Kept {
                fix: raw.fix,
                segments: smallvec::smallvec![raw.segment],
                step_deg: log.step_deg,
            });
            continue;
        };
        let known = &mut kept[same];
        if !known.segments.contains(&raw.segment) {
            known.segments.push(raw.segment);
        }
        if log.step_deg < known.step_deg {
            (known.fix.place, known.step_deg) = (raw.fix.place, log.step_deg);
        }
        known.fix.complete(&raw.fix);
    }
    let copies = group.len() - kept.len();
    (kept, copies)
}

/// The nearest fix of other logs that this one may be a copy of; each fix has one copy in a log.
fn near_copy(kept: &[Kept], raw: &Raw, writing: &[Writing]) -> Option<usize> {
    let copied = |log: u32| writing[log as usize].may_be_copied();
    if !copied(raw.segment.0) {
        return None;
    }
    let apart_m = |known: &Kept| {
        let (east_m, north_m) = displacement_m(known.fix.place, raw.fix.place);
        east_m.hypot(north_m)
    };
    kept.iter()
        .enumerate()
        .filter(|(_, known)| {
            let mut logs = known.segments.iter().map(|(log, _)| *log);
            logs.all(|log| log != raw.segment.0 && copied(log))
        })
        .map(|(i, known)| (i, apart_m(known)))
        .filter(|(i, apart_m)| {
            let logs = kept[*i].segments.iter().map(|(log, _)| *log);
            let steps_m = logs
                .chain([raw.segment.0])
                .map(|log| writing[log as usize].step_m);
            *apart_m <= steps_m.fold(COPY_M, f64::max)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(i, _)| i)
}

/// The time over which the fixes of a stamp are spread, microseconds: a logger of whole seconds (or
/// tenths, hundredths) writes them all under the time at which that second began. `next` is the stamp
/// after it: what was written under one came before what was written under the other.
pub(super) fn room_us(stamp: i64, next: Option<i64>) -> i64 {
    let second_us = US_PER_S as i64;
    let fineness = [second_us, second_us / 10, second_us / 100];
    let own_us = fineness
        .into_iter()
        .find(|unit| stamp.rem_euclid(*unit) == 0)
        .unwrap_or(second_us / 1000);
    next.map_or(own_us, |next| own_us.min(next.saturating_sub(stamp)))
}

/// No rig drives through these places in this time: the clock stood still while they were logged.
pub(super) fn stood_still(kept: &[Kept], room_us: i64) -> bool {
    // With less room than fixes two of them would get one time.
    if kept.len() > MOST_A_STAMP || kept.len() as i64 > room_us {
        return true;
    }
    let mut steps_m: Vec<f64> = kept
        .windows(2)
        .map(|pair| {
            let (east_m, north_m) = displacement_m(pair[0].fix.place, pair[1].fix.place);
            east_m.hypot(north_m)
        })
        .collect();
    // The middle step, so that one wrong position does not speak for the clock.
    let path_m = median(&mut steps_m) * kept.len() as f64;
    path_m > GREATEST_SPEED_M_S * room_us as f64 / US_PER_S
}
