//! Holds an audit against the truth.
//!
//! Truly bare ground: cells of a walk, drive or lot treated by boom with under a quarter of the target, farther than 1 m
//! from the zone's line, opened by half a metre. A patch truly holds what of it lies within 1 m + 2 s of its polygon and
//! nearest to it (s: true deviation of one axis of the position).

use std::collections::{HashMap, VecDeque};
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::grid::Grid;
use crate::ground::{CELL_M, Use};
use crate::night::Night;
use crate::plane::P;
use crate::pump::TREATED_SHARE;

/// Smallest patch that counts.
pub(crate) const SMALLEST_M2: f64 = 10.0;
/// From this probability on a patch makes a finding, by the formats page.
const LOOK: f64 = 0.5;
/// From this one on somebody may be sent for it.
const LIKELY: f64 = 0.75;
const EDGE_M: f64 = 1.0;
const OPENING_M: f64 = 0.5;

/// A finding and whether the truth bears it out; `None`: the truth has no say.
pub(crate) struct Judged {
    pub(crate) code: String,
    pub(crate) severity: String,
    pub(crate) site: String,
    pub(crate) rig: String,
    pub(crate) text: String,
    pub(crate) figure: Option<f64>,
    /// Numbers of the sections that it names.
    pub(crate) sections: Vec<usize>,
    pub(crate) holds: Option<bool>,
}

/// A patch and what it truly holds.
#[derive(Clone, Serialize, Deserialize)]
pub(crate) struct Patch {
    pub(crate) site: usize,
    pub(crate) zone: String,
    pub(crate) cause: String,
    /// The audit leans a finding on it.
    pub(crate) sure: bool,
    pub(crate) area_m2: f64,
    pub(crate) probability: Option<f64>,
    pub(crate) interval_m2: Option<(f64, f64)>,
    pub(crate) true_m2: f64,
}

/// True state of a site.
pub(crate) struct Bare {
    /// Truly bare ground, opened, inside the edge.
    pub(crate) cells: Grid<bool>,
    /// Number of the patch plus one that a cell belongs to.
    pub(crate) label: Grid<u16>,
}

/// An audit held against its night.
pub(crate) struct Verdict {
    pub(crate) findings: Vec<Judged>,
    pub(crate) patches: Vec<Patch>,
    pub(crate) bare: Vec<Bare>,
    /// Orders said to be done in part or not at all whose ground is treated.
    pub(crate) orders_wrong: usize,
}

/// Reads an audit and judges it.
pub(crate) fn judge(night: &Night, out: &Path) -> Result<Verdict, String> {
    let read = |name: &str| -> Result<Value, String> {
        let text = std::fs::read_to_string(out.join(name)).map_err(|e| format!("{name}: {e}"))?;
        serde_json::from_str(&text).map_err(|e| format!("{name}: {e}"))
    };
    let (audit, coverage) = (read("audit.json")?, read("coverage.geojson")?);
    let mut bare: Vec<Bare> = (0..night.sites.len())
        .map(|s| truly_bare(night, s))
        .collect();
    let patches = patches(night, &audit, &coverage, &mut bare);
    let findings = list(&audit, "findings")
        .map(|f| finding(night, f, &patches))
        .collect();
    let orders_wrong = list(&audit, "orders")
        .filter(|o| order_is_wrong(night, o))
        .count();
    Ok(Verdict {
        findings,
        patches,
        bare,
        orders_wrong,
    })
}

fn list<'a>(value: &'a Value, key: &str) -> impl Iterator<Item = &'a Value> {
    value[key].as_array().into_iter().flatten()
}

fn text(value: &Value, key: &str) -> String {
    value[key].as_str().unwrap_or_default().to_owned()
}

fn site_number(night: &Night, value: &Value) -> Option<usize> {
    let id = value["site"].as_str()?;
    night.sites.iter().position(|s| s.id == id)
}

