//! Findings about orders: work asked for, its time, its product.

use super::Severity;
use super::card::{Card, Quantity, Stake};
use super::cause::{GapCause, cause_clause};
use super::cover::hardly;
use crate::geometry::place::Instant;
use crate::notation::names::names;
use crate::notation::numbers::{count, duration, percent};
use crate::notation::style::Style;
use std::borrow::Cow;

/// About orders: work asked for, its time, its product.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutOrders {
    /// Ordered work that the logs do not show, or hardly.
    NotDone(NotDone),
    /// An order was done in part.
    OrderInPart {
        /// The order, by number, else by line.
        order: String,
        /// Zones that are not done, each with its treated share (inside its edge where that is known).
        zones: Vec<(String, Option<f64>)>,
        /// Treated share from which a zone is done.
        limit: f64,
        /// Why the greatest of them is not.
        reason: InPartReason,
    },
    /// Orders that are done as far as the logs can show it: counted in one line.
    OrdersNotShown {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Ground of which logs show no coverage, as `site/zone`.
        zones: Vec<String>,
    },
    /// Treated without an order.
    NotOrdered {
        /// Number of the application.
        application: usize,
        /// Zones, by id.
        zones: Vec<String>,
        /// Treated ground, m2; `None` where the logs cannot tell.
        treated_m2: Option<f64>,
        /// Liquid on it.
        volume_l: Option<f64>,
    },
    /// Ordered work was finished after its time.
    Late {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Greatest delay, s.
        late_s: f64,
        /// When that work was finished.
        finished: Instant,
        /// When it was to be finished.
        by: Instant,
        /// Longest delay that does not count, s.
        limit_s: f64,
    },
    /// Another product was laid than ordered.
    OtherProduct {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Product ordered.
        ordered: String,
        /// Product laid, as the logs and the fleet file say.
        applied: String,
        /// Ground with it, m2.
        area_m2: f64,
    },
    /// Orders whose time no log covers: counted in one line.
    OutsideLogs {
        /// The orders, by number, else by line.
        orders: Vec<String>,
    },
}

/// Ordered work that the logs do not show, or hardly.
#[derive(Debug, Clone, PartialEq)]
pub struct NotDone {
    /// The orders, by number, else by line.
    pub orders: Vec<String>,
    /// Zones, by id.
    pub zones: Vec<String>,
    /// Their ground, m2.
    pub area_m2: f64,
    /// Liquid that fell on it all the same, too little ground for a treatment.
    pub some_l: Option<f64>,
    /// To be finished by, the earliest of the orders'.
    pub by: Option<Instant>,
    /// Logs of some rig are missing, so "no treatment in the logs received".
    pub logs_missing: bool,
    /// The ground was treated later in the night.
    pub treated_later: bool,
}

/// Why a zone of an order is not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InPartReason {
    /// Nothing of it was treated.
    Untreated,
    /// A patch of it is open.
    Patch,
    /// Too little of it was treated, mostly for this cause.
    Thin(GapCause),
    /// The log cannot tell.
    NotKnown,
}

