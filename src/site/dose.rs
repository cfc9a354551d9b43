//! Step 6 of the flow: litres per area on each spot of a zone, all passes added.
//!
//! A grid to which each piece of swath adds its litres by exact cell overlap; a cell's dose is its
//! litres over the zone's ground in it. Statistics are weighted by that ground. Unlogged ground is not
//! known and is in no statistic but its own share.

pub mod picture;

use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::geometry::raster::{self, Grid, Raster};
use crate::result::Dose;
use picture::Painter;

/// Side of a cell, m: finer than most sections are wide, so that a blocked one shows (tolerance).
pub const CELL_M: f64 = 0.5;
/// Most cells of a zone's grid; larger zones get larger cells (limit).
const GREATEST_CELLS: usize = 4_000_000;
/// Under this share of the target is far too little (trade judgement).
pub const LOW_SHARE: f64 = 0.5;
/// Over this share of the target is far too much: more than two full passes (trade judgement).
pub const HIGH_SHARE: f64 = 2.2;
/// Cells with less ground than this share of a cell are left out of the statistics: rounding alone would decide their
/// dose (tolerance).
const LEAST_GROUND: f64 = 1e-6;
/// The same for the treated ground of a cell, where swath edges leave slivers (tolerance).
const LEAST_TREATED: f64 = 1e-3;

/// The grid of one zone while pieces are added.
pub struct DoseGrid {
    grid: Grid,
    litres: Raster,
}

impl DoseGrid {
    /// An empty grid over a zone.
    #[must_use]
    pub fn over(zone: &Region) -> Self {
        let corners: Vec<Xy> = zone.rings().concat();
        let grid = Grid::over(corners.iter(), 0.0, CELL_M, GREATEST_CELLS);
        Self {
            grid,
            litres: Raster::new(grid),
        }
    }

    /// Adds liquid of this density (L/m2) on the ground inside a ring.
    pub fn add(&mut self, ring: &[Xy], litres_per_m2: f64) {
        self.litres.add(ring, litres_per_m2);
    }

    /// Where its cells lie.
    #[must_use]
    pub fn grid(&self) -> Grid {
        self.grid
    }

    /// Litres in each cell.
    #[must_use]
    pub fn litres(&self) -> Vec<f64> {
        self.litres.areas()
    }

    fn areas_of(&self, region: &Region) -> Raster {
        let mut raster = Raster::new(self.grid);
        region.rings().iter().for_each(|ring| raster.add(ring, 1.0));
        raster
    }

    /// Statistics over the zone; its cells also go into the picture, where there is a target to draw them by.
    #[must_use]
    pub fn statistics(
        &self,
        ground: &DoseGround,
        target_ml_m2: Option<f64>,
        band: f64,
        picture: &mut Painter,
    ) -> Dose {
        let mut count = Count::new(target_ml_m2, band);
        count.doses.reserve(self.grid.cells() / 2);
        let cell_m2 = self.grid.cell_m * self.grid.cell_m;
        let zone = self.areas_of(ground.zone);
        let under_swaths = self.areas_of(ground.treated);
        let unlogged = (!ground.unlogged.is_empty()).then(|| self.areas_of(ground.unlogged));
        let target_set = target_ml_m2.filter(|target| *target > 0.0);
        let mut drawn = target_set.map(|target| picture.zone(self.grid, target));
        let mut rasters = vec![&self.litres, &zone, &under_swaths];
        rasters.extend(&unlogged);
        for row in 0..self.grid.rows {
            let mut column = 0;
            for (length, [litres, zone_m2, treated_m2, unlogged_m2]) in raster::runs(&rasters, row)
            {
                let run = column..column + length;
                column = run.end;
                let (cells, known_m2) = (length as f64, zone_m2 - unlogged_m2);
                count.zone_m2 += cells * zone_m2;
                count.unlogged_m2 += cells * unlogged_m2;
                // Running sums leave rounding dust of either sign where there is no liquid.
                let dose = |ground_m2: f64| (1000.0 * litres / ground_m2).max(0.0);
                if known_m2 > LEAST_GROUND * cell_m2 {
                    let dose_ml_m2 = dose(known_m2);
                    count.whole.add(dose_ml_m2, cells * known_m2);
                    count.doses.push((dose_ml_m2, cells * known_m2));
                    if let Some(drawn) = &mut drawn {
                        drawn.add(row, run, dose_ml_m2, known_m2, unlogged_m2);
                    }
                } else if let (Some(drawn), true) = (&mut drawn, unlogged_m2 > 0.0) {
                    drawn.add(row, run, 0.0, 0.0, unlogged_m2);
                }
                if treated_m2 > LEAST_TREATED * cell_m2 {
                    count.treated.add(dose(treated_m2), cells * treated_m2);
                }
            }
        }
        count.dose(self.grid.cell_m, target_ml_m2.is_some())
    }
}

