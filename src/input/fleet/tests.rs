use super::*;
use crate::input::channels::Channel;
use std::path::Path;

const NIGHT: &str = r#"
[defaults]
timezone = "America/Winnipeg"
target = "35 gal/ac"
band = "10 %"
dropout = "5 s"
application_pause = "90 min"

[[product]]
id = "brine"
solute = "NaCl"
mass_fraction = "23.3 %"
specific_gravity = 1.178
price = "0.20 /gal"
lowest_pavement = "15 degF"

[[rig]]
id = "north"
product = "brine"
sections = ["30 in", "30 in", "30 in", "30 in"]  # left to right
antenna = { ahead = "7 ft", right = "0 ft" }
axle = "6 ft"
position = "1 m"
open_delay = "0.4 s"
close_delay = "0.3 s"
meter = { kind = "magnetic", factor = 1.0 }
tank = "425 gal"
greatest_flow = "45 gal/min"
gun_flow = "5 gal/min"

[rig.channels]
flow = { element = "x_q", unit = "gal/min" }
sections = { element = "x_open", bits = 4 }
"#;

fn read_text(text: &str) -> crate::error::Result<Fleet> {
    read(text, Path::new("fleet.toml"))
}

fn rig_with(lines: &str) -> String {
    format!("[[rig]]\nid = \"a\"\nsections = [\"30 in\", \"30 in\"]\n{lines}\n")
}

fn complaint(text: &str) -> String {
    read_text(text)
        .expect_err("the text has a fault")
        .to_string()
}

fn near(value: f64, expected: f64) {
    assert!(
        (value - expected).abs() < 1e-9,
        "{value}, expected {expected}"
    );
}

#[test]
fn the_sample_reads_in_si() {
    let fleet = read_text(NIGHT).unwrap();
    // 35 gal/ac x 0.9353956 mL/m2 per gal/ac (exact units).
    assert!((fleet.defaults.target_ml_m2.unwrap() - 32.738_846).abs() < 1e-6);
    near(fleet.defaults.band, 0.1);
    near(fleet.defaults.application_pause_s, 5400.0);
    assert_eq!(
        fleet.defaults.timezone.as_ref().unwrap().iana_name(),
        Some("America/Winnipeg")
    );
    let product = &fleet.products[0];
    near(product.mass_fraction.unwrap(), 0.233);
    near(product.lowest_pavement_degc.unwrap(), -17.0 * 5.0 / 9.0);
    let rig = &fleet.rigs[0];
    assert_eq!(rig.section_widths_m.len(), 4);
    near(rig.boom_width_m(), 4.0 * 0.762);
    near(rig.antenna_ahead_m, 2.1336);
    near(rig.axle_m, 1.8288);
    near(rig.open_delay_s, 0.4);
    near(rig.tank_l.unwrap(), 425.0 * 3.785_411_784);
    near(rig.greatest_flow_l_s.unwrap(), 45.0 * 3.785_411_784 / 60.0);
    let (channel, rule) = &rig.channels.scalars[0];
    assert_eq!(
        (*channel, rule.element.as_str(), rule.unit_given),
        (Channel::Flow, "x_q", true)
    );
    near(rule.scale, 3.785_411_784 / 60.0);
    let sections = rig.channels.sections.as_ref().unwrap();
    assert!(matches!(
        &sections.source,
        SectionSource::Bits {
            bits: 4,
            bits_per_section: 1,
            ..
        }
    ));
}

#[test]
fn id_and_sections_are_enough() {
    let fleet =
        read_text("[[rig]]\nid = \"a\"\nsections = [\"2 m\"]\nantenna = { ahead = \"1 m\" }")
            .unwrap();
    let rig = &fleet.rigs[0];
    near(rig.axle_m, 1.0);
    near(rig.meter.factor, 1.0);
    near(fleet.defaults.dropout_s, 5.0);
    assert!(fleet.defaults.timezone.is_none() && rig.product.is_none() && rig.tank_l.is_none());
}

