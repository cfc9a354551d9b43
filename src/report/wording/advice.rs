//! What to check or do about a finding, in the words of the trade. Common practice throughout:
//! each line names what a foreman would look at first.

use crate::findings::{ClosedSections, Finding, GapCause, Matter, Severity, ShiftTold};
use std::borrow::Cow;

/// Before hands go to a boom, a pump or a valve (common practice; the maker's handbook comes first).
macro_rules! hands_on {
    ($work:literal) => {
        concat!(
            "First engine off, pressure relieved, eyes protected: ",
            $work
        )
    };
}

/// What to check or do about the finding.
#[must_use]
pub fn check(finding: &Finding) -> Cow<'static, str> {
    match &finding.matter {
        _ if finding.log_ends.is_some() => plain(finding).into(),
        Matter::BarePatch {
            cause: GapCause::Closed,
            closed: Some(closed),
            near_dropout: false,
            ..
        } if finding.severity == Severity::GoBack => closed_section(closed).into(),
        Matter::NeverOpened { closed, .. } => never_opened(closed).into(),
        Matter::OutsideTime { shift: Some(shift), .. } => format!(
            "Hold the logger's clock against the time of day. If it is off, write {} for the rig into the fleet file and \
             audit again; if not, ask the crew, and send a rig where the work is still to be done.",
            clock_line(shift)
        )
        .into(),
        Matter::ClockApart { shift, .. } => format!(
            "Hold the logger's clock against the time of day; if it is off, write {} for the rig into the fleet file \
             and audit again.",
            clock_line(shift)
        )
        .into(),
        _ => plain(finding).into(),
    }
}

/// A log's "closed" is a closed that was commanded, unless the logger reads the valve.
fn closed_section(closed: &ClosedSections) -> String {
    let more = hands_on!(
        "check switch, master, automatic shut-off, and the wiring if the logger reads the valve; then follow \
         touchup.gpx."
    );
    format!("{more}{}", not_again(closed))
}

fn never_opened(closed: &ClosedSections) -> String {
    let more = hands_on!(
        "check switch, master, automatic shut-off, the wiring if the logger reads the valve, and how the fleet file \
         maps the state."
    );
    format!("{more}{}", not_again(closed))
}

/// Nobody sends out again what failed, unless it worked later on.
fn not_again(closed: &ClosedSections) -> String {
    let numbers: Vec<String> = closed.numbers.iter().map(usize::to_string).collect();
    match numbers.as_slice() {
        _ if closed.again => String::new(),
        [number] => format!(" Don't send this rig again before section {number} works."),
        _ => format!(
            " Don't send this rig again before sections {} work.",
            numbers.join(", ")
        ),
    }
}

/// The key for the fleet file, in the greatest unit that needs no fraction.
fn clock_line(shift: &ShiftTold) -> String {
    let seconds = shift.offset_s.round();
    let whole = |unit_s: f64| (seconds / unit_s).fract().abs() < 1e-9;
    let (number, unit) = if whole(3_600.0) {
        (seconds / 3_600.0, "h")
    } else if whole(60.0) {
        (seconds / 60.0, "min")
    } else {
        (seconds, "s")
    };
    format!("clock_offset = \"{number:.0} {unit}\"")
}

fn plain(finding: &Finding) -> &'static str {
    if finding.log_ends.is_some() {
        return "Get the whole log from the rig and audit again, or ask the driver; send a rig only where the work was \
                not done.";
    }
    match &finding.matter {
        Matter::NotVisited {
            logs_missing: true, ..
        } => "Get the missing logs or ask the crew first; send a rig where the work was not done.",
        Matter::NotVisited { .. } => {
            "Ask the crew, since a log knows nothing of hand work; send a rig where the work was not done."
        }
        Matter::OrderInPart { .. } => {
            "Read what else is said of that zone; send a rig unless parked cars, snow piles or hand work explain it."
        }
        Matter::OrdersNotShown { .. } => {
            "Get the crew's word for hand work and walks before the order is called done."
        }
        Matter::OutsideTime { .. } => {
            "Ask the crew when and why it was treated then; send a rig where the work is still to be done."
        }
        Matter::NotDone { .. }
        | Matter::NotOrdered { .. }
        | Matter::Late { .. }
        | Matter::OtherProduct { .. }
        | Matter::OutsideLogs { .. } => order(&finding.matter),
        Matter::ThinCover { .. } => {
            "coverage.geojson shows where; send a rig unless parked cars, snow piles or hand work explain it."
        }
        Matter::BarePatch {
            cause,
            near_dropout,
            ..
        } => bare_patch(finding.severity, *cause, *near_dropout),
        Matter::DryRun { .. } => hands_on!(
            "check the tank level, the pump, the suction strainer and the section valves; a meter that stopped \
             counting looks the same."
        ),
        Matter::Doubled { .. } => {
            "Compare lane spacing with the boom's width, and ask whether the driver went over it again."
        }
        Matter::OffRate {
            rate_ml_m2,
            target_ml_m2,
            ..
        } => off_rate(*rate_ml_m2 < *target_ml_m2),
        Matter::Uneven { .. } => hands_on!(
            "check nozzles and strainers for blockage, section valves, and how steadily the controller follows \
             the speed."
        ),
        other => liquid(other),
    }
}

