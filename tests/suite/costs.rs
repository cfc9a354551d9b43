//! What new lots cost: closed forms, published figures, and what is said where a setting is missing.

use crate::measure::{FLEET, Measured, lot, with};
use crate::night::{Night, rectangle, sites};
use serde_json::Value;

/// A foot, m.
const FT: f64 = 0.3048;
/// A gallon, L: 231 cubic inches.
const GAL: f64 = 3.785_411_784;
/// A pound, kg.
const LB: f64 = 0.453_592_37;

/// The pickup of the measuring tests with a tank of brine, and these lines under `[estimate]`.
fn fleet(rig: &str, estimate: &str) -> String {
    let brine = r#"
[defaults]
target = "0.5 gal/1000ft2"
[[product]]
id = "brine"
solute = "NaCl"
mass_fraction = "23.3 %"
specific_gravity = 1.178
price = "0.20 /gal"
"#;
    let own = format!("gear_change = \"3 s\"\nproduct = \"brine\"\ntank = \"100 gal\"\n{rig}");
    format!(
        "{brine}{}{estimate}",
        FLEET.replace("gear_change = \"3 s\"", &own)
    )
}

fn application(measured: &Measured) -> &Value {
    &measured.rig()["cost"]["application"]
}

fn likely(value: &Value) -> f64 {
    value["likely"]
        .as_f64()
        .unwrap_or_else(|| panic!("{value}"))
}

#[track_caller]
fn near(found: f64, expected: f64, share: f64) {
    assert!(
        (found / expected - 1.0).abs() <= share,
        "{found}, expected {expected} to {share}"
    );
}

