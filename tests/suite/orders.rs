//! Orders against what the logs show: done, not done, not ordered, late, another product, and bad rows.
//!
//! Times: the builder's nights begin at 02:00 UTC. A lot of 80 m x 12 m is treated in three passes, 75 s.

use crate::night::{
    FLEET, Fix, Night, Outcome, gpx, number, pass, rectangle, sites, zone, zone_with,
};
use serde_json::Value;

mod later;

const HEADINGS: &str = "site,zone,service,product,target,from,by,order\n";

/// Three passes over an 80 m x 12 m lot whose south-west corner is this far north.
fn lot(start_s: f64, north_m: f64) -> Vec<Fix> {
    let mut fixes = pass(start_s, (-8.0, north_m + 2.0), (88.0, north_m + 2.0));
    fixes.extend(pass(
        start_s + 25.0,
        (88.0, north_m + 6.0),
        (-8.0, north_m + 6.0),
    ));
    fixes.extend(pass(
        start_s + 50.0,
        (-8.0, north_m + 10.0),
        (88.0, north_m + 10.0),
    ));
    fixes
}

/// Two sites with a lot each, 300 m apart; a third further off.
fn two_lots() -> String {
    let at = |site: &str, north_m: f64| {
        zone(site, "lot", &rectangle(0.0, north_m, 80.0, north_m + 12.0))
    };
    sites(&[at("quay", 0.0), at("mill", 300.0), at("dock", 600.0)])
}

/// A night with these sites, this log and these orders.
fn ordered(sites: &str, fixes: &[Fix], rows: &str) -> Outcome {
    Night::empty()
        .fleet(FLEET)
        .sites(sites)
        .log("a.gpx", gpx(fixes))
        .file("orders.csv", format!("{HEADINGS}{rows}"))
        .audit(&["--units", "metric"])
}

fn order(outcome: &Outcome, index: usize) -> &Value {
    &outcome.audit()["orders"][index]
}

fn statuses(outcome: &Outcome) -> Vec<&str> {
    let orders = outcome.audit()["orders"].as_array().unwrap();
    orders
        .iter()
        .map(|order| order["status"].as_str().unwrap())
        .collect()
}

/// Codes of all findings, ranked.
fn codes(outcome: &Outcome) -> Vec<&str> {
    let findings = outcome.audit()["findings"].as_array().unwrap();
    findings
        .iter()
        .map(|finding| finding["code"].as_str().unwrap())
        .collect()
}

#[test]
fn done_is_no_finding_and_sites_not_ordered_are_none_either() {
    let outcome = ordered(
        &two_lots(),
        &lot(0.0, 0.0),
        "quay,,post,,,,2026-01-12 05:30,A-17\n",
    );
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    assert_eq!(outcome.code, 0);
    let order = order(&outcome, 0);
    assert_eq!(
        (order["status"].as_str(), order["application"].as_u64()),
        (Some("done"), Some(1))
    );
    assert_eq!(
        (order["order"].as_str(), order["line"].as_u64()),
        (Some("A-17"), Some(2))
    );
    assert!(number(&order["treated_share"]) > 0.999);
    // The third pass leaves the lot 8 m or 2 s before it closes, 74 s after 02:00.
    assert_eq!(order["finished"], "2026-01-12T02:01:12Z");
    assert_eq!(outcome.first_zone()["order"], "A-17");
    assert!(
        outcome.stdout.contains("Orders: 1 of 1 done."),
        "{}",
        outcome.stdout
    );
    assert!(
        outcome.stdout.contains("Nothing to look into at"),
        "{}",
        outcome.stdout
    );
    let table = std::fs::read_to_string(outcome.out.join("orders_done.csv")).unwrap();
    let row = table.lines().nth(1).unwrap();
    assert!(
        row.starts_with("A-17,2,quay,,post,,") && row.contains(",done,1,100"),
        "{row}"
    );
    let roles = outcome.audit()["inputs"].as_array().unwrap().iter();
    assert!(roles.filter(|input| input["role"] == "orders").count() == 1);
}

