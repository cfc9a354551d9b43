//! Lists of names in a sentence.

use crate::findings::{ClosedSections, Side};

/// More names than this in one sentence are not read: the rest is counted.
const NAMES_SHOWN: usize = 8;

/// `a, b, c and 4 more`.
pub(super) fn names(list: &[String]) -> String {
    let shown = list
        .iter()
        .take(NAMES_SHOWN)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match list.len().saturating_sub(NAMES_SHOWN) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// `section 2 of 6 (left side)`, `sections 1 and 2 of 6 (left side)`.
#[must_use]
pub(super) fn sections(closed: &ClosedSections) -> String {
    let numbers: Vec<String> = closed.numbers.iter().map(usize::to_string).collect();
    let (noun, numbers) = match numbers.as_slice() {
        [rest @ .., last] if !rest.is_empty() => {
            ("sections", format!("{} and {last}", rest.join(", ")))
        }
        _ => ("section", numbers.concat()),
    };
    let side = match closed.side {
        Side::Left => "left side",
        Side::Middle => "middle",
        Side::Right => "right side",
    };
    format!("{noun} {numbers} of {} ({side})", closed.of)
}

/// The same with a capital at its head.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
