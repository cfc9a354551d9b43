//! Which element or attribute of a rig's log gives which channel, compiled from the fleet file.

use super::decimal;
use super::states::{self, Form};
use crate::input::channels::{Channel, ReadAs};
use crate::input::fleet::{Rig, ScalarRule, SectionRule, SectionSource};
use crate::input::gpx::Leaf;
use crate::units::{self, Dimension};

/// What to do with a value.
#[derive(Debug, Clone)]
pub(super) enum Kind {
    Number {
        scale: f64,
        offset: f64,
        /// Greatest magnitude that counts as a reading.
        greatest: f64,
        /// Readings are turned into 0 to 360 degrees.
        turns: bool,
        heed_unit: bool,
    },
    Flag,
    Product,
    States(Form),
}

/// One channel's place within an element.
#[derive(Debug, Clone)]
pub(super) struct Source {
    pub(super) channel: Channel,
    pub(super) attribute: Option<String>,
    pub(super) kind: Kind,
    /// The fleet file maps the channel and names no unit.
    unit_taken: bool,
    /// A number was read in the unit taken.
    taken: bool,
    /// The last `unit` attribute met, with its scale and offset: looked up once, not at every point.
    last_unit: Option<(String, Option<(f64, f64)>)>,
}

/// The elements of one rig's logs.
pub(super) struct Mapping {
    /// By element name; one element may serve several channels.
    pub(super) elements: Vec<(String, Vec<Source>)>,
    /// How section states are written.
    pub(super) sections: SectionRule,
    /// Volume is given since the last fix.
    pub(super) since_last_fix: bool,
}

/// The mapping of a rig: the fleet file's, and the program's own elements where it has none.
pub(super) fn mapping(rig: &Rig) -> Mapping {
    let sections = rig.channels.sections.clone().unwrap_or_else(own_sections);
    let mut since_last_fix = false;
    let mut elements: Vec<(String, Vec<Source>)> = Vec::new();
    for &channel in Channel::ALL {
        let mapped = rig
            .channels
            .scalars
            .iter()
            .find(|(mapped, _)| *mapped == channel)
            .map(|(_, rule)| rule.clone());
        let unit_taken = mapped.as_ref().is_some_and(|rule| !rule.unit_given);
        let rule = mapped.unwrap_or_else(|| ScalarRule::own(channel));
        let kind = match channel.reading() {
            ReadAs::States | ReadAs::Rig => continue,
            ReadAs::Flag => Kind::Flag,
            ReadAs::Product => Kind::Product,
            ReadAs::Number {
                greatest,
                dimension,
                ..
            } => Kind::Number {
                greatest,
                turns: dimension == Dimension::Angle,
                scale: rule.scale,
                offset: rule.offset,
                heed_unit: !rule.unit_given && rule.attribute.is_none(),
            },
        };
        since_last_fix |= rule.since_last_fix;
        place(
            &mut elements,
            rule.element,
            Source {
                channel,
                attribute: rule.attribute,
                kind,
                unit_taken,
                taken: false,
                last_unit: None,
            },
        );
    }
    for (element, attribute, form) in states::places(&sections) {
        let source = Source {
            channel: Channel::Sections,
            attribute,
            kind: Kind::States(form),
            unit_taken: false,
            taken: false,
            last_unit: None,
        };
        place(&mut elements, element, source);
    }
    Mapping {
        elements,
        sections,
        since_last_fix,
    }
}

/// The program's own element for section states.
fn own_sections() -> SectionRule {
    SectionRule {
        source: SectionSource::Text {
            element: Channel::Sections.name().to_owned(),
            attribute: None,
        },
        first_left: true,
        invert: false,
    }
}

impl Source {
    /// The number in SI; the error holds the unit if it is the unit that is wrong, and nothing if the
    /// text is no number or beyond the greatest that is one.
    pub(super) fn number(
        &mut self,
        text: &str,
        leaf: &Leaf<'_>,
    ) -> std::result::Result<f64, Option<String>> {
        let Kind::Number {
            scale,
            offset,
            greatest,
            turns,
            heed_unit,
        } = self.kind
        else {
            return Err(None);
        };
        let number = decimal::number(text).ok_or(None)?;
        let (mut scale, mut offset) = (scale, offset);
        if heed_unit
            && leaf.has_attributes()
            && let Some(unit) = leaf.attribute("unit")
        {
            (scale, offset) = self.unit(&unit).ok_or_else(|| Some(unit.into_owned()))?;
        } else {
            self.taken = true;
        }
        let value = number.mul_add(scale, offset);
        // NaN fails the comparison too.
        match value.abs() <= greatest {
            true if turns => Ok(value.rem_euclid(360.0)),
            true => Ok(value),
            false => Err(None),
        }
    }

    /// Numbers were read in a unit that nobody named: neither the fleet file, which maps the channel, nor the log.
    pub(super) fn took_a_unit(&self) -> bool {
        self.unit_taken && self.taken
    }

    fn unit(&mut self, unit: &str) -> Option<(f64, f64)> {
        if let Some((known, found)) = &self.last_unit
            && known == unit
        {
            return *found;
        }
        let (dimension, _) = self.channel.measure()?;
        let found = units::linear(unit, dimension).ok();
        self.last_unit = Some((unit.to_owned(), found));
        found
    }
}

fn place(elements: &mut Vec<(String, Vec<Source>)>, element: String, source: Source) {
    match elements.iter_mut().find(|(name, _)| *name == element) {
        Some((_, sources)) => sources.push(source),
        None => elements.push((element, vec![source])),
    }
}
