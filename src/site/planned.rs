//! The maker of legs from a plan: what a rig would do on a site if it drove its lanes as planned.
//!
//! Times are made up, positions and switches exact; nothing lies between two lanes. The engine treats such a leg as any
//! other ([`super::treat`]): what a plan covers is never computed a second way.

use super::leg::{Decided, Leg, LegFix, LegLink, LegSpan, LegStep, NO_PASS, Perhaps, Presence};
use super::passes;
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::{Plane, Xy};
use crate::rig::boom::{Boom, Sections};
use crate::rig::meter::MeteredBy;
use crate::rig::pose::{Curve, Motion};
use crate::rig::position::PositionFrom;

/// Between two lanes, s: longer than a break within a pass (tolerance).
const BETWEEN_S: f64 = 30.0;

/// A place on a lane, and what is open from there on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedPoint {
    /// After the lane's beginning, s.
    pub after_s: f64,
    /// The antenna.
    pub place: LonLat,
    /// Where the vehicle points, counter-clockwise from true east, rad.
    pub heading_rad: f64,
    /// Open up to the next point.
    pub open: Sections,
}

/// One lane of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedLane {
    /// In driving order; nothing is open at the last one.
    pub points: Vec<PlannedPoint>,
}

/// The leg of a plan's lanes on a site, in driving order.
#[must_use]
pub fn leg(boom: Boom, plane: &Plane, lanes: &[PlannedLane]) -> Leg {
    let mut leg = Leg::empty(0, boom, DECIDED);
    let mut start = Instant(0);
    for lane in lanes {
        let Some(end) = lane.points.last() else {
            continue;
        };
        if !leg.fixes.is_empty() {
            leg.add_step(LegStep::idle(LegLink::Apart));
        }
        let xy: Vec<Xy> = lane
            .points
            .iter()
            .map(|point| plane.to_xy(point.place).unwrap_or_default())
            .collect();
        for (k, point) in lane.points.iter().enumerate() {
            if k > 0 {
                let from = &lane.points[k - 1];
                let offset_rad = plane.angle_offset_rad(from.place);
                add_driven(&mut leg, xy[k].minus(xy[k - 1]), offset_rad, from.open);
            }
            leg.fixes.push(fix(start, point));
        }
        start = start.plus_seconds(end.after_s + BETWEEN_S);
    }
    if !leg.fixes.is_empty() {
        leg.presences.push(Presence {
            fixes: 0..leg.fixes.len(),
        });
    }
    passes::split(&mut leg);
    leg
}

/// Everything about a plan is known.
const DECIDED: Decided = Decided {
    position_m: 0.01,
    position_from: PositionFrom::Fleet,
    coarse_interval_s: None,
    metered_by: MeteredBy::Nothing,
    least_dry_m2: Some(0.0),
    has_gun: false,
    planned: true,
    heading_logged: true,
};

fn fix(start: Instant, point: &PlannedPoint) -> LegFix {
    LegFix {
        time: start.plus_seconds(point.after_s),
        place: point.place,
        heading_rad: point.heading_rad,
        trailer_rad: point.heading_rad,
        product: None,
        set_rate_ml_m2: Perhaps::UNKNOWN,
        in_yard: false,
        here: true,
        extra_m: 0.0,
    }
}

/// A straight step over a way on the plane, with these sections open.
fn add_driven(leg: &mut Leg, way: Xy, offset_rad: f64, open: Sections) {
    let chord_rad = way.y_m.atan2(way.x_m) - offset_rad;
    leg.spans.push(LegSpan {
        step: leg.steps.len() as u32,
        from_u: 0.0,
        to_u: 1.0,
        open,
        masked: 0,
        wet: open != 0,
        litres: 0.0,
        pass: NO_PASS,
        switched_within_s: Perhaps::UNKNOWN,
    });
    let curve = Curve {
        start_rad: chord_rad,
        end_rad: chord_rad,
        chord_rad,
        sub_steps: 1,
        motion: Motion::Forward,
    };
    leg.add_step(LegStep {
        link: LegLink::Driven,
        length_m: way.length_m(),
        curve,
        unsure: false,
    });
}
