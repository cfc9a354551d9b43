//! Step 6 of the flow: treated, gap, overlap and unlogged ground of one zone in one application.
//!
//! Exact polygons. Precedence: treated, then unlogged, then gap, so that the three add up to the
//! zone's area. "Treated" means inside a swath: stream nozzles leave bare lines on purpose, and a
//! treated area is not a wetted area.

mod causes;

use crate::findings::cause::GapCause;
use crate::geometry::extent::Extent;
use crate::geometry::overlay::{self, Region};
use crate::geometry::plane::Xy;
use crate::geometry::raster::{Grid, Raster};
use crate::result::GapCauses;
use crate::rig::boom::Sections;
use crate::site::swath::Corridor;
use causes::Why;

/// A patch is at least this big, m2 (trade judgement).
pub const LEAST_PATCH_M2: f64 = 10.0;
/// From this probability on, more likely bare than not, a patch is worth a look though no trip: a look costs less (trade
/// judgement).
pub const LEAST_LOOK: f64 = 0.5;
/// A patch is wider than this, m. Narrower gaps are for the probability to judge: with a width tied to the position
/// error, corners that a poor receiver shows whole were no patches (trade judgement).
pub const LEAST_PATCH_WIDTH_M: f64 = 1.0;
/// Least treated share of a zone inside its edge (trade judgement).
pub const LEAST_COVER: f64 = 0.90;
/// A zone that an opening by half of this many position errors empties is too narrow to judge (trade judgement).
const NARROW_POSITIONS: f64 = 3.0;
/// Gap ground inside a dropout's corridor that makes a gap "near a dropout", m2 (trade judgement).
const NEAR_DROPOUT_M2: f64 = 1.0;
/// Opening radius for patches, m (arithmetic).
const RADIUS_M: f64 = LEAST_PATCH_WIDTH_M / 2.0;

/// Most cells of the look for wide parts of a gap; a larger gap is opened without it (limit).
const DISC_CELLS: usize = 4_000_000;
/// A cell that is covered to within this share is whole: running sums round (tolerance).
const WHOLE: f64 = 1e-6;

/// What a zone's shape alone decides.
pub struct ZoneFrame {
    /// Ground farther than the edge distance from the zone's line.
    pub core: Region,
    /// Too narrow for a verdict on areas.
    pub narrow: bool,
    /// That distance, m.
    edge_m: f64,
    /// The zone's box.
    extent: Extent,
}

impl ZoneFrame {
    /// The frame of a zone for this position error and edge distance.
    #[must_use]
    pub fn of(zone: &Region, position_m: f64, edge_m: f64) -> Self {
        Self {
            core: shrunk(zone, edge_m),
            narrow: shrunk(zone, NARROW_POSITIONS * position_m / 2.0).is_empty(),
            edge_m,
            extent: zone.extent(),
        }
    }

    /// Share of the outline of a patch's core that lies along the zone's line, as far as the ground between the two tells;
    /// `None` where nothing is told apart along the line.
    fn along_line(&self, area_m2: f64, core: &Region) -> Option<f64> {
        let outline_m = core.outline_m();
        let told = self.edge_m > 0.0 && outline_m > 0.0;
        told.then(|| (area_m2 - core.area_m2()).max(0.0) / (self.edge_m * outline_m))
    }
}

/// What lies over a site in one application, each ground with its box.
#[derive(Default)]
pub struct Over<'a> {
    /// Ground of each pass.
    pub passes: Vec<(Extent, &'a Region)>,
    /// Counter-clockwise rings of boom positions that were open without liquid.
    pub dry: Vec<BoxedRing<'a>>,
    /// The same with the section closed and others open.
    pub closed: Vec<BoxedRing<'a>>,
    /// Of each of those: leg, sections, and the step after its last.
    pub closed_by: Vec<(usize, Sections, usize)>,
    /// The same with every section closed.
    pub off: Vec<BoxedRing<'a>>,
    /// Corridors of dropouts that may have been treated.
    pub unlogged: Vec<BoxedRing<'a>>,
    /// Corridors of dropouts in which no total stood still.
    pub silent: Vec<BoxedRing<'a>>,
    /// Those dropouts.
    pub silences: Vec<&'a Corridor>,
    /// Corridors of all dropouts.
    pub dropouts: Vec<BoxedRing<'a>>,
    /// Ground within reach of swaths of which it is not sure where they lie.
    pub unsure: Vec<(Extent, &'a Region)>,
}

/// A ring with its box.
pub type BoxedRing<'a> = (Extent, &'a [Xy]);

