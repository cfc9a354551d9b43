//! Metres to degrees for many points of one plane: a power series about its centre instead of a projection for
//! each point.
//!
//! A transverse Mercator is conformal, so isometric latitude and longitude are one analytic function of its metres:
//! psi + i lambda = f(north + i east), with real coefficients, those of psi along the central meridian (L. P. Lee,
//! *Conformal Projections Based on Elliptic Functions*, Cartographica monograph 16, 1976, part II). Both f and the
//! latitude as a function of psi solve differential equations of the meridian,
//!
//! ```text
//! d phi / d north = W^(3/2) / (a (1 - e2))     W = 1 - e2 sin^2 phi
//! d psi / d north = W^(1/2) / (a cos phi)
//! d phi / d psi   = W cos phi / (1 - e2)
//! ```
//!
//! from which their coefficients follow one after the other.
//!
//! Error: f is singular at the pole, phi(psi) at psi = +-i pi/2. With terms to the sixth order, 10 km from the
//! centre ([`GREATEST_DISTANCE_M`], 1.6e-3 rad) and 80 degrees from the equator (0.175 rad from the pole) what is
//! left out is about (1.6e-3 / 0.175)^7 / 7 = 7e-16 rad, 5e-14 degrees of longitude, and less of latitude; what
//! rounds away is of the same size. Nearer to a pole, or farther from the centre, points go through PROJ.

use super::{GREATEST_DISTANCE_M, Plane, Xy, wrapped_deg};
use crate::geometry::place::{EQUATORIAL_RADIUS_M, FLATTENING, LonLat};

/// Terms of the series, the constant one not counted (limit).
const ORDER: usize = 6;
/// Beyond this latitude the series is not used (limit).
const GREATEST_LAT_DEG: f64 = 80.0;

/// Degrees of points on one plane.
pub(crate) struct Degrees {
    plane: Plane,
    series: Option<Series>,
}

impl Degrees {
    /// Prepared for a plane.
    pub(crate) fn of(plane: &Plane) -> Self {
        let lat_deg = plane.origin.lat_deg;
        let series = (lat_deg.abs() <= GREATEST_LAT_DEG).then(|| Series::about(lat_deg));
        Self {
            plane: *plane,
            series,
        }
    }

    /// What [`Plane::to_lon_lat`] gives, to 1e-13 degrees.
    pub(crate) fn at(&self, xy: Xy) -> LonLat {
        match &self.series {
            Some(series) if xy.dot(xy) <= GREATEST_DISTANCE_M * GREATEST_DISTANCE_M => {
                let (east_m, north_m) = self.plane.east_north_m(xy);
                let (lon_deg, lat_deg) = series.at(east_m, north_m);
                LonLat {
                    lon_deg: wrapped_deg(lon_deg + self.plane.origin.lon_deg),
                    lat_deg,
                }
            }
            _ => self.plane.to_lon_lat(xy),
        }
    }
}

/// Coefficients of powers, the constant first.
type Powers = [f64; ORDER + 1];

/// The series about one latitude.
struct Series {
    /// psi less its value at the centre, of metres along the meridian.
    psi: Powers,
    /// Latitude, rad, of psi less its value at the centre.
    lat_rad: Powers,
}

impl Series {
    fn about(lat_deg: f64) -> Self {
        Self {
            psi: psi_of_north(lat_deg.to_radians()),
            lat_rad: lat_of_psi(lat_deg.to_radians()),
        }
    }

    /// Degrees east of the central meridian, and of latitude.
    fn at(&self, east_m: f64, north_m: f64) -> (f64, f64) {
        // Horner, in complex numbers.
        let (mut psi, mut lambda) = (0.0, 0.0);
        for coefficient in self.psi.iter().rev() {
            (psi, lambda) = (
                psi * north_m - lambda * east_m + coefficient,
                psi * east_m + lambda * north_m,
            );
        }
        let mut lat_rad = 0.0;
        for coefficient in self.lat_rad.iter().rev() {
            lat_rad = lat_rad * psi + coefficient;
        }
        (lambda.to_degrees(), lat_rad.to_degrees())
    }
}

/// Squared eccentricity (arithmetic).
const E2: f64 = FLATTENING * (2.0 - FLATTENING);

/// Sine and cosine of the latitude as power series, with W; grown one order at a time.
struct Meridian {
    sin: Powers,
    cos: Powers,
    w: Powers,
}

