//! Which places hang together: a coarse search over positions and headings of the body.
//!
//! A place is a position of the body's middle and a heading. It is free where the body's rectangle lies
//! on drivable ground; two places are neighbours where a straight step or an arc of the turning radius,
//! forward or in reverse, leads from one to the other. Cells of half a metre and headings 5 degrees apart
//! say only *what hangs together*; no area is counted here.
//!
//! Every move can be driven back, so what is reached from one place is reached from all of it.

use super::bits::Bits;
use super::cells::Cells;
use super::minkowski::{edge_sum, edges};
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use std::f64::consts::{PI, TAU};

/// Headings over a whole turn (by trial).
const HEADINGS: usize = 72;
/// Over half a turn: a rectangle lies the same way after that (arithmetic).
const LAYERS: usize = HEADINGS / 2;
/// Side of a cell, m: an arc of the tightest turning radius over 5 degrees is about as long (tolerance).
const CELL_M: f64 = 0.5;
/// Most cells: above, cells grow. A hundred thousand square metres have this many (limit).
const MOST_CELLS: f64 = 400_000.0;
/// Most starts that are tried where no entrance is known; what is left after them is pockets (limit).
const MOST_STARTS: usize = 40;
/// A rig that comes in stands with its middle this near to the entrance, beyond half its length, m (trade judgement).
const ENTRANCE_M: f64 = 3.0;

/// What the search found.
pub(super) struct Places {
    cells: Cells,
    /// Of each heading: where the body's middle can get.
    reached: Vec<Bits>,
}

impl Places {
    /// Searches the drivable ground: from the entrances; in a piece of it that has none, the set of places
    /// that covers most.
    pub(super) fn search(ground: &Region, vehicle: &Vehicle, entrances: &[Xy]) -> Self {
        let extent = ground.extent();
        let area_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cell_m = if area_m2.is_finite() {
            CELL_M.max((area_m2 / MOST_CELLS).sqrt())
        } else {
            CELL_M
        };
        let extent = if ground.is_empty() {
            crate::geometry::extent::Extent::of([&Xy::default()])
        } else {
            extent
        };
        let cells = Cells::over(extent, cell_m, cell_m);
        let search = Search {
            free: free(ground, vehicle, &cells),
            moves: moves(vehicle, cell_m),
            cells,
        };
        let mut reached = vec![Bits::none(&cells); HEADINGS];
        for piece in ground.pieces() {
            let mask = Bits::of(&piece, &cells);
            let near_m = vehicle.length_m / 2.0 + ENTRANCE_M;
            let found = search
                .seen_from_entrances(&mask, entrances, near_m)
                .unwrap_or_else(|| search.greatest(&mask));
            for (all, own) in reached.iter_mut().zip(&found) {
                all.add(own);
            }
        }
        Self { cells, reached }
    }

    /// Whether the search got to some place in this piece of ground with this heading.
    pub(super) fn meets(&self, piece: &Region, heading_rad: f64) -> bool {
        let near = near_headings(heading_rad);
        let own = Bits::of(piece, &self.cells);
        if near.iter().any(|&k| self.reached[k].meets(&own)) {
            return true;
        }
        // A piece so thin that no cell's middle lies in it is judged by the cells around its corners.
        own.is_empty()
            && piece
                .rings()
                .iter()
                .flatten()
                .any(|&corner| near.iter().any(|&k| self.is_near(k, corner)))
    }

    /// Whether the search got to a cell beside this point with about this heading.
    pub(super) fn is_near_heading(&self, point: Xy, heading_rad: f64) -> bool {
        near_headings(heading_rad)
            .iter()
            .any(|&k| self.is_near(k, point))
    }

    fn is_near(&self, heading: usize, point: Xy) -> bool {
        let Some((column, row)) = self.cells.at(point) else {
            return false;
        };
        (row.saturating_sub(1)..=(row + 1).min(self.cells.rows - 1)).any(|row| {
            (column.saturating_sub(1)..=(column + 1).min(self.cells.columns - 1))
                .any(|column| self.reached[heading].has(column, row))
        })
    }

    /// Where the body's middle can get with any heading.
    pub(super) fn anywhere(&self) -> (Bits, Cells) {
        let mut all = Bits::none(&self.cells);
        self.reached.iter().for_each(|layer| all.add(layer));
        (all, self.cells)
    }
}

/// The nearest heading and its neighbours.
fn near_headings(heading_rad: f64) -> [usize; 3] {
    let nearest = (heading_rad.rem_euclid(TAU) / TAU * HEADINGS as f64).round() as usize;
    [nearest, nearest + 1, nearest + HEADINGS - 1].map(|k| k % HEADINGS)
}

/// Of each heading of half a turn: where the rectangle lies on the ground, at the cells' middles.
fn free(ground: &Region, vehicle: &Vehicle, cells: &Cells) -> Vec<Bits> {
    let inside = Bits::of(ground, cells);
    let edges = edges(ground);
    let layer = |k: usize| {
        let corners = vehicle.corners(Xy::at_angle(k as f64 * TAU / HEADINGS as f64));
        let mut free = inside.clone();
        for &(a, b) in &edges {
            cells.scan_convex(&edge_sum(a, b, &corners), |row, columns| {
                free.clear(row, columns);
            });
        }
        free
    };
    (0..LAYERS).map(layer).collect()
}

/// Steps of one heading, in cells.
struct Moves {
    /// The one or two of the eight directions beside the heading.
    straight: Vec<(isize, isize)>,
    /// To the next heading, counter-clockwise: forward and in reverse.
    left: [(isize, isize); 2],
}

