//! `measure.html`: a sheet for each lot to bid with and to walk it with, for paper and for a phone. One file that asks for
//! nothing else and runs no script.

mod figures;

use super::{choice, own_words, words};
use crate::geometry::overlay::Region;
use crate::geometry::plane::{Plane, Xy};
use crate::ground::Site;
use crate::measure::Measured;
use crate::measure::cost_sheet::{CostSheet, KindSheet, Sums};
use crate::measure::sheet::{RigSheet, Sheet, SiteSheet};
use crate::notation::clean::clean;
use crate::notation::names::capital;
use crate::notation::numbers::{NOT_KNOWN, Units, count, grouped};
use crate::report::drawing::lot::{LOT_STYLE, Lot, LotLane, letter, lot};
use crate::report::drawing::{self, Drawing};
use crate::report::html::paper;
use askama::Template;
use figures::{Row, rows};
use rayon::prelude::*;

/// The whole page.
#[derive(Template)]
#[template(path = "sheet.html", config = "src/measure/report/askama.toml")]
struct Page {
    head: String,
    cautions: Vec<&'static str>,
    nights: Vec<String>,
    own: Vec<String>,
    driven: Vec<String>,
    blocks: Vec<Block>,
    keys: Vec<Key>,
    rate_unit: String,
    patterns: String,
    plan_style: &'static str,
    lot_style: &'static str,
}

/// One lot.
struct Block {
    name: String,
    ground: String,
    amount: Option<String>,
    amount_is: &'static str,
    summary: Vec<String>,
    plan: String,
    under_plan: String,
    choice: Vec<String>,
    fits: String,
    rigs: Vec<String>,
    rows: Vec<Row>,
    kinds: Vec<Row>,
    hand: Vec<Row>,
    salts: Vec<Row>,
    assumed: Vec<String>,
    remarks: Vec<String>,
}

/// An entry of the key.
struct Key {
    mark: &'static str,
    words: &'static str,
}

const KEYS: [Key; 9] = [
    Key {
        mark: r#"<path class="cu" d="M0 15h48"/>"#,
        words: "taken as a curb",
    },
    Key {
        mark: r#"<path class="la" d="M0 15h48"/><path class="ar" d="M30 15l-10-6v12z"/>"#,
        words: "lane, the way it is driven, its number at its beginning",
    },
    Key {
        mark: r#"<path class="la ed" d="M0 15h48"/>"#,
        words: "lane along an edge",
    },
    Key {
        mark: r#"<path class="hw h" d="M0 0h48v30h-48z"/>"#,
        words: "hand work, with its letter",
    },
    Key {
        mark: r#"<path class="es" d="M0 0h48v30h-48z"/>"#,
        words: "edge strip: not reached by the boom",
    },
    Key {
        mark: r#"<path class="lg" d="M3 3h42v24h-42z"/>"#,
        words: "left by the plan",
    },
    Key {
        mark: r#"<path class="k" d="M0 0h48v30h-48z"/>"#,
        words: "keep off",
    },
    Key {
        mark: r#"<path class="ob" d="M14 5h20v20h-20z"/>"#,
        words: "stands in the way",
    },
    Key {
        mark: r#"<g class="ts"><path d="M24 27l10-20h-20z"/></g>"#,
        words: "the tank runs out",
    },
];

