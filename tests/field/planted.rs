//! Whether what was planted was found, at its place and size, and blamed on its cause.

use serde::{Deserialize, Serialize};

use crate::classes::Class;
use crate::judge::{Bare, SMALLEST_M2, Verdict};
use crate::night::Night;
use crate::pump::{PASSED_CLOSED, PASSED_DRY, PASSED_OFF};

/// Over any floor.
const NO_FLOOR: f64 = 1e3;

/// What became of a planted fault.
#[derive(Clone, Serialize, Deserialize)]
pub(crate) struct Found {
    /// Its size over the least that can be told (see the floor of detection in the README); where there is no floor, a
    /// great number.
    pub(crate) over_floor: f64,
    pub(crate) found: bool,
    pub(crate) size: bool,
    pub(crate) cause: bool,
    /// True and reported size, m2, where it has one.
    pub(crate) sizes_m2: Option<(f64, f64)>,
}

/// Looks for the planted fault; `None` where nothing is planted, or chance left nothing of it.
pub(crate) fn found(night: &Night, verdict: &Verdict) -> Option<Found> {
    let said = |code: &str, site: usize| {
        verdict.findings.iter().any(|f| {
            f.code == code && f.site == night.sites[site].id && f.severity != "for_the_record"
        })
    };
    let rig_said = |parts: &[&str]| {
        verdict.findings.iter().any(|f| {
            parts.iter().any(|p| f.code.contains(p))
                && (f.rig == "north" || f.rig.is_empty())
                && f.severity != "for_the_record"
        })
    };
    let plain = |found: bool| {
        Some(Found {
            over_floor: NO_FLOOR,
            found,
            size: found,
            cause: found,
            sizes_m2: None,
        })
    };
    match night.class {
        Class::Corner4 | Class::Corner6 | Class::Corner10 | Class::Corner15 => {
            let mut ground = verdict.bare[0].cells.like(false);
            let ring = night.sites[0].left_out.as_ref()?;
            ground
                .inside(&[ring])
                .into_iter()
                .for_each(|c| ground.cells[c] = true);
            patch(
                night,
                verdict,
                |c| ground.cells[c],
                &true_causes(night, &ground.cells, &verdict.bare[0]),
                said("bare_patch", 0),
            )
        }
        Class::Section => {
            let mut found = patch(
                night,
                verdict,
                passed(night, PASSED_CLOSED),
                &["closed"],
                said("bare_patch", 0),
            )?;
            let named = |f: &crate::judge::Judged| {
                f.code == "bare_patch" && f.sections == night.closed_section.as_slice()
            };
            found.cause &= verdict.findings.iter().any(named);
            Some(found)
        }
        Class::Dry => {
            let told = said("bare_patch", 0) || said("dry_run", 0);
            patch(night, verdict, passed(night, PASSED_DRY), &["dry"], told)
        }
        Class::Silence => {
            let told = said("bare_patch", 0) || said("dropout_nearby", 0);
            let mut found = patch(
                night,
                verdict,
                |_| true,
                &["never_reached", "silence", "spraying_off"],
                told,
            )?;
            found.found = told; // unlogged ground is no patch: the silence itself is the finding
            Some(found)
        }
        Class::Half | Class::Double => {
            let factor = if night.class == Class::Half { 0.5 } else { 2.0 };
            let off = verdict.findings.iter().find(|f| {
                f.code == "off_rate"
                    && f.site == night.sites[0].id
                    && f.figure
                        .is_some_and(|v| (v < night.target_ml_m2) == (factor < 1.0))
            });
            let size = off
                .and_then(|f| f.figure)
                .is_some_and(|v| (v / (factor * night.target_ml_m2) - 1.0).abs() < 0.1);
            Some(Found {
                over_floor: NO_FLOOR,
                found: off.is_some(),
                size,
                cause: off.is_some(),
                sizes_m2: None,
            })
        }
        Class::Leak | Class::LeakTicks => {
            plain(rig_said(&["closed_flow", "parked_flow", "perhaps_leaked"]))
        }
        Class::WrongLot => plain(said("not_ordered", 2) && said("not_done", 1)),
        Class::Skipped => plain(said("not_done", 1)),
        Class::KeepOff => plain(said("keep_off_wet", 0)).map(|f| Found {
            over_floor: crate::floor::keep_off_m2(night) / 4.65,
            ..f
        }),
        Class::SlowValve => {
            let told = rig_said(&["slow_start"]);
            plain(told || rig_said(&["dry_run"]) || said("bare_patch", 0)).map(|found| Found {
                cause: told,
                ..found
            })
        }
        _ => None,
    }
}

/// What a skipped corner may be called: a boom may have crossed it on its way elsewhere, off or partly closed. A cause
/// counts as right where it holds a third of the ground.
fn true_causes(night: &Night, ground: &[bool], bare: &Bare) -> Vec<&'static str> {
    let cells = || (0..ground.len()).filter(|c| ground[*c] && bare.cells.cells[*c]);
    let of = |c: &usize| night.truths[0].passed.cells[*c];
    let closed = cells().filter(|c| of(c) & PASSED_CLOSED != 0).count();
    let off = cells()
        .filter(|c| of(c) & (PASSED_CLOSED | PASSED_OFF) == PASSED_OFF)
        .count();
    let all = cells().count().max(1);
    let counts = [
        ("never_reached", all - (closed + off).min(all)),
        ("spraying_off", off),
        ("closed", closed),
    ];
    let right = counts.iter().filter(|(_, count)| 3 * count >= all);
    right.map(|(cause, _)| *cause).collect()
}

fn passed(night: &Night, flag: u8) -> impl Fn(usize) -> bool + '_ {
    move |cell| night.truths[0].passed.cells[cell] & flag != 0
}

/// Bare ground of the first site: found where the sure patches hold half of it or more.
fn patch(
    night: &Night,
    verdict: &Verdict,
    of: impl Fn(usize) -> bool,
    causes: &[&str],
    told: bool,
) -> Option<Found> {
    let Bare { cells, label } = &verdict.bare[0];
    let (mut total, mut held) = (0.0, 0.0);
    let mut by_patch = vec![0.0; verdict.patches.len() + 1];
    for cell in (0..cells.cells.len()).filter(|c| cells.cells[*c] && of(*c)) {
        total += cells.cell_m2();
        by_patch[label.cells[cell] as usize] += cells.cell_m2();
    }
    if total < SMALLEST_M2 {
        return None;
    }
    let (mut reported, mut right) = (0.0, 0.0);
    for (patch, here) in verdict.patches.iter().zip(&by_patch[1..]) {
        if *here > 0.0 && patch.sure {
            held += here;
            reported += patch.area_m2 * (here / patch.true_m2).min(1.0);
            right += if causes.contains(&patch.cause.as_str()) {
                *here
            } else {
                0.0
            };
        }
    }
    let found = told && held >= 0.5 * total;
    let within_m = night.works[0].rig.receiver.within_m;
    let slack = (0.35 * total).max(2.0 * within_m * total.sqrt());
    Some(Found {
        over_floor: total / crate::floor::least_m2(night),
        found,
        size: found && (reported - total).abs() <= slack,
        cause: found && right >= 0.5 * held,
        sizes_m2: Some((total, reported)),
    })
}
