//! `coverage.geojson`: the ground of every application as polygons with their figures, for any
//! GIS. RFC 7946: WGS 84 longitude and latitude, outer rings counter-clockwise, holes clockwise.
//! Figures are SI, as in `audit.json`.

mod beside;

use crate::input::sites::LandUse;
use crate::report::earth::{SiteShapes, ZoneShapes};
use crate::report::json::{round, word};
use crate::result::{Application, Audit, Ground, Site, Zone};
use ::geojson::{Feature, FeatureCollection, Geometry, JsonObject, Position};
use geo::{LineString, MultiPolygon};
use serde_json::{Value, json};

/// 1e-9 degrees is 0.1 mm, below anything a receiver can tell.
const STEPS_PER_DEGREE: f64 = 1e9;
/// As in `audit.json`.
const AREA_STEPS_PER_M2: f64 = 1e6;
/// As in `audit.json`.
const STEPS_PER_UNIT: f64 = 1e9;

/// A ring of RFC 7946 has four positions or more, the last one equal to the first.
const LEAST_POSITIONS: usize = 4;

/// The bytes of `coverage.geojson`. Geometries that are empty, or vanish when rounded, are left out.
#[must_use]
pub fn render(audit: &Audit, shapes: &[SiteShapes]) -> Vec<u8> {
    let sites = audit.sites.iter().zip(shapes);
    let features = sites.flat_map(|(site, shapes)| {
        let applications = site.applications.iter().zip(&shapes.applications);
        let treated = applications.flat_map(move |(application, zones)| {
            let zones = application.zones.iter().zip(zones);
            zones.flat_map(move |(zone, own)| of_zone(site, application, zone, (shapes, own)))
        });
        let untreated = site.applications.is_empty();
        let ground = site.ground.iter().zip(&shapes.ground);
        let ground = ground.filter(move |(ground, _)| untreated || is_blocked(ground));
        treated
            .chain(ground.filter_map(move |(ground, shape)| of_ground(site, ground, shape)))
            .chain(beside::keep_off(audit, site, shapes))
    });
    let driven = audit.runs.iter().filter_map(beside::driven);
    let mut collection = FeatureCollection::new(features.chain(driven));
    // A foreign member (RFC 7946, section 6.1).
    let caution = json!(crate::report::terminal::CAUTIONS.join(" "));
    collection.foreign_members = Some(JsonObject::from_iter([("caution".to_owned(), caution)]));
    let mut bytes = collection.to_string().into_bytes();
    bytes.push(b'\n');
    bytes
}

/// The zone's ground first, so that a map draws the rest over it.
fn of_zone(
    site: &Site,
    application: &Application,
    zone: &Zone,
    (of_site, shapes): (&SiteShapes, &ZoneShapes),
) -> Vec<Feature> {
    let number = site
        .ground
        .iter()
        .position(|ground| ground.zone == zone.zone);
    let none = MultiPolygon::new(Vec::new());
    let ground = number.map_or(&none, |number| &of_site.ground[number]);
    let layers = [
        ("zone", ground, zone_figures(zone)),
        ("treated", &shapes.treated, treated_figures(zone)),
        ("overlap", &shapes.overlap, vec![area(zone.overlap_m2)]),
        ("unlogged", &shapes.unlogged, vec![area(zone.unlogged_m2)]),
        ("gap", &shapes.gap, gap_figures(zone)),
    ];
    let layers = layers.into_iter();
    let patches = zone
        .patches
        .iter()
        .flatten()
        .zip(&shapes.patches)
        .enumerate();
    let patches = patches.map(|(index, (patch, shape))| {
        let figures = vec![
            area(Some(patch.area_m2)),
            ("core_m2", rounded(Some(patch.core_m2), AREA_STEPS_PER_M2)),
            ("patch", json!(index + 1)),
            ("cause", json!(word(patch.cause))),
            ("unsure", json!(patch.unsure)),
        ];
        ("patch", shape, figures)
    });
    layers
        .chain(patches)
        .filter_map(|(kind, shape, figures)| {
            let geometry = geometry(shape)?;
            let mut properties = if kind == "zone" {
                carried(site, zone)
            } else {
                JsonObject::new()
            };
            properties.insert("site".into(), json!(site.site));
            properties.insert("zone".into(), json!(zone.zone));
            properties.insert("application".into(), json!(application.number));
            properties.insert("kind".into(), json!(kind));
            properties.extend(
                figures
                    .into_iter()
                    .map(|(name, value)| (name.to_owned(), value)),
            );
            let properties = Some(properties);
            Some(Feature {
                geometry: Some(geometry),
                properties,
                ..Feature::default()
            })
        })
        .collect()
}

