//! The bytes of a log to text: decompressed, in whatever encoding they came.

use crate::error::{Error, Result};
use encoding_rs::Encoding;
use std::io::Read;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Largest text of one log, bytes. A log of ten hours at 1 Hz has about 15 MB; a small compressed file that grows
/// beyond this is not a log. With more, a bomb of half a megabyte would fill the memory (limit).
const MOST_TEXT_BYTES: u64 = 512 << 20;

/// Logs up to this size are read side by side, one a thread; of larger ones one at a time ([`Turns`]), so that a
/// folder of gzip bombs takes the memory of one. A usual night's log has half of it (limit).
pub const FREE_BYTES: u64 = 32 << 20;

/// Unpacked at a time, bytes (limit).
const PIECE_BYTES: u64 = 8 << 20;

/// Whose turn it is to read a large log.
#[derive(Debug, Default)]
pub struct Turns(Mutex<()>);

impl Turns {
    /// Waits for a turn, which lasts until what comes back is dropped.
    pub fn wait(&self) -> MutexGuard<'_, ()> {
        // There is nothing behind the lock that a panic could have left half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The XML declaration stands within this many bytes (limit).
const DECLARATION_BYTES: usize = 200;

/// A log as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decoded {
    /// The text, as far as it could be read.
    pub text: String,
    /// What is wrong with the bytes, as a clause; the text is still worth reading.
    pub damage: Option<String>,
}

/// Decompresses (`gz`) and decodes a log. A byte-order mark decides the encoding, then UTF-8 if the
/// bytes are valid, then the encoding the XML declaration names; what is left is UTF-8 with the
/// wrong bytes replaced.
///
/// # Errors
/// No file, an empty one, gzip data of which nothing can be read, or a text over 512 MiB.
pub fn decode(bytes: Vec<u8>, gz: bool) -> Result<Decoded> {
    decode_in_turn(bytes, gz, &mut || {})
}

/// The same; `large` is called before more than [`FREE_BYTES`] are unpacked.
///
/// # Errors
/// As [`decode`].
pub fn decode_in_turn(bytes: Vec<u8>, gz: bool, large: &mut dyn FnMut()) -> Result<Decoded> {
    let (bytes, gzip_damage) = if gz {
        gunzip(&bytes, large)?
    } else {
        (bytes, None)
    };
    if bytes.len() as u64 > MOST_TEXT_BYTES {
        return Err(Error::new(format!(
            "the log is larger than {} MiB",
            MOST_TEXT_BYTES >> 20
        ))
        .advice("Split it by track."));
    }
    if bytes.is_empty() {
        return Err(Error::new("the file is empty").advice("Export the log again from the logger."));
    }
    let (text, text_damage) = to_text(bytes);
    Ok(Decoded {
        text,
        damage: gzip_damage.or(text_damage),
    })
}

fn gunzip(bytes: &[u8], large: &mut dyn FnMut()) -> Result<(Vec<u8>, Option<String>)> {
    let mut text = Vec::new();
    // One byte more than allowed, so that the limit can be told from a fit.
    let mut reader = flate2::read::MultiGzDecoder::new(bytes).take(MOST_TEXT_BYTES + 1);
    let outcome = loop {
        if text.len() as u64 >= FREE_BYTES {
            large();
        }
        // Piece by piece, since memory that is not there would end the program and all other logs with it.
        text.try_reserve(PIECE_BYTES as usize).map_err(|_| {
            Error::new("there is not enough memory to unpack the log")
                .advice("Split the log by track.")
        })?;
        match reader.by_ref().take(PIECE_BYTES).read_to_end(&mut text) {
            Ok(0) => break Ok(()),
            Ok(_) => {}
            Err(error) => break Err(error),
        }
    };
    match outcome {
        Ok(()) => Ok((text, None)),
        Err(error) if text.is_empty() => Err(Error::new(format!("this is not gzip data: {error}"))
            .advice(
                "A name that ends in .gz promises a gzip file; copy or export the file again.",
            )),
        Err(error) => Ok((text, Some(format!("the gzip data breaks off ({error})")))),
    }
}

fn to_text(bytes: Vec<u8>) -> (String, Option<String>) {
    if let Some(encoding) = marked(&bytes) {
        let (text, _, wrong) = encoding.decode(&bytes);
        let damage = wrong.then(|| format!("some bytes are not {}", encoding.name()));
        return (text.into_owned(), damage);
    }
    let bytes = match String::from_utf8(bytes) {
        Ok(text) => return (text, None),
        Err(error) => error.into_bytes(),
    };
    match declared(&bytes) {
        Some(encoding) if encoding != encoding_rs::UTF_8 => {
            let (text, _, wrong) = encoding.decode(&bytes);
            (
                text.into_owned(),
                wrong.then(|| format!("some bytes are not {}", encoding.name())),
            )
        }
        _ => (
            String::from_utf8_lossy(&bytes).into_owned(),
            Some("some bytes are not UTF-8".to_owned()),
        ),
    }
}

