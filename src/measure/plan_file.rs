//! The plan as a run log in the program's own elements, marked as planned.
//!
//! Its times are made up; what counts is where which section is open. Every lane is a segment of its own:
//! nothing is laid between segments, whatever the turn looks like.

use super::vehicle::Vehicle;
use crate::error::{Error, Result};
use crate::geometry::place::{Instant, LonLat, east_deg};
use crate::rig::boom::Sections;
use crate::site::planned::{PlannedLane, PlannedPoint};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// Where the times begin: the first second of 2000, so that nobody takes them for a night's.
const EPOCH: Instant = Instant(946_684_800_000_000);
/// Between two segments, s: longer than any silence within one (tolerance).
const BETWEEN_S: f64 = 30.0;
/// Fastest way from one lane to the next, m/s: slower than anything that reads as an impossible jump (trade
/// judgement).
const TRANSFER_M_S: f64 = 5.0;

/// The file's bytes: the sites' drives one after the other.
///
/// # Errors
/// When a text cannot be written as XML, which no id that was read from one can cause.
pub(super) fn render(vehicle: &Vehicle, drives: &[&[PlannedLane]]) -> Result<Vec<u8>> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 1);
    let failed = |error: std::io::Error| Error::new(format!("the plan cannot be written: {error}"));
    write(&mut writer, vehicle, drives).map_err(failed)?;
    let mut bytes = writer.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn write(
    writer: &mut Writer<Vec<u8>>,
    vehicle: &Vehicle,
    drives: &[&[PlannedLane]],
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
    for lane in drives.iter().copied().flatten() {
        let (Some(first), Some(end)) = (lane.points.first(), lane.points.last()) else {
            continue;
        };
        if let Some(last) = last {
            let way_m = rough_m(last, first.place);
            clock = clock.plus_seconds(BETWEEN_S.max(way_m / TRANSFER_M_S));
        }
        open(writer, "trkseg")?;
        for point in &lane.points {
            write_point(writer, vehicle.sections(), clock, point)?;
        }
        close(writer, "trkseg")?;
        clock = clock.plus_seconds(end.after_s);
        last = Some(end.place);
    }
    close(writer, "trk")?;
    close(writer, "gpx")
}

/// Distance between two places to within a per cent, m.
fn rough_m(a: LonLat, b: LonLat) -> f64 {
    /// Longest degree, m, from the ellipsoid (arithmetic).
    const M_PER_DEGREE: f64 = 111_700.0;
    let east_deg = east_deg(a.lon_deg, b.lon_deg);
    let east_m = east_deg * a.lat_deg.to_radians().cos();
    M_PER_DEGREE * east_m.hypot(b.lat_deg - a.lat_deg)
}

fn write_point(
    writer: &mut Writer<Vec<u8>>,
    sections: usize,
    start: Instant,
    point: &PlannedPoint,
) -> std::io::Result<()> {
    let time = start.plus_seconds(point.after_s);
    let heading_deg = (90.0 - point.heading_rad.to_degrees()).rem_euclid(360.0);
    let mut start = BytesStart::new("trkpt");
    // 1e-11 degrees is a micrometre: areas of small lots are to agree to 1e-5.
    start.push_attribute(("lat", format!("{:.11}", point.place.lat_deg).as_str()));
    start.push_attribute(("lon", format!("{:.11}", point.place.lon_deg).as_str()));
    writer.write_event(Event::Start(start))?;
    leaf(writer, "time", &time.to_string())?;
    open(writer, "extensions")?;
    leaf(writer, "s:sections", &states(point.open, sections))?;
    leaf(writer, "s:heading", &format!("{heading_deg:.6}"))?;
    close(writer, "extensions")?;
    close(writer, "trkpt")
}

/// One character a section, left to right.
fn states(open: Sections, sections: usize) -> String {
    (0..sections)
        .map(|section| if open >> section & 1 == 1 { '1' } else { '0' })
        .collect()
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
