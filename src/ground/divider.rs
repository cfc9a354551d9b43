//! Cuts one site's zones out of each other, on a plane of its own.

use super::drawn::{Grounds, long_edge_rad};
use super::{NEIGHBOUR_M, Site, Zone, remarks};
use crate::error::Result;
use crate::findings::Finding;
use crate::geometry::bounds::{Bounds, Boxed};
use crate::geometry::overlay::Region;
use crate::geometry::plane::{GREATEST_DISTANCE_M, Plane};
use crate::input::sites::{DrawnZone, LandUse};
use rstar::RTree;

/// A zone with less ground is a line or a point drawn as a polygon, m2: under a hand's breadth square (tolerance).
const LEAST_ZONE_M2: f64 = 0.01;

/// What dividing one site needs of all the others.
pub(super) struct Divider<'a> {
    pub(super) drawn: &'a [DrawnZone],
    pub(super) bounds: &'a [Bounds],
    pub(super) tree: &'a RTree<Boxed>,
    /// Blocked zones that count as not there; they still have their say in the site's plane.
    pub(super) lifted: &'a [usize],
}

impl Divider<'_> {
    /// One site from its zones, given by index.
    pub(super) fn site(&self, own: &[usize]) -> Result<(Option<Site>, Vec<Finding>)> {
        let (own, strays) = self.together(own);
        let own = own.as_slice();
        let mut findings: Vec<Finding> = strays
            .iter()
            .map(|&index| remarks::too_far(&self.drawn[index]))
            .collect();
        let Some(bounds) = self.around(own) else {
            return Ok((None, findings));
        };
        let plane = Plane::new(bounds.middle())?;
        let turn_rad = long_edge_rad(&plane, own.iter().map(|&index| &self.drawn[index]));
        let plane = plane.turned(turn_rad);
        let mut grounds = Grounds::on(plane);
        let mut zones = Vec::new();
        let mut neighbours = Vec::new();
        for index in self.within(bounds.grown(NEIGHBOUR_M)) {
            let zone = &self.drawn[index];
            let is_own = own.contains(&index);
            let Some(region) = grounds.of(self.drawn, index) else {
                if is_own {
                    findings.push(remarks::too_far(zone));
                }
                continue;
            };
            let area_m2 = region.area_m2();
            if area_m2 < LEAST_ZONE_M2 {
                if is_own {
                    findings.push(remarks::empty(zone));
                }
                continue;
            }
            let left = self.left_of(index, &mut grounds, is_own.then_some(&mut findings));
            if is_own {
                findings.extend(remarks::repair(zone, &plane, area_m2));
                zones.push(Zone::new(zone, area_m2, left));
            } else {
                neighbours.push((zone.land_use, left.region));
            }
        }
        // A site is identified by its place among the others: it stays where only lifted zones were.
        if zones.is_empty() && !own.iter().any(|index| self.lifted.contains(index)) {
            return Ok((None, findings));
        }
        let lifted = self.lifted_of(own, &mut grounds, &zones, &neighbours);
        let site = Site {
            id: self.drawn[own[0]].site.clone(),
            name: self.first(own, |zone| &zone.name),
            client: self.first(own, |zone| &zone.client),
            plane,
            bounds,
            zones,
            neighbours,
            lifted,
        };
        Ok((Some(site), findings))
    }

    /// The first that the features of a site say.
    fn first(&self, own: &[usize], field: fn(&DrawnZone) -> &Option<String>) -> Option<String> {
        own.iter()
            .find_map(|&index| field(&self.drawn[index]).clone())
    }

    /// Ground of a site's lifted zones that no zone has.
    fn lifted_of(
        &self,
        own: &[usize],
        grounds: &mut Grounds,
        zones: &[Zone],
        neighbours: &[(LandUse, Region)],
    ) -> Region {
        let lifted = own.iter().filter(|index| self.lifted.contains(index));
        let lifted: Vec<Region> = lifted
            .filter_map(|&index| grounds.of(self.drawn, index).cloned())
            .collect();
        if lifted.is_empty() {
            return Region::default();
        }
        let own = zones.iter().map(|zone| &zone.region);
        let taken = own.chain(neighbours.iter().map(|(_, region)| region));
        Region::union_of(&lifted).difference(&Region::union_of(taken))
    }

    fn around(&self, zones: &[usize]) -> Option<Bounds> {
        Bounds::of(zones.iter().flat_map(|&index| self.bounds[index].corners()))
    }

    /// A site's zones that one plane can hold, and those it cannot. One zone with latitude and
    /// longitude swapped must not draw the plane's centre away from all the others, so where not
    /// all fit together the place with most zones wins, the first in the file among equals.
    fn together(&self, own: &[usize]) -> (Vec<usize>, Vec<usize>) {
        let all =
            |bounds: Option<Bounds>| bounds.is_some_and(|b| b.fits(2.0 * GREATEST_DISTANCE_M));
        if all(self.around(own)) {
            return (own.to_vec(), Vec::new());
        }
        // Tenths of a degree: 11 km.
        let cell = |index: usize| {
            let middle = self.bounds[index].middle();
            let tenths = |degrees: f64| (degrees * 10.0).floor() as i64;
            (tenths(middle.lon_deg), tenths(middle.lat_deg))
        };
        let fits = |index: &usize| all(Some(self.bounds[*index]));
        let mut count = std::collections::HashMap::new();
        for index in own.iter().copied().filter(fits) {
            *count.entry(cell(index)).or_insert(0_usize) += 1;
        }
        let most = count.values().copied().max().unwrap_or(0);
        let anchor = own
            .iter()
            .find(|&&index| count.get(&cell(index)) == Some(&most));
        own.iter().partition(|&&index| {
            // Half the reach from the anchor either way keeps all within reach of the middle.
            anchor.is_some_and(|&anchor| {
                index == anchor
                    || self
                        .around(&[anchor, index])
                        .is_some_and(|bounds| bounds.fits(GREATEST_DISTANCE_M))
            })
        })
    }

    /// Indices of the drawn zones whose box meets this one, in the order of the file.
    fn within(&self, bounds: Bounds) -> Vec<usize> {
        let mut indices: Vec<usize> = bounds
            .boxes()
            .iter()
            .flat_map(|envelope| self.tree.locate_in_envelope_intersecting(*envelope))
            .map(|boxed| boxed.index)
            .filter(|index| !self.lifted.contains(index))
            .collect();
        indices.sort_unstable();
        indices.dedup();
        indices
    }

    /// What is left of a drawn region when every zone that comes before it has had its ground.
    fn left_of(
        &self,
        index: usize,
        grounds: &mut Grounds,
        mut findings: Option<&mut Vec<Finding>>,
    ) -> Left {
        let zone = &self.drawn[index];
        let first = |&other: &usize| {
            other != index && (self.drawn[other].land_use, other) < (zone.land_use, index)
        };
        let rivals: Vec<usize> = self
            .within(self.bounds[index].grown(0.0))
            .into_iter()
            .filter(first)
            .filter(|&other| grounds.of(self.drawn, other).is_some())
            .collect();
        let taken_by = |wanted: &dyn Fn(LandUse) -> bool| {
            let wanted = rivals
                .iter()
                .filter(|&&other| wanted(self.drawn[other].land_use));
            Region::union_of(wanted.filter_map(|&other| grounds.known(other)))
        };
        let own = zone.land_use;
        let higher = taken_by(&|rival| rival != own && rival != LandUse::Blocked);
        let mut left = grounds
            .known(index)
            .map(|region| region.difference(&higher))
            .unwrap_or_default();
        for &other in rivals
            .iter()
            .filter(|&&other| self.drawn[other].land_use == own)
        {
            let Some(taken) = grounds.known(other) else {
                continue;
            };
            if let Some(findings) = findings.as_deref_mut() {
                let area_m2 = left.intersection(taken).area_m2();
                findings.extend(remarks::overlap(zone, &self.drawn[other], area_m2));
            }
            left = left.difference(taken);
        }
        let blocked = taken_by(&|rival| rival != own && rival == LandUse::Blocked);
        Left {
            excluded_m2: left.intersection(&blocked).area_m2(),
            region: left.difference(&blocked),
        }
    }
}

/// What dividing leaves of a zone.
struct Left {
    region: Region,
    /// Its own but for blocked ground, m2.
    excluded_m2: f64,
}

impl Zone {
    fn new(drawn: &DrawnZone, area_drawn_m2: f64, left: Left) -> Self {
        // On other ground these three say nothing.
        let blocked = drawn.land_use == LandUse::Blocked;
        Self {
            id: drawn.zone.clone(),
            feature: drawn.feature,
            land_use: drawn.land_use,
            method: drawn.method,
            target_ml_m2: drawn.target_ml_m2,
            priority: drawn.priority,
            area_drawn_m2,
            excluded_m2: left.excluded_m2,
            blocked_from: drawn.blocked_from.filter(|_| blocked),
            blocked_until: drawn.blocked_until.filter(|_| blocked),
            reason: drawn.reason.clone().filter(|_| blocked),
            others: drawn.others.clone(),
            region: left.region,
        }
    }
}
