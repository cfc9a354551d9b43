//! Sections on squared paper.

use super::Switches;
use crate::geometry::plane::Xy;
use crate::measure::lane::{Lane, Station};
use crate::measure::vehicle::Vehicle;

fn square(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<(Xy, Xy)> {
    let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Xy::new(x, y));
    (0..4).map(|k| (corners[k], corners[(k + 1) % 4])).collect()
}

fn open(switches: &Switches) -> Vec<(usize, f64, f64)> {
    let lane = Lane::straight(Xy::new(-10.0, 0.0), 0.0, 200.0);
    let open = switches.open(&Vehicle::bare(), &lane);
    open.iter()
        .map(|open| (open.section, open.from_m, open.to_m))
        .collect()
}

/// The ground lies to the left of the lane, and under half a metre of the third section: not under its middle.
#[test]
fn a_section_is_open_while_its_middle_is_over_the_ground() {
    let switches = Switches::of(square(0.0, -0.5, 100.0, 20.0), Vec::new());
    assert_eq!(open(&switches), [(0, 10.0, 110.0), (1, 10.0, 110.0)]);
}

/// A bed reaches half a metre under the second section, far from its middle.
#[test]
fn beside_keep_off_ground_all_of_a_section_must_be_clear() {
    let switches = Switches::of(square(0.0, 0.0, 100.0, 20.0), square(40.0, 1.5, 50.0, 1.9));
    assert_eq!(
        open(&switches),
        [(0, 10.0, 110.0), (1, 10.0, 50.0), (1, 60.0, 110.0)]
    );
}

/// Twelve chords of a circle around the origin, the rig driving counter-clockwise: the outermost section lies over ground
/// beyond 13 m only.
#[test]
fn on_a_bent_lane_each_section_switches_where_its_own_middle_is() {
    let station = |k: u32| {
        let angle = f64::from(k) * 0.02;
        crate::measure::lane::Station {
            along_m: f64::from(k) * 0.2,
            at: Xy::at_angle(angle).plus(Xy::at_angle(angle), 9.0),
            heading_rad: angle + std::f64::consts::FRAC_PI_2,
        }
    };
    let lane = Lane {
        stations: (0..=12).map(station).collect(),
        open: Vec::new(),
        either_way: false,
        edge_pass: false,
    };
    // Ground to the right of x = 12: the outer sections, with middles 11 and 13 m from the origin.
    let switches = Switches::of(square(12.0, -50.0, 50.0, 50.0), Vec::new());
    let open = switches.open(&Vehicle::bare(), &lane);
    assert_eq!(open.len(), 1, "{open:?}");
    assert_eq!(open[0].section, 3);
    // 13 cos(angle) = 12 is beyond the lane's end at 0.24 rad.
    assert!((open[0].to_m - 2.4).abs() < 1e-9 && open[0].from_m.abs() < 1e-9);
}

/// A ring with spikes, and a lane of many short steps across it: sections are open where their middles are inside, told by
/// crossings of a ray.
#[test]
fn sections_of_a_bent_lane_are_open_where_their_middles_lie_inside() {
    let ring: Vec<Xy> = (0..24)
        .map(|k| {
            let radius_m = if k % 2 == 0 { 30.0 } else { 14.0 };
            Xy::default().plus(Xy::at_angle(f64::from(k) * 0.261), radius_m)
        })
        .collect();
    let target: Vec<(Xy, Xy)> = (0..24).map(|k| (ring[k], ring[(k + 1) % 24])).collect();
    let inside = |point: Xy| {
        let crossed = target.iter().filter(|(a, b)| {
            (a.y_m > point.y_m) != (b.y_m > point.y_m)
                && point.x_m < a.x_m + (point.y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m)
        });
        crossed.count() % 2 == 1
    };
    // Around a circle of 18 m: every spike is passed.
    let stations: Vec<Station> = (0..=180)
        .map(|k| {
            let turned_rad = f64::from(k) * 0.03;
            Station {
                along_m: f64::from(k) * 18.0 * 0.03,
                at: Xy::default().plus(Xy::at_angle(turned_rad), 18.0),
                heading_rad: turned_rad + std::f64::consts::FRAC_PI_2,
            }
        })
        .collect();
    let lane = Lane {
        stations,
        open: Vec::new(),
        either_way: false,
        edge_pass: false,
    };
    let vehicle = Vehicle::bare();
    let open = Switches::of(target.clone(), Vec::new()).open(&vehicle, &lane);
    let mut wrong = 0;
    for k in 0..4000 {
        let along_m = f64::from(k) / 4000.0 * lane.length_m();
        let here = lane.at(along_m);
        let ahead = Xy::at_angle(here.heading_rad);
        for section in 0..4 {
            let middle = here.at.plus(
                Xy::new(ahead.y_m, -ahead.x_m),
                vehicle.section_middle_m(section),
            );
            let is_open = open.iter().any(|open| {
                open.section == section && open.from_m <= along_m && along_m < open.to_m
            });
            wrong += usize::from(is_open != inside(middle));
        }
    }
    // Sections go straight from station to station: a few places beside an edge differ.
    assert!(wrong < 16_000 / 200, "{wrong}");
    assert!(open.len() > 30, "{}", open.len());
}
