//! `services.csv`: a row an application, for whoever books services. One row without an application says that none is in
//! the logs.

use super::document::Record;
use super::figures::{ApplicationFigures, VisitFigures};
use crate::geometry::place::Instant;
use crate::notation::style::Style;
use crate::report::csv::Columns;

/// Name of the file in a record.
pub const FILE: &str = "data/services.csv";

struct Row {
    site: String,
    order: String,
    service: String,
    arrive: Option<Instant>,
    depart: Option<Instant>,
    start: Option<Instant>,
    end: Option<Instant>,
    products: String,
    volume_l: Option<f64>,
    area_m2: f64,
    liquid_m2: Option<f64>,
    issued: String,
}

/// The bytes of `services.csv`.
#[must_use]
pub fn render(record: &Record) -> Vec<u8> {
    let applications = record.figures.applications.iter();
    let mut rows: Vec<Row> = applications.map(|of| row(record, of)).collect();
    if rows.is_empty() {
        rows.push(none(record));
    }
    columns(&record.style()).write(rows)
}

fn row(record: &Record, of: &ApplicationFigures) -> Row {
    let orders = record.figures.orders.iter();
    let own: Vec<_> = orders
        .filter(|order| order.application == Some(of.number))
        .collect();
    let each = |text: fn(&super::figures::OrderFigures) -> Option<String>| {
        let mut texts: Vec<String> = own.iter().filter_map(|order| text(order)).collect();
        texts.dedup();
        texts.join("; ")
    };
    let judged = of.zones.iter().filter(|zone| zone.liquid_m2.is_some());
    Row {
        order: each(|order| order.order.clone()),
        service: each(|order| order.service.clone()),
        arrive: of.visits.iter().map(|visit| visit.arrive).min(),
        depart: of.visits.iter().map(|visit| visit.depart).max(),
        start: Some(of.start),
        end: Some(of.end),
        products: products(&of.visits).join("; "),
        volume_l: of.zones.iter().map(|zone| zone.volume_l).sum(),
        area_m2: judged.clone().map(|zone| zone.area_m2).sum(),
        liquid_m2: judged.map(|zone| zone.liquid_m2).sum(),
        ..none(record)
    }
}

fn none(record: &Record) -> Row {
    Row {
        site: record.site.clone(),
        order: String::new(),
        service: String::new(),
        arrive: None,
        depart: None,
        start: None,
        end: None,
        products: String::new(),
        volume_l: None,
        area_m2: record.figures.area_m2,
        liquid_m2: None,
        issued: record.issued.clone(),
    }
}

/// Names of the products of some visits, in order of first use.
pub(super) fn products(visits: &[VisitFigures]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for product in visits.iter().flat_map(|visit| &visit.products) {
        if let Some(name) = product
            .product
            .as_ref()
            .filter(|name| !names.contains(name))
        {
            names.push(name.clone());
        }
    }
    names
}

fn columns(style: &Style) -> Columns<Row> {
    let mut columns = Columns::<Row>::new();
    columns.text("site", |row| row.site.clone());
    columns.text("order", |row| row.order.clone());
    columns.text("service", |row| row.service.clone());
    columns.time("arrive", style, |row| row.arrive);
    columns.time("depart", style, |row| row.depart);
    columns.time("first_liquid", style, |row| row.start);
    columns.time("last_liquid", style, |row| row.end);
    columns.text("product", |row| row.products.clone());
    columns.quantity("volume", style.units.volume(), |row| row.volume_l);
    columns.quantity("area", style.units.area(), |row| Some(row.area_m2));
    columns.quantity("liquid_logged", style.units.area(), |row| row.liquid_m2);
    columns.text("issued", |row| row.issued.clone());
    columns
}
