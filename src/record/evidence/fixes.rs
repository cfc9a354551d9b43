//! `fixes.csv`: a row a fix, with the step that leads to the next one.
//!
//! Rows stand in the order of the legs, then of time; a fix is named by its row, from 0. What belongs to the step is
//! empty in the last row of a leg.

use super::row::Row;
use super::settings::LegSettings;
use super::{Fault, fault};
use crate::geometry::place::{Instant, LonLat};
use crate::rig::pose::{Curve, Motion};
use crate::site::leg::{Leg, LegFix, LegLink, LegStep, Perhaps, Presence};

pub(super) const FILE: &str = "fixes.csv";

/// Headings of the columns.
pub const COLUMNS: [&str; 22] = [
    "fix",
    "leg",
    "time",
    "lon",
    "lat",
    "heading_rad",
    "trailer_rad",
    "link",
    "length_m",
    "curve_start_rad",
    "curve_end_rad",
    "curve_chord_rad",
    "sub_steps",
    "motion",
    "unsure",
    "product",
    "set_rate_ml_m2",
    "gun_l",
    "in_yard",
    "here",
    "extra_m",
    "visit",
];

/// Most fixes of a record: a night of ten rigs at 10 Hz on one site (limit).
const MOST_FIXES: usize = 2_000_000;
/// Most litres at one place: more than any tank holds (limit).
pub(super) const MOST_L: f64 = 1e6;

/// What a step is called.
const LINKS: [&str; 4] = ["driven", "silence", "unlogged", "apart"];

pub(super) fn write(legs: &[Leg]) -> Vec<u8> {
    let mut rows = csv::WriterBuilder::new().from_writer(Vec::new());
    let written = "writing to memory cannot fail";
    rows.write_record(COLUMNS).expect(written);
    let mut number = 0;
    for (index, leg) in legs.iter().enumerate() {
        for fix in 0..leg.fixes.len() {
            rows.write_record(row(leg, index, fix, number))
                .expect(written);
            number += 1;
        }
    }
    rows.into_inner().expect(written)
}

fn row(leg: &Leg, index: usize, at: usize, number: usize) -> Vec<String> {
    let fix = &leg.fixes[at];
    let presence = |presence: &Presence| presence.fixes.contains(&at);
    let visit = leg.presences.iter().position(presence);
    let gun = leg.gun.binary_search_by_key(&(at as u32), |(fix, _)| *fix);
    let mut row = vec![
        number.to_string(),
        index.to_string(),
        fix.time.to_string(),
        fix.place.lon_deg.to_string(),
        fix.place.lat_deg.to_string(),
        fix.heading_rad.to_string(),
        fix.trailer_rad.to_string(),
    ];
    row.extend(leg.steps.get(at).map_or_else(Default::default, of_step));
    let known = |text: Option<String>| text.unwrap_or_default();
    row.extend([
        known(leg.product(at).map(str::to_owned)),
        known(fix.set_rate_ml_m2.known().map(|rate| rate.to_string())),
        known(gun.ok().map(|gun| leg.gun[gun].1.to_string())),
        flag(fix.in_yard),
        flag(fix.here),
        fix.extra_m.to_string(),
        known(visit.map(|visit| visit.to_string())),
    ]);
    row
}

fn flag(is: bool) -> String {
    u8::from(is).to_string()
}

fn of_step(step: &LegStep) -> [String; 8] {
    let link = match step.link {
        LegLink::Driven => LINKS[0],
        LegLink::Silence {
            unlogged: false, ..
        } => LINKS[1],
        LegLink::Silence { unlogged: true, .. } => LINKS[2],
        LegLink::Apart => LINKS[3],
    };
    let motion = match step.curve.motion {
        Motion::Parked => "parked",
        Motion::Forward => "forward",
        Motion::Reverse => "reverse",
    };
    [
        link.to_owned(),
        step.length_m.to_string(),
        step.curve.start_rad.to_string(),
        step.curve.end_rad.to_string(),
        step.curve.chord_rad.to_string(),
        step.curve.sub_steps.to_string(),
        motion.to_owned(),
        flag(step.unsure),
    ]
}

