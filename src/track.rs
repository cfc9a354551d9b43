//! Step 2 of the flow: run logs to clean tracks, once per rig over the whole night.
//!
//! A track is one run: fixes in order of time, each counted once, and between every two of them a
//! [`Link`] that says what the log can tell of the time between. Nothing is dropped without being
//! counted.

mod merge;

use crate::findings::{Finding, Matter, Severity};
use crate::input::fleet::{Defaults, Rig};
use crate::input::log::{Fix, Log, own};
use crate::place::LonLat;

/// Speed no rig on a public road reaches, m/s (216 km/h): a faster step is a wrong position.
pub const GREATEST_SPEED_M_S: f64 = 60.0;

/// A silence in which the rig moved less than this, with the meter standing still, is parking, m.
/// Well over the drift of a parked receiver, well under the length of a rig.
pub const PARKING_MOVE_M: f64 = 5.0;

/// A log whose moving fixes are farther apart than this (median) cannot show coverage, s: at
/// 4 m/s a section may open and close unseen over 20 m.
pub const COARSE_INTERVAL_S: f64 = 5.0;

/// A dropout is at least this many of the segment's median intervals long: one lost fix of a log
/// at a constant interval is two, so three tells a silence from a hiccup.
const DROPOUT_INTERVALS: f64 = 3.0;

/// A slower step is not counted as moving when the usual interval is measured, m/s: faster than a
/// parked receiver drifts, slower than any spraying rig.
const MOVING_M_S: f64 = 0.5;

/// One run: what one rig did from its first fix of the night to its last.
#[derive(Debug, Clone)]
pub struct Track {
    /// Index of the rig in the fleet file.
    pub rig: usize,
    /// Names of its log files, sorted.
    pub logs: Vec<String>,
    /// Clean fixes, strictly later one after the other.
    pub fixes: Vec<Fix>,
    /// `steps[i]` lies between `fixes[i]` and `fixes[i + 1]`.
    pub steps: Vec<Step>,
    /// Volume is logged as volume since the last fix.
    pub volume_since_last_fix: bool,
    /// Product ids; `Fix::product` points into it.
    pub products: Vec<String>,
    /// Fixes in the files.
    pub fixes_read: usize,
    /// Identical fixes of re-exported or split files.
    pub fixes_repeated: usize,
    /// Median time between moving fixes, s, when too long to show coverage.
    pub coarse_interval_s: Option<f64>,
}

/// From one fix to the next.
#[derive(Debug, Clone, Copy)]
pub struct Step {
    /// What is known of it.
    pub link: Link,
    /// Time, s; positive.
    pub seconds: f64,
    /// East, m, on the ellipsoid at mid-latitude.
    pub east_m: f64,
    /// North, m.
    pub north_m: f64,
}

impl Step {
    /// Straight length, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.east_m.hypot(self.north_m)
    }

    /// Speed over the straight length, m/s.
    #[must_use]
    pub fn speed_m_s(&self) -> f64 {
        self.length_m() / self.seconds
    }
}

/// What a log can tell of the time between two fixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// Followed closely: channels hold, the path is known.
    Driven,
    /// A silence in which neither rig nor meter moved.
    Parking,
    /// A silence too long to know what happened, or a break between segments.
    Dropout,
    /// From one log to the next.
    BetweenLogs,
}

impl Track {
    /// Distance driven, m: the driven steps.
    #[must_use]
    pub fn distance_m(&self) -> f64 {
        self.steps
            .iter()
            .filter(|step| step.link == Link::Driven)
            .map(Step::length_m)
            .sum()
    }

    /// Ranges of fixes that are joined by driven steps: first fix and one past the last; each has
    /// at least one step.
    pub fn stretches(&self) -> impl Iterator<Item = std::ops::Range<usize>> + '_ {
        let mut next = 0;
        std::iter::from_fn(move || {
            let first = (next..self.steps.len()).find(|&i| self.steps[i].link == Link::Driven)?;
            let last = (first..self.steps.len())
                .find(|&i| self.steps[i].link != Link::Driven)
                .unwrap_or(self.steps.len());
            next = last;
            Some(first..last + 1)
        })
    }

    /// Product id at a fix, if the log says one.
    #[must_use]
    pub fn product_at(&self, fix: usize) -> Option<&str> {
        let index = self.fixes[fix].product?;
        self.products.get(usize::from(index)).map(String::as_str)
    }
}

