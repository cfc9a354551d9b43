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
        ground: &Ground,
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
pub struct Ground<'a> {
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

/// Bins of a first, coarse look at the doses (limit).
const BINS: usize = 1024;

/// Of each share: the dose that it of the ground does not exceed. Only the bins that hold the answers
/// are sorted: a lot has tens of thousands of cells.
fn quantiles<const N: usize>(doses: &[(f64, f64)], shares: [f64; N]) -> [f64; N] {
    let greatest = doses.iter().map(|(dose, _)| *dose).fold(0.0, f64::max);
    let per_dose = if greatest > 0.0 {
        BINS as f64 / greatest
    } else {
        0.0
    };
    let bin = |dose: f64| ((dose * per_dose) as u32 as usize).min(BINS - 1);
    let mut weights = vec![0.0; BINS];
    for (dose, weight) in doses {
        weights[bin(*dose)] += weight;
    }
    let total: f64 = weights.iter().sum();
    // Of each share: its bin, and the ground in the bins before that.
    let places = shares.map(|share| {
        let mut before = 0.0;
        let reached = weights.iter().position(|weight| {
            let reached = before + weight >= share * total;
            before += if reached { 0.0 } else { *weight };
            reached
        });
        (reached.unwrap_or(BINS - 1), before)
    });
    let mut wanted = [false; BINS];
    places.iter().for_each(|(place, _)| wanted[*place] = true);
    let mut within: Vec<(f64, f64)> = doses
        .iter()
        .filter(|(dose, _)| wanted[bin(*dose)])
        .copied()
        .collect();
    within.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    std::array::from_fn(|k| {
        let (place, mut sum) = places[k];
        let first = within.partition_point(|(dose, _)| bin(*dose) < place);
        let own = within[first..]
            .iter()
            .take_while(|(dose, _)| bin(*dose) == place);
        let mut found = 0.0;
        // The sums of a bin and of its cells one by one may differ in the last digit.
        for (dose, weight) in own {
            found = *dose;
            sum += weight;
            if sum >= shares[k] * total {
                break;
            }
        }
        found
    })
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
        let ground = Ground {
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

    #[test]
    fn unlogged_ground_is_unknown_and_shares_add_up() {
        let zone = Region::inside_any([rectangle(0.0, 0.0, 10.0, 10.0).as_slice()]);
        let treated = Region::inside_any([rectangle(0.0, 0.0, 7.5, 10.0).as_slice()]);
        let unlogged = zone.difference(&treated);
        let mut grid = DoseGrid::over(&zone);
        grid.add(&rectangle(0.0, 0.0, 7.5, 10.0), 1.0);
        let dose = grid.statistics(
            &Ground {
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
