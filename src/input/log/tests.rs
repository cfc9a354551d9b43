use super::*;
use crate::findings::Kind;
use crate::findings::clocks::{AboutClocks, ClockFault};
use crate::findings::log::AboutLog;
use crate::input::channels::Channel;
use crate::input::fleet::{self, Fleet};
use std::path::Path;

/// Gallons per minute in L/s, by exact arithmetic: 231 in3 of 2.54 cm in 60 s.
const GAL_MIN_L_S: f64 = 3.785_411_784 / 60.0;

fn fleet(lines: &str) -> Fleet {
    fleet::read(lines, Path::new("fleet.toml")).unwrap()
}

fn boom(lines: &str) -> Fleet {
    fleet(&format!(
        "[[rig]]\nid = \"north\"\nsections = [\"1 m\", \"1 m\", \"1 m\", \"1 m\"]\n{lines}"
    ))
}

fn gpx(inside: &str) -> String {
    format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"any\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:swathbook:log:1\">\n{inside}\n</gpx>"
    )
}

/// A point `second` seconds after the hour with these extensions.
fn point(second: u32, extensions: &str) -> String {
    format!(
        "<trkpt lat=\"45.0000{second:02}\" lon=\"-30\"><time>2026-01-12T02:00:{second:02}Z</time><extensions>{extensions}</extensions></trkpt>\n"
    )
}

/// One track with one segment of these points.
fn track(points: &[&str]) -> String {
    let points: String = points
        .iter()
        .enumerate()
        .map(|(i, inside)| point(i as u32, inside))
        .collect();
    gpx(&format!("<trk><trkseg>\n{points}</trkseg></trk>"))
}

fn one(text: &str, fleet: &Fleet) -> Log {
    let reading = read("a.gpx", text, fleet).unwrap();
    assert_eq!(reading.logs.len(), 1);
    reading.logs.into_iter().next().unwrap()
}

fn complaint(text: &str, fleet: &Fleet) -> String {
    read("logs/a.gpx", text, fleet)
        .expect_err("the log has a fault")
        .to_string()
}

/// Line, count and words of each finding.
fn says(reading: &LogReading) -> Vec<(u64, u64, String)> {
    let say = |matter: &Kind| match matter.clone() {
        Kind::Log(AboutLog::InputSkipped {
            line, count, why, ..
        }) => (line.unwrap_or(0), count, why),
        Kind::Log(AboutLog::ReadingOdd {
            line, count, what, ..
        }) => (line.unwrap_or(0), count, what),
        Kind::Clocks(AboutClocks::ClockOdd {
            line,
            count,
            what: ClockFault::Read(what),
            ..
        }) => (line.unwrap_or(0), count, format!("clock: {what}")),
        other => panic!("{other:?}"),
    };
    reading
        .findings
        .iter()
        .map(|finding| say(&finding.kind))
        .collect()
}

fn near(value: f64, expected: f64) {
    assert!(
        (value - expected).abs() < 1e-12,
        "{value}, expected {expected}"
    );
}

#[test]
fn the_documented_sample_reads() {
    let text = gpx(
        " <trk><extensions><s:rig>north</s:rig></extensions><trkseg>\n  <trkpt lat=\"45.0000000\" lon=\"-30.0000000\"><time>2026-01-12T02:00:00Z</time><hdop>0.8</hdop>\n   <extensions><s:flow unit=\"gal/min\">3.5</s:flow><s:sections>1110</s:sections></extensions></trkpt>\n </trkseg></trk>",
    );
    let reading = read("a.gpx", &text, &boom("")).unwrap();
    assert!(reading.findings.is_empty(), "{:?}", says(&reading));
    let fix = reading.logs[0].fixes[0];
    // 2026-01-12T02:00:00Z is 20,465 days and 2 hours after 1970.
    assert_eq!(fix.time.0, (20_465 * 86_400 + 7200) * 1_000_000);
    near(fix.place.lat_deg, 45.0);
    near(fix.place.lon_deg, -30.0);
    near(fix.flow_l_s, 3.5 * GAL_MIN_L_S);
    assert_eq!((fix.open, fix.line), (Some(0b0111), 4));
    assert!((fix.hdop - 0.8).abs() < 1e-6 && fix.volume_l.is_nan());
}

