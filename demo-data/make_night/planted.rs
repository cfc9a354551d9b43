//! Step 7: the list of planted faults with their true sizes, which a test holds the audit against.

use crate::CLOCK;
use crate::grid::Grid;
use crate::ground::{self, lon_lat_deg};
use crate::plan::{self, Outing};
use crate::truth::{self, ZoneTruth, boom_m};
use making::motion::Motion;
use making::pump::Pumped;
use serde_json::{Value, json};

/// An outing with everything that happened in it.
pub(crate) struct Driven {
    pub outing: Outing,
    pub motion: Motion,
    pub pumped: Pumped,
}

/// One line of the list; where and when come from the fault itself.
struct Fault<'a> {
    name: &'a str,
    rig: &'a str,
    site: &'a str,
    zone: Option<&'a str>,
    /// Cause of the bare ground, where there is any.
    cause: Option<&'a str>,
    at_m: (f64, f64),
    start_s: f64,
}

impl Fault<'_> {
    /// One figure of the fault. `code` is none where the audit shows a number but no finding.
    fn figure(&self, code: Option<&str>, figure: &str, true_value: f64, tolerance: f64) -> Value {
        let [lon_deg, lat_deg] = lon_lat_deg(self.at_m).map(|deg| (deg * 1e7).round() / 1e7);
        let short = |value: f64| (value * 1e4).round() / 1e4;
        json!({ "fault": self.name, "code": code, "rig": self.rig, "site": self.site, "zone": self.zone, "figure": figure, "cause": self.cause.filter(|_| code == Some("bare_patch")),
            "true_value": short(true_value), "tolerance": short(tolerance), "lon": lon_deg, "lat": lat_deg, "start": CLOCK.stamp(self.start_s.floor()) })
    }
}

/// The whole file: the planted faults, and the truth about every zone treated by boom.
pub(crate) fn list(night: &[Driven]) -> Value {
    let treatments = [
        ("petrel", 1, vec![0]),
        ("gannet", 1, vec![1]),
        ("fulmar", 1, vec![1, 5]),
        ("petrel", 2, vec![2]),
        ("tern", 1, vec![3]),
        ("skua", 1, vec![3]),
        ("auk", 1, vec![4]),
        ("dunlin", 1, vec![6]),
    ];
    let mut zones = Vec::new();
    let mut truths = Vec::new();
    for (site, application, outings) in treatments {
        let driven: Vec<_> = outings
            .iter()
            .map(|&i: &usize| (&night[i].motion, &night[i].pumped))
            .collect();
        for truth in truth::of_site(site, &driven) {
            if truth.by_boom {
                zones.push(zone_line(&truth, application));
            }
            truths.push(truth);
        }
    }
    json!({ "format": "demo-night-planted/1", "planted": faults(night, &truths), "zones": zones })
}

fn zone_line(truth: &ZoneTruth, application: u32) -> Value {
    let area_m2 = truth.ground.area_m2();
    let share = |part_m2: f64| (part_m2 / area_m2 * 1e4).round() / 1e4;
    let patches_m2 = patches(truth).area_m2();
    json!({ "site": truth.site, "zone": truth.zone, "application": application,
        "area_m2": area_m2.round(), "treated_share": share(truth.treated.area_m2()), "overlap_share": share(truth.overlap_m2),
        "unlogged_share": share(truth.unlogged.area_m2()), "patches_m2": patches_m2.round() })
}

fn faults(night: &[Driven], truths: &[ZoneTruth]) -> Vec<Value> {
    let truth = |site, zone| {
        truths
            .iter()
            .find(|truth| truth.site == site && truth.zone == zone)
            .expect("the plan treats every zone named here")
    };
    [
        missed(&night[1], truth("fulmar", "lot")),
        dry(&night[1], truth("gannet", "lot")),
        stuck(&night[3], truth("skua", "lot")),
        silent(&night[3], truth("tern", "west")),
        bed(&night[3], truth("tern", "bed")),
        over_rate(&night[4], truth("auk", "lot")),
        twice(&night[2], truth("petrel", "lot")),
        by_hand(&night[5]),
        orders(night, truth("auk", "lot")),
        clock(&night[6]),
    ]
    .concat()
}

/// All patches of a zone as one grid.
fn patches(truth: &ZoneTruth) -> Grid {
    truth
        .ground
        .select(|i| truth.patches.iter().any(|patch| patch.cells[i]))
}

