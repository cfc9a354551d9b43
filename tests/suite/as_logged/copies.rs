use super::{alone, stamped};
use crate::night::{Fix, Night, ON_TARGET_L_MIN, Outcome, gpx, gpx_of, healthy, number};

/// The healthy night at so many fixes a second.
fn healthy_at(per_second: usize) -> Vec<Fix> {
    let slow = healthy();
    let mut fixes = Vec::new();
    for pair in slow.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let pause = b.0 - a.0 > 1.0 || (b.1 - a.1).abs() < 1.0;
        for k in 0..if pause { 1 } else { per_second } {
            let u = k as f64 / per_second as f64;
            fixes.push((
                a.0 + u,
                a.1 + u * (b.1 - a.1),
                a.2 + u * (b.2 - a.2),
                a.3,
                a.4,
            ));
        }
    }
    fixes.push(slow[slow.len() - 1]);
    fixes
}

/// The whole night as one log shows it.
fn same_as_one_log(outcome: &Outcome) {
    outcome.still_audited();
    let (one, run) = (Night::new().audit(&[]), &outcome.runs()[0]);
    let (zone, of_one) = (outcome.first_zone(), one.first_zone());
    for field in ["treated_m2", "volume_l", "swept_m2"] {
        let (value, expected) = (number(&zone[field]), number(&of_one[field]));
        assert!(
            (value / expected - 1.0).abs() < 0.01,
            "{field}: {value}, {expected}"
        );
    }
    let (distance_m, expected_m) = (
        number(&run["distance_m"]),
        number(&one.runs()[0]["distance_m"]),
    );
    assert!(
        (distance_m / expected_m - 1.0).abs() < 0.01,
        "{distance_m} {expected_m}"
    );
    assert_eq!(
        run["dropouts"].as_array().unwrap().len(),
        one.runs()[0]["dropouts"].as_array().unwrap().len()
    );
    assert!(
        outcome.findings("shared_rig_id").is_empty()
            && outcome.findings("jumps_dropped").is_empty()
    );
}

/// Degrees cut to so many decimals, as some exports do.
fn cut(text: &str, decimals: usize) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest
        .find("lat=\"")
        .into_iter()
        .chain(rest.find("lon=\""))
        .min()
    {
        let value = at + 5;
        let end = value + rest[value..].find('"').unwrap();
        let dot = value + rest[value..].find('.').unwrap();
        out.push_str(&rest[..(dot + 1 + decimals).min(end)]);
        rest = &rest[end..];
    }
    out + rest
}

#[test]
fn two_five_and_ten_fixes_a_second_under_whole_seconds_are_spread() {
    for per_second in [2, 5, 10] {
        let fixes = healthy_at(per_second);
        let points = stamped(&fixes, |seconds| crate::night::time(seconds.floor()));
        let outcome = alone(gpx_of(&points));
        same_as_one_log(&outcome);
        assert_eq!(outcome.runs()[0]["fixes_used"], fixes.len());
        // With the tenths logged, the very same night.
        same_as_one_log(&alone(gpx(&fixes)));
    }
}

#[test]
fn a_second_split_over_two_logs_is_still_one_second() {
    let fixes = healthy_at(5);
    let stamp = |seconds: f64| crate::night::time(seconds.floor());
    // The seam lies within a second in the middle of the first pass.
    let (first, second) = fixes.split_at(52);
    let outcome = Night::new()
        .no_logs()
        .log("a.gpx", gpx_of(&stamped(first, stamp)))
        .log("b.gpx", gpx_of(&stamped(second, stamp)))
        .audit(&[]);
    assert_eq!(outcome.runs()[0]["fixes_used"], fixes.len());
    assert_eq!(outcome.runs()[0]["fixes_repeated"], 0);
    assert!((number(&outcome.runs()[0]["distance_m"]) - 288.0).abs() < 12.0);
}

#[test]
fn a_copy_with_degrees_cut_to_five_decimals_counts_once_at_the_finer_place() {
    let text = gpx(&healthy());
    for (finer, coarser) in [("a.gpx", "b.gpx"), ("b.gpx", "a.gpx")] {
        let outcome = Night::new()
            .no_logs()
            .log(finer, &text)
            .log(coarser, cut(&text, 5))
            .audit(&[]);
        same_as_one_log(&outcome);
        let run = &outcome.runs()[0];
        assert_eq!(
            (run["fixes"].as_u64(), run["fixes_used"].as_u64()),
            (Some(150), Some(75))
        );
        assert_eq!(run["fixes_repeated"], 75);
        // The finer places were kept, so nothing is rounded.
        assert!((number(&run["position_m"]) - 1.0).abs() < 1e-9);
        assert!(outcome.findings("rounded_positions").is_empty());
    }
}

#[test]
fn a_copy_five_times_a_second_with_cut_degrees_counts_once() {
    let fixes = healthy_at(5);
    let text = gpx_of(&stamped(&fixes, |seconds| {
        crate::night::time(seconds.floor())
    }));
    let outcome = Night::new()
        .no_logs()
        .log("a.gpx", &text)
        .log("b.gpx", cut(&text, 6))
        .audit(&[]);
    same_as_one_log(&outcome);
    assert_eq!(outcome.runs()[0]["fixes_used"], fixes.len());
}

