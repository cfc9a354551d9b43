//! The coordinate system of a sites file: WGS 84 unless an old `crs` member or a flag says otherwise.

use crate::error::{Error, Result};
use crate::geometry::place::LonLat;
use crate::input::text::clean;
use proj::Proj;
use serde_json::Value;

/// From the file's coordinates to degrees.
pub(super) struct Projection {
    proj: Option<Proj>,
    /// EPSG code, where it is not degrees.
    pub(super) epsg: Option<u32>,
}

/// GeoJSON's own system, and the one named in most old `crs` members: longitude first in either case (published).
const WGS84_EPSG: u32 = 4326;

impl Projection {
    /// The system of a file. `epsg` outranks the file's own word.
    ///
    /// # Errors
    /// A `crs` member that names no EPSG code, or a code that PROJ does not know.
    pub(super) fn of(document: &Value, epsg: Option<u32>) -> Result<Self> {
        let code = match epsg {
            Some(code) => Some(code),
            None => named(document.get("crs"))?,
        };
        match code {
            None | Some(WGS84_EPSG) => Ok(Self {
                proj: None,
                epsg: None,
            }),
            // `new_known_crs` takes and gives easting (longitude) first, whatever the systems' own axes.
            Some(code) => Proj::new_known_crs(&format!("EPSG:{code}"), "EPSG:4326", None)
                .map(|proj| Self {
                    proj: Some(proj),
                    epsg: Some(code),
                })
                .map_err(|error| {
                    Error::new(format!(
                        "the coordinate system EPSG:{code} cannot be used: {error}"
                    ))
                    .advice(
                        "Check the number, or export the file in WGS 84 longitude and latitude.",
                    )
                }),
        }
    }

    /// A position in degrees; `None` where the system does not reach.
    pub(super) fn to_degrees(&self, x: f64, y: f64) -> Option<LonLat> {
        let (lon_deg, lat_deg) = match &self.proj {
            None => (x, y),
            Some(proj) => proj.convert((x, y)).ok()?,
        };
        let place = LonLat { lon_deg, lat_deg };
        place.is_valid().then_some(place)
    }
}

/// The EPSG code of a `crs` member; `None` for none and for CRS84.
fn named(crs: Option<&Value>) -> Result<Option<u32>> {
    let Some(crs) = crs.filter(|crs| !crs.is_null()) else {
        return Ok(None);
    };
    let name = crs
        .pointer("/properties/name")
        .and_then(Value::as_str)
        .unwrap_or_default();
    let upper = name.to_ascii_uppercase();
    if upper.ends_with("CRS84") {
        return Ok(None);
    }
    let code = upper
        .contains("EPSG")
        .then(|| upper.rsplit(':').next().and_then(|code| code.parse().ok()))
        .flatten();
    code.map(Some).ok_or_else(|| {
        Error::new(format!("the `crs` member names no EPSG code, found \"{}\"", clean(name)))
            .advice("Name the system with --sites-crs EPSG:n, or export the file in WGS 84 longitude and latitude.")
    })
}
