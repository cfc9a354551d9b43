//! Whether a folder holds the files that its lists name, each with its digest, and no other.

use super::folder::Folder;
use super::named::{TAGS, payload};
use super::{Check, CheckResult};
use crate::input::digest::sha256;
use crate::notation::clean;
use crate::record::bag::{self, BAGIT, DECLARATION, INFO, MANIFEST, TAG_MANIFEST};
use crate::record::document;
use std::collections::BTreeSet;

const CHECK: &str = "files";
/// Most lines told of (limit).
const MOST_LINES: usize = 20;

pub(super) fn check(folder: &Folder) -> Check {
    let mut faults: Vec<String> = folder.unread().collect();
    if folder.get(BAGIT).map(Vec::as_slice) != Some(DECLARATION.as_bytes()) {
        faults.push(format!("{BAGIT} does not declare a BagIt 1.0 folder"));
    }
    let tags = TAGS.map(str::to_owned).into();
    against(folder, TAG_MANIFEST, &tags, &mut faults);
    against(folder, MANIFEST, &payload(), &mut faults);
    // BagIt lets tag files pass that no list names.
    let strangers = folder.strangers();
    faults.extend(strangers.map(|name| format!("{} is not part of a record", clean(name))));
    info(folder, &mut faults);
    if faults.is_empty() {
        let count = payload().len() + tags.len();
        return Check::holds(
            CHECK,
            format!("{count} files have the digests of their lists"),
        );
    }
    let more = faults.len().saturating_sub(MOST_LINES);
    faults.truncate(MOST_LINES);
    if more > 0 {
        faults.push(format!("and {more} more"));
    }
    Check::new(CHECK, CheckResult::DoesNotHold, faults)
}

/// Holds one list against the files that it must name.
fn against(folder: &Folder, list: &str, wanted: &BTreeSet<String>, faults: &mut Vec<String>) {
    let bytes = match folder.wanted(list) {
        Ok(bytes) => bytes,
        Err(what) => return faults.push(what),
    };
    let entries = match bag::entries(bytes) {
        Ok(entries) => entries,
        Err(what) => return faults.push(format!("{list}: {what}")),
    };
    let mut named = BTreeSet::new();
    for (digest, name) in entries {
        if !wanted.contains(&name) {
            faults.push(format!(
                "{list} names {}, which is not part of a record",
                clean(&name)
            ));
            continue;
        }
        if !named.insert(name.clone()) {
            faults.push(format!("{list} names {name} twice"));
        }
        match folder.wanted(&name) {
            Ok(bytes) if sha256(bytes) == digest => {}
            Ok(_) => faults.push(format!(
                "{name} was changed: its digest is not that in {list}"
            )),
            Err(what) => faults.push(what),
        }
    }
    let missing = wanted.difference(&named);
    faults.extend(missing.map(|name| format!("{list} does not name {name}")));
}

/// Sizes and the date of issue, where the list says them.
fn info(folder: &Folder, faults: &mut Vec<String>) {
    let Some(text) = folder
        .get(INFO)
        .and_then(|bytes| std::str::from_utf8(bytes).ok())
    else {
        return faults.push(format!("{INFO} is missing or is not text"));
    };
    let value = |label: &str| {
        let mut lines = text.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(of, _)| *of == label).map(|(_, value)| value)
    };
    let payload: Vec<&Vec<u8>> = payload()
        .iter()
        .filter_map(|name| folder.get(name))
        .collect();
    let octets: usize = payload.iter().map(|bytes| bytes.len()).sum();
    if value("Payload-Oxum") != Some(format!("{octets}.{}", payload.len()).as_str()) {
        faults.push(format!(
            "{INFO}: Payload-Oxum does not match the size of the payload"
        ));
    }
    let record = folder.get(document::FILE);
    let record: Option<serde_json::Value> =
        record.and_then(|bytes| serde_json::from_slice(bytes).ok());
    let issued = record
        .as_ref()
        .and_then(|record| record.get("issued")?.as_str());
    if issued.is_some() && value("Bagging-Date") != issued {
        faults.push(format!(
            "{INFO}: Bagging-Date is not the record's date of issue"
        ));
    }
}