/// What the sites file says of a zone beside what the program knows; the program's own names win.
fn carried(site: &Site, zone: &Zone) -> JsonObject {
    let ground = site.ground.iter().find(|ground| ground.zone == zone.zone);
    ground
        .map(|ground| ground.properties.clone())
        .unwrap_or_default()
}

fn is_blocked(ground: &Ground) -> bool {
    ground.land_use == LandUse::Blocked
}

/// Blocked ground, or a zone of a site without any application.
fn of_ground(site: &Site, ground: &Ground, shape: &MultiPolygon<f64>) -> Option<Feature> {
    let (kind, figures) = if is_blocked(ground) {
        ("blocked", blocked_figures(ground))
    } else {
        ("zone", ground_figures(ground))
    };
    let mut properties = ground.properties.clone();
    properties.insert("site".into(), json!(site.site));
    properties.insert("zone".into(), json!(ground.zone));
    properties.insert("application".into(), Value::Null);
    properties.insert("kind".into(), json!(kind));
    let figures = figures.into_iter();
    properties.extend(figures.map(|(name, value)| (name.to_owned(), value)));
    Some(Feature {
        geometry: Some(geometry(shape)?),
        properties: Some(properties),
        ..Feature::default()
    })
}

type Figure = (&'static str, Value);

fn area(m2: Option<f64>) -> Figure {
    ("area_m2", rounded(m2, AREA_STEPS_PER_M2))
}

fn rounded(value: Option<f64>, steps: f64) -> Value {
    value.map_or(Value::Null, |value| json!(round(value, steps)))
}

fn blocked_figures(ground: &Ground) -> Vec<Figure> {
    vec![
        area(Some(ground.area_m2)),
        ("reason", json!(ground.reason)),
        ("from", json!(ground.from)),
        ("until", json!(ground.until)),
    ]
}

fn ground_figures(ground: &Ground) -> Vec<Figure> {
    vec![
        area(Some(ground.area_m2)),
        excluded(ground.excluded_m2),
        ("use", json!(word(ground.land_use))),
        ("method", json!(word(ground.method))),
        ("target_ml_m2", rounded(ground.target_ml_m2, STEPS_PER_UNIT)),
    ]
}

fn excluded(m2: f64) -> Figure {
    ("excluded_m2", rounded(Some(m2), AREA_STEPS_PER_M2))
}

fn zone_figures(zone: &Zone) -> Vec<Figure> {
    vec![
        area(Some(zone.area_m2)),
        excluded(zone.excluded_m2),
        ("use", json!(word(zone.land_use))),
        ("method", json!(word(zone.method))),
        ("target_ml_m2", rounded(zone.target_ml_m2, STEPS_PER_UNIT)),
        ("volume_l", rounded(zone.volume_l, STEPS_PER_UNIT)),
        (
            "rate_over_zone_ml_m2",
            rounded(zone.rate_over_zone_ml_m2, STEPS_PER_UNIT),
        ),
    ]
}

fn treated_figures(zone: &Zone) -> Vec<Figure> {
    vec![
        area(zone.treated_m2),
        (
            "rate_where_treated_ml_m2",
            rounded(zone.rate_where_treated_ml_m2, STEPS_PER_UNIT),
        ),
        (
            "rate_swept_ml_m2",
            rounded(zone.rate_swept_ml_m2, STEPS_PER_UNIT),
        ),
    ]
}

fn gap_figures(zone: &Zone) -> Vec<Figure> {
    let causes = zone.gap_causes_m2;
    vec![
        area(zone.gap_m2),
        (
            "never_reached_m2",
            rounded(causes.map(|c| c.never_reached), AREA_STEPS_PER_M2),
        ),
        (
            "closed_m2",
            rounded(causes.map(|c| c.closed), AREA_STEPS_PER_M2),
        ),
        ("dry_m2", rounded(causes.map(|c| c.dry), AREA_STEPS_PER_M2)),
        ("near_dropout", json!(zone.near_dropout)),
    ]
}

/// A MultiPolygon whatever the number of pieces: a layer with one geometry type opens everywhere.
fn geometry(shape: &MultiPolygon<f64>) -> Option<Geometry> {
    let mut polygons: Vec<Vec<Vec<Position>>> = Vec::new();
    for polygon in shape {
        let Some(outer) = ring(polygon.exterior(), Turn::CounterClockwise) else {
            continue;
        };
        let holes = polygon.interiors().iter();
        let holes = holes.filter_map(|hole| ring(hole, Turn::Clockwise));
        polygons.push(std::iter::once(outer).chain(holes).collect());
    }
    (!polygons.is_empty()).then(|| Geometry::new_multi_polygon(polygons))
}

/// Which way a written ring runs.
#[derive(Clone, Copy, PartialEq)]
enum Turn {
    CounterClockwise,
    Clockwise,
}

/// The way is told by the area. The ring's outermost corner would not do (`geo`'s `Orient` asks that one alone):
/// where it ends a spike of micrometres, the spike's sides may cross in degrees, and the whole ring is turned around.
fn ring(line: &LineString<f64>, turn: Turn) -> Option<Vec<Position>> {
    let mut positions: Vec<[f64; 2]> = line
        .coords()
        .map(|c| [round(c.x, STEPS_PER_DEGREE), round(c.y, STEPS_PER_DEGREE)])
        .collect();
    positions.dedup();
    if (signed_area(&positions) < 0.0) == (turn == Turn::CounterClockwise) {
        positions.reverse();
    }
    (positions.len() >= LEAST_POSITIONS)
        .then(|| positions.into_iter().map(Position::from).collect())
}

/// Signed area of a closed ring in square degrees, positive when it runs counter-clockwise; as seen from its first
/// corner, so that nothing is lost to large coordinates.
fn signed_area(positions: &[[f64; 2]]) -> f64 {
    let Some(&[x, y]) = positions.first() else {
        return 0.0;
    };
    let doubled = positions.windows(2).map(|pair| {
        let [[ax, ay], [bx, by]] = [pair[0], pair[1]];
        (ax - x) * (by - y) - (bx - x) * (ay - y)
    });
    doubled.sum::<f64>() / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;
    use geo::{Winding, polygon};

    fn features() -> Vec<Feature> {
        let text = String::from_utf8(render(&sample::audit(), &sample::shapes())).expect("UTF-8");
        let collection: FeatureCollection = text.parse().expect("a FeatureCollection");
        collection.features
    }

    fn property<'a>(feature: &'a Feature, name: &str) -> &'a Value {
        feature.property(name).expect("a property")
    }

    #[test]
    fn each_kind_with_ground_has_a_feature_with_its_area() {
        let features = features();
        let of_kind = |kind: &str| {
            let of_first = features.iter().filter(|f| {
                property(f, "site") == "quay"
                    && property(f, "application") == 1
                    && property(f, "zone") == "main"
                    && property(f, "kind") == kind
            });
            of_first.collect::<Vec<_>>()
        };
        assert_eq!(property(of_kind("zone")[0], "area_m2"), 9_712.123_457);
        assert_eq!(property(of_kind("treated")[0], "area_m2"), 9_297.0);
        assert_eq!(property(of_kind("gap")[0], "closed_m2"), 250.0);
        assert_eq!(of_kind("patch").len(), 3);
        assert_eq!(property(of_kind("patch")[0], "area_m2"), 120.0);
        assert!(
            of_kind("unlogged").is_empty(),
            "the sample has no unlogged ground there"
        );
    }

    #[test]
    fn blocked_ground_says_why_and_when_beside_any_application() {
        let features = features();
        let blocked: Vec<_> = features
            .iter()
            .filter(|feature| property(feature, "kind") == "blocked")
            .collect();
        assert_eq!(blocked.len(), 1, "the sample has one pile");
        assert_eq!(property(blocked[0], "zone"), "pile");
        assert_eq!(property(blocked[0], "reason"), "snow pile");
        // Five hours before 02:00.
        assert_eq!(property(blocked[0], "from"), "2026-01-11T21:00:00Z");
        assert!(property(blocked[0], "until").is_null());
        assert!(property(blocked[0], "application").is_null());
    }

    #[test]
    fn sprayed_keep_off_ground_and_driven_lines_are_on_the_map_with_the_caution() {
        let features = features();
        let of_kind = |kind: &str| {
            features
                .iter()
                .filter(|f| property(f, "kind") == kind)
                .count()
        };
        assert_eq!((of_kind("keep_off_wet"), of_kind("driven")), (1, 2));
        let wet = features
            .iter()
            .find(|f| property(f, "kind") == "keep_off_wet")
            .unwrap();
        assert_eq!(
            (property(wet, "zone"), property(wet, "area_m2")),
            (&json!("bed"), &json!(25.0))
        );
        let text = String::from_utf8(render(&sample::audit(), &sample::shapes())).unwrap();
        let collection: Value = serde_json::from_str(&text).unwrap();
        assert!(
            collection["caution"]
                .as_str()
                .unwrap()
                .contains("look at it before relying")
        );
    }

    #[test]
    fn outer_rings_run_counter_clockwise_and_holes_clockwise() {
        let clockwise = polygon![
            exterior: [(x: 0.0, y: 0.0), (x: 0.0, y: 4.0), (x: 4.0, y: 4.0), (x: 4.0, y: 0.0)],
            interiors: [[(x: 1.0, y: 1.0), (x: 2.0, y: 1.0), (x: 2.0, y: 2.0), (x: 1.0, y: 2.0)]],
        ];
        assert!(clockwise.exterior().is_cw());
        let written = geometry(&MultiPolygon::new(vec![clockwise])).expect("a geometry");
        let rings: Vec<Vec<Vec<[f64; 2]>>> =
            serde_json::from_value(json!(written)["coordinates"].clone()).expect("rings");
        let signed_double_area = |ring: &[[f64; 2]]| -> f64 {
            ring.windows(2)
                .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
                .sum()
        };
        assert!((signed_double_area(&rings[0][0]) - 32.0).abs() < 1e-12);
        assert!((signed_double_area(&rings[0][1]) + 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_spike_that_crosses_itself_turns_no_ring_around() {
        let spiked = polygon![(x: 1.0, y: 0.0), (x: 2.0, y: 0.0), (x: 2.0, y: 1.0), (x: 1.0, y: 1.0),
            (x: 0.9, y: 0.4), (x: 0.0, y: 0.5), (x: 0.9, y: 0.6)];
        assert!(spiked.exterior().is_cw(), "its leftmost corner misleads");
        let written = geometry(&MultiPolygon::new(vec![spiked])).expect("a geometry");
        let rings: Vec<Vec<Vec<[f64; 2]>>> =
            serde_json::from_value(json!(written)["coordinates"].clone()).expect("rings");
        // Corner by corner by hand, twice the area: 0 + 2 + 1 - 0.5 + 0.45 - 0.45 - 0.6.
        assert!((signed_area(&rings[0][0]) - 0.95).abs() < 1e-12);
    }

    #[test]
    fn coordinates_have_nine_decimals_and_slivers_below_that_vanish() {
        let sliver = polygon![(x: 1.0, y: 1.0), (x: 1.0 + 1e-11, y: 1.0), (x: 1.0, y: 1.0 + 1e-11)];
        assert!(geometry(&MultiPolygon::new(vec![sliver])).is_none());
        let fine = polygon![(x: 0.123_456_789_4, y: 0.0), (x: 1.0, y: 0.0), (x: 1.0, y: 1.0)];
        let text = json!(geometry(&MultiPolygon::new(vec![fine]))).to_string();
        assert!(text.contains("0.123456789,"), "{text}");
    }
}
