//! How late the meter reads, from the log itself.
//!
//! A meter shows a mean over its window, through a filter, after a delay: half a second to five seconds
//! late (common practice). A controller lays what speed x open width ask for, so the flow follows that
//! demand at the lateness of its reading. The lateness is the shift of the demand at which a gain of its
//! own for each stretch of work leaves the least squares; each bout left out in turn says how sure that is.
//!
//! A valve that opens late makes dry heads too, and must not be explained away. So the shift counts only
//! where what the heads of the bouts lack runs on after they close, and only so far. (A valve as slow to
//! close as to open reads the same as a late meter; no log tells them apart.)

use crate::input::fleet::Rig;
use crate::rig::boom::Boom;
use crate::rig::track::{Link, Track};
use std::ops::Range;

/// Fewest bouts that end in closed sections: with fewer a single odd one decides (trade judgement).
const LEAST_CLOSINGS: usize = 8;
/// Shifts that are tried, s: beyond the latest meters (5 s is common practice), and below none at all, so that the best
/// one lies inside (common practice).
const SHIFTS_S: Range<f64> = -1.0..8.0;
/// Between two of them, s; the parabola through the three best ones finds the rest (tolerance).
const SHIFT_STEP_S: f64 = 0.25;
/// A lateness is known when twice its standard deviation is within this, s, or within twice this where what heads lack and
/// tails have say the same to within this (trade judgement).
const KNOWN_TO_S: f64 = 0.5;
/// A smaller lateness does no harm, s: ramp and tail of the timeline are longer (tolerance).
const LEAST_LATE_S: f64 = 1.0;
/// Liquid that comes this much later than the fleet file says at most starts is a fault, s: a controller that comes up,
/// a boom that fills and the log's own interval take up to 1.9 s on sound rigs (by trial).
const LEAST_SLOW_S: f64 = 2.0;
/// Heads are longer than the shift by this, s: filters and pumps take so long to come up. Still longer ones add the
/// unevenness of the lane (trade judgement).
const BEYOND_S: f64 = 3.0;
/// Tails have at most so much more than the heads lack, s, or this share of the lateness; and no meter is later than
/// what its tails have by more than that (trade judgement).
const AGREE_S: f64 = 0.5;
/// See [`AGREE_S`] (trade judgement).
const AGREE_SHARE: f64 = 0.35;
/// Tails have at least this share of what the heads lack: what a slow valve leaves out never comes (trade judgement).
const TAIL_SHARE: f64 = 0.5;
/// After a longer pause the controller may work at another rate, s: a drive to the next site (trade judgement).
const SAME_WORK_S: f64 = 60.0;
/// Latest meter where the log does not tell, s (common practice).
const LATEST_S: f64 = 5.0;
/// Groups of bouts that are left out in turn (tolerance).
const GROUPS: usize = 10;

/// How late a meter reads.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Late {
    /// Readings were moved earlier by this, s: as the fleet file says, else as fitted; 0 for none.
    pub moved_s: f64,
    /// What the log shows, whether it was believed or not; `None` where the fleet file says it, or where nothing shows.
    pub fitted: Option<Fitted>,
    /// The same of readings whose lateness the fleet file gives: what still shows.
    pub checked: Option<Fitted>,
    /// After that, the meter may still read so much late, s: 95 % upper bound. 0 where the fleet file says it, or
    /// nothing is metered.
    pub greatest_s: f64,
}

/// A lateness as fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// Lateness beyond the delays of the valves in the fleet file, s.
    pub late_s: f64,
    /// Its standard deviation, s.
    pub deviation_s: f64,
    /// Bouts that it comes from.
    pub closings: usize,
    /// How much later sections open than they close by the fleet file, s.
    pub told_apart_s: f64,
    /// What the heads of the bouts lack, s at the demand of those steps (median).
    pub head_s: f64,
    /// What runs on after they close, s at the demand of their last seconds (median).
    pub tail_s: f64,
    /// They say the same as the shift that fits best: heads as near as a lateness must be known, tails as near as they must
    /// agree with the heads.
    pub ends_agree: bool,
}

