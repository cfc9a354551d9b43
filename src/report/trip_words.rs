//! The words of a site to go back to: for the terminal, the page and the list of places to drive to.

use crate::findings::cause::GapCause;
use crate::findings::cover::AboutCover;
use crate::findings::orders::AboutOrders;
use crate::findings::rig::AboutRig;
use crate::findings::sections::ClosedSections;
use crate::findings::{Finding, Kind};
use crate::notation::clean::clean;
use crate::notation::names::names;
use crate::notation::numbers::{duration, percent};
use crate::notation::style::Style;
use crate::report::page::{Effort, Page, Part, RigState, Spot, Trip};
use crate::result::{self, Audit};

/// People plan by so many minutes; more would pretend to know the traffic (layout).
const PLANNED_S: f64 = 300.0;

/// Caution for whoever is sent: the same words wherever places to drive to are listed.
pub const TRAFFIC: &str = "A list of places, not an order: its lines are not roads. Whoever is sent works among \
     traffic and on ground that may be slippery; look at the ground before treating it.";

/// `skua (skua lot)`, or the id alone where the name says no more.
#[must_use]
pub fn site(site: &result::Site) -> String {
    match site.name.as_deref().filter(|name| *name != site.site) {
        Some(name) => clean(&format!("{} ({name})", site.site)).into_owned(),
        None => clean(&site.site).into_owned(),
    }
}

/// The night in a sentence: where to go back to and what it takes.
#[must_use]
pub fn verdict(page: &Page, audit: &Audit, style: &Style) -> String {
    if page.trips.is_empty() {
        return match audit.logs_missing {
            true => "Nothing to go back for in the logs received; some are missing.".to_owned(),
            false => "Nothing to go back for in the logs.".to_owned(),
        };
    }
    let named: Vec<String> = page
        .trips
        .iter()
        .map(|trip| {
            let name = clean(&audit.sites[trip.site].site).into_owned();
            match trip.due.filter(|due| due.open && !due.over) {
                Some(due) => format!("{name} (due {})", style.clock(due.by)),
                None => name,
            }
        })
        .collect();
    let effort = effort(page.effort, style);
    format!(
        "Check, and treat again if needed: {}{effort}.",
        names(&named)
    )
}

fn effort(effort: Effort, style: &Style) -> String {
    let litres = effort
        .litres
        .map(|litres| format!("{} and overlap", style.volume(litres)));
    let time = effort.spraying_s.map(|seconds| {
        let planned_s = (seconds / PLANNED_S).ceil() * PLANNED_S;
        format!(
            "about {} of spraying; driving and filling not included",
            duration(planned_s)
        )
    });
    let parts: Vec<String> = litres.into_iter().chain(time).collect();
    match parts.is_empty() {
        true => String::new(),
        false => format!("; {}", parts.join(", ")),
    }
}

/// `due 05:00`, `was due 22:40`.
#[must_use]
pub fn due(trip: &Trip, style: &Style) -> Option<String> {
    let due = trip.due?;
    let verb = if due.over { "was due" } else { "due" };
    Some(format!("{verb} {}", style.clock(due.by)))
}

/// `third lane from the south`.
#[must_use]
pub fn spot(spot: Spot) -> String {
    match spot {
        Spot::Whole => "all of it".to_owned(),
        Spot::AllOver(places) => format!("{places} places all over it"),
        Spot::Corner(direction) => format!("{} corner", direction.name()),
        Spot::Side(direction) => format!("{} side", direction.name()),
        Spot::Middle => "in the middle".to_owned(),
        Spot::Lane(number, direction) => {
            format!("{} lane from the {}", ordinal(number), direction.name())
        }
    }
}

fn ordinal(number: usize) -> String {
    const WORDS: [&str; 9] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
    ];
    let word = number.checked_sub(1).and_then(|index| WORDS.get(index));
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    word.map_or_else(|| format!("{number}{ending}"), |word| (*word).to_owned())
}

/// `lot, third lane from the south: 3,030 ft2, 2 gal`.
#[must_use]
pub fn ground(part: &Part, style: &Style) -> String {
    let place = part.spot.map(|at| format!(", {}", spot(at)));
    let litres = part
        .litres
        .map(|litres| format!(", {}", style.volume(litres)));
    let text = format!(
        "{}{}: {}{}",
        names(&part.zones),
        place.unwrap_or_default(),
        style.area(part.area_m2),
        litres.unwrap_or_default(),
    );
    clean(&text).into_owned()
}

