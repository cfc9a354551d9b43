//! What plans are made to, and what they report of themselves.

use super::field::{Covered, Field};
use super::footprint::Laid;
use super::lane::Lane;
use super::turns::Turning;
use std::sync::Arc;

/// Sections leave small triangles along slanting edges, half a section deep. Up to this share of the reach lanes of their own
/// cover what sections leave; beyond it only what the whole boom leaves. A little over 99 %, since cells are coarser than the
/// areas that are told (by trial).
const SWITCHED_SHARE: f64 = 0.993;
/// A plan that covers this share of the reach leaves nothing worth reporting, whatever was asked for (trade judgement).
const WHOLE_SHARE: f64 = 0.99;
/// Attempts at bettering plans, all sites of a file together: one lot can be searched longer than each of a thousand
/// (limit).
const ALL_ATTEMPTS: usize = 30_000;
/// Attempts a plan: fewest and most (limit).
const ATTEMPTS: [usize; 2] = [20, 300];

/// Cells of all attempts together; on large ground few are made, since each takes long (limit).
const CELLS: u64 = 6_000_000;
/// In a file of more sites than this only the ways whose drafts are good are finished (limit).
const MANY_SITES: usize = 200;

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

/// What stopping at another share takes.
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
#[derive(Clone, Copy)]
pub(super) struct Terms {
    pub(super) lap_m: f64,
    /// Spraying speed, m/s; where the fleet file has none, lanes are weighed at that of 6 mph.
    pub(super) speed_m_s: f64,
    pub(super) until: Until,
    /// Attempts at bettering a finished plan.
    pub(super) attempts: usize,
    /// Every way that is drafted is finished, not only those whose drafts are good.
    pub(super) all_ways: bool,
    pub(super) turning: Option<Turning>,
}

/// Shares of the reach up to which lanes are laid.
#[derive(Debug, Clone, Copy)]
pub(super) struct Until {
    /// By the sections as they switch.
    pub(super) switched: f64,
    /// By the whole boom.
    pub(super) swath: f64,
}

impl Until {
    pub(super) fn share(share: f64) -> Self {
        Self {
            switched: share.min(SWITCHED_SHARE),
            swath: share,
        }
    }

    /// What a plan may leave of the reach, as a share, that is not reported as hand work.
    pub(super) fn may_leave(&self) -> f64 {
        1.0 - self.switched.min(WHOLE_SHARE)
    }

    /// What of each is lacking.
    pub(super) fn lacks(&self, field: &Field, covered: &Covered) -> [f64; 2] {
        let switched = self.switched - field.share(&covered.switched);
        let swath = self.swath - field.share(&covered.swath);
        [switched.max(0.0), swath.max(0.0)]
    }
}

/// Attempts at bettering a plan in a file of so many sites.
pub(super) fn attempts(sites: usize) -> usize {
    (ALL_ATTEMPTS / sites.max(1)).clamp(ATTEMPTS[0], ATTEMPTS[1])
}

/// Whether every way that is drafted is finished in a file of so many sites.
pub(super) fn all_ways(sites: usize) -> bool {
    sites <= MANY_SITES
}

impl Terms {
    /// The same with no more attempts than ground of so many cells allows.
    pub(super) fn on_ground_of(self, cells: u64) -> Self {
        let most = (CELLS / cells.max(1)) as usize;
        Self {
            attempts: self.attempts.min(most),
            ..self
        }
    }

    /// The same with its share of the attempts, where several plans are bettered.
    pub(super) fn shared_by(self, plans: usize) -> Self {
        Self {
            attempts: self.attempts / plans.max(1),
            ..self
        }
    }

    /// Seconds that a lane takes with the turn after it, roughly.
    pub(super) fn lane_s(&self, lane: &Lane, spacing_m: f64) -> f64 {
        lane.length_m() / self.speed_m_s + self.turn_s(spacing_m)
    }

    /// What some lanes take together.
    pub(super) fn lanes_s(&self, lanes: &[Arc<Laid>], spacing_m: f64) -> f64 {
        let each = lanes.iter().map(|laid| self.lane_s(&laid.lane, spacing_m));
        each.sum()
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
