//! Grounds of a site where outlines lie in a heap, made of cells instead of exact sets.
//!
//! A cell counts when its middle lies in a swath, so no outline is farther off than half a cell's diagonal (7 cm
//! with cells of 0.1 m). Of the passes of one presence each cell keeps the first and the second: together they wind
//! min(n, 2) times about a spot that n passes cover, which is all that treated ground and overlap ask. They are
//! handed on in batches of passes, a few dozen for each presence whatever was driven, in the shape in which exact
//! grounds come, so that nothing after this knows the difference. The work goes with the length of the outlines and
//! the ground they sweep.

use super::grounds::{PassGround, UnsureGround};
use super::leg::Leg;
use super::swath::{Corridor, Idle, IdleRing, PassRings, Strips};
use crate::geometry::cells::{self, Mask, Run, Scan};
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::ground::Site;
use crate::rig::boom::Sections;
use std::collections::BTreeMap;
use std::ops::Range;

/// Side of a cell, m: its error is a tenth of the best position error of a receiver with corrections (tolerance).
const CELL_M: f64 = 0.1;
/// Most cells (16 ha of 0.1 m); a greater site has greater ones (limit).
const MOST_CELLS: usize = 16_000_000;
/// Batches in which the passes of a presence are handed on. An order's end is known to one of them (limit).
const BATCHES: usize = 32;
/// Ways of being closed that are told apart in one presence: twice what a driver switches by hand on a boom of eight
/// sections (limit).
const MOST_KINDS: usize = 16;
/// No batch (arithmetic).
const NONE: u8 = u8::MAX;

/// The cells of a site; `None` where it has no ground.
pub(super) fn grid(site: &Site) -> Option<Grid> {
    let rings: Vec<Vec<Xy>> = site
        .zones
        .iter()
        .flat_map(|zone| zone.region.rings())
        .collect();
    (!rings.is_empty()).then(|| Grid::over(rings.iter().flatten(), CELL_M, CELL_M, MOST_CELLS))
}

/// Ground of the passes of one leg, in batches.
pub(super) fn passes(grid: Grid, index: usize, leg: &Leg, strips: &Strips) -> Vec<PassGround> {
    let passes: Vec<&PassRings> = strips.passes.iter().collect();
    let mut grounds = Vec::new();
    for stay in passes.chunk_by(|a, b| stay_of(leg, &a.steps) == stay_of(leg, &b.steps)) {
        let batches = batches(leg, stay);
        for some in batches.chunks(usize::from(NONE)) {
            grounds.extend(layered(grid, index, some));
        }
    }
    grounds
}

/// Which presence, or which time between two, some steps belong to.
fn stay_of(leg: &Leg, steps: &Range<usize>) -> usize {
    let begun = leg
        .presences
        .partition_point(|presence| presence.fixes.end <= steps.start);
    let here = leg.presences.get(begun);
    2 * begun + usize::from(here.is_some_and(|presence| super::overlap(&presence.fixes, steps)))
}

/// Passes of one stay in batches of one product.
fn batches<'a, 'b>(leg: &Leg, passes: &'b [&'a PassRings]) -> Vec<&'b [&'a PassRings]> {
    let most = passes.len().div_ceil(BATCHES);
    let product = |pass: &PassRings| leg.product(pass.steps.start);
    let of_one = passes.chunk_by(|a, b| product(a) == product(b));
    of_one.flat_map(|passes| passes.chunks(most)).collect()
}

/// First and second layer of some batches.
fn layered(grid: Grid, leg: usize, batches: &[&[&PassRings]]) -> Vec<PassGround> {
    let mut layers = Layers::none(grid);
    let mut scan = Scan::default();
    for (batch, passes) in batches.iter().enumerate() {
        for pass in *passes {
            let rings = pass.rings.iter().map(Vec::as_slice);
            scan.each_run(&grid, rings, |run| layers.lay(batch as u8, run));
        }
    }
    let grounds = layers.grounds(batches.len());
    let grounds = batches.iter().zip(grounds).flat_map(|(passes, layers)| {
        let layers = layers.into_iter().enumerate();
        layers.map(|(layer, runs)| PassGround {
            leg,
            numbers: passes[0].pass..passes[passes.len() - 1].pass + 1,
            steps: span(passes.iter().map(|pass| &pass.steps)),
            again: layer > 0,
            extent: crate::geometry::extent::Extent::NOWHERE,
            region: region(&grid, &runs),
        })
    });
    let grounds = grounds.filter(|ground| !ground.again || !ground.region.is_empty());
    grounds.map(PassGround::boxed).collect()
}

