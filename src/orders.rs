//! Step 3 of the flow: orders placed on the divided ground, and, once a site's applications are known
//! (step 6), which application serves which order.
//!
//! An order asks for one treatment of its zones. Orders for a whole site are paired with the site's applications,
//! and so are, each for itself, the orders for one zone: an application serves at most one order of each scope. On
//! a zone with an order of its own that order outranks the site's in the application that both are served by.

mod clock;
pub mod night;
mod pairing;
pub mod targets;

pub use clock::{ClockShift, LATE_S, Sprayed, clock_shift};
pub use pairing::{Spell, Window, pair};

use crate::error::{Error, Result};
use crate::findings::log::AboutLog;
use crate::findings::{Finding, Severity};
use crate::ground::Site;
use crate::input::orders::Order;
use serde::{Deserialize, Serialize};

/// The night's orders, by site.
#[derive(Debug, Clone, Default)]
pub struct Orders {
    /// Of each site, in the order of the file.
    pub sites: Vec<Vec<Placed>>,
}

/// An order on the ground of its site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// The row.
    pub order: Order,
    /// Index of its zone in the site's; `None` is every zone to be treated.
    pub zone: Option<usize>,
}

impl Placed {
    /// When it is to be done.
    #[must_use]
    pub fn window(&self) -> Window {
        Window {
            from: self.order.from,
            by: self.order.by,
        }
    }
}

/// Finds each order's site and zone; `file` is shown in findings.
///
/// # Errors
/// When there are rows, and none of them has a site and zone to be treated.
pub fn place(orders: Vec<Order>, sites: &[Site], file: &str) -> Result<(Orders, Vec<Finding>)> {
    let index_of: std::collections::HashMap<&str, usize> = sites
        .iter()
        .enumerate()
        .map(|(index, site)| (site.id.as_str(), index))
        .collect();
    let mut placed: Vec<Vec<Placed>> = vec![Vec::new(); sites.len()];
    let mut faults: Vec<(Fault, u64, u64, String)> = Vec::new();
    let rows = orders.len();
    for order in orders {
        let site = index_of.get(order.site.as_str()).copied();
        match on_ground(&order, site.map(|index| &sites[index])) {
            Ok(zone) => placed[site.unwrap_or_default()].push(Placed { order, zone }),
            Err((fault, why)) => match faults.iter_mut().find(|(known, ..)| *known == fault) {
                Some((_, _, count, _)) => *count += 1,
                None => faults.push((fault, order.line, 1, why)),
            },
        }
    }
    if let Some((_, line, _, why)) = faults.first()
        && placed.iter().all(Vec::is_empty)
    {
        let message = match rows {
            1 => format!("the only order cannot be used: {why}"),
            _ => format!("none of the {rows} orders can be used: {why}"),
        };
        return Err(Error::new(message).line(*line).advice(
            "Sites and zones are named as in the sites file; take the file away to audit without orders.",
        ));
    }
    let findings = faults
        .into_iter()
        .map(|(_, line, count, why)| {
            let kind = AboutLog::InputSkipped {
                file: file.to_owned(),
                line: Some(line),
                count,
                why: format!("{why}; the order was left out"),
            };
            Finding::new(Severity::LookInto, kind)
        })
        .collect();
    Ok((Orders { sites: placed }, findings))
}

/// Why an order has no ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    NoSite,
    NoZone,
    NothingToTreat,
}

fn on_ground(
    order: &Order,
    site: Option<&Site>,
) -> std::result::Result<Option<usize>, (Fault, String)> {
    let Some(site) = site else {
        let why = format!("there is no site \"{}\" in the sites file", order.site);
        return Err((Fault::NoSite, why));
    };
    let Some(id) = &order.zone else {
        return match site.zones.iter().any(|zone| zone.is_to_treat()) {
            true => Ok(None),
            false => Err((
                Fault::NothingToTreat,
                format!("site \"{}\" has no walk, drive or lot", site.id),
            )),
        };
    };
    match site.zones.iter().position(|zone| &zone.id == id) {
        Some(index) if site.zones[index].is_to_treat() => Ok(Some(index)),
        Some(_) => Err((
            Fault::NothingToTreat,
            format!(
                "zone \"{id}\" of site \"{}\" is not a walk, drive or lot",
                site.id
            ),
        )),
        None => Err((
            Fault::NoZone,
            format!("site \"{}\" has no zone \"{id}\"", site.id),
        )),
    }
}

/// Which application serves each order of a site; `reached(order, application)` says whether the application did
/// any of the order's ground.
#[must_use]
pub fn serve(
    orders: &[Placed],
    applications: &[Spell],
    reached: impl Fn(usize, usize) -> bool,
) -> Vec<Option<usize>> {
    let mut served = vec![None; orders.len()];
    let mut scopes: Vec<Option<usize>> = orders.iter().map(|placed| placed.zone).collect();
    scopes.sort_unstable();
    scopes.dedup();
    for scope in scopes {
        let own: Vec<usize> = (0..orders.len())
            .filter(|&index| orders[index].zone == scope)
            .collect();
        let windows: Vec<Window> = own.iter().map(|&index| orders[index].window()).collect();
        let paired = pair(&windows, applications, |order, application| {
            reached(own[order], application)
        });
        for (order, application) in own.into_iter().zip(paired) {
            served[order] = application;
        }
    }
    served
}

/// The order that a zone is treated under in an application: its own before the site's.
#[must_use]
pub fn order_of(
    orders: &[Placed],
    served: &[Option<usize>],
    application: usize,
    zone: usize,
) -> Option<usize> {
    let of_scope = |scope: Option<usize>| {
        (0..orders.len())
            .find(|&index| orders[index].zone == scope && served[index] == Some(application))
    };
    of_scope(Some(zone)).or_else(|| of_scope(None))
}

#[cfg(test)]
mod tests;
