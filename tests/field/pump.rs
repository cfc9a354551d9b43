//! Pump, valves, boom and meter at 20 Hz, and the true ground: every section's strip between two boom positions is painted
//! with its litres on cells of 0.1 m.

use std::collections::VecDeque;

use crate::chance::{Chance, Wander};
use crate::drive::{TICK_S, Tick};
use crate::grid::Grid;
use crate::ground::Site;
use crate::plane::{P, distance};
use crate::rig::Rig;

/// Share of the target from which ground counts as treated.
pub(crate) const TREATED_SHARE: f64 = 0.25;
/// A boom passed with the section closed and others open; with the section open and no liquid; with all closed.
pub(crate) const PASSED_CLOSED: u8 = 1;
pub(crate) const PASSED_DRY: u8 = 2;
pub(crate) const PASSED_OFF: u8 = 4;

/// What really lies on a site.
pub(crate) struct Truth {
    /// mL/m2.
    pub(crate) dose: Grid<f32>,
    pub(crate) passed: Grid<u8>,
    /// By zone: litres, and swept cells (one passed twice counts twice).
    pub(crate) litres: Vec<f64>,
    pub(crate) swept: Vec<u64>,
}

impl Truth {
    /// Nothing yet.
    pub(crate) fn bare(site: &Site) -> Self {
        let zones = site.zones.len() + 1;
        Self {
            dose: site.zone_at.like(0.0),
            passed: site.zone_at.like(0),
            litres: vec![0.0; zones],
            swept: vec![0; zones],
        }
    }
}

/// What is wrong with liquid that night.
#[derive(Clone, Default)]
pub(crate) struct Trouble {
    /// Times without liquid.
    pub(crate) dry_s: Option<(f64, f64)>,
    /// Site and factor of its rate.
    pub(crate) rate: Option<(usize, f64)>,
    /// Share of the full flow that leaks through closed sections.
    pub(crate) leak: f64,
    /// Liquid comes so much later than the valve after a closing.
    pub(crate) slow_s: f64,
}

/// What the meter reads.
#[derive(Clone, Copy)]
pub(crate) struct Reading {
    pub(crate) flow_lps: f64,
    pub(crate) total_l: f64,
}

/// Late readings: delay, then the mean over a window, then a first-order filter.
struct LateMeter {
    past: VecDeque<f64>,
    delay: usize,
    window: usize,
    filter_s: f64,
    flow_lps: f64,
    total_l: f64,
}

impl LateMeter {
    fn read(&mut self, flow_lps: f64) -> Reading {
        self.past.push_back(flow_lps);
        if self.past.len() > self.delay + self.window {
            self.past.pop_front();
        }
        let seen = self.past.len().saturating_sub(self.delay);
        let mean = self.past.iter().take(seen).sum::<f64>() / self.window as f64;
        let kept = if self.filter_s > 0.0 {
            (-TICK_S / self.filter_s).exp()
        } else {
            0.0
        };
        self.flow_lps = kept * self.flow_lps + (1.0 - kept) * mean;
        self.total_l += self.flow_lps * TICK_S;
        Reading {
            flow_lps: self.flow_lps,
            total_l: self.total_l,
        }
    }
}

/// Valves that follow the switches late.
struct Valves {
    open: u64,
    asked: u64,
    since: Vec<f64>,
}

impl Valves {
    fn follow(&mut self, tick: &Tick, rig: &Rig) {
        for i in 0..rig.sections_m.len() {
            let bit = 1 << i;
            if (self.asked ^ tick.open) & bit != 0 {
                self.since[i] = tick.t;
            }
            let opens = tick.open & bit != 0;
            let delay = if opens {
                rig.open_delay_s
            } else {
                rig.close_delay_s
            };
            if (self.open ^ tick.open) & bit != 0 && tick.t - self.since[i] >= delay - 1e-9 {
                self.open ^= bit;
            }
        }
        self.asked = tick.open;
    }
}

