//! Signatures: Ed25519 (RFC 8032) over the bytes of `tagmanifest-sha256.txt`, keys as OpenSSL writes them (PKCS#8 and
//! SPKI in PEM, RFC 8410). The program makes no keys.

use crate::error::{Error, Result};
use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use ed25519_dalek::pkcs8::{DecodePrivateKey, DecodePublicKey, EncodePublicKey};
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};
use std::io::Read as _;
use std::path::Path;

/// Name of the signature in a record.
pub const SIGNATURE: &str = "signature.ed25519";
/// Name of the public key in a record.
pub const SIGNER: &str = "signer.pem";
/// Name of a time stamp (RFC 3161) that somebody may have put there.
pub const TIMESTAMP: &str = "timestamp.tsr";

/// Largest key file, bytes: an Ed25519 key has 119 (limit).
const MOST_BYTES: u64 = 64 << 10;

/// A private key.
pub struct Signer {
    key: SigningKey,
    /// Others than its owner can read the file.
    pub readable: bool,
}

/// Reads a private key.
///
/// # Errors
/// A file that is no Ed25519 private key in PEM, and what to do.
pub fn signer(path: &Path) -> Result<Signer> {
    let text = pem(path)?;
    let refused = |what: &str, advice: &str| Err(Error::new(what).at(path).advice(advice));
    let make = "Make a key with: openssl genpkey -algorithm ed25519 -out KEY.pem";
    if text.contains("BEGIN PUBLIC KEY") {
        return refused(
            "expected a private key, found a public key",
            "Name the private key here; the public one is for those who verify.",
        );
    }
    if text.contains("ENCRYPTED") {
        return refused(
            "the key is encrypted",
            "Decrypt it into a place that only you can read: openssl pkey -in KEY.pem -out PLAIN.pem",
        );
    }
    if text.contains("BEGIN OPENSSH") {
        return refused("expected a PKCS#8 key, found one of OpenSSH", make);
    }
    if !text.contains("BEGIN PRIVATE KEY") {
        return refused("this is not an Ed25519 private key in PEM (PKCS#8)", make);
    }
    match SigningKey::from_pkcs8_pem(&text) {
        Ok(key) => Ok(Signer {
            key,
            readable: is_readable_by_others(path),
        }),
        Err(_) => refused("the key is of another kind than Ed25519, or damaged", make),
    }
}

/// Reads a public key.
///
/// # Errors
/// A file that is no Ed25519 public key in PEM, and what to do.
pub fn trusted(path: &Path) -> Result<VerifyingKey> {
    let text = pem(path)?;
    let advice = "Its owner can make it with: openssl pkey -in KEY.pem -pubout -out PUBKEY.pem";
    if text.contains("PRIVATE KEY") {
        return Err(Error::new("expected a public key, found a private key")
            .at(path)
            .advice(advice));
    }
    public(&text).ok_or_else(|| {
        Error::new("this is not an Ed25519 public key in PEM")
            .at(path)
            .advice(advice)
    })
}

/// A public key from its PEM text.
#[must_use]
pub fn public(text: &str) -> Option<VerifyingKey> {
    VerifyingKey::from_public_key_pem(text).ok()
}

fn pem(path: &Path) -> Result<String> {
    let failed =
        |cause: std::io::Error| Error::new(format!("the key cannot be read: {cause}")).at(path);
    let about = std::fs::metadata(path).map_err(failed)?;
    if !about.is_file() || about.len() > MOST_BYTES {
        return Err(Error::new("expected a key, a small file").at(path));
    }
    let mut text = String::new();
    let file = std::fs::File::open(path).map_err(failed)?;
    match file.take(MOST_BYTES).read_to_string(&mut text) {
        Err(cause) if cause.kind() == std::io::ErrorKind::InvalidData => Err(Error::new(
            "expected a key in PEM, which is text",
        )
        .at(path)
        .advice("A key in DER becomes one in PEM with: openssl pkey -inform DER -in KEY.der -out KEY.pem")),
        Err(cause) => Err(failed(cause)),
        Ok(_) => Ok(text),
    }
}

#[cfg(unix)]
fn is_readable_by_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt as _;
    std::fs::metadata(path).is_ok_and(|about| about.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn is_readable_by_others(_: &Path) -> bool {
    false
}

impl Signer {
    /// The signature of some bytes.
    #[must_use]
    pub fn sign(&self, bytes: &[u8]) -> Vec<u8> {
        self.key.sign(bytes).to_bytes().to_vec()
    }

    /// The public key in PEM.
    ///
    /// # Panics
    /// If a public key made no PEM, which it always does.
    #[must_use]
    pub fn public_pem(&self) -> Vec<u8> {
        let pem = self.key.verifying_key().to_public_key_pem(LineEnding::LF);
        pem.expect("a public key always makes PEM").into_bytes()
    }
}

/// Whether a signature is this key's; keys and signatures that more than one message fits are refused.
#[must_use]
pub fn holds(key: &VerifyingKey, bytes: &[u8], signature: &[u8]) -> bool {
    let signature = Signature::from_slice(signature);
    signature.is_ok_and(|signature| key.verify_strict(bytes, &signature).is_ok())
}

/// SHA-256 of the key in DER, hexadecimal: what `openssl pkey -pubin -outform DER | sha256sum` prints.
///
/// # Panics
/// If a public key made no DER, which it always does.
#[must_use]
pub fn fingerprint(key: &VerifyingKey) -> String {
    let der = key
        .to_public_key_der()
        .expect("a public key always makes DER");
    crate::input::digest::hex(&Sha256::digest(der.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, section 7.1, test 2: secret key, public key, message 72, signature.
    #[test]
    fn the_published_signature_comes_out() {
        let secret = super::super::commit::bytes(
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        );
        let key = SigningKey::from_bytes(&secret.unwrap());
        let signer = Signer {
            key,
            readable: false,
        };
        assert_eq!(
            crate::input::digest::hex(&signer.sign(&[0x72])),
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
             085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        );
        let pem = String::from_utf8(signer.public_pem()).unwrap();
        let public = public(&pem).unwrap();
        assert!(holds(&public, &[0x72], &signer.sign(&[0x72])));
        assert!(!holds(&public, &[0x73], &signer.sign(&[0x72])));
    }
}