fn moves(vehicle: &Vehicle, cell_m: f64) -> Vec<Moves> {
    let step_rad = TAU / HEADINGS as f64;
    let arc_m = vehicle.radius_m.unwrap_or(0.0) * step_rad;
    // The body's middle ahead of the axle swings sideways as the heading turns.
    let swing_m = vehicle.middle_ahead_m * step_rad;
    let cell = |vector: Xy| {
        let round = |m: f64| (m / cell_m).round() as isize;
        (round(vector.x_m), round(vector.y_m))
    };
    let of_heading = |k: usize| {
        let heading_rad = k as f64 * step_rad;
        let eighth = heading_rad / (PI / 4.0);
        let mut straight = vec![direction(eighth.floor())];
        if eighth.fract() > 1e-9 {
            straight.push(direction(eighth.floor() + 1.0));
        }
        let ahead = Xy::at_angle(heading_rad + step_rad / 2.0);
        let left = Xy::new(-ahead.y_m, ahead.x_m);
        let arc = |way_m: f64| cell(Xy::default().plus(ahead, way_m).plus(left, swing_m));
        Moves {
            straight,
            left: [arc(arc_m), arc(-arc_m)],
        }
    };
    (0..HEADINGS).map(of_heading).collect()
}

fn direction(eighth: f64) -> (isize, isize) {
    let way = Xy::at_angle(eighth * PI / 4.0);
    (way.x_m.round() as isize, way.y_m.round() as isize)
}

struct Search {
    cells: Cells,
    free: Vec<Bits>,
    moves: Vec<Moves>,
}

impl Search {
    fn seen_from_entrances(&self, mask: &Bits, entrances: &[Xy], near_m: f64) -> Option<Vec<Bits>> {
        let mut seeds = vec![Bits::none(&self.cells); HEADINGS];
        let mut any = false;
        for entrance in entrances {
            let mut around = Bits::none(&self.cells);
            self.cells
                .scan_convex(&disc(*entrance, near_m), |row, columns| {
                    around.set(row, columns);
                });
            around.keep(mask);
            for (k, seed) in seeds.iter_mut().enumerate() {
                let mut here = around.clone();
                here.keep(&self.free[k % LAYERS]);
                any |= !here.is_empty();
                seed.add(&here);
            }
        }
        any.then(|| self.flood(seeds))
    }

    /// The set of places that covers most cells of a piece of ground.
    fn greatest(&self, mask: &Bits) -> Vec<Bits> {
        let mut left: Vec<Bits> = (0..HEADINGS)
            .map(|k| {
                let mut free = self.free[k % LAYERS].clone();
                free.keep(mask);
                free
            })
            .collect();
        let mut best = vec![Bits::none(&self.cells); HEADINGS];
        let mut most = 0;
        for _ in 0..MOST_STARTS {
            if self.spread_of(&left) <= most {
                break;
            }
            // The layer with most cells left begins.
            let Some(k) = (0..HEADINGS).rev().max_by_key(|&k| left[k].count()) else {
                break;
            };
            let Some((column, row)) = left[k].first() else {
                break;
            };
            let mut seeds = vec![Bits::none(&self.cells); HEADINGS];
            seeds[k].set(row, column..column + 1);
            let found = self.flood(seeds);
            for (left, found) in left.iter_mut().zip(&found) {
                left.take(found);
            }
            let count = self.spread_of(&found);
            if count > most {
                most = count;
                best = found;
            }
        }
        best
    }

    /// Cells of all headings together.
    fn spread_of(&self, layers: &[Bits]) -> u64 {
        let mut all = Bits::none(&self.cells);
        layers.iter().for_each(|layer| all.add(layer));
        all.count()
    }

    /// Everything that hangs together with the seeds.
    fn flood(&self, mut reached: Vec<Bits>) -> Vec<Bits> {
        let mut waiting: Vec<bool> = reached.iter().map(|layer| !layer.is_empty()).collect();
        while let Some(k) = waiting.iter().position(|&waits| waits) {
            waiting[k] = false;
            self.drive_straight(k, &mut reached[k]);
            let (next, before) = ((k + 1) % HEADINGS, (k + HEADINGS - 1) % HEADINGS);
            let here = reached[k].clone();
            for (columns, rows) in self.moves[k].left {
                let within = &self.free[next % LAYERS];
                waiting[next] |= reached[next].add_moved(&here, (columns, rows), within);
            }
            for (columns, rows) in self.moves[before].left {
                let within = &self.free[before % LAYERS];
                waiting[before] |= reached[before].add_moved(&here, (-columns, -rows), within);
            }
        }
        reached
    }

    fn drive_straight(&self, k: usize, layer: &mut Bits) {
        let within = &self.free[k % LAYERS];
        loop {
            let mut changed = false;
            for &step in &self.moves[k].straight {
                changed |= layer.spread(step, within);
            }
            if !changed || self.moves[k].straight.len() == 1 {
                return;
            }
        }
    }
}

/// A many-sided ring inside a circle.
pub(super) fn disc(middle: Xy, radius_m: f64) -> Vec<Xy> {
    /// Sides of the ring: within a thousandth of the circle (tolerance).
    const SIDES: usize = 64;
    (0..SIDES)
        .map(|k| middle.plus(Xy::at_angle(k as f64 * TAU / SIDES as f64), radius_m))
        .collect()
}