/// Those whose box meets a zone's: the others cannot change its ground.
fn near<'a, T: Copy>(grounds: &'a [(Extent, T)], zone: &'a Extent) -> impl Iterator<Item = T> + 'a {
    let near = grounds.iter().filter(|(extent, _)| extent.meets(zone));
    near.map(|(_, ground)| *ground)
}

/// One zone's ground in one application.
#[derive(Debug, Clone, Default)]
pub struct ZoneCover {
    /// In at least one swath.
    pub treated: Region,
    /// In two passes or more.
    pub overlap: Region,
    /// Perhaps treated in a dropout.
    pub unlogged: Region,
    /// Neither treated nor unlogged.
    pub gap: Region,
    /// Why.
    pub causes: GapCauses,
    /// Treated ground of the zone's core, m2.
    pub core_treated_m2: f64,
    /// Gap ground of the core within reach of unsure swaths, m2.
    pub core_unsure_m2: f64,
    /// A dropout passes over the gap.
    pub near_dropout: bool,
    /// Greatest first.
    pub patches: Vec<PatchGround>,
    /// Probability that less than [`LEAST_COVER`] of the core is truly treated; `None` where the log has no less.
    pub thin: Option<f64>,
    /// It would not be likely with a coarse receiver's error, and nobody told the rig's.
    pub thin_untold: bool,
    /// How often the general engine had to do the work of ours: for diagnostics.
    pub fallbacks: u32,
}

impl ZoneCover {
    /// The same with its overlap as it is drawn.
    #[must_use]
    pub fn with_overlap(&self, drawn: Region) -> Self {
        Self {
            overlap: drawn,
            treated: self.treated.clone(),
            unlogged: self.unlogged.clone(),
            gap: self.gap.clone(),
            patches: self.patches.clone(),
            ..*self
        }
    }
}

/// A part of the gap that is wide and big enough to go back for.
#[derive(Debug, Clone)]
pub struct PatchGround {
    /// Its ground.
    pub region: Region,
    /// Area, m2.
    pub area_m2: f64,
    /// Part of it in the zone's core, m2.
    pub core_m2: f64,
    /// Share of that part's outline along the zone's line; `None` where nothing is told apart there.
    pub along_line: Option<f64>,
    /// Most of its ground by cause.
    pub cause: GapCause,
    /// What was closed over it while others were open.
    pub closed_by: Option<ClosedBy>,
    /// Too little of its core is beyond the reach of swaths of which nobody knows well where they lie.
    pub unsure: bool,
    /// How likely it is; `None` with less than the smallest patch inside the edge.
    pub likelihood: Option<Likelihood>,
}

/// Sections that were closed over a patch while others of the boom were open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ClosedBy {
    /// Index of the leg.
    pub leg: usize,
    /// Which.
    pub sections: Sections,
    /// They sprayed later on at the site.
    pub again: bool,
    /// The step after the last one in which they were closed there.
    until: usize,
}

impl ClosedBy {
    /// Steps of the leg in which they may have sprayed again.
    #[must_use]
    pub fn after(&self) -> usize {
        self.until
    }
}

/// How likely a patch is, and how great.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likelihood {
    /// Probability that at least the smallest patch that counts is truly bare.
    pub probability: f64,
    /// 90 % interval of its area inside the edge, m2.
    pub interval_m2: (f64, f64),
}

