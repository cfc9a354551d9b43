//! What must not change the numbers: where the night lies and how it is turned, how its logs are cut. And
//! what must hold for any night. Random drives with fixed seeds.

use crate::night::{Fix, Night, Outcome, lon_lat_from, number, point_at, sites, time, zone_with};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

const FLEET: &str = r#"[defaults]
target = "30 mL/m2"

[[rig]]
id = "north"
sections = ["1 m", "1 m", "1 m", "1 m"]
antenna = { ahead = "2 m", right = "0.2 m" }
open_delay = "0.4 s"
close_delay = "0.3 s"
"#;

/// A site with an island drawn on top, a drive, and a drive across them at random: lanes, turns, stops.
struct Drive {
    fixes: Vec<Fix>,
}

const STATES: [&str; 4] = ["1111", "0111", "1100", "0000"];

impl Drive {
    fn random(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let (mut x, mut y, mut heading) = (10.0_f64, 10.0_f64, rng.random_range(-3.0..3.0_f64));
        let (mut rate, mut speed, mut states) = (0.0, 4.0, "1111");
        let fixes = (0..240)
            .map(|i| {
                if i % 8 == 0 {
                    rate = [0.0, 0.0, 0.3, -0.3, 0.6][rng.random_range(0..5)];
                    speed = [4.0, 4.0, 3.0, 2.0, 0.0][rng.random_range(0..5)];
                    rate = if speed > 0.0 { rate } else { 0.0 };
                    states = STATES[rng.random_range(0..4)];
                }
                let off = (20.0 - y).atan2(40.0 - x) - heading;
                if (x - 40.0).hypot(y - 20.0) > 45.0 && off.sin().abs() > 0.2 {
                    rate = 0.3 * off.sin().signum();
                }
                let flow = if states == "0000" { 0.0 } else { 28.8 };
                let fix = (f64::from(i), x, y, states, flow);
                heading += rate;
                x += speed * heading.cos();
                y += speed * heading.sin();
                fix
            })
            .collect();
        Self { fixes }
    }
}

/// Where the night's metres lie on the earth.
#[derive(Clone, Copy)]
struct Lie {
    lon_deg: f64,
    lat_deg: f64,
    turn_rad: f64,
}

const HOME: Lie = Lie {
    lon_deg: -30.0,
    lat_deg: 45.0,
    turn_rad: 0.0,
};

impl Lie {
    fn place(self, x_m: f64, y_m: f64) -> [f64; 2] {
        let (sin, cos) = self.turn_rad.sin_cos();
        let [lon, lat] = lon_lat_from(
            self.lon_deg,
            self.lat_deg,
            x_m * cos - y_m * sin,
            x_m * sin + y_m * cos,
        );
        [(lon + 540.0).rem_euclid(360.0) - 180.0, lat]
    }

    fn polygon(self, corners: &[(f64, f64)]) -> String {
        let text: Vec<String> = corners
            .iter()
            .chain([&corners[0]])
            .map(|&(x, y)| self.place(x, y))
            .map(|[lon, lat]| format!("[{lon:.12},{lat:.12}]"))
            .collect();
        format!("[[{}]]", text.join(","))
    }

    fn sites(self) -> String {
        let rectangle = |west, south, east, north| {
            self.polygon(&[(west, south), (east, south), (east, north), (west, north)])
        };
        sites(&[
            zone_with(
                r#""site":"s","zone":"lot","use":"lot""#,
                &rectangle(0.0, 0.0, 80.0, 40.0),
            ),
            zone_with(
                r#""site":"s","zone":"island","use":"keep_off""#,
                &self.polygon(&[(30.0, 15.0), (40.0, 12.0), (42.0, 25.0)]),
            ),
            zone_with(
                r#""site":"s","zone":"drive","use":"drive""#,
                &rectangle(60.0, -10.0, 68.0, 20.0),
            ),
        ])
    }

    fn points(self, fixes: &[Fix]) -> String {
        let point = |&(seconds, x, y, states, flow): &Fix| {
            let [lon, lat] = self.place(x, y);
            let extensions = format!("<s:flow>{flow}</s:flow><s:sections>{states}</s:sections>");
            // Twelve decimals: the shift must not hide behind rounding.
            point_at(lon, lat, &time(seconds), &extensions)
                .replace(&format!("lat=\"{lat:.9}\""), &format!("lat=\"{lat:.12}\""))
                .replace(&format!("lon=\"{lon:.9}\""), &format!("lon=\"{lon:.12}\""))
        };
        fixes.iter().map(point).collect()
    }

    fn audit(self, drive: &Drive) -> Outcome {
        let log = crate::night::gpx_of(&self.points(&drive.fixes));
        Night::empty()
            .fleet(FLEET)
            .sites(&self.sites())
            .log("a.gpx", log)
            .audit(&["--fail-on", "never"])
    }
}

fn zones(outcome: &Outcome) -> Vec<&Value> {
    let applications = outcome.audit()["sites"][0]["applications"]
        .as_array()
        .unwrap();
    applications
        .iter()
        .flat_map(|application| application["zones"].as_array().unwrap())
        .collect()
}

