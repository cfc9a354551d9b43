//! Step 6b of the flow: boom positions to strips, on one site's plane.
//!
//! Between two neighbouring boom positions lies a strip. For coverage there is one strip for each
//! run of neighbouring wet sections, and unbroken sequences of them are handed on as one ring; for
//! dose one piece for each section (in a 6 m turn the inner and outer doses differ by a fifth).
//! Where the boom lines cross (the inner end runs backwards) the strip is split at the crossing.
//! Boom positions that were closed or dry are kept too: they tell why a gap is a gap.

mod outline;
mod places;
mod quad;

pub use quad::Convex;

use crate::boom::{Boom, Sections};
use crate::near::{Near, reach_m};
use crate::passes::NO_PASS;
use crate::plane::{Plane, Xy};
use crate::pose::Motion;
use crate::run::Run;
use crate::timeline::{self, Span};
use crate::track::Link;
use outline::Outlines;
use places::BoomLine;
use quad::{Quad, Split};
use smallvec::SmallVec;
use std::ops::Range;

/// A parked step that sweeps less than this depth is no strip: its litres lie under the boom, m.
const PARKED_DEPTH_M: f64 = 0.05;
/// Longest dropout whose ground can be told as unlogged, s.
const UNLOGGED_S: f64 = 10.0;
/// A dropout was driven straight when its chord is within these shares of speed x time.
const STRAIGHT: std::ops::RangeInclusive<f64> = 0.8..=1.25;

/// Rings of one pass.
#[derive(Debug, Clone)]
pub struct PassRings {
    /// Pass number in its run.
    pub pass: u32,
    /// Steps from its first to its last.
    pub steps: Range<usize>,
    /// Counter-clockwise rings; together they cover the pass's ground.
    pub rings: Vec<Vec<Xy>>,
}

/// Rings of boom positions that laid nothing.
#[derive(Debug, Clone)]
pub struct IdleRing {
    /// Steps from its first to its last.
    pub steps: Range<usize>,
    /// Open without liquid; otherwise closed.
    pub dry: bool,
    /// Closed between two open sections of the same boom.
    pub inner: bool,
    /// Counter-clockwise.
    pub ring: Vec<Xy>,
}

/// Liquid from one section between two boom positions.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    /// Step.
    pub step: u32,
    /// Ground, counter-clockwise and convex.
    pub ground: Convex,
    /// Liquid on it, L; 0 where nothing is metered.
    pub litres: f64,
    /// Length driven times this piece's share of the active width, m.
    pub length_share_m: f64,
    /// A strip of treated ground: wet, and the rig moved.
    pub swept: bool,
}

/// The straight corridor of a dropout, at full boom width.
#[derive(Debug, Clone)]
pub struct Corridor {
    /// Step of the dropout.
    pub step: usize,
    /// Short, driven straight, and liquid may have flowed: its ground is unlogged. Otherwise it only
    /// tells which gaps lie near a dropout.
    pub unlogged: bool,
    /// Counter-clockwise.
    pub ring: Vec<Xy>,
}

/// All strips of one stretch of a run near a site.
#[derive(Debug, Clone, Default)]
pub struct Strips {
    /// By pass, in order of time.
    pub passes: Vec<PassRings>,
    /// Closed and dry.
    pub idle: Vec<IdleRing>,
    /// For the dose.
    pub pieces: Vec<Piece>,
    /// Silences in which the rig moved.
    pub corridors: Vec<Corridor>,
    /// Wet strips of a towed boom that went backward in a turn; they are in `passes` too.
    pub unsure: Vec<Unsure>,
    /// Strips within a step of a switch: the log does not show when in the step it was.
    pub switched: Vec<Switched>,
    /// Every wet strip by itself, for checking elsewhere; filled only when asked for.
    pub recorded: Vec<Recorded>,
}

/// A strip that a section laid, or did not, within a step of its switching.
#[derive(Debug, Clone, Copy)]
pub struct Switched {
    /// Step.
    pub step: usize,
    /// Wet, and closed at the next fix; else closed, and open at the next fix.
    pub wet: bool,
    /// Ground, counter-clockwise and convex.
    pub ground: Convex,
}

/// A wet strip of which it is not sure where it lies.
#[derive(Debug, Clone, Copy)]
pub struct Unsure {
    /// Step.
    pub step: usize,
    /// Ground, counter-clockwise and convex.
    pub ground: Convex,
}

/// One wet strip as it was before strips were joined into rings.
#[derive(Debug, Clone, Copy)]
pub struct Recorded {
    /// Pass number in its run.
    pub pass: u32,
    /// Ground, counter-clockwise and convex.
    pub ground: Convex,
}