impl PatchGround {
    /// Likely enough to be reported.
    #[must_use]
    pub fn is_likely(&self, least: f64) -> bool {
        self.likelihood
            .is_some_and(|likelihood| likelihood.probability >= least)
    }
}

/// Covers one zone.
#[must_use]
pub fn cover(zone: &Region, frame: &ZoneFrame, over: &Over) -> ZoneCover {
    let passes: Vec<&Region> = near(&over.passes, &frame.extent).collect();
    let overlay::Cover {
        gap: untreated,
        overlap,
        treated,
        fallbacks,
    } = overlay::cover(zone, &passes);
    let unlogged = Region::inside_any(near(&over.unlogged, &frame.extent));
    let unlogged = untreated.intersection(&unlogged);
    let gap = untreated.difference(&unlogged);
    let why = Why::of(&gap, over, &frame.extent);
    let causes = why.causes_m2(&gap);
    let dropouts = Region::inside_any(near(&over.dropouts, &frame.extent));
    let unsure = Region::union_of(near(&over.unsure, &frame.extent));
    let wide = wide_part(&gap, RADIUS_M, LEAST_PATCH_M2);
    let opened = wide.opened(RADIUS_M);
    let mut patches: Vec<PatchGround> = opened
        .pieces()
        .into_iter()
        .filter(|piece| piece.area_m2() >= LEAST_PATCH_M2)
        .map(|piece| patch(piece, frame, &why, &unsure))
        .collect();
    patches.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    let fallbacks = fallbacks
        + [&unlogged, &gap, &dropouts, &unsure, &wide, &opened]
            .map(Region::fallbacks)
            .iter()
            .sum::<u32>()
        + why.fallbacks();
    ZoneCover {
        fallbacks,
        core_treated_m2: frame.core.area_m2() - untreated.intersection(&frame.core).area_m2(),
        core_unsure_m2: if unsure.is_empty() {
            0.0
        } else {
            gap.intersection(&frame.core)
                .intersection(&unsure)
                .area_m2()
        },
        near_dropout: gap.intersection(&dropouts).area_m2() > NEAR_DROPOUT_M2,
        treated,
        overlap,
        unlogged,
        gap,
        causes,
        patches,
        thin: None,
        thin_untold: false,
    }
}

/// A zone less the ground within a distance of its line. Narrow ground leaves outlines turned inside out, and those of
/// teeth side by side cross each other with the square of their number (1,250 of 8 cm: 20 s). So a zone whose mean
/// width is under the distance is first cut down to the part where a disc of that radius fits, which leaves the same.
fn shrunk(zone: &Region, distance_m: f64) -> Region {
    if 2.0 * zone.area_m2() >= distance_m * zone.outline_m() {
        return zone.offset(-distance_m);
    }
    wide_part(zone, distance_m, 0.0).offset(-distance_m)
}

/// A zone with the ground within a distance of it: what is left of a box around it when the ground beside the zone has
/// shrunk. Of narrow ground the plain way has the same trouble as shrinking it.
pub(super) fn grown(zone: &Region, distance_m: f64) -> Region {
    let extent = zone.extent();
    if 2.0 * zone.area_m2() >= distance_m * zone.outline_m() || zone.is_empty() {
        return zone.offset(distance_m);
    }
    // Far enough that the box's own line, when it has shrunk, leaves all ground near the zone.
    let frame = extent.ring(4.0 * distance_m);
    let frame = Region::inside_any([frame.as_slice()]);
    let beside = wide_part(&frame.difference(zone), distance_m, 0.0);
    let kept = extent.ring(2.0 * distance_m);
    let kept = Region::inside_any([kept.as_slice()]);
    kept.difference(&beside.offset(-distance_m))
}

