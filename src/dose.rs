//! Step 9 of the flow: litres per area on each spot of a zone, all passes added.
//!
//! A grid to which each piece of swath adds its litres by exact cell overlap; a cell's dose is its
//! litres over the zone's ground in it. Statistics are weighted by that ground. Unlogged ground is not
//! known and is in no statistic but its own share.

use crate::overlay::Region;
use crate::plane::Xy;
use crate::raster::{Grid, Raster};
use crate::result::Dose;

/// Side of a cell, m: finer than most sections are wide, so that a blocked one shows.
pub const CELL_M: f64 = 0.5;
/// Most cells of a zone's grid; larger zones get larger cells.
const GREATEST_CELLS: usize = 4_000_000;
/// Under this share of the target is far too little.
pub const LOW_SHARE: f64 = 0.5;
/// Over this share of the target is far too much: more than two full passes.
pub const HIGH_SHARE: f64 = 2.2;
/// Cells with less ground than this share of a cell are left out of the statistics: rounding alone
/// would decide their dose.
const LEAST_GROUND: f64 = 1e-6;
/// The same for the treated ground of a cell, where swath edges leave slivers.
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

    /// Litres in each cell.
    #[must_use]
    pub fn litres(&self) -> Vec<f64> {
        self.litres.areas()
    }

    fn areas_of(&self, region: &Region) -> Vec<f64> {
        let mut raster = Raster::new(self.grid);
        region.rings().iter().for_each(|ring| raster.add(ring, 1.0));
        raster.areas()
    }

    /// Statistics over the zone.
    #[must_use]
    pub fn statistics(&self, ground: &Ground, target_ml_m2: Option<f64>, band: f64) -> Dose {
        let litres = self.litres();
        let zone_m2 = self.areas_of(ground.zone);
        let treated_m2 = self.areas_of(ground.treated);
        let unlogged_m2 = self.areas_of(ground.unlogged);
        let cell_m2 = self.grid.cell_m * self.grid.cell_m;
        let known = |i: usize| zone_m2[i] - unlogged_m2[i];
        let mut whole = doses(
            &litres,
            (0..litres.len()).map(known),
            LEAST_GROUND * cell_m2,
        );
        whole.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let treated = doses(&litres, treated_m2.iter().copied(), LEAST_TREATED * cell_m2);
        let zone_total_m2: f64 = zone_m2.iter().sum();
        let share_unknown = (unlogged_m2.iter().sum::<f64>() / zone_total_m2).clamp(0.0, 1.0);
        let of_zone = |share: f64| share * (1.0 - share_unknown);
        let (mean, cv) = mean_and_cv(&whole);
        let band_shares = target_ml_m2.map(|target| {
            let under = share_where(&whole, |dose| dose < target * (1.0 - band));
            let over = share_where(&whole, |dose| dose > target * (1.0 + band));
            (of_zone(under), of_zone(1.0 - under - over), of_zone(over))
        });
        Dose {
            cell_m: self.grid.cell_m,
            mean_ml_m2: mean,
            p05_ml_m2: quantile(&whole, 0.05),
            p50_ml_m2: quantile(&whole, 0.50),
            p95_ml_m2: quantile(&whole, 0.95),
            cv,
            share_under: band_shares.map(|(under, _, _)| under),
            share_within: band_shares.map(|(_, within, _)| within),
            share_over: band_shares.map(|(_, _, over)| over),
            share_unknown,
            treated_share_low: target_ml_m2
                .map(|target| share_where(&treated, |dose| dose < LOW_SHARE * target)),
            treated_share_high: target_ml_m2
                .map(|target| share_where(&treated, |dose| dose > HIGH_SHARE * target)),
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

/// (dose in mL/m2, ground in m2) of the cells with enough ground.
fn doses(litres: &[f64], ground_m2: impl Iterator<Item = f64>, least_m2: f64) -> Vec<(f64, f64)> {
    litres
        .iter()
        .zip(ground_m2)
        .filter(|(_, ground_m2)| *ground_m2 > least_m2)
        // Running sums leave rounding dust of either sign where there is no liquid.
        .map(|(litres, ground_m2)| ((1000.0 * litres / ground_m2).max(0.0), ground_m2))
        .collect()
}

fn total(doses: &[(f64, f64)]) -> f64 {
    doses.iter().map(|(_, weight)| weight).sum()
}

fn mean_and_cv(doses: &[(f64, f64)]) -> (f64, Option<f64>) {
    let weight = total(doses);
    if weight <= 0.0 {
        return (0.0, None);
    }
    let mean = doses
        .iter()
        .map(|(dose, weight)| dose * weight)
        .sum::<f64>()
        / weight;
    let variance = doses
        .iter()
        .map(|(dose, weight)| (dose - mean).powi(2) * weight)
        .sum::<f64>()
        / weight;
    (mean, (mean > 0.0).then(|| variance.sqrt() / mean))
}

/// The dose that this share of the ground does not exceed; `doses` in order of dose.
fn quantile(doses: &[(f64, f64)], share: f64) -> f64 {
    let wanted = share * total(doses);
    let mut sum = 0.0;
    for (dose, weight) in doses {
        sum += weight;
        if sum >= wanted {
            return *dose;
        }
    }
    doses.last().map_or(0.0, |(dose, _)| *dose)
}

fn share_where(doses: &[(f64, f64)], holds: impl Fn(f64) -> bool) -> f64 {
    let weight = total(doses);
    if weight <= 0.0 {
        return 0.0;
    }
    doses
        .iter()
        .filter(|(dose, _)| holds(*dose))
        .map(|(_, weight)| weight)
        .sum::<f64>()
        / weight
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
        let dose = grid.statistics(&ground, Some(1000.0), 0.1);
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
