//! The page: how large it is, how soon it shows, and what it adds to an audit. Of the demo night, of its 38 copies,
//! and of real lots as a plan drives them.

use crate::{Result, measure};
use cpu_time::ProcessTime;
use std::path::{Path, PathBuf};
use std::process::Command;
use swathbook::notation::numbers::{RateUnit, Units};
use swathbook::report::html;
use swathbook::{audit, input::paths};

/// Goals: bytes of each night's page, s to its first paint, share of the audit's time and memory.
const DEMO_BYTES: u64 = 100_000;
const MANY_BYTES: u64 = 5_000_000;
const TOWN_BYTES: u64 = 15_000_000;
const PAINT_S: f64 = 2.0;
const SHARE: f64 = 0.10;
/// Turns of each measurement; the least counts.
const TURNS: usize = 3;

/// Prints the table. The run script makes `many`; a browser is used where `tests/browser` has installed its driver.
pub(crate) fn print() -> Result<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let nights = [
        ("demo night", root.join("demo-data/night"), DEMO_BYTES),
        (
            "38 copies of it",
            root.join("target/bench/many/night"),
            MANY_BYTES,
        ),
        ("138 real lots, as planned", town(root)?, TOWN_BYTES),
    ];
    println!(
        "| night | sites drawn | kB | of kB | s to first paint | of s | page's share of the audit's CPU | of | of its peak memory | of |"
    );
    println!("|{}", "---|".repeat(10));
    for (name, night, most) in nights {
        let bench = std::env::current_exe()?;
        let words = ["page".as_ref(), night.as_os_str()];
        let told = || measure::run(&bench, &words).map(|(_, text)| text);
        let told = (0..TURNS).map(|_| told()).collect::<Result<Vec<_>>>()?;
        let parts: Vec<Vec<f64>> = told.iter().map(|text| numbers(text)).collect();
        let least = |at: usize| {
            parts
                .iter()
                .filter_map(|of| of.get(at))
                .copied()
                .fold(f64::INFINITY, f64::min)
        };
        let file = out(&night);
        println!(
            "| {name} | {:.0} | {:.0} | {:.0} | {} | {PAINT_S:.0} | {:.3} | {SHARE:.2} | {:.3} | {SHARE:.2} |",
            least(0),
            std::fs::metadata(&file)?.len() as f64 / 1e3,
            most as f64 / 1e3,
            paint(root, &file).unwrap_or_else(|| "no browser".to_owned()),
            least(1),
            least(2),
        );
    }
    Ok(())
}

fn numbers(text: &str) -> Vec<f64> {
    text.split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect()
}

/// Where [`of_audit`] leaves the page.
fn out(night: &Path) -> PathBuf {
    let name = night.to_string_lossy().replace('/', "-");
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("page{name}.html"))
}

/// A night of lots that a plan drives, made by the program itself.
fn town(root: &Path) -> Result<PathBuf> {
    let night = root.join("target/bench/town");
    std::fs::create_dir_all(night.join("logs"))?;
    let lots = root.join("fixtures/lots");
    std::fs::copy(lots.join("helsinki.geojson"), night.join("sites.geojson"))?;
    std::fs::copy(lots.join("fleet.toml"), night.join("fleet.toml"))?;
    let plan = night.join("logs/drive-plan.gpx");
    if !plan.exists() {
        let made = night.join("measured");
        let words = [
            "measure".as_ref(),
            night.as_os_str(),
            "--out".as_ref(),
            made.as_os_str(),
            "--rig".as_ref(),
            "heron".as_ref(),
        ];
        measure::run(Path::new(env!("CARGO_BIN_EXE_swathbook")), &words)?;
        std::fs::copy(made.join("drive-plan.gpx"), plan)?;
    }
    Ok(night)
}

/// Audits a night, makes its page, and prints the sites drawn and the page's share of time and of memory.
pub(crate) fn of_audit(night: &Path) -> Result<()> {
    let start = ProcessTime::now();
    let paths = paths::find(Some(night), None, None, None, &[])?;
    let audited = audit::audit(&paths, audit::Settings::default(), &|_, _, _| ())?;
    let (whole_s, before) = (start.elapsed().as_secs_f64(), peak_bytes()?);
    let start = ProcessTime::now();
    let plans = audited.plans(Units::Us);
    let (audit, page) = (&audited.audit, &audited.page);
    let bytes = html::render(
        audit,
        page,
        &plans,
        &audited.trails,
        Units::Us,
        RateUnit::GalPer1000Ft2,
    );
    let (page_s, after) = (start.elapsed().as_secs_f64(), peak_bytes()?);
    std::fs::write(out(night), bytes)?;
    let drawn = plans.iter().filter(|sheets| !sheets.is_empty()).count();
    println!("{drawn} {} {}", page_s / whole_s, (after - before) / before);
    Ok(())
}

/// Greatest memory of this process so far.
fn peak_bytes() -> Result<f64> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kib = line
        .and_then(|line| line.split_whitespace().next())
        .ok_or("no VmHWM")?;
    Ok(1024.0 * kib.parse::<f64>()?)
}

/// Seconds from the file to the first paint.
fn paint(root: &Path, file: &Path) -> Option<String> {
    let folder = root.join("target/browser");
    let script = root.join("tests/browser/page.mjs");
    let words = ["--paint".as_ref(), "100".as_ref()];
    let told = Command::new("node")
        .arg(script)
        .arg(folder)
        .arg(file)
        .args::<_, &std::ffi::OsStr>(words)
        .output()
        .ok()?;
    let told: serde_json::Value = serde_json::from_slice(&told.stdout).ok()?;
    Some(format!("{:.2}", told["paint_s"].as_f64()?))
}
