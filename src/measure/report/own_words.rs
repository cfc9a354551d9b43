//! How the sheet words what the contractor's own nights say: lines for the fleet file, and driven lots beside their
//! plans.

use crate::input::fleet::Spread;
use crate::measure::sheet::{Driven, Observed, OwnNights, SizeClass};
use crate::notation::clean::clean;
use crate::notation::numbers::{Measure, NOT_KNOWN, Units, count, duration, percent};

/// The lines, ready to be copied into the fleet file; remarks begin with `#`.
pub(super) fn fleet_lines(own: &OwnNights, units: Units) -> Vec<String> {
    let mut lines = vec![format!(
        "# From {}: 10th, 50th and 90th percentile. Look at them before taking them over.",
        count(own.nights as u64, "own night", "own nights")
    )];
    lines.extend(
        own.skipped
            .iter()
            .map(|why| format!("# Skipped: {}.", clean(why))),
    );
    if own.classes.is_empty() {
        lines.push("# Nothing in them can be used: no treated lot of one rig.".to_owned());
    }
    lines.extend(own.classes.iter().flat_map(|class| of_class(class, units)));
    lines
}

fn of_class(class: &SizeClass, units: Units) -> Vec<String> {
    let area = units.area();
    let lots = match (class.from_m2, class.below_m2) {
        (None, None) => "all lots".to_owned(),
        (None, Some(below)) => format!("lots under {}", area.text(below)),
        (Some(from), None) => format!("lots from {} on", area.text(from)),
        (Some(from), Some(below)) => {
            format!("lots of {} to {}", area.number(from), area.text(below))
        }
    };
    let speed = Measure {
        step: 0.1,
        ..units.speed()
    };
    let length = units.short_length();
    let mut lines = vec![format!("# {lots}")];
    let mut line = |key: &str, seen: &Option<Observed>, write: &dyn Fn(f64) -> String| {
        lines.extend(seen.as_ref().map(|seen| setting(key, seen, write)));
    };
    line("speed", &class.speed_m_s, &|m_s| speed.text(m_s));
    line("turn_time", &class.turn_time_s, &|s| format!("{s:.0} s"));
    line("applied", &class.applied, &|share| {
        format!("{:.0} %", share * 100.0)
    });
    lines.extend(class.lap_m.as_ref().map(|seen| match seen.percentiles {
        Some(of) if of.likely < 0.0 => format!(
            "# lap: half of the lanes leave {} or more bare between them, {}",
            length.text(-of.likely),
            visits(seen)
        ),
        Some(of) => format!(
            "lap = \"{}\"  # {} to {}, {}; the plan takes one value",
            length.text(of.likely),
            length.text(of.low),
            length.text(of.high),
            visits(seen)
        ),
        None => few("lap", seen),
    }));
    lines.extend(
        class
            .field_efficiency
            .as_ref()
            .map(|seen| match seen.percentiles {
                Some(of) => format!(
                    "# field efficiency {:.2}, {:.2} to {:.2}, {}",
                    of.likely,
                    of.low,
                    of.high,
                    visits(seen)
                ),
                None => few("field efficiency", seen),
            }),
    );
    lines
}

fn setting(key: &str, seen: &Observed, write: &dyn Fn(f64) -> String) -> String {
    let Some(Spread { low, likely, high }) = seen.percentiles else {
        return few(key, seen);
    };
    format!(
        "{key} = [\"{}\", \"{}\", \"{}\"]  # {}",
        write(low),
        write(likely),
        write(high),
        visits(seen)
    )
}

fn visits(seen: &Observed) -> String {
    count(seen.count as u64, "treatment", "treatments")
}

fn few(key: &str, seen: &Observed) -> String {
    format!("# {key}: only {}, three are needed", visits(seen))
}

/// A driven lot beside its plan, in a sentence.
pub(super) fn driven(of: &Driven, units: Units) -> String {
    let length =
        |m: Option<f64>| m.map_or_else(|| NOT_KNOWN.to_owned(), |m| units.length().text(m));
    let time = |s: Option<f64>| s.map_or_else(|| NOT_KNOWN.to_owned(), duration);
    let share = |share: Option<f64>| share.map_or_else(|| NOT_KNOWN.to_owned(), percent);
    let plan = of.plan_rig.as_ref().map_or_else(
        || "no plan".to_owned(),
        |rig| {
            format!(
                "the plan of {}: {}, {}, overlap {}",
                clean(rig),
                length(of.plan_length_m),
                time(of.plan_seconds),
                share(of.plan_overlap_share)
            )
        },
    );
    format!(
        "{}, driven by {} ({}): {}, {}, overlap {}; {plan}.",
        clean(&of.site),
        clean(&of.rig),
        clean(&of.night),
        length(Some(of.length_m)),
        time(Some(of.seconds)),
        share(of.overlap_share)
    )
}
