//! SHA-256 of bytes, as in `audit.json`. Base module.

use serde::Serialize;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// The SHA-256 digest, lower-case hexadecimal (FIPS 180-4).
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    let text = String::with_capacity(2 * bytes.len());
    bytes.iter().fold(text, |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// One file that was read.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct InputFile {
    /// `fleet`, `sites`, `orders` or `log`.
    pub role: &'static str,
    /// Name relative to the night folder.
    pub name: String,
    /// Size as stored.
    pub bytes: u64,
    /// SHA-256 of the bytes as stored, lower-case hexadecimal.
    pub sha256: String,
}

#[cfg(test)]
mod tests {
    use super::sha256;

    #[test]
    fn the_published_digest_comes_out() {
        // FIPS 180-2, appendix B.1 (from memory): the digest of "abc".
        assert_eq!(
            sha256(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
