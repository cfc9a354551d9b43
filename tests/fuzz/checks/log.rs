//! Any bytes as a run log: read through three channel maps, then followed to the end of the stages that
//! know no sites.

use std::path::Path;
use std::sync::LazyLock;
use swathbook::findings::{Finding, Severity};
use swathbook::input::fleet::{self, Fleet};
use swathbook::input::log::{self, LogReading};
use swathbook::rig::run;

/// A rig with the program's own elements, one with a mapping of every kind, one on a trailer.
const FLEET: &str = r#"
[defaults]
target = "30 mL/m2"

[[product]]
id = "brine"

[[rig]]
id = "own"
sections = ["1 m", "1 m", "1 m"]
antenna = { ahead = "2 m", right = "0.1 m" }
open_delay = "0.4 s"
close_delay = "0.3 s"
gun_flow = "2 L/min"
greatest_flow = "60 L/min"
logs = ["own*"]

[[rig]]
id = "mapped"
product = "brine"
sections = ["1 m", "2 m", "1 m", "0.5 m"]
clock_offset = "-1024 weeks"
section_log = "on_change"
meter = { factor = 0.5, delay = "1.5 s" }
logs = ["mapped*"]
[rig.channels]
flow = { element = "q", attribute = "v", unit = "gal/min" }
volume = { element = "total", since_last_fix = true }
rate = { element = "rate" }
sections = { element = "valves", bits = 4, bits_per_section = 2, first = "right", invert = true }
product = { element = "tank", attribute = "of" }
rig = { element = "unit", attribute = "id" }

[[rig]]
id = "towed"
sections = ["2 m"]
hitch = { behind_antenna = "3 m", to_axle = "2 m", axle_to_boom = "-1 m" }
logs = ["towed*"]
[rig.channels]
volume = { element = "total", unit = "gal" }
sections = { element = "valves", list = ";" }
"#;

static RIGS: LazyLock<Fleet> =
    LazyLock::new(|| fleet::read(FLEET, Path::new("fleet.toml")).expect("the fleet above"));

/// Reads the bytes as a log of each rig.
pub(crate) fn check(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    for name in ["own.gpx", "mapped.gpx", "logs/towed.gpx.gz"] {
        let reading = log::read(name, &text, &RIGS);
        // Plain points are read by a short cut. In words, since unknown is NaN, and equals nothing.
        let by_events = log::read_by_events(name, &text, &RIGS);
        assert_eq!(format!("{reading:?}"), format!("{by_events:?}"));
        match reading {
            Ok(reading) => follow(&RIGS, reading),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

/// What holds of a reading, and of the runs made from it.
pub(crate) fn follow(fleet: &Fleet, reading: LogReading) {
    let LogReading { mut logs, findings } = reading;
    worded(&findings);
    for log in &logs {
        sound(fleet, log);
    }
    run::set_clocks(fleet, &mut logs);
    for rig in 0..fleet.rigs.len() {
        let own: Vec<log::Log> = logs.iter().filter(|log| log.rig == rig).cloned().collect();
        if own.is_empty() {
            continue;
        }
        let read: usize = own.iter().map(|log| log.fixes.len()).sum();
        let (runs, findings) = run::follow(fleet, rig, own);
        worded(&findings);
        assert!(runs.iter().map(|run| run.track.fixes_read).sum::<usize>() <= read);
        runs.iter().for_each(followed);
    }
}

/// Every finding is about something, and of a rank that can be ordered.
pub(crate) fn worded(findings: &[Finding]) {
    for finding in findings {
        assert!(finding.weight.is_finite());
        assert!(!finding.kind.card().title.is_empty());
        assert!(finding.severity >= Severity::GoBack);
    }
}

fn sound(fleet: &Fleet, log: &log::Log) {
    let sections = fleet.rigs[log.rig].section_widths_m.len();
    assert!(!log.fixes.is_empty());
    assert_eq!(log.segment_starts.first(), Some(&0));
    assert!(log.segment_starts.windows(2).all(|pair| pair[0] < pair[1]));
    assert!(
        log.segment_starts
            .iter()
            .all(|&start| start < log.fixes.len())
    );
    for fix in &log.fixes {
        assert!(fix.place.is_valid() && fix.line > 0);
        assert!(!fix.flow_l_s.is_infinite() && !fix.volume_l.is_infinite());
        assert!(!fix.rate_ml_m2.is_infinite() && !fix.heading_deg.is_infinite());
        assert!(fix.open.is_none_or(|open| open >> sections == 0));
        assert!(
            fix.product
                .is_none_or(|id| usize::from(id) < log.products.len())
        );
    }
}

fn followed(run: &run::Run) {
    let (track, timeline) = (&run.track, &run.timeline);
    assert_eq!(track.fixes.len(), track.steps.len() + 1);
    assert!(
        track
            .fixes
            .windows(2)
            .all(|pair| pair[0].time < pair[1].time)
    );
    assert!(
        track
            .steps
            .iter()
            .all(|step| step.seconds > 0.0 && step.length_m().is_finite())
    );
    assert!(track.distance_m().is_finite() && run.reverse_wet_s() >= 0.0);
    let metered_l: f64 = run.metered.litres.iter().sum();
    assert!(metered_l.is_finite(), "{metered_l} L");
    assert!(run.metered.flow_l_s.iter().all(|flow| flow.is_finite()));
    assert!(
        timeline
            .spans
            .iter()
            .all(|span| span.litres.is_finite() && span.share_of_step() >= 0.0)
    );
    assert!(run.position_m.is_finite() && run.position_m > 0.0);
}