#[test]
fn ordered_and_not_treated_is_to_go_back_for() {
    let rows = "quay,,,,,,,\nmill,,,,,,2026-01-12 05:30,A-18\n";
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "not_done"]);
    assert_eq!(codes(&outcome), ["not_done"]);
    assert_eq!(outcome.code, 1);
    let finding = outcome.findings("not_done")[0];
    assert_eq!(
        (finding["severity"].as_str(), finding["site"].as_str()),
        (Some("go_back"), Some("mill"))
    );
    assert!((number(&finding["figure"]) - 960.0).abs() < 0.1);
    let text = outcome.text("not_done");
    for says in [
        "order A-18",
        "960 m2 of zone lot",
        "due by 2026-01-12 05:30 UTC",
    ] {
        assert!(text.contains(says), "{text}");
    }
    assert!(outcome.stdout.contains("Orders: 1 of 2 done, 1 not done."));
}

#[test]
fn a_rig_without_a_log_makes_it_no_treatment_in_the_logs_received() {
    let second = "\n[[rig]]\nid = \"south\"\nsections = [\"1 m\"]\nlogs = [\"south*\"]\n";
    let fleet = format!("{FLEET}logs = [\"a*\"]\n{second}");
    let outcome = Night::empty()
        .fleet(&fleet)
        .sites(&two_lots())
        .log("a.gpx", gpx(&lot(0.0, 0.0)))
        .file("orders.csv", "site\nquay\nmill\n")
        .audit(&[]);
    let text = outcome.text("not_done");
    assert!(
        text.contains("No treatment in the logs received for order line 3"),
        "{text}"
    );
    assert!(
        outcome.findings("not_done")[0]["check"]
            .as_str()
            .unwrap()
            .contains("missing logs")
    );
}

#[test]
fn nothing_ordered_here_is_told_with_ground_and_liquid() {
    let mut fixes = lot(0.0, 0.0);
    fixes.extend(lot(400.0, 300.0));
    let outcome = ordered(&two_lots(), &fixes, "quay,,,,,,,\n");
    assert_eq!(codes(&outcome), ["not_ordered"]);
    let finding = outcome.findings("not_ordered")[0];
    assert_eq!(
        (finding["site"].as_str(), finding["severity"].as_str()),
        (Some("mill"), Some("look_into"))
    );
    assert!((number(&finding["figure"]) - 960.0).abs() < 1.0);
    // 960 m2 x 30 mL/m2 = 28.8 L.
    let text = outcome.text("not_ordered");
    assert!(text.contains("960 m2 of zone lot with 29 L"), "{text}");
    assert!(outcome.audit()["sites"][1]["applications"][0]["zones"][0]["order"].is_null());
}

/// A pass over 4 m of the neighbour's 12 m is a third of it; patches that nobody ordered are not gone back to.
#[test]
fn ground_nobody_ordered_has_no_patches_to_go_back_for() {
    let mut fixes = lot(0.0, 0.0);
    fixes.extend(pass(400.0, (-8.0, 302.0), (88.0, 302.0)));
    let outcome = ordered(&two_lots(), &fixes, "quay,,,,,,,\n");
    assert_eq!(codes(&outcome), ["not_ordered"]);
    let outcome = ordered(&two_lots(), &fixes, "quay,,,,,,,\nmill,,,,,,,\n");
    assert_eq!(statuses(&outcome), ["done", "in_part"]);
    assert!(codes(&outcome).contains(&"bare_patch"));
}

#[test]
fn finished_after_by_is_late_and_a_touch_up_is_not() {
    let by = |by: &str| format!("quay,,,,,,{by},A-17\n");
    // Finished 02:01:12.
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), &by("2026-01-12T01:40:00Z"));
    assert_eq!(codes(&outcome), ["late"]);
    let finding = outcome.findings("late")[0];
    assert!((number(&finding["figure"]) - 1272.0).abs() < 1e-6);
    assert!(
        outcome
            .text("late")
            .contains("Order A-17 was finished 02:01, 21 min after")
    );
    // Within a minute.
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), &by("2026-01-12T02:01:00Z"));
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    // 8 m x 4 m of 960 m2 are left out and done half an hour later.
    let mut fixes = lot(0.0, 0.0);
    for fix in fixes
        .iter_mut()
        .filter(|fix| fix.0 >= 50.0 && fix.1 > 78.0 - 8.0)
    {
        (fix.3, fix.4) = ("0000", 0.0);
    }
    fixes.extend(pass(1800.0, (68.0, 10.0), (84.0, 10.0)));
    let outcome = ordered(&two_lots(), &fixes, &by("2026-01-12T02:15:00Z"));
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    assert!(number(&order(&outcome, 0)["treated_share"]) > 0.999);
}

