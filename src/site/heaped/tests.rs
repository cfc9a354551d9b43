//! Grounds made of cells against exact ones.

mod drives;

use super::*;
use crate::geometry::overlay;
use crate::site::tests::{leg, lot};
use proptest::prelude::*;

/// A strip of 20 m x 3 m about a place, turned.
fn strip((x_m, y_m, angle_rad): (f64, f64, f64)) -> Vec<Xy> {
    let (sin, cos) = angle_rad.sin_cos();
    let corners = [(-10.0, -1.5), (10.0, -1.5), (10.0, 1.5), (-10.0, 1.5)];
    let turned = |(a, b)| Xy::new(x_m + a * cos - b * sin, y_m + a * sin + b * cos);
    corners.map(turned).to_vec()
}

/// Passes of one strip each, all in the leg's only presence.
fn strips(rings: &[Vec<Xy>]) -> Strips {
    let pass = |(number, ring): (usize, &Vec<Xy>)| PassRings {
        pass: number as u32,
        steps: 0..5,
        rings: vec![ring.clone()],
    };
    Strips {
        passes: rings.iter().enumerate().map(pass).collect(),
        ..Strips::default()
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: proptest::test_runner::RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    /// Treated ground and overlap of a heap of passes, as the exact engine finds them of the passes one by one.
    #[test]
    fn two_layers_of_cells_have_the_areas_of_exact_sets(
        places in proptest::collection::vec((-30.0..30.0, -4.0..4.0, 0.0..3.0), 1..60),
    ) {
        let site = lot();
        let rings: Vec<Vec<Xy>> = places.into_iter().map(strip).collect();
        let zone = &site.zones[0].region;
        let exact: Vec<Region> = rings.iter()
            .map(|ring| Region::union_of_positive([ring.as_slice()])).collect();
        let exact: Vec<&Region> = exact.iter().collect();
        // A cell at the zone's line may have its middle beside it.
        let wide = overlay::cover(&zone.offset(1.0), &exact);
        let exact = overlay::cover(zone, &exact);
        let grounds = passes(grid(&site).unwrap(), 0, &leg(&site, 0b1111, 0), &strips(&rings));
        let counted = overlay::cover(zone, &grounds.iter().map(|ground| &ground.region).collect::<Vec<_>>());
        prop_assert!(grounds.len() <= 2 * BATCHES);
        for (exact, wide, counted) in [
            (&exact.treated, &wide.treated, &counted.treated),
            (&exact.overlap, &wide.overlap, &counted.overlap),
        ] {
            let outline_m: f64 = exact.rings().iter().map(|ring| {
                let next = ring.iter().cycle().skip(1);
                ring.iter().zip(next).map(|(a, b)| b.minus(*a).length_m()).sum::<f64>()
            }).sum();
            let differs_m2 = exact.difference(counted).area_m2() + counted.difference(exact).area_m2();
            // Nowhere farther off than half a diagonal; by area a few hundredths of the outline's length.
            prop_assert!(differs_m2 <= 0.071 * outline_m + 0.1, "{differs_m2} m2 along {outline_m} m");
            let grown = wide.offset(0.072);
            prop_assert!(counted.difference(&grown).area_m2() < 1e-3);
        }
    }
}

#[test]
fn what_laid_nothing_keeps_its_ground_and_its_kind() {
    let site = lot();
    let kind = |dry: bool| if dry { Idle::Dry } else { Idle::Closed };
    let idle_ring = |dry: bool, x_m: f64| IdleRing {
        steps: 0..2,
        idle: kind(dry),
        sections: 0b1111,
        ring: strip((x_m, 0.0, 0.3)),
    };
    let mut strips = Strips {
        idle: vec![
            idle_ring(true, 0.0),
            idle_ring(false, 15.0),
            idle_ring(true, 0.0),
        ],
        ..Strips::default()
    };
    idle(grid(&site).unwrap(), &leg(&site, 0b1111, 0), &mut strips);
    let area_m2 = |dry: bool| {
        let own = strips.idle.iter().filter(|ring| ring.idle == kind(dry));
        Region::union_of_positive(own.map(|idle| idle.ring.as_slice())).area_m2()
    };
    // The lot reaches 5.5 m north and south; a strip at 0.3 rad reaches 4.4 m.
    assert!((area_m2(true) - 60.0).abs() < 0.5, "{}", area_m2(true));
    assert!((area_m2(false) - 60.0).abs() < 0.5, "{}", area_m2(false));
}
