//! The page for people: a line a site and rig, the sums, what was assumed, cautions.

mod cost;

use super::csv::{hand_m2, hose_m};
use super::own_words;
use crate::measure::sheet::{PlanSheet, RigSheet, Sheet, SiteSheet};
use crate::notation::clean::clean;
use crate::notation::numbers::{NOT_KNOWN, Units, count, percent};
use crate::report::table::{Row, Table, wrap};
use std::collections::BTreeMap;

/// The page, lines of at most `width` cells where names allow.
#[must_use]
pub fn render(sheet: &Sheet, units: Units, width: usize) -> String {
    let mut lines = vec!["Planned, not driven.".to_owned(), String::new()];
    lines.extend(ground(sheet, units).lines(width));
    lines.push(String::new());
    lines.extend(work(sheet, units).lines(width));
    lines.push(String::new());
    lines.extend(
        totals(sheet, units)
            .into_iter()
            .flat_map(|line| wrap("", &line, width)),
    );
    lines.extend(
        stops(sheet)
            .into_iter()
            .flat_map(|line| wrap("", &line, width)),
    );
    lines.extend(cost::lines(sheet, units, width));
    if let Some(own) = &sheet.own {
        lines.push(String::new());
        // Lines to be copied are never broken.
        lines.extend(own_words::fleet_lines(own, units));
        let driven = own.driven.iter().map(|of| own_words::driven(of, units));
        lines.extend(driven.flat_map(|line| wrap("", &line, width)));
    }
    lines.extend(
        legend(sheet, units)
            .into_iter()
            .flat_map(|line| wrap("", &line, width)),
    );
    lines.push(String::new());
    lines.extend(
        notes(sheet, units)
            .into_iter()
            .flat_map(|line| wrap("", &line, width)),
    );
    lines.push(String::new());
    lines.extend(
        super::cautions(sheet)
            .iter()
            .flat_map(|caution| wrap("", caution, width)),
    );
    lines.push(String::new());
    lines.join("\n")
}

fn ground(sheet: &Sheet, units: Units) -> Table {
    let (area, land, length) = (units.area(), units.land(), units.length());
    let mut rows = Vec::new();
    for site in &sheet.sites {
        for (index, zone) in site.zones.iter().enumerate() {
            let site_name = if index == 0 {
                name(site)
            } else {
                String::new()
            };
            let known =
                |m2: Option<f64>| m2.map_or_else(|| NOT_KNOWN.to_owned(), |m2| area.number(m2));
            rows.push(Row::Cells(vec![
                site_name,
                clean(&zone.zone).into_owned(),
                area.number(zone.area_m2),
                land.number(zone.area_m2),
                known(zone.area_error_m2),
                known(zone.contract_area_m2),
                length.number(zone.perimeter_m),
                zone.holes.to_string(),
                length.number(zone.longest_run_m),
            ]));
        }
    }
    let headings = vec![
        "site", "zone", area.label, land.label, "+/-", "contract", "around", "holes", "run",
    ];
    Table { headings, rows }
}

fn name(site: &SiteSheet) -> String {
    match &site.name {
        Some(name) => format!("{} ({})", clean(&site.site), clean(name)),
        None => clean(&site.site).into_owned(),
    }
}

