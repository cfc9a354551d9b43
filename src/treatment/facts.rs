//! What happened at a site, for the findings: sprayed keep-off ground, dry stretches, silences, set rates.

use super::{Bench, Laid, PassGround};
use crate::coverage::ZoneCover;
use crate::input::sites::LandUse;
use crate::near::Edges;
use crate::overlay::Region;
use crate::place::{Instant, LonLat};
use crate::plane::Xy;
use crate::pose::Motion;
use crate::run::Run;
use crate::track::Link;
use std::collections::BTreeSet;
use std::ops::Range;

/// Keep-off ground that one run sprayed.
#[derive(Debug, Clone)]
pub struct KeepOffFact {
    /// Index of the run.
    pub run: usize,
    /// Zone id.
    pub zone: String,
    /// Ground sprayed, farther than the position error inside the zone's line, m2.
    pub area_m2: f64,
    /// Liquid on the zone's whole ground, L; `None` where nothing is metered.
    pub volume_l: Option<f64>,
    /// First pass over it.
    pub start: Instant,
    /// A point of the sprayed ground.
    pub place: LonLat,
}

/// A stretch with sections open, the rig moving and no liquid.
#[derive(Debug, Clone)]
pub struct DryFact {
    /// Index of the run.
    pub run: usize,
    /// How long, s.
    pub seconds: f64,
    /// How far, m.
    pub length_m: f64,
    /// Ground under the open sections, m2.
    pub area_m2: f64,
    /// When it began.
    pub start: Instant,
    /// Where it began.
    pub place: LonLat,
}

/// A silence of a rig at work.
#[derive(Debug, Clone)]
pub struct DropoutFact {
    /// Index of the run.
    pub run: usize,
    /// How long, s.
    pub seconds: f64,
    /// What the total gained, L.
    pub volume_l: Option<f64>,
    /// Ground of the site's zones told as unlogged for it, m2.
    pub unlogged_m2: f64,
    /// Last fix before it.
    pub start: Instant,
    /// Where that was.
    pub place: LonLat,
}

/// What a controller was set to over most of the spraying of one zone in one visit.
#[derive(Debug, Clone)]
pub struct SetRateFact {
    /// Index of the run.
    pub run: usize,
    /// Zone id.
    pub zone: String,
    /// Median over spraying time, mL/m2.
    pub set_ml_m2: f64,
    /// Rate asked for on the zone, mL/m2.
    pub target_ml_m2: f64,
    /// When spraying the zone began.
    pub start: Instant,
    /// Where that was.
    pub place: LonLat,
}

/// Less spraying of a zone than this says nothing about what the controller was set to there, s.
const LEAST_SET_S: f64 = 30.0;

/// Sprayed keep-off ground by run and zone.
pub(super) fn keep_off(bench: &Bench, laid: &[Laid]) -> Vec<KeepOffFact> {
    let runs: BTreeSet<usize> = bench.passes.iter().map(|pass| pass.run).collect();
    let mut facts = Vec::new();
    let zones = bench.work.site.zones.iter().enumerate();
    for (index, zone) in zones.filter(|(_, zone)| zone.land_use == LandUse::KeepOff) {
        if runs.is_empty() {
            break;
        }
        let inner = zone.region.offset(-bench.position_m);
        let extent = inner.extent();
        let over: Vec<&PassGround> = bench
            .passes
            .iter()
            .filter(|pass| pass.extent.meets(&extent))
            .collect();
        for &run in &runs {
            let over = over.iter().filter(|pass| pass.run == run);
            let sure: Vec<_> = over
                .map(|pass| {
                    (
                        super::unsure::sure_part(bench, pass).intersection(&inner),
                        pass,
                    )
                })
                .filter(|(region, _)| !region.is_empty())
                .map(|(region, pass)| (super::switched::sure_part(bench, pass, &region), pass))
                .filter(|(region, _)| !region.is_empty())
                .collect();
            let sprayed = Region::union_of(sure.iter().map(|(region, _)| region));
            let first = sure.iter().map(|(_, pass)| pass.steps.start).min();
            let (Some(first), Some(place)) =
                (first, super::report::point_in(&sprayed, &bench.plane))
            else {
                continue;
            };
            facts.push(KeepOffFact {
                run,
                zone: zone.id.clone(),
                area_m2: sprayed.area_m2(),
                volume_l: bench.work.runs[run]
                    .timeline
                    .metered
                    .then(|| keep_off_l(laid, run, index)),
                start: bench.work.runs[run].track.fixes[first].time,
                place,
            });
        }
    }
    facts
}

