//! `swathbook record`: service records.

use super::finish::finish_page;
use super::flags::WorkFlags;
use super::nights::{NightArguments, check_out, day, now};
use super::threads::start_threads;
use super::{Exit, intake as intake_command, say};
use crate::audit::Gathered;
use crate::error::{Error, Result};
use crate::notation::clean;
use crate::record::commit::{OPENINGS, Openings};
use crate::record::disclose::{Show, has_liquid};
use crate::record::intake::{self, By, Intake};
use crate::record::make::{self, Issue, Made};
use crate::record::sign;
use crate::report::write;
use clap::ValueEnum;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("which").required(true))]
pub(super) struct Arguments {
    #[command(flatten)]
    night: NightArguments,
    /// Site to make a record of; may be given several times.
    #[arg(long, value_name = "ID", group = "which")]
    site: Vec<String>,
    /// A record of every site with liquid in the logs.
    #[arg(long, group = "which")]
    all: bool,
    /// Folder in which the records' folders are made. A record that is there already is never replaced.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Day of issue; the default is today's.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<String>,
    /// Private key to sign with: Ed25519, PKCS#8 in PEM.
    #[arg(long, value_name = "KEY.pem")]
    sign: Option<PathBuf>,
    /// List visits without liquid too.
    #[arg(long)]
    presence: bool,
    /// What else to disclose: the rigs' ids, the log files' names, the zones' other properties.
    #[arg(long, value_enum, value_name = "WHAT", value_delimiter = ',')]
    show: Vec<ShowFlag>,
    #[command(flatten)]
    work: WorkFlags,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ShowFlag {
    Rigs,
    Logs,
    Properties,
}

/// Runs the command.
///
/// # Errors
/// When the night cannot be read, a site is not there, a record is there already or cannot be written.
pub(super) fn run(arguments: &Arguments) -> Result<Exit> {
    start_threads(arguments.work.threads)?;
    let paths = arguments.night.paths()?;
    check_out(&paths, &arguments.out)?;
    let signer = arguments.sign.as_deref().map(sign::signer).transpose()?;
    if let (Some(signer), Some(path)) = (&signer, &arguments.sign)
        && signer.readable
    {
        let what = "others can read this key, and sign as you: chmod 600 KEY.pem";
        say(&format!("{}: {what}", path.display()));
    }
    let night = arguments.night.gather(&paths)?;
    let sites = wanted(&night, arguments)?;
    let show = |flag: ShowFlag| arguments.show.contains(&flag);
    let intake = taken(&night, arguments.night.folder())?;
    let issue = Issue {
        paths: &paths,
        night: &night,
        intake: &intake,
        date: arguments.date.clone().unwrap_or_else(|| today(&night)),
        units: arguments.work.units.into(),
        show: Show {
            presence: arguments.presence,
            rigs: show(ShowFlag::Rigs),
            logs: show(ShowFlag::Logs),
            properties: show(ShowFlag::Properties),
        },
        signer: signer.as_ref(),
    };
    let made = sites.iter().map(|&site| make::make(&issue, site));
    let made: Vec<Made> = made.collect::<Result<_>>()?;
    let text = write::alone(&arguments.out, || write_all(&arguments.out, made))?;
    finish_page(&text, false)
}

/// Today where the night's times are given.
fn today(night: &Gathered) -> String {
    let zone = night.files.fleet.defaults.timezone.clone();
    let now = jiff::Timestamp::now().to_zoned_datetime(zone.unwrap_or(jiff::tz::TimeZone::UTC));
    now.strftime("%Y-%m-%d").to_string()
}

/// The sites to make records of.
fn wanted(night: &Gathered, arguments: &Arguments) -> Result<Vec<usize>> {
    let known = |id: &String| {
        let site = night.sites.iter().position(|site| site.id == *id);
        site.ok_or_else(|| {
            Error::new(format!("there is no site {id:?} in the sites file"))
                .advice("`swathbook audit` lists the sites.")
        })
    };
    if !arguments.all {
        let mut sites: Vec<usize> = arguments.site.iter().map(known).collect::<Result<_>>()?;
        sites.sort_unstable();
        sites.dedup();
        return Ok(sites);
    }
    let to_treat = (0..night.sites.len()).filter(|&site| {
        let mut zones = night.sites[site].zones.iter();
        zones.any(|zone| zone.is_to_treat())
    });
    let (wet, dry): (Vec<usize>, Vec<usize>) =
        to_treat.partition(|&site| make::outcome(night, site).visits.iter().any(has_liquid));
    if !dry.is_empty() {
        let names: Vec<String> = dry
            .iter()
            .map(|&site| clean(&night.sites[site].id).into_owned())
            .collect();
        say(&format!(
            "no liquid logged at {}: no record is made of them; --site ID makes one all the same",
            names.join(", ")
        ));
    }
    if wet.is_empty() {
        return Err(Error::new("the logs show liquid on no site's ground"));
    }
    Ok(wet)
}

/// The night's intake; made now where there is none.
fn taken(night: &Gathered, folder: &Path) -> Result<Intake> {
    if let Some(intake) = intake::read(folder)? {
        intake.check(&night.files.files)?;
        return Ok(intake);
    }
    let intake = intake::take(&night.files.files, now(), By::Record)?;
    intake_command::write(folder, &intake)?;
    say(&format!(
        "{}: made now, and the records say so. Run `swathbook intake` at download, and keep a copy of the file where only you can read it.",
        folder.join(intake::FILE).display()
    ));
    Ok(intake)
}

/// Writes the records and says where they are. What opens their digests comes first: a run that is cut short may leave
/// openings of a record that was not written, never a record that nobody can open.
fn write_all(out: &Path, made: Vec<Made>) -> Result<String> {
    for made in &made {
        if out.join(&made.name).symlink_metadata().is_ok() {
            return Err(Error::new("there is a record of this name already")
                .at(out.join(&made.name))
                .advice("A record that was given out is never replaced: move it away, or name another folder for --out."));
        }
    }
    let mut openings = read_openings(out)?;
    for made in &made {
        let own = made.openings.clone();
        openings.records.insert(made.name.clone(), own);
    }
    write::write_private(out, OPENINGS, &openings.write())?;
    let mut text = String::new();
    for made in made {
        write::write_folder(out, &made.name, &made.files)?;
        text += &format!("{}\n", out.join(&made.name).display());
    }
    Ok(text)
}

/// The openings of records that are there already.
fn read_openings(out: &Path) -> Result<Openings> {
    let path = out.join(OPENINGS);
    match std::fs::read(&path) {
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => Ok(Openings::default()),
        Err(cause) => Err(Error::new(format!("the file cannot be read: {cause}")).at(&path)),
        Ok(bytes) => Openings::read(&bytes).ok_or_else(|| {
            Error::new("this file does not open records of this program")
                .at(&path)
                .advice("Move it away, or name another folder for --out.")
        }),
    }
}