impl Meridian {
    fn at(lat_rad: f64) -> Self {
        let mut meridian = Self {
            sin: [0.0; ORDER + 1],
            cos: [0.0; ORDER + 1],
            w: [0.0; ORDER + 1],
        };
        (meridian.sin[0], meridian.cos[0]) = lat_rad.sin_cos();
        meridian.w[0] = 1.0 - E2 * meridian.sin[0] * meridian.sin[0];
        meridian
    }

    /// The coefficients after `order` from the latitude's `slope` to that order.
    fn grow(&mut self, slope: &Powers, order: usize) {
        let next = order + 1;
        self.sin[next] = product(&self.cos, slope, order) / next as f64;
        self.cos[next] = -product(&self.sin, slope, order) / next as f64;
        self.w[next] = -E2 * product(&self.sin, &self.sin, next);
    }
}

fn psi_of_north(lat_rad: f64) -> Powers {
    let mut meridian = Meridian::at(lat_rad);
    let [mut slope, mut psi, mut half, mut inverse] = [[0.0; ORDER + 1]; 4];
    for order in 0..ORDER {
        slope[order] = power(&meridian.w, 1.5, order) / (EQUATORIAL_RADIUS_M * (1.0 - E2));
        half[order] = power(&meridian.w, 0.5, order);
        inverse[order] = power(&meridian.cos, -1.0, order) / EQUATORIAL_RADIUS_M;
        psi[order + 1] = product(&half, &inverse, order) / (order + 1) as f64;
        meridian.grow(&slope, order);
    }
    psi
}

fn lat_of_psi(lat_rad: f64) -> Powers {
    let mut meridian = Meridian::at(lat_rad);
    let [mut slope, mut lat] = [[0.0; ORDER + 1]; 2];
    lat[0] = lat_rad;
    for order in 0..ORDER {
        slope[order] = product(&meridian.w, &meridian.cos, order) / (1.0 - E2);
        lat[order + 1] = slope[order] / (order + 1) as f64;
        meridian.grow(&slope, order);
    }
    lat
}

/// The coefficient of one order of the product of two series.
fn product(a: &Powers, b: &Powers, order: usize) -> f64 {
    (0..=order).map(|k| a[k] * b[order - k]).sum()
}

/// The coefficient of one order of a series raised to an exponent, from those before it (J. C. P. Miller's
/// recurrence; D. E. Knuth, *The Art of Computer Programming* 2, section 4.7).
fn power(base: &Powers, exponent: f64, order: usize) -> f64 {
    let mut found = [0.0; ORDER + 1];
    found[0] = base[0].powf(exponent);
    for n in 1..=order {
        let terms =
            (1..=n).map(|k| (exponent * k as f64 - (n - k) as f64) * base[k] * found[n - k]);
        found[n] = terms.sum::<f64>() / (n as f64 * base[0]);
    }
    found[order]
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng as _, SeedableRng as _};

    /// PROJ is the oracle, at all latitudes and to the end of the plane.
    #[test]
    fn degrees_are_those_of_proj() {
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut between = |low: f64, high: f64| {
            low + (high - low) * (chance.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
        };
        let (mut worst_lat_deg, mut worst_lon_deg) = (0.0_f64, 0.0_f64);
        for _ in 0..300 {
            let origin = LonLat {
                lon_deg: between(-180.0, 180.0),
                lat_deg: between(-89.0, 89.0),
            };
            let plane = Plane::new(origin).unwrap().turned(between(-3.0, 3.0));
            let degrees = Degrees::of(&plane);
            for _ in 0..100 {
                let reach_m = GREATEST_DISTANCE_M / 2.0_f64.sqrt();
                let xy = Xy::new(between(-reach_m, reach_m), between(-reach_m, reach_m));
                let (found, expected) = (degrees.at(xy), plane.to_lon_lat(xy));
                worst_lat_deg = worst_lat_deg.max((found.lat_deg - expected.lat_deg).abs());
                let lon_deg = (found.lon_deg - expected.lon_deg).abs();
                worst_lon_deg = worst_lon_deg.max(lon_deg.min(360.0 - lon_deg));
                assert!(found.lon_deg.abs() <= 180.0);
            }
        }
        // PROJ's own rounding of northings (2e-9 m) is 2e-14 degrees.
        assert!(worst_lat_deg < 1e-13, "{worst_lat_deg}");
        assert!(worst_lon_deg < 1e-13, "{worst_lon_deg}");
    }

    #[test]
    fn the_centre_is_itself() {
        let origin = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        let plane = Plane::new(origin).unwrap();
        let found = Degrees::of(&plane).at(Xy::default());
        assert!((found.lat_deg - 45.0).abs() < 1e-14 && (found.lon_deg + 30.0).abs() < 1e-14);
    }
}
