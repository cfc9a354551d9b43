//! What may have leaked under a coarse total.
//!
//! A total in whole ticks cannot tell where within a tick its litres went, and they are laid where sections were open: a
//! leak through closed ones reads as a rate too high. Over many ticks it shows all the same: from one tick to the next
//! the total gains a x (ground asked for) + b x (time with every section closed). Both are fitted by least squares;
//! where b stands clear of its error, somebody should look.

use super::readings::Readings;
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track};

/// Fewest ticks that show a leak (trade judgement).
const LEAST_TICKS: usize = 20;
/// The leak stands out by so many standard errors (common practice).
const STANDS_OUT: f64 = 3.0;
/// The upper bound lies so many standard errors above it (95 %, one-sided) (arithmetic).
const BOUND: f64 = 1.645;

/// Liquid that perhaps ran with every section closed and was counted as sprayed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerhapsLeaked {
    /// Best guess, L.
    pub litres: f64,
    /// 95 % upper bound, L.
    pub at_most_l: f64,
    /// Time with every section closed, s.
    pub closed_s: f64,
}

/// Of the readings of a coarse total, before the meter factor.
pub(super) fn perhaps(track: &Track, boom: &Boom, readings: &Readings) -> Option<PerhapsLeaked> {
    let ticks = ticks(track, boom, readings);
    if ticks.len() < LEAST_TICKS {
        return None;
    }
    let sum = |of: fn(&Tick) -> f64| ticks.iter().map(of).sum::<f64>();
    let (aa, at, tt) = (
        sum(|tick| tick.ground_m2 * tick.ground_m2),
        sum(|tick| tick.ground_m2 * tick.closed_s),
        sum(|tick| tick.closed_s * tick.closed_s),
    );
    let (ga, gt) = (
        sum(|tick| tick.gain_l * tick.ground_m2),
        sum(|tick| tick.gain_l * tick.closed_s),
    );
    let determinant = aa * tt - at * at;
    if determinant <= 0.0 {
        return None;
    }
    let l_per_m2 = (ga * tt - gt * at) / determinant;
    let l_per_s = (gt * aa - ga * at) / determinant;
    let off_l = |tick: &Tick| tick.gain_l - l_per_m2 * tick.ground_m2 - l_per_s * tick.closed_s;
    let squares_l2: f64 = ticks.iter().map(|tick| off_l(tick).powi(2)).sum();
    let variance_l2 = squares_l2 / (ticks.len() as f64 - 2.0);
    let error_l_s = (variance_l2 * aa / determinant).sqrt();
    let closed_s = sum(|tick| tick.closed_s);
    (l_per_s > STANDS_OUT * error_l_s).then_some(PerhapsLeaked {
        litres: l_per_s * closed_s,
        at_most_l: (l_per_s + BOUND * error_l_s) * closed_s,
        closed_s,
    })
}

/// From one tick of the total to the next.
struct Tick {
    gain_l: f64,
    /// Open width times distance, m2.
    ground_m2: f64,
    closed_s: f64,
}

/// Those without silences, guns and resets.
fn ticks(track: &Track, boom: &Boom, readings: &Readings) -> Vec<Tick> {
    let mut ticks = Vec::new();
    let mut since: Option<usize> = None;
    for pair in readings.list.windows(2) {
        let reading = &pair[1];
        if reading.anew || !reading.known {
            since = None;
        } else if reading.gain_l > 0.0 {
            if let Some(from) = since {
                ticks.extend(tick(track, boom, from..reading.fix, reading.gain_l));
            }
            since = Some(reading.fix);
        }
    }
    ticks
}

fn tick(track: &Track, boom: &Boom, steps: std::ops::Range<usize>, gain_l: f64) -> Option<Tick> {
    let (mut ground_m2, mut closed_s) = (0.0, 0.0);
    for i in steps {
        let (fix, step) = (&track.fixes[i], &track.steps[i]);
        let known = matches!(step.link, Link::Driven | Link::Parking);
        if !known || fix.gun == Some(true) {
            return None;
        }
        let open = boom.switched_open(fix, false);
        if open == 0 {
            closed_s += step.seconds;
        } else {
            ground_m2 += boom.width_m(open) * step.length_m();
        }
    }
    Some(Tick {
        gain_l,
        ground_m2,
        closed_s,
    })
}