fn truly_bare(night: &Night, number: usize) -> Bare {
    let (site, truth) = (&night.sites[number], &night.truths[number]);
    let least = (TREATED_SHARE * night.target_ml_m2) as f32;
    let mut all = site.zone_at.like(false);
    for (z, zone) in site.zones.iter().enumerate() {
        if zone.kind == Use::KeepOff || zone.by_hand {
            continue;
        }
        let mut own = site.zone_at.like(false);
        site.zone_cells(z).for_each(|c| own.cells[c] = true);
        let core = own.shrunk((EDGE_M / CELL_M).round() as usize);
        // Wide enough before the edge is taken off, as the formats page has it.
        let mut bare = own;
        for (cell, dose) in bare.cells.iter_mut().zip(&truth.dose.cells) {
            *cell = *cell && *dose < least;
        }
        let radius = (OPENING_M / CELL_M).round() as usize;
        let opened = bare.shrunk(radius).grown(radius);
        for (cell, set) in opened.cells.iter().enumerate() {
            all.cells[cell] |= *set && core.cells[cell];
        }
    }
    Bare {
        label: all.like(0),
        cells: all,
    }
}

/// Patches of each site's last application, with the ground that is truly bare about them.
fn patches(night: &Night, audit: &Value, coverage: &Value, bare: &mut [Bare]) -> Vec<Patch> {
    let mut last: HashMap<usize, u64> = HashMap::new();
    for feature in list(coverage, "features") {
        let properties = &feature["properties"];
        if let (Some(site), Some(number)) = (
            site_number(night, properties),
            properties["application"].as_u64(),
        ) {
            let newest = last.entry(site).or_insert(number);
            *newest = number.max(*newest);
        }
    }
    let mut found = Vec::new();
    for feature in list(coverage, "features").filter(|f| f["properties"]["kind"] == "patch") {
        let properties = &feature["properties"];
        let Some(site) = site_number(night, properties) else {
            continue;
        };
        if properties["application"].as_u64() != last.get(&site).copied() {
            continue;
        }
        let listed = patch_in_audit(audit, properties);
        let either = |key: &str| {
            properties[key]
                .as_f64()
                .or_else(|| listed.and_then(|l| l[key].as_f64()))
        };
        let probability = either("probability");
        let unsure = properties["unsure"].as_bool().unwrap_or(false);
        let rings = rings(night, site, &feature["geometry"]);
        let parts: Vec<&[P]> = rings.iter().map(Vec::as_slice).collect();
        let label = found.len() as u16 + 1;
        for cell in bare[site].label.inside(&parts) {
            bare[site].label.cells[cell] = label;
        }
        // the part inside the edge, and from 10 m2 on, as the formats page has it for a trip
        let area_m2 = either("core_m2")
            .or_else(|| either("area_m2"))
            .unwrap_or(0.0);
        found.push(Patch {
            site,
            zone: text(properties, "zone"),
            cause: text(properties, "cause"),
            sure: !unsure && probability.is_none_or(|p| p >= LOOK) && area_m2 >= SMALLEST_M2,
            area_m2,
            probability,
            interval_m2: either("area_low_m2").zip(either("area_high_m2")),
            true_m2: 0.0,
        });
    }
    let within_m = night
        .works
        .iter()
        .map(|w| w.rig.receiver.within_m)
        .fold(0.0, f64::max);
    for site in bare {
        spread_labels(&mut site.label, 1.0 + 2.0 * within_m / 2.4477);
        let area = site.cells.cell_m2();
        for (cell, label) in site.label.cells.iter().enumerate() {
            if *label > 0 && site.cells.cells[cell] {
                found[*label as usize - 1].true_m2 += area;
            }
        }
    }
    found
}

fn patch_in_audit<'a>(audit: &'a Value, properties: &Value) -> Option<&'a Value> {
    let site = list(audit, "sites").find(|s| s["site"] == properties["site"])?;
    let application =
        list(site, "applications").find(|a| a["number"] == properties["application"])?;
    let zone = list(application, "zones").find(|z| z["zone"] == properties["zone"])?;
    list(zone, "patches").nth(properties["patch"].as_u64()?.checked_sub(1)? as usize)
}

