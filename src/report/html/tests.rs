use super::*;
use crate::report::sample;

fn page(audit: &Audit, of: &crate::report::page::Page) -> String {
    let bytes = render(
        audit,
        of,
        &sample::plans(),
        &sample::trails(),
        Units::Us,
        RateUnit::GalPer1000Ft2,
    );
    String::from_utf8(bytes).expect("UTF-8")
}

#[test]
fn names_from_input_are_text_and_nothing_else() {
    let mut audit = sample::audit();
    let evil = "</style><script>x</script>\"'&\u{202E}javascript:".to_owned();
    audit.sites[0].site.clone_from(&evil);
    audit.sites[0].applications[0].zones[0]
        .zone
        .clone_from(&evil);
    audit.runs[0].rig.clone_from(&evil);
    audit.findings[0].site = Some(evil.clone());
    let mut of = sample::page();
    of.trips[0].address = Some(evil);
    let page = page(&audit, &of);
    assert!(!page.contains("<script") && !page.contains('\u{202E}'));
    // The page's own and that of its patterns.
    assert_eq!(page.matches("</style>").count(), 2);
}

#[test]
fn a_place_is_a_geo_uri_with_its_coordinates_beside_it() {
    let page = page(&sample::audit(), &sample::page());
    let link = "<a class=\"noprint\" href=\"geo:45.000310,-30.000120\">map</a><span>45.00031, -30.00012</span>";
    assert!(page.contains(link), "{page}");
}

#[test]
fn every_link_within_the_page_has_its_place() {
    let page = page(&sample::audit(), &sample::page());
    let targets: Vec<&str> = page
        .split("href=\"#")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    assert!(targets.len() > 5);
    for target in targets {
        assert!(page.contains(&format!("id=\"{target}\"")), "{target}");
    }
}

#[test]
fn a_night_without_findings_says_so_in_one_line() {
    let mut audit = sample::audit();
    audit.findings.clear();
    audit.logs_missing = false;
    let mut of = crate::report::page::Page::default();
    of.sort_sites(&audit);
    let page = page(&audit, &of);
    assert!(page.contains("Nothing to go back for in the logs."));
    assert!(!page.contains("Logs are missing") && !page.contains("class=\"go\""));
}

#[test]
fn the_page_asks_for_nothing_from_outside() {
    let page = page(&sample::audit(), &sample::page());
    for outside in ["http://", "https://", "src=", "@import", "<script", "<link"] {
        assert!(!page.contains(outside), "{outside}");
    }
}
