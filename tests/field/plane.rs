//! The night's plane, and each site's own frame in it.
//!
//! Sites stand in a row from south to north on one meridian, so that the plane (x: way along the parallel from the
//! meridian, y: way along the meridian) shears by less than 3e-5 on them: 5 mm on a lot of 150 m.

/// A point, metres.
pub(crate) type P = [f64; 2];

const HALF_AXIS_M: f64 = 6_378_137.0; // WGS 84
const ECCENTRICITY_SQUARED: f64 = 6.694_379_990_141e-3; // WGS 84

/// Degrees and metres of a night.
#[derive(Clone, Copy)]
pub(crate) struct Plane {
    pub(crate) lon_deg: f64,
    pub(crate) lat_deg: f64,
}

impl Plane {
    fn meridian_m(&self) -> f64 {
        let sin = self.lat_deg.to_radians().sin();
        HALF_AXIS_M * (1.0 - ECCENTRICITY_SQUARED)
            / (1.0 - ECCENTRICITY_SQUARED * sin * sin).powf(1.5)
    }

    fn parallel_m(lat_deg: f64) -> f64 {
        let (sin, cos) = lat_deg.to_radians().sin_cos();
        HALF_AXIS_M * cos / (1.0 - ECCENTRICITY_SQUARED * sin * sin).sqrt()
    }

    /// Longitude and latitude of a point, degrees.
    pub(crate) fn degrees(&self, p: P) -> (f64, f64) {
        let lat_deg = self.lat_deg + (p[1] / self.meridian_m()).to_degrees();
        (
            self.lon_deg + (p[0] / Self::parallel_m(lat_deg)).to_degrees(),
            lat_deg,
        )
    }

    /// The point at a longitude and latitude.
    pub(crate) fn metres(&self, lon_deg: f64, lat_deg: f64) -> P {
        [
            (lon_deg - self.lon_deg).to_radians() * Self::parallel_m(lat_deg),
            (lat_deg - self.lat_deg).to_radians() * self.meridian_m(),
        ]
    }
}

/// A site's frame: turned and moved in the night's plane.
#[derive(Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) origin: P,
    pub(crate) turn_rad: f64,
}

impl Frame {
    /// From the site's frame to the night's plane.
    pub(crate) fn out(&self, p: P) -> P {
        let (sin, cos) = self.turn_rad.sin_cos();
        [
            self.origin[0] + cos * p[0] - sin * p[1],
            self.origin[1] + sin * p[0] + cos * p[1],
        ]
    }

    /// From the night's plane to the site's frame.
    pub(crate) fn back(&self, p: P) -> P {
        let (sin, cos) = self.turn_rad.sin_cos();
        let d = [p[0] - self.origin[0], p[1] - self.origin[1]];
        [cos * d[0] + sin * d[1], -sin * d[0] + cos * d[1]]
    }
}

/// `p` and `length` farther along `direction`, radians.
pub(crate) fn ahead(p: P, direction: f64, length: f64) -> P {
    [
        p[0] + length * direction.cos(),
        p[1] + length * direction.sin(),
    ]
}

/// Distance of two points.
pub(crate) fn distance(a: P, b: P) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}
