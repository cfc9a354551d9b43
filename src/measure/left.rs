//! What a boom does not reach, of three kinds: the edge strip, hand work, slivers.

use super::bits::Bits;
use super::cells::Cells;
use super::lot::Lot;
use super::reach::Reach;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::units::{M_PER_FT, M2_PER_FT2};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Ground at least this wide is worth a crew's walk, m (trade judgement).
const HAND_WIDTH_M: f64 = 2.0 * M_PER_FT;
/// ... and of at least this area, m2 (trade judgement).
const HAND_AREA_M2: f64 = 20.0 * M2_PER_FT2;
/// Side of a cell where hoses are laid out, m (tolerance).
const HOSE_CELL_M: f64 = 0.5;
/// Most of those cells; above, cells grow (limit).
const MOST_HOSE_CELLS: f64 = 400_000.0;

/// One piece of hand work.
#[derive(Debug, Clone)]
pub(super) struct HandWork {
    /// Ground.
    pub(super) ground: Region,
    /// Along ground that can be driven or walked on, from the nearest place a rig can stand to the farthest
    /// spot, m; `None` where no way leads there.
    pub(super) hose_m: Option<f64>,
}

/// What is left of a lot.
pub(super) struct Left {
    /// Within the clearance of curbs and objects.
    pub(super) edge_strip: Region,
    /// Length of curbs beside it, m.
    pub(super) edge_strip_m: f64,
    /// Boom ground that needs a hand, the greatest first.
    pub(super) hand: Vec<HandWork>,
    /// Zones treated by hand anyhow.
    pub(super) hand_zones: Vec<HandWork>,
    /// Length of walks among them, m.
    pub(super) walk_m: f64,
    /// Too narrow or too small for either.
    pub(super) slivers: Region,
}

/// Sorts what is left into its kinds.
pub(super) fn left(lot: &Lot, reach: &Reach, hoses: &Hoses) -> Left {
    let edge_strip = lot.by_boom.difference(&lot.target);
    let rest = lot.target.difference(&reach.ground);
    let (hand, pieces) = hand_pieces(&rest, hoses);
    let hand_walks = lot.by_hand.intersection(&lot.walks);
    Left {
        edge_strip_m: strip_length_m(lot, &edge_strip),
        edge_strip,
        slivers: rest.difference(&hand),
        hand: pieces,
        hand_zones: lot
            .by_hand
            .pieces()
            .into_iter()
            .map(|ground| hoses.work(ground))
            .collect(),
        walk_m: hand_walks.pieces().iter().map(walk_length_m).sum(),
    }
}

/// What a plan leaves, as hand work: the pieces that are worth a crew's walk; where more than `may_leave_m2` is left beside
/// them, smaller pieces too. The greatest of either first.
pub(super) fn left_by_plan(gap: &Region, hoses: &Hoses, may_leave_m2: f64) -> Vec<HandWork> {
    let (hand, mut told) = hand_pieces(gap, hoses);
    let rest = gap.difference(&hand);
    let mut untold_m2 = rest.area_m2();
    if untold_m2 <= may_leave_m2 {
        return told;
    }
    let mut crumbs = rest.pieces();
    crumbs.sort_by(|a, b| b.area_m2().total_cmp(&a.area_m2()));
    for crumb in crumbs {
        if untold_m2 <= may_leave_m2 {
            break;
        }
        untold_m2 -= crumb.area_m2();
        told.push(hoses.work(crumb));
    }
    told
}

fn hand_pieces(ground: &Region, hoses: &Hoses) -> (Region, Vec<HandWork>) {
    // Opening crumbs takes time and leaves nothing.
    let hand = ground
        .greater_than(HAND_AREA_M2)
        .opened(HAND_WIDTH_M / 2.0)
        .greater_than(HAND_AREA_M2);
    let mut pieces: Vec<HandWork> = hand
        .pieces()
        .into_iter()
        .map(|ground| hoses.work(ground))
        .collect();
    pieces.sort_by(|a, b| b.ground.area_m2().total_cmp(&a.ground.area_m2()));
    (hand, pieces)
}

/// Length of the curbs along boom ground, m: a curb counts where its middle lies beside some strip.
fn strip_length_m(lot: &Lot, strip: &Region) -> f64 {
    if strip.is_empty() {
        return 0.0;
    }
    let along = super::minkowski::edges(&lot.by_boom);
    lot.curbs
        .iter()
        .filter(|(a, b)| {
            let middle = Xy::new(f64::midpoint(a.x_m, b.x_m), f64::midpoint(a.y_m, b.y_m));
            along
                .iter()
                .any(|&(c, d)| super::edges::distance_m(middle, c, d) <= 1e-3)
        })
        .map(|(a, b)| b.minus(*a).length_m())
        .sum()
}

