//! What the engine is asked about: closed rings of grid points, each with a weight on the two windings.
//!
//! Corners of all rings stand in one list, each ring's first corner once more behind its last, so that an edge has the
//! number of the corner it starts from and ends at the next one.

use super::GridPoint;
use super::exact::step;
use std::ops::Range;

/// Why the engine gives up. The general engine takes over; see [`super::graph`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fail {
    /// Coordinates beyond ±2^40 steps.
    Range,
    /// More of something than its numbers can count.
    Count,
    /// So many edges lie near each other that the rings are to be joined a handful at a time.
    Heap,
    /// Arcs overlap that should have been cut.
    Overlap,
    /// Two ways to a spot give different windings.
    Label,
    /// A border does not close, or a ring of no region encloses a hole.
    Trace,
}

/// More than this of cuts, arcs or entries is given up: their numbers fit `u32` with room to spare (limit).
const MOST: usize = 1 << 30;

/// Most corners. Cells are as wide as the mean edge is long, so that an edge stands in some two dozen of them at most
/// in the mean, and entries are numbered before they are counted (limit).
pub(super) const MOST_CORNERS: usize = 1 << 26;

/// Most pairs of edges that may meet: 256 MB of them (limit).
pub(super) const MOST_PAIRS: usize = 1 << 25;

/// A count that its numbers can tell.
pub(super) fn counted(count: usize) -> Result<usize, Fail> {
    if count <= MOST {
        Ok(count)
    } else {
        Err(Fail::Count)
    }
}

/// Numbers of one kind of thing each: a type of its own, half the size of a `usize`, and `Option` costs nothing.
macro_rules! number {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub(super) struct $name(std::num::NonZeroU32);

        impl $name {
            /// The thing at a place of its list.
            #[inline(always)]
            pub(super) fn new(place: usize) -> Self {
                let after = u32::try_from(place + 1).ok().and_then(std::num::NonZeroU32::new);
                Self(after.expect("lists are counted when they are made: see `counted`"))
            }

            /// Its place.
            #[inline(always)]
            pub(super) fn at(self) -> usize {
                self.0.get() as usize - 1
            }
        }
    };
}
pub(super) use number;

number! {
    /// An edge, and the corner it starts from.
    Edge
}

/// How often a ring counts on each of two sides (say passes and zone), and the windings that come of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Winding {
    /// First side.
    pub(super) of: i32,
    /// Second side.
    pub(super) by: i32,
}

impl Winding {
    /// One ring of the first side.
    pub(super) const OF: Self = Self { of: 1, by: 0 };
    /// One ring of the second side.
    pub(super) const BY: Self = Self { of: 0, by: 1 };

    /// Both together.
    #[inline(always)]
    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            of: self.of + other.of,
            by: self.by + other.by,
        }
    }

    /// Less the other.
    #[inline(always)]
    pub(super) fn minus(self, other: Self) -> Self {
        Self {
            of: self.of - other.of,
            by: self.by - other.by,
        }
    }
}

/// A ring among the corners.
#[derive(Debug, Clone)]
pub(super) struct Ring {
    /// Its edges; the corner at `edges.end` is the first one again.
    pub(super) edges: Range<usize>,
    /// What being on its left adds.
    pub(super) weight: Winding,
}

/// Rings with weights.
#[derive(Debug, Default)]
pub(super) struct Rings {
    /// See the module.
    pub(super) corners: Vec<GridPoint>,
    /// In the order of their corners.
    pub(super) rings: Vec<Ring>,
}

impl Rings {
    /// Adds a ring without its repeated corners. What has fewer than three has no area.
    pub(super) fn add(&mut self, ring: impl IntoIterator<Item = GridPoint>, weight: Winding) {
        let start = self.corners.len();
        for point in ring {
            if self.corners.len() == start || self.corners.last() != Some(&point) {
                self.corners.push(point);
            }
        }
        while self.corners.len() > start + 1
            && self.corners[start] == self.corners[self.corners.len() - 1]
        {
            self.corners.pop();
        }
        let edges = start..self.corners.len();
        if edges.len() < 3 {
            self.corners.truncate(start);
            return;
        }
        self.corners.push(self.corners[start]);
        self.rings.push(Ring { edges, weight });
    }

    /// Adds all rings of shapes.
    pub(super) fn add_shapes<'a>(
        &mut self,
        shapes: impl IntoIterator<Item = &'a Vec<Vec<GridPoint>>>,
        weight: Winding,
    ) {
        for ring in shapes.into_iter().flatten() {
            self.add(ring.iter().copied(), weight);
        }
    }

    /// How many edges.
    pub(super) fn edge_count(&self) -> usize {
        self.corners.len() - self.rings.len()
    }

    /// All edges, ring by ring.
    pub(super) fn edges(&self) -> impl Iterator<Item = Edge> + '_ {
        self.rings
            .iter()
            .flat_map(|ring| ring.edges.clone())
            .map(Edge::new)
    }

    /// Where an edge starts and ends.
    #[inline(always)]
    pub(super) fn ends(&self, edge: Edge) -> (GridPoint, GridPoint) {
        (self.corners[edge.at()], self.corners[edge.at() + 1])
    }

    /// The ring that a corner or edge belongs to.
    pub(super) fn ring_of(&self, place: usize) -> &Ring {
        let after = self.rings.partition_point(|ring| ring.edges.start <= place);
        &self.rings[after.saturating_sub(1)]
    }

    /// Whether b follows a in their ring, or closes it before a: such neighbours share a corner, see
    /// [`super::snap`].
    #[inline(always)]
    pub(super) fn are_neighbours(&self, first: Edge, second: Edge) -> bool {
        first.at() + 1 == second.at()
            || (self.corners[first.at()] == self.corners[second.at() + 1]
                && self.ring_of(first.at()).edges == (first.at()..second.at() + 1))
    }

    /// The longest way any edge goes along an axis, summed over all edges.
    pub(super) fn total_reach(&self) -> u64 {
        let reach = |edge: Edge| {
            let (a, b) = self.ends(edge);
            let [dx, dy] = step(a, b);
            dx.unsigned_abs().max(dy.unsigned_abs())
        };
        self.edges().map(reach).sum()
    }
}
