//! Lists of names in a sentence.

/// More names than this in one sentence are not read: the rest is counted (layout).
const NAMES_SHOWN: usize = 8;

/// `a, b, c and 4 more`.
#[must_use]
pub fn names(list: &[String]) -> String {
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

/// `text` with a capital at its head.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