#[test]
fn every_channel_reads_in_its_default_unit() {
    let text = track(&[
        "<flow>60</flow><volume>7</volume><sections>1001</sections><master>1</master><set_rate>30</set_rate><rate>31</rate><speed>2</speed><pressure>250</pressure><gun>0</gun><heading>-90</heading><level>900</level><pavement>-4</pavement><air>-6</air><product>brine</product>",
    ]);
    let reading = read("a.gpx", &text, &boom("[[product]]\nid = \"brine\"")).unwrap();
    assert!(reading.findings.is_empty(), "{:?}", says(&reading));
    let fix = reading.logs[0].fixes[0];
    near(fix.flow_l_s, 1.0);
    near(fix.volume_l, 7.0);
    near(fix.rate_ml_m2, 31.0);
    assert_eq!(
        (fix.open, fix.master, fix.gun, fix.product),
        (Some(0b1001), Some(true), Some(false), Some(0))
    );
    let singles = [fix.set_rate_ml_m2, fix.speed_m_s, fix.heading_deg];
    for (value, expected) in singles.into_iter().zip([30.0, 2.0, 270.0]) {
        assert!((value - expected).abs() < 1e-5, "{value} {expected}");
    }
}

#[test]
fn channels_hold_within_a_segment_but_volume_does_not() {
    let points: String = [
        point(
            0,
            "<flow>60</flow><volume>1</volume><sections>1111</sections>",
        ),
        point(1, ""),
        "</trkseg><trkseg>".to_owned(),
        point(2, ""),
    ]
    .concat();
    let log = one(
        &gpx(&format!("<trk><trkseg>{points}</trkseg></trk>")),
        &boom(""),
    );
    assert_eq!(log.segment_starts, [0, 2]);
    near(log.fixes[1].flow_l_s, 1.0);
    assert_eq!(log.fixes[1].open, Some(0b1111));
    assert!(log.fixes[1].volume_l.is_nan());
    assert!(log.fixes[2].flow_l_s.is_nan() && log.fixes[2].open.is_none());
}

#[test]
fn a_tracks_constants_hold_in_all_its_segments() {
    let text = gpx(&format!(
        "<trk><extensions><set_rate unit=\"L/ha\">300</set_rate></extensions><trkseg>{}</trkseg><trkseg>{}</trkseg></trk><trk><trkseg>{}</trkseg></trk>",
        point(0, "<flow>1</flow><sections>1111</sections>"),
        point(1, ""),
        point(2, "")
    ));
    let log = one(&text, &boom(""));
    let rates: Vec<f32> = log.fixes.iter().map(|fix| fix.set_rate_ml_m2).collect();
    assert!((rates[0] - 30.0).abs() < 1e-5 && (rates[1] - 30.0).abs() < 1e-5 && rates[2].is_nan());
}

#[test]
fn mapped_elements_and_attributes_are_read() {
    let fleet = boom(
        "[rig.channels]\nflow = { element = \"x_q\", unit = \"gal/min\" }\nvolume = { element = \"job\", attribute = \"used\", unit = \"gal\", since_last_fix = true }\nsections = { element = \"x_open\", bits = 4 }\nmaster = { element = \"job\", attribute = \"on\" }",
    );
    let log = one(
        &track(&[
            "<c><z:job used=\"2\" on=\"true\"/><d><x_q unit=\"L/s\">3</x_q></d></c><x_open>5</x_open>",
        ]),
        &fleet,
    );
    let fix = log.fixes[0];
    near(fix.flow_l_s, 3.0 * GAL_MIN_L_S);
    near(fix.volume_l, 2.0 * 3.785_411_784);
    assert_eq!(
        (fix.open, fix.master, log.volume_since_last_fix),
        (Some(0b0101), Some(true), true)
    );
}

#[test]
fn the_unit_attribute_counts_where_the_mapping_names_no_unit() {
    let log = one(
        &track(&[
            "<q unit=\"L/s\">3</q><sections>1111</sections>",
            "<q unit=\"gal/min\">3</q>",
            "<q>60</q>",
        ]),
        &boom("[rig.channels]\nflow = { element = \"q\" }"),
    );
    near(log.fixes[0].flow_l_s, 3.0);
    near(log.fixes[1].flow_l_s, 3.0 * GAL_MIN_L_S);
    near(log.fixes[2].flow_l_s, 1.0);
}

#[test]
fn section_elements_hold_one_by_one() {
    let fleet = boom("[rig.channels]\nsections = { elements = [\"a\", \"b\", \"c\", \"d\"] }");
    let text = track(&[
        "<a>1</a><b>0</b><c>0</c><d>1</d>",
        "<b>1</b>",
        "",
        "<a>0</a>",
    ]);
    let open: Vec<Option<u64>> = one(&text, &fleet)
        .fixes
        .iter()
        .map(|fix| fix.open)
        .collect();
    assert_eq!(
        open,
        [Some(0b1001), Some(0b1011), Some(0b1011), Some(0b1010)]
    );
}

