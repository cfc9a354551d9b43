//! Why ground stayed bare: what booms did that passed over it.
//!
//! Precedence: silence, dry, closed, off. Where a log is silent and no total stood still nothing else is
//! known; a boom that passed open without liquid was meant to treat; a section closed while others were open is a
//! section's fault or the driver's switch; a boom that crossed with spraying off says least.

use super::{BoxedRing, ClosedBy, Over, near};
use crate::findings::cause::GapCause;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::result::GapCauses;
use crate::rig::boom::Sections;
use crate::site::swath::Corridor;
use rstar::primitives::Rectangle;
use rstar::{AABB, RTree, RTreeObject};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A section is named if it was closed over at least this share of the ground of the one closed over most: a switch
/// that is thrown a moment earlier or later than its neighbour's closes over a corner, too (trade judgement).
const NAMED_SHARE: f64 = 0.5;
/// A silence may hide a patch of which this share lies where its rig may have driven: its edges are as uncertain as the
/// positions (trade judgement).
const REACHED_SHARE: f64 = 0.8;
/// In a silence longer than this, s, a rig may be anywhere, and is mostly off the lot: what was treated in it begins beside
/// the boom at one of its ends (trade judgement) ...
const LONG_SILENCE_S: f64 = 60.0;
/// ... this near to it, m: delays of valves and of the receiver (trade judgement).
const BESIDE_M: f64 = 3.0;
/// Corners of the ground that may be reached in a silence (tolerance).
const REACH_CORNERS: u32 = 32;

/// The parts of a zone's gap by cause.
pub(super) struct Why<'a> {
    silence: Region,
    dry: Region,
    closed: Region,
    off: Region,
    silences: Vec<&'a Corridor>,
    /// Rings of closed sections near the gap, each with its leg and sections.
    by: Vec<(BoxedRing<'a>, (usize, Sections, usize))>,
}

impl<'a> Why<'a> {
    /// Of a zone's gap.
    pub(super) fn of(gap: &Region, over: &Over<'a>, zone: &Extent) -> Self {
        let silence = gap.intersection(&Region::inside_any(near(&over.silent, zone)));
        let boxes = boxes(gap);
        let part = |rest: &Region, rings: &[BoxedRing]| {
            let rings = rings.iter().filter(|ring| meets(ring, &boxes));
            let rings: Vec<&[Xy]> = rings.map(|(_, ring)| *ring).collect();
            let part = rest.intersection(&Region::union_of_positive(rings));
            let rest = rest.difference(&part);
            (part, rest)
        };
        let (dry, rest) = part(&gap.difference(&silence), &over.dry);
        let (closed, rest) = part(&rest, &over.closed);
        let (off, _) = part(&rest, &over.off);
        let by = over
            .closed
            .iter()
            .copied()
            .zip(over.closed_by.iter().copied());
        Self {
            silence,
            dry,
            closed,
            off,
            silences: over.silences.clone(),
            by: by.filter(|(ring, _)| meets(ring, &boxes)).collect(),
        }
    }

    /// How often the general engine had to do the work of ours.
    pub(super) fn fallbacks(&self) -> u32 {
        let parts = [&self.silence, &self.dry, &self.closed, &self.off];
        parts.map(Region::fallbacks).iter().sum()
    }

    /// The gap's ground by cause.
    pub(super) fn causes_m2(&self, gap: &Region) -> GapCauses {
        let known = [&self.silence, &self.dry, &self.closed, &self.off].map(Region::area_m2);
        let [silence, dry, closed, spraying_off] = known;
        GapCauses {
            never_reached: gap.area_m2() - known.iter().sum::<f64>(),
            spraying_off,
            closed,
            dry,
            silence,
        }
    }

    /// The cause of most of a patch's ground; of equals the one that says least.
    pub(super) fn main_cause(&self, patch: &Region) -> GapCause {
        let of = |part: &Region| patch.intersection(part).area_m2();
        let known = [
            (GapCause::SprayingOff, of(&self.off)),
            (GapCause::Closed, of(&self.closed)),
            (GapCause::Dry, of(&self.dry)),
            (GapCause::Silence, of(&self.silence)),
        ];
        let never_m2 = patch.area_m2() - known.iter().map(|(_, area_m2)| area_m2).sum::<f64>();
        let mut main = (GapCause::NeverReached, never_m2);
        for cause in known {
            if cause.1 > main.1 {
                main = cause;
            }
        }
        // Off its straight way, too, a silence may hide a lane and a turn.
        if self.silences.iter().any(|silence| may_hide(silence, patch)) {
            return GapCause::Silence;
        }
        main.0
    }

