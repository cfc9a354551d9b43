//! Where to go back to: one trip a site, a part of it for each cause.

use super::spot::{self, Spot};
use super::strip::{self, Strip};
use crate::findings::cause::GapCause;
use crate::findings::cover::AboutCover;
use crate::findings::orders::AboutOrders;
use crate::findings::rig::AboutRig;
use crate::findings::sections::ClosedSections;
use crate::findings::{Finding, Kind, Severity};
use crate::geometry::overlay::Region;
use crate::geometry::place::{Instant, LonLat};
use crate::result::{Audit, OrderStatus};
use crate::rig::track::displacement_m;
use crate::site::outcome::{Application, LegOutcome, Outcome, ZoneOutcome};
use crate::verdict::{Night, sections};

/// Ground treated without an order this near to ordered ground that got nothing may have been taken for it, m: what a
/// driver in the dark takes for the lot next door (trade judgement).
const NEXT_DOOR_M: f64 = 300.0;

/// A site to go back to.
#[derive(Debug, Clone)]
pub struct Trip {
    /// Index into the audit's sites.
    pub site: usize,
    /// Its address, where the sites file has one.
    pub address: Option<String>,
    /// The earliest time that an order set for it.
    pub due: Option<Due>,
    /// Greatest weight of its zones.
    pub priority: f64,
    /// By cause, in the order of the findings.
    pub parts: Vec<Part>,
    /// Where to drive to.
    pub place: LonLat,
}

/// By when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    /// The time.
    pub by: Instant,
    /// The order counts as not done, or as done in part.
    pub open: bool,
    /// It was over when the logs ended.
    pub over: bool,
}

/// One cause on a site.
#[derive(Debug, Clone)]
pub struct Part {
    /// Indices into the audit's findings: the go-back, then what else comes of its cause.
    pub findings: Vec<usize>,
    /// Zones, by id.
    pub zones: Vec<String>,
    /// Where on them.
    pub spot: Option<Spot>,
    /// The patches, greatest first.
    pub strips: Vec<Strip>,
    /// Ground without liquid, m2.
    pub area_m2: f64,
    /// That ground times its target, L.
    pub litres: Option<f64>,
    /// The rig at fault.
    pub rig: Option<RigState>,
    /// A site next door that was treated without an order.
    pub wrong_lot: Option<String>,
}

/// What is known of the rig behind a part.
#[derive(Debug, Clone, PartialEq)]
pub struct RigState {
    /// Rig id.
    pub rig: String,
    /// Why its ground stayed bare.
    pub cause: GapCause,
    /// Sections that were closed there while others were open.
    pub closed: Option<ClosedSections>,
    /// Where and from when it sprayed with those sections (after a dry stretch: at all) later on.
    pub again: Option<(String, Instant)>,
}

impl Trip {
    /// All findings that it covers.
    pub fn findings(&self) -> impl Iterator<Item = usize> {
        self.parts
            .iter()
            .flat_map(|part| part.findings.iter().copied())
    }

    /// Ground without liquid, m2.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        self.parts.iter().map(|part| part.area_m2).sum()
    }

    /// Liquid at the target, L.
    #[must_use]
    pub fn litres(&self) -> Option<f64> {
        self.parts.iter().map(|part| part.litres).sum()
    }

    /// Its deadline can still be met.
    fn open_until(&self) -> Option<Instant> {
        self.due
            .filter(|due| due.open && !due.over)
            .map(|due| due.by)
    }
}

/// The trips, first those whose deadline can still be met, then by weight and area.
#[must_use]
pub fn of(night: &Night, audit: &Audit) -> Vec<Trip> {
    let mut trips: Vec<Trip> = Vec::new();
    for (index, finding) in audit.findings.iter().enumerate() {
        if finding.severity != Severity::GoBack {
            continue;
        }
        let site = night
            .sites
            .iter()
            .position(|site| Some(&site.id) == finding.site.as_ref());
        let Some(site) = site else {
            continue;
        };
        let view = View { night, audit, site };
        let part = view.part(index, finding);
        match trips.iter_mut().find(|trip| trip.site == site) {
            Some(trip) => trip.parts.push(part),
            None => trips.push(view.trip(finding, part)),
        }
    }
    // Areas that differ by less than a square metre are one: such sites stay in the order of their file.
    trips.sort_by(|a, b| {
        let until = |trip: &Trip| trip.open_until().map_or(i64::MAX, |by| by.0);
        let by_weight = b.priority.total_cmp(&a.priority);
        until(a)
            .cmp(&until(b))
            .then(by_weight)
            .then(b.area_m2().round().total_cmp(&a.area_m2().round()))
            .then(a.site.cmp(&b.site))
    });
    trips
}

