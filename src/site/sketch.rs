//! Overlap as it is drawn: with fewer corners, for maps only.
//!
//! Two swaths that lap leave a strip a hand wide with a corner for every fix of either: nine tenths of all corners of
//! a fleet night's map. Drawn to 2 cm it looks the same and has a third of them. No figure comes from it.

use crate::geometry::overlay::Region;
use crate::geometry::plane::{Xy, signed_area_m2};
use crate::geometry::thinned::thinned;

/// No corner that is left out lay farther from the line drawn, m: a tenth of what the best receivers can tell
/// (tolerance).
const TOLERANCE_M: f64 = 0.02;
/// A ring that would lose or gain more than this share of its ground is drawn whole: slivers and specks (tolerance).
const MOST_LOST: f64 = 0.02;

/// The region with simplified rings. Where they came to cross, the crossing is resolved: the rings stay valid.
pub(super) fn sketched(region: &Region) -> Region {
    let (mut plain, mut parts) = (Vec::new(), Vec::new());
    for shape in region.shapes() {
        let mut rings = shape.iter().map(|ring| simplified(ring));
        let Some(outer) = rings.next() else { continue };
        let holes: Vec<Vec<Xy>> = rings.collect();
        if holes.is_empty() {
            plain.push(outer);
        } else {
            let holes = Region::inside_any(holes.iter().map(Vec::as_slice));
            parts.push(Region::inside_any([outer.as_slice()]).difference(&holes));
        }
    }
    parts.push(Region::inside_any(plain.iter().map(Vec::as_slice)));
    Region::union_of(&parts)
}

fn simplified(ring: &[Xy]) -> Vec<Xy> {
    let mut kept = thinned(ring.iter().chain(ring.first()).copied(), TOLERANCE_M);
    kept.pop();
    let fewer: Vec<Xy> = kept.into_iter().map(|k| ring[k]).collect();
    let (whole_m2, left_m2) = (signed_area_m2(ring), signed_area_m2(&fewer));
    if fewer.len() >= 3 && (left_m2 - whole_m2).abs() <= MOST_LOST * whole_m2.abs() {
        fewer
    } else {
        ring.to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(points: &[(f64, f64)]) -> Vec<Xy> {
        points.iter().map(|&(x, y)| Xy::new(x, y)).collect()
    }

    #[test]
    fn a_long_strip_with_a_corner_a_metre_becomes_a_rectangle() {
        let wave = |k: usize| 0.008 * (k as f64).sin();
        let out = (0..=100).map(|k| (k as f64, wave(k)));
        let back = (0..=100).rev().map(|k| (k as f64, 0.24 + wave(k + 50)));
        let strip = ring(&out.chain(back).collect::<Vec<_>>());
        assert!(simplified(&strip).len() <= 6, "{:?}", simplified(&strip));
        let region = Region::inside_any([strip.as_slice()]);
        let drawn = sketched(&region);
        assert!((drawn.area_m2() / region.area_m2() - 1.0).abs() < MOST_LOST);
    }

    #[test]
    fn small_features_stay_whole() {
        let speck = ring(&[
            (0.0, 0.0),
            (0.05, 0.0),
            (0.06, 0.01),
            (0.05, 0.03),
            (0.0, 0.03),
        ]);
        assert_eq!(simplified(&speck), speck);
        let region = Region::inside_any([speck.as_slice()]);
        assert!((sketched(&region).area_m2() - region.area_m2()).abs() < 1e-9);
    }

    #[test]
    fn holes_and_islands_in_them_stay() {
        let square =
            |low: f64, high: f64| ring(&[(low, low), (high, low), (high, high), (low, high)]);
        let [outer, hole, island] =
            [(0.0, 10.0), (2.0, 8.0), (4.0, 6.0)].map(|(low, high)| square(low, high));
        let framed = Region::inside_any([outer.as_slice()])
            .difference(&Region::inside_any([hole.as_slice()]));
        let region = Region::union_of([&framed, &Region::inside_any([island.as_slice()])]);
        assert!((sketched(&region).area_m2() - (100.0 - 36.0 + 4.0)).abs() < 1e-6);
    }
}
