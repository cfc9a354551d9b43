//! Other people's nights: sound ones, sound ones with a poor log, and ones with a planted fault, made by code that knows
//! nothing of the audit but its formats, and the audit held against their true ground. See README.md here.
//!
//! `cargo test --release --test field -- [COUNT] [--class NAME]... [--seed-from N] [--keep DIR] [--exe PATH]
//! [--stated-error FACTOR] [--threads N] [--rows FILE]`; a class is a name of the table, `sounds`, `poor`, `fault` or `all`.
//! `--pair FILE FILE` lays two files of rows side by side.

mod calibration;
mod chance;
mod classes;
mod drive;
mod evening;
mod floor;
mod grid;
mod ground;
mod judge;
mod last_look;
mod logbook;
mod night;
mod pair;
mod plan;
mod plane;
mod planted;
mod pump;
mod receiver;
mod rig;
mod route;
mod stored;
mod table;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::Instant;

use classes::{ALL, Class, Kind};
use rayon::prelude::*;
use stored::Stored;
use table::Row;

struct Options {
    count: u64,
    classes: Vec<Class>,
    first_seed: u64,
    keep: Option<PathBuf>,
    exe: PathBuf,
    position_factor: f64,
    threads: usize,
    /// Outcomes are kept here, and nights that it has are not made again.
    rows: Option<PathBuf>,
    /// Run by `cargo test` without words: a handful, and a verdict.
    short: bool,
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if let [word, first, second] = words.as_slice()
        && word == "--pair"
    {
        return match pair::print(Path::new(first), Path::new(second)) {
            Ok(()) => ExitCode::SUCCESS,
            Err(message) => {
                eprintln!("field: {message}");
                ExitCode::FAILURE
            }
        };
    }
    let options = match options(words.into_iter()) {
        Ok(options) => options,
        Err(message) => {
            eprintln!("field: {message}");
            return ExitCode::FAILURE;
        }
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads)
        .build()
        .expect("threads can be started");
    let jobs: Vec<(Class, u64)> = options
        .classes
        .iter()
        .flat_map(|class| (0..options.count).map(|k| (*class, options.first_seed + k)))
        .collect();
    let scratch = tempfile::tempdir().expect("a temporary folder can be made");
    let stored = match options.rows.as_deref().map(Stored::open).transpose() {
        Ok(stored) => stored,
        Err(message) => {
            eprintln!("field: {message}");
            return ExitCode::FAILURE;
        }
    };
    let row = |&(class, seed): &(Class, u64)| {
        let make = || one(class, seed, &options, scratch.path());
        match &stored {
            Some(stored) => stored.row(class, seed, make),
            None => make(),
        }
    };
    let rows: Vec<Row> = pool.install(|| jobs.par_iter().map(row).collect());
    table::print(&rows, options.position_factor);
    let crashed = rows.iter().filter(|r| r.crashed.is_some()).count();
    let sent_back: u64 = rows
        .iter()
        .filter(|r| r.class.kind() == Kind::Sound)
        .map(|r| r.false_go_backs as u64)
        .sum();
    let astray = crashed > 0 || (options.short && sent_back > MOST_FALSE_IN_SHORT_RUN);
    if astray {
        ExitCode::FAILURE
    } else {
        ExitCode::SUCCESS
    }
}

/// Mild on purpose: the short run is a smoke test of a handful of nights; rates come from long runs.
const MOST_FALSE_IN_SHORT_RUN: u64 = 2;

