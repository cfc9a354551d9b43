//! Step 4 of the flow: run logs to clean tracks, once per rig over the whole night.
//!
//! A track is one run: fixes in order of time, each counted once, and between every two of them a
//! [`Link`] that says what the log can tell of the time between. Nothing is dropped without being
//! counted.

mod decimals;
mod disowned;
mod lanes;
mod merge;
mod overlaps;
mod rhythm;
mod silences;
mod stamps;
mod steadied;

pub use decimals::Rounding;
pub use disowned::Disowned;
pub use rhythm::Rhythm;

use crate::findings::clocks::{AboutClocks, ClockFault};
use crate::findings::log::AboutLog;
use crate::findings::positions::AboutPositions;
use crate::findings::{Finding, Severity};
use crate::geometry::place::{EQUATORIAL_RADIUS_M, FLATTENING, Instant, LonLat, east_deg};
use crate::geometry::plane::length_m;
use crate::input::fleet::{Defaults, Rig, SectionLog};
use crate::input::log::{Fix, Log};

/// Speed no rig on a public road reaches, m/s (216 km/h): a faster step is a wrong position (trade judgement).
pub const GREATEST_SPEED_M_S: f64 = 60.0;

/// A silence in which the rig moved less than this, with the meter standing still, is parking, m. Well over the drift
/// of a parked receiver, well under the length of a rig (trade judgement).
pub const PARKING_MOVE_M: f64 = 5.0;

/// A log whose moving fixes are farther apart than this (median) cannot show coverage, s: at 4 m/s a section may open
/// and close unseen over 20 m (trade judgement).
pub const COARSE_INTERVAL_S: f64 = 5.0;

/// A slower step is not counted as moving when the usual interval is measured, m/s: faster than a parked receiver
/// drifts, slower than any spraying rig (trade judgement).
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
    /// Fixes of re-exported, split or overlapping files that say again what another file says.
    pub fixes_repeated: usize,
    /// Median time between moving fixes, s, when too long to show coverage.
    pub coarse_interval_s: Option<f64>,
    /// How its logs were written.
    pub manner: LogManner,
    /// Of each fix: so much farther off than the position error its place may be, m, where the receiver
    /// disowns it; empty where it never does.
    pub extra_m: Vec<f32>,
}

/// How a run's logs were written.
#[derive(Debug, Clone, Default)]
pub struct LogManner {
    /// When a fix was written.
    pub rhythm: Rhythm,
    /// Its log files with their times.
    pub files: Vec<FileSpan>,
    /// Coarsest grid on which the positions of a file stand; `None` with six decimals or more.
    pub rounding: Option<Rounding>,
    /// Places put into followed silences: fixes that no file has.
    pub filled: usize,
    /// Places that the receiver disowns.
    pub disowned: Disowned,
}

/// One log file of a run, over the time of its fixes.
#[derive(Debug, Clone)]
pub struct FileSpan {
    /// File name as shown.
    pub file: String,
    /// First fix.
    pub start: Instant,
    /// Last fix.
    pub end: Instant,
    /// Number of fixes.
    pub fixes: usize,
}

