//! One drive, logged by every kind of meter: the same litres, rates, areas and no findings.
//!
//! The drive is worked out here second by second, so the litres of each zone are known without the
//! program: all liquid falls inside the zones, from line to line on whole seconds.

use crate::night::{
    Night, Outcome, gpx, gpx_of, healthy, number, point_with, rectangle, sites, zone_with,
};
use std::f64::consts::PI;
use std::fmt::Write as _;

const GAL_L: f64 = 3.785_411_784;

/// What the rig does from a second to the next.
#[derive(Clone, Copy)]
struct Second {
    east_m: f64,
    north_m: f64,
    states: &'static str,
    flow_l_s: f64,
    set_ml_m2: f64,
}

/// Boom of four sections of 1 m; passes of 120 m, 4 m apart, at 4 and 3 m/s, turns with all
/// sections closed, a stop, the outer half closed on the last pass of the first zone.
struct Drive {
    seconds: Vec<Second>,
}

impl Drive {
    fn new() -> Self {
        let mut drive = Self { seconds: vec![] };
        for pass in 0..12 {
            let states = if pass == 11 { "1100" } else { "1111" };
            drive.pass(pass, 2.0, 30.0, states);
        }
        for pass in 0..12 {
            drive.pass(pass, 62.0, 20.0, "1111");
        }
        for _ in 0..10 {
            drive.go(-8.0, 110.0, "0000", 0.0, 20.0);
        }
        drive
    }

    fn go(&mut self, east_m: f64, north_m: f64, states: &'static str, speed: f64, ml_m2: f64) {
        let width_m = states.matches('1').count() as f64;
        self.seconds.push(Second {
            east_m,
            north_m,
            states,
            flow_l_s: ml_m2 * width_m * speed / 1000.0,
            set_ml_m2: ml_m2,
        });
    }

    /// One pass with its run-in and run-out of 8 m and the half turn to the next.
    fn pass(&mut self, number: usize, first_north_m: f64, ml_m2: f64, states: &'static str) {
        let north_m = first_north_m + 4.0 * number as f64;
        let speed = if number % 3 == 1 { 3.0 } else { 4.0 };
        let place = |along_m: f64| {
            if number.is_multiple_of(2) {
                along_m
            } else {
                120.0 - along_m
            }
        };
        for along_m in [-8.0, -4.0] {
            self.go(place(along_m), north_m, "0000", 4.0, ml_m2);
        }
        for k in 0..(120.0 / speed) as usize {
            if number == 2 && k == 15 {
                for _ in 0..15 {
                    self.go(place(60.0), north_m, "0000", 0.0, ml_m2);
                }
            }
            self.go(place(speed * k as f64), north_m, states, speed, ml_m2);
        }
        for along_m in [120.0, 124.0, 128.0] {
            self.go(place(along_m), north_m, "0000", 4.0, ml_m2);
        }
        let out = if number.is_multiple_of(2) { 1.0 } else { -1.0 };
        for k in 1..4 {
            let angle = PI * f64::from(k) / 4.0;
            let east_m = place(128.0) + out * 2.0 * angle.sin();
            self.go(
                east_m,
                north_m + 2.0 - 2.0 * angle.cos(),
                "0000",
                4.0,
                ml_m2,
            );
        }
    }

    /// Litres up to each second.
    fn totals_l(&self) -> Vec<f64> {
        let mut sum_l = 0.0;
        let sums = self.seconds.iter().map(|second| {
            sum_l += second.flow_l_s;
            sum_l - second.flow_l_s
        });
        sums.collect()
    }

    /// Litres on the ground south of this line, and north of it.
    fn litres(&self) -> [f64; 2] {
        let of = |south: bool| {
            let there = self.seconds.iter().filter(|s| (s.north_m < 55.0) == south);
            there.map(|second| second.flow_l_s).sum()
        };
        [of(true), of(false)]
    }

    /// A log whose points say this of each second beside its section states.
    fn log(&self, seconds: std::ops::Range<usize>, says: &dyn Fn(usize) -> String) -> String {
        let mut points = String::new();
        for i in seconds {
            let s = &self.seconds[i];
            let more = format!("<s:sections>{}</s:sections>{}", s.states, says(i));
            write!(
                points,
                "{}",
                point_with(i as f64, s.east_m, s.north_m, &more)
            )
            .unwrap();
        }
        gpx_of(&points)
    }
}