#[test]
fn more_states_than_sections_is_an_error_with_its_line() {
    let text = complaint(
        &track(&["<sections>1111</sections>", "<sections>11111</sections>"]),
        &boom(""),
    );
    assert!(
        text.starts_with("logs/a.gpx:5:") && text.contains("5 section states"),
        "{text}"
    );
}

#[test]
fn fewer_states_are_closed_with_a_finding() {
    let reading = read(
        "a.gpx",
        &track(&["<sections>111</sections>", "<sections>110</sections>"]),
        &boom(""),
    )
    .unwrap();
    assert_eq!(reading.logs[0].fixes[0].open, Some(0b0111));
    let said = says(&reading);
    assert_eq!((said.len(), said[0].0, said[0].1), (1, 4, 2), "{said:?}");
    assert!(said[0].2.contains("3 section states for 4 sections"));
    assert_eq!(reading.findings[0].rig.as_deref(), Some("north"));
}

#[test]
fn a_point_that_cannot_be_used_is_counted_by_cause() {
    let good = point(0, "<flow>1</flow><sections>1111</sections>");
    let bad = "<trkpt lon=\"1\"><time>2026-01-12T02:00:00Z</time></trkpt>\n<trkpt lat=\"nan\" lon=\"1\"/>\n<trkpt lat=\"91\" lon=\"1\"><time>2026-01-12T02:00:00Z</time></trkpt>\n<trkpt lat=\"1\" lon=\"1\"/>\n<trkpt lat=\"1\" lon=\"1\"><time>soon</time></trkpt>";
    let reading = read(
        "a.gpx",
        &gpx(&format!("<trk><trkseg>\n{good}{bad}</trkseg></trk>")),
        &boom(""),
    )
    .unwrap();
    assert_eq!(reading.logs[0].fixes.len(), 1);
    let said: Vec<(u64, u64)> = says(&reading)
        .iter()
        .map(|(line, count, _)| (*line, *count))
        .collect();
    assert_eq!(
        said,
        [(5, 2), (7, 1), (8, 1), (9, 1)],
        "{:?}",
        says(&reading)
    );
}

#[test]
fn a_point_left_out_still_tells_its_states_and_its_volume() {
    let fleet = boom("[rig.channels]\nvolume = { element = \"v\", since_last_fix = true }");
    let first = point(0, "<v>1</v><sections>1111</sections>");
    let lost = "<trkpt lat=\"45\"><time>2026-01-12T02:00:01Z</time><extensions><v>2</v><sections>0000</sections></extensions></trkpt>";
    let log = one(
        &gpx(&format!(
            "<trk><trkseg>{first}{lost}{}</trkseg></trk>",
            point(2, "<v>4</v>")
        )),
        &fleet,
    );
    assert_eq!(log.fixes[1].open, Some(0));
    near(log.fixes[1].volume_l, 6.0);
}

#[test]
fn odd_clocks_are_told_once() {
    let text = "<trkpt lat=\"1\" lon=\"1\"><time>2026-01-12T02:00:05</time><extensions><sections>1111</sections></extensions></trkpt>\n<trkpt lat=\"1\" lon=\"1\"><time>2026-01-12T02:00:04</time></trkpt>\n<trkpt lat=\"1\" lon=\"1\"><time>2026-01-12T02:00:06</time></trkpt>";
    let reading = read(
        "a.gpx",
        &gpx(&format!("<trk><trkseg>\n{text}</trkseg></trk>")),
        &boom(""),
    )
    .unwrap();
    assert_eq!(reading.logs[0].fixes.len(), 3);
    let said = says(&reading);
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(
        said[0].0 == 4 && said[0].1 == 3 && said[0].2.contains("UTC"),
        "{said:?}"
    );
    assert!(
        said[1].0 == 5 && said[1].1 == 1 && said[1].2.contains("before"),
        "{said:?}"
    );
}