/// The bytes of `measure.html`.
///
/// # Panics
/// Never: the template writes to memory.
#[must_use]
pub fn render(measured: &Measured, units: Units) -> Vec<u8> {
    let sheet = &measured.sheet;
    let drawn: Vec<(Block, usize)> = sheet
        .sites
        .par_iter()
        .zip(&measured.sites)
        .map(|(of, site)| block(of, site, sheet, units))
        .collect();
    let scales: Vec<usize> = drawn.iter().map(|(_, scale)| *scale).collect();
    let area_m2: f64 = sheet.sites.iter().map(|site| site.area_m2).sum();
    let own = sheet.own.as_ref();
    let page = Page {
        head: format!(
            "{}, {}. Lanes, times and sums below are a plan made from the drawn outlines and the settings of the fleet file.",
            count(sheet.sites.len() as u64, "lot", "lots"),
            area(area_m2, units)
        ),
        cautions: super::cautions(sheet),
        nights: sheet
            .nights
            .iter()
            .flat_map(|night| words::night(night, sheet, units))
            .map(paper)
            .collect(),
        own: own.map_or_else(Vec::new, |own| own_words::fleet_lines(own, units)),
        driven: own.map_or_else(Vec::new, |own| {
            let driven = own.driven.iter();
            driven.map(|of| own_words::driven(of, units)).collect()
        }),
        blocks: drawn.into_iter().map(|(block, _)| block).collect(),
        keys: KEYS.into(),
        rate_unit: paper(units.default_rate().measure().label.to_owned()),
        patterns: drawing::patterns(&scales),
        plan_style: drawing::STYLE,
        lot_style: LOT_STYLE,
    };
    page.render()
        .expect("writing to memory cannot fail")
        .into_bytes()
}

/// Area with acres beside it.
fn area(m2: f64, units: Units) -> String {
    paper(format!(
        "{} ({})",
        units.area().text(m2),
        units.land().text(m2)
    ))
}

fn block(of: &SiteSheet, site: &Site, sheet: &Sheet, units: Units) -> (Block, usize) {
    let best = choice::fitting(of).unwrap_or(0);
    let rig = &of.rigs[best];
    let name = match &of.name {
        Some(name) => format!("{} ({})", clean(&of.site), clean(name)),
        None => clean(&of.site).into_owned(),
    };
    let plan = plan(of, rig, site, &name, units);
    let cost = rig.cost.as_ref();
    let currency = sheet.settings.costs.currency.as_deref();
    let amount = cost.and_then(|cost| cost.application.amount).map(|amount| {
        let is = cost.map_or("", |cost| words::amount_is(&cost.application));
        let sum = words::range(&amount, |sum| words::money(sum, currency));
        format!("One treatment: {is} {sum}, rig {}", clean(&rig.rig))
    });
    let scale = plan.scale;
    let block = Block {
        ground: ground(of, units),
        amount,
        amount_is: cost.map_or("", |cost| {
            if cost.application.price.is_some() {
                "price"
            } else {
                "direct cost"
            }
        }),
        summary: cost.map_or_else(Vec::new, |cost| summary(cost, rig, sheet, units)),
        under_plan: under_plan(rig, &plan, units),
        plan: plan.svg,
        choice: choice::choice(of, sheet, units)
            .into_iter()
            .map(paper)
            .collect(),
        fits: clean(&rig.rig).into_owned(),
        rigs: of
            .rigs
            .iter()
            .map(|rig| clean(&rig.rig).into_owned())
            .collect(),
        rows: rows(of, sheet, units),
        kinds: cost.map_or_else(Vec::new, |cost| kinds(cost, sheet, units)),
        hand: hand(rig, units),
        salts: cost.map_or_else(Vec::new, |cost| salts(cost, sheet, units)),
        assumed: assumed(of, cost),
        remarks: remarks(of, cost),
        name,
    };
    (block, scale)
}

fn ground(of: &SiteSheet, units: Units) -> String {
    let mut text = area(of.area_m2, units);
    if let Some(error_m2) = of.area_error_m2 {
        text += &paper(format!(", give or take {}", units.area().text(error_m2)));
    }
    if let Some(m2) = super::csv::contract_m2(of) {
        text += &paper(format!("; the contract says {}", units.area().text(m2)));
    }
    match &of.client {
        Some(client) => format!("{}: {text}.", clean(client)),
        None => text + ".",
    }
}

