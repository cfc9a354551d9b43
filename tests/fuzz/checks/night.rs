//! A whole night made from the bytes: a rig of any shape drives anywhere over zones of any shape, and
//! every output is made. The ground and the litres must add up.

use super::bytes::Bytes;
use std::fmt::Write as _;
use std::path::Path;
use swathbook::audit::{self, Audited, Settings};
use swathbook::input::paths::NightPaths;
use swathbook::notation::numbers::{RateUnit, Units};
use swathbook::report;
use swathbook::result::{self, Dose};
use swathbook::site::{self, Leg};

/// Most fixes of a log: more tell nothing new and make a round slow.
const MOST_FIXES: usize = 120;
/// Corners of the zones and starts of the drives lie in steps of this, m.
const STEP_M: f64 = 0.5;
/// Parts of a zone add up to this share of its area (or to this many m2).
const AREA_SHARE: f64 = 1e-6;
/// Treated is laid by runs of sections, swept by sections: so much of it lies between where a boom swings round within
/// one step, as these drives do all the time.
const SWUNG_SHARE: f64 = 1e-3;
/// Lines of a ledger add up to this share of the litres.
const LITRES_SHARE: f64 = 1e-7;
/// Where east and north are 0: mid-ocean, on the 180th meridian, near a pole.
const ORIGINS_DEG: [(f64, f64); 4] = [
    (-30.0, 45.0),
    (180.0, 0.0),
    (-30.0, 89.99),
    (179.999, -60.0),
];

/// Makes a night and audits it.
pub(crate) fn check(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let origin_deg = ORIGINS_DEG[bytes.below(ORIGINS_DEG.len())];
    let dir = folder();
    let file = |name: &str, text: &str| {
        let path = dir.path().join(name);
        std::fs::write(&path, text).expect("a folder of the test's own");
        path
    };
    let (fleet, sections) = fleet(&mut bytes);
    let paths = NightPaths {
        night: Some(dir.path().to_path_buf()),
        fleet: file("fleet.toml", &fleet),
        sites: file("sites.geojson", &sites(&mut bytes, origin_deg)),
        orders: (bytes.below(4) == 0).then(|| file("orders.csv", &orders(&mut bytes))),
        logs: (0..1 + bytes.below(2))
            .map(|index| {
                file(
                    &format!("{index}.gpx"),
                    &log(&mut bytes, origin_deg, sections),
                )
            })
            .collect(),
    };
    let settings = Settings {
        keep_strips: bytes.below(2) == 1,
        ..Settings::default()
    };
    match audit::audit(&paths, settings, &|_, _, _| ()) {
        Ok(audited) => {
            // No fault, but worth a look: the ground is right either way.
            if audited.fallbacks() > 0 {
                eprintln!(
                    "overlays done by the general engine: {}",
                    audited.fallbacks()
                );
            }
            adds_up(&audited);
            stands_alone(&paths, settings, &audited);
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

/// In memory where the system has such a folder.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory)
    } else {
        tempfile::tempdir()
    }
    .expect("a folder for the night")
}

fn fleet(bytes: &mut Bytes) -> (String, usize) {
    let mut text = String::from("[defaults]\n");
    if bytes.below(2) == 0 {
        text += "target = \"30 mL/m2\"\n";
    }
    let _ = writeln!(
        text,
        "edge = \"{} m\"\ndropout = \"{} s\"",
        bytes.below(4),
        1 + bytes.below(9)
    );
    text += "[[product]]\nid = \"brine\"\n[[rig]]\nid = \"north\"\nlogs = [\"*\"]\n";
    let sections = 1 + bytes.below(6);
    let widths: Vec<String> = (0..sections)
        .map(|_| format!("\"{:.2} m\"", 0.05 + f64::from(bytes.byte()) / 50.0))
        .collect();
    let _ = writeln!(text, "sections = [{}]", widths.join(","));
    match bytes.below(4) {
        0 => {
            let (ahead, right) = (bytes.metres(0.02), bytes.metres(0.01));
            let _ = writeln!(
                text,
                "antenna = {{ ahead = \"{ahead} m\", right = \"{right} m\" }}"
            );
            let _ = writeln!(text, "axle = \"{} m\"", bytes.metres(0.02));
        }
        1 => {
            let to_axle = 0.5 + f64::from(bytes.byte()) / 40.0;
            let _ = writeln!(
                text,
                "hitch = {{ behind_antenna = \"{} m\", to_axle = \"{to_axle} m\" }}",
                bytes.below(6)
            );
        }
        _ => {}
    }
    let _ = writeln!(text, "open_delay = \"{} s\"", bytes.below(20) as f64 / 8.0);
    let _ = writeln!(text, "close_delay = \"{} s\"", bytes.below(20) as f64 / 8.0);
    text += ["", "section_log = \"on_change\"\n"][bytes.below(2)];
    text += ["", "gun_flow = \"2 L/min\"\n"][bytes.below(2)];
    text += [
        "",
        "meter = { delay = \"1.5 s\" }\n",
        "greatest_flow = \"60 L/min\"\n",
    ][bytes.below(3)];
    text += [
        "",
        "[rig.channels]\nvolume = { element = \"volume\", since_last_fix = true }\n",
    ][bytes.below(2)];
    (text, sections)
}

fn sites(bytes: &mut Bytes, origin_deg: (f64, f64)) -> String {
    let features: Vec<String> = (0..1 + bytes.below(6))
        .map(|index| {
            let site = ["a", "b"][bytes.below(2)];
            let land_use = ["lot", "lot", "drive", "walk", "keep_off", "blocked", "yard"][bytes.below(7)];
            let method = ["", ",\"method\":\"hand\"", ",\"target\":\"20 mL/m2\""][bytes.below(3)];
            let mut ring = ring(bytes);
            ring.push(ring[0]);
            let places: Vec<String> = ring.iter().map(|&place| degrees(place, origin_deg)).collect();
            format!(
                "{{\"type\":\"Feature\",\"properties\":{{\"site\":\"{site}\",\"zone\":\"{index}\",\"use\":\"{land_use}\"{method}}},\
                 \"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
                places.join(",")
            )
        })
        .collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
        features.join(",")
    )
}

