//! Unions of strips on which another geometry library lost ground, kept in `fixtures/unions` with their exact area
//! (worked out in fractions by `tests/reference/exact.py`).

use serde_json::Value;
use std::path::Path;
use swathbook::geometry::overlay::{Region, cover};
use swathbook::geometry::plane::Xy;

/// As a share of the area: the program's grid of 6e-8 m along the outlines, with room.
const LIMIT: f64 = 1e-6;

fn ring(points: &Value) -> Vec<Xy> {
    let points = points.as_array().unwrap().iter();
    points
        .map(|point| Xy::new(point[0].as_f64().unwrap(), point[1].as_f64().unwrap()))
        .collect()
}

#[test]
fn kept_unions_have_their_exact_area() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/unions");
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let file = entry.unwrap().path();
        let kept: Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
        let rings: Vec<Vec<Xy>> = kept["rings"].as_array().unwrap().iter().map(ring).collect();
        let exact_m2 = kept["area_m2"].as_f64().unwrap();
        let slices = || rings.iter().map(Vec::as_slice);
        for union in [
            Region::union_of_positive(slices()),
            Region::inside_any(slices()),
        ] {
            let share = (union.area_m2() - exact_m2).abs() / exact_m2;
            assert!(share < LIMIT, "{}: off by {share:e}", file.display());
        }
        count += 1;
    }
    assert!(count >= 3, "fixtures/unions holds {count} files");
}

/// Each strip as a pass of its own, on a zone that holds them all with ten metres to spare.
#[test]
fn kept_unions_cover_a_zone_once_and_twice_as_in_fractions() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/unions");
    for entry in std::fs::read_dir(folder).unwrap() {
        let file = entry.unwrap().path();
        let kept: Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
        let rings: Vec<Vec<Xy>> = kept["rings"].as_array().unwrap().iter().map(ring).collect();
        let reach_m = rings
            .iter()
            .flatten()
            .map(|p| p.x_m.abs().max(p.y_m.abs()))
            .fold(10.0, f64::max)
            + 10.0;
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        let zone = corners.map(|(x, y)| Xy::new(x * reach_m, y * reach_m));
        let zone = Region::inside_any([zone.as_slice()]);
        let passes: Vec<Region> = rings
            .iter()
            .map(|ring| Region::inside_any([ring.as_slice()]))
            .collect();
        let cover = cover(&zone, &passes.iter().collect::<Vec<_>>());
        for (got, exact) in [
            (&cover.treated, &kept["area_m2"]),
            (&cover.overlap, &kept["twice_m2"]),
        ] {
            let off_m2 = (got.area_m2() - exact.as_f64().unwrap()).abs();
            assert!(
                off_m2 < LIMIT * kept["area_m2"].as_f64().unwrap(),
                "{}: off by {off_m2:e} m2",
                file.display()
            );
        }
        assert!((cover.gap.area_m2() + cover.treated.area_m2() - zone.area_m2()).abs() < 1e-6);
        assert_eq!(cover.fallbacks, 0);
    }
}
