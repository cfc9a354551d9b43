//! Times and positions that cannot be.

use super::{alone, beside, metered_l};
use crate::night::{
    Fix, ON_TARGET_L_MIN, gpx, gpx_of, healthy, number, pass, point, point_at, time,
};

#[test]
fn a_log_of_one_point_is_no_run_to_speak_of() {
    let outcome = beside("bad.gpx", gpx(&healthy()[..1]));
    assert!(metered_l(&outcome).abs() < 1e-12);
    let outcome = alone(gpx(&healthy()[..1]));
    assert!((0..=1).contains(&outcome.code), "{}", outcome.stderr);
    assert_eq!(outcome.findings("not_visited").len(), 1);
}

#[test]
fn a_log_outside_all_sites_lays_its_liquid_outside() {
    let far: Vec<Fix> = pass(0.0, (3000.0, 0.0), (3400.0, 0.0));
    let outcome = beside("bad.gpx", gpx(&far));
    let run = outcome
        .runs()
        .iter()
        .find(|run| run["rig"] == "other")
        .unwrap();
    // 100 s at 28.8 L/min.
    assert!(
        (number(&run["ledger_l"]["outside"]) - 48.0).abs() < 1e-9,
        "{run:#}"
    );
    assert!(outcome.text("strayed").contains("rig other"));
}

#[test]
fn positions_that_do_not_exist_are_left_out_and_counted() {
    for (lat, lon) in [
        ("NaN", "-30"),
        ("inf", "-30"),
        ("91", "-30"),
        ("45", "181"),
        ("1e308", "0"),
        ("", ""),
        ("45,0", "-30,0"),
    ] {
        let bad = format!(
            "<trkpt lat=\"{lat}\" lon=\"{lon}\"><time>{}</time></trkpt>\n",
            time(30.5)
        );
        let points: String = healthy().iter().map(point).collect();
        let outcome = alone(gpx_of(&(points + &bad)));
        outcome.still_audited();
        let text = outcome.text("input_skipped");
        assert!(
            text.contains("1 point left out, the first at line 78"),
            "{text}"
        );
    }
}

#[test]
fn a_log_of_bad_positions_only_is_refused_with_a_line() {
    let text = gpx(&healthy()).replace("lat=\"4", "lat=\"x");
    alone(text).refused(&[
        "bad.gpx:3:",
        "no points that can be used, of 75",
        "latitude or longitude",
    ]);
}

#[test]
fn time_that_runs_backwards_is_said_and_sorted() {
    let mut fixes = healthy();
    let late = fixes.split_off(50);
    let outcome = alone(gpx(&[late, fixes].concat()));
    outcome.still_audited();
    let text = outcome.text("clock_odd");
    assert!(
        text.contains("time is before") && text.contains("line 28"),
        "{text}"
    );
}

#[test]
fn a_time_without_zone_is_utc_and_said_once() {
    let outcome = alone(gpx(&healthy()).replace("Z</time>", "</time>"));
    outcome.still_audited();
    assert!(
        outcome
            .text("clock_odd")
            .contains("read as UTC (75 fixes, the first at line 3)"),
        "{}",
        outcome.text("clock_odd")
    );
    assert_eq!(outcome.runs()[0]["start"], "2026-01-12T02:00:00Z");
}

#[test]
fn unreadable_times_are_left_out() {
    let text = gpx(&healthy()).replace(">2026-01-12T02:00:03.000Z<", ">noon<");
    let outcome = alone(text.replace("<time>2026-01-12T02:00:05.000Z</time>", ""));
    outcome.still_audited();
    assert_eq!(outcome.findings("input_skipped").len(), 2);
}

#[test]
fn times_that_no_receiver_gives_are_left_out() {
    for year in ["0001", "0000", "1970", "2200", "9999"] {
        let text = gpx(&healthy()).replace("2026-", &format!("{year}-"));
        let outcome = beside("bad.gpx", &text);
        let says = format!("\"{year}-01-12T02:00:00.000Z\" is not within 1980 to 2199");
        assert!(
            outcome.text("input_skipped").contains(&says),
            "{}",
            outcome.text("input_skipped")
        );
        alone(text).refused(&["bad.gpx:3:", &says]);
    }
    for year in ["10000", "-0001", "99999999999", "+2026"] {
        beside(
            "bad.gpx",
            gpx(&healthy()).replace("2026-", &format!("{year}-")),
        );
    }
    for year in ["1980", "2199"] {
        let text = gpx(&healthy()).replace("2026-", &format!("{year}-"));
        alone(text).still_audited();
    }
}

#[test]
fn single_fixes_of_other_centuries_cost_only_themselves() {
    let late = point(&(90.0, 500.0, 500.0, "0000", 0.0));
    let mut text: String = healthy().iter().map(point).collect();
    text += &late.replace("2026-", "0001-");
    text += &late.replace("2026-", "9999-");
    let outcome = alone(gpx_of(&text));
    outcome.still_audited();
    assert!(
        outcome
            .text("input_skipped")
            .contains("2 points left out, the first at line 78")
    );
    assert!(outcome.runs()[0]["dropouts"].as_array().unwrap().is_empty());
}

