//! What a lot costs: time, liquid, salt and money of one treatment, a storm and a season, and how sure that is.
//!
//! | step | module | from | to |
//! |---|---|---|---|
//! | facts | `facts`, `work` | measured site, fleet | what there is to do, in figures; where the tank runs out |
//! | settings | `setting` | fleet file | what is known of each setting |
//! | figures | `application` | work, one value a setting | time, liquid, money |
//! | ranges | `range`, `treatment` | figures, spreads | low, likely, high; loads and minimum charge after |
//! | season | `season` | treatments | storm, season |
//! | night | `night` | all lots | route, rigs before the opening |
//!
//! No setting is invented: what is missing leaves its lines out, and its key is named.

mod application;
mod facts;
mod night;
mod range;
mod season;
mod setting;
mod treatment;
mod work;

use super::cost_sheet::{self, CostSheet, KindSheet, NightSheet, StopSaving};
use super::sheet::{RigSheet, SiteSheet};
use super::vehicle::Vehicle;
use crate::error::{Error, Result};
use crate::ground::Site;
use crate::input::fleet::{Fleet, Rig};
use crate::input::sites::Aid;
use crate::units::ML_PER_L;
use setting::{Known, Setting};
use std::path::Path;
use treatment::Terms;
use work::Work;

/// What was measured, for pricing.
pub(super) struct Measured<'a> {
    pub(super) sites: &'a [Site],
    pub(super) aids: &'a [Aid],
    pub(super) fleet: &'a Fleet,
    pub(super) rigs: &'a [usize],
    pub(super) vehicles: &'a [Option<Vehicle>],
}

/// Prices every rig on every site and enters it in the sheets; gives the night of each rig.
///
/// # Errors
/// A kind of treatment without a rate where no zone, product or default has one.
pub(super) fn enter(
    sheets: &mut [SiteSheet],
    measured: &Measured,
    fleet_file: &Path,
) -> Result<Vec<NightSheet>> {
    check_targets(measured.sites, measured.fleet, fleet_file)?;
    let rigs = 0..measured.rigs.len();
    Ok(rigs
        .filter_map(|index| enter_rig(sheets, measured, index))
        .collect())
}

/// One rig on every site.
fn enter_rig(sheets: &mut [SiteSheet], measured: &Measured, index: usize) -> Option<NightSheet> {
    let fleet = measured.fleet;
    let rig = &fleet.rigs[measured.rigs[index]];
    let product = fleet
        .products
        .iter()
        .find(|of| Some(&of.id) == rig.product.as_ref());
    let costs = &fleet.estimate.costs;
    let known = Known::of(costs, rig, product);
    let (mut works, knowns): (Vec<Work>, Vec<Known>) = measured
        .sites
        .iter()
        .zip(sheets.iter())
        .map(|(site, sheet)| site_work(site, &sheet.rigs[index], measured, index, &known))
        .unzip();
    let terms: Vec<Terms> = knowns
        .iter()
        .map(|known| Terms {
            known,
            costs,
            product,
            products: &fleet.products,
        })
        .collect();
    let kinds: Vec<Vec<KindSheet>> = costs
        .kinds
        .iter()
        .map(|kind| {
            let at_target = |work: &Work| work.at_target(kind.target_ml_m2);
            let mut works: Vec<Work> = works.iter().map(at_target).collect();
            night::share(&mut works, &terms);
            let treatments = works
                .iter()
                .zip(&terms)
                .map(|(work, terms)| terms.treatment(work));
            treatments.map(|of| season::kind(kind, &of)).collect()
        })
        .collect();
    night::share(&mut works, &terms);
    for (at, sheet) in sheets.iter_mut().enumerate() {
        let sheet = &mut sheet.rigs[index];
        let own = kinds.iter().map(|kind| kind[at].clone()).collect();
        sheet.cost = cost(&works[at], sheet, rig, &terms[at], own);
    }
    let costed: Vec<Option<&CostSheet>> = sheets
        .iter()
        .map(|sheet| sheet.rigs[index].cost.as_ref())
        .collect();
    night::night(&rig.id, terms.first()?, &works, &costed)
}

