//! Slips of a first hour: each message names the slip, the key that mends it, and the place.

use crate::night::{
    FLEET, Night, ON_TARGET_L_MIN, Outcome, gpx, healthy, lon_lat, number, pass, point, rectangle,
    sites, zone,
};
use std::fmt::Write as _;

/// Gallons a minute that the healthy night sprays.
const ON_TARGET_GAL_MIN: f64 = ON_TARGET_L_MIN / 3.785_411_784;

/// The healthy night as another logger writes it: attributes of one element, states as a bit field, gallons.
fn attributes() -> String {
    let mut text = gpx(&healthy());
    for (states, bits) in [("1111", 15), ("0000", 0)] {
        for (flow, gallons) in [(ON_TARGET_L_MIN, ON_TARGET_GAL_MIN), (0.0, 0.0)] {
            let own = format!("<s:flow>{flow}</s:flow><s:sections>{states}</s:sections>");
            let other = format!("<x:spray xmlns:x=\"urn:x\" q=\"{gallons:.2}\" open=\"{bits}\"/>");
            text = text.replace(&own, &other);
        }
    }
    assert!(!text.contains("<s:flow>"));
    // A rig at rest writes zeros first.
    text.replacen(
        "<trkseg>\n",
        &format!(
            "<trkseg>\n{}",
            point(&(-1.0, -8.0, 2.0, "0000", 0.0))
                .replace(
                    "<s:flow>0</s:flow><s:sections>0000</s:sections>",
                    "<x:spray xmlns:x=\"urn:x\" q=\"0.00\" open=\"0\"/>",
                )
                .replace("T02:00:00", "T01:59:59")
        ),
        1,
    )
}

fn mapped(channels: &str) -> Outcome {
    let fleet = format!("{FLEET}\n[rig.channels]\n{channels}\n");
    Night::new()
        .fleet(&fleet)
        .log("healthy.gpx", attributes())
        .audit(&[])
}

const FLOW: &str = "flow = { element = \"spray\", attribute = \"q\", unit = \"gal/min\" }";
const SECTIONS: &str = "sections = { element = \"spray\", attribute = \"open\", bits = 4 }";

#[test]
fn a_log_of_attributes_is_read_as_mapped() {
    let outcome = mapped(&format!("{FLOW}\n{SECTIONS}"));
    outcome.still_audited();
    assert_eq!(outcome.code, 0, "{}", outcome.stdout);
    assert!(outcome.findings("unit_taken").is_empty());
}

/// Nothing mapped: the list shows names as the fleet file wants them, with examples that are no zeros.
#[test]
fn what_is_in_the_log_is_listed_with_telling_examples() {
    mapped("").refused(&[
        &format!("spray, attribute = \"q\"  {ON_TARGET_GAL_MIN:.2}"),
        "spray, attribute = \"open\"  15",
        "flow = { element = \"...\", attribute = \"...\", unit = \"gal/min\" }",
        "sections = { element = \"...\", attribute = \"...\", bits = 4 }",
    ]);
}

#[test]
fn forgotten_bits_are_asked_about() {
    let sections = SECTIONS.replace(", bits = 4", "");
    mapped(&format!("{FLOW}\n{sections}")).refused(&[
        "no reading of `sections` gives the states of the 4 sections of rig \"north\"; found \"15\"",
        "Add bits = 4",
    ]);
}

#[test]
fn too_few_bits_name_their_key() {
    let sections = SECTIONS.replace("4", "3");
    mapped(&format!("{FLOW}\n{sections}")).refused(&[
        "`bits = 3` of `sections` holds 3 sections, but the value 15 needs 4",
        "write bits = 4",
    ]);
}

/// 28.8 L/min are 7.6 gal/min: read as litres they come to 1 / 3.785 of the target.
#[test]
fn a_unit_that_was_not_given_is_named_with_the_one_that_fits() {
    let flow = FLOW.replace(", unit = \"gal/min\"", "");
    let outcome = mapped(&format!("{flow}\n{SECTIONS}"));
    let text = outcome.text("unit_taken");
    assert!(
        text.contains("`flow` is mapped without a unit; L/min was assumed"),
        "{text}"
    );
    assert!(
        text.contains("26 % of the target rate; gal/min would give 100 %"),
        "{text}"
    );
    let findings = outcome.audit()["findings"].as_array().unwrap().iter();
    let look_into: Vec<&str> = findings
        .filter(|finding| finding["severity"] == "look_into")
        .map(|finding| finding["code"].as_str().unwrap())
        .collect();
    assert_eq!(
        look_into,
        ["unit_taken"],
        "rates that follow from it are for the record"
    );
}

#[test]
fn a_unit_that_was_not_given_and_fits_is_for_the_record() {
    let litres = attributes().replace(
        &format!("{ON_TARGET_GAL_MIN:.2}"),
        &ON_TARGET_L_MIN.to_string(),
    );
    let flow = FLOW.replace(", unit = \"gal/min\"", "");
    let fleet = format!("{FLEET}\n[rig.channels]\n{flow}\n{SECTIONS}\n");
    let outcome = Night::new()
        .fleet(&fleet)
        .log("healthy.gpx", litres)
        .audit(&[]);
    outcome.still_audited();
    assert!(
        outcome
            .text("unit_taken")
            .contains("gives 100 % of the target rate.")
    );
    assert_eq!(
        outcome.findings("unit_taken")[0]["severity"],
        "for_the_record"
    );
}