/// A rectangle, or three to ten corners in any order.
fn ring(bytes: &mut Bytes) -> Vec<(f64, f64)> {
    let count = 2 + bytes.below(9);
    let corners: Vec<(f64, f64)> = (0..count)
        .map(|_| (bytes.metres(STEP_M), bytes.metres(STEP_M)))
        .collect();
    match corners[..] {
        [(west, south), (east, north)] => {
            vec![(west, south), (east, south), (east, north), (west, north)]
        }
        _ => corners,
    }
}

/// A place as it stands in the sites file.
fn degrees(place_m: (f64, f64), origin_deg: (f64, f64)) -> String {
    let (lon, lat) = lon_lat(place_m, origin_deg);
    format!("[{lon:.9},{lat:.9}]")
}

/// A sphere of the earth's size will do: where the ground lies to the metre does not matter here.
fn lon_lat((east_m, north_m): (f64, f64), (lon_deg, lat_deg): (f64, f64)) -> (f64, f64) {
    const M_PER_DEG: f64 = 111_195.0;
    let lat = (lat_deg + north_m / M_PER_DEG).clamp(-90.0, 90.0);
    let lon = lon_deg + east_m / (M_PER_DEG * lat_deg.to_radians().cos());
    ((lon + 540.0).rem_euclid(360.0) - 180.0, lat)
}

fn orders(bytes: &mut Bytes) -> String {
    let mut text = String::from("site,zone,product,target,from,by\n");
    for _ in 0..1 + bytes.below(4) {
        let site = ["a", "b"][bytes.below(2)];
        let zone = ["", "0", "1"][bytes.below(3)];
        let product = ["", "brine"][bytes.below(2)];
        let (from, hours) = (bytes.below(4), bytes.below(4));
        let _ = writeln!(
            text,
            "{site},{zone},{product},,2026-01-12 0{from}:00,2026-01-12 0{}:30",
            from + hours
        );
    }
    text
}

/// A drive: each move turns, drives and switches for a few fixes.
fn log(bytes: &mut Bytes, origin_deg: (f64, f64), sections: usize) -> String {
    let mut text = String::from("<gpx><trk><trkseg>\n");
    let mut drive = Drive {
        seconds: 7200.0 + f64::from(bytes.byte()) * 4.0,
        place_m: (bytes.metres(STEP_M), bytes.metres(STEP_M)),
        heading_rad: 0.0,
        total_l: 0.0,
    };
    let channels = bytes.byte();
    let mut count = 0;
    while bytes.more() && count < MOST_FIXES {
        let turn_rad = f64::from(bytes.byte() as i8) / 100.0;
        let speed_m_s = f64::from(bytes.byte()) / 12.0;
        let interval_s = [1.0, 1.0, 0.2, 0.0, 5.0, 20.0, 1.0, -3.0, 400.0][bytes.below(9)];
        let (states, flow_l_min) = (bytes.byte(), f64::from(bytes.byte()) / 4.0);
        let odd = bytes.byte();
        for _ in 0..1 + bytes.below(12) {
            drive.go(interval_s, turn_rad, speed_m_s, flow_l_min);
            drive.fix(
                &mut text,
                origin_deg,
                sections,
                (states, flow_l_min, channels),
            );
            count += 1;
        }
        match odd {
            0 => text += "</trkseg><trkseg>\n",
            1 => drive.place_m.0 += 300.0,
            2 => drive.total_l = 0.0,
            3 => drive.heading_rad += std::f64::consts::PI,
            _ => {}
        }
    }
    text + "</trkseg></trk></gpx>\n"
}

