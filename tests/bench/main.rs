//! How long a fleet's night takes, and what share of it each stage has.
//!
//! `tests/bench/run` makes the nights and prints the tables in `docs/performance.md`. Every figure of a
//! night comes from the same run: a bare XML pass over the same bytes (the floor), the whole program with
//! all its outputs, and its stages one by one. Each is a process of its own, so that memory and
//! processor time are its own. One night takes `--night rigs=10,share=0.4`; without it all of them.
//!
//! `night` and `path` make the logs, `measure` runs processes, `stages` times what they report.

#[allow(dead_code)] // The demo uses the rest.
#[path = "../../demo-data/make_night/chance.rs"]
mod chance;
mod measure;
mod night;
mod path;
mod stages;

use measure::Usage;
use night::{Counts, Size};
use std::path::{Path, PathBuf};

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Where the nights are made.
const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/bench");
/// What the whole may cost beside twice the floor, us of processor time for each spraying fix.
const GOAL_US: f64 = 2.2;
/// What memory may cost, bytes a fix, above a base.
const GOAL_BYTES: f64 = 200.0;
const BASE_BYTES: f64 = 64.0 * 1024.0 * 1024.0;

/// 10 hours at 1 Hz with 20 lots a rig, unless a night says otherwise.
const USUAL: Size = Size {
    rigs: 1,
    hours: 10.0,
    hz: 1.0,
    lots: 20,
    sections: (3, 8),
    spraying_share: 0.4,
    bytes: 0,
};

fn main() -> Result<()> {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        [] => all(&usual_nights()),
        ["--night", text] => all(&[size(text)?]),
        ["--make", text] => make(&size(text)?),
        ["floor", night] => stages::floor(Path::new(night)),
        ["stages", night] => stages::of_audit(Path::new(night)),
        _ => Err("expected nothing, --night KEY=VALUE,... or --make KEY=VALUE,...; keys: rigs, hours, hz, lots, share, fewest, most, bytes".into()),
    }
}

fn usual_nights() -> Vec<Size> {
    let of = |rigs: usize, spraying_share: f64| Size {
        rigs,
        spraying_share,
        ..USUAL
    };
    let mut nights = vec![of(1, 0.4), of(1, 0.85), of(10, 0.4), of(10, 0.85)];
    nights.push(Size {
        hz: 5.0,
        hours: 2.0,
        lots: 4,
        ..of(10, 0.4)
    });
    nights.extend([of(100, 0.4), of(100, 0.85)]);
    nights
}

/// A night from `rigs=10,share=0.4`.
fn size(text: &str) -> Result<Size> {
    let mut size = USUAL;
    for part in text.split(',') {
        let (key, value) = part.split_once('=').ok_or("expected KEY=VALUE")?;
        match key {
            "rigs" => size.rigs = value.parse()?,
            "hours" => size.hours = value.parse()?,
            "hz" => size.hz = value.parse()?,
            "lots" => size.lots = value.parse()?,
            "share" => size.spraying_share = value.parse()?,
            "fewest" => size.sections.0 = value.parse()?,
            "most" => size.sections.1 = value.parse()?,
            "bytes" => size.bytes = value.parse()?,
            _ => return Err(format!("there is no key {key:?}").into()),
        }
    }
    Ok(size)
}

/// Makes a night and leaves it, for a profiler.
fn make(size: &Size) -> Result<()> {
    let (night, counts) = size.write(Path::new(FOLDER))?;
    println!("{}: {counts:?}", night.display());
    Ok(())
}

/// The night that an analyst's script gets too, and how much longer it may take at least.
const ANALYST_NIGHT: (usize, f64) = (10, 0.4);
const ANALYST_TIMES: f64 = 10.0;

/// What was measured of a night.
struct Row {
    size: Size,
    counts: Counts,
    floor: Usage,
    whole: Usage,
    stages: Vec<stages::Stage>,
    /// Of the script of lxml, numpy and shapely on the same night.
    analyst: Option<Usage>,
}

fn all(sizes: &[Size]) -> Result<()> {
    let mut rows = Vec::new();
    for size in sizes {
        let (night, counts) = size.write(Path::new(FOLDER))?;
        let row = measured(size, &night, counts);
        std::fs::remove_dir_all(&night)?;
        rows.push(row?);
        eprintln!("{}", size.name());
    }
    print_whole(&rows);
    print_stages(&rows);
    print_analyst(&rows);
    Ok(())
}

