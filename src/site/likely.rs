//! How likely a bare patch is, and how great; whether a zone was treated thinly, and keep-off ground sprayed: the
//! errors of positions and the times of switches are drawn, and the ground is swept again with each draw. One
//! error for each leg, shared by all zones.
//!
//! | module | from | to |
//! |---|---|---|
//! | [`draws`] | leg, purpose, draw, place in time | random numbers |
//! | [`error`] | fixes | drawn errors of a receiver |
//! | [`switches`] | spans | drawn times of switches |
//! | [`swept`] | boom positions, errors, times | bare ground of each draw |
//! | [`decision`] | a patch as logged, its drawn areas | probability and interval |

pub(crate) mod decision;
mod draws;
mod error;
mod swept;
mod switches;

use super::applications::Applications;
use super::covers::Covers;
use super::grounds::PassGround;
use super::laid::Laid;
use crate::findings::cause::GapCause;
use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;
use crate::rig::position::R95;
use crate::site::coverage::{LEAST_COVER, LEAST_LOOK, LEAST_PATCH_M2, LEAST_PATCH_WIDTH_M};
use crate::site::leg::{Leg, LegLink};
use draws::Draws;
use error::Law;
use std::ops::Range;
use swept::{Drive, Target};

/// Draws: the spread is known to a tenth, which moves a probability by less than its own calibration does
/// (tolerance).
pub(crate) const DRAWS: u32 = 64;
/// The first of them settle a clear case alone: their spread is known to a fifth, and no threshold is near (tolerance).
pub(crate) const FIRST_DRAWS: u32 = 16;
/// Errors are forgotten over this long, s: between the minute of multipath and the ten minutes of the atmosphere's
/// (trade judgement).
pub(crate) const TAU_S: f64 = 150.0;
/// Beyond this many standard deviations around a patch, and its least width, ground is not looked at (limit).
const AROUND: f64 = 2.0;
/// With less of its core treated than this a zone needs no draws to be treated thinly (trade judgement).
const SOME_COVER: f64 = 0.5;
/// What a phone in a cab may be off by, 95 % within, m: open sky gives 4.9 m, as GPS.gov says after van Diggelen and
/// Enge 2015 (from memory).
const COARSE_M: f64 = 4.9;
/// Such an error is forgotten sooner, s: nobody knows how (trade judgement).
const COARSE_TAU_S: f64 = 40.0;
/// Steps beside those of a pass in which its switches may have been thrown (trade judgement).
pub(crate) const BESIDE_STEPS: usize = 2;

/// Ground that is asked about.
#[derive(Clone, Copy)]
enum Asked {
    /// A patch of a zone.
    Patch(usize, usize),
    /// A whole zone, inside its edge.
    Zone(usize),
}

/// Says of every patch with the smallest size or more inside the edge how likely it is, and of every zone that
/// seems to be treated thinly whether it is.
pub(super) fn judge(laid: &Laid, done: &Applications, covers: &mut Covers) {
    let ranks = ranks(laid);
    for app in 0..covers.zones.len() {
        mark_bare(covers, app);
        let asked = asked(laid, covers, app);
        if asked.is_empty() {
            continue;
        }
        let steps = merged(laid, done.passes(app));
        let drawn = Drawn {
            laid,
            ranks: &ranks,
            steps: &steps,
            app,
        };
        let legs = laid.legs.iter();
        let told: Vec<Law> = legs.map(|leg| law(leg.decided.position_m)).collect();
        let of_each = drawn.bare_m2(covers, &asked, &told, |asked, drawn_m2| {
            is_settled(covers, app, asked, drawn_m2, laid.rules.likely)
        });
        for (&asked, drawn_m2) in asked.iter().zip(&of_each) {
            answer(covers, app, asked, drawn_m2);
        }
        mark_untold(&drawn, covers, &asked);
    }
}