#[test]
fn text_that_is_no_reading_is_unknown_with_a_finding() {
    let text = track(&[
        "<flow>1</flow><sections>1111</sections>",
        "<flow>n/a</flow>",
        "",
        "<flow>NaN</flow><sections>open</sections>",
    ]);
    let reading = read("a.gpx", &text, &boom("")).unwrap();
    let fixes = &reading.logs[0].fixes;
    assert!(fixes[1].flow_l_s.is_nan() && fixes[2].flow_l_s.is_nan() && fixes[3].open.is_none());
    let said = says(&reading);
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(
        said[0].0 == 5 && said[0].1 == 2 && said[0].2.contains("n/a"),
        "{said:?}"
    );
}

#[test]
fn an_unknown_unit_is_a_finding() {
    let reading = read(
        "a.gpx",
        &track(&["<flow unit=\"psi\">1</flow><sections>1111</sections>"]),
        &boom(""),
    )
    .unwrap();
    assert!(
        says(&reading)[0]
            .2
            .contains("\"psi\" is not a unit of `flow`")
    );
}

#[test]
fn one_file_may_hold_several_rigs() {
    let fleet = fleet(
        "[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\n[[rig]]\nid = \"b\"\nsections = [\"2 m\"]",
    );
    let text = track(&[
        "<rig>b</rig><flow>1</flow>",
        "<rig>a</rig><flow>2</flow>",
        "",
        "<rig>b</rig>",
    ]);
    let reading = read("a.gpx", &text, &fleet).unwrap();
    let found: Vec<(usize, usize)> = reading
        .logs
        .iter()
        .map(|log| (log.rig, log.fixes.len()))
        .collect();
    assert_eq!(found, [(1, 2), (0, 2)]);
    // What a rig said last holds for that rig, not for the other.
    near(reading.logs[0].fixes[1].flow_l_s, 1.0 / 60.0);
    near(reading.logs[1].fixes[1].flow_l_s, 2.0 / 60.0);
    assert_eq!(reading.logs[0].segment_starts, [0]);
}

#[test]
fn a_rig_is_found_by_element_then_file_name_then_alone() {
    let two = fleet(
        "[[rig]]\nid = \"a\"\nsections = [\"1 m\"]\nlogs = [\"a-*.gpx\"]\n[[rig]]\nid = \"b\"\nsections = [\"2 m\"]\nlogs = [\"b-*.gpx\", \"a-b.gpx\"]",
    );
    let text = track(&["<flow>1</flow>"]);
    assert_eq!(read("logs/b-1.gpx.gz", &text, &two).unwrap().logs[0].rig, 1);
    let named = track(&["<flow>1</flow><rig> a </rig>"]);
    assert_eq!(read("b-1.gpx", &named, &two).unwrap().logs[0].rig, 0);
    assert!(complaint(&text, &two).contains("Rigs in the fleet file: a, b."));
    assert!(
        read("a-b.gpx", &text, &two)
            .unwrap_err()
            .to_string()
            .contains("several rigs: a, b")
    );
    let unknown = complaint(
        &track(&["", "<rig>zed</rig>"]),
        &fleet("[[rig]]\nid = \"a\"\nsections = [\"1 m\"]"),
    );
    assert!(
        unknown.starts_with("logs/a.gpx:5:")
            && unknown.contains("\"zed\"")
            && unknown.contains("fleet file: a."),
        "{unknown}"
    );
}

#[test]
fn a_log_without_states_or_liquid_shows_what_it_holds() {
    let text = track(&["<x><x_q u=\"gpm\">3.5</x_q></x><x_m>on</x_m>"]);
    let error = complaint(&text, &boom(""));
    assert!(
        error.contains("no point of the log has flow, volume, rate or section states"),
        "{error}"
    );
    for part in [
        "x_q  3.5",
        "x_q, attribute = \"u\"  gpm",
        "x_m  on",
        "[rig.channels]",
        "flow = {",
        "bits = 4",
    ] {
        assert!(error.contains(part), "{part}: {error}");
    }
    let error = complaint(&track(&["<flow>1</flow>"]), &boom(""));
    assert!(
        error.contains("4 sections, but no point of the log has section states"),
        "{error}"
    );
}

#[test]
fn a_single_section_needs_no_states_and_states_need_no_liquid() {
    let single = fleet("[[rig]]\nid = \"a\"\nsections = [\"1 m\"]");
    assert_eq!(
        one(&track(&["<flow>1</flow>"]), &single).fixes[0].open,
        None
    );
    assert_eq!(
        one(&track(&["<sections>1111</sections>"]), &boom("")).fixes[0].open,
        Some(15)
    );
}

