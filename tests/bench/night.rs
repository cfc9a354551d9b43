//! A fleet night of any size: lots with islands, driven lane by lane, roads and waiting between them.
//!
//! Made from the file formats alone; nothing here knows the audit. Each rig has a row of lots of its own in
//! mid-ocean and a seeded stream of chance, so that a night is the same on every machine.

use crate::chance::{Chance, Drift, Wrong};
use crate::path::{At, Path};
use rayon::prelude::*;
use std::fmt::Write as _;
use std::io::{BufWriter, Write as _};
use std::path::PathBuf;

/// Metres of a degree near 45 degrees north: good to a thousandth, which is all that a load needs.
const DEGREE_NORTH_M: f64 = 111_132.0;
const DEGREE_EAST_M: f64 = 78_847.0;
/// Liquid asked for, mL/m2.
const TARGET_ML_M2: f64 = 33.0;
/// Speed at work, m/s.
const WORK_M_S: f64 = 3.0;
/// Width of every boom, m, about; it is cut into 3 to 8 sections.
const BOOM_M: f64 = 4.8;
/// From one lane to the next as a share of the boom: what drivers leave as lap.
const LANE_SHARE: f64 = 0.95;
/// Between lots along a rig's row, and between rows, m.
const APART_M: f64 = 450.0;
/// Where a rig leaves the road for a lot, west of it, and how far south of the lots the road runs, m.
const APPROACH_M: f64 = 40.0;
const ROAD_M: f64 = -40.0;
/// The antenna is so far ahead of the boom, m.
const AHEAD_M: f64 = 2.0;

/// How large a night is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Size {
    /// Rigs, each with a log of its own.
    pub rigs: usize,
    /// Length of each log, h.
    pub hours: f64,
    /// Fixes a second.
    pub hz: f64,
    /// Lots of each rig.
    pub lots: usize,
    /// Fewest and most sections of a boom; the rigs take turns.
    pub sections: (usize, usize),
    /// Share of the fixes that spray, about.
    pub spraying_share: f64,
    /// Bytes of a fix at least; 0 for what it needs.
    pub bytes: usize,
}

/// What a night holds.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Counts {
    pub fixes: usize,
    pub spraying: usize,
    pub bytes: u64,
}

impl Counts {
    fn with(self, other: Self) -> Self {
        Self {
            fixes: self.fixes + other.fixes,
            spraying: self.spraying + other.spraying,
            bytes: self.bytes + other.bytes,
        }
    }
}

impl Size {
    /// Name of the night's folder: every number that makes it.
    pub(crate) fn name(&self) -> String {
        let (fewest, most) = self.sections;
        format!(
            "rigs{}-h{}-hz{}-lots{}-sections{fewest}to{most}-share{}-bytes{}",
            self.rigs, self.hours, self.hz, self.lots, self.spraying_share, self.bytes
        )
    }

    /// Writes the night into a folder of its own under `dir`.
    pub(crate) fn write(&self, dir: &std::path::Path) -> std::io::Result<(PathBuf, Counts)> {
        let night = dir.join(self.name());
        let _ = std::fs::remove_dir_all(&night);
        std::fs::create_dir_all(night.join("logs"))?;
        let counts = (0..self.rigs)
            .into_par_iter()
            .map(|rig| self.write_log(rig, &night.join(format!("logs/rig{rig}.gpx"))))
            .try_reduce(Counts::default, |a, b| Ok(a.with(b)))?;
        std::fs::write(night.join("fleet.toml"), self.fleet())?;
        std::fs::write(night.join("sites.geojson"), self.sites())?;
        Ok((night, counts))
    }

    fn sections_of(&self, rig: usize) -> usize {
        let (fewest, most) = self.sections;
        fewest + rig % (most - fewest + 1)
    }

    fn fleet(&self) -> String {
        let mut text = format!("[defaults]\ntarget = \"{TARGET_ML_M2} mL/m2\"\n");
        for rig in 0..self.rigs {
            let sections = self.sections_of(rig);
            let width_m = BOOM_M / sections as f64;
            let widths = vec![format!("\"{width_m:.4} m\""); sections].join(", ");
            let _ = writeln!(
                text,
                "[[rig]]\nid = \"rig{rig}\"\nsections = [{widths}]\nantenna = {{ ahead = \"{AHEAD_M} m\" }}"
            );
        }
        text
    }

