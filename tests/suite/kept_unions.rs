//! Unions of strips on which another geometry library lost ground, kept in `fixtures/unions` with their exact area
//! (worked out in fractions by `tests/reference/exact.py`).

use serde_json::Value;
use std::path::Path;
use swathbook::overlay::Region;
use swathbook::plane::Xy;

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
