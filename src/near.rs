//! Step 6a of the flow: which fixes of which run came near which site, and how near.

use crate::bounds::Boxed;
use crate::ground::Site;
use crate::overlay::Region;
use crate::plane::Xy;
use crate::run::Run;
use rstar::RTree;
use std::ops::Range;

/// A site sees a rig within this distance of its bounds, m: any boom reaches less far from its antenna.
pub const NEAR_M: f64 = 50.0;

/// An unbroken stretch of one run near one site.
#[derive(Debug, Clone)]
pub struct Near {
    /// Index of the run.
    pub run: usize,
    /// First fix.
    pub first_fix: usize,
    /// Antenna positions on the site's plane, from the first fix on.
    pub xy: Vec<Xy>,
    /// Distance of each to the site's nearest zone, m; 0 inside.
    pub distance_m: Vec<f32>,
    /// Whether each is in a yard zone.
    pub in_yard: Vec<bool>,
}

impl Near {
    /// Its fixes.
    #[must_use]
    pub fn fixes(&self) -> Range<usize> {
        self.first_fix..self.first_fix + self.xy.len()
    }
}

/// Per site: the ranges of fixes of each run within [`NEAR_M`] of its bounds.
#[must_use]
pub fn candidates(sites: &[Site], runs: &[Run]) -> Vec<Vec<(usize, Range<usize>)>> {
    use rayon::prelude::*;
    let tree = RTree::bulk_load(
        sites
            .iter()
            .enumerate()
            .flat_map(|(i, site)| Boxed::all(i, site.bounds.grown(NEAR_M)))
            .collect(),
    );
    let of_runs: Vec<Vec<(usize, Range<usize>)>> =
        runs.par_iter().map(|run| ranges(&tree, run)).collect();
    let mut of_sites = vec![Vec::new(); sites.len()];
    for (run, ranges) in of_runs.into_iter().enumerate() {
        for (site, fixes) in ranges {
            of_sites[site].push((run, fixes));
        }
    }
    of_sites
}

/// Ranges of fixes of one run in the boxes, as (site, fixes), ordered by their first fix.
fn ranges(tree: &RTree<Boxed>, run: &Run) -> Vec<(usize, Range<usize>)> {
    let mut open: Vec<(usize, Range<usize>)> = Vec::new();
    let mut done = Vec::new();
    for (i, fix) in run.track.fixes.iter().enumerate() {
        for boxed in tree.locate_all_at_point([fix.place.lon_deg, fix.place.lat_deg]) {
            match open.iter_mut().find(|(site, _)| *site == boxed.index) {
                Some((_, range)) => range.end = i + 1,
                None => open.push((boxed.index, i..i + 1)),
            }
        }
        if open.iter().any(|(_, range)| range.end != i + 1) {
            done.extend(open.iter().filter(|(_, range)| range.end != i + 1).cloned());
            open.retain(|(_, range)| range.end == i + 1);
        }
    }
    done.extend(open);
    done.sort_by_key(|(site, range)| (range.start, *site));
    done
}

/// Projects the candidate fixes of one site and measures their distance to its zones.
#[must_use]
pub fn approach(site: &Site, runs: &[Run], ranges: &[(usize, Range<usize>)]) -> Vec<Near> {
    let ground = Edges::of(&Region::union_of(
        site.zones.iter().map(|zone| &zone.region),
    ));
    let yard_zones = site
        .zones
        .iter()
        .filter(|zone| zone.land_use == crate::input::sites::LandUse::Yard);
    let yard = Edges::of(&Region::union_of(yard_zones.map(|zone| &zone.region)));
    let mut nears = Vec::new();
    for (run, fixes) in ranges {
        let mut near = Near {
            run: *run,
            first_fix: fixes.start,
            xy: vec![],
            distance_m: vec![],
            in_yard: vec![],
        };
        for i in fixes.clone() {
            // Within the box, so on the plane; a box over the pole may still hold a far point.
            let xy = site
                .plane
                .to_xy(runs[*run].track.fixes[i].place)
                .unwrap_or(Xy::new(1e6, 1e6));
            near.distance_m.push(ground.distance_m(xy) as f32);
            near.in_yard.push(yard.contains(xy));
            near.xy.push(xy);
        }
        nears.push(near);
    }
    nears
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

    /// Distance to the region, m; 0 inside it.
    fn distance_m(&self, point: Xy) -> f64 {
        let mut nearest_m2 = f64::INFINITY;
        let mut inside = false;
        for edge in &self.edges {
            let off = point.minus(edge.from);
            nearest_m2 = nearest_m2.min(edge.distance_m2(off));
            inside ^= edge.is_east_of(point, off);
        }
        if inside { 0.0 } else { nearest_m2.sqrt() }
    }
}

/// Beyond the boom's own reach, steps this near to a zone still get strips, m: the path between two
/// fixes may come nearer than either.
const REACH_MARGIN_M: f64 = 10.0;

/// How far from its antenna a run may lay liquid, with a margin, m.
#[must_use]
pub fn reach_m(run: &Run) -> f64 {
    run.boom.reach_m() + run.position_m + REACH_MARGIN_M
}

impl Near {
    /// Whether the step from the `k`-th of these fixes to the next is near enough for strips.
    #[must_use]
    pub fn has_strips(&self, k: usize, reach_m: f64) -> bool {
        k + 1 < self.xy.len()
            && f64::from(self.distance_m[k].min(self.distance_m[k + 1])) <= reach_m
    }
}