/// Clean tracks of one rig from all its logs. Two tracks when its id was in two places at once.
#[must_use]
pub fn clean(rig: &Rig, logs: Vec<Log>, defaults: &Defaults) -> (Vec<Track>, Vec<Finding>) {
    let mut findings = Vec::new();
    let lanes = merge::lanes(logs);
    let mut tracks = Vec::new();
    for (number, lane) in lanes.into_iter().enumerate() {
        if number > 0 {
            findings.push(shared_id(&lane));
        }
        let merged = merge::merge(lane.logs);
        let (track, notes) = link(merged, defaults);
        findings.extend(notes);
        tracks.extend(track);
    }
    for finding in &mut findings {
        finding.rig = Some(rig.id.clone());
    }
    (tracks, findings)
}

fn shared_id(lane: &merge::Lane) -> Finding {
    let logs = lane.logs.iter().map(|log| log.file.clone()).collect();
    let mut finding = Finding::new(
        Severity::LookInto,
        Matter::SharedRigId {
            logs,
            distance_m: lane.distance_m,
        },
    );
    let first = lane.logs.first().and_then(|log| log.fixes.first());
    finding.start = first.map(|fix| fix.time);
    finding.place = first.map(|fix| fix.place);
    // A whole run is in doubt: above every other remark on data.
    finding.weight = 1e6;
    finding
}

/// Drops impossible positions and says what lies between the fixes that stay.
fn link(mut merged: merge::Merged, defaults: &Defaults) -> (Option<Track>, Vec<Finding>) {
    let mut findings = Vec::new();
    let jumps = merged.drop_jumps();
    if let Some((count, first)) = jumps {
        let matter = Matter::JumpsDropped {
            count,
            limit_m_s: GREATEST_SPEED_M_S,
        };
        let mut finding = Finding::new(Severity::ForTheRecord, matter);
        finding.start = Some(first.time);
        finding.place = Some(first.place);
        findings.push(finding);
    }
    if merged.fixes.is_empty() {
        return (None, findings);
    }
    let mut steps: Vec<Step> = merged
        .fixes
        .windows(2)
        .map(|pair| step(&pair[0], &pair[1]))
        .collect();
    for (i, step) in steps.iter_mut().enumerate() {
        step.link = match merged.joint(i) {
            merge::Joint::SameSegment if step.speed_m_s() <= GREATEST_SPEED_M_S => Link::Driven,
            // A logger that begins a new file at work misses nothing; a longer silence than this is marked next.
            merge::Joint::OtherLog
                if step.seconds <= defaults.dropout_s && step.speed_m_s() <= GREATEST_SPEED_M_S =>
            {
                Link::Driven
            }
            merge::Joint::SameSegment | merge::Joint::SameLog => Link::Dropout,
            merge::Joint::OtherLog => Link::BetweenLogs,
        };
    }
    let mut track = Track {
        rig: merged.rig,
        logs: merged.logs,
        fixes: merged.fixes,
        steps,
        volume_since_last_fix: merged.volume_since_last_fix,
        products: merged.products,
        fixes_read: merged.fixes_read,
        fixes_repeated: merged.fixes_repeated,
        coarse_interval_s: None,
    };
    mark_silences(&mut track, defaults.dropout_s);
    forget_after_silences(&mut track);
    track.coarse_interval_s = coarse_interval_s(&track);
    (Some(track), findings)
}

/// The step between two fixes on the WGS 84 ellipsoid: radii of curvature at mid-latitude, off by
/// less than 1e-9 of the length for steps under a kilometre.
fn step(from: &Fix, to: &Fix) -> Step {
    let (east_m, north_m) = displacement_m(from.place, to.place);
    Step {
        link: Link::Driven,
        seconds: to.time.seconds_since(from.time),
        east_m,
        north_m,
    }
}

