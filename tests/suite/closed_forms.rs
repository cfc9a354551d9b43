//! Numbers that can be worked out by hand or are published, through the whole program: a log and a sites
//! file in, `audit.json` out.

use crate::night::{Fix, Night, audited, number, rectangle, ring, sites, zone, zone_with};
use geographiclib_rs::{Geodesic, PolygonArea, Winding};
use std::f64::consts::{PI, TAU};

/// mL/m2 in a gallon an acre: 3785.411784 mL over 4046.8564224 m2 (NIST SP 811).
const ML_M2_PER_GAL_AC: f64 = 0.935_395_598;

fn fleet(sections: &str, more: &str) -> String {
    format!(
        "[defaults]\ntarget = \"30 mL/m2\"\n\n[[rig]]\nid = \"north\"\nsections = [{sections}]\n{more}\n"
    )
}

/// A straight pass along x at 1 Hz, all sections open with this flow; closed at its last fix.
fn straight(
    start_s: f64,
    north_m: f64,
    speed_m_s: f64,
    steps: usize,
    open: &'static str,
    flow_l_min: f64,
) -> Vec<Fix> {
    let closed = &"0000"[..open.len()];
    (0..=steps)
        .map(|i| {
            let east_m = speed_m_s * i as f64;
            let (states, flow) = if i == steps {
                (closed, 0.0)
            } else {
                (open, flow_l_min)
            };
            (start_s + i as f64, east_m, north_m, states, flow)
        })
        .collect()
}

fn near(got: f64, want: f64, share: f64) {
    assert!(
        (got / want - 1.0).abs() <= share,
        "{got} is not {want} within {share}"
    );
}

/// A zone 60 m long in the middle of one pass that is wider than it; its swept rate in gal/ac.
fn swept_gal_ac(width: &str, speed_m_s: f64, flow: f64, unit: &str) -> f64 {
    let map = format!("\n[rig.channels]\nflow = {{ element = \"flow\", unit = \"{unit}\" }}\n");
    let fleet = fleet(&format!("\"{width}\""), &map);
    let steps = (100.0 / speed_m_s).ceil() as usize;
    let zones = [zone("s", "z", &rectangle(20.0, -0.2, 80.0, 0.2))];
    let outcome = audited(
        &fleet,
        &zones,
        &straight(0.0, 0.0, speed_m_s, steps, "1", flow),
    );
    number(&outcome.first_zone()["rate_swept_ml_m2"]) / ML_M2_PER_GAL_AC
}

const M_S_PER_MPH: f64 = 0.447_04;

/// Albany County Weed & Pest, calibration page: 3.75 GPM at 5 mph over 222 in is "20 GPA"; by
/// GPA = 5940 GPM / (MPH W) (UF/IFAS EDIS WG013) 20.068.
#[test]
fn a_boom_lays_the_published_gallons_an_acre() {
    let got = swept_gal_ac("222 in", 5.0 * M_S_PER_MPH, 3.75, "gal/min");
    near(got, 20.068, 1e-4);
    near(got, 20.0, 0.005);
}

/// Oklahoma State University turf, "Sprayer Calibration": 0.79 GPM, 3 MPH, 18 in. Its printed 88 GPA is
/// off by 1.3 %; its own formula gives 86.90.
#[test]
fn a_single_nozzle_lays_what_the_formula_says() {
    let got = swept_gal_ac("18 in", 3.0 * M_S_PER_MPH, 0.79, "gal/min");
    near(got, 86.90, 2e-4);
    near(got, 88.0, 0.02);
}

/// A Queensland chemical-accreditation page: 24 L/min, 200 m/min, 12 m of swath is 100 L/ha.
#[test]
fn a_wide_swath_lays_100_litres_a_hectare() {
    let got_ml_m2 = swept_gal_ac("12 m", 200.0 / 60.0, 24.0, "L/min") * ML_M2_PER_GAL_AC;
    near(got_ml_m2, 10.0, 1e-5);
}

