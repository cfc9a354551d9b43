//! Applications with their zones: the numbers of each zone in each application.

use super::applications::Applications;
use super::covers::Covers;
use super::laid::Laid;
use super::outcome::{Application, ZoneAreas, ZoneOutcome};
use super::sketch::sketched;
use super::sums::{Sums, ZoneSum};
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::Plane;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::orders;
use crate::result::{Dose, ZoneVerdict};
use crate::site::coverage::PatchGround;
use crate::site::dose::picture::Painter;
use crate::site::dose::{CELL_M, DoseGround};

/// All that is known of a site's zones once it is known which application served which order.
pub(super) struct Zones<'a> {
    pub(super) laid: &'a Laid<'a>,
    pub(super) done: &'a Applications<'a>,
    pub(super) covers: &'a Covers,
    pub(super) sums: &'a Sums,
    /// Of each order: the application that served it.
    pub(super) served: &'a [Option<usize>],
}

impl Zones<'_> {
    /// The applications, in order of time.
    pub(super) fn applications(&self) -> Vec<Application> {
        (0..self.done.groups.len())
            .map(|app| self.application(app))
            .collect()
    }

    fn application(&self, app: usize) -> Application {
        let group = &self.done.groups[app];
        let all = self.laid.site.zones.iter().enumerate();
        let to_treat = all.filter(|(_, zone)| zone.is_to_treat());
        let mut picture = self.painter(app);
        let zones: Vec<ZoneOutcome> = to_treat
            .map(|(zone, _)| self.zone(app, zone, &mut picture))
            .collect();
        let lines = super::lines::of_application(self.laid, self.done, app);
        Application {
            start: group.start,
            end: group.end,
            legs: self.done.legs[app].clone(),
            visits: group.visits.clone(),
            place: self.place_at_start(app),
            driving: super::driving::of_application(self.laid, self.done, app, &lines, &zones),
            zones,
            lines,
            dose: picture.finish(),
            covered: group.covered.clone(),
        }
    }

    /// A blank picture over the zones whose dose is told against a target.
    fn painter(&self, app: usize) -> Painter {
        let zones = self.laid.site.zones.iter().enumerate();
        let drawn = zones.filter(|&(index, zone)| {
            let target = self.target_ml_m2(app, index, self.carried(app, index));
            zone.is_by_boom() && self.done.is_metered(app) && target.is_some()
        });
        let grids = self.sums.zones[app]
            .iter()
            .filter_map(|sum| sum.grid.as_ref());
        let widest_m = grids.map(|grid| grid.grid().cell_m).fold(CELL_M, f64::max);
        Painter::over(drawn.map(|(_, zone)| zone), widest_m, self.laid.rules.band)
    }

    /// Where the first of an application's rigs was when it began.
    fn place_at_start(&self, app: usize) -> Option<LonLat> {
        let group = &self.done.groups[app];
        let visit = self.done.visit(*group.visits.first()?);
        let fixes = &self.laid.legs[visit.leg].fixes;
        let next = fixes.partition_point(|fix| fix.time < group.start);
        fixes.get(next).map(|fix| fix.place)
    }

    fn zone(&self, app: usize, index: usize, picture: &mut Painter) -> ZoneOutcome {
        let (cover, sum) = (&self.covers.zones[app][index], &self.sums.zones[app][index]);
        let verdict = self.verdict(app, index);
        let zone = &self.laid.site.zones[index];
        let area_m2 = zone.region.area_m2();
        let (gap_m2, unlogged_m2) = (cover.gap.area_m2(), cover.unlogged.area_m2());
        let areas =
            matches!(verdict, ZoneVerdict::Area | ZoneVerdict::TooNarrow).then(|| ZoneAreas {
                treated_m2: area_m2 - gap_m2 - unlogged_m2,
                gap_m2,
                unlogged_m2,
                overlap_m2: cover.overlap.area_m2(),
                repeated_m2: super::repeated::m2(self.laid, self.done.passes(app), zone),
                swept_m2: sum.swept_m2,
                wet_length_m: sum.length_m,
            });
        let metered = self.done.is_metered(app);
        let target_ml_m2 = self.target_ml_m2(app, index, self.carried(app, index));
        let told = areas.is_some() && metered && area_m2 > 0.0;
        let place = |patch: &PatchGround| point_in(&patch.region, &self.laid.site.plane);
        ZoneOutcome {
            zone: index,
            verdict,
            area_m2,
            areas,
            core_m2: self.covers.frames[index].core.area_m2(),
            litres: metered.then_some(sum.litres),
            target_ml_m2,
            order: orders::order_of(self.laid.rules.placed(), self.served, app, index),
            legs: sum.legs(),
            dose: told
                .then(|| self.dose(app, index, target_ml_m2, picture))
                .flatten(),
            patch_likely: cover
                .patches
                .iter()
                .map(|patch| patch.is_likely(self.laid.rules.likely))
                .collect(),
            patch_places: cover.patches.iter().filter_map(place).collect(),
            cover: cover.with_overlap(sketched(&cover.overlap)),
        }
    }

    fn verdict(&self, app: usize, index: usize) -> ZoneVerdict {
        match self.laid.site.zones[index].method {
            Method::Hand => ZoneVerdict::Hand,
            Method::Boom if self.done.is_coarse(app) => ZoneVerdict::CoarseLog,
            Method::Boom if self.covers.frames[index].narrow => ZoneVerdict::TooNarrow,
            Method::Boom => ZoneVerdict::Area,
        }
    }

    fn dose(
        &self,
        app: usize,
        index: usize,
        target_ml_m2: Option<f64>,
        picture: &mut Painter,
    ) -> Option<Dose> {
        let cover = &self.covers.zones[app][index];
        let ground = DoseGround {
            zone: &self.laid.site.zones[index].region,
            treated: &cover.treated,
            unlogged: &cover.unlogged,
        };
        let grid = self.sums.zones[app][index].grid.as_ref()?;
        Some(grid.statistics(&ground, target_ml_m2, self.laid.rules.band, picture))
    }

    /// The product that counts for a zone in an application, as carried on arrival.
    pub(super) fn carried(&self, app: usize, zone: usize) -> Option<&str> {
        carried(self.laid, self.done, app, &self.sums.zones[app][zone])
    }

    /// The order that a zone is treated under in an application.
    fn order(&self, app: usize, zone: usize) -> Option<&Order> {
        let placed = self.laid.rules.placed();
        orders::order_of(placed, self.served, app, zone).map(|index| &placed[index].order)
    }

    /// Rate asked for on a zone in an application by a rig that carried this product.
    pub(super) fn target_ml_m2(
        &self,
        app: usize,
        zone: usize,
        carried: Option<&str>,
    ) -> Option<f64> {
        let own_ml_m2 = self.laid.site.zones[zone].target_ml_m2;
        let targets = &self.laid.rules.targets;
        targets.on_zone(self.order(app, zone), own_ml_m2, carried)
    }
}

