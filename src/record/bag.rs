//! A record's folder as a BagIt bag (RFC 8493, version 1.0): a payload under `data/`, and lists of digests that any
//! archivist's tool and `sha256sum` can check.

use crate::input::digest::sha256;
use std::fmt::Write as _;

/// The list of the payload's digests.
pub const MANIFEST: &str = "manifest-sha256.txt";
/// The list of the other lists' digests: what is signed.
pub const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// What says that the folder is a bag.
pub const BAGIT: &str = "bagit.txt";
/// What says when and by which program it was made.
pub const INFO: &str = "bag-info.txt";
/// The bytes of [`BAGIT`] (RFC 8493, section 2.1.1).
pub const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// Name and bytes of a file, with `/` between folders.
pub type File = (String, Vec<u8>);

/// The files of a bag around a payload, whose names begin with `data/`; `date` is the day of issue.
#[must_use]
pub fn bag(payload: Vec<File>, date: &str) -> Vec<File> {
    let octets: usize = payload.iter().map(|(_, bytes)| bytes.len()).sum();
    let info = format!(
        "Bag-Software-Agent: swathbook {}\nBagging-Date: {date}\nPayload-Oxum: {octets}.{}\n",
        env!("CARGO_PKG_VERSION"),
        payload.len()
    );
    let mut tags = vec![
        (BAGIT.to_owned(), DECLARATION.as_bytes().to_vec()),
        (INFO.to_owned(), info.into_bytes()),
        (MANIFEST.to_owned(), manifest(&payload)),
    ];
    tags.push((TAG_MANIFEST.to_owned(), manifest(&tags)));
    tags.extend(payload);
    tags
}

/// One line a file: digest, two blanks, name; as `sha256sum -c` reads it.
fn manifest(files: &[File]) -> Vec<u8> {
    let mut text = String::new();
    let mut files: Vec<&File> = files.iter().collect();
    files.sort();
    for (name, bytes) in files {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{}  {name}", sha256(bytes));
    }
    text.into_bytes()
}

/// The entries of a manifest: digest and name of each file.
///
/// # Errors
/// A line that is none, as a clause.
pub fn entries(manifest: &[u8]) -> Result<Vec<(String, String)>, String> {
    let text = std::str::from_utf8(manifest).map_err(|_| "it is not UTF-8".to_owned())?;
    let entry = |(number, line): (usize, &str)| {
        let parts = line.split_once("  ");
        let entry = parts.filter(|(digest, _)| {
            digest.len() == 64
                && digest
                    .bytes()
                    .all(|c| c.is_ascii_digit() || (b'a'..=b'f').contains(&c))
        });
        let entry = entry.map(|(digest, name)| (digest.to_owned(), name.to_owned()));
        entry.ok_or_else(|| format!("line {} is not a digest with a name", number + 1))
    };
    text.lines().enumerate().map(entry).collect()
}
