//! Regions from arcs and windings: borders are followed by sectors, so that no ring touches itself.
//!
//! An arc is a border where one side is in the region and the other is not. At a node a border goes on along the next
//! border clockwise, which closes the sector of the region it came along; where it comes back to a node, the
//! loop since then is a ring of its own. So one traced border makes one outer ring and the holes that touch it, or
//! holes alone, which lie in the outer ring that the nearest border west of them belongs to.

use super::GridPoint;
use super::arcs::{Arc, Arcs, End, Node};
use super::exact::{doubled_area, is_before, side};
use super::grid::Grid;
use super::rings::{Fail, Rings, Winding};
use super::west::West;
use super::windings::Windings;

/// A region's shapes: of each the outer ring, counter-clockwise, then its holes.
pub(super) type Shapes = Vec<Vec<Vec<GridPoint>>>;

/// On which side of an arc the region lies.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Inside {
    Neither,
    Left,
    Right,
}

/// A ring of a traced border.
struct Loop {
    border: usize,
    ring: Vec<GridPoint>,
    is_outer: bool,
}

/// The borders of one region.
struct Borders<'a> {
    arcs: &'a Arcs,
    inside: Vec<Inside>,
    /// The border that an arc is in.
    border_of: Vec<Option<u32>>,
    /// Of each border.
    leftmost: Vec<GridPoint>,
    loops: Vec<Loop>,
}

/// The part of a border that is not yet closed.
struct Open {
    ring: Vec<GridPoint>,
    /// Nodes on it, with their places in the ring.
    nodes: Vec<(Node, usize)>,
    /// Where a node is in the ring.
    place_of: Vec<Option<u32>>,
}

/// The ground whose windings are `inside`; nowhere must not be.
///
/// # Errors
///
/// [`Fail::Trace`] when a border does not close.
pub(super) fn region(
    rings: &Rings,
    grid: &Grid,
    arcs: &Arcs,
    windings: &Windings,
    inside: impl Fn(Winding) -> bool,
) -> Result<Shapes, Fail> {
    let of = |place: usize| {
        let arc = Arc::new(place);
        let kept = arcs.pieces[place].kept == Some(arc);
        match windings.beside(arcs, arc).filter(|_| kept) {
            Some((right, left)) => match (inside(left), inside(right)) {
                (true, false) => Inside::Left,
                (false, true) => Inside::Right,
                _ => Inside::Neither,
            },
            None => Inside::Neither,
        }
    };
    let mut borders = Borders {
        arcs,
        inside: (0..arcs.pieces.len()).map(of).collect(),
        border_of: vec![None; arcs.pieces.len()],
        leftmost: Vec::new(),
        loops: Vec::new(),
    };
    borders.trace_all()?;
    borders.shapes(rings, grid)
}

