use super::{alone, fleet_with};
use crate::night::{
    Night, Outcome, gpx, gpx_of, healthy, number, point_at, rectangle, sites, time, zone,
};

/// The healthy log with this dilution at every fix.
fn with_hdop(hdop: f64) -> String {
    gpx(&healthy()).replace("</time>", &format!("</time><hdop>{hdop}</hdop>"))
}

fn position(outcome: &Outcome) -> (f64, &str) {
    let run = &outcome.runs()[0];
    (
        number(&run["position_m"]),
        run["position_from"].as_str().unwrap(),
    )
}

/// The healthy log with degrees rounded to so many decimals.
fn rounded(decimals: i32) -> String {
    let per_deg = 10_f64.powi(decimals);
    let points: String = healthy()
        .iter()
        .map(|fix| {
            let [lon, lat] = crate::night::lon_lat(fix.1, fix.2);
            let extensions = format!(
                "<s:flow>{}</s:flow><s:sections>{}</s:sections>",
                fix.4, fix.3
            );
            point_at(
                (lon * per_deg).round() / per_deg,
                (lat * per_deg).round() / per_deg,
                &time(fix.0),
                &extensions,
            )
        })
        .collect();
    gpx_of(&points)
}

#[test]
fn position_comes_from_the_fleet_file_then_the_dilution_then_the_default() {
    assert_eq!(position(&alone(with_hdop(2.5))), (2.5, "hdop"));
    assert_eq!(position(&alone(with_hdop(0.7))), (1.0, "default"));
    assert_eq!(position(&alone(with_hdop(99.99))), (1.0, "default"));
    let told = Night::new()
        .no_logs()
        .log("own.gpx", with_hdop(2.5))
        .fleet(&fleet_with("position = \"0.4 m\""))
        .audit(&[]);
    assert_eq!(position(&told), (0.4, "fleet"));
}

#[test]
fn zones_too_narrow_for_the_position_follow_the_dilution() {
    // A walk 5 m wide: three times 1 m, but not three times 2 m.
    let night = |hdop: f64| {
        Night::new()
            .sites(&sites(&[zone(
                "quay",
                "walk",
                &rectangle(0.0, 0.0, 80.0, 5.0),
            )]))
            .no_logs()
            .log("own.gpx", with_hdop(hdop))
            .audit(&[])
    };
    assert_eq!(night(1.0).first_zone()["verdict"], "area");
    assert_eq!(night(2.0).first_zone()["verdict"], "too_narrow");
}

#[test]
fn five_decimals_are_noticed_once_and_enter_the_position_error() {
    let outcome = alone(rounded(5));
    let text = outcome.text("rounded_positions");
    assert!(
        text.contains("5 decimal places") && text.contains("3.6 ft"),
        "{text}"
    );
    assert_eq!(
        outcome.findings("rounded_positions")[0]["severity"],
        "for_the_record"
    );
    // Steps of 1.1113 m north and 0.7885 m east (GeographicLib 2.1 at 45 N). By a sum over 4,000 strips 95 %
    // of such a rectangle lie within 0.5849 m (1.9 ft). Variances of a twelfth of their squares, with 1 m of
    // the receiver: sqrt(1 + 2.44775^2 (1.1113^2 + 0.7885^2) / 24) = 1.2098 m.
    assert!(text.contains("1.9 ft"), "{text}");
    let (position_m, from) = position(&outcome);
    assert!(
        (position_m - 1.2098).abs() < 5e-4 && from == "default",
        "{position_m}"
    );
}

#[test]
fn four_decimals_are_something_to_look_into() {
    let outcome = alone(rounded(4));
    assert!(
        outcome
            .text("rounded_positions")
            .contains("4 decimal places")
    );
    assert_eq!(
        outcome.findings("rounded_positions")[0]["severity"],
        "look_into"
    );
}

#[test]
fn six_decimals_and_a_parked_rig_are_not_rounded() {
    assert!(alone(rounded(6)).findings("rounded_positions").is_empty());
    let parked: Vec<_> = (0..200)
        .map(|i| (f64::from(i), 0.0, 0.0, "0000", 0.0))
        .collect();
    assert!(alone(gpx(&parked)).findings("rounded_positions").is_empty());
}
