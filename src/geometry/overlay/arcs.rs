//! Bent rings cut into arcs at nodes, the hot pixels in which two chains meet.
//!
//! Along an arc nothing else is met, so the windings on its two sides are the same all along: everything after this
//! looks at nodes and arcs, of which rings that hardly cross have few, not at edges.

use super::GridPoint;
use super::exact::{by_angle, is_before, step};
use super::rings::{Edge, Fail, Ring, Rings, Winding, counted, number};
use super::snap::Cuts;
use std::ops::{Range, RangeInclusive};

number! {
    /// A piece of a bent ring from one node to the next, or a whole ring without nodes.
    Arc
}
number! {
    /// A hot pixel in which chains meet.
    Node
}
number! {
    /// One end of an arc at a node. Those of a node follow each other counter-clockwise.
    End
}

/// See [`Arc`].
#[derive(Clone)]
pub(super) struct Piece {
    /// Where it begins in the chain, and the last point that is its own.
    pub(super) from: usize,
    pub(super) to: usize,
    /// What being on its left adds: of all arcs that lie on each other the sum, at the first of them.
    pub(super) weight: Winding,
    /// The first of the arcs that lie on it; none for a spike, which has no sides.
    pub(super) kept: Option<Arc>,
    /// Its nodes; none for a whole ring.
    pub(super) nodes: Option<(Node, Node)>,
    /// Its ends there; none unless it is kept.
    pub(super) ends: Option<(End, End)>,
    /// Its leftmost, lowest point in the chain.
    pub(super) leftmost: usize,
}

/// See [`End`].
#[derive(Clone, Copy)]
pub(super) struct Tip {
    /// From the node along the arc.
    direction: [i64; 2],
    pub(super) arc: Arc,
    pub(super) node: Node,
    /// Whether the arc begins here.
    pub(super) begins: bool,
}

/// Bent rings as arcs between nodes.
pub(super) struct Arcs {
    /// Points of the bent rings; behind those of a ring come once more those up to its first node, so that every
    /// arc's points follow each other.
    pub(super) chain: Vec<GridPoint>,
    /// Where each edge begins in the chain.
    starts: Vec<u32>,
    /// In the order of the chain.
    pub(super) pieces: Vec<Piece>,
    /// Ends of kept arcs, node by node.
    pub(super) tips: Vec<Tip>,
    /// Where each node's ends begin, and where the last one's end.
    tips_of: Vec<u32>,
}

impl Arcs {
    /// Cuts the rings.
    ///
    /// # Errors
    ///
    /// [`Fail::Overlap`], [`Fail::Count`].
    pub(super) fn of(rings: &Rings, cuts: &Cuts) -> Result<Self, Fail> {
        counted(2 * (rings.corners.len() + cuts.cuts.len()))?;
        let mut arcs = Self {
            chain: Vec::with_capacity(rings.corners.len() + cuts.cuts.len()),
            starts: vec![0; rings.corners.len()],
            pieces: Vec::new(),
            tips: Vec::new(),
            tips_of: Vec::new(),
        };
        let nodes = arcs.cut(rings, cuts);
        arcs.gather(nodes);
        arcs.lay_together()?;
        Ok(arcs)
    }

    /// Chains and arcs; how many nodes.
    fn cut(&mut self, rings: &Rings, cuts: &Cuts) -> usize {
        let meets = cuts.meets.iter().filter(|&&meets| meets).count();
        let mut nodes = Nodes::for_as_many_as(meets + cuts.cuts.len());
        let mut cuts_on = cuts.cuts.iter().peekable();
        for ring in &rings.rings {
            let (begin, first) = (self.chain.len(), self.pieces.len());
            for place in ring.edges.clone() {
                self.starts[place] = self.chain.len() as u32;
                let closes = place == ring.edges.start && cuts.meets[ring.edges.end];
                if cuts.meets[place] || closes {
                    self.begin(first, nodes.at(rings.corners[place]), ring.weight);
                }
                self.chain.push(rings.corners[place]);
                while let Some(cut) = cuts_on.next_if(|cut| cut.edge.at() == place) {
                    self.begin(first, nodes.at(cut.point), ring.weight);
                    self.chain.push(cut.point);
                }
            }
            let end = self.chain.len();
            self.starts[ring.edges.end] = end as u32;
            if first == self.pieces.len() {
                self.pieces.push(Piece::new(begin, ring.weight, None));
            }
            // What comes before the first node belongs to the last arc.
            let first_from = self.pieces[first].from;
            self.chain.extend_from_within(begin..=first_from);
            let first_node = self.pieces[first].nodes.map(|(node, _)| node);
            self.end_arc(self.chain.len() - 1, first_node);
        }
        nodes.points.len()
    }