fn work(sheet: &Sheet, units: Units) -> Table {
    let (area, length) = (units.area(), units.length());
    let mut rows = Vec::new();
    for site in &sheet.sites {
        for (index, rig) in site.rigs.iter().enumerate() {
            let site_name = if index == 0 {
                clean(&site.site).into_owned()
            } else {
                String::new()
            };
            let ft2 =
                |m2: Option<f64>| m2.map_or_else(|| NOT_KNOWN.to_owned(), |m2| area.number(m2));
            let plan = rig.plan.as_ref();
            let of_plan = |figure: &dyn Fn(&PlanSheet) -> Option<String>| {
                plan.and_then(figure)
                    .unwrap_or_else(|| NOT_KNOWN.to_owned())
            };
            let minutes = |s: Option<f64>| s.map(|s| format!("{:.1}", s / 60.0));
            rows.push(Row::Cells(vec![
                site_name,
                clean(&rig.rig).into_owned(),
                rig.reach_m2
                    .map_or_else(|| NOT_KNOWN.to_owned(), |m2| percent(m2 / site.area_m2)),
                ft2(hand_m2(rig)),
                ft2(rig.edge_strip_m2),
                ft2(rig.slivers_m2),
                of_plan(&|plan| Some(plan.lanes.to_string())),
                of_plan(&|plan| Some(length.number(plan.length_m))),
                of_plan(&|plan| minutes(plan.spraying_s)),
                of_plan(&|plan| minutes(plan.turning_s)),
                of_plan(&|plan| {
                    plan.overlap_m2
                        .zip(plan.treated_m2)
                        .map(|(twice, once)| percent(twice / once))
                }),
                of_plan(&|plan| rig.reach_m2.map(|reach_m2| percent(plan.gap_m2 / reach_m2))),
            ]));
        }
    }
    let headings = vec![
        "site",
        "rig",
        "reach",
        "hand",
        "edge strip",
        "slivers",
        "lanes",
        "length",
        "spray min",
        "turn min",
        "overlap",
        "gap",
    ];
    Table { headings, rows }
}

fn totals(sheet: &Sheet, units: Units) -> Vec<String> {
    let area_m2: f64 = sheet.sites.iter().map(|site| site.area_m2).sum();
    let mut lines = vec![format!(
        "In all: {}, {} ({}).",
        count(sheet.sites.len() as u64, "site", "sites"),
        units.area().text(area_m2),
        units.land().text(area_m2)
    )];
    let rigs = sheet.sites.first().map_or(0, |site| site.rigs.len());
    for index in 0..rigs {
        let own: Vec<&RigSheet> = sheet
            .sites
            .iter()
            .filter_map(|site| site.rigs.get(index))
            .collect();
        let plans: Vec<&PlanSheet> = own.iter().filter_map(|rig| rig.plan.as_ref()).collect();
        if plans.is_empty() {
            continue;
        }
        let reach_m2: f64 = own.iter().filter_map(|rig| rig.reach_m2).sum();
        let minutes = |s: Option<f64>| {
            s.map_or_else(|| NOT_KNOWN.to_owned(), |s| format!("{:.0} min", s / 60.0))
        };
        lines.push(format!(
            "Rig {}: reach {}, {}, {}, {} spraying, {} turning.",
            clean(&own[0].rig),
            units.area().text(reach_m2),
            count(
                plans.iter().map(|plan| plan.lanes as u64).sum(),
                "lane",
                "lanes"
            ),
            units
                .length()
                .text(plans.iter().map(|plan| plan.length_m).sum()),
            minutes(plans.iter().map(|plan| plan.spraying_s).sum()),
            minutes(plans.iter().map(|plan| plan.turning_s).sum()),
        ));
    }
    lines
}

/// What stopping earlier or later takes, all sites together.
fn stops(sheet: &Sheet) -> Vec<String> {
    let rigs = sheet.sites.first().map_or(0, |site| site.rigs.len());
    let mut lines = Vec::new();
    for index in 0..rigs {
        let mut by_share: BTreeMap<u32, (usize, f64, Option<f64>)> = BTreeMap::new();
        let own: Vec<&RigSheet> = sheet
            .sites
            .iter()
            .filter_map(|site| site.rigs.get(index))
            .collect();
        for stop in own
            .iter()
            .filter_map(|rig| rig.plan.as_ref())
            .flat_map(|plan| &plan.stops)
        {
            // Shares are 0.95, 0.97 and 0.99.
            let sums = by_share
                .entry((stop.share * 100.0).round() as u32)
                .or_insert((0, 0.0, Some(0.0)));
            sums.0 += stop.lanes;
            sums.1 += stop.length_m;
            sums.2 = sums.2.zip(stop.turning_s).map(|(a, b)| a + b);
        }
        let parts: Vec<String> = by_share
            .iter()
            .map(|(share, (lanes, _, turning_s))| {
                let turning = turning_s
                    .map_or_else(String::new, |s| format!(", {:.0} min turning", s / 60.0));
                format!(
                    "{share} % of the reach takes {}{turning}",
                    count(*lanes as u64, "lane", "lanes")
                )
            })
            .collect();
        if !parts.is_empty() {
            lines.push(format!(
                "Rig {}: stopping at {}.",
                clean(&own[0].rig),
                parts.join("; at ")
            ));
        }
    }
    lines
}

