//! What became of a site's orders: which application served each, how far, when it was finished and with what;
//! and what was treated without an order.

use super::Bench;
use super::pieces::Sums;
use crate::coverage::ZoneCover;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::orders::{self, Spell};
use crate::overlay::Region;
use crate::place::Instant;
use crate::result::OrderStatus;
use std::collections::BTreeMap;

/// With less of it treated, a zone was not done: a rig that turns on a neighbour's ground or clips a corner leaves
/// some per cent. What lies between this and done is told by `thin_cover` and `bare_patch`.
pub const NOT_DONE_SHARE: f64 = 0.10;
/// From this treated share of its core on a zone is done: the limit of `thin_cover`, so that the two agree.
const DONE_SHARE: f64 = 0.90;
/// The same where only volume can tell (narrow zones, coarse logs), as a share of target x area: position errors
/// of a narrow zone's width lay a third of it beside the zone.
const DONE_VOLUME_SHARE: f64 = 0.50;
/// Without an order, a zone is told of from this treated share on: overspray from the ground beside it is less.
const NOT_ORDERED_SHARE: f64 = 0.50;
/// An order is finished with this share of what was treated for it: the rest is touch-up and trimming.
const FINISHED_SHARE: f64 = 0.95;
/// Another product than ordered is told of from this share of the order's treated ground on.
const OTHER_PRODUCT_SHARE: f64 = 0.05;

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

/// Share of a zone that was treated, and that may have been.
struct Share {
    treated: f64,
    possible: f64,
    done_from: f64,
}

