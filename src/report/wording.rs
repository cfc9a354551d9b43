//! The wording of all findings: the only place where a [`Matter`] becomes words.
//!
//! Texts say what the logs show, with figure and limit; they never say what state the ground is
//! in. What to check or do stands in [`check`]. Reports print both and add nothing.

mod advice;
mod figure;
mod ground;
mod names;
mod orders;
mod source;
pub mod trip;

pub use advice::check;
pub use figure::{Figure, Quantity, figure};
pub use ground::cause_clause;
pub(crate) use names::capital;
pub(crate) use source::signed_duration;

use crate::findings::{Finding, Matter, Severity};
use crate::report::clean::clean;
use crate::report::style::Style;

/// Heading over the findings of one severity.
#[must_use]
pub fn heading(severity: Severity) -> &'static str {
    match severity {
        Severity::GoBack => "Go back before the cars arrive",
        Severity::LookInto => "Look into",
        Severity::ForTheRecord => "For the record",
    }
}

/// Short title of a finding.
#[must_use]
pub fn title(matter: &Matter) -> &'static str {
    match matter {
        Matter::NotVisited { .. } => "Sites without treatment",
        Matter::NotDone { .. } => "Ordered, not done",
        Matter::OutsideTime { .. } => "Treated outside its time",
        Matter::ClockApart { .. } => "Out when no other rig was",
        Matter::NotOrdered { .. } => "Treated without an order",
        Matter::Late { .. } => "Finished late",
        Matter::OtherProduct { .. } => "Another product than ordered",
        Matter::OutsideLogs { .. } => "Orders outside the time of the logs",
        Matter::ThinCover { .. } => "Thin cover",
        Matter::BarePatch { .. } => "Patches without liquid",
        Matter::DryRun { .. } => "Open without liquid",
        Matter::Doubled { .. } => "Treated twice",
        Matter::OffRate { .. } => "Off the target rate",
        Matter::Uneven { .. } => "Uneven",
        Matter::KeepOffWet { .. } => "Keep-off ground sprayed",
        Matter::Strayed { .. } => "Sprayed outside the zones",
        Matter::ParkedFlow { .. } => "Flow while parked",
        Matter::NeverOpened { .. } => "Section never opened",
        Matter::DropoutNearby { .. } => "Silence in the log",
        Matter::ReverseTowed { .. } => "Trailer backed up in a turn",
        Matter::SetRateDiffers { .. } => "Controller set to another rate",
        Matter::ClosedFlow { .. } => "Flow with all sections closed",
        Matter::PerhapsLeaked { .. } => "A leak that the meter cannot tell from spraying",
        Matter::SlowStart { .. } => "Liquid comes late at the starts",
        Matter::LaidTwice { .. } => "Laid on ground already treated",
        Matter::TouchedUp { .. } => "Patches treated later",
        Matter::OrderInPart { .. } => "Order done in part",
        Matter::OrdersNotShown { .. } => "Ground that no log shows",
        Matter::CheckOnFoot { .. } => "Check on foot",
        Matter::RingRepaired { .. } => "Outline repaired",
        Matter::SiteRemark { .. } => "Remark on the sites file",
        Matter::InputSkipped { .. } => "Input left out",
        Matter::ReadingOdd { .. } => "Odd readings",
        Matter::TimesUnread { .. } => "Order times not understood",
        Matter::UnitTaken { .. } => "Unit not given",
        Matter::WideBoom { .. } => "Very wide boom",
        Matter::ClockOdd { .. } => "Odd clock",
        Matter::JumpsDropped { .. } => "Impossible positions",
        Matter::ClockShifted { .. } => "Clock set by the fleet file",
        Matter::RoundedPositions { .. } => "Rounded positions",
        Matter::SparseLog { .. } => "What the log leaves out",
        Matter::MeterLate { .. } => "Meter reads late",
        Matter::EndsNotJudged { .. } => "Ends of swaths not judged",
        Matter::PlacesBridged { .. } => "Places the receiver disowns",
        Matter::GearUnsure { .. } => "Forward or reverse not certain",
        Matter::PositionDrifts { .. } => "Positions drift more than was thought",
        Matter::GroundByCells { .. } => "Ground counted in cells",
        Matter::MeterOdd { .. } => "Odd meter total",
        Matter::SharedRigId { .. } => "One rig id twice",
        Matter::NoLog => "No log received",
        Matter::CoarseLog { .. } => "Log too coarse",
        Matter::ValveStateOnly => "Valve states only",
    }
}