/// Says of patches and of zones thinly treated which of them would not be likely with the error of a coarse receiver, where
/// nobody stated the rig's: a truck is not sent for what may be a setting left out.
fn mark_untold(drawn: &Drawn, covers: &mut Covers, asked: &[Asked]) {
    let laid = drawn.laid;
    let is_untold = |leg: &Leg| leg.decided.position_from.is_untold();
    let mut legs = laid.legs.iter().zip(drawn.steps);
    if !legs.any(|(leg, steps)| !steps.is_empty() && is_untold(leg)) {
        return;
    }
    let coarse = laid.legs.iter().map(|leg| match is_untold(leg) {
        true => Law {
            tau_s: COARSE_TAU_S,
            ..law(leg.decided.position_m.max(COARSE_M))
        },
        false => law(leg.decided.position_m),
    });
    let (zones, least) = (&covers.zones[drawn.app], laid.rules.likely);
    // Nothing depends on the error where a boom passed dry or the log is silent.
    let may_be_told = |asked: &&Asked| match **asked {
        Asked::Patch(zone, patch) => {
            let patch = &zones[zone].patches[patch];
            !matches!(patch.cause, GapCause::Dry | GapCause::Silence)
                && patch.is_likely(least.min(LEAST_LOOK))
        }
        Asked::Zone(zone) => zones[zone].thin.is_some_and(|thin| thin >= least),
    };
    let asked: Vec<Asked> = asked.iter().filter(may_be_told).copied().collect();
    if asked.is_empty() {
        return;
    }
    let coarse: Vec<Law> = coarse.collect();
    let of_each = drawn.bare_m2(covers, &asked, &coarse, |asked, drawn_m2| {
        is_settled(covers, drawn.app, asked, drawn_m2, least)
    });
    for (asked, drawn_m2) in asked.into_iter().zip(&of_each) {
        match asked {
            Asked::Patch(zone, patch) => {
                let patch = &mut covers.zones[drawn.app][zone].patches[patch];
                if decision::of_patch(patch, drawn_m2).probability < least {
                    patch.cause = GapCause::ErrorUntold;
                }
            }
            Asked::Zone(zone) => {
                let thin = thin(covers, drawn.app, zone, drawn_m2);
                covers.zones[drawn.app][zone].thin_untold = thin.probability() < least;
            }
        }
    }
}

/// Whether the first draws are enough: with any spread that they may stand for, nobody would be told otherwise.
fn is_settled(covers: &Covers, app: usize, asked: Asked, drawn_m2: &[f64], likely: f64) -> bool {
    match asked {
        Asked::Patch(zone, patch) => {
            decision::is_settled(&covers.zones[app][zone].patches[patch], drawn_m2, likely)
        }
        Asked::Zone(zone) => thin(covers, app, zone, drawn_m2).is_settled(),
    }
}

fn thin(covers: &Covers, app: usize, zone: usize, drawn_m2: &[f64]) -> decision::Thin {
    let core_m2 = covers.frames[zone].core.area_m2();
    let bare_m2 = core_m2 - covers.zones[app][zone].core_treated_m2;
    decision::Thin::of(bare_m2, (1.0 - LEAST_COVER) * core_m2, drawn_m2)
}

/// What is drawn for an application.
struct Drawn<'a> {
    laid: &'a Laid<'a>,
    ranks: &'a [usize],
    /// Of each leg.
    steps: &'a [Vec<Range<usize>>],
    app: usize,
}

impl Drawn<'_> {
    /// Of each ground asked about: what is bare of it in each draw, under these error laws of the legs, m2. Where the first
    /// draws settle it there are no more.
    fn bare_m2(
        &self,
        covers: &Covers,
        asked: &[Asked],
        laws: &[Law],
        is_settled: impl Fn(Asked, &[f64]) -> bool,
    ) -> Vec<Vec<f64>> {
        let around_m = LEAST_PATCH_WIDTH_M + AROUND * greatest_deviation_m(self.steps, laws);
        let targets: Vec<Target> = asked
            .iter()
            .map(|&asked| target(self.laid, covers, self.app, asked, around_m))
            .collect();
        let legs = self.steps.iter().enumerate();
        let drives: Vec<Drive> = legs
            .filter(|(_, steps)| !steps.is_empty())
            .map(|(leg, steps)| {
                let draws = Draws::of(&self.laid.site.id, self.ranks[leg]);
                Drive::of(&self.laid.planes[leg], steps, (draws, laws[leg]), &targets)
            })
            .collect();
        let mut drawn_m2 = swept::bare_m2(&drives, &targets, 0..FIRST_DRAWS);
        let open = |at: &usize| !is_settled(asked[*at], &drawn_m2[*at]);
        let open: Vec<usize> = (0..asked.len()).filter(open).collect();
        let left: Vec<Target> = targets
            .into_iter()
            .enumerate()
            .filter(|(at, _)| open.binary_search(at).is_ok())
            .map(|(_, target)| target)
            .collect();
        let more_m2 = swept::bare_m2(&drives, &left, FIRST_DRAWS..DRAWS);
        for (at, more_m2) in open.into_iter().zip(more_m2) {
            drawn_m2[at].extend(more_m2);
        }
        drawn_m2
    }
}

fn answer(covers: &mut Covers, app: usize, asked: Asked, drawn_m2: &[f64]) {
    match asked {
        Asked::Patch(zone, patch) => {
            let patch = &mut covers.zones[app][zone].patches[patch];
            patch.likelihood = Some(decision::of_patch(patch, drawn_m2));
        }
        Asked::Zone(zone) => {
            let thin = thin(covers, app, zone, drawn_m2);
            covers.zones[app][zone].thin = Some(thin.probability());
        }
    }
}

