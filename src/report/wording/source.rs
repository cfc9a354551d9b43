//! Sentences about where the figures come from: rigs, their logs, the sites file.

use super::names::{capital, names, sections};
use super::title;
use crate::findings::{LeftOut, Matter};
use crate::report::numbers::{count, duration};
use crate::report::style::Style;

pub(super) fn machine(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::DryRun {
            seconds,
            length_m,
            count: number,
            limit_s,
        } => format!(
            "Sections were open without liquid for {} over {}, in {} (smallest counted: {}).",
            duration(*seconds),
            style.length(*length_m),
            count(*number as u64, "stretch", "stretches"),
            duration(*limit_s),
        ),
        Matter::NeverOpened {
            closed,
            others_open_s,
        } => format!(
            "{} never opened all night; the others sprayed for {}.",
            capital(&sections(closed)),
            duration(*others_open_s),
        ),
        Matter::DropoutNearby {
            count: number,
            seconds,
            unlogged_m2,
            volume_l,
        } => silent(*number, *seconds, *unlogged_m2, *volume_l, style),
        Matter::ReverseTowed {
            area_m2,
            patches,
            patches_m2,
        } => reverse_towed(*area_m2, *patches, *patches_m2, style),
        Matter::GearUnsure {
            area_m2,
            patches,
            patches_m2,
        } => gear_unsure(*area_m2, *patches, *patches_m2, style),
        _ => meter(matter, style),
    }
}

