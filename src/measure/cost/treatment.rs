//! One treatment with its ranges: settings first, whole loads and the minimum charge after them.
//!
//! The other way round a minimum would swallow the swings: 150 to 155 was said where 150 to 167 was true.

use super::application::{self as of, Markup};
use super::range::{Ranged, range};
use super::setting::{Known, Setting, Values};
use super::work::{Work, chloride_share, salt_kg_l};
use crate::input::fleet::{Costs, Product, Spread};
use crate::measure::cost_sheet::{ApplicationSheet, EqualSalt};

/// A load that overflows by less than this is one load: rounding, as a share of a load (tolerance).
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
    pub(super) fn tank_litres(&self, work: &Work) -> Option<Ranged> {
        range(self.known, |values| {
            of::liquid(work, values).map(|liquid| of::from_tank_l(&liquid))
        })
    }

    /// One treatment.
    pub(super) fn treatment(&self, work: &Work) -> ApplicationSheet {
        let values = self.known.likely();
        let tank = self.tank_litres(work).zip(self.usable_l(work));
        let loads = tank.map(|(litres, usable_l)| Loads::of(work, litres.range, usable_l));
        let trips = loads
            .as_ref()
            .map_or(Spread::sure(0.0), |loads| loads.trips);
        let time = of::time(work, &values, trips.likely);
        let liquid_l = range(self.known, |values| {
            of::liquid(work, values).map(|liquid| of::bought_l(&liquid))
        });
        let mut sheet = ApplicationSheet {
            target_ml_m2: work.target_ml_m2(),
            field_efficiency: efficiency(work, of::speed_m_s(work, &values), of::on_site_s(&time)),
            time,
            liquid: of::liquid(work, &values),
            liquid_l: liquid_l.map(|ranged| ranged.range),
            loads: loads.map(|loads| loads.loads),
            money: of::money(work, &values, trips.likely),
            ..ApplicationSheet::default()
        };
        self.enter_sums(work, &trips, &mut sheet);
        self.enter_speed(work, &mut sheet);
        self.enter_salt(&mut sheet);
        sheet
    }

    /// Time and money with their ranges, and what moves them.
    fn enter_sums(&self, work: &Work, trips: &Spread, sheet: &mut ApplicationSheet) {
        let total = self.with_loads(trips, |values, trips| {
            of::total_s(&of::time(work, values, trips))
        });
        let direct = self.with_loads(trips, |values, trips| {
            of::direct(&of::money(work, values, trips))
        });
        let markup = Markup::of(&self.known.likely());
        let price = markup.and_then(|_| {
            self.with_loads(trips, |values, trips| of::amount(work, values, trips, true))
        });
        let swings = price.as_ref().or(direct.as_ref()).or(total.as_ref());
        sheet.swings = swings.map_or_else(Vec::new, |ranged| ranged.swings.clone());
        sheet.total_s = total.map(|ranged| ranged.range);
        sheet.direct_cost = direct.map(|ranged| ranged.range);
        sheet.price = price.map(|ranged| ranged.range);
        (sheet.amount, sheet.minimum_binds) = self.amount(work, trips);
    }

    /// Speed, and whether the pump holds it.
    fn enter_speed(&self, work: &Work, sheet: &mut ApplicationSheet) {
        if work.lane_m <= 0.0 {
            return;
        }
        let values = self.known.likely();
        sheet.speed_m_s = of::speed_m_s(work, &values);
        sheet.flow_speed_m_s = work.flow_speed_m_s();
        sheet.flow_binds = sheet
            .flow_speed_m_s
            .zip(values.get(Setting::Speed))
            .is_some_and(|(flow, set)| flow < set);
    }

    /// Dry salt and chloride.
    fn enter_salt(&self, sheet: &mut ApplicationSheet) {
        let Some(kg_l) = self.product.and_then(salt_kg_l) else {
            return;
        };
        sheet.dry_salt_g_m2 = sheet.target_ml_m2.map(|ml_m2| ml_m2 * kg_l);
        sheet.dry_salt_kg = sheet.liquid_l.map(|litres| litres.times(kg_l));
        let share = self.product.and_then(chloride_share);
        sheet.chloride_kg = sheet
            .dry_salt_kg
            .zip(share)
            .map(|(salt, share)| salt.times(share));
        sheet.equal_salt = sheet
            .dry_salt_kg
            .map_or_else(Vec::new, |salt| self.equal_salt(salt.likely));
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
        if !inside {
            // The charge for coming is added as the price has it, with its share of overhead and margin.
            let all = self.with_loads(trips, |values, trips| of::amount(work, values, trips, true));
            if let Some(all) = all.map(|all| all.range) {
                let floor = least + (all.likely - own.likely);
                amount = Spread {
                    low: all.low.max(floor),
                    likely: all.likely.max(floor),
                    high: all.high.max(floor),
                };
            }
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

#[cfg(test)]
mod tests {
    use super::super::work::{Ground, HandPart, Part, Way};
    use super::*;
    use crate::input::fleet::Rig;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    const FT: f64 = 0.3048;

    fn spread(low: f64, likely: f64, high: f64) -> Option<Spread> {
        Some(Spread { low, likely, high })
    }

    /// A lot of an acre under a 10 ft boom, with a court for the hose.
    fn work() -> Work {
        Work {
            lane_m: 1700.0,
            turns: 27.0,
            turning_s: Some(700.0),
            boom_m: 10.0 * FT,
            grounds: vec![Ground {
                target_ml_m2: Some(42.0),
                treated_m2: 4000.0,
                swept_m2: 4900.0,
            }],
            outside_m2: 60.0,
            stalls_share: 0.5,
            hand: vec![HandPart {
                way: Way::Hose,
                area_m2: 150.0,
                target_ml_m2: Some(42.0),
                stops: 1.0,
            }],
            greatest_flow_l_s: None,
            tank_l: Some(1600.0),
            part: Part::default(),
        }
    }

    fn costs() -> Costs {
        Costs {
            speed_m_s: spread(2.0, 2.7, 3.1),
            overlap_beyond: spread(0.0, 0.05, 0.15),
            applied: spread(0.97, 1.02, 1.10),
            occupied: spread(0.0, 0.1, 0.25),
            hand_rate_m2_s: spread(0.103, 0.155, 0.206),
            per_visit_s: spread(240.0, 360.0, 600.0),
            deadhead_s: spread(900.0, 1200.0, 1800.0),
            crew_hour: spread(32.0 / 3600.0, 35.0 / 3600.0, 40.0 / 3600.0),
            trip_in_minimum: true,
            ..Costs::default()
        }
    }

    fn known(costs: &Costs) -> Known {
        let mut rig = Rig::bare(vec![10.0 * FT]);
        rig.rig_hour = Some(Spread::sure(40.0 / 3600.0));
        let mut known = Known::of(costs, &rig, None);
        known.set(Setting::Price, spread(0.048, 0.053, 0.062));
        known
    }

    fn terms<'a>(known: &'a Known, costs: &'a Costs) -> Terms<'a> {
        Terms {
            known,
            costs,
            product: None,
            products: &[],
        }
    }

    /// Normal random numbers by G. Box and M. Muller's way.
    struct Draws(ChaCha8Rng);

    impl Draws {
        fn uniform(&mut self) -> f64 {
            // Over 0, for the logarithm.
            1.0 - self.0.random::<f64>()
        }

        fn normal(&mut self) -> f64 {
            let (radius, angle) = (self.uniform(), self.uniform());
            (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * angle).cos()
        }

        /// From the two-piece normal through the 10th, 50th and 90th percentile.
        fn setting(&mut self, spread: &Spread) -> f64 {
            // The 90th percentile of the standard normal.
            const Z90: f64 = 1.281_551_565_544_6;
            let z = self.normal() / Z90;
            let side = if z < 0.0 {
                spread.likely - spread.low
            } else {
                spread.high - spread.likely
            };
            spread.likely + z * side
        }
    }

    /// Ten settings, all far likelier to be dearer than cheaper.
    fn dear() -> (Costs, Known) {
        let costs = Costs {
            speed_m_s: spread(2.0, 2.7, 2.8),
            overlap_beyond: spread(0.0, 0.02, 0.15),
            applied: spread(0.99, 1.0, 1.12),
            hand_rate_m2_s: spread(0.08, 0.155, 0.165),
            per_visit_s: spread(330.0, 360.0, 700.0),
            deadhead_s: spread(900.0, 1200.0, 1980.0),
            turn_time_s: spread(24.0, 26.0, 40.0),
            crew_hour: spread(34.0 / 3600.0, 35.0 / 3600.0, 45.0 / 3600.0),
            trip_in_minimum: true,
            ..Costs::default()
        };
        let mut known = known(&costs);
        known.set(
            Setting::RigHour,
            spread(38.0 / 3600.0, 40.0 / 3600.0, 55.0 / 3600.0),
        );
        known.set(Setting::Price, spread(0.052, 0.053, 0.07));
        (costs, known)
    }

    /// 10th, 50th and 90th percentile of time, liquid and direct cost over two hundred thousand fixed draws of all settings
    /// at once.
    fn drawn(known: &Known, work: &Work) -> [[f64; 3]; 3] {
        let mut draws = Draws(ChaCha8Rng::seed_from_u64(18));
        let mut sums: Vec<[f64; 3]> = (0..200_000)
            .map(|_| {
                let mut values = known.likely();
                for setting in Setting::ALL {
                    if let Some(spread) = known.get(setting) {
                        values = values.with(setting, draws.setting(&spread));
                    }
                }
                let time = of::time(work, &values, 0.0);
                let liquid = of::liquid(work, &values).unwrap();
                [
                    of::total_s(&time).unwrap(),
                    of::bought_l(&liquid),
                    of::direct(&of::money(work, &values, 0.0)).unwrap(),
                ]
            })
            .collect();
        [0, 1, 2].map(|figure| {
            sums.sort_by(|a, b| a[figure].total_cmp(&b[figure]));
            [0.1, 0.5, 0.9].map(|share| sums[(share * sums.len() as f64) as usize][figure])
        })
    }

    /// The 10th and 90th percentile of the draws lie within 5 % of the likely figure of what is said, however skewed the
    /// settings are.
    #[test]
    fn ranges_say_what_two_hundred_thousand_draws_say() {
        let work = work();
        let usual = costs();
        for (costs, known) in [(usual.clone(), known(&usual)), dear()] {
            let said = terms(&known, &costs).treatment(&work);
            let ranges = [said.total_s, said.liquid_l, said.direct_cost].map(Option::unwrap);
            for (range, [low, median, high]) in ranges.iter().zip(drawn(&known, &work)) {
                let off = |said: f64, drawn: f64| (said - drawn) / range.likely;
                let (a, b) = (off(range.low, low), off(range.high, high));
                println!("{a:+.3} {:+.3} {b:+.3}", off(range.likely, median));
                assert!(a.abs() < 0.05 && b.abs() < 0.05, "{range:?} {low} {high}");
            }
        }
        // All low ones together, and all high ones, would be nearly twice as wide.
        let known = known(&usual);
        let said = terms(&known, &usual).treatment(&work);
        let linear: f64 = said.swings.iter().map(|swing| swing.up - swing.down).sum();
        let range = said.direct_cost.unwrap();
        assert!(
            linear > 1.6 * (range.high - range.low),
            "{linear} {range:?}"
        );
    }

    /// Cost 120 with 20 down and 47 up, minimum 150: 150 to 167, not 150 to 155 or so.
    #[test]
    fn a_minimum_swallows_no_swing() {
        let costs = Costs {
            trip: spread(100.0, 120.0, 167.0),
            minimum_charge: Some(150.0),
            crew_hour: Some(Spread::sure(0.0)),
            trip_in_minimum: true,
            ..Costs::default()
        };
        let known = Known::of(&costs, &Rig::bare(vec![3.0]), None);
        let work = Work {
            lane_m: 0.0,
            ..Work::default()
        };
        let said = terms(&known, &costs).treatment(&work);
        let amount = said.amount.unwrap();
        assert_eq!(
            (amount.low, amount.likely, amount.high),
            (150.0, 150.0, 167.0)
        );
        assert!(said.minimum_binds);
    }

    #[test]
    fn the_three_that_move_it_most_stand_first() {
        let costs = costs();
        let known = known(&costs);
        let said = terms(&known, &costs).treatment(&work());
        let moved = |swing: &crate::measure::cost_sheet::Swing| swing.up - swing.down;
        assert!(
            said.swings
                .windows(2)
                .all(|pair| moved(&pair[0]) >= moved(&pair[1]))
        );
        assert_eq!(said.swings[0].key, "deadhead", "{:?}", said.swings);
    }
}
