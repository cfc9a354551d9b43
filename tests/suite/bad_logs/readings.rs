//! Channels, ids and names that are missing, absurd or hostile.

use super::{alone, beside, elsewhere, metered_l};
use crate::night::{Night, ON_TARGET_L_MIN, gpx, healthy, pass, rectangle, sites, zone};

#[test]
fn more_states_than_sections_is_an_error_with_its_line() {
    let text = gpx(&healthy()).replacen("1111", "11111", 1);
    alone(&text).refused(&[
        "bad.gpx:3:",
        "found 5 section states (\"11111\"), but the rig has 4 sections",
        "[rig.channels]",
    ]);
    let outcome = beside("bad.gpx", &text);
    assert!(outcome.text("input_skipped").contains("5 section states"));
}

#[test]
fn without_flow_and_sections_the_message_shows_the_elements_and_the_lines_to_add() {
    let text = elsewhere(|i| format!("<x:data><x:q_now>{i}.5</x:q_now><x:boom v=\"3\"/></x:data>"));
    alone(text).refused(&[
        "no point of the log has flow, volume, rate or section states for rig \"north\"",
        "q_now  0.5",
        "boom, attribute = \"v\"  3",
        "[rig.channels]\nflow = { element = \"...\", attribute = \"...\", unit = \"gal/min\" }",
        "sections = { element = \"...\", attribute = \"...\", bits = 4 }",
    ]);
}

#[test]
fn flow_without_states_asks_for_the_states() {
    let text = elsewhere(|_| "<s:flow>20</s:flow>".to_owned());
    alone(text).refused(&[
        "rig \"north\" has 4 sections, but no point of the log has section states",
        "sections = {",
    ]);
}

#[test]
fn an_unknown_rig_is_an_error_with_its_line() {
    let text = gpx(&healthy()).replace(
        "<trkseg>",
        "<extensions><s:rig>sotuh</s:rig></extensions><trkseg>",
    );
    alone(&text).refused(&[
        "bad.gpx:2:",
        "the rig \"sotuh\"",
        "Rigs in the fleet file: north.",
    ]);
    assert!(
        beside("bad.gpx", &text)
            .text("input_skipped")
            .contains("sotuh")
    );
}

#[test]
fn absurd_flows_never_reach_the_figures() {
    for flow in [
        "1e308",
        "1e300",
        "123456789012345678901234567890",
        "-1e308",
        "NaN",
        "inf",
        "4294967295",
        "abc",
        "1e999",
    ] {
        let outcome = beside(
            "bad.gpx",
            elsewhere(|_| format!("<s:flow>{flow}</s:flow><s:sections>1111</s:sections>")),
        );
        assert!(
            metered_l(&outcome).abs() < 1e-12,
            "{flow}: {}",
            metered_l(&outcome)
        );
        let text = outcome.text("reading_odd");
        assert!(
            text.contains("reading of `flow`") && text.contains("30 readings"),
            "{flow}: {text}"
        );
    }
}

#[test]
fn tiny_and_negative_zero_flows_are_no_flow() {
    for flow in ["-0", "0", "1e-320", "+0.0", "00000000000000000000"] {
        let outcome = beside(
            "bad.gpx",
            elsewhere(|_| format!("<s:flow>{flow}</s:flow><s:sections>1111</s:sections>")),
        );
        assert!(metered_l(&outcome).abs() < 1e-12, "{flow}");
        assert!(outcome.findings("input_skipped").is_empty(), "{flow}");
        assert!(!outcome.stdout.contains("-0 "), "{}", outcome.stdout);
    }
}

#[test]
fn a_negative_flow_is_no_flow() {
    let outcome = beside(
        "bad.gpx",
        elsewhere(|_| "<s:flow>-5</s:flow><s:sections>1111</s:sections>".to_owned()),
    );
    assert!(metered_l(&outcome).abs() < 1e-12);
}

#[test]
fn absurd_totals_never_reach_the_figures() {
    for total in ["1e308", "1e30", "-1e308", "NaN", "inf"] {
        let text = elsewhere(|i| {
            let total = if i % 2 == 1 {
                total.to_owned()
            } else {
                format!("{i}")
            };
            format!("<s:volume>{total}</s:volume><s:sections>1111</s:sections>")
        });
        let outcome = beside("bad.gpx", text);
        // The readings that are left run from 0 to 28.
        assert!(
            (metered_l(&outcome) - 28.0).abs() < 1e-9,
            "{total}: {}",
            metered_l(&outcome)
        );
        assert!(
            outcome.text("reading_odd").contains("reading of `volume`"),
            "{total}"
        );
    }
}

