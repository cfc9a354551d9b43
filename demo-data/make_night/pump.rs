//! Step 4: switches, pump and meter. When sections open, and what flows.

use crate::chance::Chance;
use crate::motion::Motion;
use crate::rig::GAL_L;
use crate::route::Trouble;

/// Step of the simulation, s.
pub(crate) const TICK_S: f64 = 0.05;
/// Time constant with which the flow follows the controller, s.
const FLOW_LAG_S: f64 = 0.5;
/// Relative noise of the flow, new each second.
const FLOW_NOISE: f64 = 0.01;
/// What the hand gun really gives, L/s.
const GUN_L_S: f64 = 0.58 * GAL_L / 60.0;

/// One stretch as it was sprayed; seconds since the start of the log.
#[derive(Debug, Clone)]
pub(crate) struct Order {
    /// Switched on and off.
    pub on_s: f64,
    pub off_s: f64,
    /// Liquid on the ground.
    pub wet_s: (f64, f64),
    /// Pump off in between.
    pub dry_s: Option<(f64, f64)>,
}

/// Everything that the meter and the switches did.
pub(crate) struct Pumped {
    /// One per stretch of the route.
    pub orders: Vec<Order>,
    /// No fix is logged strictly between these.
    pub silences_s: Vec<(f64, f64)>,
    pub gun_s: Vec<(f64, f64)>,
    /// Flow, L/s, and meter total, L, at each tick.
    pub flow_l_s: Vec<f64>,
    pub total_l: Vec<f64>,
}

/// Whether `time_s` lies in the half-open interval.
pub(crate) fn within(time_s: f64, (from_s, to_s): (f64, f64)) -> bool {
    from_s <= time_s && time_s < to_s
}

impl Pumped {
    pub(crate) fn new(motion: &Motion, first_total_l: f64, chance: &mut Chance) -> Self {
        let mut pumped = Self {
            orders: Vec::new(),
            silences_s: Vec::new(),
            gun_s: gun_bursts(motion),
            flow_l_s: Vec::new(),
            total_l: Vec::new(),
        };
        pumped.give_orders(motion);
        pumped.run(motion, first_total_l, chance);
        pumped
    }

    pub(crate) fn flow_at_l_s(&self, time_s: f64) -> f64 {
        self.flow_l_s[(time_s / TICK_S).round() as usize]
    }

    pub(crate) fn total_at_l(&self, time_s: f64) -> f64 {
        self.total_l[(time_s / TICK_S).round() as usize]
    }

    pub(crate) fn gun_at(&self, time_s: f64) -> bool {
        self.gun_s.iter().any(|&burst| within(time_s, burst))
    }

    /// The order under which the switches stand open at a time.
    pub(crate) fn order_at(&self, time_s: f64) -> Option<usize> {
        self.orders
            .iter()
            .position(|order| within(time_s, (order.on_s, order.off_s)))
    }

    fn give_orders(&mut self, motion: &Motion) {
        let rig = motion.route().rig;
        for stretch in &motion.route().stretches {
            let wet_s = (
                motion.time_s(stretch.open_at_m),
                motion.time_s(stretch.close_at_m),
            );
            let mut dry_s = None;
            match stretch.trouble {
                Some(Trouble::Dry { at_m, seconds }) => {
                    let from_s = motion.time_s(stretch.open_at_m + at_m);
                    dry_s = Some((from_s, from_s + seconds));
                }
                Some(Trouble::Silence { at_m, seconds }) => {
                    let from_s = motion.time_s(stretch.open_at_m + at_m).ceil();
                    self.silences_s.push((from_s, from_s + seconds));
                }
                None => {}
            }
            // Switches act ahead of the ground, so that the ground is wet where it is to be.
            let (on_s, off_s) = (wet_s.0 - rig.open_delay_s, wet_s.1 - rig.close_delay_s);
            self.orders.push(Order {
                on_s,
                off_s,
                wet_s,
                dry_s,
            });
        }
    }

    fn run(&mut self, motion: &Motion, first_total_l: f64, chance: &mut Chance) {
        let rig = motion.route().rig;
        let follow = 1.0 - (-TICK_S / FLOW_LAG_S).exp();
        let (mut flow_l_s, mut total_l, mut noise) = (0.0, first_total_l, 1.0);
        for tick in 0..=(motion.end_s() / TICK_S).ceil() as usize + 1 {
            let time_s = tick as f64 * TICK_S;
            if tick % (1.0 / TICK_S) as usize == 0 {
                noise = 1.0 + FLOW_NOISE * chance.normal();
            }
            let mut asked_l_s = if self.gun_at(time_s) { GUN_L_S } else { 0.0 };
            if let Some(index) = self.order_at(time_s) {
                let stretch = &motion.route().stretches[index];
                let width_m: f64 = rig
                    .sections_m
                    .iter()
                    .zip(&stretch.open)
                    .map(|(w, &open)| if open { *w } else { 0.0 })
                    .sum();
                if !self.orders[index]
                    .dry_s
                    .is_some_and(|dry_s| within(time_s, dry_s))
                {
                    asked_l_s += stretch.rate_ml_m2 / 1000.0 * motion.at(time_s).1 * width_m;
                }
            }
            flow_l_s += follow * (asked_l_s - flow_l_s);
            // A paddle or coil shows nothing under a hundredth of a litre a second.
            let shown_l_s = if flow_l_s < 0.01 {
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

fn gun_bursts(motion: &Motion) -> Vec<(f64, f64)> {
    let mut bursts = Vec::new();
    for stop in &motion.route().stops {
        let arrive_s = motion.stop_s(stop.at_m);
        bursts.extend(
            stop.gun
                .iter()
                .map(|&(from_s, to_s)| (arrive_s + from_s, arrive_s + to_s)),
        );
    }
    bursts
}