/// What is counted over the cells of a zone.
struct Count {
    whole: Tally,
    treated: Tally,
    /// Of each known cell: dose, mL/m2, and ground, m2.
    doses: Vec<(f64, f64)>,
    zone_m2: f64,
    unlogged_m2: f64,
}

impl Count {
    fn new(target_ml_m2: Option<f64>, band: f64) -> Self {
        let low_high = |low: f64, high: f64| {
            let limits = |target: f64| (target * low, target * high);
            target_ml_m2.map_or((f64::NEG_INFINITY, f64::INFINITY), limits)
        };
        Self {
            whole: Tally::new(low_high(1.0 - band, 1.0 + band)),
            treated: Tally::new(low_high(LOW_SHARE, HIGH_SHARE)),
            doses: Vec::new(),
            zone_m2: 0.0,
            unlogged_m2: 0.0,
        }
    }

    /// The statistics; shares of a target only where there is one.
    fn dose(&self, cell_m: f64, has_target: bool) -> Dose {
        let share_unknown = (self.unlogged_m2 / self.zone_m2).clamp(0.0, 1.0);
        let (whole, treated) = (&self.whole, &self.treated);
        let of_zone = |share: f64| share * (1.0 - share_unknown);
        let known = |share: f64| has_target.then_some(share);
        let mean = whole.mean();
        let [p05, p50, p95] = quantiles(&self.doses, [0.05, 0.50, 0.95]);
        Dose {
            cell_m,
            mean_ml_m2: mean,
            p05_ml_m2: p05,
            p50_ml_m2: p50,
            p95_ml_m2: p95,
            cv: coefficient_of_variation(&self.doses, mean),
            share_under: known(of_zone(whole.under_share())),
            share_within: known(of_zone(1.0 - whole.under_share() - whole.over_share())),
            share_over: known(of_zone(whole.over_share())),
            share_unknown,
            treated_share_low: known(treated.under_share()),
            treated_share_high: known(treated.over_share()),
        }
    }
}

/// The ground that statistics are weighted by.
pub struct DoseGround<'a> {
    /// The zone.
    pub zone: &'a Region,
    /// Its treated ground.
    pub treated: &'a Region,
    /// Its unlogged ground.
    pub unlogged: &'a Region,
}

/// Sums over cells, weighted by their ground.
struct Tally {
    /// Doses under the first and over the second count apart, mL/m2.
    limits_ml_m2: (f64, f64),
    ground_m2: f64,
    under_m2: f64,
    over_m2: f64,
    liquid_ml: f64,
}

impl Tally {
    fn new(limits_ml_m2: (f64, f64)) -> Self {
        Self {
            limits_ml_m2,
            ground_m2: 0.0,
            under_m2: 0.0,
            over_m2: 0.0,
            liquid_ml: 0.0,
        }
    }

    fn add(&mut self, dose_ml_m2: f64, ground_m2: f64) {
        let (low, high) = self.limits_ml_m2;
        self.ground_m2 += ground_m2;
        self.liquid_ml += dose_ml_m2 * ground_m2;
        self.under_m2 += if dose_ml_m2 < low { ground_m2 } else { 0.0 };
        self.over_m2 += if dose_ml_m2 > high { ground_m2 } else { 0.0 };
    }

    /// Of the ground; 0 where there is none.
    fn share(&self, part: f64) -> f64 {
        if self.ground_m2 > 0.0 {
            part / self.ground_m2
        } else {
            0.0
        }
    }

    fn mean(&self) -> f64 {
        self.share(self.liquid_ml)
    }

    fn under_share(&self) -> f64 {
        self.share(self.under_m2)
    }

    fn over_share(&self) -> f64 {
        self.share(self.over_m2)
    }
}

