//! Names from input made fit for a line of text: nothing in them may move a terminal's cursor,
//! start a new line or turn the reading direction. Used by every text output.

use std::borrow::Cow;

/// Shown where something harmful was taken out, so that an odd name looks odd.
const REPLACED: char = '\u{FFFD}';

/// `text` without control characters, line separators, bidirectional controls and invisible
/// characters. White space of any kind becomes a plain space.
#[must_use]
pub fn clean(text: &str) -> Cow<'_, str> {
    if text.chars().all(is_plain) {
        return Cow::Borrowed(text);
    }
    text.chars()
        .map(|c| match c {
            _ if is_plain(c) => c,
            '\t' | '\n' | '\r' | '\u{2028}' | '\u{2029}' => ' ',
            _ => REPLACED,
        })
        .collect()
}

fn is_plain(c: char) -> bool {
    !(c.is_control() || is_direction(c) || is_invisible(c))
}

/// Characters that reorder the text around them (Unicode Standard Annex 9, section 2), and the
/// line and paragraph separators.
fn is_direction(c: char) -> bool {
    matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Characters that show nothing, so that two names that look alike could differ: the code points that the Unicode
/// standard calls default ignorable (section 5.21 and `DerivedCoreProperties.txt`; the list is from memory), but
/// for joiners and variation selectors, which scripts need. U+FFFE and U+FFFF are not characters and may not stand
/// in XML.
fn is_invisible(c: char) -> bool {
    matches!(
        c,
        '\u{AD}' // soft hyphen
            | '\u{34F}' // combining grapheme joiner
            | '\u{115F}' | '\u{1160}' | '\u{3164}' | '\u{FFA0}' // Hangul fillers
            | '\u{17B4}' | '\u{17B5}' // Khmer vowels that are never written
            | '\u{180E}' // Mongolian vowel separator
            | '\u{200B}'
            | '\u{2060}'..='\u{2065}'
            | '\u{206A}'..='\u{206F}'
            | '\u{FEFF}'
            | '\u{FFF0}'..='\u{FFF8}'
            | '\u{FFFE}' | '\u{FFFF}'
            | '\u{1BCA0}'..='\u{1BCA3}' // shorthand format controls
            | '\u{1D173}'..='\u{1D17A}' // musical format controls
            | '\u{E0000}'..='\u{E00FF}'
            | '\u{E01F0}'..='\u{E0FFF}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_names_in_any_script_stay_as_they_are() {
        for name in [
            "Quai n\u{b0} 4",
            "\u{5009}\u{5eab}",
            "\u{645}\u{648}\u{642}\u{641}",
        ] {
            assert_eq!(clean(name), name);
        }
    }

    #[test]
    fn what_shows_nothing_is_replaced_and_joiners_stay() {
        for invisible in [
            '\u{AD}', '\u{34F}', '\u{115F}', '\u{3164}', '\u{FFA0}', '\u{200B}', '\u{2064}',
        ] {
            assert_eq!(
                clean(&format!("lo{invisible}t")),
                "lo\u{FFFD}t",
                "{:x}",
                u32::from(invisible)
            );
        }
        // A joiner in Persian, a variation selector behind a heart.
        for name in ["\u{646}\u{645}\u{6CC}\u{200C}\u{62E}", "\u{2764}\u{FE0F}"] {
            assert_eq!(clean(name), name);
        }
    }

    #[test]
    fn escape_sequences_and_turned_text_lose_their_force() {
        assert_eq!(clean("lot\u{1b}[2J"), "lot\u{FFFD}[2J");
        assert_eq!(clean("a\u{202E}b\u{9b}c"), "a\u{FFFD}b\u{FFFD}c");
        assert_eq!(clean("two\nlines"), "two lines");
    }
}
