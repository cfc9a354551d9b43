//! A finding in words. Texts say what the logs show, with figure and limit; they never say what state the ground
//! is in. What to check or do is kept separate. Reports print both and add nothing.

use super::{Finding, Severity};
use crate::notation::clean::clean;
use crate::notation::style::Style;
use std::borrow::Cow;

impl Severity {
    /// Heading over the findings of one severity.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::GoBack => "Go back before the cars arrive",
            Self::LookInto => "Look into",
            Self::ForTheRecord => "For the record",
        }
    }
}

impl Finding {
    /// The finding in one or two sentences, with its place and time, figure and limit.
    #[must_use]
    pub fn text(&self, style: &Style) -> String {
        let mut sentence = self.kind.sentence(style);
        if let Some(ends) = self.log_ends {
            let clause = format!(
                "; the log breaks off there at {} and may lack the rest.",
                style.time(ends)
            );
            sentence = format!("{}{clause}", sentence.trim_end_matches('.'));
        }
        let mut place = self.place_parts();
        place.extend(self.start.iter().map(|start| style.time(*start)));
        let text = match place.is_empty() {
            true => sentence,
            false => format!("{}: {sentence}", place.join(", ")),
        };
        clean(&text).into_owned()
    }

    /// Title, place and sentence, for a page whose head names the night: the time of day only.
    #[must_use]
    pub fn titled(&self, style: &Style) -> String {
        let mut parts = self.place_parts();
        parts.extend(self.start.iter().map(|start| style.clock(*start)));
        let place = match parts.is_empty() {
            true => String::new(),
            false => format!(", {}", parts.join(", ")),
        };
        let (title, sentence) = (self.kind.card().title, self.kind.sentence(style));
        clean(&format!("{title}{place}. {sentence}")).into_owned()
    }

    /// What to check or do about it, in the words of the trade. Common practice throughout: each line names what a
    /// foreman would look at first.
    #[must_use]
    pub fn check(&self) -> Cow<'static, str> {
        if self.log_ends.is_some() {
            return "Get the whole log from the rig and audit again, or ask the driver; send a rig only where the work was \
                    not done."
                .into();
        }
        self.kind.check(self.severity)
    }

    fn place_parts(&self) -> Vec<String> {
        let mut parts = Vec::new();
        match (&self.site, &self.zone) {
            (Some(site), Some(zone)) => parts.push(format!("{site}/{zone}")),
            (Some(site), None) => parts.push(format!("site {site}")),
            (None, Some(zone)) => parts.push(format!("zone {zone}")),
            (None, None) => {}
        }
        parts.extend(self.rig.iter().map(|rig| format!("rig {rig}")));
        parts
    }
}

#[cfg(test)]
mod tests;
