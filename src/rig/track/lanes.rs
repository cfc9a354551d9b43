//! Which logs of one rig id belong to one rig: two places at one time are two rigs.

use super::displacement_m;
use crate::geometry::place::Instant;
use crate::input::log::{Fix, Log};

/// Two logs of one id that are this far apart at the same time are two rigs, m: more than any receiver's error, less
/// than two rigs at work on one lot for long (trade judgement).
const TWO_PLACES_M: f64 = 100.0;

/// At most this many fixes of a log are compared with another log (limit).
const SAMPLES: usize = 200;

/// Fixes of two logs that are farther apart in time say nothing about being in two places, s (trade judgement).
const SAME_TIME_S: f64 = 2.0;

/// Logs of one rig that do not contradict each other.
pub(super) struct Lane {
    pub(super) logs: Vec<Log>,
    /// Greatest distance to the lane it could not join, m.
    pub(super) distance_m: f64,
}

/// Puts each log in a lane where it is not in another place at the same time. The result does not
/// depend on the order of the files.
pub(super) fn lanes(mut logs: Vec<Log>) -> Vec<Lane> {
    logs.retain(|log| !log.fixes.is_empty());
    logs.sort_by(|a, b| (span(a), &a.file).cmp(&(span(b), &b.file)));
    let mut lanes: Vec<Lane> = Vec::new();
    for log in logs {
        let fits: Vec<Fit> = lanes.iter().map(|lane| fit(lane, &log)).collect();
        let best = fits
            .iter()
            .enumerate()
            .filter(|(_, fit)| fit.apart_m.unwrap_or(0.0) < TWO_PLACES_M)
            // A lane seen in the same place at the same time is better than one seen at other times; of
            // those the one that ended nearest, as after a pause in which both rigs' logs were cut.
            .min_by(|(_, a), (_, b)| {
                (a.apart_m.is_none().cmp(&b.apart_m.is_none()))
                    .then(a.from_end_m.total_cmp(&b.from_end_m))
            });
        match best {
            Some((lane, _)) => lanes[lane].logs.push(log),
            None => lanes.push(Lane {
                logs: vec![log],
                distance_m: fits
                    .iter()
                    .filter_map(|fit| fit.apart_m)
                    .fold(0.0, f64::max),
            }),
        }
    }
    lanes
}

/// How a log fits a lane.
struct Fit {
    /// Greatest distance to a log of the lane at shared times, m; `None` without shared times.
    apart_m: Option<f64>,
    /// From the lane's last fix before the log to the log's first fix, m.
    from_end_m: f64,
}

fn fit(lane: &Lane, log: &Log) -> Fit {
    let (start, _) = span(log);
    let apart_m = lane
        .logs
        .iter()
        .filter_map(|other| apart_m(other, log))
        .max_by(f64::total_cmp);
    let before = |other: &Log| {
        let last = other.fixes.iter().filter(|fix| fix.time <= start);
        last.max_by_key(|fix| fix.time)
            .map(|fix| (fix.time, fix.place))
    };
    let end = lane.logs.iter().filter_map(before).max_by_key(|end| end.0);
    let first = log.fixes.iter().min_by_key(|fix| fix.time);
    let from_end_m = match (end, first) {
        (Some((_, place)), Some(first)) => {
            let (east_m, north_m) = displacement_m(place, first.place);
            east_m.hypot(north_m)
        }
        _ => f64::INFINITY,
    };
    Fit {
        apart_m,
        from_end_m,
    }
}

pub(super) fn span(log: &Log) -> (Instant, Instant) {
    let times = log.fixes.iter().map(|fix| fix.time);
    (
        times.clone().min().unwrap_or(Instant(0)),
        times.max().unwrap_or(Instant(0)),
    )
}

/// Median distance between two logs at the times that both have, m; `None` when there are none.
fn apart_m(a: &Log, b: &Log) -> Option<f64> {
    let (span_a, span_b) = (span(a), span(b));
    let shared = span_a.0.max(span_b.0)..=span_a.1.min(span_b.1);
    let inside: Vec<&Fix> = b
        .fixes
        .iter()
        .filter(|fix| shared.contains(&fix.time))
        .collect();
    if inside.is_empty() {
        return None;
    }
    let mut sorted: Vec<(Instant, usize)> = a
        .fixes
        .iter()
        .enumerate()
        .map(|(i, fix)| (fix.time, i))
        .collect();
    sorted.sort_unstable();
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
            if other.time.seconds_since(fix.time).abs() > SAME_TIME_S {
                return None;
            }
            let (east_m, north_m) = displacement_m(other.place, fix.place);
            Some(east_m.hypot(north_m))
        })
        .collect();
    (!apart_m.is_empty()).then(|| super::median(&mut apart_m))
}
