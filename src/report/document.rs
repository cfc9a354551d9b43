//! A night's outcomes to the document that every output but the maps is made from. Nothing is decided here.

use crate::findings::Finding;
use crate::ground::{Site, Zone};
use crate::input::orders::Order;
use crate::orders;
use crate::result;
use crate::result::{Audit, Ledger};
use crate::site::Rules;
use crate::site::outcome::{Application, OrderFact, Outcome, Visit, ZoneOutcome};
use crate::site::summary::Summary;
use crate::verdict::Night;

/// The document of an audited night.
#[must_use]
pub fn audit(night: &Night, findings: Vec<Finding>) -> Audit {
    let sites = || night.sites.iter().zip(night.rules).zip(night.outcomes);
    let documents = sites().map(|((site, rules), outcome)| {
        let maker = Maker {
            night,
            site,
            rules,
            outcome,
        };
        maker.site()
    });
    let has_orders = night.rules.iter().any(|rules| rules.orders.is_some());
    let orders = sites().flat_map(|((site, rules), outcome)| {
        let placed = rules.placed().iter().zip(&outcome.orders);
        placed.map(|(placed, fact)| order(night, site, &placed.order, fact))
    });
    let runs = night.runs.iter().zip(night.ledgers);
    let strips = night
        .outcomes
        .iter()
        .filter_map(|outcome| outcome.strips.clone());
    Audit {
        inputs: night.files.to_vec(),
        timezone: night.fleet.defaults.timezone.clone(),
        band: night.fleet.defaults.band,
        runs: runs.map(|(of, ledger)| run(night, of, ledger)).collect(),
        sites: documents.collect(),
        orders: has_orders.then(|| orders.collect()),
        findings,
        span: night.span,
        planned: night.fleet.planned,
        logs_missing: night.logs_missing(),
        strips: strips.collect(),
    }
}

fn run(night: &Night, run: &Summary, ledger: &Ledger) -> result::Run {
    let silence = |silence: &crate::site::summary::Silence| result::Dropout {
        start: silence.start,
        end: silence.end,
        seconds: silence.seconds,
        volume_l: silence.volume_l,
    };
    result::Run {
        rig: night.fleet.rigs[run.rig].id.clone(),
        logs: run.logs.clone(),
        start: run.start,
        end: run.end,
        fixes: run.fixes_read,
        fixes_used: run.fixes_used,
        fixes_repeated: run.fixes_repeated,
        distance_m: run.distance_m,
        wet_s: run.wet_s,
        reverse_wet_s: run.reverse_wet_s,
        gear_from: run.gear_from,
        position_m: run.position_m,
        position_from: run.position_from.name(),
        clock_offset_s: run.clock_offset_s,
        metered_by: run.metered_by.name(),
        dropouts: run.silences.iter().map(silence).collect(),
        ledger_l: *ledger,
    }
}

fn order(night: &Night, site: &Site, order: &Order, fact: &OrderFact) -> result::Order {
    let not_shown = fact.not_shown.iter();
    result::Order {
        order: order.id.clone(),
        line: order.line,
        site: order.site.clone(),
        zone: order.zone.clone(),
        service: order.service.clone(),
        product: order.product.clone(),
        target_ml_m2: order.target_ml_m2,
        from: order.from,
        by: order.by,
        status: night.status(order, fact),
        application: fact.application.map(|index| index + 1),
        treated_share: fact.treated_share,
        finished: fact.finished,
        not_shown: not_shown.map(|&zone| site.zones[zone].id.clone()).collect(),
    }
}

/// Makes the document of one site.
struct Maker<'a> {
    night: &'a Night<'a>,
    site: &'a Site,
    rules: &'a Rules,
    outcome: &'a Outcome,
}

