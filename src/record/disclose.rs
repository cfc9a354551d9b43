//! What a record shows of a site, and nothing else of the night.
//!
//! A leg has already been cut to its site, its sections over other ground masked. Here it is cut again: to visits with
//! liquid from boom or gun, and to the steps whose liquid fell on this ground from beyond, with the steps beside them
//! in which a switch may have been thrown while the boom was over it. Visits without liquid and drives past are left
//! out unless they are asked for. What they decide, the cause of a gap, no record states.

use super::evidence::settings::Liquid;
use super::evidence::{Evidence, Polygons};
use crate::audit::Gathered;
use crate::geometry::overlay::Region;
use crate::ground::{Site, Zone};
use crate::site::leg::{Leg, LegFix, LegLink, LegSpan, LegStep, NO_PASS, Perhaps, Presence};
use crate::site::outcome::{Outcome, Visit};
use crate::site::{Rules, likely};
use std::collections::BTreeSet;
use std::ops::Range;

/// What is shown beyond the usual.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Show {
    /// Visits without liquid.
    pub presence: bool,
    /// Ids of the rigs.
    pub rigs: bool,
    /// Names of the log files: they may carry drivers' names.
    pub logs: bool,
    /// Properties of zones that the program does not know.
    pub properties: bool,
}

/// A site's evidence, and how it goes together with the night.
pub struct Disclosed {
    /// What is shown.
    pub evidence: Evidence,
    /// Of each leg of the night at this site: its rig's number in the record, if it is in it.
    pub rig_of_leg: Vec<Option<usize>>,
    /// Of each leg of the record: its run in the night.
    pub runs: Vec<usize>,
    /// Fixes from beyond 10 m, or nearer to another site.
    pub beyond: usize,
}

/// Cuts a gathered night to one site.
#[must_use]
pub fn disclose(night: &Gathered, site: usize, outcome: &Outcome, show: Show) -> Disclosed {
    let mut rigs: Vec<usize> = Vec::new();
    let mut disclosed = Disclosed {
        evidence: Evidence {
            site: ground(&night.sites[site], show),
            drawn: drawn(night, &night.sites[site]),
            rules: night.rules[site].clone(),
            legs: Vec::new(),
            products: Vec::new(),
        },
        rig_of_leg: Vec::new(),
        runs: Vec::new(),
        beyond: 0,
    };
    for (index, leg) in night.legs[site].iter().enumerate() {
        let visits: Vec<Range<usize>> = if show.presence {
            leg.presences.iter().map(|of| of.fixes.clone()).collect()
        } else {
            let own = outcome.visits.iter().filter(|visit| visit.leg == index);
            let wet = own.filter(|visit| has_liquid(visit));
            wet.map(|visit| visit.fixes.clone()).collect()
        };
        let keep = if show.presence {
            vec![true; leg.fixes.len()]
        } else {
            shown(leg, &visits)
        };
        if !keep.contains(&true) {
            disclosed.rig_of_leg.push(None);
            continue;
        }
        let of_fleet = night.runs[leg.run].rig;
        let rig = rigs.iter().position(|rig| *rig == of_fleet);
        let rig = rig.unwrap_or_else(|| {
            rigs.push(of_fleet);
            rigs.len() - 1
        });
        disclosed.rig_of_leg.push(Some(rig));
        disclosed.runs.push(leg.run);
        let cut = cut(leg, &keep, &visits, rig);
        disclosed.beyond += cut.fixes.iter().filter(|fix| !fix.here).count();
        disclosed.evidence.legs.push(cut);
    }
    settle(night, &mut disclosed.evidence);
    disclosed
}

/// Whether a visit brought liquid, by boom or gun.
#[must_use]
pub fn has_liquid(visit: &Visit) -> bool {
    visit.spraying.is_some() || !visit.products.is_empty()
}

/// The site without neighbours, and without what was carried along.
fn ground(site: &Site, show: Show) -> Site {
    let zone = |zone: &Zone| Zone {
        feature: 0,
        priority: 1.0,
        others: if show.properties {
            zone.others.clone()
        } else {
            serde_json::Map::new()
        },
        ..zone.clone()
    };
    Site {
        id: site.id.clone(),
        name: site.name.clone(),
        client: site.client.clone(),
        plane: site.plane,
        bounds: site.bounds,
        zones: site.zones.iter().map(zone).collect(),
        neighbours: Vec::new(),
        lifted: Region::of_shapes(&site.lifted.shapes()),
    }
}

/// Of each zone: its polygons as drawn.
fn drawn(night: &Gathered, site: &Site) -> Vec<Polygons> {
    let all = &night.files.drawn.zones;
    let of = |zone: &Zone| {
        let drawn = all.iter().find(|drawn| drawn.feature == zone.feature);
        drawn.map_or_else(Vec::new, |drawn| drawn.polygons.clone())
    };
    site.zones.iter().map(of).collect()
}

