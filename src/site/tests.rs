//! A site's work on legs made by hand, and on legs written down and read back: no log in sight.

use super::leg::{Decided, Leg, LegFix, LegLink, LegSpan, LegStep, Perhaps, Presence};
use super::*;
use crate::geometry::overlay::generally_alone;
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::Xy;
use crate::ground;
use crate::input::{fleet, sites};
use crate::result::VisitKind;
use crate::rig::boom::Boom;
use crate::rig::meter::MeteredBy;
use crate::rig::pose::{Curve, Motion};
use crate::rig::position::PositionFrom;
use std::path::Path;

/// A lot of some 79 m x 11 m in mid-ocean, its long edge to the east.
pub(super) fn lot() -> Site {
    let text = r#"{"type":"FeatureCollection","features":[{"type":"Feature",
        "properties":{"site":"s","zone":"lot","use":"lot"},"geometry":{"type":"Polygon","coordinates":
        [[[-30.0005,44.99995],[-29.9995,44.99995],[-29.9995,45.00005],[-30.0005,45.00005],[-30.0005,44.99995]]]}}]}"#;
    let drawn = sites::read(text, Path::new("s"), None).unwrap();
    ground::divide(&drawn.zones, &[]).unwrap().0.remove(0)
}

pub(super) fn rules() -> Rules {
    let text = "[defaults]\ntarget = \"30 mL/m2\"\nposition = \"0.1 m\"\n[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n";
    Rules::of(&fleet::read(text, Path::new("f")).unwrap(), None)
}

/// Four sections of 1 m, the antenna over the boom.
fn boom() -> Boom {
    Boom {
        edges_m: vec![-2.0, -1.0, 0.0, 1.0, 2.0],
        antenna_ahead_m: 0.0,
        antenna_right_m: 0.0,
        axle_m: 0.0,
        hitch: None,
    }
}

/// A drive along the lot's middle, from its centre to 20 m east, a fix each 4 m and 3 s, laying 0.12 L from
/// each of these sections in each step: 30 mL/m2.
pub(super) fn leg(site: &Site, open: u64, masked: u64) -> Leg {
    let at = |x_m: f64| site.plane.to_lon_lat(Xy::new(x_m, 0.0));
    let heading_rad = site.plane.turn_rad();
    let fix = |k: i64| LegFix {
        time: Instant(k * 3_000_000),
        place: at(4.0 * k as f64),
        heading_rad,
        trailer_rad: 0.0,
        product: None,
        set_rate_ml_m2: Perhaps::UNKNOWN,
        in_yard: false,
        here: true,
        extra_m: 0.0,
    };
    let step = LegStep {
        link: LegLink::Driven,
        length_m: 4.0,
        curve: Curve {
            start_rad: heading_rad,
            end_rad: heading_rad,
            chord_rad: heading_rad,
            sub_steps: 1,
            motion: Motion::Forward,
        },
        unsure: false,
    };
    let span = |step: u32| LegSpan {
        step,
        from_u: 0.0,
        to_u: 1.0,
        open,
        masked,
        wet: true,
        litres: 0.12 * f64::from(open.count_ones()),
        pass: 0,
        switched_within_s: Perhaps::UNKNOWN,
    };
    Leg {
        run: 0,
        boom: boom(),
        decided: Decided {
            position_m: 0.1,
            position_from: PositionFrom::Fleet,
            coarse_interval_s: None,
            metered_by: MeteredBy::Flow,
            least_dry_m2: Some(0.0),
            has_gun: false,
            planned: false,
            heading_logged: true,
        },
        products: vec![],
        fixes: (0..=5).map(fix).collect(),
        steps: vec![step; 5],
        spans: (0..5).map(span).collect(),
        first_span: (0..=5).collect(),
        gun: vec![],
        presences: vec![Presence { fixes: 0..6 }],
    }
}

/// 4 m wide, 20 m long, 0.48 L in each of five steps: 80 m2, 2.4 L, 30 mL/m2.
#[test]
fn a_leg_made_by_hand_is_treated_without_any_log() {
    let site = lot();
    let outcome = treat(&site, &[leg(&site, 0b1111, 0)], &rules(), false);
    assert_eq!(outcome.visits.len(), 1);
    assert_eq!(outcome.visits[0].kind, VisitKind::Treating);
    assert!((outcome.visits[0].wet_s - 15.0).abs() < 1e-9);
    let zone = &outcome.applications[0].zones[0];
    let areas = zone.areas.unwrap();
    assert!(
        (areas.treated_m2 - 80.0).abs() < 1e-4,
        "{}",
        areas.treated_m2
    );
    assert!((zone.litres.unwrap() - 2.4).abs() < 1e-9);
    assert!((zone.rate_swept_ml_m2().unwrap() - 30.0).abs() < 1e-4);
    assert!((outcome.legs[0].zones_l[0] - 2.4).abs() < 1e-9);
}

