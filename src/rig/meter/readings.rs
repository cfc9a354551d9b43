//! The readings of a total, without those that cannot be, and what it gained from one to the next.
//!
//! Totals slip: a reading of 0 while the controller starts, a digit lost on the wire. A slip that is
//! followed back invents as much as it hides, so it is left out. A fall that stays is a reset.

use crate::geometry::place::Instant;
use crate::input::fleet::Rig;
use crate::rig::track::{Link, Track};

/// A rise over this many times the greatest flow is not a flow: pumps give a little more than their plate says, never
/// three times as much (trade judgement).
const IMPOSSIBLE_TIMES: f64 = 3.0;
/// Greatest flow where the fleet file has none, L/s (159 gal/min): the widest highway booms need less (common practice).
const GREATEST_FLOW_L_S: f64 = 10.0;
/// A tick of the total may come just after its litres; at least so much may be late, L (trade judgement).
const LEAST_SLACK_L: f64 = 2.0;
/// Slips of more readings than this are not slips (limit).
const LONGEST_SLIP: usize = 60;
/// A fall to more than this share of the reading before is not a reset: those go to nearly nothing (trade judgement).
const RESET_BELOW: f64 = 0.9;

/// A reading of the total that counts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    /// Its fix.
    pub(super) fix: usize,
    /// Gain since the reading before, L, before the meter factor.
    pub(super) gain_l: f64,
    /// The gain is known; otherwise the rise is more than a pump gives.
    pub(super) known: bool,
    /// The count began anew since the reading before (or cannot have run on).
    pub(super) anew: bool,
}

/// Readings of a total that cannot be.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Oddities {
    /// Single readings off the run of the total: left out.
    pub slips: usize,
    /// Rises within a log that no pump makes: not counted.
    pub jumps: usize,
    /// What those rises, and the readings that resets began with, would come to, L.
    pub uncounted_l: f64,
    /// When the first was.
    pub first: Option<Instant>,
}

/// All readings in order of time.
#[derive(Debug, Clone, Default)]
pub(super) struct Readings {
    pub(super) list: Vec<Reading>,
    pub(super) oddities: Oddities,
}

/// What a pump can give.
struct Pump {
    greatest_l_s: f64,
    slack_l: f64,
}

impl Pump {
    fn can_give(&self, litres: f64, seconds: f64) -> bool {
        litres <= self.greatest_l_s * seconds + self.slack_l
    }
}

/// One logged value.
#[derive(Clone, Copy)]
struct Value {
    fix: usize,
    litres: f64,
    time: Instant,
}

/// The readings of a track's total, or of its volumes since the last fix.
pub(super) fn of(track: &Track, rig: &Rig) -> Readings {
    let values: Vec<Value> = track
        .fixes
        .iter()
        .enumerate()
        .filter(|(_, fix)| fix.volume_l.is_finite())
        .map(|(fix, of)| Value {
            fix,
            litres: of.volume_l,
            time: of.time,
        })
        .collect();
    let factor = rig.meter.factor;
    let pump = Pump {
        greatest_l_s: match rig.greatest_flow_l_s {
            Some(greatest) => IMPOSSIBLE_TIMES * greatest / factor,
            None => IMPOSSIBLE_TIMES * GREATEST_FLOW_L_S / factor,
        },
        slack_l: slack_l(&values, track.volume_since_last_fix),
    };
    if track.volume_since_last_fix {
        return since_last(track, &values, &pump);
    }
    let mut oddities = Oddities::default();
    let kept = without_slips(&values, &pump, &mut oddities);
    let reset_l_s = rig.greatest_flow_l_s.unwrap_or(0.0) / factor;
    gains(track, &kept, &pump, reset_l_s, oddities)
}

/// Two usual gains: one tick that came late, one that came early.
fn slack_l(values: &[Value], since_last_fix: bool) -> f64 {
    let mut gains: Vec<f64> = if since_last_fix {
        values.iter().map(|value| value.litres).collect()
    } else {
        values
            .windows(2)
            .map(|pair| pair[1].litres - pair[0].litres)
            .collect()
    };
    gains.retain(|&gain| gain > 0.0);
    LEAST_SLACK_L.max(2.0 * crate::rig::track::median(&mut gains))
}

