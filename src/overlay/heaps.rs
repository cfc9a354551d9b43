//! Rings that lie in heaps: a boom that swings about one place leaves hundreds of slivers on top of each
//! other, every edge across most others. In one graph a few seconds of it take minutes; joined a few at a
//! time, what lies inside goes before the next ones come.

use super::Region;
use crate::extent::Extent;
use crate::plane::Xy;

/// As few rings are joined in one go however they lie.
const FEW_RINGS: usize = 32;
/// Rings are a heap when each meets this many of the others (their boxes do). Along a lane a ring meets
/// its neighbours, on a turn a dozen.
const HEAP_MEETINGS: usize = 24;
/// Rings of a heap joined at a time.
const HANDFUL: usize = 16;

/// Whether the rings lie on top of each other.
pub(super) fn is_heap(rings: &[&[Xy]]) -> bool {
    if rings.len() <= FEW_RINGS {
        return false;
    }
    let boxes: Vec<Extent> = rings.iter().map(|ring| Extent::of(*ring)).collect();
    let pairs = boxes.iter().enumerate();
    let meetings = pairs.flat_map(|(i, a)| boxes[..i].iter().filter(|b| a.meets(b)));
    let most = HEAP_MEETINGS * rings.len() / 2;
    meetings.take(most + 1).count() > most
}

/// Joins a heap's rings: `join` a handful at a time, then the handfuls two by two.
pub(super) fn union<'a>(rings: &[&'a [Xy]], join: impl Fn(&[&'a [Xy]]) -> Region) -> Region {
    let mut regions: Vec<Region> = rings.chunks(HANDFUL).map(join).collect();
    while regions.len() > 1 {
        regions = regions.chunks(2).map(Region::union_of).collect();
    }
    regions.pop().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Blades of 3 m length and 30 cm width about a place, each turned a little further.
    fn fan(count: usize) -> Vec<Vec<Xy>> {
        (0..count)
            .map(|i| {
                let ahead = Xy::at_angle(TAU * i as f64 / count as f64);
                let side = Xy::new(-ahead.y_m, ahead.x_m);
                let corner = |along_m: f64, across_m: f64| {
                    Xy::new(-4.0, 60.0)
                        .plus(ahead, along_m)
                        .plus(side, across_m)
                };
                vec![
                    corner(-1.5, -0.15),
                    corner(1.5, -0.15),
                    corner(1.5, 0.15),
                    corner(-1.5, 0.15),
                ]
            })
            .collect()
    }

    #[test]
    fn a_fan_is_a_heap_and_a_lane_is_none() {
        let blades = fan(100);
        let fan: Vec<&[Xy]> = blades.iter().map(Vec::as_slice).collect();
        assert!(is_heap(&fan));
        let lane: Vec<Vec<Xy>> = blades
            .iter()
            .enumerate()
            .map(|(i, ring)| {
                ring.iter()
                    .map(|p| Xy::new(p.x_m + 4.0 * i as f64, p.y_m))
                    .collect()
            })
            .collect();
        assert!(!is_heap(
            &lane.iter().map(Vec::as_slice).collect::<Vec<_>>()
        ));
    }

    /// The blades' ends make a wreath of corners 0.9 degrees apart or less: between two of them the outline is at
    /// most 1.1e-3 nearer to the centre than at the corners, so the area is that of the disc to 2.2e-3.
    #[test]
    fn a_fan_of_blades_covers_the_disc_and_takes_no_minutes() {
        let blades = fan(400);
        let begin = std::time::Instant::now();
        let rings = blades.iter().map(Vec::as_slice);
        let disc = Region::union_of_positive(rings.clone());
        assert!(begin.elapsed().as_secs() < 5, "{:?}", begin.elapsed());
        let radius_m = 1.5_f64.hypot(0.15);
        let true_m2 = TAU / 2.0 * radius_m * radius_m;
        assert!(
            (1.0 - disc.area_m2() / true_m2 - 1.1e-3).abs() < 1.1e-3,
            "{} m2",
            disc.area_m2()
        );
        assert!((Region::inside_any(rings).area_m2() - disc.area_m2()).abs() < 1e-6);
    }
}
