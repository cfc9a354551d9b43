//! Booms on trailers, and reversing, through the whole program.

use crate::night::{Fix, Night, audited, number, rectangle, zone, zone_with};
use std::f64::consts::TAU;

/// Boom of 4 m; hitch 3.5 m behind the antenna, trailer's axle 2.5 m behind it, boom 0.5 m behind that.
const TOWED: &str = r#"[defaults]
target = "30 mL/m2"

[[rig]]
id = "north"
log_lag = "0 s"
sections = ["2 m", "2 m"]
axle = "2.7 m"
hitch = { behind_antenna = "3.5 m", to_axle = "2.5 m", axle_to_boom = "0.5 m" }
"#;

fn near(got: f64, want: f64, share: f64) {
    let off = (got / want - 1.0).abs();
    assert!(off <= share, "{got} is not {want} within {share}");
}

/// Antenna round 12 m: rear axle on sqrt(R^2 - d^2), hitch on sqrt(that^2 + (h - d)^2), trailer's axle on
/// sqrt(Rh^2 - to_axle^2) = Rt (Pythagoras). A boom behind the axle sweeps the ring between (Rt - w)^2 + b^2
/// and (Rt + w)^2 + b^2 squared: 4 pi Rt w, whatever b is.
#[test]
fn a_towed_boom_treats_the_ring_about_the_trailer_s_radius() {
    let (radius_m, steps) = (12.0_f64, 20);
    let fixes: Vec<Fix> = (0..=3 * steps)
        .map(|i| {
            let (sin, cos) = (f64::from(i) * TAU / f64::from(steps)).sin_cos();
            let open = (2 * steps..3 * steps).contains(&i);
            let (states, flow) = if open { ("11", 28.8) } else { ("00", 0.0) };
            (f64::from(i), radius_m * cos, radius_m * sin, states, flow)
        })
        .collect();
    let zones = [zone("s", "z", &rectangle(-20.0, -20.0, 20.0, 20.0))];
    let outcome = audited(TOWED, &zones, &fixes);
    let hitch2_m2 = radius_m.powi(2) - 2.7_f64.powi(2) + 0.8_f64.powi(2);
    let trailer_m = (hitch2_m2 - 2.5_f64.powi(2)).sqrt();
    let wanted_m2 = TAU * trailer_m * 4.0;
    near(number(&outcome.first_zone()["treated_m2"]), wanted_m2, 1e-3);
    // Told from a boom 6.5 m behind the antenna on the vehicle, and from one at the antenna.
    assert!((trailer_m / radius_m - 1.0).abs() > 0.03);
}

/// On a straight line the boom is 6.5 m behind the antenna: open from x = 0 to 60 is wet from -6.5 to 53.5.
#[test]
fn on_a_straight_line_the_boom_is_behind_by_the_whole_length() {
    let fixes: Vec<Fix> = (0..=25)
        .map(|i| {
            let east_m = 4.0 * f64::from(i) - 20.0;
            let (states, flow) = if (0.0..60.0).contains(&east_m) {
                ("11", 28.8)
            } else {
                ("00", 0.0)
            };
            (f64::from(i), east_m, 0.0, states, flow)
        })
        .collect();
    let zones = [
        zone("s", "before", &rectangle(-30.0, -10.0, 20.0, 10.0)),
        zone("s", "behind", &rectangle(20.0, -10.0, 90.0, 10.0)),
    ];
    let outcome = audited(TOWED, &zones, &fixes);
    let zones = &outcome.audit()["sites"][0]["applications"][0]["zones"];
    near(number(&zones[0]["treated_m2"]), 4.0 * 26.5, 1e-3);
    near(number(&zones[1]["treated_m2"]), 4.0 * 33.5, 1e-3);
}

/// `antenna.right` is that of the vehicle: with it 1 m to the right the boom runs 1 m to the left.
#[test]
fn an_antenna_to_the_right_moves_the_towed_boom_to_the_left() {
    let fixes: Vec<Fix> = (0..=25)
        .map(|i| (f64::from(i), 4.0 * f64::from(i) - 20.0, 0.0, "11", 28.8))
        .collect();
    let zones = [
        zone("s", "left", &rectangle(0.0, 0.0, 40.0, 8.0)),
        zone("s", "right", &rectangle(0.0, -8.0, 40.0, 0.0)),
    ];
    let fleet = format!("{TOWED}antenna = {{ right = \"1 m\" }}\n");
    let outcome = audited(&fleet, &zones, &fixes);
    let zones = &outcome.audit()["sites"][0]["applications"][0]["zones"];
    near(number(&zones[0]["treated_m2"]), 40.0 * 3.0, 1e-3);
    near(number(&zones[1]["treated_m2"]), 40.0 * 1.0, 1e-3);
}

