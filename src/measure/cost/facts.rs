//! From a measured site to the work there: zones' targets, hand work with its one rate each, where the tank runs out.

use super::work::{Ground, HandPart, Part, Way, Work};
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::{Xy, is_inside};
use crate::ground::{Site, Zone};
use crate::input::fleet::{Fleet, Rig, Spread};
use crate::input::sites::{Aid, AidKind, AidShape, LandUse, Method};
use crate::measure::cost_sheet::TankStop;
use crate::measure::lane::{Lane, Open};
use crate::measure::left::walk_length_m;
use crate::measure::sheet::{HandSheet, PlanSheet, RigSheet};
use crate::measure::vehicle::Vehicle;
use crate::orders::targets::Targets;

/// Most steps of one zone: more is a slip (limit).
const MOST_STEPS: f64 = 10_000.0;

/// The work of one rig on one site.
pub(super) fn work(site: &Site, sheet: &RigSheet, fleet: &Fleet, rig: usize) -> Work {
    let targets = Targets::of(fleet);
    let carried = fleet.rigs[rig].product.as_deref();
    let target = |zone: &Zone| targets.on_zone(None, zone.target_ml_m2, carried);
    let mut work = Work {
        boom_m: sheet.boom_m,
        greatest_flow_l_s: fleet.rigs[rig].greatest_flow_l_s,
        tank_l: fleet.rigs[rig].tank_l,
        hand: hand(site, sheet, fleet, &target),
        part: Part::default(),
        ..Work::default()
    };
    let Some(plan) = &sheet.plan else {
        return work;
    };
    work.lane_m = plan.length_m;
    work.turns = plan.lanes.saturating_sub(1) as f64;
    work.turning_s = plan.turning_s;
    for swept in &plan.zones {
        let zone = site.zones.iter().find(|zone| zone.id == swept.zone);
        work.grounds.push(Ground {
            target_ml_m2: zone.and_then(&target),
            treated_m2: swept.treated_m2,
            swept_m2: swept.swept_m2,
        });
    }
    let laid_m2 = laid_m2(&laid(plan, &fleet.rigs[rig]));
    work.outside_m2 = (laid_m2 - work.swept_m2()).max(0.0);
    work
}