pub(super) fn read(bytes: &[u8], settings: &[LegSettings]) -> Result<Vec<Leg>, Fault> {
    let mut legs: Vec<Leg> = settings.iter().map(empty).collect();
    let mut rows = csv::ReaderBuilder::new().from_reader(bytes);
    let headings = rows
        .headers()
        .map_err(|error| fault(FILE, error.to_string()))?;
    if *headings != COLUMNS[..] {
        return Err(fault(FILE, "its columns are not those of its format"));
    }
    let (mut at, mut before) = (0, None);
    for (number, row) in rows.records().enumerate() {
        let row = row.map_err(|error| fault(FILE, error.to_string()))?;
        if number >= MOST_FIXES {
            return Err(fault(FILE, format!("more than {MOST_FIXES} fixes")));
        }
        let row = Row::of(FILE, &COLUMNS, &row, number);
        if row.number::<usize>(0)? != number {
            return Err(row.wrong("is not numbered as it stands"));
        }
        let leg: usize = row.number(1)?;
        let next = before.map_or(0, |before: usize| before + 1);
        if leg >= legs.len() || !(Some(leg) == before || leg == next) {
            return Err(row.wrong("is of a leg that is not there, or out of order"));
        }
        if Some(leg) != before {
            end(before.map(|before| &mut legs[before]), number)?;
            (at, before) = (0, Some(leg));
        }
        row.add_fix(&mut legs[leg], at)?;
        at += 1;
    }
    let count = before.map_or(0, |before| before + 1);
    if count != legs.len() {
        return Err(fault(FILE, "a leg has no fix"));
    }
    end(before.map(|before| &mut legs[before]), MOST_FIXES)?;
    Ok(legs)
}

/// The last fix of a leg leads nowhere.
fn end(leg: Option<&mut Leg>, number: usize) -> Result<(), Fault> {
    match leg {
        Some(leg) if leg.steps.len() + 1 != leg.fixes.len() => {
            let what = format!("row {number}: the leg before it does not end");
            Err(fault(FILE, what))
        }
        _ => Ok(()),
    }
}

fn empty(settings: &LegSettings) -> Leg {
    Leg {
        run: settings.rig,
        boom: settings.boom.clone(),
        decided: settings.decided,
        products: Vec::new(),
        fixes: Vec::new(),
        steps: Vec::new(),
        spans: Vec::new(),
        first_span: Vec::new(),
        gun: Vec::new(),
        presences: Vec::new(),
    }
}

