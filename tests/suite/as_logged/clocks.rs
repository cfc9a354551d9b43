use super::fleet_with;
use crate::night::{self, FLEET, Night, Outcome, gpx, gpx_of, healthy};

/// Two rigs, the other one a mile off.
fn two_rigs() -> String {
    format!(
        "{FLEET}logs = [\"healthy*\"]\n[[rig]]\nid = \"other\"\nsections = [\"1 m\", \"1 m\", \"1 m\", \"1 m\"]\nlogs = [\"other*\"]\n"
    )
}

/// The healthy log, its own times replaced by the same hours of another day.
fn on_day(day: &str) -> String {
    gpx(&healthy()).replace("2026-01-12", day)
}

fn with_other(day: &str) -> Outcome {
    Night::new()
        .fleet(&two_rigs())
        .log("other.gpx", on_day(day))
        .audit(&[])
}

#[test]
fn a_clock_offset_is_added_once_and_shown_wherever_it_counts() {
    let night = Night::new().fleet(&fleet_with("clock_offset = \"-1 h\""));
    let outcome = night.audit(&[]);
    outcome.still_audited();
    let run = &outcome.runs()[0];
    assert_eq!(run["clock_offset_s"], -3600.0);
    assert_eq!(run["start"], "2026-01-12T01:00:00Z");
    let visit = &outcome.audit()["sites"][0]["applications"][0]["visits"][0];
    assert_eq!(visit["arrive"], "2026-01-12T01:00:00Z");
    assert!(outcome.text("clock_shifted").contains("shifted by -60 min"));
    assert!(
        outcome
            .stdout
            .contains("Times of rig north: -60 min to its log"),
        "{}",
        outcome.stdout
    );
    let runs = std::fs::read_to_string(outcome.out.join("runs.csv")).unwrap();
    let heading = runs.lines().next().unwrap().split(',');
    let column = heading
        .clone()
        .position(|name| name == "clock_offset_s")
        .unwrap();
    assert_eq!(
        runs.lines().nth(1).unwrap().split(',').nth(column),
        Some("-3600.000")
    );
}

#[test]
fn without_the_key_nothing_is_moved_and_nothing_said() {
    let outcome = Night::new().audit(&[]);
    assert_eq!(outcome.runs()[0]["clock_offset_s"], 0.0);
    assert!(outcome.findings("clock_shifted").is_empty());
    assert!(!outcome.stdout.contains("clock_offset"));
}

#[test]
fn a_receiver_1024_weeks_back_is_named_with_the_key_that_sets_it_right() {
    // 1,024 weeks are 7,168 days: from 2026-01-12 back to 2006-05-29 (Python: date - timedelta(weeks=1024)).
    let outcome = with_other("2006-05-29");
    let text = outcome.text("clock_odd");
    assert!(
        text.contains("rig other") && text.contains("1024 weeks before"),
        "{text}"
    );
    assert!(text.contains("set clock_offset = \"1024 weeks\""), "{text}");
    let put_right = Night::new()
        .fleet(&(two_rigs() + "clock_offset = \"1024 weeks\"\n"))
        .log("other.gpx", on_day("2006-05-29"))
        .audit(&[]);
    assert!(put_right.findings("clock_odd").is_empty());
    assert_eq!(put_right.runs()[1]["start"], "2026-01-12T02:00:00Z");
}

#[test]
fn of_two_runs_the_earlier_is_named_and_of_three_the_odd_one() {
    let text_of = |outcome: &Outcome| outcome.text("clock_odd").to_owned();
    assert!(text_of(&with_other("2026-01-19")).contains("rig north"));
    assert!(text_of(&with_other("2026-01-05")).contains("rig other"));
    let third = "[[rig]]\nid = \"third\"\nsections = [\"1 m\", \"1 m\", \"1 m\", \"1 m\"]\nlogs = [\"third*\"]\n";
    let outcome = Night::new()
        .fleet(&(two_rigs() + third))
        .log("other.gpx", on_day("2026-01-12"))
        .log("third.gpx", on_day("2026-01-20"))
        .audit(&[]);
    let text = text_of(&outcome);
    assert!(
        text.contains("rig third") && text.contains("8 days after"),
        "{text}"
    );
}

#[test]
fn a_log_of_last_week_among_tonights_is_named() {
    let outcome = Night::new()
        .log("older.gpx", on_day("2026-01-05"))
        .audit(&[]);
    let text = outcome.text("clock_odd");
    assert!(
        text.contains("older.gpx") && text.contains("7 days before"),
        "{text}"
    );
}

#[test]
fn the_evening_before_and_the_noon_after_are_one_night() {
    let outcome = with_other("2026-01-11");
    assert!(outcome.findings("clock_odd").is_empty());
}

#[test]
fn a_clock_that_stands_still_is_counted_and_no_jump() {
    // Thirty fixes under one second, 4 m apart: 120 m in a second.
    let fixes = healthy();
    let points = super::stamped(&fixes, |seconds| {
        let stuck = (30.0..=49.0).contains(&seconds);
        night::time(if stuck { 30.0 } else { seconds })
    });
    let outcome = super::alone(gpx_of(&points));
    let text = outcome.text("clock_odd");
    assert!(
        text.contains("the clock stopped") && text.contains("19 fixes"),
        "{text}"
    );
    assert!(outcome.findings("jumps_dropped").is_empty());
}
