//! A rig as the measuring of lots needs it: its rectangle, where the boom sits, how tightly it turns.

use crate::error::{Error, Result};
use crate::geometry::plane::Xy;
use crate::input::fleet::{Fleet, Rig};
use crate::rig::boom::Boom;

/// A rig's outline with the boom's place in it, seen from the middle of the body. The boom's middle is
/// taken to lie on the body's centre line.
#[derive(Debug, Clone)]
pub struct Vehicle {
    /// Id of the rig.
    pub id: String,
    /// Index in the fleet file.
    pub rig: usize,
    /// Length of the body's rectangle, clearance included, m.
    pub length_m: f64,
    /// Its width, clearance included, m.
    pub width_m: f64,
    /// The body's middle ahead of the rear axle, m.
    pub middle_ahead_m: f64,
    /// The boom ahead of the body's middle, m; negative: behind it.
    pub boom_ahead_m: f64,
    /// Edges of the sections to the right of the boom's middle, left to right, m.
    pub edges_m: Vec<f64>,
    /// The boom rides on a trailer: it does not spray in reverse, and no lane begins backed up.
    pub towed: bool,
    /// Antenna ahead of the boom's line with the rig standing straight, m.
    pub antenna_ahead_m: f64,
    /// Antenna to the right of the boom's middle, m.
    pub antenna_right_m: f64,
    /// Turning radius of the rear axle's middle, m.
    pub radius_m: Option<f64>,
    /// Speed in turns, m/s.
    pub turn_speed_m_s: Option<f64>,
    /// Time lost at a change of gear, s.
    pub gear_change_s: Option<f64>,
}

#[cfg(test)]
impl Vehicle {
    /// A body of 6 m by 2 m with a boom of four sections of 2 m behind it, and nothing else, for tests.
    pub(in crate::measure) fn bare() -> Self {
        Self {
            id: "r".into(),
            rig: 0,
            length_m: 6.0,
            width_m: 2.0,
            middle_ahead_m: 1.0,
            boom_ahead_m: -4.0,
            edges_m: vec![-4.0, -2.0, 0.0, 2.0, 4.0],
            towed: false,
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            radius_m: None,
            turn_speed_m_s: None,
            gear_change_s: None,
        }
    }
}

impl Vehicle {
    /// The rig with this index; `None` where the fleet file has no `body` for it.
    ///
    /// # Errors
    /// A turning circle that the body does not fit in.
    pub fn of(fleet: &Fleet, rig: usize) -> Result<Option<Self>> {
        let known = &fleet.rigs[rig];
        let Some(body) = known.body else {
            return Ok(None);
        };
        let boom = Boom::of(known);
        let clearance_m = fleet.estimate.body_clearance_m;
        let middle_ahead_m = (body.ahead_of_axle_m - body.behind_axle_m) / 2.0;
        let behind_antenna_m = known.hitch.map_or(known.antenna_ahead_m, |hitch| {
            hitch.behind_antenna_m + hitch.to_axle_m + hitch.axle_to_boom_m
        });
        let boom_ahead_of_axle_m = known.axle_m - behind_antenna_m;
        Ok(Some(Self {
            id: known.id.clone(),
            rig,
            length_m: body.ahead_of_axle_m + body.behind_axle_m + 2.0 * clearance_m,
            width_m: body.width_m + 2.0 * clearance_m,
            middle_ahead_m,
            boom_ahead_m: boom_ahead_of_axle_m - middle_ahead_m,
            edges_m: boom.edges_m,
            towed: known.hitch.is_some(),
            antenna_ahead_m: behind_antenna_m,
            antenna_right_m: known.antenna_right_m,
            radius_m: radius_m(known, body.width_m)?,
            turn_speed_m_s: known.turn_speed_m_s,
            gear_change_s: known.gear_change_s,
        }))
    }

    /// Width of the boom, m.
    #[must_use]
    pub fn boom_m(&self) -> f64 {
        self.edges_m[self.edges_m.len() - 1] - self.edges_m[0]
    }

    /// From the boom's middle to its tips, m.
    #[must_use]
    pub fn half_boom_m(&self) -> f64 {
        self.boom_m() / 2.0
    }

    /// The boom behind the front end of the body, m.
    #[must_use]
    pub fn boom_to_front_m(&self) -> f64 {
        self.length_m / 2.0 - self.boom_ahead_m
    }

    /// Middle of a section right of the boom's middle, m.
    #[must_use]
    pub fn section_middle_m(&self, section: usize) -> f64 {
        f64::midpoint(self.edges_m[section], self.edges_m[section + 1])
    }

    /// Number of sections.
    #[must_use]
    pub fn sections(&self) -> usize {
        self.edges_m.len() - 1
    }

    /// Corners of the body's rectangle around its middle, heading along `ahead`, counter-clockwise.
    #[must_use]
    pub fn corners(&self, ahead: Xy) -> [Xy; 4] {
        let left = Xy::new(-ahead.y_m, ahead.x_m);
        let (half_m, side_m) = (self.length_m / 2.0, self.width_m / 2.0);
        [(1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)].map(|(along, across)| {
            Xy::default()
                .plus(ahead, along * half_m)
                .plus(left, across * side_m)
        })
    }
}

/// Turning radius at the middle of the rear axle, from the circle of the outer front wheel: that wheel,
/// the rear axle's line and the turn's centre make a right triangle with the wheelbase as one side
/// (Ackermann steering). The track is taken as the body's width.
fn radius_m(rig: &Rig, width_m: f64) -> Result<Option<f64>> {
    let (Some(circle_m), Some(wheelbase_m)) = (rig.turning_circle_m, rig.wheelbase_m) else {
        return Ok(None);
    };
    let outer_m = circle_m / 2.0;
    let squared_m2 = outer_m * outer_m - wheelbase_m * wheelbase_m;
    let radius_m = squared_m2.max(0.0).sqrt() - width_m / 2.0;
    if squared_m2 <= 0.0 || radius_m <= 0.0 {
        let what = format!(
            "rig \"{}\": a `turning_circle` of {circle_m:.1} m is too small for a wheelbase of \
             {wheelbase_m:.1} m and a width of {width_m:.1} m",
            rig.id
        );
        return Err(Error::new(what).advice(
            "`turning_circle` is the diameter of the circle of the outer front wheel, curb to curb.",
        ));
    }
    Ok(Some(radius_m))
}
