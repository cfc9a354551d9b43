use super::*;

#[track_caller]
fn near(text: &str, dimension: Dimension, expected: f64, tolerance: f64) {
    let value = parse(text, dimension).unwrap();
    assert!(
        (value - expected).abs() <= tolerance,
        "{text}: {value}, expected {expected} +/- {tolerance}"
    );
}

#[test]
fn rates_agree_with_the_published_conversions() {
    // Exact arithmetic on 231 in3, 0.3048 m, 43,560 ft2: 1 gal/ac = 0.9353956 mL/m2 = 9.353956 L/ha.
    near("1 gal/ac", Dimension::Rate, 0.935_395_6, 5e-8);
    near("9.353956 L/ha", Dimension::Rate, 0.935_395_6, 5e-8);
    // pesticidestewardship.org, conversion factors: 1 gal/ac = 9.35 L/ha (three digits).
    near("1 gal/ac", Dimension::Rate, 9.35 / 10.0, 0.0005);
    // OSU-OKC turf slides 2013 (D. Gerken): 40 gal/acre is 0.92 gal/1,000 ft2 (two digits).
    let per_1000 = parse("40 gal/acre", Dimension::Rate).unwrap()
        / parse("1 gal/1000 ft2", Dimension::Rate).unwrap();
    assert!((per_1000 - 0.92).abs() < 0.005, "{per_1000}");
}

#[test]
fn lane_mile_is_63360_square_feet() {
    // Minnesota Pollution Control Agency, material conversions: 12 ft x 5280 ft = 63360 ft2, and
    // exact arithmetic from it: 20 gal/lane-mi = 13.75 gal/ac, 1 gal/1000 ft2 = 63.36 gal/lane-mi.
    for (lane_mi, gal_ac, ml_m2) in [
        (20.0, 13.75, 12.862),
        (25.0, 17.1875, 16.077),
        (30.0, 20.625, 19.293),
        (40.0, 27.5, 25.723),
        (50.0, 34.375, 32.154),
    ] {
        let a = parse(&format!("{lane_mi} gal/lane-mi"), Dimension::Rate).unwrap();
        let b = parse(&format!("{gal_ac} gal/ac"), Dimension::Rate).unwrap();
        assert!((a - b).abs() < 1e-12, "{a} {b}");
        assert!((a - ml_m2).abs() < 0.0006, "{a} {ml_m2}");
    }
}

#[test]
fn gallons_per_1000_square_feet_agree_with_the_table() {
    // Exact arithmetic: gal/1000 ft2, gal/ac, gal/lane-mi, mL/m2.
    for (k, ac, lane, ml) in [
        (0.3, 13.068, 19.008, 12.224),
        (0.5, 21.780, 31.680, 20.373),
        (0.75, 32.670, 47.520, 30.559),
        (0.8, 34.848, 50.688, 32.597),
        (1.0, 43.560, 63.360, 40.746),
    ] {
        near(&format!("{k} gal/1000ft2"), Dimension::Rate, ml, 0.0006);
        near(&format!("{ac} gal/ac"), Dimension::Rate, ml, 0.0006);
        near(&format!("{lane} gal/lane-mi"), Dimension::Rate, ml, 0.0006);
        near(
            &format!("{} oz/1000ft2", 128.0 * k),
            Dimension::Rate,
            ml,
            0.0006,
        );
    }
}

#[test]
fn areas_and_volumes_are_exact() {
    // CIA Factbook, appendix G: 1 acre = 4,046.856 422 4 m2.
    assert!((M2_PER_AC - 4_046.856_422_4).abs() < 1e-9);
    // 231 cubic inches of 2.54 cm.
    assert!((L_PER_GAL - 231.0 * 2.54_f64.powi(3) / 1000.0).abs() < 1e-14);
    assert!((M2_PER_LANE_MI - 5886.3366).abs() < 5e-5);
    assert!((M_PER_MI - 1609.344).abs() < 1e-9);
}