/// The part of some ground that can hold a disc of this radius, such as the patches of a gap: an opening by this
/// radius leaves the same of it as of the whole. It never joins pieces nor makes them greater; and where a disc
/// fits, so does a whole cell of the grid, and the disc is no farther from that cell than its own width. Slivers
/// along curbs, which every lot has, are left out.
fn wide_part(ground: &Region, radius_m: f64, least_m2: f64) -> Region {
    let great = ground.greater_than(least_m2);
    let rings = great.rings();
    let cell_m = radius_m / std::f64::consts::SQRT_2;
    let grid = Grid::over(rings.iter().flatten(), 0.0, cell_m, DISC_CELLS);
    if grid.cell_m > cell_m {
        return great;
    }
    let mut raster = Raster::new(grid);
    rings.iter().for_each(|ring| raster.add(ring, 1.0));
    let whole_m2 = cell_m * cell_m * (1.0 - WHOLE);
    let mut boxes: Vec<[Xy; 4]> = Vec::new();
    for row in 0..grid.rows {
        let whole: Vec<bool> = raster.row(row).map(|area_m2| area_m2 > whole_m2).collect();
        let mut column = 0;
        for run in whole.chunk_by(|a, b| a == b) {
            if run[0] {
                boxes.push(grid.around(row, column..column + run.len(), 2.0 * radius_m));
            }
            column += run.len();
        }
    }
    great.intersection(&Region::union_of_positive(
        boxes.iter().map(<[Xy; 4]>::as_slice),
    ))
}

fn patch(region: Region, frame: &ZoneFrame, why: &Why, unsure: &Region) -> PatchGround {
    let area_m2 = region.area_m2();
    let cause = why.main_cause(&region);
    let core = region.intersection(&frame.core);
    let core_m2 = core.area_m2();
    PatchGround {
        unsure: core_m2 >= LEAST_PATCH_M2 && core.difference(unsure).area_m2() < LEAST_PATCH_M2,
        likelihood: None,
        along_line: frame.along_line(area_m2, &core),
        closed_by: (cause == GapCause::Closed)
            .then(|| why.closed_over(&region))
            .flatten(),
        region,
        area_m2,
        core_m2,
        cause,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: f64, y: f64, width: f64, height: f64) -> [Xy; 4] {
        [
            (x, y),
            (x + width, y),
            (x + width, y + height),
            (x, y + height),
        ]
        .map(|(x, y)| Xy::new(x, y))
    }

    /// A comb: a back of 30 x 2 m, and teeth of 0.2 x 10 m every 0.6 m.
    fn comb() -> Region {
        let teeth = (0..50).map(|k| rectangle(0.6 * f64::from(k), 1.0, 0.2, 11.0));
        let rings: Vec<[Xy; 4]> = teeth.chain([rectangle(0.0, 0.0, 30.0, 2.0)]).collect();
        Region::inside_any(rings.iter().map(<[Xy; 4]>::as_slice))
    }

    #[test]
    fn a_comb_grown_by_way_of_the_ground_beside_it_is_the_comb_grown() {
        let (plain, grown) = (comb().offset(1.0), grown(&comb(), 1.0));
        let differs_m2 = plain.difference(&grown).area_m2() + grown.difference(&plain).area_m2();
        // Teeth 0.4 m apart leave dents between round tips; the engine draws circles with 64 corners.
        assert!(
            differs_m2 < 2e-3 * plain.area_m2(),
            "{differs_m2} of {}",
            plain.area_m2()
        );
        // By hand: 32 x 14 m, less 0.4 x 10 m behind the last tooth, which ends at 29.6 m, and a square metre or so of
        // round corners and dents.
        let box_m2 = 32.0 * 14.0 - 0.4 * 10.0;
        assert!(
            (grown.area_m2() - box_m2).abs() < 2.0,
            "{}",
            grown.area_m2()
        );
    }

    #[test]
    fn a_zone_that_is_no_comb_grows_the_plain_way() {
        let lot = Region::inside_any([rectangle(0.0, 0.0, 30.0, 20.0).as_slice()]);
        let area_m2 = 30.0 * 20.0 + 100.0 + std::f64::consts::PI;
        assert!((grown(&lot, 1.0).area_m2() / area_m2 - 1.0).abs() < 1e-4);
    }
}
