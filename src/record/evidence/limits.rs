//! What a record's ground and legs must keep to together, so that nobody's evidence makes its reader work for hours.

use super::fixes::FILE;
use super::{Fault, fault};
use crate::ground::Site;
use crate::site::Leg;
use crate::site::leg::LegLink;

/// Farthest that a disclosed fix may lie from the site's own ground, m: a boom's reach, a step and a silence at road
/// speed, with room (limit).
const FARTHEST_M: f64 = 1_000.0;

/// Checks that every fix lies on the plane near the site, and that a driven step is as long as its chord.
///
/// # Errors
/// A fix that points nowhere.
pub(super) fn check(site: &Site, legs: &[Leg]) -> Result<(), Fault> {
    let ground = site.zones.iter().map(|zone| zone.region.extent());
    let ground = ground.fold(crate::geometry::extent::Extent::NOWHERE, |all, extent| {
        all.with(extent)
    });
    let mut number = 0;
    for leg in legs {
        let mut before = None;
        for (at, fix) in leg.fixes.iter().enumerate() {
            let near = site.plane.to_xy(fix.place).filter(|xy| {
                let away = |m: f64, low: f64, high: f64| (low - m).max(m - high);
                away(xy.x_m, ground.low.x_m, ground.high.x_m) <= FARTHEST_M
                    && away(xy.y_m, ground.low.y_m, ground.high.y_m) <= FARTHEST_M
            });
            let Some(xy) = near else {
                return Err(fault(
                    FILE,
                    format!("row {number} lies nowhere near the site"),
                ));
            };
            if let Some(before) = before.replace(xy) {
                let step = &leg.steps[at - 1];
                let chord_m = xy.minus(before).length_m();
                // Lengths are taken on the ellipsoid in degrees, chords on the plane: they differ by parts in a thousand.
                if step.link == LegLink::Driven
                    && (chord_m - step.length_m).abs() > 0.1 + 0.01 * chord_m
                {
                    let what = format!(
                        "row {} is not as long as the way to the next fix",
                        number - 1
                    );
                    return Err(fault(FILE, what));
                }
            }
            number += 1;
        }
    }
    Ok(())
}
