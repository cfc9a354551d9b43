//! Sentences about the ground and the liquid on it.

use super::names::{names, sections};
use super::title;
use crate::findings::{ClosedSections, GapCause, Matter};
use crate::report::numbers::{count, duration, percent};
use crate::report::style::Style;

pub(super) fn not_visited(
    sites: &[String],
    some_l: Option<f64>,
    logs_missing: bool,
    style: &Style,
) -> String {
    let some = some_l.map_or_else(String::new, |some_l| hardly(some_l, style));
    let sites = format!(
        "{} ({}){some}",
        count(sites.len() as u64, "site", "sites"),
        names(sites)
    );
    if logs_missing {
        format!("No treatment in the logs received at {sites}.")
    } else {
        format!("The logs show no treatment at {sites}.")
    }
}

/// What fell on ground that does not count as treated.
pub(super) fn hardly(some_l: f64, style: &Style) -> String {
    format!(", but for {} on a small part", style.volume(some_l))
}

pub(super) fn coverage(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::ThinCover {
            treated_share,
            zone_share,
            limit,
            gap_m2,
        } => {
            let zone = zone_share.map_or_else(String::new, |share| {
                format!("{} of the zone and ", percent(share))
            });
            format!(
                "The logs show treatment on {zone}{} of its ground inside the edge (limit {} there); {} without.",
                percent(*treated_share),
                percent(*limit),
                style.area(*gap_m2),
            )
        }
        Matter::TouchedUp {
            count: number,
            area_m2,
            covered,
            rig,
        } => format!(
            "{} without liquid at first, {} together; covered {}, rig {rig}.",
            count(*number as u64, "patch", "patches"),
            style.area(*area_m2),
            style.clock(*covered),
        ),
        Matter::CheckOnFoot { zones, area_m2 } => format!(
            "Positions cannot tell whether {} ({}) got any: neither bare nor covered by the logs.",
            names(zones),
            style.area(*area_m2),
        ),
        Matter::BarePatch { .. } => bare_patch(matter, style),
        Matter::Doubled {
            overlap_share,
            repeated_m2,
            limit,
            extra_l,
        } => doubled((*overlap_share, *limit), *repeated_m2, *extra_l, style),
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

fn bare_patch(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::BarePatch {
            count: number,
            area_m2,
            greatest_m2,
            probability,
            interval_m2: (low_m2, high_m2),
            limit_m2,
            cause,
            closed,
            near_dropout,
            ..
        } => {
            let sizes = match number {
                1 => format!("a patch of {}", style.area(*area_m2)),
                _ => format!(
                    "{number} patches, {} together, the largest {}",
                    style.area(*area_m2),
                    style.area(*greatest_m2)
                ),
            };
            let silence = if *near_dropout && *cause != GapCause::Silence {
                " There are no fixes for a time nearby: the rig may have treated it."
            } else {
                ""
            };
            format!(
                "The logs show no liquid on {sizes} (likely bare: {}, {} to {} inside the edge; smallest counted: {}): \
                 {}.{silence}",
                in_100(*probability),
                style.area(*low_m2),
                style.area(*high_m2),
                style.area(*limit_m2),
                cause_clause(*cause, closed.as_ref()),
            )
        }
        // `coverage` sends no other matter here.
        _ => title(matter).to_owned(),
    }
}

fn doubled(
    (overlap_share, limit): (f64, f64),
    repeated_m2: f64,
    extra_l: Option<f64>,
    style: &Style,
) -> String {
    let extra = extra_l.map_or_else(String::new, |extra_l| {
        format!("; {} went on ground already treated", style.volume(extra_l))
    });
    let over = percent(overlap_share);
    if repeated_m2 > 0.0 {
        return format!(
            "{over} of the zone was treated by two or more passes; whole passes were driven again, {}{extra}.",
            style.area(repeated_m2),
        );
    }
    format!(
        "{over} of the zone was treated by two or more passes (limit {}, by its shape and the boom){extra}.",
        percent(limit),
    )
}

/// A probability as drivers say it, never quite none nor all: `95 in 100`.
fn in_100(probability: f64) -> String {
    format!("{} in 100", (100.0 * probability).floor().clamp(1.0, 99.0))
}

