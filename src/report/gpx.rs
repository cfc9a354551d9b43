//! `touchup.gpx`: a waypoint for each site to go back to, a route over them in driving order, and a track for
//! each site with its strips as lines from end to end. GPX 1.1, for any navigation device; valid also when there
//! is nothing to go back for.

use crate::geometry::place::LonLat;
use crate::notation::clean::clean;
use crate::notation::style::Style;
use crate::report::json::round;
use crate::report::page::{Strip, Trip};
use crate::report::terminal::PLANNED;
use crate::report::trip_words;
use crate::result::Audit;
use ::gpx::{Gpx, GpxVersion, Metadata, Route, Track, TrackSegment, Waypoint};

/// GPX positions are written to 1e-7 degrees (1 cm), as receivers do (tolerance).
const STEPS_PER_DEGREE: f64 = 1e7;

/// The bytes of `touchup.gpx`: these sites in this order.
///
/// # Panics
///
/// If the GPX writer refuses a name, which [`clean`] rules out.
#[must_use]
pub fn render(audit: &Audit, stops: &[&Trip], style: &Style) -> Vec<u8> {
    let mut gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(env!("CARGO_PKG_NAME").to_owned()),
        metadata: Some(Metadata {
            name: Some(if audit.planned {
                format!("{PLANNED}: patches left")
            } else {
                "Places to go back to".to_owned()
            }),
            description: Some(format!(
                "Ground on which the logs show no liquid. {} Local codes, product labels and licensed \
                 practice come first.",
                trip_words::TRAFFIC
            )),
            ..Metadata::default()
        }),
        waypoints: stops
            .iter()
            .map(|stop| waypoint(audit, stop, style))
            .collect(),
        tracks: stops
            .iter()
            .filter_map(|stop| strips(audit, stop, style))
            .collect(),
        ..Gpx::default()
    };
    if !stops.is_empty() {
        gpx.routes.push(Route {
            name: Some("Touch-up".to_owned()),
            description: Some(trip_words::TRAFFIC.to_owned()),
            points: gpx.waypoints.clone(),
            ..Route::default()
        });
    }
    let mut bytes = Vec::new();
    ::gpx::write(&gpx, &mut bytes).expect("the version is 1.1, names are clean, memory takes all");
    bytes.push(b'\n');
    routes_first(bytes)
}

/// The schema of GPX 1.1 wants routes before tracks; the writer puts them behind. Names are escaped, so a tag is a tag.
fn routes_first(bytes: Vec<u8>) -> Vec<u8> {
    let find = |tag: &str| memchr::memmem::find(&bytes, tag.as_bytes());
    let rfind = |tag: &str| memchr::memmem::rfind(&bytes, tag.as_bytes());
    const END: &str = "</rte>";
    let (Some(track), Some(from), Some(to)) = (find("<trk>"), find("<rte>"), rfind(END)) else {
        return bytes;
    };
    let to = to + END.len();
    if from < track {
        return bytes;
    }
    let parts = [
        &bytes[..track],
        &bytes[from..to],
        b"\n  ",
        &bytes[track..from],
        &bytes[to..],
    ];
    parts.concat()
}

/// A site to drive to, with everything to know there.
fn waypoint(audit: &Audit, stop: &Trip, style: &Style) -> Waypoint {
    let site = trip_words::site(&audit.sites[stop.site]);
    let due = trip_words::due(stop, style).map(|due| format!(", {due}"));
    let mut waypoint = at(stop.place);
    waypoint.name = Some(format!(
        "{site}{}, {}",
        due.unwrap_or_default(),
        style.area(stop.area_m2())
    ));
    let mut said: Vec<String> = stop
        .address
        .iter()
        .map(|text| clean(text).into_owned())
        .collect();
    said.push(trip_words::coordinates(stop));
    for part in &stop.parts {
        let shown = trip_words::shown(part, &audit.findings, style);
        said.push(format!("{}. {shown}", trip_words::ground(part, style)));
        said.extend(trip_words::rig(part, audit, style));
        let lead = part
            .findings
            .first()
            .map(|&lead| audit.findings[lead].check());
        said.extend(lead.map(std::borrow::Cow::into_owned));
    }
    waypoint.description = Some(said.join(" | "));
    waypoint.comment = Some(trip_words::TRAFFIC.to_owned());
    waypoint
}

/// The strips of a site as lines, the greatest first; `None` where it has none.
fn strips(audit: &Audit, stop: &Trip, style: &Style) -> Option<Track> {
    let strips = stop.parts.iter().flat_map(|part| &part.strips);
    let segments: Vec<TrackSegment> = strips
        .enumerate()
        .map(|(index, strip)| TrackSegment {
            points: ends(index + 1, strip, style),
        })
        .collect();
    (!segments.is_empty()).then(|| Track {
        name: Some(format!(
            "{} strips",
            trip_words::site(&audit.sites[stop.site])
        )),
        comment: Some(trip_words::TRAFFIC.to_owned()),
        segments,
        ..Track::default()
    })
}

/// The ends of a strip; a place that is not a strip is one point.
fn ends(number: usize, strip: &Strip, style: &Style) -> Vec<Waypoint> {
    let named = |(place, what): (LonLat, String)| {
        let mut point = at(place);
        point.name = Some(what);
        point
    };
    let area = style.area(strip.area_m2);
    match strip.ends {
        Some([from, to]) => vec![
            named((from, format!("strip {number} from here, {area}"))),
            named((to, format!("strip {number} to here"))),
        ],
        None => vec![named((strip.place, format!("patch {number}, {area}")))],
    }
}

fn at(place: LonLat) -> Waypoint {
    let degrees = |raw: f64| round(raw, STEPS_PER_DEGREE);
    Waypoint::new(geo::Point::new(
        degrees(place.lon_deg),
        degrees(place.lat_deg),
    ))
}

#[cfg(test)]
mod tests;