/// Litres that a run laid on one keep-off zone.
fn keep_off_l(laid: &[Laid], run: usize, zone: usize) -> f64 {
    let of_run = laid.iter().filter(|laid| laid.run == run);
    of_run
        .flat_map(|laid| &laid.keep_off_zones_l)
        .filter(|(of, _)| **of == zone)
        .map(|(_, litres)| litres)
        .sum()
}

/// The steps of all visits to the site at which it was the nearest, by run.
fn steps_here<'a>(bench: &'a Bench) -> impl Iterator<Item = (usize, Range<usize>)> + 'a {
    bench.work.visits.iter().map(|visit| {
        let steps = bench.work.runs[visit.run].track.steps.len();
        (visit.run, visit.fixes.start..visit.fixes.end.min(steps))
    })
}

fn is_here(bench: &Bench, run: usize, step: usize) -> bool {
    let whereabouts = &bench.work.whereabouts[run];
    whereabouts.nearest[step] as usize == bench.work.index
        && whereabouts.distance_m[step] <= crate::visit::ARRIVE_M
}

/// Under a coarse total a dry stretch must lack so many ticks: with fewer, the same readings fit a
/// healthy stretch.
const DRY_TICKS: f64 = 1.5;

/// Liquid that a run lays on ground under its open sections, L/m2; 0 where it lays none.
fn usual_l_m2(run: &Run) -> f64 {
    let (mut litres, mut area_m2) = (0.0, 0.0);
    for span in run.timeline.spans.iter().filter(|span| span.wet) {
        let length_m = span.share_of_step() * run.track.steps[span.step as usize].length_m();
        area_m2 += length_m * run.boom.width_m(span.open);
        litres += span.litres;
    }
    if area_m2 > 0.0 { litres / area_m2 } else { 0.0 }
}

/// Dry stretches in visits. One ends where the rig is away, in a yard or silent: what comes after is
/// another. In a yard open sections without liquid are rinsing or a test.
pub(super) fn dry(bench: &Bench) -> Vec<DryFact> {
    let mut facts: Vec<DryFact> = Vec::new();
    for (run_index, steps) in steps_here(bench) {
        let run = &bench.work.runs[run_index];
        let in_yard = &bench.work.whereabouts[run_index].in_yard;
        let first_fact = facts.len();
        let mut open: Option<DryFact> = None;
        for step in steps {
            let counts = run.track.steps[step].link == Link::Driven
                && is_here(bench, run_index, step)
                && !in_yard[step];
            if !counts {
                facts.extend(open.take());
                continue;
            }
            let moving = run.posed.curves[step].motion != Motion::Parked;
            for span in run.timeline.of_step(step) {
                if span.open == 0 || span.wet || !moving {
                    facts.extend(open.take());
                    continue;
                }
                let share = span.share_of_step();
                let fact = open.get_or_insert_with(|| DryFact {
                    run: run_index,
                    seconds: 0.0,
                    length_m: 0.0,
                    area_m2: 0.0,
                    start: run.at(step, span.from_u),
                    place: run.track.fixes[step].place,
                });
                fact.seconds += share * run.track.steps[step].seconds;
                let length_m = share * run.track.steps[step].length_m();
                fact.length_m += length_m;
                fact.area_m2 += length_m * run.boom.width_m(span.open);
            }
        }
        facts.extend(open);
        let tick_l = run.metered.tick_l;
        if tick_l > 0.0 && facts.len() > first_fact {
            let least_m2 = DRY_TICKS * tick_l / usual_l_m2(run);
            let mut at = 0;
            facts.retain(|fact| {
                at += 1;
                at <= first_fact || fact.area_m2 >= least_m2
            });
        }
    }
    facts
}