/// Volumes since the last fix: each is a gain.
fn since_last(track: &Track, values: &[Value], pump: &Pump) -> Readings {
    let mut readings = Readings::default();
    for (k, value) in values.iter().enumerate() {
        let gain_l = value.litres.max(0.0);
        let known = k == 0 || pump.can_give(gain_l, value.time.seconds_since(values[k - 1].time));
        if !known {
            jump(
                track,
                (&values[k - 1], value),
                gain_l,
                &mut readings.oddities,
            );
        }
        readings.list.push(Reading {
            fix: value.fix,
            gain_l: if k > 0 && known { gain_l } else { 0.0 },
            known,
            anew: !known,
        });
    }
    readings
}

/// Counts a rise that cannot be. Between two logs the meter may be another one: no jump of this one.
fn jump(track: &Track, (from, to): (&Value, &Value), litres: f64, oddities: &mut Oddities) {
    let other_log = track.steps[from.fix..to.fix]
        .iter()
        .any(|step| step.link == Link::BetweenLogs);
    if !other_log {
        oddities.jumps += 1;
        oddities.first.get_or_insert(to.time);
    }
    oddities.uncounted_l += litres;
}

/// Leaves out readings that the total comes back from.
fn without_slips(values: &[Value], pump: &Pump, oddities: &mut Oddities) -> Vec<Value> {
    let mut kept: Vec<Value> = Vec::with_capacity(values.len());
    let mut i = 0;
    while i < values.len() {
        let value = values[i];
        let Some(&last) = kept.last() else {
            kept.push(value);
            i += 1;
            continue;
        };
        if value.litres < last.litres {
            if let Some(end) = slip_end(values, i, last, pump) {
                oddities.slips += end - i;
                oddities.first.get_or_insert(value.time);
                i = end;
                continue;
            }
        } else if !can_rise(pump, last, value) {
            let back = values
                .get(i + 1)
                .is_some_and(|next| can_rise(pump, last, *next));
            if back {
                oddities.slips += 1;
                oddities.first.get_or_insert(value.time);
                i += 1;
                continue;
            }
            // A meter that was not ready reads 0, however long; the total was where it is now.
            let ready = kept.iter().rposition(|kept| kept.litres.abs() > 0.0);
            let zeros = ready.map_or(0, |ready| ready + 1)..kept.len();
            let goes_on = ready.is_none_or(|ready| can_rise(pump, kept[ready], value));
            if !zeros.is_empty() && goes_on {
                oddities.slips += zeros.len();
                oddities.first.get_or_insert(kept[zeros.start].time);
                kept.truncate(zeros.start);
            }
        }
        kept.push(value);
        i += 1;
    }
    kept
}

fn can_rise(pump: &Pump, from: Value, to: Value) -> bool {
    let rise_l = to.litres - from.litres;
    rise_l >= 0.0 && pump.can_give(rise_l, to.time.seconds_since(from.time))
}

/// The reading at which the total is back where it was before it fell at `start`: a slip, if it lasted
/// one reading, or if the way back is not a flow, or if it was shallow. `None` for a reset.
fn slip_end(values: &[Value], start: usize, last: Value, pump: &Pump) -> Option<usize> {
    let end = (start + 1..values.len().min(start + LONGEST_SLIP + 1))
        .find(|&k| values[k].litres >= last.litres)?;
    let shallow = || {
        values[start..end]
            .iter()
            .all(|low| low.litres > RESET_BELOW * last.litres)
    };
    let is_slip = end == start + 1 || !can_rise(pump, values[end - 1], values[end]) || shallow();
    (is_slip && can_rise(pump, last, values[end])).then_some(end)
}

/// Gains between the readings that stay. A falling total is a reset: the new reading counts when the
/// pump could have given it since, and only then.
fn gains(
    track: &Track,
    kept: &[Value],
    pump: &Pump,
    reset_l_s: f64,
    mut oddities: Oddities,
) -> Readings {
    let mut list = Vec::with_capacity(kept.len());
    for (k, value) in kept.iter().enumerate() {
        let mut reading = Reading {
            fix: value.fix,
            gain_l: 0.0,
            known: true,
            anew: false,
        };
        if let Some(before) = k.checked_sub(1).map(|k| &kept[k]) {
            let seconds = value.time.seconds_since(before.time);
            let rise_l = value.litres - before.litres;
            if rise_l < 0.0 {
                reading.anew = true;
                if (0.0..=reset_l_s * seconds).contains(&value.litres) {
                    reading.gain_l = value.litres;
                } else {
                    oddities.uncounted_l += value.litres.max(0.0);
                }
            } else if pump.can_give(rise_l, seconds) {
                reading.gain_l = rise_l;
            } else {
                (reading.known, reading.anew) = (false, true);
                jump(track, (before, value), rise_l, &mut oddities);
            }
        }
        list.push(reading);
    }
    Readings { list, oddities }
}
