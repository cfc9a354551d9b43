//! Grown and shrunk ground by the house's engine: outlines moved sideways, with all that they pass over.
//!
//! Of every edge the rectangle between it and its moved copy, of every corner that opens to that side the fan of a
//! disc. To grow, they are added to the ground; to shrink, taken away from it. Their borders against each other cancel, so the sum of
//! all windings is that of one closed ring: along the moved edges, round the fans, and at a corner that
//! closes to that side in to the corner and out again. The sum is above 0 exactly where grown or shrunk ground lies:
//! `docs/overlay.md`.

use super::GridPoint;
use super::exact::{cross, step};
use super::faces::Shapes;
use super::general::CORNERS;
use super::rings::{Rings, Winding};
use i_overlay::i_float::int::unit_vector::UnitIntVector;
use i_overlay::i_float::int::vector::IntVector;
use i_overlay::mesh::int::arc::{ArcBuilder, ArcDirection};

/// Adds the moved rings of all shapes, outwards for positive distances, in steps.
pub(super) fn add(rings: &mut Rings, shapes: &Shapes, distance: i64) {
    let mut mover = Mover {
        distance,
        corners: ArcBuilder::new(CORNERS),
        moved: Vec::new(),
    };
    for ring in shapes.iter().flatten() {
        mover.follow(ring);
        rings.add(mover.moved.drain(..), Winding::OF);
    }
}

struct Mover {
    distance: i64,
    corners: ArcBuilder<i64>,
    moved: Vec<GridPoint>,
}

/// An edge and the way to its moved copy.
#[derive(Clone, Copy)]
struct Moved {
    along: [i64; 2],
    out: [i64; 2],
}

impl Mover {
    /// The moved ring.
    fn follow(&mut self, ring: &[GridPoint]) {
        let Some(&last) = ring.last() else { return };
        let before = ring.iter().rev().find(|&&point| point != last);
        let Some(&before) = before else { return };
        let mut arrives = self.edge(before, last);
        let mut corner = last;
        for &next in ring {
            if next == corner {
                continue;
            }
            let leaves = self.edge(corner, next);
            self.turn(corner, arrives, leaves);
            (arrives, corner) = (leaves, next);
        }
    }

    fn edge(&self, from: GridPoint, to: GridPoint) -> Moved {
        let [dx, dy] = step(from, to);
        let (east, north) = (dx as f64, dy as f64);
        // Right to 2^-50 of the distance, so to its rounding.
        let share = self.distance as f64 / (east * east + north * north).sqrt();
        Moved {
            along: [dx, dy],
            out: [
                (north * share).round() as i64,
                -(east * share).round() as i64,
            ],
        }
    }

    /// From the end of one moved edge to the beginning of the next.
    fn turn(&mut self, corner: GridPoint, arrives: Moved, leaves: Moved) {
        let at = |[dx, dy]: [i64; 2]| GridPoint::new(corner.x + dx, corner.y + dy);
        let left = cross(arrives.along, leaves.along);
        let back = left == 0 && is_back(arrives.along, leaves.along);
        let opens = if self.distance < 0 {
            left < 0
        } else {
            left > 0
        };
        self.moved.push(at(arrives.out));
        if opens || back {
            self.fan(corner, arrives.out, leaves.out);
        } else if arrives.out != leaves.out {
            self.moved.push(corner);
        }
        self.moved.push(at(leaves.out));
    }

    /// Points between two of a disc about a corner.
    fn fan(&mut self, corner: GridPoint, from: [i64; 2], to: [i64; 2]) {
        let (Some(from), Some(to)) = (unit(from), unit(to)) else {
            return;
        };
        let direction = if self.distance < 0 {
            ArcDirection::Clockwise
        } else {
            ArcDirection::Counterclockwise
        };
        for way in self.corners.build(from, to, direction) {
            let way = way.scale(self.distance.abs());
            self.moved.push(GridPoint::new(
                corner.x + way.x as i64,
                corner.y + way.y as i64,
            ));
        }
    }
}

/// Whether one of two steps along a line runs back.
fn is_back(a: [i64; 2], b: [i64; 2]) -> bool {
    let product = |axis: usize| i128::from(a[axis]) * i128::from(b[axis]);
    product(0) + product(1) < 0
}

fn unit([dx, dy]: [i64; 2]) -> Option<UnitIntVector<i64>> {
    // Axes exactly: the engine's square root is good to a few units of 2^-62.
    let way = match (dx, dy) {
        (0, dy) => [0, dy.signum()],
        (dx, 0) => [dx.signum(), 0],
        both => both.into(),
    };
    IntVector::new(i128::from(way[0]), i128::from(way[1])).fast_normalize()
}
