//! Ground drawn so often over itself that dividing it would take hours: a sites file that stacks all its
//! zones on one place, or two combs laid across each other. Counted before anything is cut.

use super::NEIGHBOUR_M;
use crate::error::{Error, Result};
use crate::geometry::bounds::{Bounds, Boxed};
use crate::geometry::place::LonLat;
use crate::geometry::plane::GREATEST_DISTANCE_M;
use crate::input::sites::DrawnZone;
use rstar::RTree;
use rstar::primitives::{GeomWithData, Rectangle};
use std::collections::HashMap;

/// Most cuts of one zone by another: on a site's plane every zone on and next to it is cut by all that lie over it,
/// and a few million cuts take a minute. A town of a thousand sites has some ten thousand (limit).
const MOST_CUTS: usize = 5_000_000;
/// Most crossings of the outlines of one site: with more, its ground alone takes minutes and the memory of millions
/// of corners. Outlines of neighbours traced by hand cross once a corner (limit).
pub(crate) const MOST_CROSSINGS: usize = 50_000;
/// Most pairs of edges looked at: long slanted edges meet in their boxes only (limit).
const MOST_PAIRS: usize = 50_000_000;

type Edge = GeomWithData<Rectangle<[f64; 2]>, (u32, [[f64; 2]; 2])>;

/// Looks at the zones, their boxes, the index of these, and which zones each site has.
///
/// # Errors
/// The zones lie over each other too often, or their outlines cross too often.
pub(super) fn check(
    drawn: &[DrawnZone],
    bounds: &[Bounds],
    tree: &RTree<Boxed>,
    members: &[(&str, Vec<usize>)],
) -> Result<()> {
    if cuts(bounds, tree, members) > MOST_CUTS {
        let what = "its zones lie over and next to each other so often that dividing them would take hours";
        return Err(Error::new(what).advice(
            "Look at the file on a map: were all zones moved to one place, or exported many times over?",
        ));
    }
    match crossed(drawn) {
        None => Ok(()),
        Some(zone) => Err(Error::new(format!(
            "the outlines of site \"{}\" cross each other more than {MOST_CROSSINGS} times",
            zone.site
        ))
        .advice("Look at the site on a map, and draw its zones again.")),
    }
}

/// Number of cuts, counted no further than needed.
fn cuts(bounds: &[Bounds], tree: &RTree<Boxed>, members: &[(&str, Vec<usize>)]) -> usize {
    let meeting = |bounds: Bounds| {
        let boxes = bounds.boxes().into_iter();
        boxes.flat_map(|envelope| tree.locate_in_envelope_intersecting(envelope))
    };
    let mut sum = 0;
    let mut over: Vec<usize> = Vec::with_capacity(bounds.len());
    for bounds in bounds {
        over.push(meeting(*bounds).take(MOST_CUTS + 1).count());
        sum += over[over.len() - 1];
        if sum > MOST_CUTS {
            return sum;
        }
    }
    let mut sum = 0;
    for (_, own) in members {
        let corners = own.iter().flat_map(|&index| bounds[index].corners());
        // Of a site whose zones lie far apart only those that fit on one plane are looked at, with few others.
        let around = Bounds::of(corners).filter(|all| all.fits(2.0 * GREATEST_DISTANCE_M));
        let Some(around) = around else { continue };
        for near in meeting(around.grown(NEIGHBOUR_M)) {
            sum += over[near.index];
            if sum > MOST_CUTS {
                return sum;
            }
        }
    }
    sum
}

/// A zone of a site whose outlines cross too often. Corners are compared as they stand: an outline across
/// the antimeridian has edges round the globe, which adds few crossings.
fn crossed(drawn: &[DrawnZone]) -> Option<&DrawnZone> {
    let mut numbers: HashMap<&str, u32> = HashMap::new();
    let rings = drawn.iter().flat_map(|zone| {
        let next = numbers.len() as u32;
        let site = *numbers.entry(zone.site.as_str()).or_insert(next);
        let corners = |ring: &Vec<LonLat>| ring.iter().map(|at| [at.lon_deg, at.lat_deg]).collect();
        let rings = zone.polygons.iter().flatten();
        rings.map(move |ring| (site, corners(ring)))
    });
    let site = crossing(rings)?;
    drawn
        .iter()
        .find(|zone| numbers[zone.site.as_str()] == site)
}

/// A group whose closed rings cross each other and themselves too often; `rings`: the number of each one's group, and its
/// corners, the first again at its end.
pub(crate) fn crossing(rings: impl Iterator<Item = (u32, Vec<[f64; 2]>)>) -> Option<u32> {
    let edges: Vec<Edge> = rings
        .flat_map(|(group, ring)| {
            let edge = move |ends: [[f64; 2]; 2]| {
                Edge::new(Rectangle::from_corners(ends[0], ends[1]), (group, ends))
            };
            let edges: Vec<Edge> = ring
                .windows(2)
                .map(|pair| edge([pair[0], pair[1]]))
                .collect();
            edges
        })
        .collect();
    // n edges cross at most n^2 / 2 times.
    if edges.len() * edges.len() / 2 <= MOST_CROSSINGS {
        return None;
    }
    let tree = RTree::bulk_load(edges);
    let pairs = tree
        .intersection_candidates_with_other_tree(&tree)
        .take(MOST_PAIRS);
    let mut count: HashMap<u32, usize> = HashMap::new();
    for (a, b) in pairs {
        let ((group, a), (_, b)) = (a.data, b.data);
        if !cross(a, b) {
            continue;
        }
        let of_group = count.entry(group).or_default();
        *of_group += 1;
        // Each pair comes twice.
        if *of_group > 2 * MOST_CROSSINGS {
            return Some(group);
        }
    }
    None
}

fn cross([from, to]: [[f64; 2]; 2], [start, end]: [[f64; 2]; 2]) -> bool {
    let side = |a: [f64; 2], b: [f64; 2], p: [f64; 2]| {
        (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    };
    let apart = |a: f64, b: f64| (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0);
    apart(side(from, to, start), side(from, to, end))
        && apart(side(start, end, from), side(start, end, to))
}
