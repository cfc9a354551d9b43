//! The ground of a record as it was drawn: no other figure leans on its corners, so `verify` holds them against the areas.

use super::hostile::changed;
use super::nights::{demo, record};
use crate::night::number;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use swathbook::record::verify::{CheckResult, Given, verify};

const GROUND: &str = "data/evidence/1/ground.json";

/// The small record with its ground changed.
fn with_ground(change: impl Fn(&mut Value)) -> Vec<String> {
    changed(GROUND, |text| {
        let mut ground: Value = serde_json::from_str(&text).unwrap();
        change(&mut ground);
        serde_json::to_string_pretty(&ground).unwrap()
    })
    .unwrap()
}

fn add(value: &mut Value, by: f64) {
    *value = json!(number(value) + by);
}

/// A corner of the lot of 80 m x 14 m, moved by 1e-7 degrees: 1 cm, half a square metre or the tenth of one.
#[test]
fn a_drawn_corner_that_moved_is_a_figure_that_does_not_hold() {
    for corner in 0..4 {
        for axis in 0..2 {
            let faults = with_ground(|ground| {
                let ring = &mut ground["zones"][0]["drawn"][0][0];
                add(&mut ring[corner][axis], 1e-7);
                if corner == 0 {
                    ring[4] = ring[0].clone();
                }
            });
            let told = "figures: ground[0].area_drawn_m2: the evidence has 1120.";
            assert!(
                faults[0].starts_with(told) && faults[0].contains("the drawn corners enclose 11"),
                "{corner} {axis}: {faults:?}"
            );
        }
    }
}

/// The same area on other ground: what was treated lies beyond it.
#[test]
fn a_drawn_outline_that_moved_as_a_whole_does_not_hold() {
    let faults = with_ground(|ground| {
        for corner in ground["zones"][0]["drawn"][0][0].as_array_mut().unwrap() {
            add(&mut corner[0], 1e-7);
        }
    });
    // A centimetre less of 14 m: 1e-7 degrees are 7.9 mm here.
    assert!(
        faults[0].starts_with("figures: ground[0]: 0.11")
            && faults[0].contains("m2 of its divided ground lie beyond its drawn line"),
        "{faults:?}"
    );
}

/// Both the corner and the area that fits it: the record's own figure is another.
#[test]
fn a_drawn_area_that_was_changed_with_its_corner_does_not_hold() {
    let faults = with_ground(|ground| {
        let zone = &mut ground["zones"][0];
        // Outward by 2 degrees of a microdegree: 80 m x 0.22 m / 2.
        add(&mut zone["drawn"][0][0][2][1], 2e-6);
        add(&mut zone["area_drawn_m2"], 8.9);
    });
    let told = "figures: ground[0].area_drawn_m2: the record has 1120.";
    assert!(faults[0].starts_with(told), "{faults:?}");
}

#[test]
fn rings_that_are_open_or_cross_thousands_of_times_are_named() {
    let faults = with_ground(|ground| {
        let ring = &mut ground["zones"][0]["drawn"][0][0];
        ring.as_array_mut().unwrap().pop();
    });
    assert!(
        faults[0].contains("ground.json: a drawn ring is not closed"),
        "{faults:?}"
    );
    // Two zigzags of 400 strokes, one across the other: some 160,000 crossings.
    let zigzag = |across: bool, unit: f64| -> Vec<Value> {
        let corners = (0..=400).map(|k| {
            let (a, b) = (f64::from(k) * 0.1 * unit, f64::from(k % 2) * 40.0 * unit);
            if across { json!([b, a]) } else { json!([a, b]) }
        });
        let mut ring: Vec<Value> = corners.collect();
        ring.push(ring[0].clone());
        ring
    };
    let degrees = |of: Vec<Value>| -> Vec<Value> {
        let moved = |at: &Value| json!([number(&at[0]) - 30.0, number(&at[1]) + 45.0]);
        of.iter().map(moved).collect()
    };
    let drawn = [false, true].map(|across| json!([degrees(zigzag(across, 1e-5))]));
    let divided = [false, true].map(|across| json!([zigzag(across, 1.0)]));
    for (key, rings) in [("drawn", drawn), ("divided", divided)] {
        let faults = with_ground(|ground| ground["zones"][0][key] = json!(rings));
        let told = "ground.json: its rings cross more than 50000 times";
        assert!(faults[0].contains(told), "{key}: {faults:?}");
    }
}

/// Zones of every use, cut out of each other and out of their neighbours: what was drawn holds.
#[test]
fn drawn_ground_holds_where_zones_cut_each_other() {
    let night = demo();
    let out = record(&night, &["--all"]);
    let mut uses = BTreeSet::new();
    for entry in fs::read_dir(out).unwrap() {
        let folder = entry.unwrap().path();
        let Ok(ground) = fs::read(folder.join(GROUND)) else {
            continue;
        };
        let ground: Value = serde_json::from_slice(&ground).unwrap();
        let zones = ground["zones"].as_array().unwrap();
        uses.extend(zones.iter().map(|zone| zone["use"].to_string()));
        let verified = verify(&folder, &Given::default()).unwrap();
        let figures = verified
            .checks
            .iter()
            .find(|of| of.check == "figures")
            .unwrap();
        assert_eq!(figures.result, CheckResult::Holds, "{figures:?}");
    }
    assert!(uses.len() >= 4, "{uses:?}");
}
