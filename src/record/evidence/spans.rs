//! `spans.csv`: a row for each piece of a step over which sections and liquid stay the same.
//!
//! Rows stand in the order of the fixes, then of time. `sections` has a character a section, left to right seen
//! forward: `1` open, `0` closed, `-` masked: its ground in that step is not the site's, and nothing is said of it.

use super::fixes::MOST_L;
use super::row::Row;
use super::{Fault, fault};
use crate::rig::boom::Sections;
use crate::site::leg::{Leg, LegLink, LegSpan, NO_PASS};

const FILE: &str = "spans.csv";

/// Headings of the columns.
pub const COLUMNS: [&str; 8] = [
    "fix",
    "from",
    "to",
    "sections",
    "wet",
    "litres",
    "pass",
    "switched_within_s",
];

/// Most spans of one step: each section opens and closes ten times (limit).
const MOST_OF_A_STEP: usize = 1280;
/// Longest time about which a switch is not known, s (limit).
const LONGEST_SWITCH_S: f32 = 1e6;

pub(super) fn write(legs: &[Leg]) -> Vec<u8> {
    let mut rows = csv::WriterBuilder::new().from_writer(Vec::new());
    let written = "writing to memory cannot fail";
    rows.write_record(COLUMNS).expect(written);
    let mut first_fix = 0;
    for leg in legs {
        for span in &leg.spans {
            let row = row(leg, span, first_fix);
            rows.write_record(row).expect(written);
        }
        first_fix += leg.fixes.len();
    }
    rows.into_inner().expect(written)
}

fn row(leg: &Leg, span: &LegSpan, first_fix: usize) -> [String; 8] {
    let state = |section: usize| match (span.open >> section & 1, span.masked >> section & 1) {
        (_, 1) => '-',
        (1, _) => '1',
        _ => '0',
    };
    let within = span.switched_within_s.known().map(|s| s.to_string());
    [
        (first_fix + span.step as usize).to_string(),
        span.from_u.to_string(),
        span.to_u.to_string(),
        (0..leg.boom.sections()).map(state).collect(),
        u8::from(span.wet).to_string(),
        span.litres.to_string(),
        if span.pass == NO_PASS {
            String::new()
        } else {
            span.pass.to_string()
        },
        within.unwrap_or_default(),
    ]
}

/// Adds the spans to the legs.
pub(super) fn read(bytes: &[u8], legs: &mut [Leg]) -> Result<(), Fault> {
    let mut rows = csv::ReaderBuilder::new().from_reader(bytes);
    let headings = rows
        .headers()
        .map_err(|error| fault(FILE, error.to_string()))?;
    if *headings != COLUMNS[..] {
        return Err(fault(FILE, "its columns are not those of its format"));
    }
    // Of each leg: its first fix in the record, and one past its last step.
    let mut first_fix = 0;
    let mut steps = Vec::new();
    for leg in &*legs {
        steps.push(first_fix..first_fix + leg.steps.len());
        first_fix += leg.fixes.len();
    }
    let mut leg = 0;
    for (number, row) in rows.records().enumerate() {
        let row = row.map_err(|error| fault(FILE, error.to_string()))?;
        let row = Row::of(FILE, &COLUMNS, &row, number);
        let fix: usize = row.number(0)?;
        while steps.get(leg).is_some_and(|steps| fix >= steps.end) {
            leg += 1;
        }
        let (Some(own), Some(steps)) = (legs.get_mut(leg), steps.get(leg)) else {
            return Err(row.wrong("is of a fix without a step"));
        };
        if fix < steps.start {
            return Err(row.wrong("is of a fix without a step, or out of order"));
        }
        row.add_span(own, (fix - steps.start) as u32)?;
    }
    legs.iter_mut().try_for_each(finish)
}

/// Finds where the spans of each step begin; every driven step has spans from its start to its end.
fn finish(leg: &mut Leg) -> Result<(), Fault> {
    let (mut at, mut first_span) = (0, vec![0]);
    for (step, of) in leg.steps.iter().enumerate() {
        let start = at;
        while leg
            .spans
            .get(at)
            .is_some_and(|span| span.step as usize == step)
        {
            at += 1;
        }
        let own = &leg.spans[start..at];
        let holes = own
            .windows(2)
            .any(|pair| pair[0].to_u.to_bits() != pair[1].from_u.to_bits());
        let ends = own.first().zip(own.last());
        let whole = ends.is_some_and(|(first, last)| {
            first.from_u.to_bits() == 0 && last.to_u.to_bits() == 1.0_f32.to_bits()
        });
        let driven = of.link == LegLink::Driven;
        if driven == own.is_empty() || (driven && (holes || !whole)) || own.len() > MOST_OF_A_STEP {
            let what = format!("step {step} of a leg has spans with holes, or none, or too many");
            return Err(fault(FILE, what));
        }
        first_span.push(at as u32);
    }
    if at != leg.spans.len() {
        return Err(fault(FILE, "a span is of no step, or out of order"));
    }
    leg.first_span = first_span;
    check_passes(leg)
}

/// Passes are numbered in order of time, each one for itself.
fn check_passes(leg: &Leg) -> Result<(), Fault> {
    let mut next = 0;
    for span in leg.spans.iter().filter(|span| span.pass != NO_PASS) {
        if span.pass > next || span.pass + 1 < next {
            return Err(fault(FILE, "passes are not numbered as they follow"));
        }
        next = next.max(span.pass + 1);
    }
    Ok(())
}

impl Row<'_> {
    fn add_span(&self, leg: &mut Leg, step: u32) -> Result<(), Fault> {
        let (open, masked) = self.sections(leg.boom.sections())?;
        let (from_u, to_u): (f32, f32) = (self.number(1)?, self.number(2)?);
        if !(0.0 <= from_u && from_u < to_u && to_u <= 1.0) {
            return Err(self.wrong("ends before it begins, or outside its step"));
        }
        let litres: f64 = self.number(5)?;
        if !(0.0..=MOST_L).contains(&litres) {
            return Err(self.wrong("has litres out of range"));
        }
        let wet = match self.text(4) {
            "0" => false,
            "1" => true,
            _ => return Err(self.wrong("has a wet that is neither 0 nor 1")),
        };
        let pass = match self.text(6) {
            "" => NO_PASS,
            _ => self.number(6)?,
        };
        if wet && open == 0 || (pass != NO_PASS) != wet {
            return Err(
                self.wrong("is wet without open sections or a pass, or has a pass and is dry")
            );
        }
        let within = match self.text(7) {
            "" => None,
            _ => Some(self.number::<f32>(7)?),
        };
        if within.is_some_and(|s| !(0.0..=LONGEST_SWITCH_S).contains(&s)) {
            return Err(self.wrong("has a switched_within_s out of range"));
        }
        leg.spans.push(LegSpan {
            step,
            from_u,
            to_u,
            open,
            masked,
            wet,
            litres,
            pass,
            switched_within_s: within.into(),
        });
        Ok(())
    }

    fn sections(&self, count: usize) -> Result<(Sections, Sections), Fault> {
        let text = self.text(3);
        if text.len() != count {
            return Err(self.wrong("has not as many sections as the boom"));
        }
        let (mut open, mut masked) = (0, 0);
        for (section, state) in text.bytes().enumerate() {
            match state {
                b'1' => open |= 1 << section,
                b'-' => masked |= 1 << section,
                b'0' => {}
                _ => return Err(self.wrong("has a section that is neither 1, 0 nor -")),
            }
        }
        Ok((open, masked))
    }
}
