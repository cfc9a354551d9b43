//! Bouts of spraying: from switch times and metered litres to spans on the ground.
//!
//! A bout is one unbroken time with any section switched open. It is laid over its window on the
//! ground: from its start plus the open delay to its end plus the close delay. Windows that meet
//! are one.
//!
//! A stretch's first and last fix are not switches: what is open there was open before, or stays so, in a
//! silence, another segment or another log. Nothing moves them.

use super::{Span, Timeline};
use crate::input::fleet::{Rig, SectionLog};
use crate::rig::boom::{Boom, Sections};
use crate::rig::meter::Metered;
use crate::rig::track::Track;
use std::ops::Range;

/// What the bouts of a stretch are made from.
pub(super) struct Bouts<'a> {
    pub(super) track: &'a Track,
    pub(super) metered: &'a Metered,
    pub(super) rig: &'a Rig,
    pub(super) boom: &'a Boom,
    pub(super) tail_s: f64,
    /// Longest ramp at the start of a bout.
    pub(super) ramp_s: f64,
    /// Switches are logged; else they are read off the flow, and have no interval of their own.
    pub(super) has_states: bool,
}

/// One window on the ground and what is laid over it.
struct Window {
    /// Steps (within the stretch) switched open, first and one past the last.
    steps: Range<usize>,
    start_s: f64,
    end_s: f64,
    litres: f64,
    /// Of these, metered after the last section closed.
    late_l: f64,
}

/// A change of one section on the ground.
struct Change {
    time_s: f64,
    section: usize,
    opens: bool,
    /// See [`Span::switched_within_s`].
    within_s: Option<f32>,
}

/// The longer of two times, of which either may be none.
fn longer(a: Option<f32>, b: Option<f32>) -> Option<f32> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        _ => a.or(b),
    }
}