/// First second on the clock at which a site got liquid.
fn first_wet_s(driven: &Driven, site: &str) -> f64 {
    let first = driven
        .motion
        .route()
        .stretches
        .iter()
        .position(|stretch| stretch.site == site);
    driven.outing.start_s
        + driven.pumped.sprayings[first.expect("the outing treats the site")]
            .wet_s
            .0
}

/// Share of an area between two lanes that drift may take or give: the lanes on either side stand
/// 3 m apart, and their errors differ by half a metre (one standard deviation).
const BETWEEN_LANES: f64 = 0.25;

/// A lane that nobody drove lies bare between its neighbours.
fn missed(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let area = patches(truth);
    let at_m = area.centre_m().expect("the missed lane leaves a patch");
    let fault = Fault {
        name: "missed lane",
        rig: "north",
        site: "fulmar",
        zone: Some("lot"),
        cause: Some("never_reached"),
        at_m,
        start_s: first_wet_s(driven, "fulmar"),
    };
    vec![fault.figure(
        Some("bare_patch"),
        "area_m2",
        area.area_m2(),
        BETWEEN_LANES * area.area_m2(),
    )]
}

/// Both ends of the stretch are known to a second.
fn dry(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let spraying = driven
        .pumped
        .sprayings
        .iter()
        .find(|spraying| spraying.dry_s.is_some())
        .expect("one stretch is dry");
    let (from_s, to_s) = spraying.dry_s.expect("found by it");
    let length_m = driven.motion.at(to_s).0 - driven.motion.at(from_s).0;
    let at_m = boom_m(&driven.motion, (from_s + to_s) / 2.0, 0.0);
    let fault = Fault {
        name: "dry stretch",
        rig: "north",
        site: "gannet",
        zone: Some("lot"),
        cause: Some("dry"),
        at_m,
        start_s: driven.outing.start_s + from_s,
    };
    let area_m2 = patches(truth).area_m2();
    vec![
        fault.figure(Some("dry_run"), "seconds", to_s - from_s, 2.0),
        fault.figure(Some("dry_run"), "length_m", length_m, 9.0),
        fault.figure(
            Some("bare_patch"),
            "area_m2",
            area_m2,
            BETWEEN_LANES * area_m2,
        ),
    ]
}

/// Many strips, so drift evens out; their ends are known to a second each.
fn stuck(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let area = patches(truth);
    let at_m = area.centre_m().expect("a closed section leaves strips");
    let fault = Fault {
        name: "section stuck closed",
        rig: "south",
        site: "skua",
        zone: Some("lot"),
        cause: Some("closed"),
        at_m,
        start_s: first_wet_s(driven, "skua"),
    };
    vec![
        fault.figure(
            Some("bare_patch"),
            "area_m2",
            area.area_m2(),
            0.15 * area.area_m2(),
        ),
        fault.figure(Some("bare_patch"), "treated_share", truth.core_share, 0.05),
    ]
}

fn silent(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let (from_s, to_s) = driven.pumped.silences_s[0];
    let at_m = boom_m(&driven.motion, (from_s + to_s) / 2.0, 0.0);
    let fault = Fault {
        name: "dropout",
        rig: "south",
        site: "tern",
        zone: Some("west"),
        cause: None,
        at_m,
        start_s: driven.outing.start_s + from_s,
    };
    let area_m2 = truth.unlogged.area_m2();
    let volume_l = driven.pumped.total_at_l(to_s) - driven.pumped.total_at_l(from_s);
    vec![
        fault.figure(Some("dropout_nearby"), "seconds", to_s - from_s, 0.01),
        fault.figure(
            Some("dropout_nearby"),
            "unlogged_m2",
            area_m2,
            BETWEEN_LANES * area_m2,
        ),
        // Two readings of a total shown to 0.01 gal.
        fault.figure(Some("dropout_nearby"), "volume_l", volume_l, 0.05),
    ]
}

/// Neighbouring lanes reach over the bed, so drift changes its wet inside little.
fn bed(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let at_m = truth.treated.centre_m().expect("the bed is sprayed");
    let lane_y_m = ground::TERN.lane_y_m(ground::BED_LANE);
    let middle_m = (
        f64::midpoint(ground::BED_X_M.0, ground::BED_X_M.1),
        lane_y_m,
    );
    let seconds = (0..driven.motion.end_s() as u32).map(f64::from);
    let nearest = |a: &f64, b: &f64| {
        distance_m(driven, *a, middle_m).total_cmp(&distance_m(driven, *b, middle_m))
    };
    let start_s = driven.outing.start_s
        + seconds
            .min_by(nearest)
            .expect("the outing lasts longer than a second");
    let fault = Fault {
        name: "sprayed keep-off ground",
        rig: "south",
        site: "tern",
        zone: Some("bed"),
        cause: None,
        at_m,
        start_s,
    };
    let area_m2 = truth.treated.area_m2();
    vec![fault.figure(Some("keep_off_wet"), "area_m2", area_m2, 0.1 * area_m2)]
}