#[test]
fn two_fixes_with_one_time_are_both_used() {
    let mut fixes = healthy();
    // At 10.000 s and 10.000 s, 1 cm apart.
    let twin = (
        fixes[10].0,
        fixes[10].1 + 0.01,
        fixes[10].2,
        "1111",
        ON_TARGET_L_MIN,
    );
    fixes.insert(11, twin);
    let outcome = alone(gpx(&fixes));
    outcome.still_audited();
    assert_eq!(outcome.runs()[0]["fixes_used"], 76);
}

#[test]
fn a_thousand_fixes_with_one_time_come_to_an_end() {
    let fixes: Vec<Fix> = (0..2000)
        .map(|i| (5.0, f64::from(i) * 0.01, 5.0, "1111", 20.0))
        .collect();
    let outcome = alone(gpx(&fixes));
    assert_ne!(outcome.code, 2, "{}", outcome.stderr);
}

#[test]
fn all_fixes_in_one_place_spray_nothing_but_the_ledger() {
    let fixes: Vec<Fix> = (0..600)
        .map(|i| (f64::from(i), 40.0, 6.0, "1111", 28.8))
        .collect();
    let outcome = alone(gpx(&fixes));
    // 599 s of flow under the standing boom.
    assert!((number(&outcome.runs()[0]["ledger_l"]["metered"]) - 599.0 * 0.48).abs() < 1e-6);
    assert_eq!(
        outcome.findings("parked_flow").len(),
        1,
        "{}",
        outcome.stdout
    );
}

#[test]
fn jumps_of_a_thousand_kilometres_are_left_out() {
    let jump = |i: usize| i % 5 == 2;
    let points: String = healthy()
        .iter()
        .enumerate()
        .map(|(i, fix)| {
            if jump(i) {
                point(&(fix.0, fix.1 + 1e6, fix.2, fix.3, fix.4))
            } else {
                point(fix)
            }
        })
        .collect();
    let outcome = alone(gpx_of(&points));
    outcome.still_audited();
    assert!(
        outcome
            .text("jumps_dropped")
            .contains("15 fixes were left out"),
        "{}",
        outcome.text("jumps_dropped")
    );
    // The three passes and the ways between are some 300 m; one jump would be 1,000 km.
    assert!(number(&outcome.runs()[0]["distance_m"]) < 400.0);
}

#[test]
fn a_log_that_jumps_back_and_forth_all_the_time_comes_to_an_end() {
    let fixes: Vec<Fix> = (0..3000)
        .map(|i| (f64::from(i), f64::from(i % 2) * 1e6, 5.0, "1111", 28.8))
        .collect();
    let outcome = beside("bad.gpx", gpx(&fixes));
    assert_ne!(outcome.code, 2);
}

#[test]
fn one_fix_an_hour_is_too_coarse_and_says_so() {
    let fixes: Vec<Fix> = (0..10)
        .map(|i| (3600.0 * f64::from(i), 8.0 * f64::from(i), 6.0, "1111", 28.8))
        .collect();
    let outcome = alone(gpx(&fixes));
    assert!(
        outcome.text("coarse_log").contains("one fix every 60 min"),
        "{}",
        outcome.text("coarse_log")
    );
    for site in outcome.audit()["sites"].as_array().unwrap() {
        for application in site["applications"].as_array().unwrap() {
            assert!(
                application["zones"][0]["treated_m2"].is_null(),
                "{application:#}"
            );
        }
    }
}

#[test]
fn positions_at_the_poles_and_the_antimeridian_are_positions() {
    let ways: [[[f64; 2]; 2]; 4] = [
        [[0.0, 89.9999], [180.0, 90.0]],
        [[-180.0, -90.0], [180.0, -90.0]],
        [[179.9999, 10.0], [-179.9999, 10.0]],
        [[-180.0, 0.0], [180.0, 0.0]],
    ];
    for way in ways {
        let points: String = (0..60)
            .map(|i| {
                let [lon, lat] = way[i / 10 % 2];
                point_at(
                    lon,
                    lat,
                    &time(i as f64),
                    "<s:flow>20</s:flow><s:sections>1111</s:sections>",
                )
            })
            .collect();
        beside("bad.gpx", gpx_of(&points));
    }
}

#[test]
fn a_pass_across_the_antimeridian_is_as_long_as_any() {
    let points: String = (0..=50_u32)
        .map(|i| {
            // 50 steps of 0.0001 degrees on the equator: 556.6 m (111.3195 km a degree, from a = 6378137 m).
            let lon = 179.9975 + 0.0001 * f64::from(i);
            let lon = if lon > 180.0 { lon - 360.0 } else { lon };
            point_at(
                lon,
                0.0,
                &time(f64::from(i)),
                "<s:flow>20</s:flow><s:sections>1111</s:sections>",
            )
        })
        .collect();
    let outcome = beside("bad.gpx", gpx_of(&points));
    let run = outcome
        .runs()
        .iter()
        .find(|run| run["rig"] == "other")
        .unwrap();
    assert!(
        (number(&run["distance_m"]) - 556.597).abs() < 0.01,
        "{}",
        run["distance_m"]
    );
}
