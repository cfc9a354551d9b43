//! Classes of nights: sound work, sound work with a poor log, one planted fault.

use serde::{Deserialize, Serialize};

use crate::chance::Chance;
use crate::drive::TICK_S;
use crate::ground::Wish;
use crate::night::Night;
use crate::pump::Trouble;
use crate::rig::Rig;

/// What kind of night.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Class {
    Sound,
    SoundCars,
    PoorLate,
    PoorTicks,
    PoorLocal,
    PoorOffset,
    PoorRolling,
    PoorFive,
    PoorMultipath,
    PoorSilence,
    PoorPhone,
    PoorTowed,
    PoorPushed,
    Corner4,
    Corner6,
    Corner10,
    Corner15,
    Section,
    Dry,
    Half,
    Double,
    Leak,
    LeakTicks,
    WrongLot,
    Skipped,
    KeepOff,
    Silence,
    SlowValve,
}

/// All classes, in the order of the tables.
pub(crate) const ALL: [(Class, &str); 28] = [
    (Class::Sound, "sound"),
    (Class::SoundCars, "sound-cars"),
    (Class::PoorLate, "poor-late"),
    (Class::PoorTicks, "poor-ticks"),
    (Class::PoorLocal, "poor-local"),
    (Class::PoorOffset, "poor-offset"),
    (Class::PoorRolling, "poor-rolling"),
    (Class::PoorFive, "poor-five"),
    (Class::PoorMultipath, "poor-multipath"),
    (Class::PoorSilence, "poor-silence"),
    (Class::PoorPhone, "poor-phone"),
    (Class::PoorTowed, "poor-towed"),
    (Class::PoorPushed, "poor-pushed"),
    (Class::Corner4, "corner4"),
    (Class::Corner6, "corner6"),
    (Class::Corner10, "corner10"),
    (Class::Corner15, "corner15"),
    (Class::Section, "section"),
    (Class::Dry, "dry"),
    (Class::Half, "half"),
    (Class::Double, "double"),
    (Class::Leak, "leak"),
    (Class::LeakTicks, "leak-ticks"),
    (Class::WrongLot, "wrong-lot"),
    (Class::Skipped, "skipped"),
    (Class::KeepOff, "keep-off"),
    (Class::Silence, "silence"),
    (Class::SlowValve, "slow-valve"),
];

/// Which kind of class.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Sound,
    PoorLog,
    Fault,
}

