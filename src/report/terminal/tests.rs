use super::*;
use crate::findings::Matter;
use crate::report::sample;
use unicode_width::UnicodeWidthStr;

const WIDTH: usize = 100;

fn page(audit: &Audit) -> String {
    render(audit, Units::Us, RateUnit::GalPer1000Ft2, WIDTH)
}

fn line_with<'a>(page: &'a str, text: &str) -> &'a str {
    page.lines()
        .find(|line| line.contains(text))
        .unwrap_or_else(|| panic!("no {text}:\n{page}"))
}

/// The words of a line, spaces folded.
fn words(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_zone_shows_its_figures_as_people_use_them() {
    let page = page(&sample::audit());
    // The third patch lies along the edge: nobody goes back for it. 9,297 of 9,712 m2; 3,010 m2 twice; 34.3 mL/m2 = 0.84 gal/1000 ft2 = 37 gal/ac.
    let line = words(line_with(&page, "quay (Long Quay"));
    assert!(
        line.ends_with("main 1 20:31 96 % 2 31 % 0.84 (37) 0.80 (35)"),
        "{line}"
    );
}

#[test]
fn no_line_is_wider_than_asked_for_even_with_wide_names() {
    let mut audit = sample::audit();
    audit.sites[0].name = Some("\u{5009}\u{5eab}".repeat(40));
    audit.sites[0].applications[0].zones[0].zone = "z".repeat(200);
    for width in [80, 100, 140] {
        let page = render(&audit, Units::Us, RateUnit::GalPer1000Ft2, width);
        for line in page.lines() {
            assert!(line.width() <= width, "{} cells: {line}", line.width());
        }
        assert!(page.contains('\u{2026}'));
    }
}

#[test]
fn a_site_without_treatment_is_said_carefully_when_logs_are_missing() {
    let mut audit = sample::audit();
    assert!(line_with(&page(&audit), "=mill").contains("no treatment in the logs received"));
    audit.logs_missing = false;
    assert!(line_with(&page(&audit), "=mill").contains("not treated"));
}

#[test]
fn a_yard_is_no_row() {
    assert!(!page(&sample::audit()).contains("depot"));
}

#[test]
fn zones_without_a_verdict_say_why() {
    let page = page(&sample::audit());
    assert!(words(line_with(&page, "steps")).contains("by hand - -"));
    assert!(words(line_with(&page, "walk")).contains("narrow - -"));
    assert!(words(&page).contains("narrow: too narrow"));
    assert!(!page.contains("coarse:"), "no zone has a coarse log");
}

#[test]
fn fifteen_findings_are_shown_and_the_rest_counted() {
    let mut audit = sample::audit();
    audit.findings.clear();
    for number in 0..20 {
        let mut finding = Finding::new(Severity::LookInto, Matter::NoLog);
        finding.rig = Some(format!("rig-{number}."));
        audit.findings.push(finding);
    }
    let page = page(&audit);
    assert!(page.contains("rig-14.") && !page.contains("rig-15."));
    assert!(page.contains("and 5 more in findings.csv"));
    assert!(page.contains("Look into (20)"));
    assert!(page.contains("Go back before the cars arrive: no findings"));
}

#[test]
fn names_never_reach_the_terminal_raw() {
    let mut audit = sample::audit();
    let evil = "q\u{1b}[2J\u{202E}\r\n".to_owned();
    audit.sites[0].site.clone_from(&evil);
    audit.sites[0].applications[0].zones[0]
        .zone
        .clone_from(&evil);
    audit.findings[0].site = Some(evil.clone());
    audit.findings[0].rig = Some(evil);
    let page = page(&audit);
    let harmful = |c: char| (c.is_control() && c != '\n') || c == '\u{202E}';
    assert!(!page.contains(harmful), "{page:?}");
}

#[test]
fn a_long_table_keeps_to_sites_with_something_to_do() {
    let mut audit = sample::audit();
    let healthy = audit.sites[0].clone();
    for number in 0..40 {
        let mut site = healthy.clone();
        site.site = format!("fine-{number}");
        audit.sites.push(site);
    }
    let page = page(&audit);
    assert!(page.contains("quay (Long Quay") && page.contains("=mill"));
    assert!(!page.contains("fine-3 "));
    // 40 sites with the six rows of `quay` each.
    assert!(page.contains("and 240 rows more in zones.csv"), "{page}");
}

#[test]
fn the_ledger_is_one_line_without_its_empty_places() {
    let page = words(&page(&sample::audit()));
    // 470 + 95 L metered; 441 + 80 L on zones.
    assert!(
        page.contains("Liquid: 149 gal metered: zones 138 gal,"),
        "{page}"
    );
    assert!(page.contains("hand gun 4 gal"));
}

#[test]
fn the_page_never_calls_ground_safe() {
    let page = page(&sample::audit()).to_lowercase();
    for word in ["safe", "ice-free", "ice free", "no ice", "guarantee"] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn a_night_without_anything_is_still_a_page() {
    let empty = Audit {
        span: None,
        planned: false,
        logs_missing: false,
        orders: None,
        inputs: vec![],
        timezone: None,
        band: 0.1,
        runs: vec![],
        sites: vec![],
        findings: vec![],
        strips: vec![],
    };
    assert!(page(&empty).starts_with("No run in the logs: 0 rigs, 0 runs, 0 sites"));
}

#[test]
fn a_receiver_that_says_it_was_bad_is_told_on_the_page() {
    let mut audit = sample::audit();
    audit.runs[0].position_from = crate::position::PositionFrom::Hdop.name();
    audit.runs[0].position_m = 1.4;
    assert!(!page(&audit).contains("dilution"));
    audit.runs[0].position_m = 3.048;
    let page = words(&page(&audit));
    assert!(
        page.contains("are taken to be within 10 ft only (logged dilution of precision)"),
        "{page}"
    );
}