/// `None` where nothing was laid.
fn coefficient_of_variation(doses: &[(f64, f64)], mean: f64) -> Option<f64> {
    let (mut ground_m2, mut squares) = (0.0, 0.0);
    for (dose, weight_m2) in doses {
        ground_m2 += weight_m2;
        squares += (dose - mean).powi(2) * weight_m2;
    }
    (mean > 0.0).then(|| (squares / ground_m2).sqrt() / mean)
}

/// Bins of one look at the doses (limit).
const BINS: usize = 1024;
/// So few doses are sorted (by trial).
const FEW: usize = 64;

/// Of each share: the dose that it of the ground does not exceed. Nearly nothing is sorted: a lot has tens of
/// thousands of cells, and most of them the same dose.
fn quantiles<const N: usize>(doses: &[(f64, f64)], shares: [f64; N]) -> [f64; N] {
    let greatest = doses.iter().map(|(dose, _)| *dose).fold(0.0, f64::max);
    let bins = Bins::of(doses, (0.0, greatest));
    let total: f64 = bins.ground_m2.iter().sum();
    shares.map(|share| bins.reached(doses, 0.0, share * total))
}

/// Doses by bins of equal width.
struct Bins {
    least: f64,
    per_dose: f64,
    /// Of each bin.
    ground_m2: Vec<f64>,
}

impl Bins {
    /// Of doses within a range.
    fn of(doses: &[(f64, f64)], (least, greatest): (f64, f64)) -> Self {
        let per_dose = BINS as f64 / (greatest - least);
        let mut bins = Self {
            least,
            // A range so narrow, or none, that it cannot be divided is one bin.
            per_dose: if per_dose.is_finite() { per_dose } else { 0.0 },
            ground_m2: vec![0.0; BINS],
        };
        for (dose, ground_m2) in doses {
            let at = bins.at(*dose);
            bins.ground_m2[at] += ground_m2;
        }
        bins
    }

    fn at(&self, dose: f64) -> usize {
        (((dose - self.least) * self.per_dose) as u32 as usize).min(BINS - 1)
    }

    /// The dose at which the ground of lesser doses, with `before_m2`, comes to `wanted_m2`: in its bin by finer bins,
    /// until few doses are left, or one.
    fn reached(&self, doses: &[(f64, f64)], before_m2: f64, wanted_m2: f64) -> f64 {
        let mut before_m2 = before_m2;
        let found = self.ground_m2.iter().position(|ground_m2| {
            let reached = before_m2 + ground_m2 >= wanted_m2;
            before_m2 += if reached { 0.0 } else { *ground_m2 };
            reached
        });
        let last = || {
            self.ground_m2
                .iter()
                .rposition(|ground_m2| *ground_m2 > 0.0)
        };
        let place = found.or_else(last).unwrap_or(0);
        let own = doses.iter().filter(|(dose, _)| self.at(*dose) == place);
        let own: Vec<(f64, f64)> = own.copied().collect();
        let least = own
            .iter()
            .map(|(dose, _)| *dose)
            .fold(f64::INFINITY, f64::min);
        let greatest = own.iter().map(|(dose, _)| *dose).fold(0.0, f64::max);
        let finer = Self::of(&own, (least, greatest));
        // The least and the greatest are in bins of their own then, so that this comes to an end.
        if own.len() > FEW && finer.per_dose > 0.0 {
            return finer.reached(&own, before_m2, wanted_m2);
        }
        reached_by_few(own, before_m2, wanted_m2)
    }
}

