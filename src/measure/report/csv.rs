//! `measure.csv`: one line a site and rig, the unit in every heading; an empty cell is "not known".

mod costs;

use crate::measure::sheet::{PlanSheet, RigSheet, Sheet, SiteSheet};
use crate::notation::numbers::{Units, cell};
use crate::report::csv::Columns;

type Row<'a> = (&'a SiteSheet, &'a RigSheet);

/// The bytes of `measure.csv`.
#[must_use]
pub fn render(sheet: &Sheet, units: Units) -> Vec<u8> {
    let mut columns: Columns<Row> = Columns::new();
    let (area, length) = (units.area(), units.length());
    columns.text("site", |row: &Row| row.0.site.clone());
    columns.text("name", |row| row.0.name.clone().unwrap_or_default());
    columns.text("rig", |row| row.1.rig.clone());
    columns.quantity("area", area, |row| Some(row.0.area_m2));
    columns.quantity("area_error", area, |row| row.0.area_error_m2);
    columns.quantity("contract_area", area, |row| contract_m2(row.0));
    columns.quantity("reach", area, |row| row.1.reach_m2);
    columns.quantity("edge_strip", area, |row| row.1.edge_strip_m2);
    columns.quantity("edge_strip", length, |row| row.1.edge_strip_m);
    columns.quantity("hand", area, |row| hand_m2(row.1));
    columns.quantity("hand_walk", length, |row| {
        row.1.reach_m2.map(|_| row.1.hand_walk_m)
    });
    columns.quantity("hose", length, |row| hose_m(row.1));
    columns.quantity("slivers", area, |row| row.1.slivers_m2);
    columns.plain("lanes", |row| {
        plan(row).map_or_else(String::new, |plan| plan.lanes.to_string())
    });
    columns.quantity("lane", length, |row| plan(row).map(|plan| plan.length_m));
    columns.minutes("spraying", |row| plan(row).and_then(|plan| plan.spraying_s));
    columns.minutes("turning", |row| plan(row).and_then(|plan| plan.turning_s));
    columns.quantity("treated", area, |row| {
        plan(row).and_then(|plan| plan.treated_m2)
    });
    columns.quantity("overlap", area, |row| {
        plan(row).and_then(|plan| plan.overlap_m2)
    });
    columns.quantity("swept", area, |row| {
        plan(row).and_then(|plan| plan.swept_m2)
    });
    columns.quantity("gap", area, |row| plan(row).map(|plan| plan.gap_m2));
    columns.quantity("outside", area, |row| plan(row).map(|plan| plan.outside_m2));
    columns.plain("length_ratio", |row| {
        cell(plan(row).map(|plan| plan.length_ratio), 3)
    });
    costs::add(&mut columns, units);
    columns.text("missing", |row| row.1.missing.join(" "));
    columns.text("assumed", |row| row.0.assumed.join("; "));
    let rows = sheet
        .sites
        .iter()
        .flat_map(|site| site.rigs.iter().map(move |rig| (site, rig)));
    columns.write(rows)
}

fn plan<'a>(row: &Row<'a>) -> Option<&'a PlanSheet> {
    row.1.plan.as_ref()
}

/// Sum of the zones' contract areas; `None` unless every zone has one.
pub(super) fn contract_m2(site: &SiteSheet) -> Option<f64> {
    site.zones.iter().map(|zone| zone.contract_area_m2).sum()
}

/// All hand work, m2; `None` where reach is not known.
pub(super) fn hand_m2(rig: &RigSheet) -> Option<f64> {
    rig.reach_m2
        .map(|_| rig.hand.iter().map(|hand| hand.area_m2).sum())
}

/// The longest hose, m.
pub(super) fn hose_m(rig: &RigSheet) -> Option<f64> {
    rig.hand
        .iter()
        .filter_map(|hand| hand.hose_m)
        .max_by(f64::total_cmp)
}
