//! Drawn sweeps against closed forms.

use super::*;
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::Plane;
use crate::rig::boom::Boom;
use crate::rig::meter::MeteredBy;
use crate::rig::pose::{Curve, Motion};
use crate::rig::position::PositionFrom;
use crate::site::leg::{Decided, Leg, LegFix, LegSpan, LegStep, NO_PASS, Perhaps};

const SPEED_M_S: f64 = 4.0;
const DRAWS: u32 = 4_000;
/// Half the width of the boom, m.
const HALF_M: f64 = 1.5;

/// A lane along x from 0, a fix a second: its y, its start, and of each step whether the boom is open.
struct Lane<'a> {
    y_m: f64,
    start_s: i64,
    open: &'a [bool],
}

fn fix(time_s: i64) -> LegFix {
    LegFix {
        time: Instant(time_s * 1_000_000),
        place: LonLat {
            lon_deg: -30.0,
            lat_deg: 0.0,
        },
        heading_rad: 0.0,
        trailer_rad: 0.0,
        product: None,
        set_rate_ml_m2: Perhaps::UNKNOWN,
        in_yard: false,
        here: true,
        extra_m: 0.0,
    }
}

fn step(link: LegLink) -> LegStep {
    LegStep {
        link,
        length_m: SPEED_M_S,
        curve: Curve {
            start_rad: 0.0,
            end_rad: 0.0,
            chord_rad: 0.0,
            sub_steps: 1,
            motion: Motion::Forward,
        },
        unsure: false,
    }
}

/// A leg over lanes, and where its fixes are. A change between two steps is a switch within `within_s`.
fn leg(lanes: &[Lane], within_s: Option<f32>) -> (Leg, Vec<Xy>) {
    let mut leg = Leg {
        run: 0,
        boom: Boom {
            edges_m: vec![-HALF_M, HALF_M],
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            axle_m: 0.0,
            hitch: None,
        },
        decided: Decided {
            position_m: 1.0,
            position_from: PositionFrom::Fleet,
            coarse_interval_s: None,
            metered_by: MeteredBy::Flow,
            least_dry_m2: Some(0.0),
            has_gun: false,
            planned: false,
            heading_logged: true,
        },
        products: vec![],
        fixes: vec![],
        steps: vec![],
        spans: vec![],
        first_span: vec![0],
        gun: vec![],
        presences: vec![],
    };
    let mut xy = Vec::new();
    for (number, lane) in lanes.iter().enumerate() {
        if number > 0 {
            leg.steps.push(step(LegLink::Apart));
            leg.first_span.push(leg.spans.len() as u32);
        }
        for (k, &open) in lane.open.iter().enumerate() {
            leg.fixes.push(fix(lane.start_s + k as i64));
            xy.push(Xy::new(SPEED_M_S * k as f64, lane.y_m));
            let turns = k > 0 && lane.open[k - 1] != open;
            leg.spans.push(LegSpan {
                step: leg.steps.len() as u32,
                from_u: 0.0,
                to_u: 1.0,
                open: u64::from(open),
                masked: 0,
                wet: open,
                litres: 0.0,
                pass: if open { number as u32 } else { NO_PASS },
                switched_within_s: within_s.filter(|_| turns).into(),
            });
            leg.steps.push(step(LegLink::Driven));
            leg.first_span.push(leg.spans.len() as u32);
        }
        leg.fixes.push(fix(lane.start_s + lane.open.len() as i64));
        xy.push(Xy::new(SPEED_M_S * lane.open.len() as f64, lane.y_m));
    }
    (leg, xy)
}

/// Bare areas of some boxes (low x, low y, high x, high y) in each draw.
fn drawn_m2(
    lanes: &[Lane],
    within_s: Option<f32>,
    law: Law,
    boxes: &[[f64; 4]],
    draws: u32,
) -> Vec<Vec<f64>> {
    let (leg, xy) = leg(lanes, within_s);
    let plane = Plane::new(leg.fixes[0].place).unwrap();
    let on_plane = OnPlane::at(&leg, xy, &plane);
    let steps = 0..leg.steps.len();
    let targets: Vec<Target> = boxes.iter().map(|&sides| target(sides)).collect();
    let drive = Drive::of(&on_plane, &[steps], (Draws::of("elm", 0), law), &targets);
    bare_m2(&[drive], &targets, 0..draws)
}

