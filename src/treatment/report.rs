//! A site's numbers as the result struct.

use super::Bench;
use super::earth::{on_earth, polygons};
use super::pieces::{Sums, ZoneSum};
use super::sketch::sketched;
use crate::coverage::{PatchGround, ZoneCover};
use crate::dose::Ground;
use crate::ground::Zone;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::orders;
use crate::overlay::Region;
use crate::place::LonLat;
use crate::plane::{Plane, Xy};
use crate::result::{self, Application, Patch, ProductVolume, Shapes, Visit, ZoneVerdict};
use geo::InteriorPoint;

/// The site for the outputs.
pub(super) fn site(bench: &Bench, covers: Vec<Vec<ZoneCover>>, sums: &Sums) -> result::Site {
    let site = bench.work.site;
    let applications: Vec<Application> = covers
        .into_iter()
        .enumerate()
        .map(|(app, covers)| application(bench, app, &covers, &sums.zones[app]))
        .collect();
    let grouped: Vec<usize> = bench
        .groups
        .iter()
        .flat_map(|group| group.visits.iter().map(|&k| bench.treating[k]))
        .collect();
    let mut others: Vec<usize> = (0..bench.work.visits.len())
        .filter(|index| !grouped.contains(index))
        .collect();
    others.sort_by_key(|&index| {
        bench.work.runs[bench.work.visits[index].run].track.fixes
            [bench.work.visits[index].fixes.start]
            .time
    });
    result::Site {
        site: site.id.clone(),
        name: site.name.clone(),
        client: site.client.clone(),
        area_m2: site
            .zones
            .iter()
            .filter(|zone| zone.is_to_treat())
            .map(|zone| zone.region.area_m2())
            .sum(),
        ground: (0..site.zones.len())
            .map(|index| ground(bench, index))
            .collect(),
        applications,
        other_visits: others
            .into_iter()
            .map(|index| visit(bench, index))
            .collect(),
    }
}

fn ground(bench: &Bench, index: usize) -> result::Ground {
    let zone = &bench.work.site.zones[index];
    let own = |order: &&orders::Placed| order.zone == Some(index);
    let whole = |order: &&orders::Placed| order.zone.is_none() && zone.is_to_treat();
    let all = bench.orders().iter();
    let order = all.clone().find(own).or_else(|| all.clone().find(whole));
    result::Ground {
        zone: zone.id.clone(),
        land_use: zone.land_use,
        method: zone.method,
        area_m2: zone.region.area_m2(),
        area_drawn_m2: zone.area_drawn_m2,
        excluded_m2: zone.excluded_m2,
        target_ml_m2: orders::target_ml_m2(
            bench.work.fleet,
            order.map(|placed| &placed.order),
            zone.target_ml_m2,
            None,
        ),
        priority: zone.priority,
        from: zone.blocked_from,
        until: zone.blocked_until,
        reason: zone.reason.clone(),
        properties: zone.others.clone(),
        shape: on_earth(&zone.region, &bench.plane),
    }
}

fn application(bench: &Bench, app: usize, covers: &[ZoneCover], sums: &[ZoneSum]) -> Application {
    let group = &bench.groups[app];
    let fleet = bench.work.fleet;
    let mut rigs: Vec<String> = bench.runs[app]
        .iter()
        .map(|&run| fleet.rigs[bench.work.runs[run].track.rig].id.clone())
        .collect();
    rigs.sort();
    rigs.dedup();
    let zones = bench
        .work
        .site
        .zones
        .iter()
        .enumerate()
        .filter(|(_, zone)| zone.is_to_treat());
    Application {
        number: app + 1,
        start: group.start,
        end: group.end,
        rigs,
        visits: group
            .visits
            .iter()
            .map(|&k| visit(bench, bench.treating[k]))
            .collect(),
        zones: zones
            .map(|(index, _)| zone(bench, app, index, &covers[index], &sums[index]))
            .collect(),
    }
}

/// The product that a visit carried on arrival.
pub(super) fn product_on_arrival<'a>(bench: &'a Bench, visit: usize) -> Option<&'a str> {
    let visit = bench.work.visits[visit];
    let run = &bench.work.runs[visit.run];
    run.product(&bench.work.fleet.rigs[run.track.rig], visit.fixes.start)
}