/// Floor and whole by turns, the better of each; then the stages.
fn measured(size: &Size, night: &Path, counts: Counts) -> Result<Row> {
    const TURNS: usize = 3;
    let bench = std::env::current_exe()?;
    let program = PathBuf::from(env!("CARGO_BIN_EXE_swathbook"));
    let out = night.join("../out");
    let (mut floors, mut wholes) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        floors.push(measure::run(&bench, &["floor".as_ref(), night.as_os_str()])?.0);
        let words = [
            "audit".as_ref(),
            night.as_os_str(),
            "--out".as_ref(),
            out.as_os_str(),
        ];
        wholes.push(measure::run(&program, &words)?.0);
    }
    let analyst = match std::env::var_os("ANALYST_PYTHON") {
        Some(python) if (size.rigs, size.spraying_share) == ANALYST_NIGHT => {
            let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/analyst.py");
            let words = [script.as_ref(), night.as_os_str()];
            Some(measure::run(Path::new(&python), &words)?.0)
        }
        _ => None,
    };
    let (_, text) = measure::run(&bench, &["stages".as_ref(), night.as_os_str()])?;
    Ok(Row {
        size: size.clone(),
        counts,
        floor: Usage::least(&floors),
        whole: Usage::least(&wholes),
        stages: stages::parse(&text),
        analyst,
    })
}

fn print_whole(rows: &[Row]) {
    println!(
        "| rigs | h | Hz | spraying | fixes | MB | whole s | fixes/s | CPU us/fix | CPU us/spraying fix | floor us/fix | whole / floor | goal us/fix | whole / goal | cores busy | bytes/fix over 64 MB |"
    );
    println!("|{}", "---|".repeat(16));
    for row in rows {
        let (fixes, spraying) = (row.counts.fixes as f64, row.counts.spraying as f64);
        let per_fix = |seconds: f64| 1e6 * seconds / fixes;
        let goal_s = 2.0 * row.floor.cpu_s + GOAL_US * 1e-6 * spraying;
        let over = (row.whole.peak_bytes - BASE_BYTES).max(0.0) / fixes;
        println!(
            "| {} | {} | {} | {:.0} % | {} | {:.0} | {:.2} | {:.0} | {:.2} | {:.2} | {:.2} | {:.1} | {:.2} | {:.1} | {:.2} | {:.0} of {GOAL_BYTES} |",
            row.size.rigs,
            row.size.hours,
            row.size.hz,
            100.0 * spraying / fixes,
            row.counts.fixes,
            row.counts.bytes as f64 / 1e6,
            row.whole.wall_s,
            fixes / row.whole.wall_s,
            per_fix(row.whole.cpu_s),
            1e6 * row.whole.cpu_s / spraying,
            per_fix(row.floor.cpu_s),
            row.whole.cpu_s / row.floor.cpu_s,
            per_fix(goal_s),
            row.whole.cpu_s / goal_s,
            row.whole.cpu_s / row.whole.wall_s,
            over,
        );
    }
}

/// Processor time of each stage, us a fix.
fn print_stages(rows: &[Row]) {
    let Some(first) = rows.first() else { return };
    let names: Vec<&str> = first
        .stages
        .iter()
        .map(|stage| stage.name.as_str())
        .collect();
    println!("\n| rigs | spraying | {} |", names.join(" | "));
    println!("|{}", "---|".repeat(2 + names.len()));
    for row in rows {
        let fixes = row.counts.fixes as f64;
        let cells: Vec<String> = row
            .stages
            .iter()
            .map(|stage| format!("{:.2}", 1e6 * stage.cpu_s / fixes))
            .collect();
        println!(
            "| {} x {} h, {} Hz | {:.0} % | {} |",
            row.size.rigs,
            row.size.hours,
            row.size.hz,
            100.0 * row.counts.spraying as f64 / fixes,
            cells.join(" | ")
        );
    }
}

/// Wall time of the analyst's script beside the program's; its processor time is that of its workers too.
fn print_analyst(rows: &[Row]) {
    for row in rows {
        let Some(analyst) = row.analyst else { continue };
        println!(
            "\nlxml, numpy and shapely in two processes on the night of {} rigs, {} h, {} Hz: {:.1} s, {:.1} times \
             the program's (at least {ANALYST_TIMES} wanted)",
            row.size.rigs,
            row.size.hours,
            row.size.hz,
            analyst.wall_s,
            analyst.wall_s / row.whole.wall_s,
        );
    }
}
