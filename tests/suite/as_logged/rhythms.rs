use super::{alone, fleet_with};
use crate::night::{Fix, Night, ON_TARGET_L_MIN, Outcome, gpx, healthy, number};

const ON_CHANGE: &str = "section_log = \"on_change\"";

fn on_change(fixes: &[Fix]) -> Outcome {
    Night::new()
        .no_logs()
        .fleet(&fleet_with(ON_CHANGE))
        .log("own.gpx", gpx(fixes))
        .audit(&[])
}

/// Only the fixes at which a section switches: the ends of the passes.
fn switches() -> Vec<Fix> {
    let all = healthy();
    (0..all.len())
        .filter(|&i| i == 0 || all[i].3 != all[i - 1].3)
        .map(|i| all[i])
        .collect()
}

/// Four passes back and forth, a fix every `step_m` whatever the speed, which changes as drivers do.
fn by_distance(step_m: f64) -> Vec<Fix> {
    let mut fixes = Vec::new();
    let mut seconds = 0.0;
    for lap in 0..12_i32 {
        let north_m = 2.0 + 4.0 * f64::from(lap % 3);
        let steps = (96.0 / step_m) as i32;
        for k in 0..=steps {
            let along_m = f64::from(k) * step_m;
            let east_m = if lap % 2 == 0 {
                along_m - 8.0
            } else {
                88.0 - along_m
            };
            let open = k < steps;
            let flow = if open { ON_TARGET_L_MIN } else { 0.0 };
            fixes.push((
                seconds,
                east_m,
                north_m,
                if open { "1111" } else { "0000" },
                flow,
            ));
            // 4 m/s, at the lot's middle down to 0.8 m/s; the way to the next pass takes as long as a step.
            let speed_m_s = if k == steps / 2 {
                0.8
            } else {
                2.0 + f64::from((7 * k + lap) % 5)
            };
            seconds += step_m / speed_m_s;
        }
    }
    fixes
}

#[test]
fn a_log_of_switches_only_shows_its_passes() {
    let outcome = on_change(&switches());
    outcome.still_audited();
    let zone = outcome.first_zone();
    assert_eq!(zone["verdict"], "area");
    // The same as with a fix a second: 30 mL/m2 on 80 m x 12 m.
    assert!((number(&zone["volume_l"]) - 28.8).abs() < 0.3, "{zone:#}");
    assert!(outcome.runs()[0]["dropouts"].as_array().unwrap().is_empty());
    assert_eq!(outcome.runs()[0]["fixes_used"], 6);
    let text = outcome.text("sparse_log");
    assert!(
        text.contains("24 s") && text.contains("assumed straight"),
        "{text}"
    );
    assert!(outcome.findings("coarse_log").is_empty());
}

#[test]
fn the_same_log_without_the_key_is_too_coarse() {
    let outcome = alone(gpx(&switches()));
    assert_eq!(outcome.findings("coarse_log").len(), 1);
}

#[test]
fn with_a_fix_a_second_the_key_changes_nothing() {
    let (sampled, changed) = (Night::new().audit(&[]), on_change(&healthy()));
    assert_eq!(sampled.audit()["sites"], changed.audit()["sites"]);
    assert!(changed.findings("sparse_log").len() <= 1);
}

#[test]
fn a_silence_of_more_than_a_minute_or_around_a_corner_stays_a_dropout() {
    // Open for 80 s at 2 m/s.
    let slow = [
        (0.0, -8.0, 2.0, "1111", 14.4),
        (80.0, 152.0, 2.0, "0000", 0.0),
    ];
    assert_eq!(
        on_change(&slow).runs()[0]["dropouts"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    // Three open fixes around a square corner: which way it went nobody knows.
    let corner = [
        (0.0, 0.0, 2.0, "1111", 28.8),
        (10.0, 40.0, 2.0, "1101", 28.8),
        (20.0, 40.0, 42.0, "0000", 0.0),
    ];
    assert_eq!(
        on_change(&corner).runs()[0]["dropouts"]
            .as_array()
            .unwrap()
            .len(),
        2
    );
}

#[test]
fn a_controllers_speed_tells_a_loop_from_a_straight_line() {
    let with_speed = |speed: f64| {
        let point = |fix: &Fix| {
            let extensions = format!(
                "<s:flow>{}</s:flow><s:sections>{}</s:sections><s:speed>{speed}</s:speed>",
                fix.4, fix.3
            );
            crate::night::point_with(fix.0, fix.1, fix.2, &extensions)
        };
        let points: String = switches()[..2].iter().map(point).collect();
        let night = Night::new().no_logs().fleet(&fleet_with(ON_CHANGE));
        let outcome = night
            .log("own.gpx", crate::night::gpx_of(&points))
            .audit(&[]);
        outcome.runs()[0]["dropouts"].as_array().unwrap().len()
    };
    assert_eq!((with_speed(4.0), with_speed(6.0)), (0, 1));
}

#[test]
fn a_logger_by_distance_is_recognised_and_its_slow_steps_are_no_silences() {
    let outcome = alone(gpx(&by_distance(8.0)));
    assert!(
        outcome.runs()[0]["dropouts"].as_array().unwrap().is_empty(),
        "{:#}",
        outcome.runs()[0]
    );
    let text = outcome.text("sparse_log");
    assert!(
        text.contains("every 26.") && text.contains("none while the rig stands"),
        "{text}"
    );
    assert!(outcome.findings("coarse_log").is_empty());
    assert!(number(&outcome.first_zone()["treated_m2"]) > 0.98 * 960.0);
}

#[test]
fn a_logger_every_thirty_metres_cannot_show_coverage() {
    let outcome = alone(gpx(&by_distance(32.0)));
    assert_eq!(outcome.findings("coarse_log").len(), 1);
    assert!(outcome.findings("sparse_log").is_empty());
}

#[test]
fn a_stop_of_a_logger_by_distance_is_parking_when_nothing_flowed_and_a_dropout_when_it_did() {
    let stop = |flow: f64| {
        let mut fixes = by_distance(8.0);
        let at = fixes.iter().position(|fix| fix.3 == "0000").unwrap();
        fixes[at].4 = flow;
        fixes[at + 1].4 = flow;
        fixes[at + 1].3 = "0000";
        for fix in &mut fixes[at + 1..] {
            fix.0 += 600.0;
        }
        alone(gpx(&fixes)).runs()[0]["dropouts"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!((stop(0.0), stop(5.0)), (0, 1));
}

#[test]
fn a_fix_in_three_seconds_says_once_what_it_leaves_out() {
    let every_third: Vec<Fix> = healthy()
        .into_iter()
        .enumerate()
        .filter(|(i, _)| i % 3 == 0)
        .map(|(_, fix)| fix)
        .collect();
    let outcome = alone(gpx(&every_third));
    assert!(outcome.text("sparse_log").contains("one fix every 3 s"));
    assert_eq!(
        outcome.findings("sparse_log")[0]["severity"],
        "for_the_record"
    );
    assert!(Night::new().audit(&[]).findings("sparse_log").is_empty());
}
