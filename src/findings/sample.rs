//! Made-up times and names that samples of findings share.

use crate::geometry::place::Instant;

/// The log that findings about files name.
pub(super) const LOG: &str = "logs/north.gpx";

/// 35 gal/ac, with the exact gallon and acre.
pub(crate) const TARGET_ML_M2: f64 = 35.0 * 3_785.411_784 / 4_046.856_422_4;

/// 2026-01-12T02:00:00Z, and so many minutes later.
pub(crate) fn at(minutes: i64) -> Instant {
    Instant((1_768_183_200 + minutes * 60) * 1_000_000)
}
