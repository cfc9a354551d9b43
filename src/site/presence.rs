//! When a run was at which site.
//!
//! A presence starts within 10 m of a site's zones and ends after 5 minutes away from them, or at another
//! site. A rig that falls silent at the site and wakes up in the same place never left. Whether a presence
//! is a visit, and of which kind, is for the site to say.

use super::near::Near;
use crate::rig::track::{Link, Track};
use std::ops::Range;

/// A rig this near to a site's zones is there, m (trade judgement).
pub const ARRIVE_M: f32 = 10.0;
/// A rig that was away this long has left, s (trade judgement).
const AWAY_S: f64 = 300.0;
/// A rig this near to a site's line is on its ground, m: on a line that two sites share, the rounding of either's
/// plane, and so of ground that is not the site's, would say whose it is (tolerance).
const ON_LINE_M: f32 = 1e-3;
/// Mark for "no site" (arithmetic).
const NOWHERE: u32 = u32::MAX;

/// Of each fix of a run: the site it is nearest to, of those within sight, and how near.
#[derive(Debug, Clone)]
pub struct Whereabouts {
    nearest: Vec<u32>,
    distance_m: Vec<f32>,
    /// In a yard.
    pub in_yard: Vec<bool>,
}

impl Whereabouts {
    /// Brings together what the sites saw of a run: (site, stretch), in the order of the sites.
    #[must_use]
    pub fn of(fixes: usize, nears: &[(usize, Near)]) -> Self {
        let mut all = Self {
            nearest: vec![NOWHERE; fixes],
            distance_m: vec![f32::INFINITY; fixes],
            in_yard: vec![false; fixes],
        };
        for (site, near) in nears {
            for (k, i) in near.fixes().enumerate() {
                let distance_m = near.distance_m[k];
                let distance_m = if distance_m < ON_LINE_M {
                    0.0
                } else {
                    distance_m
                };
                // The first site in the file wins a tie.
                if distance_m < all.distance_m[i] {
                    (all.nearest[i], all.distance_m[i]) = (*site as u32, distance_m);
                }
                all.in_yard[i] |= near.in_yard[k];
            }
        }
        all
    }

    /// The nearest site in sight at a fix.
    #[must_use]
    pub fn nearest(&self, fix: usize) -> Option<usize> {
        (self.nearest[fix] != NOWHERE).then_some(self.nearest[fix] as usize)
    }

    /// The site that the run was at.
    #[must_use]
    pub fn site_at(&self, fix: usize) -> Option<usize> {
        self.nearest(fix)
            .filter(|_| self.distance_m[fix] <= ARRIVE_M)
    }
}

/// The presences of one run, in order of time: site, and fixes from arrival to departure.
#[must_use]
pub fn presences(track: &Track, whereabouts: &Whereabouts) -> Vec<(usize, Range<usize>)> {
    let mut presences = Vec::new();
    let mut open: Option<(usize, Range<usize>)> = None;
    for i in 0..track.fixes.len() {
        let here = whereabouts.site_at(i);
        if let Some((site, fixes)) = &mut open {
            let left = track.fixes[fixes.end - 1].time;
            let away_s = track.fixes[i].time.seconds_since(left);
            // A logger that goes quiet while its rig is parked says nothing for hours; the rig stayed.
            let parked = fixes.end == i && track.steps[i - 1].link == Link::Parking;
            if here == Some(*site) && (away_s <= AWAY_S || parked) {
                fixes.end = i + 1;
                continue;
            }
            if here.is_none() && away_s <= AWAY_S {
                continue;
            }
            presences.extend(open.take());
        }
        open = here.map(|site| (site, i..i + 1));
    }
    presences.extend(open);
    presences
}
