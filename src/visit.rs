//! Step 7b of the flow: when each run was at which site.
//!
//! A visit starts within 10 m of a site's zones and ends after 5 minutes away from them, or at
//! another site. A rig that falls silent at the site and wakes up in the same place never left. It is treating with 10 s or more of spraying; under a minute without, it is no visit.

use crate::near::Near;
use crate::place::Instant;
use crate::result::VisitKind;
use crate::run::Run;
use crate::track::Link;
use std::ops::Range;

/// A rig this near to a site's zones is there, m.
pub const ARRIVE_M: f32 = 10.0;
/// A rig that was away this long has left, s.
const AWAY_S: f64 = 300.0;
/// Spraying this long makes a visit a treating one, s.
const TREATING_S: f64 = 10.0;
/// Without spraying, a shorter presence is passing by, s.
const PASSING_S: f64 = 60.0;
/// Mark for "no site".
pub const NOWHERE: u32 = u32::MAX;

/// One rig's unbroken presence at a site.
#[derive(Debug, Clone)]
pub struct Visit {
    /// Index of the run.
    pub run: usize,
    /// Index of the site.
    pub site: usize,
    /// Fixes from arrival to departure.
    pub fixes: Range<usize>,
    /// Kind.
    pub kind: VisitKind,
    /// Spraying time, s.
    pub wet_s: f64,
    /// First and last liquid on the ground.
    pub spraying: Option<(Instant, Instant)>,
}

/// Of each fix of a run: the site it is nearest to, of those within sight, and whether it has arrived.
#[derive(Debug, Clone)]
pub struct Whereabouts {
    /// Nearest site in sight, or [`NOWHERE`].
    pub nearest: Vec<u32>,
    /// Distance to it, m.
    pub distance_m: Vec<f32>,
    /// In a yard.
    pub in_yard: Vec<bool>,
}

/// Brings together what all sites saw of one run. `nears` of each site, in the order of sites.
#[must_use]
pub fn whereabouts(run_index: usize, run: &Run, nears: &[Vec<Near>]) -> Whereabouts {
    let count = run.track.fixes.len();
    let mut where_ = Whereabouts {
        nearest: vec![NOWHERE; count],
        distance_m: vec![f32::INFINITY; count],
        in_yard: vec![false; count],
    };
    for (site, of_site) in nears.iter().enumerate() {
        for near in of_site.iter().filter(|near| near.run == run_index) {
            for (k, i) in near.fixes().enumerate() {
                // The first site in the file wins a tie.
                if near.distance_m[k] < where_.distance_m[i] {
                    where_.nearest[i] = site as u32;
                    where_.distance_m[i] = near.distance_m[k];
                }
                where_.in_yard[i] |= near.in_yard[k];
            }
        }
    }
    where_
}

/// The visits of one run, in order of time.
#[must_use]
pub fn visits(run_index: usize, run: &Run, where_: &Whereabouts) -> Vec<Visit> {
    let mut visits = Vec::new();
    let mut open: Option<(u32, Range<usize>)> = None;
    for i in 0..run.track.fixes.len() {
        let here = where_.nearest[i] != NOWHERE && where_.distance_m[i] <= ARRIVE_M;
        if let Some((site, fixes)) = &mut open {
            let away_s = run.track.fixes[i]
                .time
                .seconds_since(run.track.fixes[fixes.end - 1].time);
            // A logger that goes quiet while its rig is parked says nothing for hours; the rig stayed.
            let parked = fixes.end == i && run.track.steps[i - 1].link == Link::Parking;
            if here && where_.nearest[i] == *site && (away_s <= AWAY_S || parked) {
                fixes.end = i + 1;
                continue;
            }
            if !here && away_s <= AWAY_S {
                continue;
            }
            visits.extend(judged(run_index, run, where_, *site, fixes.clone()));
            open = None;
        }
        if here {
            open = Some((where_.nearest[i], i..i + 1));
        }
    }
    if let Some((site, fixes)) = open {
        visits.extend(judged(run_index, run, where_, site, fixes));
    }
    visits
}

/// The visit, unless the rig only passed by.
fn judged(
    run_index: usize,
    run: &Run,
    where_: &Whereabouts,
    site: u32,
    fixes: Range<usize>,
) -> Option<Visit> {
    let mut wet_s = 0.0;
    let mut spraying: Option<(Instant, Instant)> = None;
    let there = |i: &usize| where_.nearest[*i] == site && where_.distance_m[*i] <= ARRIVE_M;
    for i in (fixes.start..fixes.end.min(run.track.steps.len())).filter(there) {
        for span in run.timeline.of_step(i).iter().filter(|span| span.wet) {
            wet_s += span.share_of_step() * run.track.steps[i].seconds;
            let (from, to) = (run.at(i, span.from_u), run.at(i, span.to_u));
            spraying = Some(spraying.map_or((from, to), |(first, _)| (first, to)));
        }
    }
    let stay_s = run.track.fixes[fixes.end - 1]
        .time
        .seconds_since(run.track.fixes[fixes.start].time);
    let kind = if wet_s >= TREATING_S || (run.planned && wet_s > 0.0) {
        VisitKind::Treating
    } else {
        VisitKind::Present
    };
    let counts = kind == VisitKind::Treating || wet_s > 0.0 || stay_s >= PASSING_S;
    counts.then_some(Visit {
        run: run_index,
        site: site as usize,
        fixes,
        kind,
        wet_s,
        spraying,
    })
}
