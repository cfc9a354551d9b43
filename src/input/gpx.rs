//! The shape of a GPX file: tracks, segments, points with their raw texts. Knows XML, knows nothing
//! of channels or rigs.
//!
//! One pass over the text, without an allocation for each point: everything handed out borrows from
//! the text, but for values that entities split. The `gpx` crate cannot serve here: it throws
//! `<extensions>` away and gives up the file at the first odd element.

mod plain;

use quick_xml::events::attributes::Attributes;
use quick_xml::events::{BytesRef, Event};
use quick_xml::{Reader, XmlVersion};
use std::borrow::Cow;

/// Deepest nesting of elements; real files stay under ten. Keeps damage from eating memory (limit).
const MOST_DEPTH: usize = 200;
/// Longest tag with its attributes, bytes; real ones stay under 2,000. A longer one is a lost quote (limit).
const LONGEST_TAG: usize = 64 * 1024;
/// Most leaves in the extensions of one point; real files stay under 100 (limit).
const MOST_LEAVES: usize = 5000;
/// Said when one of the limits is passed.
const BEYOND_LIMITS: &str =
    "a tag, a nesting or a list of extensions is far longer than any log has";

/// An element within `<extensions>`.
#[derive(Debug, Clone)]
pub(crate) struct Leaf<'a> {
    /// Name and attributes as they stand between the angle brackets.
    tag: &'a str,
    /// Length of the name with its prefix.
    name_len: usize,
    /// Text directly inside, entities resolved, not trimmed.
    pub(crate) text: Cow<'a, str>,
}

impl<'a> Leaf<'a> {
    /// The name without its prefix.
    #[inline]
    pub(crate) fn name(&self) -> &'a str {
        local(&self.tag[..self.name_len])
    }

    /// Whether there are any attributes to look at.
    pub(crate) fn has_attributes(&self) -> bool {
        self.tag.len() > self.name_len
    }

    /// Attributes by local name, in order. Stops at the first that is not well formed.
    pub(crate) fn attributes(&self) -> impl Iterator<Item = (&'a str, Cow<'a, str>)> {
        attributes(self.tag, self.name_len)
    }

    /// The value of an attribute.
    pub(crate) fn attribute(&self, name: &str) -> Option<Cow<'a, str>> {
        self.attributes()
            .find(|(key, _)| *key == name)
            .map(|(_, value)| value)
    }
}

fn attributes(tag: &str, name_len: usize) -> impl Iterator<Item = (&str, Cow<'_, str>)> {
    let mut found = Attributes::new(tag, name_len);
    found.with_checks(false);
    // A declaration such as xmlns:unit="..." is no attribute called "unit".
    let found = found
        .map_while(std::result::Result::ok)
        .filter(|attribute| !attribute.key.0.starts_with("xmlns"));
    found.map(|attribute| {
        // Only the five predefined entities and character references are resolved.
        let value = if attribute.value.as_bytes().contains(&b'&') {
            let raw = attribute.value.clone();
            attribute
                .normalized_value(XmlVersion::Implicit1_0)
                .unwrap_or(raw)
        } else {
            attribute.value
        };
        (local(attribute.key.0), value)
    })
}

/// The name without its prefix. Names are short: a plain loop is faster than a search routine.
#[inline]
fn local(name: &str) -> &str {
    match name.bytes().position(|byte| byte == b':') {
        Some(colon) => &name[colon + 1..],
        None => name,
    }
}

/// A `<trkpt>`, in the words of the file.
#[derive(Debug, Default)]
pub(crate) struct Point<'a> {
    tag: &'a str,
    name_len: usize,
    /// `<time>`, empty where missing.
    pub(crate) time: Cow<'a, str>,
    /// `<hdop>`, empty where missing.
    pub(crate) hdop: Cow<'a, str>,
    /// Every element within its `<extensions>`, in document order.
    pub(crate) leaves: Vec<Leaf<'a>>,
    /// Its line in the file.
    pub(crate) line: u32,
}

impl<'a> Point<'a> {
    /// The attributes `lat` and `lon`, where there are any.
    pub(crate) fn lat_lon(&self) -> (Option<Cow<'a, str>>, Option<Cow<'a, str>>) {
        if let Some((lat, lon)) = self.plain_lat_lon() {
            return (Some(Cow::Borrowed(lat)), Some(Cow::Borrowed(lon)));
        }
        let (mut lat, mut lon) = (None, None);
        for (name, value) in attributes(self.tag, self.name_len) {
            match name {
                "lat" => lat = Some(value),
                "lon" => lon = Some(value),
                _ => {}
            }
        }
        (lat, lon)
    }