#[test]
fn a_bare_number_shows_its_line() {
    let error = read_text(&rig_with("tank = 425")).unwrap_err();
    assert_eq!(error.line, Some(4));
    let text = error.to_string();
    assert!(
        text.contains("tank = 425")
            && text.contains("bare number 425")
            && text.contains("\"425 gal\""),
        "{text}"
    );
    let text = complaint("[[rig]]\nid = \"a\"\nsections = [\n \"30 in\",\n 30,\n]");
    assert!(text.starts_with("fleet.toml:5:"), "{text}");
}

#[test]
fn an_unknown_key_names_the_nearest() {
    let text = complaint(&rig_with("antena = { ahead = \"1 m\" }"));
    assert!(
        text.contains("unknown key `antena`") && text.contains("`antenna`"),
        "{text}"
    );
    assert!(complaint("[default]\nband = \"10 %\"").contains("`defaults`"));
    assert!(complaint(&rig_with("zzz = 1")).contains("Known keys"));
}

#[test]
fn wrong_values_are_errors_with_their_line() {
    for (lines, expected) in [
        ("tank = \"425 ac\"", "not a unit of volume"),
        ("tank = \"-1 gal\"", "more than 0"),
        ("open_delay = \"-1 s\"", "0 or more"),
        ("product = \"brine\"", "no product"),
        ("logs = [\"a[\"]", "not a file-name pattern"),
        ("meter = { factor = 0 }", "from 0.000001 to 1000000"),
        ("meter = { factor = \"1\" }", "a number without quotes"),
        (
            "channels = { flow = { element = \"q\", unit = \"psi\" } }",
            "not a unit of flow",
        ),
        ("channels = { flow = { unit = \"L/s\" } }", "no `element`"),
        (
            "channels = { master = { element = \"m\", unit = \"L/s\" } }",
            "unknown key `unit`",
        ),
        (
            "channels = { sections = { element = \"m\", bits = 3 } }",
            "3 section states",
        ),
        (
            "channels = { sections = { elements = [\"a\", \"b\", \"c\"] } }",
            "3 section states",
        ),
        (
            "channels = { sections = { element = \"m\", bits = 2, list = \",\" } }",
            "contradict",
        ),
        (
            "channels = { sections = { element = \"m\", first = \"top\" } }",
            "\"left\" or \"right\"",
        ),
        (
            "channels = { sections = { element = \"m\", bits_per_section = 2 } }",
            "no meaning",
        ),
    ] {
        let text = complaint(&rig_with(lines));
        assert!(
            text.starts_with("fleet.toml:4:") && text.contains(expected),
            "{lines}: {text}"
        );
    }
}

#[test]
fn wrong_rigs_are_errors() {
    assert!(complaint("").contains("no rig"));
    assert!(complaint("[[rig]]\nsections = [\"1 m\"]").contains("no `id`"));
    assert!(complaint("[[rig]]\nid = \"a\"").contains("no `sections`"));
    assert!(complaint("[[rig]]\nid = \"a\"\nsections = []").contains("no `sections`"));
    assert!(complaint("[[rig]]\nid = \"a\"\nsections = [\"-1 m\"]").contains("narrower than 1 cm"));
    assert!(complaint("[rig]\nid = \"a\"\nsections = [\"1 m\"]").contains("[[rig]]"));
    let many = vec!["\"1 m\""; 65].join(",");
    assert!(
        complaint(&format!("[[rig]]\nid = \"a\"\nsections = [{many}]"))
            .contains("64 sections at most")
    );
    let twice = format!("{}{}", rig_with(""), rig_with(""));
    let error = read_text(&twice).unwrap_err();
    assert!(
        error.to_string().contains("two [[rig]]") && error.line == Some(6),
        "{error}"
    );
    assert!(complaint("[defaults]\ntimezone = \"Mars/Base\"").starts_with("fleet.toml:2:"));
}

