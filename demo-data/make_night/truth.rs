//! Step 6: what really happened to each zone, from the true boom and the true valve times.

use crate::grid::Grid;
use crate::ground::{self, Zone};
use making::motion::Motion;
use making::pump::{Pumped, within};

/// The audit's rules for patches and for a zone's edge (its documented defaults).
const PATCH_RADIUS_M: f64 = 0.5;
pub(crate) const SMALLEST_PATCH_M2: f64 = 10.0;
const EDGE_M: f64 = 1.0;

/// One zone after one treatment.
pub(crate) struct ZoneTruth {
    pub site: &'static str,
    pub zone: &'static str,
    pub by_boom: bool,
    pub ground: Grid,
    pub treated: Grid,
    pub overlap_m2: f64,
    /// Wetted only while the log was silent.
    pub unlogged: Grid,
    pub patches: Vec<Grid>,
    /// Treated share of the ground farther than 1 m inside the line.
    pub core_share: f64,
}

/// The truth about a site from the outings that treated it together.
pub(crate) fn of_site(site: &str, outings: &[(&Motion, &Pumped)]) -> Vec<ZoneTruth> {
    let zones: Vec<Zone> = ground::zones()
        .into_iter()
        .filter(|zone| zone.site == site)
        .collect();
    let corners_m: Vec<(f64, f64)> = zones.iter().flat_map(|zone| zone.ring_m.clone()).collect();
    let frame = Grid::around(&corners_m);
    let (times, silent) = paint(site, &frame, outings);
    let mut taken = frame.clone();
    let mut truths = Vec::new();
    // Keep-off and blocked ground is cut out of the rest, walks out of drives, drives out of lots.
    for rank in ["keep_off", "blocked", "walk", "drive", "lot"] {
        for zone in zones.iter().filter(|zone| zone.land_use == rank) {
            let mut ground = frame.clone();
            ground.fill(&zone.ring_m, |cell, index| *cell = !taken.cells[index]);
            for (taken, &cell) in taken.cells.iter_mut().zip(&ground.cells) {
                *taken |= cell;
            }
            truths.push(zone_truth(zone, ground, &times, &silent));
        }
    }
    truths
}

fn zone_truth(zone: &Zone, ground: Grid, times: &[u8], silent: &Grid) -> ZoneTruth {
    let inside = ground.eroded(EDGE_M, false);
    let treated = ground.select(|i| ground.cells[i] && times[i] > 0);
    let unlogged = ground.select(|i| ground.cells[i] && times[i] == 0 && silent.cells[i]);
    let gap = ground.select(|i| ground.cells[i] && times[i] == 0 && !silent.cells[i]);
    let overlap_m2 = ground.select(|i| ground.cells[i] && times[i] > 1).area_m2();
    let inside_treated = inside.select(|i| inside.cells[i] && treated.cells[i]);
    ZoneTruth {
        site: zone.site,
        zone: zone.zone,
        by_boom: !["keep_off", "blocked"].contains(&zone.land_use) && zone.method != Some("hand"),
        core_share: inside_treated.area_m2() / inside.area_m2(),
        patches: gap.pieces(PATCH_RADIUS_M, SMALLEST_PATCH_M2),
        ground,
        treated,
        overlap_m2,
        unlogged,
    }
}

/// How many stretches wetted each cell, and which cells were wetted while a log was silent.
fn paint(site: &str, frame: &Grid, outings: &[(&Motion, &Pumped)]) -> (Vec<u8>, Grid) {
    let mut canvas = frame.clone();
    let mut silent = frame.clone();
    let mut times = vec![0_u8; frame.cells.len()];
    for (motion, pumped) in outings {
        for (index, stretch) in motion
            .route()
            .stretches
            .iter()
            .enumerate()
            .filter(|(_, stretch)| stretch.site == site)
        {
            let mut own = vec![false; times.len()];
            for (from_s, ring_m) in swath(motion, pumped, index, &stretch.open) {
                if pumped
                    .silences_s
                    .iter()
                    .any(|&silence| within(from_s, silence))
                {
                    silent.fill(&ring_m, |cell, _| *cell = true);
                } else {
                    canvas.fill(&ring_m, |_, index| own[index] = true);
                }
            }
            for (times, own) in times.iter_mut().zip(own) {
                *times += u8::from(own);
            }
        }
    }
    (times, silent)
}

/// The quadrilaterals that the boom swept in one stretch, with their time.
fn swath(
    motion: &Motion,
    pumped: &Pumped,
    index: usize,
    open: &[bool],
) -> Vec<(f64, Vec<(f64, f64)>)> {
    let spraying = &pumped.sprayings[index];
    let tick_s = motion.route().rig.meter.tick_s;
    let runs = motion.route().rig.runs(open);
    let mut quads = Vec::new();
    let mut from_s = spraying.wet_s.0;
    while from_s < spraying.wet_s.1 {
        let to_s = (from_s + tick_s).min(spraying.wet_s.1);
        if !spraying.dry_s.is_some_and(|dry_s| within(from_s, dry_s)) {
            for &(left_m, right_m) in &runs {
                let [a, b] = [
                    boom_m(motion, from_s, left_m),
                    boom_m(motion, from_s, right_m),
                ];
                let [c, d] = [boom_m(motion, to_s, right_m), boom_m(motion, to_s, left_m)];
                quads.push((from_s, vec![a, b, c, d]));
            }
        }
        from_s = to_s;
    }
    quads
}

/// A point of the boom, metres right of its centre.
pub(crate) fn boom_m(motion: &Motion, time_s: f64, right_m: f64) -> (f64, f64) {
    let boom = motion.boom(motion.at(time_s).0);
    let (sin, cos) = boom.psi_rad.sin_cos();
    (boom.x_m + right_m * sin, boom.y_m - right_m * cos)
}