/// Probability that passes of one leg truly sprayed `least_m2` of some ground, of which the log has `area_m2`.
pub(super) fn sprayed(
    laid: &Laid,
    passes: &[&PassGround],
    ground: &Region,
    (area_m2, least_m2): (f64, f64),
) -> f64 {
    let Some(first) = passes.first() else {
        return 0.0;
    };
    let steps = merged(laid, passes.iter().copied());
    let law = law(laid.legs[first.leg].decided.position_m);
    let draws = Draws::of(&laid.site.id, ranks(laid)[first.leg]);
    let targets = [Target::of(ground, ground, false)];
    let (leg, own) = (&laid.planes[first.leg], &steps[first.leg]);
    let drive = Drive::of(leg, own, (draws, law), &targets);
    let ground_m2 = ground.area_m2();
    let bare_m2 = swept::bare_m2(&[drive], &targets, 0..DRAWS);
    let drawn_m2: Vec<f64> = bare_m2[0]
        .iter()
        .map(|bare_m2| ground_m2 - bare_m2)
        .collect();
    decision::of_spray(area_m2, least_m2, &drawn_m2)
}

fn law(position_m: f64) -> Law {
    Law {
        deviation_m: position_m / R95,
        tau_s: TAU_S,
    }
}

/// Patches of an application that are great enough, and zones with so little treated that somebody might be sent.
fn asked(laid: &Laid, covers: &Covers, app: usize) -> Vec<Asked> {
    let mut asked = Vec::new();
    for (zone, cover) in covers.zones[app].iter().enumerate() {
        if !laid.site.zones[zone].is_by_boom() || covers.frames[zone].narrow {
            continue;
        }
        let patches = cover.patches.iter().enumerate();
        let great = patches.filter(|(_, patch)| patch.core_m2 >= LEAST_PATCH_M2);
        asked.extend(great.map(|(patch, _)| Asked::Patch(zone, patch)));
        let core_m2 = covers.frames[zone].core.area_m2();
        if (SOME_COVER * core_m2..LEAST_COVER * core_m2).contains(&cover.core_treated_m2) {
            asked.push(Asked::Zone(zone));
        }
    }
    asked
}

/// Zones so bare that no error of a position changes it.
fn mark_bare(covers: &mut Covers, app: usize) {
    for (cover, frame) in covers.zones[app].iter_mut().zip(&covers.frames) {
        let core_m2 = frame.core.area_m2();
        cover.thin = (cover.core_treated_m2 < SOME_COVER * core_m2).then_some(1.0);
    }
}

fn target(laid: &Laid, covers: &Covers, app: usize, asked: Asked, around_m: f64) -> Target {
    match asked {
        Asked::Patch(zone, patch) => {
            let cover = &covers.zones[app][zone];
            let around = cover.patches[patch].region.offset(around_m);
            let ground = around.intersection(&laid.site.zones[zone].region);
            let ground = ground.difference(&cover.unlogged);
            Target::of(&ground, &covers.frames[zone].core, true)
        }
        Asked::Zone(zone) => {
            let core = &covers.frames[zone].core;
            Target::of(core, core, false)
        }
    }
}

/// Of each leg: the steps of these passes, in order of time, and some beside them.
fn merged<'a>(laid: &Laid, passes: impl Iterator<Item = &'a PassGround>) -> Vec<Vec<Range<usize>>> {
    let mut steps: Vec<Vec<Range<usize>>> = vec![Vec::new(); laid.legs.len()];
    for pass in passes {
        let own = &mut steps[pass.leg];
        // Beyond a step that was not driven lies another stretch.
        let of_leg = &laid.legs[pass.leg].steps;
        let driven = |step: &usize| of_leg[*step].link == LegLink::Driven;
        let before = (0..pass.steps.start).rev().take(BESIDE_STEPS);
        let after = (pass.steps.end..of_leg.len()).take(BESIDE_STEPS);
        let first = pass.steps.start - before.take_while(driven).count();
        let end = pass.steps.end + after.take_while(driven).count();
        match own.last_mut() {
            Some(last) if first <= last.end => last.end = last.end.max(end),
            _ => own.push(first..end),
        }
    }
    steps
}

fn greatest_deviation_m(steps: &[Vec<Range<usize>>], laws: &[Law]) -> f64 {
    let took_part = steps
        .iter()
        .zip(laws)
        .filter(|(steps, _)| !steps.is_empty());
    took_part
        .map(|(_, law)| law.deviation_m)
        .fold(0.0, f64::max)
}

/// Of each leg: its place in the order of their first liquid, whatever the order of the files.
fn ranks(laid: &Laid) -> Vec<usize> {
    let first = |leg: usize| -> Option<Instant> {
        let leg = &laid.legs[leg];
        let span = leg.spans.iter().find(|span| span.wet)?;
        Some(leg.at(span.step as usize, span.from_u))
    };
    let mut order: Vec<usize> = (0..laid.legs.len()).collect();
    // Those without liquid come last: they have no draws, and must not move those of the others.
    order.sort_by_key(|&leg| (first(leg).is_none(), first(leg), leg));
    let mut ranks = vec![0; order.len()];
    for (rank, leg) in order.into_iter().enumerate() {
        ranks[leg] = rank;
    }
    ranks
}
