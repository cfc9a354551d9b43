//! Step 6 of the flow: boom positions to strips, on one site's plane.
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

use crate::geometry::extent::Extent;
use crate::geometry::plane::{Plane, Xy};
use crate::rig::boom::{Boom, Sections};
use crate::site::leg::{Leg, LegFix, LegLink, LegSpan, NO_PASS};
use outline::Outlines;
pub(super) use places::{BoomLine, BoomPlaces};
use quad::{Quad, Split};
use smallvec::SmallVec;
use std::ops::Range;

/// A rig may have driven so much faster in a silence than beside it (trade judgement).
const FASTER: f64 = 1.25;
/// A parked step that sweeps less than this depth is not a strip: its litres lie under the boom, m (tolerance).
const PARKED_DEPTH_M: f64 = 0.05;

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
    /// What its sections did.
    pub idle: Idle,
    /// Its sections, neighbours.
    pub sections: Sections,
    /// Counter-clockwise.
    pub ring: Vec<Xy>,
}

/// What sections did that laid nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Idle {
    /// Open without liquid.
    Dry,
    /// Closed while others of the boom were open.
    Closed,
    /// Closed with all of the boom.
    Off,
}

/// Liquid from one section between two boom positions.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    /// Step.
    pub step: u32,
    /// Span of the leg.
    pub span: u32,
    /// Ground, counter-clockwise and convex.
    pub ground: Convex,
    /// Liquid on it, L; 0 where nothing is metered.
    pub litres: f64,
    /// Length driven times this piece's share of the active width, m.
    pub length_share_m: f64,
    /// Its span was wet.
    pub wet: bool,
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
    /// No total says that no liquid flowed: that its ground stayed bare cannot be told.
    pub perhaps: bool,
    /// Where the middle of the boom was at its ends.
    pub ends: [Xy; 2],
    /// How long it was, s.
    pub seconds: f64,
    /// Longest way that the rig may have driven meanwhile, m.
    pub way_m: f64,
    /// Width of the boom, m.
    pub boom_m: f64,
    /// Counter-clockwise.
    pub ring: Vec<Xy>,
}

/// All strips of a leg.
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
    /// Every wet strip by itself, for checking elsewhere; filled only when asked for.
    pub recorded: Vec<Recorded>,
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

/// A leg with what asks for its plane worked out once: positions in metres, and the angle from true east
/// to the plane's x at each fix.
pub struct OnPlane<'a> {
    /// The leg.
    pub leg: &'a Leg,
    /// Of each fix: the antenna.
    pub xy: Vec<Xy>,
    /// Of each fix: what to add to an angle from true east.
    pub offset_rad: Vec<f64>,
}

impl<'a> OnPlane<'a> {
    /// Lays a leg on a plane.
    #[must_use]
    pub fn of(leg: &'a Leg, plane: &Plane) -> Self {
        // Within a site's sight, so on its plane; a box over the pole may still hold a far point.
        let xy = |fix: &LegFix| plane.to_xy(fix.place).unwrap_or(Xy::new(1e6, 1e6));
        Self::at(leg, leg.fixes.iter().map(xy).collect(), plane)
    }

    /// The same where the positions in metres are known.
    #[must_use]
    pub fn at(leg: &'a Leg, xy: Vec<Xy>, plane: &Plane) -> Self {
        let offset_rad = |fix: &LegFix| plane.angle_offset_rad(fix.place);
        Self {
            leg,
            xy,
            offset_rad: leg.fixes.iter().map(offset_rad).collect(),
        }
    }
}

/// Strips of a leg. `record` keeps every wet strip by itself as well.
#[must_use]
pub fn strips(leg: &OnPlane, record: bool) -> Strips {
    let laid = leg.leg.spans.iter();
    let laid = laid.filter(|span| span.wet || span.litres > 0.0);
    let open = laid.map(|span| span.open.count_ones() as usize);
    // One for each open section, and a few more in turns.
    let mut strips = Strips {
        pieces: Vec::with_capacity(open.sum()),
        ..Strips::default()
    };
    let mut outlines = Outlines::new(record);
    for (i, step) in leg.leg.steps.iter().enumerate() {
        match step.link {
            LegLink::Driven => {
                add_step(leg, i, &mut outlines, &mut strips);
                continue;
            }
            LegLink::Silence { unlogged, .. } => {
                strips.corridors.extend(corridor(leg, i, unlogged))
            }
            LegLink::Apart => {}
        }
        outlines.close_all(&mut strips);
    }
    outlines.close_all(&mut strips);
    // A strip whose sides cross is filed before the rings that are still growing.
    strips.passes.sort_by_key(|pass| pass.pass);
    strips
}

