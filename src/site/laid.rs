//! What the rigs laid on a site: strips, the ground of each pass, and the liquid on each zone. Everything
//! that does not depend on which application it was part of.

use super::crowding;
use super::grounds::{PassGround, UnsureGround};
use super::heaped;
use super::leg::Leg;
use super::rules::Rules;
use super::swath::{self, OnPlane, Piece, Strips};
use super::tracts::{TractKind, Tracts};
use super::unsure;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::ground::{Site, Zone};
use crate::input::sites::LandUse;

/// What the rigs laid on a site.
pub(super) struct Laid<'a> {
    pub(super) site: &'a Site,
    pub(super) legs: &'a [Leg],
    pub(super) rules: &'a Rules,
    /// Of each leg.
    pub(super) planes: Vec<OnPlane<'a>>,
    /// Of each leg.
    pub(super) strips: Vec<Strips>,
    /// By leg, then in order of time.
    pub(super) passes: Vec<PassGround>,
    /// Of each leg.
    pub(super) liquid: Vec<Liquid>,
    /// Greatest position error of the rigs that the figures rest on, m.
    pub(super) position_m: f64,
    /// Swaths of which it is not sure where they lie.
    pub(super) unsure: Vec<UnsureGround>,
    /// The cells that some leg's grounds are made of, where outlines lie in a heap.
    pub(super) grid: Option<Grid>,
}

/// The liquid of one leg on the site's zones.
pub(super) struct Liquid {
    /// Each piece's part on each zone that it touches, in the order of the pieces.
    pub(super) parts: Vec<Part>,
    /// Ground of the parts that are not whole pieces.
    clipped: Vec<Vec<Vec<Xy>>>,
    /// On each zone, L.
    pub(super) zones_l: Vec<f64>,
    /// On ground of blocked zones of another time, L.
    pub(super) lifted_l: f64,
    /// Of each span.
    pub(super) spans: Vec<OnGround>,
}

/// The part of a piece that lies on one zone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    /// Index of the piece.
    pub(super) piece: u32,
    /// Index of the zone.
    pub(super) zone: u32,
    /// Place in the clipped grounds; `None` where the zone has the whole piece.
    clipped: Option<u32>,
    /// Share of the piece's area.
    pub(super) share: f64,
}

/// What of a span is on ground to treat.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OnGround {
    /// Some of its wet ground is.
    pub(super) touches: bool,
    /// Its liquid there, L.
    pub(super) litres: f64,
    /// Its driven length there, by share of the open boom, m.
    pub(super) length_m: f64,
}

/// Lays a site's legs.
pub(super) fn lay<'a>(site: &'a Site, legs: &'a [Leg], rules: &'a Rules, record: bool) -> Laid<'a> {
    let planes: Vec<OnPlane> = legs
        .iter()
        .map(|leg| OnPlane::of(leg, &site.plane))
        .collect();
    let mut strips: Vec<Strips> = planes
        .iter()
        .map(|leg| swath::strips(leg, record))
        .collect();
    let cells = cells(site, legs, &mut strips);
    let passes = grounds(legs, &strips, &cells);
    let liquid = liquid(site, legs, &strips);
    let position_m = position_m(legs, &liquid, rules);
    Laid {
        unsure: unsure::swaths(legs, &strips, position_m, &cells),
        grid: cells.into_iter().flatten().next(),
        site,
        legs,
        rules,
        planes,
        strips,
        passes,
        liquid,
        position_m,
    }
}

impl Laid<'_> {
    /// When the last liquid of a pass fell on ground to treat; `None` where none did.
    pub(super) fn end_of(&self, pass: &PassGround) -> Option<Instant> {
        let (leg, liquid) = (&self.legs[pass.leg], &self.liquid[pass.leg]);
        let spans = leg.span_range(pass.steps.start).start..leg.span_range(pass.steps.end - 1).end;
        let own =
            |at: &usize| pass.numbers.contains(&leg.spans[*at].pass) && liquid.spans[*at].touches;
        let last = &leg.spans[spans.rev().find(own)?];
        Some(leg.at(last.step as usize, last.to_u))
    }
}

/// Of each leg: the cells that its grounds are to be made of, where outlines lie in a heap. What laid nothing is made
/// of them where it lies in a heap itself.
fn cells(site: &Site, legs: &[Leg], strips: &mut [Strips]) -> Vec<Option<Grid>> {
    // In a yard rigs stand and rinse for hours, and nothing is asked of its ground.
    let asked = |zone: &Zone| zone.land_use != LandUse::Yard;
    let grid = heaped::grid(site).filter(|_| site.zones.iter().any(asked));
    let Some(grid) = grid else {
        return vec![None; legs.len()];
    };
    let heaps = crowding::heaps(site, strips);
    let idle = crowding::is_idle_heap(site, strips);
    for ((leg, strips), &is_heap) in legs.iter().zip(strips).zip(&heaps) {
        if idle {
            heaped::idle(grid, leg, strips);
        }
        if is_heap {
            heaped::corridors(grid, leg, strips);
        }
    }
    let cells = heaps.into_iter();
    cells.map(|is_heap| is_heap.then_some(grid)).collect()
}