fn order(matter: &Matter) -> &'static str {
    match matter {
        Matter::NotDone {
            treated_later: true,
            ..
        } => {
            "It was treated later: ask the crew what happened, and settle with the client what counts."
        }
        Matter::NotDone {
            logs_missing: true, ..
        } => {
            "Get the missing logs or ask the crew first; send a rig where the ordered work was not done."
        }
        Matter::NotDone { .. } => {
            "Ask the crew whether it was left out or done by hand; send a rig where it was not done."
        }
        Matter::NotOrdered { .. } => {
            "Find the order, or ask the driver whether this was the wrong ground; unordered work may not be billable."
        }
        Matter::Late { .. } => {
            "Tell the client if the contract asks for it; put this site earlier in the route."
        }
        Matter::OtherProduct { .. } => {
            "Ask what was in the tank; correct the log's or rig's product if only that is wrong, else follow \
             the label and what was agreed with the client."
        }
        _ => "Check the dates in the orders file; audit again with the logs of that time.",
    }
}

fn bare_patch(severity: Severity, cause: GapCause, near_dropout: bool) -> &'static str {
    match cause {
        GapCause::Silence => {
            "Ask the driver whether it was treated; coverage.geojson shows where. Check the logger's power and the \
             antenna cable."
        }
        GapCause::BentRound => {
            "Look, or ask the driver, what stood there, and whether it is to be treated once that is gone; \
             coverage.geojson shows where."
        }
        GapCause::ErrorUntold => {
            "Write the receiver's 95 % error into the fleet file as position and audit again; look if it stays. \
             coverage.geojson shows where."
        }
        _ if severity != Severity::GoBack => {
            "coverage.geojson shows where; parked cars, snow piles or hand work may explain it."
        }
        _ if near_dropout => "Ask the driver first; if it was not done, touchup.gpx leads there.",
        GapCause::NeverReached => {
            "touchup.gpx leads there; parked cars, snow piles or hand work may explain it."
        }
        GapCause::SprayingOff => "touchup.gpx leads there; ask whether it was left out on purpose.",
        GapCause::Closed => hands_on!(
            "check the sections' switches, the master and the automatic shut-off, and the wiring if the logger reads \
             the valves; then follow touchup.gpx."
        ),
        GapCause::Dry => hands_on!(
            "check the tank level, the pump, the suction strainer, valves and nozzles; then follow touchup.gpx."
        ),
    }
}

fn off_rate(under: bool) -> &'static str {
    if under {
        "Check set rate, pressure, boom width and meter constant; then, engine off, pressure relieved, eyes protected, \
         blocked nozzles or strainers. A catch test at the boom settles it."
    } else {
        "Check set rate, boom width, speed and meter constant; then, engine off, pressure relieved, eyes protected, \
         worn or wrong nozzles. A catch test at the boom settles it."
    }
}

fn liquid(matter: &Matter) -> &'static str {
    match matter {
        Matter::KeepOffWet { .. } => {
            "Check the section switching there and the drawn line; follow the product label and what \
             was agreed with the client."
        }
        Matter::Strayed { .. } => {
            "coverage.geojson shows where; check that sections close at the exits and that no site is missing \
             from the sites file."
        }
        Matter::ParkedFlow { .. } => hands_on!(
            "check for a valve stuck open or a leak; rinsing or filling through the meter looks the same."
        ),
        Matter::ClosedFlow { .. } => hands_on!(
            "check for a leaking section valve or a return line behind the meter; gun work that is not logged looks \
             the same."
        ),
        other => rig_or_file(other),
    }
}

