//! A fleet night of any size: lots with islands, driven lane by lane, roads and waiting between them.
//!
//! Receivers, logs and files are those of `tests/making`; the ground and the driving (`lot`, `path`) are simpler than its
//! own: steady speeds, and booms that switch by the lot's line. Nothing here knows the audit. Each rig has a row of lots of its own in
//! mid-ocean and a seeded stream of chance, so that a night is the same on every machine.

use crate::lot::{APART_M, BOOM_M, LANE_SHARE, Lot, WORK_M_S};
use crate::path::At;
use making::chance::Chance;
use making::files;
use making::gpx::{self, Clock, Head, states};
use making::receiver::{Drift, Wrong};
use rayon::prelude::*;
use serde_json::json;
use std::fmt::Write as _;
use std::io::{BufWriter, Write as _};
use std::path::PathBuf;

/// Metres of a degree near 45 degrees north: good to a thousandth, which is all that a load needs.
const DEGREE_NORTH_M: f64 = 111_132.0;
const DEGREE_EAST_M: f64 = 78_847.0;
/// Liquid asked for, mL/m2.
const TARGET_ML_M2: f64 = 33.0;
/// The antenna is so far ahead of the boom, m.
pub(crate) const AHEAD_M: f64 = 2.0;
/// On a rough night: the meter's reading is so late, s.
const METER_LATE_S: f64 = 2.0;
/// Silences of a rough night's log at work: how long, s, and from which to which share of a lot's time.
const SILENCE_S: f64 = 8.0;
const SILENCES: [(f64, f64); 2] = [(0.08, 0.18), (0.2, 0.3)];
/// Of so many orders of a rough night one wants its lot done before the rig comes.
const LATE_ORDERS: usize = 10;
/// Side of the dose cells that the work is counted in, m.
const CELL_M: f64 = 0.5;

/// Receivers of contractors who pay for corrections.
const WRONG: Wrong = Wrong {
    drift_m: 0.15,
    drift_s: 300.0,
    white_m: 0.02,
};
/// The loggers' clock: the nights begin at midnight.
const CLOCK: Clock = Clock {
    month: "2026-01",
    day: 12,
    digits: 3,
};

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
    /// Gaps of 5 %, silences at work, meters that read late, an order for each lot.
    pub rough: bool,
}

/// What a night holds.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Counts {
    pub fixes: usize,
    pub spraying: usize,
    /// Of outlines: two for each run of neighbouring open sections of a spraying fix.
    pub edges: usize,
    /// Dose cells of 0.5 m on the ground of all lots.
    pub cells: usize,
    pub bytes: u64,
}

impl Counts {
    /// Counts a fix with these sections open.
    fn add(&mut self, open: &[bool], bytes: usize) {
        self.fixes += 1;
        self.spraying += usize::from(open.contains(&true));
        self.edges += 2 * open.chunk_by(|a, b| a == b).filter(|run| run[0]).count();
        self.bytes += bytes as u64;
    }

    fn with(self, other: Self) -> Self {
        Self {
            fixes: self.fixes + other.fixes,
            spraying: self.spraying + other.spraying,
            edges: self.edges + other.edges,
            cells: self.cells + other.cells,
            bytes: self.bytes + other.bytes,
        }
    }
}

impl Size {
    /// Name of the night's folder: every number that makes it.
    pub(crate) fn name(&self) -> String {
        let (fewest, most) = self.sections;
        format!(
            "rigs{}-h{}-hz{}-lots{}-sections{fewest}to{most}-share{}-bytes{}{}",
            self.rigs,
            self.hours,
            self.hz,
            self.lots,
            self.spraying_share,
            self.bytes,
            if self.rough { "-rough" } else { "" }
        )
    }

