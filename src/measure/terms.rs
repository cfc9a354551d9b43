//! What plans are made by and what they say of themselves.

use super::lane::Lane;
use super::turns::Turning;

/// Sections leave small triangles along slanting edges, half a section deep. Up to this share of the reach lanes of
/// their own cover what sections leave; beyond it only what the whole boom leaves (by trial).
pub(super) const SWITCHED_SHARE: f64 = 0.99;

/// How the lanes of a plan were found.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Manner {
    /// Passes along the edges first.
    pub edge_passes: usize,
    /// Those passes follow bent edges.
    pub bent: bool,
    /// All lanes across in one heading.
    pub one_heading: bool,
    /// Direction of the lanes across, degrees counter-clockwise from the lot's long edge.
    pub direction_deg: f64,
    /// Cut at a reflex corner.
    pub cut: bool,
}

/// What stopping elsewhere takes.
#[derive(Debug, Clone, Copy, serde::Serialize)]
pub struct Stop {
    /// Share of the reach.
    pub share: f64,
    /// Lanes.
    pub lanes: usize,
    /// Their length, m.
    pub length_m: f64,
    /// Time between lanes, s; `None` where turning is not known.
    pub turning_s: Option<f64>,
}

/// What planning needs beside the field.
pub(super) struct Terms {
    pub(super) lap_m: f64,
    /// Spraying speed, m/s; where the fleet file has none, lanes are weighed at that of 6 mph.
    pub(super) speed_m_s: f64,
    pub(super) until: f64,
    pub(super) turning: Option<Turning>,
}

impl Terms {
    /// Seconds that a lane takes with the turn after it, roughly.
    pub(super) fn lane_s(&self, lane: &Lane, spacing_m: f64) -> f64 {
        lane.length_m() / self.speed_m_s + self.turn_s(spacing_m)
    }

    fn turn_s(&self, spacing_m: f64) -> f64 {
        /// Where nothing is known of turning, s: only ranks lanes, never shown (trade judgement).
        const SOME_TURN_S: f64 = 15.0;
        self.turning.map_or(SOME_TURN_S, |turning| {
            let tight = spacing_m < 2.0 * turning.radius_m;
            let way_m = std::f64::consts::PI * turning.radius_m
                + (spacing_m - 2.0 * turning.radius_m).max(0.0);
            way_m / turning.speed_m_s + if tight { 2.0 * turning.gear_s } else { 0.0 }
        })
    }
}