impl AboutOrders {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Count, Share, Time};
        match self {
            Self::NotDone(it) => {
                Card::new("not_done", "Ordered, not done", Stake::NotDone).figure(it.area_m2, Area)
            }
            Self::OrderInPart { zones, limit, .. } => {
                let card = Card::new("order_in_part", "Order done in part", Stake::NotDone);
                match zones.first().and_then(|(_, share)| *share) {
                    Some(share) => card.against(share, *limit, Share),
                    None => card,
                }
            }
            Self::OrdersNotShown { orders, .. } => {
                Card::new("orders_not_shown", "Ground that no log shows", Stake::Data)
                    .figure(orders.len() as f64, Count("orders"))
            }
            Self::NotOrdered { treated_m2, .. } => {
                let card = Card::new("not_ordered", "Treated without an order", Stake::Order);
                match *treated_m2 {
                    Some(treated_m2) => card.figure(treated_m2, Area),
                    None => card,
                }
            }
            Self::Late {
                late_s, limit_s, ..
            } => Card::new("late", "Finished late", Stake::Order).against(*late_s, *limit_s, Time),
            Self::OtherProduct { area_m2, .. } => Card::new(
                "other_product",
                "Another product than ordered",
                Stake::Order,
            )
            .figure(*area_m2, Area),
            Self::OutsideLogs { orders } => Card::new(
                "outside_logs",
                "Orders outside the time of the logs",
                Stake::Data,
            )
            .figure(orders.len() as f64, Count("orders")),
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::NotDone(it) => it.sentence(style),
            Self::OrderInPart {
                order,
                zones,
                limit,
                reason,
            } => in_part(order, zones, *limit, *reason),
            Self::OrdersNotShown { orders, zones } => format!(
                "{} done as far as the logs can show; they cannot show coverage of {} (hand work, or too narrow for \
                 the positions).",
                orders_named(orders, "is", "are"),
                names(zones)
            ),
            Self::NotOrdered {
                application,
                zones,
                treated_m2,
                volume_l,
            } => {
                let area =
                    treated_m2.map_or_else(String::new, |area_m2| style.area(area_m2) + " of ");
                let volume = volume_l.map_or_else(String::new, |litres| {
                    format!(" with {}", style.volume(litres))
                });
                format!(
                    "Application {application} treated {area}{}{volume}; no order asks for that.",
                    zones_named(zones)
                )
            }
            Self::Late {
                orders,
                late_s,
                finished,
                by,
                ..
            } => format!(
                "{} finished {}, {} after {}.",
                orders_named(orders, "was", "were"),
                style.clock(*finished),
                duration(*late_s),
                style.time(*by),
            ),
            Self::OtherProduct {
                orders,
                ordered,
                applied,
                area_m2,
            } => format!(
                "{} for {ordered}; {applied} was laid on {}.",
                orders_named(orders, "asks", "ask"),
                style.area(*area_m2),
            ),
            Self::OutsideLogs { orders } => format!(
                "{} outside the time that the logs cover.",
                orders_named(orders, "lies", "lie")
            ),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, _severity: Severity) -> Cow<'static, str> {
        let plain = match self {
            Self::NotDone(it) if it.treated_later => {
                "It was treated later: ask the crew what happened, and settle with the client what counts."
            }
            Self::NotDone(it) if it.logs_missing => {
                "Get the missing logs or ask the crew first; send a rig where the ordered work was not done."
            }
            Self::NotDone(_) => {
                "Ask the crew whether it was left out or done by hand; send a rig where it was not done."
            }
            Self::OrderInPart { .. } => {
                "See the other findings on that zone; send a rig unless parked cars, snow piles or hand work explain \
                 it."
            }
            Self::OrdersNotShown { .. } => {
                "Confirm hand work and walks with the crew before calling the order done."
            }
            Self::OutsideLogs { .. } => {
                "Check the dates in the orders file; audit again with the logs of that time."
            }
            Self::NotOrdered { .. } => {
                "Find the order, or ask the driver whether this was the wrong ground; unordered work may not be billable."
            }
            Self::Late { .. } => {
                "Tell the client if the contract asks for it; put this site earlier in the route."
            }
            Self::OtherProduct { .. } => {
                "Ask what was in the tank; correct the log's or rig's product if only that is wrong, else follow \
             the label and what was agreed with the client."
            }
        };
        plain.into()
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::at;
        vec![
            Self::NotDone(NotDone::sample(true, false)),
            Self::NotDone(NotDone::sample(false, true)),
            Self::NotDone(NotDone::sample(false, false)),
            Self::OrderInPart {
                order: "A-17".into(),
                zones: vec![("entry".into(), Some(0.847))],
                limit: 0.9,
                reason: InPartReason::Thin(GapCause::SprayingOff),
            },
            Self::OrdersNotShown {
                orders: vec!["A-17".into()],
                zones: vec!["quay/steps".into(), "quay/walk".into()],
            },
            Self::NotOrdered {
                application: 2,
                zones: vec!["main".into()],
                treated_m2: Some(9_000.0),
                volume_l: Some(250.0),
            },
            Self::Late {
                orders: vec!["A-17".into()],
                late_s: 2_400.0,
                finished: at(100),
                by: at(60),
                limit_s: 60.0,
            },
            Self::OtherProduct {
                orders: vec!["A-17".into()],
                ordered: "NaCl 23.3 %".into(),
                applied: "blend".into(),
                area_m2: 9_000.0,
            },
            Self::OutsideLogs {
                orders: vec!["line 4".into()],
            },
        ]
    }
}

fn in_part(
    order: &str,
    zones: &[(String, Option<f64>)],
    limit: f64,
    reason: InPartReason,
) -> String {
    let zones: Vec<String> = zones
        .iter()
        .map(|(zone, share)| match share {
            Some(share) => format!("{zone} {}", percent(*share)),
            None => format!("{zone} not known"),
        })
        .collect();
    let why = match reason {
        InPartReason::Untreated => "nothing was laid there".to_owned(),
        InPartReason::Patch => "a patch is open".to_owned(),
        InPartReason::NotKnown => "the log cannot tell".to_owned(),
        InPartReason::Thin(cause) => format!(
            "under the {} inside the edge that count as done, {}",
            percent(limit),
            cause_clause(cause, None)
        ),
    };
    format!(
        "Order {order} is done in part; treated inside the edge: {}; {why}.",
        names(&zones)
    )
}

/// `zone main`, `3 zones (a, b, c)`.
fn zones_named(zones: &[String]) -> String {
    match zones {
        [zone] => format!("zone {zone}"),
        _ => format!(
            "{} ({})",
            count(zones.len() as u64, "zone", "zones"),
            names(zones)
        ),
    }
}

/// `Order A-17 was`, `2 orders were`.
fn orders_named(orders: &[String], one: &str, many: &str) -> String {
    match orders {
        [order] => format!("Order {order} {one}"),
        _ => format!("{} orders ({}) {many}", orders.len(), names(orders)),
    }
}

impl NotDone {
    fn sentence(&self, style: &Style) -> String {
        let shown = match (self.logs_missing, self.treated_later) {
            (_, true) => "The logs show no treatment in time",
            (true, false) => "No treatment in the logs received",
            (false, false) => "The logs show no treatment",
        };
        let due = self
            .by
            .map_or_else(String::new, |by| format!(", due by {}", style.time(by)));
        let asked = match self.orders.as_slice() {
            [order] => format!("order {order}"),
            _ => format!("{} orders ({})", self.orders.len(), names(&self.orders)),
        };
        let some = self
            .some_l
            .map_or_else(String::new, |some_l| hardly(some_l, style));
        format!(
            "{shown} for {asked}: {} of {}{some}{due}.",
            style.area(self.area_m2),
            zones_named(&self.zones)
        )
    }

    #[cfg(test)]
    fn sample(logs_missing: bool, treated_later: bool) -> Self {
        Self {
            orders: vec!["A-17".into(), "line 3".into()],
            zones: vec!["court".into()],
            area_m2: 2_000.0,
            some_l: None,
            by: Some(super::sample::at(60)),
            logs_missing,
            treated_later,
        }
    }
}
