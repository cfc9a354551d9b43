//! The work of one site: its ground on the sheet, and each rig's reach, hand work and plan.

use super::bent;
use super::drive;
use super::field::{self, Field};
use super::lane::Lane;
use super::left::{self, HandWork, Hoses};
use super::lot::{self, Lot};
use super::minkowski;
use super::plan;
use super::reach::{self, Reach};
use super::reclose::reclosed;
use super::sheet::{
    DrivenLane, HandSheet, PlanSheet, RigShapes, RigSheet, SiteShapes, SiteSheet, ZonePlan,
    ZoneSheet,
};
use super::terms::{self, Terms, Until};
use super::turns::Turning;
use super::vehicle::Vehicle;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Plane;
use crate::ground::{Site, Zone};
use crate::input::fleet::{Estimate, Fleet};
use crate::input::sites::Aid;
use crate::report::earth::on_earth;
use crate::rig::boom::Boom;
use crate::site::planned::{self, PlannedLane};
use crate::site::{self, Rules};
use std::collections::BTreeMap;

/// Speed of made-up times where the fleet file has none, m/s: 6 mph (trade judgement).
const SOME_SPEED_M_S: f64 = 2.7;

/// What all sites share.
pub(super) struct Given<'a> {
    pub(super) fleet: &'a Fleet,
    /// What counts where a plan is treated.
    pub(super) rules: &'a Rules,
    /// Indices in the fleet file.
    pub(super) rigs: &'a [usize],
    /// Sites of the file.
    pub(super) sites: usize,
    /// Of each of these rigs; `None` where the fleet file does not say how great it is.
    pub(super) vehicles: &'a [Option<Vehicle>],
}

/// One rig's work on one site.
pub(super) struct RigWork {
    pub(super) sheet: RigSheet,
    /// Its lanes as they would be logged.
    pub(super) driven: Vec<PlannedLane>,
}

/// The sheet of a site, and what each rig does on it.
pub(super) fn site_work(site: &Site, aids: &[&Aid], given: &Given) -> (SiteSheet, Vec<RigWork>) {
    let estimate = &given.fleet.estimate;
    let lot = Lot::of(site, aids, estimate);
    let mut remarks = lot.remarks.clone();
    let zones: Vec<ZoneSheet> = site
        .zones
        .iter()
        .filter(|zone| zone.is_to_treat())
        .map(|zone| zone_sheet(zone, estimate, &mut remarks))
        .collect();
    let works = given
        .rigs
        .iter()
        .zip(given.vehicles)
        .map(|(&rig, vehicle)| match vehicle {
            Some(vehicle) => Work {
                site,
                lot: &lot,
                given,
                vehicle,
            }
            .done(),
            None => RigWork {
                sheet: without_body(given.fleet, rig),
                driven: Vec::new(),
            },
        })
        .collect();
    let area_m2 = zones.iter().map(|zone| zone.area_m2).sum();
    let sheet = SiteSheet {
        site: site.id.clone(),
        name: site.name.clone(),
        client: site.client.clone(),
        area_m2,
        area_error_m2: zones.iter().map(|zone| zone.area_error_m2).sum(),
        zones,
        cars_expected_m2: lot.cars_expected_m2,
        shapes: SiteShapes {
            curbs: lot.curbs.iter().map(|&(a, b)| [a, b]).collect(),
            objects: lot.blocked.difference(&lot.keep_off),
        },
        assumed: lot.assumed,
        remarks,
        rigs: Vec::new(),
    };
    (sheet, works)
}

fn without_body(fleet: &Fleet, rig: usize) -> RigSheet {
    RigSheet {
        rig: fleet.rigs[rig].id.clone(),
        missing: vec!["body".to_owned()],
        boom_m: fleet.rigs[rig].boom_width_m(),
        reach_m2: None,
        edge_strip_m2: None,
        edge_strip_m: None,
        hand: Vec::new(),
        hand_walk_m: 0.0,
        slivers_m2: None,
        plan: None,
        cost: None,
        shapes: RigShapes::default(),
    }
}

fn zone_sheet(zone: &Zone, estimate: &Estimate, remarks: &mut Vec<String>) -> ZoneSheet {
    let edges = minkowski::edges(&zone.region);
    let perimeter_m = edges.iter().map(|(a, b)| b.minus(*a).length_m()).sum();
    let contract_area_m2 = lot::contract_m2(zone).unwrap_or_else(|why| {
        remarks.push(format!("zone {}: {why}; it was ignored", zone.id));
        None
    });
    ZoneSheet {
        zone: zone.id.clone(),
        land_use: zone.land_use,
        method: zone.method,
        area_m2: zone.region.area_m2(),
        area_drawn_m2: zone.area_drawn_m2,
        area_error_m2: estimate.outline_m.map(|outline_m| outline_m * perimeter_m),
        perimeter_m,
        holes: zone
            .region
            .shapes()
            .iter()
            .map(|shape| shape.len() - 1)
            .sum(),
        longest_run_m: reach::longest_run_m(&zone.region),
        contract_area_m2,
    }
}

