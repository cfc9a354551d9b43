//! A run's liquid by minutes, for a chart of its flow and rate over the night.

use super::Run;
use crate::geometry::place::Instant;
use crate::rig::meter::MeteredBy;
use crate::rig::pose::Motion;

/// Length of one, us (arithmetic).
const MINUTE_US: i64 = 60_000_000;

/// One minute of a run with liquid on the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Minute {
    /// Its start: a whole minute of UTC.
    pub start: Instant,
    /// Time with liquid on the ground while driving, s.
    pub wet_s: f64,
    /// Liquid laid meanwhile, L; `None` where nothing is metered.
    pub volume_l: Option<f64>,
    /// Ground swept meanwhile: distance times the width of the open sections, m2.
    pub swept_m2: f64,
}

/// The minutes in which a rig drove with liquid on the ground. A span belongs to the minute of its middle: spans are
/// a second or a few long. Liquid laid while it stood is left out, since it has no rate.
#[must_use]
pub fn of(run: &Run) -> Vec<Minute> {
    let metered = run.metered.by != MeteredBy::Nothing;
    let mut minutes: Vec<Minute> = Vec::new();
    for span in run.wet_spans() {
        let step = span.step as usize;
        if run.posed.curves[step].motion == Motion::Parked {
            continue;
        }
        let middle = run.at(step, f32::midpoint(span.from_u, span.to_u));
        let start = Instant(middle.0.div_euclid(MINUTE_US) * MINUTE_US);
        if minutes.last().is_none_or(|last| last.start != start) {
            minutes.push(Minute {
                start,
                wet_s: 0.0,
                volume_l: metered.then_some(0.0),
                swept_m2: 0.0,
            });
        }
        let Some(minute) = minutes.last_mut() else {
            continue;
        };
        let length_m = span.share_of_step() * run.track.steps[step].length_m();
        minute.wet_s += run.span_s(span);
        minute.swept_m2 += length_m * run.boom.width_m(span.open);
        if let Some(volume_l) = &mut minute.volume_l {
            *volume_l += span.litres;
        }
    }
    minutes
}
