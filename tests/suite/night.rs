//! Small nights for the tests: made in a folder of their own, audited by the program itself.
//!
//! [`Night::new`] is a healthy night, so that a test only says what is wrong with its own. Whatever a
//! test looks at, [`Night::audit`] checks first: no panic, no hang, a documented exit code, and
//! an `audit.json` that its schema accepts and whose ledger lines add up.

use serde_json::Value;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::rc::Rc;
use std::time::{Duration, Instant};

/// A run longer than this hangs, s. Unoptimised, on a busy machine, small nights take well under one.
const LONGEST_S: u64 = 60;

/// Where east and north are 0: mid-ocean.
pub(crate) const ORIGIN_LON_DEG: f64 = -30.0;
pub(crate) const ORIGIN_LAT_DEG: f64 = 45.0;

/// One rig with four sections of 1 m, the antenna over the boom; 30 mL/m2 asked for. Its logs show a switch at the
/// fix at which it was thrown.
pub(crate) const FLEET: &str = r#"[defaults]
target = "30 mL/m2"
[[rig]]
id = "north"
log_lag = "0 s"
sections = ["1 m", "1 m", "1 m", "1 m"]
"#;

/// Litres a minute that lay 30 mL/m2 over 4 m at 4 m/s: 0.03 L/m2 x 4 m x 4 m/s x 60 s.
pub(crate) const ON_TARGET_L_MIN: f64 = 28.8;