/// A rig's product is "brine" in the fleet file; the log says otherwise where it has the element.
fn products(rows: &str, logged: &str) -> Outcome {
    let fleet = "[defaults]\ntarget = \"30 mL/m2\"\n[[product]]\nid = \"brine\"\n\
                 [[product]]\nid = \"blend\"\ntarget = \"30 mL/m2\"\n\
                 [[rig]]\nid = \"north\"\nproduct = \"brine\"\nsections = [\"1 m\", \"1 m\", \"1 m\", \"1 m\"]\n";
    let log = gpx(&lot(0.0, 0.0)).replace("<s:flow>", &format!("{logged}<s:flow>"));
    Night::empty()
        .fleet(fleet)
        .sites(&two_lots())
        .log("a.gpx", log)
        .file("orders.csv", format!("{HEADINGS}{rows}"))
        .audit(&["--units", "metric"])
}

#[test]
fn another_product_than_ordered_is_told() {
    let outcome = products("quay,,,brine,,,,A-17\n", "");
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    let outcome = products("quay,,,brine,,,,A-17\n", "<s:product>blend</s:product>");
    assert_eq!(codes(&outcome), ["other_product"]);
    let text = outcome.text("other_product");
    assert!(
        text.contains("Order A-17 asks for brine; blend was laid on 960 m2"),
        "{text}"
    );
    let outcome = products("quay,,,,,,,A-17\n", "<s:product>blend</s:product>");
    assert_eq!(codes(&outcome), Vec::<&str>::new());
}

/// The rig lays 30 mL/m2 everywhere.
#[test]
fn the_target_is_the_order_s_then_the_zone_s() {
    let features = [
        zone_with(
            r#""site":"quay","zone":"a","use":"lot","target":"25 mL/m2""#,
            &rectangle(0.0, 0.0, 80.0, 4.0),
        ),
        zone("quay", "b", &rectangle(0.0, 4.0, 80.0, 12.0)),
    ];
    let targets = |rows: &str| -> Vec<f64> {
        let outcome = ordered(&sites(&features), &lot(0.0, 0.0), rows);
        let zones = outcome.audit()["sites"][0]["applications"][0]["zones"].clone();
        let zones = zones.as_array().unwrap();
        let grounds: Vec<f64> = (0..2)
            .map(|zone| number(&outcome.ground(0, zone)["target_ml_m2"]))
            .collect();
        let targets: Vec<f64> = zones
            .iter()
            .map(|zone| number(&zone["target_ml_m2"]))
            .collect();
        assert_eq!(targets, grounds);
        targets
    };
    assert_eq!(targets("quay,,,,,,,\n"), [25.0, 30.0]);
    assert_eq!(targets("quay,,,,40 mL/m2,,,\n"), [40.0, 40.0]);
    assert_eq!(
        targets("quay,,,,40 mL/m2,,,\nquay,b,,,20 mL/m2,,,\n"),
        [40.0, 20.0]
    );
    let outcome = ordered(&sites(&features), &lot(0.0, 0.0), "quay,,,,40 mL/m2,,,\n");
    // 30 of 40 is 25 % under on both zones.
    assert_eq!(outcome.findings("off_rate").len(), 2);
}

