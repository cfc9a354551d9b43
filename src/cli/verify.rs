//! `swathbook verify`: what of a service record holds.

use super::Exit;
use super::finish::finish_page;
use super::flags::EpsgCode;
use super::nights::NightArguments;
use crate::error::Result;
use crate::input::paths::NightPaths;
use crate::notation::clean;
use crate::notation::numbers::Units;
use crate::record::document::PageUnits;
use crate::record::make::Issue;
use crate::record::verify::{self, CheckResult, Given, Verified, folder};
use crate::record::{Record, document, intake, sign, words};
use crate::report::json;
use crate::report::write;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Folder of the record: the one that holds bagit.txt and data/.
    folder: PathBuf,
    /// The contractor's public key, as you got it from the contractor: Ed25519 in PEM.
    #[arg(long, value_name = "PUBKEY.pem")]
    trust: Option<PathBuf>,
    /// The night from which the record was made, with its intake.json: opens the digests of the originals and derives the
    /// evidence from them again.
    #[arg(long, value_name = "NIGHT")]
    night: Option<PathBuf>,
    /// EPSG code of the night's sites file, when its coordinates are not longitude and latitude.
    #[arg(long, value_name = "CODE", requires = "night")]
    sites_crs: Option<EpsgCode>,
    /// Write the record's strips in metres to this file, so that its areas can be computed with other tools.
    #[arg(long, value_name = "FILE")]
    strips: Option<PathBuf>,
    /// Print JSON instead of lines.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When nothing could be checked.
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    let trusted = arguments.trust.as_deref().map(sign::trusted).transpose()?;
    let verified = match &arguments.night {
        Some(night) => with_night(arguments, night, trusted)?,
        None => verify::verify(
            &arguments.folder,
            &Given {
                trusted,
                night: None,
                strips: arguments.strips.is_some(),
            },
        )?,
    };
    if let (Some(path), Some(strips)) = (&arguments.strips, &verified.strips) {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let files = vec![(name.as_ref(), json::strips(std::slice::from_ref(strips)))];
        write::write_all(folder.unwrap_or(Path::new(".")), files, &[""; 0])?;
    }
    let text = if arguments.json {
        as_json(&verified)
    } else {
        as_lines(&verified)
    };
    finish_page(&text, !verified.holds())
}

/// With the night's files: the record says how it was issued.
fn with_night(
    arguments: &Arguments,
    night: &Path,
    trusted: Option<ed25519_dalek::VerifyingKey>,
) -> Result<Verified> {
    let files = NightArguments::of(night.to_path_buf(), arguments.sites_crs);
    let paths: NightPaths = files.paths()?;
    let gathered = files.gather(&paths)?;
    let intake = intake::read(night)?.ok_or_else(|| {
        crate::error::Error::new("the night has no intake.json, whose secret opens the digests")
            .at(night)
    })?;
    let stated = folder::read(&arguments.folder)?;
    let record: Option<Record> = stated
        .get(document::FILE)
        .and_then(|bytes| serde_json::from_slice(bytes).ok());
    let issue = record.as_ref().map(|record| Issue {
        paths: &paths,
        night: &gathered,
        intake: &intake,
        date: record.issued.clone(),
        units: match record.units {
            PageUnits::Us => Units::Us,
            PageUnits::Metric => Units::Metric,
        },
        show: record.show,
        signer: None,
    });
    verify::verify(
        &arguments.folder,
        &Given {
            trusted,
            night: issue.as_ref(),
            strips: arguments.strips.is_some(),
        },
    )
}

fn as_json(verified: &Verified) -> String {
    let value = serde_json::json!({
        "format": "swathbook-verify/1",
        "record": verified.record.as_ref().map(|record| &record.record),
        "holds": verified.holds(),
        "checks": verified.checks,
    });
    format!("{value:#}\n")
}

fn as_lines(verified: &Verified) -> String {
    let mut text = String::new();
    for check in &verified.checks {
        let mut details = check.details.iter();
        let first = details
            .next()
            .map_or_else(String::new, |first| format!(": {}", clean(first)));
        text += &format!("{:<12} {}{first}\n", check.check, check.result.words());
        for detail in details {
            text += &format!("{:12} {}\n", "", clean(detail));
        }
    }
    if let Some(record) = &verified.record {
        text += &figures(record);
    }
    let failed = verified
        .checks
        .iter()
        .filter(|check| check.result == CheckResult::DoesNotHold);
    let skipped = verified
        .checks
        .iter()
        .filter(|check| check.result == CheckResult::NotChecked);
    let skipped: Vec<&str> = skipped.map(|check| check.check).collect();
    if !skipped.is_empty() {
        text += &format!("Not checked: {}.\n", skipped.join(", "));
    }
    text += &match failed.count() {
        0 => "All that was checked holds. No check tells whether the loggers were right, whether a point was left out, or what state the ground was in.\n".to_owned(),
        1 => "One check does not hold.\n".to_owned(),
        number => format!("{number} checks do not hold.\n"),
    };
    text
}

/// What the record states, in short.
fn figures(record: &Record) -> String {
    let style = record.style();
    let mut lines = vec![
        String::new(),
        format!(
            "{}, night of {}, issued {}:",
            words::site(record),
            clean(&record.night),
            clean(&record.issued)
        ),
    ];
    for application in &record.figures.applications {
        lines.push(format!(
            "Application {}: {}.",
            application.number,
            words::outcome(application)
        ));
        let visits = application.visits.iter();
        lines.extend(visits.map(|visit| format!("  {}", words::visit(record, visit, &style))));
        for zone in &application.zones {
            let areas = [
                zone.liquid_m2,
                zone.patches_m2,
                zone.perhaps_m2,
                zone.no_fixes_m2,
            ];
            let areas =
                areas.map(|m2| m2.map_or_else(|| "-".to_owned(), |m2| words::area(&style, m2)));
            let [liquid, patches, perhaps, none] = areas;
            lines.push(format!(
                "  {}: {}; liquid logged {liquid}, patches {patches}, perhaps {perhaps}, no fixes {none}",
                clean(&zone.zone),
                words::area(&style, zone.area_m2)
            ));
        }
    }
    if record.figures.applications.is_empty() {
        lines.push("The logs received show no treatment of this site.".to_owned());
    }
    lines.push(String::new());
    lines.join("\n") + "\n"
}
