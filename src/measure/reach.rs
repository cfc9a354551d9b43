//! What a boom reaches: exact areas for stated headings, a lower bound.
//!
//! For each heading the drivable ground is eroded by the body's rectangle, what the coarse search did not
//! get to is left out, and the boom's line is swept over the rest. A disc instead of the rectangle is
//! wrong either way: one the size of the turning circle finds nothing on drives that a rig goes straight down, one of
//! half the boom's width nothing where a wide boom works with sections closed.

use super::lot::{Aisle, Lot};
use super::minkowski::{edges, eroded, swept};
use super::places::Places;
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Edges shorter than this give no heading, m (trade judgement).
const LEAST_EDGE_M: f64 = 3.0;
/// Headings this near to each other are one (tolerance).
const SAME_RAD: f64 = 0.5 * PI / 180.0;
/// Every 15 degrees beside the edges' own (by trial).
const STEPS: usize = 12;
/// Most headings that edges give, those with most edge first: a round lot has hundreds (limit).
const MOST_EDGE_WAYS: usize = 16;
/// How far a rig may leave the lot over an open edge, beyond its length and its turn, m (trade judgement).
const BEYOND_M: f64 = 1.0;

/// The boom's places of one way of driving and its reverse.
#[derive(Debug, Clone)]
pub(super) struct Way {
    /// Heading, from 0 to a half turn.
    pub(super) heading_rad: f64,
    /// Where the boom's middle can be, heading this way.
    pub(super) ahead: Region,
    /// The same, heading the other way.
    pub(super) back: Region,
}

/// What a rig reaches of a lot.
pub(super) struct Reach {
    /// Ways, those with most edge first.
    pub(super) ways: Vec<Way>,
    /// The lot's target ground under the boom at some place.
    pub(super) ground: Region,
    /// Where the body can be.
    pub(super) drivable: Region,
    /// What hangs together.
    pub(super) places: Places,
}

/// How far beyond open edges a rig goes.
pub(super) fn beyond_m(vehicle: &Vehicle) -> f64 {
    vehicle.length_m + vehicle.boom_ahead_m.abs() + 2.0 * vehicle.radius_m.unwrap_or(0.0) + BEYOND_M
}

/// The reach of a rig on a lot.
pub(super) fn reach(lot: &Lot, vehicle: &Vehicle) -> Reach {
    let drivable = lot.drivable(beyond_m(vehicle));
    let places = Places::search(&drivable, vehicle, &lot.entrances);
    let headings = headings(&lot.by_boom, &lot.aisles);
    let ways: Vec<(Way, Region)> = headings
        .into_par_iter()
        .map(|(heading_rad, _)| way(lot, vehicle, &drivable, &places, heading_rad))
        .collect();
    // What is left shrinks to little after the first ways, which is quicker than joining them all.
    let mut left = lot.target.clone();
    for (_, under) in &ways {
        left = left.difference(under);
    }
    Reach {
        ground: lot.target.difference(&left),
        ways: ways.into_iter().map(|(way, _)| way).collect(),
        drivable,
        places,
    }
}

/// One way, and the ground under the boom on it. All is done with the heading along x: the sums' sides then run along
/// the grid, and the many that fall on one line do so exactly.
fn way(
    lot: &Lot,
    vehicle: &Vehicle,
    drivable: &Region,
    places: &Places,
    heading_rad: f64,
) -> (Way, Region) {
    let (ahead, across) = (Xy::new(1.0, 0.0), Xy::new(0.0, 1.0));
    let middles = eroded(&drivable.turned(-heading_rad), &vehicle.corners(ahead));
    let middles: Vec<(Region, Region)> = middles
        .pieces()
        .into_iter()
        .map(|piece| (piece.turned(heading_rad), piece))
        .collect();
    let half_m = vehicle.boom_m() / 2.0;
    // Where the boom's line would lie on something tall.
    let hit = swept(&lot.tall.turned(-heading_rad), across, half_m);
    let boom_places = |toward_rad: f64, sign: f64| {
        let by = Xy::new(sign * vehicle.boom_ahead_m, 0.0);
        let pieces = middles
            .iter()
            .filter(|(on_plane, _)| places.meets(on_plane, toward_rad));
        let pieces = Region::of_pieces(pieces.map(|(_, piece)| piece.clone()));
        pieces.moved(by).difference(&hit)
    };
    let forward = boom_places(heading_rad, 1.0);
    let backward = boom_places(heading_rad + PI, -1.0);
    let under = swept(&Region::union_of([&forward, &backward]), across, half_m);
    let way = Way {
        heading_rad,
        ahead: forward.turned(heading_rad),
        back: backward.turned(heading_rad),
    };
    (way, under.turned(heading_rad))
}

/// Headings of half a turn with the length of edges and aisles along each: those with most, then
/// every 15 degrees.
fn headings(ground: &Region, aisles: &[Aisle]) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut all = edges(ground);
    all.extend(
        aisles
            .iter()
            .flat_map(|aisle| aisle.line.windows(2).map(|pair| (pair[0], pair[1]))),
    );
    all.retain(|(a, b)| b.minus(*a).length_m() >= LEAST_EDGE_M);
    all.sort_by(|p, q| {
        let length = |(a, b): &(Xy, Xy)| b.minus(*a).length_m();
        length(q).total_cmp(&length(p))
    });
    for (a, b) in all {
        let edge = b.minus(a);
        let heading_rad = edge.y_m.atan2(edge.x_m).rem_euclid(PI);
        match found
            .iter_mut()
            .find(|known| apart_rad(known.0, heading_rad) < SAME_RAD)
        {
            Some(known) => known.1 += edge.length_m(),
            None => found.push((heading_rad, edge.length_m())),
        }
    }
    found.sort_by(|p, q| q.1.total_cmp(&p.1).then(p.0.total_cmp(&q.0)));
    found.truncate(MOST_EDGE_WAYS);
    for k in 0..STEPS {
        let heading_rad = k as f64 * PI / STEPS as f64;
        if found
            .iter()
            .all(|known| apart_rad(known.0, heading_rad) >= SAME_RAD)
        {
            found.push((heading_rad, 0.0));
        }
    }
    found
}

/// Angle between two lines, at most a quarter turn.
pub(super) fn apart_rad(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(PI);
    turn.min(PI - turn)
}

/// Longest straight line inside a region along one of its edges or at a multiple of 15 degrees, on lines
/// through its corners and a step apart, m.
pub(super) fn longest_run_m(region: &Region) -> f64 {
    /// Lines across a region in each direction (by trial).
    const LINES: usize = 64;
    let all = edges(region);
    let run = |(heading_rad, _): (f64, f64)| {
        let across = Xy::at_angle(heading_rad + PI / 2.0);
        let at = all.iter().map(|(a, _)| a.dot(across));
        let low_m = at.clone().fold(f64::INFINITY, f64::min);
        let high_m = at.fold(f64::NEG_INFINITY, f64::max);
        (0..LINES)
            .flat_map(|k| {
                let offset_m = low_m + (k as f64 + 0.5) / LINES as f64 * (high_m - low_m);
                super::switches::stretches(&all, Xy::default().plus(across, offset_m), heading_rad)
            })
            .map(|(from_m, to_m)| to_m - from_m)
            .fold(0.0, f64::max)
    };
    headings(region, &[])
        .into_iter()
        .map(run)
        .fold(0.0, f64::max)
}
