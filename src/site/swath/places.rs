//! Where the boom was at the points of a step, on the vehicle or on a trailer. Nothing after this
//! knows the difference.

use super::OnPlane;
use crate::geometry::plane::Xy;
use crate::rig::boom::Boom;
use crate::rig::pose::heading::{self, Path};
use crate::rig::pose::towed;
use crate::site::leg::{Leg, LegFix};
use smallvec::SmallVec;

/// A boom position with all section edges worked out.
pub(in crate::site) struct BoomLine {
    /// Unit vector in which the boom points.
    pub(in crate::site) heading: Xy,
    /// Edges of the sections, left to right.
    pub(in crate::site) edges: SmallVec<[Xy; 9]>,
}

impl BoomLine {
    fn new(centre: Xy, heading_rad: f64, boom: &Boom) -> Self {
        let heading = Xy::at_angle(heading_rad);
        let right = Xy::new(heading.y_m, -heading.x_m);
        Self {
            heading,
            edges: boom
                .edges_m
                .iter()
                .map(|&m| centre.plus(right, m))
                .collect(),
        }
    }

    /// The boom of a vehicle.
    fn carried(antenna: Xy, heading_rad: f64, boom: &Boom) -> Self {
        let ahead = Xy::at_angle(heading_rad);
        let right = Xy::new(ahead.y_m, -ahead.x_m);
        let centre = antenna
            .plus(ahead, -boom.antenna_ahead_m)
            .plus(right, -boom.antenna_right_m);
        Self::new(centre, heading_rad, boom)
    }

    /// The boom of a trailer whose hitch point is `back_m` ahead of its centre.
    fn towed(hitch: Xy, back_m: f64, trailer_rad: f64, boom: &Boom) -> Self {
        let centre = hitch.plus(Xy::at_angle(trailer_rad), -back_m);
        Self::new(centre, trailer_rad, boom)
    }
}

/// Where the boom was in one driven step. Most steps are straight, with two positions.
pub(in crate::site) struct BoomPlaces {
    /// Shares of the step's time.
    pub(in crate::site) us: SmallVec<[f64; 8]>,
    /// A position at each.
    pub(in crate::site) lines: SmallVec<[BoomLine; 3]>,
}

/// The boom of a rig that stands in line.
pub(super) fn in_line(antenna: Xy, heading_rad: f64, boom: &Boom) -> BoomLine {
    let line = BoomLine::carried(antenna, heading_rad, boom);
    let behind_m = boom.hitch.map_or(0.0, |hitch| {
        hitch.behind_antenna_m + hitch.to_axle_m + hitch.axle_to_boom_m
    });
    let back = |edge: &Xy| edge.plus(line.heading, -behind_m);
    BoomLine {
        edges: line.edges.iter().map(back).collect(),
        ..line
    }
}

/// Boom positions of one driven step, at sub-steps and at every change of the timeline.
pub(super) fn of_step(leg: &OnPlane, i: usize) -> BoomPlaces {
    let boom = &leg.leg.boom;
    let us = shares(leg.leg, i);
    let antenna = antenna_path(leg, i, &us);
    // Each end with the offset of its own fix, so that a step ends just where the next one begins.
    let ends = |rad: fn(&LegFix) -> f64| {
        let [from, to] = [i, i + 1].map(|fix| rad(&leg.leg.fixes[fix]) + leg.offset_rad[fix]);
        (from, to)
    };
    let logged = leg.leg.decided.heading_logged;
    let heading_rad = ends(|fix| fix.heading_rad);
    let headings = heading::within(
        &antenna,
        us.iter().copied(),
        heading_rad,
        logged,
        boom.axle_m,
    );
    let xy = |&(x_m, y_m): &(f64, f64)| Xy::new(x_m, y_m);
    let lines = match boom.hitch {
        None => {
            let places = antenna.points.iter().map(xy).zip(&headings);
            places
                .map(|(at, &rad)| BoomLine::carried(at, rad, boom))
                .collect()
        }
        Some(hitch) => {
            let path = towed::hitch_path(&antenna, &headings, boom, hitch);
            let trailer = towed::within(&path, ends(|fix| fix.trailer_rad), hitch);
            let back_m = hitch.to_axle_m + hitch.axle_to_boom_m;
            let places = path.points.iter().map(xy).zip(&trailer);
            places
                .map(|(at, &rad)| BoomLine::towed(at, back_m, rad, boom))
                .collect()
        }
    };
    BoomPlaces { us, lines }
}

/// Shares of a step's time at which the boom is looked at.
fn shares(leg: &Leg, i: usize) -> SmallVec<[f64; 8]> {
    let count = leg.steps[i].curve.sub_steps;
    let even = (0..=count).map(|n| f64::from(n) / f64::from(count));
    let changes = leg.of_step(i).iter().skip(1);
    let mut us: SmallVec<[f64; 8]> = even
        .chain(changes.map(|span| f64::from(span.from_u)))
        .collect();
    us.sort_by(f64::total_cmp);
    us.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    us
}

fn antenna_path(leg: &OnPlane, i: usize, us: &[f64]) -> Path {
    let curve = &leg.leg.steps[i].curve;
    let [from, to] = [i, i + 1].map(|fix| (leg.xy[fix].x_m, leg.xy[fix].y_m));
    Path {
        points: us
            .iter()
            .map(|&u| curve.at(u, from, to, leg.offset_rad[i]))
            .collect(),
        motion: curve.motion,
    }
}