/// What makes the range, and what an earlier end of the plan saves.
fn summary(cost: &CostSheet, rig: &RigSheet, sheet: &Sheet, units: Units) -> Vec<String> {
    let of = &cost.application;
    let mut lines = Vec::new();
    let mut parts = Vec::new();
    parts.extend(of.total_s.map(|s| format!("time {}", words::durations(&s))));
    parts.extend(
        of.liquid_l
            .map(|litres| format!("liquid {}", words::quantities(&litres, &units.volume()))),
    );
    parts.extend(
        of.loads
            .map(|loads| format!("loads {}", words::range(&loads, words::loads))),
    );
    if !parts.is_empty() {
        lines.push(format!(
            "{}. The outer figures are each passed one time in ten.",
            capital(&parts.join("; "))
        ));
    }
    let reasons = words::reasons(of, sheet);
    if !reasons.is_empty() {
        lines.push(format!("What moves it most: {}.", reasons.join("; ")));
    }
    if of.flow_binds {
        lines.push(format!("{}.", capital(&words::flow_limit(of, rig, units))));
    }
    let early = cost
        .stops
        .iter()
        .find(|stop| (stop.share - 0.95).abs() < 1e-9);
    lines.extend(
        early
            .and_then(|stop| words::saving(stop, sheet, units))
            .map(|saving| format!("{saving}.")),
    );
    if !cost.left_out.is_empty() {
        lines.push(format!(
            "Not in these figures, for want of keys in the fleet file: {}.",
            cost.left_out.join(", ")
        ));
    }
    lines
}

/// What cannot be said on the drawing itself.
fn under_plan(rig: &RigSheet, plan: &Drawing, units: Units) -> String {
    let mut text = match &rig.plan {
        Some(lanes) => format!(
            "Drive plan of {}: {}, {}.",
            clean(&rig.rig),
            count(lanes.lanes as u64, "lane", "lanes"),
            units.length().text(lanes.length_m)
        ),
        None => format!("No drive plan for {}.", clean(&rig.rig)),
    };
    for (at, name) in &plan.letters {
        text += &format!(" {at}: {}.", clean(name));
    }
    for (index, stop) in rig
        .cost
        .iter()
        .flat_map(|cost| &cost.tank_stops)
        .enumerate()
    {
        text += &format!(
            " Tank {} runs out in lane {} after {}.",
            index + 1,
            stop.lane,
            units.length().text(stop.along_m)
        );
    }
    text
}

fn plan(of: &SiteSheet, rig: &RigSheet, site: &Site, name: &str, units: Units) -> Drawing {
    let plane = &site.plane;
    let place = |place| plane.to_xy(place);
    let driven = rig.plan.iter().flat_map(|plan| &plan.driven);
    let title = format!(
        "Plan of {name}: {} to treat; {} of {}, {} of hand work.",
        area(of.area_m2, units),
        count(
            rig.plan.as_ref().map_or(0, |plan| plan.lanes) as u64,
            "lane",
            "lanes"
        ),
        clean(&rig.rig),
        count(rig.hand.len() as u64, "piece", "pieces"),
    );
    let stops = rig.cost.iter().flat_map(|cost| &cost.tank_stops);
    let what = Lot {
        site,
        lanes: driven
            .map(|driven| LotLane {
                line: driven.line.iter().filter_map(|&at| place(at)).collect(),
                edge_pass: driven.lane.edge_pass,
            })
            .collect(),
        hand: rig
            .shapes
            .hand
            .iter()
            .map(|shape| on_plane(shape, plane))
            .collect(),
        edge_strip: on_plane(&rig.shapes.edge_strip, plane),
        gap: on_plane(&rig.shapes.gap, plane),
        curbs: of.shapes.curbs.clone(),
        objects: of.shapes.objects.clone(),
        tank_stops: stops.filter_map(|stop| place(stop.place)).collect(),
    };
    lot(&what, &drawing::escaped(&title), units)
}

/// Polygons of a map back on the plane.
fn on_plane(shape: &geo::MultiPolygon<f64>, plane: &Plane) -> Region {
    let rings: Vec<Vec<Xy>> = shape
        .iter()
        .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()))
        .map(|ring| {
            let places = ring.coords().map(|at| crate::geometry::place::LonLat {
                lon_deg: at.x,
                lat_deg: at.y,
            });
            places.filter_map(|place| plane.to_xy(place)).collect()
        })
        .collect();
    Region::union_of_positive(rings.iter().map(Vec::as_slice))
}