/// The same for a few doses, or equal ones; 0 for none.
fn reached_by_few(mut doses: Vec<(f64, f64)>, before_m2: f64, wanted_m2: f64) -> f64 {
    doses.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let (mut found, mut sum_m2) = (0.0, before_m2);
    // The sums of a bin and of its cells one by one may differ in the last digit.
    for (dose, ground_m2) in doses {
        found = dose;
        sum_m2 += ground_m2;
        if sum_m2 >= wanted_m2 {
            break;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Vec<Xy> {
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
            .map(|(dx, dy)| Xy::new(x + dx, y + dy))
            .to_vec()
    }

    /// Zone 10 x 10 m; 1 L/m2 on its left half, 2 L/m2 on x 5..7, nothing on the rest.
    #[test]
    fn statistics_on_squared_paper() {
        let zone = Region::inside_any([rectangle(0.0, 0.0, 10.0, 10.0).as_slice()]);
        let treated = Region::inside_any([rectangle(0.0, 0.0, 7.0, 10.0).as_slice()]);
        let unlogged = Region::default();
        let mut grid = DoseGrid::over(&zone);
        grid.add(&rectangle(0.0, 0.0, 5.0, 10.0), 1.0);
        grid.add(&rectangle(5.0, 0.0, 2.0, 10.0), 2.0);
        let ground = DoseGround {
            zone: &zone,
            treated: &treated,
            unlogged: &unlogged,
        };
        let mut picture = Painter::over(std::iter::empty(), CELL_M, 0.1);
        let dose = grid.statistics(&ground, Some(1000.0), 0.1, &mut picture);
        let drawn = picture.finish().unwrap().shares;
        assert!((drawn.under - dose.share_under.unwrap()).abs() < 1e-9);
        assert!((drawn.over - dose.share_over.unwrap()).abs() < 1e-9);
        assert!((grid.litres().iter().sum::<f64>() - 90.0).abs() < 1e-9);
        assert!(
            (dose.mean_ml_m2 - 900.0).abs() < 1e-6,
            "{}",
            dose.mean_ml_m2
        );
        assert!((dose.p50_ml_m2 - 1000.0).abs() < 1e-6 && dose.p05_ml_m2 < 1e-6);
        assert!((dose.p95_ml_m2 - 2000.0).abs() < 1e-6);
        assert!((dose.share_under.unwrap() - 0.3).abs() < 1e-6);
        assert!((dose.share_within.unwrap() - 0.5).abs() < 1e-6);
        assert!((dose.share_over.unwrap() - 0.2).abs() < 1e-6);
        assert!(dose.treated_share_low.unwrap() < 1e-9);
    }

    /// Sorted and summed one by one, 200 times, of doses that crowd about a few values.
    #[test]
    fn quantiles_are_those_of_sorted_doses() {
        let mut state = 7_u64;
        let mut random = |below: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below
        };
        for case in 0..200 {
            let count = 1 + random(if case % 4 == 0 { 5 } else { 3000 });
            let dose = |kind: u64, step: u64| match kind {
                0 => 0.0,
                1 => 40.0,
                2 => 40.0 + step as f64 * 1e-9,
                3 => step as f64 / 7.0,
                _ => (step as f64 / 100.0).exp(),
            };
            let doses: Vec<(f64, f64)> = (0..count)
                .map(|_| (dose(random(5), random(1000)), 0.25 * (1 + random(4)) as f64))
                .collect();
            let mut sorted = doses.clone();
            sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
            let total: f64 = sorted.iter().map(|(_, ground)| ground).sum();
            let shares = [0.05, 0.5, 0.95];
            let wanted = shares.map(|share| {
                let mut sum = 0.0;
                let reached = sorted.iter().find(|(_, ground)| {
                    sum += ground;
                    sum >= share * total
                });
                reached.unwrap().0
            });
            assert_eq!(quantiles(&doses, shares), wanted, "case {case}");
        }
        assert_eq!(quantiles(&[], [0.5]), [0.0]);
        assert_eq!(quantiles(&[(0.0, 1.0), (0.0, 1.0)], [0.5]), [0.0]);
    }

    #[test]
    fn unlogged_ground_is_unknown_and_shares_add_up() {
        let zone = Region::inside_any([rectangle(0.0, 0.0, 10.0, 10.0).as_slice()]);
        let treated = Region::inside_any([rectangle(0.0, 0.0, 7.5, 10.0).as_slice()]);
        let unlogged = zone.difference(&treated);
        let mut grid = DoseGrid::over(&zone);
        grid.add(&rectangle(0.0, 0.0, 7.5, 10.0), 1.0);
        let dose = grid.statistics(
            &DoseGround {
                zone: &zone,
                treated: &treated,
                unlogged: &unlogged,
            },
            Some(1000.0),
            0.1,
            &mut Painter::over(std::iter::empty(), CELL_M, 0.1),
        );
        assert!((dose.share_unknown - 0.25).abs() < 1e-6);
        let sum = dose.share_under.unwrap()
            + dose.share_within.unwrap()
            + dose.share_over.unwrap()
            + dose.share_unknown;
        assert!((sum - 1.0).abs() < 1e-9);
        assert!((dose.mean_ml_m2 - 1000.0).abs() < 1e-6);
    }
}