/// East and north displacement between two places, m.
#[must_use]
pub fn displacement_m(from: LonLat, to: LonLat) -> (f64, f64) {
    const EQUATORIAL_RADIUS_M: f64 = 6_378_137.0; // WGS 84, NIMA TR8350.2
    const FLATTENING: f64 = 1.0 / 298.257_223_563; // WGS 84, NIMA TR8350.2
    const E2: f64 = FLATTENING * (2.0 - FLATTENING);
    let (sin, cos) = f64::midpoint(from.lat_deg, to.lat_deg)
        .to_radians()
        .sin_cos();
    let w2 = 1.0 - E2 * sin * sin;
    let prime_vertical_m = EQUATORIAL_RADIUS_M / w2.sqrt();
    let meridian_m = prime_vertical_m * (1.0 - E2) / w2;
    let east_deg = (to.lon_deg - from.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    (
        east_deg.to_radians() * prime_vertical_m * cos,
        (to.lat_deg - from.lat_deg).to_radians() * meridian_m,
    )
}

/// Turns driven steps that are too long into dropouts, and dropouts in which nothing moved into parking.
fn mark_silences(track: &mut Track, dropout_s: f64) {
    let stretches: Vec<_> = track.stretches().collect();
    for stretch in stretches {
        let steps = stretch.start..stretch.end - 1;
        let mut intervals_s: Vec<f64> = track.steps[steps.clone()]
            .iter()
            .map(|step| step.seconds)
            .collect();
        let limit_s = dropout_s.max(DROPOUT_INTERVALS * median(&mut intervals_s));
        for step in &mut track.steps[steps] {
            if step.seconds > limit_s {
                step.link = Link::Dropout;
            }
        }
    }
    for i in 0..track.steps.len() {
        let still = track.steps[i].length_m() < PARKING_MOVE_M && meter_stood_still(track, i);
        if track.steps[i].link == Link::Dropout && still {
            track.steps[i].link = Link::Parking;
        }
    }
}

/// Nothing holds through a dropout: what a fix has from before one is taken away again, up to the first
/// fix that says it itself.
fn forget_after_silences(track: &mut Track) {
    let mut lost = 0;
    for i in 1..track.fixes.len() {
        if track.steps[i - 1].link == Link::Dropout {
            lost = u8::MAX;
        }
        let fix = &mut track.fixes[i];
        lost &= !fix.own;
        if lost == 0 {
            continue;
        }
        let is_lost = |channel: u8| lost & channel != 0;
        if is_lost(own::FLOW) {
            fix.flow_l_s = f64::NAN;
        }
        if is_lost(own::RATE) {
            fix.rate_ml_m2 = f64::NAN;
        }
        fix.open = fix.open.filter(|_| !is_lost(own::OPEN));
        fix.master = fix.master.filter(|_| !is_lost(own::MASTER));
        fix.gun = fix.gun.filter(|_| !is_lost(own::GUN));
    }
}

/// The total did not advance; without a total, nothing flowed on either side.
fn meter_stood_still(track: &Track, step: usize) -> bool {
    let (before, after) = (&track.fixes[step], &track.fixes[step + 1]);
    if track.volume_since_last_fix {
        return after.volume_l.is_nan() || after.volume_l <= 0.0;
    }
    if before.volume_l.is_finite() && after.volume_l.is_finite() {
        return after.volume_l <= before.volume_l;
    }
    let flows = |reading: f64| reading.is_finite() && reading > 0.0;
    let dry = |fix: &Fix| !flows(fix.flow_l_s) && !flows(fix.rate_ml_m2);
    dry(before) && dry(after)
}

fn coarse_interval_s(track: &Track) -> Option<f64> {
    let mut intervals_s: Vec<f64> = track
        .steps
        .iter()
        .filter(|step| {
            // A fix an hour shows hardly any speed, however far the rig drove in between.
            let moving = step.speed_m_s() > MOVING_M_S || step.length_m() > PARKING_MOVE_M;
            matches!(step.link, Link::Driven | Link::Dropout) && moving
        })
        .map(|step| step.seconds)
        .collect();
    let median_s = median(&mut intervals_s);
    (median_s > COARSE_INTERVAL_S).then_some(median_s)
}

/// The middle value (the upper of two); 0 for none.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests;
