//! What became of a site's orders: which application served each, how far, when it was finished and with what;
//! and what was treated without an order.

mod finish;
mod share;

use super::applications::Applications;
use super::covers::Covers;
use super::laid::Laid;
use super::outcome::{NotOrderedFact, OrderFact, ROUNDED_M2, ROUNDED_PROBABILITY, ZoneState};
use super::sums::Sums;
use super::zones::Zones;
use crate::orders::{self, Spell};
use crate::result::OrderStatus;

/// With less of it treated, a zone was not done: a rig that turns on a neighbour's ground or clips a corner leaves a
/// few per cent. What lies between this and done is reported by `thin_cover` and `bare_patch` (trade judgement).
pub const NOT_DONE_SHARE: f64 = 0.10;
/// Without an order, a zone is reported from this treated share on: overspray from the ground beside it is less (trade
/// judgement).
const NOT_ORDERED_SHARE: f64 = 0.50;

/// How far figures are moved before they are compared with a threshold, to see whether rounding could turn the verdict.
#[derive(Debug, Clone, Copy, Default)]
struct Nudge {
    /// Added to every probability that ground is bare.
    probability: f64,
    /// Added to bare ground and taken from treated ground, m2.
    bare_m2: f64,
}

/// Another processor may round the last digit differently: draws differ by a cell then, areas by the overlay's grid
/// along an outline.
const NUDGES: [Nudge; 2] = [
    Nudge {
        probability: ROUNDED_PROBABILITY,
        bare_m2: ROUNDED_M2,
    },
    Nudge {
        probability: -ROUNDED_PROBABILITY,
        bare_m2: -ROUNDED_M2,
    },
];

/// What an application did of the site's zones.
struct Treatments<'a> {
    laid: &'a Laid<'a>,
    done: &'a Applications<'a>,
    covers: &'a Covers,
    sums: &'a Sums,
    nudge: Nudge,
}

/// Which application serves each order of the site.
pub(super) fn serve(
    laid: &Laid,
    done: &Applications,
    covers: &Covers,
    sums: &Sums,
) -> Vec<Option<usize>> {
    let placed = laid.rules.placed();
    let spell = |group: &super::application::Group| Spell {
        start: group.start,
        end: group.end,
    };
    let spells: Vec<Spell> = done.groups.iter().map(spell).collect();
    let work = Treatments {
        laid,
        done,
        covers,
        sums,
        nudge: Nudge::default(),
    };
    let reached: Vec<Vec<bool>> = placed
        .iter()
        .map(|order| {
            let reached = |app| {
                let mut zones = work.scope(order.zone);
                zones.any(|zone| work.state(app, zone, Some(&order.order)) != ZoneState::NotDone)
            };
            (0..spells.len()).map(reached).collect()
        })
        .collect();
    orders::serve(placed, &spells, |order, app| reached[order][app])
}

/// What became of the site's orders, in their order.
pub(super) fn facts(zones: &Zones) -> Vec<OrderFact> {
    let judge = Judge::of(zones, Nudge::default());
    let nudged = NUDGES.map(|nudge| Judge::of(zones, nudge));
    let orders = 0..zones.laid.rules.placed().len();
    let fact = |index| {
        let near = nudged.each_ref();
        judge.fact(index, near.map(|judge| judge.status(index)))
    };
    orders.map(fact).collect()
}

/// What was treated without an order; nothing where there is no orders file.
pub(super) fn not_ordered(zones: &Zones) -> Vec<NotOrderedFact> {
    if zones.laid.rules.orders.is_none() {
        return Vec::new();
    }
    let judge = Judge::of(zones, Nudge::default());
    let applications = 0..zones.done.groups.len();
    applications
        .filter_map(|app| judge.not_ordered(app))
        .collect()
}

/// The same once it is known which application served which order.
struct Judge<'a> {
    work: Treatments<'a>,
    served: &'a [Option<usize>],
}