/// Lot 80 x 12 m, boom 4 m. Passes at y = 2 and 5.5 share 0.5 m; the third at 11 leaves 7.5 to 9 bare.
#[test]
fn straight_passes_have_their_gap_and_overlap() {
    let mut fixes = Vec::new();
    for (k, north_m) in [2.0, 5.5, 11.0].into_iter().enumerate() {
        fixes.extend(straight(40.0 * k as f64, north_m, 4.0, 24, "1111", 28.8));
    }
    for fix in &mut fixes {
        fix.1 -= 8.0;
    }
    let zones = [zone("s", "z", &rectangle(0.0, 0.0, 80.0, 12.0))];
    let outcome = audited(&fleet(r#""1 m", "1 m", "1 m", "1 m""#, ""), &zones, &fixes);
    let zone = outcome.first_zone();
    near(number(&zone["gap_m2"]), 120.0, 1e-3);
    near(number(&zone["overlap_m2"]), 40.0, 1e-3);
    near(number(&zone["treated_m2"]), 840.0, 1e-3);
    near(number(&zone["patches"][0]["area_m2"]), 120.0, 1e-2);
    // 28.8 L/min over 4 m at 4 m/s is 30 mL/m2; the strip of 0.5 m got it twice.
    near(number(&zone["volume_l"]), 0.030 * (840.0 + 40.0), 1e-3);
    near(number(&zone["rate_swept_ml_m2"]), 30.0, 1e-4);
    near(
        number(&zone["rate_over_zone_ml_m2"]),
        30.0 * 880.0 / 960.0,
        1e-3,
    );
}

/// A pass of 60 m at 4 m/s: open 0.5 s late is 2 m late, closed 0.25 s late is 1 m late.
#[test]
fn delays_move_the_ends_of_a_pass() {
    let mut fixes: Vec<Fix> = (-10..=25)
        .map(|i| (f64::from(i + 10), 4.0 * f64::from(i), 0.0, "0", 0.0))
        .collect();
    for fix in fixes.iter_mut().filter(|fix| (0.0..60.0).contains(&fix.1)) {
        (fix.3, fix.4) = ("1", 28.8);
    }
    let fleet = fleet(
        r#""4 m""#,
        "open_delay = \"0.5 s\"\nclose_delay = \"0.25 s\"",
    );
    let outcome = audited(
        &fleet,
        &[zone("s", "z", &rectangle(-30.0, -10.0, 90.0, 10.0))],
        &fixes,
    );
    near(
        number(&outcome.first_zone()["treated_m2"]),
        4.0 * 59.0,
        1e-3,
    );
    // The litres of the 15 s commanded lie on the 14.75 s on the ground.
    near(number(&outcome.first_zone()["volume_l"]), 7.2, 1e-9);
}

/// A lap at 1 Hz on a circle about (0, 0), one step 1/`steps` of a lap; sections open from `from` on.
fn laps(radius_m: f64, steps: usize, closed: usize, flow_l_min: f64) -> Vec<Fix> {
    (0..=closed + steps)
        .map(|i| {
            let (sin, cos) = (i as f64 * TAU / steps as f64).sin_cos();
            let open = (closed..closed + steps).contains(&i);
            let (states, flow) = if open {
                ("11", flow_l_min)
            } else {
                ("00", 0.0)
            };
            (i as f64, radius_m * cos, radius_m * sin, states, flow)
        })
        .collect()
}

/// A polygon of 720 corners: its area is 1.3e-5 under the circle's.
fn circle(radius_m: f64) -> Vec<(f64, f64)> {
    (0..=720)
        .map(|k| (f64::from(k) * TAU / 720.0).sin_cos())
        .map(|(sin, cos)| (radius_m * cos, radius_m * sin))
        .collect()
}

/// Boom of 2 x 2 m driven round 20 m: the annulus from 18 to 22 m, 160 pi. The inner section's ground is
/// 76 pi, the outer's 84 pi, so their doses stand as 84 to 76: "off-rate" from turning (Luck et al.,
/// *Precision Agriculture* 2010, doi:10.1007/s11119-010-9199-0).
#[test]
fn a_ring_has_the_area_of_the_annulus_and_its_doses_the_ratio_of_the_radii() {
    let (inner, middle, outer) = (
        ring(&circle(10.0)),
        ring(&circle(20.0)),
        ring(&circle(30.0)),
    );
    let zones = [
        zone("s", "inner", &format!("[{middle},{inner}]")),
        zone("s", "outer", &format!("[{outer},{middle}]")),
    ];
    let outcome = audited(
        &fleet(r#""2 m", "2 m""#, ""),
        &zones,
        &laps(20.0, 30, 0, 28.8),
    );
    let application = &outcome.audit()["sites"][0]["applications"][0];
    let [inside, outside] = [&application["zones"][0], &application["zones"][1]];
    let (inside_m2, outside_m2) = (
        number(&inside["treated_m2"]),
        number(&outside["treated_m2"]),
    );
    near(inside_m2 + outside_m2, 160.0 * PI, 1e-3);
    // Chords of 3 degrees: 1 - sin(3 deg) / 3 deg is 4.6e-4 of the discs of 18 and 22 m.
    near(inside_m2, 76.0 * PI, 2e-3);
    near(outside_m2, 84.0 * PI, 3e-3);
    let rate = |zone: &serde_json::Value| number(&zone["rate_where_treated_ml_m2"]);
    near(rate(inside) / rate(outside), 84.0 / 76.0, 2e-3);
}

/// Antenna 2.7 m ahead of rear axle and boom, driven round 12 m: axle and boom run on sqrt(12^2 - 2.7^2)
/// (Pythagoras), so a lap treats 2 pi times that times the boom's width.
#[test]
fn a_boom_at_the_rear_axle_follows_on_the_smaller_circle() {
    let axle_m = 2.7_f64;
    let fleet = fleet(r#""2 m", "2 m""#, "antenna = { ahead = \"2.7 m\" }");
    let zones = [zone("s", "z", &rectangle(-20.0, -20.0, 20.0, 20.0))];
    let outcome = audited(&fleet, &zones, &laps(12.0, 20, 40, 28.8));
    let axle_radius_m = (12.0_f64.powi(2) - axle_m.powi(2)).sqrt();
    near(
        number(&outcome.first_zone()["treated_m2"]),
        TAU * axle_radius_m * 4.0,
        1e-3,
    );
}

/// The same pass with a flow, with a total, and with both: the same litres.
#[test]
fn flow_and_total_agree() {
    let litres = |channels: fn(f64) -> String| {
        let points: String = (0..=24)
            .map(|i| {
                let t = f64::from(i);
                let states = if i == 24 {
                    "1111".replace('1', "0")
                } else {
                    "1111".into()
                };
                let extensions = format!("{}<s:sections>{states}</s:sections>", channels(t));
                crate::night::point_with(t, 4.0 * t - 8.0, 2.0, &extensions)
            })
            .collect();
        let night = Night::new()
            .no_logs()
            .log("a.gpx", crate::night::gpx_of(&points));
        number(&night.audit(&["--fail-on", "never"]).first_zone()["volume_l"])
    };
    let flow = |t: f64| format!("<s:flow>{}</s:flow>", if t < 24.0 { 28.8 } else { 0.0 });
    let total = |t: f64| format!("<s:volume>{:.4}</s:volume>", 100.0 + 0.48 * t);
    let both = |t: f64| {
        format!(
            "<s:flow>{}</s:flow><s:volume>{:.4}</s:volume>",
            if t < 24.0 { 28.8 } else { 0.0 },
            100.0 + 0.48 * t
        )
    };
    near(litres(flow), 0.030 * 80.0 * 4.0, 1e-3);
    near(litres(total), litres(flow), 1e-6);
    near(litres(both), litres(flow), 1e-6);
}

/// Published: GeographicLib's own test cases Planimeter15 and Planimeter2 (areas in m2). They hold the
/// library that the next test leans on.
#[test]
fn geographiclib_gives_its_published_areas() {
    let area = |corners: &[(f64, f64)]| {
        let geodesic = Geodesic::wgs84();
        let mut polygon = PolygonArea::new(&geodesic, Winding::CounterClockwise);
        corners
            .iter()
            .for_each(|&(lat, lon)| polygon.add_point(lat, lon));
        polygon.compute(true).1.abs()
    };
    near(
        area(&[(2.0, 1.0), (1.0, 2.0), (3.0, 3.0)]),
        18_454_562_325.451_19,
        1e-12,
    );
    near(
        area(&[(0.0, -1.0), (-1.0, 0.0), (0.0, 1.0), (1.0, 0.0)]),
        24_619_419_146.0,
        1e-10,
    );
}

/// Name, rings (lon, lat), area in m2.
type Polygon = (&'static str, &'static [&'static [[f64; 2]]], f64);

/// Site-scale polygons (lon, lat) with areas by GeographicLib 2.1 (C. F. F. Karney, "Algorithms for
/// geodesics", J. Geodesy 87:43-55, 2013), computed with it and again here.
#[test]
fn areas_on_the_plane_are_geodesic_areas() {
    let polygons: [Polygon; 7] = [
        (
            "square at 45 N",
            &[&[
                [-33.0, 45.0],
                [-32.999, 45.0],
                [-32.999, 45.001],
                [-33.0, 45.001],
            ]],
            8762.3135,
        ),
        (
            "L",
            &[&[
                [-33.27, 44.98],
                [-33.267, 44.98],
                [-33.267, 44.981],
                [-33.2685, 44.981],
                [-33.2685, 44.982],
                [-33.27, 44.982],
            ]],
            39443.6316,
        ),
        (
            "with a hole",
            &[
                &[
                    [-33.27, 44.98],
                    [-33.266, 44.98],
                    [-33.266, 44.983],
                    [-33.27, 44.983],
                ],
                &[
                    [-33.269, 44.981],
                    [-33.269, 44.982],
                    [-33.267, 44.982],
                    [-33.267, 44.981],
                ],
            ],
            87651.7970,
        ),
        (
            "walk",
            &[&[
                [-41.5, 43.0],
                [-41.499, 43.0],
                [-41.499, 43.000_014],
                [-41.5, 43.000_014],
            ]],
            126.8205,
        ),
        (
            "antimeridian",
            &[&[
                [179.9995, 30.5],
                [-179.9995, 30.5],
                [-179.9995, 30.501],
                [179.9995, 30.501],
            ]],
            10642.4750,
        ),
        (
            "southern",
            &[&[
                [-118.8, -33.9],
                [-118.799, -33.9],
                [-118.799, -33.899],
                [-118.8, -33.899],
            ]],
            10259.4256,
        ),
        (
            "65 N",
            &[&[[2.0, 65.0], [2.002, 65.0], [2.002, 65.001], [2.0, 65.001]]],
            10519.2503,
        ),
    ];
    let geodesic = Geodesic::wgs84();
    for (name, rings, published_m2) in polygons {
        let coordinates: Vec<String> = rings
            .iter()
            .map(|ring| {
                let closed = ring.iter().chain([&ring[0]]);
                format!(
                    "[{}]",
                    closed
                        .map(|[lon, lat]| format!("[{lon},{lat}]"))
                        .collect::<Vec<_>>()
                        .join(",")
                )
            })
            .collect();
        let outcome = Night::new()
            .sites(&sites(&[zone(
                "s",
                "z",
                &format!("[{}]", coordinates.join(",")),
            )]))
            .driven_at(rings[0][0])
            .audit(&["--fail-on", "never"]);
        let got_m2 = number(&outcome.ground(0, 0)["area_m2"]);
        let again_m2: f64 = rings
            .iter()
            .map(|ring| {
                let mut polygon = PolygonArea::new(&geodesic, Winding::CounterClockwise);
                ring.iter()
                    .for_each(|&[lon, lat]| polygon.add_point(lat, lon));
                polygon.compute(true).1
            })
            .sum();
        // 1e-6 of the area and GeographicLib's own 1e-3 m2 (Planimeter page: perimeter under 10 km).
        let tolerance_m2 = 1e-6 * published_m2 + 1.3e-3;
        assert!(
            (got_m2 - published_m2).abs() < tolerance_m2,
            "{name}: {got_m2} is not {published_m2}"
        );
        assert!(
            (got_m2 - again_m2.abs()).abs() < tolerance_m2,
            "{name}: {got_m2} is not {again_m2}"
        );
    }
}

/// UTM 25N of (-33.27, 44.98) and (-33.266, 44.983) by GeographicLib/pyproj: a sites file in EPSG:32625
/// comes out at these places.
#[test]
fn projected_sites_come_out_at_their_longitude_and_latitude() {
    let corners = [
        [478712.4679, 4980764.1121],
        [479028.9324, 4980764.1121],
        [479028.9324, 4981096.3303],
        [478712.4679, 4981096.3303],
    ];
    let text: Vec<String> = corners
        .iter()
        .chain([&corners[0]])
        .map(|[e, n]| format!("[{e},{n}]"))
        .collect();
    let coordinates = format!("[[{}]]", text.join(","));
    let night = Night::new()
        .sites(&sites(&[zone("s", "z", &coordinates)]))
        .driven_at([-33.27, 44.98]);
    let outcome = night.audit(&["--fail-on", "never", "--sites-crs", "EPSG:32625"]);
    let map: serde_json::Value =
        serde_json::from_slice(&std::fs::read(outcome.out.join("coverage.geojson")).unwrap())
            .unwrap();
    let found: Vec<(f64, f64)> = map["features"][0]["geometry"]["coordinates"]
        .to_string()
        .replace(['[', ']'], " ")
        .split(',')
        .filter_map(|number| number.trim().parse().ok())
        .collect::<Vec<f64>>()
        .chunks(2)
        .map(|pair| (pair[0], pair[1]))
        .collect();
    for (lon, lat) in [(-33.27, 44.98), (-33.266, 44.983)] {
        let near = found
            .iter()
            .any(|&(x, y)| (x - lon).abs() < 2e-9 && (y - lat).abs() < 2e-9);
        assert!(near, "({lon}, {lat}) is not among {found:?}");
    }
}

/// 3 L through the hand gun beside a lot: a ledger line and a visit's figure, no treated ground.
#[test]
fn gun_litres_are_no_treated_ground() {
    let points: String = (0..120)
        .map(|i| {
            let gun = if (10..70).contains(&i) { "1" } else { "0" };
            let flow = if gun == "1" { 3.0 } else { 0.0 };
            let extensions =
                format!("<s:flow>{flow}</s:flow><s:sections>0000</s:sections><s:gun>{gun}</s:gun>");
            crate::night::point_with(f64::from(i), 5.0, 5.0, &extensions)
        })
        .collect();
    let steps = zone_with(
        r#""site":"s","zone":"steps","use":"walk","method":"hand""#,
        &rectangle(0.0, 0.0, 8.0, 8.0),
    );
    let night = Night::empty()
        .fleet(crate::night::FLEET)
        .sites(&sites(&[steps]))
        .log("a.gpx", crate::night::gpx_of(&points));
    let outcome = night.audit(&["--fail-on", "never"]);
    near(number(&outcome.runs()[0]["ledger_l"]["gun"]), 3.0, 1e-9);
    let site = &outcome.audit()["sites"][0];
    assert!(site["applications"].as_array().unwrap().is_empty());
    near(number(&site["other_visits"][0]["gun_l"]), 3.0, 1e-9);
    assert!(
        outcome.findings("not_visited").is_empty(),
        "a gun visit is a visit"
    );
}

/// 28.8 L/min and a fix every 10 s, 115 m apart, past three lots: each metre of the way has the same litres, also where
/// neither end of a step was near the lot that it crossed, nor the lot near the one where the step began.
#[test]
fn long_steps_leave_their_litres_where_they_crossed() {
    let fixes: Vec<crate::night::Fix> = (0..20)
        .map(|i| {
            let i = f64::from(i);
            (10.0 * i, 115.0 * i - 493.0, 0.0, "1111", 28.8)
        })
        .collect();
    let lots = [("a", 0.0, 100.0), ("b", 220.0, 320.0), ("c", 480.0, 560.0)];
    let lots = lots.map(|(id, west_m, east_m)| {
        zone_with(
            &format!(r#""site":"{id}","zone":"lot","use":"lot""#),
            &rectangle(west_m, -10.0, east_m, 10.0),
        )
    });
    let night = Night::empty()
        .fleet(crate::night::FLEET)
        .sites(&sites(&lots))
        .log("a.gpx", crate::night::gpx(&fixes));
    let outcome = night.audit(&["--fail-on", "never"]);
    let ledger = &outcome.runs()[0]["ledger_l"];
    let metre_l = 28.8 / 60.0 * 10.0 / 115.0;
    near(number(&ledger["metered"]), metre_l * 115.0 * 19.0, 1e-6);
    near(number(&ledger["zones"]), metre_l * 280.0, 1e-3);
    // The default position error of 1 m beyond either end of each lot.
    near(number(&ledger["fringe"]), metre_l * 6.0, 1e-3);
    near(
        number(&ledger["outside"]),
        metre_l * (115.0 * 19.0 - 286.0),
        2e-3,
    );
}
