//! `touchup.gpx`: a waypoint for each patch worth going back for, and a route over them in driving
//! order. GPX 1.1, for any navigation device; valid also when there is nothing to go back for.

use crate::findings::{Matter, Severity};
use crate::input::sites::LandUse;
use crate::place::LonLat;
use crate::report::clean::clean;
use crate::report::driving_order::driving_order;
use crate::report::earth::SiteShapes;
use crate::report::json::round;
use crate::report::style::Style;
use crate::report::terminal::PLANNED;
use crate::result::{Audit, Patch, Site, Zone};
use ::gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};
use geo::InteriorPoint;
use std::collections::HashSet;

/// GPX positions are written to 1e-7 degrees (1 cm), as receivers do.
const STEPS_PER_DEGREE: f64 = 1e7;

/// A place to drive to.
struct Stop {
    place: LonLat,
    area_m2: f64,
    name: String,
    description: String,
}

/// The bytes of `touchup.gpx`; the way begins at `from`, else at the yard, else at the greatest patch.
///
/// # Panics
///
/// If the GPX writer refuses a name, which [`clean`] rules out.
#[must_use]
pub fn render(
    audit: &Audit,
    shapes: &[SiteShapes],
    style: &Style,
    from: Option<LonLat>,
) -> Vec<u8> {
    let start = from.or_else(|| yard(audit, shapes));
    let stops = in_driving_order(start, stops(audit, shapes, style));
    let waypoints: Vec<Waypoint> = stops.iter().map(waypoint).collect();
    let mut gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(env!("CARGO_PKG_NAME").to_owned()),
        metadata: Some(Metadata {
            name: Some(if audit.planned {
                format!("{PLANNED}: patches left")
            } else {
                "Patches to go back for".to_owned()
            }),
            description: Some(
                "What the logs show as patches without liquid. Look at the ground before treating \
                 it; local codes, product labels and licensed practice come first."
                    .to_owned(),
            ),
            ..Metadata::default()
        }),
        waypoints,
        ..Gpx::default()
    };
    if !stops.is_empty() {
        let name = Some("Touch-up".to_owned());
        gpx.routes.push(Route {
            name,
            points: gpx.waypoints.clone(),
            ..Route::default()
        });
    }
    let mut bytes = Vec::new();
    ::gpx::write(&gpx, &mut bytes).expect("the version is 1.1, names are clean, memory takes all");
    bytes.push(b'\n');
    bytes
}

/// The patches of zones that a `bare_patch` or `not_done` finding sends somebody back to, as the last application
/// of the site left them.
fn stops(audit: &Audit, shapes: &[SiteShapes], style: &Style) -> Vec<Stop> {
    let wanted: HashSet<(&str, &str)> = audit
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::GoBack)
        .flat_map(|finding| {
            let site = finding.site.as_deref();
            let zones: Vec<&str> = match &finding.matter {
                Matter::BarePatch { .. } => finding.zone.as_deref().into_iter().collect(),
                Matter::NotDone { zones, .. } => zones.iter().map(String::as_str).collect(),
                _ => Vec::new(),
            };
            let of_site = move |zone| Some((site?, zone));
            zones.into_iter().filter_map(of_site)
        })
        .collect();
    let mut stops = Vec::new();
    for site in &audit.sites {
        let zones = site.ground.iter().filter_map(|ground| {
            let last = site.last_on(&ground.zone)?;
            last.zones.iter().find(|zone| zone.zone == ground.zone)
        });
        for zone in zones.filter(|zone| wanted.contains(&(&*site.site, &*zone.zone))) {
            let patches = zone.patches.iter().flatten().enumerate();
            let worth_it = patches.filter(|(_, patch)| patch.is_worth_a_trip());
            stops.extend(worth_it.map(|(index, patch)| stop(site, zone, index + 1, patch, style)));
        }
    }
    stops.extend(not_done(audit, shapes, style));
    stops
}