/// Calls `each` with every section's ground in a driven step, and the liquid that fell there, L. A section whose
/// ground between two boom positions nobody asks for is passed over: `is_asked` gets its number, a box that holds
/// that ground, and whether liquid fell there.
pub(super) fn each_section(
    leg: &OnPlane,
    i: usize,
    places: &BoomPlaces,
    mut is_asked: impl FnMut(usize, &Extent, bool) -> bool,
    mut each: impl FnMut(usize, &Convex, f64),
) {
    let parked = is_parked(leg.leg, i);
    each_between(leg, i, places, |between, span, share, _| {
        let width_m = between.boom.width_m(span.open);
        for section in 0..between.boom.sections() {
            let is_open = span.open >> section & 1 == 1;
            let of_width = between.boom.section_width_m(section) / width_m;
            let litres = if is_open {
                span.litres * share * of_width
            } else {
                0.0
            };
            if !is_asked(section, &between.extent(section), litres > 0.0) {
                continue;
            }
            for (ground, part) in between.ground(section, parked) {
                each(section, &ground, litres * part);
            }
        }
    });
}

/// Boom positions of a driven step.
pub(super) fn places_of_step(leg: &OnPlane, i: usize) -> BoomPlaces {
    places::of_step(leg, i)
}

/// The box around all ground that any section's liquid may fall on between these positions.
pub(super) fn extent_of(places: &BoomPlaces) -> Extent {
    let ends = places.lines.iter().flat_map(|line| {
        let depth = [-PARKED_DEPTH_M, PARKED_DEPTH_M];
        let ends = [line.edges.first(), line.edges.last()]
            .into_iter()
            .flatten();
        ends.flat_map(move |end| depth.map(|depth_m| end.plus(line.heading, depth_m)))
    });
    let ends: SmallVec<[Xy; 12]> = ends.collect();
    Extent::of(&ends)
}

/// So short a step of a standing rig that its litres lie under the boom.
pub(super) fn is_parked(leg: &Leg, i: usize) -> bool {
    leg.is_parked(i) && leg.steps[i].length_m < PARKED_DEPTH_M
}

/// Calls `each` between every two neighbouring boom positions of a step, with the span in force there, the
/// share of the span's litres that falls there, and the length driven.
fn each_between(
    leg: &OnPlane,
    i: usize,
    BoomPlaces { us, lines }: &BoomPlaces,
    mut each: impl FnMut(&Between, &LegSpan, f64, f64),
) {
    let spans = leg.leg.span_range(i);
    if spans.is_empty() {
        return;
    }
    let mut at = spans.start;
    for n in 0..lines.len() - 1 {
        let (from_u, to_u) = (us[n], us[n + 1]);
        let middle_u = f64::midpoint(from_u, to_u);
        while at + 1 < spans.end && f64::from(leg.leg.spans[at].to_u) <= middle_u {
            at += 1;
        }
        let span = &leg.leg.spans[at];
        let between = Between {
            boom: &leg.leg.boom,
            lines: (&lines[n], &lines[n + 1]),
            step: i,
            at: at as u32,
        };
        let share = ((to_u - from_u) / span.share_of_step()).min(1.0);
        each(
            &between,
            span,
            share,
            leg.leg.steps[i].length_m * (to_u - from_u),
        );
    }
}

/// Adds the strips of one driven step.
fn add_step(leg: &OnPlane, i: usize, outlines: &mut Outlines, strips: &mut Strips) {
    let all = leg.leg.boom.all();
    let parked = is_parked(leg.leg, i);
    let hidden = |span: &LegSpan| span.masked == all;
    if leg.leg.of_step(i).iter().all(hidden) {
        outlines.close_all(strips);
        return;
    }
    let places = places::of_step(leg, i);
    each_between(leg, i, &places, |between, span, share, length_m| {
        if !parked {
            outlines.advance(between, span, strips);
            if leg.leg.steps[i].unsure && span.wet && span.pass != NO_PASS {
                between.add_unsure(span, strips);
            }
        }
        if span.open != 0 && (span.wet || span.litres > 0.0) {
            between.add_pieces(span, share, length_m, parked, strips);
        }
    });
}