/// One site of the night.
struct View<'a> {
    night: &'a Night<'a>,
    audit: &'a Audit,
    site: usize,
}

impl View<'_> {
    fn trip(&self, finding: &Finding, part: Part) -> Trip {
        let site = &self.night.sites[self.site];
        let address = site.zones.iter().find_map(|zone| {
            let text = zone.others.get("address")?.as_str()?;
            Some(text.to_owned())
        });
        let zones = site.zones.iter().filter(|zone| zone.is_to_treat());
        let first = part.strips.first().map(|strip| strip.place);
        Trip {
            site: self.site,
            address,
            due: self.due(),
            priority: zones.map(|zone| zone.priority).fold(0.0, f64::max),
            place: first.or(finding.place).unwrap_or_else(|| self.middle()),
            parts: vec![part],
        }
    }

    /// A point on the site's greatest ground to treat.
    fn middle(&self) -> LonLat {
        let site = &self.night.sites[self.site];
        let zones = site.zones.iter().filter(|zone| zone.is_to_treat());
        let greatest = zones.max_by(|a, b| a.region.area_m2().total_cmp(&b.region.area_m2()));
        greatest
            .and_then(|zone| crate::site::point_in(&zone.region, &site.plane))
            .unwrap_or_else(|| site.plane.origin())
    }

    /// The first deadline of orders that are not done; else that of the last one that is.
    fn due(&self) -> Option<Due> {
        let id = &self.night.sites[self.site].id;
        let orders = self
            .audit
            .orders
            .iter()
            .flatten()
            .filter(|order| &order.site == id);
        let due = |order: &crate::result::Order| {
            let open = matches!(order.status, OrderStatus::NotDone | OrderStatus::InPart);
            let by = order.by?;
            let over = self.night.span.is_some_and(|span| by < span.last);
            Some(Due { by, open, over })
        };
        let (open, done): (Vec<Due>, Vec<Due>) = orders.filter_map(due).partition(|due| due.open);
        let first = open.into_iter().min_by_key(|due| due.by);
        first.or(done.into_iter().max_by_key(|due| due.by))
    }

    fn part(&self, index: usize, finding: &Finding) -> Part {
        let mut part = Part {
            findings: vec![index],
            zones: finding.zone.iter().cloned().collect(),
            spot: None,
            strips: Vec::new(),
            area_m2: 0.0,
            litres: None,
            rig: None,
            wrong_lot: None,
        };
        match &finding.kind {
            Kind::Orders(AboutOrders::NotDone(it)) => self.not_done(&mut part, &it.zones),
            Kind::Cover(AboutCover::BarePatch(patch)) => {
                part.findings.extend(self.in_part(finding));
                self.bare(&mut part, finding, patch.cause);
            }
            Kind::Cover(AboutCover::ThinCover { gap_m2, .. }) => {
                part.findings.extend(self.in_part(finding));
                part.area_m2 = *gap_m2;
                let zone = self.last_on(finding).map(|(_, zone)| zone);
                part.litres = zone.and_then(|zone| Some(zone.target_ml_m2? * gap_m2 / 1000.0));
            }
            _ => {}
        }
        part
    }

    /// Orders in part for the ground that a finding sends somebody to.
    fn in_part(&self, of: &Finding) -> Vec<usize> {
        let findings = self.audit.findings.iter().enumerate();
        let same = findings.filter(|(_, finding)| {
            let in_part = matches!(finding.kind, Kind::Orders(AboutOrders::OrderInPart { .. }));
            let record = finding.severity == Severity::ForTheRecord;
            in_part && record && finding.site == of.site && finding.zone == of.zone
        });
        same.map(|(index, _)| index).collect()
    }

    fn not_done(&self, part: &mut Part, zones: &[String]) {
        let site = &self.audit.sites[self.site];
        let ground = || {
            site.ground
                .iter()
                .filter(|ground| zones.contains(&ground.zone))
        };
        part.zones = zones.to_vec();
        part.spot = Some(Spot::Whole);
        part.area_m2 = ground().map(|ground| ground.area_m2).sum();
        let litres = ground().map(|ground| Some(ground.target_ml_m2? * ground.area_m2 / 1000.0));
        part.litres = litres.sum();
        part.strips = zones
            .iter()
            .flat_map(|zone| self.strips_left(zone))
            .collect();
        if let Some((finding, site)) = self.next_door() {
            part.findings.push(finding);
            part.wrong_lot = Some(site);
        }
    }

    /// The patches that the last application left of a zone; none where nothing was treated at all.
    fn strips_left(&self, zone: &str) -> Vec<Strip> {
        let site = &self.night.sites[self.site];
        let index = site.zones.iter().position(|known| known.id == zone);
        let last = index.and_then(|index| {
            let application = &self.outcome().applications[self.outcome().last_on(index)?];
            application.zones.iter().find(|of| of.zone == index)
        });
        let patches = last.into_iter().flat_map(ZoneOutcome::likely_patches);
        patches
            .filter(|(patch, _)| patch.cause.is_for_a_trip())
            .map(|(patch, place)| strip::of(&patch.region, *place, &site.plane))
            .collect()
    }

    /// The nearest ground that was treated without an order, where it is next door.
    fn next_door(&self) -> Option<(usize, String)> {
        let here = self.night.sites[self.site].plane.origin();
        let findings = self.audit.findings.iter().enumerate();
        let away = findings.filter_map(|(index, finding)| {
            let is_unasked = matches!(finding.kind, Kind::Orders(AboutOrders::NotOrdered { .. }));
            let id = finding.site.as_ref().filter(|_| is_unasked)?;
            let site = self.night.sites.iter().find(|site| &site.id == id)?;
            let (east_m, north_m) = displacement_m(here, site.plane.origin());
            Some((east_m.hypot(north_m), index, id))
        });
        let (away_m, index, id) = away.min_by(|a, b| a.0.total_cmp(&b.0))?;
        (away_m <= NEXT_DOOR_M).then(|| (index, id.clone()))
    }

    fn outcome(&self) -> &Outcome {
        &self.night.outcomes[self.site]
    }

    /// The application that a finding is about, and its zone.
    fn last_on(&self, finding: &Finding) -> Option<(&Application, &ZoneOutcome)> {
        let site = &self.night.sites[self.site];
        let zone = site
            .zones
            .iter()
            .position(|zone| Some(&zone.id) == finding.zone.as_ref())?;
        let application = &self.outcome().applications[self.outcome().last_on(zone)?];
        let of_zone = application.zones.iter().find(|of| of.zone == zone)?;
        Some((application, of_zone))
    }

    fn bare(&self, part: &mut Part, finding: &Finding, cause: GapCause) {
        let Some((application, zone)) = self.last_on(finding) else {
            return;
        };
        let site = &self.night.sites[self.site];
        let patches = zone
            .likely_patches()
            .filter(|(patch, _)| patch.cause.is_for_a_trip());
        let (patches, places): (Vec<_>, Vec<LonLat>) = patches.unzip();
        let regions: Vec<&Region> = patches.iter().map(|patch| &patch.region).collect();
        let strips = regions.iter().zip(places);
        part.strips = strips
            .map(|(region, place)| strip::of(region, place, &site.plane))
            .collect();
        part.area_m2 = patches.iter().map(|patch| patch.area_m2).sum();
        part.litres = zone
            .target_ml_m2
            .map(|target| target * part.area_m2 / 1000.0);
        let legs = application
            .legs
            .iter()
            .map(|&leg| &self.outcome().legs[leg]);
        let boom_m = legs.map(|leg| leg.boom_m).fold(0.0, f64::max);
        let ground = &site.zones[zone.zone].region;
        let lines = &application.lines;
        part.spot = Some(spot::of(ground, &regions, lines, boom_m, &site.plane));
        part.rig = self.rig_state(application, finding, cause);
        if let (GapCause::Dry, Some(dry)) = (cause, self.dry_run(finding)) {
            part.findings.push(dry);
        }
    }

    /// The dry stretches of the same rig on the same site: what the patch comes from.
    fn dry_run(&self, patch: &Finding) -> Option<usize> {
        let same = |finding: &Finding| {
            let is_dry = matches!(finding.kind, Kind::Rig(AboutRig::OpenDry { .. }));
            is_dry && finding.site == patch.site && finding.rig == patch.rig
        };
        self.audit.findings.iter().position(same)
    }

    fn rig_state(
        &self,
        application: &Application,
        finding: &Finding,
        cause: GapCause,
    ) -> Option<RigState> {
        let rig = finding.rig.clone()?;
        let own = |leg: &&LegOutcome| self.night.rig_id(leg.run) == rig;
        let mut legs = application
            .legs
            .iter()
            .map(|&leg| &self.outcome().legs[leg]);
        legs.find(own)?;
        let closed = match &finding.kind {
            Kind::Cover(AboutCover::BarePatch(patch)) => patch.closed.clone(),
            _ => None,
        };
        let after = match cause {
            GapCause::Dry => {
                let dry = self.outcome().dry.iter();
                let last = dry.map(|fact| fact.start.plus_seconds(fact.seconds)).max();
                last.unwrap_or(application.start)
            }
            _ => application.end,
        };
        let numbers = closed.as_ref().map_or(&[][..], |closed| &closed.numbers);
        let again = sections::sprayed_again(self.night, &rig, numbers, after);
        Some(RigState {
            rig,
            cause,
            closed,
            again,
        })
    }
}