/// Zones that were ordered and got nothing at all: no application, so no patches to lead to.
fn not_done(audit: &Audit, shapes: &[SiteShapes], style: &Style) -> Vec<Stop> {
    let mut stops = Vec::new();
    for finding in audit
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::GoBack)
    {
        let Matter::NotDone { zones, .. } = &finding.matter else {
            continue;
        };
        let mut sites = audit.sites.iter().zip(shapes);
        let site = sites.find(|(site, _)| Some(&site.site) == finding.site.as_ref());
        let Some((site, shapes)) = site.filter(|(site, _)| site.applications.is_empty()) else {
            continue;
        };
        let ground = site.ground.iter().zip(&shapes.ground);
        for (ground, shape) in ground.filter(|(ground, _)| zones.contains(&ground.zone)) {
            stops.extend(inside(shape).map(|place| Stop {
                place,
                area_m2: ground.area_m2,
                name: format!(
                    "{}/{} not done, {}",
                    clean(&site.site),
                    clean(&ground.zone),
                    style.area(ground.area_m2)
                ),
                description: "ordered; the logs show no treatment".to_owned(),
            }));
        }
    }
    stops
}

/// A point inside a polygon.
fn inside(shape: &geo::MultiPolygon<f64>) -> Option<LonLat> {
    let point = shape.interior_point()?;
    Some(LonLat {
        lon_deg: point.x(),
        lat_deg: point.y(),
    })
}

fn stop(site: &Site, zone: &Zone, number: usize, patch: &Patch, style: &Style) -> Stop {
    let (site, zone) = (clean(&site.site), clean(&zone.zone));
    Stop {
        place: patch.place,
        area_m2: patch.area_m2,
        name: format!(
            "{site}/{zone} patch {number}, {}",
            style.area(patch.area_m2)
        ),
        description: crate::wording::cause_clause(patch.cause).to_owned(),
    }
}

/// A point in the first yard of the sites file.
fn yard(audit: &Audit, shapes: &[SiteShapes]) -> Option<LonLat> {
    let sites = audit.sites.iter().zip(shapes);
    let mut grounds = sites.flat_map(|(site, shapes)| site.ground.iter().zip(&shapes.ground));
    let (_, shape) = grounds.find(|(ground, _)| ground.land_use == LandUse::Yard)?;
    inside(shape)
}

/// By [`driving_order`] from the start; without one from the greatest patch on (the first of equals).
fn in_driving_order(start: Option<LonLat>, mut stops: Vec<Stop>) -> Vec<Stop> {
    // A stable sort: equal patches stay in the order of the sites file.
    stops.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    let places: Vec<LonLat> = stops.iter().map(|stop| stop.place).collect();
    let mut by_index: Vec<Option<Stop>> = stops.into_iter().map(Some).collect();
    driving_order(start, &places)
        .into_iter()
        .filter_map(|index| by_index[index].take())
        .collect()
}