#[test]
fn a_wrong_hitch_is_refused_with_its_line() {
    let refused = |lines: &str, says: &[&str]| {
        let fleet = format!("[[rig]]\nid = \"north\"\nsections = [\"2 m\"]\n{lines}\n");
        Night::new().fleet(&fleet).audit(&[]).refused(says);
    };
    refused(
        "hitch = { behind_antenna = \"3 m\", to_axle = \"2.5 m\" }\nantenna = { ahead = \"1 m\" }",
        &["fleet.toml:5:", "antenna.ahead", "hitch"],
    );
    refused(
        "hitch = { to_axle = \"2.5 m\" }",
        &["fleet.toml:4:", "behind_antenna"],
    );
    refused(
        "hitch = { behind_antenna = \"3 m\" }",
        &["fleet.toml:4:", "to_axle"],
    );
    refused(
        "hitch = { behind_antenna = \"3 m\", to_axle = \"0 m\" }",
        &["fleet.toml:4:", "to_axle"],
    );
    refused(
        "hitch = { behind_antenna = \"-3 m\", to_axle = \"2 m\" }",
        &["fleet.toml:4:", "behind_antenna"],
    );
    refused(
        "hitch = { behind_antenna = \"16 m\", to_axle = \"14 m\" }",
        &["fleet.toml:4:", "hitch", "31 m"],
    );
    refused(
        "hitch = { behind_antenna = \"3 m\", to_axle = \"2 m\", length = \"2 m\" }",
        &["fleet.toml:4:", "length"],
    );
}

/// Up a lot and back over the next lane; the way back bends by a sine of so many metres.
fn there_and_back(bend_m: f64) -> Vec<Fix> {
    let wet = |i: i32, end: i32| if i < end { ("11", 28.8) } else { ("00", 0.0) };
    let mut fixes: Vec<Fix> = (0..=14)
        .map(|i| {
            let (states, flow) = wet(i, 14);
            (f64::from(i), 4.0 * f64::from(i), 2.0, states, flow)
        })
        .collect();
    fixes.extend((15..20).map(|i| (f64::from(i), 56.0, 2.0, "00", 0.0)));
    fixes.extend((0..=24).map(|i| {
        let (states, flow) = wet(i, 24);
        let gone_m = 2.0 * f64::from(i);
        let north_m = 2.0 + bend_m * (1.0 - (gone_m * TAU / 24.0).cos()) / 2.0;
        (20.0 + f64::from(i), 56.0 - gone_m, north_m, states, flow)
    }));
    fixes
}

#[test]
fn a_trailer_that_backs_up_in_turns_makes_no_verdict_but_a_remark() {
    // A bed that the bent way back sprays, and bare ground beside it.
    let zones = [
        zone("s", "lot", &rectangle(0.0, 0.0, 50.0, 8.0)),
        zone_with(
            r#""site":"s","zone":"bed","use":"keep_off""#,
            &rectangle(15.0, 4.5, 45.0, 8.0),
        ),
    ];
    let bent = audited(TOWED, &zones, &there_and_back(4.0));
    let run = &bent.runs()[0];
    assert_eq!(run["gear_from"], "motion");
    assert!((number(&run["reverse_wet_s"]) - 24.0).abs() < 1.5, "{run}");
    let remark = bent.findings("reverse_towed");
    assert_eq!(remark.len(), 1);
    assert_eq!(remark[0]["severity"], "for_the_record");
    assert!(number(&remark[0]["figure"]) > 20.0, "{}", remark[0]);
    assert!(bent.findings("keep_off_wet").is_empty());
    assert!(bent.findings("bare_patch").is_empty());
    let patches = bent.first_zone()["patches"].as_array().unwrap();
    assert!(
        patches.iter().any(|patch| patch["unsure"] == true),
        "{patches:?}"
    );
    assert!(
        bent.stdout.contains("Spraying time in reverse: rig north"),
        "{}",
        bent.stdout
    );

    // The same with the boom on the vehicle: its place is known.
    let carried = TOWED.replace(
        "hitch = { behind_antenna = \"3.5 m\", to_axle = \"2.5 m\", axle_to_boom = \"0.5 m\" }",
        "antenna = { ahead = \"3.5 m\" }",
    );
    let carried = audited(&carried, &zones, &there_and_back(4.0));
    assert!(carried.findings("reverse_towed").is_empty());
    assert_eq!(carried.findings("keep_off_wet").len(), 1);
    let patches = carried.first_zone()["patches"].as_array().unwrap();
    assert!(
        patches.iter().all(|patch| patch["unsure"] == false),
        "{patches:?}"
    );
}

#[test]
fn a_trailer_that_backs_up_straight_is_judged_like_any_other() {
    let zones = [zone("s", "lot", &rectangle(0.0, 0.0, 48.0, 12.0))];
    let outcome = audited(TOWED, &zones, &there_and_back(0.0));
    assert!(outcome.findings("reverse_towed").is_empty());
    assert_eq!(outcome.findings("bare_patch").len(), 1);
    assert!(number(&outcome.runs()[0]["reverse_wet_s"]) > 20.0);
}

#[test]
fn a_night_without_reverse_has_no_line_about_it() {
    let outcome = Night::new().audit(&["--fail-on", "never"]);
    assert!(number(&outcome.runs()[0]["reverse_wet_s"]).abs() < 1e-9);
    assert!(!outcome.stdout.contains("in reverse"));
}
