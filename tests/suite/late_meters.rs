//! A meter that reads late, through the whole program.

use crate::night::{FLEET, Fix, Night, ON_TARGET_L_MIN, Outcome, gpx, rectangle, sites, zone};

/// Twelve lanes of 100 m at 4 m/s, sprayed from line to line, 11 s to turn; what flows is shown `late_s`
/// later.
fn lanes(late_s: usize) -> Vec<Fix> {
    let mut fixes: Vec<Fix> = Vec::new();
    for lane in 0..12_i32 {
        let north_m = 2.0 + 4.0 * f64::from(lane);
        for k in -4..29_i32 {
            let along_m = 4.0 * f64::from(k);
            let east_m = if lane % 2 == 0 {
                along_m
            } else {
                100.0 - along_m
            };
            let open = (0..25).contains(&k);
            let states = if open { "1111" } else { "0000" };
            let flow = if open { ON_TARGET_L_MIN } else { 0.0 };
            fixes.push((fixes.len() as f64, east_m, north_m, states, flow));
        }
        // Between the lanes, on the half circle.
        for k in 1..4_i32 {
            let angle = std::f64::consts::PI * f64::from(k) / 4.0;
            let (out, edge_m) = if lane % 2 == 0 {
                (1.0, 112.0)
            } else {
                (-1.0, -12.0)
            };
            let east_m = edge_m + out * 2.0 * angle.sin();
            let up_m = 2.0 - 2.0 * angle.cos();
            fixes.push((fixes.len() as f64, east_m, north_m + up_m, "0000", 0.0));
        }
    }
    let flows: Vec<f64> = fixes.iter().map(|fix| fix.4).collect();
    for (i, fix) in fixes.iter_mut().enumerate() {
        fix.4 = i.checked_sub(late_s).map_or(0.0, |before| flows[before]);
    }
    fixes
}

fn audited(late_s: usize, lines: &str) -> Outcome {
    Night::empty()
        .fleet(&format!("{FLEET}{lines}\n"))
        .sites(&sites(&[zone(
            "quay",
            "lot",
            &rectangle(0.0, 0.0, 100.0, 48.0),
        )]))
        .log("late.gpx", gpx(&lanes(late_s)))
        .audit(&[])
}

#[test]
fn a_late_meter_sends_nobody_back_and_is_told_for_the_record() {
    for late_s in [3, 5] {
        let outcome = audited(late_s, "");
        let late = outcome.findings("meter_late");
        assert_eq!(late.len(), 1);
        assert_eq!(late[0]["severity"], "for_the_record");
        let figure_s = late[0]["figure"].as_f64().unwrap();
        assert!((figure_s - late_s as f64).abs() < 0.5, "{figure_s}");
        assert!(outcome.findings("bare_patch").is_empty());
        assert!(outcome.findings("closed_flow").is_empty());
        assert!(outcome.findings("off_rate").is_empty());
    }
}

#[test]
fn a_delay_of_nothing_switches_it_off() {
    let outcome = audited(5, "meter = { delay = \"0 s\" }");
    assert!(outcome.findings("meter_late").is_empty());
    // What the meter shows is taken at its word: bare starts of all lanes.
    assert!(!outcome.findings("bare_patch").is_empty());
}

#[test]
fn a_prompt_meter_makes_no_remark() {
    assert!(audited(0, "").findings("meter_late").is_empty());
}
