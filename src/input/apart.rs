//! Whether the logs and the sites lie in the same part of the world.
//!
//! Coordinates that were mixed up (latitude for longitude, metres of another zone) still are coordinates, and an
//! audit of them would say "nothing was treated". No log near any site at all is not a night; the places tell why.

use crate::error::Error;
use crate::geometry::place::LonLat;
use crate::input::log::Log;
use crate::input::sites::DrawnZone;
use std::collections::HashSet;

/// Side of the cells that places are sorted into, degrees: 22 km north. A log in the cell of a site's corner, or in
/// one beside it, is near: farther than any lot reaches, nearer than another town's logs (tolerance).
const CELL_DEG: f64 = 0.2;

/// Distances are computed on a sphere of the Earth's mean radius, m: to 0.5 % (arithmetic).
const RADIUS_M: f64 = 6_371_000.0;

/// Within this distance, places that were mixed up count as explained, m (layout).
const EXPLAINED_M: f64 = 100_000.0;

/// A place counts whose degrees fall into a cell; cells wrap at the antimeridian.
fn cell(place: LonLat) -> (i64, i64) {
    (
        (place.lon_deg / CELL_DEG).floor() as i64,
        (place.lat_deg / CELL_DEG).floor() as i64,
    )
}

/// The error of a night none of whose logs comes near any zone; `None` where one does. `epsg` is the system that the
/// sites file was read in, where it is not degrees.
#[must_use]
pub fn check(logs: &[Log], zones: &[DrawnZone], epsg: Option<u32>) -> Option<Error> {
    /// Cells around the Earth (arithmetic).
    const AROUND: i64 = (360.0 / CELL_DEG) as i64;
    let mut near: HashSet<(i64, i64)> = HashSet::new();
    for corner in corners(zones) {
        let (east, north) = cell(corner);
        let around = (-1..=1)
            .flat_map(|x| (-1..=1).map(move |y| ((east + x).rem_euclid(AROUND), north + y)));
        near.extend(around);
    }
    let places = || logs.iter().flat_map(|log| &log.fixes).map(|fix| fix.place);
    let is_near = |place: LonLat| {
        let (east, north) = cell(place);
        near.contains(&(east.rem_euclid(AROUND), north))
    };
    if near.is_empty() || places().any(is_near) {
        return None;
    }
    let (site, log) = (corners(zones).next()?, places().next()?);
    Some(error(site, log, epsg))
}

fn corners(zones: &[DrawnZone]) -> impl Iterator<Item = LonLat> {
    let rings = zones.iter().flat_map(|zone| &zone.polygons).flatten();
    rings.flatten().copied()
}

fn error(site: LonLat, log: LonLat, epsg: Option<u32>) -> Error {
    let swapped = LonLat {
        lon_deg: site.lat_deg,
        lat_deg: site.lon_deg,
    };
    let advice = if swapped.is_valid() && distance_m(swapped, log) < EXPLAINED_M {
        "Longitude and latitude of the sites look swapped: GeoJSON wants longitude first. Export the file again with \
         the axes in that order."
            .to_owned()
    } else {
        other_system(site, log, epsg)
    };
    Error::new(format!(
        "the logs and the sites lie in different places, {:.0} km apart: the first site at {}, the first fix at {}",
        distance_m(site, log) / 1000.0,
        shown(site),
        shown(log)
    ))
    .advice(advice)
}

/// Advice where the axes are not to blame.
fn other_system(site: LonLat, log: LonLat, epsg: Option<u32>) -> String {
    let Some(code) = epsg else {
        return "Check that these logs and these sites belong together. If the sites file is not in longitude and \
                latitude, name its coordinate system with --sites-crs EPSG:n."
            .to_owned();
    };
    let zone = utm(log);
    // The same numbers in the next zone lie as many degrees farther east: at 45 degrees a zone is 470 km wide.
    if is_utm(code) && zone != code && (site.lat_deg - log.lat_deg).abs() < 1.0 {
        return format!(
            "The sites were read in EPSG:{code}, and the logs lie in the zone of EPSG:{zone}: if that is the system of \
             the file, audit with --sites-crs EPSG:{zone}."
        );
    }
    format!(
        "The sites were read in EPSG:{code}. If that is not the system of the file, name the right one with \
         --sites-crs EPSG:n; else check that these logs and these sites belong together."
    )
}

/// Codes of UTM on WGS 84, north and south (EPSG registry).
fn is_utm(code: u32) -> bool {
    (32_601..=32_660).contains(&code) || (32_701..=32_760).contains(&code)
}

/// The EPSG code of the UTM zone on WGS 84 in which a place lies, exceptions of Norway and Svalbard left out.
fn utm(place: LonLat) -> u32 {
    let zone = (((place.lon_deg + 180.0) / 6.0).floor() as u32).min(59) + 1;
    if place.lat_deg < 0.0 {
        32_700 + zone
    } else {
        32_600 + zone
    }
}

fn shown(place: LonLat) -> String {
    let (north, east) = (place.lat_deg, place.lon_deg);
    let side = |degrees: f64, plus: &str, minus: &str| {
        format!(
            "{:.3} {}",
            degrees.abs(),
            if degrees < 0.0 { minus } else { plus }
        )
    };
    format!("{}, {}", side(north, "N", "S"), side(east, "E", "W"))
}

/// Great-circle distance (haversine).
fn distance_m(a: LonLat, b: LonLat) -> f64 {
    let half = |degrees: f64| (degrees.to_radians() / 2.0).sin().powi(2);
    let h = half(b.lat_deg - a.lat_deg)
        + a.lat_deg.to_radians().cos() * b.lat_deg.to_radians().cos() * half(b.lon_deg - a.lon_deg);
    2.0 * RADIUS_M * h.min(1.0).sqrt().asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon_deg: f64, lat_deg: f64) -> LonLat {
        LonLat { lon_deg, lat_deg }
    }

    #[test]
    fn distances_are_those_of_a_sphere() {
        // A quarter of the way around the Earth.
        let quarter_m = RADIUS_M * std::f64::consts::FRAC_PI_2;
        assert!((distance_m(at(-30.0, 0.0), at(60.0, 0.0)) - quarter_m).abs() < 1.0);
        assert!((distance_m(at(0.0, 0.0), at(0.0, 90.0)) - quarter_m).abs() < 1.0);
    }

    #[test]
    fn the_zone_of_a_place_is_that_of_its_six_degrees() {
        // 30 W lies on the border of the zones 25 and 26; 27 W is the central meridian of zone 26.
        assert_eq!(utm(at(-27.0, 45.0)), 32_626);
        assert_eq!(utm(at(-27.0, -45.0)), 32_726);
        assert_eq!(utm(at(180.0, 1.0)), 32_660);
    }

    #[test]
    fn swapped_axes_and_another_zone_are_told_by_the_places() {
        let swapped = error(at(45.0, -30.0), at(-30.0, 45.0), None).to_string();
        assert!(
            swapped.contains("look swapped") && swapped.contains("45.000 N, 30.000 W"),
            "{swapped}"
        );
        let zone = error(at(-33.0, 45.0), at(-27.0, 45.0), Some(32_625)).to_string();
        assert!(zone.contains("--sites-crs EPSG:32626"), "{zone}");
        let none = error(at(10.0, 45.0), at(-30.0, 45.0), None).to_string();
        assert!(none.contains("--sites-crs"), "{none}");
    }
}