/// What the flow at the ends of bouts says of valves and meter.
fn meter(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::SlowStart { late_s, closings } => format!(
            "Liquid reaches the boom {late_s:.1} s after the sections open (the middle one of {}), while nothing runs \
             on after they close: the meter is prompt, and the starts of lanes stay dry.",
            count(*closings as u64, "bout", "bouts"),
        ),
        Matter::EndsNotJudged { length_m, late_s } => format!(
            "{} at ends of swaths read dry for no longer than the meter may be late ({late_s:.1} s); they count as \
             treated and are not judged.",
            style.length(*length_m)
        ),
        Matter::MeterLate {
            late_s,
            within_s,
            closings,
        } => format!(
            "The meter reads {late_s:.1} s late, to within {within_s:.1} s: the flow follows what the open \
             sections ask for by so much at {}, and what their starts lack runs on after they close. Its \
             readings were moved earlier by that.",
            count(*closings as u64, "bout of spraying", "bouts of spraying"),
        ),
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

fn silent(
    number: usize,
    seconds: f64,
    unlogged_m2: f64,
    volume_l: Option<f64>,
    style: &Style,
) -> String {
    let liquid = match volume_l {
        Some(volume_l) => format!(
            "the meter total gained {} meanwhile",
            style.volume(volume_l)
        ),
        None => "no meter total tells what was sprayed meanwhile".to_owned(),
    };
    let silence = match number {
        1 => format!("for {}", duration(seconds)),
        _ => format!("{number} times, {} together", duration(seconds)),
    };
    format!(
        "No fixes {silence}; {} is reported as unlogged; {liquid}.",
        style.area(unlogged_m2),
    )
}

/// The patches that such swaths keep from being findings.
fn held_back(patches: usize, patches_m2: f64, style: &Style) -> String {
    match patches {
        0 => String::new(),
        _ => format!(
            ", and no finding is made of {} in its reach ({})",
            count(patches as u64, "patch", "patches"),
            style.area(patches_m2),
        ),
    }
}

fn gear_unsure(area_m2: f64, patches: usize, patches_m2: f64, style: &Style) -> String {
    let held_back = held_back(patches, patches_m2, style);
    format!(
        "It sprayed {} while the log does not tell well whether it drove forward or backward, and so on \
         which side of the antenna the boom was. The ground is given as treated, nothing is said of \
         keep-off ground under it{held_back}.",
        style.area(area_m2),
    )
}

fn reverse_towed(area_m2: f64, patches: usize, patches_m2: f64, style: &Style) -> String {
    let held_back = held_back(patches, patches_m2, style);
    format!(
        "Its boom on a trailer sprayed {} backing up in turns, where the log does not tell well where \
         a pushed trailer was. The ground is given as treated, nothing is said of keep-off ground \
         under it{held_back}.",
        style.area(area_m2),
    )
}

pub(super) fn sites_file(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::RingRepaired {
            fault,
            before_m2,
            after_m2,
        } => format!(
            "The outline as drawn had a fault: {fault}. Its area was {}, repaired it is {}.",
            style.area(*before_m2),
            style.area(*after_m2),
        ),
        Matter::SiteRemark { what, feature } => {
            // People count from one.
            format!("Feature {} of the sites file {what}.", feature + 1)
        }
        Matter::GroundByCells { cell_m, off_m } => format!(
            "Swaths lie on top of each other here so often that its grounds are counted in cells of {}; no \
             outline is farther off for that than {}. Liquid and rates are not touched.",
            style.short_length(*cell_m),
            style.short_length(*off_m),
        ),
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

pub(super) fn logs(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::InputSkipped {
            file,
            line,
            count,
            why,
        } => skipped(file, *line, *count, why),
        Matter::ReadingOdd {
            file,
            line,
            count: number,
            what,
        } => format!(
            "{file}: {}{}: {what}.",
            count(*number, "reading", "readings"),
            first_at(*line)
        ),
        Matter::TimesUnread {
            file,
            line,
            count: number,
            why,
        } => format!(
            "{file}: the times of {} were not understood, and nothing tells whether that work was late; line {line}: {why}.",
            count(*number, "order", "orders"),
        ),
        Matter::UnitTaken {
            file,
            channel,
            unit,
            of_target,
            better,
        } => unit_taken(file, channel, unit, *of_target, *better),
        Matter::WideBoom {
            width_m,
            sections,
            limit_m,
        } => {
            format!(
                "The fleet file gives it a boom of {} in {}; is that meant? (asked from {} on)",
                style.length(*width_m),
                count(*sections as u64, "section", "sections"),
                style.length(*limit_m),
            ) + "."
        }
        _ => track(matter, style),
    }
}

/// What a log's clock, positions and rhythm are like.
fn track(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::ClockOdd {
            file,
            line,
            count: number,
            what,
        } => {
            format!(
                "{file}: {what} ({}{}).",
                count(*number, "fix", "fixes"),
                first_at(*line)
            )
        }
        Matter::JumpsDropped {
            count: number,
            limit_m_s,
        } => format!(
            "{} left out: positions no rig can reach (faster than {}).",
            count(*number, "fix was", "fixes were"),
            style.units.speed().text(*limit_m_s),
        ),
        Matter::ClockShifted { offset_s } => format!(
            "The logged times were moved by {} (clock_offset in the fleet file).",
            signed_duration(*offset_s),
        ),
        Matter::RoundedPositions {
            decimals,
            step_m,
            radius_m,
        } => format!(
            "Positions are logged with {decimals} decimals of degrees, in steps of {}; that alone puts one \
             in twenty more than {} off and is counted in the position error.",
            style.short_length(*step_m),
            style.short_length(*radius_m),
        ),
        Matter::SparseLog { left_out } => sparse(*left_out, style),
        Matter::PlacesBridged {
            bridged,
            left,
            rows,
            longest_s,
        } => bridged_text(*bridged as u64, *left as u64, *rows as u64, *longest_s),
        Matter::PositionDrifts { shown_m, told_m } => {
            let use_of_it = match told_m {
                Some(told_m) => format!(
                    "the fleet file says {}, which was used",
                    style.short_length(*told_m)
                ),
                None => "that was used as its position error".to_owned(),
            };
            format!(
                "While the rig stood, its places drifted as those of a receiver do of which 95 % are within \
                 {}; {use_of_it}.",
                style.short_length(*shown_m),
            )
        }
        _ => missing(matter, style),
    }
}