/// The ground of the passes.
fn grounds(legs: &[Leg], strips: &[Strips], cells: &[Option<Grid>]) -> Vec<PassGround> {
    let legs = legs.iter().zip(strips).zip(cells).enumerate();
    legs.flat_map(|(index, ((leg, strips), grid))| match grid {
        Some(grid) => heaped::passes(*grid, index, leg, strips),
        None => exact(index, strips),
    })
    .collect()
}

/// The exact ground of each pass of a leg.
fn exact(leg: usize, strips: &Strips) -> Vec<PassGround> {
    let passes = strips.passes.iter().map(|pass| PassGround {
        leg,
        numbers: pass.pass..pass.pass + 1,
        steps: pass.steps.clone(),
        again: false,
        region: Region::union_of_positive(pass.rings.iter().map(Vec::as_slice)),
        extent: Extent::NOWHERE,
    });
    passes.map(PassGround::boxed).collect()
}

/// Shares every piece among the site's zones.
fn liquid(site: &Site, legs: &[Leg], strips: &[Strips]) -> Vec<Liquid> {
    // Cutting up the ground takes time, and most sites of a fleet were not treated.
    let laid = strips.iter().any(|strips| !strips.pieces.is_empty());
    let tracts = laid.then(|| Tracts::of_zones(site));
    let of_leg = |(leg, strips): (&Leg, &Strips)| {
        let mut liquid = Liquid {
            parts: Vec::with_capacity(strips.pieces.len()),
            clipped: Vec::new(),
            zones_l: vec![0.0; site.zones.len()],
            lifted_l: 0.0,
            spans: vec![OnGround::default(); leg.spans.len()],
        };
        if let Some(tracts) = &tracts {
            for (index, piece) in strips.pieces.iter().enumerate() {
                tracts.each_share(&piece.ground, |tract, share, rings| {
                    match tracts.list[tract].kind {
                        TractKind::Zone(zone) => {
                            let clipped = liquid.keep(rings);
                            let part = Part {
                                piece: index as u32,
                                zone: zone as u32,
                                clipped,
                                share,
                            };
                            liquid.add(site, piece, part);
                        }
                        _ => liquid.lifted_l += piece.litres * share,
                    }
                });
            }
        }
        liquid
    };
    legs.iter().zip(strips).map(of_leg).collect()
}

impl Liquid {
    fn keep(&mut self, rings: Vec<Vec<Xy>>) -> Option<u32> {
        (!rings.is_empty()).then(|| {
            self.clipped.push(rings);
            self.clipped.len() as u32 - 1
        })
    }

    fn add(&mut self, site: &Site, piece: &Piece, part: Part) {
        let (zone, litres) = (part.zone as usize, piece.litres * part.share);
        self.zones_l[zone] += litres;
        if site.zones[zone].is_to_treat() {
            let of_span = &mut self.spans[piece.span as usize];
            of_span.touches |= piece.wet;
            of_span.litres += litres;
            of_span.length_m += piece.length_share_m * part.share;
        }
        self.parts.push(part);
    }

    /// Ground of a part, as rings to add up with their signs; none where it is the whole piece.
    pub(super) fn rings(&self, part: &Part) -> &[Vec<Xy>] {
        part.clipped
            .map_or(&[], |at| self.clipped[at as usize].as_slice())
    }
}

/// The greatest position error of the rigs with liquid on the site's ground, else of those that were there; a
/// rig next door says nothing about the site's figures, nor does one that laid nothing about what others laid.
fn position_m(legs: &[Leg], liquid: &[Liquid], rules: &Rules) -> f64 {
    let greatest_m = |counts: &dyn Fn(&Leg, &Liquid) -> bool| {
        let legs = legs.iter().zip(liquid);
        let of = legs.filter(|(leg, liquid)| counts(leg, liquid));
        let greatest_m = of.map(|(leg, _)| leg.decided.position_m).reduce(f64::max);
        greatest_m.filter(|greatest_m| *greatest_m > 0.0)
    };
    greatest_m(&|_, liquid| !liquid.parts.is_empty())
        .or_else(|| greatest_m(&|leg, _| !leg.presences.is_empty()))
        .unwrap_or(rules.position_m)
}