#[test]
fn a_copy_whose_clock_lost_its_tenths_is_no_second_way() {
    let fixes = healthy_at(5);
    let whole = gpx_of(&stamped(&fixes, |seconds| {
        crate::night::time(seconds.floor())
    }));
    let outcome = Night::new()
        .no_logs()
        .log("a.gpx", gpx(&fixes))
        .log("b.gpx", whole)
        .audit(&[]);
    same_as_one_log(&outcome);
}

#[test]
fn a_second_receiver_in_the_cab_does_not_make_a_zigzag() {
    // A tablet beside the logger: 3 m to the side, at its own third of the second or at the same one.
    for late_s in [0.0, 0.333] {
        let tablet: Vec<Fix> = healthy()
            .iter()
            .filter(|fix| fix.0 < 50.0)
            .map(|fix| (fix.0 + late_s, fix.1, fix.2 + 3.0, fix.3, fix.4))
            .collect();
        let outcome = Night::new().log("tablet.gpx", gpx(&tablet)).audit(&[]);
        same_as_one_log(&outcome);
    }
}

#[test]
fn one_id_in_two_places_survives_a_copy_and_a_cut() {
    let far = |fixes: &[Fix]| -> Vec<Fix> {
        fixes
            .iter()
            .map(|fix| (fix.0, fix.1 + 500.0, fix.2, fix.3, fix.4))
            .collect()
    };
    let (here, there) = (healthy(), far(&healthy()));
    let cut_there = cut(&gpx(&there), 5);
    let outcome = Night::new()
        .log("c.gpx", gpx(&there[..40]))
        .log("b.gpx", gpx(&there[40..]))
        .log("a.gpx", cut_there)
        .log("z.gpx", cut(&gpx(&here), 5))
        .audit(&[]);
    assert_eq!(outcome.runs().len(), 2);
    assert_eq!(outcome.findings("shared_rig_id").len(), 1);
    for run in outcome.runs() {
        assert_eq!(run["fixes_used"], 75, "{run:#}");
    }
    outcome.still_audited();
}

#[test]
fn what_a_copy_says_itself_beats_what_the_other_holds() {
    // The first export dropped the switch at the middle of the pass, the second has it.
    let fixes = healthy();
    let says = |fix: &Fix, at: usize, keep: bool| {
        let flow = format!("<s:flow>{ON_TARGET_L_MIN}</s:flow>");
        let states = if keep {
            format!(
                "<s:sections>{}</s:sections>",
                if at < 12 { "1111" } else { "0000" }
            )
        } else {
            String::new()
        };
        crate::night::point_with(fix.0, fix.1, fix.2, &format!("{flow}{states}"))
    };
    let first: String = fixes[..25]
        .iter()
        .enumerate()
        .map(|(i, fix)| says(fix, i, i == 0))
        .collect();
    let second: String = fixes[..25]
        .iter()
        .enumerate()
        .map(|(i, fix)| says(fix, i, true))
        .collect();
    let outcome = Night::new()
        .no_logs()
        .log("a.gpx", gpx_of(&first))
        .log("b.gpx", gpx_of(&second))
        .audit(&[]);
    // Open for 12 s.
    assert!((number(&outcome.runs()[0]["wet_s"]) - 12.0).abs() < 1e-6);
}

#[test]
fn litres_since_the_last_fix_of_points_left_out_are_not_lost() {
    let fleet =
        super::fleet_with("[rig.channels]\nvolume = { element = \"used\", since_last_fix = true }");
    // Not in ticks: 1 L, 1.013 L, 1 L, ...
    let one_l = |fix: &Fix, away_m: f64| {
        let litres = if fix.0.rem_euclid(2.0) < 0.5 {
            "1"
        } else {
            "1.013"
        };
        let extensions = format!(
            "<s:used>{litres}</s:used><s:sections>{}</s:sections>",
            fix.3
        );
        crate::night::point_with(fix.0, fix.1 + away_m, fix.2, &extensions)
    };
    let fixes = healthy();
    // One jump in the first pass, and points without a position at the end of a segment and of the file.
    let lost = |fix: &Fix| one_l(fix, 0.0).replacen("lat=", "x=", 1);
    let points: String = fixes[..25]
        .iter()
        .enumerate()
        .map(|(i, fix)| match i {
            10 => one_l(fix, 1e6),
            14 => lost(fix) + "</trkseg><trkseg>\n",
            24 => lost(fix),
            _ => one_l(fix, 0.0),
        })
        .collect();
    let outcome = Night::new()
        .no_logs()
        .fleet(&fleet)
        .log("own.gpx", gpx_of(&points))
        .audit(&[]);
    // 25 points; what the first brings was used before the log began. 12 x 1.013 L and 12 x 1 L.
    assert!(
        (number(&outcome.runs()[0]["ledger_l"]["metered"]) - 24.156).abs() < 1e-6,
        "{:#}",
        outcome.runs()[0]
    );
    assert_eq!(outcome.findings("jumps_dropped").len(), 1);
}
