use super::*;
use proptest::prelude::*;
use proptest::sample::select;

fn file(inside: &str) -> String {
    format!("<?xml version=\"1.0\"?>\n<gpx xmlns:s=\"urn:x\">\n{inside}\n</gpx>")
}

/// Everything the reader meets, in short words.
fn walk(text: &str) -> Vec<String> {
    let mut gpx = Gpx::new(text);
    let mut met = Vec::new();
    loop {
        let step = gpx.step();
        match &step {
            Step::Point => {
                let leaves: Vec<String> = gpx
                    .point
                    .leaves
                    .iter()
                    .map(|l| format!("{}={}", l.name(), l.text))
                    .collect();
                met.push(
                    format!("{} {} {}", gpx.point.line, gpx.point.time, leaves.join(" "))
                        .trim_end()
                        .to_owned(),
                );
            }
            Step::Track => met.push("track".into()),
            Step::TrackExtensions => met.push(format!("constants {}", gpx.track_leaves.len())),
            Step::Segment => met.push("segment".into()),
            Step::End => return met,
            Step::Damage { why, line } => {
                met.push(format!("damage {line} {why}"));
                return met;
            }
        }
    }
}

#[test]
fn tracks_segments_and_points_come_in_order_with_their_lines() {
    let text = file(
        "<trk><name>a</name><extensions><s:rig>north</s:rig><s:x/></extensions><trkseg>\n<trkpt lat=\"1\" lon=\"2\"><time>t1</time></trkpt>\n\n<trkpt lat='1' lon='2'/>\n</trkseg><trkseg/></trk>",
    );
    assert_eq!(
        walk(&text),
        ["track", "constants 2", "segment", "4 t1", "6", "segment"]
    );
}

#[test]
fn leaves_are_found_at_any_depth_with_any_prefix() {
    let text = file(
        "<trk><trkseg><trkpt><extensions><a:box><b:flow unit=\"L/s\">3.5</b:flow>\n<in><c>7</c></in></a:box><d/></extensions></trkpt></trkseg></trk>",
    );
    assert_eq!(walk(&text)[2], "3  box= flow=3.5 in= c=7 d=");
}

#[test]
fn split_text_is_joined_and_foreign_entities_stay_as_written() {
    let text = file(
        "<trk><trkseg><trkpt><extensions><a>1&#48;<![CDATA[<2>]]>&amp;3</a><b>&boom;</b></extensions></trkpt></trkseg></trk>",
    );
    assert_eq!(walk(&text)[2], "3  a=10<2>&3 b=&boom;");
}

#[test]
fn attributes_are_read_by_local_name() {
    let text = file(
        "<trk><trkseg><g:trkpt lat=\"45.5\" lon=\"-&#51;0\"><extensions><a p:b=\"1&amp;2\" c='3'/></extensions></g:trkpt></trkseg></trk>",
    );
    let mut gpx = Gpx::new(&text);
    while !matches!(gpx.step(), Step::Point) {}
    let (lat, lon) = gpx.point.lat_lon();
    assert_eq!(
        (lat.as_deref(), lon.as_deref()),
        (Some("45.5"), Some("-30"))
    );
    let leaf = &gpx.point.leaves[0];
    assert_eq!(leaf.attribute("b").as_deref(), Some("1&2"));
    assert_eq!(leaf.attribute("c").as_deref(), Some("3"));
    assert_eq!(leaf.attribute("d"), None);
}

#[test]
fn points_outside_a_track_are_not_fixes() {
    let text = file(
        "<wpt lat=\"1\" lon=\"2\"/><rte><rtept lat=\"1\" lon=\"2\"/></rte><extensions><trk><trkseg><trkpt/></trkseg></trk></extensions>",
    );
    assert!(walk(&text).is_empty());
}

#[test]
fn damage_ends_the_walk_with_its_line() {
    let cut = "<gpx>\n<trk><trkseg>\n<trkpt lat=\"1\" lon=\"2\"/>\n<trkpt lat=\"1";
    let met = walk(cut);
    assert_eq!(met.len(), 4, "{met:?}");
    assert!(met[3].starts_with("damage 4 "), "{met:?}");
    let open = walk("<gpx>\n<trk><trkseg>\n<trkpt lat=\"1\" lon=\"2\"/>\n");
    assert!(open[3].contains("ends in the middle"), "{open:?}");
    let crossed = walk("<gpx><trk>\n<trkseg></trk></trkseg></gpx>");
    assert!(crossed[2].starts_with("damage 2 "), "{crossed:?}");
}

#[test]
fn a_bare_ampersand_is_no_damage() {
    let text = file("<trk><name>Lots & drives</name><trkseg><trkpt/></trkseg></trk>");
    assert_eq!(walk(&text), ["track", "segment", "3"]);
}

#[test]
fn nesting_without_end_is_damage() {
    let met = walk(&"<a>".repeat(100_000));
    assert!(met[0].contains("far longer"), "{met:?}");
}

/// Everything the reader meets, to the last letter.
fn all_of(mut gpx: Gpx<'_>) -> Vec<String> {
    let mut met = Vec::new();
    loop {
        let step = gpx.step();
        match &step {
            Step::Point => {
                let Point {
                    time,
                    hdop,
                    leaves,
                    line,
                    ..
                } = &gpx.point;
                let place = gpx.point.lat_lon();
                met.push(format!("{line} {place:?} {time:?} {hdop:?}"));
                for leaf in leaves {
                    let attributes: Vec<_> = leaf.attributes().collect();
                    met.push(format!("{leaf:?} {} {attributes:?}", leaf.name()));
                }
            }
            Step::TrackExtensions => {
                met.push(format!("{:?} {}", gpx.track_leaves, gpx.track_line()))
            }
            Step::Track | Step::Segment => met.push(format!("{step:?} {}", gpx.point.line)),
            Step::End | Step::Damage { .. } => {
                met.push(format!("{step:?}"));
                return met;
            }
        }
    }
}

