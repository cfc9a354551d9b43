//! The table of zones: sites with something to read, worst first; those without in one line.

use crate::notation::clean::clean;
use crate::notation::numbers::{NOT_KNOWN, count, percent, share};
use crate::notation::style::Style;
use crate::report::page::Page;
use crate::report::table::{Row, Table, wrap};
use crate::report::trip_words;
use crate::result::{self, Audit, ZoneVerdict};

/// Rows printed; the rest is in `zones.csv` (layout).
const MOST_ROWS: usize = 60;
/// From this treated share on a zone is not called fully treated: positions are not known well enough to tell the
/// last hundredth (layout).
const ALL_BUT_TOLD: f64 = 0.99;

/// The table with its notes.
pub(super) fn lines(audit: &Audit, page: &Page, style: &Style, width: usize) -> Vec<String> {
    let rows = page.sites.iter().map(|&site| &audit.sites[site]);
    let rows: Vec<Row> = rows
        .flat_map(|site| {
            site_rows(
                audit,
                site,
                untreated(audit, site, audit.logs_missing),
                style,
            )
        })
        .collect();
    let left_out = rows.len().saturating_sub(MOST_ROWS);
    let rows: Vec<Row> = rows.into_iter().take(MOST_ROWS).collect();
    let mut lines = Vec::new();
    if !rows.is_empty() {
        let headings = vec![
            "site", "zone", "appl", "start", "treated", "patches", "overlap", "rate", "target",
        ];
        let notes = notes(&rows, audit, page, style);
        lines.extend(Table { headings, rows }.lines(width));
        if left_out > 0 {
            let more = count(left_out as u64, "row", "rows");
            lines.push(format!("and {more} more in zones.csv"));
        }
        lines.extend(wrap("", &notes, width));
    }
    lines.extend(named("Nothing to look into at", &page.well, audit, width));
    lines.extend(named(
        "Neither ordered nor treated:",
        &page.untouched,
        audit,
        width,
    ));
    lines
}

/// Sites in one line; no line where there are none.
fn named(lead: &str, sites: &[usize], audit: &Audit, width: usize) -> Vec<String> {
    /// More names than this are counted: `zones.csv` has them (layout).
    const MOST_NAMES: usize = 40;
    if sites.is_empty() {
        return Vec::new();
    }
    let names: Vec<String> = sites
        .iter()
        .take(MOST_NAMES)
        .map(|&site| clean(&audit.sites[site].site).into_owned())
        .collect();
    let more = match sites.len().saturating_sub(MOST_NAMES) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    wrap("", &format!("{lead} {}{more}.", names.join(", ")), width)
}

/// What the table has for a site without treatment.
fn untreated(audit: &Audit, site: &result::Site, missing: bool) -> &'static str {
    let is_ordered =
        |orders: &Vec<result::Order>| orders.iter().any(|order| order.site == site.site);
    match &audit.orders {
        Some(orders) if !is_ordered(orders) => "not ordered, not treated",
        _ if missing => "no treatment in the logs received",
        _ => "not treated",
    }
}

/// The site's name is in its first row only. Zones whose log shows no coverage and that no finding names
/// are counted in one row.
fn site_rows(audit: &Audit, site: &result::Site, untreated: &str, style: &Style) -> Vec<Row> {
    if site.applications.is_empty() {
        return vec![Row::Remark(
            [trip_words::site(site), "(all)".to_owned()],
            untreated.to_owned(),
        )];
    }
    let named = |zone: &result::Zone| {
        let findings = audit.findings.iter();
        let mut of_site = findings.filter(|finding| finding.site.as_ref() == Some(&site.site));
        of_site.any(|finding| finding.zone.as_ref() == Some(&zone.zone))
    };
    let mut rows = Vec::new();
    for application in &site.applications {
        let told = |zone: &&result::Zone| zone.verdict == ZoneVerdict::Area || named(zone);
        let (told, others): (Vec<&result::Zone>, Vec<&result::Zone>) =
            application.zones.iter().partition(told);
        for zone in told {
            let label = first_label(site, &rows);
            rows.push(Row::Cells(zone_cells(label, application, zone, style)));
        }
        if !others.is_empty() {
            let label = first_label(site, &rows);
            let zones = format!("{} more", others.len());
            rows.push(Row::Remark([label, zones], counted(&others)));
        }
    }
    rows
}

