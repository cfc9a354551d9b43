//! The tables of an application: ground in columns that add up, liquid and rates.

use crate::notation::clean::clean;
use crate::notation::numbers::{NOT_KNOWN, grouped};
use crate::notation::style::Style;
use crate::record::figures::{ApplicationFigures, ZoneFigures};
use crate::record::words;
use crate::result::ZoneVerdict;

/// A zone's ground in columns that add up.
pub(super) struct ZoneRow {
    pub(super) zone: String,
    pub(super) columns: Vec<String>,
    pub(super) not_judged: Option<&'static str>,
}

/// A zone's liquid and rates.
pub(super) struct LiquidRow {
    pub(super) zone: String,
    pub(super) volume: String,
    pub(super) over_zone: String,
    pub(super) swept: String,
    pub(super) target: String,
}

/// The ground of an application's zones.
pub(super) fn ground(of: &ApplicationFigures, style: &Style) -> Vec<ZoneRow> {
    of.zones.iter().map(|zone| row(zone, style)).collect()
}

fn row(zone: &ZoneFigures, style: &Style) -> ZoneRow {
    let parts = [
        zone.liquid_m2,
        zone.patches_m2,
        zone.perhaps_m2,
        zone.no_fixes_m2,
        zone.not_resolved_m2,
    ];
    let parts: Option<Vec<f64>> = parts.into_iter().collect();
    let measure = style.units.area();
    let step = |m2: f64| m2 * measure.per_si / measure.step;
    let columns = match parts {
        Some(parts) => {
            let steps: Vec<f64> = parts.iter().map(|m2| step(*m2)).collect();
            let whole = add_up(&steps);
            let total: i64 = whole.iter().sum();
            let numbers = [total].into_iter().chain(whole);
            numbers
                .map(|n| grouped(n as f64 * measure.step, 0))
                .collect()
        }
        None => vec![grouped(step(zone.area_m2).round() * measure.step, 0)],
    };
    ZoneRow {
        zone: clean(&zone.zone).into_owned(),
        columns,
        not_judged: words::not_judged(zone.verdict),
    }
}

/// Most steps of a column: far beyond any ground, and their sums are whole numbers exactly (limit).
const MOST_STEPS: f64 = 1e15;

/// Whole numbers that add up to their rounded sum: each rounded down, the rest to those with the greatest remainder.
fn add_up(parts: &[f64]) -> Vec<i64> {
    let parts: Vec<f64> = parts
        .iter()
        .map(|part| part.clamp(0.0, MOST_STEPS))
        .collect();
    let mut whole: Vec<i64> = parts.iter().map(|part| part.floor() as i64).collect();
    let total = parts.iter().sum::<f64>().round() as i64;
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by(|&a, &b| parts[b].fract().total_cmp(&parts[a].fract()));
    let missing = (total - whole.iter().sum::<i64>()).max(0) as usize;
    for &at in order.iter().take(missing) {
        whole[at] += 1;
    }
    whole
}

/// The liquid of an application's zones.
pub(super) fn liquid(of: &ApplicationFigures, style: &Style) -> Vec<LiquidRow> {
    let rows = of.zones.iter().map(|zone| LiquidRow {
        zone: clean(&zone.zone).into_owned(),
        volume: by_boom(zone, zone.volume_l)
            .map_or_else(|| NOT_KNOWN.to_owned(), |litres| style.volume(litres)),
        over_zone: style.rate_number(by_boom(zone, zone.rate_over_zone_ml_m2)),
        swept: style.rate_number(zone.rate_swept_ml_m2),
        target: style.rate_number(zone.target_ml_m2),
    });
    rows.collect()
}

/// What a boom laid: on ground treated by hand it says nothing, unless something strayed there.
fn by_boom(zone: &ZoneFigures, figure: Option<f64>) -> Option<f64> {
    figure.filter(|figure| zone.verdict != ZoneVerdict::Hand || *figure > 0.0)
}

#[cfg(test)]
mod tests {
    use super::add_up;

    #[test]
    fn printed_columns_add_up() {
        assert_eq!(add_up(&[10.4, 0.4, 0.4, 0.3, 0.0]), [11, 1, 0, 0, 0]);
        assert_eq!(add_up(&[1.5, 1.5]), [2, 1]);
        assert_eq!(add_up(&[99.9, -1e-9]), [100, 0]);
    }
}
