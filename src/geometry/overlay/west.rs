//! The arc that lies nearest west of a point: a ray through the grid that ends where it meets one.

use super::GridPoint;
use super::arcs::{Arc, Arcs};
use super::exact::{side, step};
use super::grid::Grid;
use super::rings::{Rings, Winding};
use std::cell::Cell;

/// Rays to the west.
pub(super) struct West<'a> {
    rings: &'a Rings,
    grid: &'a Grid,
    arcs: &'a Arcs,
    /// The last ray that looked at each edge.
    seen: Vec<u32>,
    rays: u32,
}

impl<'a> West<'a> {
    pub(super) fn of(rings: &'a Rings, grid: &'a Grid, arcs: &'a Arcs) -> Self {
        Self {
            rings,
            grid,
            arcs,
            seen: Vec::new(),
            rays: 0,
        }
    }

    /// The nearest of the kept arcs that are asked for which a ray from the point to the west crosses.
    pub(super) fn nearest(
        &mut self,
        point: GridPoint,
        wanted: impl Fn(Arc) -> bool,
    ) -> Option<Crossed> {
        self.seen.resize(self.rings.corners.len(), 0);
        self.rays += 1;
        let (rings, arcs, seen, ray) = (self.rings, self.arcs, &mut self.seen, self.rays);
        let nearest: Cell<Option<Crossed>> = Cell::new(None);
        self.grid.west_of(
            point,
            |edge| {
                let (a, b) = rings.ends(edge);
                // Bent, an edge stays in its box.
                if a.y.max(b.y) < point.y || a.y.min(b.y) > point.y || seen[edge.at()] == ray {
                    return;
                }
                seen[edge.at()] = ray;
                for at in arcs.steps_of(edge) {
                    let (a, b) = (arcs.chain[at], arcs.chain[at + 1]);
                    if (a.y <= point.y) == (b.y <= point.y) {
                        continue;
                    }
                    let arc = arcs.arc_of(at, &rings.ring_of(edge.at()).edges);
                    // Where arcs lie on each other the kept one is met as well.
                    if arcs.pieces[arc.at()].kept != Some(arc) || !wanted(arc) {
                        continue;
                    }
                    let crossed = Crossed::by(a, b, point, arc);
                    let is_nearer = |nearest: Crossed| crossed.is_east_of(&nearest);
                    if crossed.is_west && nearest.get().is_none_or(is_nearer) {
                        nearest.set(Some(crossed));
                    }
                }
            },
            // A bent edge is listed where its straight one is, half a step off at most.
            |west_end| {
                let is_beyond = |nearest: Crossed| nearest.is_beyond(west_end + 2 - point.x);
                nearest.get().is_some_and(is_beyond)
            },
        );
        nearest.get()
    }
}

/// Where a ray from the west crosses a step.
#[derive(Clone, Copy)]
pub(super) struct Crossed {
    /// It lies num / dy steps east of the ray's end, dy > 0.
    num: i128,
    dx: i64,
    dy: i64,
    is_west: bool,
    /// Up along the arc.
    upward: bool,
    /// The kept one.
    pub(super) arc: Arc,
}

impl Crossed {
    fn by(a: GridPoint, b: GridPoint, point: GridPoint, arc: Arc) -> Self {
        let upward = a.y < b.y;
        let (a, b) = if upward { (a, b) } else { (b, a) };
        let [dx, dy] = step(a, b);
        let num = side(a, b, point);
        Self {
            num,
            dx,
            dy,
            is_west: num < 0,
            upward,
            arc,
        }
    }

    /// Of the windings right and left of the arc, the one on its east.
    pub(super) fn east_of(&self, (right, left): (Winding, Winding)) -> Winding {
        if self.upward { right } else { left }
    }

    /// Farther east; of two that begin at one point of the ray (it counts a step's lower end) the one that is
    /// farther east just above.
    fn is_east_of(&self, other: &Self) -> bool {
        let (one, two) = (
            self.num * i128::from(other.dy),
            other.num * i128::from(self.dy),
        );
        let leans = |a: i64, b: i64| i128::from(a) * i128::from(b);
        one > two || (one == two && leans(self.dx, other.dy) > leans(other.dx, self.dy))
    }

    /// Whether it is more than `steps` east of the point.
    fn is_beyond(&self, steps: i64) -> bool {
        self.num > i128::from(steps) * i128::from(self.dy)
    }
}