    /// `lat="..." lon="..."` with plain numbers and nothing else, as nearly all loggers write.
    fn plain_lat_lon(&self) -> Option<(&'a str, &'a str)> {
        let rest = self.tag.get(self.name_len..)?.strip_prefix(" lat=\"")?;
        let (lat, rest) = rest.split_once('"')?;
        let lon = rest.strip_prefix(" lon=\"")?.strip_suffix('"')?;
        let is_plain = |text: &str| {
            text.bytes()
                .all(|byte| matches!(byte, b'0'..=b'9' | b'.' | b'-'))
        };
        (is_plain(lat) && is_plain(lon)).then_some((lat, lon))
    }
}

/// What the reader met.
#[derive(Debug)]
pub(crate) enum Step {
    /// `<trk>` begins.
    Track,
    /// The `<extensions>` of a track ended; they are in [`Gpx::track_leaves`].
    TrackExtensions,
    /// `<trkseg>` begins.
    Segment,
    /// A `<trkpt>` ended; it is in [`Gpx::point`].
    Point,
    /// The file ended as it should.
    End,
    /// The XML is damaged from here on.
    Damage {
        /// Why, as a clause.
        why: String,
        /// Where.
        line: u32,
    },
}

/// Where the reader is: the kind of the element it is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Outside,
    Track,
    TrackLeaf,
    Segment,
    Point,
    Time,
    Hdop,
    PointLeaf,
    Skipped,
}

/// The pull reader.
pub(crate) struct Gpx<'a> {
    text: &'a str,
    reader: Reader<&'a [u8]>,
    places: Vec<Place>,
    /// Indices of the leaves that are open.
    open: Vec<usize>,
    /// The point read last.
    pub(crate) point: Point<'a>,
    /// The leaves of the current track's own extensions.
    pub(crate) track_leaves: Vec<Leaf<'a>>,
    track_line: u32,
    line: u32,
    counted_to: usize,
    /// Plain points are taken without the general reader.
    short_cuts: bool,
}

impl<'a> Gpx<'a> {
    /// A reader at the beginning of `text`.
    pub(crate) fn new(text: &'a str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reader = Reader::from_str(text);
        // A bare "&" in a name is a common slip; it is not a reason to lose a night.
        reader.config_mut().allow_dangling_amp = true;
        Self {
            text,
            reader,
            places: Vec::with_capacity(16),
            open: Vec::new(),
            point: Point::default(),
            track_leaves: Vec::new(),
            track_line: 1,
            line: 1,
            counted_to: 0,
            short_cuts: true,
        }
    }

    /// The same, with every point by the general reader.
    pub(crate) fn by_events(text: &'a str) -> Self {
        Self {
            short_cuts: false,
            ..Self::new(text)
        }
    }

    /// Reads on to the next thing of interest.
    pub(crate) fn step(&mut self) -> Step {
        if self.short_cuts && self.plain_point() {
            return Step::Point;
        }
        loop {
            let before = self.reader.buffer_position() as usize;
            let event = match self.reader.read_event() {
                Ok(event) => event,
                Err(error) => {
                    let at = self.reader.error_position() as usize;
                    return self.damage(error.to_string(), if at == 0 { before } else { at });
                }
            };
            let met = match event {
                Event::Start(tag) => self.start(before, tag.name().0.len()),
                Event::Empty(tag) => self.empty(before, tag.name().0.len()),
                Event::End(_) => self.end(),
                Event::Text(piece) => self.add(piece.into_inner()),
                Event::CData(piece) => self.add(piece.into_inner()),
                Event::GeneralRef(reference) => self.add(resolve(&reference)),
                Event::Eof => return self.eof(),
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => None,
            };
            if let Some(step) = met {
                return step;
            }
        }
    }

    /// Line on which the current track's extensions begin.
    pub(crate) fn track_line(&self) -> u32 {
        self.track_line
    }

    fn eof(&mut self) -> Step {
        if self.places.is_empty() {
            return Step::End;
        }
        self.damage(
            "the file ends in the middle of an element".to_owned(),
            self.text.len(),
        )
    }

    fn damage(&mut self, why: String, at: usize) -> Step {
        let line = self.line_at(at);
        Step::Damage { why, line }
    }

    /// The line of a byte; counts on from the last call, or from the start when asked to go back.
    fn line_at(&mut self, at: usize) -> u32 {
        let at = at.min(self.text.len());
        if at < self.counted_to {
            (self.line, self.counted_to) = (1, 0);
        }
        let between = &self.text.as_bytes()[self.counted_to..at];
        self.line += memchr::memchr_iter(b'\n', between).count() as u32;
        self.counted_to = at;
        self.line
    }

