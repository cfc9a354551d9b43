//! The plan as a run log in the program's own elements, marked as planned.
//!
//! Its times are made up; what counts is where which section is open. Every lane is a segment of its own:
//! nothing is laid between segments, whatever the turn looks like.

use super::lane::Lane;
use super::vehicle::Vehicle;
use crate::error::{Error, Result};
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::{Plane, Xy};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// Where the times begin: the first second of 2000, so that nobody takes them for a night's.
const EPOCH: Instant = Instant(946_684_800_000_000);
/// Between two segments, s: longer than any silence within one.
const BETWEEN_S: f64 = 30.0;
/// Fastest way from one lane to the next, m/s: slower than anything that reads as an impossible jump.
const TRANSFER_M_S: f64 = 5.0;
/// Points at least this often, s.
const INTERVAL_S: f64 = 1.0;
/// Switches this near to each other are one, m.
const SAME_M: f64 = 1e-5;

/// A site's lanes in driving order.
pub(super) struct Drive<'a> {
    pub(super) plane: &'a Plane,
    pub(super) lanes: &'a [Lane],
}

/// A point of the file.
struct Point {
    time: Instant,
    place: LonLat,
    heading_deg: f64,
    /// One character a section.
    sections: String,
}

/// The file's bytes: the drives one after the other.
///
/// # Errors
/// When a text cannot be written as XML, which no id that was read from one can cause.
pub(super) fn render(vehicle: &Vehicle, speed_m_s: f64, drives: &[Drive]) -> Result<Vec<u8>> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 1);
    let failed = |error: std::io::Error| Error::new(format!("the plan cannot be written: {error}"));
    write(&mut writer, vehicle, speed_m_s, drives).map_err(failed)?;
    let mut bytes = writer.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn write(
    writer: &mut Writer<Vec<u8>>,
    vehicle: &Vehicle,
    speed_m_s: f64,
    drives: &[Drive],
) -> std::io::Result<()> {
    writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let mut root = BytesStart::new("gpx");
    root.push_attribute(("version", "1.1"));
    root.push_attribute(("creator", env!("CARGO_PKG_NAME")));
    root.push_attribute(("xmlns", "http://www.topografix.com/GPX/1/1"));
    root.push_attribute(("xmlns:s", "urn:swathbook:log:1"));
    writer.write_event(Event::Start(root))?;
    open(writer, "metadata")?;
    leaf(writer, "name", "Drive plan")?;
    leaf(
        writer,
        "desc",
        "Planned, not driven: the times are made up. Slopes, clearance, traffic and hand work are not in the plan; \
         look at the ground before driving it.",
    )?;
    close(writer, "metadata")?;
    open(writer, "trk")?;
    open(writer, "extensions")?;
    leaf(writer, "s:rig", &vehicle.id)?;
    leaf(writer, "s:planned", "1")?;
    close(writer, "extensions")?;
    let mut clock = EPOCH;
    let mut last: Option<LonLat> = None;
    for drive in drives {
        for lane in drive.lanes {
            if let Some(last) = last {
                let way_m = rough_m(last, place(drive.plane, vehicle, lane, 0.0));
                clock = clock.plus_seconds(BETWEEN_S.max(way_m / TRANSFER_M_S));
            }
            let points = points(drive.plane, vehicle, speed_m_s, lane, clock);
            open(writer, "trkseg")?;
            for point in &points {
                write_point(writer, point)?;
            }
            close(writer, "trkseg")?;
            if let Some(point) = points.last() {
                clock = point.time;
                last = Some(point.place);
            }
        }
    }
    close(writer, "trk")?;
    close(writer, "gpx")
}