fn target([left_m, low_m, right_m, high_m]: [f64; 4]) -> Target {
    let ring = [
        Xy::new(left_m, low_m),
        Xy::new(right_m, low_m),
        Xy::new(right_m, high_m),
        Xy::new(left_m, high_m),
    ];
    let ground = Region::union_of_positive([ring.as_slice()]);
    Target::of(&ground, &ground, false)
}

/// A box of one cell around a place.
fn cell(x_m: f64, y_m: f64) -> [f64; 4] {
    let half_m = CELL_M / 2.0;
    [x_m - half_m, y_m - half_m, x_m + half_m, y_m + half_m]
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Share of the draws in which a cell was treated.
fn treated(bare_m2: &[f64]) -> f64 {
    1.0 - mean(bare_m2) / (CELL_M * CELL_M)
}

fn below(x: f64) -> f64 {
    libm::erfc(-x / std::f64::consts::SQRT_2) / 2.0
}

fn law(deviation_m: f64, tau_s: f64) -> Law {
    Law { deviation_m, tau_s }
}

/// P(treated at m from the middle) = Phi((w - m) / s) - Phi((-w - m) / s).
#[test]
fn one_straight_pass_treats_as_often_as_the_normal_law_says() {
    let offsets_m = [0.0, 0.9, 1.4, 1.5, 1.8, 2.3, -1.2];
    let boxes = offsets_m.map(|m| cell(19.75, m));
    let lane = Lane {
        y_m: 0.0,
        start_s: 0,
        open: &[true; 10],
    };
    let drawn = drawn_m2(&[lane], None, law(0.5, 150.0), &boxes, DRAWS);
    for (m, bare_m2) in offsets_m.into_iter().zip(&drawn) {
        let want = below((HALF_M - m) / 0.5) - below((-HALF_M - m) / 0.5);
        let error = (want * (1.0 - want) / f64::from(DRAWS)).sqrt();
        let share = treated(bare_m2);
        assert!(
            (share - want).abs() < 3.0 * error + 0.003,
            "{m} m: {share} for {want}"
        );
    }
}

/// The gap between two lanes is normal with S = s sqrt(2 (1 - exp(-dt / tau))): bare width S phi(g / S) + g Phi(g / S).
#[test]
fn the_gap_between_two_lanes_is_as_wide_as_their_common_error_says() {
    let gap_m = 0.4;
    for apart_s in [30, 120, 600] {
        let lane = |y_m: f64, start_s: i64| Lane {
            y_m,
            start_s,
            open: &[true; 10],
        };
        let lanes = [lane(0.0, 0), lane(2.0 * HALF_M + gap_m, apart_s)];
        // Finer than the cells: their phase is spread by the errors of both lanes.
        let middle_m = HALF_M + gap_m / 2.0;
        let across = [19.5, middle_m - 1.25, 20.0, middle_m + 1.25];
        let drawn = drawn_m2(&lanes, None, law(0.3, 150.0), &[across], DRAWS);
        let width_m = mean(&drawn[0]) / CELL_M;
        let spread_m = 0.3 * (2.0 * (1.0 - (-(apart_s as f64) / 150.0).exp())).sqrt();
        let x = gap_m / spread_m;
        let density = (-x * x / 2.0).exp() / std::f64::consts::TAU.sqrt();
        let want_m = spread_m * density + gap_m * below(x);
        let error_m = (spread_m.powi(2) + CELL_M * CELL_M / 4.0).sqrt() / f64::from(DRAWS).sqrt();
        assert!(
            (width_m - want_m).abs() < 3.0 * error_m + 0.01,
            "{apart_s} s: {width_m} for {want_m}"
        );
    }
}

/// The middle of the interval is at the third fix: a quarter, a half and three quarters of the second about it.
#[test]
fn a_switch_once_a_second_rises_evenly_over_its_interval() {
    let lane = Lane {
        y_m: 0.0,
        start_s: 0,
        open: &[false, false, false, true, true, true, true],
    };
    let shares = [0.25, 0.5, 0.75];
    let boxes = shares.map(|share| cell(12.0 + SPEED_M_S * (share - 0.5), 0.0));
    let drawn = drawn_m2(&[lane], Some(1.0), law(0.0, 150.0), &boxes, DRAWS);
    for (share, bare_m2) in shares.into_iter().zip(&drawn) {
        let got = treated(bare_m2);
        assert!(
            (got - share).abs() < 3.0 * 0.5 / f64::from(DRAWS).sqrt() + 0.003,
            "{got}"
        );
    }
}

/// Lanes that leave 8 m x 6 m bare, the boom closed for two steps in each of two lanes; the whole turned by an
/// angle, on cells of some size.
fn hole_turned(law: Law, turn_rad: f64, cell_m: f64) -> Vec<f64> {
    let open = [true, true, true, false, false, true, true, true];
    let lane = |number: i64, open| Lane {
        y_m: 2.0 * HALF_M * number as f64,
        start_s: 60 * number,
        open,
    };
    let lanes = [
        lane(0, &[true; 8]),
        lane(1, &open),
        lane(2, &open),
        lane(3, &[true; 8]),
    ];
    let (mut leg, xy) = leg(&lanes, None);
    let (sin, cos) = turn_rad.sin_cos();
    let turned = |at: Xy| Xy::new(cos * at.x_m - sin * at.y_m, sin * at.x_m + cos * at.y_m);
    for fix in &mut leg.fixes {
        fix.heading_rad += turn_rad;
    }
    for step in &mut leg.steps {
        let curve = &mut step.curve;
        for angle in [
            &mut curve.start_rad,
            &mut curve.end_rad,
            &mut curve.chord_rad,
        ] {
            *angle += turn_rad;
        }
    }
    let plane = Plane::new(leg.fixes[0].place).unwrap();
    let on_plane = OnPlane::at(&leg, xy.into_iter().map(turned).collect(), &plane);
    let ring = [(8.1, 0.1), (23.9, 0.1), (23.9, 8.9), (8.1, 8.9)];
    let ring = ring.map(|(x_m, y_m)| turned(Xy::new(x_m, y_m)));
    let ground = Region::union_of_positive([ring.as_slice()]);
    let targets = [Target::in_cells(&ground, &ground, false, cell_m)];
    let steps = 0..leg.steps.len();
    let drive = Drive::of(&on_plane, &[steps], (Draws::of("elm", 0), law), &targets);
    bare_m2(&[drive], &targets, 0..64).remove(0)
}

fn hole(law: Law) -> Vec<f64> {
    hole_turned(law, 0.0, CELL_M)
}

fn deviation(values: &[f64]) -> f64 {
    let mean = mean(values);
    let squares = values.iter().map(|value| (value - mean).powi(2));
    (squares.sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

#[test]
fn one_error_for_the_whole_run_changes_no_area() {
    for area_m2 in hole(law(0.3, 1e15)) {
        assert!((area_m2 - 48.0).abs() < 0.1 * 48.0, "{area_m2}");
    }
}

#[test]
fn without_error_the_raster_has_the_area_of_the_polygons() {
    for area_m2 in hole(law(0.0, 150.0)) {
        assert!((area_m2 - 48.0).abs() < 0.1 * 48.0, "{area_m2}");
    }
}

/// Of 64 draws a mean is known to sd / 8 and a standard deviation to sd / sqrt(126).
#[test]
fn a_turned_site_has_the_same_mean_and_spread() {
    let law = law(0.3, 150.0);
    let straight = hole(law);
    let spread_m2 = deviation(&straight);
    for turn_rad in [0.5, 1.2, 2.9] {
        let turned = hole_turned(law, turn_rad, CELL_M);
        // What the raster adds on lines along it: at most a tenth of the area, as above.
        let off_m2 = (mean(&turned) - mean(&straight)).abs();
        assert!(
            off_m2 < 4.0 * spread_m2 / 8.0 * 2.0_f64.sqrt() + 1.0,
            "{off_m2}"
        );
        let ratio = deviation(&turned) / spread_m2;
        assert!(
            (ratio - 1.0).abs() < 4.0 / 126.0_f64.sqrt() * 2.0_f64.sqrt(),
            "{ratio}"
        );
    }
}

/// The same draws on cells of a quarter of the side: mean and spread are those of the coarse ones to less than the
/// 64 draws know them.
#[test]
fn finer_cells_would_not_matter() {
    let law = law(0.3, 150.0);
    let (coarse, fine) = (hole(law), hole_turned(law, 0.0, CELL_M / 4.0));
    let spread_m2 = deviation(&fine);
    assert!((mean(&coarse) - mean(&fine)).abs() < 2.0 * spread_m2 / 8.0);
    assert!((deviation(&coarse) / spread_m2 - 1.0).abs() < 2.0 / 126.0_f64.sqrt());
}

/// A circle of 8 m radius, a fix a second: bare where no strip of the exact ground lies.
#[test]
fn without_error_a_turn_is_swept_like_its_strips() {
    let (radius_m, omega) = (8.0, 0.4);
    let (mut leg, _) = leg(
        &[Lane {
            y_m: 0.0,
            start_s: 0,
            open: &[true; 10],
        }],
        None,
    );
    let ahead_rad = |k: usize| omega * k as f64 + std::f64::consts::FRAC_PI_2;
    let at = |k: usize| {
        let (sin, cos) = (omega * k as f64).sin_cos();
        Xy::new(radius_m * cos, radius_m * sin)
    };
    let xy: Vec<Xy> = (0..leg.fixes.len()).map(at).collect();
    for (k, fix) in leg.fixes.iter_mut().enumerate() {
        fix.heading_rad = ahead_rad(k);
    }
    for (k, step) in leg.steps.iter_mut().enumerate() {
        step.length_m = 2.0 * radius_m * (omega / 2.0).sin();
        step.curve.start_rad = ahead_rad(k);
        step.curve.end_rad = ahead_rad(k + 1);
        step.curve.chord_rad = ahead_rad(k) + omega / 2.0;
        step.curve.sub_steps = 8;
    }
    let plane = Plane::new(leg.fixes[0].place).unwrap();
    let on_plane = OnPlane::at(&leg, xy, &plane);
    let strips = swath::strips(&on_plane, false);
    let rings = strips.passes.iter().flat_map(|pass| &pass.rings);
    let laid = Region::union_of_positive(rings.map(Vec::as_slice));
    let side_m = 11.0;
    let square = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
    let square = square.map(|(x, y)| Xy::new(side_m * x, side_m * y));
    let ground = Region::union_of_positive([square.as_slice()]);
    let exact_m2 = ground.difference(&laid).area_m2();
    // A ring of 3 m over 4 rad of a circle of 8 m.
    assert!((laid.area_m2() - 3.0 * 8.0 * 4.0).abs() < 0.5);
    let targets = [Target::in_cells(&ground, &ground, false, 0.1)];
    let steps = 0..leg.steps.len();
    let exactly = (Draws::of("elm", 0), law(0.0, 150.0));
    let drive = Drive::of(&on_plane, &[steps], exactly, &targets);
    let swept_m2 = bare_m2(&[drive], &targets, 0..1)[0][0];
    assert!(
        (swept_m2 - exact_m2).abs() < 0.3,
        "{swept_m2} for {exact_m2}"
    );
}

#[test]
fn draws_are_the_same_on_any_number_of_threads() {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(|| hole(law(0.3, 150.0)))
    };
    let bits = |areas: Vec<f64>| areas.into_iter().map(f64::to_bits).collect::<Vec<u64>>();
    assert_eq!(bits(on(1)), bits(on(8)));
}

#[test]
fn an_opening_leaves_what_holds_two_by_two_cells() {
    let bare: Vec<bool> = "#.##.###.##.".chars().map(|c| c == '#').collect();
    let wide: String = opened(&bare, 4)
        .iter()
        .map(|&w| if w { '#' } else { '.' })
        .collect();
    // Rows: #.## / .### / .##.
    assert_eq!(wide, "..##.###.##.");
}
