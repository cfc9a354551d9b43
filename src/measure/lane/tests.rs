//! Lanes on squared paper.

use super::{Lane, Open};
use crate::geometry::plane::{Xy, signed_area_m2};
use crate::measure::vehicle::Vehicle;
use std::f64::consts::PI;

#[test]
fn sections_count_from_the_left_seen_forward() {
    let mut lane = Lane::straight(Xy::new(0.0, 0.0), PI / 2.0, 10.0);
    lane.open = vec![Open {
        section: 0,
        from_m: 0.0,
        to_m: 10.0,
    }];
    let strip = lane.strips(&Vehicle::bare()).next().unwrap().ring;
    // Heading north, the leftmost section lies to the west.
    assert!(
        strip
            .iter()
            .all(|point| point.x_m <= -2.0 + 1e-9 && point.x_m >= -4.0 - 1e-9)
    );
    assert!(
        (signed_area_m2(&strip) - 20.0).abs() < 1e-9,
        "counter-clockwise"
    );
}