    /// An arc begins at the chain's end, and the ring's arc before it ends there.
    fn begin(&mut self, first: usize, node: Node, weight: Winding) {
        if self.pieces.len() > first {
            self.end_arc(self.chain.len(), Some(node));
        }
        let from = self.chain.len();
        self.pieces.push(Piece::new(from, weight, Some(node)));
    }

    fn end_arc(&mut self, to: usize, node: Option<Node>) {
        if let Some(piece) = self.pieces.last_mut() {
            piece.to = to;
            piece.nodes = piece.nodes.zip(node).map(|((from, _), to)| (from, to));
        }
    }

    /// The ends of all arcs but spikes, node by node.
    fn gather(&mut self, nodes: usize) {
        let spike = |piece: &Piece| {
            piece.to == piece.from + 2 && piece.nodes.is_some_and(|(from, to)| from == to)
        };
        let mut counts = vec![0_u32; nodes + 2];
        for (place, piece) in self.pieces.iter_mut().enumerate() {
            piece.kept = (!spike(piece)).then(|| Arc::new(place));
            if let (Some((from, to)), Some(_)) = (piece.nodes, piece.kept) {
                counts[from.at() + 2] += 1;
                counts[to.at() + 2] += 1;
            }
        }
        for node in 2..counts.len() {
            counts[node] += counts[node - 1];
        }
        let all = counts[nodes + 1] as usize;
        let nowhere = Tip {
            direction: [0, 0],
            arc: Arc::new(0),
            node: Node::new(0),
            begins: false,
        };
        self.tips = vec![nowhere; all];
        for (place, piece) in self.pieces.iter().enumerate() {
            let (Some((from, to)), Some(_)) = (piece.nodes, piece.kept) else {
                continue;
            };
            let (at, last) = (piece.from, piece.to);
            for (node, at, next, begins) in [(from, at, at + 1, true), (to, last, last - 1, false)]
            {
                let slot = &mut counts[node.at() + 1];
                self.tips[*slot as usize] = Tip {
                    direction: step(self.chain[at], self.chain[next]),
                    arc: Arc::new(place),
                    node,
                    begins,
                };
                *slot += 1;
            }
        }
        counts.truncate(nodes + 1);
        self.tips_of = counts;
    }

    /// Sorts the ends about every node by angle; of arcs that lie on each other the first is kept, with the sum of
    /// their weights.
    fn lay_together(&mut self) -> Result<(), Fail> {
        let mut kept = 0;
        for node in 0..self.tips_of.len() - 1 {
            let range = self.tips_of[node] as usize..self.tips_of[node + 1] as usize;
            self.tips[range.clone()].sort_unstable_by(|a, b| {
                by_angle(a.direction, b.direction).then(a.arc.cmp(&b.arc))
            });
            self.tips_of[node] = kept as u32;
            let mut at = range.start;
            while at < range.end {
                let first = self.tips[at];
                let same = |tip: &&Tip| by_angle(tip.direction, first.direction).is_eq();
                let together = self.tips[at..range.end].iter().take_while(same).count();
                if together > 1 {
                    self.merge(at..at + together)?;
                }
                self.tips[kept] = first;
                let end = End::new(kept);
                let piece = &mut self.pieces[first.arc.at()];
                let (from, to) = piece.ends.unwrap_or((end, end));
                piece.ends = Some(if first.begins { (end, to) } else { (from, end) });
                kept += 1;
                at += together;
            }
        }
        self.tips.truncate(kept);
        if let Some(last) = self.tips_of.last_mut() {
            *last = kept as u32;
        }
        for place in 0..self.pieces.len() {
            self.pieces[place].leftmost = self.leftmost(place);
        }
        Ok(())
    }

