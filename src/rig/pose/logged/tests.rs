//! When a logged heading is believed, and what is held.

use super::*;
use crate::rig::pose::pose;
use crate::rig::pose::tests::{boom, track};

/// Laps of a circle of 6 m at 2 m/s; with a heading this far behind the direction of motion.
fn laps(behind_rad: f64) -> (Vec<(f64, f64)>, Vec<f64>) {
    let angle = |i: usize| i as f64 * 2.0 / 6.0;
    let points = (0..40).map(|i| (6.0 * angle(i).cos(), 6.0 * angle(i).sin()));
    let heading = (0..40).map(|i| angle(i) + PI / 2.0 - behind_rad);
    (points.collect(), heading.collect())
}

fn logged(points: &[(f64, f64)], heading_rad: &[f64]) -> Track {
    let mut track = track(points);
    for (fix, rad) in track.fixes.iter_mut().zip(heading_rad) {
        fix.heading_deg = (90.0 - rad.to_degrees()).rem_euclid(360.0) as f32;
    }
    track
}

#[test]
fn a_heading_that_always_equals_the_motion_is_a_course_and_is_not_used() {
    let (points, heading) = laps(0.0);
    assert!(!pose(&logged(&points, &heading), &boom(2.7)).heading_logged);
}

/// An antenna 2.7 m ahead of the axle on a circle of 6 m moves asin(2.7 / 6) off where the rig points.
#[test]
fn a_heading_that_differs_from_the_motion_in_turns_is_used() {
    let (points, heading) = laps((2.7_f64 / 6.0).asin());
    let posed = pose(&logged(&points, &heading), &boom(2.7));
    assert!(posed.heading_logged);
    assert!(wrapped_rad(posed.heading_rad[7] - heading[7]).abs() < 1e-6);
    assert_eq!(posed.gear_from(), "heading");
}

/// Antenna over the axle: in forward gear heading and motion are one, backing up they are opposed.
#[test]
fn a_heading_against_the_motion_is_no_course() {
    let (mut points, mut heading) = laps(0.0);
    let (from, rad) = (points[points.len() - 1], heading[heading.len() - 1]);
    for i in 1..=5 {
        let back_m = 1.5 * f64::from(i);
        points.push((from.0 - back_m * rad.cos(), from.1 - back_m * rad.sin()));
        heading.push(rad);
    }
    let posed = pose(&logged(&points, &heading), &boom(0.0));
    assert!(posed.heading_logged);
    let reverse = |curve: &&Curve| curve.motion == Motion::Reverse;
    assert_eq!(posed.curves.iter().filter(reverse).count(), 5);
}

#[test]
fn a_heading_that_comes_late_holds_back_to_the_start_but_not_through_a_dropout() {
    let (points, mut heading) = laps((2.7_f64 / 6.0).asin());
    (heading[0], heading[20]) = (f64::NAN, f64::NAN);
    let mut track = logged(&points, &heading);
    track.steps[19].link = Link::Dropout;
    let posed = pose(&track, &boom(2.7));
    assert!(posed.heading_logged);
    let off_rad = |fix: usize, like: usize| wrapped_rad(posed.heading_rad[fix] - heading[like]);
    assert!(off_rad(0, 1).abs() < 1e-6, "{}", off_rad(0, 1));
    assert!(off_rad(20, 21).abs() < 1e-6, "{}", off_rad(20, 21));
}

#[test]
fn a_heading_set_up_the_wrong_way_round_is_not_used() {
    let (points, heading) = laps((2.7_f64 / 6.0).asin() + PI);
    assert!(!pose(&logged(&points, &heading), &boom(2.7)).heading_logged);
}
