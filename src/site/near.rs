//! Which fixes of a run came near which site, and how near: needs clean fixes only.

use crate::geometry::bounds::{Bounds, Boxed};
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::ground::{NEIGHBOUR_M, Site};
use crate::rig::track::{Link, Track};
use rstar::RTree;
use std::ops::Range;

/// A site sees a rig within this distance of its bounds, m: any boom reaches less far from its antenna (limit).
pub const NEAR_M: f64 = 50.0;
/// A step and a boom that together reach no farther cross nothing that the sites at its ends do not see, nor ground
/// that is no neighbour of the nearer one, m (arithmetic).
const SURE_M: f64 = NEIGHBOUR_M / 2.0;

/// An unbroken stretch of one run near one site.
#[derive(Debug, Clone)]
pub struct Near {
    /// First fix.
    pub first_fix: usize,
    /// Of each fix from there on: the antenna on the site's plane.
    pub xy: Vec<Xy>,
    /// Of each: distance to the outline of the site's ground, m; negative inside it.
    pub distance_m: Vec<f32>,
    /// Whether each is in a yard zone.
    pub in_yard: Vec<bool>,
}

impl Near {
    /// Its fixes.
    #[must_use]
    pub fn fixes(&self) -> Range<usize> {
        self.first_fix..self.first_fix + self.distance_m.len()
    }
}

/// The boxes within which each site sees a rig.
#[must_use]
pub fn boxes(sites: &[Site]) -> RTree<Boxed> {
    let boxed = |(i, site): (usize, &Site)| Boxed::all(i, site.bounds.grown(NEAR_M));
    RTree::bulk_load(sites.iter().enumerate().flat_map(boxed).collect())
}

/// Whether a driven step is so long, or the boom so wide, that ground out of sight of both ends may be under it.
#[must_use]
pub fn is_stride(length_m: f64, boom_reach_m: f64) -> bool {
    length_m + boom_reach_m > SURE_M
}

/// Ranges of fixes of one run in the boxes, as (site, fixes), by site, then first fix. Both ends of a stride are in
/// sight of what it may cross.
#[must_use]
pub fn ranges(
    boxes: &RTree<Boxed>,
    track: &Track,
    boom_reach_m: f64,
) -> Vec<(usize, Range<usize>)> {
    let mut open: Vec<(usize, Range<usize>)> = Vec::new();
    let mut done = Vec::new();
    let mut strode: Vec<usize> = Vec::new();
    for (i, fix) in track.fixes.iter().enumerate() {
        let at = boxes.locate_all_at_point([fix.place.lon_deg, fix.place.lat_deg]);
        let striding = crossed(boxes, track, i, boom_reach_m);
        let here = at.map(|boxed| boxed.index).chain(strode);
        for index in here.chain(striding.iter().copied()) {
            match open.iter_mut().find(|(site, _)| *site == index) {
                Some((_, range)) => range.end = i + 1,
                None => open.push((index, i..i + 1)),
            }
        }
        strode = striding;
        if open.iter().any(|(_, range)| range.end != i + 1) {
            done.extend(open.iter().filter(|(_, range)| range.end != i + 1).cloned());
            open.retain(|(_, range)| range.end == i + 1);
        }
    }
    done.extend(open);
    done.sort_by_key(|(site, range)| (*site, range.start));
    done
}

/// Sites that a stride from the `i`-th fix may cross.
fn crossed(boxes: &RTree<Boxed>, track: &Track, i: usize, boom_reach_m: f64) -> Vec<usize> {
    let stride = track
        .steps
        .get(i)
        .filter(|step| step.link == Link::Driven && is_stride(step.length_m(), boom_reach_m));
    let bounds = stride.and_then(|step| {
        let ends = [&track.fixes[i], &track.fixes[i + 1]];
        // A path bends out less far than it is long.
        Some(Bounds::of(ends.into_iter().map(|fix| fix.place))?.grown(step.length_m()))
    });
    let envelopes = bounds.into_iter().flat_map(Bounds::boxes);
    let met = envelopes.flat_map(|envelope| boxes.locate_in_envelope_intersecting(envelope));
    met.map(|boxed| boxed.index).collect()
}

