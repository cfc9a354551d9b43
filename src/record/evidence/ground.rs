//! `ground.json`: a site's plane and its zones, as drawn and as divided.

use super::{Evidence, Fault, Polygons, fault, pretty};
use crate::geometry::bounds::Bounds;
use crate::geometry::overlay::Region;
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::{GREATEST_DISTANCE_M, Plane, Xy, signed_area_m2};
use crate::ground::{Site, Zone, crowd};
use crate::input::sites::{LandUse, Method};
use serde::{Deserialize, Serialize};

const FILE: &str = "ground.json";

/// Most zones of a site (limit).
const MOST_ZONES: usize = 10_000;
/// Most corners of a site's ground (limit).
const MOST_CORNERS: usize = 2_000_000;
/// Ground on which two zones or rings may lie over each other, m2: touching lines round on the grid (tolerance).
const MOST_SHARED_M2: f64 = 1e-3;

/// Shapes in metres on the plane: of each the outer ring, counter-clockwise, then its holes.
type Shapes = Vec<Vec<Vec<(f64, f64)>>>;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct GroundFile {
    site: String,
    name: Option<String>,
    client: Option<String>,
    plane: PlaneFile,
    zones: Vec<ZoneFile>,
    /// Blocked ground of another time that no zone has.
    lifted: Shapes,
}

/// Transverse Mercator on WGS 84, scale 1, centred here, then turned.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlaneFile {
    origin: LonLat,
    turn_rad: f64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ZoneFile {
    zone: String,
    #[serde(rename = "use")]
    land_use: LandUse,
    method: Method,
    target_ml_m2: Option<f64>,
    area_drawn_m2: f64,
    excluded_m2: f64,
    from: Option<Instant>,
    until: Option<Instant>,
    reason: Option<String>,
    properties: serde_json::Map<String, serde_json::Value>,
    drawn: Vec<Vec<Vec<(f64, f64)>>>,
    divided: Shapes,
}

pub(super) fn write(evidence: &Evidence) -> Vec<u8> {
    let site = &evidence.site;
    let zones = site.zones.iter().zip(&evidence.drawn);
    pretty(&GroundFile {
        site: site.id.clone(),
        name: site.name.clone(),
        client: site.client.clone(),
        plane: PlaneFile {
            origin: site.plane.origin(),
            turn_rad: site.plane.turn_rad(),
        },
        zones: zones.map(|(zone, drawn)| zone_file(zone, drawn)).collect(),
        lifted: shapes_of(&site.lifted),
    })
}

fn zone_file(zone: &Zone, drawn: &Polygons) -> ZoneFile {
    let ring = |ring: &Vec<LonLat>| ring.iter().map(|at| (at.lon_deg, at.lat_deg)).collect();
    ZoneFile {
        zone: zone.id.clone(),
        land_use: zone.land_use,
        method: zone.method,
        target_ml_m2: zone.target_ml_m2,
        area_drawn_m2: zone.area_drawn_m2,
        excluded_m2: zone.excluded_m2,
        from: zone.blocked_from,
        until: zone.blocked_until,
        reason: zone.reason.clone(),
        properties: zone.others.clone(),
        drawn: drawn
            .iter()
            .map(|polygon| polygon.iter().map(ring).collect())
            .collect(),
        divided: shapes_of(&zone.region),
    }
}

fn shapes_of(region: &Region) -> Shapes {
    let ring = |ring: Vec<Xy>| ring.iter().map(|at| (at.x_m, at.y_m)).collect();
    let shapes = region.shapes().into_iter();
    shapes
        .map(|shape| shape.into_iter().map(ring).collect())
        .collect()
}

pub(super) fn read(bytes: &[u8]) -> Result<(Site, Vec<Polygons>), Fault> {
    let file: GroundFile =
        serde_json::from_slice(bytes).map_err(|error| fault(FILE, error.to_string()))?;
    if file.zones.len() > MOST_ZONES {
        return Err(fault(FILE, format!("more than {MOST_ZONES} zones")));
    }
    let turn_rad = file.plane.turn_rad;
    if !(turn_rad.is_finite() && turn_rad.abs() < 10.0) {
        return Err(fault(FILE, "the plane's turn is not an angle"));
    }
    let plane = Plane::new(file.plane.origin).map_err(|error| fault(FILE, error.message))?;
    check_crossings(&file)?;
    let mut corners = Corners { left: MOST_CORNERS };
    let lifted = corners.region(&file.lifted)?;
    let (mut zones, mut drawn) = (Vec::new(), Vec::new());
    for zone in file.zones {
        drawn.push(corners.polygons(&zone.drawn)?);
        zones.push(zone_of(zone, &mut corners)?);
    }
    check_apart(&zones)?;
    let places = drawn.iter().flatten().flatten().flatten().copied();
    let bounds = Bounds::of(places).ok_or_else(|| fault(FILE, "no zone has a place"))?;
    let site = Site {
        id: file.site,
        name: file.name,
        client: file.client,
        plane: plane.turned(turn_rad),
        bounds,
        zones,
        neighbours: Vec::new(),
        lifted,
    };
    Ok((site, drawn))
}