fn legend(sheet: &Sheet, units: Units) -> Vec<String> {
    let mut lines = vec![
        String::new(),
        format!(
            "Areas in {}, lengths in {}. reach: of the ground, under the boom at some place; gap: of the reach, left by \
             the plan with its sections as they switch; edge strip: within the clearance of curbs and objects, not \
             reached by boom; {} is not known.",
            units.area().label,
            units.length().label,
            NOT_KNOWN
        ),
    ];
    // Curbs are the same for every rig.
    let firsts = sheet.sites.iter().filter_map(|site| site.rigs.first());
    let strip_m: f64 = firsts.filter_map(|rig| rig.edge_strip_m).sum();
    if strip_m > 0.0 {
        lines.push(format!(
            "Edge strips run along {} of curb: people step from cars to the curb there.",
            units.length().text(strip_m)
        ));
    }
    let firsts = sheet.sites.iter().filter_map(|site| site.rigs.first());
    let walk_m: f64 = firsts.map(|rig| rig.hand_walk_m).sum();
    if walk_m > 0.0 {
        lines.push(format!(
            "Hand work includes {} of walks.",
            units.length().text(walk_m)
        ));
    }
    lines.extend(cars(sheet, units));
    lines
}

/// What parked cars are likely to take.
fn cars(sheet: &Sheet, units: Units) -> Option<String> {
    let known: Vec<f64> = sheet
        .sites
        .iter()
        .filter_map(|site| site.cars_expected_m2)
        .collect();
    (!known.is_empty()).then(|| {
        format!(
            "Cars are likely to stand on {} of stalls; rows at least half full are driven around and in no plan.",
            units.area().text(known.iter().sum())
        )
    })
}

/// Assumptions by the sites that share them, remarks, missing keys, long hoses.
fn notes(sheet: &Sheet, units: Units) -> Vec<String> {
    let mut lines = Vec::new();
    let mut assumed: Vec<(&str, Vec<&str>)> = Vec::new();
    for site in &sheet.sites {
        for clause in &site.assumed {
            match assumed.iter_mut().find(|known| known.0 == clause) {
                Some(known) => known.1.push(&site.site),
                None => assumed.push((clause, vec![&site.site])),
            }
        }
    }
    for (clause, sites) in assumed {
        let of = if sites.len() == sheet.sites.len() {
            "all sites".to_owned()
        } else {
            named(&sites)
        };
        lines.push(format!("Assumed: {} ({of}).", clean(clause)));
    }
    let missing: Vec<&String> = sheet
        .sites
        .first()
        .into_iter()
        .flat_map(|site| &site.rigs)
        .flat_map(|rig| &rig.missing)
        .collect();
    if !missing.is_empty() {
        let mut keys: Vec<&str> = missing.iter().map(|key| key.as_str()).collect();
        keys.sort_unstable();
        keys.dedup();
        lines.push(format!(
            "Left out, for want of keys in the fleet file: {}.",
            keys.join(", ")
        ));
    }
    for site in &sheet.sites {
        for remark in &site.remarks {
            lines.push(format!("Site {}: {}.", clean(&site.site), clean(remark)));
        }
        lines.extend(long_hoses(sheet, site, units));
    }
    lines
}

fn long_hoses(sheet: &Sheet, site: &SiteSheet, units: Units) -> Option<String> {
    let own_m = sheet.settings.hose_m?;
    let needed_m = site.rigs.iter().filter_map(hose_m).max_by(f64::total_cmp)?;
    (needed_m > own_m).then(|| {
        format!(
            "Site {}: hand work lies {} from where a rig can stand; the hose has {}.",
            clean(&site.site),
            units.length().text(needed_m),
            units.length().text(own_m)
        )
    })
}

/// Up to five names, then how many more.
fn named(sites: &[&str]) -> String {
    /// So many are named, the first ones (layout).
    const SHOWN: usize = 5;
    let shown: Vec<String> = sites
        .iter()
        .take(SHOWN)
        .map(|site| clean(site).into_owned())
        .collect();
    match sites.len().saturating_sub(SHOWN) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}
