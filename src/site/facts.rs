//! What happened at a site, for the findings: sprayed keep-off ground, dry stretches, silences, set rates.

use super::applications::Applications;
use super::covers::Covers;
use super::grounds::PassGround;
use super::heaped;
use super::laid::Laid;
use super::leg::{Leg, LegLink, Presence};
use super::likely;
use super::near::Edges;
use super::outcome::{DryFact, KeepOffFact, SetRateFact, SilenceFact};
use super::swath::{self, Convex};
use super::zones::{Zones, point_in, product_on_arrival};
use crate::geometry::overlay::Region;
use crate::geometry::place::Instant;
use crate::geometry::plane::Xy;
use crate::input::sites::LandUse;

/// From this much sprayed keep-off ground on it is worth a look, m2: two sections of a yard each over a step of 3 m.
/// Less is a corner cut (trade judgement).
pub const LEAST_KEEP_OFF_M2: f64 = 5.0;
/// Less spraying of a zone than this says nothing about what the controller was set to there, s (trade judgement).
const LEAST_SET_S: f64 = 30.0;

/// Sprayed keep-off ground by zone and leg.
pub(super) fn keep_off(laid: &Laid) -> Vec<KeepOffFact> {
    let zones = laid.site.zones.iter().enumerate();
    let zones = zones.filter(|(_, zone)| zone.land_use == LandUse::KeepOff);
    zones
        .flat_map(|(index, _)| (0..laid.legs.len()).map(move |leg| (index, leg)))
        .filter_map(|(index, leg)| keep_off_of(laid, index, leg))
        .collect()
}

fn keep_off_of(laid: &Laid, index: usize, leg: usize) -> Option<KeepOffFact> {
    let zone = &laid.site.zones[index].region;
    let extent = zone.extent();
    let over = laid.passes.iter();
    let over: Vec<&PassGround> = over
        .filter(|pass| pass.leg == leg && pass.extent.meets(&extent))
        .collect();
    let sure = over
        .iter()
        .map(|pass| super::reversed::sure_part(laid, pass).intersection(zone));
    let sure: Vec<Region> = sure.filter(|region| !region.is_empty()).collect();
    let sprayed = Region::union_of(&sure);
    let area_m2 = sprayed.area_m2();
    if area_m2 < LEAST_KEEP_OFF_M2 {
        return None;
    }
    Some(KeepOffFact {
        leg,
        zone: index,
        area_m2,
        probability: likely::sprayed(laid, &over, zone, (area_m2, LEAST_KEEP_OFF_M2)),
        volume_l: laid.legs[leg]
            .is_metered()
            .then(|| laid.liquid[leg].zones_l[index]),
        start: first_on(laid, leg, index)?,
        place: point_in(&sprayed, &laid.site.plane)?,
        region: sprayed,
    })
}

/// When the first wet ground of a leg on a zone was laid.
fn first_on(laid: &Laid, leg: usize, zone: usize) -> Option<Instant> {
    let pieces = &laid.strips[leg].pieces;
    let parts = laid.liquid[leg].parts.iter();
    let on_zone = parts.filter(|part| part.zone as usize == zone);
    let pieces = on_zone.map(|part| &pieces[part.piece as usize]);
    let wet = pieces.filter(|piece| piece.wet);
    let span = wet.map(|piece| piece.span).min()?;
    let span = &laid.legs[leg].spans[span as usize];
    Some(laid.legs[leg].at(span.step as usize, span.from_u))
}

/// Dry stretches in presences. One ends where the rig is away, in a yard or silent: what comes after is
/// another. In a yard open sections without liquid are rinsing or a test.
pub(super) fn dry(laid: &Laid) -> Vec<DryFact> {
    let legs = laid.legs.iter().enumerate();
    legs.flat_map(|(index, leg)| {
        let presences = leg.presences.iter();
        let facts = presences.flat_map(move |presence| dry_in(index, leg, presence));
        // Under a coarse total a shorter one would not show.
        facts.filter(|fact| {
            let least_m2 = leg.decided.least_dry_m2;
            least_m2.is_some_and(|least_m2| fact.area_m2 >= least_m2)
        })
    })
    .collect()
}

fn dry_in(index: usize, leg: &Leg, presence: &Presence) -> Vec<DryFact> {
    let mut facts: Vec<DryFact> = Vec::new();
    let mut open: Option<DryFact> = None;
    for step in leg.steps_of(presence) {
        let fix = &leg.fixes[step];
        if leg.steps[step].link != LegLink::Driven || !fix.here || fix.in_yard {
            facts.extend(open.take());
            continue;
        }
        for span in leg.of_step(step) {
            if span.open == 0 || span.wet || leg.is_parked(step) {
                facts.extend(open.take());
                continue;
            }
            let fact = open.get_or_insert_with(|| DryFact {
                leg: index,
                seconds: 0.0,
                length_m: 0.0,
                area_m2: 0.0,
                start: leg.at(step, span.from_u),
                place: fix.place,
            });
            let length_m = span.share_of_step() * leg.steps[step].length_m;
            fact.seconds += leg.span_s(span);
            fact.length_m += length_m;
            fact.area_m2 += length_m * leg.boom.width_m(span.open);
        }
    }
    facts.extend(open);
    facts
}

