//! When a logger writes: by time, by distance, or when a section switches.
//!
//! What a silence means depends on it. A logger by distance is silent as long as a rig is slow, one that
//! writes each switch as long as nothing switches. The first is recognised from the data; the second is
//! said in the fleet file, since a silence looks the same as a failure.

use super::{Link, Step, median};

/// Fewer moving steps than this do not show a rhythm (trade judgement).
const LEAST_STEPS: usize = 30;
/// A value this near to the median, as a share of it, is the usual one (trade judgement).
const USUAL: f64 = 0.20;
/// Lengths of a logger by distance are the usual one in at least this share of its moving steps; chords of turns are
/// up to 11 % shorter (10 m around a circle of 6 m) (trade judgement) ...
const LEAST_LENGTHS: f64 = 0.80;
/// ... while times are in this share less of them: at a steady speed they would be as constant (trade judgement).
const LEAST_DIFFERENCE: f64 = 0.25;
/// Steps shorter than this are not logging by distance, m: receivers jitter by as much (tolerance).
const LEAST_STEP_M: f64 = 2.0;
/// A step of a logger by distance is complete up to this many usual lengths: beyond, a fix was lost (trade
/// judgement).
const GREATEST_STEPS: f64 = 1.5;
/// Moving steps farther apart than this cannot show coverage, m: what a rig drives at 4 m/s in the longest interval
/// of a log by time ([`super::COARSE_INTERVAL_S`]) (arithmetic).
pub(super) const COARSE_STEP_M: f64 = 20.0;

/// When a logger writes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rhythm {
    /// After a time.
    Time {
        /// Median between moving fixes, s; 0 where nothing moved.
        interval_s: f64,
    },
    /// After a distance.
    Distance {
        /// Median between moving fixes, m.
        step_m: f64,
        /// Median between moving fixes, s.
        interval_s: f64,
    },
    /// When a section switches.
    OnChange {
        /// Median between moving fixes, s; 0 where nothing moved.
        interval_s: f64,
        /// Longest silence that was followed, s; 0 for none.
        longest_s: f64,
        /// Longest way in such a silence, m.
        longest_m: f64,
    },
}

impl Default for Rhythm {
    fn default() -> Self {
        Self::Time { interval_s: 0.0 }
    }
}

impl Rhythm {
    /// Median time between moving fixes, s; 0 where nothing moved.
    #[must_use]
    pub fn interval_s(&self) -> f64 {
        match *self {
            Self::Time { interval_s }
            | Self::Distance { interval_s, .. }
            | Self::OnChange { interval_s, .. } => interval_s,
        }
    }

    /// A step as long as a logger by distance makes them.
    pub(super) fn is_usual_length(&self, step: &Step) -> bool {
        matches!(self, Self::Distance { step_m, .. } if step.length_m() <= GREATEST_STEPS * step_m)
    }

    /// A slow step of the usual length: the logger had nothing to write, and the rig kept moving.
    pub(super) fn explains(&self, step: &Step) -> bool {
        self.is_usual_length(step) && step.speed_m_s() >= super::MOVING_M_S
    }
}

/// The rhythm that the steps show, by time or by distance.
pub(super) fn recognised(steps: &[Step]) -> Rhythm {
    let moving: Vec<&Step> = steps
        .iter()
        .filter(|step| matches!(step.link, Link::Driven | Link::Dropout) && step.is_moving())
        .collect();
    let interval_s = median(&mut moving.iter().map(|step| step.seconds).collect::<Vec<_>>());
    let step_m = median(
        &mut moving
            .iter()
            .map(|step| step.length_m())
            .collect::<Vec<_>>(),
    );
    let by_time = Rhythm::Time { interval_s };
    if moving.len() < LEAST_STEPS || step_m < LEAST_STEP_M {
        return by_time;
    }
    let share = |value: fn(&Step) -> f64, usual: f64| {
        let near = |step: &&&Step| (value(step) - usual).abs() <= USUAL * usual;
        moving.iter().filter(near).count() as f64 / moving.len() as f64
    };
    let lengths = share(Step::length_m, step_m);
    let times = share(|step| step.seconds, interval_s);
    if lengths >= LEAST_LENGTHS && lengths - times >= LEAST_DIFFERENCE {
        Rhythm::Distance { step_m, interval_s }
    } else {
        by_time
    }
}
