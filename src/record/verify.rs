//! A record read back: what of it holds.
//!
//! The folder may come from anybody. It is read under limits, no link is followed, nothing in it is trusted: not its
//! lists, not its key, not its figures. Each check says `holds`, `does not hold` or `not checked`, and why.
//!
//! | check | module | holds when |
//! |---|---|---|
//! | files | [`folder`], [`files`] | every file is listed with its digest, and no other file is there |
//! | signature | [`signature`] | it is the trusted key's |
//! | figures | [`compare`], `drawn` | computed again from the evidence they are the same, and the ground lies as it was drawn |
//! | page, spreadsheet | | made again from the figures they are the same bytes |
//! | originals | | the night's files have these digests and give this evidence |

pub mod compare;
mod drawn;
pub mod files;
pub mod folder;
pub mod named;
pub mod signature;

use super::document::{self, Record, RigFigures};
use super::evidence::settings::Liquid;
use super::evidence::{self, Evidence};
use super::make::{self, EVIDENCE, Issue};
use super::{FIRST_RULES, FORMAT, RULES, commit, page, sheet, sign};
use crate::error::{Error, Result};
use crate::result::SiteStrips;
use crate::site::{self, Outcome};
use ed25519_dalek::VerifyingKey;
use folder::Folder;
use serde::Serialize;
use serde_json::Value;
use std::path::Path;

/// What became of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckResult {
    /// It holds.
    Holds,
    /// It does not.
    DoesNotHold,
    /// It was not looked at.
    NotChecked,
}

impl CheckResult {
    /// As it is printed.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::DoesNotHold => "does not hold",
            Self::NotChecked => "not checked",
        }
    }
}

/// One check.
#[derive(Debug, Clone, Serialize)]
pub struct Check {
    /// What was looked at.
    pub check: &'static str,
    /// What became of it.
    pub result: CheckResult,
    /// Why, and what differs: a line each.
    pub details: Vec<String>,
}

impl Check {
    fn new(check: &'static str, result: CheckResult, details: Vec<String>) -> Self {
        Self {
            check,
            result,
            details,
        }
    }

    fn holds(check: &'static str, detail: impl Into<String>) -> Self {
        Self::new(check, CheckResult::Holds, vec![detail.into()])
    }

    fn fails(check: &'static str, detail: impl Into<String>) -> Self {
        Self::new(check, CheckResult::DoesNotHold, vec![detail.into()])
    }

    fn skipped(check: &'static str, detail: impl Into<String>) -> Self {
        Self::new(check, CheckResult::NotChecked, vec![detail.into()])
    }
}

/// What a reader is told of a folder.
pub struct Verified {
    /// In the order in which they are printed.
    pub checks: Vec<Check>,
    /// The record as it stands there, where it can be read.
    pub record: Option<Record>,
    /// Its strips, computed again, where they were asked for.
    pub strips: Option<SiteStrips>,
}

impl Verified {
    /// Everything that was checked holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        let mut checks = self.checks.iter();
        checks.all(|check| check.result != CheckResult::DoesNotHold)
    }
}

/// What the reader has beside the folder.
#[derive(Default)]
pub struct Given<'a> {
    /// A key that is known to be the contractor's.
    pub trusted: Option<VerifyingKey>,
    /// The night from which the record was made.
    pub night: Option<&'a Issue<'a>>,
    /// Strips are wanted.
    pub strips: bool,
}

/// Checks a record's folder.
///
/// # Errors
/// When nothing could be checked: no record is there, it cannot be read, or a later version wrote it.
pub fn verify(path: &Path, given: &Given) -> Result<Verified> {
    let folder = folder::read(path)?;
    if !folder.has(super::bag::BAGIT) && !folder.has(document::FILE) {
        return Err(Error::new("this folder holds no service record")
            .at(path)
            .advice("Name the folder that holds bagit.txt and data/."));
    }
    let mut checks = vec![
        files::check(&folder),
        signature::check(&folder, given.trusted.as_ref()),
    ];
    let whole = checks[0].result == CheckResult::Holds;
    let version = Version::of(&folder);
    if let (true, Some(version)) = (whole, &version)
        && let Some(what) = version.later()
    {
        return Err(Error::new(what).at(path).advice(format!(
            "swathbook {} wrote it; that version or a later one reads it.",
            version.program
        )));
    }
    let mut verified = Verified {
        checks: Vec::new(),
        record: None,
        strips: None,
    };
    let read = figures(&folder, version.as_ref(), given, &mut verified, &mut checks);
    match &read {
        Some((evidence, outcome)) => {
            checks.extend(views(&folder, verified.record.as_ref(), evidence, outcome));
        }
        None => {
            let what = "the figures they are made from were not computed again";
            checks.extend(["page", "spreadsheet"].map(|check| Check::skipped(check, what)));
        }
    }
    checks.push(originals(&folder, verified.record.as_ref(), given));
    if folder.has(sign::TIMESTAMP) {
        let how = "timestamp.tsr is there; check it with: openssl ts -verify -data tagmanifest-sha256.txt -in timestamp.tsr -CAfile CA.pem";
        checks.push(Check::skipped("time stamp", how));
    }
    verified.checks = checks;
    Ok(verified)
}

