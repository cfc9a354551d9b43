use super::*;

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
