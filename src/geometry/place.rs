//! Where and when: positions in degrees, instants in whole microseconds.
//!
//! Base module: every stage may use it, it uses none. Degrees live here, metres in
//! [`crate::geometry::plane`]; the two are different types so that they cannot be mixed.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Equatorial radius of the WGS 84 ellipsoid, m (published: NIMA TR8350.2).
pub(crate) const EQUATORIAL_RADIUS_M: f64 = 6_378_137.0;
/// Its flattening (published: NIMA TR8350.2).
pub(crate) const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// A position on the WGS 84 ellipsoid, in degrees. Longitude comes first, as in GeoJSON.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LonLat {
    /// Longitude, degrees east, -180 to 180.
    #[serde(rename = "lon")]
    pub lon_deg: f64,
    /// Latitude, degrees north, -90 to 90.
    #[serde(rename = "lat")]
    pub lat_deg: f64,
}

impl LonLat {
    /// Both coordinates finite and within their ranges.
    #[must_use]
    pub fn is_valid(self) -> bool {
        // NaN fails both comparisons.
        self.lon_deg.abs() <= 180.0 && self.lat_deg.abs() <= 90.0
    }
}

/// Degrees east from one longitude to another, the shorter way round the earth: -180 to 180.
#[must_use]
pub fn east_deg(from_deg: f64, to_deg: f64) -> f64 {
    let turned_deg = to_deg - from_deg + 540.0;
    // Nearly always within half a turn: just what `rem_euclid` comes to there, without a division.
    if (360.0..720.0).contains(&turned_deg) {
        return (turned_deg - 360.0) - 180.0;
    }
    turned_deg.rem_euclid(360.0) - 180.0
}

/// An instant as microseconds since 1970-01-01T00:00:00Z, without leap seconds.
///
/// In JSON it is an RFC 3339 text in UTC, such as `2026-01-12T02:00:00.25Z`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

/// Microseconds in a second (arithmetic).
pub const US_PER_S: f64 = 1e6;

impl Instant {
    /// Seconds from `earlier` to `self`; negative when `self` is the earlier one.
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> f64 {
        // The difference of two log stamps fits an i64; saturating keeps absurd stamps from wrapping.
        self.0.saturating_sub(earlier.0) as f64 / US_PER_S
    }

    /// The instant `seconds` later, to the nearest microsecond.
    #[must_use]
    pub fn plus_seconds(self, seconds: f64) -> Self {
        Self(self.0.saturating_add((seconds * US_PER_S).round() as i64))
    }

    /// The instant as a `jiff` timestamp; `None` outside the years -9999 to 9999.
    #[must_use]
    pub fn timestamp(self) -> Option<jiff::Timestamp> {
        jiff::Timestamp::from_microsecond(self.0).ok()
    }
}

impl std::fmt::Display for Instant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.timestamp() {
            Some(timestamp) => write!(f, "{timestamp}"),
            None => write!(f, "{} us since 1970", self.0),
        }
    }
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let timestamp: jiff::Timestamp = text.parse().map_err(serde::de::Error::custom)?;
        Ok(Self(timestamp.as_microsecond()))
    }
}
