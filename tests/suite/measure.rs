//! Lots that nobody has driven: ground, reach, plans, and the audit of the plans.

mod lanes;

use crate::night::{Night, feature, lon_lat, rectangle, ring, sites, zone, zone_with};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// A foot, m.
const FT: f64 = 0.3048;

/// A pickup with a 10 ft boom behind its bumper.
pub(crate) const FLEET: &str = r#"
[[rig]]
id = "finch"
sections = ["30 in", "30 in", "30 in", "30 in"]
antenna = { ahead = "13 ft" }
axle = "6.5 ft"
body = { width = "6.7 ft", ahead_of_axle = "15.5 ft", behind_axle = "4.5 ft" }
turning_circle = "50 ft"
wheelbase = "12 ft"
turn_speed = "3.5 mph"
gear_change = "3 s"

[estimate]
lap = "1 ft"
speed = "6 mph"
"#;

/// One measured folder: `measure.json` and where the files are.
pub(crate) struct Measured {
    pub(crate) json: Value,
    pub(crate) out: PathBuf,
    pub(crate) page: String,
    night: Night,
}

impl Measured {
    pub(crate) fn of(fleet: &str, sites: &str) -> Self {
        let night = Night::empty().fleet(fleet).sites(sites);
        let out = night.path("out");
        let folder = night.path("");
        let arguments = [
            "measure",
            folder.to_str().unwrap(),
            "--out",
            out.to_str().unwrap(),
        ];
        let outcome = night.run(&arguments, &out, &[]);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        let json: Value =
            serde_json::from_slice(&std::fs::read(out.join("measure.json")).unwrap()).unwrap();
        let measured = Self {
            json,
            out,
            page: outcome.stdout,
            night,
        };
        measured.holds_what_always_holds();
        measured
    }

    pub(crate) fn rig(&self) -> &Value {
        &self.json["sites"][0]["rigs"][0]
    }

    fn plan(&self, figure: &str) -> f64 {
        self.rig()["plan"][figure].as_f64().unwrap()
    }

    fn m2(&self, figure: &str) -> f64 {
        self.rig()[figure].as_f64().unwrap()
    }

