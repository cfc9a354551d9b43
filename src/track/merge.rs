//! Several logs of one rig to one sequence of fixes.

use super::{GREATEST_SPEED_M_S, displacement_m};
use crate::input::log::{Fix, Log};
use crate::place::{Instant, US_PER_S};
use smallvec::SmallVec;

/// Two logs of one id that are this far apart at the same time are two rigs, m: more than any
/// receiver's error, less than two rigs at work on one lot for long.
const TWO_PLACES_M: f64 = 100.0;

/// At most this many fixes of a log are compared with another log.
const SAMPLES: usize = 200;

/// Logs of one rig that do not contradict each other.
pub(super) struct Lane {
    pub(super) logs: Vec<Log>,
    /// Greatest distance to the lane it could not join, m.
    pub(super) distance_m: f64,
}

/// Puts each log in the first lane where it is not in another place at the same time. The result
/// does not depend on the order of the files.
pub(super) fn lanes(mut logs: Vec<Log>) -> Vec<Lane> {
    logs.retain(|log| !log.fixes.is_empty());
    logs.sort_by(|a, b| (span(a), &a.file).cmp(&(span(b), &b.file)));
    let mut lanes: Vec<Lane> = Vec::new();
    'logs: for log in logs {
        let mut greatest_m = 0.0_f64;
        for lane in &mut lanes {
            let apart_m = lane
                .logs
                .iter()
                .map(|other| apart_m(other, &log))
                .fold(0.0, f64::max);
            if apart_m < TWO_PLACES_M {
                lane.logs.push(log);
                continue 'logs;
            }
            greatest_m = greatest_m.max(apart_m);
        }
        lanes.push(Lane {
            logs: vec![log],
            distance_m: greatest_m,
        });
    }
    lanes
}

fn span(log: &Log) -> (Instant, Instant) {
    let times = log.fixes.iter().map(|fix| fix.time);
    (
        times.clone().min().unwrap_or(Instant(0)),
        times.max().unwrap_or(Instant(0)),
    )
}

/// Median distance between two logs over the time they share, m; 0 when they share none.
fn apart_m(a: &Log, b: &Log) -> f64 {
    let (span_a, span_b) = (span(a), span(b));
    let shared = span_a.0.max(span_b.0)..=span_a.1.min(span_b.1);
    let mut sorted: Vec<(Instant, usize)> = a
        .fixes
        .iter()
        .enumerate()
        .map(|(i, fix)| (fix.time, i))
        .collect();
    sorted.sort_unstable();
    let inside: Vec<&Fix> = b
        .fixes
        .iter()
        .filter(|fix| shared.contains(&fix.time))
        .collect();
    let stride = inside.len().div_ceil(SAMPLES).max(1);
    let mut apart_m: Vec<f64> = inside
        .iter()
        .step_by(stride)
        .filter_map(|fix| {
            let after = sorted
                .partition_point(|&(time, _)| time < fix.time)
                .min(sorted.len() - 1);
            // The nearer in time of the two neighbours; a long silence says nothing.
            let nearest = [after.saturating_sub(1), after]
                .into_iter()
                .min_by_key(|&i| sorted[i].0.0.abs_diff(fix.time.0))?;
            let other = &a.fixes[sorted[nearest].1];
            if other.time.seconds_since(fix.time).abs() > 2.0 {
                return None;
            }
            let (east_m, north_m) = displacement_m(other.place, fix.place);
            Some(east_m.hypot(north_m))
        })
        .collect();
    super::median(&mut apart_m)
}

/// Fixes of one run in order of time, each once.
pub(super) struct Merged {
    pub(super) rig: usize,
    pub(super) logs: Vec<String>,
    pub(super) fixes: Vec<Fix>,
    pub(super) volume_since_last_fix: bool,
    pub(super) products: Vec<String>,
    pub(super) fixes_read: usize,
    pub(super) fixes_repeated: usize,
    /// Of each fix: the segments it stands in, as (log, segment).
    segments: Vec<SmallVec<[(u32, u32); 1]>>,
}

/// How two neighbouring fixes belong together.
pub(super) enum Joint {
    SameSegment,
    SameLog,
    OtherLog,
}

