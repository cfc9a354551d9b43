//! Where on a lot some ground lies, as people say it: "north-east corner", "third lane from the west".

use super::strip::{self, Axis};
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::{Plane, Xy};
use crate::site::driving::{NEAREST_LANE, PARALLEL_RAD};
use crate::site::outcome::PassLine;
use std::f64::consts::PI;

/// A point of the compass: eighths of a turn, counter-clockwise from east.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Direction(u8);

impl Direction {
    const NAMES: [&'static str; 8] = [
        "east",
        "north-east",
        "north",
        "north-west",
        "west",
        "south-west",
        "south",
        "south-east",
    ];

    /// The nearest of the eight to a vector on a plane.
    #[must_use]
    pub fn of(vector: Xy, plane: &Plane) -> Self {
        let angle_rad = vector.y_m.atan2(vector.x_m) + plane.turn_rad();
        Self((angle_rad / (PI / 4.0)).round().rem_euclid(8.0) as u8 % 8)
    }

    /// Such as `north-east`.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES[usize::from(self.0 % 8)]
    }
}

/// Where on a zone some ground lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spot {
    /// All of it.
    Whole,
    /// In so many places, in more than one part of it.
    AllOver(usize),
    /// In the corner or at the side that lies there.
    Corner(Direction),
    /// At that side.
    Side(Direction),
    /// Away from all sides.
    Middle,
    /// A lane: its number from that side.
    Lane(usize, Direction),
}

/// A patch at least this share of the zone as long is a lane and not a place (layout).
const LANE_SHARE: f64 = 0.4;
/// Where the patches lie on a zone whose lanes were driven along `lines` with booms of this width.
#[must_use]
pub fn of(
    zone: &Region,
    patches: &[&Region],
    lines: &[PassLine],
    boom_m: f64,
    plane: &Plane,
) -> Spot {
    if let [patch] = patches
        && let Some(lane) = lane(zone, patch, lines, boom_m, plane)
    {
        return lane;
    }
    let extent = zone.extent();
    let parts: Vec<(i8, i8)> = patches.iter().map(|patch| part(&extent, patch)).collect();
    match parts.as_slice() {
        [] => Spot::Whole,
        [first, rest @ ..] if rest.iter().all(|part| part == first) => named(*first, plane),
        _ => Spot::AllOver(patches.len()),
    }
}

/// The ninth of the zone's box in which the middle of a patch lies: -1, 0 or 1 along x and y.
fn part(zone: &Extent, patch: &Region) -> (i8, i8) {
    let patch = patch.extent();
    let third = |of: fn(Xy) -> f64| {
        let (low_m, high_m) = (of(zone.low), of(zone.high));
        let at_m = f64::midpoint(of(patch.low), of(patch.high));
        match (at_m - low_m) / (high_m - low_m) {
            share if share < 1.0 / 3.0 => -1,
            share if share > 2.0 / 3.0 => 1,
            _ => 0,
        }
    };
    (third(|at| at.x_m), third(|at| at.y_m))
}

fn named((x, y): (i8, i8), plane: &Plane) -> Spot {
    let towards = Direction::of(Xy::new(f64::from(x), f64::from(y)), plane);
    match (x, y) {
        (0, 0) => Spot::Middle,
        (0, _) | (_, 0) => Spot::Side(towards),
        _ => Spot::Corner(towards),
    }
}

/// The lane that a long patch is, counted from the nearer side over the lanes driven beside it.
fn lane(
    zone: &Region,
    patch: &Region,
    lines: &[PassLine],
    boom_m: f64,
    plane: &Plane,
) -> Option<Spot> {
    let axis = strip::axis(patch)?;
    let along = axis.ends[1].minus(axis.ends[0]);
    let length_m = along.length_m();
    let size = zone.extent();
    let size = size.high.minus(size.low);
    let long_m = size.x_m.max(size.y_m);
    if length_m < LANE_SHARE * long_m || length_m < strip_shape(&axis) {
        return None;
    }
    let unit = Xy::new(along.x_m / length_m, along.y_m / length_m);
    let left = Xy::new(-unit.y_m, unit.x_m);
    let mut beside: Vec<f64> = lines
        .iter()
        .filter_map(|line| offset_m(&line.middle, &axis, unit))
        .filter(|offset_m| offset_m.abs() > NEAREST_LANE * boom_m)
        .collect();
    beside.sort_by(f64::total_cmp);
    beside.dedup_by(|a, b| *a - *b < NEAREST_LANE * boom_m);
    let right_of = beside.iter().filter(|offset_m| **offset_m < 0.0).count();
    let left_of = beside.len() - right_of;
    (!beside.is_empty()).then(|| {
        if right_of <= left_of {
            let side = Direction::of(Xy::new(-left.x_m, -left.y_m), plane);
            Spot::Lane(right_of + 1, side)
        } else {
            Spot::Lane(left_of + 1, Direction::of(left, plane))
        }
    })
}