/// A fix: seconds after 02:00, east and north in metres, section states, flow in L/min.
pub(crate) type Fix = (f64, f64, f64, &'static str, f64);

/// A night folder that goes with its last user.
#[derive(Clone)]
pub(crate) struct Night {
    dir: Rc<tempfile::TempDir>,
}

/// What the program did.
pub(crate) struct Outcome {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    /// `audit.json`, where there is one.
    pub(crate) json: Option<Value>,
    /// The folder given with `--out`.
    pub(crate) out: PathBuf,
    _night: Night,
}

impl Night {
    /// A healthy night: one lot of 80 m x 12 m, treated in three passes.
    pub(crate) fn new() -> Self {
        Self::empty()
            .fleet(FLEET)
            .sites(&sites(&[zone(
                "quay",
                "lot",
                &rectangle(0.0, 0.0, 80.0, 12.0),
            )]))
            .log("healthy.gpx", gpx(&healthy()))
    }

    /// A folder without any files.
    pub(crate) fn empty() -> Self {
        let dir = tempfile::tempdir().unwrap();
        std::fs::create_dir(dir.path().join("logs")).unwrap();
        Self { dir: Rc::new(dir) }
    }

    /// Writes the fleet file.
    pub(crate) fn fleet(self, toml: &str) -> Self {
        self.file("fleet.toml", toml)
    }

    /// Writes the sites file.
    pub(crate) fn sites(self, json: &str) -> Self {
        self.file("sites.geojson", json)
    }

    /// Adds a log beside those there are.
    pub(crate) fn log(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        self.file(&format!("logs/{name}"), bytes)
    }

    /// Puts a log of a rig that sprays nothing near this place in the healthy one's place.
    pub(crate) fn driven_at(self, [lon_deg, lat_deg]: [f64; 2]) -> Self {
        let points: String = (0..30)
            .map(|i| {
                let channels = "<s:flow>0</s:flow><s:sections>0000</s:sections>";
                let north_deg = lat_deg + 3e-5 * f64::from(i);
                point_at(lon_deg, north_deg, &time(f64::from(i)), channels)
            })
            .collect();
        self.log("healthy.gpx", gpx_of(&points))
    }

    /// Takes the healthy log away.
    pub(crate) fn no_logs(self) -> Self {
        self.without("logs/healthy.gpx")
    }

    /// Writes any file.
    pub(crate) fn file(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        std::fs::write(self.path(name), bytes).unwrap();
        self
    }

    /// Removes a file.
    pub(crate) fn without(self, name: &str) -> Self {
        std::fs::remove_file(self.path(name)).unwrap();
        self
    }

    /// A path in the night folder.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Audits the folder with more flags.
    pub(crate) fn audit(&self, flags: &[&str]) -> Outcome {
        self.audit_to("out", flags, &[])
    }

    /// Audits the folder to another output folder, with more flags and environment variables.
    pub(crate) fn audit_to(
        &self,
        out: &str,
        flags: &[&str],
        variables: &[(&str, &str)],
    ) -> Outcome {
        let folder = self.dir.path().to_str().unwrap();
        let out = self.path(out);
        let mut arguments = vec!["audit", folder, "--out", out.to_str().unwrap()];
        arguments.extend(flags);
        self.run(&arguments, &out, variables)
    }

    /// Runs the program with these arguments and nothing else.
    pub(crate) fn run(
        &self,
        arguments: &[&str],
        out: &Path,
        variables: &[(&str, &str)],
    ) -> Outcome {
        let page = |name: &str| std::fs::File::create(self.path(name)).unwrap();
        let mut program = Command::new(env!("CARGO_BIN_EXE_swathbook"))
            .args(arguments)
            .envs(variables.iter().copied())
            .stdin(Stdio::null())
            .stdout(page(".stdout"))
            .stderr(page(".stderr"))
            .spawn()
            .unwrap();
        let begin = Instant::now();
        let status = loop {
            if let Some(status) = program.try_wait().unwrap() {
                break status;
            }
            if begin.elapsed() > Duration::from_secs(LONGEST_S) {
                program.kill().unwrap();
                panic!("the program hangs: {arguments:?}");
            }
            std::thread::sleep(Duration::from_millis(5));
        };
        let text = |name: &str| std::fs::read_to_string(self.path(name)).unwrap();
        let outcome = Outcome {
            code: status.code().unwrap_or(-1),
            stdout: text(".stdout"),
            stderr: text(".stderr"),
            json: std::fs::read(out.join("audit.json"))
                .ok()
                .map(|bytes| serde_json::from_slice(&bytes).unwrap()),
            out: out.to_path_buf(),
            _night: self.clone(),
        };
        outcome.check();
        outcome
    }
}

impl Outcome {
    /// What holds for every night, however bad.
    fn check(&self) {
        let stderr = &self.stderr;
        assert!(!stderr.contains("panicked"), "{stderr}");
        assert!(
            (0..=2).contains(&self.code),
            "exit code {}: {stderr}",
            self.code
        );
        if self.code == 2 {
            assert!(!stderr.trim().is_empty(), "no message");
        }
        if let Some(json) = &self.json {
            let schema = include_str!("../../docs/audit.schema.json");
            let schema: Value = serde_json::from_str(schema).unwrap();
            let validator = jsonschema::validator_for(&schema).unwrap();
            let errors: Vec<String> = validator
                .iter_errors(json)
                .map(|error| format!("{}: {error}", error.instance_path()))
                .collect();
            assert!(errors.is_empty(), "against the schema: {errors:?}");
            self.ledgers_add_up();
        }
    }

    fn ledgers_add_up(&self) {
        for run in self.runs() {
            let ledger = run["ledger_l"].as_object().unwrap();
            let metered_l = ledger["metered"].as_f64().unwrap();
            let lines = ledger.iter().filter(|(line, _)| *line != "metered");
            let sum_l: f64 = lines.map(|(_, litres)| litres.as_f64().unwrap()).sum();
            // 1e-9 of the metered litres; each of ten numbers is rounded to 1e-9 L.
            let tolerance_l = 1e-9 * metered_l.abs() + 10.0 * 0.5e-9;
            assert!((sum_l - metered_l).abs() <= tolerance_l, "{ledger:?}");
        }
    }

    /// `audit.json`; the run must have made one.
    pub(crate) fn audit(&self) -> &Value {
        self.json
            .as_ref()
            .unwrap_or_else(|| panic!("no audit.json: {}", self.stderr))
    }

    pub(crate) fn runs(&self) -> &Vec<Value> {
        self.audit()["runs"].as_array().unwrap()
    }

    /// The findings with this code.
    pub(crate) fn findings(&self, code: &str) -> Vec<&Value> {
        let all = self.audit()["findings"].as_array().unwrap();
        all.iter()
            .filter(|finding| finding["code"] == code)
            .collect()
    }

    /// The text of the only finding with this code.
    pub(crate) fn text(&self, code: &str) -> &str {
        match self.findings(code).as_slice() {
            [finding] => finding["text"].as_str().unwrap(),
            found => panic!("{} findings {code}: {found:#?}", found.len()),
        }
    }

    /// The ground of a zone, by its place in the sites file's order.
    pub(crate) fn ground(&self, site: usize, zone: usize) -> &Value {
        &self.audit()["sites"][site]["ground"][zone]
    }

    /// The zone of the first site's only application.
    pub(crate) fn first_zone(&self) -> &Value {
        let applications = self.audit()["sites"][0]["applications"].as_array().unwrap();
        assert_eq!(applications.len(), 1, "{applications:#?}");
        &applications[0]["zones"][0]
    }

    /// The healthy log came through: its lot is treated from edge to edge.
    pub(crate) fn still_audited(&self) {
        assert_ne!(self.code, 2, "{}", self.stderr);
        let zone = self.first_zone();
        let (treated_m2, area_m2) = (number(&zone["treated_m2"]), number(&zone["area_m2"]));
        assert!(treated_m2 > 0.98 * area_m2, "{treated_m2} of {area_m2} m2");
    }

    /// No result was possible, and the message says all this.
    pub(crate) fn refused(&self, says: &[&str]) {
        assert_eq!(self.code, 2, "{}", self.stdout);
        assert!(self.stdout.is_empty(), "{}", self.stdout);
        for text in says {
            assert!(
                self.stderr.contains(text),
                "no {text:?} in: {}",
                self.stderr
            );
        }
    }
}

/// A number of `audit.json`.
pub(crate) fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

/// A night of one log, audited.
pub(crate) fn audited(fleet: &str, zones: &[String], fixes: &[Fix]) -> Outcome {
    let night = Night::empty()
        .fleet(fleet)
        .sites(&sites(zones))
        .log("a.gpx", gpx(fixes));
    night.audit(&["--fail-on", "never"])
}

/// Three passes of 96 m at 4 m/s, 4 m apart, from 8 m before the lot to 8 m behind it; closed in between.
pub(crate) fn healthy() -> Vec<Fix> {
    let mut fixes = pass(0.0, (-8.0, 2.0), (88.0, 2.0));
    fixes.extend(pass(25.0, (88.0, 6.0), (-8.0, 6.0)));
    fixes.extend(pass(50.0, (-8.0, 10.0), (88.0, 10.0)));
    fixes
}

/// A straight pass at 4 m/s and 1 Hz with all four sections open on target; closed at its last fix.
pub(crate) fn pass(start_s: f64, from: (f64, f64), to: (f64, f64)) -> Vec<Fix> {
    let (east_m, north_m) = (to.0 - from.0, to.1 - from.1);
    let steps = (east_m.hypot(north_m) / 4.0).round() as usize;
    (0..=steps)
        .map(|i| {
            let u = i as f64 / steps as f64;
            let (states, flow) = if i == steps {
                ("0000", 0.0)
            } else {
                ("1111", ON_TARGET_L_MIN)
            };
            (
                start_s + i as f64,
                from.0 + u * east_m,
                from.1 + u * north_m,
                states,
                flow,
            )
        })
        .collect()
}

/// A whole GPX file of one segment.
pub(crate) fn gpx(fixes: &[Fix]) -> String {
    gpx_of(&fixes.iter().map(point).collect::<String>())
}

/// A whole GPX file around the text of its points.
pub(crate) fn gpx_of(points: &str) -> String {
    format!(
        "<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\" \
         xmlns:s=\"urn:swathbook:log:1\">\n<trk><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )
}

/// A track point on a line of its own.
pub(crate) fn point(&(seconds, east_m, north_m, states, flow): &Fix) -> String {
    let extensions = format!("<s:flow>{flow}</s:flow><s:sections>{states}</s:sections>");
    point_with(seconds, east_m, north_m, &extensions)
}

/// A track point with any extensions.
pub(crate) fn point_with(seconds: f64, east_m: f64, north_m: f64, extensions: &str) -> String {
    let [lon_deg, lat_deg] = lon_lat(east_m, north_m);
    point_at(lon_deg, lat_deg, &time(seconds), extensions)
}

/// A track point from its parts.
pub(crate) fn point_at(lon_deg: f64, lat_deg: f64, time: &str, extensions: &str) -> String {
    format!(
        "<trkpt lat=\"{lat_deg:.9}\" lon=\"{lon_deg:.9}\"><time>{time}</time>\
         <extensions>{extensions}</extensions></trkpt>\n"
    )
}

/// The stamp so many seconds after 02:00.
pub(crate) fn time(seconds: f64) -> String {
    let whole = seconds.floor() as u64;
    let millis = ((seconds - seconds.floor()) * 1000.0).round() as u64;
    let (day, hour) = (12 + (2 + whole / 3600) / 24, (2 + whole / 3600) % 24);
    format!(
        "2026-01-{day:02}T{hour:02}:{:02}:{:02}.{millis:03}Z",
        whole / 60 % 60,
        whole % 60
    )
}

/// Longitude and latitude of a place in metres from the origin: radii of curvature of WGS 84 at
/// 45 N, off by 1e-5 of the distance at 100 m.
pub(crate) fn lon_lat(east_m: f64, north_m: f64) -> [f64; 2] {
    lon_lat_from(ORIGIN_LON_DEG, ORIGIN_LAT_DEG, east_m, north_m)
}

/// The same from any origin but the poles.
pub(crate) fn lon_lat_from(lon_deg: f64, lat_deg: f64, east_m: f64, north_m: f64) -> [f64; 2] {
    const EQUATORIAL_RADIUS_M: f64 = 6_378_137.0;
    const E2: f64 = 0.006_694_379_990_14;
    let (sin, cos) = lat_deg.to_radians().sin_cos();
    let w2 = 1.0 - E2 * sin * sin;
    let prime_vertical_m = EQUATORIAL_RADIUS_M / w2.sqrt();
    let meridian_m = prime_vertical_m * (1.0 - E2) / w2;
    let east_deg = (east_m / (prime_vertical_m * cos)).to_degrees();
    [
        lon_deg + east_deg,
        lat_deg + (north_m / meridian_m).to_degrees(),
    ]
}

/// A ring of places in metres, as they stand in GeoJSON. It is not closed here.
pub(crate) fn ring(places_m: &[(f64, f64)]) -> String {
    let mut text = String::from("[");
    for (i, &(east_m, north_m)) in places_m.iter().enumerate() {
        let [lon_deg, lat_deg] = lon_lat(east_m, north_m);
        let comma = if i == 0 { "" } else { "," };
        write!(text, "{comma}[{lon_deg:.9},{lat_deg:.9}]").unwrap();
    }
    text + "]"
}

/// The coordinates of a Polygon: a rectangle from its south-west to its north-east corner, m.
pub(crate) fn rectangle(west_m: f64, south_m: f64, east_m: f64, north_m: f64) -> String {
    let corners = [
        (west_m, south_m),
        (east_m, south_m),
        (east_m, north_m),
        (west_m, north_m),
    ];
    let closed: Vec<_> = corners.into_iter().chain([corners[0]]).collect();
    format!("[{}]", ring(&closed))
}

/// A feature of a lot from the coordinates of its Polygon.
pub(crate) fn zone(site: &str, zone: &str, coordinates: &str) -> String {
    zone_with(
        &format!(r#""site":"{site}","zone":"{zone}","use":"lot""#),
        coordinates,
    )
}

/// A feature with any properties.
pub(crate) fn zone_with(properties: &str, coordinates: &str) -> String {
    feature(
        properties,
        &format!(r#"{{"type":"Polygon","coordinates":{coordinates}}}"#),
    )
}

/// A feature with any geometry.
pub(crate) fn feature(properties: &str, geometry: &str) -> String {
    format!(r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{geometry}}}"#)
}

/// A sites file of these features, one a line.
pub(crate) fn sites(features: &[impl AsRef<str>]) -> String {
    let features: Vec<&str> = features.iter().map(AsRef::as_ref).collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[\n{}\n]}}\n",
        features.join(",\n")
    )
}

#[test]
fn the_builder_places_metres_where_they_belong() {
    // GeographicLib 2.1 (geodesic inverse): 100 m east of 45 N 30 W is 0.001268279 degrees, north 0.000899795.
    let [lon_deg, lat_deg] = lon_lat(100.0, 100.0);
    assert!(
        (lon_deg + 30.0 - 0.001_268_3).abs() < 1e-6 && (lat_deg - 45.0 - 0.000_899_8).abs() < 1e-6
    );
}
