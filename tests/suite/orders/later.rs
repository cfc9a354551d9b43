//! What came later in the night, and orders whose ground or row is not what it seems.

use super::*;

/// Seven hours: so late that other ground is another application.
const LATER_S: f64 = 7.0 * 3600.0;

/// One site with a lot and, 8 m north of it, a drive of the same size.
fn lot_and_drive() -> String {
    sites(&[
        zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone_with(
            r#""site":"quay","zone":"drive","use":"drive""#,
            &rectangle(0.0, 20.0, 80.0, 32.0),
        ),
    ])
}

/// The lot without its last pass (a bare strip of 4 m), and the drive seven hours later.
fn lot_in_part_then_drive() -> Vec<Fix> {
    let mut fixes = lot(0.0, 0.0);
    fixes.retain(|fix| fix.0 < 50.0);
    fixes.extend(lot(LATER_S, 20.0));
    fixes
}

#[test]
fn a_zone_of_an_order_that_was_treated_after_its_time_is_nothing_to_go_back_for() {
    let mut fixes = lot(0.0, 0.0);
    fixes.extend(lot(LATER_S, 20.0));
    let rows = "quay,,,,,,2026-01-12 02:30,A-17\n";
    let outcome = ordered(&lot_and_drive(), &fixes, rows);
    assert_eq!(statuses(&outcome), ["in_part"]);
    let finding = outcome.findings("not_done")[0];
    assert_eq!(
        (finding["severity"].as_str(), finding["zone"].as_str()),
        (Some("look_into"), Some("drive"))
    );
}

#[test]
fn a_second_order_without_times_sends_nobody_to_ground_that_was_treated() {
    let rows = "quay,,,,,,,A-1\nquay,,,,,,,A-2\n";
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "not_done"]);
    assert_eq!(outcome.findings("not_done")[0]["severity"], "look_into");
    assert_eq!(outcome.code, 0);
}

#[test]
fn other_ground_treated_later_does_not_end_a_patch() {
    let outcome = Night::empty()
        .fleet(&format!("{FLEET}position = \"1 m\"\n"))
        .sites(&lot_and_drive())
        .log("a.gpx", gpx(&lot_in_part_then_drive()))
        .audit(&[]);
    let finding = outcome.findings("bare_patch")[0];
    assert_eq!(
        (finding["severity"].as_str(), finding["zone"].as_str()),
        (Some("go_back"), Some("lot"))
    );
    // The way there is in touchup.gpx, though the site's last application has no such patch.
    let touchup = std::fs::read_to_string(outcome.out.join("touchup.gpx")).unwrap();
    assert!(
        touchup.contains("quay (") || touchup.contains("<name>quay"),
        "{touchup}"
    );
    assert!(
        touchup.contains("strip 1 from here") || touchup.contains("patch 1"),
        "{touchup}"
    );
}

#[test]
fn an_ordered_zone_under_blocked_ground_cannot_be_done_nor_missed() {
    let all = rectangle(-5.0, 290.0, 85.0, 320.0);
    let blocked = zone_with(r#""site":"mill","zone":"pile","use":"blocked""#, &all);
    let lots = two_lots();
    let sites = lots.replacen("\"features\":[", &format!("\"features\":[{blocked},"), 1);
    assert_ne!(sites, lots);
    let outcome = ordered(&sites, &lot(0.0, 0.0), "quay,,,,,,,\nmill,lot,,,,,,\n");
    // Sites come in the order of their features: mill first.
    assert_eq!(statuses(&outcome), ["not_known", "done"]);
    assert!(
        outcome.findings("not_done").is_empty(),
        "{:?}",
        codes(&outcome)
    );
}

#[test]
fn a_quotation_mark_over_the_end_of_a_line_is_told() {
    let rows = "quay,,\"post,,,,,\nmill,,\",,,,,\n";
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), rows);
    let text = outcome.text("input_skipped");
    assert!(
        text.contains("quotation mark") && text.contains("line 2"),
        "{text}"
    );
}