/// The product that a visit carried on arrival.
pub(super) fn product_on_arrival<'a>(
    laid: &'a Laid,
    done: &Applications,
    visit: usize,
) -> Option<&'a str> {
    let visit = done.visit(visit);
    laid.legs[visit.leg].product(visit.fixes.start)
}

/// The product that counts for a zone in an application, as carried on arrival by the first visit of the leg
/// that swept most of it. The first visit to the site would be the simpler choice, but then a rig that comes
/// early for the walks decides what the lot was to get.
pub(super) fn carried<'a>(
    laid: &'a Laid,
    done: &Applications,
    app: usize,
    sum: &ZoneSum,
) -> Option<&'a str> {
    let mut main: Option<(usize, f64)> = None;
    for (&leg, &swept_m2) in &sum.swept_by_leg_m2 {
        if main.is_none_or(|(_, most_m2)| swept_m2 > most_m2) {
            main = Some((leg, swept_m2));
        }
    }
    let visits = || done.groups[app].visits.iter().copied();
    let of_main = |visit: &usize| main.is_some_and(|(leg, _)| done.visit(*visit).leg == leg);
    let visit = visits().find(of_main).or_else(|| visits().next())?;
    product_on_arrival(laid, done, visit)
}

/// A point inside a region; `None` for an empty one.
pub(crate) fn point_in(region: &Region, plane: &Plane) -> Option<LonLat> {
    region.point_inside().map(|at| plane.to_lon_lat(at))
}
