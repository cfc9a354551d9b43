use super::*;

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{found} is not {expected} +/- {tolerance}"
    );
}

/// Minnesota Pollution Control Agency, "Material conversions for winter parking lot and sidewalk
/// maintenance": a lane-mile is 63,360 ft2, an acre 43,560 ft2; so 1 gal/1000 ft2 is 63.36
/// gal/lane-mile and 43.56 gal/ac.
#[test]
fn rate_units_agree_with_the_published_lane_mile_and_acre() {
    let one = 1.0 / RateUnit::GalPer1000Ft2.measure().per_si;
    close(one * RateUnit::GalPerLaneMile.measure().per_si, 63.36, 1e-9);
    close(one * RateUnit::GalPerAcre.measure().per_si, 43.56, 1e-9);
}

/// Pesticide Environmental Stewardship, "Measurements, Conversions, and Formulas": 1 gal/ac =
/// 9.35 L/ha, 1 acre = 0.4047 ha, 1 gal = 3.785 L.
#[test]
fn units_agree_with_published_conversions() {
    let one = 1.0 / RateUnit::GalPerAcre.measure().per_si;
    close(one * RateUnit::LPerHa.measure().per_si, 9.35, 0.005);
    close(
        Units::Metric.land().per_si / Units::Us.land().per_si,
        0.4047,
        0.00005,
    );
    close(
        Units::Metric.volume().per_si / Units::Us.volume().per_si,
        3.785,
        0.0005,
    );
}

/// D. Gerken, turf slides 2013 (Oklahoma State University, Oklahoma City): 40 gal/ac is
/// 0.92 gal/1000 ft2.
#[test]
fn forty_gallons_an_acre_print_as_published() {
    let rate_ml_m2 = 40.0 / RateUnit::GalPerAcre.measure().per_si;
    assert_eq!(
        RateUnit::GalPer1000Ft2.measure().text(rate_ml_m2),
        "0.92 gal/1000 ft2"
    );
    assert_eq!(RateUnit::GalPerAcre.measure().text(rate_ml_m2), "40 gal/ac");
}

#[test]
fn areas_print_to_ten_square_feet_and_a_hundredth_of_an_acre() {
    let m2 = 43_560.0 * 0.092_903_04;
    assert_eq!(Units::Us.area().text(m2), "43,560 ft2");
    assert_eq!(Units::Us.area().text(0.092_903_04 * 847.0), "850 ft2");
    assert_eq!(Units::Us.land().text(m2 * 2.394), "2.39 ac");
    assert_eq!(Units::Metric.area().text(78.6), "79 m2");
}

#[test]
fn something_small_is_not_printed_as_nothing() {
    assert_eq!(Units::Us.area().text(0.2), "<10 ft2");
    assert_eq!(Units::Us.volume().text(1.0), "<1 gal");
    assert_eq!(Units::Us.volume().text(0.0), "0 gal");
    assert_eq!(percent(0.002), "<1 %");
    assert_eq!(percent(0.0), "0 %");
    assert_eq!(percent(0.998), ">99 %");
    assert_eq!(percent(1.0), "100 %");
    assert_eq!(percent(0.314), "31 %");
}

#[test]
fn digits_are_grouped_by_three() {
    for (value, decimals, text) in [
        (0.0, 0, "0"),
        (999.0, 0, "999"),
        (1000.0, 0, "1,000"),
        (-1000.0, 0, "-1,000"),
        (-100.0, 0, "-100"),
        (1_234_567.891, 2, "1,234,567.89"),
        (-0.001, 2, "0.00"),
    ] {
        assert_eq!(grouped(value, decimals), text);
    }
}

#[test]
fn cells_are_plain_digits_and_empty_when_not_known() {
    assert_eq!(Units::Us.area().cell(Some(1000.0)), "10764");
    assert_eq!(Units::Us.area().cell(None), "");
    assert_eq!(cell(Some(-0.0001), 2), "0.00");
    assert_eq!(cell(Some(f64::NAN), 2), "");
}

#[test]
fn durations_read_like_a_clock() {
    assert_eq!(duration(31.2), "31 s");
    assert_eq!(duration(0.3), "<1 s");
    assert_eq!(duration(41.0 * 60.0), "41 min");
    assert_eq!(duration(7505.0), "2 h 05 min");
    assert_eq!(count(1, "patch", "patches"), "1 patch");
    assert_eq!(count(1204, "fix", "fixes"), "1,204 fixes");
}
