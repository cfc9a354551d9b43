//! The trailer against closed forms, and against a vehicle and trailer driven in small steps.

use super::*;
use crate::rig::pose::pose;
use crate::rig::pose::tests::{boom, track};

const HITCH: Hitch = Hitch {
    behind_antenna_m: 3.5,
    to_axle_m: 2.5,
    axle_to_boom_m: 0.5,
};

fn towing(axle_m: f64) -> Boom {
    Boom {
        hitch: Some(HITCH),
        ..boom(axle_m)
    }
}

/// Counter-clockwise circle about the origin, 2 m of arc a second.
fn circle(radius_m: f64, fixes: usize) -> Vec<(f64, f64)> {
    (0..fixes)
        .map(|i| (i as f64 * 2.0 / radius_m).sin_cos())
        .map(|(sin, cos)| (radius_m * cos, radius_m * sin))
        .collect()
}

fn behind(from: (f64, f64), rad: f64, m: f64) -> (f64, f64) {
    (from.0 - m * rad.cos(), from.1 - m * rad.sin())
}

/// Pythagoras, three times: the rear axle runs on sqrt(R^2 - d^2), the hitch h behind the axle on
/// sqrt(R^2 - d^2 + h^2), the trailer's axle on sqrt(Rh^2 - to_axle^2).
#[test]
fn the_trailer_s_axle_follows_on_its_own_circle() {
    let (radius_m, axle_m) = (9.0_f64, 2.7);
    let points = circle(radius_m, 200);
    let posed = pose(&track(&points), &towing(axle_m));
    let last = points.len() - 1;
    let hitch = behind(
        points[last],
        posed.heading_rad[last],
        HITCH.behind_antenna_m,
    );
    let axle = behind(hitch, posed.trailer_rad[last], HITCH.to_axle_m);
    let hitch2_m2 = radius_m.powi(2) - axle_m.powi(2) + (HITCH.behind_antenna_m - axle_m).powi(2);
    let (hitch_m, wanted_m) = (
        hitch2_m2.sqrt(),
        (hitch2_m2 - HITCH.to_axle_m.powi(2)).sqrt(),
    );
    assert!(
        (hitch.0.hypot(hitch.1) - hitch_m).abs() < 3e-3,
        "{} is not {hitch_m}",
        hitch.0.hypot(hitch.1)
    );
    assert!(
        (axle.0.hypot(axle.1) - wanted_m).abs() < 3e-3,
        "{} is not {wanted_m}",
        axle.0.hypot(axle.1)
    );
}

/// The tractrix along a line: tan(off / 2) = tan(off0 / 2) e^(-s / d) (Lawrence, *A Catalog of Special
/// Plane Curves*, 1972), here from fix to fix behind a vehicle that points where it moves.
#[test]
fn on_a_straight_line_the_trailer_straightens_exponentially() {
    let mut points = circle(8.0, 60);
    let last = points[points.len() - 1];
    let course_rad = 59.0_f64 * 2.0 / 8.0 + PI / 2.0;
    points.extend((1..20).map(|i| behind(last, course_rad, -2.0 * f64::from(i))));
    let hitch = Hitch {
        behind_antenna_m: 0.0,
        ..HITCH
    };
    let boom = Boom {
        hitch: Some(hitch),
        ..boom(0.0)
    };
    let posed = pose(&track(&points), &boom);
    let off_rad = |fix: usize| wrapped_rad(posed.trailer_rad[fix] - course_rad);
    let first = 60;
    assert!(off_rad(first).abs() > 0.05, "{}", off_rad(first));
    for fix in first + 1..first + 6 {
        let gone_m = 2.0 * (fix - first) as f64;
        let exact = 2.0 * ((off_rad(first) / 2.0).tan() * (-gone_m / hitch.to_axle_m).exp()).atan();
        assert!(
            (off_rad(fix) - exact).abs() < 1e-9,
            "{} {exact}",
            off_rad(fix)
        );
    }
}

#[test]
fn without_a_hitch_there_is_no_trailer() {
    let posed = pose(&track(&circle(8.0, 20)), &boom(2.0));
    assert!(posed.trailer_rad.is_empty() && !posed.is_unsure(3));
}

