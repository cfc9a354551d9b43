//! Step 4 of the flow: where the antenna was between fixes, and which way rig and boom pointed.
//!
//! The antenna's path is a smooth curve: a cubic Hermite by time whose tangent at a fix is the mean
//! of its two chord angles, each weighted with the other chord's length, and whose tangent length is
//! L (1 + turn^2 / 24) (the arc over the chord of a circle, to second order). It is straight where a
//! curve would be invented: at sharp joints, over tiny steps, when nearly standing ([`curve`]).
//!
//! The rig does not point where its antenna moves. Its heading follows the rear axle: for a step of
//! length s in direction c, with the antenna d ahead of the axle, psi' = c + 2 atan(tan((psi - c) / 2)
//! e^(-s/d)). That is the exact solution of the tractrix of a point pulled along a straight line
//! ([`heading`]). A boom on a trailer follows a second one, pulled by the hitch ([`towed`]).
//!
//! Which gear the rig is in comes from a logged heading ([`logged`]), else from the motion ([`gear`]).
//!
//! Angles are counter-clockwise from true east until [`crate::site::swath`] turns them into a plane.

pub mod curve;
pub mod gear;
pub mod heading;
pub mod logged;
mod motion;
pub mod towed;

pub use curve::Curve;
pub use motion::Motion;

use crate::rig::boom::Boom;
use crate::rig::track::Track;

/// A track with its curve and headings.
#[derive(Debug, Clone)]
pub struct Posed {
    /// Of each step.
    pub curves: Vec<Curve>,
    /// Of each fix: where the rig points.
    pub heading_rad: Vec<f64>,
    /// The heading comes from the log, not from the motion, and the gear with it.
    pub heading_logged: bool,
    /// Of each fix: where the trailer points; empty without one.
    pub trailer_rad: Vec<f64>,
    /// Of each step: nobody knows well where the boom was, since a towed one went backward in a turn, or
    /// since the gear is uncertain; empty where there is none.
    pub unsure: Vec<bool>,
}

impl Posed {
    /// How forward was told from reverse, as in `audit.json`.
    #[must_use]
    pub fn gear_from(&self) -> &'static str {
        if self.heading_logged {
            "heading"
        } else {
            "motion"
        }
    }

    /// Nobody knows well where the boom was over this step.
    #[must_use]
    pub fn is_unsure(&self, step: usize) -> bool {
        self.unsure.get(step).copied().unwrap_or(false)
    }
}

/// Curve and headings of a whole track.
#[must_use]
pub fn pose(track: &Track, boom: &Boom) -> Posed {
    posed(track, boom, false)
}

/// The same of a plan: what it says of its headings is true, however little they tell from the motion.
#[must_use]
pub fn pose_of_plan(track: &Track, boom: &Boom) -> Posed {
    posed(track, boom, true)
}

fn posed(track: &Track, boom: &Boom, planned: bool) -> Posed {
    let mut posed = Posed {
        curves: track.steps.iter().map(curve::straight).collect(),
        heading_rad: vec![0.0; track.fixes.len()],
        heading_logged: false,
        trailer_rad: Vec::new(),
        unsure: Vec::new(),
    };
    let mut gear_unsure = Vec::new();
    for stretch in track.stretches() {
        curve::bend(track, &mut posed.curves, stretch.clone());
        gear_unsure.extend(gear::infer(track, &mut posed.curves, stretch));
    }
    posed.heading_logged = planned || logged::is_heading(track, &posed.curves);
    if !posed.heading_logged && (boom.hitch.is_some() || !gear_unsure.is_empty()) {
        posed.unsure = vec![false; posed.curves.len()];
        for steps in gear_unsure {
            posed.unsure[steps].fill(true);
        }
    }
    for stretch in track.stretches() {
        let taken = posed.heading_logged && logged::take(track, &mut posed, stretch.clone());
        if !taken {
            heading::pull(track, &mut posed, boom.axle_m, stretch);
        }
    }
    if let Some(hitch) = boom.hitch {
        towed::follow(track, &mut posed, boom, hitch);
    }
    posed
}

#[cfg(test)]
mod tests;
