//! `[rig.channels]`: which element or attribute of a log carries which channel.

use super::section::Section;
use super::{ChannelMap, ScalarRule, SectionRule, SectionSource};
use crate::error::Result;
use crate::input::channels::Channel;
use crate::units;

/// Reads the mapping of a rig with `sections` sections.
pub(super) fn read(table: &Section<'_, '_>, sections: usize) -> Result<ChannelMap> {
    let names: Vec<&str> = Channel::ALL.iter().map(|channel| channel.name()).collect();
    table.only(&names)?;
    let mut map = ChannelMap::default();
    for &channel in Channel::ALL {
        let name = format!("channel {}", channel.name());
        let Some(rule) = table.table(channel.name(), &name)? else {
            continue;
        };
        if channel == Channel::Sections {
            map.sections = Some(section_rule(&rule, sections)?);
        } else {
            map.scalars.push((channel, scalar_rule(&rule, channel)?));
        }
    }
    Ok(map)
}

fn scalar_rule(rule: &Section<'_, '_>, channel: Channel) -> Result<ScalarRule> {
    match (channel, channel.measure()) {
        (Channel::Volume, _) => rule.only(&["element", "attribute", "unit", "since_last_fix"])?,
        (_, Some(_)) => rule.only(&["element", "attribute", "unit"])?,
        (_, None) => rule.only(&["element", "attribute"])?,
    }
    let unit = rule.text("unit")?;
    let (scale, offset) = match (&unit, channel.measure()) {
        (Some(unit), Some((dimension, _))) => units::linear(unit, dimension)
            .map_err(|why| rule.error_at("unit", &format!("`unit`: {why}"), ""))?,
        _ => channel.default_scale(),
    };
    Ok(ScalarRule {
        element: element(rule)?,
        attribute: rule.text("attribute")?.map(|name| local(&name)),
        scale,
        offset,
        unit_given: unit.is_some(),
        since_last_fix: rule.flag("since_last_fix")?.unwrap_or(false),
    })
}

/// Ways to write the section states, for messages.
const WAYS: &str = "Write one of\n\
    sections = { element = \"x_open\" }                                  # 1 or 0 for each section\n\
    sections = { elements = [\"x_s1\", \"x_s2\"] }                         # one element each\n\
    sections = { element = \"x_state\", attributes = [\"s1\", \"s2\"] }      # one attribute each\n\
    sections = { element = \"x_open\", list = \",\" }                      # 1,0,1\n\
    sections = { element = \"x_open\", bits = 2 }                        # bit field";

fn section_rule(rule: &Section<'_, '_>, sections: usize) -> Result<SectionRule> {
    rule.only(&[
        "element",
        "elements",
        "attribute",
        "attributes",
        "list",
        "bits",
        "first",
        "bits_per_section",
        "invert",
    ])?;
    let ways = ["elements", "attributes", "list", "bits"];
    let chosen: Vec<&str> = ways.into_iter().filter(|key| rule.has(key)).collect();
    if let [first, second, ..] = chosen.as_slice() {
        let what = format!("`{first}` and `{second}` contradict each other");
        return Err(rule.error_at(second, &what, WAYS));
    }
    let way = chosen.first().copied();
    refuse_stray(rule, way)?;
    let source = match way {
        Some("elements") => SectionSource::Elements(names(rule, "elements", sections)?),
        Some("attributes") => SectionSource::Attributes {
            element: element(rule)?,
            attributes: names(rule, "attributes", sections)?,
        },
        Some("list") => list(rule)?,
        Some("bits") => bits(rule, sections)?,
        _ => SectionSource::Text {
            element: element(rule)?,
            attribute: attribute(rule)?,
        },
    };
    let first_left = match rule.text("first")?.as_deref() {
        None | Some("left") => true,
        Some("right") => false,
        Some(_) => return Err(rule.error_at("first", "`first` must be \"left\" or \"right\"", "")),
    };
    Ok(SectionRule {
        source,
        first_left,
        invert: rule.flag("invert")?.unwrap_or(false),
    })
}

/// Keys that mean nothing in the chosen way to write the states.
fn refuse_stray(rule: &Section<'_, '_>, way: Option<&str>) -> Result<()> {
    let stray: &[&str] = match way {
        Some("elements") => &["element", "attribute", "bits_per_section"],
        Some("attributes") => &["attribute", "bits_per_section"],
        Some("bits") => &[],
        _ => &["bits_per_section"],
    };
    match stray.iter().find(|key| rule.has(key)) {
        Some(key) => Err(rule.error_at(key, &format!("`{key}` has no meaning here"), WAYS)),
        None => Ok(()),
    }
}

fn list(rule: &Section<'_, '_>) -> Result<SectionSource> {
    let separator = rule.text("list")?.unwrap_or_default();
    let mut letters = separator.chars();
    // A blank is cleaned away to nothing: an empty text means states separated by blanks.
    let separator = match (letters.next(), letters.next()) {
        (Some(letter), None) if !letter.is_alphanumeric() => letter,
        (None, _) => ' ',
        _ => {
            return Err(rule.error_at(
                "list",
                "`list` must be the one character between the states",
                WAYS,
            ));
        }
    };
    Ok(SectionSource::List {
        element: element(rule)?,
        attribute: attribute(rule)?,
        separator,
    })
}

fn bits(rule: &Section<'_, '_>, sections: usize) -> Result<SectionSource> {
    let bits_per_section = rule.whole("bits_per_section", 1..=2)?.unwrap_or(1);
    let bits = rule.whole("bits", 1..=64 / bits_per_section)?.unwrap_or(1);
    too_many(rule, "bits", bits as usize, sections)?;
    Ok(SectionSource::Bits {
        element: element(rule)?,
        attribute: attribute(rule)?,
        bits,
        bits_per_section,
    })
}

fn names(rule: &Section<'_, '_>, key: &str, sections: usize) -> Result<Vec<String>> {
    let names: Vec<String> = rule
        .texts(key)?
        .unwrap_or_default()
        .iter()
        .map(|name| local(name))
        .collect();
    if names.is_empty() || names.iter().any(String::is_empty) {
        return Err(rule.error_at(
            key,
            &format!("`{key}` needs one name for each section"),
            WAYS,
        ));
    }
    too_many(rule, key, names.len(), sections)?;
    Ok(names)
}

fn too_many(rule: &Section<'_, '_>, key: &str, states: usize, sections: usize) -> Result<()> {
    if states <= sections {
        return Ok(());
    }
    let what =
        format!("`{key}` gives {states} section states, but the rig has {sections} sections");
    Err(rule.error_at(
        key,
        &what,
        "Give the rig as many `sections` as the log has states, or the mapping fewer states.",
    ))
}

fn element(rule: &Section<'_, '_>) -> Result<String> {
    let name = local(&rule.text("element")?.unwrap_or_default());
    if name.is_empty() {
        return Err(rule.error_at(
            "element",
            &format!("{} names no `element`", rule.name),
            "Write { element = \"...\" } with the element's name in the log.",
        ));
    }
    Ok(name)
}

fn attribute(rule: &Section<'_, '_>) -> Result<Option<String>> {
    Ok(rule.text("attribute")?.map(|name| local(&name)))
}

/// The name without its prefix: prefixes differ from file to file.
fn local(name: &str) -> String {
    name.rsplit_once(':')
        .map_or(name, |(_, local)| local)
        .to_owned()
}
