//! The files that a record has.

use crate::record::bag::{BAGIT, INFO, MANIFEST, TAG_MANIFEST};
use crate::record::{commit, document, evidence, make, page, sheet, sign};
use std::collections::BTreeSet;

/// The files of a payload, whatever the record.
#[must_use]
pub fn payload() -> BTreeSet<String> {
    let views = [page::FILE, document::FILE, sheet::FILE, commit::COMMITMENTS];
    let evidence = evidence::FILES.map(|name| format!("{}{name}", make::EVIDENCE));
    views
        .map(str::to_owned)
        .into_iter()
        .chain(evidence)
        .collect()
}

/// The bag's own files.
pub(super) const TAGS: [&str; 3] = [BAGIT, INFO, MANIFEST];
/// What no list names.
const BESIDE: [&str; 4] = [TAG_MANIFEST, sign::SIGNATURE, sign::SIGNER, sign::TIMESTAMP];

/// Whether a record has a file of this name.
#[must_use]
pub fn belongs(name: &str) -> bool {
    TAGS.contains(&name) || BESIDE.contains(&name) || payload().contains(name)
}
