//! How an application was driven, on lanes whose speed, lap and turns are known.

use crate::night::{FLEET, Fix, Night, gpx, number, rectangle, sites, zone};

const LANES: usize = 4;
/// From the middle of one lane to that of the next, m: the boom is 4 m.
const APART_M: f64 = 3.6;
const SPEED_M_S: f64 = 4.0;
const LANE_S: usize = 20;
const TURN_S: usize = 8;
/// Flow that lays 30 mL/m2 over 4 m at 4 m/s, L/min.
const FLOW_L_MIN: f64 = 28.8;

/// East and back again, with half circles between, at 1 Hz; lanes reach from one end of the lot to the other.
fn lanes() -> Vec<Fix> {
    let mut fixes = Vec::new();
    for lane in 0..LANES {
        let (north_m, start_s) = (2.0 + APART_M * lane as f64, lane * (LANE_S + TURN_S));
        let east = lane % 2 == 0;
        let x_m = |second: usize| {
            let along_m = SPEED_M_S * second as f64;
            if east { along_m } else { 80.0 - along_m }
        };
        for second in 0..=LANE_S {
            let (states, flow) = if second < LANE_S {
                ("1111", FLOW_L_MIN)
            } else {
                ("0000", 0.0)
            };
            fixes.push((
                (start_s + second) as f64,
                x_m(second),
                north_m,
                states,
                flow,
            ));
        }
        if lane + 1 < LANES {
            let side = if east { 1.0 } else { -1.0 };
            for second in 1..TURN_S {
                let angle = std::f64::consts::PI * second as f64 / TURN_S as f64;
                let radius_m = APART_M / 2.0;
                let x_m = x_m(LANE_S) + side * radius_m * angle.sin();
                let y_m = north_m + radius_m * (1.0 - angle.cos());
                fixes.push(((start_s + LANE_S + second) as f64, x_m, y_m, "0000", 0.0));
            }
        }
    }
    fixes
}

#[test]
fn lanes_have_their_speed_lap_turns_and_field_efficiency() {
    let height_m = 4.0 + APART_M * (LANES - 1) as f64;
    let night = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&[zone(
            "s",
            "lot",
            &rectangle(0.0, 0.0, 80.0, height_m),
        )]))
        .log("a.gpx", gpx(&lanes()));
    let outcome = night.audit(&["--fail-on", "never"]);
    let driving = &outcome.audit()["sites"][0]["applications"][0]["driving"];
    let near = |name: &str, want: f64, within: f64| {
        let got = number(&driving[name]);
        assert!((got - want).abs() <= within, "{name}: {got} is not {want}");
    };
    near("speed_m_s", SPEED_M_S, 1e-3);
    near("lap_m", 4.0 - APART_M, 1e-3);
    near("turns", (LANES - 1) as f64, 0.0);
    near("turning_s", ((LANES - 1) * TURN_S) as f64, 1e-6);
    // The whole lot, in the time of four lanes and three turns.
    let on_site_s = (LANES * LANE_S + (LANES - 1) * TURN_S) as f64;
    near(
        "field_efficiency",
        80.0 * height_m / (4.0 * SPEED_M_S * on_site_s),
        1e-3,
    );
}

#[test]
fn one_pass_has_a_speed_and_neither_lap_nor_turns() {
    let night = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&[zone("s", "lot", &rectangle(0.0, 0.0, 80.0, 4.0))]))
        .log("a.gpx", gpx(&lanes()[..=LANE_S]));
    let outcome = night.audit(&["--fail-on", "never"]);
    let driving = &outcome.audit()["sites"][0]["applications"][0]["driving"];
    assert!((number(&driving["speed_m_s"]) - SPEED_M_S).abs() < 1e-3);
    assert!(
        driving["lap_m"].is_null() && driving["turns"] == 0,
        "{driving}"
    );
}