    /// Arcs that set out together: single steps to the same node, or a cut is missing.
    fn merge(&mut self, tips: Range<usize>) -> Result<(), Fail> {
        let first = self.tips[tips.start];
        let mut sum = Winding::default();
        for tip in tips.map(|tip| self.tips[tip]) {
            let piece = &mut self.pieces[tip.arc.at()];
            if tip.direction != first.direction || piece.to != piece.from + 1 {
                return Err(Fail::Overlap);
            }
            piece.kept = Some(first.arc);
            sum = if tip.begins {
                sum.plus(piece.weight)
            } else {
                sum.minus(piece.weight)
            };
        }
        // At its other node the same arc comes first; its weight is to be summed once only.
        if first.begins {
            self.pieces[first.arc.at()].weight = sum;
        }
        Ok(())
    }

    fn leftmost(&self, place: usize) -> usize {
        let piece = &self.pieces[place];
        let leftmost = |best: usize, at: usize| {
            if is_before(self.chain[at], self.chain[best]) {
                at
            } else {
                best
            }
        };
        (piece.from + 1..=piece.to).fold(piece.from, leftmost)
    }

    /// The ends about a node, counter-clockwise.
    #[inline]
    pub(super) fn tips_of(&self, node: Node) -> Range<usize> {
        self.tips_of[node.at()] as usize..self.tips_of[node.at() + 1] as usize
    }

    /// How many nodes.
    pub(super) fn node_count(&self) -> usize {
        self.tips_of.len() - 1
    }

    /// Where the steps of an edge begin in the chain; each ends at the next point.
    #[inline]
    pub(super) fn steps_of(&self, edge: Edge) -> Range<usize> {
        self.starts[edge.at()] as usize..self.starts[edge.at() + 1] as usize
    }

    /// The points of a bent ring, the first once more at the end.
    pub(super) fn steps_of_ring(&self, ring: &Ring) -> RangeInclusive<usize> {
        self.starts[ring.edges.start] as usize..=self.starts[ring.edges.end] as usize
    }

    /// The arc that has a step of the chain, given the ring it belongs to.
    pub(super) fn arc_of(&self, chain_place: usize, edges: &Range<usize>) -> Arc {
        let begun = |place: usize| self.pieces.partition_point(|piece| piece.from <= place);
        let after = begun(chain_place);
        let own = self.starts[edges.start] as usize;
        if after > 0 && self.pieces[after - 1].from >= own {
            return Arc::new(after - 1);
        }
        // Before the first node of its ring.
        Arc::new(begun(self.starts[edges.end] as usize - 1) - 1)
    }
}

impl Piece {
    fn new(from: usize, weight: Winding, node: Option<Node>) -> Self {
        Self {
            from,
            to: from,
            weight,
            kept: None,
            nodes: node.map(|node| (node, node)),
            ends: None,
            leftmost: from,
        }
    }
}

/// Nodes by their points: open addressing, at most half full.
struct Nodes {
    slots: Vec<Option<Node>>,
    points: Vec<GridPoint>,
}

impl Nodes {
    fn for_as_many_as(count: usize) -> Self {
        Self {
            slots: vec![None; (2 * count + 2).next_power_of_two()],
            points: Vec::new(),
        }
    }

    /// The node at a point.
    fn at(&mut self, point: GridPoint) -> Node {
        // Odd factors spread neighbours on the grid (golden ratio and others of that kind); any would be right.
        let x = (point.x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let y = (point.y as u64)
            .wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
            .rotate_left(31);
        let hash = ((x ^ y).wrapping_mul(0xD6E8_FEB8_6659_FD93) >> 32) as usize;
        let mask = self.slots.len() - 1;
        let mut slot = hash & mask;
        while let Some(node) = self.slots[slot] {
            if self.points[node.at()] == point {
                return node;
            }
            slot = (slot + 1) & mask;
        }
        let node = Node::new(self.points.len());
        self.slots[slot] = Some(node);
        self.points.push(point);
        node
    }
}
