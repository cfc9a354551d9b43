//! The figure and the limit behind a finding's words, in SI, for programs and spreadsheets.

use crate::findings::{LeftOut, Matter};

/// What kind of quantity a figure is; decides its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// m2.
    Area,
    /// L.
    Volume,
    /// mL/m2.
    Rate,
    /// m.
    Length,
    /// s.
    Time,
    /// Fraction of one.
    Share,
    /// A number of these.
    Count(&'static str),
}

/// A finding's figure, the limit it is held against, and their quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// What was found, SI.
    pub figure: f64,
    /// What it was held against, SI; `None` where anything counts.
    pub limit: Option<f64>,
    /// What both are.
    pub quantity: Quantity,
}

impl Quantity {
    /// Unit of the figure in `audit.json`.
    #[must_use]
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::Area => "m2",
            Self::Volume => "L",
            Self::Rate => "mL/m2",
            Self::Length => "m",
            Self::Time => "s",
            Self::Share => "fraction",
            Self::Count(things) => things,
        }
    }
}

/// The figure of a finding; `None` where there is nothing to count or measure.
#[must_use]
pub fn figure(matter: &Matter) -> Option<Figure> {
    let (figure, limit, quantity) = of_work(matter)?;
    Some(Figure {
        figure,
        limit,
        quantity,
    })
}

/// Figure, limit and quantity of a finding about orders, ground and rates.
fn of_work(matter: &Matter) -> Option<(f64, Option<f64>, Quantity)> {
    use Quantity::{Area, Count, Rate, Share, Time};
    Some(match matter {
        Matter::NotVisited { sites, .. } => (sites.len() as f64, None, Count("sites")),
        Matter::NotDone { area_m2, .. }
        | Matter::OtherProduct { area_m2, .. }
        | Matter::OutsideTime { area_m2, .. } => (*area_m2, None, Area),
        Matter::ClockApart { shift, .. } => (shift.add_s, None, Time),
        Matter::NotOrdered { treated_m2, .. } => ((*treated_m2)?, None, Area),
        Matter::Late {
            late_s, limit_s, ..
        } => (*late_s, Some(*limit_s), Time),
        Matter::OutsideLogs { orders } => (orders.len() as f64, None, Count("orders")),
        Matter::ThinCover {
            treated_share,
            limit,
            ..
        } => (*treated_share, Some(*limit), Share),
        Matter::BarePatch {
            area_m2, limit_m2, ..
        } => (*area_m2, Some(*limit_m2), Area),
        Matter::Doubled {
            overlap_share,
            limit,
            ..
        } => (*overlap_share, Some(*limit), Share),
        Matter::OffRate {
            rate_ml_m2,
            target_ml_m2,
            band,
        } => (
            *rate_ml_m2,
            Some(nearer_bound(*rate_ml_m2, *target_ml_m2, *band)),
            Rate,
        ),
        Matter::SetRateDiffers {
            set_ml_m2,
            target_ml_m2,
            limit,
        } => (
            *set_ml_m2,
            Some(nearer_bound(*set_ml_m2, *target_ml_m2, *limit)),
            Rate,
        ),
        Matter::Uneven {
            share_low,
            limit_low,
            share_high,
            limit_high,
        } => {
            // The one that is farther over its own limit.
            if share_low * limit_high >= share_high * limit_low {
                (*share_low, Some(*limit_low), Share)
            } else {
                (*share_high, Some(*limit_high), Share)
            }
        }
        _ => return of_rig(matter),
    })
}

