//! `visits.csv`: a row for every visit of a rig to a site.

use super::Columns;
use crate::notation::style::Style;
use crate::report::json::word;
use crate::result::{self, Audit};

struct Row<'a> {
    site: &'a result::Site,
    application: Option<&'a result::Application>,
    visit: &'a result::Visit,
}

/// The bytes of `visits.csv`: site by site, the visits of its applications first.
#[must_use]
pub fn render(audit: &Audit, style: &Style) -> Vec<u8> {
    let rows = audit.sites.iter().flat_map(|site| {
        let treating = site.applications.iter().flat_map(move |application| {
            let application_of = Some(application);
            application.visits.iter().map(move |visit| Row {
                site,
                application: application_of,
                visit,
            })
        });
        let other = site.other_visits.iter().map(move |visit| Row {
            site,
            application: None,
            visit,
        });
        treating.chain(other)
    });
    columns(style).write(rows)
}

impl result::Visit {
    /// Names of the products, in order; a product nobody named is left out.
    fn product_names(&self) -> String {
        let names: Vec<&str> = self
            .products
            .iter()
            .filter_map(|p| p.product.as_deref())
            .collect();
        names.join("; ")
    }

    /// Liquid of all products; not known as soon as one is not known.
    fn volume_l(&self) -> Option<f64> {
        // An empty list is a visit without liquid.
        self.products.iter().map(|product| product.volume_l).sum()
    }
}

fn columns<'a>(style: &Style) -> Columns<Row<'a>> {
    let mut columns = Columns::<Row<'a>>::new();
    columns.text("site", |row| row.site.site.clone());
    columns.text("site_name", |row| row.site.name.clone().unwrap_or_default());
    columns.plain("application", |row| {
        row.application
            .map_or_else(String::new, |application| application.number.to_string())
    });
    columns.text("rig", |row| row.visit.rig.clone());
    columns.plain("kind", |row| word(row.visit.kind));
    columns.time("arrive", style, |row| Some(row.visit.arrive));
    columns.time("spray_start", style, |row| row.visit.spray_start);
    columns.time("spray_end", style, |row| row.visit.spray_end);
    columns.time("depart", style, |row| Some(row.visit.depart));
    columns.minutes("on_site", |row| {
        Some(row.visit.depart.seconds_since(row.visit.arrive))
    });
    columns.minutes("wet", |row| Some(row.visit.wet_s));
    columns.quantity("driven_wet", style.units.length(), |row| {
        Some(row.visit.wet_length_m)
    });
    columns.plain("passes", |row| row.visit.passes.to_string());
    columns.text("products", |row| row.visit.product_names());
    columns.quantity("volume", style.units.volume(), |row| row.visit.volume_l());
    columns.quantity("gun", style.units.volume(), |row| row.visit.gun_l);
    columns
}
