//! Storms and seasons. A hard winter brings more of every kind at once, so kinds and lots add as they are, not in
//! squares; what the settings may be off is independent of the winter and comes to it in squares.

use super::sheet::ApplicationSheet;
use super::sheet::{EventSheet, KindSheet, SeasonSheet, Sums};
use crate::input::fleet::{Costs, Kind, Spread};

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
pub(super) fn kind(kind: &Kind, of: &ApplicationSheet) -> KindSheet {
    KindSheet {
        kind: kind.key,
        name: kind.name,
        count: kind.count,
        target_ml_m2: of.target_ml_m2,
        flow_binds: of.flow_binds,
        once: once(of),
    }
}

/// One storm, each kind as often as it takes it; `None` without kinds.
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
    let side = |by_times: f64, by_figures: f64| (by_times - likely).hypot(by_figures - likely);
    Spread {
        low: (likely
            - side(
                sum(|(times, figure)| times.low * figure.likely),
                sum(|(times, figure)| times.likely * figure.low),
            ))
        .max(likely.min(0.0)),
        likely,
        high: likely
            + side(
                sum(|(times, figure)| times.high * figure.likely),
                sum(|(times, figure)| times.likely * figure.high),
            ),
    }
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

    /// Winter 600 down and price 800 down: 1,000 together.
    #[test]
    fn winter_and_settings_add_in_squares() {
        let storms = Spread {
            low: 8.0,
            likely: 14.0,
            high: 14.0,
        };
        let price = Spread {
            low: 100.0 - 800.0 / 14.0,
            likely: 100.0,
            high: 100.0,
        };
        let season = often(&[(storms, price)]);
        assert!((season.low - 400.0).abs() < 1e-9, "{season:?}");
        assert!((season.high - 1400.0).abs() < 1e-9);
    }
}
