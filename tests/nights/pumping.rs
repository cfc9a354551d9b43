//! Step 5: switches, controller and meter of one outing over time.

use crate::chance::Chance;
use crate::machine::GUN_L_S;
use crate::motion::Motion;
use crate::plan::Outing;

/// Step of the simulation, s.
const TICK_S: f64 = 0.1;
/// Relative noise of the flow, new each second.
const FLOW_NOISE: f64 = 0.01;
/// A paddle or coil shows nothing under this, L/s.
const LEAST_FLOW_L_S: f64 = 0.01;
/// What every meter showed before the night, L.
const FIRST_TOTAL_L: f64 = 48_211.0;

/// When a stretch's switches stand open; seconds since the start.
struct Order {
    on_s: f64,
    off_s: f64,
    dry_s: Option<(f64, f64)>,
    stretch: usize,
}

/// An outing as it was driven and sprayed.
pub(crate) struct Driven {
    pub outing: Outing,
    pub motion: Motion,
    orders: Vec<Order>,
    /// No fix strictly between these.
    pub silences_s: Vec<(f64, f64)>,
    gun_s: Vec<(f64, f64)>,
    flow_l_s: Vec<f64>,
    total_l: Vec<f64>,
}

fn within(time_s: f64, (from_s, to_s): (f64, f64)) -> bool {
    from_s <= time_s && time_s < to_s
}

impl Driven {
    pub(crate) fn new(outing: Outing, seed: u64, number: u64) -> Self {
        let motion = Motion::new(outing.route.clone(), &mut Chance::new(seed, 300 + number));
        let mut driven = Self {
            orders: Vec::new(),
            silences_s: Vec::new(),
            gun_s: Vec::new(),
            flow_l_s: Vec::new(),
            total_l: Vec::new(),
            outing,
            motion,
        };
        driven.give_orders();
        driven.run(&mut Chance::new(seed, 400 + number));
        driven
    }

    fn give_orders(&mut self) {
        let (outing, motion) = (&self.outing, &self.motion);
        let rig = &outing.machine.rig;
        for (index, stretch) in outing.route.stretches.iter().enumerate() {
            let from = |at_m: f64| motion.time_s(stretch.open_at_m + at_m);
            let dry = outing.dries.iter().find(|dry| dry.0 == index);
            self.orders.push(Order {
                // Switches act ahead of the ground, so that the ground is wet where it is to be.
                on_s: from(0.0) - rig.open_delay_s,
                off_s: motion.time_s(stretch.close_at_m) - rig.close_delay_s,
                dry_s: dry.map(|&(_, at_m, seconds)| (from(at_m), from(at_m) + seconds)),
                stretch: index,
            });
            for &(_, at_m, seconds) in outing.silences.iter().filter(|silence| silence.0 == index) {
                self.silences_s
                    .push((from(at_m).ceil(), from(at_m).ceil() + seconds));
            }
        }
        for stop in &outing.route.stops {
            let arrive_s = motion.stop_s(stop.at_m);
            let bursts = stop
                .gun
                .iter()
                .map(|burst| (arrive_s + burst.0, arrive_s + burst.1));
            self.gun_s.extend(bursts);
        }
    }

    fn order_at(&self, time_s: f64) -> Option<&Order> {
        let next = self.orders.partition_point(|order| order.on_s <= time_s);
        self.orders[..next]
            .last()
            .filter(|order| time_s < order.off_s)
    }

    /// Which sections are switched open.
    pub(crate) fn open_at(&self, time_s: f64) -> Option<&[bool]> {
        let order = self.order_at(time_s)?;
        Some(&self.outing.route.stretches[order.stretch].open)
    }

    pub(crate) fn gun_at(&self, time_s: f64) -> bool {
        self.gun_s.iter().any(|&burst| within(time_s, burst))
    }

    /// Flow as the meter shows it, late by its delay.
    pub(crate) fn flow_at_l_s(&self, time_s: f64) -> f64 {
        self.flow_l_s[self.tick(time_s)]
    }

    pub(crate) fn total_at_l(&self, time_s: f64) -> f64 {
        self.total_l[self.tick(time_s)]
    }

    fn tick(&self, time_s: f64) -> usize {
        let late_s = (time_s - self.outing.machine.meter_delay_s).max(0.0);
        ((late_s / TICK_S).round() as usize).min(self.total_l.len() - 1)
    }

    fn asked_l_s(&self, time_s: f64, pours_s: &[(f64, f64, f64)]) -> f64 {
        let mut asked_l_s = if self.gun_at(time_s) { GUN_L_S } else { 0.0 };
        if let Some(order) = self.order_at(time_s)
            && !order.dry_s.is_some_and(|dry_s| within(time_s, dry_s))
        {
            let stretch = &self.outing.route.stretches[order.stretch];
            let sections = self.outing.machine.rig.sections_m.iter().zip(&stretch.open);
            let width_m: f64 = sections
                .filter(|(_, open)| **open)
                .map(|(width_m, _)| width_m)
                .sum();
            let fixed = self
                .outing
                .fixed
                .iter()
                .find(|fixed| fixed.0 == order.stretch);
            let speed_m_s = fixed.map_or_else(|| self.motion.at(time_s).1, |fixed| fixed.1);
            asked_l_s += stretch.rate_ml_m2 / 1000.0 * speed_m_s * width_m;
        }
        let poured = pours_s
            .iter()
            .filter(|pour| within(time_s, (pour.0, pour.1)));
        asked_l_s + poured.map(|pour| pour.2).sum::<f64>()
    }

    fn run(&mut self, chance: &mut Chance) {
        let follow = 1.0 - (-TICK_S / self.outing.machine.lag_s).exp();
        let pours_s: Vec<(f64, f64, f64)> = self
            .outing
            .pours
            .iter()
            .map(|&(at_m, after_s, seconds, l_s)| {
                let from_s = self.motion.stop_s(at_m) + after_s;
                (from_s, from_s + seconds, l_s)
            })
            .collect();
        let (mut flow_l_s, mut total_l, mut noise) = (0.0, FIRST_TOTAL_L, 1.0);
        let a_second = (1.0 / TICK_S).round() as usize;
        for tick in 0..=(self.motion.end_s() / TICK_S).ceil() as usize + 1 {
            if tick % a_second == 0 {
                noise = 1.0 + FLOW_NOISE * chance.normal();
            }
            let asked_l_s = self.asked_l_s(tick as f64 * TICK_S, &pours_s);
            flow_l_s += follow * (asked_l_s - flow_l_s);
            let shown_l_s = if flow_l_s < LEAST_FLOW_L_S {
                0.0
            } else {
                flow_l_s * noise
            };
            total_l += shown_l_s * TICK_S;
            self.flow_l_s.push(shown_l_s);
            self.total_l.push(total_l);
        }
    }
}