/// Which fixes of a leg are shown.
fn shown(leg: &Leg, visits: &[Range<usize>]) -> Vec<bool> {
    let mut keep: Vec<bool> = (0..leg.fixes.len())
        .map(|at| leg.fixes[at].here && visits.iter().any(|visit| visit.contains(&at)))
        .collect();
    for (at, step) in leg.steps.iter().enumerate() {
        let liquid = leg.of_step(at).iter().any(|span| span.litres > 0.0);
        let perhaps = matches!(step.link, LegLink::Silence { unlogged: true, .. });
        if liquid || perhaps {
            (keep[at], keep[at + 1]) = (true, true);
        }
    }
    for steps in passes(leg) {
        let driven = |step: &usize| leg.steps[*step].link == LegLink::Driven;
        let before = (0..steps.start).rev().take(likely::BESIDE_STEPS);
        let after = (steps.end..leg.steps.len()).take(likely::BESIDE_STEPS);
        let first = steps.start - before.take_while(driven).count();
        let end = steps.end + after.take_while(driven).count();
        keep[first..=end].fill(true);
    }
    keep
}

/// Of each pass: from its first step to its last.
fn passes(leg: &Leg) -> Vec<Range<usize>> {
    let mut passes: Vec<Range<usize>> = Vec::new();
    for span in leg.spans.iter().filter(|span| span.pass != NO_PASS) {
        let step = span.step as usize;
        match passes.get_mut(span.pass as usize) {
            Some(pass) => pass.end = step + 1,
            None => passes.push(step..step + 1),
        }
    }
    passes
}

/// The leg with these fixes only; what nothing is computed from is left empty.
fn cut(from: &Leg, keep: &[bool], visits: &[Range<usize>], rig: usize) -> Leg {
    let mut leg = Leg::empty(rig, from.boom.clone(), from.decided);
    // No record mentions dry stretches, and this rests on the whole run.
    leg.decided.least_dry_m2 = Some(0.0);
    let mut numbers: Vec<Option<usize>> = vec![None; keep.len()];
    let mut previous: Option<usize> = None;
    for at in (0..keep.len()).filter(|&at| keep[at]) {
        match previous {
            Some(before) if before + 1 == at => add_step(&mut leg, from, before),
            Some(_) => leg.add_step(LegStep::idle(LegLink::Apart)),
            None => {}
        }
        numbers[at] = Some(leg.fixes.len());
        let product = from.product(at).map(|id| product(&mut leg.products, id));
        leg.fixes.push(LegFix {
            product,
            ..from.fixes[at]
        });
        previous = Some(at);
    }
    let kept = |at: u32| numbers[at as usize].map(|number| number as u32);
    let gun = from.gun.iter();
    leg.gun = gun
        .filter_map(|&(at, litres)| Some((kept(at)?, litres)))
        .collect();
    let presence = |visit: &Range<usize>| {
        let (first, last) = (numbers[visit.start]?, numbers[visit.end - 1]?);
        Some(Presence {
            fixes: first..last + 1,
        })
    };
    leg.presences = visits.iter().filter_map(presence).collect();
    leg
}

fn product(known: &mut Vec<String>, id: &str) -> u16 {
    let index = known.iter().position(|known| known == id);
    index.unwrap_or_else(|| {
        known.push(id.to_owned());
        known.len() - 1
    }) as u16
}

fn add_step(leg: &mut Leg, from: &Leg, at: usize) {
    let link = match from.steps[at].link {
        LegLink::Driven => LegLink::Driven,
        // What the total gained meanwhile may have gone anywhere.
        LegLink::Silence { unlogged, .. } => LegLink::Silence {
            unlogged,
            gained_l: Perhaps::UNKNOWN,
        },
        LegLink::Apart => LegLink::Apart,
    };
    if link != LegLink::Driven {
        leg.add_step(LegStep::idle(link));
        return;
    }
    let step = leg.steps.len() as u32;
    let spans = from.of_step(at).iter();
    leg.spans
        .extend(spans.map(|span| LegSpan { step, ..*span }));
    leg.add_step(from.steps[at]);
}

/// Products and rates of what was used or ordered here; orders without their place in the file.
fn settle(night: &Gathered, evidence: &mut Evidence) {
    let rules: &mut Rules = &mut evidence.rules;
    let mut used: BTreeSet<String> = BTreeSet::new();
    for leg in &evidence.legs {
        used.extend(leg.products.iter().cloned());
    }
    let placed = rules.placed().iter();
    used.extend(placed.filter_map(|placed| placed.order.product.clone()));
    rules.targets.products.retain(|(id, _)| used.contains(id));
    // That there is an orders file with others' orders is nobody's business.
    rules.orders = rules.orders.take().filter(|orders| !orders.is_empty());
    for (at, placed) in rules.orders.iter_mut().flatten().enumerate() {
        placed.order.line = at as u64 + 1;
    }
    let of_fleet = |id: String| {
        let known = night.files.fleet.products.iter();
        let known = known.clone().find(|product| product.id == id);
        Liquid {
            solute: known.and_then(|product| product.solute.clone()),
            mass_fraction: known.and_then(|product| product.mass_fraction),
            specific_gravity: known.and_then(|product| product.specific_gravity),
            product: id,
        }
    };
    evidence.products = used.into_iter().map(of_fleet).collect();
}
