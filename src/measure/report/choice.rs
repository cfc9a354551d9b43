//! Which rig fits a lot, and what speaks for and against the others.

use super::words::{flow_limit, loads, money};
use crate::input::fleet::Spread;
use crate::measure::cost_sheet::ApplicationSheet;
use crate::measure::sheet::{PlanSheet, RigSheet, Sheet, SiteSheet};
use crate::notation::clean::clean;
use crate::notation::numbers::{Units, duration, percent};

/// Two rigs whose amounts are this close cost the same (trade judgement).
const AS_DEAR: f64 = 0.02;
/// Two reaches this close are the same (trade judgement).
const AS_WIDE: f64 = 0.01;

/// Index of the rig that does a site for least money (before any minimum charge), else in the least time; `None` where nothing is known of any.
pub(super) fn fitting(site: &SiteSheet) -> Option<usize> {
    let figure = |rig: &RigSheet, of: &dyn Fn(&ApplicationSheet) -> Option<Spread>| {
        rig.cost
            .as_ref()
            .and_then(|cost| of(&cost.application))
            .map(|spread| spread.likely)
    };
    let least = |of: &dyn Fn(&ApplicationSheet) -> Option<Spread>| {
        let known = site.rigs.iter().enumerate();
        known
            .filter_map(|(index, rig)| Some((index, figure(rig, of)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(index, _)| index)
    };
    least(&|of| of.price.or(of.direct_cost)).or_else(|| least(&|of| of.total_s))
}

/// Why one rig fits and what speaks for the others: one sentence each.
pub(super) fn choice(site: &SiteSheet, sheet: &Sheet, units: Units) -> Vec<String> {
    if site.rigs.len() < 2 {
        return Vec::new();
    }
    let Some(best) = fitting(site) else {
        return Vec::new();
    };
    let own = &site.rigs[best];
    let others = site
        .rigs
        .iter()
        .enumerate()
        .filter(|(index, _)| *index != best);
    let mut lines = vec![format!("{} fits best.", clean(&own.rig))];
    lines.extend(others.map(|(_, other)| against(own, other, sheet, units)));
    lines
}

/// One rig beside the one that fits.
fn against(own: &RigSheet, other: &RigSheet, sheet: &Sheet, units: Units) -> String {
    let name = clean(&other.rig);
    let costs = own.cost.as_ref().zip(other.cost.as_ref());
    let Some((mine, theirs)) = costs.map(|(a, b)| (&a.application, &b.application)) else {
        let keys = other.missing.join(", ");
        return format!("{name}: nothing is known of it here ({keys} missing).");
    };
    let mut pairs = Pairs(Vec::new());
    pairs.costs(mine, theirs, sheet);
    pairs.plans(own, other, units);
    let Pairs(mut parts) = pairs;
    for (of, rig) in [(mine, own), (theirs, other)] {
        if of.flow_binds {
            parts.push(flow_limit(of, rig, units));
        }
    }
    if parts.is_empty() {
        return format!("{name} does as well.");
    }
    let both = (mine.price.or(mine.direct_cost)).zip(theirs.price.or(theirs.direct_cost));
    let as_dear = both.is_some_and(|(a, b)| (b.likely - a.likely).abs() <= AS_DEAR * a.likely);
    let so = if as_dear {
        " (within 2 %: as good)"
    } else {
        ""
    };
    format!("{name}{so}: {}.", parts.join("; "))
}

/// Figures of two rigs that differ.
struct Pairs(Vec<String>);

impl Pairs {
    /// The other's figure against this one's.
    fn add(&mut self, what: &str, own: Option<String>, other: Option<String>) {
        if let (Some(own), Some(other)) = (own, other)
            && own != other
        {
            self.0.push(format!("{what} {other} against {own}"));
        }
    }

    fn costs(&mut self, mine: &ApplicationSheet, theirs: &ApplicationSheet, sheet: &Sheet) {
        let currency = sheet.settings.costs.currency.as_deref();
        let likely = |spread: &Option<Spread>, write: &dyn Fn(f64) -> String| {
            spread.as_ref().map(|spread| write(spread.likely))
        };
        let sum = |sum: f64| money(sum, currency);
        // The minimum would make rigs alike that are not.
        let is = if mine.price.is_some() {
            "price"
        } else {
            "direct cost"
        };
        self.add(
            is,
            likely(&mine.price.or(mine.direct_cost), &sum),
            likely(&theirs.price.or(theirs.direct_cost), &sum),
        );
        self.add(
            "time",
            likely(&mine.total_s, &duration),
            likely(&theirs.total_s, &duration),
        );
        self.add(
            "loads",
            likely(&mine.loads, &loads),
            likely(&theirs.loads, &loads),
        );
    }

    fn plans(&mut self, own: &RigSheet, other: &RigSheet, units: Units) {
        let reach = |m2: f64| units.area().text(m2);
        if let (Some(mine), Some(theirs)) = (own.reach_m2, other.reach_m2)
            && (mine - theirs).abs() > AS_WIDE * mine
        {
            self.add("reach", Some(reach(mine)), Some(reach(theirs)));
        }
        let (own, other) = (own.plan.as_ref(), other.plan.as_ref());
        let mut both = |what: &str, figure: &dyn Fn(&PlanSheet) -> Option<String>| {
            self.add(what, own.and_then(figure), other.and_then(figure));
        };
        both("lanes", &|plan| Some(plan.lanes.to_string()));
        both("turning", &|plan| plan.turning_s.map(duration));
        both("swept twice", &|plan| {
            Some(percent(
                (plan.swept_m2? - plan.treated_m2?) / plan.treated_m2?,
            ))
        });
    }
}