#[test]
fn boom_formula_gives_the_published_rate() {
    // Albany County Weed & Pest: 480 oz/min at 5 mph over 18.5 ft is "20 GPA" (20.07 unrounded).
    let flow_l_s = parse("480 oz/min", Dimension::Flow).unwrap();
    let speed_m_s = parse("5 mph", Dimension::Speed).unwrap();
    let width_m = parse("18.5 ft", Dimension::Length).unwrap();
    let gal_ac =
        flow_l_s * 1000.0 / (speed_m_s * width_m) / parse("1 gal/ac", Dimension::Rate).unwrap();
    assert!((gal_ac - 20.068).abs() < 0.0005, "{gal_ac}");
}

#[test]
fn metric_calibration_example_gives_100_litres_per_hectare() {
    // A Queensland chemical-accreditation training page: 24 L/min, 200 m/min, 12 m: 100 L/ha.
    let flow_l_s = parse("24 L/min", Dimension::Flow).unwrap();
    let speed_m_s = parse("12 km/h", Dimension::Speed).unwrap();
    near(
        "100 L/ha",
        Dimension::Rate,
        flow_l_s * 1000.0 / (speed_m_s * 12.0),
        1e-9,
    );
}

#[test]
fn eutectic_temperatures_convert_as_published() {
    // FHWA-RD-95-202, appendix A: -5.8 degF is -21 degC, -60 degF is -51 degC (whole degrees).
    near("-5.8 degF", Dimension::Temperature, -21.0, 0.5);
    near("-60 °F", Dimension::Temperature, -51.0, 0.5);
    near("32 degF", Dimension::Temperature, 0.0, 1e-12);
    near("212F", Dimension::Temperature, 100.0, 1e-12);
}

#[test]
fn every_dimension_reads_its_sample() {
    near("30 in", Dimension::Length, 0.762, 1e-12);
    near("7 ft", Dimension::Length, 2.1336, 1e-12);
    near("0.4 s", Dimension::Time, 0.4, 0.0);
    near("90 min", Dimension::Time, 5400.0, 0.0);
    near(
        "45 gal/min",
        Dimension::Flow,
        45.0 * 3.785_411_784 / 60.0,
        1e-12,
    );
    near("1 m3/h", Dimension::Flow, 1000.0 / 3600.0, 1e-15);
    near("10 %", Dimension::Share, 0.1, 1e-15);
    near("0.1", Dimension::Share, 0.1, 0.0);
    near("0.20 /gal", Dimension::Price, 0.2 / 3.785_411_784, 1e-15);
    near("425 gal", Dimension::Volume, 425.0 * 3.785_411_784, 1e-9);
    near("2 qt", Dimension::Volume, 3.785_411_784 / 2.0, 1e-12);
    near("-0.5m", Dimension::Length, -0.5, 0.0);
    // 1 bar is 14.5038 psi (from memory).
    near("14.5038 psi", Dimension::Pressure, 100.0, 1e-3);
    near("180 deg", Dimension::Angle, 180.0, 0.0);
}

#[test]
fn a_wrong_unit_lists_the_right_ones() {
    let error = parse("35 gal/min", Dimension::Rate).unwrap_err();
    assert!(
        error.contains("gal/min") && error.contains("gal/1000ft2") && error.contains("L/ha"),
        "{error}"
    );
    let error = parse("35", Dimension::Length).unwrap_err();
    assert!(
        error.contains("needs a unit") && error.contains("ft"),
        "{error}"
    );
}

#[test]
fn text_without_a_number_is_an_error() {
    for text in [
        "", "ft", "nan ft", "inf ft", "1e999 ft", "1,000 ft", "--3 ft",
    ] {
        assert!(parse(text, Dimension::Length).is_err(), "{text}");
    }
    assert!(
        parse("3,5 ft", Dimension::Length)
            .unwrap_err()
            .contains("comma")
    );
}