/// Strips of one stretch. Steps that are not near enough to the site's zones give none. `record`
/// keeps every wet strip by itself as well.
#[must_use]
pub fn strips(run: &Run, near: &Near, plane: &Plane, record: bool) -> Strips {
    let reach_m = reach_m(run);
    let mut strips = Strips::default();
    let mut outlines = Outlines::new(record);
    for k in 0..near.xy.len().saturating_sub(1) {
        let i = near.first_fix + k;
        let within = near.has_strips(k, reach_m);
        match run.track.steps[i].link {
            Link::Driven if within => add_step(run, near, plane, k, &mut outlines, &mut strips),
            Link::Dropout if within => strips.corridors.extend(corridor(run, near, i, k)),
            _ => {}
        }
        if run.track.steps[i].link != Link::Driven || !within {
            outlines.close_all(&mut strips);
        }
    }
    outlines.close_all(&mut strips);
    strips
}

/// Adds the strips of one driven step.
fn add_step(
    run: &Run,
    near: &Near,
    plane: &Plane,
    k: usize,
    outlines: &mut Outlines,
    strips: &mut Strips,
) {
    let i = near.first_fix + k;
    let (us, lines) = places::of_step(run, near, plane, k);
    let unsure = run.posed.is_unsure(i);
    let spans = run.timeline.of_step(i);
    let first_span = run.timeline.first_span[i] as usize;
    let step_m = run.track.steps[i].length_m();
    let parked = run.posed.curves[i].motion == Motion::Parked && step_m < PARKED_DEPTH_M;
    let mut at = 0;
    for n in 0..lines.len() - 1 {
        let (from_u, to_u) = (us[n], us[n + 1]);
        let middle_u = f64::midpoint(from_u, to_u);
        while at + 1 < spans.len() && f64::from(spans[at].to_u) <= middle_u {
            at += 1;
        }
        let Some(span) = spans.get(at) else { continue };
        let share = (to_u - from_u) / span.share_of_step();
        let between = Between {
            boom: &run.boom,
            lines: (&lines[n], &lines[n + 1]),
            step: i,
        };
        if !parked {
            let pass = run.passes.of_span[first_span + at];
            outlines.advance(&between, span, pass, strips);
            between.add_switched(span, soon(run, i, at), strips);
            if unsure && span.wet && pass != NO_PASS {
                between.add_unsure(span, strips);
            }
        }
        if span.open != 0 && (span.wet || span.litres > 0.0) {
            between.add_pieces(
                span,
                share.min(1.0),
                step_m * (to_u - from_u),
                parked,
                strips,
            );
        }
    }
}

/// Sections that are open at some time, and closed at some time, from span `at` of a step to the end of
/// the next step: a switch seen at a fix was up to a step earlier.
fn soon(run: &Run, step: usize, at: usize) -> (Sections, Sections) {
    let timeline = &run.timeline;
    let next: &[Span] =
        if step + 1 < run.track.steps.len() && run.track.steps[step + 1].link == Link::Driven {
            timeline.of_step(step + 1)
        } else {
            &[]
        };
    let later = timeline.of_step(step)[at + 1..].iter().chain(next);
    later.fold((0, 0), |(open, closed), span| {
        (open | span.open, closed | (run.boom.all() & !span.open))
    })
}

/// Two neighbouring boom positions.
struct Between<'a> {
    boom: &'a Boom,
    lines: (&'a BoomLine, &'a BoomLine),
    step: usize,
}

