//! Text from outside made fit to show: names and ids in all three inputs.

/// Longest text kept of a name, in characters; longer is cut. Names are shown in tables (limit).
pub(crate) const LONGEST_NAME: usize = 200;

/// The text without control characters and without blanks at its ends, cut to
/// [`LONGEST_NAME`]: a name must not be able to move a terminal's cursor or break a line.
pub(crate) fn clean(text: &str) -> String {
    let kept: String = text
        .chars()
        .filter(|c| !c.is_control())
        .take(LONGEST_NAME)
        .collect();
    kept.trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_are_removed() {
        assert_eq!(clean(" East\u{1b}[2J\nlot\u{7} "), "East[2Jlot");
    }

    #[test]
    fn long_names_are_cut() {
        assert_eq!(clean(&"x".repeat(5000)).len(), LONGEST_NAME);
    }
}