/// The right half of the boom is masked: what the left half laid is all there is, and the masked half is no
/// closed section that a gap could be blamed on.
#[test]
fn a_masked_section_neither_lays_nor_blames() {
    let site = lot();
    let masked = treat(&site, &[leg(&site, 0b0011, 0b1100)], &rules(), false);
    let closed = treat(&site, &[leg(&site, 0b0011, 0)], &rules(), false);
    for (outcome, closed_m2) in [(&masked, 0.0), (&closed, 40.0)] {
        let zone = &outcome.applications[0].zones[0];
        assert!((zone.areas.unwrap().treated_m2 - 40.0).abs() < 1e-4);
        assert!((zone.litres.unwrap() - 1.2).abs() < 1e-9);
        assert!((zone.cover.causes.closed - closed_m2).abs() < 1e-4);
    }
}

#[test]
fn a_leg_is_the_same_when_it_is_written_down_and_read_back() {
    let site = lot();
    let first = leg(&site, 0b0111, 0b1000);
    let text = serde_json::to_string(&first).unwrap();
    let back: Leg = serde_json::from_str(&text).unwrap();
    assert_eq!(first, back);
    let place: LonLat = back.fixes[3].place;
    assert_eq!(
        place.lon_deg.to_bits(),
        first.fixes[3].place.lon_deg.to_bits()
    );
    let outcome = |leg: Leg| format!("{:?}", treat(&site, &[leg], &rules(), true));
    assert_eq!(outcome(first), outcome(back));
}

/// So many sixths of laps of a ring of 3.5 m about the lot's middle, half a metre or so a step, laying 30 mL/m2; a pass ends
/// after 60 degrees. No lap lies just on another.
fn laps(site: &Site, sixths: usize) -> Leg {
    const STEPS: usize = 8;
    let turn_rad = site.plane.turn_rad();
    let place = |k: usize| {
        let angle_rad = std::f64::consts::TAU * k as f64 / (6 * STEPS) as f64 * 1.000_37;
        let radius_m = 3.5 + 0.02 * (k as f64 * 0.618).sin();
        Xy::new(radius_m * angle_rad.cos(), radius_m * angle_rad.sin())
    };
    let steps = sixths * STEPS;
    let like = leg(site, 0b1111, 0);
    let chord = |k: usize| place(k + 1).minus(place(k));
    let way_rad = |k: usize| chord(k).y_m.atan2(chord(k).x_m) + turn_rad;
    let step = |k: usize| {
        let rad = way_rad(k);
        LegStep {
            length_m: chord(k).length_m(),
            curve: Curve {
                start_rad: rad,
                end_rad: rad,
                chord_rad: rad,
                ..like.steps[0].curve
            },
            ..like.steps[0]
        }
    };
    let fix = |k: usize| LegFix {
        time: Instant(k as i64 * 250_000),
        place: site.plane.to_lon_lat(place(k)),
        heading_rad: way_rad(k),
        ..like.fixes[0]
    };
    let span = |k: usize| LegSpan {
        step: k as u32,
        litres: 0.12 * chord(k).length_m(),
        pass: (k / STEPS) as u32,
        ..like.spans[0]
    };
    Leg {
        fixes: (0..=steps).map(fix).collect(),
        steps: (0..steps).map(step).collect(),
        spans: (0..steps).map(span).collect(),
        first_span: (0..=steps as u32).collect(),
        presences: vec![Presence {
            fixes: 0..steps + 1,
        }],
        ..like
    }
}

/// The bound on a heap rests on the cells and not on our own engine: where that always gives up, twice the laps still cost
/// about twice the time, and the ground is the same.
#[test]
fn twice_the_laps_cost_the_general_engine_twice_as_much_too() {
    let site = lot();
    let worked = |sixths: usize| {
        let start = cpu_time::ThreadTime::now();
        let outcome = treat(&site, &[laps(&site, sixths)], &rules(), false);
        (start.elapsed().as_secs_f64(), outcome)
    };
    let (once_s, once) = generally_alone(|| worked(800));
    let (twice_s, twice) = generally_alone(|| worked(1_600));
    assert!(
        twice_s < 2.3 * once_s.max(0.2),
        "{once_s} s, then {twice_s} s"
    );
    assert!(once.fallbacks > 0 && twice.cell_m.is_some());
    let treated_m2 = |outcome: &Outcome| {
        let areas = outcome.applications[0].zones[0].areas;
        areas.unwrap().treated_m2
    };
    let (_, own) = worked(800);
    assert_eq!(own.fallbacks, 0);
    assert!((treated_m2(&once) - treated_m2(&own)).abs() < 1e-4);
}