#[test]
fn a_boom_of_140_ft_is_asked_about() {
    let fleet = FLEET.replace("1 m", "35 ft");
    let outcome = Night::new().fleet(&fleet).audit(&[]);
    let text = outcome.text("wide_boom");
    assert!(
        text.contains("a boom of 140 ft in 4 sections: is that right?"),
        "{text}"
    );
    assert!(Night::new().audit(&[]).findings("wide_boom").is_empty());
}

/// A lot with its axes in the wrong order: both numbers are still degrees.
#[test]
fn swapped_axes_are_recognised_by_where_the_logs_are() {
    let corners = [
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 12.0),
        (0.0, 12.0),
        (0.0, 0.0),
    ];
    let mut ring = String::new();
    for (east_m, north_m) in corners {
        let [lon_deg, lat_deg] = lon_lat(east_m, north_m);
        write!(
            ring,
            "{}[{lat_deg},{lon_deg}]",
            if ring.is_empty() { "" } else { "," }
        )
        .unwrap();
    }
    let night = Night::new().sites(&sites(&[zone("quay", "lot", &format!("[[{ring}]]"))]));
    night.audit(&[]).refused(&[
        "the logs and the sites lie in different places",
        "the first site at 30.000 S, 45.000 E, the first fix at 45.000 N, 30.000 W",
        "Longitude and latitude of the sites look swapped",
    ]);
}

/// Metres of UTM zone 25, read as those of zone 24: six degrees too far west.
#[test]
fn the_wrong_zone_is_recognised_by_where_the_logs_are() {
    // 27 W on the central meridian of zone 26; UTM's false easting is 500,000 m, 45 N is 4,982,950.400 m from the
    // equator (GeographicLib 2.1).
    let ring = "[[[500000,4982950.4],[500080,4982950.4],[500080,4982962.4],[500000,4982962.4],[500000,4982950.4]]]";
    let shifted: String = gpx(&healthy())
        .replace("lon=\"-30.", "lon=\"-27.")
        .replace("lon=\"-29.", "lon=\"-26.");
    let night = Night::new()
        .sites(&sites(&[zone("quay", "lot", ring)]))
        .log("healthy.gpx", shifted);
    night.audit(&["--sites-crs", "EPSG:32625"]).refused(&[
        "the logs and the sites lie in different places",
        "--sites-crs EPSG:32626",
    ]);
    assert_ne!(night.audit(&["--sites-crs", "EPSG:32626"]).code, 2);
    // Without any word about the system they are no degrees at all.
    night.audit(&[]).refused(&[
        "there is no position 500000, 4982950.4",
        "--sites-crs EPSG:n",
    ]);
}

#[test]
fn a_site_among_others_far_away_is_no_error() {
    let far = rectangle(9000.0, 0.0, 9080.0, 12.0);
    let zones = [
        zone("quay", "lot", &rectangle(0.0, 0.0, 80.0, 12.0)),
        zone("mole", "lot", &far),
    ];
    let outcome = Night::new()
        .sites(&sites(&zones))
        .audit(&["--fail-on", "never"]);
    outcome.still_audited();
}

/// A lot treated in three passes, the log cut in the third: the ground of the third is not known to be missed.
#[test]
fn ground_behind_the_end_of_a_broken_log_says_so() {
    let text = gpx(&healthy());
    let last = text.rfind("<trkpt").unwrap();
    let cut = text[..last].rmatch_indices("<trkpt").nth(22).unwrap().0 + 20;
    let night = Night::new()
        .fleet(&format!("{FLEET}position = \"1 m\"\n"))
        .log("healthy.gpx", &text[..cut]);
    let outcome = night.audit(&[]);
    let found = outcome.findings("bare_patch");
    assert!(!found.is_empty(), "{}", outcome.stdout);
    for finding in found {
        let text = finding["text"].as_str().unwrap();
        assert!(
            text.contains("the log breaks off there at 2026-01-12 02:00"),
            "{text}"
        );
        assert!(
            finding["check"]
                .as_str()
                .unwrap()
                .starts_with("Get the whole log")
        );
    }
    // With the rest of the log in another file nothing is missing.
    let rest = night.log("rest.gpx", gpx(&pass(50.0, (-8.0, 10.0), (88.0, 10.0))));
    let outcome = rest.audit(&[]);
    outcome.still_audited();
}

#[test]
fn order_times_that_cannot_be_read_are_counted_where_orders_are() {
    let orders = "site,from,by,order\nquay,1/12/2026 12:30 AM,1/12/2026 5:00 AM,W-1\n";
    let outcome = Night::new().file("orders.csv", orders).audit(&[]);
    let line = outcome.stdout.replace("\n", " ");
    assert!(
        line.contains(
            "Orders: 1 of 1 done (times of 1 not understood, so whether they are late is not known)."
        ),
        "{line}"
    );
    let text = outcome.text("times_unread");
    assert!(
        text.contains("orders.csv") && text.contains("12:30 AM"),
        "{text}"
    );
    assert_eq!(
        number(&outcome.findings("times_unread")[0]["figure"]) as u64,
        1
    );
}
