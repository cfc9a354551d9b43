//! An image with a palette as PNG (W3C Recommendation, third edition, 2025): four bits a pixel, no filter, one block
//! of compressed data. An encoder crate would turn on features of the compressor that the build of PROJ shares.

use flate2::write::ZlibEncoder;
use flate2::{Compression, Crc};
use std::io::Write;

/// Section 5.2: what a PNG begins with (published).
const SIGNATURE: [u8; 8] = *b"\x89PNG\r\n\x1a\n";

/// The bytes of an image of this width and height. `rows` are its pixels, two a byte, each row begun anew; they are
/// indices into the palette, whose first colour is clear.
///
/// # Panics
///
/// If memory cannot be written to, which it always can.
#[must_use]
pub(super) fn indexed(
    (width, height): (usize, usize),
    rows: &[u8],
    palette: &[[u8; 3]],
) -> Vec<u8> {
    let mut header = Vec::new();
    header.extend((width as u32).to_be_bytes());
    header.extend((height as u32).to_be_bytes());
    // Bits, palette, the only compression, the only filter method, not interlaced (section 11.2.1).
    header.extend([4, 3, 0, 0, 0]);
    let mut compressed = ZlibEncoder::new(Vec::new(), Compression::best());
    for row in rows.chunks(width.div_ceil(2).max(1)) {
        // Each row is led by the number of its filter (section 9.2): none.
        for part in [&[0][..], row] {
            compressed.write_all(part).expect("memory takes any bytes");
        }
    }
    let data = compressed.finish().expect("memory takes any bytes");
    let mut bytes = SIGNATURE.to_vec();
    chunk(&mut bytes, *b"IHDR", &header);
    chunk(&mut bytes, *b"PLTE", palette.as_flattened());
    chunk(&mut bytes, *b"tRNS", &[0]);
    chunk(&mut bytes, *b"IDAT", &data);
    chunk(&mut bytes, *b"IEND", &[]);
    bytes
}

/// Length, name, data, checksum (section 5.3).
fn chunk(bytes: &mut Vec<u8>, name: [u8; 4], data: &[u8]) {
    bytes.extend((data.len() as u32).to_be_bytes());
    let mut sum = Crc::new();
    for part in [&name[..], data] {
        bytes.extend(part);
        sum.update(part);
    }
    bytes.extend(sum.sum().to_be_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The last chunk has no data, so its bytes are the same in every file: those of the standard's example.
    #[test]
    fn chunks_carry_their_checksum() {
        let bytes = indexed((1, 1), &[0x10], &[[255; 3], [0; 3]]);
        assert_eq!(bytes[bytes.len() - 12..], *b"\0\0\0\0IEND\xaeB\x60\x82");
        assert_eq!(bytes[..16], *b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    }
}