/// East 40 m, a stop, and straight back 20 m: sure. The same back along a bend: not sure.
#[test]
fn a_trailer_backed_up_straight_is_sure_and_in_a_turn_it_is_not() {
    let out = || {
        let mut points: Vec<(f64, f64)> = (0..=10).map(|i| (4.0 * f64::from(i), 0.0)).collect();
        points.push((40.1, 0.0));
        points
    };
    let mut straight = out();
    straight.extend((1..=10).map(|i| (40.1 - 2.0 * f64::from(i), 0.0)));
    let posed = pose(&track(&straight), &towing(2.7));
    let reverse = |posed: &Posed| {
        let of = |curve: &&crate::rig::pose::Curve| curve.motion == Motion::Reverse;
        posed.curves.iter().filter(of).count()
    };
    assert_eq!(reverse(&posed), 10);
    assert!(posed.unsure.iter().all(|unsure| !unsure));
    assert!(
        posed
            .trailer_rad
            .iter()
            .all(|rad| wrapped_rad(*rad).abs() < 1e-6)
    );

    let mut bent = out();
    bent.extend((1..=10).map(|i| {
        let (sin, cos) = (0.25 * f64::from(i)).sin_cos();
        (40.1 - 8.0 * sin, 8.0 - 8.0 * cos)
    }));
    let posed = pose(&track(&bent), &towing(2.7));
    assert_eq!(reverse(&posed), 10);
    let unsure = posed.unsure.iter().filter(|unsure| **unsure).count();
    assert!(unsure >= 9, "{unsure}");
    assert!(
        posed.unsure[..11].iter().all(|unsure| !unsure),
        "forward is sure"
    );
}

/// East 40 m, 12 m back, and on from there, 4 m a second: after a bend the next 2 x 2.5 m of pull are unsure, two steps; after a
/// straight way back none.
#[test]
fn a_trailer_pulled_on_after_a_turn_in_reverse_is_sure_after_two_lengths() {
    let unsure_after = |bends: bool| {
        let mut points: Vec<(f64, f64)> = (0..=10).map(|i| (4.0 * f64::from(i), 0.0)).collect();
        points.push((40.1, 0.0));
        points.extend((1..=6).map(|i| match bends {
            true => {
                let (sin, cos) = (0.25 * f64::from(i)).sin_cos();
                (40.1 - 8.0 * sin, 8.0 - 8.0 * cos)
            }
            false => (40.1 - 2.0 * f64::from(i), 0.0),
        }));
        let (east_m, north_m) = points[points.len() - 1];
        points.push((east_m - 0.1, north_m));
        let rad = if bends { -1.5_f64 } else { 0.0 };
        points.extend((1..=6).map(|i| {
            let along_m = 4.0 * f64::from(i);
            (east_m + along_m * rad.cos(), north_m + along_m * rad.sin())
        }));
        let posed = pose(&track(&points), &towing(2.7));
        posed.unsure[posed.unsure.len() - 6..].to_vec()
    };
    assert_eq!(unsure_after(true), [true, true, false, false, false, false]);
    assert_eq!(unsure_after(false), [false; 6]);
}

/// A slalom driven in steps of 1 cm (the axle is drawn towards the hitch, so the drawbar keeps its
/// length): places of the trailer's axle from 1 Hz fixes.
#[test]
fn a_slalom_s_trailer_is_where_small_steps_put_it() {
    let step_m = 0.01;
    let (mut antenna, mut axle) = ((0.0_f64, 0.0_f64), (-2.7_f64, 0.0_f64));
    let mut trailer = (-3.5 - 2.5, 0.0);
    let (mut fixes, mut truth) = (vec![], vec![]);
    for n in 0..30_000 {
        let course_rad = 0.9 * (n as f64 * step_m / 7.0).sin();
        if n % 300 == 0 {
            fixes.push(antenna);
            truth.push(trailer);
        }
        antenna = behind(antenna, course_rad, -step_m);
        let rig_rad = (antenna.1 - axle.1).atan2(antenna.0 - axle.0);
        axle = behind(antenna, rig_rad, 2.7);
        let hitch = behind(antenna, rig_rad, 3.5);
        let trailer_rad = (hitch.1 - trailer.1).atan2(hitch.0 - trailer.0);
        trailer = behind(hitch, trailer_rad, 2.5);
    }
    let posed = pose(&track(&fixes), &towing(2.7));
    let off_m = |i: usize| {
        let hitch = behind(fixes[i], posed.heading_rad[i], 3.5);
        let got = behind(hitch, posed.trailer_rad[i], 2.5);
        (got.0 - truth[i].0).hypot(got.1 - truth[i].1)
    };
    let worst_m = (5..fixes.len()).map(off_m).fold(0.0, f64::max);
    assert!(worst_m < 0.10, "{worst_m}");
}