/// Measures how near some fixes of a run came to a site's ground.
#[must_use]
pub fn approach(site: &Site, outlines: &Outlines, track: &Track, fixes: Range<usize>) -> Near {
    let mut near = Near {
        first_fix: fixes.start,
        xy: Vec::with_capacity(fixes.len()),
        distance_m: Vec::with_capacity(fixes.len()),
        in_yard: Vec::with_capacity(fixes.len()),
    };
    for fix in &track.fixes[fixes] {
        // Within the box, so on the plane; a box over the pole may still hold a far point.
        let xy = site.plane.to_xy(fix.place).unwrap_or(Xy::new(1e6, 1e6));
        near.distance_m.push(outlines.ground.distance_m(xy) as f32);
        near.in_yard.push(outlines.yard.contains(xy));
        near.xy.push(xy);
    }
    near
}

/// A site's outlines for distances.
pub struct Outlines {
    ground: Edges,
    yard: Edges,
}

impl Outlines {
    /// Of all zones of a site.
    #[must_use]
    pub fn of(site: &Site) -> Self {
        let ground = site.zones.iter().map(|zone| &zone.region);
        let is_yard =
            |zone: &&crate::ground::Zone| zone.land_use == crate::input::sites::LandUse::Yard;
        let yard = site.zones.iter().filter(is_yard).map(|zone| &zone.region);
        Self {
            ground: Edges::of(&Region::union_of(ground)),
            yard: Edges::of(&Region::union_of(yard)),
        }
    }
}

/// The outline of a region, for distances. Every fix near a site asks, so what an edge needs is worked
/// out once.
pub(crate) struct Edges {
    edges: Vec<Edge>,
}

/// One edge of an outline.
struct Edge {
    from: Xy,
    along: Xy,
    /// 1 / length^2; 0 for an edge of no length.
    per_length2: f64,
    /// The edge's least and greatest y, and its run in x for each metre of y.
    low_y_m: f64,
    high_y_m: f64,
    slope: f64,
}

impl Edge {
    fn new(a: Xy, b: Xy) -> Self {
        let along = b.minus(a);
        let length2 = along.dot(along);
        Self {
            from: a,
            along,
            per_length2: if length2 > 0.0 { length2.recip() } else { 0.0 },
            low_y_m: a.y_m.min(b.y_m),
            high_y_m: a.y_m.max(b.y_m),
            slope: if along.y_m == 0.0 {
                0.0
            } else {
                along.x_m / along.y_m
            },
        }
    }

    /// Squared distance of a point that lies at `off` from the edge's beginning.
    fn distance_m2(&self, off: Xy) -> f64 {
        let u = (off.dot(self.along) * self.per_length2).clamp(0.0, 1.0);
        let rest = Xy::new(off.x_m - u * self.along.x_m, off.y_m - u * self.along.y_m);
        rest.dot(rest)
    }

    /// Whether the ray from a point to the east crosses it; half-open in y, so a corner counts once.
    fn is_east_of(&self, point: Xy, off: Xy) -> bool {
        (self.low_y_m <= point.y_m) & (point.y_m < self.high_y_m) & (off.x_m < self.slope * off.y_m)
    }
}

impl Edges {
    pub(crate) fn of(region: &Region) -> Self {
        let mut edges = Vec::new();
        for ring in region.rings() {
            let mut a = ring[ring.len() - 1];
            for b in ring {
                edges.push(Edge::new(a, b));
                a = b;
            }
        }
        Self { edges }
    }

    /// Whether the region holds a point.
    pub(crate) fn contains(&self, point: Xy) -> bool {
        let crossed = |edge: &&Edge| edge.is_east_of(point, point.minus(edge.from));
        self.edges.iter().filter(crossed).count() % 2 == 1
    }

    /// Distance to the region's outline, m; negative inside it.
    fn distance_m(&self, point: Xy) -> f64 {
        let mut nearest_m2 = f64::INFINITY;
        let mut inside = false;
        for edge in &self.edges {
            let off = point.minus(edge.from);
            nearest_m2 = nearest_m2.min(edge.distance_m2(off));
            inside ^= edge.is_east_of(point, off);
        }
        let nearest_m = nearest_m2.sqrt();
        if inside { -nearest_m } else { nearest_m }
    }
}
