//! Angles.

use std::f64::consts::{PI, TAU};

/// An angle brought to (-pi, pi].
#[must_use]
pub fn wrapped_rad(angle_rad: f64) -> f64 {
    // Most angles need no division.
    if -PI < angle_rad && angle_rad <= PI {
        return angle_rad;
    }
    let turned = (angle_rad + PI).rem_euclid(TAU) - PI;
    if turned <= -PI { PI } else { turned }
}
