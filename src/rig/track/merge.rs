//! Several logs of one rig to one sequence of fixes, each once, in order of time.

use super::stamps::{self, Raw, Writing};
use super::{GREATEST_SPEED_M_S, decimals, displacement_m, overlaps};
use crate::geometry::place::Instant;
use crate::geometry::plane::length_m;
use crate::input::log::{Fix, Log};
use smallvec::SmallVec;

/// Fixes of one run in order of time, each once.
pub(super) struct Merged {
    pub(super) rig: usize,
    pub(super) logs: Vec<String>,
    pub(super) fixes: Vec<Fix>,
    pub(super) volume_since_last_fix: bool,
    pub(super) products: Vec<String>,
    pub(super) fixes_read: usize,
    pub(super) fixes_repeated: usize,
    /// Fixes left out because the clock stood still while they were logged: how many, and the first with
    /// its log's name.
    pub(super) stuck: Option<(u64, Fix, String)>,
    /// Each log's file, first and last time, and fixes.
    pub(super) files: Vec<super::FileSpan>,
    /// Coarsest rounding of the coordinates that were kept.
    pub(super) rounding: Option<decimals::Rounding>,
    /// Of each fix: the segments it is in, as (log, segment).
    segments: Vec<SmallVec<[(u32, u32); 1]>>,
}

/// How two neighbouring fixes belong together.
pub(super) enum Joint {
    SameSegment,
    SameLog,
    OtherLog,
}

/// Merges the logs of one lane. Fixes that are copies of each other count once and join the segments
/// they stand in; other fixes with one stamp are spread over the time that the stamp stands for.
pub(super) fn merge(mut logs: Vec<Log>, dropout_s: f64) -> Merged {
    let mut merged = Merged {
        rig: logs.first().map_or(0, |log| log.rig),
        logs: logs.iter().map(|log| log.file.clone()).collect(),
        fixes: Vec::new(),
        volume_since_last_fix: logs.iter().any(|log| log.volume_since_last_fix),
        products: Vec::new(),
        fixes_read: logs.iter().map(|log| log.fixes.len()).sum(),
        fixes_repeated: 0,
        stuck: None,
        files: logs.iter().map(super::FileSpan::of).collect(),
        rounding: None,
        segments: Vec::new(),
    };
    merged.logs.sort();
    merged.logs.dedup();
    let roundings: Vec<_> = logs.iter().map(decimals::rounding).collect();
    merged.fixes_repeated = overlaps::drop_beside(&mut logs, &roundings, dropout_s);
    let names: Vec<String> = logs.iter().map(|log| log.file.clone()).collect();
    let all = merged.all_fixes(logs);
    let mut writing: Vec<Writing> = roundings
        .iter()
        .map(|rounding| Writing {
            step_deg: rounding.map_or(0.0, |rounding| rounding.step_deg),
            step_m: rounding.map_or(0.0, |rounding| rounding.north_m.hypot(rounding.east_m)),
            ..Writing::default()
        })
        .collect();
    let groups = || all.chunk_by(|a, b| a.fix.time == b.fix.time);
    for group in groups() {
        note_writing(group, &mut writing);
    }
    merged.fixes.reserve_exact(all.len());
    merged.segments.reserve_exact(all.len());
    let mut groups = groups().peekable();
    while let Some(group) = groups.next() {
        let next = groups.peek().map(|group| group[0].fix.time);
        merged.add_stamp(group, next, &writing, &names);
    }
    let logs = merged
        .segments
        .iter()
        .map(|of_fix| of_fix.iter().map(|(log, _)| *log as usize));
    merged.rounding = decimals::of_places(&roundings, logs);
    merged
}

/// Notes which logs write several places under this stamp, and which share it with another log.
fn note_writing(group: &[Raw], writing: &mut [Writing]) {
    if group.len() < 2 {
        return;
    }
    // Of one stamp the fixes of each log stand together: the sort by time was stable.
    let mut of_logs = 0;
    for own in group.chunk_by(|a, b| a.segment.0 == b.segment.0) {
        of_logs += 1;
        let log = &mut writing[own[0].segment.0 as usize];
        log.several |= own.iter().any(|raw| raw.fix.place != own[0].fix.place);
    }
    if of_logs > 1 {
        for own in group.chunk_by(|a, b| a.segment.0 == b.segment.0) {
            writing[own[0].segment.0 as usize].shared += 1;
        }
    }
}

