//! Digests of the original files, each under a salt of its own.
//!
//! A plain digest would let two clients see that one log served both, and let a short orders file be guessed. So a
//! record holds SHA-256 of 32 bytes of salt and the file; the salt is HMAC-SHA-256 (RFC 2104, FIPS 180-4) of the record's
//! name, the file's role and its name, under the night's secret.

use super::evidence::pretty;
use crate::input::digest::hex;
use hmac::{Hmac, KeyInit, Mac};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// Name of the digests in a record.
pub const COMMITMENTS: &str = "data/evidence/commitments.json";
/// Name of the file with the salts, beside the records.
pub const OPENINGS: &str = "openings.json";
const FORMAT: &str = "swathbook-openings/1";

/// How a digest is made, for the reader.
const METHOD: &str = "SHA-256 over 32 bytes of salt and then the file, hexadecimal";

/// The digests in a record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Commitments {
    method: String,
    /// Logs in the order of their digests, so that the order says nothing of the night.
    pub files: Vec<Commitment>,
}

/// One file's digest.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Commitment {
    /// `fleet`, `sites`, `orders` or `log`.
    pub role: String,
    /// Salted SHA-256, lower-case hexadecimal.
    pub digest: String,
}

/// What opens one digest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opening {
    /// Role of the file.
    pub role: String,
    /// Name relative to the night folder.
    pub name: String,
    /// 32 bytes in hexadecimal.
    pub salt: String,
    /// The digest in the record.
    pub digest: String,
}

/// The openings of the records in a folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Openings {
    format: String,
    /// By name of the record.
    pub records: BTreeMap<String, Vec<Opening>>,
}

impl Default for Openings {
    fn default() -> Self {
        Self {
            format: FORMAT.to_owned(),
            records: BTreeMap::new(),
        }
    }
}

impl Openings {
    /// The bytes of the file.
    #[must_use]
    pub fn write(&self) -> Vec<u8> {
        pretty(self)
    }

    /// The openings in a file's bytes; `None` where these are none of this version.
    #[must_use]
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let openings: Self = serde_json::from_slice(bytes).ok()?;
        (openings.format == FORMAT).then_some(openings)
    }
}

/// The salt of one file in one record.
///
/// # Panics
/// If HMAC refused the key, which it never does.
#[must_use]
pub fn salt(secret: &[u8; 32], record: &str, role: &str, name: &str) -> [u8; 32] {
    let mut mac = Hmac::<Sha256>::new_from_slice(secret).expect("HMAC takes a key of any length");
    // No part may hold the byte that parts them: a name of a file cannot.
    for part in [record, role, name] {
        mac.update(part.as_bytes());
        mac.update(&[0]);
    }
    mac.finalize().into_bytes().into()
}

/// Opens one file.
#[must_use]
pub fn open(secret: &[u8; 32], record: &str, (role, name): (&str, &str), file: &[u8]) -> Opening {
    let salt = salt(secret, record, role, name);
    let mut digest = Sha256::new();
    digest.update(salt);
    digest.update(file);
    Opening {
        role: role.to_owned(),
        name: name.to_owned(),
        salt: hex(&salt),
        digest: hex(&digest.finalize()),
    }
}

/// The digests of a record without what opens them.
#[must_use]
pub fn commitments(openings: &[Opening]) -> Commitments {
    let files = openings.iter().map(|opening| Commitment {
        role: opening.role.clone(),
        digest: opening.digest.clone(),
    });
    let mut files: Vec<Commitment> = files.collect();
    files.sort();
    Commitments {
        method: METHOD.to_owned(),
        files,
    }
}

impl Commitments {
    /// The bytes of the file.
    #[must_use]
    pub fn write(&self) -> Vec<u8> {
        pretty(self)
    }
}

/// 32 bytes from hexadecimal.
#[must_use]
pub fn bytes(hex: &str) -> Option<[u8; 32]> {
    // The number parser takes a sign, a digest has none.
    if hex.len() != 64 || !hex.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    let mut bytes = [0; 32];
    for (at, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&hex[2 * at..2 * at + 2], 16).ok()?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Made by Python's `hmac` (SHA-256) with 32 bytes of 7 over `quay-2026-01-11\0log\0logs/a.gpx\0`.
    #[test]
    fn the_salt_is_the_hmac_of_record_role_and_name() {
        assert_eq!(
            hex(&salt(&[7; 32], "quay-2026-01-11", "log", "logs/a.gpx")),
            "e052e32f86bf07de1ff7dbb3be15988d63c682b90f8aa7d97379ff4d3fdf0721"
        );
    }

    #[test]
    fn one_file_in_two_records_has_nothing_in_common() {
        let secret = [7; 32];
        let [a, b] = ["quay-2026-01-11", "pier-2026-01-11"]
            .map(|record| open(&secret, record, ("log", "logs/a.gpx"), b"the same"));
        assert_ne!(a.salt, b.salt);
        assert_ne!(a.digest, b.digest);
    }

    #[test]
    fn hexadecimal_goes_there_and_back() {
        let all: [u8; 32] = std::array::from_fn(|at| (at * 8) as u8);
        assert_eq!(bytes(&hex(&all)), Some(all));
        assert_eq!(bytes("zz"), None);
        assert_eq!(bytes(&"+1".repeat(32)), None);
    }
}
