//! Whose signature a folder carries. A key that only lies in the folder shows nothing of its owner.

use super::Check;
use super::folder::Folder;
use crate::record::bag::TAG_MANIFEST;
use crate::record::sign::{self, SIGNATURE, SIGNER};
use ed25519_dalek::VerifyingKey;

const CHECK: &str = "signature";

pub(super) fn check(folder: &Folder, trusted: Option<&VerifyingKey>) -> Check {
    if !folder.has(SIGNATURE) {
        return match trusted {
            None => Check::skipped(CHECK, "none: the folder can show consistency, not origin"),
            Some(_) => Check::fails(
                CHECK,
                format!("{SIGNATURE} is missing: nothing here is signed by the trusted key"),
            ),
        };
    }
    let parts = folder
        .wanted(SIGNATURE)
        .and_then(|signature| Ok((signature, folder.wanted(TAG_MANIFEST)?)));
    let (signature, signed) = match parts {
        Ok(parts) => parts,
        Err(what) => return Check::fails(CHECK, what),
    };
    match trusted {
        Some(key) => by_trusted(folder, key, signed, signature),
        None => by_own(folder, signed, signature),
    }
}

/// By the key that the reader has; the one in the folder is not needed, and what is wrong with it is only said.
fn by_trusted(folder: &Folder, key: &VerifyingKey, signed: &[u8], signature: &[u8]) -> Check {
    let fingerprint = sign::fingerprint(key);
    let mut check = if sign::holds(key, signed, signature) {
        Check::holds(CHECK, format!("by the trusted key, SHA-256 {fingerprint}"))
    } else {
        let what = format!("not by the trusted key, SHA-256 {fingerprint}");
        Check::fails(CHECK, what)
    };
    let aside = match own_key(folder) {
        OwnKey::Key(own) if own != *key => {
            format!("holds another key, SHA-256 {}", sign::fingerprint(&own))
        }
        OwnKey::Unreadable(why) => why,
        OwnKey::Key(_) | OwnKey::Missing => return check,
    };
    let what = format!("{SIGNER} {aside}; the trusted key was used");
    check.details.push(what);
    check
}

/// By the key that lies in the folder: shows consistency only. A key there that cannot be read is a damaged part of the
/// record; one that is not there was never needed.
fn by_own(folder: &Folder, signed: &[u8], signature: &[u8]) -> Check {
    match own_key(folder) {
        OwnKey::Key(key) if sign::holds(&key, signed, signature) => Check::holds(
            CHECK,
            format!(
                "consistent, by the key in the folder, SHA-256 {}: whose key that is you must know yourself (--trust)",
                sign::fingerprint(&key)
            ),
        ),
        OwnKey::Key(_) => Check::fails(CHECK, format!("not by the key in {SIGNER}")),
        OwnKey::Unreadable(why) => Check::fails(
            CHECK,
            format!(
                "{SIGNER} {why}: the signature could not be tried; name the contractor's key with --trust"
            ),
        ),
        OwnKey::Missing => Check::skipped(
            CHECK,
            format!("there is one, and no {SIGNER}: name the contractor's key with --trust"),
        ),
    }
}

/// The key in the folder.
enum OwnKey {
    Key(VerifyingKey),
    /// Why, as a clause whose subject is the file.
    Unreadable(String),
    Missing,
}

fn own_key(folder: &Folder) -> OwnKey {
    if !folder.has(SIGNER) {
        return OwnKey::Missing;
    }
    let bytes = match folder.wanted(SIGNER) {
        Ok(bytes) => bytes,
        Err(_) => return OwnKey::Unreadable("was not read".to_owned()),
    };
    let key = std::str::from_utf8(bytes).ok().and_then(sign::public);
    key.map_or_else(
        || OwnKey::Unreadable("holds no Ed25519 public key in PEM".to_owned()),
        OwnKey::Key,
    )
}