impl<'a> Judge<'a> {
    fn of(zones: &'a Zones<'a>, nudge: Nudge) -> Self {
        Self {
            work: Treatments {
                laid: zones.laid,
                done: zones.done,
                covers: zones.covers,
                sums: zones.sums,
                nudge,
            },
            served: zones.served,
        }
    }

    fn status(&self, index: usize) -> OrderStatus {
        let work = &self.work;
        let placed = &work.laid.rules.placed()[index];
        let zones = self.zones(index);
        if !zones.is_empty() {
            whole(&zones)
        } else if work.gun_work(placed).0 {
            OrderStatus::Done
        } else if work.has_hand_work(placed.zone) {
            OrderStatus::ByHand
        } else {
            OrderStatus::NotKnown
        }
    }

    fn fact(&self, index: usize, near: [OrderStatus; 2]) -> OrderFact {
        let work = &self.work;
        let placed = &work.laid.rules.placed()[index];
        let application = self.served[index];
        let zones = self.zones(index);
        let (_, gun_end) = work.gun_work(placed);
        let status = self.status(index);
        let finished = match application {
            Some(app) if !zones.is_empty() => Some(work.finished(app, &zones)),
            _ if status == OrderStatus::Done => gun_end,
            _ => None,
        };
        OrderFact {
            treated_share: application.and_then(|app| work.treated_share(app, &zones)),
            other_products: application
                .map(|app| work.other_products(app, &placed.order, &zones))
                .unwrap_or_default(),
            application,
            not_shown: work.not_shown(placed.zone),
            zones,
            status,
            near,
            finished,
        }
    }

    /// The boom zones of an order with what became of each. Where every zone has an order of its own, the
    /// site's order is judged by all of them.
    fn zones(&self, index: usize) -> Vec<(usize, ZoneState)> {
        let placed = &self.work.laid.rules.placed()[index];
        let application = self.served[index];
        let all: Vec<usize> = self.work.scope(placed.zone).collect();
        let mut own = all.clone();
        own.retain(|&zone| application.is_none_or(|app| self.is_served_by(index, app, zone)));
        let state = |zone: usize| {
            let state = |app| self.work.state(app, zone, Some(&placed.order));
            (zone, application.map_or(ZoneState::NotDone, state))
        };
        let zones = if own.is_empty() { all } else { own };
        zones.into_iter().map(state).collect()
    }

    fn is_served_by(&self, order: usize, app: usize, zone: usize) -> bool {
        orders::order_of(self.work.laid.rules.placed(), self.served, app, zone) == Some(order)
    }

    fn not_ordered(&self, app: usize) -> Option<NotOrderedFact> {
        let (placed, work) = (self.work.laid.rules.placed(), &self.work);
        let is_ordered = |&zone: &usize| orders::order_of(placed, self.served, app, zone).is_some();
        let whole = !work.scope(None).any(|zone| is_ordered(&zone));
        // Overspray covers a narrow zone beside an ordered one: its volume is no sign of work on it.
        let least = if whole {
            NOT_DONE_SHARE
        } else {
            NOT_ORDERED_SHARE
        };
        let zones: Vec<usize> = work
            .scope(None)
            .filter(|zone| !is_ordered(zone) && (whole || !work.covers.frames[*zone].narrow))
            .filter(|&zone| {
                let share = work.share(app, zone, None);
                share.is_some_and(|share| share.treated >= least)
            })
            .collect();
        (!zones.is_empty()).then_some(NotOrderedFact {
            application: app,
            zones,
            whole,
        })
    }
}

/// Status of an order from that of its zones.
fn whole(zones: &[(usize, ZoneState)]) -> OrderStatus {
    let all = |state: ZoneState| zones.iter().all(|(_, of)| *of == state);
    if all(ZoneState::Done) {
        OrderStatus::Done
    } else if all(ZoneState::NotDone) {
        OrderStatus::NotDone
    } else if all(ZoneState::NotKnown) {
        OrderStatus::NotKnown
    } else {
        OrderStatus::InPart
    }
}