/// What a document says of its layout before anything else is read.
struct Version {
    format: String,
    rules: u64,
    program: String,
}

impl Version {
    fn of(folder: &Folder) -> Option<Self> {
        let value: Value = serde_json::from_slice(folder.get(document::FILE)?).ok()?;
        let text = |name: &str| Some(value.get(name)?.as_str()?.to_owned());
        Some(Self {
            format: text("format")?,
            rules: value.get("rules")?.as_u64()?,
            program: crate::notation::clean(&text("program")?).into_owned(),
        })
    }

    /// What is newer than this program.
    fn later(&self) -> Option<String> {
        let number = |format: &str| {
            format
                .strip_prefix("swathbook-record/")?
                .parse::<u64>()
                .ok()
        };
        let (own, other) = (number(FORMAT)?, number(&self.format)?);
        if other > own {
            return Some(format!(
                "the record has format {other}; this program knows {own}"
            ));
        }
        let known = u64::from(RULES);
        (self.rules > known).then(|| {
            format!(
                "the record was computed by rules {}; this program knows {known}",
                self.rules
            )
        })
    }
}

const FIGURES: &str = "figures";

/// Computes everything again from the evidence and compares.
fn figures(
    folder: &Folder,
    version: Option<&Version>,
    given: &Given,
    verified: &mut Verified,
    checks: &mut Vec<Check>,
) -> Option<(Evidence, Outcome)> {
    if version.is_some_and(|version| version.rules < u64::from(FIRST_RULES)) {
        let what = "there have never been such rules: no release computed these figures";
        checks.push(Check::fails(FIGURES, what));
        return None;
    }
    if let Some(version) = version.filter(|version| version.rules < u64::from(RULES)) {
        let what = format!("computed by older rules: use swathbook {}", version.program);
        checks.push(Check::skipped(FIGURES, what));
        return None;
    }
    let record = match record(folder) {
        Ok(record) => record,
        Err(what) => {
            checks.push(Check::fails(FIGURES, what));
            return None;
        }
    };
    let evidence = match read_evidence(folder) {
        Ok(evidence) => evidence,
        Err(what) => {
            checks.push(Check::fails(FIGURES, what));
            verified.record = Some(record);
            return None;
        }
    };
    let outcome = site::treat(
        &evidence.site,
        &evidence.legs,
        &evidence.rules,
        given.strips,
    );
    let figures = make::of_evidence(&evidence, &outcome, record.show);
    let mut compared = compare::figures(
        &record.figures,
        &figures,
        evidence.rules.likely,
        &outcome.orders,
    );
    compared.differences.extend(drawn::differences(&evidence));
    compared.differences.extend(about(&record, &evidence));
    checks.push(compared.check(FIGURES));
    verified.strips.clone_from(&outcome.strips);
    verified.record = Some(record);
    Some((evidence, outcome))
}

fn record(folder: &Folder) -> std::result::Result<Record, String> {
    let bytes = folder.wanted(document::FILE)?;
    let record: Record =
        serde_json::from_slice(bytes).map_err(|error| format!("{}: {error}", document::FILE))?;
    if record.format != FORMAT {
        return Err(format!("{}: its format is not {FORMAT}", document::FILE));
    }
    Ok(record)
}

fn read_evidence(folder: &Folder) -> std::result::Result<Evidence, String> {
    let files = evidence::FILES.map(|name| folder.wanted(&format!("{EVIDENCE}{name}")));
    let [ground, settings, fixes, spans] = files;
    evidence::read([ground?, settings?, fixes?, spans?])
        .map_err(|fault| format!("{EVIDENCE}{fault}"))
}

