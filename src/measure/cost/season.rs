//! Storms and seasons. A hard winter brings more of every kind at once, so kinds and lots add as they are, not in
//! squares; what the settings may be off is independent of the winter and comes to it in squares.

use super::range::together;
use crate::input::fleet::{Costs, Spread, StormKind};
use crate::measure::cost_sheet::ApplicationSheet;
use crate::measure::cost_sheet::{EventSheet, KindSheet, SeasonSheet, Sums};

/// The parts of a treatment that add up.
pub(super) fn once(of: &ApplicationSheet) -> Sums {
    Sums {
        total_s: of.total_s,
        liquid_l: of.liquid_l,
        dry_salt_kg: of.dry_salt_kg,
        chloride_kg: of.chloride_kg,
        amount: of.amount,
    }
}

/// One kind of treatment.
pub(super) fn kind(kind: &StormKind, of: &ApplicationSheet) -> KindSheet {
    KindSheet {
        kind: kind.key,
        name: kind.name,
        count: kind.count,
        target_ml_m2: of.target_ml_m2,
        flow_binds: of.flow_binds,
        once: once(of),
    }
}

/// One storm, each kind of treatment as often as it is needed; `None` without kinds.
pub(super) fn event(kinds: Vec<KindSheet>) -> Option<EventSheet> {
    if kinds.is_empty() {
        return None;
    }
    let each = |figure: fn(&Sums) -> Option<Spread>| {
        let terms: Option<Vec<(Spread, Spread)>> = kinds
            .iter()
            .map(|kind| Some((kind.count, figure(&kind.once)?)))
            .collect();
        terms.map(|terms| often(&terms))
    };
    let sums = of_each(each);
    Some(EventSheet { kinds, sums })
}

/// A season of storms; `None` where their number is not known.
pub(super) fn season(costs: &Costs, event: &EventSheet) -> Option<SeasonSheet> {
    let storms = costs.storms?;
    let each = |figure: fn(&Sums) -> Option<Spread>| {
        let terms: Option<Vec<(Spread, Spread)>> = event
            .kinds
            .iter()
            .map(|kind| {
                let times = Spread {
                    low: kind.count.low * storms.low,
                    likely: kind.count.likely * storms.likely,
                    high: kind.count.high * storms.high,
                };
                Some((times, figure(&kind.once)?))
            })
            .collect();
        terms.map(|terms| often(&terms))
    };
    Some(SeasonSheet {
        storms,
        sums: of_each(each),
    })
}

/// The same sum for each figure.
fn of_each(each: impl Fn(fn(&Sums) -> Option<Spread>) -> Option<Spread>) -> Sums {
    Sums {
        total_s: each(|sums| sums.total_s),
        liquid_l: each(|sums| sums.liquid_l),
        dry_salt_kg: each(|sums| sums.dry_salt_kg),
        chloride_kg: each(|sums| sums.chloride_kg),
        amount: each(|sums| sums.amount),
    }
}

/// Sum of counts times figures: the counts move together, the figures move together, the two are independent.
fn often(terms: &[(Spread, Spread)]) -> Spread {
    let sum = |term: fn(&(Spread, Spread)) -> f64| terms.iter().map(term).sum::<f64>();
    let likely = sum(|(times, figure)| times.likely * figure.likely);
    let winter = (
        sum(|(times, figure)| times.low * figure.likely) - likely,
        sum(|(times, figure)| times.high * figure.likely) - likely,
    );
    let settings = (
        sum(|(times, figure)| times.likely * figure.low) - likely,
        sum(|(times, figure)| times.likely * figure.high) - likely,
    );
    together(likely, &[winter, settings])
}

/// Lots add as they are: the winter and the settings are the same for all.
pub(super) fn added<'a>(sums: impl Iterator<Item = &'a Sums>) -> Sums {
    let all: Vec<&Sums> = sums.collect();
    of_each(|figure| {
        let known: Option<Vec<Spread>> = all.iter().map(|sums| figure(sums)).collect();
        known?.into_iter().reduce(|a, b| a.plus(&b))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 8 and 22 storms of 100, 14 likely, with a sure price: nothing but the winter moves.
    #[test]
    fn kinds_add_as_they_are() {
        let storms = Spread {
            low: 8.0,
            likely: 14.0,
            high: 22.0,
        };
        let terms = [
            (storms, Spread::sure(60.0)),
            (storms.times(0.5), Spread::sure(80.0)),
        ];
        let season = often(&terms);
        assert_eq!(
            (season.low, season.likely, season.high),
            (800.0, 1400.0, 2200.0)
        );
    }

    /// Two million draws of winter and price with numpy (two-piece normals through 8, 14, 22 storms and 92, 100, 125 a storm):
    /// 818.4 and 2,355.8 are passed one time in ten.
    #[test]
    fn winter_and_settings_are_independent() {
        let spread = |low: f64, likely: f64, high: f64| Spread { low, likely, high };
        let season = often(&[(spread(8.0, 14.0, 22.0), spread(92.0, 100.0, 125.0))]);
        assert!((season.low - 818.4).abs() < 0.02 * 1400.0, "{season:?}");
        assert!((season.high - 2355.8).abs() < 0.02 * 1400.0, "{season:?}");
    }
}
