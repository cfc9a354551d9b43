use super::*;
use crate::notation::numbers::{RateUnit, Units};
use crate::report::page::Page;
use crate::report::sample;

fn written(page: &Page, from: Option<LonLat>) -> (String, Gpx) {
    let audit = sample::audit();
    let style = Style::of(audit.timezone.as_ref(), Units::Us, RateUnit::GalPer1000Ft2);
    let bytes = render(&audit, &page.stops(from), &style);
    let gpx = ::gpx::read(bytes.as_slice()).expect("a GPX file");
    (String::from_utf8(bytes).expect("UTF-8"), gpx)
}

fn names(points: &[Waypoint]) -> Vec<&str> {
    points
        .iter()
        .filter_map(|point| point.name.as_deref())
        .collect()
}

#[test]
fn a_site_is_one_stop_and_its_strips_are_lines_with_their_ends() {
    let (_, gpx) = written(&sample::page(), None);
    // 195 m2 are 2,099 ft2, 120 m2 are 1,292 ft2 and 75 m2 are 807 ft2; 02:00 UTC is 20:00 in Winnipeg.
    assert_eq!(
        names(&gpx.waypoints),
        ["quay (Long Quay lot), was due 21:00, 2,100 ft2"]
    );
    let segments = &gpx.tracks[0].segments;
    let ends = ["strip 1 from here, 1,290 ft2", "strip 1 to here"];
    assert_eq!(names(&segments[0].points), ends);
    assert_eq!(names(&segments[1].points), ["patch 2, 810 ft2"]);
    assert_eq!(gpx.routes[0].points.len(), 1);
}

#[test]
fn whoever_follows_it_is_warned_of_the_traffic_and_can_do_without_a_device() {
    let (_, gpx) = written(&sample::page(), None);
    let stop = &gpx.waypoints[0];
    assert!(
        stop.comment
            .as_deref()
            .unwrap()
            .contains("works among traffic")
    );
    assert!(
        gpx.routes[0]
            .description
            .as_deref()
            .unwrap()
            .contains("works among traffic")
    );
    let said = stop.description.as_deref().unwrap();
    assert!(
        said.starts_with("1 Quay Row | 45.00031, -30.00012 | main, 2 places all over it"),
        "{said}"
    );
    assert!(said.contains("section 2 of 4 (left side) closed"), "{said}");
}

#[test]
fn nothing_to_go_back_for_is_still_a_valid_file() {
    let (text, gpx) = written(&Page::default(), None);
    assert!(gpx.waypoints.is_empty() && gpx.routes.is_empty() && gpx.tracks.is_empty());
    assert!(text.contains("Local codes"));
}

#[test]
fn positions_are_written_to_seven_decimals() {
    let (text, _) = written(&sample::page(), None);
    assert!(
        text.contains("lat=\"45.00031\" lon=\"-30.00012\""),
        "{text}"
    );
}