fn region(grid: &Grid, runs: &[Run]) -> Region {
    let boxes = cells::boxes(grid, runs);
    Region::union_of_positive(boxes.iter().map(<[Xy; 4]>::as_slice))
}

/// From the first to the last of some steps; nothing of none.
fn span<'a>(steps: impl Iterator<Item = &'a Range<usize>>) -> Range<usize> {
    let all = steps
        .cloned()
        .reduce(|all, steps| all.start.min(steps.start)..all.end.max(steps.end));
    all.unwrap_or_default()
}

/// Which batch covered each cell first, and which again.
struct Layers {
    grid: Grid,
    first: Vec<u8>,
    again: Vec<u8>,
}

impl Layers {
    fn none(grid: Grid) -> Self {
        Self {
            grid,
            first: vec![NONE; grid.cells()],
            again: vec![NONE; grid.cells()],
        }
    }

    fn lay(&mut self, batch: u8, run: Run) {
        let start = run.row * self.grid.columns;
        for cell in start + run.from..start + run.to {
            if self.first[cell] == NONE {
                self.first[cell] = batch;
            } else if self.again[cell] == NONE {
                self.again[cell] = batch;
            }
        }
    }

    /// Of each batch: its cells of both layers.
    fn grounds(&self, batches: usize) -> Vec<[Vec<Run>; 2]> {
        let mut grounds: Vec<[Vec<Run>; 2]> = (0..batches).map(|_| Default::default()).collect();
        for (layer, cells) in [&self.first, &self.again].into_iter().enumerate() {
            for (row, cells) in cells.chunks(self.grid.columns).enumerate() {
                let mut from = 0;
                for same in cells.chunk_by(|a, b| a == b) {
                    let to = from + same.len();
                    if same[0] != NONE {
                        grounds[usize::from(same[0])][layer].push(Run { row, from, to });
                    }
                    from = to;
                }
            }
        }
        grounds
    }
}

/// Boxes of the cells in some rings.
fn boxes<'a>(
    grid: &Grid,
    (mask, scan): (&mut Mask, &mut Scan),
    rings: impl Iterator<Item = &'a Vec<Xy>>,
) -> Vec<Vec<Xy>> {
    for ring in rings {
        scan.each_run(grid, [ring.as_slice()], |run| mask.add(run));
    }
    let boxes = cells::boxes(grid, &mask.take()).into_iter();
    boxes.map(|ring| ring.to_vec()).collect()
}

/// Takes boxes of cells, of each presence once, for the rings that laid nothing.
pub(super) fn idle(grid: Grid, leg: &Leg, strips: &mut Strips) {
    let (mut mask, mut scan) = (Mask::none(grid), Scan::default());
    let mut idle = Vec::new();
    for stay in strips
        .idle
        .chunk_by(|a, b| stay_of(leg, &a.steps) == stay_of(leg, &b.steps))
    {
        for (kind, own) in by_kind(stay) {
            let steps = span(own.iter().map(|idle| &idle.steps));
            let own = own.iter().map(|idle| &idle.ring);
            let rings = boxes(&grid, (&mut mask, &mut scan), own);
            let ring = |ring| IdleRing {
                steps: steps.clone(),
                idle: kind.0,
                sections: kind.1,
                ring,
            };
            idle.extend(rings.into_iter().map(ring));
        }
    }
    strips.idle = idle;
}

/// Why a boom laid nothing, and by which sections.
type Kind = (Idle, Sections);

