//! Tests of the curve and the heading against closed forms.

use super::heading::towed_rad;
use super::*;
use crate::geometry::angle::wrapped_rad;
use crate::geometry::place::{Instant, LonLat};
use crate::input::log::Fix;
use crate::rig::track::{Link, Step};

/// A track through these points (east, north in metres), one a second.
pub(super) fn track(points: &[(f64, f64)]) -> Track {
    let fix = |i: usize| {
        Fix::bare(
            Instant(i as i64 * 1_000_000),
            LonLat {
                lon_deg: -30.0,
                lat_deg: 45.0,
            },
            1,
        )
    };
    Track {
        rig: 0,
        logs: vec![],
        fixes: (0..points.len()).map(fix).collect(),
        steps: points
            .windows(2)
            .map(|pair| Step {
                link: Link::Driven,
                seconds: 1.0,
                east_m: pair[1].0 - pair[0].0,
                north_m: pair[1].1 - pair[0].1,
            })
            .collect(),
        volume_since_last_fix: false,
        products: vec![],
        fixes_read: points.len(),
        fixes_repeated: 0,
        coarse_interval_s: None,
        manner: crate::rig::track::LogManner::default(),
        extra_m: vec![],
    }
}

pub(super) fn boom(axle_m: f64) -> Boom {
    Boom {
        edges_m: vec![-2.0, 2.0],
        antenna_ahead_m: 0.0,
        antenna_right_m: 0.0,
        axle_m,
        hitch: None,
    }
}

/// Counter-clockwise circle of radius 6 m about the origin, 2 m of arc a second.
fn circle(fixes: usize) -> Vec<(f64, f64)> {
    (0..fixes)
        .map(|i| (i as f64 * 2.0 / 6.0).sin_cos())
        .map(|(sin, cos)| (6.0 * cos, 6.0 * sin))
        .collect()
}

#[test]
fn the_curve_of_a_circle_is_the_circle() {
    let points = circle(20);
    let posed = pose(&track(&points), &boom(0.0));
    for (i, curve) in posed.curves.iter().enumerate() {
        for k in 1..4 {
            let (x, y) = curve.at(f64::from(k) / 4.0, points[i], points[i + 1], 0.0);
            assert!((x.hypot(y) - 6.0).abs() < 1e-3, "step {i}: {}", x.hypot(y));
        }
    }
}

/// A wheel pulled round a circle of radius R at distance d comes to run on a circle of radius
/// sqrt(R^2 - d^2) (Pythagoras: the axle's rod is tangent to its own circle): the heading then leads
/// the axle's radius by a right angle and lags the antenna's tangent by asin(d / R).
#[test]
fn the_rear_axle_follows_on_the_smaller_circle() {
    let (radius_m, axle_m) = (6.0_f64, 2.7432);
    let points = circle(200);
    let posed = pose(&track(&points), &boom(axle_m));
    let last = points.len() - 1;
    let (antenna, heading_rad) = (points[last], posed.heading_rad[last]);
    let axle = (
        antenna.0 - axle_m * heading_rad.cos(),
        antenna.1 - axle_m * heading_rad.sin(),
    );
    let wanted_m = (radius_m * radius_m - axle_m * axle_m).sqrt();
    assert!(
        (axle.0.hypot(axle.1) - wanted_m).abs() < 2e-3,
        "{} is not {wanted_m}",
        axle.0.hypot(axle.1)
    );
}

/// Along a straight line the tractrix has tan(off / 2) = tan(off0 / 2) e^(-s / d) (Euler's
/// substitution; Lawrence, *A Catalog of Special Plane Curves*, 1972, section 7.1).
#[test]
fn a_straight_line_straightens_the_heading_exponentially() {
    let mut heading_rad = 1.0;
    for _ in 0..50 {
        heading_rad = towed_rad(heading_rad, 0.0, 0.1, 2.5);
    }
    let exact = 2.0 * ((0.5_f64).tan() * (-5.0_f64 / 2.5).exp()).atan();
    assert!((heading_rad - exact).abs() < 1e-12);
}

#[test]
fn a_straight_track_is_not_bent() {
    let points: Vec<(f64, f64)> = (0..10)
        .map(|i| (4.0 * f64::from(i), 3.0 * f64::from(i)))
        .collect();
    let posed = pose(&track(&points), &boom(2.0));
    assert!(posed.curves.iter().all(|curve| curve.sub_steps == 1));
    assert!(
        posed
            .heading_rad
            .iter()
            .all(|rad| (rad - 3.0_f64.atan2(4.0)).abs() < 1e-12)
    );
}

#[test]
fn standing_holds_the_heading() {
    let points = [
        (0.0, 0.0),
        (4.0, 0.0),
        (8.0, 0.0),
        (8.05, 0.1),
        (8.0, 0.2),
        (12.0, 0.2),
    ];
    let posed = pose(&track(&points), &boom(2.0));
    assert!(
        posed.heading_rad[4].abs() < 1e-9,
        "{}",
        posed.heading_rad[4]
    );
}

#[test]
fn backing_up_after_a_stop_is_reverse_and_keeps_the_heading() {
    let mut points: Vec<(f64, f64)> = (0..6).map(|i| (4.0 * f64::from(i), 0.0)).collect();
    points.push((20.1, 0.0));
    points.extend((1..5).map(|i| (20.1 - 2.0 * f64::from(i), 0.0)));
    points.push((12.05, 0.0));
    points.extend((1..6).map(|i| (12.0 + 4.0 * f64::from(i), 0.0)));
    let track = track(&points);
    let posed = pose(&track, &boom(2.0));
    let reverse = posed
        .curves
        .iter()
        .filter(|curve| curve.motion == Motion::Reverse)
        .count();
    assert_eq!(reverse, 4);
    assert!(
        posed
            .heading_rad
            .iter()
            .all(|rad| wrapped_rad(*rad).abs() < 1e-6),
        "{:?}",
        posed.heading_rad
    );
}

#[test]
fn a_sharp_corner_stays_a_corner() {
    let points = [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0), (8.0, 4.0), (8.0, 8.0)];
    let posed = pose(&track(&points), &boom(0.0));
    assert_eq!(posed.curves[1].sub_steps, 1);
    assert_eq!(posed.curves[2].sub_steps, 1);
}