/// Silences during treating visits.
pub(super) fn dropouts(bench: &Bench, covers: &[Vec<ZoneCover>]) -> Vec<DropoutFact> {
    let unlogged: Vec<Region> = covers
        .iter()
        .map(|zones| Region::union_of(zones.iter().map(|cover| &cover.unlogged)))
        .collect();
    let mut facts = Vec::new();
    for &visit in &bench.treating {
        let visit = bench.work.visits[visit];
        let run = &bench.work.runs[visit.run];
        for step in visit.fixes.start..visit.fixes.end.min(run.track.steps.len()) {
            let silent = run.track.steps[step].link == Link::Dropout;
            if silent && (is_here(bench, visit.run, step) || is_here(bench, visit.run, step + 1)) {
                facts.push(DropoutFact {
                    run: visit.run,
                    seconds: run.track.steps[step].seconds,
                    volume_l: run.metered.gained_l(step),
                    unlogged_m2: unlogged_m2(bench, &unlogged, visit.run, step),
                    start: run.track.fixes[step].time,
                    place: run.track.fixes[step].place,
                });
            }
        }
    }
    facts
}

/// Unlogged ground of all zones within the corridor of one silence. `unlogged`: of each application.
fn unlogged_m2(bench: &Bench, unlogged: &[Region], run: usize, step: usize) -> f64 {
    let of_run = bench.strips.iter().filter(|(of, _)| *of == run);
    let corridors = of_run.flat_map(|(_, strips)| &strips.corridors);
    let rings: Vec<&[Xy]> = corridors
        .filter(|corridor| corridor.unlogged && corridor.step == step)
        .map(|corridor| corridor.ring.as_slice())
        .collect();
    if rings.is_empty() {
        return 0.0;
    }
    let Some(app) = bench.application_of(run, &(step..step + 1)) else {
        return 0.0;
    };
    unlogged[app]
        .intersection(&Region::inside_any(rings))
        .area_m2()
}

/// Median set rate on each zone in each treating visit, weighted by spraying time.
pub(super) fn set_rates(bench: &Bench) -> Vec<SetRateFact> {
    let mut visits = bench.treating.iter().map(|&visit| bench.work.visits[visit]);
    if !visits.any(|visit| bench.work.runs[visit.run].has_set_rate) {
        return Vec::new();
    }
    let zones: Vec<Edges> = bench
        .work
        .site
        .zones
        .iter()
        .map(|zone| Edges::of(&zone.region))
        .collect();
    let mut facts = Vec::new();
    for (app, group) in bench.groups.iter().enumerate() {
        for &k in &group.visits {
            let by_zone = set_rates_of_visit(bench, bench.treating[k], &zones);
            for (zone, rates) in by_zone.into_iter().enumerate() {
                facts.extend(set_rate(bench, (app, bench.treating[k]), zone, rates));
            }
        }
    }
    facts
}

/// Of each zone: set rate, spraying time and step.
fn set_rates_of_visit(bench: &Bench, visit: usize, zones: &[Edges]) -> Vec<Vec<(f64, f64, usize)>> {
    let visit = bench.work.visits[visit];
    let run = &bench.work.runs[visit.run];
    let mut by_zone = vec![Vec::new(); zones.len()];
    for near in bench.work.nears.iter().filter(|near| near.run == visit.run) {
        let fixes = near.fixes();
        let both = fixes.start.max(visit.fixes.start)..fixes.end.min(visit.fixes.end);
        for step in both.start..both.end.min(run.track.steps.len()) {
            let rate = f64::from(run.track.fixes[step].set_rate_ml_m2);
            if !rate.is_finite() {
                continue;
            }
            let wet = run.timeline.of_step(step).iter().filter(|span| span.wet);
            let seconds =
                wet.map(|span| span.share_of_step()).sum::<f64>() * run.track.steps[step].seconds;
            let zone = zones
                .iter()
                .position(|zone| zone.contains(near.xy[step - near.first_fix]));
            if let (Some(zone), true) = (zone, seconds > 0.0) {
                by_zone[zone].push((rate, seconds, step));
            }
        }
    }
    by_zone
}

fn set_rate(
    bench: &Bench,
    (app, visit): (usize, usize),
    zone: usize,
    mut rates: Vec<(f64, f64, usize)>,
) -> Option<SetRateFact> {
    let run_index = bench.work.visits[visit].run;
    let product = super::report::product_on_arrival(bench, visit);
    let target_ml_m2 = super::report::target_ml_m2(bench, app, zone, product)?;
    let zone = &bench.work.site.zones[zone];
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
    let fix = &bench.work.runs[run_index].track.fixes[first];
    Some(SetRateFact {
        run: run_index,
        zone: zone.id.clone(),
        set_ml_m2,
        target_ml_m2,
        start: fix.time,
        place: fix.place,
    })
}