#[test]
fn a_falling_total_is_a_reset_and_never_negative() {
    let outcome = beside(
        "bad.gpx",
        elsewhere(|i| {
            format!(
                "<s:volume>{}</s:volume><s:sections>1111</s:sections>",
                100 - i
            )
        }),
    );
    assert!(metered_l(&outcome).abs() < 1e-12, "{}", metered_l(&outcome));
}

#[test]
fn absurd_channels_beside_the_flow_are_left_out() {
    let extensions = |_| {
        format!(
            "<s:flow>{ON_TARGET_L_MIN}</s:flow><s:sections>1111</s:sections><s:set_rate>1e308</s:set_rate>\
             <s:speed>1e308</s:speed><s:heading>1e308</s:heading><s:pressure>-1e308</s:pressure><s:level>1e39</s:level>\
             <s:pavement>1e308</s:pavement><s:air>-1e39</s:air><s:master>9</s:master><s:gun>maybe</s:gun>"
        )
    };
    let text = elsewhere(extensions).replace("<time>", "<hdop>1e308</hdop><time>");
    let outcome = beside("bad.gpx", text);
    assert!(!outcome.stdout.contains("inf"), "{}", outcome.stdout);
    assert!(
        outcome.findings("set_rate_differs").is_empty(),
        "{}",
        outcome.stdout
    );
}

#[test]
fn a_rate_with_an_absurd_speed_gives_no_liquid() {
    let extensions = "<s:rate>1e300</s:rate><s:speed>1e300</s:speed><s:sections>1111</s:sections>";
    let outcome = beside("bad.gpx", elsewhere(|_| extensions.to_owned()));
    assert!(metered_l(&outcome).abs() < 1e-12);
}

#[test]
fn sixty_four_states_and_bits_fit() {
    let sections = vec!["\"0.1 m\""; 64].join(", ");
    let fleet = format!("[[rig]]\nid = \"north\"\nsections = [{sections}]\n");
    let night = Night::new().fleet(&fleet).no_logs();
    let text = gpx(&healthy()).replace(">1111<", &format!(">{}<", "1".repeat(64)));
    let text = text.replace(">0000<", &format!(">{}<", "0".repeat(64)));
    let outcome = night.clone().log("a.gpx", &text).audit(&[]);
    outcome.still_audited();
    let mapped = fleet + "[rig.channels]\nsections = { element = \"sections\", bits = 64 }\n";
    let text = gpx(&healthy())
        .replace(">1111<", &format!(">{}<", u64::MAX))
        .replace(">0000<", ">0<");
    night
        .fleet(&mapped)
        .log("a.gpx", text)
        .audit(&[])
        .still_audited();
}

#[test]
fn names_with_control_characters_paths_markup_and_formulas_are_data() {
    let evil = "=cmd|' /C calc'!A0\\u001b[2J\\u0007</script><b>&../../etc/x\\n";
    let zones = [zone(evil, evil, &rectangle(0.0, 0.0, 80.0, 12.0))];
    let night = Night::new().sites(&sites(&zones));
    let night = night.log(
        "=x<b>&;'[].gpx",
        gpx(&pass(0.0, (500.0, 0.0), (600.0, 0.0))),
    );
    let outcome = night.audit(&["--fail-on", "never"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(
        outcome.stdout.chars().all(|c| c == '\n' || !c.is_control()),
        "{:?}",
        outcome.stdout
    );
    for name in ["zones.csv", "visits.csv", "runs.csv", "findings.csv"] {
        let text = std::fs::read_to_string(outcome.out.join(name)).unwrap();
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{name}");
        for record in csv::Reader::from_reader(text.as_bytes()).records() {
            assert!(
                record
                    .unwrap()
                    .iter()
                    .all(|cell| !cell.starts_with(['=', '@'])),
                "{name}: {text}"
            );
        }
    }
    let mut made: Vec<String> = std::fs::read_dir(&outcome.out)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    made.sort();
    assert_eq!(
        made,
        [
            "audit.json",
            "coverage.geojson",
            "findings.csv",
            "report.html",
            "runs.csv",
            "touchup.gpx",
            "visits.csv",
            "zones.csv"
        ]
    );
    let route = std::fs::read_to_string(outcome.out.join("touchup.gpx")).unwrap();
    assert!(gpx::read(route.as_bytes()).is_ok());
}
