//! The windings on both sides of every arc, and the certificate that they are right.
//!
//! Each connected component, from the west on, takes one ray through the grid, from its leftmost point to the nearest arc
//! west of it, which has its labels; from there the windings go round every node and along every arc. An arc is reached from both of its ends, and a missed crossing makes the two
//! disagree. A few arcs (all of a small graph) are asked once more by a ray that goes through every step of every
//! chain and knows nothing of grid, nodes or labels.

use super::GridPoint;
use super::arcs::{Arc, Arcs, Node};
use super::exact::{is_before, side};
use super::grid::Grid;
use super::rings::{Fail, Rings, Winding};
use super::west::West;

/// Rays that check labels: at least so many (by trial) ...
const LEAST_RAYS: usize = 4;
/// ... and more, up to one for each step, while all of them together look at no more steps than this (by trial).
const RAY_STEPS: usize = 4096;

/// Right of every kept arc, by the arc's place.
pub(super) struct Windings {
    right: Vec<Option<Winding>>,
}

impl Windings {
    /// The windings right and left of a kept arc.
    pub(super) fn beside(&self, arcs: &Arcs, arc: Arc) -> Option<(Winding, Winding)> {
        let right = self.right[arc.at()]?;
        Some((right, right.plus(arcs.pieces[arc.at()].weight)))
    }

    /// Labels all arcs.
    ///
    /// # Errors
    ///
    /// [`Fail::Label`] when two ways to an arc disagree.
    pub(super) fn of(rings: &Rings, grid: &Grid, arcs: &Arcs) -> Result<Self, Fail> {
        let mut windings = Self {
            right: vec![None; arcs.pieces.len()],
        };
        let mut component = Component {
            nodes: Vec::new(),
            seen: vec![false; arcs.node_count()],
        };
        let mut west = West::of(rings, grid, arcs);
        for (point, arc) in component.leftmost(arcs)? {
            // What lies west of a component's leftmost point is of one that begins farther west: it has its labels.
            let outer = match west.nearest(point, |_| true) {
                Some(crossed) => {
                    let beside = windings.beside(arcs, crossed.arc).ok_or(Fail::Label)?;
                    crossed.east_of(beside)
                }
                None => Winding::default(),
            };
            let piece = &arcs.pieces[arc.at()];
            if piece.ends.is_none() {
                windings.beside_leftmost(arcs, arc, outer)?;
                continue;
            }
            windings.seed(arcs, arc, piece.leftmost, outer)?;
            component.nodes_from_labelled(arcs, arc, |node| windings.around(arcs, node))?;
        }
        windings.check(rings, arcs)?;
        Ok(windings)
    }

    /// West of a component's leftmost point lies `outer`.
    fn seed(&mut self, arcs: &Arcs, leftmost: Arc, at: usize, outer: Winding) -> Result<(), Fail> {
        let piece = &arcs.pieces[leftmost.at()];
        let (Some((from, to)), false) = (piece.ends, at > piece.from && at < piece.to) else {
            return self.beside_leftmost(arcs, leftmost, outer);
        };
        // A node: west of it is clockwise of the first of its ends, by which the order begins.
        let end = if at == piece.from { from } else { to };
        let node = arcs.tips[end.at()].node;
        let tip = arcs.tips[arcs.tips_of(node).start];
        let weight = arcs.pieces[tip.arc.at()].weight;
        self.right[tip.arc.at()] = Some(if tip.begins {
            outer
        } else {
            outer.minus(weight)
        });
        Ok(())
    }

    /// West of a leftmost point that is no node: left or right of its arc by how it turns there.
    fn beside_leftmost(&mut self, arcs: &Arcs, arc: Arc, outer: Winding) -> Result<(), Fail> {
        let piece = &arcs.pieces[arc.at()];
        let at = piece.leftmost;
        let before = if at == piece.from {
            piece.to - 1
        } else {
            at - 1
        };
        let turn = side(arcs.chain[before], arcs.chain[at], arcs.chain[at + 1]);
        self.right[arc.at()] = Some(match turn.signum() {
            1 => outer,
            -1 => outer.minus(piece.weight),
            _ => return Err(Fail::Label),
        });
        Ok(())
    }

    /// Goes once round a node from an arc whose label is known; those that are known must agree.
    fn around(&mut self, arcs: &Arcs, node: Node) -> Result<(), Fail> {
        let tips = &arcs.tips[arcs.tips_of(node)];
        let known = |tip: &super::arcs::Tip| self.right[tip.arc.at()].is_some();
        let from = tips.iter().position(known).ok_or(Fail::Label)?;
        let mut clockwise = None;
        for tip in tips[from..].iter().chain(&tips[..=from]) {
            let weight = arcs.pieces[tip.arc.at()].weight;
            let label = &mut self.right[tip.arc.at()];
            if let Some(clockwise) = clockwise {
                let right = if tip.begins {
                    clockwise
                } else {
                    Winding::minus(clockwise, weight)
                };
                if label.is_some_and(|label| label != right) {
                    return Err(Fail::Label);
                }
                *label = Some(right);
            }
            let right = label.ok_or(Fail::Label)?;
            clockwise = Some(if tip.begins {
                right.plus(weight)
            } else {
                right
            });
        }
        Ok(())
    }