/// Keys that are missing for a plan and its times.
fn missing(fleet: &Fleet, vehicle: &Vehicle) -> Vec<String> {
    let rig = &fleet.rigs[vehicle.rig];
    let keys = [
        (rig.turning_circle_m.is_some(), "turning_circle"),
        (rig.wheelbase_m.is_some(), "wheelbase"),
        (rig.turn_speed_m_s.is_some(), "turn_speed"),
        (rig.gear_change_s.is_some(), "gear_change"),
        (fleet.estimate.lap_m.is_some(), "estimate.lap"),
        (fleet.estimate.speed_m_s.is_some(), "estimate.speed"),
    ];
    keys.iter()
        .filter(|(there, _)| !there)
        .map(|(_, key)| (*key).to_owned())
        .collect()
}

/// One rig on one site.
struct Work<'a> {
    site: &'a Site,
    lot: &'a Lot,
    given: &'a Given<'a>,
    vehicle: &'a Vehicle,
}

impl Work<'_> {
    fn done(&self) -> RigWork {
        let reach = reach::reach(self.lot, self.vehicle);
        let hoses = Hoses::new(self.lot, &reach);
        let left = left::left(self.lot, &reach, &hoses);
        let mut sheet = RigSheet {
            missing: missing(self.given.fleet, self.vehicle),
            rig: self.vehicle.id.clone(),
            boom_m: self.vehicle.boom_m(),
            reach_m2: Some(reach.ground.area_m2()),
            edge_strip_m2: Some(left.edge_strip.area_m2()),
            edge_strip_m: Some(left.edge_strip_m),
            hand: Vec::new(),
            hand_walk_m: left.walk_m,
            slivers_m2: Some(left.slivers.area_m2()),
            plan: None,
            cost: None,
            shapes: RigShapes {
                reach: self.earth(&reach.ground),
                edge_strip: self.earth(&left.edge_strip),
                ..RigShapes::default()
            },
        };
        let planned = self.planned(&reach, &mut sheet);
        self.add_hand(&mut sheet, &left.hand, HandKind::NotReached);
        if let Some((gap, _)) = &planned {
            let until = Until::share(self.given.fleet.estimate.plan_until);
            let may_leave_m2 = until.may_leave() * reach.ground.area_m2();
            self.add_hand(
                &mut sheet,
                &left::left_by_plan(gap, &hoses, may_leave_m2),
                HandKind::LeftByPlan,
            );
        }
        self.add_hand(&mut sheet, &left.hand_zones, HandKind::Zone);
        RigWork {
            sheet,
            driven: planned.map(|(_, driven)| driven).unwrap_or_default(),
        }
    }

    fn earth(&self, region: &Region) -> geo::MultiPolygon<f64> {
        on_earth(region, &self.site.plane)
    }

    fn add_hand(&self, sheet: &mut RigSheet, works: &[HandWork], kind: HandKind) {
        for work in works {
            sheet.hand.push(HandSheet {
                hand_zone: kind == HandKind::Zone,
                left_by_plan: kind == HandKind::LeftByPlan,
                area_m2: work.ground.area_m2(),
                hose_m: work.hose_m,
                place: site::point_in(&work.ground, &self.site.plane),
            });
            sheet.shapes.hand.push(self.earth(&work.ground));
        }
    }

    /// Plans the lanes and enters them in the sheet; what the plan leaves of the reach, and the lanes as they would be
    /// logged.
    fn planned(&self, reach: &Reach, sheet: &mut RigSheet) -> Option<(Region, Vec<PlannedLane>)> {
        let (estimate, vehicle) = (&self.given.fleet.estimate, self.vehicle);
        let terms = Terms {
            lap_m: estimate.lap_m?,
            speed_m_s: estimate.speed_m_s.unwrap_or(SOME_SPEED_M_S),
            until: Until::share(estimate.plan_until),
            attempts: terms::attempts(self.given.sites),
            all_ways: terms::all_ways(self.given.sites),
            turning: Turning::of(vehicle),
        };
        let mut field = Field::of(self.lot, reach, vehicle);
        field.contours = bent::contours(&field, terms.lap_m);
        let mut plan = plan::plan(&field, &terms)?;
        let mut laid = self.laid_out(reach, &plan.lanes);
        // Cells are coarse: a bare stripe as thin as one may be none to them, and several of those are much of a small lot.
        if laid.gap.area_m2() > terms.until.may_leave() * reach.ground.area_m2() {
            let again = plan::continued(&field.finer(reach), &terms, &plan);
            let other = self.laid_out(reach, &again.lanes);
            if other.gap.area_m2() < laid.gap.area_m2() {
                (plan, laid) = (again, other);
            }
        }
        let LaidOut {
            lanes,
            sprayed,
            gap,
        } = laid;
        let plane = &self.site.plane;
        let driven: Vec<PlannedLane> = lanes
            .iter()
            .map(|lane| drive::driven(plane, vehicle, terms.speed_m_s, lane))
            .collect();
        let zones = self.site.zones.iter().filter(|zone| zone.is_to_treat());
        let to_treat = Region::union_of(zones.map(|zone| &zone.region));
        let length_m: f64 = lanes.iter().map(Lane::length_m).sum();
        let treated = self.treated(&driven);
        let total = |figure: fn(&ZonePlan) -> f64| {
            (!treated.is_empty()).then(|| treated.iter().map(figure).sum())
        };
        sheet.shapes.gap = self.earth(&gap);
        sheet.plan = Some(PlanSheet {
            manner: plan.manner,
            lanes: lanes.len(),
            length_m,
            length_ratio: length_m * (vehicle.boom_m() - terms.lap_m) / reach.ground.area_m2(),
            spraying_s: estimate.speed_m_s.map(|speed_m_s| length_m / speed_m_s),
            turning_s: terms.turning.is_some().then_some(plan.between),
            treated_m2: total(|zone| zone.treated_m2),
            overlap_m2: total(|zone| zone.overlap_m2),
            swept_m2: total(|zone| zone.swept_m2),
            gap_m2: gap.area_m2(),
            outside_m2: sprayed.difference(&to_treat).area_m2(),
            zones: treated,
            stops: plan.stops,
            driven: lanes.into_iter().map(|lane| on_map(lane, plane)).collect(),
        });
        Some((gap, driven))
    }

    /// Lanes of a plan as they are driven, with the exact ground that they spray and leave.
    fn laid_out(&self, reach: &Reach, lanes: &[Lane]) -> LaidOut {
        let mut lanes = lanes.to_vec();
        if self.given.fleet.estimate.reclose {
            lanes = reclosed(self.lot, self.vehicle, lanes);
        }
        lanes.iter_mut().for_each(Lane::settle);
        let sprayed = field::ground(&lanes, self.vehicle);
        LaidOut {
            gap: reach.ground.difference(&sprayed),
            sprayed,
            lanes,
        }
    }

    /// What the site's own engine says of the lanes on each zone, in the order of the site.
    fn treated(&self, driven: &[PlannedLane]) -> Vec<ZonePlan> {
        let boom = Boom::of(&self.given.fleet.rigs[self.vehicle.rig]);
        let leg = planned::leg(boom, &self.site.plane, driven);
        let outcome = site::treat(self.site, &[leg], self.given.rules, false);
        let mut zones: BTreeMap<usize, ZonePlan> = BTreeMap::new();
        let outcomes = outcome
            .applications
            .iter()
            .flat_map(|application| &application.zones);
        for zone in outcomes {
            let Some(areas) = zone.areas else { continue };
            let sum = zones.entry(zone.zone).or_insert_with(|| ZonePlan {
                zone: self.site.zones[zone.zone].id.clone(),
                treated_m2: 0.0,
                overlap_m2: 0.0,
                swept_m2: 0.0,
            });
            sum.treated_m2 += areas.treated_m2;
            sum.overlap_m2 += areas.overlap_m2;
            sum.swept_m2 += areas.swept_m2;
        }
        zones.into_values().collect()
    }
}

/// A plan's lanes on the ground.
struct LaidOut {
    lanes: Vec<Lane>,
    sprayed: Region,
    /// Of the reach.
    gap: Region,
}

/// Why ground is hand work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum HandKind {
    /// No boom gets there.
    NotReached,
    /// The plan ends before it is done.
    LeftByPlan,
    /// A zone treated by hand anyhow.
    Zone,
}

fn on_map(lane: Lane, plane: &Plane) -> DrivenLane {
    DrivenLane {
        ends: [lane.start(), lane.end()].map(|station| plane.to_lon_lat(station.at)),
        line: lane
            .stations
            .iter()
            .map(|station| plane.to_lon_lat(station.at))
            .collect(),
        lane,
    }
}