/// Cars on stalls: the share of what the boom lays that lies on drawn stalls, and how full those are; `None` where no
/// lane passes over stalls.
pub(super) fn parked(
    site: &Site,
    aids: &[Aid],
    plan: &PlanSheet,
    vehicle: &Vehicle,
    otherwise: Option<Spread>,
) -> Option<(f64, Option<Spread>)> {
    let rows: Vec<(Region, Option<Spread>)> = aids
        .iter()
        .filter(|aid| aid.site == site.id)
        .filter_map(|aid| match aid.kind {
            AidKind::Stalls { occupied } => {
                let own = occupied.or(otherwise);
                Some((ground_of(&aid.shape, site)?, own))
            }
            _ => None,
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let mut on_m2 = vec![0.0; rows.len()];
    let mut all_m2 = 0.0;
    for driven in &plan.driven {
        for strip in driven.lane.strips(vehicle) {
            let strip = Region::union_of_positive([strip.ring.as_slice()]);
            all_m2 += strip.area_m2();
            for (on_m2, (row, _)) in on_m2.iter_mut().zip(&rows) {
                *on_m2 += strip.intersection(row).area_m2();
            }
        }
    }
    let stalls_m2: f64 = on_m2.iter().sum();
    if stalls_m2 <= 0.0 {
        return None;
    }
    let full: Option<Vec<Spread>> = rows
        .iter()
        .zip(&on_m2)
        .map(|((_, own), on_m2)| own.map(|own| own.times(on_m2 / stalls_m2)))
        .collect();
    let full = full.and_then(|full| full.into_iter().reduce(|a, b| a.plus(&b)));
    Some((stalls_m2 / all_m2, full))
}

fn ground_of(shape: &AidShape, site: &Site) -> Option<Region> {
    let AidShape::Polygons(polygons) = shape else {
        return None;
    };
    let rings: Option<Vec<Vec<Xy>>> = polygons
        .iter()
        .flatten()
        .map(|ring| ring.iter().map(|&place| site.plane.to_xy(place)).collect())
        .collect();
    Some(Region::union_of_positive(rings?.iter().map(Vec::as_slice)))
}

/// Hand zones whole, and what the boom leaves of the others.
fn hand(
    site: &Site,
    sheet: &RigSheet,
    fleet: &Fleet,
    target: &impl Fn(&Zone) -> Option<f64>,
) -> Vec<HandPart> {
    let by_walk = fleet.estimate.costs.walk_rate_m_s.is_some();
    let zones = site
        .zones
        .iter()
        .filter(|zone| zone.is_to_treat() && zone.method == Method::Hand);
    let mut parts: Vec<HandPart> = zones
        .map(|zone| HandPart {
            way: way(zone, by_walk),
            area_m2: zone.region.area_m2(),
            target_ml_m2: target(zone),
            stops: zone.region.pieces().len() as f64,
        })
        .filter(|part| part.area_m2 > 0.0)
        .collect();
    // What the plan leaves within reach is not priced as hand work: a few more lanes cost less than a stop for each
    // piece.
    let not_reached = |piece: &&HandSheet| !piece.hand_zone && !piece.left_by_plan;
    let left = sheet.hand.iter().filter(not_reached);
    parts.extend(left.map(|piece| {
        let zone = piece.place.and_then(|place| zone_at(site, place));
        HandPart {
            way: Way::Hose,
            area_m2: piece.area_m2,
            target_ml_m2: zone.and_then(target),
            stops: 1.0,
        }
    }));
    parts
}

/// One way for a whole zone: steps where it says how many, a cart along walks where there is a rate for it, else by
/// area.
fn way(zone: &Zone, by_walk: bool) -> Way {
    let steps = zone.others.get("steps").and_then(serde_json::Value::as_f64);
    match steps.filter(|steps| (1.0..=MOST_STEPS).contains(steps)) {
        Some(steps) => Way::Steps(steps),
        None if by_walk && zone.land_use == LandUse::Walk => {
            Way::Cart(zone.region.pieces().iter().map(walk_length_m).sum())
        }
        None => Way::Hose,
    }
}

fn zone_at(site: &Site, place: LonLat) -> Option<&Zone> {
    let at = site.plane.to_xy(place)?;
    site.zones
        .iter()
        .filter(|zone| zone.is_to_treat())
        .find(|zone| is_inside(&zone.region.rings(), at))
}

/// What each lane lays: from and to along it, and the section's width, m.
pub(super) type Laid = Vec<(f64, f64, f64)>;

/// What the sections lay on every lane of a plan.
pub(super) fn laid(plan: &PlanSheet, rig: &Rig) -> Vec<Laid> {
    let open = |lane: &Lane| {
        let stretch = |open: &Open| (open.from_m, open.to_m, rig.section_widths_m[open.section]);
        lane.open.iter().map(stretch).collect()
    };
    plan.driven
        .iter()
        .map(|driven| open(&driven.lane))
        .collect()
}

/// Ground laid, wherever it lies, m2.
fn laid_m2(laid: &[Laid]) -> f64 {
    laid.iter()
        .flatten()
        .map(|(from_m, to_m, width_m)| (to_m - from_m) * width_m)
        .sum()
}

/// Where the tank runs out if it is full at the first lane: lane from 0, and m along it. Open sections lay `rate_l_m2`
/// on every square metre.
pub(super) fn runs_out(laid: &[Laid], rate_l_m2: f64, usable_l: f64) -> Vec<(usize, f64)> {
    /// More stops than this mean a slip in the tank's unit (limit).
    const MOST_STOPS: usize = 1000;
    let mut stops = Vec::new();
    let mut left_l = usable_l;
    for (lane, open) in laid.iter().enumerate() {
        for (from_m, to_m, width_m) in steps(open) {
            let l_m = width_m * rate_l_m2;
            let mut at_m = from_m;
            while l_m > 0.0 && left_l < (to_m - at_m) * l_m && stops.len() < MOST_STOPS {
                at_m += left_l / l_m;
                left_l = usable_l;
                stops.push((lane, at_m));
            }
            left_l -= (to_m - at_m) * l_m;
        }
    }
    stops
}

/// The same with the places.
pub(super) fn tank_stops(
    plan: &PlanSheet,
    rig: &Rig,
    rate_l_m2: f64,
    usable_l: f64,
) -> Vec<TankStop> {
    runs_out(&laid(plan, rig), rate_l_m2, usable_l)
        .into_iter()
        .map(|(lane, along_m)| TankStop {
            lane: lane + 1,
            along_m,
            place: plan.driven[lane].at(along_m),
        })
        .collect()
}

/// Stretches of a lane with one open width each: from, to, width, m.
fn steps(laid: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
    let mut at_m: Vec<f64> = laid.iter().flat_map(|open| [open.0, open.1]).collect();
    at_m.sort_by(f64::total_cmp);
    at_m.dedup();
    let width = |from_m: f64, to_m: f64| {
        let over = laid
            .iter()
            .filter(|open| open.0 <= from_m && open.1 >= to_m);
        over.map(|open| open.2).sum::<f64>()
    };
    at_m.windows(2)
        .map(|pair| (pair[0], pair[1], width(pair[0], pair[1])))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beside the same lane driven in steps of a millimetre, with the sections as they switch.
    #[test]
    fn the_tank_runs_out_where_a_drive_step_by_step_runs_out() {
        let laid = vec![
            vec![(0.0, 60.0, 1.5), (2.0, 70.0, 1.5), (5.0, 50.0, 2.0)],
            vec![(1.0, 20.0, 1.5), (30.0, 78.0, 1.5)],
            vec![(0.0, 78.85, 5.0)],
        ];
        let (rate_l_m2, usable_l) = (0.033, 4.0);
        let stops = runs_out(&laid, rate_l_m2, usable_l);
        let mut expected = Vec::new();
        let mut left_l = usable_l;
        for (lane, open) in laid.iter().enumerate() {
            for millimetre in 0..78_850 {
                let at_m = f64::from(millimetre) / 1000.0;
                let over = open.iter().filter(|o| o.0 <= at_m && at_m < o.1);
                left_l -= over.map(|o| o.2).sum::<f64>() * rate_l_m2 * 0.001;
                if left_l < 0.0 {
                    expected.push((lane, at_m));
                    left_l += usable_l;
                }
            }
        }
        assert!(expected.len() > 3);
        assert_eq!(stops.len(), expected.len());
        for (stop, expected) in stops.iter().zip(expected) {
            assert_eq!(stop.0, expected.0);
            assert!((stop.1 - expected.1).abs() < 0.01, "{stop:?} {expected:?}");
        }
    }
}