    /// The schema, and that no figure is impossible.
    fn holds_what_always_holds(&self) {
        let schema: Value =
            serde_json::from_str(include_str!("../../docs/measure.schema.json")).unwrap();
        let validator = jsonschema::validator_for(&schema).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&self.json)
            .map(|error| format!("{}: {error}", error.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{errors:#?}");
        rises(&self.json);
        for site in self.json["sites"].as_array().unwrap() {
            let area_m2 = site["area_m2"].as_f64().unwrap();
            for rig in site["rigs"].as_array().unwrap() {
                let Some(reach_m2) = rig["reach_m2"].as_f64() else {
                    continue;
                };
                assert!(
                    reach_m2 <= area_m2 * (1.0 + 1e-9),
                    "reach {reach_m2} of {area_m2}"
                );
                let plan = &rig["plan"];
                if plan.is_null() {
                    continue;
                }
                let figure = |name: &str| plan[name].as_f64().unwrap();
                assert!(figure("gap_m2") <= reach_m2 + 1e-6);
                let (boom_m, speed_m_s) = (
                    rig["boom_m"].as_f64().unwrap(),
                    self.json["settings"]["speed_m_s"].as_f64(),
                );
                if let Some(speed_m_s) = speed_m_s {
                    let covered_m2 = reach_m2 - figure("gap_m2");
                    assert!(
                        figure("spraying_s") >= covered_m2 / (boom_m * speed_m_s) * (1.0 - 1e-9)
                    );
                }
                assert!(figure("overlap_m2") <= figure("treated_m2") + 1e-6);
            }
        }
    }

    /// Treated, overlap and swept ground of all zones, from the audit of the plan file.
    fn audit(&self) -> Value {
        let night = &self.night;
        let plan = self.out.join("drive-plan.gpx");
        let audited = night.audit_to(
            "audited",
            &["--logs", plan.to_str().unwrap(), "--fail-on", "never"],
            &[],
        );
        assert_eq!(audited.code, 0, "{}", audited.stderr);
        assert!(
            audited.stdout.starts_with("Planned, not driven"),
            "{}",
            audited.stdout
        );
        audited.audit().clone()
    }
}

/// Low, likely and high rise wherever they stand together, and nothing that is counted is negative.
fn rises(value: &Value) {
    match value {
        Value::Object(fields) => {
            if let (Some(low), Some(likely), Some(high)) =
                (fields.get("low"), fields.get("likely"), fields.get("high"))
            {
                let [low, likely, high] = [low, likely, high].map(|end| end.as_f64().unwrap());
                assert!(0.0 <= low && low <= likely && likely <= high, "{value}");
            }
            fields.values().for_each(rises);
        }
        Value::Array(items) => items.iter().for_each(rises),
        _ => {}
    }
}

/// A lot of this many feet with more properties.
pub(crate) fn lot(width_ft: f64, height_ft: f64, more: &str) -> String {
    let ground = rectangle(0.0, 0.0, width_ft * FT, height_ft * FT);
    sites(&[with("quay", "lot", &ground, more)])
}

/// A round lot of this radius in feet, as 72 corners.
fn round(radius_ft: f64) -> String {
    sites(&[zone(
        "quay",
        "lot",
        &format!("[{}]", ring(&circle(radius_ft * FT))),
    )])
}

/// A ring of 72 corners around (100 m, 100 m).
fn circle(radius_m: f64) -> Vec<(f64, f64)> {
    let corner = |k: u32| {
        let angle = f64::from(k % 72) / 72.0 * std::f64::consts::TAU;
        (
            100.0 + radius_m * angle.cos(),
            100.0 + radius_m * angle.sin(),
        )
    };
    (0..=72).map(corner).collect()
}

/// A zone with more properties, each after a comma.
pub(crate) fn with(site: &str, zone: &str, ground: &str, more: &str) -> String {
    let own = if more.contains("\"use\"") {
        ""
    } else {
        r#","use":"lot""#
    };
    zone_with(
        &format!(r#""site":"{site}","zone":"{zone}"{own}{more}"#),
        ground,
    )
}

/// 120 ft across at 10 ft less 1 ft of lap are ceil(119 / 9) = 14 lanes of 300 ft; 140 ft of swath on 120 ft is one
/// sixth of overlap.
#[test]
fn an_open_lot_takes_as_many_lanes_as_on_squared_paper() {
    let measured = Measured::of(FLEET, &lot(300.0, 120.0, r#","edge":"open""#));
    let (all_m2, feet) = (120.0 * 300.0 * FT * FT, FT);
    assert!((measured.m2("reach_m2") / all_m2 - 1.0).abs() < 1e-5);
    assert_eq!(
        measured.rig()["plan"]["lanes"],
        14,
        "{:#}",
        measured.rig()["plan"]
    );
    assert!((measured.plan("length_m") / (14.0 * 300.0 * feet) - 1.0).abs() < 1e-3);
    assert!((measured.plan("overlap_m2") / all_m2 - 1.0 / 6.0).abs() < 1e-3);
    assert!(measured.plan("gap_m2") < 1e-3 * all_m2);
}

/// ceil((24 - 1) / 9) = 3.
#[test]
fn an_aisle_of_24_feet_is_three_lanes() {
    let measured = Measured::of(FLEET, &lot(300.0, 24.0, r#","edge":"open""#));
    assert_eq!(measured.rig()["plan"]["lanes"], 3);
}

/// Curbs all round and 2 ft of clearance leave a rectangle 4 ft less each way, all of it reached: a boom at the rear
/// bumper backs up to every curb. Length of strip: the perimeter.
#[test]
fn a_curbed_rectangle_is_reached_but_for_its_edge_strip() {
    let measured = Measured::of(FLEET, &lot(200.0, 100.0, ""));
    let (all, inner) = (200.0 * 100.0 * FT * FT, 196.0 * 96.0 * FT * FT);
    assert!(
        (measured.m2("reach_m2") / inner - 1.0).abs() < 1e-4,
        "{} of {inner}",
        measured.m2("reach_m2")
    );
    assert!((measured.m2("edge_strip_m2") - (all - inner)).abs() < 1e-3 * all);
    assert!((measured.m2("edge_strip_m") / (600.0 * FT) - 1.0).abs() < 1e-4);
    assert!(
        measured.page.contains("Assumed: all edges are curbs"),
        "{}",
        measured.page
    );
}

/// A pickup drives down a 10 ft arm but cannot turn its corner, and cannot turn around: one arm is reached, but for
/// the last 20 ft that stay ahead of the boom (22 ft from the front end to the boom, 2 ft of them clearance). The boom's end
/// goes 3.65 ft round the corner: 5 ft and half of what a body of 6.7 ft has to spare. By directions alone all would be.
#[test]
fn an_l_too_narrow_for_its_corner_is_reached_in_one_arm() {
    let arm = |a: f64, b: f64, c: f64, d: f64| rectangle(a * FT, b * FT, c * FT, d * FT);
    let measured = Measured::of(
        FLEET,
        &sites(&[
            zone("quay", "long", &arm(0.0, 0.0, 110.0, 10.0)),
            zone("quay", "short", &arm(0.0, 10.0, 10.0, 100.0)),
        ]),
    );
    let expected_m2 = (86.0 * 6.0 + 6.0 * 3.65) * FT * FT;
    let share = measured.m2("reach_m2") / expected_m2;
    assert!((share - 1.0).abs() < 5e-3, "{share}");
}

/// A court behind a gate of 6 ft, narrower than the body, is not reached from the lot before it.
#[test]
fn a_court_behind_a_narrow_gate_is_hand_work() {
    let at = |a: f64, b: f64, c: f64, d: f64| rectangle(a * FT, b * FT, c * FT, d * FT);
    let measured = Measured::of(
        FLEET,
        &sites(&[
            zone("quay", "lot", &at(0.0, 0.0, 120.0, 100.0)),
            zone("quay", "gate", &at(50.0, 100.0, 56.0, 104.0)),
            zone("quay", "court", &at(20.0, 104.0, 80.0, 144.0)),
        ]),
    );
    let court_m2 = 56.0 * 36.0 * FT * FT;
    let hand = measured.rig()["hand"].as_array().unwrap();
    assert!(
        (hand[0]["area_m2"].as_f64().unwrap() / court_m2 - 1.0).abs() < 0.05,
        "{hand:?}"
    );
    assert!(hand[0]["hose_m"].as_f64().unwrap() > 40.0 * FT, "{hand:?}");
}

/// The sheet treats its lanes in memory; the audit reads the written file. Straight lanes, bent ones, and a trailer's.
#[test]
fn the_audit_of_the_plan_says_what_the_sheet_says() {
    let towed = FLEET.replace(
        "antenna = { ahead = \"13 ft\" }",
        "hitch = { behind_antenna = \"8 ft\", to_axle = \"7 ft\", axle_to_boom = \"2 ft\" }",
    );
    // Where a lane begins to bend, the log's reader rounds the antenna's corner a little.
    for (fleet, sites, within) in [
        (FLEET, lot(180.0, 90.0, ""), 1e-5),
        (FLEET, round(60.0), 1e-4),
        (&towed, lot(180.0, 90.0, ""), 1e-5),
    ] {
        let measured = Measured::of(fleet, &sites);
        let audit = measured.audit();
        assert_eq!(audit["planned"], "Planned, not driven");
        let zone = &audit["sites"][0]["applications"][0]["zones"][0];
        let zone_m2 = zone["area_m2"].as_f64().unwrap();
        for figure in ["treated_m2", "overlap_m2", "swept_m2"] {
            let (read, sheet) = (zone[figure].as_f64().unwrap(), measured.plan(figure));
            assert!(
                (read - sheet).abs() < within * zone_m2,
                "{figure}: {read} {sheet}"
            );
        }
    }
}

/// Every output of an audited plan says what it is, the spreadsheets in a column of their own.
#[test]
fn what_is_made_of_a_plan_says_planned_not_driven() {
    let measured = Measured::of(FLEET, &lot(180.0, 90.0, ""));
    measured.audit();
    for line in std::fs::read_to_string(measured.night.path("audited/zones.csv"))
        .unwrap()
        .lines()
        .skip(1)
    {
        assert!(
            line.starts_with("\"Planned, not driven\"") || line.starts_with("Planned"),
            "{line}"
        );
    }
}

/// Lanes of a few metres: too short for a visit of ten seconds, and too little of the site to open an application.
#[test]
fn short_lanes_of_a_plan_count() {
    let measured = Measured::of(FLEET, &lot(40.0, 14.0, r#","edge":"open""#));
    let all_m2 = 40.0 * 14.0 * FT * FT;
    assert!(
        measured.plan("treated_m2") > 0.9 * all_m2,
        "{:#}",
        measured.rig()["plan"]
    );
}

/// Positions are exact and nothing lies between segments: to 1e-5 of the zone.
#[test]
fn sheet_and_strips_agree() {
    let measured = Measured::of(FLEET, &lot(180.0, 90.0, ""));
    // Sections are open in the reached rectangle alone, and half a section around it.
    let (reach, gap) = (measured.m2("reach_m2"), measured.plan("gap_m2"));
    let treated = measured.plan("treated_m2");
    assert!(
        treated >= reach - gap - 1e-5 * reach,
        "{treated} {reach} {gap}"
    );
    assert!(measured.plan("swept_m2") >= treated + measured.plan("overlap_m2") - 1e-5 * reach);
}

#[test]
fn a_plan_reads_back_as_gpx() {
    let measured = Measured::of(FLEET, &lot(120.0, 60.0, ""));
    let file = std::fs::File::open(measured.out.join("drive-plan.gpx")).unwrap();
    let plan = gpx::read(std::io::BufReader::new(file)).unwrap();
    let segments = &plan.tracks[0].segments;
    assert_eq!(
        segments.len() as u64,
        measured.rig()["plan"]["lanes"].as_u64().unwrap()
    );
    let seconds = |point: &gpx::Waypoint| {
        let text = point.time.unwrap().format().unwrap();
        text.parse::<jiff::Timestamp>().unwrap().as_microsecond() as f64 / 1e6
    };
    for pair in segments.windows(2) {
        let (last, first) = (
            pair[0].points.last().unwrap(),
            pair[1].points.first().unwrap(),
        );
        assert!(seconds(first) - seconds(last) >= 30.0);
    }
    for segment in segments {
        assert!(
            segment
                .points
                .windows(2)
                .all(|pair| seconds(&pair[1]) - seconds(&pair[0]) <= 1.0 + 1e-6)
        );
    }
}

#[test]
fn what_an_earlier_run_left_goes_and_an_input_in_the_folder_stays() {
    let measured = Measured::of(FLEET, &lot(120.0, 300.0, ""));
    let stale = measured.out.join("drive-plan-2.gpx");
    std::fs::write(&stale, "of a run with two rigs").unwrap();
    let own = measured.out.join("mine.txt");
    std::fs::write(&own, "nobody's output").unwrap();
    let night = &measured.night;
    let (folder, out) = (night.path(""), measured.out.to_str().unwrap());
    let again = ["measure", folder.to_str().unwrap(), "--out", out];
    assert_eq!(night.run(&again, &measured.out, &[]).code, 0);
    assert!(!stale.exists() && own.exists());

    let taken = measured.out.join("measure.geojson");
    std::fs::copy(night.path("sites.geojson"), &taken).unwrap();
    let before = std::fs::read(&taken).unwrap();
    let replacing = [&again[..], &["--sites", taken.to_str().unwrap()]].concat();
    let refused = night.run(&replacing, &measured.out, &[]);
    assert_eq!(refused.code, 2);
    assert!(refused.stderr.contains("is an input"), "{}", refused.stderr);
    assert_eq!(std::fs::read(&taken).unwrap(), before);
}

#[test]
fn plans_and_logs_do_not_mix() {
    let measured = Measured::of(FLEET, &lot(120.0, 60.0, ""));
    let plan = std::fs::read(measured.out.join("drive-plan.gpx")).unwrap();
    let night = Night::new().log(
        "plan.gpx",
        String::from_utf8(plan).unwrap().replace("finch", "north"),
    );
    let outcome = night.run(
        &["audit", night.path("").to_str().unwrap()],
        &night.path("out"),
        &[],
    );
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("plan"), "{}", outcome.stderr);
}

#[test]
fn what_lacks_a_key_is_left_out_and_named() {
    let fleet = "[[rig]]\nid = \"finch\"\nsections = [\"3 m\"]\n";
    let measured = Measured::of(fleet, &lot(120.0, 60.0, ""));
    assert!(measured.rig()["reach_m2"].is_null());
    assert_eq!(measured.rig()["missing"], json!(["body"]));
    assert!(measured.page.contains("body"));
    let without_turns = FLEET
        .replace("turn_speed = \"3.5 mph\"\n", "")
        .replace("lap = \"1 ft\"\n", "");
    let measured = Measured::of(&without_turns, &lot(120.0, 60.0, ""));
    assert!(measured.m2("reach_m2") > 0.0);
    assert!(measured.rig()["plan"].is_null());
    assert_eq!(
        measured.rig()["missing"],
        json!(["turn_speed", "estimate.lap"])
    );
}

#[test]
fn a_turning_circle_smaller_than_the_body_is_an_error() {
    let fleet = FLEET.replace("\"50 ft\"", "\"20 ft\"");
    let night = Night::empty().fleet(&fleet).sites(&lot(120.0, 60.0, ""));
    let outcome = night.run(
        &["measure", night.path("").to_str().unwrap()],
        &night.path("out"),
        &[],
    );
    assert_eq!(outcome.code, 2);
    assert!(
        outcome.stderr.contains("turning_circle"),
        "{}",
        outcome.stderr
    );
}

/// Smaller than the boom, narrower than the body, of no ground, crowded with islands, overlapping, a boom ahead of the
/// axle, a body wider than the boom.
#[test]
fn odd_lots_and_rigs_give_figures_that_are_possible() {
    let at = |a: f64, b: f64, c: f64, d: f64| rectangle(a, b, c, d);
    let mut crowded = vec![zone("e", "lot", &at(0.0, 300.0, 60.0, 360.0))];
    for k in 0..100 {
        let (x, y) = (
            f64::from(k % 10) * 6.0 + 1.0,
            300.0 + f64::from(k / 10) * 6.0 + 1.0,
        );
        crowded.push(with(
            "e",
            &format!("i{k}"),
            &at(x, y, x + 1.0, y + 1.0),
            r#","use":"keep_off""#,
        ));
    }
    let mut zones = vec![
        zone("a", "lot", &at(0.0, 0.0, 2.0, 2.0)),
        zone("b", "lot", &at(0.0, 50.0, 80.0, 51.5)),
        zone("c", "lot", &at(0.0, 100.0, 40.0, 140.0)),
        zone("c", "again", &at(10.0, 100.0, 50.0, 140.0)),
    ];
    zones.append(&mut crowded);
    let text = sites(&zones);
    Measured::of(FLEET, &text);
    let wide_body = FLEET.replace("width = \"6.7 ft\"", "width = \"12 ft\"");
    Measured::of(&wide_body, &text);
    let ahead = FLEET.replace(
        "antenna = { ahead = \"13 ft\" }",
        "antenna = { ahead = \"-12 ft\" }",
    );
    Measured::of(&ahead, &text);
}

/// Twelve corners 0.0005 degrees from the pole: 55.85 m on the meridian, whose radius there is a2/b = 6,399,593.6 m (WGS 84), and
/// a twelve-sided ring has 3 r2. No lane is longer than once around.
#[test]
fn a_lot_around_a_pole_is_measured() {
    let corner = |k: i32| [f64::from(k % 12) * 30.0 - 180.0, 89.9995];
    let ring: Vec<[f64; 2]> = (0..=12).map(corner).collect();
    let feature = json!({ "type": "Feature", "properties": { "site": "p", "use": "lot" },
        "geometry": { "type": "Polygon", "coordinates": [ring] } });
    let document = json!({ "type": "FeatureCollection", "features": [feature] });
    let measured = Measured::of(FLEET, &document.to_string());
    let radius_m = 6_399_593.6 * 0.0005_f64.to_radians();
    let area_m2 = measured.json["sites"][0]["area_m2"].as_f64().unwrap();
    assert!((area_m2 / (3.0 * radius_m * radius_m) - 1.0).abs() < 1e-4);
    let plan = &measured.rig()["plan"];
    let lanes = plan["lanes"].as_f64().unwrap();
    assert!(measured.plan("length_m") < lanes * 2.0 * std::f64::consts::PI * radius_m);
    assert!(measured.plan("gap_m2") < 0.05 * area_m2);
}

/// P5 and P2 of the site-scale polygons: geodesic areas by GeographicLib 2.1's Planimeter (Karney 2013).
/// P2 is moved 60 degrees east, to mid-ocean: an ellipsoid does not mind.
#[test]
fn areas_and_perimeters_are_the_geodesic_ones() {
    let p2 = [
        [-33.270, 44.980],
        [-33.267, 44.980],
        [-33.267, 44.981],
        [-33.2685, 44.981],
        [-33.2685, 44.982],
        [-33.270, 44.982],
    ];
    let p5 = [
        [179.9995, -16.5],
        [-179.9995, -16.5],
        [-179.9995, -16.499],
        [179.9995, -16.499],
    ];
    for (ring, area_m2, perimeter_m) in [
        (&p2[..], 39443.6316, 917.7650),
        (&p5[..], 11814.9677, 434.8567),
    ] {
        let mut ring = ring.to_vec();
        ring.push(ring[0]);
        let feature = json!({ "type": "Feature", "properties": { "site": "p", "use": "lot" },
            "geometry": { "type": "Polygon", "coordinates": [ring] } });
        let measured = Measured::of(
            FLEET,
            &json!({ "type": "FeatureCollection", "features": [feature] }).to_string(),
        );
        let zone = &measured.json["sites"][0]["zones"][0];
        assert!((zone["area_m2"].as_f64().unwrap() / area_m2 - 1.0).abs() < 1e-6);
        assert!((zone["perimeter_m"].as_f64().unwrap() / perimeter_m - 1.0).abs() < 1e-6);
    }
}

/// Real outlines with islands and poles put in (fixtures/lots): every lot is planned, with both rigs.
#[test]
fn furnished_real_lots_are_planned() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/lots");
    let text = std::fs::read_to_string(folder.join("furnished.geojson")).unwrap();
    let fleet = std::fs::read_to_string(folder.join("fleet.toml")).unwrap();
    let mut document: Value = serde_json::from_str(&text).unwrap();
    let features = document["features"].as_array_mut().unwrap();
    features.retain(|feature| {
        ["f008", "f010", "f011"].contains(&feature["properties"]["site"].as_str().unwrap())
    });
    let measured = Measured::of(&fleet, &document.to_string());
    for site in measured.json["sites"].as_array().unwrap() {
        for rig in site["rigs"].as_array().unwrap() {
            assert!(
                rig["plan"]["lanes"].as_u64().unwrap() > 0,
                "{} {}",
                site["site"],
                rig["rig"]
            );
        }
    }
}
