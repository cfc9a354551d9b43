//! Findings about cover: ground that was treated, was not, or was treated twice.

use super::Severity;
use super::card::hands_on;
use super::card::{Card, Quantity, Stake};
use super::cause::{GapCause, cause_clause};
use super::sections::ClosedSections;
use crate::geometry::place::Instant;
use crate::notation::names::names;
use crate::notation::numbers::{count, percent};
use crate::notation::style::Style;
use std::borrow::Cow;

/// About cover: ground that was treated, was not, or was treated twice.
/// Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum AboutCover {
    /// Sites that no rig treated: counted in one line.
    NotVisited {
        /// Their ids.
        sites: Vec<String>,
        /// Liquid that fell on their zones all the same, too little ground for a treatment.
        some_l: Option<f64>,
        /// Logs of some rig are missing, so "no treatment in the logs received".
        logs_missing: bool,
    },
    /// Too little of the zone inside its edge was treated.
    ThinCover {
        /// Treated share of the zone inside its edge.
        treated_share: f64,
        /// Treated share of all of the zone.
        zone_share: Option<f64>,
        /// Least share.
        limit: f64,
        /// Ground missed inside the edge.
        gap_m2: f64,
        /// Nobody told the rig's position error, and with a coarse receiver's there may be no such gap.
        error_untold: bool,
    },
    /// Patches to go back for or to look at.
    BarePatch(BarePatch),
    /// Patches of a round that were treated later in the night.
    TouchedUp {
        /// How many.
        count: usize,
        /// Their area together.
        area_m2: f64,
        /// When that was finished.
        covered: Instant,
        /// By which rig.
        rig: String,
    },
    /// Ground that matters more than the rest and that positions cannot judge.
    CheckOnFoot {
        /// As `site/zone`.
        zones: Vec<String>,
        /// Its area.
        area_m2: f64,
    },
    /// Too much ground was treated twice.
    Doubled {
        /// Overlap as a share of the zone.
        overlap_share: f64,
        /// Ground of whole passes that were driven again, m2.
        repeated_m2: f64,
        /// Greatest share.
        limit: f64,
        /// Liquid laid on ground already treated.
        extra_l: Option<f64>,
    },
}

/// Patches of one zone to go back for or to look at.
#[derive(Debug, Clone, PartialEq)]
pub struct BarePatch {
    /// How many.
    pub count: usize,
    /// Their area together.
    pub area_m2: f64,
    /// The greatest one.
    pub greatest_m2: f64,
    /// Likely enough for a trip; else only more likely bare than not.
    pub likely: bool,
    /// Probability that the greatest one is truly bare.
    pub probability: f64,
    /// 90 % interval of what is bare of it inside the edge.
    pub interval_m2: (f64, f64),
    /// Smallest patch that counts.
    pub limit_m2: f64,
    /// Most of the patches' ground by cause.
    pub cause: GapCause,
    /// Which sections were closed, where that is the cause.
    pub closed: Option<ClosedSections>,
    /// A dropout passes nearby: the rig may have treated it.
    pub near_dropout: bool,
    /// Treated share of the zone inside its edge.
    pub treated_share: Option<f64>,
}