impl Row<'_> {
    /// Adds the fix and the step after it.
    fn add_fix(&self, leg: &mut Leg, at: usize) -> Result<(), Fault> {
        if leg.steps.len() != at {
            return Err(self.wrong("comes after the end of its leg"));
        }
        let fix = self.fix(leg)?;
        if leg.fixes.last().is_some_and(|last| last.time >= fix.time) {
            return Err(self.wrong("is not later than the one before"));
        }
        leg.fixes.push(fix);
        if let Some(litres) = self.known(17, || self.within(17, MOST_L))? {
            if litres < 0.0 {
                return Err(self.wrong("has a gun that takes liquid back"));
            }
            leg.gun.push((at as u32, litres));
        }
        self.visit(leg, at)?;
        if !self.text(7).is_empty() {
            leg.steps.push(self.step()?);
        } else if (8..15).any(|column| !self.text(column).is_empty()) {
            return Err(self.wrong("has a step without a link"));
        }
        Ok(())
    }

    fn fix(&self, leg: &mut Leg) -> Result<LegFix, Fault> {
        let timestamp: jiff::Timestamp = self.number(2)?;
        let time = Instant(timestamp.as_microsecond());
        if time.to_string() != self.text(2) {
            return Err(self.wrong("has a time finer than a microsecond, or written otherwise"));
        }
        let product = self.known(15, || Ok(self.text(15).to_owned()))?;
        let product = product.map(|id| product_of(leg, id));
        if product.is_some_and(|index| index > usize::from(u16::MAX)) {
            return Err(self.wrong("is one product too many"));
        }
        let extra_m: f32 = self.number(20)?;
        if !(0.0..=1e5).contains(&extra_m) {
            return Err(self.wrong("has an extra_m out of range"));
        }
        let rate = self.known(16, || self.number::<f32>(16))?;
        if rate.is_some_and(|rate| !(0.0..=1e6).contains(&rate)) {
            return Err(self.wrong("has a set_rate_ml_m2 out of range"));
        }
        Ok(LegFix {
            time,
            place: LonLat {
                lon_deg: self.within(3, 180.0)?,
                lat_deg: self.within(4, 90.0)?,
            },
            heading_rad: self.within(5, GREATEST_ANGLE_RAD)?,
            trailer_rad: self.within(6, GREATEST_ANGLE_RAD)?,
            product: product.map(|index| index as u16),
            set_rate_ml_m2: rate.into(),
            in_yard: self.flag(18)?,
            here: self.flag(19)?,
            extra_m,
        })
    }

    fn visit(&self, leg: &mut Leg, at: usize) -> Result<(), Fault> {
        let Some(visit) = self.known(21, || self.number::<usize>(21))? else {
            return Ok(());
        };
        let known = leg.presences.len();
        match leg.presences.last_mut() {
            Some(last) if visit + 1 == known && last.fixes.end == at => last.fixes.end = at + 1,
            _ if visit == known => leg.presences.push(Presence { fixes: at..at + 1 }),
            _ => return Err(self.wrong("is of a visit that is out of order")),
        }
        Ok(())
    }

    fn step(&self) -> Result<LegStep, Fault> {
        let link = match LINKS.iter().position(|link| *link == self.text(7)) {
            Some(0) => LegLink::Driven,
            Some(kind @ (1 | 2)) => LegLink::Silence {
                unlogged: kind == 2,
                gained_l: Perhaps::UNKNOWN,
            },
            Some(_) => LegLink::Apart,
            None => return Err(self.wrong("has a link that is not known")),
        };
        let motion = match self.text(13) {
            "parked" => Motion::Parked,
            "forward" => Motion::Forward,
            "reverse" => Motion::Reverse,
            _ => return Err(self.wrong("has a motion that is not known")),
        };
        let sub_steps: u8 = self.number(12)?;
        if !(1..=MOST_SUB_STEPS).contains(&sub_steps) {
            return Err(self.wrong("has more sub_steps than a step has, or none"));
        }
        let length_m = self.within(8, GREATEST_STEP_M)?;
        if length_m < 0.0 {
            return Err(self.wrong("has a length_m out of range"));
        }
        Ok(LegStep {
            link,
            length_m,
            curve: Curve {
                start_rad: self.within(9, GREATEST_ANGLE_RAD)?,
                end_rad: self.within(10, GREATEST_ANGLE_RAD)?,
                chord_rad: self.within(11, GREATEST_ANGLE_RAD)?,
                sub_steps,
                motion,
            },
            unsure: self.flag(14)?,
        })
    }
}

/// Angles beyond this are none, rad: a logged heading may have turned a few times (limit).
const GREATEST_ANGLE_RAD: f64 = 1e4;
/// Longest step, m: twice what a plane holds (limit).
const GREATEST_STEP_M: f64 = 20_000.0;
/// Most sub-steps: of half a circle in pieces of 3 degrees, with room (limit).
const MOST_SUB_STEPS: u8 = 64;

fn product_of(leg: &mut Leg, id: String) -> usize {
    let known = leg.products.iter().position(|known| *known == id);
    known.unwrap_or_else(|| {
        leg.products.push(id);
        leg.products.len() - 1
    })
}
