//! What must hold of any input. Each file gives a `check` that panics where something does not hold; the
//! fuzz targets call it with bytes that nobody thought of, the suite with the kept corpus.

pub(crate) mod bytes;
pub(crate) mod fleet;
pub(crate) mod geometry;
pub(crate) mod log;
pub(crate) mod night;
pub(crate) mod orders;
pub(crate) mod record;
pub(crate) mod sites;

/// Text from the bytes of a file, as the program makes it.
fn text(bytes: &[u8]) -> Option<String> {
    let zipped = bytes.starts_with(&[0x1f, 0x8b]);
    let decoded = swathbook::input::log::decode(bytes.to_vec(), zipped).ok()?;
    Some(decoded.text)
}