impl Fitted {
    /// Known well enough, and litres of heads and tails agree. The heads lack more: a controller takes half a second
    /// to come up, and pipes fill.
    #[must_use]
    pub fn is_lateness(&self) -> bool {
        let agree_s = agree_s(self.late_s);
        // Heads and tails are medians over the bouts: where they say the same, a few odd bouts spread the fit alone.
        let known_s = if self.ends_agree {
            2.0 * KNOWN_TO_S
        } else {
            KNOWN_TO_S
        };
        self.late_s >= LEAST_LATE_S
            && 2.0 * self.deviation_s <= known_s
            && self.tail_s - self.head_s <= agree_s
            && self.tail_s >= TAIL_SHARE * self.head_s
    }
}

/// How far apart heads and tails of a meter so late may be, s.
fn agree_s(late_s: f64) -> f64 {
    AGREE_S.max(AGREE_SHARE * late_s)
}

impl Late {
    /// Given in the fleet file.
    pub(super) fn told(delay_s: f64) -> Self {
        Self {
            moved_s: delay_s,
            ..Self::default()
        }
    }

    /// What its moved readings still show.
    pub(super) fn checked(self, checked: Option<Fitted>) -> Self {
        Self { checked, ..self }
    }

    /// How much later than its switches the liquid reaches the boom, by a meter that is prompt or was corrected,
    /// and the bouts that say so: a slow valve, or a boom that drained back.
    #[must_use]
    pub fn slow_start(&self) -> Option<(f64, usize)> {
        let prompt = self.fitted.filter(|_| self.moved_s.abs() <= 0.0);
        let fit = self.checked.or(prompt)?;
        let slow_s = fit.head_s - fit.tail_s.max(0.0) - fit.told_apart_s;
        (slow_s >= LEAST_SLOW_S).then_some((slow_s, fit.closings))
    }

    /// From a fit, or from none.
    pub(super) fn of(fitted: Option<Fitted>) -> Self {
        let Some(fit) = fitted else {
            return Self {
                greatest_s: LATEST_S,
                ..Self::default()
            };
        };
        let moved_s = if fit.is_lateness() { fit.late_s } else { 0.0 };
        // One-sided 95 % of a normal distribution.
        let bound_s = fit.late_s - moved_s + 1.645 * fit.deviation_s;
        Self {
            moved_s,
            fitted,
            checked: None,
            greatest_s: bound_s.clamp(0.0, LATEST_S),
        }
    }
}

/// Fits the lateness of a flow over the steps of a track, L/s (not a number where it is not known). `None`
/// with too few closings, without section states, or where nothing flows.
pub(super) fn fit(track: &Track, rig: &Rig, boom: &Boom, flow_l_s: &[f64]) -> Option<Fitted> {
    let demand = Demand::of(track, boom);
    let bouts = bouts(track, &demand, flow_l_s);
    if bouts.len() < LEAST_CLOSINGS {
        return None;
    }
    let sums: Vec<Sums> = bouts
        .iter()
        .map(|bout| Sums::of(bout, track, &demand, flow_l_s))
        .collect();
    let shift_s = best_shift_s(&sums, &bouts, None)?;
    let groups = GROUPS.min(bouts.len());
    let others_s: Vec<f64> = (0..groups)
        .filter_map(|group| best_shift_s(&sums, &bouts, Some((group, groups))))
        .collect();
    if others_s.len() < groups {
        return None;
    }
    let mean_s = others_s.iter().sum::<f64>() / groups as f64;
    let squares_s2: f64 = others_s
        .iter()
        .map(|other_s| (other_s - mean_s).powi(2))
        .sum();
    // The jackknife's (Efron, Annals of Statistics 7, 1979, from memory).
    let jackknife_s = (squares_s2 * (groups as f64 - 1.0) / groups as f64).sqrt();
    let (head_s, tail_s) = ends_s(&bouts, &demand, flow_l_s, track, shift_s)?;
    Some(Fitted {
        late_s: shift_s.min(tail_s + AGREE_S) - told_s(rig),
        deviation_s: jackknife_s,
        closings: bouts.len(),
        told_apart_s: rig.open_delay_s - rig.close_delay_s,
        head_s,
        tail_s,
        ends_agree: (head_s - shift_s).abs() <= KNOWN_TO_S
            && (tail_s - shift_s).abs() <= agree_s(shift_s),
    })
}