/// The product that counts for a zone in an application, as carried on arrival.
pub(super) fn carried<'a>(bench: &'a Bench, app: usize, sum: &ZoneSum) -> Option<&'a str> {
    product_on_arrival(bench, main_visit(bench, app, sum)?)
}

/// The order that a zone is treated under in an application.
fn order_of<'a>(bench: &'a Bench, app: usize, zone: usize) -> Option<&'a Order> {
    let placed = bench.orders();
    orders::order_of(placed, &bench.served, app, zone).map(|index| &placed[index].order)
}

/// Rate asked for on a zone in an application by a rig that carried this product.
pub(super) fn target_ml_m2(
    bench: &Bench,
    app: usize,
    zone: usize,
    carried: Option<&str>,
) -> Option<f64> {
    let own_ml_m2 = bench.work.site.zones[zone].target_ml_m2;
    let order = order_of(bench, app, zone);
    orders::target_ml_m2(bench.work.fleet, order, own_ml_m2, carried)
}

/// The visit whose product counts for a zone: the first of the run that swept most of it. The first
/// visit to the site would be the simpler choice, but then a rig that comes early for the walks decides
/// what the lot was to get.
fn main_visit(bench: &Bench, app: usize, sum: &ZoneSum) -> Option<usize> {
    let mut main: Option<(usize, f64)> = None;
    for (&run, &swept_m2) in &sum.swept_by_run_m2 {
        if main.is_none_or(|(_, most_m2)| swept_m2 > most_m2) {
            main = Some((run, swept_m2));
        }
    }
    let visits = || bench.groups[app].visits.iter().map(|&k| bench.treating[k]);
    let of_main = |visit: &usize| main.is_some_and(|(run, _)| bench.work.visits[*visit].run == run);
    visits().find(of_main).or_else(|| visits().next())
}

fn zone(bench: &Bench, app: usize, index: usize, cover: &ZoneCover, sum: &ZoneSum) -> result::Zone {
    let zone = &bench.work.site.zones[index];
    let frame = &bench.frames[index];
    let verdict = match zone.method {
        Method::Hand => ZoneVerdict::Hand,
        Method::Boom if bench.is_coarse(app) => ZoneVerdict::CoarseLog,
        Method::Boom if frame.narrow => ZoneVerdict::TooNarrow,
        Method::Boom => ZoneVerdict::Area,
    };
    let covered = matches!(verdict, ZoneVerdict::Area | ZoneVerdict::TooNarrow);
    let area_m2 = zone.region.area_m2();
    let (gap_m2, unlogged_m2) = (cover.gap.area_m2(), cover.unlogged.area_m2());
    let treated_m2 = area_m2 - gap_m2 - unlogged_m2;
    let metered = bench.is_metered(app);
    let target_ml_m2 = target_ml_m2(bench, app, index, carried(bench, app, sum));
    let rate =
        |ground_m2: f64| (metered && ground_m2 > 0.0).then(|| 1000.0 * sum.litres / ground_m2);
    let grounds = Ground {
        zone: &zone.region,
        treated: &cover.treated,
        unlogged: &cover.unlogged,
    };
    let grid = sum.grid.as_ref();
    let dose = grid
        .filter(|_| metered && covered && area_m2 > 0.0)
        .map(|grid| grid.statistics(&grounds, target_ml_m2, bench.work.fleet.defaults.band));
    result::Zone {
        zone: zone.id.clone(),
        land_use: zone.land_use,
        method: zone.method,
        verdict,
        area_m2,
        area_drawn_m2: zone.area_drawn_m2,
        excluded_m2: zone.excluded_m2,
        treated_m2: covered.then_some(treated_m2),
        gap_m2: covered.then_some(gap_m2),
        unlogged_m2: covered.then_some(unlogged_m2),
        overlap_m2: covered.then(|| cover.overlap.area_m2()),
        core_m2: frame.core.area_m2(),
        core_treated_m2: covered.then_some(cover.core_treated_m2),
        core_unsure_m2: cover.core_unsure_m2,
        volume_l: metered.then_some(sum.litres),
        target_ml_m2,
        order: order_of(bench, app, index).map(Order::label),
        rate_over_zone_ml_m2: rate(area_m2),
        rate_where_treated_ml_m2: if covered { rate(treated_m2) } else { None },
        rate_swept_ml_m2: if covered { rate(sum.swept_m2) } else { None },
        swept_m2: covered.then_some(sum.swept_m2),
        wet_length_m: covered.then_some(sum.length_m),
        gap_causes_m2: covered.then_some(cover.causes),
        near_dropout: cover.near_dropout,
        dose,
        patches: (verdict == ZoneVerdict::Area).then(|| {
            cover
                .patches
                .iter()
                .filter_map(|ground| patch(bench, ground))
                .collect()
        }),
        shapes: if covered {
            shapes(bench, zone, cover)
        } else {
            ground_only(bench, zone)
        },
    }
}