impl Borders<'_> {
    fn trace_all(&mut self) -> Result<(), Fail> {
        let mut open = Open {
            ring: Vec::new(),
            nodes: Vec::new(),
            place_of: vec![None; self.arcs.node_count()],
        };
        for place in 0..self.arcs.pieces.len() {
            if self.inside[place] == Inside::Neither || self.border_of[place].is_some() {
                continue;
            }
            let arc = Arc::new(place);
            open.ring.clear();
            if self.arcs.pieces[place].ends.is_some() {
                self.trace(arc, &mut open)?;
            } else {
                self.enter(arc, &mut open.ring)?;
                self.close(&open.ring);
                self.leftmost.push(self.leftmost_of(arc));
            }
        }
        Ok(())
    }

    fn leftmost_of(&self, arc: Arc) -> GridPoint {
        self.arcs.chain[self.arcs.pieces[arc.at()].leftmost]
    }

    /// Adds an arc's points but the last, the region on its left.
    fn enter(&mut self, arc: Arc, ring: &mut Vec<GridPoint>) -> Result<(), Fail> {
        let border = self.leftmost.len() as u32;
        if self.border_of[arc.at()].replace(border).is_some() {
            return Err(Fail::Trace);
        }
        let piece = &self.arcs.pieces[arc.at()];
        if self.inside[arc.at()] == Inside::Left {
            ring.extend_from_slice(&self.arcs.chain[piece.from..piece.to]);
        } else {
            ring.extend(self.arcs.chain[piece.from + 1..=piece.to].iter().rev());
        }
        Ok(())
    }

    /// Follows a border from one of its arcs.
    fn trace(&mut self, first: Arc, open: &mut Open) -> Result<(), Fail> {
        let mut arc = first;
        let mut leftmost = self.leftmost_of(first);
        loop {
            let (from, to) = self.arcs.pieces[arc.at()].ends.ok_or(Fail::Trace)?;
            let (from, to) = if self.inside[arc.at()] == Inside::Left {
                (from, to)
            } else {
                (to, from)
            };
            let node = self.arcs.tips[from.at()].node;
            if let Some(begin) = open.back_at(node) {
                self.close(&open.ring[begin..]);
                open.ring.truncate(begin);
            }
            open.pass(node);
            let own = self.leftmost_of(arc);
            if is_before(own, leftmost) {
                leftmost = own;
            }
            self.enter(arc, &mut open.ring)?;
            arc = self.next(to)?;
            if arc == first {
                break;
            }
        }
        open.forget();
        self.close(&open.ring);
        self.leftmost.push(leftmost);
        Ok(())
    }

    /// The next border clockwise from an end at which a border arrives.
    fn next(&self, arrives: End) -> Result<Arc, Fail> {
        let range = self.arcs.tips_of(self.arcs.tips[arrives.at()].node);
        let mut at = arrives.at();
        loop {
            at = if at == range.start { range.end } else { at } - 1;
            let tip = self.arcs.tips[at];
            match (self.inside[tip.arc.at()], tip.begins) {
                (Inside::Neither, _) => {}
                (Inside::Left, true) | (Inside::Right, false) => return Ok(tip.arc),
                _ => return Err(Fail::Trace),
            }
            if at == arrives.at() {
                return Err(Fail::Trace);
            }
        }
    }

    /// Keeps a ring, without the corners on its straight lines; a ring without area is none.
    fn close(&mut self, points: &[GridPoint]) {
        let mut ring: Vec<GridPoint> = Vec::with_capacity(points.len());
        let mut before = points[points.len() - 1];
        for (place, &point) in points.iter().enumerate() {
            let after = points[if place + 1 == points.len() {
                0
            } else {
                place + 1
            }];
            if side(before, point, after) != 0 {
                ring.push(point);
                before = point;
            }
        }
        let doubled = doubled_area(&ring);
        if doubled != 0 {
            self.loops.push(Loop {
                border: self.leftmost.len(),
                ring,
                is_outer: doubled > 0,
            });
        }
    }

    /// Outer rings with their holes.
    fn shapes(self, rings: &Rings, grid: &Grid) -> Result<Shapes, Fail> {
        let mut shape_of: Vec<Option<usize>> = vec![None; self.leftmost.len()];
        let mut shapes: Shapes = Vec::new();
        for of_border in self.loops.iter().filter(|of_border| of_border.is_outer) {
            if shape_of[of_border.border].replace(shapes.len()).is_some() {
                return Err(Fail::Trace);
            }
            shapes.push(Vec::with_capacity(1));
        }
        let holes = self.loops.iter().filter(|of_border| !of_border.is_outer);
        let mut alone: Vec<usize> = holes
            .map(|hole| hole.border)
            .filter(|&border| shape_of[border].is_none())
            .collect();
        alone.dedup();
        // West of a hole may lie another: that one is placed first.
        alone.sort_unstable_by_key(|&border| self.leftmost[border]);
        let mut west = West::of(rings, grid, self.arcs);
        for border in alone {
            let is_border = |arc: Arc| self.inside[arc.at()] != Inside::Neither;
            let west = west.nearest(self.leftmost[border], is_border);
            let around = west
                .and_then(|crossed| self.border_of[crossed.arc.at()])
                .ok_or(Fail::Trace)?;
            shape_of[border] = Some(shape_of[around as usize].ok_or(Fail::Trace)?);
        }
        // Outer rings stand first in their shapes.
        let (outer, holes): (Vec<Loop>, Vec<Loop>) = self
            .loops
            .into_iter()
            .partition(|of_border| of_border.is_outer);
        for of_border in outer.into_iter().chain(holes) {
            let shape = shape_of[of_border.border].ok_or(Fail::Trace)?;
            shapes[shape].push(of_border.ring);
        }
        Ok(shapes)
    }
}

impl Open {
    /// Where the ring was at this node before; what comes after is forgotten.
    fn back_at(&mut self, node: Node) -> Option<usize> {
        let begin = self.place_of[node.at()]? as usize;
        while let Some((node, _)) = self.nodes.pop_if(|(_, place)| *place >= begin) {
            self.place_of[node.at()] = None;
        }
        Some(begin)
    }

    fn pass(&mut self, node: Node) {
        self.place_of[node.at()] = Some(self.ring.len() as u32);
        self.nodes.push((node, self.ring.len()));
    }

    fn forget(&mut self) {
        for (node, _) in self.nodes.drain(..) {
            self.place_of[node.at()] = None;
        }
    }
}
