//! What was drawn against what the figures were computed with: the corners of the sites file, on which no other figure
//! rests.

use super::compare::tolerance_m2;
use crate::ground::{Zone, drawn};
use crate::record::evidence::{Evidence, Polygons};

/// What does not follow from the drawn corners, a line each: a zone's area as drawn, and its divided ground, all of which
/// lies inside its drawn line.
pub(super) fn differences(evidence: &Evidence) -> Vec<String> {
    let zones = evidence.site.zones.iter().zip(&evidence.drawn).enumerate();
    zones
        .flat_map(|(at, (zone, polygons))| of_zone(evidence, at, zone, polygons))
        .collect()
}

fn of_zone(evidence: &Evidence, at: usize, zone: &Zone, polygons: &Polygons) -> Vec<String> {
    let Some(drawn) = drawn::region(&evidence.site.plane, polygons) else {
        return vec![format!(
            "ground[{at}]: a drawn corner lies off the site's plane"
        )];
    };
    let mut differences = Vec::new();
    let (stated_m2, computed_m2) = (zone.area_drawn_m2, drawn.area_m2());
    if (stated_m2 - computed_m2).abs() > tolerance_m2(drawn.outline_m()) {
        differences.push(format!(
            "ground[{at}].area_drawn_m2: the evidence has {stated_m2}, the drawn corners enclose {computed_m2}"
        ));
    }
    let beyond_m2 = zone.region.difference(&drawn).area_m2();
    if beyond_m2 > tolerance_m2(drawn.outline_m() + zone.region.outline_m()) {
        differences.push(format!(
            "ground[{at}]: {beyond_m2} m2 of its divided ground lie beyond its drawn line"
        ));
    }
    differences
}