#[test]
fn text_that_is_no_toml_shows_the_line() {
    let error = read_text("[[rig]]\nid = north\n").unwrap_err();
    assert_eq!(error.line, Some(2), "{error}");
}

#[test]
fn section_states_can_be_mapped_in_five_ways() {
    let source = |rule: &str| {
        let fleet = read_text(&rig_with(&format!("channels = {{ sections = {rule} }}"))).unwrap();
        fleet.rigs[0].channels.sections.clone().unwrap()
    };
    assert!(
        matches!(source("{ element = \"p:x\" }").source, SectionSource::Text { element, .. } if element == "x")
    );
    assert!(
        matches!(source("{ elements = [\"a\", \"b\"] }").source, SectionSource::Elements(names) if names == ["a", "b"])
    );
    assert!(matches!(
        source("{ element = \"x\", attributes = [\"a\", \"b\"] }").source,
        SectionSource::Attributes { attributes, .. } if attributes.len() == 2
    ));
    assert!(matches!(
        source("{ element = \"x\", list = \";\" }").source,
        SectionSource::List { separator: ';', .. }
    ));
    let rule = source(
        "{ element = \"x\", bits = 2, bits_per_section = 2, first = \"right\", invert = true }",
    );
    assert!(rule.invert && !rule.first_left);
    assert!(matches!(
        rule.source,
        SectionSource::Bits {
            bits: 2,
            bits_per_section: 2,
            ..
        }
    ));
}

#[test]
fn volume_can_be_since_the_last_fix() {
    let fleet = read_text(&rig_with(
        "channels = { volume = { element = \"d\", attribute = \"v\", unit = \"gal\", since_last_fix = true } }",
    ))
    .unwrap();
    let rule = &fleet.rigs[0].channels.scalars[0].1;
    assert!(rule.since_last_fix && rule.attribute.as_deref() == Some("v"));
}

#[test]
fn a_hitch_gives_the_axle_its_default() {
    let read = |more: &str| {
        let hitch = "hitch = { behind_antenna = \"3 m\", to_axle = \"2.5 m\" }";
        let text = format!("[[rig]]\nid = \"a\"\nsections = [\"2 m\"]\n{hitch}\n{more}\n");
        read_text(&text).unwrap().rigs.remove(0)
    };
    let rig = read("");
    let hitch = rig.hitch.unwrap();
    near(hitch.to_axle_m, 2.5);
    near(hitch.axle_to_boom_m, 0.0);
    near(hitch.length_m(), 5.5);
    near(rig.axle_m, 3.0);
    near(read("axle = \"2.7 m\"").axle_m, 2.7);
}

#[test]
fn clock_offsets_take_weeks_and_either_sign() {
    let offset_s = |text: &str| {
        let lines = format!("[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\nclock_offset = \"{text}\"");
        read(&lines, Path::new("fleet.toml")).map(|fleet| fleet.rigs[0].clock_offset_s)
    };
    // A week has 7 x 24 x 3600 = 604,800 s.
    for (text, expected_s) in [
        ("1024 weeks", 1024.0 * 604_800.0),
        ("-1 h", -3600.0),
        ("2 s", 2.0),
        ("-3 d", -259_200.0),
    ] {
        assert_eq!(offset_s(text).unwrap(), expected_s, "{text}");
    }
    assert!(offset_s("6000 weeks").is_err() && offset_s("2").is_err());
}

#[test]
fn section_log_has_two_words() {
    let read_with = |word: &str| {
        let lines = format!("[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\nsection_log = \"{word}\"");
        read(&lines, Path::new("fleet.toml")).map(|fleet| fleet.rigs[0].section_log)
    };
    assert_eq!(read_with("on_change").unwrap(), SectionLog::OnChange);
    assert_eq!(read_with("sampled").unwrap(), SectionLog::Sampled);
    let error = read_with("always").unwrap_err().to_string();
    assert!(
        error.contains("section_log") && error.contains("on_change"),
        "{error}"
    );
}