impl Between<'_> {
    /// The strip of sections `first..end`.
    fn quad(&self, first: usize, end: usize) -> Quad {
        Quad {
            old_left: self.lines.0.edges[first],
            old_right: self.lines.0.edges[end],
            new_left: self.lines.1.edges[first],
            new_right: self.lines.1.edges[end],
        }
    }

    /// Dose pieces: one per open section, two where it is not convex or its boom lines cross.
    fn add_pieces(
        &self,
        span: &Span,
        share: f64,
        length_m: f64,
        parked: bool,
        strips: &mut Strips,
    ) {
        let width_m = self.boom.width_m(span.open);
        for section in (0..self.boom.sections()).filter(|&s| span.open >> s & 1 == 1) {
            let of_width = self.boom.section_width_m(section) / width_m;
            let litres = span.litres * share * of_width;
            let length_share_m = if span.wet && !parked {
                length_m * of_width
            } else {
                0.0
            };
            let split = if parked {
                self.under_boom(section)
            } else {
                self.quad(section, section + 1).split()
            };
            let split = split.unwrap_or_else(|| self.under_boom(section).unwrap_or_default());
            for (ground, part) in split {
                strips.pieces.push(Piece {
                    step: self.step as u32,
                    ground,
                    litres: litres * part,
                    length_share_m: length_share_m * part,
                    swept: span.wet && !parked,
                });
            }
        }
    }

    /// The strips of sections that switch soon.
    fn add_switched(&self, span: &Span, (open, closed): (Sections, Sections), strips: &mut Strips) {
        let wet = if span.wet { span.open & closed } else { 0 };
        for (sections, wet) in [(!span.open & open, false), (wet, true)] {
            for (first, end) in self.boom.runs(sections) {
                for (ground, _) in self.quad(first, end).split().unwrap_or_default() {
                    strips.switched.push(Switched {
                        step: self.step,
                        wet,
                        ground,
                    });
                }
            }
        }
    }

    /// The wet strips, told apart where the boom's place is not sure.
    fn add_unsure(&self, span: &Span, strips: &mut Strips) {
        for (first, end) in self.boom.runs(span.open) {
            for (ground, _) in self.quad(first, end).split().unwrap_or_default() {
                strips.unsure.push(Unsure {
                    step: self.step,
                    ground,
                });
            }
        }
    }

    /// The ground under a section that stands: the section's width, [`PARKED_DEPTH_M`] deep.
    fn under_boom(&self, section: usize) -> Option<Split> {
        let line = self.lines.0;
        let (left, right) = (line.edges[section], line.edges[section + 1]);
        Quad {
            old_left: left.plus(line.heading, -PARKED_DEPTH_M / 2.0),
            old_right: right.plus(line.heading, -PARKED_DEPTH_M / 2.0),
            new_left: left.plus(line.heading, PARKED_DEPTH_M / 2.0),
            new_right: right.plus(line.heading, PARKED_DEPTH_M / 2.0),
        }
        .split()
    }

    /// Runs of neighbouring sections with what they did: wet on a pass, dry, or closed.
    fn runs(&self, span: &Span, pass: u32) -> SmallVec<[(usize, usize, Laid); 4]> {
        let laid = if span.wet && pass != NO_PASS {
            Laid::Wet(pass)
        } else {
            Laid::Dry
        };
        let mut runs: SmallVec<[(usize, usize, Laid); 4]> = self
            .boom
            .runs(span.open)
            .map(|(first, end)| (first, end, laid))
            .collect();
        let all = self.boom.sections();
        let closed = self.boom.runs(self.boom.all() & !span.open);
        runs.extend(closed.map(|(first, end)| {
            let inner = first > 0 && end < all;
            (first, end, Laid::Closed { inner })
        }));
        runs
    }
}

/// What a run of sections laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Laid {
    Wet(u32),
    Dry,
    /// Between two open sections, or at the boom's end.
    Closed {
        inner: bool,
    },
}

/// The corridor of a dropout in which the rig moved.
fn corridor(run: &Run, near: &Near, i: usize, k: usize) -> Option<Corridor> {
    let chord = near.xy[k + 1].minus(near.xy[k]);
    if chord.length_m() <= 0.0 {
        return None;
    }
    let heading_rad = chord.y_m.atan2(chord.x_m);
    let [old, new] = [k, k + 1].map(|k| places::in_line(near.xy[k], heading_rad, &run.boom));
    let sections = run.boom.sections();
    let ring = vec![
        old.edges[0],
        old.edges[sections],
        new.edges[sections],
        new.edges[0],
    ];
    let unlogged = run.track.steps[i].seconds <= UNLOGGED_S
        && driven_straight(run, i)
        && may_have_sprayed(run, i);
    Some(Corridor {
        step: i,
        unlogged,
        ring,
    })
}

/// The chord of a silence is as long as the speeds beside it make it.
fn driven_straight(run: &Run, i: usize) -> bool {
    let speed = |step: usize| {
        let step = run.track.steps.get(step)?;
        (step.link == Link::Driven).then(|| step.speed_m_s())
    };
    let beside: SmallVec<[f64; 2]> = [i.checked_sub(1).and_then(speed), speed(i + 1)]
        .into_iter()
        .flatten()
        .collect();
    let mean_m_s = beside.iter().sum::<f64>() / beside.len() as f64;
    // Without a speed beside it the mean is NaN, which is in no range.
    STRAIGHT.contains(&(run.track.steps[i].length_m() / (mean_m_s * run.track.steps[i].seconds)))
}

/// The total advanced or, without a total, a section was open on either side.
fn may_have_sprayed(run: &Run, i: usize) -> bool {
    let open_beside = || {
        let sides = timeline::open_beside(&run.track, &run.metered, &run.boom, i);
        sides.before != 0 || sides.after != 0
    };
    run.metered
        .gained_l(i)
        .map_or_else(open_beside, |litres| litres > 0.0)
}
