//! Step 1b of the flow: drawn zones to divided ground, one plane a site.
//!
//! People draw an island as a keep-off polygon on top of a lot without a hole. So the ground is
//! divided before anything is measured: keep-off before blocked before walk before drive before
//! lot before yard, the higher cut out of the lower; where two zones of one use overlap, the first
//! in the file has the ground. After that every spot has at most one zone, across sites too.

use crate::bounds::{Bounds, Boxed};
use crate::error::Result;
use crate::findings::{Finding, Matter, Severity};
use crate::input::sites::{DrawnZone, LandUse, Method};
use crate::overlay::Region;
use crate::place::LonLat;
use crate::plane::{GREATEST_DISTANCE_M, Plane, Xy, signed_area_m2};
use rayon::prelude::*;
use rstar::RTree;

/// Two areas that differ by less than this fraction, or by [`SAME_AREA_M2`], are the same:
/// coordinates are rounded to a grid of 60 nm.
const SAME_AREA: f64 = 1e-6;
/// See [`SAME_AREA`], m2.
const SAME_AREA_M2: f64 = 1e-3;

/// Zones of other sites within this distance are divided and told apart on a site's plane too, so
/// that liquid on a neighbour's ground is not called strayed, m.
pub const NEIGHBOUR_M: f64 = 60.0;

/// Overlaps of zones of one use below this are drawing noise along a shared edge, m2.
const OVERLAP_NOISE_M2: f64 = 0.5;

/// A zone with less ground is a line or a point drawn as a polygon, m2: under a hand's breadth square.
const LEAST_ZONE_M2: f64 = 0.01;

/// One site: its plane, its zones, and the neighbours' ground as seen on that plane.
pub struct Site {
    /// Site id.
    pub id: String,
    /// Name to show.
    pub name: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// Its plane, x along the site's long edge.
    pub plane: Plane,
    /// Bounds of all its zones.
    pub bounds: Bounds,
    /// Zones in the order of the file.
    pub zones: Vec<Zone>,
    /// Ground of other sites nearby, on this site's plane.
    pub neighbours: Vec<(LandUse, Region)>,
}

/// One zone's ground.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Zone id.
    pub id: String,
    /// Use.
    pub land_use: LandUse,
    /// Method.
    pub method: Method,
    /// Rate asked for here, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Weight in the ranking.
    pub priority: f64,
    /// What was drawn, m2.
    pub area_drawn_m2: f64,
    /// Other properties, carried along.
    pub others: serde_json::Map<String, serde_json::Value>,
    /// What is left after dividing.
    pub region: Region,
}

impl Zone {
    /// Ground that the contractor is to treat.
    #[must_use]
    pub fn is_to_treat(&self) -> bool {
        matches!(self.land_use, LandUse::Walk | LandUse::Drive | LandUse::Lot)
    }
}

/// Divides the ground of all sites.
///
/// Sites come in the order of their first feature. Zones that cannot lie on their site's plane
/// (more than 10 km from its centre) are skipped with a finding.
///
/// # Errors
/// When PROJ cannot make a plane.
pub fn divide(drawn: &[DrawnZone]) -> Result<(Vec<Site>, Vec<Finding>)> {
    let bounds: Vec<Bounds> = drawn
        .iter()
        .map(|zone| Bounds::of(zone.polygons.iter().flatten().flatten().copied()))
        .map(|bounds| {
            bounds.unwrap_or(Bounds {
                west_deg: 0.0,
                south_deg: 0.0,
                east_deg: 0.0,
                north_deg: 0.0,
            })
        })
        .collect();
    let tree = RTree::bulk_load(
        bounds
            .iter()
            .enumerate()
            .flat_map(|(index, &bounds)| Boxed::all(index, bounds))
            .collect(),
    );
    let mut members: Vec<(&str, Vec<usize>)> = Vec::new();
    let mut index_of = std::collections::HashMap::new();
    for (index, zone) in drawn.iter().enumerate() {
        let at = *index_of.entry(zone.site.as_str()).or_insert(members.len());
        if at == members.len() {
            members.push((&zone.site, Vec::new()));
        }
        members[at].1.push(index);
    }
    let divided: Vec<Result<(Option<Site>, Vec<Finding>)>> = members
        .par_iter()
        .map(|(_, own)| {
            Divider {
                drawn,
                bounds: &bounds,
                tree: &tree,
            }
            .site(own)
        })
        .collect();
    let mut sites = Vec::new();
    let mut findings = Vec::new();
    for result in divided {
        let (site, notes) = result?;
        sites.extend(site);
        findings.extend(notes);
    }
    Ok((sites, findings))
}