fn options(mut words: impl Iterator<Item = String>) -> Result<Options, String> {
    let mut options = Options {
        count: 2,
        classes: Vec::new(),
        first_seed: 1,
        keep: None,
        exe: env!("CARGO_BIN_EXE_swathbook").into(),
        position_factor: 1.0,
        threads: 2,
        rows: None,
        short: true,
    };
    while let Some(word) = words.next() {
        let mut value = |what: &str| words.next().ok_or(format!("{word} needs {what}"));
        let number = |text: String| {
            text.parse::<u64>()
                .map_err(|_| format!("not a whole number: {text}"))
        };
        match word.as_str() {
            "--class" => options.classes.extend(named(&value("a name")?)?),
            "--seed-from" => options.first_seed = number(value("a seed")?)?,
            "--keep" => options.keep = Some(value("a folder")?.into()),
            "--rows" => options.rows = Some(value("a file")?.into()),
            "--exe" => options.exe = value("a path")?.into(),
            "--threads" => options.threads = number(value("a number")?)? as usize,
            "--stated-error" => {
                let text = value("a factor")?;
                options.position_factor =
                    text.parse().map_err(|_| format!("not a factor: {text}"))?;
            }
            _ => options.count = number(word)?,
        }
        options.short = false;
    }
    if options.classes.is_empty() {
        let few = [
            Class::Sound,
            Class::SoundCars,
            Class::PoorTowed,
            Class::Corner10,
            Class::Skipped,
        ];
        options.classes = if options.short {
            few.to_vec()
        } else {
            ALL.iter().map(|c| c.0).collect()
        };
    }
    Ok(options)
}

fn named(name: &str) -> Result<Vec<Class>, String> {
    let found: Vec<Class> = ALL
        .iter()
        .filter(|(class, own)| match name {
            "all" => true,
            "sounds" => class.kind() == Kind::Sound,
            "poor" => class.kind() == Kind::PoorLog,
            "fault" => class.kind() == Kind::Fault,
            _ => *own == name,
        })
        .map(|c| c.0)
        .collect();
    if found.is_empty() {
        Err(format!("no class {name}"))
    } else {
        Ok(found)
    }
}

/// Makes, audits and judges one night.
fn one(class: Class, seed: u64, options: &Options, scratch: &Path) -> Row {
    let begun = Instant::now();
    let name = format!("{}-{seed}", class.name());
    let folder = options.keep.as_deref().unwrap_or(scratch).join(&name);
    let night = night::night(class, seed);
    let mut row = Row::of(&night);
    let written = logbook::write(&night, &folder, options.position_factor);
    if options.keep.is_some() {
        let _ = pictures(&night, &folder); // for looking at only
    }
    row.made_s = begun.elapsed().as_secs_f64();
    if let Err(error) = written {
        row.crashed = Some(format!("cannot write {}: {error}", folder.display()));
        return row;
    }
    let begun = Instant::now();
    let out = folder.join("out");
    let run = Command::new(&options.exe)
        .arg("audit")
        .arg(&folder)
        .arg("--out")
        .arg(&out)
        .args(["--fail-on", "never", "--threads", "1"])
        .stdout(Stdio::null())
        .output();
    row.audit_s = begun.elapsed().as_secs_f64();
    match run {
        Ok(run) if run.status.success() => match judge::judge(&night, &out) {
            Ok(verdict) => row.fill(&night, verdict),
            Err(message) => row.crashed = Some(message),
        },
        Ok(run) => row.crashed = Some(String::from_utf8_lossy(&run.stderr).into_owned()),
        Err(error) => row.crashed = Some(error.to_string()),
    }
    if options.keep.is_none() {
        let _ = std::fs::remove_dir_all(&folder); // a leftover goes with the temporary folder
    }
    row
}

/// Writes each site's truth as a grey picture (PGM, a pixel a cell, top row north in the site's frame): black is bare, the
/// target is 100, other ground is 255.
fn pictures(night: &night::Night, folder: &Path) -> std::io::Result<()> {
    for (site, truth) in night.sites.iter().zip(&night.truths) {
        let (columns, rows) = (truth.dose.columns, truth.dose.rows);
        let mut bytes = format!("P5 {columns} {rows} 255\n").into_bytes();
        for row in (0..rows).rev() {
            bytes.extend((row * columns..(row + 1) * columns).map(|cell| {
                let grey = (100.0 * f64::from(truth.dose.cells[cell]) / night.target_ml_m2)
                    .min(250.0) as u8;
                if site.zone_at.cells[cell] == 0 && grey == 0 {
                    255
                } else {
                    grey
                }
            }));
        }
        std::fs::write(folder.join(format!("{}.pgm", site.id)), bytes)?;
    }
    Ok(())
}
