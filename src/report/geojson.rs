//! `coverage.geojson`: the ground of every application as polygons with their figures, for any
//! GIS. RFC 7946: WGS 84 longitude and latitude, outer rings counter-clockwise, holes clockwise.
//! Figures are SI, as in `audit.json`.

mod beside;

use crate::geometry::overlay::degrees::{GridRing, STEPS_PER_DEGREE, on_degree_grid};
use crate::input::sites::LandUse;
use crate::report::earth::{EarthShapes, ZoneShapes};
use crate::report::json::{AREA_STEPS_PER_M2, STEPS_PER_UNIT, round, word};
use crate::result::{self, Audit, Ground, Patch};
use crate::site::summary::Trail;
use ::geojson::{Feature, FeatureCollection, Geometry, JsonObject, Position};
use geo::MultiPolygon;
use rayon::prelude::*;
use serde_json::{Value, json};

/// The bytes of `coverage.geojson`. Geometries that are empty, or vanish on the degree grid, are left out.
#[must_use]
pub fn render(audit: &Audit, shapes: &[EarthShapes], trails: &[Trail]) -> Vec<u8> {
    let sites = audit.sites.par_iter().zip(shapes);
    let of_sites: Vec<Vec<Feature>> = sites
        .map(|(site, shapes)| {
            let keep_off = beside::keep_off(audit, site, shapes);
            of_site(site, shapes).into_iter().chain(keep_off).collect()
        })
        .collect();
    let runs = audit.runs.iter().zip(trails);
    let outside = runs.clone().filter_map(beside::outside);
    let driven = runs.filter_map(beside::driven);
    let beside = outside.chain(driven);
    let features = of_sites.into_iter().flatten().chain(beside);
    let mut collection: FeatureCollection = FeatureCollection::new(features);
    // Foreign members (RFC 7946, section 6.1).
    let members = collection.foreign_members.get_or_insert_default();
    let caution = json!(crate::report::terminal::CAUTIONS.join(" "));
    members.insert("caution".to_owned(), caution);
    if audit.planned {
        members.insert("planned".to_owned(), json!(super::terminal::PLANNED));
    }
    let mut bytes = collection.to_string().into_bytes();
    bytes.push(b'\n');
    bytes
}

fn of_site(site: &result::Site, shapes: &EarthShapes) -> Vec<Feature> {
    let applications = site.applications.iter().zip(&shapes.applications);
    let treated = applications.flat_map(|(application, zones)| {
        let zones = application.zones.iter().zip(zones);
        zones.flat_map(move |(zone, own)| of_zone(site, application, zone, (shapes, own)))
    });
    let untreated = site.applications.is_empty();
    let ground = site.ground.iter().zip(&shapes.ground);
    let ground = ground.filter(|(ground, _)| untreated || is_blocked(ground));
    treated
        .chain(ground.filter_map(|(ground, shape)| of_ground(site, ground, shape)))
        .collect()
}

/// The zone's ground first, so that a map draws the rest over it.
fn of_zone(
    site: &result::Site,
    application: &result::Application,
    zone: &result::Zone,
    (of_site, shapes): (&EarthShapes, &ZoneShapes),
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
    let patches =
        patches.map(|(index, (patch, shape))| ("patch", shape, patch_figures(index + 1, patch)));
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

fn patch_figures(number: usize, patch: &Patch) -> Vec<Figure> {
    let m2 = |area_m2: Option<f64>| rounded(area_m2, AREA_STEPS_PER_M2);
    vec![
        area(Some(patch.area_m2)),
        ("core_m2", m2(Some(patch.core_m2))),
        ("patch", json!(number)),
        ("cause", json!(word(patch.cause))),
        ("closed_sections", json!(patch.closed_sections)),
        ("probability", rounded(patch.probability, STEPS_PER_UNIT)),
        ("area_low_m2", m2(patch.area_low_m2)),
        ("area_high_m2", m2(patch.area_high_m2)),
        ("likely", json!(patch.likely)),
        ("unsure", json!(patch.unsure)),
    ]
}

/// What the sites file says of a zone beside what the program knows; the program's own names win.
fn carried(site: &result::Site, zone: &result::Zone) -> JsonObject {
    let ground = site.ground.iter().find(|ground| ground.zone == zone.zone);
    ground
        .map(|ground| ground.properties.clone())
        .unwrap_or_default()
}

fn is_blocked(ground: &Ground) -> bool {
    ground.land_use == LandUse::Blocked
}

/// Blocked ground, or a zone of a site without any application.
fn of_ground(site: &result::Site, ground: &Ground, shape: &MultiPolygon<f64>) -> Option<Feature> {
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

fn zone_figures(zone: &result::Zone) -> Vec<Figure> {
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

fn treated_figures(zone: &result::Zone) -> Vec<Figure> {
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

fn gap_figures(zone: &result::Zone) -> Vec<Figure> {
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
        (
            "spraying_off_m2",
            rounded(causes.map(|c| c.spraying_off), AREA_STEPS_PER_M2),
        ),
        ("dry_m2", rounded(causes.map(|c| c.dry), AREA_STEPS_PER_M2)),
        (
            "silence_m2",
            rounded(causes.map(|c| c.silence), AREA_STEPS_PER_M2),
        ),
        ("near_dropout", json!(zone.near_dropout)),
    ]
}

/// A MultiPolygon whatever the number of pieces: a layer with one geometry type opens everywhere. Corners lie on the
/// degree grid, and the polygons are valid there.
pub(crate) fn geometry(shape: &MultiPolygon<f64>) -> Option<Geometry> {
    let polygons: Vec<Vec<Vec<Position>>> = on_degree_grid(shape)
        .into_iter()
        .map(|rings| rings.into_iter().map(ring).collect())
        .collect();
    (!polygons.is_empty()).then(|| Geometry::new_multi_polygon(polygons))
}

fn ring(points: GridRing) -> Vec<Position> {
    let degrees = |steps: i64| steps as f64 / STEPS_PER_DEGREE;
    points
        .into_iter()
        .map(|[lon, lat]| Position::from([degrees(lon), degrees(lat)]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;
    use geo::{Winding, polygon};

    fn features() -> Vec<Feature> {
        let text = String::from_utf8(render(
            &sample::audit(),
            &sample::shapes(),
            &sample::trails(),
        ))
        .expect("UTF-8");
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
        let text = String::from_utf8(render(
            &sample::audit(),
            &sample::shapes(),
            &sample::trails(),
        ))
        .unwrap();
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
        let polygons: Vec<Vec<Vec<[f64; 2]>>> =
            serde_json::from_value(json!(written)["coordinates"].clone()).expect("rings");
        let doubled = |ring: &[[f64; 2]]| -> f64 {
            ring.windows(2)
                .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
                .sum()
        };
        let area: f64 = polygons
            .iter()
            .flatten()
            .map(|ring| doubled(ring) / 2.0)
            .sum();
        // By hand: its sides cross at (11/12, 1/2). The square and the triangle beside it stay, 1 + 1/24; the spike runs the
        // other way and counts as nothing.
        assert!((area - 25.0 / 24.0).abs() < 1e-6, "{area}");
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
