//! Degrees to local metres and back: a plane of its own for each site.
//!
//! Base module. A plane is a transverse Mercator (PROJ `tmerc`, WGS 84, scale 1) centred on the
//! site, so that lengths on it are true to 1e-8 at 1 km and 3e-7 at 5 km from the central meridian, areas
//! to twice that (scale 1 + x^2 / 2R^2, Snyder equation 8-11), then turned
//! so that the site's long edge lies along x: the overlay engine and the dose grid are fastest, and
//! most exact, when most edges run along an axis. A turn changes no area.
//!
//! References: PROJ 9.6 documentation, operation `tmerc` (Poder/Engsager algorithm); for the
//! meridian convergence to first order, J. P. Snyder, *Map Projections: A Working Manual*, USGS
//! Professional Paper 1395 (1987), section 8.

mod degrees;

pub(crate) use degrees::Degrees;

use crate::error::{Error, Result};
use crate::geometry::place::{LonLat, east_deg};
use proj::Proj;

/// A point on a plane, metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Xy {
    /// Along the site's long edge (east when the plane is not turned), m.
    pub x_m: f64,
    /// A quarter turn counter-clockwise from x, m.
    pub y_m: f64,
}

impl Xy {
    /// A point from its coordinates in metres.
    #[must_use]
    pub fn new(x_m: f64, y_m: f64) -> Self {
        Self { x_m, y_m }
    }

    /// The vector from `from` to `self`.
    #[must_use]
    pub fn minus(self, from: Self) -> Self {
        Self::new(self.x_m - from.x_m, self.y_m - from.y_m)
    }

    /// `self` moved by `vector` times `factor`.
    #[must_use]
    pub fn plus(self, vector: Self, factor: f64) -> Self {
        // Not `mul_add`: without that instruction in the target it is a call, and this is called most.
        Self::new(
            self.x_m + vector.x_m * factor,
            self.y_m + vector.y_m * factor,
        )
    }

    /// z component of the cross product, m2: positive when `other` lies counter-clockwise of `self`.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.x_m * other.y_m - self.y_m * other.x_m
    }

    /// Dot product, m2.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x_m * other.x_m + self.y_m * other.y_m
    }

    /// Length of the vector, m.
    #[must_use]
    pub fn length_m(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// The unit vector at this angle, counter-clockwise from x.
    #[must_use]
    pub fn at_angle(angle_rad: f64) -> Self {
        let (sin, cos) = angle_rad.sin_cos();
        Self::new(cos, sin)
    }
}

/// Length of a step of so much east and north, m. Not `hypot`: that takes five times as long for the sake of lengths
/// that no rig drives.
pub(crate) fn length_m(east_m: f64, north_m: f64) -> f64 {
    (east_m * east_m + north_m * north_m).sqrt()
}

/// Signed area of a ring, m2, positive when counter-clockwise.
/// The ring may or may not repeat its first point.
#[must_use]
pub fn signed_area_m2(ring: &[Xy]) -> f64 {
    let Some(&first) = ring.first() else {
        return 0.0;
    };
    // Relative to the first point, so that the cancellation is that of the ring's size, not of its place.
    let doubled: f64 = ring
        .windows(2)
        .map(|pair| pair[0].minus(first).cross(pair[1].minus(first)))
        .sum();
    doubled / 2.0
}

/// Distances from the centre beyond this are refused: areas there are off by 2.5e-6, and no client property is that
/// long (limit).
pub const GREATEST_DISTANCE_M: f64 = 10_000.0;

thread_local! {
    /// The projection of this thread, on the meridian and the equator of 0. PROJ's objects stay in their
    /// thread, and making one opens its database, which takes milliseconds: one serves all sites.
    static TMERC: Option<Proj> = Proj::new("+proj=tmerc +lat_0=0 +lon_0=0 +k=1 +ellps=WGS84 +units=m").ok();
}

/// East and north on the meridian of `origin_lon_deg`, north from the equator, m.
fn project(place: LonLat, origin_lon_deg: f64) -> Option<(f64, f64)> {
    let radians = (
        (place.lon_deg - origin_lon_deg).to_radians(),
        place.lat_deg.to_radians(),
    );
    TMERC.with(|tmerc| tmerc.as_ref()?.project(radians, false).ok())
}

/// The plane of one site.
#[derive(Debug, Clone, Copy)]
pub struct Plane {
    origin: LonLat,
    /// Of the centre, from the equator, m. A transverse Mercator at another latitude of origin differs by
    /// just this; taking it off leaves 1e-9 m of rounding.
    origin_north_m: f64,
    turn_rad: f64,
    cos: f64,
    sin: f64,
}

impl Plane {
    /// A plane centred on `origin`, x to the east.
    ///
    /// # Errors
    /// When the origin is not a position, or PROJ refuses it.
    pub fn new(origin: LonLat) -> Result<Self> {
        if !origin.is_valid() {
            return Err(Error::new("a site's centre is not a position on the earth"));
        }
        let (_, origin_north_m) = project(origin, origin.lon_deg)
            .ok_or_else(|| Error::new(format!("PROJ cannot make a plane at {origin:?}")))?;
        Ok(Self {
            origin,
            origin_north_m,
            turn_rad: 0.0,
            cos: 1.0,
            sin: 0.0,
        })
    }