impl Merged {
    /// The fixes of all logs in order of time; under one stamp in the order of the logs and files.
    fn all_fixes(&mut self, logs: Vec<Log>) -> Vec<Raw> {
        let mut all = Vec::with_capacity(self.fixes_read);
        for (number, log) in logs.into_iter().enumerate() {
            let products: Vec<Option<u16>> =
                log.products.iter().map(|id| self.product(id)).collect();
            let mut segment = 0;
            for (i, mut fix) in log.fixes.into_iter().enumerate() {
                while log
                    .segment_starts
                    .get(segment + 1)
                    .is_some_and(|&start| start <= i)
                {
                    segment += 1;
                }
                fix.product = fix
                    .product
                    .and_then(|index| *products.get(usize::from(index))?);
                all.push(Raw {
                    fix,
                    segment: (number as u32, segment as u32),
                });
            }
        }
        // Stable: within one stamp the order of the file stays.
        all.sort_by_key(|raw| raw.fix.time);
        all
    }

    fn product(&mut self, id: &str) -> Option<u16> {
        let index = self
            .products
            .iter()
            .position(|known| known == id)
            .unwrap_or_else(|| {
                self.products.push(id.to_owned());
                self.products.len() - 1
            });
        u16::try_from(index).ok()
    }

    /// Adds all fixes of one time stamp.
    fn add_stamp(
        &mut self,
        group: &[Raw],
        next: Option<Instant>,
        writing: &[Writing],
        names: &[String],
    ) {
        if let [raw] = group {
            self.fixes.push(raw.fix);
            self.segments.push(SmallVec::from_elem(raw.segment, 1));
            return;
        }
        let stamp = group[0].fix.time;
        let (mut kept, copies) = stamps::distinct(group, writing);
        self.fixes_repeated += copies;
        let room_us = stamps::room_us(stamp.0, next.map(|next| next.0));
        if kept.len() > 1 && stamps::stood_still(&kept, room_us) {
            let left_out = kept.split_off(1);
            let (first, file) = (&left_out[0], &names[left_out[0].segments[0].0 as usize]);
            let (count, ..) = self.stuck.get_or_insert((0, first.fix, file.clone()));
            *count += left_out.len() as u64;
            for other in &left_out {
                self.carry(&other.fix, &mut kept[0].fix);
            }
        }
        let count = kept.len() as i64;
        for (i, mut one) in kept.into_iter().enumerate() {
            one.fix.time = Instant(stamp.0 + room_us * i as i64 / count);
            self.fixes.push(one.fix);
            self.segments.push(one.segments);
        }
    }

    /// Litres since the last fix of a fix that is left out went through the meter: they are credited to the fix that
    /// stays.
    fn carry(&self, left_out: &Fix, stays: &mut Fix) {
        if self.volume_since_last_fix && left_out.volume_l > 0.0 {
            let told_l = if stays.volume_l.is_nan() {
                0.0
            } else {
                stays.volume_l
            };
            stays.volume_l = told_l + left_out.volume_l;
        }
    }

    /// Leaves out single fixes that no rig could have reached and left again. Returns how many and
    /// the first.
    pub(super) fn drop_jumps(&mut self) -> Option<(u64, Fix)> {
        let reachable = |from: &Fix, to: &Fix| {
            let (east_m, north_m) = displacement_m(from.place, to.place);
            let seconds = to.time.seconds_since(from.time);
            // Spread stamps may come close to the next fix: hardly any time, no speed to judge.
            length_m(east_m, north_m) <= GREATEST_SPEED_M_S * seconds.max(0.2)
        };
        let mut dropped = None;
        let mut kept = 0;
        for i in 0..self.fixes.len() {
            let fix = self.fixes[i];
            let next = self.fixes.get(i + 1).copied();
            let jump = kept > 0
                && !reachable(&self.fixes[kept - 1], &fix)
                && next.is_some_and(|next| {
                    reachable(&self.fixes[kept - 1], &next) && !reachable(&fix, &next)
                });
            if let (true, Some(mut next)) = (jump, next) {
                let (count, _) = dropped.get_or_insert((0, fix));
                *count += 1;
                self.carry(&fix, &mut next);
                self.fixes[i + 1] = next;
                continue;
            }
            self.fixes[kept] = fix;
            self.segments.swap(kept, i);
            kept += 1;
        }
        self.fixes.truncate(kept);
        self.segments.truncate(kept);
        dropped
    }

    /// How fix `i` and the one after it belong together.
    pub(super) fn joint(&self, i: usize) -> Joint {
        let (a, b) = (&self.segments[i], &self.segments[i + 1]);
        if a.iter().any(|segment| b.contains(segment)) {
            Joint::SameSegment
        } else if a
            .iter()
            .any(|(log, _)| b.iter().any(|(other, _)| log == other))
        {
            Joint::SameLog
        } else {
            Joint::OtherLog
        }
    }
}