    /// Writes the night into a folder of its own under `dir`.
    pub(crate) fn write(&self, dir: &std::path::Path) -> std::io::Result<(PathBuf, Counts)> {
        let night = dir.join(self.name());
        let _ = std::fs::remove_dir_all(&night);
        let orders = self.rough.then(|| self.orders());
        files::write_ground(&night, &self.fleet(), &self.sites(), orders.as_deref())?;
        let counts = (0..self.rigs)
            .into_par_iter()
            .map(|rig| self.write_log(rig, &night.join(format!("logs/rig{rig}.gpx"))))
            .try_reduce(Counts::default, |a, b| Ok(a.with(b)))?;
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
            if self.rough {
                let _ = writeln!(text, "meter = {{ delay = \"{METER_LATE_S} s\" }}");
            }
        }
        text
    }

    /// An order for each lot; some end before their lot's turn.
    fn orders(&self) -> String {
        let mut text = "order,site,service,from,by\n".to_owned();
        let minutes_of_lot = self.hours * 60.0 / self.lots as f64;
        for (rig, number) in (0..self.rigs).flat_map(|rig| (0..self.lots).map(move |n| (rig, n))) {
            let by_minute = if number % LATE_ORDERS == LATE_ORDERS - 1 {
                (minutes_of_lot * number as f64) as usize
            } else {
                23 * 60
            };
            let _ = writeln!(
                text,
                "{rig}-{number},lot {rig}-{number},post-treatment,2026-01-11 22:00,2026-01-12 {:02}:{:02}",
                by_minute / 60 % 24,
                by_minute % 60
            );
        }
        text
    }

    fn sites(&self) -> String {
        let mut features = Vec::new();
        for (rig, number) in (0..self.rigs).flat_map(|rig| (0..self.lots).map(move |n| (rig, n))) {
            let corner_m = corner_m(rig, number);
            let place = |[x_m, y_m]: [f64; 2]| degrees([x_m + corner_m[0], y_m + corner_m[1]]);
            let rings = self.lot(rig, number).rings();
            let rings: Vec<Vec<[f64; 2]>> = rings
                .into_iter()
                .map(|ring| ring.into_iter().map(place).collect())
                .collect();
            let site = format!("lot {rig}-{number}");
            let properties = json!({ "site": site, "zone": "lot", "use": "lot" });
            features.push(files::feature(&properties, &rings));
        }
        files::collection(&features)
    }

    /// A lot that takes the rig its share of the night.
    fn lot(&self, rig: usize, number: usize) -> Lot {
        let spraying_s = self.hours * 3600.0 * self.spraying_share / self.lots as f64;
        // Chamfers, islands and the ends of lanes cost a little.
        let ground_m2 = 1.03 * spraying_s * WORK_M_S * LANE_SHARE * BOOM_M;
        let width_m = (ground_m2 / 1.6).sqrt();
        let lanes = (width_m / (LANE_SHARE * BOOM_M)).round().max(1.0);
        let lot = Lot {
            length_m: ground_m2 / (lanes * LANE_SHARE * BOOM_M),
            lanes: lanes as usize,
            missed: Vec::new(),
        };
        if self.rough {
            lot.with_missed(&mut Chance::new(11, (rig * self.lots + number) as u64))
        } else {
            lot
        }
    }

    /// Fixes of a lot that its log lacks.
    fn silences(&self, fixes_of_lot: usize, chance: &mut Chance) -> Vec<std::ops::Range<usize>> {
        if !self.rough {
            return Vec::new();
        }
        let silence = |(from, to): (f64, f64)| {
            let begin = (self.spraying_share / 0.4 * chance.between(from, to)).min(0.9)
                * fixes_of_lot as f64;
            begin as usize..(begin + SILENCE_S * self.hz) as usize
        };
        SILENCES.map(silence).into()
    }

    fn write_log(&self, rig: usize, path: &std::path::Path) -> std::io::Result<Counts> {
        let mut out = BufWriter::with_capacity(1 << 20, std::fs::File::create(path)?);
        let id = format!("rig{rig}");
        let head = Head {
            creator: "bench",
            rig: Some(&id),
            ..Head::default()
        }
        .text();
        out.write_all(head.as_bytes())?;
        let mut counts = Counts {
            bytes: (head.len() + gpx::END.len()) as u64,
            ..Counts::default()
        };
        let mut drift = Drift::new(Chance::new(7, rig as u64), WRONG, 1.0 / self.hz);
        let mut chance = Chance::new(13, rig as u64);
        let sections = self.sections_of(rig);
        let fixes_of_lot = (self.hours * 3600.0 * self.hz / self.lots as f64).round() as usize;
        let mut line = String::new();
        for number in 0..self.lots {
            let corner_m = corner_m(rig, number);
            let lot = self.lot(rig, number);
            counts.cells += (lot.ground_m2() / (CELL_M * CELL_M)) as usize;
            let path = lot.path(fixes_of_lot as f64 / self.hz);
            let silences = self.silences(fixes_of_lot, &mut chance);
            for k in 0..fixes_of_lot {
                let error_m = drift.next_m();
                if silences.iter().any(|silence| silence.contains(&k)) {
                    continue;
                }
                // A state holds until the next fix, so a section opens before its ground begins.
                let state = |time_s: f64| {
                    let (at, next) = (path.at(time_s), path.at(time_s + 1.0 / self.hz));
                    let open = lot.open(&[&at, &next], sections);
                    (at, open)
                };
                let time_s = k as f64 / self.hz;
                let (at, open) = state(time_s);
                let place_m = [0, 1].map(|axis| at.place_m[axis] + corner_m[axis] + error_m[axis]);
                let flow_l_min = if self.rough {
                    let (at, open) = state(time_s - METER_LATE_S);
                    flow_l_min(&at, &open)
                } else {
                    flow_l_min(&at, &open)
                };
                line.clear();
                let fix = Fix {
                    number: number * fixes_of_lot + k,
                    place_m,
                    speed_m_s: at.speed_m_s,
                    flow_l_min,
                    open,
                };
                self.fix_text(&mut line, &fix);
                out.write_all(line.as_bytes())?;
                counts.add(&fix.open, line.len());
            }
        }
        out.write_all(gpx::END.as_bytes())?;
        out.flush()?;
        Ok(counts)
    }

    fn fix_text(&self, line: &mut String, fix: &Fix) {
        let begin = gpx::Fix {
            lon_lat_deg: degrees(fix.place_m),
            stamp: CLOCK.stamp(fix.number as f64 / self.hz),
            ele_m: Some(12.0),
            hdop: Some(0.8),
        };
        begin.begin(line);
        let _ = write!(
            line,
            "<s:flow>{:.2}</s:flow><s:sections>{}</s:sections><s:speed>{:.1}</s:speed>",
            fix.flow_l_min,
            states(&fix.open),
            fix.speed_m_s,
        );
        const NOTE: usize = "<s:note></s:note>".len();
        if line.len() + gpx::END_FIX.len() + NOTE < self.bytes {
            let more = self.bytes - line.len() - gpx::END_FIX.len() - NOTE;
            let _ = write!(line, "<s:note>{}</s:note>", "x".repeat(more));
        }
        line.push_str(gpx::END_FIX);
    }
}

/// What a fix says.
struct Fix {
    /// Which one of the night, the silent ones counted.
    number: usize,
    place_m: [f64; 2],
    speed_m_s: f64,
    flow_l_min: f64,
    open: Vec<bool>,
}

fn flow_l_min(at: &At, open: &[bool]) -> f64 {
    let width_m = BOOM_M / open.len() as f64;
    let active_m = width_m * open.iter().filter(|open| **open).count() as f64;
    60.0 * TARGET_ML_M2 / 1000.0 * active_m * at.speed_m_s
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
