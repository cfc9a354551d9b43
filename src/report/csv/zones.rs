//! `zones.csv`: a row for every zone of every application, and one for every zone to be treated of
//! a site without any application, its figures empty.

use super::Columns;
use crate::input::sites::{LandUse, Method};
use crate::notation::numbers::share;
use crate::notation::style::Style;
use crate::report::json::word;
use crate::result::{self, Audit, Dose, Ground, Patch};

/// Where a row comes from: a zone in an application, or ground that has none.
struct Row<'a> {
    site: &'a result::Site,
    zone: &'a str,
    land_use: LandUse,
    method: Method,
    area_m2: f64,
    area_drawn_m2: f64,
    excluded_m2: f64,
    target_ml_m2: Option<f64>,
    treated: Option<(&'a result::Application, &'a result::Zone)>,
}

/// The bytes of `zones.csv`.
#[must_use]
pub fn render(audit: &Audit, style: &Style) -> Vec<u8> {
    let rows = audit.sites.iter().flat_map(|site| {
        let treated = site.applications.iter().flat_map(move |application| {
            application
                .zones
                .iter()
                .map(move |zone| treated_row(site, application, zone))
        });
        let bare = site.ground.iter().filter(|_| site.applications.is_empty());
        treated.chain(
            bare.filter(|ground| ground.to_treat())
                .map(move |g| bare_row(site, g)),
        )
    });
    columns(style).write(rows)
}

fn treated_row<'a>(
    site: &'a result::Site,
    application: &'a result::Application,
    zone: &'a result::Zone,
) -> Row<'a> {
    Row {
        site,
        zone: &zone.zone,
        land_use: zone.land_use,
        method: zone.method,
        area_m2: zone.area_m2,
        area_drawn_m2: zone.area_drawn_m2,
        excluded_m2: zone.excluded_m2,
        target_ml_m2: zone.target_ml_m2,
        treated: Some((application, zone)),
    }
}

fn bare_row<'a>(site: &'a result::Site, ground: &'a Ground) -> Row<'a> {
    Row {
        site,
        zone: &ground.zone,
        land_use: ground.land_use,
        method: ground.method,
        area_m2: ground.area_m2,
        area_drawn_m2: ground.area_drawn_m2,
        excluded_m2: ground.excluded_m2,
        target_ml_m2: ground.target_ml_m2,
        treated: None,
    }
}

impl<'a> Row<'a> {
    fn application(&self) -> Option<&'a result::Application> {
        self.treated.map(|(application, _)| application)
    }

    fn zone(&self) -> Option<&'a result::Zone> {
        self.treated.map(|(_, zone)| zone)
    }

    fn dose(&self) -> Option<&'a Dose> {
        self.zone().and_then(|zone| zone.dose.as_ref())
    }

    fn patches(&self) -> Option<&'a [Patch]> {
        self.zone().and_then(|zone| zone.patches.as_deref())
    }
}

fn columns<'a>(style: &Style) -> Columns<Row<'a>> {
    let mut columns = Columns::new();
    place(&mut columns, style);
    coverage(&mut columns, style);
    liquid(&mut columns, style);
    dose(&mut columns, style);
    columns
}

fn place(columns: &mut Columns<Row<'_>>, style: &Style) {
    columns.text("site", |row| row.site.site.clone());
    columns.text("site_name", |row| row.site.name.clone().unwrap_or_default());
    columns.text("zone", |row| row.zone.to_owned());
    columns.plain("use", |row| word(row.land_use));
    columns.plain("method", |row| word(row.method));
    columns.plain("application", |row| {
        row.application()
            .map_or_else(String::new, |application| application.number.to_string())
    });
    columns.time("start", style, |row| {
        row.application().map(|application| application.start)
    });
    columns.time("end", style, |row| {
        row.application().map(|application| application.end)
    });
    columns.text("rigs", |row| {
        row.application()
            .map_or_else(String::new, |application| application.rigs.join("; "))
    });
    columns.plain("verdict", |row| {
        row.zone()
            .map_or_else(String::new, |zone| word(zone.verdict))
    });
}