/// What a log lacks or has twice.
fn missing(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::MeterOdd {
            slips,
            jumps,
            uncounted_l,
        } => meter_odd(*slips as u64, *jumps as u64, *uncounted_l, style),
        Matter::SharedRigId { logs, distance_m } => format!(
            "One rig id is in two places at once, up to {} apart; the second run is from {}.",
            style.length(*distance_m),
            names(logs),
        ),
        Matter::NoLog => {
            "No log was received; what it did is missing from every figure.".to_owned()
        }
        Matter::CoarseLog {
            interval_s,
            limit_s,
        } => format!(
            "The log has one fix in {} while moving; beyond {} it cannot show coverage, so there \
             are visits and volume only.",
            duration(*interval_s),
            duration(*limit_s),
        ),
        Matter::ValveStateOnly => {
            "The log has no flow, volume or rate: ground is told as treated by \
                                   valve state only, without rates."
                .to_owned()
        }
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

fn bridged_text(bridged: u64, left: u64, rows: u64, longest_s: f64) -> String {
    let rows = count(rows, "row", "rows");
    let curve = format!(
        "{} in {rows} were put on a curve between good ones, up to {} long",
        count(bridged, "place", "places"),
        duration(longest_s),
    );
    let stays = format!(
        "{} stayed where the log has them, in rows too long for a curve",
        count(left, "place", "places"),
    );
    let what = match (bridged, left) {
        (_, 0) => curve,
        (0, _) => stays,
        _ => format!("{curve}; {stays}"),
    };
    format!(
        "The receiver saw badly now and then, by its dilution of precision or by steps to the side that no rig \
         makes: {what}. They count as less certain."
    )
}

fn unit_taken(
    file: &str,
    channel: &str,
    unit: &str,
    of_target: Option<f64>,
    better: Option<(&str, f64)>,
) -> String {
    let said = format!("{file}: `{channel}` is mapped without a unit, and {unit} was taken");
    let percent = |fraction: f64| format!("{:.0} %", 100.0 * fraction);
    match (of_target, better) {
        (Some(taken), Some((other, fits))) => format!(
            "{said}, which comes to {} of the target rate; {other} would come to {}.",
            percent(taken),
            percent(fits)
        ),
        (Some(taken), None) => format!(
            "{said}, which comes to {} of the target rate.",
            percent(taken)
        ),
        (None, _) => format!("{said}."),
    }
}

/// What such a logger can say and what it cannot, once for all sites.
fn sparse(left_out: LeftOut, style: &Style) -> String {
    match left_out {
        LeftOut::Time { interval_s } => format!(
            "The log has one fix in {} while moving: a section that switches shows up to so much late, and \
             what switches on and off in between does not show at all.",
            duration(interval_s),
        ),
        LeftOut::Distance { step_m } => format!(
            "The logger writes a fix every {} and none while the rig stands: a section that switches shows \
             up to that far late, and stops and what was sprayed in them do not show.",
            style.short_length(step_m),
        ),
        LeftOut::OnChange {
            longest_s,
            longest_m,
        } => format!(
            "The logger writes a fix when a section switches (section_log), so silences of up to {} and {} \
             were followed: the sections are known there, the way is taken to be straight and is a guess.",
            duration(longest_s),
            style.length(longest_m),
        ),
    }
}

/// `+2 s`, `-1,024 weeks`: as one would write it in the fleet file.
#[must_use]
pub(crate) fn signed_duration(seconds: f64) -> String {
    const WEEK_S: f64 = 604_800.0;
    let sign = if seconds < 0.0 { "-" } else { "+" };
    let weeks = seconds.abs() / WEEK_S;
    if weeks >= 1.0 && (weeks - weeks.round()).abs() < 1e-9 {
        return format!("{sign}{}", count(weeks.round() as u64, "week", "weeks"));
    }
    if seconds.abs() < 60.0 {
        // Clocks are set to a fraction of a second.
        let digits = format!("{:.3}", seconds.abs());
        let digits = digits.trim_end_matches('0').trim_end_matches('.');
        return format!("{sign}{digits} s");
    }
    format!("{sign}{}", duration(seconds.abs()))
}

fn meter_odd(slips: u64, jumps: u64, uncounted_l: f64, style: &Style) -> String {
    let slipped = format!(
        "{} left out that the meter total came back from.",
        count(slips, "reading was", "readings were")
    );
    let jumped = format!(
        "The meter total rose faster than a pump can give, {}; {} not counted.",
        count(jumps, "time", "times"),
        style.volume(uncounted_l),
    );
    match (slips, jumps) {
        (_, 0) => slipped,
        (0, _) => jumped,
        _ => format!("{jumped} {slipped}"),
    }
}

fn skipped(file: &str, line: Option<u64>, number: u64, why: &str) -> String {
    // Reasons may come as whole sentences, from an error.
    let why = why.trim_end_matches('.');
    if number == 0 {
        let line = line.map_or_else(String::new, |line| format!(", line {line}"));
        return format!("{file}{line}: not used, or not in full: {why}.");
    }
    let lower = file.to_ascii_lowercase();
    let is_log = lower.ends_with(".gpx") || lower.ends_with(".gpx.gz");
    if lower.ends_with(".csv") {
        // A row may have lost a cell only: the reason says which.
        let rows = count(number, "row", "rows");
        return format!("{file}: {rows}{}: {why}.", first_at(line));
    }
    let things = if is_log {
        count(number, "point", "points")
    } else {
        count(number, "feature", "features")
    };
    format!("{file}: {things} left out{}: {why}.", first_at(line))
}

fn first_at(line: Option<u64>) -> String {
    line.map_or_else(String::new, |line| format!(", the first at line {line}"))
}
