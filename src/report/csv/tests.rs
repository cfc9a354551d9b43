use super::*;
use crate::notation::numbers::{RateUnit, Units};
use crate::report::sample;
use std::collections::HashMap;

type Rows = Vec<HashMap<String, String>>;

fn read(bytes: &[u8]) -> Rows {
    let mut reader = ::csv::Reader::from_reader(bytes);
    reader
        .deserialize()
        .map(|row| row.expect("a whole row"))
        .collect()
}

fn us() -> Style {
    Style::of(
        sample::audit().timezone.as_ref(),
        Units::Us,
        RateUnit::GalPer1000Ft2,
    )
}

fn metric() -> Style {
    Style::of(
        sample::audit().timezone.as_ref(),
        Units::Metric,
        RateUnit::MlPerM2,
    )
}

#[test]
fn a_zone_has_a_row_in_each_application_and_an_untreated_one_has_an_empty_row() {
    let rows = read(&zones::render(&sample::audit(), &us()));
    let of = |site: &str, zone: &str| -> Vec<_> {
        rows.iter()
            .filter(|row| row["site"] == site && row["zone"] == zone)
            .collect()
    };
    assert_eq!(of("quay", "main").len(), 2);
    assert_eq!(of("quay", "main")[1]["application"], "2");
    let untreated = of("'=mill", "court");
    assert_eq!(untreated.len(), 1);
    assert_eq!(untreated[0]["application"], "");
    assert_eq!(untreated[0]["treated_ft2"], "");
    assert_eq!(untreated[0]["volume_gal"], "");
    // 2,000 m2 / 0.09290304 m2 per ft2.
    assert_eq!(untreated[0]["area_ft2"], "21528");
    assert!(
        of("'=mill", "bed").is_empty(),
        "keep-off ground is not to be treated"
    );
}

#[test]
fn figures_stand_in_the_units_of_their_headings() {
    let row = &read(&zones::render(&sample::audit(), &us()))[0];
    assert_eq!(row["treated_pct"], "95.7"); // 9,297 of 9,712.123 m2
    assert_eq!(row["volume_gal"], "66.08"); // 250.123 L / 3.785411784
    assert_eq!(row["target_gal_ac"], "35.0");
    assert_eq!(row["target_gal_1000ft2"], "0.803"); // 35 / 43.56
    assert_eq!(row["patches_ft2"], "2314"); // 215 m2
    let row = &read(&zones::render(&sample::audit(), &metric()))[0];
    assert_eq!(row["treated_m2"], "9297.0");
    assert_eq!(row["volume_l"], "250.12");
    assert_eq!(row["target_ml_m2"], "32.74");
    assert_eq!(row["target_l_ha"], "327.4");
}

#[test]
fn times_are_local_and_utc() {
    let row = &read(&visits::render(&sample::audit(), &us()))[0];
    assert_eq!(
        row["spray_start_local_America/Winnipeg"],
        "2026-01-11 20:31:00"
    );
    assert_eq!(row["spray_start_utc"], "2026-01-12T02:31:00Z");
    assert_eq!(row["on_site_min"], "33.0");
}

#[test]
fn a_visit_without_treating_and_without_meter_keeps_its_unknowns_empty() {
    let rows = read(&visits::render(&sample::audit(), &us()));
    let present = rows
        .iter()
        .find(|row| row["kind"] == "present")
        .expect("one in the sample");
    assert_eq!(present["application"], "");
    assert_eq!(present["spray_start_local_America/Winnipeg"], "");
    let unmetered = rows
        .iter()
        .find(|row| row["products"] == "unmetered")
        .expect("one");
    assert_eq!(unmetered["volume_gal"], "");
}

#[test]
fn ledger_lines_stand_under_their_own_headings() {
    let row = &read(&runs::render(&sample::audit(), &metric()))[0];
    let lines = [
        ("metered_l", "470.00"),
        ("zones_l", "441.00"),
        ("keep_off_l", "2.00"),
        ("fringe_l", "11.00"),
        ("outside_l", "3.00"),
        ("yard_l", "4.00"),
        ("gun_l", "0.00"),
        ("closed_l", "1.00"),
        ("dropout_l", "6.00"),
        ("between_logs_l", "2.00"),
    ];
    for (heading, litres) in lines {
        assert_eq!(row[heading], litres, "{heading}");
    }
}

#[test]
fn findings_carry_their_figure_with_its_unit() {
    let rows = read(&findings::render(&sample::audit(), &us()));
    let of = |code: &str| {
        rows.iter()
            .find(|row| row["code"] == code)
            .expect("in the sample")
    };
    assert_eq!(
        (
            of("bare_patch")["figure"].as_str(),
            of("bare_patch")["unit"].as_str()
        ),
        ("2314", "ft2")
    );
    assert_eq!(
        (
            of("doubled")["figure"].as_str(),
            of("doubled")["limit"].as_str()
        ),
        ("31.0", "25.0")
    );
    assert_eq!(of("doubled")["unit"], "%");
    assert_eq!(of("no_log")["figure"], "");
}

#[test]
fn formulas_in_names_are_disarmed_and_numbers_are_not() {
    for (name, cell) in [
        ("=1+1", "'=1+1"),
        ("+49", "'+49"),
        ("-lot", "'-lot"),
        ("@here", "'@here"),
        ("\t=1", "' =1"),
        ("a=b", "a=b"),
    ] {
        assert_eq!(harmless(name), cell);
    }
    let row = &read(&findings::render(&sample::audit(), &us()))[0];
    assert!(
        row["lon_deg"].starts_with("-30."),
        "a western longitude stays a number"
    );
}

#[test]
fn tables_without_rows_still_have_headings() {
    let mut audit = sample::audit();
    audit.findings.clear();
    let bytes = findings::render(&audit, &us());
    assert!(bytes.starts_with("\u{FEFF}severity,code,title,".as_bytes()));
    assert_eq!(bytes.iter().filter(|byte| **byte == b'\n').count(), 1);
}

#[test]
fn full_width_and_small_forms_begin_no_formula_either() {
    for start in [
        "=", "+", "-", "@", "\u{FF1D}", "\u{FF0B}", "\u{FF0D}", "\u{FF20}", "\u{FE66}", "\u{2212}",
    ] {
        assert_eq!(harmless(&format!("{start}1")), format!("'{start}1"));
    }
    // What shows nothing before it does not hide it.
    assert!(!harmless("\u{AD}=1").starts_with('='));
    assert_eq!(harmless("lot = 1"), "lot = 1");
}