#[test]
fn damage_keeps_what_was_read() {
    let whole = track(&["<sections>1111</sections>", "<sections>1111</sections>"]);
    let cut = &whole[..whole.rfind("<sections>").unwrap()];
    let reading = read("a.gpx", cut, &boom("")).unwrap();
    assert_eq!(reading.logs[0].fixes.len(), 1);
    assert!(
        says(&reading)[0].2.contains("damaged"),
        "{:?}",
        says(&reading)
    );
    let error = read("a.gpx", &whole[..100], &boom("")).unwrap_err();
    assert!(
        error.line.is_some() && error.to_string().contains("before its first fix"),
        "{error}"
    );
}

#[test]
fn a_file_without_points_is_an_error() {
    assert!(complaint(&gpx(""), &boom("")).contains("no points"));
    assert!(complaint("", &boom("")).contains("no points"));
    assert!(complaint("plain words", &boom("")).contains("no points"));
    let error = complaint(
        &gpx("<trk><trkseg><trkpt lat=\"1\" lon=\"1\"/></trkseg></trk>"),
        &boom(""),
    );
    assert!(
        error.contains("of 1") && error.contains("no time"),
        "{error}"
    );
}

#[test]
fn declared_entities_are_never_expanded() {
    let text = format!(
        "<!DOCTYPE gpx [<!ENTITY q \"9\">]>\n{}",
        track(&["<flow>&q;</flow><sections>1111</sections>"]).replacen(
            "<?xml version=\"1.0\"?>\n",
            "",
            1
        )
    );
    let reading = read("a.gpx", &text, &boom("")).unwrap();
    assert!(reading.logs[0].fixes[0].flow_l_s.is_nan());
    assert!(says(&reading)[0].2.contains("&q;"));
}

#[test]
fn a_product_outside_the_fleet_file_is_a_finding() {
    let reading = read(
        "a.gpx",
        &track(&["<sections>1111</sections>", "<product>mag</product>"]),
        &boom(""),
    )
    .unwrap();
    assert_eq!(reading.logs[0].products, ["mag"]);
    assert_eq!(
        (says(&reading)[0].0, says(&reading)[0].2.contains("\"mag\"")),
        (5, true)
    );
}

#[test]
fn constants_after_the_points_are_a_finding() {
    let text = gpx(&format!(
        "<trk><trkseg>{}</trkseg><extensions><rig>x</rig></extensions></trk>",
        point(0, "<sections>1111</sections>")
    ));
    assert!(
        says(&read("a.gpx", &text, &boom("")).unwrap())[0]
            .2
            .contains("after its points")
    );
}

#[test]
fn positions_and_times_agree_with_the_gpx_crate() {
    let points: String = (0..50)
        .map(|i| point(i, "<flow>1</flow><sections>1111</sections>"))
        .collect();
    let text = gpx(&format!("<trk><trkseg>{points}</trkseg></trk>"));
    let log = one(&text, &boom(""));
    let other = ::gpx::read(text.as_bytes()).unwrap();
    let waypoints = &other.tracks[0].segments[0].points;
    assert_eq!(waypoints.len(), log.fixes.len());
    for (waypoint, fix) in waypoints.iter().zip(&log.fixes) {
        near(waypoint.point().x(), fix.place.lon_deg);
        near(waypoint.point().y(), fix.place.lat_deg);
        let time: jiff::Timestamp = waypoint.time.unwrap().format().unwrap().parse().unwrap();
        assert_eq!(time.as_microsecond(), fix.time.0);
    }
}

#[test]
fn any_prefix_of_a_log_gives_a_result_or_an_error() {
    let text = track(&[
        "<flow unit=\"L/s\">1&amp;</flow><sections><![CDATA[1111]]></sections>",
        "<volume>2</volume>",
    ]);
    for end in 0..text.len() {
        let _ = read("a.gpx", &text[..end], &boom(""));
    }
}

#[test]
fn constants_of_the_track_are_every_points_own_until_one_says_otherwise() {
    let text = gpx(&format!(
        "<trk><extensions><set_rate>30</set_rate></extensions><trkseg>{}{}{}{}</trkseg></trk>",
        point(0, "<flow>1</flow><sections>1111</sections>"),
        point(1, ""),
        point(2, "<set_rate>40</set_rate>"),
        point(3, ""),
    ));
    let log = one(&text, &boom(""));
    let own: Vec<bool> = log
        .fixes
        .iter()
        .map(|fix| fix.own & Channel::SetRate.bit() != 0)
        .collect();
    assert_eq!(own, [true, true, true, false]);
    assert!((log.fixes[3].set_rate_ml_m2 - 40.0).abs() < 1e-6);
}