fn patch(bench: &Bench, ground: &PatchGround) -> Option<Patch> {
    let place = point_in(&ground.region, &bench.plane)?;
    Some(Patch {
        area_m2: ground.area_m2,
        core_m2: ground.core_m2,
        place,
        cause: ground.cause,
        unsure: ground.unsure,
    })
}

fn shapes(bench: &Bench, zone: &Zone, cover: &ZoneCover) -> Shapes {
    let on_earth = |region: &Region| on_earth(region, &bench.plane);
    Shapes {
        ground: on_earth(&zone.region),
        treated: on_earth(&cover.treated),
        gap: on_earth(&cover.gap),
        overlap: on_earth(&sketched(&cover.overlap)),
        unlogged: on_earth(&cover.unlogged),
        patches: cover
            .patches
            .iter()
            .map(|patch| on_earth(&patch.region))
            .collect(),
    }
}

/// The zone's polygon alone, where nothing can be said of its coverage.
fn ground_only(bench: &Bench, zone: &Zone) -> Shapes {
    Shapes {
        ground: on_earth(&zone.region, &bench.plane),
        ..Shapes::default()
    }
}

fn visit(bench: &Bench, index: usize) -> Visit {
    let visit = bench.work.visits[index];
    let run = &bench.work.runs[visit.run];
    let rig = &bench.work.fleet.rigs[run.track.rig];
    let steps = visit.fixes.start..visit.fixes.end.min(run.track.steps.len());
    let here = |step: &usize| {
        bench.work.whereabouts[visit.run].nearest[*step] as usize == bench.work.index
    };
    let mut products: Vec<(Option<&str>, f64)> = Vec::new();
    let mut add = |step: usize, litres: f64| {
        let product = run.product(rig, step);
        match products.iter_mut().find(|(known, _)| *known == product) {
            Some((_, sum_l)) => *sum_l += litres,
            None => products.push((product, litres)),
        }
    };
    let mut wet_length_m = 0.0;
    let mut passes: Vec<u32> = Vec::new();
    for step in steps.clone().filter(here) {
        let first = run.timeline.first_span[step] as usize;
        for (k, span) in run.timeline.of_step(step).iter().enumerate() {
            if span.wet {
                wet_length_m += span.share_of_step() * run.track.steps[step].length_m();
                passes.push(run.passes.of_span[first + k]);
            }
            if span.wet || span.litres > 0.0 {
                add(step, span.litres);
            }
        }
    }
    let mut gun_l = 0.0;
    for &(step, litres) in run
        .timeline
        .gun
        .iter()
        .filter(|(step, _)| steps.contains(&(*step as usize)))
    {
        gun_l += litres;
        add(step as usize, litres);
    }
    passes.dedup();
    Visit {
        rig: rig.id.clone(),
        kind: visit.kind,
        arrive: run.track.fixes[visit.fixes.start].time,
        spray_start: visit.spraying.map(|(start, _)| start),
        spray_end: visit.spraying.map(|(_, end)| end),
        depart: run.track.fixes[visit.fixes.end - 1].time,
        wet_s: visit.wet_s,
        wet_length_m,
        passes: passes.len(),
        gun_l: run.has_gun.then_some(gun_l),
        products: products
            .into_iter()
            .map(|(product, litres)| ProductVolume {
                product: product.map(str::to_owned),
                volume_l: run.timeline.metered.then_some(litres),
            })
            .collect(),
    }
}

/// A point inside a region; `None` for an empty one.
pub(super) fn point_in(region: &Region, plane: &Plane) -> Option<LonLat> {
    let shape = polygons(region, |point| geo::Coord {
        x: point.x_m,
        y: point.y_m,
    });
    let point = shape.interior_point()?;
    Some(plane.to_lon_lat(Xy::new(point.x(), point.y())))
}
