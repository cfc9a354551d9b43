//! What became of a site's orders: which application served each, how far, when it was finished and with what;
//! and what was treated without an order.

mod share;
mod work;

use super::Bench;
use super::pieces::Sums;
use crate::coverage::ZoneCover;
use crate::input::orders::Order;
use crate::orders::{self, Spell};
use crate::place::Instant;
use crate::result::OrderStatus;
use std::collections::BTreeMap;

/// With less of it treated, a zone was not done: a rig that turns on a neighbour's ground or clips a corner leaves
/// some per cent. What lies between this and done is told by `thin_cover` and `bare_patch`.
pub const NOT_DONE_SHARE: f64 = 0.10;
/// Without an order, a zone is told of from this treated share on: overspray from the ground beside it is less.
const NOT_ORDERED_SHARE: f64 = 0.50;

/// What became of one order.
#[derive(Debug, Clone)]
pub struct OrderFact {
    /// The order.
    pub order: Order,
    /// Index of the application that served it.
    pub application: Option<usize>,
    /// Its boom zones (index in the site's) and what became of each.
    pub zones: Vec<(usize, ZoneState)>,
    /// What became of it as a whole.
    pub status: OrderStatus,
    /// Treated share of the ground that areas can be told of.
    pub treated_share: Option<f64>,
    /// When the work was finished.
    pub finished: Option<Instant>,
    /// Ground treated with another product than ordered, m2, by product.
    pub other_products: BTreeMap<String, f64>,
}

/// What became of one zone of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ZoneState {
    /// Treated.
    Done,
    /// Partly treated.
    InPart,
    /// Not treated, or nearly so.
    NotDone,
    /// Nothing can be told.
    NotKnown,
}

/// Ground treated without an order.
#[derive(Debug, Clone)]
pub struct NotOrderedFact {
    /// Index of the application.
    pub application: usize,
    /// Its zones (index in the site's); all of the application's when nothing of it was ordered.
    pub zones: Vec<usize>,
    /// No zone of the application was ordered.
    pub whole: bool,
}

/// Which application serves each order of the site.
pub(super) fn serve(bench: &Bench, covers: &[Vec<ZoneCover>], sums: &Sums) -> Vec<Option<usize>> {
    let placed = bench.orders();
    let spells: Vec<Spell> = bench
        .groups
        .iter()
        .map(|group| Spell {
            start: group.start,
            end: group.end,
        })
        .collect();
    let work = Judge {
        bench,
        covers,
        sums,
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

/// What became of the site's orders, in the order of the file.
pub(super) fn facts(bench: &Bench, covers: &[Vec<ZoneCover>], sums: &Sums) -> Vec<OrderFact> {
    let work = Judge {
        bench,
        covers,
        sums,
    };
    (0..bench.orders().len())
        .map(|index| work.fact(index))
        .collect()
}

/// What was treated without an order; nothing where there is no orders file.
pub(super) fn not_ordered(
    bench: &Bench,
    covers: &[Vec<ZoneCover>],
    sums: &Sums,
) -> Vec<NotOrderedFact> {
    if bench.work.orders.is_none() {
        return Vec::new();
    }
    let work = Judge {
        bench,
        covers,
        sums,
    };
    (0..bench.groups.len())
        .filter_map(|app| work.not_ordered(app))
        .collect()
}

struct Judge<'a> {
    bench: &'a Bench<'a>,
    covers: &'a [Vec<ZoneCover>],
    sums: &'a Sums,
}

impl Judge<'_> {
    fn fact(&self, index: usize) -> OrderFact {
        let placed = &self.bench.orders()[index];
        let application = self.bench.served[index];
        let all: Vec<usize> = self.scope(placed.zone).collect();
        let mut own = all.clone();
        own.retain(|&zone| application.is_none_or(|app| self.is_served_by(index, app, zone)));
        // Where every zone has an order of its own, the site's order is judged by all of them.
        let zones: Vec<(usize, ZoneState)> = if own.is_empty() { all } else { own }
            .into_iter()
            .map(|zone| {
                let state = application.map_or(ZoneState::NotDone, |app| {
                    self.state(app, zone, Some(&placed.order))
                });
                (zone, state)
            })
            .collect();
        let (by_gun, gun_end) = self.gun_work(index);
        let status = match application {
            _ if zones.is_empty() && by_gun => OrderStatus::Done,
            _ if zones.is_empty() && !self.has_hand_work(placed.zone) => OrderStatus::NotKnown,
            _ if zones.is_empty() => OrderStatus::ByHand,
            None if self.is_outside_logs(&placed.order) => OrderStatus::OutsideLogs,
            _ => whole(&zones),
        };
        let finished = match application {
            Some(app) if !zones.is_empty() => Some(self.finished(app, &zones)),
            _ if status == OrderStatus::Done => gun_end,
            _ => None,
        };
        OrderFact {
            order: placed.order.clone(),
            treated_share: application.and_then(|app| self.treated_share(app, &zones)),
            other_products: application
                .map(|app| self.other_products(app, &placed.order, &zones))
                .unwrap_or_default(),
            application,
            zones,
            status,
            finished,
        }
    }

    fn is_served_by(&self, order: usize, app: usize, zone: usize) -> bool {
        orders::order_of(self.bench.orders(), &self.bench.served, app, zone) == Some(order)
    }

    /// Whether the order's whole window lies before the first or after the last fix of all logs.
    fn is_outside_logs(&self, order: &Order) -> bool {
        let span = self.bench.work.span;
        let before = matches!((order.by, span), (Some(by), Some(span)) if by < span.first);
        let after = matches!((order.from, span), (Some(from), Some(span)) if from > span.last);
        before || after
    }

    fn not_ordered(&self, app: usize) -> Option<NotOrderedFact> {
        let (placed, served) = (self.bench.orders(), &self.bench.served);
        let is_ordered = |&zone: &usize| orders::order_of(placed, served, app, zone).is_some();
        let whole = !self.scope(None).any(|zone| is_ordered(&zone));
        // Overspray covers a narrow zone beside an ordered one: its volume is no sign of work on it.
        let least = if whole {
            NOT_DONE_SHARE
        } else {
            NOT_ORDERED_SHARE
        };
        let zones: Vec<usize> = self
            .scope(None)
            .filter(|zone| !is_ordered(zone) && (whole || !self.bench.frames[*zone].narrow))
            .filter(|&zone| {
                let share = self.share(app, zone, None);
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