impl Maker<'_> {
    fn site(&self) -> result::Site {
        let site = self.site;
        let to_treat = site.zones.iter().filter(|zone| zone.is_to_treat());
        let visits = self.outcome.other_visits().into_iter();
        result::Site {
            site: site.id.clone(),
            name: site.name.clone(),
            client: site.client.clone(),
            area_m2: to_treat.map(|zone| zone.region.area_m2()).sum(),
            ground: (0..site.zones.len())
                .map(|zone| self.ground(zone))
                .collect(),
            applications: (0..self.outcome.applications.len())
                .map(|app| self.application(app))
                .collect(),
            other_visits: visits
                .map(|index| self.visit(&self.outcome.visits[index]))
                .collect(),
        }
    }

    fn ground(&self, index: usize) -> result::Ground {
        let zone = &self.site.zones[index];
        let own = |order: &&orders::Placed| order.zone == Some(index);
        let whole = |order: &&orders::Placed| order.zone.is_none() && zone.is_to_treat();
        let all = || self.rules.placed().iter();
        let order = all().find(own).or_else(|| all().find(whole));
        let order = order.map(|placed| &placed.order);
        result::Ground {
            zone: zone.id.clone(),
            land_use: zone.land_use,
            method: zone.method,
            area_m2: zone.region.area_m2(),
            area_drawn_m2: zone.area_drawn_m2,
            excluded_m2: zone.excluded_m2,
            target_ml_m2: self.rules.targets.on_zone(order, zone.target_ml_m2, None),
            priority: zone.priority,
            from: zone.blocked_from,
            until: zone.blocked_until,
            reason: zone.reason.clone(),
            properties: zone.others.clone(),
        }
    }

    fn rig(&self, leg: usize) -> String {
        self.night.rig_id(self.outcome.legs[leg].run)
    }

    fn application(&self, app: usize) -> result::Application {
        let application = &self.outcome.applications[app];
        let visits = application.visits.iter();
        result::Application {
            number: app + 1,
            start: application.start,
            end: application.end,
            rigs: self.rigs(application),
            visits: visits
                .map(|&index| self.visit(&self.outcome.visits[index]))
                .collect(),
            zones: application
                .zones
                .iter()
                .map(|zone| self.zone(zone))
                .collect(),
            driving: application.driving,
        }
    }

    fn rigs(&self, application: &Application) -> Vec<String> {
        let mut rigs: Vec<String> = application.legs.iter().map(|&leg| self.rig(leg)).collect();
        rigs.sort();
        rigs.dedup();
        rigs
    }

    fn visit(&self, visit: &Visit) -> result::Visit {
        let volume = |(product, litres): &(Option<String>, Option<f64>)| result::ProductVolume {
            product: product.clone(),
            volume_l: *litres,
        };
        result::Visit {
            rig: self.rig(visit.leg),
            kind: visit.kind,
            arrive: visit.arrive,
            spray_start: visit.spraying.map(|(start, _)| start),
            spray_end: visit.spraying.map(|(_, end)| end),
            depart: visit.depart,
            wet_s: visit.wet_s,
            wet_length_m: visit.wet_length_m,
            passes: visit.passes,
            gun_l: visit.gun_l,
            products: visit.products.iter().map(volume).collect(),
        }
    }

    fn zone(&self, outcome: &ZoneOutcome) -> result::Zone {
        let zone: &Zone = &self.site.zones[outcome.zone];
        let areas = outcome.areas;
        let patches = outcome.cover.patches.iter().zip(&outcome.patch_places);
        let patch = |(ground, place): (
            &crate::site::coverage::PatchGround,
            &crate::geometry::place::LonLat,
        )| {
            result::Patch {
                area_m2: ground.area_m2,
                core_m2: ground.core_m2,
                place: *place,
                cause: ground.cause,
                closed_sections: ground
                    .closed_by
                    .map_or_else(Vec::new, |by| crate::rig::boom::numbers(by.sections)),
                probability: ground.likelihood.map(|of| of.probability),
                area_low_m2: ground.likelihood.map(|of| of.interval_m2.0),
                area_high_m2: ground.likelihood.map(|of| of.interval_m2.1),
                likely: ground.is_likely(self.rules.likely),
                unsure: ground.unsure,
            }
        };
        let order = outcome
            .order
            .map(|index| self.rules.placed()[index].order.label());
        result::Zone {
            zone: zone.id.clone(),
            land_use: zone.land_use,
            method: zone.method,
            verdict: outcome.verdict,
            area_m2: outcome.area_m2,
            area_drawn_m2: zone.area_drawn_m2,
            excluded_m2: zone.excluded_m2,
            treated_m2: areas.map(|areas| areas.treated_m2),
            gap_m2: areas.map(|areas| areas.gap_m2),
            unlogged_m2: areas.map(|areas| areas.unlogged_m2),
            overlap_m2: areas.map(|areas| areas.overlap_m2),
            core_m2: outcome.core_m2,
            core_treated_m2: areas.map(|_| outcome.cover.core_treated_m2),
            volume_l: outcome.litres,
            target_ml_m2: outcome.target_ml_m2,
            order,
            rate_over_zone_ml_m2: outcome.rate_ml_m2(outcome.area_m2),
            rate_where_treated_ml_m2: areas.and_then(|areas| outcome.rate_ml_m2(areas.treated_m2)),
            rate_swept_ml_m2: outcome.rate_swept_ml_m2(),
            swept_m2: areas.map(|areas| areas.swept_m2),
            wet_length_m: areas.map(|areas| areas.wet_length_m),
            gap_causes_m2: areas.map(|_| outcome.cover.causes),
            near_dropout: outcome.cover.near_dropout,
            dose: outcome.dose.clone(),
            patches: outcome.has_verdict().then(|| patches.map(patch).collect()),
        }
    }
}
