//! Whose log is it? The `rig` element, else the rig whose file-name patterns match, else the only rig.

use crate::error::{Error, Result};
use crate::input::channels::Channel;
use crate::input::fleet::Fleet;
use crate::input::gpx::Leaf;
use crate::input::text::clean;

/// Chooses the rig for tracks and points of one file.
pub(super) struct RigChoice<'f, 'a> {
    fleet: &'f Fleet,
    file: &'f str,
    /// Elements and attributes that name a rig.
    sources: Vec<(&'f str, Option<&'f str>)>,
    /// Found once; most points name no rig.
    by_file: Option<usize>,
    /// The id met last: files name the same rig again and again.
    last: Option<(String, usize)>,
    /// The leaf names of the last point that held no rig: the next point mostly looks the same.
    without_rig: Vec<&'a str>,
}

impl<'f, 'a> RigChoice<'f, 'a> {
    /// For the file with this name.
    pub(super) fn new(file: &'f str, fleet: &'f Fleet) -> Self {
        let mut sources = Vec::new();
        for rig in &fleet.rigs {
            let mapped = rig
                .channels
                .scalars
                .iter()
                .find(|(channel, _)| *channel == Channel::Rig);
            let source = match mapped {
                Some((_, rule)) => (rule.element.as_str(), rule.attribute.as_deref()),
                None => (Channel::Rig.name(), None),
            };
            if !sources.contains(&source) {
                sources.push(source);
            }
        }
        Self {
            fleet,
            file,
            sources,
            by_file: None,
            last: None,
            without_rig: Vec::new(),
        }
    }

    /// The rig that the leaves name, if any.
    ///
    /// # Errors
    /// A rig that the fleet file does not have.
    pub(super) fn named(&mut self, leaves: &[Leaf<'a>], line: u32) -> Result<Option<usize>> {
        if self.looks_as_before(leaves) {
            return Ok(None);
        }
        for leaf in leaves {
            for (element, attribute) in &self.sources {
                if leaf.name() != *element {
                    continue;
                }
                let value = match attribute {
                    Some(attribute) => leaf.attribute(attribute).unwrap_or_default(),
                    None => leaf.text.as_ref().into(),
                };
                if !value.trim().is_empty() {
                    return self.by_id(&value, line).map(Some);
                }
            }
        }
        self.without_rig.clear();
        self.without_rig.extend(leaves.iter().map(Leaf::name));
        // An element that may name a rig is looked into every time.
        if leaves.iter().any(|leaf| {
            self.sources
                .iter()
                .any(|(element, _)| leaf.name() == *element)
        }) {
            self.without_rig.clear();
        }
        Ok(None)
    }

    fn looks_as_before(&self, leaves: &[Leaf<'a>]) -> bool {
        leaves.len() == self.without_rig.len()
            && leaves
                .iter()
                .map(Leaf::name)
                .eq(self.without_rig.iter().copied())
    }

    fn by_id(&mut self, id: &str, line: u32) -> Result<usize> {
        let id = clean(id);
        if let Some((last, rig)) = &self.last
            && *last == id
        {
            return Ok(*rig);
        }
        let Some(rig) = self.fleet.rigs.iter().position(|rig| rig.id == id) else {
            let error = Error::new(format!(
                "the log names the rig \"{id}\", which the fleet file does not have"
            ));
            return Err(error.at(self.file).line(u64::from(line)).advice(format!(
                "{} Correct the id, or add the rig:\n[[rig]]\nid = \"{id}\"\nsections = [\"30 in\", \"30 in\"]",
                self.known()
            )));
        };
        self.last = Some((id, rig));
        Ok(rig)
    }

    /// The rig of a file that names none.
    ///
    /// # Errors
    /// No rig's patterns match and there are several rigs, or several rigs' patterns match.
    pub(super) fn by_file(&mut self) -> Result<usize> {
        if let Some(rig) = self.by_file {
            return Ok(rig);
        }
        let matching: Vec<usize> = (0..self.fleet.rigs.len())
            .filter(|rig| self.matches(*rig))
            .collect();
        let rig = match (matching.as_slice(), self.fleet.rigs.as_slice()) {
            ([rig], _) => *rig,
            ([], [_]) => 0,
            ([], _) => {
                let error = Error::new(
                    "the log does not say which rig made it, and no rig's `logs` patterns match its name",
                );
                return Err(error.at(self.file).advice(format!(
                    "{} Add the file's name to its rig in the fleet file: logs = [\"{}\"]",
                    self.known(),
                    clean(base_name(self.file))
                )));
            }
            (several, _) => {
                let ids: Vec<&str> = several
                    .iter()
                    .map(|rig| self.fleet.rigs[*rig].id.as_str())
                    .collect();
                let error = Error::new(format!(
                    "the log's name matches the `logs` patterns of several rigs: {}",
                    ids.join(", ")
                ));
                return Err(error
                    .at(self.file)
                    .advice("Narrow the patterns in the fleet file."));
            }
        };
        self.by_file = Some(rig);
        Ok(rig)
    }

    fn matches(&self, rig: usize) -> bool {
        let name = base_name(self.file);
        // "north-*.gpx" is meant to match north-1.gpx.gz too.
        let bare = if name.to_ascii_lowercase().ends_with(".gz") {
            &name[..name.len() - 3]
        } else {
            name
        };
        self.fleet.rigs[rig].logs.iter().any(|pattern| {
            if !pattern.contains(['*', '?', '[', '{', '\\']) {
                return pattern == name || pattern == bare;
            }
            // Checked with the fleet file, and matched as it stands: hundreds of rigs' patterns are tried on each
            // log's name, and to compile one takes a thousand times as long as to try it.
            fast_glob::glob_match(pattern, name) || fast_glob::glob_match(pattern, bare)
        })
    }

    fn known(&self) -> String {
        let ids: Vec<&str> = self.fleet.rigs.iter().map(|rig| rig.id.as_str()).collect();
        format!("Rigs in the fleet file: {}.", ids.join(", "))
    }
}

/// The name without its folders.
fn base_name(file: &str) -> &str {
    file.rsplit(['/', '\\']).next().unwrap_or(file)
}
