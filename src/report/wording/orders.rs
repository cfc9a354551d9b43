//! Sentences about orders.

use super::ground::{cause_clause, hardly};
use super::names::names;
use super::source::signed_duration;
use super::title;
use crate::findings::{InPartReason, Matter, ShiftTold};
use crate::report::numbers::{count, duration, percent};
use crate::report::style::Style;

pub(super) fn sentence(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::NotDone { .. } => not_done(matter, style),
        Matter::OrderInPart {
            order,
            zones,
            limit,
            reason,
        } => in_part(order, zones, *limit, *reason),
        Matter::OrdersNotShown { orders, zones } => format!(
            "{} done as far as logs show it; coverage of {} does not show (by hand, or too narrow for the positions).",
            orders_named(orders, "is", "are"),
            names(zones)
        ),
        Matter::OutsideTime {
            orders,
            sites,
            off_s,
            shift,
            ..
        } => outside_time(orders, sites, *off_s, shift.as_ref()),
        Matter::ClockApart { shift, mended } => clock_apart(shift, *mended),
        Matter::NotOrdered { .. } => not_ordered(matter, style),
        Matter::Late {
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
        Matter::OtherProduct {
            orders,
            ordered,
            applied,
            area_m2,
        } => format!(
            "{} for {ordered}; {applied} was laid on {}.",
            orders_named(orders, "asks", "ask"),
            style.area(*area_m2),
        ),
        Matter::OutsideLogs { orders } => format!(
            "{} outside the time of all logs.",
            orders_named(orders, "lies", "lie")
        ),
        // `super::sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

fn not_ordered(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::NotOrdered {
            application,
            zones,
            treated_m2,
            volume_l,
        } => {
            let area = treated_m2.map_or_else(String::new, |area_m2| style.area(area_m2) + " of ");
            let volume = volume_l.map_or_else(String::new, |litres| {
                format!(" with {}", style.volume(litres))
            });
            format!(
                "Application {application} treated {area}{}{volume}; no order asks for that.",
                zones_named(zones)
            )
        }
        // `sentence` sends no other matter here.
        _ => title(matter).to_owned(),
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
            "under the {} inside the edge that make it done, {}",
            percent(limit),
            cause_clause(cause, None)
        ),
    };
    format!(
        "Order {order} is done in part; treated inside the edge: {}; {why}.",
        names(&zones)
    )
}

fn outside_time(
    orders: &[String],
    sites: &[String],
    off_s: f64,
    shift: Option<&ShiftTold>,
) -> String {
    let asked = match orders {
        [order] => format!("order {order}"),
        _ => format!("{} orders ({})", orders.len(), names(orders)),
    };
    let when = match off_s {
        off_s if off_s < 0.0 => format!("begun {} before it opens", duration(-off_s)),
        off_s => format!("finished {} after it ends", duration(off_s)),
    };
    let clock = shift.map_or_else(
        || "no one shift of its clock brings all of this rig's orders into their time".to_owned(),
        |shift| {
            let others = match shift.others {
                0 => String::new(),
                others => format!(
                    ", as {} would",
                    count(others as u64, "other whole hour", "other whole hours")
                ),
            };
            format!(
                "{} on its clock brings all of this rig's orders into their time{others}",
                signed_duration(shift.add_s)
            )
        },
    );
    format!(
        "The ground of {asked} at {} was treated outside its time, the first {when}; {clock}.",
        names(sites)
    )
}

fn clock_apart(shift: &ShiftTold, mended: usize) -> String {
    let orders = match mended {
        0 => "its orders are in time either way".to_owned(),
        mended => format!(
            "that would bring {} into its time",
            count(mended as u64, "order", "orders")
        ),
    };
    format!(
        "By its log no other rig was out at the time; {} on its clock, what local time is off UTC, and others were: {orders}.",
        signed_duration(shift.add_s)
    )
}

fn not_done(matter: &Matter, style: &Style) -> String {
    let Matter::NotDone {
        orders,
        zones,
        area_m2,
        some_l,
        by,
        logs_missing,
        treated_later,
    } = matter
    else {
        return title(matter).to_owned();
    };
    let shown = match (logs_missing, treated_later) {
        (_, true) => "The logs show no treatment in time",
        (true, false) => "No treatment in the logs received",
        (false, false) => "The logs show no treatment",
    };
    let due = by.map_or_else(String::new, |by| format!(", due by {}", style.time(by)));
    let asked = match orders.as_slice() {
        [order] => format!("order {order}"),
        _ => format!("{} orders ({})", orders.len(), names(orders)),
    };
    let some = some_l.map_or_else(String::new, |some_l| hardly(some_l, style));
    format!(
        "{shown} for {asked}: {} of {}{some}{due}.",
        style.area(*area_m2),
        zones_named(zones)
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
