//! The ground of a night's sites in degrees, made when the maps are written; what crosses the antimeridian is cut there, as RFC 7946 (section
//! 3.1.9) asks: an uncut ring would run round the globe on every map.

use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::{Degrees, GREATEST_DISTANCE_M, Plane, Xy};
use crate::ground::Site;
use crate::input::sites::LandUse;
use crate::result;
use crate::site::outcome::{Outcome, ZoneOutcome};
use geo::{InteriorPoint, MultiPolygon};
use rayon::prelude::*;

/// Least length of a degree of longitude on the equator, m: a plane farther than its reach from the antimeridian need
/// not look for it (arithmetic).
const SHORTEST_DEGREE_M: f64 = 111_300.0;
/// Half the latitude over which the antimeridian is drawn, degrees: more than a plane's reach (limit).
const HALF_HEIGHT_DEG: f64 = 0.1;
/// Pieces that the antimeridian is drawn in: 56 m each, straight to far below the overlay's grid (tolerance).
const PIECES: u32 = 400;

/// A site's polygons, lon/lat degrees.
#[derive(Debug, Clone)]
pub struct EarthShapes {
    /// Of each zone: its ground.
    pub ground: Vec<MultiPolygon<f64>>,
    /// Of each application: of each of its zones.
    pub applications: Vec<Vec<ZoneShapes>>,
    /// Keep-off ground that rigs sprayed.
    pub keep_off: Vec<WetKeepOff>,
}

/// Keep-off ground that one rig sprayed, as far as it is sure.
#[derive(Debug, Clone)]
pub struct WetKeepOff {
    /// Index of the zone.
    pub zone: usize,
    /// Index of the run.
    pub run: usize,
    /// Its area, m2.
    pub area_m2: f64,
    /// Liquid on the whole zone, L.
    pub volume_l: Option<f64>,
    /// The ground.
    pub ground: MultiPolygon<f64>,
}

/// What became of one zone in one application, where areas can be told.
#[derive(Debug, Clone)]
pub struct ZoneShapes {
    /// Treated.
    pub treated: MultiPolygon<f64>,
    /// Gap.
    pub gap: MultiPolygon<f64>,
    /// Overlap.
    pub overlap: MultiPolygon<f64>,
    /// Unlogged.
    pub unlogged: MultiPolygon<f64>,
    /// Patches, greatest first.
    pub patches: Vec<MultiPolygon<f64>>,
}

impl Default for ZoneShapes {
    fn default() -> Self {
        // `geo` gives its MultiPolygon no default.
        let none = || MultiPolygon::new(Vec::new());
        Self {
            treated: none(),
            gap: none(),
            overlap: none(),
            unlogged: none(),
            patches: Vec::new(),
        }
    }
}

/// A point in the first yard of the sites file: rigs start there.
#[must_use]
pub fn yard(sites: &[result::Site], shapes: &[EarthShapes]) -> Option<LonLat> {
    let sites = sites.iter().zip(shapes);
    let mut grounds = sites.flat_map(|(site, shapes)| site.ground.iter().zip(&shapes.ground));
    let (_, shape) = grounds.find(|(ground, _)| ground.land_use == LandUse::Yard)?;
    let point = shape.interior_point()?;
    Some(LonLat {
        lon_deg: point.x(),
        lat_deg: point.y(),
    })
}

/// The shapes of all sites.
#[must_use]
pub fn shapes(sites: &[Site], outcomes: &[Outcome]) -> Vec<EarthShapes> {
    let of_site = |(site, outcome): (&Site, &Outcome)| {
        let ground = site
            .zones
            .iter()
            .map(|zone| on_earth(&zone.region, &site.plane));
        let zones = |zones: &[ZoneOutcome]| {
            let shapes = zones.iter().map(|zone| of_zone(zone, &site.plane));
            shapes.collect()
        };
        let applications = outcome.applications.iter();
        EarthShapes {
            ground: ground.collect(),
            applications: applications.map(|app| zones(&app.zones)).collect(),
            keep_off: outcome
                .keep_off
                .iter()
                .map(|fact| WetKeepOff {
                    zone: fact.zone,
                    run: outcome.legs[fact.leg].run,
                    area_m2: fact.area_m2,
                    volume_l: fact.volume_l,
                    ground: on_earth(&fact.region, &site.plane),
                })
                .collect(),
        }
    };
    sites.par_iter().zip(outcomes).map(of_site).collect()
}

fn of_zone(zone: &ZoneOutcome, plane: &Plane) -> ZoneShapes {
    if zone.areas.is_none() {
        return ZoneShapes::default();
    }
    let cover = &zone.cover;
    let patches = cover.patches.iter();
    ZoneShapes {
        treated: on_earth(&cover.treated, plane),
        gap: on_earth(&cover.gap, plane),
        overlap: on_earth(&cover.overlap, plane),
        unlogged: on_earth(&cover.unlogged, plane),
        patches: patches
            .map(|patch| on_earth(&patch.region, plane))
            .collect(),
    }
}