fn zone_of(zone: ZoneFile, corners: &mut Corners) -> Result<Zone, Fault> {
    let areas = [zone.area_drawn_m2, zone.excluded_m2];
    let is_area = |m2: &f64| (0.0..=1e9).contains(m2);
    let target = zone.target_ml_m2.unwrap_or(1.0);
    if !(areas.iter().all(is_area) && target > 0.0 && target < 1e6) {
        let what = format!("a figure of zone {:?} is out of range", zone.zone);
        return Err(fault(FILE, what));
    }
    Ok(Zone {
        region: corners.region(&zone.divided)?,
        id: zone.zone,
        feature: 0,
        land_use: zone.land_use,
        method: zone.method,
        target_ml_m2: zone.target_ml_m2,
        priority: 1.0,
        area_drawn_m2: zone.area_drawn_m2,
        excluded_m2: zone.excluded_m2,
        blocked_from: zone.from,
        blocked_until: zone.until,
        reason: zone.reason,
        others: zone.properties,
    })
}

/// Reads rings, as many corners as it may.
struct Corners {
    left: usize,
}

impl Corners {
    fn take(&mut self, count: usize) -> Result<(), Fault> {
        let left = self.left.checked_sub(count);
        self.left = left.ok_or_else(|| fault(FILE, format!("more than {MOST_CORNERS} corners")))?;
        Ok(())
    }

    fn polygons(&mut self, file: &[Vec<Vec<(f64, f64)>>]) -> Result<Polygons, Fault> {
        let rings = file.iter().flatten();
        self.take(rings.clone().map(Vec::len).sum())?;
        let place = |&(lon_deg, lat_deg): &(f64, f64)| LonLat { lon_deg, lat_deg };
        if !rings.flatten().all(|corner| place(corner).is_valid()) {
            return Err(fault(FILE, "a drawn corner is not a position"));
        }
        let is_closed = |ring: &Vec<(f64, f64)>| ring.len() >= 4 && ring.first() == ring.last();
        if !file.iter().flatten().all(is_closed) {
            return Err(fault(FILE, "a drawn ring is not closed"));
        }
        let is_closed = |ring: &Vec<(f64, f64)>| ring.len() >= 4 && ring.first() == ring.last();
        if !file.iter().flatten().all(is_closed) {
            return Err(fault(FILE, "a drawn ring is not closed"));
        }
        let ring = |ring: &Vec<(f64, f64)>| ring.iter().map(place).collect();
        let polygons = file.iter();
        Ok(polygons
            .map(|polygon| polygon.iter().map(ring).collect())
            .collect())
    }

    /// A region of shapes that are one: counter-clockwise outlines with clockwise holes, none over another.
    fn region(&mut self, file: &Shapes) -> Result<Region, Fault> {
        let rings = file.iter().flatten();
        self.take(rings.clone().map(Vec::len).sum())?;
        // NaN is within nothing.
        let within = |m: f64| m.abs() <= 2.0 * GREATEST_DISTANCE_M;
        let mut corners = rings.clone().flatten();
        if !corners.all(|&(x_m, y_m)| within(x_m) && within(y_m)) {
            return Err(fault(FILE, "a corner lies too far from the plane's centre"));
        }
        let ring = |ring: &Vec<(f64, f64)>| ring.iter().map(|&(x, y)| Xy::new(x, y)).collect();
        let shapes: Vec<Vec<Vec<Xy>>> = file
            .iter()
            .map(|shape| shape.iter().map(ring).collect())
            .collect();
        let wound = |shape: &Vec<Vec<Xy>>| {
            let mut areas = shape.iter().map(|ring| signed_area_m2(ring)).enumerate();
            !shape.is_empty() && areas.all(|(k, m2)| if k == 0 { m2 > 0.0 } else { m2 < 0.0 })
        };
        if !shapes.iter().all(wound) {
            return Err(fault(FILE, "a ring is empty or runs the wrong way round"));
        }
        let region = Region::of_shapes(&shapes);
        // Rings that cross or lie over each other enclose another area once that is resolved.
        let resolved = Region::union_of_positive(shapes.iter().flatten().map(Vec::as_slice));
        if (resolved.area_m2() - region.area_m2()).abs() > MOST_SHARED_M2 {
            return Err(fault(FILE, "rings cross or lie over each other"));
        }
        Ok(region)
    }
}

/// Rings cross each other no more often than a sites file's may: thousands laid across each other would take hours. Of
/// each kind all rings of the file are one group.
fn check_crossings(file: &GroundFile) -> Result<(), Fault> {
    let closed = |ring: &Vec<(f64, f64)>| {
        let corners = ring.iter().chain(ring.first());
        corners.map(|&(x, y)| [x, y]).collect::<Vec<_>>()
    };
    let shapes = file.zones.iter().map(|zone| &zone.divided);
    let divided = shapes.chain([&file.lifted]).flatten().flatten();
    let drawn = file.zones.iter().flat_map(|zone| &zone.drawn).flatten();
    let rings = drawn
        .map(|ring| (0, closed(ring)))
        .chain(divided.map(|ring| (1, closed(ring))));
    if crowd::crossing(rings).is_some() {
        let most = crowd::MOST_CROSSINGS;
        return Err(fault(
            FILE,
            format!("its rings cross more than {most} times"),
        ));
    }
    Ok(())
}

/// No spot has two zones.
fn check_apart(zones: &[Zone]) -> Result<(), Fault> {
    let all = Region::union_of(zones.iter().map(|zone| &zone.region));
    let sum_m2: f64 = zones.iter().map(|zone| zone.region.area_m2()).sum();
    if (sum_m2 - all.area_m2()).abs() > MOST_SHARED_M2 * (1.0 + zones.len() as f64) {
        return Err(fault(FILE, "zones lie over each other"));
    }
    Ok(())
}
