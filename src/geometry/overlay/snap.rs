//! Snap rounding in one round (J. D. Hobby, *Computational Geometry* 13, 1999,
//! doi:10.1016/S0925-7721(99)00021-8): hot pixels are those of all corners and all crossings; every edge is bent
//! through the centres of the hot pixels that it passes.
//!
//! Bent edges meet in centres of hot pixels only (Hobby's theorem 1), so no second round is needed, and no edge moves
//! by more than half a step on either axis.

use super::GridPoint;
use super::exact::{at_share, in_box, passes, rook_length, side, step};
use super::grid::Grid;
use super::rings::{Edge, Fail, Rings, counted};

/// A hot pixel on an edge, between its ends.
#[derive(Clone, Copy)]
pub(super) struct Cut {
    pub(super) edge: Edge,
    /// How far along the edge, as rooks move: no two of the pixels that an edge passes are equally far (lemma 3).
    pub(super) along: u64,
    pub(super) point: GridPoint,
}

/// Where the edges of rings are bent and where they meet others.
pub(super) struct Cuts {
    /// Edge by edge, in the order along it.
    pub(super) cuts: Vec<Cut>,
    /// Whether another edge passes the pixel of a corner.
    pub(super) meets: Vec<bool>,
    crossings: Vec<GridPoint>,
}

/// Finds the hot pixels of every edge.
///
/// # Errors
///
/// As [`Grid::pairs`]; too many cuts.
pub(super) fn cuts(rings: &Rings, grid: &Grid, pairs: &[(Edge, Edge)]) -> Result<Cuts, Fail> {
    let mut cuts = Cuts {
        cuts: Vec::new(),
        meets: vec![false; rings.corners.len()],
        crossings: Vec::new(),
    };
    cuts.neighbours(rings);
    for &(one, other) in pairs {
        cuts.pair(rings, one, other);
    }
    counted(cuts.cuts.len())?;
    // Third edges through the pixel of a crossing.
    let mut crossings = std::mem::take(&mut cuts.crossings);
    crossings.sort_unstable();
    crossings.dedup();
    for point in crossings {
        grid.at(point, |edge| {
            let (a, b) = rings.ends(edge);
            if in_box(a, b, point) && passes(a, b, point, side(a, b, point)) {
                cuts.cut(rings, edge, point);
            }
        });
        counted(cuts.cuts.len())?;
    }
    cuts.cuts.sort_unstable_by_key(|cut| (cut.edge, cut.along));
    cuts.cuts.dedup_by_key(|cut| (cut.edge, cut.along));
    Ok(cuts)
}

impl Cuts {
    /// Neighbours in a ring share a corner, and meet elsewhere only where one runs back along the other. Then the far
    /// end of one lies in the other's box.
    fn neighbours(&mut self, rings: &Rings) {
        for ring in &rings.rings {
            let mut before = Edge::new(ring.edges.end - 1);
            for edge in ring.edges.clone().map(Edge::new) {
                let ((from, corner), (_, to)) = (rings.ends(before), rings.ends(edge));
                if in_box(from, corner, to) && passes(from, corner, to, side(from, corner, to)) {
                    self.cut(rings, before, to);
                    self.meets[edge.at() + 1] = true;
                }
                if in_box(corner, to, from) && passes(corner, to, from, side(corner, to, from)) {
                    self.cut(rings, edge, from);
                    self.meets[before.at()] = true;
                }
                before = edge;
            }
        }
    }

    /// Two edges that are no neighbours: each one's ends on the other, and their crossing.
    #[inline(never)]
    fn pair(&mut self, rings: &Rings, one: Edge, other: Edge) {
        let ((a, b), (c, d)) = (rings.ends(one), rings.ends(other));
        let (side_c, side_d) = (side(a, b, c), side(a, b, d));
        let reach = i128::from(rook_length(a, b));
        if (side_c > reach && side_d > reach) || (side_c < -reach && side_d < -reach) {
            return;
        }
        let (side_a, side_b) = (side(c, d, a), side(c, d, b));
        for (edge, (from, to), point, side, corner) in [
            (one, (a, b), c, side_c, other.at()),
            (one, (a, b), d, side_d, other.at() + 1),
            (other, (c, d), a, side_a, one.at()),
            (other, (c, d), b, side_b, one.at() + 1),
        ] {
            if passes(from, to, point, side) {
                self.cut(rings, edge, point);
                self.meets[corner] = true;
            }
        }
        // Ends on the other's line are hot already, and where they touch is their own pixel.
        let strictly = |one: i128, other: i128| (one < 0 && other > 0) || (one > 0 && other < 0);
        if strictly(side_c, side_d) && strictly(side_a, side_b) {
            let (num, den) = if side_a > side_b {
                (side_a, side_a - side_b)
            } else {
                (-side_a, side_b - side_a)
            };
            let point = at_share(a, b, num, den);
            self.cut(rings, one, point);
            self.cut(rings, other, point);
            self.crossings.push(point);
        }
    }

    #[inline]
    fn cut(&mut self, rings: &Rings, edge: Edge, point: GridPoint) {
        let (a, b) = rings.ends(edge);
        if point == a {
            self.meets[edge.at()] = true;
        } else if point == b {
            self.meets[edge.at() + 1] = true;
        } else {
            let [dx, dy] = step(a, point);
            let along = dx.unsigned_abs() + dy.unsigned_abs();
            self.cuts.push(Cut { edge, along, point });
        }
    }
}