struct Drive {
    seconds: f64,
    place_m: (f64, f64),
    heading_rad: f64,
    total_l: f64,
}

impl Drive {
    fn go(&mut self, interval_s: f64, turn_rad: f64, speed_m_s: f64, flow_l_min: f64) {
        self.seconds = (self.seconds + interval_s).max(0.0);
        self.heading_rad += turn_rad;
        let way_m = speed_m_s * interval_s.clamp(0.0, 20.0);
        self.place_m.0 += way_m * self.heading_rad.cos();
        self.place_m.1 += way_m * self.heading_rad.sin();
        self.total_l += flow_l_min / 60.0 * interval_s.max(0.0);
    }

    fn fix(&self, text: &mut String, origin_deg: (f64, f64), sections: usize, said: (u8, f64, u8)) {
        let (states, flow_l_min, channels) = said;
        let (lon, lat) = lon_lat(self.place_m, origin_deg);
        let (whole, millis) = (self.seconds as u64, (self.seconds.fract() * 1000.0) as u64);
        let (hour, minute, second) = (whole / 3600 % 24, whole / 60 % 60, whole % 60);
        let _ = write!(
            text,
            "<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><time>2026-01-12T{hour:02}:{minute:02}:{second:02}.{millis:03}Z</time><extensions>"
        );
        let _ = write!(
            text,
            "<sections>{:0sections$b}</sections>",
            states & ((1 << sections) - 1)
        );
        if channels & 1 == 0 {
            let _ = write!(text, "<flow>{flow_l_min}</flow>");
        }
        if channels & 2 != 0 {
            let litres = if channels & 4 != 0 {
                self.total_l.floor()
            } else {
                self.total_l
            };
            let _ = write!(text, "<volume>{litres}</volume>");
        }
        if channels & 8 != 0 {
            let _ = write!(
                text,
                "<heading>{}</heading>",
                90.0 - self.heading_rad.to_degrees()
            );
        }
        if channels & 16 != 0 {
            let _ = write!(
                text,
                "<gun>{}</gun><master>{}</master>",
                states >> 7,
                states >> 6 & 1
            );
        }
        if channels & 32 != 0 {
            let _ = write!(
                text,
                "<set_rate>{}</set_rate><rate>{flow_l_min}</rate>",
                states >> 2
            );
        }
        *text += "</extensions></trkpt>\n";
    }
}

/// Every output can be made, and its figures add up.
fn adds_up(audited: &Audited) {
    let audit = &audited.audit;
    for (units, rate_unit) in [
        (Units::Us, RateUnit::GalPer1000Ft2),
        (Units::Metric, RateUnit::MlPerM2),
    ] {
        let files = report::files(
            audit,
            &audited.page,
            &audited.drawn(units),
            units,
            rate_unit,
            None,
        );
        assert!(files.iter().all(|(_, bytes)| !bytes.is_empty()));
    }
    assert!(!report::page(audit, &audited.page, Units::Us, RateUnit::GalPer1000Ft2).is_empty());
    super::log::worded(&audit.findings);
    audit.runs.iter().for_each(run);
    let applications = audit.sites.iter().flat_map(|site| &site.applications);
    let zones: Vec<&result::Zone> = applications
        .flat_map(|application| &application.zones)
        .collect();
    let metered_l: f64 = audit.runs.iter().map(|run| run.ledger_l.metered).sum();
    let on_zones_l: f64 = zones.iter().filter_map(|zone| zone.volume_l).sum();
    assert!(
        on_zones_l <= metered_l + LITRES_SHARE * metered_l + 1e-6,
        "{on_zones_l} of {metered_l} L"
    );
    zones.into_iter().for_each(zone);
}

