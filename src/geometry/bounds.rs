//! Boxes in degrees, and an index of them.
//!
//! Base module: ground and nearness are looked for by box before anything is projected.

use crate::geometry::place::LonLat;
use rstar::{AABB, RTreeObject};

/// A box in degrees. West may be under -180 or east over 180 where ground crosses the antimeridian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least longitude.
    pub west_deg: f64,
    /// Least latitude.
    pub south_deg: f64,
    /// Greatest longitude.
    pub east_deg: f64,
    /// Greatest latitude.
    pub north_deg: f64,
}

impl Bounds {
    /// Bounds of some places; longitudes are taken on the side of the first.
    #[must_use]
    pub fn of(places: impl Iterator<Item = LonLat>) -> Option<Self> {
        let mut bounds: Option<Self> = None;
        for place in places {
            let west_deg =
                bounds.map_or(place.lon_deg, |known| near(known.west_deg, place.lon_deg));
            let known = bounds.get_or_insert(Self {
                west_deg,
                south_deg: place.lat_deg,
                east_deg: west_deg,
                north_deg: place.lat_deg,
            });
            known.west_deg = known.west_deg.min(west_deg);
            known.east_deg = known.east_deg.max(west_deg);
            known.south_deg = known.south_deg.min(place.lat_deg);
            known.north_deg = known.north_deg.max(place.lat_deg);
        }
        bounds
    }

    /// The box grown by a distance on every side.
    #[must_use]
    pub fn grown(self, distance_m: f64) -> Self {
        // No degree of latitude is shorter than 110.5 km: the box is never too small.
        let lat_deg = distance_m / 110_500.0;
        let widest_lat_deg = self.north_deg.abs().max(self.south_deg.abs()) + lat_deg;
        let half_round_deg = (180.0 - (self.east_deg - self.west_deg) / 2.0).max(0.0);
        // Around a pole every meridian is near.
        let lon_deg = if widest_lat_deg < 90.0 {
            (lat_deg / widest_lat_deg.to_radians().cos()).min(half_round_deg)
        } else {
            half_round_deg
        };
        Self {
            west_deg: self.west_deg - lon_deg,
            south_deg: self.south_deg - lat_deg,
            east_deg: self.east_deg + lon_deg,
            north_deg: self.north_deg + lat_deg,
        }
    }

    /// Whether its diagonal is at most this long, m. Degrees are taken at their longest, so a box that passes is no
    /// longer than that.
    #[must_use]
    pub fn fits(self, diagonal_m: f64) -> bool {
        /// Longest degree, m: of latitude at the poles is 111,694 m, from the ellipsoid (arithmetic).
        const LONGEST_DEGREE_M: f64 = 111_700.0;
        let (south, north) = (self.south_deg, self.north_deg);
        let least_lat_deg = if south <= 0.0 && north >= 0.0 {
            0.0
        } else {
            south.abs().min(north.abs())
        };
        let east_m = (self.east_deg - self.west_deg) * least_lat_deg.to_radians().cos();
        (north - south).hypot(east_m) * LONGEST_DEGREE_M <= diagonal_m
    }

    /// Its south-west and north-east corners.
    #[must_use]
    pub fn corners(self) -> [LonLat; 2] {
        [
            (self.west_deg, self.south_deg),
            (self.east_deg, self.north_deg),
        ]
        .map(|(lon_deg, lat_deg)| LonLat { lon_deg, lat_deg })
    }

    /// Its middle, longitude from -180 to 180.
    #[must_use]
    pub fn middle(self) -> LonLat {
        let lon_deg = f64::midpoint(self.west_deg, self.east_deg);
        LonLat {
            lon_deg: near(0.0, lon_deg),
            lat_deg: f64::midpoint(self.south_deg, self.north_deg),
        }
    }

    /// The boxes to search for a place of -180 to 180 degrees: the box, and its copy on the other
    /// side of the antimeridian.
    #[must_use]
    pub fn boxes(self) -> Vec<AABB<[f64; 2]>> {
        [-360.0, 0.0, 360.0]
            .into_iter()
            .filter(|shift| self.west_deg + shift <= 180.0 && self.east_deg + shift >= -180.0)
            .map(|shift| {
                AABB::from_corners(
                    [self.west_deg + shift, self.south_deg],
                    [self.east_deg + shift, self.north_deg],
                )
            })
            .collect()
    }
}

/// `lon_deg` moved by whole turns to within 180 degrees of `around_deg`.
fn near(around_deg: f64, lon_deg: f64) -> f64 {
    around_deg + (lon_deg - around_deg + 540.0).rem_euclid(360.0) - 180.0
}

/// An indexed box: of a drawn zone, or of a site.
#[derive(Debug)]
pub struct Boxed {
    /// Index of what the box is of.
    pub index: usize,
    envelope: AABB<[f64; 2]>,
}

impl Boxed {
    /// All boxes of one thing.
    #[must_use]
    pub fn all(index: usize, bounds: Bounds) -> Vec<Self> {
        bounds
            .boxes()
            .into_iter()
            .map(|envelope| Self { index, envelope })
            .collect()
    }
}

impl RTreeObject for Boxed {
    type Envelope = AABB<[f64; 2]>;
    fn envelope(&self) -> Self::Envelope {
        self.envelope
    }
}

impl rstar::PointDistance for Boxed {
    fn distance_2(&self, point: &[f64; 2]) -> f64 {
        self.envelope.distance_2(point)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Great circles on the smallest sphere that the ellipsoid bends by (a (1 - e2), 6,335 km): no degree is shorter.
    #[test]
    fn a_grown_box_holds_every_place_so_near_whatever_the_latitude() {
        const RADIUS_M: f64 = 6_335_000.0;
        for lat_deg in [0.0, 45.0, -60.0, 89.0, 89.99, -89.99, 89.9996, 90.0] {
            let at = LonLat {
                lon_deg: 179.99,
                lat_deg,
            };
            let boxes = Bounds::of([at].into_iter()).unwrap().grown(50.0).boxes();
            for turn in 0..72 {
                let (sin, cos) = f64::to_radians(5.0 * f64::from(turn)).sin_cos();
                let (lat, away) = (lat_deg.to_radians(), 50.0 / RADIUS_M);
                let to_lat = (lat.sin() * away.cos() + lat.cos() * away.sin() * cos).asin();
                let east =
                    (sin * away.sin() * lat.cos()).atan2(away.cos() - lat.sin() * to_lat.sin());
                let place = [near(0.0, 179.99 + east.to_degrees()), to_lat.to_degrees()];
                let holds = |part: &AABB<[f64; 2]>| rstar::Envelope::contains_point(part, &place);
                assert!(boxes.iter().any(holds), "{lat_deg}: {place:?}");
            }
        }
    }

    #[test]
    fn far_from_the_poles_a_grown_box_is_no_larger_than_it_must_be() {
        let at = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        let grown = Bounds::of([at].into_iter()).unwrap().grown(50.0);
        // 78,847 m are a degree of longitude at 45 degrees (WGS 84, tables of degree lengths).
        assert!((grown.east_deg + 30.0) * 78_847.0 < 51.0);
    }
}