/// A region in degrees.
pub(crate) fn on_earth(region: &Region, plane: &Plane) -> MultiPolygon<f64> {
    let side = plane.origin().lon_deg.signum();
    let Some(beyond) = beyond(plane, side) else {
        return in_degrees(region, plane, None);
    };
    let mut cut = in_degrees(&region.difference(&beyond), plane, Some(side));
    cut.0.extend(in_degrees(
        &region.intersection(&beyond),
        plane,
        Some(-side),
    ));
    cut
}

/// A region's polygons in the coordinates that `coord` gives.
fn polygons(region: &Region, coord: impl Fn(Xy) -> geo::Coord<f64>) -> MultiPolygon<f64> {
    let line = |ring: &Vec<Xy>| geo::LineString::from_iter(ring.iter().map(|&point| coord(point)));
    let polygon = |shape: &Vec<Vec<Xy>>| {
        let (outer, holes) = shape.split_first()?;
        Some(geo::Polygon::new(
            line(outer),
            holes.iter().map(line).collect(),
        ))
    };
    MultiPolygon(region.shapes().iter().filter_map(polygon).collect())
}

/// `side` is the sign of all longitudes; a point on the cut comes back from PROJ with either.
fn in_degrees(region: &Region, plane: &Plane, side: Option<f64>) -> MultiPolygon<f64> {
    let degrees = Degrees::of(plane);
    polygons(region, |point| {
        let LonLat { lon_deg, lat_deg } = degrees.at(point);
        let x = match side {
            Some(side) if lon_deg * side < 0.0 => side * 180.0,
            Some(_) => lon_deg.clamp(-180.0, 180.0),
            None => lon_deg,
        };
        geo::Coord { x, y: lat_deg }
    })
}

/// The ground across the antimeridian, as far as the plane reaches; `None` where it does not reach it.
fn beyond(plane: &Plane, side: f64) -> Option<Region> {
    let origin = plane.origin();
    let away_deg = (180.0 - origin.lon_deg.abs()) * origin.lat_deg.to_radians().cos();
    if away_deg * SHORTEST_DEGREE_M > GREATEST_DISTANCE_M {
        return None;
    }
    let at = |lon_deg: f64, lat_deg: f64| plane.to_xy(LonLat { lon_deg, lat_deg });
    let lat_deg = |i: u32| {
        let north_deg = HALF_HEIGHT_DEG * (2.0 * f64::from(i) / f64::from(PIECES) - 1.0);
        (origin.lat_deg + north_deg).clamp(-90.0, 90.0)
    };
    let line: Vec<Xy> = (0..=PIECES)
        .filter_map(|i| at(side * 180.0, lat_deg(i)))
        .collect();
    let (first, last) = (*line.first()?, *line.last()?);
    let along = last.minus(first);
    if along.length_m() <= 0.0 {
        return None;
    }
    // Across the line, away from the plane's centre, to beyond its reach.
    let across = Xy::new(along.y_m, -along.x_m);
    let outward = if across.dot(first) < 0.0 { -1.0 } else { 1.0 };
    let factor = outward * 3.0 * GREATEST_DISTANCE_M / along.length_m();
    let mut ring = line;
    ring.push(last.plus(across, factor));
    ring.push(first.plus(across, factor));
    ring.push(first);
    Some(Region::inside_any([ring.as_slice()]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 400 m around the origin of a plane 100 m west of the antimeridian, on the
    /// equator, where a degree of longitude has 111.32 km (a = 6,378,137 m).
    #[test]
    fn ground_across_the_antimeridian_is_cut_there() {
        let origin = LonLat {
            lon_deg: 180.0 - 100.0 / 111_319.49,
            lat_deg: 0.0,
        };
        let plane = Plane::new(origin).unwrap().turned(0.8);
        let corner = |east_m: f64, north_m: f64| {
            let (sin, cos) = 0.8_f64.sin_cos();
            Xy::new(east_m * cos + north_m * sin, north_m * cos - east_m * sin)
        };
        let square = [
            corner(-200.0, -200.0),
            corner(200.0, -200.0),
            corner(200.0, 200.0),
            corner(-200.0, 200.0),
        ];
        let region = Region::inside_any([square.as_slice()]);
        let beyond = beyond(&plane, 1.0).unwrap();
        assert!((region.intersection(&beyond).area_m2() - 100.0 * 400.0).abs() < 1.0);
        let cut = on_earth(&region, &plane);
        assert_eq!(cut.0.len(), 2);
        for polygon in &cut.0 {
            let lons: Vec<f64> = polygon.exterior().points().map(|point| point.x()).collect();
            let side = lons[0].signum();
            assert!(
                lons.iter()
                    .all(|lon| lon * side > 179.9 && lon * side <= 180.0),
                "{lons:?}"
            );
        }
    }

    #[test]
    fn a_plane_elsewhere_has_nothing_to_cut() {
        let plane = Plane::new(LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        })
        .unwrap();
        assert!(beyond(&plane, -1.0).is_none());
    }
}
