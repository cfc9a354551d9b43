//! One direction of driving, with the edges of its places and of the target ready at hand: where lanes along it can lie
//! and what is open on them.

use super::lane::{LEAST_OPEN_M, Open};
use super::minkowski::edges;
use super::reach::Way;
use super::rows::Rows;
use super::switches::{Switches, within_band, without};
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use std::f64::consts::PI;

/// Which way a lane is driven, seen along that direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Toward {
    /// Along the heading.
    Ahead,
    /// Against it.
    Back,
}

impl Toward {
    /// The other way.
    pub(super) fn turned(self) -> Self {
        match self {
            Self::Ahead => Self::Back,
            Self::Back => Self::Ahead,
        }
    }
}

/// One direction of driving, with the edges of its places and of the target ready at hand.
pub(super) struct Line {
    pub(super) heading_rad: f64,
    /// Places of the boom's middle: ahead, then back.
    places: [Rows; 2],
    /// Least and greatest place across the way, m left of the plane's origin; ahead, then back.
    reach_across_m: [Option<(f64, f64)>; 2],
    target: Rows,
    strict: Rows,
}

impl Line {
    pub(super) fn of(way: &Way, switches: &Switches) -> Self {
        let rows = |region: &Region| Rows::of(&edges(region), way.heading_rad);
        let places = [rows(&way.ahead), rows(&way.back)];
        Self {
            heading_rad: way.heading_rad,
            reach_across_m: [places[0].spread_m(), places[1].spread_m()],
            places,
            target: Rows::of(&switches.target, way.heading_rad),
            strict: Rows::of(&switches.strict, way.heading_rad),
        }
    }

    pub(super) fn places(&self, toward: Toward) -> &Rows {
        &self.places[toward as usize]
    }

    /// The offset nearest to `offset_m` at which the boom's middle can be at all.
    pub(super) fn possible_m(&self, toward: Toward, offset_m: f64) -> Option<f64> {
        let (low_m, high_m) = self.reach_across_m[toward as usize]?;
        // Just inside: on the line itself there is no stretch.
        let slack_m = 1e-4_f64.min((high_m - low_m) / 2.0);
        Some(offset_m.clamp(low_m + slack_m, high_m - slack_m))
    }

    /// What is open on a whole line of the boom's middle, along the way's own heading.
    pub(super) fn open(&self, vehicle: &Vehicle, toward: Toward, offset_m: f64) -> Vec<Open> {
        let mut open = Vec::with_capacity(vehicle.sections());
        for section in 0..vehicle.sections() {
            let left_m = match toward {
                Toward::Ahead => -vehicle.section_middle_m(section),
                Toward::Back => vehicle.section_middle_m(section),
            };
            let half_m = (vehicle.edges_m[section + 1] - vehicle.edges_m[section]) / 2.0;
            let middle_m = offset_m + left_m;
            let (low_m, high_m) = (middle_m - half_m, middle_m + half_m);
            let mut inside = self.target.stretches(middle_m);
            self.strict.each_in(low_m, high_m, |a, b| {
                if let Some((from_m, to_m)) = within_band(a, b, low_m, high_m) {
                    inside = without(&inside, from_m, to_m);
                }
            });
            open.extend(inside.into_iter().map(|(from_m, to_m)| Open {
                section,
                from_m,
                to_m,
            }));
        }
        open
    }
}

/// To the left of a heading.
pub(super) fn across(heading_rad: f64) -> Xy {
    Xy::at_angle(heading_rad + PI / 2.0)
}

/// Openings of a line cut to a part of it, in metres from the lane's beginning.
pub(super) fn clipped(open: &[Open], toward: Toward, from_m: f64, to_m: f64) -> Vec<Open> {
    let clip = |open: &Open| {
        let (a, b) = (open.from_m.max(from_m), open.to_m.min(to_m));
        let (from_m, to_m) = match toward {
            Toward::Ahead => (a - from_m, b - from_m),
            Toward::Back => (to_m - b, to_m - a),
        };
        Open {
            section: open.section,
            from_m,
            to_m,
        }
    };
    open.iter()
        .map(clip)
        .filter(|open| open.to_m - open.from_m >= LEAST_OPEN_M)
        .collect()
}