/// Two neighbouring boom positions.
struct Between<'a> {
    boom: &'a Boom,
    lines: (&'a BoomLine, &'a BoomLine),
    step: usize,
    /// Span of the leg.
    at: u32,
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

    /// A box that holds the ground of a section, whether it moves or stands.
    fn extent(&self, section: usize) -> Extent {
        Extent::of(&self.quad(section, section + 1).corners()).grown(PARKED_DEPTH_M)
    }

    /// Ground that a section's liquid falls on: its strip, or what lies under it where it stands.
    fn ground(&self, section: usize, parked: bool) -> Split {
        let split = if parked {
            None
        } else {
            self.quad(section, section + 1).split()
        };
        split
            .or_else(|| self.under_boom(section))
            .unwrap_or_default()
    }

    /// Dose pieces: one per open section, two where it is not convex or its boom lines cross.
    fn add_pieces(
        &self,
        span: &LegSpan,
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
            for (ground, part) in self.ground(section, parked) {
                strips.pieces.push(Piece {
                    step: self.step as u32,
                    span: self.at,
                    ground,
                    litres: litres * part,
                    length_share_m: length_share_m * part,
                    wet: span.wet,
                    swept: span.wet && !parked,
                });
            }
        }
    }

    /// The wet strips, kept separate where the boom's place is not sure.
    fn add_unsure(&self, span: &LegSpan, strips: &mut Strips) {
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
    fn runs(&self, span: &LegSpan) -> SmallVec<[(usize, usize, Laid); 4]> {
        let laid = if span.wet && span.pass != NO_PASS {
            Laid::Wet(span.pass)
        } else {
            Laid::Idle(Idle::Dry)
        };
        // A section whose ground is another site's may be open there: it is masked, and nothing is known of it here.
        let closed_as = Laid::Idle(if span.open != 0 {
            Idle::Closed
        } else {
            Idle::Off
        });
        let mut runs: SmallVec<[(usize, usize, Laid); 4]> = self
            .boom
            .runs(span.open)
            .map(|(first, end)| (first, end, laid))
            .collect();
        let closed = self.boom.runs(self.boom.all() & !span.open & !span.masked);
        runs.extend(closed.map(|(first, end)| (first, end, closed_as)));
        runs
    }
}

/// What a run of sections laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Laid {
    Wet(u32),
    Idle(Idle),
}

/// The corridor of a silence in which the rig moved.
fn corridor(leg: &OnPlane, i: usize, unlogged: bool) -> Option<Corridor> {
    let chord = leg.xy[i + 1].minus(leg.xy[i]);
    if chord.length_m() <= 0.0 {
        return None;
    }
    let heading_rad = chord.y_m.atan2(chord.x_m);
    let boom = &leg.leg.boom;
    let [old, new] = [i, i + 1].map(|i| places::in_line(leg.xy[i], heading_rad, boom));
    let sections = boom.sections();
    let ring = vec![
        old.edges[0],
        old.edges[sections],
        new.edges[sections],
        new.edges[0],
    ];
    let middle =
        |line: &BoomLine| line.edges[0].plus(line.edges[sections].minus(line.edges[0]), 0.5);
    Some(Corridor {
        step: i,
        ends: [middle(&old), middle(&new)],
        seconds: leg.leg.seconds(i),
        way_m: way_m(leg.leg, i).max(chord.length_m()),
        boom_m: boom.width_m(boom.all()),
        unlogged,
        perhaps: may_have_sprayed(leg.leg, i),
        ring,
    })
}

/// Longest way in a silence by the greater of the speeds beside it, m.
fn way_m(leg: &Leg, i: usize) -> f64 {
    let speed_m_s = |step: Option<usize>| {
        let driven =
            step.filter(|&step| step < leg.steps.len() && leg.steps[step].link == LegLink::Driven);
        driven.map_or(0.0, |step| leg.steps[step].length_m / leg.seconds(step))
    };
    let greatest_m_s = speed_m_s(i.checked_sub(1)).max(speed_m_s(Some(i + 1)));
    FASTER * greatest_m_s * leg.seconds(i)
}

/// No total says that no liquid flowed in a silence: its sections may have been open, whatever they were at its ends.
fn may_have_sprayed(leg: &Leg, i: usize) -> bool {
    match leg.steps[i].link {
        LegLink::Silence { gained_l, .. } => gained_l.known().is_none_or(|litres| litres > 0.0),
        _ => false,
    }
}

/// The ground of a silence's corridor; `None` where the rig stood.
pub(super) fn corridor_of(leg: &OnPlane, i: usize) -> Option<Convex> {
    corridor(leg, i, false).map(|corridor| Convex::new(&corridor.ring))
}