fn waypoint(stop: &Stop) -> Waypoint {
    let degrees = |raw: f64| round(raw, STEPS_PER_DEGREE);
    let point = geo::Point::new(degrees(stop.place.lon_deg), degrees(stop.place.lat_deg));
    let mut waypoint = Waypoint::new(point);
    waypoint.name = Some(stop.name.clone());
    waypoint.description = Some(stop.description.clone());
    waypoint
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::numbers::{RateUnit, Units};
    use crate::report::sample;

    fn written(audit: &Audit) -> (String, Gpx) {
        written_from(audit, None)
    }

    fn written_from(audit: &Audit, from: Option<LonLat>) -> (String, Gpx) {
        written_over(audit, &sample::shapes(), from)
    }

    fn written_over(audit: &Audit, shapes: &[SiteShapes], from: Option<LonLat>) -> (String, Gpx) {
        let style = Style::of(audit, Units::Us, RateUnit::GalPer1000Ft2);
        let bytes = render(audit, shapes, &style, from);
        let gpx = ::gpx::read(bytes.as_slice()).expect("a GPX file");
        (String::from_utf8(bytes).expect("UTF-8"), gpx)
    }

    #[test]
    fn the_route_starts_at_the_greatest_patch_and_skips_the_edge() {
        let (_, gpx) = written(&sample::audit());
        let names: Vec<&str> = gpx
            .waypoints
            .iter()
            .filter_map(|w| w.name.as_deref())
            .collect();
        // Patch 3 of the sample has 20 m2, of which 4 m2 lie inside the edge. 120 m2 = 1,292 ft2.
        assert_eq!(
            names,
            ["quay/main patch 1, 1,290 ft2", "quay/main patch 2, 810 ft2"]
        );
        assert_eq!(gpx.routes.len(), 1);
        let on_route: Vec<&str> = gpx.routes[0]
            .points
            .iter()
            .filter_map(|w| w.name.as_deref())
            .collect();
        assert_eq!(on_route, names);
        let (lon, lat) = sample::PATCHES[0];
        assert_eq!(gpx.waypoints[0].point(), geo::Point::new(lon, lat));
    }

    /// The first waypoint's patch number when the way begins half a kilometre west or east of the site.
    #[test]
    fn the_route_starts_where_it_is_told_to_or_else_at_the_yard() {
        let first = |gpx: Gpx| gpx.waypoints[0].name.clone().expect("a name");
        let west = LonLat {
            lon_deg: -30.006,
            lat_deg: 45.0,
        };
        let audit = sample::audit();
        // Patch 2 lies 26 m west of patch 1.
        assert!(first(written_from(&audit, Some(west)).1).contains("patch 2"));
        let mut shapes = sample::shapes();
        let grounds = audit.sites.iter().zip(&mut shapes);
        let mut grounds = grounds.flat_map(|(site, own)| site.ground.iter().zip(&mut own.ground));
        let (_, yard) = grounds
            .find(|(ground, _)| ground.land_use == LandUse::Yard)
            .expect("a yard in the sample");
        let corner = |side: f64| geo::coord! { x: west.lon_deg + side, y: west.lat_deg + side };
        let square = geo::Rect::new(corner(-1e-4), corner(1e-4)).to_polygon();
        *yard = geo::MultiPolygon::from(square);
        assert!(first(written_over(&audit, &shapes, None).1).contains("patch 2"));
        let east = LonLat {
            lon_deg: -29.994,
            ..west
        };
        assert!(first(written_from(&audit, Some(east)).1).contains("patch 1"));
    }

    #[test]
    fn only_the_last_application_counts() {
        let mut audit = sample::audit();
        let last = audit.sites[0]
            .applications
            .last_mut()
            .expect("two in the sample");
        for zone in &mut last.zones {
            zone.patches = Some(Vec::new());
        }
        assert!(written(&audit).1.waypoints.is_empty());
    }

    #[test]
    fn nothing_to_go_back_for_is_a_valid_file_too() {
        let mut audit = sample::audit();
        audit.findings.clear();
        let (text, gpx) = written(&audit);
        assert!(gpx.waypoints.is_empty() && gpx.routes.is_empty());
        assert!(
            text.contains(r#"xmlns="http://www.topografix.com/GPX/1/1""#),
            "{text}"
        );
        assert!(text.contains(r#"version="1.1""#), "{text}");
    }

    #[test]
    fn names_cannot_break_the_file() {
        let mut audit = sample::audit();
        let evil = "<quay> & \"\u{1b}\u{0}".to_owned();
        audit.sites[0].site.clone_from(&evil);
        for finding in &mut audit.findings {
            finding.site = finding.site.take().map(|_| evil.clone());
        }
        let (_, gpx) = written(&audit);
        let name = gpx.waypoints[0].name.as_deref().expect("a name");
        assert!(
            name.starts_with("<quay> & \"\u{FFFD}\u{FFFD}/main"),
            "{name}"
        );
    }
}