/// Merges the logs of one lane. Identical fixes (same time, same place) count once and join the
/// segments they stand in; other fixes with one whole-second stamp are spread over that second.
pub(super) fn merge(logs: Vec<Log>) -> Merged {
    let mut merged = Merged {
        rig: logs.first().map_or(0, |log| log.rig),
        logs: logs.iter().map(|log| log.file.clone()).collect(),
        fixes: Vec::new(),
        volume_since_last_fix: logs.iter().any(|log| log.volume_since_last_fix),
        products: Vec::new(),
        fixes_read: logs.iter().map(|log| log.fixes.len()).sum(),
        fixes_repeated: 0,
        segments: Vec::new(),
    };
    merged.logs.sort();
    merged.logs.dedup();
    let mut all = Vec::with_capacity(merged.fixes_read);
    for (number, log) in logs.into_iter().enumerate() {
        let products: Vec<Option<u16>> = log.products.iter().map(|id| merged.product(id)).collect();
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
            all.push((fix, (number as u32, segment as u32)));
        }
    }
    // Stable: within one stamp the order of the file stays.
    all.sort_by_key(|(fix, _)| fix.time);
    for group in all.chunk_by(|a, b| a.0.time == b.0.time) {
        merged.add_stamp(group);
    }
    merged
}

impl Merged {
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
    fn add_stamp(&mut self, group: &[(Fix, (u32, u32))]) {
        let first = self.fixes.len();
        for (fix, segment) in group {
            let same = (first..self.fixes.len()).find(|&i| {
                // Bit for bit: re-exported files carry the very same text.
                let known = self.fixes[i].place;
                known.lon_deg.to_bits() == fix.place.lon_deg.to_bits()
                    && known.lat_deg.to_bits() == fix.place.lat_deg.to_bits()
            });
            if let Some(i) = same {
                self.fixes_repeated += 1;
                self.segments[i].push(*segment);
                complete(&mut self.fixes[i], fix);
            } else {
                self.fixes.push(*fix);
                self.segments.push(SmallVec::from_elem(*segment, 1));
            }
        }
        let count = self.fixes.len() - first;
        // A whole-second logger writes several fixes under one stamp; spread them over their second.
        // Finer stamps are spread over a millisecond, only to keep them apart.
        let whole = group[0].0.time.0.rem_euclid(US_PER_S as i64) == 0;
        let spread_us = if whole { US_PER_S } else { US_PER_S / 1000.0 };
        for i in 1..count {
            let shift_us = spread_us * i as f64 / count as f64;
            self.fixes[first + i].time.0 += shift_us as i64;
        }
    }

    /// Leaves out single fixes that no rig could have reached and left again. Returns how many and
    /// the first.
    pub(super) fn drop_jumps(&mut self) -> Option<(u64, Fix)> {
        let reachable = |from: &Fix, to: &Fix| {
            let (east_m, north_m) = displacement_m(from.place, to.place);
            let seconds = to.time.seconds_since(from.time);
            // Spread stamps may meet the next fix: no time, no speed to judge.
            east_m.hypot(north_m) <= GREATEST_SPEED_M_S * seconds.max(0.2)
        };
        let mut dropped = None;
        let mut kept = 0;
        for i in 0..self.fixes.len() {
            let fix = self.fixes[i];
            let late = kept > 0 && fix.time <= self.fixes[kept - 1].time;
            let jump = kept > 0
                && !reachable(&self.fixes[kept - 1], &fix)
                && self.fixes.get(i + 1).is_some_and(|next| {
                    reachable(&self.fixes[kept - 1], next) && !reachable(&fix, next)
                });
            if late || jump {
                let (count, _) = dropped.get_or_insert((0, fix));
                *count += 1;
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

/// Takes from a repeated fix what the first copy lacks.
fn complete(known: &mut Fix, copy: &Fix) {
    let fill = |known: &mut f64, copy: f64| {
        if known.is_nan() {
            *known = copy;
        }
    };
    fill(&mut known.flow_l_s, copy.flow_l_s);
    fill(&mut known.volume_l, copy.volume_l);
    fill(&mut known.rate_ml_m2, copy.rate_ml_m2);
    known.open = known.open.or(copy.open);
    known.master = known.master.or(copy.master);
    known.gun = known.gun.or(copy.gun);
    known.product = known.product.or(copy.product);
}
