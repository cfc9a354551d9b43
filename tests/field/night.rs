//! A night: sites, rigs at work, the truth, and what a class plants in it.

use crate::chance::Chance;
use crate::classes::Class;
use crate::drive::Tick;
use crate::evening::{cart_evening, evening};
use crate::ground::{Site, Use, Wish, site};
use crate::plane::{Frame, P, Plane};
use crate::pump::{Reading, Trouble, Truth, spray};
use crate::receiver::common_error;
use crate::rig::Rig;

/// One rig's night.
pub(crate) struct Work {
    pub(crate) rig: Rig,
    pub(crate) ticks: Vec<Tick>,
    pub(crate) readings: Vec<Reading>,
    /// Times without a fix in the log.
    pub(crate) silences: Vec<(f64, f64)>,
    /// Added to the times that it logs.
    pub(crate) clock_s: f64,
}

/// All of a night.
pub(crate) struct Night {
    pub(crate) class: Class,
    pub(crate) seed: u64,
    pub(crate) plane: Plane,
    pub(crate) start_ms: i64,
    pub(crate) target_ml_m2: f64,
    pub(crate) sites: Vec<Site>,
    pub(crate) truths: Vec<Truth>,
    pub(crate) works: Vec<Work>,
    /// Sites that were ordered.
    pub(crate) orders: Vec<usize>,
    pub(crate) common_error: Vec<P>,
    /// Number of the section that was closed for a lane, from 1.
    pub(crate) closed_section: Option<usize>,
}

/// The night of a class and a seed.
pub(crate) fn night(class: Class, seed: u64) -> Night {
    let mut chance = Chance::new(seed, 1 + class as u64);
    let plane = Plane {
        lon_deg: chance.even(-40.0, -26.0),
        lat_deg: chance.even(36.0, 50.0),
    };
    let count = match class {
        Class::WrongLot => 3,
        Class::Skipped | Class::PoorLocal | Class::PoorOffset => 2,
        _ => 1 + usize::from(chance.yes(0.4)),
    };
    let wish = Wish {
        small: count > 1,
        ..class.wish()
    };
    let sites: Vec<Site> = (0..count)
        .map(|k| {
            let origin = [chance.even(-30.0, 30.0), 700.0 * k as f64];
            let frame = Frame {
                origin,
                turn_rad: chance.even(0.0, std::f64::consts::TAU),
            };
            let wish = if k == 0 {
                wish
            } else {
                Wish {
                    corner_m: None,
                    bed: None,
                    ..wish
                }
            };
            site(["avocet", "curlew", "dipper"][k], frame, wish, &mut chance)
        })
        .collect();
    let (jobs, orders): (Vec<usize>, Vec<usize>) = match class {
        Class::WrongLot => (vec![0, 2], vec![0, 1]),
        Class::Skipped => (vec![0], vec![0, 1]),
        _ => ((0..count).collect(), (0..count).collect()),
    };
    let rigs = class.rigs(&mut chance);
    let mut works = Vec::new();
    let mut start_s = 0.0;
    let shared = rigs.len() > 1;
    for (number, rig) in rigs.into_iter().enumerate() {
        let share = shared.then_some(number);
        let own_jobs: &[usize] = if number == 0 { &jobs } else { &jobs[..1] };
        let ticks = evening(
            &rig,
            &sites,
            own_jobs,
            share,
            start_s,
            seed * 97 + number as u64 * 7 + class as u64,
        );
        start_s += chance.even(0.0, 150.0);
        works.push(Work {
            rig,
            ticks,
            readings: Vec::new(),
            silences: Vec::new(),
            clock_s: 0.0,
        });
    }
    let has_walk = |s: &usize| {
        sites[*s]
            .zones
            .iter()
            .any(|z| z.kind == Use::Walk && !z.by_hand)
    };
    let walks: Vec<usize> = jobs.iter().copied().filter(has_walk).collect();
    if !walks.is_empty() {
        let rig = Rig::cart(&mut chance);
        let ticks = cart_evening(&rig, &sites, &walks, chance.even(0.0, 300.0), seed);
        works.push(Work {
            rig,
            ticks,
            readings: Vec::new(),
            silences: Vec::new(),
            clock_s: 0.0,
        });
    }
    let end_s = works
        .iter()
        .filter_map(|w| w.ticks.last())
        .map(|t| t.t)
        .fold(0.0, f64::max);
    let truths = sites.iter().map(Truth::bare).collect();
    let mut night = Night {
        class,
        seed,
        plane,
        start_ms: 1_768_183_200_000 + 1000 * chance.index(7200) as i64,
        target_ml_m2: chance.even(24.0, 42.0),
        common_error: common_error(end_s as usize + 2, &mut chance),
        sites,
        truths,
        works,
        orders,
        closed_section: None,
    };
    let trouble = class.plant(&mut night, &mut chance);
    lay(&mut night, &trouble, &mut chance);
    night
}

/// Lays the liquid of every rig.
fn lay(night: &mut Night, trouble: &Trouble, chance: &mut Chance) {
    for (number, work) in night.works.iter_mut().enumerate() {
        let own = if number == 0 {
            trouble.clone()
        } else {
            Trouble {
                rate: trouble.rate,
                ..Trouble::default()
            }
        };
        let ground = (night.sites.as_slice(), night.truths.as_mut_slice());
        work.readings = spray(
            &work.rig,
            &work.ticks,
            &own,
            night.target_ml_m2,
            ground,
            chance,
        );
    }
}
