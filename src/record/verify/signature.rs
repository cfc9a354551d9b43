//! Whose signature a folder carries. A key that only lies in the folder proves nothing of its owner.

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
    if let Some(key) = trusted {
        let fingerprint = sign::fingerprint(key);
        return if sign::holds(key, signed, signature) {
            Check::holds(CHECK, format!("by the trusted key, SHA-256 {fingerprint}"))
        } else {
            Check::fails(
                CHECK,
                format!("not by the trusted key, SHA-256 {fingerprint}"),
            )
        };
    }
    let key = folder
        .get(SIGNER)
        .and_then(|bytes| std::str::from_utf8(bytes).ok());
    match key.and_then(sign::public) {
        Some(key) if sign::holds(&key, signed, signature) => Check::holds(
            CHECK,
            format!(
                "consistent, by the key in the folder, SHA-256 {}: whose key that is you must know yourself (--trust)",
                sign::fingerprint(&key)
            ),
        ),
        Some(_) => Check::fails(CHECK, format!("not by the key in {SIGNER}")),
        None => Check::skipped(
            CHECK,
            format!("no key: {SIGNER} holds none; give one with --trust"),
        ),
    }
}