    /// The same plane with its x axis turned counter-clockwise from east.
    #[must_use]
    pub fn turned(mut self, turn_rad: f64) -> Self {
        self.turn_rad = turn_rad;
        (self.sin, self.cos) = turn_rad.sin_cos();
        self
    }

    /// Where the plane's centre is.
    #[must_use]
    pub fn origin(&self) -> LonLat {
        self.origin
    }

    /// Direction of the x axis, counter-clockwise from east.
    #[must_use]
    pub fn turn_rad(&self) -> f64 {
        self.turn_rad
    }

    /// Metres from degrees; `None` where PROJ has no answer or the point is more than
    /// [`GREATEST_DISTANCE_M`] from the centre.
    #[must_use]
    pub fn to_xy(&self, place: LonLat) -> Option<Xy> {
        let (east_m, north_m) = project(place, self.origin.lon_deg)?;
        let north_m = north_m - self.origin_north_m;
        let xy = Xy::new(
            east_m * self.cos + north_m * self.sin,
            north_m * self.cos - east_m * self.sin,
        );
        // NaN fails the comparison too.
        (xy.length_m() <= GREATEST_DISTANCE_M).then_some(xy)
    }

    /// Degrees from metres; longitude from -180 to 180. A point that PROJ cannot bring back gives the
    /// centre; it cannot come from [`Plane::to_xy`].
    #[must_use]
    pub fn to_lon_lat(&self, xy: Xy) -> LonLat {
        let (east_m, north_m) = self.east_north_m(xy);
        let north_m = north_m + self.origin_north_m;
        let back: Option<(f64, f64)> =
            TMERC.with(|tmerc| tmerc.as_ref()?.project((east_m, north_m), true).ok());
        back.map_or(self.origin, |(lon_rad, lat_rad)| LonLat {
            lon_deg: wrapped_deg(lon_rad.to_degrees() + self.origin.lon_deg),
            lat_deg: lat_rad.to_degrees(),
        })
    }

    /// East and north of the centre, m.
    fn east_north_m(&self, xy: Xy) -> (f64, f64) {
        (
            xy.x_m * self.cos - xy.y_m * self.sin,
            xy.y_m * self.cos + xy.x_m * self.sin,
        )
    }

    /// What to add to an angle counter-clockwise from true east, at `place`, to get the angle
    /// counter-clockwise from this plane's x. Meridian convergence to first order (off by less than
    /// 1e-8 rad within 10 km) less the turn.
    #[must_use]
    pub fn angle_offset_rad(&self, place: LonLat) -> f64 {
        let east_deg = east_deg(self.origin.lon_deg, place.lon_deg);
        east_deg.to_radians() * place.lat_deg.to_radians().sin() - self.turn_rad
    }
}

/// A longitude from -180 to 180, of one that is less than a turn off.
fn wrapped_deg(lon_deg: f64) -> f64 {
    if lon_deg.abs() > 180.0 {
        lon_deg - 360.0 * lon_deg.signum()
    } else {
        lon_deg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon_deg: f64, lat_deg: f64) -> LonLat {
        LonLat { lon_deg, lat_deg }
    }

    /// GeographicLib 2.1 (geodesic inverse): (44.98,-33.27)-(44.98,-33.266) is
    /// 315.497042 m, (44.98,-33.27)-(44.983,-33.27) is 333.394248 m.
    #[test]
    fn distances_are_those_of_geographiclib() {
        let plane = Plane::new(at(-33.268, 44.981)).unwrap().turned(0.7);
        let corner = plane.to_xy(at(-33.27, 44.98)).unwrap();
        let east = plane.to_xy(at(-33.266, 44.98)).unwrap();
        let north = plane.to_xy(at(-33.27, 44.983)).unwrap();
        assert!((east.minus(corner).length_m() - 315.497_042).abs() < 1e-5);
        assert!((north.minus(corner).length_m() - 333.394_248).abs() < 1e-5);
    }

    #[test]
    fn there_and_back_is_the_same_place() {
        let plane = Plane::new(at(-30.0, 45.0)).unwrap().turned(-1.1);
        let place = at(-30.003, 45.002);
        let back = plane.to_lon_lat(plane.to_xy(place).unwrap());
        assert!(
            (back.lon_deg - place.lon_deg).abs() < 1e-11
                && (back.lat_deg - place.lat_deg).abs() < 1e-11
        );
    }

    /// The angle of a short step east, seen on the plane, is the offset itself.
    #[test]
    fn angle_offset_is_where_east_points() {
        let plane = Plane::new(at(-30.0, 45.0)).unwrap().turned(0.4);
        let (a, b) = (at(-29.97, 45.01), at(-29.97 + 1e-6, 45.01));
        let step = plane.to_xy(b).unwrap().minus(plane.to_xy(a).unwrap());
        let seen_rad = step.y_m.atan2(step.x_m);
        assert!(
            (seen_rad - plane.angle_offset_rad(a)).abs() < 1e-6,
            "{seen_rad}"
        );
    }

    #[test]
    fn far_and_impossible_places_have_no_coordinates() {
        let plane = Plane::new(at(-30.0, 45.0)).unwrap();
        assert!(plane.to_xy(at(60.0, -45.0)).is_none());
        assert!(plane.to_xy(at(f64::NAN, 45.0)).is_none());
        assert!(Plane::new(at(0.0, 91.0)).is_err());
    }
}