/// The work on one site, and what is known there: how full its stalls are is a site's own.
fn site_work(
    site: &Site,
    sheet: &RigSheet,
    measured: &Measured,
    index: usize,
    known: &Known,
) -> (Work, Known) {
    let mut work = facts::work(site, sheet, measured.fleet, measured.rigs[index]);
    let mut known = known.clone();
    let occupied = known.get(Setting::Occupied);
    let parked = sheet
        .plan
        .as_ref()
        .zip(measured.vehicles[index].as_ref())
        .and_then(|(plan, vehicle)| facts::parked(site, measured.aids, plan, vehicle, occupied));
    work.stalls_share = parked.map_or(0.0, |(share, _)| share);
    known.set(Setting::Occupied, parked.and_then(|(_, full)| full));
    (work, known)
}

/// One rig on one site; `None` where there is nothing to do.
fn cost(
    work: &Work,
    sheet: &RigSheet,
    rig: &Rig,
    terms: &Terms,
    kinds: Vec<KindSheet>,
) -> Option<CostSheet> {
    let event = season::event(kinds);
    work.is_any().then(|| CostSheet {
        left_out: left_out(work, terms),
        rig_per_s: terms.known.get(Setting::RigHour),
        price_per_l: terms.known.get(Setting::Price),
        assumed: assumed(work, sheet, terms),
        application: terms.treatment(work),
        tank_stops: tank_stops(work, sheet, rig, terms),
        stops: stops(work, sheet, terms),
        season: event
            .as_ref()
            .and_then(|event| season::season(terms.costs, event)),
        event,
    })
}

fn check_targets(sites: &[Site], fleet: &Fleet, fleet_file: &Path) -> Result<()> {
    let known = fleet.defaults.target_ml_m2.is_some()
        || fleet
            .products
            .iter()
            .any(|product| product.target_ml_m2.is_some())
        || sites
            .iter()
            .flat_map(|site| &site.zones)
            .any(|zone| zone.target_ml_m2.is_some());
    let kinds = &fleet.estimate.costs.kinds;
    let Some(kind) = kinds
        .iter()
        .find(|kind| kind.target_ml_m2.is_none() && !known)
    else {
        return Ok(());
    };
    let what = format!("`{}` in per_storm: there is no target anywhere", kind.key);
    let error = Error::new(what)
        .at(fleet_file)
        .advice("Add target = \"35 gal/ac\" to it, to [defaults], to the product or to a zone.");
    Err(match kind.line {
        Some(line) => error.line(line),
        None => error,
    })
}

/// Keys that lines are left out for.
fn left_out(work: &Work, terms: &Terms) -> Vec<&'static str> {
    let has = |setting: Setting| terms.known.get(setting).is_some();
    let by = |way: fn(&work::Way) -> bool| work.hand.iter().any(|part| way(&part.way));
    let markup = [Setting::Overhead, Setting::Insurance, Setting::Margin];
    let some_markup = markup.iter().any(|&setting| has(setting));
    let no_target = (work.lane_m > 0.0 && work.target_ml_m2().is_none())
        || work.hand.iter().any(|part| part.target_ml_m2.is_none());
    let mut keys = Vec::new();
    let mut need = |needed: bool, key: &'static str| {
        if needed {
            keys.push(key);
        }
    };
    need(no_target, "target");
    need(work.lane_m > 0.0 && !has(Setting::Speed), "speed");
    let turns_known = work.turning_s.is_some() || has(Setting::TurnTime);
    need(work.turns > 0.0 && !turns_known, "turn_time");
    need(
        by(|way| *way == work::Way::Hose) && !has(Setting::HandRate),
        "hand_rate",
    );
    need(
        by(|way| matches!(way, work::Way::Steps(_))) && !has(Setting::StepTime),
        "step_time",
    );
    need(
        !work.hand.is_empty() && !has(Setting::HandSetup),
        "hand_setup",
    );
    need(work.tank_l.is_none(), "rig.tank");
    for setting in [
        Setting::FillRate,
        Setting::FillTrip,
        Setting::PerVisit,
        Setting::Deadhead,
        Setting::CrewHour,
        Setting::RigHour,
    ] {
        need(!has(setting), setting.key());
    }
    need(terms.costs.route && !has(Setting::Between), "between");
    for setting in markup {
        need(some_markup && !has(setting), setting.key());
    }
    match terms.product {
        None => need(true, "rig.product"),
        Some(product) => {
            need(!has(Setting::Price), Setting::Price.key());
            need(product.mass_fraction.is_none(), "product.mass_fraction");
            need(
                product.specific_gravity.is_none(),
                "product.specific_gravity",
            );
            need(work::chloride_share(product).is_none(), "product.solute");
        }
    }
    keys
}