/// The fleet file's own word on how late switches reach the ground, s: no lateness of the meter. That a fix
/// shows a switch half an interval late on average is left out: it shows the flow as late.
fn told_s(rig: &Rig) -> f64 {
    f64::midpoint(rig.open_delay_s, rig.close_delay_s) - rig.log_lag_s.unwrap_or(0.0)
}

/// What the open sections ask for, at an even rate.
struct Demand {
    /// Of each step, m2/s.
    m2_s: Vec<f64>,
    /// Summed up to each fix, m2.
    sum_m2: Vec<f64>,
    /// Of each fix, s after the first.
    time_s: Vec<f64>,
}

impl Demand {
    fn of(track: &Track, boom: &Boom) -> Self {
        let (mut sum_m2, mut time_s, mut m2_s) = (vec![0.0], vec![0.0], Vec::new());
        for (i, step) in track.steps.iter().enumerate() {
            let open = if step.link == Link::Driven {
                boom.switched_open(&track.fixes[i], false)
            } else {
                0
            };
            let of_step = boom.width_m(open) * step.speed_m_s();
            m2_s.push(of_step);
            sum_m2.push(sum_m2[i] + of_step * step.seconds);
            time_s.push(time_s[i] + step.seconds);
        }
        Self {
            m2_s,
            sum_m2,
            time_s,
        }
    }

