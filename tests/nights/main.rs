//! Healthy nights must give no alarm, and a fault planted in one must be found.
//!
//! `cargo test --release --test nights -- 200` audits 200 random healthy nights and each of them with
//! one fault of every kind, and prints the table in `docs/method.md`. Without a number it takes a few.
//! `--from N` sets the first seed, `--only TEXT` keeps kinds whose name holds it (`none`: healthy nights
//! only), `--tell` prints every alarm and every fault that was not found, `--keep DIR` writes the
//! nights there. The nights come from a generator that knows the file formats and nothing of the
//! audit: `tests/making`; what is driven stands in `machine`, `scene`, `plan`, `drive`, what goes wrong in `faults`.

mod drive;
mod faults;
mod judge;
mod machine;
mod night;
mod plan;
mod scene;
mod table;

use making::chance::Chance;
use plan::Plan;
use rayon::prelude::*;
use std::path::PathBuf;
use std::process::ExitCode;
use swathbook::findings::{Finding, Severity};

/// Nights when no number is given: a few seconds' worth in an unoptimised build.
const A_FEW: u64 = 6;

/// What one seed gave.
pub(crate) struct Night {
    pub seed: u64,
    pub healthy: Vec<Finding>,
    /// For each kind in order; none where the night has no room for it.
    pub faulty: Vec<Option<judge::Outcome>>,
}

struct Wish {
    nights: u64,
    from: u64,
    only: String,
    tell: bool,
    keep: Option<PathBuf>,
}

fn main() -> ExitCode {
    let Some(wish) = wish() else {
        eprintln!("usage: nights [COUNT] [--from SEED] [--only TEXT] [--tell] [--keep DIR]");
        return ExitCode::from(2);
    };
    let nights: Vec<Night> = (wish.from..wish.from + wish.nights)
        .into_par_iter()
        .map(|seed| run(seed, &wish))
        .collect();
    if wish.tell {
        table::tell(&nights);
    }
    print!("{}", table::table(&nights));
    let failures = table::failures(&nights);
    for failure in &failures {
        eprintln!("MISSED: {failure}");
    }
    ExitCode::from(u8::from(!failures.is_empty()))
}

fn wish() -> Option<Wish> {
    let mut wish = Wish {
        nights: A_FEW,
        from: 1,
        only: String::new(),
        tell: false,
        keep: None,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--from" => wish.from = words.next()?.parse().ok()?,
            "--only" => wish.only = words.next()?,
            "--keep" => wish.keep = Some(words.next()?.into()),
            "--tell" => wish.tell = true,
            count => wish.nights = count.parse().ok()?,
        }
    }
    Some(wish)
}

fn run(seed: u64, wish: &Wish) -> Night {
    let plan = Plan::healthy(seed);
    if let Some(folder) = &wish.keep {
        night::write(&plan, seed, &folder.join(seed.to_string()))
            .expect("the folder can be written to");
    }
    let healthy = night::findings(&plan, seed);
    let faulty = faults::KINDS
        .iter()
        .zip(0..)
        .map(|(kind, number)| {
            if !kind.name.contains(&wish.only) {
                return None;
            }
            let mut faulty = plan.clone();
            let planted = (kind.plant)(&mut faulty, &mut Chance::new(seed, 1_000 + number))?;
            let findings = night::findings(&faulty, seed);
            if let Some(folder) = &wish.keep {
                night::write(&faulty, seed, &folder.join(format!("{seed}-{number}")))
                    .expect("the folder can be written to");
            }
            Some(judge::judge(&planted, &findings, &healthy, &faulty.scene))
        })
        .collect();
    Night {
        seed,
        healthy,
        faulty,
    }
}

/// Findings of a severity.
pub(crate) fn count(findings: &[Finding], severity: Severity) -> usize {
    findings
        .iter()
        .filter(|finding| finding.severity == severity)
        .count()
}
