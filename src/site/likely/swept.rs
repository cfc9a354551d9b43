//! Which ground is bare when places and switches are drawn: cells of a raster against steps of a boom, without
//! strips or polygons.
//!
//! A cell x is swept between two boom positions when its distance ahead of the boom changes sign: f = (x + e - P).d,
//! with P the boom's left end, d where it points, and e the drawn error. It happens at u = f0 / (f0 - f1) of the
//! way; how far right of P the cell lies then picks the section, and the time whether it was wet. Both positions
//! have the error of their own time, so that no cracks open between steps.

use super::draws::Draws;
use super::error::{Knots, Law};
use super::switches::Switches;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::raster::{Grid, Raster};
use crate::rig::boom::Sections;
use crate::site::leg::LegLink;
use crate::site::swath::{self, BoomLine, OnPlane};
use rayon::prelude::*;
use std::ops::Range;

/// Side of a cell, m: half the least width of a patch, so that an opening leaves what holds two by two cells
/// (tolerance).
pub(super) const CELL_M: f64 = 0.5;
/// Cells of one target at most; a greater patch is looked at in coarser ones (limit).
const GREATEST_CELLS: usize = 200_000;
/// A drawn error is taken to be within so many standard deviations when steps are left out that are too far off
/// (limit).
const FARTHEST: f64 = 4.0;
/// Up to so many edges of sections, counting is faster than searching (by trial).
const FEW_EDGES: usize = 16;

/// Ground whose bareness is asked for.
pub(super) struct Target {
    grid: Grid,
    /// Of each cell: it belongs to the ground that may be bare.
    here: Vec<bool>,
    /// Of each cell: its area that counts, m2.
    counts_m2: Vec<f32>,
    /// Bare ground must be wider than this, cells.
    least_width: usize,
}

impl Target {
    /// Ground that may be bare, and the part of it that counts; `opened`: what is narrower than two cells is
    /// left out.
    pub(super) fn of(ground: &Region, counts: &Region, opened: bool) -> Self {
        Self::in_cells(ground, counts, opened, CELL_M)
    }

    fn in_cells(ground: &Region, counts: &Region, opened: bool, cell_m: f64) -> Self {
        let rings = ground.rings();
        let grid = Grid::over(rings.iter().flatten(), cell_m, cell_m, GREATEST_CELLS);
        let half_m2 = grid.cell_m * grid.cell_m / 2.0;
        let area_m2 = areas_m2(grid, &rings).into_iter();
        Self {
            here: area_m2.map(|m2| f64::from(m2) > half_m2).collect(),
            counts_m2: areas_m2(grid, &ground.intersection(counts).rings()),
            grid,
            least_width: if opened { 2 } else { 1 },
        }
    }

    fn extent(&self) -> Extent {
        let corner = |columns: usize, rows: usize| {
            Xy::new(
                self.grid.origin.x_m + columns as f64 * self.grid.cell_m,
                self.grid.origin.y_m + rows as f64 * self.grid.cell_m,
            )
        };
        Extent {
            low: corner(0, 0),
            high: corner(self.grid.columns, self.grid.rows),
        }
    }

    /// What counts of the bare cells, m2.
    fn area_m2(&self, bare: &[bool]) -> f64 {
        let wide = if self.least_width > 1 {
            opened(bare, self.grid.columns)
        } else {
            bare.to_vec()
        };
        let counted = wide.iter().zip(&self.counts_m2).filter(|(wide, _)| **wide);
        counted.map(|(_, &m2)| f64::from(m2)).sum()
    }
}

/// Cells that lie in some square of two by two bare cells.
fn opened(bare: &[bool], columns: usize) -> Vec<bool> {
    let mut wide = vec![false; bare.len()];
    for at in 0..bare.len().saturating_sub(columns + 1) {
        let square = [at, at + 1, at + columns, at + columns + 1];
        if at % columns + 1 < columns && square.iter().all(|&cell| bare[cell]) {
            square.iter().for_each(|&cell| wide[cell] = true);
        }
    }
    wide
}

/// Area of some rings in each cell, m2.
fn areas_m2(grid: Grid, rings: &[Vec<Xy>]) -> Vec<f32> {
    let mut raster = Raster::new(grid);
    rings.iter().for_each(|ring| raster.add(ring, 1.0));
    (0..grid.rows)
        .flat_map(|row| raster.row(row).map(|m2| m2 as f32).collect::<Vec<f32>>())
        .collect()
}

/// What one leg may have swept.
pub(super) struct Drive {
    draws: Draws,
    knots: Knots,
    switches: Switches,
    edges_m: Vec<f64>,
    strokes: Vec<Stroke>,
    farthest_m: f64,
}

