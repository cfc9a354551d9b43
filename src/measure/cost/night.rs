//! All lots of the file with one rig: a route's shared costs, and how many rigs are done before the lots open.

use super::season::{added, once};
use super::setting::{Known, Setting};
use super::treatment::Terms;
use super::work::{Part, Work};
use crate::input::fleet::Spread;
use crate::measure::cost_sheet::{CostSheet, CrewSheet, NightSheet};

/// At most so many rigs are tried (limit).
const MOST_RIGS: usize = 12;

/// Gives every lot of a route its part of what they share: filling by liquid, ways by lots. Lots on their own keep all.
pub(super) fn share(works: &mut [Work], terms: &[Terms]) {
    if !terms.iter().any(|terms| terms.costs.route) {
        return;
    }
    let own: Vec<Option<Spread>> = works
        .iter()
        .zip(terms)
        .map(|(work, terms)| terms.tank_litres(work).map(|ranged| ranged.range))
        .collect();
    let known = own.iter().flatten().copied();
    let Some(route_l) = known.reduce(|a, b| a.plus(&b)) else {
        return;
    };
    let lots = works.iter().filter(|work| work.is_any()).count().max(1) as f64;
    for (work, own) in works.iter_mut().zip(own) {
        let litres = own.map_or(0.0, |own| own.likely);
        work.part = Part {
            deadhead: 1.0 / lots,
            between: (lots - 1.0) / lots,
            liquid: if route_l.likely > 0.0 {
                litres / route_l.likely
            } else {
                0.0
            },
            route_l: Some(route_l),
        };
    }
}

/// All lots together.
pub(super) fn night(
    rig: &str,
    terms: &Terms,
    works: &[Work],
    sheets: &[Option<&CostSheet>],
) -> Option<NightSheet> {
    let done: Vec<(&Work, &CostSheet)> = works
        .iter()
        .zip(sheets)
        .filter_map(|(work, sheet)| sheet.filter(|_| work.is_any()).map(|sheet| (work, sheet)))
        .collect();
    let all: Vec<&CostSheet> = done.iter().map(|(_, sheet)| *sheet).collect();
    if all.is_empty() {
        return None;
    }
    let once: Vec<_> = all.iter().map(|sheet| once(&sheet.application)).collect();
    let loads: Option<Vec<Spread>> = all.iter().map(|sheet| sheet.application.loads).collect();
    let events: Option<Vec<_>> = all
        .iter()
        .map(|sheet| Some(sheet.event.as_ref()?.sums))
        .collect();
    let seasons: Option<Vec<_>> = all
        .iter()
        .map(|sheet| Some(sheet.season.as_ref()?.sums))
        .collect();
    Some(NightSheet {
        rig: rig.to_owned(),
        route: terms.costs.route,
        sites: all.len(),
        application: added(once.iter()),
        loads: loads.and_then(|loads| loads.into_iter().reduce(|a, b| a.plus(&b))),
        event: events.map(|events| added(events.iter())),
        season: seasons.map(|seasons| added(seasons.iter())),
        window_s: terms.costs.window_s(),
        crews: crews(terms, &done),
    })
}

/// One rig, two, and so on until all are done in time even where things go badly, or more rigs are no quicker.
fn crews(terms: &Terms, done: &[(&Work, &CostSheet)]) -> Vec<CrewSheet> {
    let lots: Option<Vec<Spread>> = done
        .iter()
        .map(|(_, sheet)| sheet.application.total_s)
        .collect();
    let Some(lots) = lots else {
        return Vec::new();
    };
    let extra = Extra::of(terms);
    let window_s = terms.costs.window_s();
    let mut crews: Vec<CrewSheet> = Vec::new();
    for rigs in 1..=lots.len().min(MOST_RIGS) {
        // Each lot carries its part of one drive out and back; with more rigs that is driven once a rig.
        let own_s = extra.own_s * (rigs - 1) as f64 / rigs as f64;
        let finish = |side: fn(&Spread) -> f64| {
            let times: Vec<f64> = lots.iter().map(side).collect();
            longest_s(&times, rigs) + own_s
        };
        let finish_s = Spread {
            low: finish(|lot| lot.low),
            likely: finish(|lot| lot.likely),
            high: finish(|lot| lot.high),
        };
        let surely_in_time = window_s.map(|window_s| finish_s.high <= window_s);
        crews.push(CrewSheet {
            rigs,
            finish_s,
            in_time: window_s.map(|window_s| finish_s.likely <= window_s),
            surely_in_time,
            one_more: (rigs > 1).then_some(extra.money).flatten(),
        });
        if surely_in_time == Some(true) || (window_s.is_none() && rigs == 3) {
            break;
        }
    }
    crews
}

/// Longest of the rigs' times when each lot, the longest first, goes to the rig that is free first.
fn longest_s(lots_s: &[f64], rigs: usize) -> f64 {
    let mut lots_s = lots_s.to_vec();
    lots_s.sort_by(|a, b| b.total_cmp(a));
    let mut busy_s = vec![0.0_f64; rigs];
    for lot_s in lots_s {
        if let Some(first) = busy_s.iter_mut().min_by(|a, b| a.total_cmp(b)) {
            *first += lot_s;
        }
    }
    busy_s.into_iter().fold(0.0, f64::max)
}

/// What each further rig adds: on a route its own way out and home in place of a way between lots, and its own heel and
/// rinse.
struct Extra {
    /// On the clock of each rig after the first, s.
    own_s: f64,
    /// Money; `None` where nothing is known of it.
    money: Option<f64>,
}

impl Extra {
    fn of(terms: &Terms) -> Self {
        let values = terms.known.likely();
        let get = |setting: Setting| values.get(setting);
        if !terms.costs.route {
            // Lots on their own have all that already.
            return Self {
                own_s: 0.0,
                money: Some(0.0),
            };
        }
        let way_s = get(Setting::Deadhead)
            .map(|deadhead_s| (deadhead_s - get(Setting::Between).unwrap_or(0.0)).max(0.0));
        let wage = wage(terms.known);
        let wasted_l = get(Setting::Heel).unwrap_or(0.0) + get(Setting::Rinse).unwrap_or(0.0);
        let liquid = get(Setting::Price).map_or(0.0, |price| price * wasted_l);
        Self {
            own_s: way_s.unwrap_or(0.0),
            money: way_s.zip(wage).map(|(s, wage)| s * wage + liquid),
        }
    }
}

/// Rig and crew, money per second.
pub(super) fn wage(known: &Known) -> Option<f64> {
    let values = known.likely();
    let crew = values.get(Setting::Crew).unwrap_or(1.0);
    let (rig, crew_hour) = (values.get(Setting::RigHour), values.get(Setting::CrewHour));
    match (rig, crew_hour) {
        (None, None) => None,
        (rig, crew_hour) => Some(rig.unwrap_or(0.0) + crew * crew_hour.unwrap_or(0.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 7, 6, 5, 4, 3 to two rigs: 7 + 4 + 3 and 6 + 5, the longest first.
    #[test]
    fn lots_go_to_the_rig_that_is_free_first() {
        assert!((longest_s(&[3.0, 4.0, 5.0, 6.0, 7.0], 2) - 14.0).abs() < 1e-12);
        assert!((longest_s(&[3.0, 4.0, 5.0, 6.0, 7.0], 1) - 25.0).abs() < 1e-12);
    }
}