#[test]
fn one_zone_of_an_order_left_out_is_one_finding_about_it() {
    let features = [
        zone("quay", "a", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone("quay", "b", &rectangle(0.0, 40.0, 80.0, 52.0)),
    ];
    let outcome = ordered(&sites(&features), &lot(0.0, 0.0), "quay,,,,,,,A-17\n");
    assert_eq!(statuses(&outcome), ["in_part"]);
    assert_eq!(codes(&outcome), ["not_done"]);
    assert_eq!(outcome.findings("not_done")[0]["zone"], "b");
    assert!((number(&order(&outcome, 0)["treated_share"]) - 0.5).abs() < 1e-3);
    // The zone's patch is in the route although `bare_patch` is not told beside it.
    let route = std::fs::read_to_string(outcome.out.join("touchup.gpx")).unwrap();
    assert!(route.contains("strip 1 from here"), "{route}");
    // Only the other zone was ordered: what was treated was not, what was ordered was not treated.
    let outcome = ordered(&sites(&features), &lot(0.0, 0.0), "quay,b,,,,,,A-17\n");
    assert_eq!(codes(&outcome), ["not_done", "not_ordered"]);
    // Each zone has an order.
    let outcome = ordered(
        &sites(&features),
        &lot(0.0, 0.0),
        "quay,b,,,,,,\nquay,a,,,,,,\n",
    );
    assert_eq!(statuses(&outcome), ["not_done", "done"]);
    assert_eq!(codes(&outcome), ["not_done"]);
}

#[test]
fn pre_and_post_treatment_meet_their_orders() {
    let rows = "quay,,post,,,2026-01-12 05:00,2026-01-12 07:00,A-2\n\
                quay,,pre,,,,2026-01-12 03:00,A-1\n";
    let mut both = lot(0.0, 0.0);
    both.extend(lot(3.5 * 3600.0, 0.0));
    let outcome = ordered(&two_lots(), &both, rows);
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    assert_eq!(statuses(&outcome), ["done", "done"]);
    assert_eq!(
        (
            order(&outcome, 0)["application"].as_u64(),
            order(&outcome, 1)["application"].as_u64()
        ),
        (Some(2), Some(1))
    );
    // Only the evening's was done, and a log that goes on says so.
    let mut pre_only = lot(0.0, 0.0);
    pre_only.extend((0..100).map(|k| {
        (
            3.5 * 3600.0 + f64::from(k),
            5000.0,
            f64::from(k),
            "0000",
            0.0,
        )
    }));
    let outcome = ordered(&two_lots(), &pre_only, rows);
    assert_eq!(statuses(&outcome), ["not_done", "done"]);
    assert_eq!(outcome.findings("not_done")[0]["severity"], "go_back");
    // Only the morning's was done: nobody goes back for the evening's.
    let outcome = ordered(&two_lots(), &lot(3.5 * 3600.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "outside_logs"]);
    let mut post_only: Vec<Fix> = (0..100)
        .map(|k| (f64::from(k), 5000.0, f64::from(k), "0000", 0.0))
        .collect();
    post_only.extend(lot(3.5 * 3600.0, 0.0));
    let outcome = ordered(&two_lots(), &post_only, rows);
    assert_eq!(statuses(&outcome), ["done", "not_done"]);
    assert_eq!(outcome.findings("not_done")[0]["severity"], "look_into");
    assert!(
        outcome
            .text("not_done")
            .contains("no treatment in time for order A-1")
    );
}

#[test]
fn an_order_outside_the_time_of_the_logs_is_one_counted_line() {
    let rows = "quay,,,,,,,\nmill,,,,,2026-01-13 02:00,,\ndock,,,,,,2026-01-11 02:00,\n";
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "outside_logs", "outside_logs"]);
    assert_eq!(codes(&outcome), ["outside_logs"]);
    assert_eq!(outcome.findings("outside_logs")[0]["figure"], 2.0);
}

#[test]
fn hand_work_is_not_judged_unless_a_gun_was_logged() {
    let by_hand = r#""site":"steps","zone":"all","use":"walk","method":"hand""#;
    let features = [
        zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone_with(by_hand, &rectangle(0.0, 30.0, 20.0, 34.0)),
    ];
    let rows = "quay,,,,,,,\nsteps,,,,,,,\n";
    let outcome = ordered(&sites(&features), &lot(0.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "by_hand"]);
    assert_eq!(codes(&outcome), Vec::<&str>::new());
    assert!(
        outcome.stdout.contains("Orders: 1 of 2 done, 1 by hand."),
        "{}",
        outcome.stdout
    );
    // Two minutes beside the steps with the gun at 2 L/min: 4 L of the 2.4 L asked for on 80 m2.
    let mut log: String = lot(0.0, 0.0).iter().map(crate::night::point).collect();
    for k in 0..=120 {
        let gun = u8::from(k < 120);
        let flow = 2.0 * f64::from(gun);
        let extensions =
            format!("<s:flow>{flow}</s:flow><s:sections>0000</s:sections><s:gun>{gun}</s:gun>");
        log += &crate::night::point_with(200.0 + f64::from(k), 10.0, 32.0, &extensions);
    }
    let outcome = Night::empty()
        .fleet(FLEET)
        .sites(&sites(&features))
        .log("a.gpx", crate::night::gpx_of(&log))
        .file("orders.csv", format!("{HEADINGS}{rows}"))
        .audit(&[]);
    assert_eq!(statuses(&outcome), ["done", "done"]);
    assert!(order(&outcome, 1)["treated_share"].is_null());
}