/// The rings of one stay by what they are, in order of their first ring. Where sections closed in more ways than
/// [`MOST_KINDS`], those that were seen least are one way that names no section: a boom whose states change at every fix
/// has none that stayed closed, and each way would keep its own copy of the same ground.
fn by_kind(stay: &[IdleRing]) -> Vec<(Kind, Vec<&IdleRing>)> {
    let mut at: BTreeMap<Kind, usize> = BTreeMap::new();
    let mut kinds: Vec<(Kind, Vec<&IdleRing>)> = Vec::new();
    for ring in stay {
        let kind = (ring.idle, ring.sections);
        let place = *at.entry(kind).or_insert(kinds.len());
        if place == kinds.len() {
            kinds.push((kind, Vec::new()));
        }
        kinds[place].1.push(ring);
    }
    if kinds.len() <= MOST_KINDS {
        return kinds;
    }
    kinds.sort_by_key(|(_, rings)| std::cmp::Reverse(rings.len()));
    let mut seldom: BTreeMap<Idle, Vec<&IdleRing>> = BTreeMap::new();
    for (kind, rings) in kinds.drain(MOST_KINDS..) {
        seldom.entry(kind.0).or_default().extend(rings);
    }
    let unnamed = seldom.into_iter().map(|(idle, rings)| ((idle, 0), rings));
    kinds.extend(unnamed);
    kinds
}

/// The same for the corridors of silences.
pub(super) fn corridors(grid: Grid, leg: &Leg, strips: &mut Strips) {
    let (mut mask, mut scan) = (Mask::none(grid), Scan::default());
    let mut corridors = Vec::new();
    let stay = |corridor: &Corridor| stay_of(leg, &(corridor.step..corridor.step + 1));
    for stay in strips.corridors.chunk_by(|a, b| stay(a) == stay(b)) {
        for (unlogged, perhaps) in [(true, false), (true, true), (false, false), (false, true)] {
            let own = stay
                .iter()
                .filter(|own| (own.unlogged, own.perhaps) == (unlogged, perhaps));
            let rings = boxes(&grid, (&mut mask, &mut scan), own.map(|own| &own.ring));
            let step = stay[0].step;
            let ring = |ring| Corridor {
                step,
                unlogged,
                perhaps,
                // Of boxes nobody knows where a lane went on: they hide what lies in them.
                ends: [Xy::new(0.0, 0.0); 2],
                way_m: 0.0,
                boom_m: 0.0,
                ring,
            };
            corridors.extend(rings.into_iter().map(ring));
        }
    }
    strips.corridors = corridors;
}

/// Swaths of a leg of which it is not sure where they lie, in batches; `reach_m` is how far off they may be. The first
/// batch of a stay has the reach of all.
pub(super) fn unsure(
    grid: Grid,
    index: usize,
    leg: &Leg,
    strips: &Strips,
    reach_m: f64,
) -> Vec<UnsureGround> {
    let mut mask = Mask::none(grid);
    let mut scan = Scan::default();
    let stay = |step: usize| stay_of(leg, &(step..step + 1));
    let stays = strips.unsure.chunk_by(|a, b| stay(a.step) == stay(b.step));
    let mut grounds: Vec<UnsureGround> = Vec::new();
    for stay in stays {
        let begin = grounds.len();
        for swaths in stay.chunks(stay.len().div_ceil(BATCHES)) {
            for swath in swaths {
                scan.each_run(&grid, [swath.ground.corners()], |run| mask.add(run));
            }
            grounds.push(UnsureGround {
                leg: index,
                steps: swaths[0].step..swaths[swaths.len() - 1].step + 1,
                reach: Region::default(),
                ground: region(&grid, &mask.take()),
            });
        }
        // One reach for all of a stay: to grow ground takes longer than all else here.
        let whole = Region::union_of(grounds[begin..].iter().map(|ground| &ground.ground));
        grounds[begin].reach = whole.offset(reach_m);
    }
    grounds
}

/// Ground of a region under each of some rings, m2, by the middles of cells.
pub(super) fn areas_m2<'a>(
    grid: Grid,
    region: &Region,
    rings: impl Iterator<Item = &'a [Xy]>,
) -> Vec<f64> {
    let mut mask = Mask::none(grid);
    let mut scan = Scan::default();
    let own = region.rings();
    scan.each_run(&grid, own.iter().map(Vec::as_slice), |run| mask.add(run));
    rings
        .map(|ring| {
            let mut cells = 0;
            scan.each_run(&grid, [ring], |run| cells += mask.count(run));
            cells as f64 * grid.cell_m * grid.cell_m
        })
        .collect()
}

#[cfg(test)]
mod tests;