/// From one boom position to the next.
struct Stroke {
    step: usize,
    /// Shares of the step's time.
    us: (f64, f64),
    /// From the leg's first fix, s.
    times_s: (f64, f64),
    lines: (Line, Line),
    /// Sections wet all the way, and those that may be.
    sections: (Sections, Sections),
    extent: Extent,
}

/// A boom position: its left end and where it points.
#[derive(Clone, Copy)]
struct Line {
    left: Xy,
    ahead: Xy,
}

impl Line {
    fn of(line: &BoomLine) -> Self {
        Self {
            left: line.edges[0],
            ahead: line.heading,
        }
    }

    /// How far ahead of the boom and how far to the right of its left end a place is, m.
    fn sees(self, place: Xy) -> (f64, f64) {
        let from = place.minus(self.left);
        let right = Xy::new(self.ahead.y_m, -self.ahead.x_m);
        (from.dot(self.ahead), from.dot(right))
    }
}

impl Drive {
    /// Of those of a leg's steps that may reach a target.
    pub(super) fn of(
        leg: &OnPlane,
        steps: &[Range<usize>],
        (draws, law): (Draws, Law),
        targets: &[Target],
    ) -> Self {
        let switches = Switches::of(leg.leg);
        let ends = steps.iter().filter(|steps| !steps.is_empty());
        let ends = ends.flat_map(|steps| &leg.leg.fixes[steps.start..=steps.end]);
        let extra_m = ends.map(|fix| fix.extra_m);
        let extra_m = f64::from(extra_m.fold(0.0, f32::max));
        let farthest_m = FARTHEST * law.deviation_m.hypot(extra_m);
        let far_m = farthest_m + leg.leg.boom.reach_m();
        let around: Vec<Extent> = targets.iter().map(|of| grown(of.extent(), far_m)).collect();
        let mut strokes = Vec::new();
        for step in steps.iter().cloned().flatten() {
            let driven = leg.leg.steps[step].link == LegLink::Driven;
            // The path between two fixes bends by less than its length.
            let way = grown(
                Extent::of(&leg.xy[step..step + 2]),
                leg.leg.steps[step].length_m,
            );
            let reaches = around.iter().any(|extent| extent.meets(&way));
            if driven && reaches && !swath::is_parked(leg.leg, step) {
                add_strokes(leg, step, &switches, &mut strokes);
            }
        }
        let left_m = leg.leg.boom.edges_m[0];
        Self {
            draws,
            knots: Knots::of(&leg.leg.fixes, steps, law),
            switches,
            edges_m: leg.leg.boom.edges_m.iter().map(|m| m - left_m).collect(),
            strokes,
            farthest_m,
        }
    }

    /// Takes from the bare cells of each target what the leg swept in one draw.
    fn sweep(&self, draw: u32, near: &[Vec<usize>], targets: &[Target], bare: &mut [Vec<bool>]) {
        if near.iter().all(Vec::is_empty) {
            return;
        }
        let errors = self.knots.draw(self.draws, draw);
        let drawn = self.switches.draw(self.draws, draw);
        let mut last = drawn.last();
        for ((strokes, target), bare) in near.iter().zip(targets).zip(bare) {
            for &at in strokes {
                let stroke = &self.strokes[at];
                let (from, to) = (errors[stroke.step], errors[stroke.step + 1]);
                let error = |u: f64| from.plus(to.minus(from), u);
                let errors = (error(stroke.us.0), error(stroke.us.1));
                let mut is_wet = |section, time_s| drawn.is_wet(section, time_s, &mut last);
                stroke.sweep(errors, &mut is_wet, &self.edges_m, target.grid, bare);
            }
        }
    }

    /// Of each target: the strokes that may reach it.
    fn near(&self, targets: &[Target]) -> Vec<Vec<usize>> {
        let reach = |target: &Target| {
            let extent = grown(target.extent(), self.farthest_m);
            let strokes = self.strokes.iter().enumerate();
            strokes
                .filter(|(_, stroke)| stroke.extent.meets(&extent))
                .map(|(at, _)| at)
                .collect()
        };
        targets.iter().map(reach).collect()
    }
}