/// What dividing one site needs of all the others.
struct Divider<'a> {
    drawn: &'a [DrawnZone],
    bounds: &'a [Bounds],
    tree: &'a RTree<Boxed>,
}

impl Divider<'_> {
    fn site(&self, own: &[usize]) -> Result<(Option<Site>, Vec<Finding>)> {
        let (own, strays) = self.together(own);
        let own = own.as_slice();
        let mut findings: Vec<Finding> = strays
            .iter()
            .map(|&index| too_far(&self.drawn[index]))
            .collect();
        let Some(bounds) = self.around(own) else {
            return Ok((None, findings));
        };
        let plane = Plane::new(bounds.middle())?;
        let turn_rad = long_edge_rad(&plane, own.iter().map(|&index| &self.drawn[index]));
        let plane = plane.turned(turn_rad);
        let mut zones = Vec::new();
        let mut neighbours = Vec::new();
        for index in self.within(bounds.grown(NEIGHBOUR_M)) {
            let is_own = own.contains(&index);
            let Some(region) = drawn_region(&plane, &self.drawn[index]) else {
                if is_own {
                    findings.push(too_far(&self.drawn[index]));
                }
                continue;
            };
            if region.area_m2() < LEAST_ZONE_M2 {
                if is_own {
                    findings.push(remark(&self.drawn[index], "encloses no ground; skipped"));
                }
                continue;
            }
            let left = self.left_of(index, &region, &plane, is_own.then_some(&mut findings));
            if is_own {
                findings.extend(repair_finding(&self.drawn[index], &plane, &region));
                zones.push(Zone::new(&self.drawn[index], region.area_m2(), left));
            } else {
                neighbours.push((self.drawn[index].land_use, left));
            }
        }
        if zones.is_empty() {
            return Ok((None, findings));
        }
        let first = |field: fn(&DrawnZone) -> &Option<String>| {
            own.iter()
                .find_map(|&index| field(&self.drawn[index]).clone())
        };
        let site = Site {
            id: self.drawn[own[0]].site.clone(),
            name: first(|zone| &zone.name),
            client: first(|zone| &zone.client),
            plane,
            bounds,
            zones,
            neighbours,
        };
        Ok((Some(site), findings))
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
            .collect();
        indices.sort_unstable();
        indices.dedup();
        indices
    }

    /// What is left of a drawn region when every zone that comes before it has had its ground.
    fn left_of(
        &self,
        index: usize,
        region: &Region,
        plane: &Plane,
        mut findings: Option<&mut Vec<Finding>>,
    ) -> Region {
        let zone = &self.drawn[index];
        let mut left = region.clone();
        for other in self.within(self.bounds[index].grown(0.0)) {
            let rival = &self.drawn[other];
            let first = (rival.land_use, other) < (zone.land_use, index);
            if other == index || !first {
                continue;
            }
            let Some(taken) = drawn_region(plane, rival) else {
                continue;
            };
            if rival.land_use == zone.land_use
                && let Some(findings) = findings.as_deref_mut()
            {
                findings.extend(overlap_finding(
                    zone,
                    rival,
                    left.intersection(&taken).area_m2(),
                ));
            }
            left = left.difference(&taken);
        }
        left
    }
}

impl Zone {
    fn new(drawn: &DrawnZone, area_drawn_m2: f64, region: Region) -> Self {
        Self {
            id: drawn.zone.clone(),
            land_use: drawn.land_use,
            method: drawn.method,
            target_ml_m2: drawn.target_ml_m2,
            priority: drawn.priority,
            area_drawn_m2,
            others: drawn.others.clone(),
            region,
        }
    }
}

