//! Times the stages of the audit, inside a process of its own.

use crate::Result;
use cpu_time::ProcessTime;
use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;
use swathbook::notation::numbers::{RateUnit, Units};
use swathbook::{audit, input::paths, report};

/// One stage's times.
pub(crate) struct Stage {
    pub name: String,
    pub cpu_s: f64,
}

/// The clock of the stages: at each change of name the time since the last one is noted.
struct Clock {
    stages: Vec<(&'static str, f64, f64)>,
    last: (&'static str, ProcessTime, Instant),
}

impl Clock {
    fn turn(&mut self, name: &'static str) {
        if self.last.0 == name {
            return;
        }
        let (last, cpu, wall) = self.last;
        let wall_s = wall.elapsed().as_secs_f64();
        self.stages
            .push((last, cpu.elapsed().as_secs_f64(), wall_s));
        self.last = (name, ProcessTime::now(), Instant::now());
    }
}

/// Audits a night and prints each stage's name, processor and wall seconds.
pub(crate) fn of_audit(night: &Path) -> Result<()> {
    let clock = Mutex::new(Clock {
        stages: Vec::new(),
        last: ("files", ProcessTime::now(), Instant::now()),
    });
    let turn = |name: &'static str, _, _| clock.lock().expect("nobody panics").turn(name);
    let paths = paths::find(Some(night), None, None, None, &[])?;
    let audited = audit::audit(&paths, audit::Settings::default(), &turn)?;
    turn("outputs", 0, 0);
    let (units, rate_unit) = (Units::Us, RateUnit::GalPer1000Ft2);
    report::write::write_all(
        &night.join("../out"),
        report::files(
            &audited.audit,
            &audited.page,
            &audited.drawn(units),
            units,
            rate_unit,
            None,
        ),
        &report::OWNED,
    )?;
    let _ = report::page(&audited.audit, &audited.page, units, rate_unit);
    turn("end", 0, 0);
    for (name, cpu_s, wall_s) in clock.into_inner()?.stages {
        println!("{name} {cpu_s} {wall_s}");
    }
    Ok(())
}

/// What [`of_audit`] printed.
pub(crate) fn parse(text: &str) -> Vec<Stage> {
    let stage = |line: &str| {
        let mut words = line.split(' ');
        Some(Stage {
            name: words.next()?.to_owned(),
            cpu_s: words.next()?.parse().ok()?,
        })
    };
    text.lines().filter_map(stage).collect()
}
