//! Points written the way loggers write them, without the general XML reader.
//!
//! A plain point is a `<trkpt>` that begins where the reader stands (blanks aside), whose tags have only double
//! quotes and whose elements hold either plain text or, in `<extensions>`, one level of elements with plain
//! text: no references, comments, CDATA, empty or deeper elements. It is taken whole or not at all: on anything
//! else nothing has happened, and the general reader begins at the same point. So this file decides how fast a log
//! is read, never what is read; `log::read_by_events` reads without it, and the tests hold the two together.

use super::{Gpx, Leaf, MOST_DEPTH, MOST_LEAVES, Place, local};
use std::borrow::Cow;
use std::io::BufRead as _;

/// Levels that a plain point opens below its segment: itself, its `<extensions>`, an element in them (arithmetic).
const LEVELS: usize = 3;

impl<'a> Gpx<'a> {
    /// Takes a plain point, if one is next.
    ///
    /// Only at the beginning of a step: then the general reader has just closed a tag and is outside all markup,
    /// so that the point's bytes can be taken from under it.
    pub(super) fn plain_point(&mut self) -> bool {
        let is_next = self.places.last() == Some(&Place::Segment);
        // Of the point read last, where they count against the limits for the last time.
        let many = self.point.leaves.len() >= MOST_LEAVES;
        if !is_next || many || self.places.len() + LEVELS > MOST_DEPTH {
            return false;
        }
        let before = self.reader.buffer_position() as usize;
        let Some(rest) = self.text.get(before..) else {
            return false;
        };
        let mut scan = Scan { rest };
        if self.take_point(&mut scan).is_none() {
            // Those taken in vain must not count.
            self.point.leaves.clear();
            return false;
        }
        let taken = rest.len() - scan.rest.len();
        self.reader.stream().consume(taken);
        true
    }

    fn take_point(&mut self, scan: &mut Scan<'a>) -> Option<()> {
        scan.skip_blanks();
        let start = self.text.len() - scan.rest.len();
        let (tag, name_len) = scan.start_tag()?;
        if &tag[..name_len] != "trkpt" || self.beyond_limits(tag) {
            return None;
        }
        self.point.leaves.clear();
        (self.point.tag, self.point.name_len) = (tag, name_len);
        self.point.time = Cow::Borrowed("");
        self.point.hdop = Cow::Borrowed("");
        loop {
            scan.skip_blanks();
            if scan.takes("</trkpt>") {
                break;
            }
            let (tag, name_len) = scan.start_tag()?;
            if &tag[..name_len] == "extensions" {
                self.take_leaves(scan)?;
                continue;
            }
            let text = scan.text(&tag[..name_len])?;
            let slot = match local(&tag[..name_len]) {
                "time" => &mut self.point.time,
                "hdop" => &mut self.point.hdop,
                "extensions" => return None,
                _ => continue,
            };
            // A second one is joined to the first: rare enough for the general reader.
            if !slot.is_empty() {
                return None;
            }
            *slot = Cow::Borrowed(text);
        }
        self.point.line = self.line_at(start);
        Some(())
    }

    /// The elements of `<extensions>`, to its end.
    fn take_leaves(&mut self, scan: &mut Scan<'a>) -> Option<()> {
        loop {
            scan.skip_blanks();
            if scan.takes("</extensions>") {
                return Some(());
            }
            let (tag, name_len) = scan.start_tag()?;
            if self.point.leaves.len() >= MOST_LEAVES {
                return None;
            }
            let text = Cow::Borrowed(scan.text(&tag[..name_len])?);
            self.point.leaves.push(Leaf {
                tag,
                name_len,
                text,
            });
        }
    }
}

/// What of the text is left.
struct Scan<'a> {
    rest: &'a str,
}

impl<'a> Scan<'a> {
    /// XML's blanks.
    #[inline]
    fn skip_blanks(&mut self) {
        let is_blank = |byte: &u8| matches!(byte, b' ' | b'\n' | b'\r' | b'\t');
        let blanks = self.rest.bytes().take_while(is_blank).count();
        self.rest = &self.rest[blanks..];
    }

    #[inline]
    fn takes(&mut self, word: &str) -> bool {
        match self.rest.strip_prefix(word) {
            Some(rest) => {
                self.rest = rest;
                true
            }
            None => false,
        }
    }

    /// A start tag between its brackets, with the length of its name.
    #[inline]
    fn start_tag(&mut self) -> Option<(&'a str, usize)> {
        let inside = self.rest.strip_prefix('<')?;
        let is_name =
            |byte: &u8| byte.is_ascii_alphanumeric() || matches!(byte, b':' | b'_' | b'-' | b'.');
        let name_len = inside.bytes().take_while(is_name).count();
        let end = match inside.as_bytes().get(name_len)? {
            b'>' => name_len,
            b' ' | b'\n' | b'\r' | b'\t' => plain_tag_end(inside)?,
            _ => return None,
        };
        if name_len == 0 {
            return None;
        }
        self.rest = &inside[end + 1..];
        Some((&inside[..end], name_len))
    }

    /// Plain text to the end tag of this name; blank text is none, as everywhere in this reader.
    #[inline]
    fn text(&mut self, name: &str) -> Option<&'a str> {
        let end = memchr::memchr2(b'<', b'&', self.rest.as_bytes())?;
        let (text, rest) = self.rest.split_at(end);
        self.rest = rest
            .strip_prefix("</")?
            .strip_prefix(name)?
            .strip_prefix('>')?;
        Some(if text.trim_start().is_empty() {
            ""
        } else {
            text
        })
    }
}

/// Where a tag with attributes ends; `None` where quotes or what they hold are not plain.
fn plain_tag_end(inside: &str) -> Option<usize> {
    let end = memchr::memchr(b'>', inside.as_bytes())?;
    let tag = &inside.as_bytes()[..end];
    let (mut in_quotes, mut is_plain) = (false, true);
    for byte in tag {
        in_quotes ^= *byte == b'"';
        is_plain &= !matches!(byte, b'<' | b'\'' | b'&');
    }
    // An empty element ends in a slash.
    (is_plain && !in_quotes && tag.last() != Some(&b'/')).then_some(end)
}