/// Liquid of a rig's night; fills the truths and gives the meter's reading at every tick.
pub(crate) fn spray(
    rig: &Rig,
    ticks: &[Tick],
    trouble: &Trouble,
    target_ml_m2: f64,
    ground: (&[Site], &mut [Truth]),
    chance: &mut Chance,
) -> Vec<Reading> {
    let (sites, truths) = ground;
    let mut valves = Valves {
        open: 0,
        asked: 0,
        since: vec![-1e9; rig.sections_m.len()],
    };
    let mut meter = LateMeter {
        past: VecDeque::new(),
        delay: (rig.meter.delay_s / TICK_S).round() as usize,
        window: ((rig.meter.window_s / TICK_S).round() as usize).max(1),
        filter_s: rig.meter.filter_s,
        flow_lps: 0.0,
        total_l: chance.even(100.0, 9000.0),
    };
    let mut noise = Wander::new(0.015, 1.0, chance);
    let mut brush = Brush::new(rig);
    let (mut flow_lps, mut width_before, mut opened_at) = (0.0, 0.0, -1e9);
    let nominal_lps = |width: f64| target_ml_m2 / 1000.0 * width * 2.5;
    let mut readings = Vec::with_capacity(ticks.len());
    for tick in ticks {
        valves.follow(tick, rig);
        let width = rig
            .sections_m
            .iter()
            .enumerate()
            .filter(|s| valves.open >> s.0 & 1 == 1)
            .map(|s| s.1)
            .sum::<f64>();
        let factor = trouble
            .rate
            .filter(|r| tick.site == Some(r.0))
            .map_or(1.0, |r| r.1);
        let demand_lps = factor * target_ml_m2 / 1000.0 * width * tick.speed_mps.abs();
        if width_before <= 0.0 && width > 0.0 {
            opened_at = tick.t;
            flow_lps = 0.7 * demand_lps;
        } else if width > 0.0 {
            flow_lps *= width / width_before;
        }
        flow_lps += (demand_lps - flow_lps) * (TICK_S / 0.4);
        width_before = width;
        let dry = trouble
            .dry_s
            .is_some_and(|(a, b)| tick.t >= a && tick.t < b)
            || tick.t - opened_at < trouble.slow_s;
        let boom_lps = if dry || width <= 0.0 {
            0.0
        } else {
            flow_lps * (1.0 + noise.after(TICK_S, chance))
        };
        let leak_lps = if dry {
            0.0
        } else {
            trouble.leak * nominal_lps(rig.width_m() - width)
        };
        brush.stroke(
            rig,
            tick,
            valves.open,
            (boom_lps, width, leak_lps),
            sites,
            truths,
        );
        readings.push(meter.read((boom_lps + leak_lps).max(0.0)));
    }
    readings
}

/// Paints strips between boom positions.
struct Brush {
    ends: Vec<P>,
    site: Option<usize>,
    open: u64,
    litres: Vec<f64>,
}

impl Brush {
    fn new(rig: &Rig) -> Self {
        Self {
            ends: Vec::new(),
            site: None,
            open: 0,
            litres: vec![0.0; rig.sections_m.len()],
        }
    }

    fn stroke(
        &mut self,
        rig: &Rig,
        tick: &Tick,
        open: u64,
        flow: (f64, f64, f64),
        sites: &[Site],
        truths: &mut [Truth],
    ) {
        let (boom_lps, width, leak_lps) = flow;
        let Some(number) = tick.site else {
            self.site = None;
            return;
        };
        let ends = rig.section_ends(tick.pose);
        if self.site != Some(number) {
            (self.site, self.ends, self.open) = (Some(number), ends, open);
            self.litres.fill(0.0);
            return;
        }
        let last = ends.len() - 1;
        let moved = distance(ends[0], self.ends[0]).max(distance(ends[last], self.ends[last]));
        if open != self.open || moved >= 0.09 {
            self.paint(&ends, &sites[number], &mut truths[number]);
            self.ends = ends;
            self.open = open;
        }
        for (i, section_m) in rig.sections_m.iter().enumerate() {
            let lps = if open >> i & 1 == 1 {
                boom_lps * section_m / width
            } else {
                leak_lps * section_m / (rig.width_m() - width)
            };
            self.litres[i] += lps * TICK_S;
        }
    }

    fn paint(&mut self, ends: &[P], site: &Site, truth: &mut Truth) {
        for i in 0..self.litres.len() {
            let strip = [self.ends[i], self.ends[i + 1], ends[i + 1], ends[i]];
            let cells = truth.dose.inside(&[&strip]);
            let litres = self.litres[i];
            if cells.is_empty() {
                continue; // keeps its litres for the next strip
            }
            let is_open = self.open >> i & 1 == 1;
            let dose = 1000.0 * litres / (cells.len() as f64 * truth.dose.cell_m2());
            for cell in &cells {
                truth.dose.cells[*cell] += dose as f32;
                let zone = site.zone_at.cells[*cell] as usize;
                truth.litres[zone] += litres / cells.len() as f64;
                if !is_open {
                    truth.passed.cells[*cell] |= if self.open == 0 {
                        PASSED_OFF
                    } else {
                        PASSED_CLOSED
                    };
                } else if litres <= 0.0 {
                    truth.passed.cells[*cell] |= PASSED_DRY;
                } else {
                    truth.swept[zone] += 1;
                }
            }
            self.litres[i] = 0.0;
        }
    }
}
