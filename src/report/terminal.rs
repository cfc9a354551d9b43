//! The page that `audit` prints: a table of zones, where the liquid went, the ranked findings, and
//! what the figures cannot say. Plain text, no colours, nothing that moves a cursor.

mod blocked;

use crate::findings::{Finding, Severity};
use crate::position::PositionFrom;
use crate::report::clean::clean;
use crate::report::numbers::{NOT_KNOWN, RateUnit, Units, count, percent, share};
use crate::report::style::Style;
use crate::report::table::{Row, Table, wrap};
use crate::result::{Application, Audit, Ledger, Order, OrderStatus, Run, Site, Zone, ZoneVerdict};
use crate::wording;
use std::collections::HashSet;

/// Findings printed; the rest stands in `findings.csv`.
const FINDINGS_SHOWN: usize = 15;

/// Greatest share of spraying time in reverse that is not worth a line: backing out of the corners of a
/// lot takes a few per cent.
const REVERSE_SHOWN: f64 = 0.05;

/// Beyond this many rows the table keeps to sites with something to go back for or look into.
const MOST_ROWS: usize = 60;

/// A position error from the logged dilution is told from here on, m: half more than a good receiver's.
const NOTED_POSITION_M: f64 = 1.5;

/// What the figures mean and what they do not say.
const CAUTIONS: [&str; 3] = [
    "\"Treated\" is ground inside a swath: the bare lines between streams count as treated. The logs \
     know nothing of hand work.",
    "These figures say what the logs show, not what state the ground is in: look at it before \
     relying on them.",
    "Local codes, product labels and licensed practice come first.",
];

/// The page, in lines of at most `width` cells.
#[must_use]
pub fn render(audit: &Audit, units: Units, rate_unit: RateUnit, width: usize) -> String {
    let style = Style::of(audit, units, rate_unit);
    let mut lines = Vec::new();
    if audit.planned {
        lines.push(format!("{PLANNED}: the times below are made up."));
    }
    lines.extend(wrap("", &night(audit, &style), width));
    if let Some(orders) = &audit.orders {
        lines.extend(wrap("", &orders_line(audit, orders), width));
    }
    lines.extend(clocks(&audit.runs).flat_map(|line| wrap("", &line, width)));
    lines.extend(positions(&audit.runs, &style).flat_map(|line| wrap("", &line, width)));
    lines.push(String::new());
    lines.extend(table(audit, &style, width));
    lines.extend(blocked::lines(&audit.sites, &style, width));
    lines.push(String::new());
    lines.extend(liquid(&audit.runs, &style, width));
    lines.extend(reverse(&audit.runs, width));
    lines.extend(findings(audit, &style, width));
    lines.push(String::new());
    lines.extend(CAUTIONS.iter().flat_map(|caution| wrap("", caution, width)));
    lines.push(String::new());
    lines.join("\n")
}

/// Heads every output on plans.
pub(crate) const PLANNED: &str = "Planned, not driven";

fn night(audit: &Audit, style: &Style) -> String {
    let rigs: HashSet<&str> = audit.runs.iter().map(|run| run.rig.as_str()).collect();
    let sites = audit.sites.iter().filter(|site| site.area_m2 > 0.0).count();
    let treated = audit
        .sites
        .iter()
        .filter(|site| !site.applications.is_empty())
        .count();
    let what = format!(
        "{}, {}, {}, {treated} with treatment in the logs",
        count(rigs.len() as u64, "rig", "rigs"),
        count(audit.runs.len() as u64, "run", "runs"),
        count(sites as u64, "site", "sites"),
    );
    match audit.span {
        Some(span) => {
            format!(
                "{} to {}: {what}.",
                style.time(span.first),
                style.time(span.last)
            )
        }
        None => format!("No run in the logs: {what}."),
    }
}

/// A line for each rig whose clock was set: its times are not those of its log.
fn clocks(runs: &[Run]) -> impl Iterator<Item = String> {
    let mut set: Vec<(&str, f64)> = runs
        .iter()
        .filter(|run| run.clock_offset_s.abs() > 0.0)
        .map(|run| (run.rig.as_str(), run.clock_offset_s))
        .collect();
    set.dedup();
    set.into_iter().map(|(rig, offset_s)| {
        let offset = wording::signed_duration(offset_s);
        format!(
            "Times of rig {} are {offset} from its log (clock_offset).",
            clean(rig)
        )
    })
}

/// One line for each rig whose receiver itself says that it was not good: patches and narrow zones are judged
/// by that, and a page that is quiet for it must say so.
fn positions<'a>(runs: &'a [Run], style: &'a Style) -> impl Iterator<Item = String> + 'a {
    let bad = runs.iter().filter(|run| {
        run.position_from == PositionFrom::Hdop.name() && run.position_m > NOTED_POSITION_M
    });
    bad.map(|run| {
        format!(
            "Positions of rig {} are taken to be within {} only (logged dilution of precision): patches and \
             zones are judged by that.",
            clean(&run.rig),
            style.length(run.position_m)
        )
    })
}

