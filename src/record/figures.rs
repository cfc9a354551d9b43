//! What a record states of a site: plain numbers with full digits, from the outcome of its evidence.
//!
//! No cause of a gap is in it, and nothing that a visit without liquid decides. The ground of a zone is given in
//! columns that add up to its area: `liquid_m2 + patches_m2 + perhaps_m2 + no_fixes_m2 + not_resolved_m2`.

mod zone;

pub use zone::{PatchFigures, ZoneFigures};

use crate::geometry::place::Instant;
use crate::ground::{Site, Zone};
use crate::input::sites::{LandUse, Method};
use crate::record::disclose::has_liquid;
use crate::result::OrderStatus;
use crate::site::outcome::{Application, OrderFact, Outcome, Visit};
use crate::site::{Leg, Rules};
use serde::{Deserialize, Serialize};

/// Everything that the record states in numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figures {
    /// Ground of all zones to be treated, m2.
    pub area_m2: f64,
    /// Its ground by zone, in the order of the sites file.
    pub ground: Vec<GroundFigures>,
    /// In order of time.
    pub applications: Vec<ApplicationFigures>,
    /// Visits with liquid that belong to no application, in order of arrival.
    pub other_visits: Vec<VisitFigures>,
    /// Visits without liquid, where they are listed.
    pub without_liquid: Vec<PresenceFigures>,
    /// What became of the orders.
    pub orders: Vec<OrderFigures>,
}

/// One zone's ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroundFigures {
    /// Zone id.
    pub zone: String,
    /// Use.
    #[serde(rename = "use")]
    pub land_use: LandUse,
    /// Method.
    pub method: Method,
    /// What was drawn, m2.
    pub area_drawn_m2: f64,
    /// What is left after dividing, m2.
    pub area_m2: f64,
    /// What blocked ground took from it, m2.
    pub excluded_m2: f64,
    /// Length of its outline, m.
    pub outline_m: f64,
    /// From when blocked ground is blocked.
    pub from: Option<Instant>,
    /// Until when.
    pub until: Option<Instant>,
    /// Why, as the sites file says.
    pub reason: Option<String>,
    /// Liquid logged on keep-off ground, L; `None` elsewhere and where it is not metered.
    pub keep_off_l: Option<f64>,
}

/// One application.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ApplicationFigures {
    /// From 1 in order of time.
    pub number: usize,
    /// First liquid.
    pub start: Instant,
    /// Last liquid.
    pub end: Instant,
    /// Numbers of the rigs, from 1.
    pub rigs: Vec<usize>,
    /// In order of time.
    pub visits: Vec<VisitFigures>,
    /// Zones to be treated, in the order of the sites file.
    pub zones: Vec<ZoneFigures>,
}

/// One rig's unbroken presence with liquid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VisitFigures {
    /// Number of the rig, from 1.
    pub rig: usize,
    /// Within 10 m of the site.
    pub arrive: Instant,
    /// First liquid of the boom on the ground.
    pub first_liquid: Option<Instant>,
    /// Last liquid of the boom on the ground.
    pub last_liquid: Option<Instant>,
    /// Left the site.
    pub depart: Instant,
    /// Time with liquid on the ground, s.
    pub wet_s: f64,
    /// Passes over it.
    pub passes: usize,
    /// Through the hand gun, L; `None` where the log has no gun channel.
    pub gun_l: Option<f64>,
    /// Liquid by product, on the zones and through the gun.
    pub products: Vec<VolumeFigures>,
}

/// Liquid of one product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VolumeFigures {
    /// Product id; `None` where neither log nor fleet file says.
    pub product: Option<String>,
    /// Liquid, L; `None` where nothing is metered.
    pub volume_l: Option<f64>,
}

/// One rig's unbroken presence without liquid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PresenceFigures {
    /// Number of the rig, from 1.
    pub rig: usize,
    /// Within 10 m of the site.
    pub arrive: Instant,
    /// Left the site.
    pub depart: Instant,
}

/// One order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderFigures {
    /// Its number; `None` where it has none: it is named by its window then.
    pub order: Option<String>,
    /// Zone id; `None` is every zone.
    pub zone: Option<String>,
    /// What the service is called.
    pub service: Option<String>,
    /// Product asked for.
    pub product: Option<String>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Not before.
    pub from: Option<Instant>,
    /// To be finished by.
    pub by: Option<Instant>,
    /// What the logs show of it.
    pub status: OrderStatus,
    /// Number of the application that served it.
    pub application: Option<usize>,
    /// Share of its ground with liquid logged.
    pub liquid_share: Option<f64>,
    /// When the work was finished.
    pub finished: Option<Instant>,
    /// Ground with liquid of another product than ordered, m2.
    pub other_products_m2: Vec<(String, f64)>,
}

