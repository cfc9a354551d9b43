//! One site's record of a gathered night, as one page of calls.

use super::bag::{self, File};
use super::commit::{self, Opening};
use super::disclose::{self, Disclosed, Show};
use super::document::{self, Record, RigFigures};
use super::evidence::{self, Evidence};
use super::figures::{self, Figures, Worked};
use super::intake::Intake;
use super::sign::{self, Signer};
use super::{FORMAT, RULES, name, page, sheet};
use crate::audit::Gathered;
use crate::error::{Error, Result};
use crate::geometry::place::Instant;
use crate::input::digest::InputFile;
use crate::input::paths::{self, NightPaths};
use crate::notation::numbers::Units;
use crate::site::summary::Summary;
use crate::site::{self, Leg, Outcome};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Folder of the first night's evidence; the number leaves room for further nights.
pub const EVIDENCE: &str = "data/evidence/1/";

/// What is the same for all records of a night.
pub struct Issue<'a> {
    /// The night's files.
    pub paths: &'a NightPaths,
    /// The night.
    pub night: &'a Gathered,
    /// Its files at download.
    pub intake: &'a Intake,
    /// Day of issue, such as `2026-01-12`.
    pub date: String,
    /// Units of the page.
    pub units: Units,
    /// What is shown beyond the usual.
    pub show: Show,
    /// Who signs, if anybody.
    pub signer: Option<&'a Signer>,
}

/// A record ready to be written.
pub struct Made {
    /// Name of its folder.
    pub name: String,
    /// Its files.
    pub files: Vec<File>,
    /// What opens the digests of the originals.
    pub openings: Vec<Opening>,
    /// The document.
    pub record: Record,
}

/// The payload's evidence, computed figures and the disclosure they rest on.
struct Told {
    disclosed: Disclosed,
    files: [Vec<u8>; 4],
    read: Evidence,
    outcome: Outcome,
    figures: Figures,
}

/// The local date on which the night began.
#[must_use]
pub fn night_date(night: &Gathered) -> String {
    let zone = night.files.fleet.defaults.timezone.clone();
    let zone = zone.unwrap_or(jiff::tz::TimeZone::UTC);
    let first = night.span.and_then(|span| span.first.timestamp());
    first.map_or_else(
        || "undated".to_owned(),
        |first| {
            first
                .to_zoned_datetime(zone)
                .strftime("%Y-%m-%d")
                .to_string()
        },
    )
}

/// What became of each site, as the audit has it.
#[must_use]
pub fn outcome(night: &Gathered, site: usize) -> Outcome {
    site::treat(
        &night.sites[site],
        &night.legs[site],
        &night.rules[site],
        false,
    )
}

/// Makes the record of one site.
///
/// # Errors
/// When the night is a plan, an original was changed since its intake, or the figures of the evidence are not
/// the audit's: nothing is worth writing then.
pub fn make(issue: &Issue, site: usize) -> Result<Made> {
    if issue.night.files.fleet.planned {
        return Err(Error::new(
            "the logs are plans: nothing was driven, so there is nothing to record",
        ));
    }
    issue.intake.check(&issue.night.files.files)?;
    let told = tell(issue.night, site, issue.show)?;
    let night = night_date(issue.night);
    let name = name::of(&issue.night.sites[site].id, &night);
    let openings = open(issue, &name, &told)?;
    let opened = openings.iter().map(|of| (&*of.role, &*of.name));
    let taken = issue.intake.last_of(opened);
    let record = document(issue, (&name, night), taken, &told);
    let mut payload = vec![
        (
            page::FILE.to_owned(),
            page::render(&record, &told.read, &told.outcome),
        ),
        (document::FILE.to_owned(), record.write()),
        (sheet::FILE.to_owned(), sheet::render(&record)),
        (
            commit::COMMITMENTS.to_owned(),
            commit::commitments(&openings).write(),
        ),
    ];
    let names = evidence::FILES.map(|file| format!("{EVIDENCE}{file}"));
    payload.extend(names.into_iter().zip(told.files));
    let mut files = bag::bag(payload, &issue.date);
    if let Some(signer) = issue.signer {
        let signed = files.iter().find(|(name, _)| name == bag::TAG_MANIFEST);
        let signature = signer.sign(signed.map_or(&[][..], |(_, bytes)| bytes));
        files.push((sign::SIGNATURE.to_owned(), signature));
        files.push((sign::SIGNER.to_owned(), signer.public_pem()));
    }
    Ok(Made {
        name,
        files,
        openings,
        record,
    })
}