/// Rings of a MultiPolygon in the site's frame.
fn rings(night: &Night, site: usize, geometry: &Value) -> Vec<Vec<P>> {
    let polygons = geometry["coordinates"].as_array().into_iter().flatten();
    polygons
        .flat_map(|polygon| polygon.as_array().into_iter().flatten())
        .map(|ring| {
            let points = ring.as_array().into_iter().flatten();
            let mut points: Vec<P> = points
                .filter_map(|p| {
                    Some(
                        night.sites[site]
                            .frame
                            .back(night.plane.metres(p[0].as_f64()?, p[1].as_f64()?)),
                    )
                })
                .collect();
            points.pop();
            points
        })
        .collect()
}

/// Every label spreads by `reach_m`, nearest first (steps to eight neighbours).
fn spread_labels(label: &mut Grid<u16>, reach_m: f64) {
    let steps = (reach_m / label.cell_m).round() as u32;
    let mut queue: VecDeque<(usize, u32)> = label
        .cells
        .iter()
        .enumerate()
        .filter(|c| *c.1 > 0)
        .map(|c| (c.0, 0))
        .collect();
    while let Some((cell, step)) = queue.pop_front() {
        if step == steps {
            continue;
        }
        let (row, column) = (cell / label.columns, cell % label.columns);
        for r in row.saturating_sub(1)..=(row + 1).min(label.rows - 1) {
            for c in column.saturating_sub(1)..=(column + 1).min(label.columns - 1) {
                let near = r * label.columns + c;
                if label.cells[near] == 0 {
                    label.cells[near] = label.cells[cell];
                    queue.push_back((near, step + 1));
                }
            }
        }
    }
}

fn order_is_wrong(night: &Night, order: &Value) -> bool {
    let refused = ["in_part", "not_done", "outside_logs"]
        .iter()
        .any(|s| order["status"] == *s);
    refused && site_number(night, order).is_some_and(|s| ground_share(night, s, None) >= 0.95)
}

/// Treated share of what was meant to be treated on a site.
pub(crate) fn meant_share(night: &Night, site: usize) -> f64 {
    let least = (TREATED_SHARE * night.target_ml_m2) as f32;
    share(
        night,
        site,
        |cell| night.sites[site].meant.cells[cell],
        |dose| dose >= least,
    )
}

/// Treated share of a zone, or of all ground of a site that a boom is to treat, forgotten corners and parked cars included.
fn ground_share(night: &Night, s: usize, zone: Option<usize>) -> f64 {
    let site = &night.sites[s];
    let least = (TREATED_SHARE * night.target_ml_m2) as f32;
    let of = |cell: usize| {
        let number = usize::from(site.zone_at.cells[cell]);
        let wanted = |z: usize| site.zones[z].kind != Use::KeepOff && !site.zones[z].by_hand;
        number > 0 && zone.map_or_else(|| wanted(number - 1), |z| z + 1 == number)
    };
    share(night, s, of, |dose| dose >= least)
}

/// Share of some cells whose dose is as asked.
pub(crate) fn share(
    night: &Night,
    site: usize,
    of: impl Fn(usize) -> bool,
    asked: impl Fn(f32) -> bool,
) -> f64 {
    let (mut all, mut some) = (0u64, 0u64);
    for (cell, dose) in night.truths[site].dose.cells.iter().enumerate() {
        if of(cell) {
            all += 1;
            some += u64::from(asked(*dose));
        }
    }
    some as f64 / all.max(1) as f64
}

fn finding(night: &Night, value: &Value, patches: &[Patch]) -> Judged {
    let code = text(value, "code");
    let zone_id = value["zone"].as_str();
    let site = site_number(night, value);
    let zone = site.and_then(|s| {
        night.sites[s]
            .zones
            .iter()
            .position(|z| Some(z.id.as_str()) == zone_id)
    });
    let limit = value["limit"].as_f64();
    Judged {
        holds: match code.as_str() {
            "bare_patch" => Some(is_bare(value, site, zone_id, patches)),
            _ => holds(night, &code, site, zone, limit),
        },
        severity: text(value, "severity"),
        site: text(value, "site"),
        rig: text(value, "rig"),
        text: text(value, "text"),
        figure: value["figure"].as_f64(),
        sections: list(value, "sections")
            .filter_map(|number| Some(number.as_u64()? as usize))
            .collect(),
        code,
    }
}

