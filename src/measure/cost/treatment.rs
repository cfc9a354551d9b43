//! One treatment with its ranges: settings first, whole loads and the minimum charge after them.
//!
//! The other way round a minimum would swallow the swings: 150 to 155 was said where 150 to 167 was true.

use super::application::{self as of, Markup};
use super::range::{Ranged, range};
use super::setting::{Known, Setting, Values};
use super::sheet::{ApplicationSheet, EqualSalt};
use super::work::{Work, chloride_share, salt_kg_l};
use crate::input::fleet::{Costs, Product, Spread};

/// A load that overflows by less than this is one load: rounding, as a share of a load.
const ROUNDING: f64 = 1e-9;

/// What prices a treatment.
pub(super) struct Terms<'a> {
    /// What the fleet file says.
    pub(super) known: &'a Known,
    /// The rest of it.
    pub(super) costs: &'a Costs,
    /// What the rig carries.
    pub(super) product: Option<&'a Product>,
    /// All that could be carried.
    pub(super) products: &'a [Product],
}

impl Terms<'_> {
    /// What a full tank gives, L.
    pub(super) fn usable_l(&self, work: &Work) -> Option<f64> {
        let heel_l = self.known.likely().get(Setting::Heel).unwrap_or(0.0);
        let usable_l = work.tank_l? - heel_l;
        (usable_l > 0.0).then_some(usable_l)
    }

    /// Sprayed from the rig's tank, L.
    pub(super) fn from_tank(&self, work: &Work) -> Option<Ranged> {
        range(self.known, |values| {
            of::liquid(work, values).map(|liquid| of::from_tank_l(&liquid))
        })
    }

    /// One treatment.
    pub(super) fn treatment(&self, work: &Work) -> ApplicationSheet {
        let values = self.known.likely();
        let from_tank = self.from_tank(work).map(|ranged| ranged.range);
        let usable_l = self.usable_l(work);
        let loads = from_tank
            .zip(usable_l)
            .map(|(litres, usable_l)| Loads::of(work, litres, usable_l));
        let trips = loads
            .as_ref()
            .map_or(Spread::sure(0.0), |loads| loads.trips);
        let time = of::time(work, &values, trips.likely);
        let liquid = of::liquid(work, &values);
        let liquid_l = range(self.known, |values| {
            of::liquid(work, values).map(|liquid| of::bought_l(&liquid))
        });
        let liquid_l = liquid_l.map(|ranged| ranged.range);
        let total = self.with_loads(&trips, |values, trips| {
            of::total_s(&of::time(work, values, trips))
        });
        let direct = self.with_loads(&trips, |values, trips| {
            of::direct(&of::money(work, values, trips))
        });
        let price = Markup::of(&values).and_then(|_| {
            self.with_loads(&trips, |values, trips| {
                of::amount(work, values, trips, true)
            })
        });
        let (amount, minimum_binds) = self.amount(work, &trips);
        let swings = price.as_ref().or(direct.as_ref()).or(total.as_ref());
        let swings = swings.map_or_else(Vec::new, |ranged| ranged.swings.clone());
        let speed_m_s = of::speed_m_s(work, &values).filter(|_| work.lane_m > 0.0);
        let flow_speed_m_s = work.flow_speed_m_s().filter(|_| work.lane_m > 0.0);
        let salt_kg_l = self.product.and_then(salt_kg_l);
        let dry_salt_kg = liquid_l
            .zip(salt_kg_l)
            .map(|(litres, kg_l)| litres.times(kg_l));
        let share = self.product.and_then(chloride_share);
        ApplicationSheet {
            target_ml_m2: work.target_ml_m2(),
            speed_m_s,
            flow_speed_m_s,
            flow_binds: flow_speed_m_s
                .zip(values.get(Setting::Speed))
                .is_some_and(|(flow, set)| flow < set),
            field_efficiency: efficiency(work, speed_m_s, of::on_site_s(&time)),
            time,
            total_s: total.map(|ranged| ranged.range),
            liquid,
            liquid_l,
            loads: loads.map(|loads| loads.loads),
            money: of::money(work, &values, trips.likely),
            direct_cost: direct.map(|ranged| ranged.range),
            price: price.map(|ranged| ranged.range),
            amount,
            minimum_binds,
            swings,
            dry_salt_g_m2: work
                .target_ml_m2()
                .zip(salt_kg_l)
                .map(|(ml_m2, kg_l)| ml_m2 * kg_l),
            dry_salt_kg,
            chloride_kg: dry_salt_kg
                .zip(share)
                .map(|(salt, share)| salt.times(share)),
            equal_salt: dry_salt_kg.map_or_else(Vec::new, |salt| self.equal_salt(salt.likely)),
        }
    }

    /// A range at the likely number of trips, then each of its ends with its own.
    fn with_loads(
        &self,
        trips: &Spread,
        figure: impl Fn(&Values, f64) -> Option<f64>,
    ) -> Option<Ranged> {
        let mut ranged = range(self.known, |values| figure(values, trips.likely))?;
        let values = self.known.likely();
        let more = |trips: f64| Some(figure(&values, trips)? - ranged.range.likely);
        let (low, high) = (more(trips.low)?, more(trips.high)?);
        let likely = ranged.range.likely;
        ranged.range.low = (ranged.range.low + low).clamp(0.0_f64.min(likely), likely);
        ranged.range.high = (ranged.range.high + high).max(likely);
        Some(ranged)
    }

    /// The price, else the direct cost; at least the minimum charge. The charge for coming is part of what is held
    /// against it, or added afterwards.
    fn amount(&self, work: &Work, trips: &Spread) -> (Option<Spread>, bool) {
        let inside = self.costs.trip_in_minimum;
        let Some(ranged) = self.with_loads(trips, |values, trips| {
            of::amount(work, values, trips, inside)
        }) else {
            return (None, false);
        };
        let own = ranged.range;
        let least = self.costs.minimum_charge.unwrap_or(0.0);
        let mut amount = Spread {
            low: own.low.max(least),
            likely: own.likely.max(least),
            high: own.high.max(least),
        };
        if !inside && let Some(trip) = self.known.get(Setting::Trip) {
            amount = amount.plus(&trip);
        }
        (Some(amount), own.likely < least)
    }

    fn equal_salt(&self, salt_kg: f64) -> Vec<EqualSalt> {
        let products = self.products.iter().filter_map(|product| {
            let liquid_l = salt_kg / salt_kg_l(product)?;
            Some(EqualSalt {
                product: product.id.clone(),
                liquid_l,
                money: product.price_per_l.map(|price| price.likely * liquid_l),
                chloride_kg: chloride_share(product).map(|share| share * salt_kg),
            })
        });
        products.collect()
    }
}