#[test]
fn a_narrow_walk_is_judged_by_its_volume() {
    let walk = r#""site":"quay","zone":"walk","use":"walk""#;
    let features = [zone_with(walk, &rectangle(0.0, 0.0, 80.0, 2.0))];
    let along = pass(0.0, (-8.0, 1.0), (88.0, 1.0));
    let outcome = ordered(&sites(&features), &along, "quay,,,,,,,\n");
    assert_eq!(statuses(&outcome), ["done"]);
    // A twelfth of the length: 8 % of the liquid asked for.
    let mut short = along;
    for fix in short.iter_mut().filter(|fix| fix.1 >= 4.0) {
        (fix.3, fix.4) = ("0000", 0.0);
    }
    let outcome = ordered(&sites(&features), &short, "quay,,,,,,,\n");
    assert_eq!(statuses(&outcome), ["not_done"]);
}

#[test]
fn a_bad_row_is_a_finding_with_its_line_and_the_others_count() {
    let rows = "quay,,,,,,,A-17\nquai,,,,,,,\nmill,court,,,,,,\n,,,,,,,A-19\nquay,,,,,,,A-17\nmill,,,,35,soon,,\n";
    let outcome = ordered(&two_lots(), &lot(0.0, 0.0), rows);
    assert_eq!(statuses(&outcome), ["done", "not_done"]);
    let texts: Vec<&str> = outcome
        .findings("input_skipped")
        .iter()
        .map(|finding| finding["text"].as_str().unwrap())
        .collect();
    for (line, says) in [
        (3, "no site \"quai\""),
        (4, "no zone \"court\""),
        (5, "names no site"),
        (6, "same as an earlier one"),
        (7, "`target` cannot be read"),
    ] {
        let found = texts.iter().any(|text| {
            text.contains(&format!("orders.csv: 1 row, the first at line {line}:"))
                && text.contains(says)
        });
        assert!(found, "{line} {says} in {texts:#?}");
    }
    assert_eq!(texts.len(), 5, "{texts:#?}");
    let text = outcome.text("times_unread");
    assert!(
        text.contains("line 7: `by` cannot be read") || text.contains("line 7: `from`"),
        "{text}"
    );
    assert!(text.contains("\"soon\" is not a time"), "{text}");
}

#[test]
fn an_orders_file_that_cannot_be_used_is_an_error() {
    let night = |orders: &[u8]| Night::new().file("orders.csv", orders).audit(&[]);
    night(b"quay,lot\n").refused(&["orders.csv:1:", "heading `site`"]);
    night(b"").refused(&["orders.csv", "empty"]);
    night(b"site\nqu\xffay\n").refused(&["orders.csv", "UTF-8"]);
    night(b"site\nquai\n").refused(&["orders.csv:2:", "no site \"quai\""]);
    let folder = Night::new();
    std::fs::create_dir(folder.path("orders.csv")).unwrap();
    folder.audit(&[]).refused(&["orders.csv", "found a folder"]);
    Night::new()
        .audit(&["--orders", "nowhere.csv"])
        .refused(&["nowhere.csv", "--orders"]);
    // An empty list is a list: nothing was ordered.
    let outcome = night(b"site\n");
    assert_eq!(codes(&outcome), ["not_ordered"]);
}

#[test]
fn the_flag_names_another_file() {
    let night = Night::new().file("night.csv", "site\nquay\n");
    let file = night.path("night.csv");
    let outcome = night.audit(&["--orders", file.to_str().unwrap()]);
    assert_eq!(statuses(&outcome), ["done"]);
}

#[test]
fn without_orders_sites_not_visited_are_one_line_and_hand_work_is_none() {
    let by_hand = r#""site":"steps","zone":"all","use":"walk","method":"hand""#;
    let features = [
        zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone("mill", "lot", &rectangle(0.0, 300.0, 80.0, 312.0)),
        zone("dock", "lot", &rectangle(0.0, 600.0, 80.0, 612.0)),
        zone_with(by_hand, &rectangle(0.0, 900.0, 20.0, 904.0)),
    ];
    let outcome = Night::new().sites(&sites(&features)).audit(&[]);
    assert_eq!(codes(&outcome), ["not_visited"]);
    assert!(outcome.text("not_visited").contains("2 sites (mill, dock)"));
    assert!(outcome.audit()["orders"].is_null());
    assert!(!outcome.out.join("orders_done.csv").exists());
    assert!(!outcome.stdout.contains("Orders:"));
}