/// Whether a patch of those that a finding is about is truly bare: likely ones, or those only more likely bare than not.
fn is_bare(value: &Value, site: Option<usize>, zone: Option<&str>, patches: &[Patch]) -> bool {
    let perhaps = text(value, "text").contains("perhaps bare");
    patches.iter().any(|p| {
        let is_likely = p.probability.is_none_or(|p| p >= LIKELY);
        Some(p.site) == site
            && zone.is_none_or(|z| z == p.zone)
            && p.sure
            && is_likely != perhaps
            && p.true_m2 >= SMALLEST_M2
    })
}

fn holds(
    night: &Night,
    code: &str,
    site: Option<usize>,
    zone: Option<usize>,
    limit: Option<f64>,
) -> Option<bool> {
    use crate::classes::Class;
    let least = (TREATED_SHARE * night.target_ml_m2) as f32;
    let target = night.target_ml_m2 as f32;
    let in_zone =
        |s: usize, c: usize| zone.is_none_or(|z| night.sites[s].zone_at.cells[c] as usize == z + 1);
    match code {
        "thin_cover" => {
            let (s, limit) = (site?, limit?);
            let mut own = night.sites[s].zone_at.like(false);
            night.sites[s]
                .zone_cells(zone?)
                .for_each(|c| own.cells[c] = true);
            let core = own.shrunk((EDGE_M / CELL_M).round() as usize);
            Some(share(night, s, |c| core.cells[c], |d| d >= least) < limit)
        }
        "not_done" => Some(ground_share(night, site?, zone) < 0.5),
        "not_ordered" => Some(!night.orders.contains(&site?)),
        "keep_off_wet" => {
            let s = site?;
            let is_off = |c: usize| {
                night.sites[s].zone_at.cells[c] > 0
                    && night.sites[s].zones[night.sites[s].zone_at.cells[c] as usize - 1].kind
                        == Use::KeepOff
            };
            let wet = (0..night.truths[s].dose.cells.len())
                .filter(|c| is_off(*c) && night.truths[s].dose.cells[*c] >= least)
                .count();
            Some(wet as f64 * CELL_M * CELL_M >= 4.6)
        }
        "off_rate" => {
            let (truth, z) = (&night.truths[site?], zone? + 1);
            let rate_ml_m2 =
                1000.0 * truth.litres[z] / (truth.swept[z].max(1) as f64 * CELL_M * CELL_M);
            Some((rate_ml_m2 / night.target_ml_m2 - 1.0).abs() > 0.08)
        }
        "uneven" => {
            let s = site?;
            let wet = |c: usize| in_zone(s, c) && night.truths[s].dose.cells[c] >= 0.05 * target;
            Some(
                share(night, s, wet, |d| d < 0.5 * target) > 0.1
                    || share(night, s, wet, |d| d > 2.2 * target) > 0.05,
            )
        }
        "dry_run" => Some(matches!(night.class, Class::Dry | Class::SlowValve)),
        "slow_start" => Some(night.class == Class::SlowValve),
        "closed_flow" | "parked_flow" | "perhaps_leaked" => {
            Some(matches!(night.class, Class::Leak | Class::LeakTicks))
        }
        "outside_time" | "clock_apart" => {
            Some(matches!(night.class, Class::PoorLocal | Class::PoorOffset))
        }
        "order_in_part" => Some(ground_share(night, site?, zone) < 0.95),
        "doubled" => Some(false),
        "gear_unsure" | "clock_odd" => Some(night.class.kind() == crate::classes::Kind::PoorLog),
        "late" => Some(false),
        "dropout_nearby" => night
            .works
            .iter()
            .any(|w| !w.silences.is_empty())
            .then_some(true),
        _ => None,
    }
}