    /// Asks again at a few steps, spread evenly over all arcs.
    fn check(&self, rings: &Rings, arcs: &Arcs) -> Result<(), Fail> {
        let steps = arcs.chain.len().max(1);
        let rays = (RAY_STEPS / steps).clamp(LEAST_RAYS, steps.max(LEAST_RAYS));
        let stride = steps.div_ceil(rays);
        let mut next = stride / 2;
        let mut passed = 0;
        for (place, piece) in arcs.pieces.iter().enumerate() {
            let begin = passed;
            passed += piece.to - piece.from;
            while next < passed {
                let from = piece.from + next - begin;
                next += stride;
                let Some((right, left)) = self.beside(arcs, Arc::new(place)) else {
                    continue;
                };
                let slanted = |at: &usize| arcs.chain[*at].y != arcs.chain[*at + 1].y;
                let Some(at) = (from..piece.to).find(slanted) else {
                    continue;
                };
                let upward = arcs.chain[at].y < arcs.chain[at + 1].y;
                let west = if upward { left } else { right };
                if winding_west_of_middle(rings, arcs, at) != west {
                    return Err(Fail::Label);
                }
            }
        }
        Ok(())
    }
}

/// The winding just west of the middle of a slanted step of the chain, from all steps of all rings.
fn winding_west_of_middle(rings: &Rings, arcs: &Arcs, step: usize) -> Winding {
    // In half steps, so that the middle is a grid point.
    let double = |p: GridPoint| GridPoint::new(2 * p.x, 2 * p.y);
    let middle = GridPoint::new(
        arcs.chain[step].x + arcs.chain[step + 1].x,
        arcs.chain[step].y + arcs.chain[step + 1].y,
    );
    let mut sum = Winding::default();
    for ring in &rings.rings {
        for pair in arcs.chain[arcs.steps_of_ring(ring)].windows(2) {
            if (2 * pair[0].y <= middle.y) != (2 * pair[1].y <= middle.y) {
                let lies = side(double(pair[0]), double(pair[1]), middle);
                sum = crossed(sum, ring.weight, pair[0].y < pair[1].y, lies);
            }
        }
    }
    sum
}

/// The winding after a ray from the west has crossed an edge, if the point is east of it: right of one that goes up,
/// left of one that goes down.
#[inline(always)]
fn crossed(sum: Winding, weight: Winding, upward: bool, side: i128) -> Winding {
    match (upward, side.signum()) {
        (true, -1) => sum.minus(weight),
        (false, 1) => sum.plus(weight),
        _ => sum,
    }
}

/// The nodes that hang together.
struct Component {
    nodes: Vec<Node>,
    seen: Vec<bool>,
}

impl Component {
    /// The leftmost point of every component, and the arc that has it, from the west on.
    fn leftmost(&mut self, arcs: &Arcs) -> Result<Vec<(GridPoint, Arc)>, Fail> {
        let mut found = Vec::new();
        let mut gathered = vec![false; arcs.node_count()];
        for (place, piece) in arcs.pieces.iter().enumerate() {
            let arc = Arc::new(place);
            if piece.kept != Some(arc) {
                continue;
            }
            let first = match piece.ends {
                None => arc,
                Some((end, _)) => {
                    let node = arcs.tips[end.at()].node;
                    if gathered[node.at()] {
                        continue;
                    }
                    let first = self.gather(arcs, node)?;
                    for node in &self.nodes {
                        gathered[node.at()] = true;
                    }
                    first
                }
            };
            let at = arcs.pieces[first.at()].leftmost;
            found.push((arcs.chain[at], first));
        }
        found.sort_unstable_by_key(|(point, arc)| (point.x, point.y, arc.at()));
        Ok(found)
    }

    /// Gathers a node's component; the arc that has its leftmost point.
    fn gather(&mut self, arcs: &Arcs, node: Node) -> Result<Arc, Fail> {
        let mut best = arcs.tips[arcs.tips_of(node).start].arc;
        let leftmost = |arc: Arc| arcs.chain[arcs.pieces[arc.at()].leftmost];
        self.spread(arcs, node, |node| {
            for tip in &arcs.tips[arcs.tips_of(node)] {
                if is_before(leftmost(tip.arc), leftmost(best)) {
                    best = tip.arc;
                }
            }
            Ok(())
        })?;
        for node in &self.nodes {
            self.seen[node.at()] = false;
        }
        Ok(best)
    }

    /// Calls with every node of a component, after one that it is joined to, beginning at one that touches a
    /// labelled arc.
    fn nodes_from_labelled(
        &mut self,
        arcs: &Arcs,
        labelled: Arc,
        visit: impl FnMut(Node) -> Result<(), Fail>,
    ) -> Result<(), Fail> {
        let piece = &arcs.pieces[labelled.at()];
        let (from, to) = piece.ends.ok_or(Fail::Label)?;
        let end = if piece.leftmost == piece.to { to } else { from };
        self.spread(arcs, arcs.tips[end.at()].node, visit)
    }

    fn spread(
        &mut self,
        arcs: &Arcs,
        node: Node,
        mut visit: impl FnMut(Node) -> Result<(), Fail>,
    ) -> Result<(), Fail> {
        self.nodes.clear();
        self.nodes.push(node);
        self.seen[node.at()] = true;
        let mut next = 0;
        while next < self.nodes.len() {
            let node = self.nodes[next];
            next += 1;
            visit(node)?;
            for tip in &arcs.tips[arcs.tips_of(node)] {
                let ends = arcs.pieces[tip.arc.at()].ends;
                let (from, to) = ends.ok_or(Fail::Label)?;
                let other = arcs.tips[if tip.begins { to } else { from }.at()].node;
                if !self.seen[other.at()] {
                    self.seen[other.at()] = true;
                    self.nodes.push(other);
                }
            }
        }
        Ok(())
    }
}
