//! What a receiver makes of a place: no single law, but slow, middling and quick errors, steps, and a part that all receivers
//! of the night share; beside buildings jumps of some metres.

use crate::chance::{Chance, Wander};
use crate::ground::Site;
use crate::plane::P;
use crate::rig::Receiver;

/// 95 % of positions lie within this many deviations of one axis (Rayleigh's law: sqrt(-2 ln 0.05)).
const WITHIN_OVER_DEVIATION: f64 = 2.447_746_8;
/// Shares of the variance: common to all rigs (600 s), slow (300 s), middling (60 s), quick (6 s), steps (every 90 s or so).
const COMMON: f64 = 0.25;
const SLOW: f64 = 0.25;
const MIDDLING: f64 = 0.25;
const QUICK: f64 = 0.07;
const STEPS: f64 = 0.18;
const STEP_EVERY_S: f64 = 90.0;
const WHITE_M: f64 = 0.015;

/// The part that the night's receivers share, once a second, deviation 1.
pub(crate) fn common_error(seconds: usize, chance: &mut Chance) -> Vec<P> {
    let mut axes = [
        Wander::new(1.0, 600.0, chance),
        Wander::new(1.0, 600.0, chance),
    ];
    (0..seconds)
        .map(|_| [axes[0].after(1.0, chance), axes[1].after(1.0, chance)])
        .collect()
}

/// One receiver at work.
pub(crate) struct Errors<'a> {
    deviation_m: f64,
    common: &'a [P],
    waves: Vec<[Wander; 2]>,
    step: P,
    hdop: f64,
    hdop_wave: Wander,
    bounce: Option<(f64, P, f64)>,
    multipath: bool,
}

/// Error of a fix, metres, and the dilution logged with it.
pub(crate) struct Seen {
    pub(crate) error: P,
    pub(crate) hdop: f64,
}

impl<'a> Errors<'a> {
    /// Switched on.
    pub(crate) fn new(receiver: &Receiver, common: &'a [P], chance: &mut Chance) -> Self {
        let deviation_m = receiver.within_m / WITHIN_OVER_DEVIATION;
        let mut pair = |share: f64, memory_s: f64| {
            let d = deviation_m * share.sqrt();
            [
                Wander::new(d, memory_s, chance),
                Wander::new(d, memory_s, chance),
            ]
        };
        let waves = vec![pair(SLOW, 300.0), pair(MIDDLING, 60.0), pair(QUICK, 6.0)];
        let scale = deviation_m * STEPS.sqrt();
        Self {
            deviation_m,
            common,
            waves,
            step: [scale * chance.normal(), scale * chance.normal()],
            hdop: chance.even(0.7, 1.1),
            hdop_wave: Wander::new(0.06, 200.0, chance),
            bounce: None,
            multipath: receiver.multipath,
        }
    }

    /// The error at `t`, `step_s` after the one before, with the antenna at `place` of a site.
    pub(crate) fn at(
        &mut self,
        t: f64,
        step_s: f64,
        place: Option<(&Site, P)>,
        chance: &mut Chance,
    ) -> Seen {
        let common = self.common[(t as usize).min(self.common.len() - 1)];
        let scale = self.deviation_m * STEPS.sqrt();
        if chance.yes(1.0 - (-step_s / STEP_EVERY_S).exp()) {
            self.step = [scale * chance.normal(), scale * chance.normal()];
        }
        let mut error = [0.0; 2];
        for axis in 0..2 {
            error[axis] = self.deviation_m * COMMON.sqrt() * common[axis]
                + self.step[axis]
                + WHITE_M * chance.normal();
            for wave in &mut self.waves {
                error[axis] += wave[axis].after(step_s, chance);
            }
        }
        let mut hdop = self.hdop + self.hdop_wave.after(step_s, chance);
        if self.multipath {
            let near =
                place.is_some_and(|(site, p)| site.buildings.iter().any(|b| to_block(p, b) < 8.0));
            if self.bounce.is_none() && near && chance.yes(1.0 - (-step_s / 14.0).exp()) {
                let (size, way) = (
                    chance.even(2.0, 6.0),
                    chance.even(0.0, std::f64::consts::TAU),
                );
                self.bounce = Some((
                    t + chance.even(3.0, 9.0),
                    [size * way.cos(), size * way.sin()],
                    chance.even(2.3, 4.0),
                ));
            }
            if let Some((until, shift, factor)) = self.bounce {
                hdop *= factor;
                error = [error[0] + shift[0], error[1] + shift[1]];
                if t > until {
                    self.bounce = None;
                }
            }
        }
        Seen {
            error,
            hdop: hdop.max(0.5),
        }
    }
}

/// Distance to an upright box.
fn to_block(p: P, ring: &[P]) -> f64 {
    let dx = (ring[0][0] - p[0]).max(p[0] - ring[2][0]).max(0.0);
    let dy = (ring[0][1] - p[1]).max(p[1] - ring[2][1]).max(0.0);
    dx.hypot(dy)
}
