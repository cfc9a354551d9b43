//! Set operations on squared paper.

use super::*;

fn rectangle(x_m: f64, y_m: f64, width_m: f64, height_m: f64) -> Vec<Xy> {
    [
        (0.0, 0.0),
        (width_m, 0.0),
        (width_m, height_m),
        (0.0, height_m),
    ]
    .map(|(dx, dy)| Xy::new(x_m + dx, y_m + dy))
    .to_vec()
}

fn region(rings: &[Vec<Xy>]) -> Region {
    Region::inside_any(rings.iter().map(Vec::as_slice))
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-5
}

#[test]
fn winding_does_not_matter_for_inside_any() {
    let mut clockwise = rectangle(5.0, 0.0, 10.0, 10.0);
    clockwise.reverse();
    assert!(close(
        region(&[rectangle(0.0, 0.0, 10.0, 10.0), clockwise]).area_m2(),
        150.0
    ));
}

#[test]
fn bow_tie_covers_both_loops() {
    let bow = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]
        .map(|(x, y)| Xy::new(x, y))
        .to_vec();
    assert!(close(region(&[bow]).area_m2(), 50.0));
}

#[test]
fn gap_and_overlap_on_squared_paper() {
    // Zone 20 x 10. Three passes 4 wide over its full length at y = 0, 3 and 8:
    // 0..4 and 3..7 overlap on 1 m, 7..8 stays bare, 8..10 is single (10..12 is outside).
    let zone = region(&[rectangle(0.0, 0.0, 20.0, 10.0)]);
    let passes = [0.0, 3.0, 8.0].map(|y| region(&[rectangle(-5.0, y, 30.0, 4.0)]));
    let cover = cover(&zone, &passes.iter().collect::<Vec<_>>());
    assert!(close(cover.gap.area_m2(), 20.0), "{}", cover.gap.area_m2());
    assert!(
        close(cover.overlap.area_m2(), 20.0),
        "{}",
        cover.overlap.area_m2()
    );
}

/// 20 x 10 under lanes 4 wide at y = 0, 3 and 8: 0..7 and 8..10.
#[test]
fn covered_ground_is_that_of_the_union_in_the_zone() {
    let zone = region(&[rectangle(0.0, 0.0, 20.0, 10.0)]);
    let passes = [0.0, 3.0, 8.0].map(|y| region(&[rectangle(-5.0, y, 30.0, 4.0)]));
    let covered = covered(&zone, &passes.iter().collect::<Vec<_>>());
    assert!(close(covered.area_m2(), 180.0), "{}", covered.area_m2());
}

#[test]
fn ground_outside_the_zone_counts_for_nothing() {
    let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
    let outside = region(&[rectangle(20.0, 0.0, 5.0, 5.0)]);
    let twice = cover(&zone, &[&outside, &outside]);
    assert!(close(twice.gap.area_m2(), 100.0) && twice.overlap.is_empty());
}

#[test]
fn a_third_pass_is_still_overlap() {
    let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
    let cover = cover(&zone, &[&zone, &zone, &zone]);
    assert!(cover.gap.is_empty() && close(cover.overlap.area_m2(), 100.0));
}

#[test]
fn no_pass_leaves_the_whole_zone() {
    let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
    assert!(close(cover(&zone, &[]).gap.area_m2(), 100.0));
}

#[test]
fn opening_keeps_the_wide_part_only() {
    // A 10 x 10 square with a tail 20 x 0.8: the tail is narrower than 1 m.
    let shape = region(&[
        rectangle(0.0, 0.0, 10.0, 10.0),
        rectangle(10.0, 4.0, 20.0, 0.8),
    ]);
    let opened = shape.opened(0.5);
    // Four corners lose (4 - pi)/4 x 0.25 each; the rounded stub of the tail adds under 0.1.
    assert!(
        (opened.area_m2() - 99.8).abs() < 0.15,
        "{}",
        opened.area_m2()
    );
}

#[test]
fn offset_of_a_square_has_the_closed_form() {
    let grown = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]).offset(1.0);
    let exact = 100.0 + 40.0 + std::f64::consts::PI;
    assert!(
        (grown.area_m2() - exact).abs() < 0.0016 * std::f64::consts::PI,
        "{}",
        grown.area_m2()
    );
    assert!(close(
        region(&[rectangle(0.0, 0.0, 10.0, 10.0)])
            .offset(-1.0)
            .area_m2(),
        64.0
    ));
}

#[test]
fn regions_that_share_a_border_share_its_corners() {
    // The left square's right edge has no corner where the right ones meet.
    let mut regions = [
        region(&[rectangle(0.0, 0.0, 10.0, 10.0)]),
        region(&[rectangle(10.0, 0.0, 5.0, 4.0)]),
        region(&[rectangle(10.0, 4.0, 5.0, 6.0)]),
    ];
    share_corners(&mut regions);
    assert_eq!(regions[0].rings()[0].len(), 5);
    assert!(close(regions[0].area_m2(), 100.0));
}

#[test]
fn a_hole_stays_a_hole_through_difference_and_union() {
    let ring = region(&[rectangle(0.0, 0.0, 10.0, 10.0)])
        .difference(&region(&[rectangle(4.0, 4.0, 2.0, 2.0)]));
    assert!(close(ring.area_m2(), 96.0));
    assert!(close(Region::union_of([&ring, &ring]).area_m2(), 96.0));
    assert_eq!(ring.rings().len(), 2);
}