/// Minnesota Pollution Control Agency, *Winter Parking Lot and Sidewalk Maintenance Manual*: a lot of 20,000 ft2 at 0.5
/// gal per 1,000 ft2 takes "about 10 gallons". Laps are bought too: ceil(99 / 9) = 11 lanes of 10 ft on 100 ft.
#[test]
fn the_manuals_lot_takes_ten_gallons_and_its_laps() {
    let measured = Measured::of(&fleet("", ""), &lot(200.0, 100.0, r#","edge":"open""#));
    let liquid = &application(&measured)["liquid"];
    near(liquid["ground_l"].as_f64().unwrap(), 10.0 * GAL, 1e-4);
    let again = liquid["overlap_l"].as_f64().unwrap() + liquid["outside_l"].as_f64().unwrap();
    near(again, 1.0 * GAL, 1e-3);
}

/// Laboratory arithmetic on brine of 23.3 %, specific gravity 1.178: 40 gal an acre are 91.6 lb of salt and 55.6 lb of
/// chloride an acre, 6.23 g of chloride a square metre. Iowa DOT (news release, January 2008): 50 gal a lane-mile are
/// "approximately 110 pounds of salt"; 114.5 by the density.
#[test]
fn salt_and_chloride_are_the_published_ones() {
    let acre = lot(330.0, 132.0, r#","edge":"open","target":"40 gal/ac""#);
    let measured = Measured::of(&fleet("", ""), &acre);
    let of = application(&measured);
    let g_m2 = of["dry_salt_g_m2"].as_f64().unwrap();
    near(g_m2 / 1000.0 * 4_046.856_422_4 / LB, 91.6, 2e-3);
    near(g_m2 * 0.60663, 6.23, 2e-3);
    let ground =
        of["liquid"]["ground_l"].as_f64().unwrap() / of["liquid_l"]["likely"].as_f64().unwrap();
    near(likely(&of["chloride_kg"]) * ground / LB, 55.6, 2e-3);
    let lane_mile = lot(330.0, 132.0, r#","edge":"open","target":"50 gal/lane-mi""#);
    let measured = Measured::of(&fleet("", ""), &lane_mile);
    let lb = application(&measured)["dry_salt_g_m2"].as_f64().unwrap() / 1000.0 / LB;
    near(lb * 63_360.0 * FT * FT, 110.0, 0.05);
    near(lb * 63_360.0 * FT * FT, 114.5, 1e-3);
}

/// 5940 x GPM / (MPH x inches) = GPA (University of Florida, WG013): with 5 gal/min, 45 gal/ac and 120 in the rig does
/// 5.5 mph, not 6, and 14 lanes of 300 ft take 4,200 ft / 8.0667 ft/s = 520.7 s.
#[test]
fn a_rig_is_never_faster_than_its_pump() {
    let slow = lot(300.0, 120.0, r#","edge":"open","target":"45 gal/ac""#);
    let measured = Measured::of(&fleet("greatest_flow = \"5 gal/min\"", ""), &slow);
    let of = application(&measured);
    assert_eq!(of["flow_binds"], true);
    near(of["speed_m_s"].as_f64().unwrap(), 5.5 * 0.447_04, 1e-9);
    near(
        of["time"]["spraying_s"].as_f64().unwrap(),
        4200.0 / (5.5 * 88.0 / 60.0),
        1e-3,
    );
    let measured = Measured::of(&fleet("greatest_flow = \"6 gal/min\"", ""), &slow);
    assert_eq!(application(&measured)["flow_binds"], false);
}

/// 14 lanes of 300 ft at 6 mph and 13 turns of 20 s: 477.3 + 260 s; 6 min fixed, 20 min of deadhead. 140 ft of swath on 300
/// ft are 42,000 ft2: 21 gal, in 21 s with 60 gal/min. 2,278 s: 79.73 at 126 an hour (rig 56, two people at 35), 4.20 of
/// liquid.
#[test]
fn time_and_money_are_those_of_squared_paper() {
    let lines = "turn_time = \"20 s\"\nper_visit = \"6 min\"\ndeadhead = \"20 min\"\nfill_rate = \"60 gal/min\"\n\
        fill_trip = \"20 min\"\ncrew = 2\ncrew_hour = \"35 /h\"\n";
    let measured = Measured::of(
        &fleet("rig_hour = \"56 /h\"", lines),
        &lot(300.0, 120.0, r#","edge":"open""#),
    );
    let of = application(&measured);
    let seconds = 4200.0 / 8.8 + 260.0 + 360.0 + 1200.0 + 21.0;
    near(likely(&of["total_s"]), seconds, 1e-3);
    near(likely(&of["liquid_l"]), 21.0 * GAL, 1e-3);
    assert_eq!(of["loads"]["likely"], 1.0);
    near(
        likely(&of["direct_cost"]),
        seconds * 126.0 / 3600.0 + 4.20,
        1e-3,
    );
    assert_eq!(of["amount"], of["direct_cost"]);
    assert!(of["price"].is_null());
    assert!(!measured.page.contains("price"), "{}", measured.page);
}

/// The same lot at 45 gal/ac takes 43.39 gal: with a tank of 12 gal four loads, three ways of 20 min to the filling place.
/// 12 gal are laid after 506,880 / 45 x 12 ... that is 11,616 ft2 = 1,161.6 ft of lanes: in the fourth of 300 ft.
#[test]
fn whole_loads_are_fetched_and_the_tank_runs_out_on_its_way() {
    let fleet =
        fleet("rig_hour = \"60 /h\"", "fill_trip = \"20 min\"\n").replace("100 gal", "12 gal");
    let measured = Measured::of(
        &fleet,
        &lot(300.0, 120.0, r#","edge":"open","target":"45 gal/ac""#),
    );
    let of = application(&measured);
    assert_eq!(of["loads"]["likely"], 4.0);
    near(of["time"]["filling_s"].as_f64().unwrap(), 3600.0, 1e-9);
    let stops = measured.rig()["cost"]["tank_stops"].as_array().unwrap();
    assert_eq!(stops.len(), 3);
    assert_eq!(stops[0]["lane"], 4);
    near(
        stops[0]["along_m"].as_f64().unwrap(),
        (1161.6 - 900.0) * FT,
        0.01,
    );
    assert!(measured.out.join("measure.html").is_file());
}

/// Overhead 15 %, insurance 5 %, margin a fifth of the price: price = cost x 1.2 / 0.8.
#[test]
fn a_price_is_said_only_when_all_that_makes_one_is_set() {
    let ground = lot(300.0, 120.0, r#","edge":"open""#);
    let some = "overhead = \"15 %\"\ninsurance = \"5 %\"\n";
    let measured = Measured::of(&fleet("rig_hour = \"56 /h\"", some), &ground);
    assert!(application(&measured)["price"].is_null());
    assert!(measured.page.contains("margin"), "{}", measured.page);
    let all = format!("{some}margin = \"20 %\"\n");
    let measured = Measured::of(&fleet("rig_hour = \"56 /h\"", &all), &ground);
    let of = application(&measured);
    near(likely(&of["price"]), likely(&of["direct_cost"]) * 1.5, 1e-9);
    assert_eq!(of["amount"], of["price"]);
}

/// The charge for coming is held against the minimum, or comes on top of it.
#[test]
fn the_minimum_is_the_greater_of_itself_and_the_cost() {
    let ground = lot(300.0, 120.0, r#","edge":"open""#);
    let amount = |lines: &str| {
        let measured = Measured::of(&fleet("rig_hour = \"56 /h\"", lines), &ground);
        let of = application(&measured);
        (
            likely(&of["direct_cost"]),
            likely(&of["amount"]),
            of["minimum_binds"].clone(),
        )
    };
    let (cost, charged, binds) = amount("trip = \"25\"\nminimum_charge = \"140\"\n");
    assert!(cost > 25.0 && cost < 140.0);
    assert_eq!((charged, binds), (140.0, Value::Bool(true)));
    let (_, charged, _) =
        amount("trip = \"25\"\nminimum_charge = \"140\"\ntrip_in_minimum = false\n");
    near(charged, 165.0, 1e-12);
    // No minimum binds: what is asked is the price, with the trip's share of overhead, insurance and margin in it.
    let measured = Measured::of(
        &fleet(
            "rig_hour = \"56 /h\"",
            "trip = \"25\"\noverhead = \"15 %\"\ninsurance = \"5 %\"\nmargin = \"20 %\"\nminimum_charge = \"5\"\ntrip_in_minimum = false\n",
        ),
        &ground,
    );
    let of = application(&measured);
    near(likely(&of["amount"]), likely(&of["price"]), 1e-9);
    near(
        likely(&of["price"]),
        likely(&of["direct_cost"]) * 1.2 / 0.8,
        1e-9,
    );
    let (cost, charged, binds) = amount("trip = \"25\"\nminimum_charge = \"5\"\n");
    assert_eq!((charged, binds), (cost, Value::Bool(false)));
}

/// A walk of 200 x 5 ft by cart, stairs of 12 steps, a court of 1,000 ft2 by hose, each at its one rate, one stop each.
#[test]
fn hand_work_has_one_rate_a_zone() {
    let at = |a: f64, b: f64, c: f64, d: f64| rectangle(a * FT, b * FT, c * FT, d * FT);
    let zones = [
        with(
            "quay",
            "lot",
            &at(0.0, 0.0, 200.0, 100.0),
            r#","edge":"open""#,
        ),
        with(
            "quay",
            "walk",
            &at(0.0, 120.0, 200.0, 125.0),
            r#","use":"walk","method":"hand""#,
        ),
        with(
            "quay",
            "stairs",
            &at(210.0, 120.0, 220.0, 130.0),
            r#","use":"walk","method":"hand","steps":12"#,
        ),
        with(
            "quay",
            "court",
            &at(0.0, 140.0, 50.0, 160.0),
            r#","method":"hand""#,
        ),
    ];
    let lines = "hand_rate = \"6000 ft2/h\"\nwalk_rate = \"2400 ft/h\"\nstep_time = \"15 s\"\nhand_setup = \"2 min\"\n";
    let measured = Measured::of(&fleet("", lines), &sites(&zones));
    let hand_s = application(&measured)["time"]["hand_s"].as_f64().unwrap();
    near(hand_s, 300.0 + 180.0 + 600.0 + 3.0 * 120.0, 1e-3);
    let liquid = &application(&measured)["liquid"];
    // 0.5 gal per 1,000 ft2 each.
    near(liquid["cart_l"].as_f64().unwrap(), 0.5 * GAL, 1e-3);
    near(liquid["hand_l"].as_f64().unwrap(), 0.55 * GAL, 1e-3);
    // Without a rate for carts the walk goes by area.
    let by_area = lines.replace("walk_rate = \"2400 ft/h\"\n", "");
    let measured = Measured::of(&fleet("", &by_area), &sites(&zones));
    let hand_s = application(&measured)["time"]["hand_s"].as_f64().unwrap();
    near(hand_s, 600.0 + 180.0 + 600.0 + 3.0 * 120.0, 1e-3);
}

/// Half of the lot is stalls, one in four of them taken: an eighth of the liquid less, no time less.
#[test]
fn parked_cars_take_their_stalls_and_nothing_else() {
    let at = |a: f64, b: f64, c: f64, d: f64| rectangle(a * FT, b * FT, c * FT, d * FT);
    let lot = with(
        "quay",
        "lot",
        &at(0.0, 0.0, 300.0, 120.0),
        r#","edge":"open""#,
    );
    let stalls = crate::night::zone_with(
        r#""site":"quay","use":"stalls""#,
        &at(0.0, 0.0, 300.0, 60.0),
    );
    // A row that says so itself, beside a fleet file that says otherwise: apartments are no shops.
    let own_words = crate::night::zone_with(
        r#""site":"quay","use":"stalls","occupied":["0 %","25 %","60 %"]"#,
        &at(0.0, 0.0, 300.0, 60.0),
    );
    let own = Measured::of(
        &fleet("", "occupied = \"90 %\"\n"),
        &sites(&[lot.clone(), own_words]),
    );
    let free = Measured::of(&fleet("", ""), &sites(&[lot.clone(), stalls.clone()]));
    let lines = "occupied = [\"0 %\", \"25 %\", \"60 %\"]\n";
    let taken = Measured::of(&fleet("", lines), &sites(&[lot.clone(), stalls]));
    let (free, taken) = (application(&free), application(&taken));
    assert_eq!(application(&own)["liquid_l"], taken["liquid_l"]);
    near(
        likely(&taken["liquid_l"]),
        likely(&free["liquid_l"]) * 0.875,
        0.005,
    );
    assert_eq!(free["time"], taken["time"]);
    assert!(taken["liquid_l"]["low"].as_f64() < taken["liquid_l"]["likely"].as_f64());
    let bare = Measured::of(&fleet("", lines), &sites(&[lot]));
    near(
        likely(&application(&bare)["liquid_l"]),
        likely(&free["liquid_l"]),
        1e-9,
    );
    assert!(bare.page.contains("Assumed"), "{}", bare.page);
}

/// Two equal lots: together under a tank each, three loads as a route; each bears half of two ways to the filling place,
/// half of one deadhead and half of one way between.
#[test]
fn lots_of_a_route_share_what_they_cause() {
    let at = |x: f64| rectangle(x * FT, 0.0, (x + 300.0) * FT, 120.0 * FT);
    let zones = [
        with(
            "a",
            "lot",
            &at(0.0),
            r#","edge":"open","target":"45 gal/ac""#,
        ),
        with(
            "b",
            "lot",
            &at(400.0),
            r#","edge":"open","target":"45 gal/ac""#,
        ),
    ];
    let lines = "route = true\ndeadhead = \"30 min\"\nbetween = \"8 min\"\nfill_trip = \"20 min\"\nbegin = \"22:00\"\n\
        opening = \"06:00\"\n";
    let fleet = fleet("rig_hour = \"60 /h\"", lines).replace("100 gal", "30 gal");
    let measured = Measured::of(&fleet, &sites(&zones));
    for site in measured.json["sites"].as_array().unwrap() {
        let of = &site["rigs"][0]["cost"]["application"];
        near(of["time"]["filling_s"].as_f64().unwrap(), 1200.0, 1e-6);
        near(
            of["time"]["deadhead_s"].as_f64().unwrap(),
            900.0 + 240.0,
            1e-6,
        );
    }
    let night = &measured.json["nights"][0];
    // 86.8 gal in tanks of 30: three loads.
    near(likely(&night["loads"]), 86.78 / 30.0, 1e-3);
    assert_eq!(night["crews"][0]["in_time"], true);
    assert!(measured.page.contains("as one route"), "{}", measured.page);

    // With two rigs each drives out and home for itself, 1,800 s, where its lot bears half of that and half a way between.
    let unhurried = Measured::of(&fleet.replace("opening = \"06:00\"\n", ""), &sites(&zones));
    let crews = unhurried.json["nights"][0]["crews"].as_array().unwrap();
    let one = &unhurried.json["sites"][0]["rigs"][0]["cost"]["application"]["total_s"];
    assert_eq!(crews.len(), 2);
    near(likely(&crews[0]["finish_s"]), 2.0 * likely(one), 1e-6);
    near(
        likely(&crews[1]["finish_s"]),
        likely(one) - 1140.0 + 1800.0,
        1e-6,
    );
}

/// 14 storms of one treatment each cost fourteen times one; 8 and 22 as many times.
#[test]
fn a_season_is_its_storms() {
    let lines = "storms = [8, 14, 22]\nper_storm = { post = { count = 1, target = \"45 gal/ac\" }, pre = { count = 0.5 } }\n";
    let measured = Measured::of(
        &fleet("rig_hour = \"60 /h\"", lines),
        &lot(300.0, 120.0, r#","edge":"open""#),
    );
    let cost = &measured.rig()["cost"];
    let kinds = cost["event"]["kinds"].as_array().unwrap();
    let (pre, post) = (
        likely(&kinds[0]["once"]["amount"]),
        likely(&kinds[1]["once"]["amount"]),
    );
    assert_eq!(kinds[0]["kind"], "pre");
    near(
        kinds[1]["target_ml_m2"].as_f64().unwrap(),
        45.0 * 0.935_395_6,
        1e-6,
    );
    let storm = 0.5 * pre + post;
    near(likely(&cost["event"]["sums"]["amount"]), storm, 1e-9);
    let season = &cost["season"]["sums"]["amount"];
    near(season["low"].as_f64().unwrap(), 8.0 * storm, 1e-9);
    near(likely(season), 14.0 * storm, 1e-9);
    near(season["high"].as_f64().unwrap(), 22.0 * storm, 1e-9);
}

#[test]
fn settings_that_contradict_themselves_are_errors_with_their_line() {
    let ground = lot(100.0, 60.0, "");
    for (lines, expected) in [
        (
            "crew_hour = \"-35 /h\"",
            "`crew_hour` in [estimate]: must be 0 or more",
        ),
        (
            "hand_rate = [\"9 ft2/h\", \"6 ft2/h\", \"8 ft2/h\"]",
            "must rise: low, likely, high",
        ),
        (
            "deadhead = [\"9 min\", \"12 min\"]",
            "expected one value or three, found 2",
        ),
        (
            "minimum_charge = [\"1\", \"2\", \"3\"]",
            "`minimum_charge` in [estimate]: expected a sum of money",
        ),
        ("crew = [1, 2]", "expected one value or three"),
        (
            "begin = \"20:00\"\nopening = \"19:00\"",
            "before the night begins",
        ),
        ("opening = \"25:00\"", "expected a time of day"),
        ("storms = [8, 14, 22]", "no kind of treatment"),
        ("per_storm = { mid = { count = 1 } }", "unknown key `mid`"),
        (
            "per_storm = { pre = { target = \"30 gal/ac\" } }",
            "`pre` in per_storm has no `count`",
        ),
        ("margin = \"100 %\"", "from 0 to under 100 %"),
        ("occupied = \"120 %\"", "from 0 to 100 %"),
        (
            "crew_hour = 35",
            "expected a price per time with its unit, found the bare number 35",
        ),
        (
            "per_storm = { pre = { count = 1 } }",
            "`pre` in per_storm: there is no target anywhere",
        ),
    ] {
        let text = format!("{FLEET}{lines}\n");
        let night = Night::empty().fleet(&text).sites(&ground);
        let outcome = night.run(
            &["measure", night.path("").to_str().unwrap()],
            &night.path("out"),
            &[],
        );
        assert_eq!(outcome.code, 2, "{lines}: {}", outcome.stdout);
        assert!(
            outcome.stderr.contains(expected),
            "{lines}: {}",
            outcome.stderr
        );
        let line = 1 + text
            .lines()
            .position(|line| line == lines.lines().last().unwrap())
            .unwrap();
        let place = format!("fleet.toml:{line}: ");
        assert!(
            outcome.stderr.contains(&place),
            "{place} {}",
            outcome.stderr
        );
    }
}

/// Nothing is invented: a fleet file without a price names what is missing.
#[test]
fn what_is_not_set_is_named_and_left_out() {
    let measured = Measured::of(FLEET, &lot(200.0, 100.0, ""));
    let of = application(&measured);
    assert!(of["liquid_l"].is_null() && of["amount"].is_null());
    assert!(of["total_s"]["likely"].as_f64().unwrap() > 0.0);
    let left_out = measured.rig()["cost"]["left_out"].as_array().unwrap();
    for key in [
        "target",
        "crew_hour",
        "rig.rig_hour",
        "rig.product",
        "deadhead",
    ] {
        assert!(left_out.iter().any(|of| of == key), "{key}");
    }
    let page = std::fs::read_to_string(measured.out.join("measure.html")).unwrap();
    assert!(page.contains("for want of keys in the fleet file") && page.contains("rig.rig_hour"));
}

/// The demo night audited, then offered: counts and a lot beside its plan are those of `audit.json`.
#[test]
fn own_nights_are_offered_as_lines_and_driven_lots_stand_beside_their_plans() {
    let night = Night::empty();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/night");
    let (audited, out) = (night.path("audited"), night.path("out"));
    let audited_text = audited.to_str().unwrap();
    let outcome = night.run(
        &["audit", demo, "--out", audited_text, "--fail-on", "never"],
        &audited,
        &[],
    );
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let plan = out.join("measure.json");
    let plan = plan.to_str().unwrap();
    let arguments = |nights: &[&str]| {
        let mut arguments = vec!["measure", demo, "--out", out.to_str().unwrap()];
        nights
            .iter()
            .for_each(|night| arguments.extend(["--nights", night]));
        arguments
            .iter()
            .map(|text| (*text).to_owned())
            .collect::<Vec<_>>()
    };
    let run = |nights: &[&str]| {
        let arguments = arguments(nights);
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        night.run(&arguments, &out, &[])
    };
    let outcome = run(&[audited_text]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let read = |path: &std::path::Path| -> Value {
        serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
    };
    let audit = read(&audited.join("audit.json"));
    let own = read(&out.join("measure.json"))["own"].clone();
    let gannet = audit["sites"]
        .as_array()
        .unwrap()
        .iter()
        .find(|site| site["site"] == "gannet")
        .unwrap();
    let visit = &gannet["applications"][0]["visits"][0];
    let driven = own["driven"]
        .as_array()
        .unwrap()
        .iter()
        .find(|of| of["site"] == "gannet")
        .unwrap();
    near(
        driven["length_m"].as_f64().unwrap(),
        visit["wet_length_m"].as_f64().unwrap(),
        1e-9,
    );
    assert_eq!(driven["plan_rig"], "north");
    // How lots were driven is what the audit says: the median is one of its figures, or lies between two.
    let applications = audit["sites"].as_array().unwrap().iter();
    let mut speeds: Vec<f64> = applications
        .flat_map(|site| site["applications"].as_array().unwrap())
        .filter(|of| of["rigs"].as_array().unwrap().len() == 1)
        .filter_map(|of| of["driving"]["speed_m_s"].as_f64())
        .collect();
    speeds.sort_by(f64::total_cmp);
    let seen = &own["classes"][0]["speed_m_s"];
    let count = seen["count"].as_u64().unwrap() as usize;
    assert!(count >= 3 && count <= speeds.len(), "{seen} {speeds:?}");
    if count == speeds.len() {
        let median = (speeds[(count - 1) / 2] + speeds[count / 2]) / 2.0;
        near(likely(&seen["percentiles"]), median, 1e-12);
    }
    assert!(outcome.stdout.contains("speed = [\""), "{}", outcome.stdout);
    // A sheet is no night.
    let outcome = run(&[audited_text, plan]);
    assert!(
        outcome
            .stdout
            .contains("# Skipped: measure.json: its format is swathbook-measure/1"),
        "{}",
        outcome.stdout
    );
}

/// Whoever reads a row of the sheet finds it in docs/figures.md.
#[test]
fn every_row_of_the_sheet_is_explained() {
    let docs = include_str!("../../docs/figures.md");
    let lines = "overhead = \"12 %\"\ninsurance = \"4 %\"\nmargin = \"20 %\"\ntrip = \"25\"\nminimum_charge = \"900\"\n\
        hand_rate = \"6000 ft2/h\"\nwalk_rate = \"4000 ft/h\"\nheel = \"5 gal\"\ncrew_hour = \"35 /h\"\n\
        per_visit = \"6 min\"\ndeadhead = \"20 min\"\nfill_rate = \"60 gal/min\"\nstorms = [8, 14, 22]\n\
        per_storm = { pre = { count = 1 } }\n";
    let zones = [
        with("quay", "lot", &rectangle(0.0, 0.0, 90.0, 60.0), ""),
        with(
            "quay",
            "walk",
            &rectangle(90.0, 0.0, 92.0, 60.0),
            r#","method":"hand""#,
        ),
    ];
    let measured = Measured::of(&fleet("rig_hour = \"40 /h\"", lines), &sites(&zones));
    let page = std::fs::read_to_string(measured.out.join("measure.html")).unwrap();
    let table = page.split("<table class=\"long\">").nth(1).unwrap();
    let table = table.split("</table>").next().unwrap();
    let heads = table.split("<tr class=\"head\">").count() - 1;
    let rows = table.split("<tr").skip(2);
    let labels: Vec<&str> = rows
        .filter(|row| !row.starts_with(" class=\"head\""))
        .filter_map(|row| {
            row.split("<th scope=\"row\">")
                .nth(1)?
                .split("</th>")
                .next()
        })
        .collect();
    assert!(heads >= 4 && labels.len() >= 28, "{labels:?}");
    for label in labels {
        let label = label.split(" of 900").next().unwrap();
        assert!(docs.contains(&format!("**{label}**")), "{label}");
    }
}

/// docs/bid.md works this lot on squared paper: two passes across each end, five lanes on either side of the island, two
/// backed up to either end of it. 18 lanes, 2,892 ft, 39 gal, 37 min.
#[test]
fn a_lot_with_an_island_comes_out_as_on_squared_paper() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/");
    let read = |path: &str| std::fs::read_to_string(format!("{root}{path}")).unwrap();
    let fleet = read("demo-data/night/fleet.toml").replace("route = true", "route = false");
    let measured = Measured::of(&fleet, &read("fixtures/lots/island.geojson"));
    let rigs = measured.json["sites"][0]["rigs"].as_array().unwrap();
    let north = rigs.iter().find(|rig| rig["rig"] == "north").unwrap();
    let (plan, application) = (&north["plan"], &north["cost"]["application"]);
    let lanes = plan["lanes"].as_u64().unwrap();
    assert!((16..=20).contains(&lanes), "{lanes}");
    near(plan["length_m"].as_f64().unwrap(), 2892.0 * FT, 0.03);
    near(likely(&application["liquid_l"]), 39.0 * GAL, 0.03);
    near(likely(&application["total_s"]), 37.0 * 60.0, 0.05);
}

/// Script-free and self-contained, names from input are text, every drawing has its title.
#[test]
fn the_sheet_is_one_page_that_asks_for_nothing() {
    let zones = [
        with(
            "<b>",
            "lot",
            &rectangle(0.0, 0.0, 60.0, 40.0),
            r#","name":"</style><script>x</script>""#,
        ),
        with("quay", "lot", &rectangle(100.0, 0.0, 160.0, 40.0), ""),
    ];
    let measured = Measured::of(
        &fleet("rig_hour = \"60 /h\"", "currency = \"<i>\"\n"),
        &sites(&zones),
    );
    let page = std::fs::read_to_string(measured.out.join("measure.html")).unwrap();
    for outside in [
        "http://", "https://", "src=", "@import", "<script", "<link", "<b>:", "<i>",
    ] {
        assert!(!page.contains(outside), "{outside}");
    }
    // The page's own and that of its patterns.
    assert_eq!(page.matches("</style>").count(), 2);
    assert_eq!(page.matches("<svg class=\"plan lot").count(), 2);
    assert_eq!(
        page.matches("role=\"img\"").count(),
        page.matches("<title>Plan of").count()
    );
    assert!(page.contains("Planned, not driven.") && page.contains("seen:"));
    assert!(page.contains("look at the ground before bidding"));
}