/// The evidence, read back from what was written, and the figures computed from it; the audit's are the same.
fn tell(night: &Gathered, index: usize, show: Show) -> Result<Told> {
    let audited = outcome(night, index);
    let disclosed = disclose::disclose(night, index, &audited, show);
    let files = evidence::write(&disclosed.evidence);
    let [ground, settings, fixes, spans] = &files;
    let read = evidence::read([ground, settings, fixes, spans])
        .map_err(|fault| Error::new(format!("the evidence cannot be read back: {fault}")))?;
    let outcome = site::treat(&read.site, &read.legs, &read.rules, false);
    let figures = of_evidence(&read, &outcome, show);
    let of_audit = figures::of(
        &Worked {
            site: &night.sites[index],
            legs: &night.legs[index],
            rig_of_leg: &disclosed.rig_of_leg,
            rules: &night.rules[index],
            outcome: &audited,
        },
        show.presence,
    );
    if let Some(place) = difference(&of_audit, &figures) {
        return Err(Error::new(format!(
            "site {}: the figures of the evidence are not those of the audit: {place}",
            night.sites[index].id
        ))
        .advice(
            "Nothing was written. Please report this with the night: it is a fault of the program.",
        ));
    }
    Ok(Told {
        disclosed,
        files,
        read,
        outcome,
        figures,
    })
}

/// The figures of some evidence and what became of it.
#[must_use]
pub fn of_evidence(evidence: &Evidence, outcome: &Outcome, show: Show) -> Figures {
    let rigs: Vec<Option<usize>> = evidence.legs.iter().map(|leg| Some(leg.run)).collect();
    let worked = Worked {
        site: &evidence.site,
        legs: &evidence.legs,
        rig_of_leg: &rigs,
        rules: &evidence.rules,
        outcome,
    };
    figures::of(&worked, show.presence)
}

/// The first line in which two sets of figures differ, in any digit.
fn difference(audit: &Figures, evidence: &Figures) -> Option<String> {
    let text = |figures: &Figures| serde_json::to_string_pretty(figures).unwrap_or_default();
    let (audit, evidence) = (text(audit), text(evidence));
    let differs = audit.lines().zip(evidence.lines()).find(|(a, b)| a != b);
    match differs {
        Some((a, b)) => Some(format!("{} is {}", a.trim(), b.trim())),
        None => (audit != evidence).then(|| "one has more of them".to_owned()),
    }
}

/// Opens the originals behind the record: fleet, sites and orders, and the logs that its fixes come from.
fn open(issue: &Issue, name: &str, told: &Told) -> Result<Vec<Opening>> {
    let secret = issue.intake.secret()?;
    let logs = logs_behind(issue.night, told);
    let mut openings = Vec::new();
    for file in &issue.night.files.files {
        if file.role == "log" && !logs.contains(&file.name.as_str()) {
            continue;
        }
        let path = path_of(issue.paths, file)
            .ok_or_else(|| Error::new("the file went while its night was read").at(&file.name))?;
        let (bytes, again) = paths::read_file(path, file.role, issue.paths.night.as_deref())?;
        if again.sha256 != file.sha256 {
            return Err(Error::new("the file was changed while its night was read").at(path));
        }
        openings.push(commit::open(&secret, name, (file.role, &file.name), &bytes));
    }
    Ok(openings)
}

/// Where a file that was read lies.
fn path_of<'a>(paths: &'a NightPaths, file: &InputFile) -> Option<&'a Path> {
    let of_role: Vec<&PathBuf> = match file.role {
        "fleet" => vec![&paths.fleet],
        "sites" => vec![&paths.sites],
        "orders" => paths.orders.iter().collect(),
        _ => paths.logs.iter().collect(),
    };
    let named = |path: &&PathBuf| paths::shown_name(path, paths.night.as_deref()) == file.name;
    of_role.into_iter().find(named).map(PathBuf::as_path)
}