/// Legs that are written down and read back are the same, and so is all that comes of them.
fn stands_alone(paths: &NightPaths, settings: Settings, audited: &Audited) {
    let gathered = audit::gather(paths, settings, &|_, _, _| ()).expect("the audit read it");
    for (index, legs) in gathered.legs.iter().enumerate() {
        let text = serde_json::to_string(legs).expect("numbers and texts");
        let back: Vec<Leg> = serde_json::from_str(&text).expect("what was written");
        assert_eq!(*legs, back, "site {index}");
        let (site, rules) = (&gathered.sites[index], &gathered.rules[index]);
        let again = site::treat(site, &back, rules, settings.keep_strips);
        assert_eq!(
            format!("{again:?}"),
            format!("{:?}", audited.outcomes[index])
        );
    }
}

fn run(run: &result::Run) {
    let ledger = &run.ledger_l;
    let lines = [
        ledger.zones,
        ledger.keep_off,
        ledger.fringe,
        ledger.outside,
        ledger.yard,
        ledger.gun,
        ledger.closed,
        ledger.dropout,
        ledger.between_logs,
    ];
    assert!(lines.iter().all(|litres| litres.is_finite()), "{ledger:?}");
    let sum_l: f64 = lines.iter().sum();
    near(
        sum_l,
        ledger.metered,
        LITRES_SHARE * ledger.metered.abs() + 1e-6,
        "ledger",
    );
    assert!(
        run.distance_m.is_finite() && run.wet_s >= 0.0 && run.reverse_wet_s <= run.wet_s + 1e-6
    );
    assert!(run.start <= run.end && run.fixes_used <= run.fixes);
}

fn zone(zone: &result::Zone) {
    let slack_m2 = AREA_SHARE * (1.0 + zone.area_m2);
    assert!(
        zone.area_m2 >= 0.0 && zone.excluded_m2 >= 0.0 && zone.core_m2 <= zone.area_m2 + slack_m2
    );
    let [treated, gap, unlogged, overlap, swept] = [
        zone.treated_m2,
        zone.gap_m2,
        zone.unlogged_m2,
        zone.overlap_m2,
        zone.swept_m2,
    ];
    if let (Some(treated), Some(gap), Some(unlogged), Some(overlap), Some(swept)) =
        (treated, gap, unlogged, overlap, swept)
    {
        assert!(
            treated >= -slack_m2 && gap >= 0.0 && unlogged >= 0.0 && overlap >= 0.0,
            "{zone:?}"
        );
        near(
            treated + gap + unlogged,
            zone.area_m2,
            slack_m2,
            "parts of the zone",
        );
        assert!(
            overlap <= treated + slack_m2,
            "{overlap} of {treated} m2 twice"
        );
        // What was swept covers the treated ground once and the overlap once more.
        let swept_slack_m2 = slack_m2 + SWUNG_SHARE * swept;
        assert!(
            treated + overlap <= swept + swept_slack_m2,
            "{treated} + {overlap} of {swept} m2"
        );
        let causes = zone.gap_causes_m2.expect("with the gap come its causes");
        near(
            causes.never_reached
                + causes.spraying_off
                + causes.closed
                + causes.dry
                + causes.silence,
            gap,
            slack_m2,
            "causes",
        );
        let core = zone.core_treated_m2.unwrap_or_default();
        assert!(
            core <= treated.min(zone.core_m2) + slack_m2,
            "{core} m2 of the core"
        );
    }
    let patches_m2: f64 = zone
        .patches
        .iter()
        .flatten()
        .map(|patch| patch.area_m2)
        .sum();
    assert!(
        patches_m2 <= gap.unwrap_or_default() + slack_m2,
        "patches of {patches_m2} m2"
    );
    zone.dose.iter().for_each(dose);
}

fn dose(dose: &Dose) {
    assert!(
        dose.p05_ml_m2 <= dose.p50_ml_m2 && dose.p50_ml_m2 <= dose.p95_ml_m2,
        "{dose:?}"
    );
    assert!(
        dose.mean_ml_m2.is_finite() && dose.mean_ml_m2 >= 0.0,
        "{dose:?}"
    );
    assert!(dose.cv.is_none_or(f64::is_finite) && (0.0..=1.0).contains(&dose.share_unknown));
    if let (Some(under), Some(within), Some(over)) =
        (dose.share_under, dose.share_within, dose.share_over)
    {
        near(
            under + within + over + dose.share_unknown,
            1.0,
            1e-6,
            "shares",
        );
    }
}

fn near(a: f64, b: f64, slack: f64, what: &str) {
    assert!((a - b).abs() <= slack, "{what}: {a} is not {b} to {slack}");
}
