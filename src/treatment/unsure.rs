//! Swaths that a towed boom laid in reverse in a turn: the trailer may have stood elsewhere. Their area
//! is given, but no verdict on patches and keep-off ground leans on them.

use super::{Bench, PassGround, Work, overlap};
use crate::coverage::{LEAST_PATCH_M2, ZoneCover};
use crate::overlay::Region;
use crate::place::{Instant, LonLat};
use crate::plane::Xy;
use crate::swath::Strips;
use std::borrow::Cow;
use std::ops::Range;

/// An unbroken row of such steps of one run.
pub(crate) struct UnsureGround {
    pub(super) run: usize,
    pub(super) steps: Range<usize>,
    /// Its swath.
    ground: Region,
    /// All ground that it may have covered instead: as far as the boom is long, and the position error.
    pub(super) reach: Region,
}

/// What one rig laid so at a site.
#[derive(Debug, Clone)]
pub struct ReverseTowedFact {
    /// Index of the run.
    pub run: usize,
    /// Ground of the site's zones in such swaths, m2.
    pub area_m2: f64,
    /// Patches within their reach that would have made a finding.
    pub patches: usize,
    /// Their area together, m2.
    pub patches_m2: f64,
    /// When the first began.
    pub start: Instant,
    /// A point of the ground.
    pub place: LonLat,
}

/// All such swaths near a site.
pub(super) fn swaths(
    work: &Work,
    strips: &[(usize, Strips)],
    position_m: f64,
) -> Vec<UnsureGround> {
    let mut swaths = Vec::new();
    for (run, strips) in strips {
        let boom = &work.runs[*run].boom;
        let reach_m = boom.width_m(boom.all()) + position_m;
        let rows = strips.unsure.chunk_by(|a, b| b.step <= a.step + 1);
        swaths.extend(rows.map(|row| {
            let rings: Vec<&[Xy]> = row.iter().map(|strip| strip.ground.corners()).collect();
            let ground = Region::union_of_positive(rings);
            UnsureGround {
                run: *run,
                steps: row[0].step..row[row.len() - 1].step + 1,
                reach: ground.offset(reach_m),
                ground,
            }
        }));
    }
    swaths
}

/// The ground of a pass without its unsure swaths.
pub(super) fn sure_part<'a>(bench: &Bench, pass: &'a PassGround) -> Cow<'a, Region> {
    let of_pass =
        |swath: &&UnsureGround| swath.run == pass.run && overlap(&swath.steps, &pass.steps);
    let unsure = bench.unsure.iter().filter(of_pass);
    let unsure = Region::union_of(unsure.map(|swath| &swath.ground));
    if unsure.is_empty() {
        Cow::Borrowed(&pass.region)
    } else {
        Cow::Owned(pass.region.difference(&unsure))
    }
}

/// One fact a run that laid such swaths on the site's zones.
pub(super) fn facts(bench: &Bench, covers: &[Vec<ZoneCover>]) -> Vec<ReverseTowedFact> {
    let mut runs: Vec<usize> = bench.unsure.iter().map(|swath| swath.run).collect();
    runs.sort_unstable();
    runs.dedup();
    let zones = &bench.work.site.zones;
    let ground = Region::union_of(zones.iter().map(|zone| &zone.region));
    let fact = |run: usize| {
        let own: Vec<&UnsureGround> = bench
            .unsure
            .iter()
            .filter(|swath| swath.run == run)
            .collect();
        let laid = Region::union_of(own.iter().map(|swath| &swath.ground)).intersection(&ground);
        let place = super::report::point_in(&laid, &bench.plane)?;
        let reach = Region::union_of(own.iter().map(|swath| &swath.reach));
        let patches: Vec<f64> = covers
            .iter()
            .flatten()
            .flat_map(|cover| &cover.patches)
            .filter(|patch| patch.unsure && patch.core_m2 >= LEAST_PATCH_M2)
            .filter(|patch| !patch.region.intersection(&reach).is_empty())
            .map(|patch| patch.area_m2)
            .collect();
        Some(ReverseTowedFact {
            run,
            area_m2: laid.area_m2(),
            patches: patches.len(),
            patches_m2: patches.iter().sum(),
            start: bench.work.runs[run].track.fixes[own.first()?.steps.start].time,
            place,
        })
    };
    runs.into_iter().filter_map(fact).collect()
}