/// The same numbers to this share of the zone's area (or of its litres).
fn same(a: &Outcome, b: &Outcome, share: f64, what: &str) {
    let (a, b) = (zones(a), zones(b));
    assert_eq!(a.len(), b.len(), "{what}: number of zones");
    assert!(!a.is_empty(), "{what}: nothing was treated");
    for (a, b) in a.iter().zip(&b) {
        let whole = number(&a["area_m2"]);
        for name in ["area_m2", "treated_m2", "gap_m2", "overlap_m2", "swept_m2"] {
            let (x, y) = (number(&a[name]), number(&b[name]));
            assert!(
                (x - y).abs() <= share * whole,
                "{what}: {name} {x} is not {y}"
            );
        }
        let (x, y) = (number(&a["volume_l"]), number(&b["volume_l"]));
        assert!(
            (x - y).abs() <= share * x.max(1.0),
            "{what}: volume_l {x} is not {y}"
        );
    }
}

/// The test's own degrees are good to 1e-5 of a distance at 100 m, so the numbers are the same to that.
#[test]
fn where_a_night_lies_and_how_it_is_turned_changes_nothing() {
    for seed in 1..=4 {
        let drive = Drive::random(seed);
        let home = HOME.audit(&drive);
        for (k, lie) in [
            Lie {
                turn_rad: 1.0,
                ..HOME
            },
            Lie {
                turn_rad: -2.2,
                ..HOME
            },
            Lie {
                lon_deg: 179.9999,
                lat_deg: -16.0,
                turn_rad: 0.5,
            },
            Lie {
                lon_deg: 10.0,
                lat_deg: 64.0,
                turn_rad: 0.1,
            },
        ]
        .into_iter()
        .enumerate()
        {
            same(
                &home,
                &lie.audit(&drive),
                5e-4,
                &format!("seed {seed}, lie {k}"),
            );
        }
    }
}

#[test]
fn a_log_split_in_two_is_the_same_night() {
    for seed in 11..=14 {
        let drive = Drive::random(seed);
        let whole = HOME.audit(&drive);
        let cut = 60 + 10 * (seed as usize % 7);
        let part = |fixes: &[Fix]| crate::night::gpx_of(&HOME.points(fixes));
        let split = split_night(&drive, cut, part);
        same(&whole, &split, 1e-12, &format!("seed {seed} cut at {cut}"));
        assert_eq!(split.runs().len(), 1);
        assert_eq!(split.runs()[0]["fixes_repeated"], 1);
        assert_eq!(split.runs()[0]["fixes_used"], whole.runs()[0]["fixes_used"]);
    }
}

/// The same night in two files, the fix at the cut in both; the later one has the earlier name.
fn split_night(drive: &Drive, cut: usize, part: impl Fn(&[Fix]) -> String) -> Outcome {
    Night::empty()
        .fleet(FLEET)
        .sites(&HOME.sites())
        .log("a.gpx", part(&drive.fixes[cut..]))
        .log("b.gpx", part(&drive.fixes[..=cut]))
        .audit(&["--fail-on", "never"])
}

#[test]
fn treated_unlogged_and_gap_make_the_zone_and_shares_make_one() {
    for seed in 21..=28 {
        let outcome = HOME.audit(&Drive::random(seed));
        for zone in zones(&outcome) {
            let parts: f64 = ["treated_m2", "unlogged_m2", "gap_m2"]
                .iter()
                .map(|name| number(&zone[*name]))
                .sum();
            assert!(
                (parts - number(&zone["area_m2"])).abs() < 5e-6,
                "seed {seed}: {parts}"
            );
            let causes: f64 = zone["gap_causes_m2"]
                .as_object()
                .unwrap()
                .values()
                .map(number)
                .sum();
            assert!(
                (causes - number(&zone["gap_m2"])).abs() < 1e-3,
                "seed {seed}: {causes}"
            );
            let dose = &zone["dose"];
            let shares: f64 = ["share_under", "share_within", "share_over", "share_unknown"]
                .iter()
                .map(|name| number(&dose[*name]))
                .sum();
            assert!((shares - 1.0).abs() < 5e-9, "seed {seed}: {shares}");
        }
    }
}

/// Doubling the flow doubles the litres and the rates and moves no ground.
#[test]
fn litres_scale_and_ground_does_not() {
    let drive = Drive::random(31);
    let doubled = Drive {
        fixes: drive
            .fixes
            .iter()
            .map(|&(t, x, y, s, flow)| (t, x, y, s, 2.0 * flow))
            .collect(),
    };
    let (one, two) = (HOME.audit(&drive), HOME.audit(&doubled));
    for (a, b) in zones(&one).iter().zip(&zones(&two)) {
        assert!((2.0 * number(&a["volume_l"]) - number(&b["volume_l"])).abs() < 1e-8);
        assert!((number(&a["treated_m2"]) - number(&b["treated_m2"])).abs() < 1e-9);
    }
}