fn night(more: &str) -> Night {
    let lot = |zone: &str, target: &str, south_m: f64, north_m: f64| {
        let properties =
            format!(r#""site":"quay","zone":"{zone}","use":"lot","target":"{target} mL/m2""#);
        zone_with(&properties, &rectangle(0.0, south_m, 120.0, north_m))
    };
    let fleet = format!(
        "[[rig]]\nid = \"north\"\nsections = [\"1 m\", \"1 m\", \"1 m\", \"1 m\"]\n\
         greatest_flow = \"60 L/min\"\nlog_lag = \"0 s\"\n{more}\n"
    );
    let lots = [
        lot("south", "30", 0.0, 46.0),
        lot("north", "20", 60.0, 108.0),
    ];
    Night::empty().fleet(&fleet).sites(&sites(&lots))
}

fn audited(drive: &Drive, fleet: &str, says: &dyn Fn(usize) -> String) -> Outcome {
    let log = drive.log(0..drive.seconds.len(), says);
    night(fleet)
        .log("a.gpx", log)
        .audit(&["--fail-on", "never"])
}

fn volume(litres: f64) -> String {
    format!("<s:volume>{litres:.6}</s:volume>")
}

fn flow(l_s: f64) -> String {
    format!("<s:flow>{:.6}</s:flow>", 60.0 * l_s)
}

fn ticked(litres: f64, tick_l: f64) -> String {
    volume((litres / tick_l).floor() * tick_l)
}

/// Zones by their order in the first application.
fn zones(outcome: &Outcome) -> &[serde_json::Value] {
    outcome.audit()["sites"][0]["applications"][0]["zones"]
        .as_array()
        .unwrap()
}

/// Litres within `tick_l` and `share` of the truth, the rates within `rate_share`, areas and spread
/// those of an even drive; nothing found.
fn is_healthy(name: &str, drive: &Drive, outcome: &Outcome, tick_l: f64, share: f64, cv: f64) {
    // That a meter reads late is told for the record, and is no fault.
    let findings = outcome.audit()["findings"].as_array().unwrap();
    let mut others = findings
        .iter()
        .filter(|finding| finding["code"] != "meter_late");
    assert!(others.next().is_none(), "{name}: {findings:#?}");
    let areas_m2 = [120.0 * 46.0, 120.0 * 48.0];
    for (k, truth_l) in drive.litres().into_iter().enumerate() {
        let zone = &zones(outcome)[k];
        let (volume_l, rate) = (number(&zone["volume_l"]), number(&zone["rate_swept_ml_m2"]));
        let off_l = tick_l + share * truth_l;
        assert!(
            (volume_l - truth_l).abs() <= off_l,
            "{name}: {volume_l} L is not {truth_l} L"
        );
        let target = number(&zone["target_ml_m2"]);
        assert!(
            (rate / target - 1.0).abs() <= off_l / truth_l + 0.003,
            "{name}: {rate}"
        );
        let treated = number(&zone["treated_m2"]) / areas_m2[k];
        assert!(
            (0.99..=1.0001).contains(&treated),
            "{name}: treated {treated}"
        );
        let dose = &zone["dose"];
        let spread = number(&dose["cv"]);
        assert!(spread <= cv, "{name}: cv {spread}");
        for low_or_high in ["treated_share_low", "treated_share_high"] {
            let of_ground = number(&dose[low_or_high]);
            assert!(of_ground < 0.01, "{name}: {low_or_high} {of_ground}");
        }
    }
    let ledger = &outcome.runs()[0]["ledger_l"];
    assert!(number(&ledger["closed"]) < 0.01, "{name}: {ledger}");
}

#[test]
fn every_meter_tells_the_same_night() {
    let drive = Drive::new();
    let totals = drive.totals_l();
    let flows = |i: usize| drive.seconds[i].flow_l_s;
    let late = |i: usize, by: usize| i.checked_sub(by).map_or(0.0, flows);
    type Says<'a> = Box<dyn Fn(usize) -> String + 'a>;
    // Name, what each point says, tick of the total, share of litres and cv allowed.
    let meters: Vec<(&str, Says, f64, f64, f64)> = vec![
        ("flow", Box::new(|i| flow(flows(i))), 0.0, 0.004, 0.05),
        (
            "flow in steps of 0.1 gal/min",
            Box::new(|i| {
                let gal_min = (600.0 * flows(i) / GAL_L).round() / 10.0;
                format!("<s:flow unit=\"gal/min\">{gal_min:.1}</s:flow>")
            }),
            0.0,
            0.015,
            0.06,
        ),
        (
            "flow every 5 s",
            Box::new(|i| {
                if i % 5 == 0 {
                    flow(flows(i))
                } else {
                    String::new()
                }
            }),
            0.0,
            0.05,
            0.35,
        ),
        (
            "flow 1 s late",
            Box::new(|i| flow(late(i, 1))),
            0.0,
            0.004,
            0.05,
        ),
        (
            "flow 2 s late",
            Box::new(|i| flow(late(i, 2))),
            0.0,
            0.004,
            0.05,
        ),
        (
            "flow 3 s late",
            Box::new(|i| flow(late(i, 3))),
            0.0,
            0.004,
            0.05,
        ),
        (
            "fine total",
            Box::new(|i| volume(totals[i])),
            0.0,
            0.004,
            0.05,
        ),
        (
            "total in 1 L",
            Box::new(|i| ticked(totals[i], 1.0)),
            1.0,
            0.004,
            0.07,
        ),
        (
            "total in 1 gal",
            Box::new(|i| ticked(totals[i], GAL_L)),
            GAL_L,
            0.004,
            0.07,
        ),
        (
            "total in 10 gal",
            Box::new(|i| ticked(totals[i], 10.0 * GAL_L)),
            10.0 * GAL_L,
            0.004,
            0.15,
        ),
        (
            "total every 5 s",
            Box::new(|i| {
                if i % 5 == 0 {
                    volume(totals[i])
                } else {
                    String::new()
                }
            }),
            0.0,
            0.01,
            0.07,
        ),
        (
            "flow and fine total",
            Box::new(|i| flow(flows(i)) + &volume(totals[i])),
            0.0,
            0.004,
            0.05,
        ),
        (
            "flow a tenth too low and total in 1 gal",
            Box::new(|i| flow(0.9 * flows(i)) + &ticked(totals[i], GAL_L)),
            GAL_L,
            0.004,
            0.06,
        ),
        (
            "flow and total in 10 gal",
            Box::new(|i| flow(flows(i)) + &ticked(totals[i], 10.0 * GAL_L)),
            10.0 * GAL_L,
            0.004,
            0.06,
        ),
        (
            "rate",
            Box::new(|i| format!("<s:rate>{}</s:rate>", drive.seconds[i].set_ml_m2)),
            0.0,
            0.004,
            0.05,
        ),
        (
            "a total that resets",
            Box::new(|i| {
                volume(if i < 300 {
                    7000.0 + totals[i]
                } else {
                    totals[i] - totals[299]
                })
            }),
            1.0,
            0.004,
            0.06,
        ),
    ];
    let fine = audited(&drive, "", &|i| volume(totals[i]));
    let spread = |outcome: &Outcome, k: usize| number(&zones(outcome)[k]["dose"]["cv"]);
    for (name, says, tick_l, share, cv) in &meters {
        let outcome = audited(&drive, "", says.as_ref());
        if *tick_l > 0.0 && *tick_l < 5.0 {
            for k in [0, 1] {
                let more = (spread(&outcome, k) - spread(&fine, k)).abs();
                assert!(
                    more < 0.04,
                    "{name}: cv differs by {more} from the fine total's"
                );
            }
        }
        is_healthy(name, &drive, &outcome, *tick_l, *share, *cv);
    }
    let set = "meter = { delay = \"2 s\" }";
    let outcome = audited(&drive, set, &|i| volume(totals[i.saturating_sub(2)]));
    is_healthy(
        "a total 2 s late, and told so",
        &drive,
        &outcome,
        0.0,
        0.004,
        0.06,
    );
    let set =
        "[rig.channels]\nvolume = { element = \"volume\", unit = \"L\", since_last_fix = true }";
    let outcome = audited(&drive, set, &|i| {
        volume(i.checked_sub(1).map_or(0.0, flows))
    });
    is_healthy(
        "volume since the last fix",
        &drive,
        &outcome,
        0.0,
        0.004,
        0.05,
    );
}

#[test]
fn a_slip_of_the_total_is_told_and_changes_nothing() {
    let drive = Drive::new();
    let totals = drive.totals_l();
    let outcome = audited(&drive, "", &|i| {
        volume(if i == 200 { 0.0 } else { 50_000.0 + totals[i] })
    });
    assert!(
        outcome.text("meter_odd").contains("1 reading"),
        "{}",
        outcome.text("meter_odd")
    );
    let metered_l = number(&outcome.runs()[0]["ledger_l"]["metered"]);
    assert!(
        (metered_l - drive.litres().iter().sum::<f64>()).abs() < 1e-3,
        "{metered_l}"
    );
}

#[test]
fn a_dry_minute_shows_through_a_coarse_total() {
    /// Seconds without liquid, of passes with all sections open.
    const DRY_S: usize = 60;
    /// What a ramp is given (3 s, docs/method.md), and the second in which liquid stops or starts.
    const ENDS_S: f64 = 4.0;
    /// Litres a second at the slower speed: 30 mL/m2 under 4 m of boom at 3 m/s.
    const FLOW_L_S: f64 = 0.36;
    let mut drive = Drive::new();
    let open = drive
        .seconds
        .iter()
        .enumerate()
        .filter(|(_, s)| s.states == "1111");
    let dry: Vec<usize> = open.map(|(i, _)| i).skip(100).take(DRY_S).collect();
    dry.iter().for_each(|&i| drive.seconds[i].flow_l_s = 0.0);
    let totals = drive.totals_l();
    for tick_l in [0.001, 1.0, GAL_L] {
        // A total says when a tick came, not when its litres ran: one tick is open at either end, and what lacks less
        // than half a tick more is not dry.
        let tick_s = tick_l / FLOW_L_S;
        let least_s = DRY_S as f64 - ENDS_S - tick_s;
        let most_s = DRY_S as f64 + ENDS_S + 2.5 * tick_s;
        let outcome = audited(&drive, "", &|i| ticked(totals[i], tick_l));
        let found = outcome.findings("dry_run");
        assert_eq!(found.len(), 1, "{tick_l} L: {found:#?}");
        let seconds = number(&found[0]["figure"]);
        assert!(
            (least_s..=most_s).contains(&seconds),
            "{tick_l} L: {seconds} s"
        );
    }
}

#[test]
fn a_total_between_two_logs_stays_between_them() {
    let drive = Drive::new();
    let totals = drive.totals_l();
    let cut = 420;
    let between = |tick_l: f64, second: &dyn Fn(usize) -> f64| {
        let outcome = night("")
            .log(
                "a.gpx",
                drive.log(0..cut, &|i| ticked(100.0 + totals[i], tick_l)),
            )
            .log(
                "b.gpx",
                drive.log(cut..drive.seconds.len(), &|i| ticked(second(i), tick_l)),
            )
            .audit(&["--fail-on", "never"]);
        assert_eq!(outcome.findings("meter_odd").len(), 0);
        let ledger = &outcome.runs()[0]["ledger_l"];
        (number(&ledger["between_logs"]), number(&ledger["metered"]))
    };
    let own_l: f64 = drive.litres().iter().sum();
    for (tick_l, off_l) in [(0.001, 0.6), (GAL_L, 2.0 * GAL_L)] {
        // The total ran on by half a litre: what a pump can give in a second.
        let (between_l, metered_l) = between(tick_l, &|i| 100.5 + totals[i]);
        assert!((between_l - 0.5).abs() <= off_l && (metered_l - own_l - 0.5).abs() <= off_l);
        // It began anew.
        let (between_l, metered_l) = between(tick_l, &|i| totals[i] - totals[cut]);
        assert!(
            between_l.abs() <= off_l && (metered_l - own_l).abs() <= off_l,
            "{between_l} {metered_l}"
        );
    }
}

#[test]
fn a_zone_with_a_low_target_is_wet_at_its_own_rate() {
    // A fifth of what the fleet asks for.
    let properties = r#""site":"quay","zone":"low","use":"lot","target":"6 mL/m2""#;
    let lot = zone_with(properties, &rectangle(0.0, 0.0, 80.0, 12.0));
    let mut fifth = healthy();
    fifth.iter_mut().for_each(|fix| fix.4 /= 5.0);
    let night = Night::new().sites(&sites(&[lot]));
    let outcome = night.log("healthy.gpx", gpx(&fifth)).audit(&[]);
    outcome.still_audited();
    assert!(outcome.findings("dry_run").is_empty() && outcome.findings("off_rate").is_empty());
}

#[test]
fn a_rig_parked_at_the_site_has_not_left_it() {
    // Twenty minutes of silence between the first pass and the second, 4 m apart.
    let mut fixes = healthy();
    let later = fixes.iter_mut().filter(|fix| fix.0 >= 25.0);
    later.for_each(|fix| fix.0 += 1200.0);
    // It wakes up closed, 2 m from where it fell silent.
    fixes.insert(25, (1224.0, 88.0, 4.0, "0000", 0.0));
    let outcome = Night::new().log("healthy.gpx", gpx(&fixes)).audit(&[]);
    outcome.still_audited();
    let visits = &outcome.audit()["sites"][0]["applications"][0]["visits"];
    assert_eq!(visits.as_array().unwrap().len(), 1, "{visits:#?}");
}