/// What the document says of the evidence beside its figures.
fn about(record: &Record, evidence: &Evidence) -> Vec<String> {
    let mut differences = Vec::new();
    let mut same = |what: &str, said: Value, found: Value| {
        if said != found {
            differences.push(format!(
                "{what}: the record has {said}, the evidence {found}"
            ));
        }
    };
    let fixes = evidence.legs.iter().flat_map(|leg| &leg.fixes);
    let beyond = fixes.clone().filter(|fix| !fix.here).count();
    same("fixes", record.fixes.into(), fixes.count().into());
    same("fixes_beyond", record.fixes_beyond.into(), beyond.into());
    let site = &evidence.site;
    same("site", record.site.clone().into(), site.id.clone().into());
    same("name", record.name.clone().into(), site.name.clone().into());
    same(
        "client",
        record.client.clone().into(),
        site.client.clone().into(),
    );
    let products = |of: &[Liquid]| serde_json::json!(of);
    same(
        "products",
        products(&record.products),
        products(&evidence.products),
    );
    let rigs = evidence
        .legs
        .iter()
        .map(|leg| leg.run + 1)
        .max()
        .unwrap_or(0);
    same("number of rigs", record.rigs.len().into(), rigs.into());
    for (at, rig) in record.rigs.iter().enumerate() {
        let found = make::rig_of(evidence, at);
        // What the evidence does not hold is the contractor's word.
        let said = RigFigures {
            id: None,
            logs: Vec::new(),
            clock_offset_s: 0.0,
            ..rig.clone()
        };
        same(
            &format!("rig {}", rig.rig),
            serde_json::json!(said),
            serde_json::json!(found),
        );
    }
    differences
}

/// The page and the spreadsheet, made again.
fn views(
    folder: &Folder,
    record: Option<&Record>,
    evidence: &Evidence,
    outcome: &Outcome,
) -> Vec<Check> {
    let Some(record) = record else {
        return Vec::new();
    };
    if record.program != env!("CARGO_PKG_VERSION") {
        let program = crate::notation::clean(&record.program);
        let what = format!("swathbook {program} wrote it in other words: go by the figures below");
        return ["page", "spreadsheet"]
            .map(|check| Check::skipped(check, what.clone()))
            .into();
    }
    let same = |check, name: &str, made: Vec<u8>| match folder.wanted(name) {
        Ok(found) if found == made => Check::holds(check, "made again, byte for byte the same"),
        Ok(_) => Check::fails(check, format!("{name} does not follow from the figures")),
        Err(what) => Check::fails(check, what),
    };
    vec![
        same("page", page::FILE, page::render(record, evidence, outcome)),
        same("spreadsheet", sheet::FILE, sheet::render(record)),
    ]
}

/// Opens the digests with the night's files, and derives the evidence from them again.
fn originals(folder: &Folder, record: Option<&Record>, given: &Given) -> Check {
    const CHECK: &str = "originals";
    let commitments = folder.get(commit::COMMITMENTS);
    let read: Option<commit::Commitments> =
        commitments.and_then(|bytes| serde_json::from_slice(bytes).ok());
    let Some(commitments) = read else {
        return Check::fails(CHECK, format!("{} holds no digests", commit::COMMITMENTS));
    };
    if given.night.is_some() && record.is_none() {
        return Check::skipped(CHECK, "the record's figures could not be read");
    }
    let (Some(issue), Some(record)) = (given.night, record) else {
        let what = format!(
            "{} digests of files that are not in the record; --night NIGHT checks them",
            commitments.files.len()
        );
        return Check::skipped(CHECK, what);
    };
    let site = issue
        .night
        .sites
        .iter()
        .position(|site| site.id == record.site);
    let Some(site) = site else {
        return Check::fails(CHECK, "the night has no such site");
    };
    let made = match make::make(issue, site) {
        Ok(made) => made,
        Err(error) => return Check::fails(CHECK, error.to_string()),
    };
    let again = made
        .files
        .iter()
        .filter(|(name, _)| name.starts_with(EVIDENCE) || name == commit::COMMITMENTS);
    let again = again
        .filter(|(name, bytes)| folder.get(name) != Some(bytes))
        .map(|(name, _)| name.as_str());
    // Another release may have written it: all else that it says must be the night's.
    let stated = Record {
        program: made.record.program.clone(),
        ..record.clone()
    };
    let document = (stated.write() != made.record.write()).then_some(document::FILE);
    let differs: Vec<String> = again
        .chain(document)
        .map(|name| format!("{name} does not follow from the night's files"))
        .collect();
    if differs.is_empty() {
        let count = commitments.files.len();
        return Check::holds(
            CHECK,
            format!(
                "{count} files of the night have these digests and yield this evidence and these figures"
            ),
        );
    }
    Check::new(CHECK, CheckResult::DoesNotHold, differs)
}
