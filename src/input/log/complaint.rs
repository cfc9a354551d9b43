//! The error of a log that lacks what its rig needs: shows what is in the log, and the lines of the
//! fleet file that would map it.

use crate::error::Error;
use crate::input::fleet::Rig;
use crate::input::gpx::{Gpx, Leaf, Step};
use crate::input::text::clean;

/// Most elements and attributes listed.
const MOST_SHOWN: usize = 20;
/// Longest example shown, in characters.
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
            "Found in <extensions> (element, example):\n{}",
            found.join("\n")
        )
    };
    let lines = match lack {
        Lack::States => format!(
            "sections = {{ element = \"...\", bits = {sections} }}   # or 1 and 0 as text, a list, one element each"
        ),
        Lack::Everything => format!(
            "flow = {{ element = \"...\", unit = \"gal/min\" }}\nsections = {{ element = \"...\", bits = {sections} }}"
        ),
    };
    Error::new(message).at(file).advice(format!(
        "{list}\nMap them below this rig in the fleet file, with the names found in the log:\n[rig.channels]\n{lines}"
    ))
}

/// Elements and attributes in the extensions, each with the first value met.
fn leaves(text: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    let mut shown: Vec<String> = Vec::new();
    let mut gpx = Gpx::new(text);
    loop {
        let leaves: &[Leaf<'_>] = match gpx.step() {
            Step::End | Step::Damage { .. } => return shown,
            Step::Point => &gpx.point.leaves,
            Step::TrackExtensions => &gpx.track_leaves,
            Step::Track | Step::Segment => continue,
        };
        for leaf in leaves {
            let element = std::iter::once((clean(leaf.name()), leaf.text.clone()));
            let attributes = leaf
                .attributes()
                .map(|(key, value)| (clean(&format!("{} {key}=", leaf.name())), value));
            for (name, value) in element.chain(attributes) {
                if value.trim().is_empty() || names.contains(&name) {
                    continue;
                }
                let example: String = clean(&value).chars().take(LONGEST_EXAMPLE).collect();
                shown.push(format!("  {name}  {example}"));
                names.push(name);
                if shown.len() >= MOST_SHOWN {
                    return shown;
                }
            }
        }
    }
}