    /// Sum at a time, by a pointer that only moves on: times must not fall from call to call.
    fn sum_at(&self, time_s: f64, after: &mut usize) -> f64 {
        while *after + 1 < self.time_s.len() && self.time_s[*after] < time_s {
            *after += 1;
        }
        // Before the first fix and after the last one nothing is asked for.
        let k = (*after).clamp(1, self.time_s.len() - 1);
        let (from_s, to_s) = (self.time_s[k - 1], self.time_s[k]);
        let share = ((time_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
        self.sum_m2[k - 1] + share * (self.sum_m2[k] - self.sum_m2[k - 1])
    }
}

/// One unbroken time with sections open and liquid flowing, up to the next one.
struct Bout {
    /// Steps with sections open.
    open: Range<usize>,
    /// Steps that are looked at: from its opening until the next one, or as long as a meter may be late.
    all: Range<usize>,
    /// Bouts with the same number are taken to be worked at one rate.
    work: usize,
}

fn bouts(track: &Track, demand: &Demand, flow_l_s: &[f64]) -> Vec<Bout> {
    let mut bouts: Vec<Bout> = Vec::new();
    let mut work = 0;
    for stretch in track.stretches() {
        let steps = stretch.start..stretch.end - 1;
        work += 1;
        let mut k = steps.start;
        while k < steps.end {
            let opens = (k..steps.end).find(|&i| demand.m2_s[i] > 0.0);
            let Some(first) = opens else { break };
            let open_end = (first..steps.end)
                .find(|&i| {
                    track.fixes[i].open.unwrap_or(0) == 0 || track.fixes[i].master == Some(false)
                })
                .unwrap_or(steps.end);
            let next = (open_end..steps.end)
                .find(|&i| demand.m2_s[i] > 0.0)
                .unwrap_or(steps.end);
            let closed_s = demand.time_s[open_end];
            let end = (open_end..next)
                .find(|&i| demand.time_s[i] - closed_s >= SHIFTS_S.end)
                .unwrap_or(next);
            let all = first..end;
            // Demand must be known as far back as the meter may be late; a silence has none.
            let known = demand.time_s[first] - demand.time_s[steps.start] >= SHIFTS_S.end;
            let closes = open_end < steps.end;
            let plain = all
                .clone()
                .all(|i| track.fixes[i].gun != Some(true) && flow_l_s[i].is_finite());
            let flows = first..open_end;
            if known && closes && plain && flows.clone().any(|i| flow_l_s[i] > 0.0) {
                bouts.push(Bout {
                    open: flows,
                    all,
                    work,
                });
            }
            if next < steps.end && demand.time_s[next] - closed_s > SAME_WORK_S {
                work += 1;
            }
            k = next.max(open_end + 1);
        }
    }
    bouts
}

/// Of one bout: sums of squares and products for every shift.
struct Sums {
    flow_flow: f64,
    /// With the demand of each shift: (flow x demand, demand x demand).
    with: Vec<(f64, f64)>,
}

impl Sums {
    fn of(bout: &Bout, track: &Track, demand: &Demand, flow_l_s: &[f64]) -> Self {
        let flows = bout
            .all
            .clone()
            .map(|i| flow_l_s[i].powi(2) * track.steps[i].seconds);
        let with = shifts_s().map(|shift_s| {
            let first_s = demand.time_s[bout.all.start] - shift_s;
            let mut after = demand.time_s.partition_point(|&end_s| end_s < first_s);
            let mut from_m2 = demand.sum_at(first_s, &mut after);
            let (mut product, mut square) = (0.0, 0.0);
            for i in bout.all.clone() {
                let to_m2 = demand.sum_at(demand.time_s[i + 1] - shift_s, &mut after);
                let asked_m2 = to_m2 - from_m2;
                product += flow_l_s[i] * asked_m2;
                square += asked_m2 * asked_m2 / track.steps[i].seconds;
                from_m2 = to_m2;
            }
            (product, square)
        });
        Self {
            flow_flow: flows.sum(),
            with: with.collect(),
        }
    }
}

fn shifts_s() -> impl Iterator<Item = f64> {
    let count = ((SHIFTS_S.end - SHIFTS_S.start) / SHIFT_STEP_S).round() as usize;
    (0..=count).map(|k| SHIFTS_S.start + k as f64 * SHIFT_STEP_S)
}

/// The shift with the least squares, each stretch of work with a gain of its own; `None` where it lies at the end of
/// what was looked at. `without`: a group of bouts, and of how many, that is left out.
fn best_shift_s(sums: &[Sums], bouts: &[Bout], without: Option<(usize, usize)>) -> Option<f64> {
    let stays = |k: usize| without.is_none_or(|(group, groups)| k * groups / bouts.len() != group);
    let squares: Vec<f64> = shifts_s()
        .enumerate()
        .map(|(shift, _)| {
            let mut rest = 0.0;
            let mut k = 0;
            for work in bouts.chunk_by(|a, b| a.work == b.work) {
                let own = (k..k + work.len()).filter(|&k| stays(k));
                let (flows, product, square) = own.fold((0.0, 0.0, 0.0), |(f, p, s), k| {
                    let (product, square) = sums[k].with[shift];
                    (f + sums[k].flow_flow, p + product, s + square)
                });
                rest += flows
                    - if square > 0.0 {
                        product * product / square
                    } else {
                        0.0
                    };
                k += work.len();
            }
            rest
        })
        .collect();
    let best = (0..squares.len()).min_by(|&a, &b| squares[a].total_cmp(&squares[b]))?;
    let (before, after) = (squares.get(best.checked_sub(1)?)?, squares.get(best + 1)?);
    let bend = before - 2.0 * squares[best] + after;
    let off = if bend > 0.0 {
        (before - after) / (2.0 * bend)
    } else {
        0.0
    };
    Some(SHIFTS_S.start + (best as f64 + off) * SHIFT_STEP_S)
}

/// What heads lack and what runs on after the closings, each in seconds of the demand beside it: medians over the bouts.
/// A rig that brakes before it closes has less to run on than it lacked when it began, so one demand for both misleads.
fn ends_s(
    bouts: &[Bout],
    demand: &Demand,
    flow_l_s: &[f64],
    track: &Track,
    shift_s: f64,
) -> Option<(f64, f64)> {
    let (mut heads_s, mut tails_s) = (Vec::new(), Vec::new());
    let seconds = |i: usize| track.steps[i].seconds;
    let asked_m2 = |steps: Range<usize>| demand.sum_m2[steps.end] - demand.sum_m2[steps.start];
    let flowed_l = |steps: Range<usize>| steps.map(|i| flow_l_s[i] * seconds(i)).sum::<f64>();
    let long_s = |steps: &Range<usize>| demand.time_s[steps.end] - demand.time_s[steps.start];
    for work in bouts.chunk_by(|a, b| a.work == b.work) {
        let gain_l_m2 = gain_l_m2(work, demand, flow_l_s, track, shift_s);
        for bout in work {
            let near_s = shift_s.max(LEAST_LATE_S);
            let last = steps_before(demand, &bout.open, near_s);
            let head = steps_from(demand, &bout.open, near_s + BEYOND_S);
            let lacks_l = gain_l_m2 * asked_m2(head.clone()) - flowed_l(head.clone());
            let too_much_l = flowed_l(bout.open.end..bout.all.end);
            let usual_l_s = |steps: Range<usize>| {
                let steps_s = long_s(&steps);
                gain_l_m2 * asked_m2(steps) / steps_s
            };
            heads_s.push(lacks_l / usual_l_s(head));
            tails_s.push(too_much_l / usual_l_s(last));
        }
    }
    let known = heads_s.iter().chain(&tails_s).all(|s| s.is_finite());
    (known && !heads_s.is_empty()).then(|| {
        (
            crate::rig::track::median(&mut heads_s),
            crate::rig::track::median(&mut tails_s),
        )
    })
}

/// The first steps of some that come to so long, or all.
fn steps_from(demand: &Demand, steps: &Range<usize>, long_s: f64) -> Range<usize> {
    let start_s = demand.time_s[steps.start];
    let enough = |i: &usize| demand.time_s[i + 1] - start_s >= long_s;
    let last = steps.clone().find(enough);
    steps.start..last.map_or(steps.end, |last| last + 1)
}

/// The last steps of some that come to so long, or all.
fn steps_before(demand: &Demand, steps: &Range<usize>, long_s: f64) -> Range<usize> {
    let end_s = demand.time_s[steps.end];
    let enough = |i: &usize| end_s - demand.time_s[*i] >= long_s;
    let first = steps.clone().rev().find(enough);
    first.unwrap_or(steps.start)..steps.end
}

/// Litres for each m2 of demand: the median over the second halves of the bouts, the demand moved by the
/// best shift. Not that of all litres over all demand: a slow valve would lower it, and the tails would
/// seem to have too much.
fn gain_l_m2(work: &[Bout], demand: &Demand, flow_l_s: &[f64], track: &Track, shift_s: f64) -> f64 {
    let mut gains = Vec::new();
    for bout in work {
        let second_half = bout.open.start.midpoint(bout.open.end)..bout.open.end;
        let first_s = demand.time_s[second_half.start] - shift_s;
        let mut after = demand.time_s.partition_point(|&end_s| end_s < first_s);
        for i in second_half {
            let from_m2 = demand.sum_at(demand.time_s[i] - shift_s, &mut after);
            let to_m2 = demand.sum_at(demand.time_s[i + 1] - shift_s, &mut after);
            if to_m2 > from_m2 {
                gains.push(flow_l_s[i] * track.steps[i].seconds / (to_m2 - from_m2));
            }
        }
    }
    crate::rig::track::median(&mut gains)
}

#[cfg(test)]
mod tests;
