//! Heaps: what must stay fast however it lies.

use super::super::{Region, cover};
use crate::geometry::plane::Xy;
use cpu_time::ThreadTime;
use std::f64::consts::{PI, TAU};
use std::time::Instant;

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

/// The area is that of GEOS 3.14 (shapely 2, `union_all`) for the same 400 blades; the disc through their
/// corners has 7.1393 m2, less the notches between them.
#[test]
fn a_fan_of_blades_covers_the_disc_and_takes_no_minutes() {
    let blades = fan(400);
    let begin = Instant::now();
    let rings = blades.iter().map(Vec::as_slice);
    let disc = Region::union_of_positive(rings.clone());
    println!("400 blades: {:?}", begin.elapsed());
    assert!(begin.elapsed().as_secs() < 5, "{:?}", begin.elapsed());
    assert!(
        (disc.area_m2() - 7.131_741_5).abs() < 1e-6,
        "{} m2",
        disc.area_m2()
    );
    assert!((Region::inside_any(rings).area_m2() - disc.area_m2()).abs() < 1e-6);
    assert_eq!(disc.fallbacks(), 0);
}

/// Each blade a pass of its own: within 15 cm of the middle all cover, beyond it the blades overlap up to where
/// they are as wide as the way to the next, 0.3 m = 2 pi r / 200 (a blade reaches to both sides), 9.5 m: everywhere but
/// in the notches.
#[test]
fn passes_in_a_heap_keep_what_is_covered_twice() {
    let passes: Vec<Region> = fan(400)
        .iter()
        .map(|ring| Region::union_of_positive([ring.as_slice()]))
        .collect();
    let zone =
        [(-10.0, 50.0), (10.0, 50.0), (10.0, 70.0), (-10.0, 70.0)].map(|(x, y)| Xy::new(x, y));
    let zone = Region::inside_any([zone.as_slice()]);
    let begin = Instant::now();
    let cover = cover(&zone, &passes.iter().collect::<Vec<_>>());
    println!("cover of 400 blades: {:?}", begin.elapsed());
    assert!(begin.elapsed().as_secs() < 5, "{:?}", begin.elapsed());
    assert_eq!(cover.fallbacks, 0);
    assert!(
        (cover.treated.area_m2() - 7.131_741_5).abs() < 1e-6,
        "{}",
        cover.treated.area_m2()
    );
    assert!((cover.gap.area_m2() + cover.treated.area_m2() - 400.0).abs() < 1e-6);
    let notches_m2 = PI * (1.5_f64.powi(2) + 0.15_f64.powi(2)) - cover.overlap.area_m2();
    assert!(
        cover.overlap.area_m2() < cover.treated.area_m2() && notches_m2 < 0.05,
        "{notches_m2}"
    );
}

/// Lanes of 1 m over a square of 200 m, so many along either side: where two cross, four pairs of edges meet.
fn hatching(lanes: usize) -> Vec<Region> {
    let lane = |k: usize| {
        let low = 200.0 * (k as f64 + 0.25) / lanes as f64;
        let [from, to] = [Xy::new(0.0, low), Xy::new(200.0, low + 1.0)];
        let along = [
            from,
            Xy::new(to.x_m, from.y_m),
            to,
            Xy::new(from.x_m, to.y_m),
        ];
        let mut across = along.map(|at| Xy::new(at.y_m, at.x_m));
        across.reverse();
        [along, across].map(|ring| Region::union_of_positive([ring.as_slice()]))
    };
    (0..lanes).flat_map(lane).collect()
}

/// 76 lanes either way make 23,104 pairs of 608 edges, just below what is taken for a heap (32 an edge and 4,096); 80
/// make 25,600 of 640, just above. Closed form: n lanes either way lie on 2 n 200 m2 less n^2 squares of 1 m2 twice covered.
#[test]
fn just_below_a_heap_costs_no_more_than_just_above() {
    let zone = [(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)].map(|(x, y)| Xy::new(x, y));
    let zone = Region::inside_any([zone.as_slice()]);
    let took = [76, 80].map(|lanes| {
        let passes = hatching(lanes);
        let passes: Vec<&Region> = passes.iter().collect();
        // This thread's own time: on a busy machine either may wait for others.
        let begin = ThreadTime::now();
        let cover = cover(&zone, &passes);
        let took = begin.elapsed();
        println!("{lanes} lanes either way: {took:?}");
        let squares_m2 = (lanes * lanes) as f64;
        assert_eq!(cover.fallbacks, 0);
        assert!((cover.overlap.area_m2() - squares_m2).abs() < 1e-3);
        let treated_m2 = 400.0 * lanes as f64 - squares_m2;
        assert!((cover.treated.area_m2() - treated_m2).abs() < 1e-3);
        took
    });
    assert!(took[0] < 4 * took[1], "{took:?}");
}
