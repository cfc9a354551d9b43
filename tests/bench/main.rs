//! How long a fleet's night takes beside what it may, and what share of it each stage has.
//!
//! `tests/bench/run` makes the nights and prints the tables in `docs/performance.md`: of each night the units of
//! work, their price and what was used; the stages one by one; and what scripts cost that give four numbers a
//! lot. Each is a process of its own, so that memory and processor time are its own. One night takes
//! `--night rigs=10,share=0.4`; without it all of them. `--page` measures the page alone.
//!
//! `night`, `lot` and `path` make the logs, `work` prices them, `measure` runs processes, `stages` times what they
//! report, `peers` runs the scripts, `page` looks at the page.

mod lot;
mod measure;
mod night;
mod page;
mod path;
mod peers;
mod stages;
mod work;

use measure::Usage;
use night::{Counts, Size};
use peers::Peer;
use std::path::{Path, PathBuf};

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Where the nights are made.
const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/bench");

/// 10 hours at 1 Hz with 20 lots a rig, unless a night says otherwise.
const USUAL: Size = Size {
    rigs: 1,
    hours: 10.0,
    hz: 1.0,
    lots: 20,
    sections: (3, 8),
    spraying_share: 0.4,
    bytes: 0,
    rough: false,
};

fn main() -> Result<()> {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        [] => all(&usual_nights()).and_then(|()| page::print()),
        ["--night", text] => all(&[size(text)?]),
        ["--make", text] => make(&size(text)?),
        ["--page"] => page::print(),
        ["stages", night] => stages::of_audit(Path::new(night)),
        ["page", night] => page::of_audit(Path::new(night)),
        _ => Err("expected nothing, --page, --night KEY=VALUE,... or --make KEY=VALUE,...; keys: rigs, hours, hz, lots, share, fewest, most, bytes, rough".into()),
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
        rough: true,
        ..of(10, 0.4)
    });
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
            "rough" => size.rough = value.parse()?,
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

/// Nights of so many rigs are the scripts' too.
const PEERS_RIGS: usize = 10;

/// What was measured of a night.
struct Row {
    size: Size,
    counts: Counts,
    whole: Usage,
    stages: Vec<stages::Stage>,
    peers: Vec<Peer>,
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
    print_peers(&rows);
    Ok(())
}

/// The whole a few times, the best of each figure; then the stages and the scripts.
fn measured(size: &Size, night: &Path, counts: Counts) -> Result<Row> {
    const TURNS: usize = 3;
    let bench = std::env::current_exe()?;
    let program = PathBuf::from(env!("CARGO_BIN_EXE_swathbook"));
    let out = night.join("../out");
    let words = [
        "audit".as_ref(),
        night.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ];
    let whole = || Ok(measure::run(&program, &words)?.0);
    let mut wholes = (0..TURNS).map(|_| whole()).collect::<Result<Vec<_>>>()?;
    let peers = if size.rigs == PEERS_RIGS {
        let peers = peers::run(night, &out.join("audit.json"))?;
        // By turns: what else the machine does meets both.
        wholes.push(whole()?);
        peers
    } else {
        Vec::new()
    };
    let (_, text) = measure::run(&bench, &["stages".as_ref(), night.as_os_str()])?;
    Ok(Row {
        size: size.clone(),
        counts,
        whole: Usage::least(&wholes),
        stages: stages::parse(&text),
        peers,
    })
}

impl Row {
    /// The night in a few words.
    fn night(&self) -> String {
        format!(
            "{} x {} h, {} Hz, {:.0} %{}",
            self.size.rigs,
            self.size.hours,
            self.size.hz,
            100.0 * self.counts.spraying as f64 / self.counts.fixes as f64,
            if self.size.rough { ", rough" } else { "" }
        )
    }
}

fn print_whole(rows: &[Row]) {
    println!(
        "| night | MB | fixes | outline edges | dose cells | goal s | milestone s | CPU s | CPU / goal | CPU / milestone | wall s | cores busy | bytes/fix over 64 MB |"
    );
    println!("|{}", "---|".repeat(13));
    for row in rows {
        let (counts, whole) = (&row.counts, &row.whole);
        let goal_s = work::GOAL.seconds(counts);
        let milestone_s = work::MILESTONE.seconds(counts);
        println!(
            "| {} | {:.0} | {} | {} | {} | {:.2} | {:.2} | {:.2} | {:.2} | {:.2} | {:.2} | {:.2} | {:.0} of {} |",
            row.night(),
            counts.bytes as f64 / 1e6,
            counts.fixes,
            counts.edges,
            counts.cells,
            goal_s,
            milestone_s,
            whole.cpu_s,
            whole.cpu_s / goal_s,
            whole.cpu_s / milestone_s,
            whole.wall_s,
            whole.cpu_s / whole.wall_s,
            work::bytes_a_fix(whole.peak_bytes, counts),
            work::GOAL_BYTES,
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
    println!("\n| night | {} |", names.join(" | "));
    println!("|{}", "---|".repeat(1 + names.len()));
    for row in rows {
        let fixes = row.counts.fixes as f64;
        let cells: Vec<String> = row
            .stages
            .iter()
            .map(|stage| format!("{:.2}", 1e6 * stage.cpu_s / fixes))
            .collect();
        println!("| {} | {} |", row.night(), cells.join(" | "));
    }
}

/// What the scripts cost beside the program; their processor time is that of their workers too.
fn print_peers(rows: &[Row]) {
    if rows.iter().all(|row| row.peers.is_empty()) {
        return;
    }
    println!(
        "\n| night | script | CPU s | times the audit's ({} wanted of the first) | wall s | times the audit's | {} |",
        peers::TIMES_WANTED,
        peers::COLUMNS
    );
    println!("|{}", "---|".repeat(10));
    for (row, peer) in rows
        .iter()
        .flat_map(|row| row.peers.iter().map(move |peer| (row, peer)))
    {
        println!(
            "| {} | {} | {:.2} | {:.2} | {:.2} | {:.2} | {} |",
            row.night(),
            peer.what,
            peer.usage.cpu_s,
            peer.usage.cpu_s / row.whole.cpu_s,
            peer.usage.wall_s,
            peer.usage.wall_s / row.whole.wall_s,
            peer.cells(),
        );
    }
}
