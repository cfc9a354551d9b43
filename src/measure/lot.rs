//! A site's ground as a rig meets it: what is to be treated by boom and by hand, what can be driven on,
//! what stands in the way, which edges are curbs. What a bare polygon does not say is assumed, and every
//! assumption is named.

use super::minkowski::edges;
use super::places::disc;
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::Xy;
use crate::ground::{Site, Zone};
use crate::input::fleet::Estimate;
use crate::input::sites::aids::{edge_is_open, flag, quantity};
use crate::input::sites::{Aid, AidKind, AidShape, LandUse, Method};
use crate::units::Dimension;

/// A piece of an outline, from corner to corner.
type Edge = (Xy, Xy);

/// A drawn edge line this near to a zone's edge runs along it, m.
const ALONG_M: f64 = 1.0;
/// Corners this near to an edge lie on it, m: the overlay's grid is far finer.
const ON_EDGE_M: f64 = 1e-3;
/// Zones this near to each other are drawn as neighbours, m: half of it on either side.
const HAIR_M: f64 = 0.005;
/// A stalls' edge this near to another stalls polygon has wheel stops, m.
const WHEEL_STOP_M: f64 = 0.5;
/// Half the thickness of a row of wheel stops, m: the rows' drawn lines may be so far apart.
const WHEEL_STOP_HALF_M: f64 = 0.1;

/// One site's ground.
pub(super) struct Lot {
    /// Lots and drives: all that is paved for driving.
    pub(super) pavement: Region,
    /// To be treated by boom.
    pub(super) by_boom: Region,
    /// To be treated by hand whatever the rig.
    pub(super) by_hand: Region,
    /// By boom, less what is nearer to curbs and objects than the boom's tips may come.
    pub(super) target: Region,
    /// No boom passes over it.
    pub(super) tall: Region,
    /// No wheel goes there: islands, objects, blocked ground, wheel stops.
    pub(super) blocked: Region,
    /// Not to be sprayed.
    pub(super) keep_off: Region,
    /// Sections open only where all of them is over it.
    pub(super) keep_inside: Region,
    /// The edges of the pavement where wheels stop.
    pub(super) curbs: Vec<(Xy, Xy)>,
    /// Edges of the pavement that can be driven over, pavement on the left.
    open_edges: Vec<(Xy, Xy)>,
    /// People walk there.
    pub(super) walks: Region,
    /// Where rigs come in.
    pub(super) entrances: Vec<Xy>,
    /// Middle lines of aisles.
    pub(super) aisles: Vec<Vec<Xy>>,
    /// What was assumed, as clauses.
    pub(super) assumed: Vec<String>,
    /// What could not be read of the zones' properties.
    pub(super) remarks: Vec<String>,
}

impl Lot {
    /// The ground of a site with the aids that belong to it.
    pub(super) fn of(site: &Site, aids: &[&Aid], estimate: &Estimate) -> Self {
        Builder::new(site, aids, estimate).lot()
    }

    /// What the body can stand on when it may leave the pavement over open edges by `depth_m`.
    pub(super) fn drivable(&self, depth_m: f64) -> Region {
        let mut rings: Vec<Vec<Xy>> = Vec::new();
        for &(a, b) in &self.open_edges {
            let along = b.minus(a);
            let length_m = along.length_m();
            let out = Xy::new(along.y_m / length_m, -along.x_m / length_m);
            rings.push(vec![a, a.plus(out, depth_m), b.plus(out, depth_m), b]);
            // Round corners between two open edges.
            let follows = |other: &&(Xy, Xy)| other.0 == b && along.cross(other.1.minus(b)) > 0.0;
            if self.open_edges.iter().any(|other| follows(&other)) {
                rings.push(disc(b, depth_m));
            }
        }
        let blocked = Region::union_of([&self.blocked, &self.walks]);
        if rings.is_empty() {
            return self.pavement.difference(&blocked);
        }
        let beyond = Region::union_of_positive(rings.iter().map(Vec::as_slice));
        Region::union_of([&self.pavement, &beyond]).difference(&blocked)
    }
}

