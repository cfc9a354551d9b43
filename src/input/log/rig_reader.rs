//! The channels of one rig's log: which leaf gives which channel, and what holds from fix to fix.

use super::mapping::{Kind, Mapping, Source, mapping};
use super::states::{self, Boom, Form, Refusal, States};
use super::troubles::{Cause, Troubles};
use super::{Fix, Log};
use crate::error::{Error, Result};
use crate::geometry::place::{Instant, LonLat};
use crate::input::channels::{Channel, Value};
use crate::input::fleet::Rig;
use crate::input::gpx::Leaf;
use crate::input::text::clean;
use std::borrow::Cow;

/// Most different products in one log (limit).
const MOST_PRODUCTS: usize = 1000;

/// Which channels a rig's log has shown so far.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen {
    /// A readable flow, volume or rate.
    pub(super) liquid: bool,
    /// Readable section states.
    pub(super) states: bool,
    /// States of every section at once.
    pub(super) whole_boom: bool,
}

/// Reads the points of one rig.
pub(super) struct RigReader<'a> {
    /// What has been read.
    pub(super) log: Log,
    /// Which channels were there.
    pub(super) seen: Seen,
    elements: Vec<(String, Vec<Source>)>,
    /// The first section states that cannot be read, and their line.
    pub(super) unreadable: Option<(String, u32)>,
    boom: Boom,
    /// For each position among a point's leaves the name that stood there last and its element:
    /// loggers write the same leaves in the same order, point after point.
    remembered: Vec<(&'a str, Option<usize>)>,
    segment: Option<usize>,
    /// The segment has no fix yet.
    fresh: bool,
    held: Fix,
    states: States,
    /// Channels that the constants of the track gave and no point has changed since.
    constant: u16,
    /// Volume of points left out, for logs that give the volume since the last fix, L.
    carried_l: f64,
}

/// Where in the file a point stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct At {
    /// Number of the segment in the file.
    pub(super) segment: usize,
    /// Line.
    pub(super) line: u32,
}

impl<'a> RigReader<'a> {
    /// A reader for the rig with this index.
    pub(super) fn new(file: &str, index: usize, rig: &Rig) -> Self {
        let Mapping {
            elements,
            sections,
            since_last_fix,
        } = mapping(rig);
        Self {
            log: Log {
                file: file.to_owned(),
                rig: index,
                fixes: Vec::new(),
                segment_starts: Vec::new(),
                volume_since_last_fix: since_last_fix,
                products: Vec::new(),
                breaks_off: false,
                planned: false,
            },
            seen: Seen::default(),
            unreadable: None,
            elements,
            boom: Boom {
                sections: rig.section_widths_m.len(),
                first_left: sections.first_left,
                invert: sections.invert,
            },
            remembered: Vec::new(),
            segment: None,
            fresh: true,
            held: nothing(),
            states: States::default(),
            constant: 0,
            carried_l: 0.0,
        }
    }

