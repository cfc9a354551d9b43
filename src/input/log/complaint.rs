//! The error of a log that lacks what its rig needs: shows what is in the log, and the lines of the
//! fleet file that would map it.

use crate::error::Error;
use crate::input::fleet::Rig;
use crate::input::gpx::{Gpx, Leaf, Step};
use crate::input::text::clean;

/// Most elements and attributes listed (limit).
const MOST_SHOWN: usize = 20;
/// Longest example shown, in characters (limit).
const LONGEST_EXAMPLE: usize = 40;

/// What a log lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lack {
    /// No section states for a boom of several sections.
    States,
    /// No flow, volume, rate or section states.
    Everything,
}

/// The error. Reads the file once more, which only a log that fails pays for.
pub(super) fn error(file: &str, text: &str, rig: &Rig, lack: Lack) -> Error {
    let sections = rig.section_widths_m.len();
    let message = match lack {
        Lack::States => format!(
            "rig \"{}\" has {sections} sections, but no point of the log has section states",
            rig.id
        ),
        Lack::Everything => {
            format!(
                "no point of the log has flow, volume, rate or section states for rig \"{}\"",
                rig.id
            )
        }
    };
    let found = leaves(text);
    let list = if found.is_empty() {
        "The log has nothing in <extensions>: check what the logger was set to export.".to_owned()
    } else {
        format!(
            "Found in <extensions> (name, example):\n{}",
            found.join("\n")
        )
    };
    let attribute = if found.iter().any(|line| line.contains(ATTRIBUTE)) {
        ", attribute = \"...\""
    } else {
        ""
    };
    let states = format!(
        "sections = {{ element = \"...\"{attribute}, bits = {sections} }}   # or 1 and 0 as text, a list, one element each"
    );
    let lines = match lack {
        Lack::States => states,
        Lack::Everything => {
            format!("flow = {{ element = \"...\"{attribute}, unit = \"gal/min\" }}\n{states}")
        }
    };
    Error::new(message).at(file).advice(format!(
        "{list}\nMap them below this rig in the fleet file, with the names found in the log:\n[rig.channels]\n{lines}"
    ))
}

/// The error of section states of which none fits the rig.
pub(super) fn no_states(file: &str, rig: &Rig, text: &str, line: u32) -> Error {
    let sections = rig.section_widths_m.len();
    let what = format!(
        "no reading of `sections` gives the states of the {sections} sections of rig \"{}\"; found \"{text}\"",
        rig.id
    );
    let error = Error::new(what).at(file).line(u64::from(line));
    if text.parse::<u64>().is_ok() || text.starts_with("0x") {
        error.advice(format!(
            "A whole number with a bit for each section? Add bits = {sections} to `sections` in the rig's [rig.channels]."
        ))
    } else {
        error.advice("Correct `sections` in the rig's [rig.channels]; docs/formats.md lists the ways to write states.")
    }
}

/// How an attribute is named in the list and in the fleet file.
const ATTRIBUTE: &str = ", attribute = ";

/// One name in the extensions.
struct Found {
    name: String,
    example: String,
    /// The example is more than a zero.
    telling: bool,
}

/// Elements and attributes in the extensions, each with an example that is not a zero where there is one: the first
/// value of a night is mostly that of a rig at rest.
fn leaves(text: &str) -> Vec<String> {
    let mut found: Vec<Found> = Vec::new();
    let mut gpx = Gpx::new(text);
    loop {
        let leaves: &[Leaf<'_>] = match gpx.step() {
            Step::End | Step::Damage { .. } => break,
            Step::Point => &gpx.point.leaves,
            Step::TrackExtensions => &gpx.track_leaves,
            Step::Track | Step::Segment => continue,
        };
        for leaf in leaves {
            let element = std::iter::once((clean(leaf.name()), leaf.text.clone()));
            let attributes = leaf.attributes().map(|(key, value)| {
                let name = format!("{}{ATTRIBUTE}\"{key}\"", leaf.name());
                (clean(&name), value)
            });
            for (name, value) in element.chain(attributes) {
                note(&mut found, name, &value);
            }
        }
        if found.len() >= MOST_SHOWN && found.iter().all(|found| found.telling) {
            break;
        }
    }
    let line = |found: Found| format!("  {}  {}", found.name, found.example);
    found.into_iter().map(line).collect()
}

fn note(found: &mut Vec<Found>, name: String, value: &str) {
    if value.trim().is_empty() {
        return;
    }
    let telling = value.chars().any(|c| !matches!(c, '0' | '.' | ',' | ' '));
    let example = || clean(value).chars().take(LONGEST_EXAMPLE).collect();
    let few = found.len() < MOST_SHOWN;
    match found.iter_mut().find(|known| known.name == name) {
        Some(known) if telling && !known.telling => {
            known.example = example();
            known.telling = true;
        }
        Some(_) => {}
        None if few => found.push(Found {
            name,
            example: example(),
            telling,
        }),
        None => {}
    }
}