/// What one property of a zone says; `None` and a remark where it cannot be read.
fn property<T>(
    zone: &Zone,
    remarks: &mut Vec<String>,
    read: impl Fn(&serde_json::Map<String, serde_json::Value>) -> Result<T, String>,
) -> Option<T> {
    match read(&zone.others) {
        Ok(value) => Some(value),
        Err(why) => {
            remarks.push(format!("zone {}: {why}; it was ignored", zone.id));
            None
        }
    }
}

/// Area that a contract names for a zone, m2.
pub(super) fn contract_m2(zone: &Zone) -> Result<Option<f64>, String> {
    quantity(&zone.others, "contract_area", Dimension::Area)
}

struct Builder<'a> {
    site: &'a Site,
    estimate: &'a Estimate,
    aids: &'a [&'a Aid],
    assumed: Vec<String>,
    remarks: Vec<String>,
}

impl<'a> Builder<'a> {
    fn new(site: &'a Site, aids: &'a [&'a Aid], estimate: &'a Estimate) -> Self {
        Self {
            site,
            estimate,
            aids,
            assumed: Vec::new(),
            remarks: Vec::new(),
        }
    }

    fn union(&self, wanted: impl Fn(&Zone) -> bool) -> Region {
        Region::union_of(
            self.site
                .zones
                .iter()
                .filter(|z| wanted(z))
                .map(|z| &z.region),
        )
    }

    /// The union of zones with the hairs between neighbours closed that rounded coordinates leave.
    fn joined(&self, wanted: impl Fn(&Zone) -> bool) -> Region {
        let zones: Vec<&Region> = self
            .site
            .zones
            .iter()
            .filter(|zone| wanted(zone))
            .map(|zone| &zone.region)
            .collect();
        let grown: Vec<Region> = zones.iter().map(|zone| zone.offset(HAIR_M)).collect();
        let mut parts: Vec<Region> = zones.iter().map(|&zone| zone.clone()).collect();
        for (index, zone) in grown.iter().enumerate() {
            let extent = zone.extent();
            for other in &grown[..index] {
                if other.extent().meets(&extent) {
                    parts.push(zone.intersection(other));
                }
            }
        }
        Region::union_of(&parts)
    }

    fn lot(mut self) -> Lot {
        let paved =
            |zone: &Zone| matches!(zone.land_use, LandUse::Lot | LandUse::Drive | LandUse::Yard);
        let objects = self.obstacles(false);
        let low_objects = self.obstacles(true);
        let blocked = self.union(|zone| zone.land_use == LandUse::Blocked);
        let pavement = self.joined(paved);
        let low = |zone: &Zone| flag(&zone.others, "low").unwrap_or(false);
        let low_islands = self.union(|zone| zone.land_use == LandUse::KeepOff && low(zone));
        let tall_islands = self.union(|zone| zone.land_use == LandUse::KeepOff && !low(zone));
        let holes = self.bare_holes(&pavement);
        let clearance_m = self.estimate.curb_clearance_m.max(0.0);
        let tall_islands = Region::union_of([&tall_islands, &holes]);
        let standing = Region::union_of([&objects, &blocked]);
        let tall = Region::union_of([
            &tall_islands.offset(clearance_m),
            &standing.offset(self.estimate.object_clearance_m),
        ]);
        let wheel_stops = self.wheel_stops();
        let body_blocked = Region::union_of([&tall_islands, &standing, &low_islands, &low_objects]);
        let by_boom = self
            .union(Zone::is_by_boom)
            .difference(&Region::union_of([&objects, &low_objects]));
        let (curbs, open_edges) = self.curbs(&pavement);
        let all_objects = Region::union_of([&standing, &low_objects]);
        let target = self.target(
            &pavement,
            &by_boom,
            (curbs.as_slice(), open_edges.as_slice()),
            &all_objects,
        );
        self.assume(&pavement, &curbs, &open_edges);
        Lot {
            by_hand: self.union(|zone| zone.is_to_treat() && zone.method == Method::Hand),
            keep_inside: self.union(|zone| {
                zone.is_by_boom() && flag(&zone.others, "keep_inside").unwrap_or(false)
            }),
            keep_off: Region::union_of([
                &low_islands,
                &self.union(|zone| zone.land_use == LandUse::KeepOff),
            ]),
            walks: self.union(|zone| zone.land_use == LandUse::Walk),
            entrances: self
                .points(|kind| matches!(kind, AidKind::Entrance))
                .into_iter()
                .map(|(p, _)| p)
                .collect(),
            aisles: self.aisles(),
            blocked: Region::union_of([&body_blocked, &wheel_stops]),
            pavement,
            by_boom,
            target,
            tall,
            curbs,
            open_edges,
            assumed: self.assumed,
            remarks: self.remarks,
        }
    }

    fn xy(&self, place: LonLat) -> Option<Xy> {
        self.site.plane.to_xy(place)
    }

    fn points(&self, wanted: impl Fn(AidKind) -> bool) -> Vec<(Xy, AidKind)> {
        let aids = self.aids.iter().filter(|aid| wanted(aid.kind));
        aids.filter_map(|aid| match &aid.shape {
            AidShape::Points(points) => Some((points, aid.kind)),
            _ => None,
        })
        .flat_map(|(points, kind)| {
            points
                .iter()
                .filter_map(move |&p| Some((self.xy(p)?, kind)))
        })
        .collect()
    }

    fn lines(&self, wanted: impl Fn(AidKind) -> bool) -> Vec<(Vec<Xy>, AidKind)> {
        let aids = self.aids.iter().filter(|aid| wanted(aid.kind));
        aids.filter_map(|aid| match &aid.shape {
            AidShape::Lines(lines) => Some((lines, aid.kind)),
            _ => None,
        })
        .flat_map(|(lines, kind)| {
            lines.iter().filter_map(move |line| {
                let line: Option<Vec<Xy>> = line.iter().map(|&p| self.xy(p)).collect();
                Some((line?, kind))
            })
        })
        .collect()
    }

    fn polygons(&self, wanted: impl Fn(AidKind) -> bool) -> Vec<Region> {
        let aids = self.aids.iter().filter(|aid| wanted(aid.kind));
        aids.filter_map(|aid| match &aid.shape {
            AidShape::Polygons(polygons) => Some(polygons),
            _ => None,
        })
        .flatten()
        .filter_map(|polygon| {
            let ring = |ring: &Vec<LonLat>| {
                ring.iter()
                    .map(|&p| self.xy(p))
                    .collect::<Option<Vec<Xy>>>()
            };
            let rings: Vec<Vec<Xy>> = polygon.iter().map(ring).collect::<Option<_>>()?;
            let (outer, holes) = rings.split_first()?;
            let outer = Region::inside_any([outer.as_slice()]);
            Some(outer.difference(&Region::inside_any(holes.iter().map(Vec::as_slice))))
        })
        .collect()
    }

    /// Obstacles that are `low` or not.
    fn obstacles(&self, low_ones: bool) -> Region {
        let wanted = |kind| matches!(kind, AidKind::Obstacle { low, .. } if low == low_ones);
        /// A pole without a radius, m.
        const LEAST_RADIUS_M: f64 = 0.05;
        let discs: Vec<Vec<Xy>> = self
            .points(wanted)
            .into_iter()
            .map(|(point, kind)| match kind {
                AidKind::Obstacle { radius_m, .. } => disc(point, radius_m.max(LEAST_RADIUS_M)),
                _ => disc(point, LEAST_RADIUS_M),
            })
            .collect();
        let round = Region::union_of_positive(discs.iter().map(Vec::as_slice));
        let drawn = Region::union_of(&self.polygons(wanted));
        Region::union_of([&round, &drawn])
    }

    /// Holes of the pavement in which nothing is drawn.
    fn bare_holes(&mut self, pavement: &Region) -> Region {
        let outers: Vec<Vec<Xy>> = pavement
            .shapes()
            .into_iter()
            .filter_map(|mut shape| (!shape.is_empty()).then(|| shape.swap_remove(0)))
            .collect();
        let filled = Region::union_of_positive(outers.iter().map(Vec::as_slice));
        let drawn = self.union(|_| true);
        let holes = filled.difference(&Region::union_of([pavement, &drawn]));
        if !holes.is_empty() {
            self.assumed
                .push("holes without a use stand too high for the boom to pass over".to_owned());
        }
        holes
    }

    fn wheel_stops(&self) -> Region {
        let rows = self.polygons(|kind| matches!(kind, AidKind::Stalls { .. }));
        let mut quads: Vec<Vec<Xy>> = Vec::new();
        for (index, row) in rows.iter().enumerate() {
            for (a, b) in edges(row) {
                let middle = Xy::new(f64::midpoint(a.x_m, b.x_m), f64::midpoint(a.y_m, b.y_m));
                let others = rows.iter().enumerate().filter(|(other, _)| *other != index);
                let beside = others
                    .flat_map(|(_, other)| edges(other))
                    .any(|(c, d)| distance_m(middle, c, d) <= WHEEL_STOP_M);
                if beside {
                    quads.push(thick(a, b, WHEEL_STOP_HALF_M));
                }
            }
        }
        Region::union_of_positive(quads.iter().map(Vec::as_slice))
    }

    fn aisles(&self) -> Vec<Vec<Xy>> {
        let lines = self.lines(|kind| matches!(kind, AidKind::Aisle { .. }));
        lines.into_iter().map(|(line, _)| line).collect()
    }

    /// The pavement's edges: curbs and open ones.
    fn curbs(&mut self, pavement: &Region) -> (Vec<Edge>, Vec<Edge>) {
        let mut open_zone_edges: Vec<(Xy, Xy)> = Vec::new();
        for zone in &self.site.zones {
            let open = property(zone, &mut self.remarks, |p| edge_is_open(p, "edge")).flatten();
            if open == Some(true) {
                open_zone_edges.extend(edges(&zone.region));
            }
        }
        let lines = self.lines(|kind| matches!(kind, AidKind::Edge { .. }));
        let (mut curbs, mut open) = (Vec::new(), Vec::new());
        for (a, b) in edges(pavement) {
            for (from, to) in split(a, b, &lines) {
                let middle = Xy::new(
                    f64::midpoint(from.x_m, to.x_m),
                    f64::midpoint(from.y_m, to.y_m),
                );
                let along = lines.iter().find(|(line, _)| {
                    line.windows(2)
                        .any(|pair| distance_m(middle, pair[0], pair[1]) <= ALONG_M)
                });
                let is_open = match along {
                    Some((_, AidKind::Edge { open })) => *open,
                    _ => open_zone_edges
                        .iter()
                        .any(|&(c, d)| distance_m(middle, c, d) <= ON_EDGE_M),
                };
                if is_open { &mut open } else { &mut curbs }.push((from, to));
            }
        }
        (curbs, open)
    }

    fn target(
        &self,
        pavement: &Region,
        by_boom: &Region,
        (curbs, open): (&[Edge], &[Edge]),
        objects: &Region,
    ) -> Region {
        let clearance_m = self.estimate.curb_clearance_m;
        let near_curbs = if clearance_m <= 0.0 {
            Region::default()
        } else if open.is_empty() {
            pavement.difference(&pavement.offset(-clearance_m))
        } else {
            near(curbs, clearance_m).intersection(pavement)
        };
        let near_objects = objects.offset(self.estimate.object_clearance_m);
        by_boom.difference(&Region::union_of([&near_curbs, &near_objects]))
    }

    fn assume(&mut self, pavement: &Region, curbs: &[(Xy, Xy)], open: &[(Xy, Xy)]) {
        let says_edges = !open.is_empty()
            || self
                .site
                .zones
                .iter()
                .any(|zone| zone.others.contains_key("edge"))
            || self
                .aids
                .iter()
                .any(|aid| matches!(aid.kind, AidKind::Edge { .. }));
        if !says_edges && !curbs.is_empty() {
            self.assumed.push("all edges are curbs".to_owned());
        }
        let has = |wanted: fn(&AidKind) -> bool| self.aids.iter().any(|aid| wanted(&aid.kind));
        let obstacles = has(|kind| matches!(kind, AidKind::Obstacle { .. }));
        let islands = self
            .site
            .zones
            .iter()
            .any(|zone| matches!(zone.land_use, LandUse::KeepOff | LandUse::Blocked));
        if !obstacles && !islands {
            self.assumed.push("there are no obstacles".to_owned());
        }
        if !has(|kind| matches!(kind, AidKind::Entrance)) {
            self.assumed
                .push("rigs come in wherever they reach most".to_owned());
        }
        let aisles = has(|kind| matches!(kind, AidKind::Aisle { .. } | AidKind::Stalls { .. }));
        if !aisles && !pavement.is_empty() {
            self.assumed
                .push("no aisles or stalls are drawn: lanes unlikely as driven".to_owned());
        }
    }
}

/// An edge cut where drawn edge lines begin, end or bend beside it.
fn split(a: Xy, b: Xy, lines: &[(Vec<Xy>, AidKind)]) -> Vec<(Xy, Xy)> {
    let along = b.minus(a);
    let squared_m2 = along.dot(along);
    let mut cuts: Vec<f64> = lines
        .iter()
        .flat_map(|(line, _)| line)
        .filter(|&&point| distance_m(point, a, b) <= ALONG_M)
        .map(|point| point.minus(a).dot(along) / squared_m2)
        .filter(|share| *share > 0.0 && *share < 1.0)
        .collect();
    cuts.sort_by(f64::total_cmp);
    let mut parts = Vec::with_capacity(cuts.len() + 1);
    let mut from = a;
    for cut in cuts {
        let to = a.plus(along, cut);
        if to.minus(from).length_m() > ON_EDGE_M {
            parts.push((from, to));
            from = to;
        }
    }
    parts.push((from, b));
    parts
}

/// Ground within a distance of curbs. Round only where the ground's corner points inward, or a curb ends: elsewhere
/// the straight strips meet.
fn near(curbs: &[(Xy, Xy)], distance_m: f64) -> Region {
    let mut rings: Vec<Vec<Xy>> = Vec::new();
    for &(a, b) in curbs {
        rings.push(thick(a, b, distance_m));
        let along = b.minus(a);
        let bends_in = |next: &(Xy, Xy)| along.cross(next.1.minus(b)) < 0.0;
        if curbs.iter().filter(|next| next.0 == b).all(bends_in) {
            rings.push(disc(b, distance_m));
        }
        if curbs.iter().all(|before| before.1 != a) {
            rings.push(disc(a, distance_m));
        }
    }
    Region::union_of_positive(rings.iter().map(Vec::as_slice))
}

/// A line of some thickness, counter-clockwise.
fn thick(a: Xy, b: Xy, half_m: f64) -> Vec<Xy> {
    let along = b.minus(a);
    let length_m = along.length_m();
    if length_m <= 0.0 {
        return disc(a, half_m);
    }
    let left = Xy::new(-along.y_m / length_m, along.x_m / length_m);
    vec![
        a.plus(left, -half_m),
        b.plus(left, -half_m),
        b.plus(left, half_m),
        a.plus(left, half_m),
    ]
}

/// Distance of a point from a line between two points, m.
pub(super) fn distance_m(point: Xy, a: Xy, b: Xy) -> f64 {
    let along = b.minus(a);
    let squared_m2 = along.dot(along);
    let share = if squared_m2 > 0.0 {
        (point.minus(a).dot(along) / squared_m2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    point.minus(a.plus(along, share)).length_m()
}