    fn sites(&self) -> String {
        let lot = self.lot();
        let mut features = Vec::new();
        for rig in 0..self.rigs {
            for number in 0..self.lots {
                let rings: Vec<String> = lot
                    .rings()
                    .iter()
                    .map(|ring| ring_text(ring, corner_m(rig, number)))
                    .collect();
                features.push(format!(
                    "{{\"type\":\"Feature\",\"properties\":{{\"site\":\"lot {rig}-{number}\",\"zone\":\"lot\",\"use\":\"lot\"}},\
                     \"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[{}]}}}}",
                    rings.join(",")
                ));
            }
        }
        format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[\n{}\n]}}\n",
            features.join(",\n")
        )
    }

    /// The lot that takes a rig its share of the night.
    fn lot(&self) -> Lot {
        let spraying_s = self.hours * 3600.0 * self.spraying_share / self.lots as f64;
        // Chamfers, islands and the ends of lanes cost a little.
        let ground_m2 = 1.03 * spraying_s * WORK_M_S * LANE_SHARE * BOOM_M;
        let width_m = (ground_m2 / 1.6).sqrt();
        let lanes = (width_m / (LANE_SHARE * BOOM_M)).round().max(1.0);
        Lot {
            length_m: ground_m2 / (lanes * LANE_SHARE * BOOM_M),
            lanes: lanes as usize,
        }
    }

    fn write_log(&self, rig: usize, path: &std::path::Path) -> std::io::Result<Counts> {
        let mut out = BufWriter::with_capacity(1 << 20, std::fs::File::create(path)?);
        let head = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"bench\" \
             xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:swathbook:log:1\">\n\
             <trk><extensions><s:rig>rig{rig}</s:rig></extensions><trkseg>\n"
        );
        out.write_all(head.as_bytes())?;
        let tail = "</trkseg></trk></gpx>\n";
        let mut counts = Counts {
            bytes: (head.len() + tail.len()) as u64,
            ..Counts::default()
        };
        let wrong = Wrong {
            drift_m: 0.15,
            drift_s: 300.0,
            white_m: 0.02,
            interval_s: 1.0 / self.hz,
        };
        let mut drift = Drift::new(Chance::new(7, rig as u64), wrong);
        let lot = self.lot();
        let sections = self.sections_of(rig);
        let fixes_of_lot = (self.hours * 3600.0 * self.hz / self.lots as f64).round() as usize;
        let mut line = String::new();
        for number in 0..self.lots {
            let corner_m = corner_m(rig, number);
            let path = lot.path(fixes_of_lot as f64 / self.hz);
            for k in 0..fixes_of_lot {
                let at = path.at(k as f64 / self.hz);
                // A state holds until the next fix, so a section opens before its ground begins.
                let next = path.at((k + 1) as f64 / self.hz);
                let open = lot.open(&[&at, &next], sections);
                let error_m = drift.next_m();
                let place_m = [0, 1].map(|axis| at.place_m[axis] + corner_m[axis] + error_m[axis]);
                let fix = counts.fixes;
                line.clear();
                self.fix_text(&mut line, fix, place_m, &at, &open);
                out.write_all(line.as_bytes())?;
                counts.fixes += 1;
                counts.spraying += usize::from(open.contains(&true));
                counts.bytes += line.len() as u64;
            }
        }
        out.write_all(tail.as_bytes())?;
        out.flush()?;
        Ok(counts)
    }

    fn fix_text(&self, line: &mut String, fix: usize, place_m: [f64; 2], at: &At, open: &[bool]) {
        let width_m = BOOM_M / open.len() as f64;
        let active_m = width_m * open.iter().filter(|open| **open).count() as f64;
        let flow_l_min = 60.0 * TARGET_ML_M2 / 1000.0 * active_m * at.speed_m_s;
        let micros = (fix as f64 / self.hz * 1e6).round() as u64;
        let (seconds, rest) = (micros / 1_000_000, micros % 1_000_000);
        let fraction = if rest == 0 {
            String::new()
        } else {
            format!(".{:03}", rest / 1000)
        };
        let states: String = open
            .iter()
            .map(|open| if *open { '1' } else { '0' })
            .collect();
        let [lon, lat] = degrees(place_m);
        let _ = write!(
            line,
            "<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><ele>12.0</ele>\
             <time>2026-01-{:02}T{:02}:{:02}:{:02}{fraction}Z</time><hdop>0.8</hdop><extensions>\
             <s:flow>{flow_l_min:.2}</s:flow><s:sections>{states}</s:sections><s:speed>{:.1}</s:speed>",
            12 + seconds / 86_400,
            seconds / 3600 % 24,
            seconds / 60 % 60,
            seconds % 60,
            at.speed_m_s,
        );
        const END: &str = "</extensions></trkpt>\n";
        const NOTE: usize = "<s:note></s:note>".len();
        if line.len() + END.len() + NOTE < self.bytes {
            let more = self.bytes - line.len() - END.len() - NOTE;
            let _ = write!(line, "<s:note>{}</s:note>", "x".repeat(more));
        }
        line.push_str(END);
    }
}

/// Lower left corner of a rig's lot, m.
fn corner_m(rig: usize, number: usize) -> [f64; 2] {
    [number as f64 * APART_M, rig as f64 * APART_M]
}

fn degrees([x_m, y_m]: [f64; 2]) -> [f64; 2] {
    [
        -30.0 + x_m / DEGREE_EAST_M,
        45.0 - 0.3 + y_m / DEGREE_NORTH_M,
    ]
}

