//! Zones that are narrow throughout, and what they cost.

use std::time::{Duration, Instant};
use swathbook::geometry::overlay::Region;
use swathbook::geometry::plane::Xy;
use swathbook::site::coverage::ZoneFrame;

/// A strip of 250 m x 6 m with 1,250 teeth on its long side, each 10 cm wide, as far apart and 200 m long.
fn comb() -> Vec<Xy> {
    let mut ring = vec![Xy::new(0.0, 0.0), Xy::new(250.0, 0.0)];
    for tooth in (0..1250).rev() {
        let west_m = 0.2 * f64::from(tooth);
        let corners = [(0.15, 6.0), (0.15, 206.0), (0.05, 206.0), (0.05, 6.0)];
        ring.extend(corners.map(|(x_m, y_m)| Xy::new(west_m + x_m, y_m)));
    }
    ring.insert(2, Xy::new(250.0, 6.0));
    ring.push(Xy::new(0.0, 6.0));
    ring
}

/// Such an outline took 20 s and 0.7 GB: each tooth shrunk by more than its width is turned inside out and crosses
/// its neighbours.
#[test]
fn a_comb_costs_no_more_than_its_corners() {
    let zone = Region::inside_any([comb().as_slice()]);
    let begin = Instant::now();
    let frame = ZoneFrame::of(&zone, 1.0, 1.0);
    // The teeth vanish. Of the strip 248 m x 4 m stay; over each tooth's middle a disc of 1 m reaches up to 1.25 mm
    // farther, 1 m less sqrt(1 - 0.05^2) m.
    let core_m2 = frame.core.area_m2();
    assert!((992.0..992.4).contains(&core_m2), "{core_m2}");
    assert!(!frame.narrow, "a disc of 1.5 m fits into the strip");
    assert!(
        begin.elapsed() < Duration::from_secs(10),
        "{:?}",
        begin.elapsed()
    );
}