impl AboutCover {
    pub(super) fn card(&self) -> Card<'_> {
        use Quantity::{Area, Count, Share};
        match self {
            Self::NotVisited { sites, .. } => {
                Card::new("not_visited", "Sites without treatment", Stake::NotDone)
                    .figure(sites.len() as f64, Count("sites"))
                    .at(sites)
            }
            Self::ThinCover {
                treated_share,
                limit,
                ..
            } => Card::new("thin_cover", "Thin cover", Stake::Bare).against(
                *treated_share,
                *limit,
                Share,
            ),
            Self::BarePatch(it) => Card::new("bare_patch", "Patches without liquid", Stake::Bare)
                .against(it.area_m2, it.limit_m2, Area)
                .closed(it.closed.as_ref()),
            Self::TouchedUp { area_m2, .. } => {
                Card::new("touched_up", "Patches treated later", Stake::Bare).figure(*area_m2, Area)
            }
            Self::CheckOnFoot { area_m2, .. } => {
                Card::new("check_on_foot", "Check on foot", Stake::Bare).figure(*area_m2, Area)
            }
            Self::Doubled {
                overlap_share,
                limit,
                ..
            } => Card::new("doubled", "Treated twice", Stake::Money).against(
                *overlap_share,
                *limit,
                Share,
            ),
        }
    }

    /// Its figures in a sentence, without place and time.
    pub(super) fn sentence(&self, style: &Style) -> String {
        match self {
            Self::NotVisited {
                sites,
                some_l,
                logs_missing,
            } => not_visited(sites, *some_l, *logs_missing, style),
            Self::ThinCover {
                treated_share,
                zone_share,
                limit,
                gap_m2,
                error_untold,
            } => {
                let untold = if *error_untold { UNTOLD } else { "" };
                let zone = zone_share.map_or_else(String::new, |share| {
                    format!("{} of the zone and ", percent(share))
                });
                format!(
                    "The logs show {zone}{} of the ground inside its edge treated (limit {}); {} there shows no \
                     liquid.{untold}",
                    percent(*treated_share),
                    percent(*limit),
                    style.area(*gap_m2),
                )
            }
            Self::BarePatch(it) => it.sentence(style),
            Self::TouchedUp {
                count: number,
                area_m2,
                covered,
                rig,
            } => format!(
                "{}, {} in all, got no liquid at first; covered by {}, rig {rig}.",
                count(*number as u64, "patch", "patches"),
                style.area(*area_m2),
                style.clock(*covered),
            ),
            Self::CheckOnFoot { zones, area_m2 } => format!(
                "Positions are too coarse to tell whether {} ({}) was treated: the logs show it neither bare nor \
                 covered.",
                names(zones),
                style.area(*area_m2),
            ),
            Self::Doubled {
                overlap_share,
                repeated_m2,
                limit,
                extra_l,
            } => doubled((*overlap_share, *limit), *repeated_m2, *extra_l, style),
        }
    }

    /// What to check or do about it.
    pub(super) fn check(&self, severity: Severity) -> Cow<'static, str> {
        let plain = match self {
            Self::NotVisited {
                logs_missing: true, ..
            } => {
                "Get the missing logs or ask the crew first; send a rig where the work was not done."
            }
            Self::NotVisited { .. } => {
                "Ask the crew, since a log shows no hand work; send a rig where the work was not done."
            }
            Self::ThinCover {
                error_untold: true, ..
            } => TELL_ERROR,
            Self::ThinCover { .. } => {
                "coverage.geojson shows where; send a rig unless parked cars, snow piles or hand work explain it."
            }
            Self::BarePatch(it) => return it.check(severity),
            Self::TouchedUp { .. } => "Nothing to do if it was intended.",
            Self::CheckOnFoot { .. } => {
                "Have somebody look on foot, and treat by hand where needed."
            }
            Self::Doubled { .. } => {
                "Compare lane spacing with the boom's width, and ask whether the driver went over it again."
            }
        };
        plain.into()
    }

    /// One of every kind, and more where the words differ.
    #[cfg(test)]
    pub(super) fn samples() -> Vec<Self> {
        use super::sample::at;
        vec![
            Self::NotVisited {
                sites: vec!["=mill".into()],
                some_l: None,
                logs_missing: true,
            },
            Self::NotVisited {
                sites: vec!["=mill".into()],
                some_l: Some(98.0),
                logs_missing: false,
            },
            Self::ThinCover {
                treated_share: 0.87,
                zone_share: None,
                limit: 0.9,
                gap_m2: 114.0,
                error_untold: true,
            },
            Self::ThinCover {
                treated_share: 0.87,
                zone_share: Some(0.84),
                limit: 0.9,
                gap_m2: 114.0,
                error_untold: false,
            },
            Self::BarePatch(BarePatch {
                count: 3,
                area_m2: 215.0,
                greatest_m2: 120.0,
                likely: true,
                probability: 0.97,
                interval_m2: (86.0, 110.0),
                limit_m2: 10.0,
                cause: GapCause::Closed,
                closed: Some(ClosedSections::sample()),
                near_dropout: false,
                treated_share: Some(0.67),
            }),
            Self::BarePatch(BarePatch {
                count: 1,
                area_m2: 19.0,
                greatest_m2: 19.0,
                likely: false,
                probability: 0.62,
                interval_m2: (5.0, 33.0),
                limit_m2: 10.0,
                cause: GapCause::SprayingOff,
                closed: None,
                near_dropout: false,
                treated_share: Some(0.97),
            }),
            Self::TouchedUp {
                count: 2,
                area_m2: 393.0,
                covered: at(125),
                rig: "south".into(),
            },
            Self::CheckOnFoot {
                zones: vec!["quay/ramp".into()],
                area_m2: 9.0,
            },
            Self::Doubled {
                overlap_share: 0.31,
                repeated_m2: 0.0,
                limit: 0.25,
                extra_l: Some(53.0),
            },
        ]
    }
}