/// Why most of a patch has no liquid, as a clause.
#[must_use]
pub fn cause_clause(cause: GapCause, closed: Option<&ClosedSections>) -> String {
    match (cause, closed) {
        (GapCause::NeverReached, _) => "mostly no boom passed over".to_owned(),
        (GapCause::BentRound, _) => "the rigs bent round it: car, pile or corral?".to_owned(),
        (GapCause::SprayingOff, _) => "mostly crossed with spraying off".to_owned(),
        (GapCause::Closed, None) => {
            "mostly a boom passed over with a section closed and others open".to_owned()
        }
        (GapCause::Closed, Some(closed)) => format!(
            "mostly a boom passed over with {} closed and others open",
            sections(closed)
        ),
        (GapCause::Dry, _) => {
            "mostly a boom passed over with the section open and no liquid".to_owned()
        }
        (GapCause::Silence, _) => {
            "the log is silent over most of it: it may have been treated".to_owned()
        }
        (GapCause::ErrorUntold, _) => {
            "the position error is assumed, nobody told it; with a phone's there may be no gap"
                .to_owned()
        }
    }
}

pub(super) fn rates(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::OffRate {
            rate_ml_m2,
            target_ml_m2,
            band,
        } => format!(
            "The swept rate is {}, {} the target of {}; the band is {} either way.",
            style.rate(*rate_ml_m2),
            over_or_under(*rate_ml_m2, *target_ml_m2),
            style.rate(*target_ml_m2),
            percent(*band),
        ),
        Matter::SetRateDiffers {
            set_ml_m2,
            target_ml_m2,
            limit,
        } => format!(
            "The controller was set to {}, {} the target of {}; the limit is {} either way.",
            style.rate(*set_ml_m2),
            over_or_under(*set_ml_m2, *target_ml_m2),
            style.rate(*target_ml_m2),
            percent(*limit),
        ),
        Matter::Uneven {
            share_low,
            limit_low,
            share_high,
            limit_high,
        } => uneven((*share_low, *limit_low), (*share_high, *limit_high)),
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

/// Each a share of the treated ground and its limit; only limits that were passed are told.
fn uneven(low: (f64, f64), high: (f64, f64)) -> String {
    let told = [(low, "under half"), (high, "over 2.2 times")];
    let passed = told.into_iter().filter(|((share, limit), _)| share > limit);
    let parts: Vec<String> = passed
        .map(|((share, limit), what)| {
            format!(
                "{} of the treated ground got {what} the target (limit {})",
                percent(share),
                percent(limit)
            )
        })
        .collect();
    format!("{}.", parts.join(", "))
}

/// `25 % over`, `8 % under`.
fn over_or_under(rate_ml_m2: f64, target_ml_m2: f64) -> String {
    let difference = rate_ml_m2 / target_ml_m2 - 1.0;
    let side = if difference < 0.0 { "under" } else { "over" };
    format!("{} {side}", percent(difference.abs()))
}

pub(super) fn liquid(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::KeepOffWet {
            area_m2,
            limit_m2,
            volume_l,
        } => {
            let volume = volume_l.map_or_else(String::new, |volume_l| {
                format!(" with {}", style.volume(volume_l))
            });
            format!(
                "{} was sprayed{volume}, deeper inside than position error explains (smallest counted: {}).",
                style.area(*area_m2),
                style.area(*limit_m2),
            )
        }
        Matter::Strayed {
            volume_l,
            share,
            limit,
        } => format!(
            "{} was sprayed outside every zone, {} of what the rig sprayed (limit {}).",
            style.volume(*volume_l),
            percent(*share),
            percent(*limit),
        ),
        Matter::ParkedFlow {
            volume_l,
            seconds,
            limit_l,
        } => format!(
            "{} ran in {} while the rig stood (smallest counted: {}).",
            style.volume(*volume_l),
            duration(*seconds),
            style.volume(*limit_l),
        ),
        Matter::PerhapsLeaked { .. } | Matter::LaidTwice { .. } => by_the_meter(matter, style),
        Matter::ClosedFlow {
            volume_l,
            share,
            limit,
        } => format!(
            "{} passed the meter with every section closed, {} of the metered liquid (limit {}).",
            style.volume(*volume_l),
            percent(*share),
            percent(*limit),
        ),
        // `sentence` sends no other matter here; a test walks through all of them.
        _ => title(matter).to_owned(),
    }
}

/// What a meter cannot tell apart, and what laps lay twice.
fn by_the_meter(matter: &Matter, style: &Style) -> String {
    match matter {
        Matter::PerhapsLeaked {
            volume_l,
            at_most_l,
            closed_s,
            ..
        } => format!(
            "This meter counts too coarsely to tell a leak from spraying: by its ticks about {}, at most {}, ran in {} \
             with every section closed and was counted as sprayed. Rates and doses of this rig are too high by that.",
            style.volume(*volume_l),
            style.volume(*at_most_l),
            duration(*closed_s),
        ),
        Matter::LaidTwice { volume_l, share } => format!(
            "{}, {} of what it laid on zones, went on ground already treated.",
            style.volume(*volume_l),
            percent(*share),
        ),
        // `liquid` sends no other matter here.
        _ => title(matter).to_owned(),
    }
}