fn is_read_alike(text: &str) -> std::result::Result<(), TestCaseError> {
    let by_events = all_of(Gpx::by_events(text));
    let found = all_of(Gpx::new(text));
    prop_assert_eq!(found, by_events, "{}", text);
    Ok(())
}

/// What logs are made of, well formed and not.
const WORDS: [&str; 64] = [
    "<trkpt lat=\"1\" lon=\"2\">",
    "<trkpt lat=\"1.5\" lon=\"-2\" >",
    "<trkpt lon='1' lat=\"2\">",
    "<trkpt\nlat=\"1>2\" lon=\"2\">",
    "<trkpt lat=\"1\" lat=\"2\" lon=\"3\">",
    "<trkpt>",
    "<trkpt lat=\"1\" lon=\"2\"/>",
    "<g:trkpt lat=\"1\" lon=\"2\">",
    "</trkpt>",
    "</trkpt>",
    "</trkpt>",
    "</trkpt >",
    "</g:trkpt>",
    "<extensions>",
    "<extensions>",
    "<extensions a=\"b\">",
    "<g:extensions>",
    "</extensions>",
    "</extensions>",
    "</extensions >",
    "<extensions/>",
    "<time>",
    "</time>",
    "<time>t</time>",
    "<time> </time>",
    "<g:time>u</g:time>",
    "<hdop>0.8</hdop>",
    "<hdop>",
    "</hdop>",
    "<ele>12</ele>",
    "<s:flow>3.5</s:flow>",
    "<s:flow unit=\"L/s\">1</s:flow>",
    "<s:flow unit='x'>1</s:flow>",
    "<s:flow unit=\"a&amp;b\">1</s:flow>",
    "<flow >2</flow>",
    "<flow>1<flow>2</flow></flow>",
    "<flow></flow>",
    "<flow> \n</flow>",
    "<flow>&lt;</flow>",
    "<flow>a&b</flow>",
    "<flow/>",
    "<flow>\u{a0}</flow>",
    "<flow>\u{e9}</flow>",
    "<fl\u{f6}w>1</fl\u{f6}w>",
    "<!-- c -->",
    "<![CDATA[x]]>",
    "<?pi?>",
    "]]>",
    "&amp;",
    "&",
    "&#49;",
    "text",
    " ",
    "\n",
    "\r\n",
    ">",
    "<",
    "\"",
    "</trkseg>",
    "<trkseg>",
    "</trk>",
    "<trk>",
    "<trk><trkseg>",
    "\u{feff}",
];

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 20_000,
        rng_seed: proptest::test_runner::RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn the_short_cut_reads_what_the_general_reader_reads(words in proptest::collection::vec(select(&WORDS[..]), 0..24)) {
        is_read_alike(&format!("<gpx><trk><trkseg>{}", words.concat()))?;
    }

    /// A sound log with a few words put in or over something.
    #[test]
    fn a_damaged_log_is_read_alike_too(cuts in proptest::collection::vec((0..900_usize, 0..12_usize, select(&WORDS[..])), 0..3)) {
        let mut text = file(&format!("<trk><trkseg>{}</trkseg></trk>", POINT.repeat(3)));
        for (at, length, word) in cuts {
            let at = text.floor_char_boundary(at.min(text.len()));
            let end = text.floor_char_boundary((at + length).min(text.len()));
            text.replace_range(at..end, word);
        }
        is_read_alike(&text)?;
    }
}

const POINT: &str = "\n <trkpt lat=\"45.1\" lon=\"-30.2\">\n  <ele>1</ele><time>2026-01-12T02:00:00Z</time><hdop>0.8</hdop>\n  <extensions>\
    <s:flow unit=\"gal/min\">3.5</s:flow><s:sections>1111</s:sections>\n  </extensions>\n </trkpt>";

/// Otherwise the comparison would compare nothing.
#[test]
fn points_as_loggers_write_them_take_the_short_cut() {
    let text = file(&format!("<trk><trkseg>{}</trkseg></trk>", POINT.repeat(3)));
    let mut gpx = Gpx::new(&text);
    while !matches!(gpx.step(), Step::Segment) {}
    assert!((0..3).all(|_| gpx.plain_point()));
    assert!(!gpx.plain_point() && matches!(gpx.step(), Step::End));
}

#[test]
fn limits_hold_for_plain_points_too() {
    for leaves in [MOST_LEAVES - 1, MOST_LEAVES, MOST_LEAVES + 1] {
        let point = |leaves| {
            format!(
                "<trkpt><extensions>{}</extensions></trkpt>",
                "<a>1</a>".repeat(leaves)
            )
        };
        let text = file(&format!(
            "<trk><trkseg>{}{}</trkseg></trk>",
            point(leaves),
            point(1)
        ));
        is_read_alike(&text).unwrap();
    }
    let long = format!("<trkpt a=\"{}\"></trkpt>", "x".repeat(LONGEST_TAG));
    is_read_alike(&file(&format!("<trk><trkseg>{long}</trkseg></trk>"))).unwrap();
    for depth in MOST_DEPTH - 6..=MOST_DEPTH {
        is_read_alike(&format!("{}<trk><trkseg>{POINT}", "<gpx>".repeat(depth))).unwrap();
    }
}
