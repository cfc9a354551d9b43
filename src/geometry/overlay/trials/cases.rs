//! Random rings of eleven nasty kinds, the same for the same seed.

use super::super::GridPoint;
use super::super::rings::{Rings, Winding};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{FRAC_PI_4, TAU};

pub(super) type Ring = (Vec<GridPoint>, Winding);

/// How the corners lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// On a dozen grid points: nothing but rounding.
    TinyLattice,
    /// On a coarse lattice: shared edges, T-junctions.
    CoarseLattice,
    /// The same, off by a step or two.
    NearlyLattice,
    /// Rectangles on squared paper.
    SquaredPaper,
    /// Lanes with corners that jitter.
    Lanes,
    /// Lanes of exact offsets.
    ExactLanes,
    /// Edges of 16 m a few steps apart.
    Slivers,
    /// Lanes a few steps wide.
    TinyLanes,
    /// Blades about one place.
    Fan,
    /// Anywhere in the whole range.
    FullRange,
    /// A coarse lattice far off, off by a step or two.
    FarLattice,
}

pub(super) const KINDS: [Kind; 11] = [
    Kind::TinyLattice,
    Kind::CoarseLattice,
    Kind::NearlyLattice,
    Kind::SquaredPaper,
    Kind::Lanes,
    Kind::ExactLanes,
    Kind::Slivers,
    Kind::TinyLanes,
    Kind::Fan,
    Kind::FullRange,
    Kind::FarLattice,
];

/// Whole numbers by chance.
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    pub(super) fn of(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// From 0 to below `end`.
    pub(super) fn below(&mut self, end: i64) -> i64 {
        self.0.random_range(0..end)
    }

    /// Within `reach` of 0.
    pub(super) fn about(&mut self, reach: i64) -> i64 {
        self.0.random_range(-reach..=reach)
    }
}

/// The corners of one ring.
fn corners(kind: Kind, chance: &mut Chance) -> Vec<GridPoint> {
    let count = 3 + chance.below(6);
    let coarse = 2 + chance.below(6);
    let mut lattice = |bits: u32, off: i64, from: i64| -> Vec<GridPoint> {
        let mut along = || (chance.below(coarse) << bits) + chance.about(off) + from;
        (0..count)
            .map(|_| GridPoint::new(along(), along()))
            .collect()
    };
    match kind {
        Kind::CoarseLattice => lattice(22, 0, 0),
        Kind::NearlyLattice => lattice(22, 2, 0),
        Kind::FarLattice => lattice(33, 1, -(1 << 39)),
        Kind::TinyLattice => {
            let size = 3 + chance.below(12);
            (0..count)
                .map(|_| GridPoint::new(chance.below(size), chance.below(size)))
                .collect()
        }
        Kind::FullRange => {
            let mut along = || chance.about(1 << 40);
            (0..count)
                .map(|_| GridPoint::new(along(), along()))
                .collect()
        }
        Kind::SquaredPaper => {
            let [x, y] = [(); 2].map(|()| chance.below(8) << 24);
            let [right, top] = [x, y].map(|low| low + ((1 + chance.below(5)) << 24));
            [(x, y), (right, y), (right, top), (x, top)]
                .map(|(x, y)| GridPoint::new(x, y))
                .to_vec()
        }
        Kind::Lanes => lane(chance, 25, 1 << 24, 1 << 18),
        Kind::ExactLanes => lane(chance, 25, 1 << 24, 0),
        Kind::TinyLanes => {
            let unit = 4 + chance.below(40);
            lane(chance, 10, unit, 2)
        }
        Kind::Slivers => {
            let (length, thick) = (1_i64 << 28, 1 + chance.below(4));
            let (from, to) = (chance.about(3), 5 + chance.about(3));
            let [cut_from, cut_to] = [(); 2].map(|()| chance.below(20) << 24);
            [
                (cut_from, from),
                (length - cut_to, to),
                (length, to + thick),
                (0, from + thick),
            ]
            .map(|(x, y)| GridPoint::new(x, y))
            .to_vec()
        }
        Kind::Fan => {
            let turn = chance.below(40) as f64 / 40.0 * TAU;
            let (sin, cos) = turn.sin_cos();
            [(-1e8, -1e7), (1e8, -1e7), (1e8, 1e7), (-1e8, 1e7)]
                .map(|(along, across)| {
                    let [x, y] = [along * cos - across * sin, along * sin + across * cos];
                    GridPoint::new(x as i64 + (1 << 28), y as i64 + (1 << 28))
                })
                .to_vec()
        }
    }
}

/// A lane from somewhere in some direction, perhaps bending.
fn lane(chance: &mut Chance, most_steps: i64, unit: i64, jitter: i64) -> Vec<GridPoint> {
    let steps = 2 + chance.below(most_steps);
    let [mut x, mut y] = [(); 2].map(|()| (chance.below(20) * unit) as f64);
    let slant = if chance.below(2) == 0 {
        0.0
    } else {
        chance.about(50) as f64 * 0.004
    };
    let mut heading = chance.below(8) as f64 * FRAC_PI_4 + slant;
    let bend = if chance.below(3) == 0 {
        0.0
    } else {
        chance.about(50) as f64 * 0.01
    };
    let width = (unit * (1 + chance.below(3))) as f64;
    let (mut left, mut right) = (Vec::new(), Vec::new());
    for _ in 0..=steps {
        let (sin, cos) = f64::sin_cos(heading);
        let mut corner = |across: f64| {
            let [dx, dy] = [(); 2].map(|()| chance.about(jitter));
            GridPoint::new(
                (x - sin * across) as i64 + dx,
                (y + cos * across) as i64 + dy,
            )
        };
        left.push(corner(width));
        right.push(corner(-width));
        heading += bend;
        x += f64::cos(heading) * unit as f64;
        y += f64::sin(heading) * unit as f64;
    }
    right.extend(left.into_iter().rev());
    right
}

/// Two to thirteen rings on two sides; some twice, some once more turned round.
pub(super) fn rings(kind: Kind, chance: &mut Chance) -> Vec<Ring> {
    let mut rings = Vec::new();
    for place in 0..2 + chance.below(6) {
        let weight = if place == 0 || chance.below(4) == 0 {
            Winding::BY
        } else {
            Winding::OF
        };
        let ring = corners(kind, chance);
        match chance.below(6) {
            0 => rings.push((ring.clone(), Winding::OF)),
            1 => {
                let other = if chance.below(2) == 0 {
                    Winding::OF
                } else {
                    Winding::BY
                };
                rings.push((ring.iter().rev().copied().collect(), other));
            }
            _ => {}
        }
        rings.push((ring, weight));
    }
    rings
}

/// As the engine takes them.
pub(super) fn given(rings: &[Ring]) -> Rings {
    let mut given = Rings::default();
    for (ring, weight) in rings {
        given.add(ring.iter().copied(), *weight);
    }
    given
}