/// The ground of a feature as drawn: every ring dissolved by itself, holes taken out, polygons
/// joined. `None` when a corner is not on the plane.
fn drawn_region(plane: &Plane, zone: &DrawnZone) -> Option<Region> {
    let mut polygons = Vec::new();
    for polygon in &zone.polygons {
        let rings: Vec<Vec<Xy>> = polygon
            .iter()
            .map(|ring| on_plane(plane, ring))
            .collect::<Option<_>>()?;
        let (outer, holes) = rings.split_first()?;
        let outer = Region::inside_any([outer.as_slice()]);
        polygons.push(outer.difference(&Region::inside_any(holes.iter().map(Vec::as_slice))));
    }
    match polygons.len() {
        1 => polygons.pop(),
        _ => Some(Region::union_of(&polygons)),
    }
}

fn on_plane(plane: &Plane, ring: &[LonLat]) -> Option<Vec<Xy>> {
    ring.iter().map(|&place| plane.to_xy(place)).collect()
}

/// Direction of the longest edge of a site's outer rings, counter-clockwise from east.
fn long_edge_rad<'a>(plane: &Plane, zones: impl Iterator<Item = &'a DrawnZone>) -> f64 {
    zones
        .filter(|zone| zone.land_use != LandUse::KeepOff)
        .flat_map(|zone| zone.polygons.iter().filter_map(|polygon| polygon.first()))
        .filter_map(|ring| on_plane(plane, ring))
        .flat_map(|ring| {
            ring.windows(2)
                .map(|pair| pair[1].minus(pair[0]))
                .collect::<Vec<_>>()
        })
        .max_by(|a, b| a.length_m().total_cmp(&b.length_m()))
        .map_or(0.0, |edge| edge.y_m.atan2(edge.x_m))
}

/// A finding when the rings did not enclose what they drew, or when the reader had to close them.
fn repair_finding(zone: &DrawnZone, plane: &Plane, region: &Region) -> Option<Finding> {
    let before_m2: f64 = zone
        .polygons
        .iter()
        .flat_map(|polygon| polygon.iter().enumerate())
        .filter_map(|(place, ring)| {
            let area_m2 = signed_area_m2(&on_plane(plane, ring)?).abs();
            Some(if place == 0 { area_m2 } else { -area_m2 })
        })
        .sum();
    let after_m2 = region.area_m2();
    let mut faults = zone.faults.clone();
    if (before_m2 - after_m2).abs() > SAME_AREA_M2.max(SAME_AREA * after_m2.max(before_m2)) {
        faults.push(
            if before_m2 < after_m2 {
                "ring crosses itself"
            } else {
                "ring or polygon drawn twice over"
            }
            .into(),
        );
    }
    if faults.is_empty() {
        return None;
    }
    let fault = faults.join(", ");
    let mut finding = Finding::new(
        Severity::LookInto,
        Matter::RingRepaired {
            fault,
            before_m2,
            after_m2,
        },
    );
    place_in(&mut finding, zone);
    finding.weight = (after_m2 - before_m2).abs();
    Some(finding)
}

fn overlap_finding(zone: &DrawnZone, first: &DrawnZone, area_m2: f64) -> Option<Finding> {
    if area_m2 < OVERLAP_NOISE_M2 {
        return None;
    }
    let what = format!(
        "overlaps {}/{} of the same use by {area_m2:.1} m2; the first in the file has that ground",
        first.site, first.zone
    );
    let mut finding = Finding::new(
        Severity::LookInto,
        Matter::SiteRemark {
            what,
            feature: zone.feature,
        },
    );
    place_in(&mut finding, zone);
    finding.weight = area_m2;
    Some(finding)
}

fn too_far(zone: &DrawnZone) -> Finding {
    let what =
        "lies more than 10 km from its site's centre, where areas are no longer true; skipped";
    remark(zone, what)
}

fn remark(zone: &DrawnZone, what: &str) -> Finding {
    let matter = Matter::SiteRemark {
        what: what.to_owned(),
        feature: zone.feature,
    };
    let mut finding = Finding::new(Severity::LookInto, matter);
    place_in(&mut finding, zone);
    finding
}

fn place_in(finding: &mut Finding, zone: &DrawnZone) {
    finding.site = Some(zone.site.clone());
    finding.zone = Some(zone.zone.clone());
    finding.place = zone
        .polygons
        .first()
        .and_then(|rings| rings.first())
        .and_then(|ring| ring.first())
        .copied();
}