/// What the logs show of a part, as a sentence without its figures.
#[must_use]
pub fn shown(part: &Part, findings: &[Finding], style: &Style) -> String {
    let lead = part.findings.first().map(|&index| &findings[index]);
    let ends = lead.and_then(|finding| finding.log_ends);
    let text = match lead.map(|finding| &finding.kind) {
        Some(Kind::Orders(AboutOrders::NotDone(it))) => {
            let missing = if it.logs_missing {
                "no treatment in the logs received"
            } else {
                "no treatment logged"
            };
            let wrong = wrong_lot(part);
            format!("Ordered ({}), {missing}.{wrong}", names(&it.orders))
        }
        Some(Kind::Cover(AboutCover::BarePatch(patch))) => {
            let silence = if patch.near_dropout {
                " The log has no fixes for a while nearby: the rig may have treated it."
            } else {
                ""
            };
            format!("{}{silence}", bare(patch.cause, part, findings))
        }
        Some(Kind::Cover(AboutCover::ThinCover { .. })) => {
            "No liquid logged on strips all over it, each too narrow to go to.".to_owned()
        }
        _ => String::new(),
    };
    let ends = ends.map_or_else(String::new, |time| {
        let time = style.clock(time);
        format!(" The log breaks off there at {time} and may lack the rest.")
    });
    clean(&(text + &in_part(part, findings) + &ends)).into_owned()
}

/// ` Order D-103 in part (97 %).`
fn in_part(part: &Part, findings: &[Finding]) -> String {
    let orders = part
        .findings
        .iter()
        .filter_map(|&index| match &findings[index].kind {
            Kind::Orders(AboutOrders::OrderInPart { order, zones, .. }) => {
                let share = zones.first().and_then(|(_, share)| *share);
                let share = share.map(|share| format!(" ({})", percent(share)));
                Some(format!(
                    " Order {order} in part{}.",
                    share.unwrap_or_default()
                ))
            }
            _ => None,
        });
    orders.collect()
}

fn wrong_lot(part: &Part) -> String {
    match &part.wrong_lot {
        Some(site) => format!(" {site}, next door, was treated without an order: wrong lot?"),
        None => String::new(),
    }
}

fn bare(cause: GapCause, part: &Part, findings: &[Finding]) -> String {
    let rig = part.rig.as_ref().map(|state| state.rig.as_str());
    let by = rig.map_or_else(String::new, |rig| format!(" by rig {rig}"));
    let dry = part
        .findings
        .iter()
        .find_map(|&index| match &findings[index].kind {
            Kind::Rig(AboutRig::OpenDry { seconds, .. }) => {
                Some(format!(" for {}", duration(*seconds)))
            }
            _ => None,
        });
    match cause {
        GapCause::NeverReached
        | GapCause::BentRound
        | GapCause::Silence
        | GapCause::ErrorUntold => "No liquid logged: mostly no boom passed over.".to_owned(),
        GapCause::SprayingOff => format!("Crossed{by} with spraying off."),
        GapCause::Closed => format!(
            "Passed over{by} with {} closed and others open.",
            closed(part.rig.as_ref())
        ),
        GapCause::Dry => {
            let dry = dry.unwrap_or_default();
            format!("Passed over{by} with sections open and no liquid{dry}.")
        }
    }
}

/// `section 2 of 3 (middle)`, `a section`.
fn closed(state: Option<&RigState>) -> String {
    let closed = state.and_then(|state| state.closed.as_ref());
    closed.map_or_else(|| "a section".to_owned(), ClosedSections::named)
}

/// Whether the rig at fault can be used for it, by its log.
#[must_use]
pub fn rig(part: &Part, audit: &Audit, style: &Style) -> Option<String> {
    let state = part.rig.as_ref()?;
    let rig = clean(&state.rig).into_owned();
    let with = match (state.cause, &state.closed) {
        (GapCause::Closed, Some(closed)) if closed.numbers.len() > 1 => " with those sections",
        (GapCause::Closed, Some(_)) => " with that section",
        _ => "",
    };
    let text = match (&state.again, state.cause) {
        (_, GapCause::NeverReached | GapCause::SprayingOff) => {
            format!("By its log rig {rig} can do it.")
        }
        (Some((id, time)), _) => {
            let at = audit.sites.iter().find(|site| &site.site == id);
            let at = at.map_or_else(|| id.clone(), |site| site.site.clone());
            format!(
                "Rig {rig} sprayed{with} again at {} from {}, so by its log it can be used.",
                clean(&at),
                style.clock(*time)
            )
        }
        (None, GapCause::Closed) => match &state.closed {
            Some(closed) if closed.again => {
                format!("Rig {rig} sprayed{with} again there, so by its log it can be used.")
            }
            Some(_) => format!("Rig {rig} has not sprayed{with} since."),
            None => format!("Rig {rig} has not sprayed since: send another, or mend it first."),
        },
        (None, _) => {
            format!("Rig {rig} has not sprayed since: send another, or mend it first.")
        }
    };
    Some(text)
}

/// `45.00049, -29.98437`: latitude first, as people type it.
#[must_use]
pub fn coordinates(trip: &Trip) -> String {
    format!("{:.5}, {:.5}", trip.place.lat_deg, trip.place.lon_deg)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_are_counted_in_words_and_then_in_figures() {
        let said = |number| ordinal(number);
        assert_eq!([said(1), said(3), said(9)], ["first", "third", "ninth"]);
        assert_eq!(
            [said(10), said(11), said(12), said(21), said(22)],
            ["10th", "11th", "12th", "21st", "22nd"]
        );
    }
}