    /// The sections of a leg that were closed over most of a patch while others were open.
    pub(super) fn closed_over(&self, patch: &Region) -> Option<ClosedBy> {
        let extent = patch.extent();
        let mut until: BTreeMap<usize, usize> = BTreeMap::new();
        let mut over_m2: BTreeMap<usize, BTreeMap<usize, f64>> = BTreeMap::new();
        for ((own, ring), (leg, sections, end)) in &self.by {
            if !own.meets(&extent) {
                continue;
            }
            let ring = Region::union_of_positive([*ring]);
            let area_m2 = ring.intersection(patch).area_m2();
            if area_m2 > 0.0 {
                let until = until.entry(*leg).or_default();
                *until = (*until).max(*end);
            }
            let of_leg = over_m2.entry(*leg).or_default();
            for section in (0..Sections::BITS as usize).filter(|at| sections >> at & 1 == 1) {
                *of_leg.entry(section).or_default() += area_m2;
            }
        }
        let most = |of: &BTreeMap<usize, f64>| of.values().copied().fold(0.0, f64::max);
        let (leg, of_leg) = over_m2
            .iter()
            .max_by(|a, b| most(a.1).total_cmp(&most(b.1)))?;
        let least_m2 = NAMED_SHARE * most(of_leg);
        let named = of_leg.iter().filter(|(_, area_m2)| **area_m2 >= least_m2);
        let sections = named.fold(0, |named, (section, _)| named | 1 << section);
        (most(of_leg) > 0.0).then(|| ClosedBy {
            leg: *leg,
            sections,
            again: false,
            until: until[leg],
        })
    }
}

/// Whether a rig may have treated a patch within a silence: nearly all of it lies on some way of the length that could be
/// driven, and it is no greater than such a way is under the boom. In a short silence it need not begin beside the boom at an
/// end: what lies between may have been treated by other lanes.
fn may_hide(silence: &Corridor, patch: &Region) -> bool {
    if patch.area_m2() > silence.boom_m * silence.way_m {
        return false;
    }
    let [a, b] = silence.ends;
    let rings = patch.rings();
    let begins = |end: Xy| {
        let mut rings = rings.iter();
        rings.any(|ring| distance_m(ring, end) <= silence.boom_m / 2.0 + BESIDE_M)
    };
    if silence.seconds > LONG_SILENCE_S && !begins(a) && !begins(b) {
        return false;
    }
    let apart = b.minus(a);
    let way_m = silence.way_m + silence.boom_m;
    // An ellipse: the way by any of its points from one end to the other is as long.
    let (half_m, apart_m) = (way_m / 2.0, apart.length_m());
    let across_m = (half_m * half_m - apart_m * apart_m / 4.0).max(0.0).sqrt();
    let along = if apart_m > 0.0 {
        Xy::new(apart.x_m / apart_m, apart.y_m / apart_m)
    } else {
        Xy::new(1.0, 0.0)
    };
    let middle = a.plus(apart, 0.5);
    let ring: Vec<Xy> = (0..REACH_CORNERS)
        .map(|k| Xy::at_angle(TAU * f64::from(k) / f64::from(REACH_CORNERS)))
        .map(|at| (half_m * at.x_m, across_m * at.y_m))
        .map(|(ahead_m, left_m)| {
            let left = Xy::new(-along.y_m, along.x_m);
            middle.plus(along, ahead_m).plus(left, left_m)
        })
        .collect();
    let reached = Region::inside_any([ring.as_slice()]);
    patch.intersection(&reached).area_m2() >= REACHED_SHARE * patch.area_m2()
}

/// From a point to a ring, m.
fn distance_m(ring: &[Xy], point: Xy) -> f64 {
    let next = ring.iter().cycle().skip(1);
    let sides = ring.iter().zip(next);
    let to_side = sides.map(|(&from, &to)| {
        let side = to.minus(from);
        let share = point.minus(from).dot(side) / side.dot(side).max(f64::MIN_POSITIVE);
        point
            .minus(from.plus(side, share.clamp(0.0, 1.0)))
            .length_m()
    });
    to_side.fold(f64::INFINITY, f64::min)
}

/// Boxes of the pieces of a gap.
fn boxes(gap: &Region) -> RTree<Rectangle<[f64; 2]>> {
    let pieces = gap.pieces().into_iter();
    RTree::bulk_load(pieces.map(|piece| rectangle(&piece.extent())).collect())
}

/// Whether a ring's box meets any of these: the others cannot reach the gap.
fn meets((extent, _): &BoxedRing, boxes: &RTree<Rectangle<[f64; 2]>>) -> bool {
    boxes
        .locate_in_envelope_intersecting(rectangle(extent).envelope())
        .next()
        .is_some()
}

fn rectangle(extent: &Extent) -> Rectangle<[f64; 2]> {
    let corner = |point: Xy| [point.x_m, point.y_m];
    Rectangle::from_aabb(AABB::from_corners(corner(extent.low), corner(extent.high)))
}