/// The points of a lane: one at every switch, and one a second between them.
fn points(
    plane: &Plane,
    vehicle: &Vehicle,
    speed_m_s: f64,
    lane: &Lane,
    start: Instant,
) -> Vec<Point> {
    let length_m = lane.length_m();
    let mut at_m: Vec<f64> = vec![0.0, length_m];
    at_m.extend(lane.open.iter().flat_map(|open| [open.from_m, open.to_m]));
    at_m.sort_by(f64::total_cmp);
    at_m.dedup_by(|next, kept| *next - *kept < SAME_M);
    let mut all_m: Vec<f64> = Vec::new();
    for pair in at_m.windows(2) {
        let step_m = pair[1] - pair[0];
        let count = (step_m / speed_m_s / INTERVAL_S).ceil().max(1.0);
        all_m.extend((0..count as usize).map(|k| pair[0] + step_m * k as f64 / count));
    }
    let end_m = at_m.last().copied().unwrap_or(length_m);
    all_m.push(end_m);
    let heading_deg = |place: LonLat| {
        let true_rad = lane.heading_rad - plane.angle_offset_rad(place);
        (90.0 - true_rad.to_degrees()).rem_euclid(360.0)
    };
    all_m
        .into_iter()
        .map(|along_m| {
            let place = place(plane, vehicle, lane, along_m);
            Point {
                time: start.plus_seconds(along_m / speed_m_s),
                place,
                heading_deg: heading_deg(place),
                sections: sections(vehicle, lane, along_m, along_m >= end_m),
            }
        })
        .collect()
}

/// States from this place of a lane on.
fn sections(vehicle: &Vehicle, lane: &Lane, along_m: f64, ends: bool) -> String {
    let is_open = |section: usize| {
        let covers = |open: &&super::lane::Open| {
            open.section == section
                && open.from_m <= along_m + SAME_M
                && open.to_m > along_m + SAME_M
        };
        !ends && lane.open.iter().any(|open| covers(&open))
    };
    (0..vehicle.sections())
        .map(|section| if is_open(section) { '1' } else { '0' })
        .collect()
}

/// Where the antenna is with the boom's middle so far along a lane.
fn place(plane: &Plane, vehicle: &Vehicle, lane: &Lane, along_m: f64) -> LonLat {
    let ahead = lane.ahead();
    let right = Xy::new(ahead.y_m, -ahead.x_m);
    let antenna = lane
        .from
        .plus(ahead, along_m + vehicle.antenna_ahead_m)
        .plus(right, vehicle.antenna_right_m);
    plane.to_lon_lat(antenna)
}

/// Distance between two places to within a per cent, m.
fn rough_m(a: LonLat, b: LonLat) -> f64 {
    const M_PER_DEGREE: f64 = 111_700.0;
    let east_deg = (b.lon_deg - a.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    let east_m = east_deg * a.lat_deg.to_radians().cos();
    M_PER_DEGREE * east_m.hypot(b.lat_deg - a.lat_deg)
}

fn write_point(writer: &mut Writer<Vec<u8>>, point: &Point) -> std::io::Result<()> {
    let mut start = BytesStart::new("trkpt");
    // 1e-11 degrees is a micrometre: areas of small lots are to agree to 1e-5.
    start.push_attribute(("lat", format!("{:.11}", point.place.lat_deg).as_str()));
    start.push_attribute(("lon", format!("{:.11}", point.place.lon_deg).as_str()));
    writer.write_event(Event::Start(start))?;
    leaf(writer, "time", &point.time.to_string())?;
    open(writer, "extensions")?;
    leaf(writer, "s:sections", &point.sections)?;
    leaf(writer, "s:heading", &format!("{:.6}", point.heading_deg))?;
    close(writer, "extensions")?;
    close(writer, "trkpt")
}

fn open(writer: &mut Writer<Vec<u8>>, name: &str) -> std::io::Result<()> {
    writer.write_event(Event::Start(BytesStart::new(name)))
}

fn close(writer: &mut Writer<Vec<u8>>, name: &str) -> std::io::Result<()> {
    writer.write_event(Event::End(BytesEnd::new(name)))
}

fn leaf(writer: &mut Writer<Vec<u8>>, name: &str, text: &str) -> std::io::Result<()> {
    open(writer, name)?;
    writer.write_event(Event::Text(BytesText::new(text)))?;
    close(writer, name)
}
