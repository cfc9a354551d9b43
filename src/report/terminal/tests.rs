use super::*;
use crate::findings::Severity;
use crate::findings::log::AboutLog;
use crate::report::page::merge;
use crate::report::sample;
use unicode_width::UnicodeWidthStr;

const WIDTH: usize = 100;

fn page(audit: &Audit) -> String {
    page_of(audit, &sample::page(), WIDTH)
}

fn page_of(audit: &Audit, page: &Page, width: usize) -> String {
    render(audit, page, Units::Us, RateUnit::GalPer1000Ft2, width)
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
    let line = words(line_with(&page, "quay (Long Quay lot)  main"));
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
        let page = page_of(&audit, &sample::page(), width);
        for line in page.lines() {
            assert!(line.width() <= width, "{} cells: {line}", line.width());
        }
        assert!(page.contains('\u{2026}'));
    }
}

#[test]
fn a_site_without_treatment_is_said_carefully_when_logs_are_missing() {
    let mut audit = sample::audit();
    assert!(line_with(&page(&audit), "(all)").contains("no treatment in the logs received"));
    audit.logs_missing = false;
    assert!(line_with(&page(&audit), "(all)").contains("not treated"));
}

#[test]
fn a_yard_is_no_row() {
    assert!(!page(&sample::audit()).contains("depot"));
}

#[test]
fn zones_without_a_verdict_are_counted_with_the_reason() {
    let page = words(&page(&sample::audit()));
    let counted = "2 more 1 too narrow for the position error to tell coverage, 1 by hand";
    assert!(page.contains(counted), "{page}");
}

#[test]
fn fifteen_entries_are_shown_and_the_rest_counted() {
    let mut audit = sample::audit();
    audit.findings.clear();
    for number in 0..20 {
        let mut finding = Finding::new(Severity::LookInto, AboutLog::NoLog);
        finding.rig = Some(format!("rig-{number}."));
        audit.findings.push(finding);
    }
    let look_into = merge::entries(&audit.findings, Severity::LookInto, &[]);
    let page = page_of(
        &audit,
        &Page {
            look_into,
            ..Page::default()
        },
        WIDTH,
    );
    assert!(page.contains("rig-14.") && !page.contains("rig-15."));
    assert!(page.contains("and 5 more in findings.csv"));
    assert!(page.contains("Look into (20)"));
    assert!(page.contains("Go back: no findings"));
    assert!(page.starts_with("Nothing to go back for in the logs received; some are missing."));
}

/// The sample's patches: 195 m2 (2,099 ft2) of a lot that asks for 32.74 mL/m2, 1.7 gal.
#[test]
fn the_first_lines_say_where_to_go_back_to_and_what_it_takes() {
    let page = words(&page(&sample::audit()));
    let verdict = "Check, and treat again if needed: quay; 2 gal and overlap, about 5 min of spraying; \
                   driving and filling not included.";
    assert!(page.starts_with(verdict), "{page}");
    for said in [
        "1. quay (Long Quay lot), 1 Quay Row, was due 21:00. main, 2 places all over it: 2,100 ft2, 2 gal.",
        "Passed over by rig north with section 2 of 4 (left side) closed and others open.",
        "Rig north has not sprayed with that section since.",
        "Don't send this rig again before section 2 works.",
        "At 45.00031, -30.00012.",
        "Position error, 95 % within: north, cart 3.3 ft (logged dilution of precision).",
    ] {
        assert!(page.contains(said), "no {said}:\n{page}");
    }
}

/// Of a fleet of a hundred the first eight of each error are named and the others counted.
#[test]
fn the_position_error_of_many_rigs_is_one_line() {
    let mut audit = sample::audit();
    let run = audit.runs[0].clone();
    let with = |number: usize, position_from: &'static str| result::Run {
        rig: format!("rig-{number}"),
        position_from,
        ..run.clone()
    };
    audit.runs = (1..=100).map(|number| with(number, "fleet")).collect();
    audit
        .runs
        .extend((101..=108).map(|number| with(number, "hdop")));
    let page = words(&page(&audit));
    let told = "rig-7, rig-8 and 92 more 3.3 ft (fleet file); rig-101, rig-102, rig-103, rig-104, rig-105, \
                rig-106, rig-107, rig-108 3.3 ft (logged dilution of precision).";
    assert!(page.contains(told), "{page}");
}

/// 99.6 % treated at a position error of a metre is not shown as "more than 99 %"; all of it is.
#[test]
fn a_treated_share_is_not_told_closer_than_positions_are_known() {
    let mut audit = sample::audit();
    let mut told = |treated_m2| {
        audit.sites[0].applications[0].zones[0].treated_m2 = Some(treated_m2);
        let page = page(&audit);
        words(line_with(&page, "quay (Long Quay lot)  main"))
    };
    assert!(told(9_673.0).contains("main 1 20:31 99 % 2"));
    assert!(told(9_712.123_456_789).contains("main 1 20:31 100 % 2"));
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
fn sites_without_anything_to_read_are_one_line() {
    let mut audit = sample::audit();
    let healthy = audit.sites[0].clone();
    for number in 0..50 {
        let mut site = healthy.clone();
        site.site = format!("fine-{number}");
        audit.sites.push(site);
    }
    let mut of = sample::page();
    of.sort_sites(&audit);
    let page = words(&page_of(&audit, &of, WIDTH));
    assert!(page.contains("quay (Long Quay") && page.contains("=mill"));
    assert!(
        page.contains("Nothing to look into at fine-0, fine-1,")
            && page.contains("fine-39 and 10 more.")
    );
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
    let page = words(&page_of(&empty, &Page::default(), WIDTH));
    let first = "Nothing to go back for in the logs. No run in the logs: 0 rigs, 0 runs, 0 sites";
    assert!(page.starts_with(first), "{page}");
}
