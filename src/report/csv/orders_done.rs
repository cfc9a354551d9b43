//! `orders_done.csv`: a row for every order and what became of it.

use super::Columns;
use crate::notation::style::Style;
use crate::report::json::word;
use crate::result;

/// The bytes of `orders_done.csv`.
#[must_use]
pub fn render(orders: &[result::Order], style: &Style) -> Vec<u8> {
    columns(style).write(orders)
}

fn columns<'a>(style: &Style) -> Columns<&'a result::Order> {
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let mut columns = Columns::<&'a result::Order>::new();
    columns.text("order", move |order| text(&order.order));
    columns.plain("line", |order| order.line.to_string());
    columns.text("site", |order| order.site.clone());
    columns.text("zone", move |order| text(&order.zone));
    columns.text("service", move |order| text(&order.service));
    columns.text("product", move |order| text(&order.product));
    columns.rate("target", style, |order| order.target_ml_m2);
    columns.time("from", style, |order| order.from);
    columns.time("by", style, |order| order.by);
    columns.plain("status", |order| word(order.status));
    columns.plain("application", |order| {
        order
            .application
            .map_or_else(String::new, |number| number.to_string())
    });
    columns.percent("treated", |order| order.treated_share);
    columns.time("finished", style, |order| order.finished);
    columns.text("not_shown", |order| order.not_shown.join("; "));
    columns
}