/// The encoding that the first bytes show: a byte-order mark, or UTF-16 without one.
fn marked(bytes: &[u8]) -> Option<&'static Encoding> {
    if let Some((encoding, _)) = Encoding::for_bom(bytes) {
        return Some(encoding);
    }
    match bytes {
        [b'<', 0, ..] => Some(encoding_rs::UTF_16LE),
        [0, b'<', ..] => Some(encoding_rs::UTF_16BE),
        _ => None,
    }
}

/// The encoding that the XML declaration names.
fn declared(bytes: &[u8]) -> Option<&'static Encoding> {
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(DECLARATION_BYTES)]).into_owned();
    let head = head.split("?>").next()?;
    let after = head
        .split_once("encoding")?
        .1
        .trim_start()
        .strip_prefix('=')?
        .trim_start();
    let quote = after.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    let label = after[1..].split(quote).next()?;
    Encoding::for_label(label.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn gzip(bytes: &[u8]) -> Vec<u8> {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn plain_utf8_stays_as_it_is() {
        let decoded = decode("<gpx>é</gpx>".into(), false).unwrap();
        assert_eq!(
            decoded,
            Decoded {
                text: "<gpx>é</gpx>".into(),
                damage: None
            }
        );
    }

    #[test]
    fn byte_order_marks_decide_and_are_taken_off() {
        assert_eq!(
            decode(b"\xEF\xBB\xBF<gpx/>".to_vec(), false).unwrap().text,
            "<gpx/>"
        );
        let utf16: Vec<u8> = [0xFF, 0xFE]
            .into_iter()
            .chain("<gpx>é".encode_utf16().flat_map(u16::to_le_bytes))
            .collect();
        assert_eq!(decode(utf16.clone(), false).unwrap().text, "<gpx>é");
        assert_eq!(decode(utf16[2..].to_vec(), false).unwrap().text, "<gpx>é");
    }

    #[test]
    fn a_declared_latin_encoding_is_used_where_utf8_fails() {
        let decoded = decode(
            b"<?xml version='1.0' encoding='ISO-8859-1'?><a>\xE9</a>".to_vec(),
            false,
        )
        .unwrap();
        assert!(decoded.text.ends_with("<a>é</a>") && decoded.damage.is_none());
        let decoded = decode(
            b"<?xml version=\"1.0\" encoding = \"windows-1252\"?><a>\x80</a>".to_vec(),
            false,
        )
        .unwrap();
        assert!(decoded.text.ends_with("<a>€</a>"));
    }

    #[test]
    fn wrong_bytes_are_replaced_and_reported() {
        let decoded = decode(b"<a>\xFF</a>".to_vec(), false).unwrap();
        assert_eq!(decoded.text, "<a>\u{FFFD}</a>");
        assert!(decoded.damage.unwrap().contains("UTF-8"));
    }

    #[test]
    fn gzip_members_are_joined() {
        let both = [gzip(b"<gpx>"), gzip(b"</gpx>")].concat();
        assert_eq!(
            decode(both, true).unwrap(),
            Decoded {
                text: "<gpx></gpx>".into(),
                damage: None
            }
        );
    }

    #[test]
    fn a_cut_gzip_file_gives_what_there_is() {
        // Digits of a chaotic series, so that the data fills several blocks.
        let text: String = (0..200_000_u64)
            .map(|i| char::from(b'0' + (i.wrapping_mul(i) / 7 % 10) as u8))
            .collect();
        let whole = gzip(text.as_bytes());
        let decoded = decode(whole[..whole.len() / 2].to_vec(), true).unwrap();
        assert!(!decoded.text.is_empty() && text.starts_with(&decoded.text));
        assert!(decoded.damage.unwrap().contains("breaks off"));
    }

    #[test]
    fn a_large_text_waits_for_its_turn_and_a_small_one_does_not() {
        let blanks = |mib: usize| gzip(&vec![b' '; mib << 20]);
        let mut waits = 0;
        decode_in_turn(blanks(31), true, &mut || waits += 1).unwrap();
        assert_eq!(waits, 0);
        let decoded = decode_in_turn(blanks(41), true, &mut || waits += 1).unwrap();
        assert!(waits > 0);
        assert_eq!(decoded.text.len(), 41 << 20);
    }

    #[test]
    fn nothing_to_read_is_an_error() {
        assert!(decode(Vec::new(), false).is_err());
        assert!(
            decode(b"<gpx/>".to_vec(), true)
                .unwrap_err()
                .to_string()
                .contains("not gzip")
        );
    }
}