/// Length of a long narrow piece, m: that of the rectangle with its area and perimeter.
pub(super) fn walk_length_m(walk: &Region) -> f64 {
    let area_m2 = walk.area_m2();
    let around_m: f64 = super::minkowski::edges(walk)
        .iter()
        .map(|(a, b)| b.minus(*a).length_m())
        .sum();
    // 2 (l + w) = around, l w = area; a square has no real root with rounding.
    let root = (around_m * around_m - 16.0 * area_m2).max(0.0).sqrt();
    (around_m + root) / 4.0
}

/// Ways of a hose from where rigs can stand.
pub(super) struct Hoses {
    cells: Cells,
    /// Length of hose to each cell, m.
    way_m: Vec<f32>,
}

impl Hoses {
    pub(super) fn new(lot: &Lot, reach: &Reach) -> Self {
        let ground = Region::union_of([
            &lot.pavement.difference(&lot.blocked),
            &lot.walks,
            &lot.by_hand,
        ]);
        let (stands, place_cells) = reach.places.anywhere();
        let extent = ground.extent();
        let box_m2 = (extent.high.x_m - extent.low.x_m) * (extent.high.y_m - extent.low.y_m);
        let cells = if box_m2.is_finite() {
            let cell_m = HOSE_CELL_M.max((box_m2 / MOST_HOSE_CELLS).sqrt());
            Cells::over(extent, cell_m, cell_m)
        } else {
            place_cells
        };
        let open = Bits::of(&ground, &cells);
        let mut hoses = Self {
            way_m: vec![f32::INFINITY; cells.columns * cells.rows],
            cells,
        };
        hoses.lay(&open, stands.cells().map(|(c, r)| place_cells.middle(c, r)));
        hoses
    }

    fn work(&self, ground: Region) -> HandWork {
        HandWork {
            hose_m: self.longest_m(&ground),
            ground,
        }
    }

    /// Dijkstra over the eight neighbours.
    fn lay(&mut self, open: &Bits, starts: impl Iterator<Item = Xy>) {
        let (columns, rows) = (self.cells.columns, self.cells.rows);
        // Whole millimetres order exactly.
        let mut queue: BinaryHeap<Reverse<(u64, usize)>> = BinaryHeap::new();
        for start in starts {
            if let Some((column, row)) = self.cells.at(start) {
                let index = row * columns + column;
                if self.way_m[index] > 0.0 {
                    self.way_m[index] = 0.0;
                    queue.push(Reverse((0, index)));
                }
            }
        }
        let straight = (self.cells.cell_m * 1000.0).round() as u64;
        let slant = (self.cells.cell_m * 1000.0 * std::f64::consts::SQRT_2).round() as u64;
        while let Some(Reverse((way, index))) = queue.pop() {
            if (way as f64 / 1000.0) as f32 > self.way_m[index] {
                continue;
            }
            let (column, row) = (index % columns, index / columns);
            for (dc, dr) in [
                (-1, 0),
                (1, 0),
                (0, -1),
                (0, 1),
                (-1, -1),
                (-1, 1),
                (1, -1),
                (1, 1),
            ] {
                let (Some(c), Some(r)) =
                    (column.checked_add_signed(dc), row.checked_add_signed(dr))
                else {
                    continue;
                };
                if c >= columns || r >= rows || !open.has(c, r) {
                    continue;
                }
                let next = way + if dc == 0 || dr == 0 { straight } else { slant };
                let next_m = (next as f64 / 1000.0) as f32;
                if next_m < self.way_m[r * columns + c] {
                    self.way_m[r * columns + c] = next_m;
                    queue.push(Reverse((next, r * columns + c)));
                }
            }
        }
    }

    fn longest_m(&self, ground: &Region) -> Option<f64> {
        let mut under = Bits::of(ground, &self.cells);
        if under.is_empty() {
            for (column, row) in ground
                .rings()
                .iter()
                .flatten()
                .filter_map(|&p| self.cells.at(p))
            {
                under.set(row, column..column + 1);
            }
        }
        let ways = under
            .cells()
            .map(|(column, row)| self.way_m[row * self.cells.columns + column]);
        let ways: Vec<f32> = ways.filter(|way_m| way_m.is_finite()).collect();
        ways.into_iter().max_by(f32::total_cmp).map(f64::from)
    }
}