fn add_strokes(leg: &OnPlane, step: usize, switches: &Switches, strokes: &mut Vec<Stroke>) {
    let start_s = leg.leg.fixes[step]
        .time
        .seconds_since(leg.leg.fixes[0].time);
    let seconds = leg.leg.seconds(step);
    let places = swath::places_of_step(leg, step);
    for (us, pair) in places.us.windows(2).zip(places.lines.windows(2)) {
        let times_s = (start_s + us[0] * seconds, start_s + us[1] * seconds);
        let sections = switches.over(times_s.0, times_s.1);
        if sections == (0, 0) {
            continue;
        }
        strokes.push(Stroke {
            step,
            us: (us[0], us[1]),
            times_s,
            lines: (Line::of(&pair[0]), Line::of(&pair[1])),
            sections,
            extent: Extent::of(pair.iter().flat_map(|line| &line.edges)),
        });
    }
}

impl Stroke {
    fn sweep(
        &self,
        errors: (Xy, Xy),
        is_wet: &mut impl FnMut(usize, f64) -> bool,
        edges_m: &[f64],
        grid: Grid,
        bare: &mut [bool],
    ) {
        let apart_m = errors.1.minus(errors.0).length_m();
        let box_ = grown(moved(self.extent, errors.0), apart_m);
        let (low, high) = (grid.cell_of(box_.low), grid.cell_of(box_.high));
        let within = |from: isize, to: isize, count: usize| {
            let clamp = |cell: isize| cell.clamp(0, count as isize) as usize;
            clamp(from)..clamp(to + 1)
        };
        let columns = within(low.0, high.0, grid.columns);
        for row in within(low.1, high.1, grid.rows) {
            let y_m = grid.origin.y_m + (row as f64 + 0.5) * grid.cell_m;
            for column in columns.clone() {
                let cell = row * grid.columns + column;
                if !bare[cell] {
                    continue;
                }
                let x_m = grid.origin.x_m + (column as f64 + 0.5) * grid.cell_m;
                if self.treats(Xy::new(x_m, y_m), errors, is_wet, edges_m) {
                    bare[cell] = false;
                }
            }
        }
    }

    fn treats(
        &self,
        place: Xy,
        errors: (Xy, Xy),
        is_wet: &mut impl FnMut(usize, f64) -> bool,
        edges_m: &[f64],
    ) -> bool {
        let (ahead0_m, right0_m) = self.lines.0.sees(place.plus(errors.0, 1.0));
        let (ahead1_m, right1_m) = self.lines.1.sees(place.plus(errors.1, 1.0));
        if (ahead0_m >= 0.0) == (ahead1_m >= 0.0) {
            return false;
        }
        let u = ahead0_m / (ahead0_m - ahead1_m);
        let right_m = right0_m + u * (right1_m - right0_m);
        let after = if edges_m.len() <= FEW_EDGES {
            edges_m.iter().filter(|edge_m| **edge_m <= right_m).count()
        } else {
            edges_m.partition_point(|edge_m| *edge_m <= right_m)
        };
        let Some(section) = after.checked_sub(1).filter(|_| after < edges_m.len()) else {
            return false;
        };
        let (sure, perhaps) = self.sections;
        let time_s = || self.times_s.0 + u * (self.times_s.1 - self.times_s.0);
        sure >> section & 1 == 1 || (perhaps >> section & 1 == 1 && is_wet(section, time_s()))
    }
}

fn grown(extent: Extent, by_m: f64) -> Extent {
    Extent {
        low: Xy::new(extent.low.x_m - by_m, extent.low.y_m - by_m),
        high: Xy::new(extent.high.x_m + by_m, extent.high.y_m + by_m),
    }
}

/// Where ground lies whose log is off by an error.
fn moved(extent: Extent, error: Xy) -> Extent {
    Extent {
        low: extent.low.minus(error),
        high: extent.high.minus(error),
    }
}

/// Of each target its bare ground that counts, m2, in each of these draws.
pub(super) fn bare_m2(drives: &[Drive], targets: &[Target], draws: Range<u32>) -> Vec<Vec<f64>> {
    if targets.is_empty() {
        return Vec::new();
    }
    let near: Vec<Vec<Vec<usize>>> = drives.iter().map(|drive| drive.near(targets)).collect();
    let by_draw: Vec<Vec<f64>> = draws
        .into_par_iter()
        .map(|draw| {
            let mut bare: Vec<Vec<bool>> = targets.iter().map(|of| of.here.clone()).collect();
            for (drive, near) in drives.iter().zip(&near) {
                drive.sweep(draw, near, targets, &mut bare);
            }
            let areas = targets.iter().zip(&bare);
            areas.map(|(target, bare)| target.area_m2(bare)).collect()
        })
        .collect();
    (0..targets.len())
        .map(|target| by_draw.iter().map(|areas| areas[target]).collect())
        .collect()
}

#[cfg(test)]
mod tests;