impl FileSpan {
    fn of(log: &Log) -> Self {
        let (start, end) = lanes::span(log);
        Self {
            file: log.file.clone(),
            start,
            end,
            fixes: log.fixes.len(),
        }
    }
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
        length_m(self.east_m, self.north_m)
    }

    /// Speed over the straight length, m/s.
    #[must_use]
    pub fn speed_m_s(&self) -> f64 {
        self.length_m() / self.seconds
    }

    /// The rig moved. A fix an hour shows hardly any speed, however far the rig drove in between.
    #[must_use]
    pub fn is_moving(&self) -> bool {
        self.speed_m_s() > MOVING_M_S || self.length_m() > PARKING_MOVE_M
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
    /// Fixes of its files that are left after cleaning.
    #[must_use]
    pub fn fixes_used(&self) -> usize {
        self.fixes.len() - self.manner.filled
    }

    /// Longest median time between moving fixes that can show coverage with such a logger, s.
    #[must_use]
    pub fn coarse_limit_s(&self) -> f64 {
        silences::coarse_limit_s(self.manner.rhythm)
    }

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

#[cfg(test)]
impl Track {
    /// A track of `count` fixes, one a second and each 4 m east of the last, for tests of later stages; `say`
    /// puts the channels in.
    pub(crate) fn eastward(count: usize, mut say: impl FnMut(usize, &mut Fix)) -> Self {
        let place = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        let fixes = (0..count).map(|i| {
            let mut fix = Fix::bare(Instant(i as i64 * 1_000_000), place, 1);
            say(i, &mut fix);
            fix
        });
        let step = Step {
            link: Link::Driven,
            seconds: 1.0,
            east_m: 4.0,
            north_m: 0.0,
        };
        Self {
            rig: 0,
            logs: vec![],
            fixes: fixes.collect(),
            steps: vec![step; count - 1],
            volume_since_last_fix: false,
            products: vec![],
            fixes_read: count,
            fixes_repeated: 0,
            coarse_interval_s: None,
            manner: LogManner::default(),
            extra_m: vec![],
        }
    }
}

/// Clean tracks of one rig from all its logs. Two tracks when its id was in two places at once.
#[must_use]
pub fn clean(rig: &Rig, logs: Vec<Log>, defaults: &Defaults) -> (Vec<Track>, Vec<Finding>) {
    let mut findings = Vec::new();
    let lanes = lanes::lanes(logs);
    let mut tracks = Vec::new();
    for (number, lane) in lanes.into_iter().enumerate() {
        if number > 0 {
            findings.push(shared_id(&lane));
        }
        let merged = merge::merge(lane.logs, defaults.dropout_s);
        let (track, notes) = link(merged, defaults.dropout_s, rig.section_log);
        findings.extend(notes);
        tracks.extend(track);
    }
    for finding in &mut findings {
        finding.rig = Some(rig.id.clone());
    }
    (tracks, findings)
}

fn shared_id(lane: &lanes::Lane) -> Finding {
    let logs = lane.logs.iter().map(|log| log.file.clone()).collect();
    let mut finding = Finding::new(
        Severity::LookInto,
        AboutLog::SharedRigId {
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
fn link(
    mut merged: merge::Merged,
    dropout_s: f64,
    section_log: SectionLog,
) -> (Option<Track>, Vec<Finding>) {
    let mut findings: Vec<Finding> = merged.stuck.take().map(clock_stood).into_iter().collect();
    let jumps = merged.drop_jumps();
    if let Some((count, first)) = jumps {
        let kind = AboutPositions::JumpsDropped {
            count,
            limit_m_s: GREATEST_SPEED_M_S,
        };
        let mut finding = Finding::new(Severity::ForTheRecord, kind);
        finding.start = Some(first.time);
        finding.place = Some(first.place);
        findings.push(finding);
    }
    if merged.fixes.is_empty() {
        return (None, findings);
    }
    steadied::steady(&mut merged.fixes, merged.rounding);
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
                if step.seconds <= dropout_s && step.speed_m_s() <= GREATEST_SPEED_M_S =>
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
        manner: LogManner {
            files: merged.files,
            rounding: merged.rounding,
            ..LogManner::default()
        },
        extra_m: vec![],
    };
    silences::mark(&mut track, dropout_s, section_log);
    disowned::bridge(&mut track);
    (Some(track), findings)
}

/// The finding of fixes that a standing clock wrote under one time.
fn clock_stood((count, first, file): (u64, Fix, String)) -> Finding {
    let kind = AboutClocks::ClockOdd {
        file,
        line: Some(u64::from(first.line)),
        count,
        what: ClockFault::StoodStill,
    };
    let mut finding = Finding::new(Severity::LookInto, kind);
    finding.start = Some(first.time);
    finding.place = Some(first.place);
    finding
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
    /// Squared eccentricity of the ellipsoid (arithmetic).
    const E2: f64 = FLATTENING * (2.0 - FLATTENING);
    let (sin, cos) = f64::midpoint(from.lat_deg, to.lat_deg)
        .to_radians()
        .sin_cos();
    let w2 = 1.0 - E2 * sin * sin;
    let prime_vertical_m = EQUATORIAL_RADIUS_M / w2.sqrt();
    let meridian_m = prime_vertical_m * (1.0 - E2) / w2;
    let east_deg = east_deg(from.lon_deg, to.lon_deg);
    (
        east_deg.to_radians() * prime_vertical_m * cos,
        (to.lat_deg - from.lat_deg).to_radians() * meridian_m,
    )
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
