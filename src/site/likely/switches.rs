//! When the sections of a leg were wet, with what the log leaves open of each switch.

use super::draws::{Draws, Purpose};
use crate::geometry::place::Instant;
use crate::rig::boom::Sections;
use crate::site::leg::{Leg, LegLink, LegSpan, NO_PASS};

/// Standard deviation of a delay of a section about the one stated, s (trade judgement).
const DELAY_S: f64 = 0.1;
/// No delay is taken to be off by more than this many standard deviations (limit).
const FARTHEST: f64 = 4.0;

/// One change of a section from closed or dry to wet, or back.
#[derive(Debug, Clone, Copy)]
struct Change {
    at: Instant,
    /// From the leg's first fix, s.
    time_s: f64,
    wet: bool,
    /// Thrown within so long about it, s; `None`: known to the instant.
    within_s: Option<f32>,
    /// No draw has it earlier or later than this, s. Since their order is kept, neither is before that of the change
    /// before it, however well each is known.
    earliest_s: f64,
    latest_s: f64,
}

/// Of each section: its changes in order of time, from closed.
pub(super) struct Switches {
    sections: Vec<Vec<Change>>,
}

/// When each section changed, in one draw, s from the leg's first fix.
pub(super) struct Drawn {
    sections: Vec<Vec<f64>>,
}

impl Switches {
    /// Of a leg.
    pub(super) fn of(leg: &Leg) -> Self {
        let mut switches = Self {
            sections: vec![Vec::new(); leg.boom.sections()],
        };
        let mut before: Option<&LegSpan> = None;
        for step in 0..leg.steps.len() {
            if leg.steps[step].link != LegLink::Driven {
                switches.add(leg, leg.fixes[step].time, wet(before), None);
                before = None;
                continue;
            }
            for span in leg.of_step(step) {
                let at = leg.at(step, span.from_u);
                // A section that was masked, dry or behind a silence did not switch when it comes to light.
                let turned = |of: &LegSpan| (of.open ^ span.open) & !(of.masked | span.masked);
                let known = before.map(|of| (turned(of), span.switched_within_s.known()));
                switches.add(leg, at, wet(before) ^ wet(Some(span)), known);
                before = Some(span);
            }
        }
        if let Some(last) = leg.fixes.last() {
            switches.add(leg, last.time, wet(before), None);
        }
        switches
    }

    /// `changed`: sections that change; `known`: those that may have been switched, and how long it may be off.
    fn add(
        &mut self,
        leg: &Leg,
        at: Instant,
        changed: Sections,
        known: Option<(Sections, Option<f32>)>,
    ) {
        let time_s = at.seconds_since(leg.fixes[0].time);
        for (section, changes) in self.sections.iter_mut().enumerate() {
            if changed >> section & 1 == 1 {
                let switched = known.filter(|(turned, _)| turned >> section & 1 == 1);
                let within_s = switched.and_then(|(_, within_s)| within_s);
                changes.push(Change::after(changes, at, time_s, within_s));
            }
        }
    }

    /// Sections that are wet from one time to another whatever the draw, and those that may be for a part.
    pub(super) fn over(&self, from_s: f64, to_s: f64) -> (Sections, Sections) {
        let (mut sure, mut perhaps) = (0, 0);
        for (section, changes) in self.sections.iter().enumerate() {
            let first = changes.partition_point(|change| change.latest_s <= from_s);
            let is_over = changes
                .get(first)
                .is_none_or(|change| change.earliest_s >= to_s);
            if !is_over {
                perhaps |= 1 << section;
            } else if first % 2 == 1 {
                sure |= 1 << section;
            }
        }
        (sure, perhaps)
    }

    /// One draw: each switch evenly in its interval, the same for all sections that switch there; each section's
    /// delays off by one amount for opening and one for closing; their order kept.
    pub(super) fn draw(&self, draws: Draws, draw: u32) -> Drawn {
        let of_section = |(section, changes): (usize, &Vec<Change>)| {
            let (opens_s, closes_s) = draws.normal(Purpose::Delay, draw, section as i64);
            let mut last_s = f64::NEG_INFINITY;
            let times = changes.iter().map(|change| {
                let off_s = change.within_s.map_or(0.0, |within_s| {
                    let Instant(at_us) = change.at;
                    let (share, _) = draws.even(Purpose::Switch, draw, at_us);
                    let delay = if change.wet { opens_s } else { closes_s };
                    f64::from(within_s) * (share - 0.5) + DELAY_S * delay.clamp(-FARTHEST, FARTHEST)
                });
                last_s = last_s.max(change.time_s + off_s);
                last_s
            });
            times.collect()
        };
        Drawn {
            sections: self.sections.iter().enumerate().map(of_section).collect(),
        }
    }
}

impl Change {
    /// The next one of a section.
    fn after(before: &[Self], at: Instant, time_s: f64, within_s: Option<f32>) -> Self {
        let off_s = within_s.map_or(0.0, |within_s| {
            f64::from(within_s) / 2.0 + FARTHEST * DELAY_S
        });
        let last = before.last().map(|of| (of.earliest_s, of.latest_s));
        let (earliest_s, latest_s) = last.unwrap_or((f64::MIN, f64::MIN));
        Self {
            at,
            time_s,
            wet: before.len().is_multiple_of(2),
            within_s,
            earliest_s: earliest_s.max(time_s - off_s),
            latest_s: latest_s.max(time_s + off_s),
        }
    }
}

impl Drawn {
    /// What [`Drawn::is_wet`] remembers from one question to the next.
    pub(super) fn last(&self) -> Vec<usize> {
        vec![0; self.sections.len()]
    }

    /// Whether a section was wet at a time from the leg's first fix. `last`: of each section the changes before the
    /// last time that was asked for; the next one is nearly always between the same two.
    pub(super) fn is_wet(&self, section: usize, time_s: f64, last: &mut [usize]) -> bool {
        let (changes, before) = (&self.sections[section], &mut last[section]);
        let is_after = |at: usize| changes.get(at).is_none_or(|&change_s| change_s > time_s);
        if !is_after(*before) || before.checked_sub(1).is_some_and(is_after) {
            *before = changes.partition_point(|&change_s| change_s <= time_s);
        }
        *before % 2 == 1
    }
}

/// Sections that lay liquid on a pass.
fn wet(span: Option<&LegSpan>) -> Sections {
    span.filter(|span| span.wet && span.pass != NO_PASS)
        .map_or(0, |span| span.open)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Opened within 10 s about 10 s, and closed at 11 s sharp: from 5.5 to 14.5 s it may have been open, since no draw
    /// closes it before it opens.
    #[test]
    fn a_switch_that_is_known_well_waits_for_one_before_it_that_is_not() {
        let mut changes = Vec::new();
        for (time_s, within_s) in [(10.0, Some(10.0)), (11.0, None)] {
            let at = Instant((time_s * 1e6) as i64);
            changes.push(Change::after(&changes, at, time_s, within_s));
        }
        let switches = Switches {
            sections: vec![changes],
        };
        assert_eq!(switches.over(0.0, 4.0), (0, 0));
        for second in 5..14 {
            let from_s = f64::from(second);
            assert_eq!(switches.over(from_s, from_s + 1.0), (0, 1), "{second}");
        }
        assert_eq!(switches.over(16.0, 17.0), (0, 0));
        let draws = Draws::of("elm", 0);
        for draw in 0..64 {
            let drawn = switches.draw(draws, draw);
            let [open_s, closed_s] = drawn.sections[0][..] else {
                panic!("two changes");
            };
            assert!(open_s <= closed_s);
        }
    }
}