/// Silences during treating visits.
pub(super) fn silences(laid: &Laid, done: &Applications, covers: &Covers) -> Vec<SilenceFact> {
    let unlogged: Vec<Region> = covers
        .zones
        .iter()
        .map(|zones| Region::union_of(zones.iter().map(|cover| &cover.unlogged)))
        .collect();
    let mut facts = Vec::new();
    let mut of_facts = Vec::new();
    for visit in done.treating() {
        let leg = &laid.legs[visit.leg];
        for step in visit.fixes.start..visit.fixes.end.min(leg.steps.len()) {
            let here = leg.fixes[step].here || leg.fixes[step + 1].here;
            if let (LegLink::Silence { gained_l, .. }, true) = (leg.steps[step].link, here) {
                of_facts.push((done.of_steps(visit.leg, &(step..step + 1)), step));
                facts.push(SilenceFact {
                    leg: visit.leg,
                    seconds: leg.seconds(step),
                    volume_l: gained_l.known(),
                    unlogged_m2: 0.0,
                    start: leg.fixes[step].time,
                    place: leg.fixes[step].place,
                });
            }
        }
    }
    for (app, unlogged) in unlogged.iter().enumerate() {
        let own = facts.iter_mut().zip(&of_facts);
        let own = own.filter(|(_, (of, _))| *of == Some(app));
        let (own, corridors): (Vec<&mut SilenceFact>, Vec<Option<Convex>>) = own
            .map(|(fact, (_, step))| {
                let corridor = corridor_of(laid, fact.leg, *step);
                (fact, corridor)
            })
            .unzip();
        let areas_m2 = under(laid, unlogged, &corridors);
        for (fact, area_m2) in own.into_iter().zip(areas_m2) {
            fact.unlogged_m2 = area_m2;
        }
    }
    facts
}

/// The corridor of a silence, if its ground is unlogged.
fn corridor_of(laid: &Laid, leg: usize, step: usize) -> Option<Convex> {
    match laid.legs[leg].steps[step].link {
        LegLink::Silence { unlogged: true, .. } => swath::corridor_of(&laid.planes[leg], step),
        _ => None,
    }
}

/// Unlogged ground of all zones within each of some corridors, m2.
fn under(laid: &Laid, unlogged: &Region, corridors: &[Option<Convex>]) -> Vec<f64> {
    let corners = |corridor: &'_ Option<Convex>| corridor.map(|convex| convex.corners().to_vec());
    let rings: Vec<Vec<Xy>> = corridors
        .iter()
        .map(|corridor| corners(corridor).unwrap_or_default())
        .collect();
    if let Some(grid) = laid.grid {
        return heaped::areas_m2(grid, unlogged, rings.iter().map(Vec::as_slice));
    }
    let area_m2 = |ring: &Vec<Xy>| {
        let corridor = Region::inside_any([ring.as_slice()]);
        unlogged.intersection(&corridor).area_m2()
    };
    rings.iter().map(area_m2).collect()
}

/// Median set rate on each zone in each treating visit, weighted by spraying time.
pub(super) fn set_rates(zones: &Zones) -> Vec<SetRateFact> {
    let (laid, done) = (zones.laid, zones.done);
    let has_rate = |leg: &Leg| {
        leg.fixes
            .iter()
            .any(|fix| fix.set_rate_ml_m2.known().is_some())
    };
    if !laid.legs.iter().any(has_rate) {
        return Vec::new();
    }
    let grounds: Vec<Edges> = laid
        .site
        .zones
        .iter()
        .map(|zone| Edges::of(&zone.region))
        .collect();
    let mut facts = Vec::new();
    for (app, group) in done.groups.iter().enumerate() {
        for &visit in &group.visits {
            let by_zone = set_rates_of_visit(zones, visit, &grounds);
            for (zone, rates) in by_zone.into_iter().enumerate() {
                facts.extend(set_rate(zones, (app, visit), zone, rates));
            }
        }
    }
    facts
}

/// Of each zone: set rate, spraying time and step.
fn set_rates_of_visit(
    zones: &Zones,
    visit: usize,
    grounds: &[Edges],
) -> Vec<Vec<(f64, f64, usize)>> {
    let visit = zones.done.visit(visit);
    let (leg, plane) = (&zones.laid.legs[visit.leg], &zones.laid.planes[visit.leg]);
    let mut by_zone = vec![Vec::new(); grounds.len()];
    for step in visit.fixes.start..visit.fixes.end.min(leg.steps.len()) {
        let Some(rate) = leg.fixes[step].set_rate_ml_m2.known() else {
            continue;
        };
        let wet = leg.of_step(step).iter().filter(|span| span.wet);
        let seconds: f64 = wet.map(|span| leg.span_s(span)).sum();
        let zone = grounds
            .iter()
            .position(|zone| zone.contains(plane.xy[step]));
        if let (Some(zone), true) = (zone, seconds > 0.0) {
            by_zone[zone].push((f64::from(rate), seconds, step));
        }
    }
    by_zone
}

fn set_rate(
    zones: &Zones,
    (app, visit): (usize, usize),
    zone: usize,
    mut rates: Vec<(f64, f64, usize)>,
) -> Option<SetRateFact> {
    let leg = zones.done.visit(visit).leg;
    let product = product_on_arrival(zones.laid, zones.done, visit);
    let target_ml_m2 = zones.target_ml_m2(app, zone, product)?;
    let total_s: f64 = rates.iter().map(|(_, seconds, _)| seconds).sum();
    if total_s < LEAST_SET_S {
        return None;
    }
    let first = rates.iter().map(|(_, _, step)| *step).min()?;
    rates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut sum_s = 0.0;
    let (set_ml_m2, ..) = *rates.iter().find(|(_, seconds, _)| {
        sum_s += seconds;
        sum_s >= total_s / 2.0
    })?;
    let fix = &zones.laid.legs[leg].fixes[first];
    Some(SetRateFact {
        leg,
        zone,
        set_ml_m2,
        target_ml_m2,
        start: fix.time,
        place: fix.place,
    })
}