/// The same of a finding about liquid and rigs.
fn of_rig(matter: &Matter) -> Option<(f64, Option<f64>, Quantity)> {
    use Quantity::{Area, Count, Share, Time, Volume};
    Some(match matter {
        Matter::DryRun {
            seconds, limit_s, ..
        } => (*seconds, Some(*limit_s), Time),
        Matter::KeepOffWet {
            area_m2, limit_m2, ..
        } => (*area_m2, Some(*limit_m2), Area),
        Matter::Strayed { share, limit, .. } | Matter::ClosedFlow { share, limit, .. } => {
            (*share, Some(*limit), Share)
        }
        Matter::ParkedFlow {
            volume_l, limit_l, ..
        } => (*volume_l, Some(*limit_l), Volume),
        Matter::PerhapsLeaked {
            volume_l, limit_l, ..
        } => (*volume_l, Some(*limit_l), Volume),
        Matter::LaidTwice { volume_l, .. } => (*volume_l, None, Volume),
        Matter::SlowStart { late_s, .. } => (*late_s, None, Time),
        Matter::TouchedUp { area_m2, .. } | Matter::CheckOnFoot { area_m2, .. } => {
            (*area_m2, None, Area)
        }
        Matter::OrdersNotShown { orders, .. } => (orders.len() as f64, None, Count("orders")),
        Matter::OrderInPart { zones, limit, .. } => (
            zones.first().and_then(|(_, share)| *share)?,
            Some(*limit),
            Share,
        ),
        Matter::NeverOpened { closed, .. } => {
            (closed.numbers.len() as f64, None, Count("sections"))
        }
        Matter::DropoutNearby { seconds, .. } => (*seconds, None, Time),
        Matter::ReverseTowed { area_m2, .. } => (*area_m2, None, Area),
        _ => return of_file(matter),
    })
}

/// The same of a finding about what the files say.
fn of_file(matter: &Matter) -> Option<(f64, Option<f64>, Quantity)> {
    use Quantity::{Area, Count, Length, Share, Time};
    Some(match matter {
        Matter::RingRepaired {
            before_m2,
            after_m2,
            ..
        } => (after_m2 - before_m2, None, Area),
        Matter::InputSkipped { count: 0, .. } => (1.0, None, Count("files")),
        Matter::InputSkipped { count, .. } => (*count as f64, None, Count("items")),
        Matter::WideBoom {
            width_m, limit_m, ..
        } => (*width_m, Some(*limit_m), Length),
        Matter::TimesUnread { count, .. } => (*count as f64, None, Count("orders")),
        Matter::ReadingOdd { count, .. } => (*count as f64, None, Count("items")),
        Matter::UnitTaken {
            of_target: Some(of_target),
            ..
        } => (*of_target, None, Share),
        Matter::ClockOdd { count, .. } | Matter::JumpsDropped { count, .. } => {
            (*count as f64, None, Count("fixes"))
        }
        Matter::ClockShifted { offset_s } => (*offset_s, None, Time),
        Matter::RoundedPositions { step_m, .. } => (*step_m, None, Length),
        Matter::SparseLog { left_out } => sparse(*left_out),
        Matter::MeterLate { late_s, .. } => (*late_s, None, Time),
        Matter::PlacesBridged { bridged, left, .. } => {
            ((*bridged + *left) as f64, None, Count("fixes"))
        }
        Matter::EndsNotJudged { length_m, .. } => (*length_m, None, Length),
        Matter::GearUnsure { area_m2, .. } => (*area_m2, None, Area),
        Matter::PositionDrifts { shown_m, told_m } => (*shown_m, *told_m, Length),
        Matter::GroundByCells { off_m, .. } => (*off_m, None, Length),
        Matter::MeterOdd { slips, jumps, .. } => ((*slips + *jumps) as f64, None, Count("fixes")),
        Matter::SharedRigId { distance_m, .. } => (*distance_m, None, Length),
        Matter::CoarseLog {
            interval_s,
            limit_s,
        } => (*interval_s, Some(*limit_s), Time),
        // Remarks and logs that are missing or lack a meter have nothing to count.
        _ => return None,
    })
}

/// The usual gap between two fixes, in what the logger goes by.
fn sparse(left_out: LeftOut) -> (f64, Option<f64>, Quantity) {
    match left_out {
        LeftOut::Time { interval_s } => (interval_s, None, Quantity::Time),
        LeftOut::Distance { step_m } => (step_m, None, Quantity::Length),
        LeftOut::OnChange { longest_s, .. } => (longest_s, None, Quantity::Time),
    }
}

/// The edge of the band around the target on the side where the rate is.
fn nearer_bound(rate_ml_m2: f64, target_ml_m2: f64, band: f64) -> f64 {
    let signed = if rate_ml_m2 < target_ml_m2 {
        -band
    } else {
        band
    };
    target_ml_m2 * (1.0 + signed)
}