fn distance_m(driven: &Driven, time_s: f64, from_m: (f64, f64)) -> f64 {
    let at_m = boom_m(&driven.motion, time_s, 0.0);
    (at_m.0 - from_m.0).hypot(at_m.1 - from_m.1)
}

fn over_rate(driven: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let at_m = truth.ground.centre_m().expect("a lot has ground");
    let fault = Fault {
        name: "over-rate lot",
        rig: "south",
        site: "auk",
        zone: Some("lot"),
        cause: None,
        at_m,
        start_s: first_wet_s(driven, "auk"),
    };
    let rate_ml_m2 = driven.motion.route().stretches[0].rate_ml_m2;
    vec![fault.figure(
        Some("off_rate"),
        "rate_ml_m2",
        rate_ml_m2,
        0.04 * rate_ml_m2,
    )]
}

/// Ordered and not done, done and not ordered, late.
fn orders(night: &[Driven], auk: &ZoneTruth) -> Vec<Value> {
    let skua = &night[3];
    let finished_s = skua.outing.start_s
        + skua
            .pumped
            .sprayings
            .last()
            .expect("skua is the last site")
            .wet_s
            .1;
    let fault = |name, rig, site, at_m, start_s| Fault {
        name,
        rig,
        site,
        zone: None,
        cause: None,
        at_m,
        start_s,
    };
    let noddy = Fault {
        zone: Some("lot"),
        ..fault(
            "ordered, not done",
            "",
            "noddy",
            (832.0, -61.0),
            plan::SKUA_BY_S,
        )
    };
    let auk_m = auk.ground.centre_m().expect("a lot has ground");
    let auk_s = first_wet_s(&night[4], "auk");
    let late_m = boom_m(&skua.motion, skua.pumped.sprayings[0].wet_s.0, 0.0);
    vec![
        noddy.figure(Some("not_done"), "area_m2", plan::NODDY_M2, 1.0),
        fault("done, not ordered", "south", "auk", auk_m, auk_s).figure(
            Some("not_ordered"),
            "treated_m2",
            auk.treated.area_m2(),
            0.02 * auk.treated.area_m2(),
        ),
        // Finished means that 95 % was treated; the rest takes some minutes more.
        fault("finished late", "south", "skua", late_m, plan::SKUA_BY_S).figure(
            Some("late"),
            "late_s",
            finished_s - plan::SKUA_BY_S,
            400.0,
        ),
    ]
}

/// The fleet file puts the trailer rig's clock right, and the page says so.
fn clock(driven: &Driven) -> Vec<Value> {
    let fault = Fault {
        name: "clock an hour behind",
        rig: "trail",
        site: "",
        zone: None,
        cause: None,
        at_m: boom_m(&driven.motion, 0.0, 0.0),
        start_s: driven.outing.start_s,
    };
    vec![fault.figure(Some("clock_shifted"), "offset_s", 3_600.0, 0.0)]
}

fn twice(second: &Driven, truth: &ZoneTruth) -> Vec<Value> {
    let at_m = truth.ground.centre_m().expect("a lot has ground");
    let fault = Fault {
        name: "second application",
        rig: "north",
        site: "petrel",
        zone: None,
        cause: None,
        at_m,
        start_s: first_wet_s(second, "petrel"),
    };
    vec![fault.figure(None, "applications", 2.0, 0.0)]
}

/// The gun's flow is sampled once a second at each end of each burst.
fn by_hand(driven: &Driven) -> Vec<Value> {
    let bursts = &driven.pumped.gun_s;
    let (from_s, to_s) = (bursts[0].0, bursts[bursts.len() - 1].1);
    let volume_l = driven.pumped.total_at_l(to_s + 3.0) - driven.pumped.total_at_l(from_s);
    let (a, b) = ground::steps_m();
    let fault = Fault {
        name: "hand work",
        rig: "cart",
        site: "fulmar",
        zone: Some("steps"),
        cause: None,
        at_m: (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1)),
        start_s: driven.outing.start_s + from_s,
    };
    vec![fault.figure(None, "gun_l", volume_l, 0.06 * volume_l)]
}
