//! Rings that lie in heaps: a boom that swings about one place leaves hundreds of slivers on top of each
//! other, every edge across most others. In one graph a few seconds of it take minutes; joined a few at a
//! time, what lies inside goes before the next ones come.

use super::Region;
use crate::extent::Extent;

/// As few rings are joined in one go however they lie.
const FEW_RINGS: usize = 32;
/// Rings are a heap when each meets this many of the others (their boxes do). Along a lane a ring meets
/// its neighbours, on a turn a dozen.
const HEAP_MEETINGS: usize = 24;
/// Rings of a heap joined at a time.
const HANDFUL: usize = 16;

/// Joins rings or regions: `join` all at once or, where they lie on top of each other, a handful at a time, then
/// the handfuls two by two.
pub(super) fn joined<T>(
    grounds: &[T],
    extent: impl Fn(&T) -> Extent,
    join: impl Fn(&[T]) -> Region,
) -> Region {
    if !is_heap(grounds, extent) {
        return join(grounds);
    }
    let mut regions: Vec<Region> = grounds.chunks(HANDFUL).map(join).collect();
    while regions.len() > 1 {
        regions = regions.chunks(2).map(Region::union_of).collect();
    }
    regions.pop().unwrap_or_default()
}

fn is_heap<T>(grounds: &[T], extent: impl Fn(&T) -> Extent) -> bool {
    if grounds.len() <= FEW_RINGS {
        return false;
    }
    let boxes: Vec<Extent> = grounds.iter().map(extent).collect();
    let pairs = boxes.iter().enumerate();
    let meetings = pairs.flat_map(|(i, a)| boxes[..i].iter().filter(|b| a.meets(b)));
    let most = HEAP_MEETINGS * grounds.len() / 2;
    meetings.take(most + 1).count() > most
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plane::Xy;
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
        assert!(is_heap(&fan, |ring| Extent::of(*ring)));
        let lane: Vec<Vec<Xy>> = blades
            .iter()
            .enumerate()
            .map(|(i, ring)| {
                ring.iter()
                    .map(|p| Xy::new(p.x_m + 4.0 * i as f64, p.y_m))
                    .collect()
            })
            .collect();
        assert!(!is_heap(&lane, |ring| Extent::of(ring)));
    }

    /// The area is that of GEOS 3.14 (shapely 2, `union_all`) for the same 400 blades; the disc through their
    /// corners has 7.1393 m2, less the notches between them.
    #[test]
    fn a_fan_of_blades_covers_the_disc_and_takes_no_minutes() {
        let blades = fan(400);
        let begin = std::time::Instant::now();
        let rings = blades.iter().map(Vec::as_slice);
        let disc = Region::union_of_positive(rings.clone());
        assert!(begin.elapsed().as_secs() < 5, "{:?}", begin.elapsed());
        assert!(
            (disc.area_m2() - 7.131_741_5).abs() < 1e-6,
            "{} m2",
            disc.area_m2()
        );
        assert!((Region::inside_any(rings).area_m2() - disc.area_m2()).abs() < 1e-6);
    }
}