fn kinds(cost: &CostSheet, sheet: &Sheet, units: Units) -> Vec<Row> {
    let Some(event) = &cost.event else {
        return Vec::new();
    };
    let times = |number: f64| grouped(number, if number.fract().abs() < 1e-9 { 0 } else { 1 });
    let mut rows: Vec<Row> = event
        .kinds
        .iter()
        .map(|kind| of_kind(kind, &times, sheet, units))
        .collect();
    let sums = |label: &str, number: String, of: &Sums| Row {
        label: label.to_owned(),
        cells: [number, String::new()]
            .into_iter()
            .chain(figures::sums(of, sheet, units))
            .collect(),
        sum: true,
        head: false,
    };
    rows.push(sums("one storm", "1".to_owned(), &event.sums));
    if let Some(season) = &cost.season {
        rows.push(sums(
            "season",
            words::range(&season.storms, times),
            &season.sums,
        ));
    }
    rows
}

fn of_kind(kind: &KindSheet, times: &dyn Fn(f64) -> String, sheet: &Sheet, units: Units) -> Row {
    let rate = kind.target_ml_m2.map_or_else(
        || NOT_KNOWN.to_owned(),
        |target| units.default_rate().measure().number(target),
    );
    Row {
        label: kind.name.to_owned(),
        cells: [words::range(&kind.count, times), rate]
            .into_iter()
            .chain(figures::sums(&kind.once, sheet, units))
            .collect(),
        sum: false,
        head: false,
    }
}

fn hand(rig: &RigSheet, units: Units) -> Vec<Row> {
    rig.hand
        .iter()
        .enumerate()
        .map(|(index, hand)| Row {
            label: letter(index),
            cells: vec![
                if hand.hand_zone {
                    "done by hand anyhow"
                } else if hand.left_by_plan {
                    "the plan ends before it is done"
                } else {
                    "the boom does not get there"
                }
                .to_owned(),
                paper(units.area().text(hand.area_m2)),
                hand.hose_m
                    .map_or_else(|| "no way".to_owned(), |m| units.length().text(m)),
            ],
            sum: false,
            head: false,
        })
        .collect()
}

fn salts(cost: &CostSheet, sheet: &Sheet, units: Units) -> Vec<Row> {
    let currency = sheet.settings.costs.currency.as_deref();
    let known = |text: Option<String>| text.unwrap_or_else(|| NOT_KNOWN.to_owned());
    // One product alone is compared with nothing.
    if cost.application.equal_salt.len() < 2 {
        return Vec::new();
    }
    cost.application
        .equal_salt
        .iter()
        .map(|salt| Row {
            label: clean(&salt.product).into_owned(),
            cells: vec![
                units.volume().text(salt.liquid_l),
                known(salt.money.map(|sum| words::money(sum, currency))),
                known(salt.chloride_kg.map(|kg| figures::mass(kg, units))),
            ],
            sum: false,
            head: false,
        })
        .collect()
}

/// What a bare polygon and a bare fleet file do not say.
fn assumed(of: &SiteSheet, cost: Option<&CostSheet>) -> Vec<String> {
    let ground = of.assumed.iter().map(|clause| clean(clause).into_owned());
    let costs = cost.into_iter().flat_map(|cost| &cost.assumed);
    ground
        .chain(costs.map(|clause| (*clause).to_owned()))
        .map(|clause| format!("{}.", capital(&clause)))
        .collect()
}

fn remarks(of: &SiteSheet, cost: Option<&CostSheet>) -> Vec<String> {
    let mut lines: Vec<String> = of
        .remarks
        .iter()
        .map(|remark| format!("{}.", capital(&clean(remark))))
        .collect();
    if let Some(share) = cost.and_then(|cost| cost.application.field_efficiency) {
        lines.push(format!(
            "Field efficiency {share:.2}: the time that boom and speed alone would take, over the rig's time on site. Small lots \
             have 0.2 to 0.4, large fields about 0.65; a rate per hour learned on large ones prices small lots too low."
        ));
    }
    lines
}