impl Judge<'_> {
    /// Boom zones to be treated: the one, or all.
    fn scope(&self, zone: Option<usize>) -> impl Iterator<Item = usize> {
        let zones = self.bench.work.site.zones.iter().enumerate();
        zones
            .filter(move |(index, of)| {
                of.is_to_treat()
                    && of.method == Method::Boom
                    && zone.is_none_or(|zone| zone == *index)
            })
            .map(|(index, _)| index)
    }

    /// `None` where the logs cannot tell.
    fn share(&self, app: usize, zone: usize, order: Option<&Order>) -> Option<Share> {
        let (cover, frame) = (&self.covers[app][zone], &self.bench.frames[zone]);
        let ground = &self.bench.work.site.zones[zone];
        let area_m2 = ground.region.area_m2();
        if area_m2 <= 0.0 {
            return None;
        }
        let is_coarse = self.bench.is_coarse(app);
        if is_coarse || frame.narrow {
            let carried = super::report::carried(self.bench, app);
            let fleet = self.bench.work.fleet;
            let target = orders::target_ml_m2(fleet, order, ground.target_ml_m2, carried);
            if let Some(target_ml_m2) = target.filter(|_| self.bench.is_metered(app)) {
                let share = 1000.0 * self.sums.zones[app][zone].litres / (target_ml_m2 * area_m2);
                return Some(Share {
                    treated: share,
                    possible: share,
                    done_from: DONE_VOLUME_SHARE,
                });
            }
        }
        if is_coarse {
            return None;
        }
        let core_m2 = frame.core.area_m2();
        let of_zone = |m2: f64| m2 / area_m2;
        let whole = of_zone(area_m2 - cover.gap.area_m2() - cover.unlogged.area_m2());
        let treated = if frame.narrow || core_m2 <= 0.0 {
            whole
        } else {
            cover.core_treated_m2 / core_m2
        };
        Some(Share {
            treated,
            possible: treated.max(whole) + of_zone(cover.unlogged.area_m2()),
            done_from: if frame.narrow {
                DONE_VOLUME_SHARE
            } else {
                DONE_SHARE
            },
        })
    }

    fn state(&self, app: usize, zone: usize, order: Option<&Order>) -> ZoneState {
        match self.share(app, zone, order) {
            None => ZoneState::NotKnown,
            Some(share) if share.treated >= share.done_from => ZoneState::Done,
            Some(share) if share.possible < NOT_DONE_SHARE => ZoneState::NotDone,
            Some(_) => ZoneState::InPart,
        }
    }

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
        let fixes = || self.bench.work.runs.iter().map(|run| &run.track.fixes);
        let first = fixes()
            .filter_map(|fixes| fixes.first())
            .map(|fix| fix.time)
            .min();
        let last = fixes()
            .filter_map(|fixes| fixes.last())
            .map(|fix| fix.time)
            .max();
        let before = matches!((order.by, first), (Some(by), Some(first)) if by < first);
        let after = matches!((order.from, last), (Some(from), Some(last)) if from > last);
        before || after
    }

    /// Whether a gun laid enough on the site's hand ground in the order's window, and when the last rig that did left.
    fn gun_work(&self, index: usize) -> (bool, Option<Instant>) {
        let placed = &self.bench.orders()[index];
        let work = self.bench.work;
        let (mut litres, mut end) = (0.0, None);
        for visit in &work.visits {
            let run = &work.runs[visit.run];
            let fixes = &run.track.fixes;
            let (arrive, depart) = (
                fixes[visit.fixes.start].time,
                fixes[visit.fixes.end - 1].time,
            );
            if !placed.window().has(Spell {
                start: arrive,
                end: depart,
            }) {
                continue;
            }
            let gun = run.timeline.gun.iter();
            let here_l: f64 = gun
                .filter(|(step, _)| visit.fixes.contains(&(*step as usize)))
                .map(|(_, litres)| litres)
                .sum();
            if here_l > 0.0 {
                litres += here_l;
                end = end.max(Some(depart));
            }
        }
        let asked_l: f64 = work
            .site
            .zones
            .iter()
            .enumerate()
            .filter(|(zone, ground)| {
                ground.is_to_treat()
                    && ground.method == Method::Hand
                    && placed.zone.is_none_or(|of| of == *zone)
            })
            .map(|(_, ground)| {
                let order = Some(&placed.order);
                let target = orders::target_ml_m2(work.fleet, order, ground.target_ml_m2, None);
                target.unwrap_or(0.0) * ground.region.area_m2() / 1000.0
            })
            .sum();
        (litres > 0.0 && litres >= NOT_DONE_SHARE * asked_l, end)
    }

    fn treated_share(&self, app: usize, zones: &[(usize, ZoneState)]) -> Option<f64> {
        if self.bench.is_coarse(app) {
            return None;
        }
        let (mut treated_m2, mut area_m2) = (0.0, 0.0);
        for &(zone, _) in zones
            .iter()
            .filter(|(zone, _)| !self.bench.frames[*zone].narrow)
        {
            let (cover, region) = (
                &self.covers[app][zone],
                &self.bench.work.site.zones[zone].region,
            );
            area_m2 += region.area_m2();
            treated_m2 += region.area_m2() - cover.gap.area_m2() - cover.unlogged.area_m2();
        }
        (area_m2 > 0.0).then(|| treated_m2 / area_m2)
    }

    /// Ground of these zones.
    fn ground(&self, zones: &[(usize, ZoneState)]) -> Region {
        let all = &self.bench.work.site.zones;
        Region::union_of(zones.iter().map(|(zone, _)| &all[*zone].region))
    }

    /// End of the pass with which [`FINISHED_SHARE`] of what the application treated of these zones was treated.
    fn finished(&self, app: usize, zones: &[(usize, ZoneState)]) -> Instant {
        let bench = self.bench;
        let end = bench.groups[app].end;
        let ground = self.ground(zones);
        let mut passes: Vec<(Instant, &Region)> = bench
            .passes
            .iter()
            .filter(|pass| bench.application_of(pass.run, &pass.steps) == Some(app))
            .map(|pass| {
                let fixes = &bench.work.runs[pass.run].track.fixes;
                (
                    fixes[pass.steps.end.min(fixes.len() - 1)].time,
                    &pass.region,
                )
            })
            .collect();
        passes.sort_by_key(|(time, _)| *time);
        let treated_m2 = |count: usize| {
            let so_far = Region::union_of(passes[..count].iter().map(|(_, region)| *region));
            so_far.intersection(&ground).area_m2()
        };
        let enough_m2 = FINISHED_SHARE * treated_m2(passes.len());
        if enough_m2 <= 0.0 {
            return end;
        }
        // More passes never treat less: halving finds the first that is enough.
        let (mut less, mut enough) = (0, passes.len());
        while enough - less > 1 {
            let middle = less.midpoint(enough);
            if treated_m2(middle) >= enough_m2 {
                enough = middle;
            } else {
                less = middle;
            }
        }
        // A pass ends at a fix, the last liquid may be before it.
        passes[enough - 1].0.min(end)
    }

    fn other_products(
        &self,
        app: usize,
        order: &Order,
        zones: &[(usize, ZoneState)],
    ) -> BTreeMap<String, f64> {
        let Some(ordered) = &order.product else {
            return BTreeMap::new();
        };
        let bench = self.bench;
        let mut by_product: BTreeMap<String, Vec<&Region>> = BTreeMap::new();
        let of_app = bench
            .passes
            .iter()
            .filter(|pass| bench.application_of(pass.run, &pass.steps) == Some(app));
        for pass in of_app {
            let run = &bench.work.runs[pass.run];
            let rig = &bench.work.fleet.rigs[run.track.rig];
            if let Some(product) = run
                .product(rig, pass.steps.start)
                .filter(|of| of != ordered)
            {
                by_product
                    .entry(product.to_owned())
                    .or_default()
                    .push(&pass.region);
            }
        }
        if by_product.is_empty() {
            return BTreeMap::new();
        }
        let ground = self.ground(zones);
        let least_m2 = OTHER_PRODUCT_SHARE * ground.area_m2();
        by_product
            .into_iter()
            .map(|(product, regions)| {
                let area_m2 = Region::union_of(regions).intersection(&ground).area_m2();
                (product, area_m2)
            })
            .filter(|(_, area_m2)| *area_m2 > least_m2)
            .collect()
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
