//! Grown and shrunk ground against distances measured point by point, and against the general engine.

use super::super::faces::Shapes;
use super::super::graph::{Graph, Heaps};
use super::super::rings::{Rings, Winding};
use super::super::{general, offset};
use super::brute;
use super::cases::{self, Chance, KINDS, Kind, Ring};
use super::{ASKED, cases as case_count, chance, probes};
use crate::geometry::overlay::GridPoint;
use std::f64::consts::PI;

/// Points of a round corner are this far apart at most, so a side of it is nearer to its centre than the corners are.
const NEAREST_SIDE: f64 = PI / 64.0;
/// Rounded corners, normals and crossings: so many steps do not count.
const ROUNDING: f64 = 4.0;

fn moved(shapes: &Shapes, distance: i64) -> (Shapes, f64) {
    let mut rings = Rings::default();
    offset::add(&mut rings, shapes, distance);
    let length = rings.edges().map(|edge| {
        let (a, b) = rings.ends(edge);
        ((b.x - a.x) as f64).hypot((b.y - a.y) as f64)
    });
    let length = length.sum();
    let graph = Graph::of(rings, Heaps::Taken).expect("rings in range");
    let shapes = graph.region(ASKED[0]).expect("borders close");
    (shapes, length)
}

/// Some ground, and how far to move its outline: from nothing to about its width.
fn case(number: usize, case: u64, chance: &mut Chance) -> (Shapes, i64) {
    let kind = KINDS[number];
    let rings = cases::rings(kind, chance);
    let graph = Graph::of(cases::given(&rings), Heaps::Taken).expect("rings in range");
    let shapes = graph
        .region(ASKED[(case % 3) as usize])
        .expect("borders close");
    let bits = match kind {
        Kind::TinyLattice => 3,
        Kind::TinyLanes | Kind::Slivers => 6,
        Kind::FarLattice => 32,
        _ => 24,
    };
    let reach = 1 << chance.below(bits + 1);
    let distance = chance.about(reach);
    (shapes, distance)
}

fn covers(shapes: &Shapes, p: GridPoint) -> bool {
    let windings = shapes.iter().flatten().map(|ring| brute::winding(ring, p));
    windings.sum::<i32>() > 0
}

fn bounded() -> impl Iterator<Item = (usize, Kind)> {
    // Moved outwards, rings of the whole range leave it.
    let kinds = KINDS.into_iter().enumerate();
    kinds.filter(|(_, kind)| *kind != Kind::FullRange)
}

#[test]
fn every_point_is_in_moved_ground_by_its_distance_from_the_outline() {
    for (number, kind) in bounded() {
        let mut probed = 0;
        for place in 0..case_count() {
            let mut chance = chance(number, place);
            let (shapes, distance) = case(number, place, &mut chance);
            let (moved, _) = moved(&shapes, distance);
            assert_eq!(brute::fault(&moved), None, "{kind:?} {place} {distance}");
            let rings: Vec<Ring> = shapes
                .iter()
                .flatten()
                .map(|ring| (ring.clone(), Winding::OF))
                .collect();
            let reach = distance.unsigned_abs() as f64;
            for p in probes(kind, &rings, &mut chance) {
                let near = |steps: f64| steps > 0.0 && brute::is_near(&rings, p, steps);
                let surely_near = near(reach * NEAREST_SIDE.cos() - ROUNDING);
                let wanted = match (distance > 0, covers(&shapes, p)) {
                    (true, true) => true,
                    (false, false) => false,
                    (grown, _) if surely_near => grown,
                    (grown, _) if !near(reach + ROUNDING) => !grown,
                    _ => continue,
                };
                assert_eq!(
                    covers(&moved, p),
                    wanted,
                    "{kind:?} {place} {distance} {p:?}"
                );
                probed += 1;
            }
        }
        println!("{kind:?}: {} cases, {probed} points", case_count());
        assert!(probed > 0 || matches!(kind, Kind::TinyLattice));
    }
}

/// An edge so short turns by its rounding when it is moved, and the engines may divide the disc about it at other places.
const RAGGED: f64 = 16.0;

fn ragged_edges(ring: &[GridPoint]) -> usize {
    let next = ring.iter().cycle().skip(1);
    let is_ragged =
        |(a, b): &(&GridPoint, &GridPoint)| ((b.x - a.x) as f64).hypot((b.y - a.y) as f64) < RAGGED;
    ring.iter().zip(next).filter(is_ragged).count()
}

/// Most that two rounded outlines differ by for the chords of their discs alone: for each ragged edge what a disc has
/// beyond a polygon of 64 sides in it.
fn chords(shapes: &Shapes, distance: i64) -> f64 {
    let corners = 64.0_f64;
    let disc = PI - corners / 2.0 * (2.0 * PI / corners).sin();
    let rings = shapes.iter().flatten();
    let ragged: usize = rings.map(|ring| ragged_edges(ring)).sum();
    ragged as f64 * disc * (distance as f64).powi(2)
}

/// Both engines get the same outlines to move, and bend their edges by half a step or so.
#[test]
fn moved_ground_has_the_general_engines_area() {
    for (number, kind) in bounded() {
        let mut worst = 0.0_f64;
        for place in 0..case_count() {
            let mut chance = chance(number, place);
            let (shapes, distance) = case(number, place, &mut chance);
            let (moved, length) = moved(&shapes, distance);
            let general = general::offset(&shapes, distance);
            let off = brute::doubled_area_of(&moved) - brute::doubled_area_of(&general);
            if length > 0.0 {
                let beyond = (off as f64).abs() / 2.0 - chords(&shapes, distance);
                worst = worst.max(beyond / length);
            }
        }
        println!("{kind:?}: moved areas off by {worst:.3} steps along the edges at most");
        assert!(worst < 1.5, "{kind:?}: {worst}");
    }
}