fn table(audit: &Audit, style: &Style, width: usize) -> Vec<String> {
    let missing = audit.logs_missing;
    let sites: Vec<(&Site, Vec<Row>)> = audit
        .sites
        .iter()
        .map(|site| {
            (
                site,
                site_rows(site, untreated(audit, site, missing), style),
            )
        })
        .collect();
    let all: usize = sites.iter().map(|(_, rows)| rows.len()).sum();
    let to_read = sites_to_read(audit);
    let shown = sites
        .into_iter()
        .filter(|(site, _)| all <= MOST_ROWS || to_read.contains(&*site.site));
    let rows: Vec<Row> = shown.flat_map(|(_, rows)| rows).take(MOST_ROWS).collect();
    let left_out = all - rows.len();

    let headings = vec![
        "site", "zone", "appl", "start", "treated", "patches", "overlap", "rate", "target",
    ];
    let mut lines = Table { headings, rows }.lines(width);
    if left_out > 0 {
        let more = count(left_out as u64, "row", "rows");
        lines.push(format!("and {more} more in zones.csv"));
    }
    lines.push(String::new());
    let rates = format!(
        "rate: liquid over the ground swept, in {}; {NOT_KNOWN} is not known",
        style.rate_label()
    );
    lines.extend(wrap("", &rates, width));
    lines.extend(verdict_notes(audit).flat_map(|note| wrap("", note, width)));
    lines
}

/// Sites with a finding that somebody has to act on, also those named in a list of sites.
fn sites_to_read(audit: &Audit) -> HashSet<&str> {
    let acted_on = audit
        .findings
        .iter()
        .filter(|finding| finding.severity != Severity::ForTheRecord);
    acted_on.flat_map(|finding| finding.sites()).collect()
}

impl Finding {
    fn sites(&self) -> Vec<&str> {
        let listed = match &self.matter {
            crate::findings::Matter::NotVisited { sites, .. } => sites.as_slice(),
            _ => &[],
        };
        self.site.iter().chain(listed).map(String::as_str).collect()
    }
}

/// How many orders were done and what became of the others, in one line.
fn orders_line(audit: &Audit, orders: &[Order]) -> String {
    let number = |status: OrderStatus| orders.iter().filter(|order| order.status == status).count();
    let others = [
        (OrderStatus::InPart, "in part"),
        (OrderStatus::NotDone, "not done"),
        (OrderStatus::ByHand, "by hand"),
        (OrderStatus::NotKnown, "not known"),
        (OrderStatus::OutsideLogs, "outside the time of the logs"),
    ];
    let mut text = format!(
        "Orders: {} of {} done",
        number(OrderStatus::Done),
        orders.len()
    );
    for (status, words) in others {
        match number(status) {
            0 => {}
            count => text += &format!(", {count} {words}"),
        }
    }
    let unread = audit.findings.iter().map(|finding| match finding.matter {
        crate::findings::Matter::TimesUnread { count, .. } => count,
        _ => 0,
    });
    match unread.sum::<u64>() {
        0 => {}
        count => {
            text +=
                &format!(" (times of {count} not understood: nothing tells whether they are late)")
        }
    }
    text + "."
}

/// What stands in the table for a site without treatment.
fn untreated(audit: &Audit, site: &Site, missing: bool) -> &'static str {
    let is_ordered = |orders: &Vec<Order>| orders.iter().any(|order| order.site == site.site);
    match &audit.orders {
        Some(orders) if !is_ordered(orders) => "not ordered, not treated",
        _ if missing => "no treatment in the logs received",
        _ => "not treated",
    }
}

/// The site's name stands in its first row only.
fn site_rows(site: &Site, untreated: &str, style: &Style) -> Vec<Row> {
    if site.area_m2 <= 0.0 {
        // A yard, or keep-off ground only: nothing to treat.
        return Vec::new();
    }
    if site.applications.is_empty() {
        return vec![Row::Remark(
            [site_label(site), "(all)".to_owned()],
            untreated.to_owned(),
        )];
    }
    let zones = site.applications.iter().flat_map(|application| {
        application
            .zones
            .iter()
            .map(move |zone| (application, zone))
    });
    zones
        .enumerate()
        .map(|(index, (application, zone))| {
            let label = if index == 0 {
                site_label(site)
            } else {
                String::new()
            };
            Row::Cells(zone_cells(label, application, zone, style))
        })
        .collect()
}

fn site_label(site: &Site) -> String {
    match site.name.as_deref().filter(|name| *name != site.site) {
        Some(name) => clean(&format!("{} ({name})", site.site)).into_owned(),
        None => clean(&site.site).into_owned(),
    }
}