/// Least length of a lane as wide as the patch, m.
fn strip_shape(axis: &Axis) -> f64 {
    4.0 * axis.width_m
}

/// How far a line that runs beside the axis lies to the left of it, m; `None` where it does not.
fn offset_m(line: &[Xy], axis: &Axis, unit: Xy) -> Option<f64> {
    let length_m = axis.ends[1].minus(axis.ends[0]).length_m();
    let (mut beside_m, mut weighed) = (0.0, 0.0);
    for pair in line.windows(2) {
        let step = pair[1].minus(pair[0]);
        let step_m = step.length_m();
        if step_m <= 0.0 || step.cross(unit).abs() > step_m * PARALLEL_RAD.sin() {
            continue;
        }
        let [from_m, to_m] = [0, 1].map(|i| pair[i].minus(axis.ends[0]).dot(unit));
        let (low_m, high_m) = (from_m.min(to_m).max(0.0), from_m.max(to_m).min(length_m));
        if high_m > low_m {
            let [a_m, b_m] = [0, 1].map(|i| unit.cross(pair[i].minus(axis.ends[0])));
            beside_m += high_m - low_m;
            weighed += (high_m - low_m) * f64::midpoint(a_m, b_m);
        }
    }
    (beside_m > length_m / 2.0).then(|| weighed / beside_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::place::{Instant, LonLat};

    fn plane(turn_rad: f64) -> Plane {
        let origin = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        Plane::new(origin).unwrap().turned(turn_rad)
    }

    fn rectangle(x_m: (f64, f64), y_m: (f64, f64)) -> Region {
        let ring = [
            (x_m.0, y_m.0),
            (x_m.1, y_m.0),
            (x_m.1, y_m.1),
            (x_m.0, y_m.1),
        ];
        let ring = ring.map(|(x, y)| Xy::new(x, y));
        Region::inside_any([ring.as_slice()])
    }

    fn lanes(centres_m: &[f64]) -> Vec<PassLine> {
        let line = |&y_m: &f64| PassLine {
            leg: 0,
            start: Instant(0),
            end: Instant(0),
            reverse: false,
            middle: vec![Xy::new(1.0, y_m), Xy::new(89.0, y_m)],
        };
        centres_m.iter().map(line).collect()
    }

    /// Lanes of 4 m on a lot of 90 by 40 m, its x axis to the east; the third from the south is bare.
    #[test]
    fn a_bare_lane_is_counted_from_the_nearer_side() {
        let zone = rectangle((0.0, 90.0), (0.0, 40.0));
        let driven: Vec<f64> = (0..10)
            .filter(|n| *n != 2)
            .map(|n| 2.0 + 4.0 * f64::from(n))
            .collect();
        let bare = rectangle((3.0, 87.0), (8.2, 11.8));
        let spot =
            |turn_rad: f64| of(&zone, &[&bare], &lanes(&driven), 4.0, &plane(turn_rad)).say();
        assert_eq!(spot(0.0), "Lane(3, south)");
        // The x axis to the north: what lay south lies east.
        assert_eq!(spot(PI / 2.0), "Lane(3, east)");
        let high = rectangle((3.0, 87.0), (36.2, 39.8));
        let spot = of(&zone, &[&high], &lanes(&driven[..8]), 4.0, &plane(0.0)).say();
        assert_eq!(spot, "Lane(1, north)");
    }

    #[test]
    fn places_are_named_by_the_compass() {
        let zone = rectangle((0.0, 90.0), (0.0, 60.0));
        let spot = |patches: &[&Region], turn_rad: f64| {
            of(&zone, patches, &[], 4.0, &plane(turn_rad)).say()
        };
        let corner = rectangle((80.0, 86.0), (50.0, 58.0));
        assert_eq!(spot(&[&corner], 0.0), "Corner(north-east)");
        // An eighth of a turn to the left: what lay north-east lies north.
        assert_eq!(spot(&[&corner], PI / 4.0), "Corner(north)");
        let side = rectangle((2.0, 6.0), (25.0, 35.0));
        assert_eq!(spot(&[&side], 0.0), "Side(west)");
        assert_eq!(
            spot(&[&rectangle((43.0, 48.0), (28.0, 33.0))], 0.0),
            "Middle"
        );
        assert_eq!(spot(&[&corner, &side], 0.0), "AllOver(2)");
        assert_eq!(
            spot(&[&corner, &rectangle((70.0, 76.0), (50.0, 58.0))], 0.0),
            "Corner(north-east)"
        );
    }

    impl Spot {
        fn say(self) -> String {
            match self {
                Self::Corner(direction) => format!("Corner({})", direction.name()),
                Self::Side(direction) => format!("Side({})", direction.name()),
                Self::Lane(number, direction) => format!("Lane({number}, {})", direction.name()),
                other => format!("{other:?}"),
            }
        }
    }
}