/// A site with its legs, its rules and what became of it.
#[derive(Clone, Copy)]
pub struct Worked<'a> {
    /// The ground.
    pub site: &'a Site,
    /// What rigs did.
    pub legs: &'a [Leg],
    /// Of each leg: the number of its rig in the record, from 0; `None` where it is not in it.
    pub rig_of_leg: &'a [Option<usize>],
    /// What counts.
    pub rules: &'a Rules,
    /// What became of it.
    pub outcome: &'a Outcome,
}

impl Worked<'_> {
    fn rig(&self, leg: usize) -> usize {
        self.rig_of_leg[leg].map_or(0, |rig| rig + 1)
    }

    fn visit(&self, visit: &Visit) -> VisitFigures {
        let volume = |(product, volume_l): &(Option<String>, Option<f64>)| VolumeFigures {
            product: product.clone(),
            volume_l: *volume_l,
        };
        VisitFigures {
            rig: self.rig(visit.leg),
            arrive: visit.arrive,
            first_liquid: visit.spraying.map(|(first, _)| first),
            last_liquid: visit.spraying.map(|(_, last)| last),
            depart: visit.depart,
            wet_s: visit.wet_s,
            passes: visit.passes,
            gun_l: visit.gun_l,
            products: visit.products.iter().map(volume).collect(),
        }
    }

    fn ground(&self, index: usize, zone: &Zone) -> GroundFigures {
        let legs = &self.outcome.legs;
        let metered = legs
            .iter()
            .all(|leg| leg.metered || leg.zones_l[index] == 0.0);
        let keep_off = zone.land_use == LandUse::KeepOff && metered;
        GroundFigures {
            zone: zone.id.clone(),
            land_use: zone.land_use,
            method: zone.method,
            area_drawn_m2: zone.area_drawn_m2,
            area_m2: zone.region.area_m2(),
            excluded_m2: zone.excluded_m2,
            outline_m: zone.region.outline_m(),
            from: zone.blocked_from,
            until: zone.blocked_until,
            reason: zone.reason.clone(),
            keep_off_l: keep_off.then(|| legs.iter().map(|leg| leg.zones_l[index]).sum()),
        }
    }

    fn application(&self, index: usize, application: &Application) -> ApplicationFigures {
        let visits = application
            .visits
            .iter()
            .map(|&at| &self.outcome.visits[at]);
        let mut rigs: Vec<usize> = application.legs.iter().map(|&leg| self.rig(leg)).collect();
        rigs.sort_unstable();
        rigs.dedup();
        ApplicationFigures {
            number: index + 1,
            start: application.start,
            end: application.end,
            rigs,
            visits: visits.map(|visit| self.visit(visit)).collect(),
            zones: application
                .zones
                .iter()
                .map(|zone| zone::of(self, zone))
                .collect(),
        }
    }

    fn order(&self, index: usize, fact: &OrderFact) -> OrderFigures {
        let placed = &self.rules.placed()[index];
        let order = &placed.order;
        let other = fact.other_products.iter();
        OrderFigures {
            order: order.id.clone(),
            zone: order.zone.clone(),
            service: order.service.clone(),
            product: order.product.clone(),
            target_ml_m2: order.target_ml_m2,
            from: order.from,
            by: order.by,
            status: fact.status,
            application: fact.application.map(|application| application + 1),
            liquid_share: fact.treated_share,
            finished: fact.finished,
            other_products_m2: other.map(|(id, m2)| (id.clone(), *m2)).collect(),
        }
    }
}

/// The figures of a site.
#[must_use]
pub fn of(worked: &Worked, presence: bool) -> Figures {
    let (site, outcome) = (worked.site, worked.outcome);
    let to_treat = site.zones.iter().filter(|zone| zone.is_to_treat());
    let others = || {
        let others = outcome.other_visits().into_iter();
        others.map(|index| &outcome.visits[index])
    };
    let without = others().filter(|visit| presence && !has_liquid(visit));
    let applications = outcome.applications.iter().enumerate();
    Figures {
        area_m2: to_treat.map(|zone| zone.region.area_m2()).sum(),
        ground: site
            .zones
            .iter()
            .enumerate()
            .map(|(index, zone)| worked.ground(index, zone))
            .collect(),
        applications: applications
            .map(|(index, of)| worked.application(index, of))
            .collect(),
        other_visits: others()
            .filter(|visit| has_liquid(visit))
            .map(|visit| worked.visit(visit))
            .collect(),
        without_liquid: without
            .map(|visit| PresenceFigures {
                rig: worked.rig(visit.leg),
                arrive: visit.arrive,
                depart: visit.depart,
            })
            .collect(),
        orders: outcome
            .orders
            .iter()
            .enumerate()
            .map(|(index, fact)| worked.order(index, fact))
            .collect(),
    }
}