impl Bouts<'_> {
    /// Adds the spans, gun and closed litres of one stretch of fixes to the timeline.
    pub(super) fn lay(&self, fixes: Range<usize>, timeline: &mut Timeline) {
        let start = self.track.fixes[fixes.start].time;
        let times_s: Vec<f64> = self.track.fixes[fixes.clone()]
            .iter()
            .map(|fix| fix.time.seconds_since(start))
            .collect();
        let switched: Vec<Sections> = (fixes.start..fixes.end - 1)
            .map(|i| {
                self.boom.switched_open(
                    &self.track.fixes[i],
                    self.metered.flows(i, self.track.steps[i].speed_m_s()),
                )
            })
            .collect();
        let mut windows = self.windows(&switched, &times_s);
        self.assign_litres(fixes.start, &switched, &times_s, &mut windows, timeline);
        let changes = self.changes(&switched, &times_s);
        let first = timeline.spans.len();
        self.cut_spans(fixes.start, &times_s, &changes, timeline);
        self.pour(fixes.start, &times_s, &windows, first, timeline);
    }

    /// When what is open from fix `k` on is open on the ground; before that fix where the log lags.
    fn opens_s(&self, k: usize, times_s: &[f64]) -> f64 {
        if k == 0 {
            return times_s[0];
        }
        times_s[k] + self.rig.open_delay_s - self.lag_s(k, times_s)
    }

    /// From a switch to the fix that shows it, s: any time up to the interval before that fix, so on average half
    /// of it, unless the fleet file says or the logger writes on change.
    fn lag_s(&self, k: usize, times_s: &[f64]) -> f64 {
        let half_s = self.interval_s(k, times_s) / 2.0;
        self.rig.log_lag_s.unwrap_or(half_s)
    }

    /// Time within which a switch shown at fix `k` was thrown, s.
    fn interval_s(&self, k: usize, times_s: &[f64]) -> f64 {
        match self.rig.section_log {
            SectionLog::Sampled if self.has_states => times_s[k] - times_s[k - 1],
            SectionLog::Sampled | SectionLog::OnChange => 0.0,
        }
    }

    /// See [`Span::switched_within_s`]: no switch where a stretch begins or ends.
    fn within_s(&self, k: usize, times_s: &[f64]) -> Option<f32> {
        let shown = k > 0 && k + 1 < times_s.len();
        shown.then(|| self.interval_s(k, times_s) as f32)
    }

    /// When what is closed from fix `k` on is closed on the ground; `k` may be the last fix of the stretch,
    /// where nothing closes but nothing is known of what follows.
    fn closes_s(&self, k: usize, times_s: &[f64]) -> f64 {
        let last_s = times_s[times_s.len() - 1];
        if k + 1 == times_s.len() {
            return last_s;
        }
        (times_s[k] + self.rig.close_delay_s - self.lag_s(k, times_s)).min(last_s)
    }

    /// Bouts, shifted to the ground, joined where they meet.
    fn windows(&self, switched: &[Sections], times_s: &[f64]) -> Vec<Window> {
        let mut windows: Vec<Window> = Vec::new();
        let mut k = 0;
        while k < switched.len() {
            let end = (k..switched.len())
                .find(|&j| (switched[j] != 0) != (switched[k] != 0))
                .unwrap_or(switched.len());
            if switched[k] != 0 {
                let start_s = self.opens_s(k, times_s);
                let end_s = self.closes_s(end, times_s);
                match windows.last_mut() {
                    Some(before) if start_s <= before.end_s => {
                        before.steps.end = end;
                        before.end_s = end_s;
                    }
                    _ => windows.push(Window {
                        steps: k..end,
                        start_s,
                        end_s,
                        litres: 0.0,
                        late_l: 0.0,
                    }),
                }
            }
            k = end;
        }
        windows
    }

    /// Gives each step's litres to the gun, to a window, or to the closed line.
    fn assign_litres(
        &self,
        first_step: usize,
        switched: &[Sections],
        times_s: &[f64],
        windows: &mut [Window],
        timeline: &mut Timeline,
    ) {
        let mut next = 0; // first window that does not end before the step
        for (k, &open) in switched.iter().enumerate() {
            let step = first_step + k;
            let mut litres = self.metered.litres[step];
            if litres <= 0.0 {
                continue;
            }
            let gun_l = self.gun_litres(step, open != 0, litres);
            if gun_l > 0.0 {
                timeline.gun.push((step as u32, gun_l));
                litres -= gun_l;
            }
            while windows
                .get(next)
                .is_some_and(|window| window.steps.end <= k)
            {
                next += 1;
            }
            match self.window_of(k, times_s, windows, next) {
                Some(window) if windows[window].end_s > windows[window].start_s => {
                    windows[window].litres += litres;
                    if k >= windows[window].steps.end {
                        windows[window].late_l += litres;
                    }
                }
                _ if litres > 0.0 => timeline.closed.push((step as u32, litres)),
                _ => {}
            }
        }
    }

    /// With every section closed the gun takes all; beside open sections its known flow at most.
    fn gun_litres(&self, step: usize, open: bool, litres: f64) -> f64 {
        if self.track.fixes[step].gun != Some(true) {
            return 0.0;
        }
        if !open {
            return litres;
        }
        let known_l = self.rig.gun_flow_l_s.unwrap_or(0.0) * self.track.steps[step].seconds;
        known_l.min(litres)
    }

    /// The window that a step's litres belong to: its own, else the one that ended within the
    /// meter's tail (or one step) before it, else the one that starts so soon after it.
    fn window_of(
        &self,
        k: usize,
        times_s: &[f64],
        windows: &[Window],
        next: usize,
    ) -> Option<usize> {
        if windows
            .get(next)
            .is_some_and(|window| window.steps.contains(&k))
        {
            return Some(next);
        }
        if let Some(before) = next.checked_sub(1) {
            let end = windows[before].steps.end;
            if k == end || times_s[k] - times_s[end] < self.tail_s {
                return Some(before);
            }
        }
        let after = windows.get(next)?.steps.start;
        (k + 1 == after || times_s[after] - times_s[k + 1] < self.tail_s).then_some(next)
    }

    /// Openings and closings of every section as they land on the ground, in order of time.
    fn changes(&self, switched: &[Sections], times_s: &[f64]) -> Vec<Change> {
        let mut changes = Vec::new();
        let mut opened: Vec<Option<(usize, f64)>> = vec![None; self.boom.sections()];
        let mut before: Sections = 0;
        // After the last step everything counts as closed: what the log does not say is not laid.
        for (k, now) in switched.iter().copied().chain([0]).enumerate() {
            let mut differ = now ^ before;
            while differ != 0 {
                let section = differ.trailing_zeros() as usize;
                differ &= differ - 1;
                if now >> section & 1 == 1 {
                    opened[section] = Some((k, self.opens_s(k, times_s)));
                } else if let Some((from, from_s)) = opened[section].take() {
                    let to_s = self.closes_s(k, times_s);
                    if to_s > from_s {
                        let change = |opens: bool, time_s: f64, k: usize| Change {
                            time_s,
                            section,
                            opens,
                            within_s: self.within_s(k, times_s),
                        };
                        changes.extend([change(true, from_s, from), change(false, to_s, k)]);
                    }
                }
            }
            before = now;
        }
        changes.sort_by(|a, b| {
            a.time_s
                .total_cmp(&b.time_s)
                .then(a.section.cmp(&b.section))
        });
        changes
    }

    /// Cuts the steps of the stretch at the changes.
    fn cut_spans(
        &self,
        first_step: usize,
        times_s: &[f64],
        changes: &[Change],
        timeline: &mut Timeline,
    ) {
        // How many opened intervals hold each section open: two overlap when the close delay is the longer.
        let mut holds = vec![0_i32; self.boom.sections()];
        let mut open: Sections = 0;
        let mut next = 0;
        // Of the changes since the last span.
        let mut within_s: Option<f32> = None;
        for k in 0..times_s.len() - 1 {
            let (start_s, end_s) = (times_s[k], times_s[k + 1]);
            let mut from_u = 0.0_f32;
            while let Some(change) = changes.get(next).filter(|change| change.time_s < end_s) {
                let u = ((change.time_s - start_s) / (end_s - start_s)).clamp(0.0, 1.0) as f32;
                if u > from_u {
                    timeline.spans.push(Span {
                        step: (first_step + k) as u32,
                        from_u,
                        to_u: u,
                        open,
                        wet: false,
                        litres: 0.0,
                        switched_within_s: within_s.take(),
                    });
                    from_u = u;
                }
                within_s = longer(within_s, change.within_s);
                holds[change.section] += if change.opens { 1 } else { -1 };
                let bit = 1 << change.section;
                open = if holds[change.section] > 0 {
                    open | bit
                } else {
                    open & !bit
                };
                next += 1;
            }
            if from_u < 1.0 {
                timeline.spans.push(Span {
                    step: (first_step + k) as u32,
                    from_u,
                    to_u: 1.0,
                    open,
                    wet: false,
                    litres: 0.0,
                    switched_within_s: within_s.take(),
                });
            }
            timeline.first_span.push(timeline.spans.len() as u32);
        }
    }

    /// What each open span of a bout's ramp lacks to the flow that follows it, L: as long as the flow is
    /// under half of that, and no longer than a ramp. Empty where there is no ramp.
    fn missing_at_start(&self, spans: &[Span], seconds: impl Fn(&Span) -> f64) -> Vec<f64> {
        let flow_l_s = |span: &Span| self.metered.flow_l_s[span.step as usize];
        let open = spans.iter().filter(|span| span.open != 0);
        let (mut ramp_s, mut full_l_s) = (0.0, 0.0_f64);
        for span in open.clone() {
            ramp_s += seconds(span);
            if ramp_s > self.ramp_s {
                break;
            }
            full_l_s = full_l_s.max(flow_l_s(span));
        }
        open.take_while(|span| flow_l_s(span) < full_l_s / 2.0)
            .map(|span| (full_l_s - flow_l_s(span)) * seconds(span))
            .collect()
    }

    /// Lays each window's litres over its open spans in the shape of the flow; the flow of the last
    /// open step is held to the window's end.
    fn pour(
        &self,
        first_step: usize,
        times_s: &[f64],
        windows: &[Window],
        first: usize,
        timeline: &mut Timeline,
    ) {
        let mut at = first;
        for window in windows.iter().filter(|window| window.litres > 0.0) {
            let middle_s = |span: &Span| {
                let k = span.step as usize - first_step;
                let u = f64::from(f32::midpoint(span.from_u, span.to_u));
                times_s[k] + u * (times_s[k + 1] - times_s[k])
            };
            while timeline
                .spans
                .get(at)
                .is_some_and(|span| middle_s(span) < window.start_s)
            {
                at += 1;
            }
            let end = (at..timeline.spans.len())
                .find(|&i| middle_s(&timeline.spans[i]) > window.end_s)
                .unwrap_or(timeline.spans.len());
            let spans = &mut timeline.spans[at..end];
            let seconds = |span: &Span| {
                let k = span.step as usize - first_step;
                span.share_of_step() * (times_s[k + 1] - times_s[k])
            };
            let by_flow = |span: &Span| {
                let k = span.step as usize - first_step;
                let k = k.clamp(window.steps.start, window.steps.end - 1);
                self.metered.flow_l_s[first_step + k] * seconds(span)
            };
            let missing_l = self.missing_at_start(spans, seconds);
            if !lay_over(window, spans, missing_l, by_flow, seconds) {
                // The delays swallow the whole bout: no section was open on the ground.
                let step = (first_step + window.steps.start) as u32;
                timeline.closed.push((step, window.litres));
                continue;
            }
            at = end;
        }
    }
}

/// Lays a window's litres over its open spans; false where there is none. `missing_l`: of the spans of its ramp.
fn lay_over(
    window: &Window,
    spans: &mut [Span],
    missing_l: Vec<f64>,
    by_flow: impl Fn(&Span) -> f64,
    seconds: impl Fn(&Span) -> f64,
) -> bool {
    let open = |span: &&Span| span.open != 0;
    let total: f64 = spans.iter().filter(open).map(&by_flow).sum();
    let total_s: f64 = spans.iter().filter(open).map(&seconds).sum();
    if total_s <= 0.0 {
        return false;
    }
    // A meter that counts late at the end counted late at the start as well.
    let all_missing_l: f64 = missing_l.iter().sum();
    let late_l = window.late_l.min(all_missing_l);
    let mut missing_l = missing_l.into_iter();
    for span in spans.iter_mut().filter(|span| span.open != 0) {
        let share = if total > 0.0 {
            by_flow(span) / total
        } else {
            seconds(span) / total_s
        };
        span.litres = (window.litres - late_l) * share;
        if let Some(of_span) = missing_l.next().filter(|_| late_l > 0.0) {
            span.litres += late_l * of_span / all_missing_l;
        }
    }
    true
}
