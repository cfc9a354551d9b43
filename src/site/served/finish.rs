//! When the work on an order was finished, with which products, and what guns laid.

use super::{NOT_DONE_SHARE, Treatments, ZoneState};
use crate::geometry::overlay::{self, Region};
use crate::geometry::place::Instant;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::orders::{Placed, Spell};
use crate::site::outcome::Visit;
use std::collections::BTreeMap;

/// An order is finished with this share of what was treated for it: the rest is touch-up and trimming (trade
/// judgement).
const FINISHED_SHARE: f64 = 0.95;
/// Another product than ordered is reported from this share of the order's treated ground on (trade judgement).
const OTHER_PRODUCT_SHARE: f64 = 0.05;

impl Treatments<'_> {
    /// Some ground of the order's is treated by hand.
    pub(super) fn has_hand_work(&self, zone: Option<usize>) -> bool {
        let zones = self.laid.site.zones.iter().enumerate();
        zones
            .filter(|(index, of)| of.is_to_treat() && zone.is_none_or(|zone| zone == *index))
            .any(|(_, of)| of.method == Method::Hand && of.region.area_m2() > 0.0)
    }

    /// Whether a gun laid enough on the site's hand ground in the order's window, and when the last rig that did left.
    pub(super) fn gun_work(&self, placed: &Placed) -> (bool, Option<Instant>) {
        let (mut litres, mut end) = (0.0, None);
        let spell = |visit: &Visit| Spell {
            start: visit.arrive,
            end: visit.depart,
        };
        let visits = self.done.visits().iter();
        for visit in visits.filter(|visit| placed.window().has(spell(visit))) {
            let here_l = visit.gun_l.unwrap_or(0.0);
            if here_l > 0.0 {
                litres += here_l;
                end = end.max(Some(visit.depart));
            }
        }
        let targets = &self.laid.rules.targets;
        let asked_l: f64 = self
            .laid
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
                let target = targets.on_zone(order, ground.target_ml_m2, None);
                target.unwrap_or(0.0) * ground.region.area_m2() / 1000.0
            })
            .sum();
        (litres > 0.0 && litres >= NOT_DONE_SHARE * asked_l, end)
    }

    /// Last liquid on the site of the pass with which [`FINISHED_SHARE`] of what the application treated of these zones
    /// was treated.
    pub(super) fn finished(&self, app: usize, zones: &[(usize, ZoneState)]) -> Instant {
        let end = self.done.groups[app].end;
        let ground = self.ground(zones);
        let mut passes: Vec<(Instant, &Region)> = self
            .done
            .passes(app)
            .filter_map(|pass| Some((self.laid.end_of(pass)?, &pass.region)))
            .collect();
        passes.sort_by_key(|(time, _)| *time);
        let treated_m2 = |count: usize| {
            let so_far: Vec<&Region> = passes[..count].iter().map(|(_, region)| *region).collect();
            overlay::covered(&ground, &so_far).area_m2()
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
        passes[enough - 1].0.min(end)
    }

    pub(super) fn other_products(
        &self,
        app: usize,
        order: &Order,
        zones: &[(usize, ZoneState)],
    ) -> BTreeMap<String, f64> {
        let Some(ordered) = &order.product else {
            return BTreeMap::new();
        };
        let mut by_product: BTreeMap<String, Vec<&Region>> = BTreeMap::new();
        for pass in self.done.passes(app) {
            let product = self.laid.legs[pass.leg].product(pass.steps.start);
            if let Some(product) = product.filter(|of| of != ordered) {
                let grounds = by_product.entry(product.to_owned()).or_default();
                grounds.push(&pass.region);
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

    /// Ground of these zones.
    pub(super) fn ground(&self, zones: &[(usize, ZoneState)]) -> Region {
        let all = &self.laid.site.zones;
        Region::union_of(zones.iter().map(|(zone, _)| &all[*zone].region))
    }
}