/// What the figures take for granted.
fn assumed(work: &Work, sheet: &RigSheet, terms: &Terms) -> Vec<&'static str> {
    let has = |setting: Setting| terms.known.get(setting).is_some();
    let mut clauses = Vec::new();
    if sheet.edge_strip_m2.is_some_and(|m2| m2 > 0.0) {
        clauses
            .push("edge strips are left untreated: neither their time nor their liquid is counted");
    }
    if work.lane_m > 0.0 && work.stalls_share <= 0.0 {
        clauses.push("no cars are parked: no stalls are drawn");
    } else if work.stalls_share > 0.0 {
        clauses.push(if has(Setting::Occupied) {
            "stalls with a car on get no liquid; the rig drives past all the same"
        } else {
            "no cars are parked: nothing says how full the stalls are"
        });
    }
    if sheet.hand.iter().any(|piece| piece.left_by_plan) {
        clauses
            .push("what the plan leaves within the boom's reach stays untreated: see `plan_until`");
    }
    if !work.hand.is_empty() {
        clauses.push("hand work and driving come one after the other, the rig waits");
    }
    if !has(Setting::Crew) && has(Setting::CrewHour) {
        clauses.push("one person is on the rig: `crew` is not set");
    }
    if work.tank_l.is_some() {
        clauses.push("the tank is full at the first lane");
    }
    clauses
}

/// Where the tank runs out in the plan as it is: at the rate applied, without what may be driven or swept beyond it.
fn tank_stops(
    work: &Work,
    sheet: &RigSheet,
    rig: &Rig,
    terms: &Terms,
) -> Vec<cost_sheet::TankStop> {
    let applied = terms.known.likely().get(Setting::Applied).unwrap_or(1.0);
    let rate_l_m2 = work
        .target_ml_m2()
        .map(|target| target / ML_PER_L * applied);
    match (&sheet.plan, rate_l_m2, terms.usable_l(work)) {
        (Some(plan), Some(rate_l_m2), Some(usable_l)) => {
            facts::tank_stops(plan, rig, rate_l_m2, usable_l)
        }
        _ => Vec::new(),
    }
}

/// What ending the plan earlier or later saves: lanes and ways between them, at the plan's own litres a metre.
fn stops(work: &Work, sheet: &RigSheet, terms: &Terms) -> Vec<StopSaving> {
    let Some(plan) = sheet.plan.as_ref().filter(|plan| plan.length_m > 0.0) else {
        return Vec::new();
    };
    let values = terms.known.likely();
    let speed_m_s = application::speed_m_s(work, &values);
    let liquid = application::liquid(work, &values);
    let plan_l = liquid.map(|liquid| liquid.ground_l + liquid.overlap_l + liquid.outside_l);
    let wage = night::wage(terms.known);
    // Overlap beyond the plan takes lanes and turns as it takes liquid.
    let more = 1.0 + values.get(Setting::OverlapBeyond).unwrap_or(0.0);
    plan.stops
        .iter()
        .map(|stop| {
            let less_m = plan.length_m - stop.length_m;
            let lanes = plan.lanes as i64 - stop.lanes as i64;
            let turning_s = match values.get(Setting::TurnTime) {
                Some(turn_s) => Some(turn_s * lanes as f64),
                None => plan
                    .turning_s
                    .zip(stop.turning_s)
                    .map(|(own, other)| own - other),
            };
            let seconds = speed_m_s
                .zip(turning_s)
                .map(|(speed_m_s, turning_s)| (less_m / speed_m_s + turning_s) * more);
            let liquid_l = plan_l.map(|litres| litres * less_m / plan.length_m);
            let of_time = seconds.zip(wage).map(|(seconds, wage)| seconds * wage);
            let of_liquid = liquid_l
                .zip(values.get(Setting::Price))
                .map(|(l, price)| l * price);
            StopSaving {
                share: stop.share,
                lanes,
                seconds,
                liquid_l,
                money: of_time.map(|money| money + of_liquid.unwrap_or(0.0)),
            }
        })
        .collect()
}