fn ring_text(ring: &[[f64; 2]], corner_m: [f64; 2]) -> String {
    let point = |&[x_m, y_m]: &[f64; 2]| {
        let [lon, lat] = degrees([x_m + corner_m[0], y_m + corner_m[1]]);
        format!("[{lon:.8},{lat:.8}]")
    };
    let points: Vec<String> = ring.iter().chain(ring.first()).map(point).collect();
    format!("[{}]", points.join(","))
}

/// A lot: a rectangle with cut corners and two islands.
struct Lot {
    length_m: f64,
    lanes: usize,
}

impl Lot {
    fn width_m(&self) -> f64 {
        self.lanes as f64 * LANE_SHARE * BOOM_M
    }

    /// How much is cut off each corner, m.
    fn cut_m(&self) -> f64 {
        0.08 * self.width_m()
    }

    /// Middle and radius of the islands.
    fn islands(&self) -> [([f64; 2], f64); 2] {
        let place = |x: f64, y: f64| [x * self.length_m, y * self.width_m()];
        [(place(0.3, 0.35), 4.0), (place(0.68, 0.6), 3.0)]
    }

    fn rings(&self) -> Vec<Vec<[f64; 2]>> {
        let (l, w, c) = (self.length_m, self.width_m(), self.cut_m());
        let outer = vec![
            [c, 0.0],
            [l - c, 0.0],
            [l, c],
            [l, w - c],
            [l - c, w],
            [c, w],
            [0.0, w - c],
            [0.0, c],
        ];
        let island = |([x, y], radius): ([f64; 2], f64)| {
            let corner = |k: usize| {
                let turn = -std::f64::consts::TAU * k as f64 / 12.0;
                [x + radius * turn.cos(), y + radius * turn.sin()]
            };
            (0..12).map(corner).collect()
        };
        std::iter::once(outer)
            .chain(self.islands().map(island))
            .collect()
    }

    fn contains(&self, [x, y]: [f64; 2]) -> bool {
        let (l, w, c) = (self.length_m, self.width_m(), self.cut_m());
        let inside = (0.0..=l).contains(&x) && (0.0..=w).contains(&y);
        let corner = x.min(l - x) + y.min(w - y) >= c;
        let bare = |([ix, iy], radius): ([f64; 2], f64)| (x - ix).hypot(y - iy) > radius;
        inside && corner && self.islands().into_iter().all(bare)
    }

    /// Sections that are open: those whose middle is over the lot at any of these places on a lane.
    fn open(&self, places: &[&At], sections: usize) -> Vec<bool> {
        let width_m = BOOM_M / sections as f64;
        let over = |at: &At, section: usize| {
            let (sin, cos) = at.heading_rad.sin_cos();
            let left_m = BOOM_M / 2.0 - (section as f64 + 0.5) * width_m;
            self.contains([
                at.place_m[0] - AHEAD_M * cos - left_m * sin,
                at.place_m[1] - AHEAD_M * sin + left_m * cos,
            ])
        };
        let lanes = places.iter().filter(|at| at.working);
        (0..sections)
            .map(|section| lanes.clone().any(|at| over(at, section)))
            .collect()
    }

    /// The rig's way over the lot, then a wait and the road to the next one, in `seconds` altogether.
    fn path(&self, seconds: f64) -> Path {
        let run_up_m = 2.0;
        let mut path = Path::from([-APPROACH_M, LANE_SHARE * BOOM_M / 2.0]);
        let mut east = true;
        for lane in lane_order(self.lanes) {
            let y_m = (lane as f64 + 0.5) * LANE_SHARE * BOOM_M;
            let ends_m = [-run_up_m, self.length_m + run_up_m];
            let (from_m, to_m) = if east { (0, 1) } else { (1, 0) };
            if path.seconds() > 0.0 {
                let bulge = if east { -1.0 } else { 1.0 };
                path.turn_to([ends_m[from_m], y_m], bulge, WORK_M_S);
            }
            path.line_to([ends_m[to_m], y_m], WORK_M_S, true);
            east = !east;
        }
        let road = |path: &mut Path| {
            path.line_to([APART_M - APPROACH_M, ROAD_M], 12.0, false);
            path.line_to(
                [APART_M - APPROACH_M, LANE_SHARE * BOOM_M / 2.0],
                5.0,
                false,
            );
        };
        path.line_to([self.length_m + APPROACH_M, ROAD_M], 5.0, false);
        let mut rest = Path::from([self.length_m + APPROACH_M, ROAD_M]);
        road(&mut rest);
        path.wait(seconds - path.seconds() - rest.seconds());
        road(&mut path);
        path
    }
}

/// Lanes in blocks of six, every third one next, so that turns are wide enough to drive.
fn lane_order(lanes: usize) -> Vec<usize> {
    let block = |first: usize| [0, 3, 1, 4, 2, 5].map(|k| first + k);
    (0..lanes)
        .step_by(6)
        .flat_map(block)
        .filter(|lane| *lane < lanes)
        .collect()
}