fn coverage(columns: &mut Columns<Row<'_>>, style: &Style) {
    let area = style.units.area();
    columns.quantity("area", area, |row| Some(row.area_m2));
    columns.quantity("area_drawn", area, |row| Some(row.area_drawn_m2));
    columns.quantity("excluded", area, |row| Some(row.excluded_m2));
    columns.quantity("area", style.units.land(), |row| Some(row.area_m2));
    columns.quantity("treated", area, |row| row.zone()?.treated_m2);
    columns.percent("treated", |row| share(row.zone()?.treated_m2, row.area_m2));
    columns.percent("treated_inside_edge", |row| {
        share(row.zone()?.core_treated_m2, row.zone()?.core_m2)
    });
    columns.quantity("gap", area, |row| row.zone()?.gap_m2);
    columns.quantity("gap_never_reached", area, |row| {
        Some(row.zone()?.gap_causes_m2?.never_reached)
    });
    columns.quantity("gap_spraying_off", area, |row| {
        Some(row.zone()?.gap_causes_m2?.spraying_off)
    });
    columns.quantity("gap_closed", area, |row| {
        Some(row.zone()?.gap_causes_m2?.closed)
    });
    columns.quantity("gap_dry", area, |row| Some(row.zone()?.gap_causes_m2?.dry));
    columns.quantity("gap_silence", area, |row| {
        Some(row.zone()?.gap_causes_m2?.silence)
    });
    columns.quantity("unlogged", area, |row| row.zone()?.unlogged_m2);
    columns.quantity("overlap", area, |row| row.zone()?.overlap_m2);
    columns.percent("overlap", |row| share(row.zone()?.overlap_m2, row.area_m2));
    columns.plain("patches", |row| {
        row.patches()
            .map_or_else(String::new, |patches| patches.len().to_string())
    });
    columns.quantity("patches", area, |row| {
        Some(row.patches()?.iter().map(|patch| patch.area_m2).sum())
    });
    columns.quantity("greatest_patch", area, |row| {
        Some(row.patches()?.first().map_or(0.0, |patch| patch.area_m2))
    });
}

fn liquid(columns: &mut Columns<Row<'_>>, style: &Style) {
    columns.quantity("volume", style.units.volume(), |row| row.zone()?.volume_l);
    columns.quantity("driven_wet", style.units.length(), |row| {
        row.zone()?.wet_length_m
    });
    columns.quantity("swept", style.units.area(), |row| row.zone()?.swept_m2);
    columns.rate("target", style, |row| row.target_ml_m2);
    columns.rate("rate_over_zone", style, |row| {
        row.zone()?.rate_over_zone_ml_m2
    });
    columns.rate("rate_where_treated", style, |row| {
        row.zone()?.rate_where_treated_ml_m2
    });
    columns.rate("rate_swept", style, |row| row.zone()?.rate_swept_ml_m2);
}

fn dose(columns: &mut Columns<Row<'_>>, style: &Style) {
    columns.rate("dose_mean", style, |row| Some(row.dose()?.mean_ml_m2));
    columns.rate("dose_p05", style, |row| Some(row.dose()?.p05_ml_m2));
    columns.rate("dose_p50", style, |row| Some(row.dose()?.p50_ml_m2));
    columns.rate("dose_p95", style, |row| Some(row.dose()?.p95_ml_m2));
    columns.percent("dose_cv", |row| row.dose()?.cv);
    columns.percent("dose_under", |row| row.dose()?.share_under);
    columns.percent("dose_within", |row| row.dose()?.share_within);
    columns.percent("dose_over", |row| row.dose()?.share_over);
    columns.percent("dose_unknown", |row| Some(row.dose()?.share_unknown));
}

impl Ground {
    /// Ground that somebody is expected to treat.
    pub(in crate::report) fn to_treat(&self) -> bool {
        self.land_use.is_to_treat()
    }
}