fn first_label(site: &result::Site, rows: &[Row]) -> String {
    if rows.is_empty() {
        trip_words::site(site)
    } else {
        String::new()
    }
}

/// `3 too narrow for the position error to tell coverage, 1 by hand`.
fn counted(zones: &[&result::Zone]) -> String {
    let kinds = [
        (
            ZoneVerdict::TooNarrow,
            "too narrow for the position error to tell coverage",
        ),
        (ZoneVerdict::Hand, "by hand"),
        (
            ZoneVerdict::CoarseLog,
            "with fixes too far apart to tell coverage",
        ),
    ];
    let counted = kinds.into_iter().filter_map(|(verdict, words)| {
        let number = zones.iter().filter(|zone| zone.verdict == verdict).count();
        (number > 0).then(|| format!("{number} {words}"))
    });
    counted.collect::<Vec<_>>().join(", ")
}

fn zone_cells(
    label: String,
    application: &result::Application,
    zone: &result::Zone,
    style: &Style,
) -> Vec<String> {
    let known = |text: Option<String>| text.unwrap_or_else(|| NOT_KNOWN.to_owned());
    vec![
        label,
        clean(&zone.zone).into_owned(),
        application.number.to_string(),
        style.clock(application.start),
        verdict_word(zone.verdict).map_or_else(|| known(treated(zone)), str::to_owned),
        known(patches(zone)),
        known(share(zone.overlap_m2, zone.area_m2).map(percent)),
        style.rate_number(zone.rate_swept_ml_m2),
        style.rate_number(zone.target_ml_m2),
    ]
}

/// Likely patches, then those that are perhaps bare: `2 +1?`.
pub(in crate::report) fn patches(zone: &result::Zone) -> Option<String> {
    let patches = zone.patches.as_ref()?;
    let likely = patches.iter().filter(|patch| patch.is_worth_a_trip());
    let perhaps = patches.iter().filter(|patch| patch.is_perhaps()).count();
    let likely = likely.count();
    Some(if perhaps > 0 {
        format!("{likely} +{perhaps}?")
    } else {
        likely.to_string()
    })
}

/// The treated share in whole percent, 99 at most unless all of it is.
pub(in crate::report) fn treated(zone: &result::Zone) -> Option<String> {
    let share = share(zone.treated_m2, zone.area_m2)?;
    Some(percent(if share < 1.0 {
        share.min(ALL_BUT_TOLD)
    } else {
        share
    }))
}

/// Stands in place of the treated share where none can be given.
fn verdict_word(verdict: ZoneVerdict) -> Option<&'static str> {
    match verdict {
        ZoneVerdict::Area => None,
        ZoneVerdict::TooNarrow => Some("narrow"),
        ZoneVerdict::Hand => Some("by hand"),
        ZoneVerdict::CoarseLog => Some("coarse"),
    }
}

fn has_perhaps(row: &Row) -> bool {
    match row {
        Row::Cells(cells) => cells.iter().any(|cell| cell.ends_with('?')),
        Row::Remark(..) => false,
    }
}

/// What the columns mean, and the words that stand in them.
fn notes(rows: &[Row], audit: &Audit, page: &Page, style: &Style) -> String {
    let words = [
        (
            ZoneVerdict::TooNarrow,
            "narrow: too narrow for the position error to tell coverage",
        ),
        (ZoneVerdict::Hand, "by hand: the log shows no coverage"),
        (
            ZoneVerdict::CoarseLog,
            "coarse: fixes too far apart to tell coverage",
        ),
    ];
    let shown = |word: &str| {
        rows.iter().any(|row| match row {
            Row::Cells(cells) => cells.iter().any(|cell| cell == word),
            Row::Remark(..) => false,
        })
    };
    let mut text = format!(
        "rate: liquid over the ground swept, in {}; {NOT_KNOWN} is not known",
        style.rate_label()
    );
    for (verdict, note) in words {
        if verdict_word(verdict).is_some_and(shown) {
            text += &format!("; {note}");
        }
    }
    if rows.iter().any(has_perhaps) {
        text += "; patches: likely bare, and +n? perhaps bare (the plan shows where)";
    }
    let sites = page.sites.iter().map(|&site| &audit.sites[site]);
    let unmetered = sites
        .flat_map(|site| &site.applications)
        .flat_map(|of| &of.zones);
    if unmetered.into_iter().any(|zone| zone.volume_l.is_none()) {
        text += "; a zone without a rate was not metered";
    }
    text
}