impl Class {
    /// Its name.
    pub(crate) fn name(self) -> &'static str {
        ALL[self as usize].1
    }

    /// Sound, poor log or fault.
    pub(crate) fn kind(self) -> Kind {
        match self {
            Class::Sound | Class::SoundCars => Kind::Sound,
            c if c.name().starts_with("poor") => Kind::PoorLog,
            _ => Kind::Fault,
        }
    }

    /// What its first site is like.
    pub(crate) fn wish(self) -> Wish {
        let corner_m = match self {
            Class::Corner4 => Some(4.0),
            Class::Corner6 => Some(6.0),
            Class::Corner10 => Some(10.0),
            Class::Corner15 => Some(15.0),
            _ => None,
        };
        Wish {
            cars: self == Class::SoundCars,
            building: self == Class::PoorMultipath,
            corner_m,
            bed: (self == Class::KeepOff).then_some(true),
            small: false,
        }
    }

    /// The trucks of the night.
    pub(crate) fn rigs(self, chance: &mut Chance) -> Vec<Rig> {
        let mut first = Rig::truck("north", chance);
        match self {
            Class::PoorLate => {
                let late_s = chance.even(0.5, 5.0);
                let parts = [
                    chance.even(0.1, 1.0),
                    chance.even(0.1, 1.0),
                    chance.even(0.1, 1.0),
                ];
                let sum: f64 = parts.iter().sum();
                first.meter.delay_s = late_s * parts[0] / sum;
                first.meter.filter_s = late_s * parts[1] / sum;
                first.meter.window_s = 2.0 * late_s * parts[2] / sum;
                first.meter.flow = true;
            }
            Class::PoorTicks | Class::LeakTicks => {
                first.meter.tick_l = Some(3.785_411_784);
                first.meter.flow = false;
            }
            Class::PoorRolling => {
                first.full_stop = false;
                first.receiver.heading = false;
            }
            Class::PoorFive => {
                first.receiver.decimals = 5;
                first.receiver.interval_s = 0.2;
            }
            Class::PoorMultipath => {
                first.receiver.multipath = true;
                first.receiver.hdop = true;
            }
            Class::PoorPhone => {
                first.receiver.within_m = chance.even(2.0, 4.0);
                first.receiver.told = false;
                first.receiver.hdop = chance.yes(0.5);
            }
            Class::PoorTowed => first = first.towing(chance),
            Class::PoorPushed => {
                first = first.towing(chance);
                first.pushes = true;
            }
            Class::Section => first.one_lever = false,
            _ => {}
        }
        let alone = !matches!(
            self,
            Class::Sound | Class::SoundCars | Class::Half | Class::Double
        );
        if alone || chance.yes(0.8) {
            vec![first]
        } else {
            vec![first, Rig::truck("south", chance)]
        }
    }

    /// Plants what can be planted after the drive; says what is wrong with the liquid.
    pub(crate) fn plant(self, night: &mut Night, chance: &mut Chance) -> Trouble {
        let mut trouble = Trouble::default();
        match self {
            Class::PoorLocal => night
                .works
                .iter_mut()
                .for_each(|w| w.clock_s = -6.0 * 3600.0),
            Class::PoorOffset => {
                night.works[0].clock_s = chance.pick(&[3600.0, -3600.0, 7200.0, -10_800.0])
            }
            Class::PoorSilence => {
                for _ in 0..2 {
                    let (a, _) = lane_time(night, chance);
                    let length_s = chance.even(6.0, 25.0);
                    night.works[0].silences.push((a, a + length_s));
                }
            }
            Class::Silence => {
                let (a, _) = lane_time(night, chance);
                let b = a + chance.even(20.0, 40.0);
                night.works[0].silences.push((a, b));
                for tick in night.works[0]
                    .ticks
                    .iter_mut()
                    .filter(|t| t.t > a && t.t < b)
                {
                    tick.open = 0;
                }
            }
            Class::Section => close_section(night, chance),
            Class::Dry => trouble.dry_s = Some(third(night, chance)),
            Class::Half => trouble.rate = Some((0, 0.5)),
            Class::Double => trouble.rate = Some((0, 2.0)),
            Class::Leak | Class::LeakTicks => trouble.leak = chance.even(0.08, 0.2),
            Class::SlowValve => trouble.slow_s = chance.even(2.0, 4.0),
            _ => {}
        }
        trouble
    }
}

/// A time in one of the longer lanes of the first site, and the lane's end.
fn lane_time(night: &Night, chance: &mut Chance) -> (f64, f64) {
    let lanes = lanes(night);
    let (_, a, b) = lanes[chance.index(lanes.len().min(4))];
    (a + (b - a) * chance.even(0.1, 0.5), b)
}

/// Lanes of the first site with their first and last open time, longest first.
fn lanes(night: &Night) -> Vec<(u32, f64, f64)> {
    let mut lanes: Vec<(u32, f64, f64)> = Vec::new();
    for tick in night.works[0]
        .ticks
        .iter()
        .filter(|t| t.site == Some(0) && t.lane > 0 && t.open != 0)
    {
        match lanes.iter_mut().find(|l| l.0 == tick.lane) {
            Some(lane) => lane.2 = tick.t,
            None => lanes.push((tick.lane, tick.t, tick.t)),
        }
    }
    lanes.sort_by(|a, b| (b.2 - b.1).total_cmp(&(a.2 - a.1)));
    lanes
}

/// Closes one section for one of the longest lanes.
fn close_section(night: &mut Night, chance: &mut Chance) {
    let lanes = lanes(night);
    let (lane, _, _) = lanes[chance.index(lanes.len().min(3))];
    let section = chance.index(night.works[0].rig.sections_m.len());
    for tick in night.works[0]
        .ticks
        .iter_mut()
        .filter(|t| t.site == Some(0) && t.lane == lane)
    {
        tick.open &= !(1 << section);
    }
    night.closed_section = Some(section + 1);
}

/// The time in which a third of the first site's spraying is done.
fn third(night: &Night, chance: &mut Chance) -> (f64, f64) {
    let wet: Vec<f64> = night.works[0]
        .ticks
        .iter()
        .filter(|t| t.site == Some(0) && t.open != 0)
        .map(|t| t.t)
        .collect();
    let first = (wet.len() as f64 * chance.even(0.05, 0.6)) as usize;
    let last = (first + wet.len() / 3).min(wet.len() - 1);
    (wet[first], wet[last] + TICK_S)
}
