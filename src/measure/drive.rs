//! Lanes as they would be logged: a point at every switch and bend, and at least one a second between them.

use super::lane::{Lane, Open, Station};
use super::vehicle::Vehicle;
use crate::geometry::plane::{Plane, Xy};
use crate::rig::boom::Sections;
use crate::site::planned::{PlannedLane, PlannedPoint};

/// Points at least this often, s (tolerance).
const INTERVAL_S: f64 = 1.0;
/// Switches this near to each other are one, m (tolerance).
const SAME_M: f64 = 1e-5;

/// The points of a lane; all sections are closed at the last one.
pub(super) fn driven(plane: &Plane, vehicle: &Vehicle, speed_m_s: f64, lane: &Lane) -> PlannedLane {
    let mut at_m: Vec<f64> = lane
        .stations
        .iter()
        .map(|station| station.along_m)
        .collect();
    at_m.extend(lane.open.iter().flat_map(|open| [open.from_m, open.to_m]));
    at_m.extend(beside_bends(lane));
    at_m.sort_by(f64::total_cmp);
    at_m.dedup_by(|next, kept| *next - *kept < SAME_M);
    let mut all_m: Vec<f64> = Vec::new();
    for pair in at_m.windows(2) {
        let step_m = pair[1] - pair[0];
        let count = (step_m / speed_m_s / INTERVAL_S).ceil().max(1.0);
        all_m.extend((0..count as usize).map(|k| pair[0] + step_m * k as f64 / count));
    }
    all_m.extend(at_m.last());
    let count = all_m.len();
    let point = |(k, along_m): (usize, f64)| {
        let station = lane.at(along_m);
        let ahead = Xy::at_angle(station.heading_rad);
        let right = Xy::new(ahead.y_m, -ahead.x_m);
        let antenna = station
            .at
            .plus(ahead, vehicle.antenna_ahead_m)
            .plus(right, vehicle.antenna_right_m);
        let place = plane.to_lon_lat(antenna);
        PlannedPoint {
            after_s: along_m / speed_m_s,
            place,
            heading_rad: station.heading_rad - plane.angle_offset_rad(place),
            open: if k + 1 < count {
                open(lane, along_m)
            } else {
                0
            },
        }
    };
    PlannedLane {
        points: all_m.into_iter().enumerate().map(point).collect(),
    }
}

/// Places on the straight side of where a bend begins or ends. The antenna rides ahead of the axle, so its path has a corner
/// there; a reader of the file draws no curve over so short a step, and none across the corner.
fn beside_bends(lane: &Lane) -> Vec<f64> {
    /// Shorter than a step that has a direction of its own, m (tolerance).
    const BESIDE_M: f64 = 0.1;
    /// Headings this near to each other are one (tolerance).
    const SAME_RAD: f64 = 1e-9;
    let turns = |pair: &[Station]| (pair[1].heading_rad - pair[0].heading_rad).abs() > SAME_RAD;
    let places = lane.stations.windows(3).filter_map(|three| {
        let (before, after) = (turns(&three[..2]), turns(&three[1..]));
        let at_m = if after { -BESIDE_M } else { BESIDE_M };
        (before != after).then_some(three[1].along_m + at_m)
    });
    places
        .filter(|along_m| *along_m > 0.0 && *along_m < lane.length_m())
        .collect()
}

/// Sections open from this place of a lane on.
fn open(lane: &Lane, along_m: f64) -> Sections {
    let covers = |open: &&Open| open.from_m <= along_m + SAME_M && open.to_m > along_m + SAME_M;
    lane.open
        .iter()
        .filter(covers)
        .fold(0, |sections, open| sections | 1 << open.section)
}
