//! Switches, pump and meter: when sections open, what flows, what the meter shows of it.

use crate::chance::Chance;
use crate::motion::Motion;
use crate::rig::{GAL_L, Meter};
use crate::route::Stretch;

/// Relative noise of the flow, new each second.
const FLOW_NOISE: f64 = 0.01;
/// A paddle or coil shows nothing under this, L/s.
const LEAST_FLOW_L_S: f64 = 0.01;
/// What the hand gun really gives, L/s.
const GUN_L_S: f64 = 0.58 * GAL_L / 60.0;
/// What every meter showed before the night, L.
pub const FIRST_TOTAL_L: f64 = 48_211.0;

/// One stretch as it was sprayed; seconds since the start of the log.
#[derive(Debug, Clone)]
pub struct Spraying {
    /// Switched on.
    pub on_s: f64,
    /// Switched off.
    pub off_s: f64,
    /// Liquid on the ground.
    pub wet_s: (f64, f64),
    /// Pump off in between.
    pub dry_s: Option<(f64, f64)>,
}

/// Everything that the meter and the switches did.
pub struct Pumped {
    /// One per stretch of the route, in its order.
    pub sprayings: Vec<Spraying>,
    /// No fix is logged strictly between these.
    pub silences_s: Vec<(f64, f64)>,
    /// The hand gun is open.
    pub gun_s: Vec<(f64, f64)>,
    meter: Meter,
    /// Flow, L/s, and meter total, L, at each tick.
    flow_l_s: Vec<f64>,
    total_l: Vec<f64>,
}

/// Whether `time_s` lies in the half-open interval.
pub fn within(time_s: f64, (from_s, to_s): (f64, f64)) -> bool {
    from_s <= time_s && time_s < to_s
}

impl Pumped {
    /// Sprays a route as it is driven.
    pub fn new(motion: &Motion, first_total_l: f64, chance: &mut Chance) -> Self {
        let mut pumped = Self {
            sprayings: Vec::new(),
            silences_s: Vec::new(),
            gun_s: gun_bursts(motion),
            meter: motion.route().rig.meter,
            flow_l_s: Vec::new(),
            total_l: Vec::new(),
        };
        for stretch in &motion.route().stretches {
            pumped.switch(motion, stretch);
        }
        pumped.run(motion, first_total_l, chance);
        pumped
    }

    /// The flow that the meter shows, L/s.
    pub fn flow_at_l_s(&self, time_s: f64) -> f64 {
        self.flow_l_s[self.tick(time_s)]
    }

    /// The total that the meter shows, L.
    pub fn total_at_l(&self, time_s: f64) -> f64 {
        self.total_l[self.tick(time_s)]
    }

    fn tick(&self, time_s: f64) -> usize {
        let shown_s = (time_s - self.meter.late_s).max(0.0);
        ((shown_s / self.meter.tick_s).round() as usize).min(self.total_l.len() - 1)
    }

    /// Whether the hand gun is open.
    pub fn gun_at(&self, time_s: f64) -> bool {
        self.gun_s.iter().any(|&burst| within(time_s, burst))
    }

    /// The stretch for which the switches stand open at a time.
    pub fn stretch_at(&self, time_s: f64) -> Option<usize> {
        let next = self
            .sprayings
            .partition_point(|spraying| spraying.on_s <= time_s);
        (0..next)
            .last()
            .filter(|&last| time_s < self.sprayings[last].off_s)
    }

    fn switch(&mut self, motion: &Motion, stretch: &Stretch) {
        let rig = motion.route().rig;
        let time_s = |at_m: f64| motion.time_s(stretch.open_at_m + at_m);
        let wet_s = (time_s(0.0), motion.time_s(stretch.close_at_m));
        self.sprayings.push(Spraying {
            // Switches act ahead of the ground, so that the ground is wet where it is to be.
            on_s: wet_s.0 - rig.open_delay_s,
            off_s: wet_s.1 - rig.close_delay_s,
            wet_s,
            dry_s: stretch
                .dry
                .map(|dry| (time_s(dry.at_m), time_s(dry.at_m) + dry.seconds)),
        });
        self.silences_s.extend(stretch.silent.map(|silent| {
            let from_s = time_s(silent.at_m).ceil();
            (from_s, from_s + silent.seconds)
        }));
    }

    fn asked_l_s(&self, motion: &Motion, pours_s: &[(f64, f64, f64)], time_s: f64) -> f64 {
        let mut asked_l_s = if self.gun_at(time_s) { GUN_L_S } else { 0.0 };
        if let Some(index) = self.stretch_at(time_s)
            && !self.sprayings[index]
                .dry_s
                .is_some_and(|dry_s| within(time_s, dry_s))
        {
            let (route, stretch) = (motion.route(), &motion.route().stretches[index]);
            let sections = route.rig.sections_m.iter().zip(&stretch.open);
            let width_m: f64 = sections
                .filter(|(_, open)| **open)
                .map(|(width_m, _)| width_m)
                .sum();
            let speed_m_s = stretch.as_if_at_m_s.unwrap_or_else(|| motion.at(time_s).1);
            asked_l_s += stretch.rate_ml_m2 / 1000.0 * speed_m_s * width_m;
        }
        let poured = pours_s
            .iter()
            .filter(|pour| within(time_s, (pour.0, pour.1)));
        asked_l_s + poured.map(|pour| pour.2).sum::<f64>()
    }

    fn run(&mut self, motion: &Motion, first_total_l: f64, chance: &mut Chance) {
        let tick_s = self.meter.tick_s;
        let follow = 1.0 - (-tick_s / self.meter.lag_s).exp();
        let pours_s: Vec<(f64, f64, f64)> = motion
            .route()
            .pours
            .iter()
            .map(|pour| {
                let from_s = motion.stop_s(pour.at_m) + pour.after_s;
                (from_s, from_s + pour.seconds, pour.l_s)
            })
            .collect();
        let (mut flow_l_s, mut total_l, mut noise) = (0.0, first_total_l, 1.0);
        let a_second = (1.0 / tick_s).round() as usize;
        for tick in 0..=(motion.end_s() / tick_s).ceil() as usize + 1 {
            if tick % a_second == 0 {
                noise = 1.0 + FLOW_NOISE * chance.normal();
            }
            let asked_l_s = self.asked_l_s(motion, &pours_s, tick as f64 * tick_s);
            flow_l_s += follow * (asked_l_s - flow_l_s);
            let shown_l_s = if flow_l_s < LEAST_FLOW_L_S {
                0.0
            } else {
                flow_l_s * noise
            };
            total_l += shown_l_s * tick_s;
            self.flow_l_s.push(shown_l_s);
            self.total_l.push(total_l);
        }
    }
}

fn gun_bursts(motion: &Motion) -> Vec<(f64, f64)> {
    let mut bursts = Vec::new();
    for stop in &motion.route().stops {
        let arrive_s = motion.stop_s(stop.at_m);
        let of_stop = |&(from_s, to_s): &(f64, f64)| (arrive_s + from_s, arrive_s + to_s);
        bursts.extend(stop.gun.iter().map(of_stop));
    }
    bursts
}