fn rig_or_file(matter: &Matter) -> &'static str {
    match matter {
        Matter::PerhapsLeaked { .. } => {
            "From the seat, close all sections with the pump on and watch the total. Then engine off, pressure relieved, \
             eyes protected: check the section valves and the return line; nozzles and set rate come after that."
        }
        Matter::SlowStart { .. } => hands_on!(
            "check for a slow section valve, a leaking check valve that lets the boom drain back, and air in the boom; \
             or open earlier (open_delay in the controller)."
        ),
        Matter::LaidTwice { .. } => {
            "Wider lanes and sections that close by themselves make it less."
        }
        Matter::TouchedUp { .. } => "Nothing to do if it was meant so.",
        Matter::CheckOnFoot { .. } => {
            "Have somebody look there on foot, and treat by hand where it is needed."
        }
        Matter::DropoutNearby { .. } => {
            "Ask the driver what was done there; check the logger's power and the antenna cable."
        }
        Matter::ReverseTowed { .. } => {
            "Look at the ground there, and at kerbs and planting beside it; coverage.geojson shows where."
        }
        Matter::GearUnsure { .. } => {
            "Log the heading of the vehicle (a heading channel), or stand still for a second when changing gear; \
             coverage.geojson shows where."
        }
        Matter::MeterLate { .. } => {
            "Put it into the fleet file as the meter's delay, or look for a shorter averaging time in the \
             controller; delay = \"0 s\" leaves the readings where they are."
        }
        Matter::EndsNotJudged { .. } => {
            "Tell the meter's delay in the fleet file (\"0 s\" for a prompt one), and they are judged."
        }
        Matter::PlacesBridged { .. } => {
            "Look at the antenna's mount and view of the sky; walls and canopies beside the lot do this too."
        }
        Matter::PositionDrifts { .. } => {
            "Put the receiver's position error into the fleet file as its data sheet and a test on the yard say."
        }
        Matter::GroundByCells { .. } => {
            "Look whether the rig truly worked there for so long; a log made of other logs, or a receiver gone \
             wild, does this too."
        }
        Matter::SetRateDiffers { .. } => {
            "Ask who chose the setting and why; then correct the controller or the target."
        }
        _ => file(matter),
    }
}

/// What to do about a file.
fn file(matter: &Matter) -> &'static str {
    match matter {
        Matter::RingRepaired { .. } => {
            "Compare the repaired outline with the ground and redraw it."
        }
        Matter::SiteRemark { .. } => {
            "Correct the feature in the sites file if it is not as you meant it."
        }
        Matter::InputSkipped { .. } => {
            "Look at the file where it says; get it again from where it came if it is damaged."
        }
        Matter::ReadingOdd { .. } => {
            "Look at the log where it says, and at the rig's [rig.channels] in the fleet file."
        }
        Matter::TimesUnread { .. } => {
            "Write times as 2026-01-12 05:30, or with their zone as 2026-01-12T05:30:00-06:00, and audit again."
        }
        Matter::UnitTaken {
            better: Some(_), ..
        } => {
            "Find out which unit the logger writes and name it in [rig.channels]; until then no rate of this rig counts."
        }
        Matter::UnitTaken { .. } => "Name the unit in [rig.channels] of the fleet file.",
        Matter::WideBoom { .. } => {
            "Compare the numbers and their units with the machine, and correct the fleet file if they are a slip."
        }
        Matter::ClockOdd { .. } => {
            "Check the logger's clock and its time-zone setting before relying on these times."
        }
        Matter::JumpsDropped { .. } => {
            "Check the antenna's mount, cable and view of the sky; canopies and tall walls do this too."
        }
        Matter::ClockShifted { .. } => {
            "Check it against the rig's clock now and then; remove `clock_offset` once the clock is corrected."
        }
        Matter::RoundedPositions { .. } => {
            "Set the logger or the export to seven decimals of degrees."
        }
        Matter::SparseLog { .. } => {
            "One fix a second shows more; where the logger cannot, read starts and ends of swaths with that in mind."
        }
        Matter::MeterOdd { .. } => {
            "Check the meter's plug and cable, and whether another meter or a refill was counted; compare \
             the volume with the tank."
        }
        Matter::SharedRigId { .. } => {
            "Find out which logger rode in which rig and give each its own id."
        }
        Matter::NoLog => "Fetch the log from the rig and run the audit again.",
        Matter::CoarseLog { .. } => "Set the logger to one fix a second.",
        Matter::ValveStateOnly => {
            "Log the meter if the rig has one, or map its element in the fleet file."
        }
        // The rest has its own arm in `check`; this says only what holds of any finding.
        _ => "Ask the driver; coverage.geojson shows what the log says.",
    }
}