/// The finding in one or two sentences, with its place and time, figure and limit.
#[must_use]
pub fn text(finding: &Finding, style: &Style) -> String {
    let mut sentence = sentence(&finding.matter, style);
    if let Some(ends) = finding.log_ends {
        let clause = format!(
            "; the log breaks off there at {} and may lack the rest.",
            style.time(ends)
        );
        sentence = format!("{}{clause}", sentence.trim_end_matches('.'));
    }
    let place = place(finding, style);
    let text = if place.is_empty() {
        sentence
    } else {
        format!("{place}: {sentence}")
    };
    clean(&text).into_owned()
}

/// Title, place and sentence, for a page whose head names the night: the time of day only.
#[must_use]
pub fn titled(finding: &Finding, style: &Style) -> String {
    let (title, sentence) = (title(&finding.matter), sentence(&finding.matter, style));
    let mut parts = place_parts(finding);
    parts.extend(finding.start.iter().map(|start| style.clock(*start)));
    let place = if parts.is_empty() {
        String::new()
    } else {
        format!(", {}", parts.join(", "))
    };
    clean(&format!("{title}{place}. {sentence}")).into_owned()
}

/// `site/zone, rig north, 2026-01-11 20:31 CST`, as far as known.
#[must_use]
pub fn place(finding: &Finding, style: &Style) -> String {
    let mut parts = place_parts(finding);
    parts.extend(finding.start.iter().map(|start| style.time(*start)));
    parts.join(", ")
}

fn place_parts(finding: &Finding) -> Vec<String> {
    let mut parts = Vec::new();
    match (&finding.site, &finding.zone) {
        (Some(site), Some(zone)) => parts.push(format!("{site}/{zone}")),
        (Some(site), None) => parts.push(format!("site {site}")),
        (None, Some(zone)) => parts.push(format!("zone {zone}")),
        (None, None) => {}
    }
    parts.extend(finding.rig.iter().map(|rig| format!("rig {rig}")));
    parts
}

/// The finding's figures in a sentence, without its place and time.
#[must_use]
pub fn sentence(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::NotVisited {
            sites,
            some_l,
            logs_missing,
        } => ground::not_visited(sites, *some_l, *logs_missing, style),
        Matter::NotDone { .. }
        | Matter::NotOrdered { .. }
        | Matter::OutsideTime { .. }
        | Matter::ClockApart { .. }
        | Matter::OrderInPart { .. }
        | Matter::OrdersNotShown { .. }
        | Matter::Late { .. }
        | Matter::OtherProduct { .. }
        | Matter::OutsideLogs { .. } => orders::sentence(matter, style),
        Matter::ThinCover { .. }
        | Matter::BarePatch { .. }
        | Matter::TouchedUp { .. }
        | Matter::CheckOnFoot { .. }
        | Matter::Doubled { .. } => ground::coverage(matter, style),
        Matter::OffRate { .. } | Matter::Uneven { .. } | Matter::SetRateDiffers { .. } => {
            ground::rates(matter, style)
        }
        Matter::KeepOffWet { .. }
        | Matter::Strayed { .. }
        | Matter::ParkedFlow { .. }
        | Matter::PerhapsLeaked { .. }
        | Matter::LaidTwice { .. }
        | Matter::ClosedFlow { .. } => ground::liquid(matter, style),
        Matter::DryRun { .. }
        | Matter::NeverOpened { .. }
        | Matter::DropoutNearby { .. }
        | Matter::ReverseTowed { .. }
        | Matter::GearUnsure { .. }
        | Matter::SlowStart { .. }
        | Matter::EndsNotJudged { .. }
        | Matter::MeterLate { .. } => source::machine(matter, style),
        Matter::RingRepaired { .. } | Matter::SiteRemark { .. } | Matter::GroundByCells { .. } => {
            source::sites_file(matter, style)
        }
        Matter::InputSkipped { .. }
        | Matter::ReadingOdd { .. }
        | Matter::TimesUnread { .. }
        | Matter::UnitTaken { .. }
        | Matter::WideBoom { .. }
        | Matter::ClockOdd { .. }
        | Matter::JumpsDropped { .. }
        | Matter::ClockShifted { .. }
        | Matter::RoundedPositions { .. }
        | Matter::SparseLog { .. }
        | Matter::MeterOdd { .. }
        | Matter::PlacesBridged { .. }
        | Matter::PositionDrifts { .. }
        | Matter::SharedRigId { .. }
        | Matter::NoLog
        | Matter::CoarseLog { .. }
        | Matter::ValveStateOnly => source::logs(matter, style),
    }
}

#[cfg(test)]
mod tests;