fn not_visited(sites: &[String], some_l: Option<f64>, logs_missing: bool, style: &Style) -> String {
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
            "{over} of the zone was treated by two or more passes; whole passes were driven again over {}{extra}.",
            style.area(repeated_m2),
        );
    }
    format!(
        "{over} of the zone was treated by two or more passes (limit {} for its shape and this boom){extra}.",
        percent(limit),
    )
}

/// A probability as drivers say it, never quite none nor all: `95 in 100`.
fn in_100(probability: f64) -> String {
    format!("{} in 100", (100.0 * probability).floor().clamp(1.0, 99.0))
}

/// A log's "closed" is a closed that was commanded, unless the logger reads the valve.
fn closed_section(closed: &ClosedSections) -> String {
    let more = hands_on!(
        "check switch, master, automatic shut-off, and the wiring if the logger reads the valve; then follow \
         touchup.gpx."
    );
    format!("{more}{}", closed.not_again())
}

/// Thin cover under an error that was assumed.
const UNTOLD: &str =
    " The position error was assumed, as none is stated; with a phone's it may be drift.";
/// What to do where a gap hangs on an error that was assumed.
const TELL_ERROR: &str = "Write the receiver's 95 % error into the fleet file as position and audit again; look if the gap \
                          remains. coverage.geojson shows where.";

impl BarePatch {
    fn sentence(&self, style: &Style) -> String {
        let sizes = match self.count {
            1 => format!("a patch of {}", style.area(self.area_m2)),
            _ => format!(
                "{} patches, {} in all, the largest {}",
                self.count,
                style.area(self.area_m2),
                style.area(self.greatest_m2)
            ),
        };
        let silence = if self.near_dropout && self.cause != GapCause::Silence {
            " The log has no fixes for a while nearby: the rig may have treated it."
        } else {
            ""
        };
        let likely = if self.likely { "likely" } else { "perhaps" };
        format!(
            "The logs show no liquid on {sizes} ({likely} bare: {}, {} to {} inside the edge; smallest counted: {}): \
                 {}.{silence}",
            in_100(self.probability),
            style.area(self.interval_m2.0),
            style.area(self.interval_m2.1),
            style.area(self.limit_m2),
            cause_clause(self.cause, self.closed.as_ref()),
        )
    }

    fn check(&self, severity: Severity) -> Cow<'static, str> {
        let plain = match self.cause {
            GapCause::Silence => {
                "Ask the driver whether it was treated; coverage.geojson shows where. Check the logger's power and the \
             antenna cable."
            }
            GapCause::BentRound => {
                "Look, or ask the driver, what stood there, and treat it once that is gone if need be; coverage.geojson \
                 shows where."
            }
            GapCause::ErrorUntold => TELL_ERROR,
            _ if !self.likely => {
                "Not worth a trip of its own: look when somebody is there. coverage.geojson shows where."
            }
            _ if severity != Severity::GoBack => {
                "coverage.geojson shows where; parked cars, snow piles or hand work may explain it."
            }
            _ if self.near_dropout => {
                "Ask the driver first; if it was not done, touchup.gpx leads there."
            }
            GapCause::NeverReached => {
                "touchup.gpx leads there; parked cars, snow piles or hand work may explain it."
            }
            GapCause::SprayingOff => {
                "touchup.gpx leads there; ask whether it was left out on purpose."
            }
            GapCause::Closed => match &self.closed {
                Some(closed) => return closed_section(closed).into(),
                None => hands_on!(
                    "check the sections' switches, the master and the automatic shut-off, and the wiring if the logger reads \
             the valves; then follow touchup.gpx."
                ),
            },
            GapCause::Dry => hands_on!(
                "check the tank level, the pump, the suction strainer, valves and nozzles; then follow touchup.gpx."
            ),
        };
        plain.into()
    }
}

/// What fell on ground that does not count as treated.
pub(super) fn hardly(some_l: f64, style: &Style) -> String {
    format!(", except {} on a small part", style.volume(some_l))
}
