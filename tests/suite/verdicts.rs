//! Verdicts on sound work and on single faults: what is blamed, what is only told, and what sends somebody back.

use crate::night::{
    FLEET, Fix, Night, ON_TARGET_L_MIN, Outcome, gpx, gpx_of, number, pass, point_with, rectangle,
    sites, zone, zone_with,
};
use serde_json::Value;

/// A lane to the east from x = -8 to 88 m at 4 m/s, all open on target but where `change` says otherwise.
fn lane(
    start_s: f64,
    north_m: f64,
    change: impl Fn(f64) -> Option<(&'static str, f64)>,
) -> Vec<Fix> {
    let mut fixes = pass(start_s, (-8.0, north_m), (88.0, north_m));
    for fix in &mut fixes {
        if let Some((states, flow)) = change(fix.1) {
            (fix.3, fix.4) = (states, flow);
        }
    }
    fixes
}

/// Nine lanes of 4 m over 80 x 36 m, to and fro without a break; `change(lane, x)` says where a step, that begins at x on
/// its western side, is not all open on target.
pub(crate) fn lanes(change: impl Fn(usize, f64) -> Option<(&'static str, f64)>) -> Vec<Fix> {
    let mut fixes: Vec<Fix> = Vec::new();
    for lane in 0..9_usize {
        let north_m = 2.0 + 4.0 * lane as f64;
        let east = lane % 2 == 0;
        for k in 0..=24_usize {
            let along_m = 4.0 * k as f64;
            let (east_m, west_side_m) = if east {
                (along_m - 8.0, along_m - 8.0)
            } else {
                (88.0 - along_m, 84.0 - along_m)
            };
            let (states, flow) = match change(lane, west_side_m) {
                _ if k == 24 => ("0000", 0.0),
                Some(changed) => changed,
                None => ("1111", ON_TARGET_L_MIN),
            };
            fixes.push((fixes.len() as f64, east_m, north_m, states, flow));
        }
        // Half a turn beyond the lot.
        let beyond_m = if east { 91.0 } else { -11.0 };
        fixes.push((fixes.len() as f64, beyond_m, north_m + 2.0, "0000", 0.0));
    }
    fixes
}

fn lot() -> String {
    zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 36.0))
}

/// The rig's position error is told: else nobody would be sent for what a phone's may explain.
fn night(fixes: &[Fix]) -> Night {
    Night::empty()
        .fleet(&format!("{FLEET}position = \"1 m\"\n"))
        .sites(&sites(&[lot()]))
        .log("north.gpx", gpx(fixes))
}

fn audited(fixes: &[Fix]) -> Outcome {
    night(fixes).audit(&["--fail-on", "never"])
}

fn only<'a>(outcome: &'a Outcome, code: &str) -> &'a Value {
    match outcome.findings(code).as_slice() {
        [finding] => finding,
        found => panic!("{} findings {code}: {found:#?}", found.len()),
    }
}