/// Names of the log files over whose time a shown fix lies.
fn logs_behind<'a>(night: &'a Gathered, told: &Told) -> Vec<&'a str> {
    let mut names = Vec::new();
    for (leg, &run) in told
        .disclosed
        .evidence
        .legs
        .iter()
        .zip(&told.disclosed.runs)
    {
        let run: &Summary = &night.runs[run];
        let files = run.files.iter().filter(|file| is_behind(file, leg));
        names.extend(files.map(|file| file.file.as_str()));
    }
    names.sort_unstable();
    names.dedup();
    names
}

/// Stamps of whole seconds are spread over their second: a fix may lie so long after its file's last stamp
/// (tolerance).
const SPREAD_S: f64 = 1.0;

fn is_behind(file: &crate::rig::track::FileSpan, leg: &Leg) -> bool {
    let after = leg.fixes.partition_point(|fix| fix.time < file.start);
    let fix = leg.fixes.get(after);
    fix.is_some_and(|fix| fix.time.seconds_since(file.end) <= SPREAD_S)
}

fn document(issue: &Issue, (name, night): (&str, String), taken: Instant, told: &Told) -> Record {
    let (read, show) = (&told.read, issue.show);
    let fleet = &issue.night.files.fleet;
    let zone = fleet.defaults.timezone.as_ref();
    Record {
        format: FORMAT.to_owned(),
        rules: RULES,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        record: name.to_owned(),
        issued: issue.date.clone(),
        night,
        intake: to_the_minute(taken),
        intake_by: issue.intake.by,
        site: read.site.id.clone(),
        name: read.site.name.clone(),
        client: read.site.client.clone(),
        timezone: zone.and_then(|zone| zone.iana_name()).map(str::to_owned),
        units: issue.units.into(),
        show,
        fixes: read.legs.iter().map(|leg| leg.fixes.len()).sum(),
        fixes_beyond: told.disclosed.beyond,
        on_file: on_file(issue.night, &read.site.id),
        rigs: rigs(issue, told),
        products: read.products.clone(),
        figures: told.figures.clone(),
    }
}

/// Two records of one night must have no number in common that would show them to be of one night.
fn to_the_minute(Instant(us): Instant) -> Instant {
    /// Microseconds in a minute (arithmetic).
    const MINUTE_US: i64 = 60_000_000;
    Instant(us - us.rem_euclid(MINUTE_US))
}

/// What is on file: what the sites file says of the site, else what the fleet file says of the night.
fn on_file(night: &Gathered, site: &str) -> BTreeMap<String, String> {
    let mut entries = night.files.fleet.record.clone();
    let zones = night.files.drawn.zones.iter();
    for zone in zones.rev().filter(|zone| zone.site == site) {
        entries.extend(zone.record.clone());
    }
    entries
}

/// A rig as the evidence has it, by its number from 0; its id, logs and clock are not in it.
#[must_use]
pub fn rig_of(evidence: &Evidence, rig: usize) -> Option<RigFigures> {
    let mut legs = evidence.legs.iter().filter(|leg| leg.run == rig);
    // Of several runs the first one says how the rig was.
    let first = legs.next()?;
    let positions = legs.map(|leg| leg.decided.position_m);
    Some(RigFigures {
        rig: rig + 1,
        id: None,
        logs: Vec::new(),
        sections: first.boom.sections(),
        boom_m: first.boom.width_m(first.boom.all()),
        metered_by: first.decided.metered_by,
        position_m: positions.fold(first.decided.position_m, f64::max),
        position_from: first.decided.position_from,
        clock_offset_s: 0.0,
        coarse_interval_s: first.decided.coarse_interval_s,
    })
}

fn rigs(issue: &Issue, told: &Told) -> Vec<RigFigures> {
    let mut rigs: Vec<RigFigures> = (0..).map_while(|rig| rig_of(&told.read, rig)).collect();
    for (leg, &run) in told.read.legs.iter().zip(&told.disclosed.runs) {
        let summary = &issue.night.runs[run];
        let rig = &mut rigs[leg.run];
        rig.clock_offset_s = summary.clock_offset_s;
        if issue.show.rigs {
            rig.id = Some(issue.night.files.fleet.rigs[summary.rig].id.clone());
        }
        if issue.show.logs {
            let logs = summary.files.iter().filter(|file| is_behind(file, leg));
            rig.logs.extend(logs.map(|file| file.file.clone()));
        }
    }
    rigs
}