/// Time of the treated ground over boom times speed, as a share of the time on site.
fn efficiency(work: &Work, speed_m_s: Option<f64>, on_site_s: Option<f64>) -> Option<f64> {
    let (speed_m_s, on_site_s) = (speed_m_s?, on_site_s?);
    (on_site_s > 0.0).then(|| work.treated_m2() / (work.boom_m * speed_m_s) / on_site_s)
}

/// Whole tank loads and the ways to the filling place while at work.
struct Loads {
    loads: Spread,
    trips: Spread,
}

impl Loads {
    /// A lot on its own takes whole loads; of a route's whole loads a lot takes its part. The first load is filled
    /// before the rig leaves.
    fn of(work: &Work, litres: Spread, usable_l: f64) -> Self {
        let whole = |litres: f64| (litres / usable_l - ROUNDING).ceil().max(1.0);
        let each = |of: &Spread, figure: &dyn Fn(f64) -> f64| Spread {
            low: figure(of.low),
            likely: figure(of.likely),
            high: figure(of.high),
        };
        match &work.part.route_l {
            None => Self {
                loads: each(&litres, &whole),
                trips: each(&litres, &|litres| whole(litres) - 1.0),
            },
            Some(route) => Self {
                loads: litres.times(1.0 / usable_l),
                trips: each(route, &|litres| (whole(litres) - 1.0) * work.part.liquid),
            },
        }
    }
}