fn severities(outcome: &Outcome, severity: &str) -> Vec<String> {
    let all = outcome.audit()["findings"].as_array().unwrap();
    all.iter()
        .filter(|finding| finding["severity"] == severity)
        .map(|finding| finding["code"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn ground_crossed_with_spraying_off_is_no_section_s_fault() {
    // Two lanes closed from 40 to 56 m: 128 m2 that the driver left out.
    let off =
        |k, x: f64| ((3..5).contains(&k) && (40.0..56.0).contains(&x)).then_some(("0000", 0.0));
    let outcome = audited(&lanes(off));
    let patch = only(&outcome, "bare_patch");
    assert_eq!(patch["severity"], "go_back");
    let text = patch["text"].as_str().unwrap();
    assert!(text.contains("crossed with spraying off"), "{text}");
    assert!(!patch["check"].as_str().unwrap().contains("switch"));
    assert_eq!(patch["sections"], Value::Null);
    let causes = &outcome.first_zone()["gap_causes_m2"];
    assert!(
        (number(&causes["spraying_off"]) - 128.0).abs() < 1.0,
        "{causes}"
    );
    assert!(number(&causes["closed"]) < 1.0, "{causes}");
    assert_eq!(outcome.first_zone()["patches"][0]["cause"], "spraying_off");
}

#[test]
fn a_closed_section_is_named_by_number_and_side_everywhere() {
    // The right half of the boom, closed over four of the lanes to the east, the last one with them.
    let fleet = FLEET.replace(
        r#"["1 m", "1 m", "1 m", "1 m"]"#,
        "[\"1 m\", \"1 m\", \"2 m\"]\nposition = \"0.3 m\"",
    );
    let third = |k, _: f64| match k {
        2 | 4 | 6 | 8 => Some(("110", 0.5 * ON_TARGET_L_MIN)),
        _ => Some(("111", ON_TARGET_L_MIN)),
    };
    let mut fixes = lanes(third);
    for fix in fixes.iter_mut().filter(|fix| fix.3 == "0000") {
        fix.3 = "000";
    }
    let outcome = night(&fixes).fleet(&fleet).audit(&["--fail-on", "never"]);
    let patch = only(&outcome, "bare_patch");
    assert_eq!(patch["severity"], "go_back");
    assert_eq!(patch["sections"], serde_json::json!([3]));
    assert_eq!(
        (&patch["sections_of"], &patch["side"]),
        (&3.into(), &"right".into())
    );
    let named = "section 3 of 3 (right side)";
    assert!(patch["text"].as_str().unwrap().contains(named), "{patch}");
    let check = patch["check"].as_str().unwrap();
    let words = [
        "engine off, pressure relieved, eyes protected",
        "switch",
        "Don't send this rig again before section 3 works.",
    ];
    let at = words.map(|words| {
        check
            .find(words)
            .unwrap_or_else(|| panic!("no {words}: {check}"))
    });
    assert!(at.is_sorted(), "{check}");
    assert!(!check.contains("nozzle"), "{check}");
    let page = outcome
        .stdout
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(page.contains(named), "{page}");
    let rows = std::fs::read_to_string(outcome.out.join("findings.csv")).unwrap();
    assert!(rows.contains(",3 of 3,right"), "{rows}");
    let patches = outcome.first_zone()["patches"].as_array().unwrap();
    let all = patches
        .iter()
        .all(|patch| patch["closed_sections"] == serde_json::json!([3]));
    assert!(all && !patches.is_empty(), "{patches:#?}");
    let gpx = std::fs::read_to_string(outcome.out.join("touchup.gpx")).unwrap();
    assert!(gpx.contains(named), "{gpx}");
}

/// 16 s without a fix in a lane that was sprayed: longer than what counts as unlogged.
#[test]
fn ground_in_a_silence_that_may_have_been_sprayed_sends_nobody() {
    let mut fixes = lanes(|_, _| None);
    fixes.retain(|fix| !(fix.2 > 17.0 && fix.2 < 19.0 && (12.0..76.0).contains(&fix.1)));
    let outcome = audited(&fixes);
    let patch = only(&outcome, "bare_patch");
    assert_eq!(patch["severity"], "look_into");
    assert!(
        patch["text"]
            .as_str()
            .unwrap()
            .contains("the log has no fixes"),
        "{patch}"
    );
    assert_eq!(outcome.first_zone()["patches"][0]["cause"], "silence");
    assert_eq!(outcome.first_zone()["patches"][0]["likely"], true);
    assert!(severities(&outcome, "go_back").is_empty());
    // A total that did not rise meanwhile says that nothing was sprayed.
    let points = |steady: bool| -> String {
        let mut litres = 100.0;
        let mut before_s = 0.0;
        let fixes = fixes.iter().map(|&(t, x, y, states, flow)| {
            let silent = t - before_s > 5.0;
            litres += if silent && steady {
                0.0
            } else {
                (t - before_s) * flow / 60.0
            };
            before_s = t;
            let volume =
                format!("<s:volume>{litres:.3}</s:volume><s:sections>{states}</s:sections>");
            point_with(t, x, y, &volume)
        });
        fixes.collect()
    };
    let with_total = |steady| {
        let night = night(&fixes).log("north.gpx", gpx_of(&points(steady)));
        severities(&night.audit(&["--fail-on", "never"]), "go_back")
    };
    assert_eq!(with_total(true), ["bare_patch"]);
    assert!(with_total(false).is_empty());
}

#[test]
fn a_short_silence_without_other_harm_is_for_the_record() {
    let mut fixes = lanes(|_, _| None);
    fixes.retain(|fix| !(fix.2 > 17.0 && fix.2 < 19.0 && (20.0..48.0).contains(&fix.1)));
    let outcome = audited(&fixes);
    assert_eq!(
        only(&outcome, "dropout_nearby")["severity"],
        "for_the_record"
    );
    assert!(severities(&outcome, "go_back").is_empty());
    assert!(
        severities(&outcome, "look_into").is_empty(),
        "{}",
        outcome.stdout
    );
}

const ORDERS: &str = "site,from,by,order\n\
     quay,2026-01-12T01:30:00Z,2026-01-12T05:00:00Z,N-1\n\
     mill,2026-01-12T01:30:00Z,2026-01-12T05:00:00Z,N-2\n";

/// Two lots 200 m apart, treated one after the other from 02:00 by a clock that is so wrong.
fn two_lots(clock_s: f64, line: &str) -> Outcome {
    let mill = zone("mill", "lot", &rectangle(0.0, 200.0, 80.0, 236.0));
    let mut fixes = lanes(|_, _| None);
    let again: Vec<Fix> = fixes
        .iter()
        .map(|&(t, x, y, states, flow)| (t + 600.0, x, y + 200.0, states, flow))
        .collect();
    fixes.extend(again);
    let day_s = 86_400.0;
    // The stamps start at 02:00; a day is added so that an early clock stays in the month, and taken off the orders.
    let shifted: String = fixes
        .iter()
        .map(|&(t, x, y, states, flow)| {
            let extensions = format!("<s:flow>{flow}</s:flow><s:sections>{states}</s:sections>");
            point_with(t + day_s + clock_s, x, y, &extensions)
        })
        .collect();
    Night::empty()
        .fleet(&format!("{FLEET}{line}"))
        .sites(&sites(&[lot(), mill]))
        .log("north.gpx", gpx_of(&shifted))
        .file("orders.csv", ORDERS.replace("2026-01-12", "2026-01-13"))
        .audit(&["--fail-on", "never"])
}

#[test]
fn a_clock_in_local_time_is_one_finding_with_its_line_and_sends_nobody() {
    let outcome = two_lots(-5.0 * 3600.0, "");
    assert!(severities(&outcome, "go_back").is_empty());
    assert_eq!(severities(&outcome, "look_into"), ["outside_time"]);
    let finding = only(&outcome, "outside_time");
    let text = finding["text"].as_str().unwrap();
    for words in [
        "N-1, N-2",
        "quay, mill",
        "4 h 30 min before its window opens",
        "+5 h",
    ] {
        assert!(text.contains(words), "no {words}: {text}");
    }
    let check = finding["check"].as_str().unwrap();
    assert!(check.contains("clock_offset = \"5 h\""), "{check}");
    let orders = outcome.audit()["orders"].as_array().unwrap();
    assert!(orders.iter().all(|order| order["status"] == "not_known"));
    // The line does what it says.
    let mended = two_lots(-5.0 * 3600.0, "clock_offset = \"5 h\"\n");
    assert!(mended.findings("outside_time").is_empty());
    let orders = mended.audit()["orders"].as_array().unwrap();
    assert!(
        orders.iter().all(|order| order["status"] == "done"),
        "{orders:#?}"
    );
}

#[test]
fn a_clock_hours_late_that_still_meets_the_orders_does_not_pass_without_a_word() {
    // Two rigs, one an hour of true time after the other; the second's clock is six hours fast.
    let mill = zone("mill", "lot", &rectangle(0.0, 200.0, 80.0, 236.0));
    let shifted = |clock_s: f64, north_m: f64| -> String {
        let fixes = lanes(|_, _| None);
        let points = fixes.iter().map(|&(t, x, y, states, flow)| {
            let extensions = format!("<s:flow>{flow}</s:flow><s:sections>{states}</s:sections>");
            point_with(t + clock_s, x, y + north_m, &extensions)
        });
        points.collect()
    };
    let fleet = FLEET.replace("[defaults]", "[defaults]\ntimezone = \"Etc/GMT+6\"");
    let south = fleet
        .split_once("[[rig]]")
        .unwrap()
        .1
        .replace("north", "south");
    let named =
        |fleet: &str| format!("{fleet}logs = [\"north*\"]\n[[rig]]{south}logs = [\"south*\"]\n");
    let orders = "site,from,by,order\n\
         quay,2026-01-12T01:30:00Z,2026-01-12T12:00:00Z,N-1\n\
         mill,2026-01-12T01:30:00Z,2026-01-12T12:00:00Z,N-2\n";
    let audit = |clock_s: f64| {
        Night::empty()
            .fleet(&named(&fleet))
            .sites(&sites(&[lot(), mill.clone()]))
            .log("north.gpx", gpx_of(&shifted(0.0, 0.0)))
            .log("south.gpx", gpx_of(&shifted(600.0 + clock_s, 200.0)))
            .file("orders.csv", orders)
            .audit(&["--fail-on", "never"])
    };
    assert!(audit(0.0).findings("clock_apart").is_empty());
    let late = audit(6.0 * 3600.0);
    let orders = late.audit()["orders"].as_array().unwrap();
    assert!(orders.iter().all(|order| order["status"] == "done"));
    let remark = &late.findings("clock_apart");
    let of_south = remark
        .iter()
        .find(|finding| finding["rig"] == "south")
        .unwrap();
    assert!(
        of_south["check"]
            .as_str()
            .unwrap()
            .contains("clock_offset = \"-6 h\""),
        "{of_south}"
    );
}

#[test]
fn a_touch_up_hours_later_closes_its_patch_and_the_page_says_when() {
    let off =
        |k, x: f64| ((3..5).contains(&k) && (40.0..56.0).contains(&x)).then_some(("0000", 0.0));
    let mut fixes = lanes(off);
    // Three hours later over the two lanes' hole, a little beyond it at either end.
    let closed = |x: f64| (!(36.0..60.0).contains(&x)).then_some(("0000", 0.0));
    fixes.extend(lane(10_800.0, 14.0, closed));
    fixes.extend(lane(10_840.0, 18.0, closed));
    let outcome = audited(&fixes);
    assert_eq!(
        outcome.audit()["sites"][0]["applications"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    assert!(
        severities(&outcome, "go_back").is_empty(),
        "{}",
        outcome.stdout
    );
    let covered = only(&outcome, "touched_up");
    assert_eq!(
        (&covered["severity"], &covered["rig"]),
        (&"for_the_record".into(), &"north".into())
    );
    assert!(
        covered["text"]
            .as_str()
            .unwrap()
            .ends_with("covered by 05:00, rig north."),
        "{covered}"
    );
    assert!(
        (number(&covered["figure"]) - 128.0).abs() < 2.0,
        "{covered}"
    );
}

#[test]
fn a_lot_driven_once_round_and_then_in_lanes_was_not_treated_twice() {
    // A lap of 4 m along all sides, then lanes over all of it from line to line.
    let mut fixes = pass(0.0, (0.0, 2.0), (80.0, 2.0));
    fixes.extend(pass(30.0, (78.0, 0.0), (78.0, 36.0)));
    fixes.extend(pass(50.0, (80.0, 34.0), (0.0, 34.0)));
    fixes.extend(pass(80.0, (2.0, 36.0), (2.0, 0.0)));
    for k in 1..8 {
        let (t, y) = (100.0 + 40.0 * f64::from(k), 2.0 + 4.0 * f64::from(k));
        fixes.extend(pass(t, (0.0, y), (80.0, y)));
    }
    let outcome = audited(&fixes);
    assert!(outcome.findings("doubled").is_empty());
    assert!(outcome.findings("uneven").is_empty());
    let line = only(&outcome, "laid_twice");
    assert_eq!(line["severity"], "for_the_record");
    // Both short sides, 4 m x 36 m each, at 30 mL/m2, but for the corners that the long sides' laps share.
    assert!((number(&line["figure"]) - 8.64).abs() < 1.5, "{line}");
}

#[test]
fn whole_passes_driven_again_are_worth_asking_about() {
    let mut fixes = lanes(|_, _| None);
    let again: Vec<Fix> = lanes(|_, _| None)
        .into_iter()
        .filter(|fix| fix.2 < 8.0)
        .map(|(t, x, y, states, flow)| (t + 500.0, x, y, states, flow))
        .collect();
    fixes.extend(again);
    let outcome = audited(&fixes);
    let doubled = only(&outcome, "doubled");
    assert_eq!(doubled["severity"], "look_into");
    // Two lanes of 80 m.
    let text = doubled["text"].as_str().unwrap();
    assert!(
        text.contains("whole passes were driven again over 6,8") || text.contains("6,9"),
        "{text}"
    );
}

/// A total in whole gallons, sections closed for 11 s between lanes of 24 s, and a leak of `leak_l_s` in between.
fn gallons(leak_l_s: f64) -> Outcome {
    const GALLON_L: f64 = 3.785_411_784;
    let mut points = String::new();
    let mut litres = 500.0;
    for lap in 0..4 {
        for k in 0..9 {
            for second in 0..40 {
                let t = f64::from(lap * 360 + k * 40 + second);
                let (x, open) = if second <= 24 {
                    (-8.0 + 4.0 * f64::from(second), second < 24)
                } else {
                    // Back beside the lot.
                    (88.0 - 6.4 * f64::from(second - 24), false)
                };
                let y = 2.0 + 4.0 * f64::from(k) + 60.0 * f64::from(lap);
                let volume = (litres / GALLON_L).floor();
                let states = if open { "1111" } else { "0000" };
                let extensions = format!(
                    "<s:volume unit=\"gal\">{volume:.0}</s:volume><s:sections>{states}</s:sections>"
                );
                points += &point_with(t, x, y, &extensions);
                litres += if open {
                    ON_TARGET_L_MIN / 60.0
                } else {
                    leak_l_s
                };
            }
        }
    }
    let lots: Vec<String> = (0..4)
        .map(|lap| {
            let south_m = 60.0 * f64::from(lap);
            zone(
                &format!("lot{lap}"),
                "lot",
                &rectangle(0.0, south_m, 80.0, south_m + 36.0),
            )
        })
        .collect();
    Night::empty()
        .fleet(FLEET)
        .sites(&sites(&lots))
        .log("north.gpx", gpx_of(&points))
        .audit(&["--fail-on", "never"])
}

#[test]
fn a_leak_under_a_total_in_gallons_is_told_before_any_rate() {
    let leaking = gallons(0.12);
    let finding = only(&leaking, "perhaps_leaked");
    assert_eq!(leaking.audit()["findings"][0]["code"], "perhaps_leaked");
    // 36 pauses of 16 s.
    let leaked_l = 36.0 * 16.0 * 0.12;
    let told_l = number(&finding["figure"]);
    assert!(
        (told_l / leaked_l - 1.0).abs() < 0.25,
        "{told_l} of {leaked_l}"
    );
    assert!(leaking.findings("closed_flow").is_empty());
    let rates = leaking.findings("off_rate");
    assert!(
        rates
            .iter()
            .all(|rate| rate["severity"] == "for_the_record"),
        "{rates:#?}"
    );
    assert!(gallons(0.0).findings("perhaps_leaked").is_empty());
}

/// Twelve lanes of 24 s, and back beside each with all closed; liquid comes so many seconds after the opening.
fn to_and_back(slow_s: usize) -> Vec<Fix> {
    let mut fixes = Vec::new();
    for lane in 0..12_usize {
        for second in 0..40_usize {
            let east_m = if second <= 24 {
                4.0 * second as f64 - 8.0
            } else {
                88.0 - 6.4 * (second - 24) as f64
            };
            let (t, north_m) = ((40 * lane + second) as f64, 2.0 + 4.0 * (lane % 9) as f64);
            let (states, flow) = match second {
                _ if second >= 24 => ("0000", 0.0),
                _ if second < slow_s => ("1111", 0.0),
                _ => ("1111", ON_TARGET_L_MIN),
            };
            fixes.push((t, east_m, north_m, states, flow));
        }
    }
    fixes
}

/// Liquid 3 s after each opening, and none after a closing.
#[test]
fn liquid_late_at_every_start_with_a_prompt_meter_is_a_finding_of_its_own() {
    let outcome = audited(&to_and_back(3));
    let slow = only(&outcome, "slow_start");
    assert_eq!(slow["severity"], "look_into");
    assert!((number(&slow["figure"]) - 3.0).abs() < 0.5, "{slow}");
    assert!(outcome.findings("meter_late").is_empty());
    let prompt = audited(&to_and_back(0));
    assert!(prompt.findings("slow_start").is_empty());
    // Told that the meter is prompt, the same.
    let told = format!("{FLEET}meter = {{ delay = \"0 s\" }}\n");
    let told = night(&to_and_back(3)).fleet(&told);
    let told = told.audit(&["--fail-on", "never"]);
    assert_eq!(told.findings("slow_start").len(), 1);
}

#[test]
fn an_order_in_part_has_a_line_with_its_zone_its_share_and_why() {
    // Every lane stops 12 m short of the far end: 85 % inside the edge, in one strip to go back for.
    let fixes = lanes(|_, x| (x >= 68.0).then_some(("0000", 0.0)));
    let orders = "site,order\nquay,N-3\n";
    let outcome = night(&fixes)
        .file("orders.csv", orders)
        .audit(&["--fail-on", "never"]);
    assert_eq!(outcome.audit()["orders"][0]["status"], "in_part");
    let line = only(&outcome, "order_in_part");
    let text = line["text"].as_str().unwrap();
    for words in ["N-3", "lot 8", "a patch is open"] {
        assert!(text.contains(words), "no {words}: {text}");
    }
    // The patch says where to go; this one adds nothing to do.
    assert_eq!(line["severity"], "for_the_record");
    assert_eq!(severities(&outcome, "go_back"), ["bare_patch"]);
}

#[test]
fn an_order_with_a_patch_worth_a_trip_is_not_done() {
    // 4 x 64 m of 2,880 m2: 91 % treated.
    let off = |k, x: f64| (k == 4 && (8.0..72.0).contains(&x)).then_some(("0000", 0.0));
    let outcome = night(&lanes(off))
        .fleet(&format!("{FLEET}position = \"1 m\"\n"))
        .file("orders.csv", "site,order\nquay,N-3\n")
        .audit(&["--fail-on", "never"]);
    assert_eq!(outcome.audit()["orders"][0]["status"], "in_part");
}

#[test]
fn small_ground_that_matters_is_to_be_checked_on_foot() {
    let ramp = zone_with(
        r#""site":"quay","zone":"ramp","use":"walk","priority":3"#,
        &rectangle(80.0, 10.0, 82.0, 14.0),
    );
    let steps = zone_with(
        r#""site":"quay","zone":"steps","use":"walk","method":"hand""#,
        &rectangle(84.0, 10.0, 90.0, 14.0),
    );
    let outcome = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&[lot(), ramp, steps]))
        .log("north.gpx", gpx(&lanes(|_, _| None)))
        .file("orders.csv", "site,order\nquay,N-3\n")
        .audit(&["--fail-on", "never"]);
    let foot = only(&outcome, "check_on_foot");
    assert!(
        foot["text"].as_str().unwrap().contains("quay/ramp"),
        "{foot}"
    );
    // Done, as far as a log can show it.
    let order = &outcome.audit()["orders"][0];
    assert_eq!(order["status"], "done");
    assert_eq!(order["not_shown"], serde_json::json!(["ramp", "steps"]));
    let line = only(&outcome, "orders_not_shown");
    assert!(
        line["text"]
            .as_str()
            .unwrap()
            .contains("quay/ramp, quay/steps"),
        "{line}"
    );
}

#[test]
fn what_fell_on_a_lot_that_counts_as_untreated_is_said() {
    // One pass over a twentieth of it... too little to open an application: 1.9 % of the lot.
    let fixes = lane(0.0, 2.0, |x| {
        (!(0.0..12.0).contains(&x)).then_some(("0000", 0.0))
    });
    let outcome = audited(&fixes);
    let text = outcome.text("not_visited");
    assert!(
        text.contains("except <1 gal") || text.contains("except 0"),
        "{text}"
    );
}

/// Two lanes bend by 3 m round something of 5 x 3 m that stands between them.
#[test]
fn ground_that_the_lanes_bend_round_is_asked_about_and_no_trip() {
    let bend = |x: f64| {
        let u = ((x - 24.0) / 32.0).clamp(0.0, 1.0);
        1.6 * (1.0 - (std::f64::consts::TAU * u).cos())
    };
    let mut fixes = lanes(|_, _| None);
    for fix in &mut fixes {
        let lane = (fix.2 / 4.0).floor();
        if lane >= 4.0 {
            fix.2 += bend(fix.1);
        } else {
            fix.2 -= bend(fix.1);
        }
    }
    let outcome = audited(&fixes);
    let patches = outcome.findings("bare_patch");
    assert_eq!(patches.len(), 1, "{patches:#?}");
    assert_eq!(patches[0]["severity"], "look_into");
    assert!(
        patches[0]["text"]
            .as_str()
            .unwrap()
            .contains("a cart corral?"),
        "{patches:#?}"
    );
}