fn zone_cells(label: String, application: &Application, zone: &Zone, style: &Style) -> Vec<String> {
    let part =
        |m2: Option<f64>| share(m2, zone.area_m2).map_or_else(|| NOT_KNOWN.to_owned(), percent);
    let patches = zone.patches.as_ref();
    vec![
        label,
        clean(&zone.zone).into_owned(),
        application.number.to_string(),
        style.clock(application.start),
        verdict_word(zone.verdict).map_or_else(|| part(zone.treated_m2), str::to_owned),
        patches.map_or_else(
            || NOT_KNOWN.to_owned(),
            |patches| {
                patches
                    .iter()
                    .filter(|patch| patch.is_worth_a_trip())
                    .count()
                    .to_string()
            },
        ),
        part(zone.overlap_m2),
        style.rate_number(zone.rate_swept_ml_m2),
        style.rate_number(zone.target_ml_m2),
    ]
}

/// Stands where the treated share would, if there is none to tell.
fn verdict_word(verdict: ZoneVerdict) -> Option<&'static str> {
    match verdict {
        ZoneVerdict::Area => None,
        ZoneVerdict::TooNarrow => Some("narrow"),
        ZoneVerdict::Hand => Some("by hand"),
        ZoneVerdict::CoarseLog => Some("coarse"),
    }
}

/// Explains the words that stand in the table, and only those.
fn verdict_notes(audit: &Audit) -> impl Iterator<Item = &'static str> {
    let notes = [
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
    let in_use = |verdict: ZoneVerdict| {
        let mut applications = audit.sites.iter().flat_map(|site| &site.applications);
        applications.any(|application| application.zones.iter().any(|zone| zone.verdict == verdict))
    };
    notes
        .into_iter()
        .filter(move |(verdict, _)| in_use(*verdict))
        .map(|(_, note)| note)
}

/// Where the liquid went, all runs together; lines without liquid are left out.
fn liquid(runs: &[Run], style: &Style, width: usize) -> Vec<String> {
    if runs.iter().all(|run| run.metered_by == "none") {
        return wrap("", "Liquid: not metered.", width);
    }
    let sum =
        |line: fn(&Ledger) -> f64| -> f64 { runs.iter().map(|run| line(&run.ledger_l)).sum() };
    let lines = [
        ("zones", sum(|ledger| ledger.zones)),
        ("keep-off ground", sum(|ledger| ledger.keep_off)),
        ("fringe of the zones", sum(|ledger| ledger.fringe)),
        ("outside", sum(|ledger| ledger.outside)),
        ("yard", sum(|ledger| ledger.yard)),
        ("hand gun", sum(|ledger| ledger.gun)),
        ("all sections closed", sum(|ledger| ledger.closed)),
        ("dropouts", sum(|ledger| ledger.dropout)),
        ("between logs", sum(|ledger| ledger.between_logs)),
    ];
    // Less than a thousandth of a litre is no place where liquid went.
    const LEAST_L: f64 = 1e-3;
    let went = lines.iter().filter(|(_, litres)| litres.abs() >= LEAST_L);
    let went: Vec<String> = went
        .map(|(place, litres)| format!("{place} {}", style.volume(*litres)))
        .collect();
    let metered = style.volume(sum(|ledger| ledger.metered));
    let text = if went.is_empty() {
        format!("Liquid: {metered} metered.")
    } else {
        format!("Liquid: {metered} metered: {}.", went.join(", "))
    };
    wrap("", &text, width)
}

/// Runs that sprayed a good part of their time in reverse, in one line; how the gear is known decides how
/// far to trust where they were.
fn reverse(runs: &[Run], width: usize) -> Vec<String> {
    let worth = |run: &&Run| run.reverse_wet_s > REVERSE_SHOWN * run.wet_s;
    let said = |run: &Run| {
        let inferred = if run.gear_from == "motion" {
            " (gear inferred from the motion)"
        } else {
            ""
        };
        let part = percent(run.reverse_wet_s / run.wet_s);
        format!("rig {} {part}{inferred}", clean(&run.rig))
    };
    let said: Vec<String> = runs.iter().filter(worth).map(said).collect();
    if said.is_empty() {
        return Vec::new();
    }
    let text = format!("Spraying time in reverse: {}.", said.join(", "));
    wrap("", &text, width)
}

fn findings(audit: &Audit, style: &Style, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for severity in [Severity::GoBack, Severity::LookInto, Severity::ForTheRecord] {
        let of_this = || {
            audit
                .findings
                .iter()
                .enumerate()
                .filter(|(_, f)| f.severity == severity)
        };
        let heading = wording::heading(severity);
        lines.push(String::new());
        lines.push(match of_this().count() {
            0 => format!("{heading}: no findings"),
            number => format!("{heading} ({number})"),
        });
        for (index, finding) in of_this().filter(|(index, _)| *index < FINDINGS_SHOWN) {
            let title = wording::title(&finding.matter);
            let text = format!("{title}. {}", wording::text(finding, style));
            lines.extend(wrap(&format!("{:>3}. ", index + 1), &text, width));
            lines.extend(wrap("     > ", wording::check(finding), width));
        }
    }
    if let Some(more) = audit
        .findings
        .len()
        .checked_sub(FINDINGS_SHOWN)
        .filter(|more| *more > 0)
    {
        lines.push(String::new());
        lines.push(format!("and {more} more in findings.csv"));
    }
    lines
}

#[cfg(test)]
mod tests;