    /// Takes up a point. `fix` has its time, place and hdop; it is `None` when the point cannot be
    /// used, but even then what it says of the channels holds until a later fix says otherwise.
    pub(super) fn point(
        &mut self,
        at: At,
        fix: Option<Fix>,
        leaves: &[Leaf<'a>],
        constants: &[Leaf<'a>],
        troubles: &mut Troubles,
    ) -> Result<()> {
        if self.segment != Some(at.segment) {
            self.begin(at, constants, troubles)?;
        }
        self.take(at.line, leaves, troubles)?;
        // A constant of the track holds as if every point said it, until a point says otherwise.
        self.constant &= !self.held.own;
        self.held.own |= self.constant;
        if self.log.volume_since_last_fix && !self.held.volume_l.is_nan() {
            self.carried_l += self.held.volume_l;
        }
        let Some(fix) = fix else { return Ok(()) };
        if self.fresh {
            self.log.segment_starts.push(self.log.fixes.len());
        } else if self
            .log
            .fixes
            .last()
            .is_some_and(|last| fix.time < last.time)
        {
            troubles.add(Cause::Backwards, None, at.line, "");
        }
        if self.log.volume_since_last_fix && self.carried_l > 0.0 {
            self.held.volume_l = self.carried_l;
        }
        (self.fresh, self.carried_l) = (false, 0.0);
        let Fix {
            time, place, hdop, ..
        } = fix;
        self.log.fixes.try_reserve(1).map_err(|_| {
            Error::new(format!(
                "there is not enough memory for more than {} fixes",
                self.log.fixes.len()
            ))
            .line(u64::from(at.line))
            .advice("Split the log by track.")
        })?;
        self.log.fixes.push(Fix {
            time,
            place,
            hdop,
            line: at.line,
            ..self.held
        });
        Ok(())
    }

    /// Starts a new segment: nothing holds across it but the track's constants, and the litres of points
    /// left out, which the next fix brings: they went through the meter.
    fn begin(&mut self, at: At, constants: &[Leaf<'a>], troubles: &mut Troubles) -> Result<()> {
        self.segment = Some(at.segment);
        self.fresh = true;
        self.held = nothing();
        self.states = States::default();
        self.remembered.clear();
        self.take(at.line, constants, troubles)?;
        self.constant = self.held.own;
        self.remembered.clear();
        Ok(())
    }

    /// Applies a point's leaves to what holds.
    fn take(&mut self, line: u32, leaves: &[Leaf<'a>], troubles: &mut Troubles) -> Result<()> {
        self.held.volume_l = f64::NAN;
        self.held.own = 0;
        let mut states_given = false;
        for (position, leaf) in leaves.iter().enumerate() {
            let Some(element) = self.element(position, leaf.name()) else {
                continue;
            };
            for index in 0..self.elements[element].1.len() {
                states_given |= self.value(element, index, line, leaf, troubles)?;
            }
        }
        if states_given {
            self.few_states(line, troubles);
        }
        Ok(())
    }

    /// Channels that were read in a unit that nobody named.
    pub(super) fn units_taken(&self) -> Vec<Channel> {
        let sources = self.elements.iter().flat_map(|(_, sources)| sources);
        sources
            .filter(|source| source.took_a_unit())
            .map(|source| source.channel)
            .collect()
    }

    /// Litres of points after the last fix: credited to it, so that none is lost.
    pub(super) fn end(&mut self) {
        // All logs of a night stand in memory at once.
        self.log.fixes.shrink_to_fit();
        if self.carried_l > 0.0
            && let Some(last) = self.log.fixes.last_mut()
        {
            let told_l = if last.volume_l.is_nan() {
                0.0
            } else {
                last.volume_l
            };
            last.volume_l = told_l + self.carried_l;
            self.carried_l = 0.0;
        }
    }

    fn few_states(&mut self, line: u32, troubles: &mut Troubles) {
        self.seen.states = true;
        let known = self.states.known.count_ones() as usize;
        self.seen.whole_boom |= known == self.boom.sections;
        if known < self.boom.sections {
            let sample = format!("{known} section states for {} sections", self.boom.sections);
            troubles.add(Cause::FewStates, Some(self.log.rig), line, &sample);
        }
        let open = Value::States(Some(self.states.open));
        self.held.set(Channel::Sections, open);
    }

    fn element(&mut self, position: usize, name: &'a str) -> Option<usize> {
        if let Some((known, element)) = self.remembered.get(position)
            && *known == name
        {
            return *element;
        }
        let element = self.elements.iter().position(|(known, _)| known == name);
        if let Some(slot) = self.remembered.get_mut(position) {
            *slot = (name, element);
        } else if position == self.remembered.len() {
            self.remembered.push((name, element));
        }
        element
    }

    /// Reads a leaf as one channel; `true` if it gave section states.
    fn value(
        &mut self,
        element: usize,
        index: usize,
        line: u32,
        leaf: &Leaf<'a>,
        troubles: &mut Troubles,
    ) -> Result<bool> {
        let source = &mut self.elements[element].1[index];
        let text: Cow<'_, str> = match &source.attribute {
            None => Cow::Borrowed(&*leaf.text),
            Some(name) => match leaf.attribute(name) {
                Some(text) => text,
                None => return Ok(false),
            },
        };
        let text = text.trim();
        if text.is_empty() {
            return Ok(false);
        }
        let (rig, channel) = (Some(self.log.rig), source.channel);
        match source.kind {
            Kind::Number { .. } => {
                let number = source.number(text, leaf);
                if let Err(unit) = &number {
                    match unit {
                        Some(unit) => troubles.add(Cause::BadUnit(channel), rig, line, unit),
                        None => troubles.add(Cause::BadText(channel), rig, line, text),
                    }
                }
                self.seen.liquid |= number.is_ok() && channel.tells_liquid();
                let number = number.unwrap_or(f64::NAN);
                self.held.set(channel, Value::Number(number));
            }
            Kind::Flag => {
                let flag = states::word(text);
                if flag.is_none() {
                    troubles.add(Cause::BadText(channel), rig, line, text);
                }
                self.held.set(channel, Value::Flag(flag));
            }
            Kind::Product => self.product(text, line, troubles),
            Kind::States(form) => match self.boom.take(text, form, &mut self.states) {
                Ok(()) => return Ok(true),
                Err(Refusal::TooMany(count)) => {
                    return Err(too_many(count, self.boom.sections, form, text, line));
                }
                Err(Refusal::Unreadable) => {
                    troubles.add(Cause::BadText(channel), rig, line, text);
                    self.unreadable.get_or_insert_with(|| (clean(text), line));
                    self.states = States::default();
                    self.held.set(channel, Value::States(None));
                }
            },
        }
        Ok(false)
    }

    fn product(&mut self, text: &str, line: u32, troubles: &mut Troubles) {
        let id = clean(text);
        let known = self.log.products.iter().position(|product| *product == id);
        let index = match known {
            Some(index) => u16::try_from(index).ok(),
            None if self.log.products.len() < MOST_PRODUCTS => {
                self.log.products.push(id);
                u16::try_from(self.log.products.len() - 1).ok()
            }
            None => {
                troubles.add(
                    Cause::BadText(Channel::Product),
                    Some(self.log.rig),
                    line,
                    text,
                );
                None
            }
        };
        self.held.set(Channel::Product, Value::Product(index));
    }
}

fn nothing() -> Fix {
    Fix::bare(
        Instant(0),
        LonLat {
            lon_deg: 0.0,
            lat_deg: 0.0,
        },
        0,
    )
}

fn too_many(count: usize, sections: usize, form: Form, text: &str, line: u32) -> Error {
    if let Form::Bits { count: field, .. } = form
        && count <= sections
    {
        return Error::new(format!(
            "`bits = {field}` of `sections` holds {field} sections, but the value {} needs {count}",
            clean(text)
        ))
        .line(u64::from(line))
        .advice(format!(
            "The rig has {sections} sections: write bits = {sections} in its [rig.channels]."
        ));
    }
    Error::new(format!(
        "found {count} section states (\"{}\"), but the rig has {sections} sections",
        clean(text)
    ))
    .line(u64::from(line))
    .advice(
        "Correct `sections` of the rig in the fleet file, or the mapping in its [rig.channels].",
    )
}