    /// The text between the angle brackets of the tag just read.
    fn tag(&self, before: usize, closing: usize) -> &'a str {
        let after = self.reader.buffer_position() as usize;
        self.text
            .get(before + 1..after.saturating_sub(closing))
            .unwrap_or("")
    }

    fn start(&mut self, before: usize, name_len: usize) -> Option<Step> {
        let tag = self.tag(before, 1);
        if self.beyond_limits(tag) {
            return Some(self.damage(BEYOND_LIMITS.to_owned(), before));
        }
        let place = self.enter(before, tag, name_len);
        self.places.push(place);
        match place {
            Place::Track => Some(Step::Track),
            Place::Segment => Some(Step::Segment),
            _ => None,
        }
    }

    fn empty(&mut self, before: usize, name_len: usize) -> Option<Step> {
        let tag = self.tag(before, 2);
        if self.beyond_limits(tag) {
            return Some(self.damage(BEYOND_LIMITS.to_owned(), before));
        }
        let place = self.enter(before, tag, name_len);
        match place {
            Place::PointLeaf | Place::TrackLeaf => {
                self.close_leaf();
                (place == Place::TrackLeaf && self.places.last() == Some(&Place::Track))
                    .then_some(Step::TrackExtensions)
            }
            Place::Point => Some(Step::Point),
            Place::Segment => Some(Step::Segment),
            _ => None,
        }
    }

    fn beyond_limits(&self, tag: &str) -> bool {
        tag.len() > LONGEST_TAG
            || self.places.len() >= MOST_DEPTH
            || self.point.leaves.len() >= MOST_LEAVES
            || self.track_leaves.len() >= MOST_LEAVES
    }

    /// The kind of a new element; takes up what it brings.
    #[inline]
    fn enter(&mut self, before: usize, tag: &'a str, name_len: usize) -> Place {
        let name = local(&tag[..name_len.min(tag.len())]);
        let parent = self.places.last().copied().unwrap_or(Place::Outside);
        match (parent, name) {
            (Place::PointLeaf, _) => {
                self.open.push(self.point.leaves.len());
                self.point.leaves.push(Leaf {
                    tag,
                    name_len,
                    text: Cow::Borrowed(""),
                });
                Place::PointLeaf
            }
            (Place::TrackLeaf, _) => {
                self.open.push(self.track_leaves.len());
                self.track_leaves.push(Leaf {
                    tag,
                    name_len,
                    text: Cow::Borrowed(""),
                });
                Place::TrackLeaf
            }
            (Place::Point, "time") => Place::Time,
            (Place::Point, "hdop") => Place::Hdop,
            (Place::Point, "extensions") => Place::PointLeaf,
            (Place::Segment, "trkpt") => {
                (self.point.tag, self.point.name_len) = (tag, name_len);
                self.point.time = Cow::Borrowed("");
                self.point.hdop = Cow::Borrowed("");
                self.point.leaves.clear();
                self.point.line = self.line_at(before);
                Place::Point
            }
            (Place::Track, "trkseg") => Place::Segment,
            (Place::Track, "extensions") => {
                self.track_line = self.line_at(before);
                Place::TrackLeaf
            }
            (Place::Outside, "trk") => {
                self.track_leaves.clear();
                Place::Track
            }
            (Place::Outside, "gpx") => Place::Outside,
            _ => Place::Skipped,
        }
    }

    fn end(&mut self) -> Option<Step> {
        let place = self.places.pop()?;
        match place {
            Place::Point => Some(Step::Point),
            Place::PointLeaf => {
                self.close_leaf();
                None
            }
            Place::TrackLeaf => {
                self.close_leaf();
                (self.places.last() == Some(&Place::Track)).then_some(Step::TrackExtensions)
            }
            _ => None,
        }
    }

    /// Closes the innermost leaf; `<extensions>` itself is none, so there may be nothing to close.
    fn close_leaf(&mut self) {
        self.open.pop();
    }

    /// Adds a piece of text to whatever is open: entities and CDATA split a text into several.
    #[inline]
    fn add(&mut self, piece: Cow<'a, str>) -> Option<Step> {
        let slot = match self.places.last() {
            Some(Place::Time) => &mut self.point.time,
            Some(Place::Hdop) => &mut self.point.hdop,
            Some(Place::PointLeaf) => &mut self.point.leaves.get_mut(*self.open.last()?)?.text,
            Some(Place::TrackLeaf) => &mut self.track_leaves.get_mut(*self.open.last()?)?.text,
            _ => return None,
        };
        if slot.is_empty() {
            // The blanks between the tags of a container are no text of its.
            if !piece.trim_start().is_empty() {
                *slot = piece;
            }
        } else {
            slot.to_mut().push_str(&piece);
        }
        None
    }
}

/// A reference in a text. Entities that a DTD declares are never expanded: they stay as written.
fn resolve<'a>(reference: &BytesRef<'a>) -> Cow<'a, str> {
    if let Ok(Some(letter)) = reference.resolve_char_ref() {
        return Cow::Owned(letter.to_string());
    }
    match quick_xml::escape::resolve_xml_entity(reference) {
        Some(text) => Cow::Borrowed(text),
        None => Cow::Owned(format!("&{};", &**reference)),
    }
}

#[cfg(test)]
mod tests;
