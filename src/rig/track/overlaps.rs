//! Logs of one rig that cover the same time without sharing their fixes: two exports with other time
//! stamps, or two loggers in one cab.
//!
//! Such fixes cannot be brought together one by one, and taken in turn they would zigzag between two
//! receivers and break every stretch. So the fuller log is followed, and the other one fills its silences.

use super::decimals::Rounding;
use super::stamps::COPY_M;
use super::{displacement_m, median};
use crate::geometry::place::LonLat;
use crate::input::log::Log;
use std::collections::HashMap;

/// Fewer stamps inside another log's time are the seams of a split one, at its start and its end (trade judgement).
const LEAST_BESIDE: usize = 3;

/// Takes out, of each log, the fixes that lie inside a followed stretch of a fuller log, unless most of
/// them share their stamps with that log's: those are copies, which the merge counts once. Returns how
/// many went.
pub(super) fn drop_beside(
    logs: &mut [Log],
    roundings: &[Option<Rounding>],
    dropout_s: f64,
) -> usize {
    let step_m = |rounding: &Rounding| rounding.north_m.hypot(rounding.east_m);
    // How far apart two fixes under one stamp are when one is a copy of the other.
    let copy_m = roundings
        .iter()
        .flatten()
        .map(step_m)
        .fold(COPY_M, f64::max);
    if !any_overlap(logs) {
        return 0;
    }
    let mut order: Vec<usize> = (0..logs.len()).collect();
    order.sort_by_cached_key(|&i| {
        let log = &logs[i];
        (std::cmp::Reverse((stamps(log).len(), log.fixes.len())), i)
    });
    let mut followed = Followed::default();
    let mut dropped = 0;
    for i in order {
        let log = &mut logs[i];
        let inside: Vec<bool> = log
            .fixes
            .iter()
            .map(|fix| followed.covers(fix.time.0))
            .collect();
        let beside = inside.iter().filter(|inside| **inside).count();
        let mut stamps_inside = stamps(log);
        stamps_inside.retain(|stamp, _| followed.covers(*stamp));
        let shared: usize = stamps_inside
            .iter()
            .map(|(stamp, own)| own.shared(followed.stamps.get(stamp), copy_m))
            .sum();
        if stamps_inside.len() >= LEAST_BESIDE && 2 * shared < beside {
            dropped += take_out(log, &inside);
        }
        followed.add(log, dropout_s);
    }
    dropped
}

/// Some log begins before another one has ended.
fn any_overlap(logs: &[Log]) -> bool {
    let mut spans: Vec<_> = logs.iter().map(super::lanes::span).collect();
    spans.sort_unstable();
    let mut end = None;
    spans.iter().any(|&(from, to)| {
        let inside = end.is_some_and(|end| from < end);
        end = end.max(Some(to));
        inside
    })
}

/// Time that the logs so far have followed.
#[derive(Default)]
struct Followed {
    /// Open intervals, microseconds, apart from each other and in order.
    intervals: Vec<(i64, i64)>,
    /// How many fixes stand under each stamp, in the log that has most.
    stamps: HashMap<i64, Stamp>,
}

/// What stands under one stamp of a log.
#[derive(Clone, Copy)]
struct Stamp {
    count: usize,
    /// The first of them.
    place: LonLat,
}

impl Stamp {
    /// How many of these fixes another log has as well: those that stand alone under their stamp must be
    /// in the same place too, since two receivers in one cab may both write whole seconds.
    fn shared(&self, other: Option<&Self>, copy_m: f64) -> usize {
        let Some(other) = other else { return 0 };
        let (east_m, north_m) = displacement_m(self.place, other.place);
        if self.count == 1 && other.count == 1 && east_m.hypot(north_m) > copy_m {
            return 0;
        }
        self.count.min(other.count)
    }
}

impl Followed {
    /// Within a followed stretch, its ends included.
    fn covers(&self, time: i64) -> bool {
        let after = self.intervals.partition_point(|&(from, _)| from <= time);
        after > 0 && time <= self.intervals[after - 1].1
    }

    fn add(&mut self, log: &Log, dropout_s: f64) {
        for (stamp, own) in stamps(log) {
            let known = self.stamps.entry(stamp).or_insert(own);
            if own.count > known.count {
                *known = own;
            }
        }
        let segments = segments(log);
        let mut intervals_s: Vec<f64> = segments
            .iter()
            .flat_map(|fixes| fixes.windows(2))
            .map(|pair| (pair[1] - pair[0]) as f64 / crate::geometry::place::US_PER_S)
            .filter(|seconds| *seconds > 0.0)
            .collect();
        let limit_s = dropout_s.max(super::silences::DROPOUT_INTERVALS * median(&mut intervals_s));
        let limit_us = (limit_s * crate::geometry::place::US_PER_S) as i64;
        let steps = segments.iter().flat_map(|fixes| fixes.windows(2));
        let close = steps.filter(|pair| pair[1] - pair[0] <= limit_us);
        self.intervals.extend(close.map(|pair| (pair[0], pair[1])));
        self.intervals.sort_unstable();
        let mut joined: Vec<(i64, i64)> = Vec::new();
        for &(from, to) in &self.intervals {
            match joined.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        self.intervals = joined;
    }
}

/// Times of each segment in order, microseconds.
fn segments(log: &Log) -> Vec<Vec<i64>> {
    let ends = log.segment_starts.iter().skip(1).copied();
    log.segment_starts
        .iter()
        .zip(ends.chain([log.fixes.len()]))
        .map(|(&start, end)| {
            let mut times: Vec<i64> = log.fixes[start..end].iter().map(|fix| fix.time.0).collect();
            times.sort_unstable();
            times
        })
        .collect()
}

/// How many fixes stand under each stamp.
fn stamps(log: &Log) -> HashMap<i64, Stamp> {
    let mut stamps: HashMap<i64, Stamp> = HashMap::new();
    for fix in &log.fixes {
        let first = Stamp {
            count: 0,
            place: fix.place,
        };
        stamps.entry(fix.time.0).or_insert(first).count += 1;
    }
    stamps
}

/// Leaves out the marked fixes; a segment is cut where it lost some.
fn take_out(log: &mut Log, out: &[bool]) -> usize {
    let before = log.fixes.len();
    let mut starts = Vec::new();
    let mut kept = Vec::new();
    let mut cut = true;
    for (i, fix) in log.fixes.iter().enumerate() {
        cut |= log.segment_starts.binary_search(&i).is_ok();
        if out[i] {
            cut = true;
            continue;
        }
        if cut {
            starts.push(kept.len());
            cut = false;
        }
        kept.push(*fix);
    }
    (log.fixes, log.segment_starts) = (kept, starts);
    before - log.fixes.len()
}
