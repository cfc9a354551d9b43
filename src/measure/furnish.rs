//! A divided site and what is drawn beside it to the ground of a [`Lot`]. What a bare polygon does not say is assumed,
//! and every assumption is named.

use super::edges::{ALONG_M, Edge, ON_EDGE_M, distance_m, middle, near, split, thick};
use super::lot::{Aisle, Lot};
use super::minkowski::edges;
use super::places::disc;
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::Xy;
use crate::ground::{Site, Zone};
use crate::input::fleet::Estimate;
use crate::input::sites::aids::{edge_is_open, flag};
use crate::input::sites::{Aid, AidKind, AidShape, LandUse, Method};

/// Zones this near to each other are drawn as neighbours, m: half of it on either side (tolerance).
const HAIR_M: f64 = 0.005;
/// A stalls' edge this near to another stalls polygon has wheel stops, m (trade judgement).
const WHEEL_STOP_M: f64 = 0.5;
/// Half the thickness of a row of wheel stops, m: the rows' drawn lines may be so far apart (trade judgement).
const WHEEL_STOP_HALF_M: f64 = 0.1;
/// A row with cars on at least this share of its stalls is driven around: no rig threads its boom between them (trade
/// judgement).
const FULL_ROW: f64 = 0.5;

impl Lot {
    /// The ground of a site with the aids that belong to it.
    pub(super) fn of(site: &Site, aids: &[&Aid], estimate: &Estimate) -> Self {
        Builder::new(site, aids, estimate).lot()
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
        let (cars, cars_expected_m2) = self.cars();
        let objects = Region::union_of([&self.obstacles(false), &cars]);
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
            cars_expected_m2,
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
        aids.flat_map(|aid| self.drawn(aid)).collect()
    }

    /// The polygons of an aid.
    fn drawn(&self, aid: &Aid) -> Vec<Region> {
        let AidShape::Polygons(polygons) = &aid.shape else {
            return Vec::new();
        };
        let ground = |polygon: &Vec<Vec<LonLat>>| {
            let ring = |ring: &Vec<LonLat>| {
                ring.iter()
                    .map(|&p| self.xy(p))
                    .collect::<Option<Vec<Xy>>>()
            };
            let rings: Vec<Vec<Xy>> = polygon.iter().map(ring).collect::<Option<_>>()?;
            let (outer, holes) = rings.split_first()?;
            let outer = Region::inside_any([outer.as_slice()]);
            Some(outer.difference(&Region::inside_any(holes.iter().map(Vec::as_slice))))
        };
        polygons.iter().filter_map(ground).collect()
    }

    /// Obstacles that are `low` or not.
    fn obstacles(&self, low_ones: bool) -> Region {
        let wanted = |kind| matches!(kind, AidKind::Obstacle { low, .. } if low == low_ones);
        /// A pole without a radius, m (trade judgement).
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
                let middle = middle((a, b));
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

    fn aisles(&self) -> Vec<Aisle> {
        let lines = self.lines(|kind| matches!(kind, AidKind::Aisle { .. }));
        lines
            .into_iter()
            .map(|(line, kind)| Aisle {
                line,
                one_way: matches!(kind, AidKind::Aisle { one_way: true }),
            })
            .collect()
    }

    /// Rows with so many cars on that rigs drive around them; and the ground that cars on all rows are likely to stand
    /// on, m2 (`None` where no row says how full it is).
    fn cars(&self) -> (Region, Option<f64>) {
        let (mut full, mut expected_m2) = (Vec::new(), None);
        for aid in self.aids {
            let AidKind::Stalls {
                occupied: Some(share),
            } = aid.kind
            else {
                continue;
            };
            let rows = self.drawn(aid);
            let own_m2: f64 = rows.iter().map(Region::area_m2).sum();
            expected_m2 = Some(expected_m2.unwrap_or(0.0) + share.likely * own_m2);
            if share.likely >= FULL_ROW {
                full.extend(rows);
            }
        }
        (Region::union_of(&full), expected_m2)
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
                let middle = middle((from, to));
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
            self.assumed.push(
                "no aisles or stalls are drawn: lanes are unlikely to be driven as planned"
                    .to_owned(),
            );
        }
    }
}
