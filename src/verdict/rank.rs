//! The order in which findings are read: severity, then what is at stake, then weight.
//!
//! At five in the morning the first lines decide what a rig is sent for. A slip in the fleet file that makes all
//! figures of a rig wrong comes first within its severity. Then ground that was to be
//! treated and got nothing comes before ground that got too little, and both before liquid that was
//! wasted; what only concerns the files comes last.

use crate::findings::{Finding, Matter};

/// What is at stake. The order is the order of the list within one severity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stake {
    /// A slip that makes every figure of a rig wrong.
    Figures,
    /// Work that was not done, or done without liquid.
    NotDone,
    /// Ground without liquid.
    Bare,
    /// Ground with too little.
    LowRate,
    /// Ground of which nobody knows.
    Unlogged,
    /// Liquid where it must not be.
    KeepOff,
    /// An order not kept as agreed.
    Order,
    /// Liquid, time or a bill.
    Money,
    /// What the files say, or do not say.
    Data,
}

/// Puts findings in the order in which they are read. Equals stay in the order of the flow, which
/// follows the order of the input.
pub(super) fn rank(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let by_stake = stake(&a.matter).cmp(&stake(&b.matter));
        a.severity
            .cmp(&b.severity)
            .then(by_stake)
            .then(b.weight.total_cmp(&a.weight))
    });
}

fn stake(matter: &Matter) -> Stake {
    match matter {
        Matter::UnitTaken {
            better: Some(_), ..
        }
        | Matter::WideBoom { .. }
        | Matter::PerhapsLeaked { .. } => Stake::Figures,
        Matter::NotVisited { .. }
        | Matter::NotDone { .. }
        | Matter::OutsideTime { .. }
        | Matter::OrderInPart { .. }
        | Matter::DryRun { .. } => Stake::NotDone,
        Matter::ThinCover { .. }
        | Matter::BarePatch { .. }
        | Matter::TouchedUp { .. }
        | Matter::SlowStart { .. }
        | Matter::CheckOnFoot { .. }
        | Matter::NeverOpened { .. } => Stake::Bare,
        Matter::OffRate {
            rate_ml_m2,
            target_ml_m2,
            ..
        } => low_or_money(rate_ml_m2 < target_ml_m2),
        Matter::SetRateDiffers {
            set_ml_m2,
            target_ml_m2,
            ..
        } => low_or_money(set_ml_m2 < target_ml_m2),
        Matter::Uneven {
            share_low,
            limit_low,
            ..
        } => low_or_money(share_low > limit_low),
        Matter::DropoutNearby { .. } => Stake::Unlogged,
        Matter::KeepOffWet { .. } => Stake::KeepOff,
        Matter::NotOrdered { .. } | Matter::Late { .. } | Matter::OtherProduct { .. } => {
            Stake::Order
        }
        Matter::Doubled { .. }
        | Matter::LaidTwice { .. }
        | Matter::Strayed { .. }
        | Matter::ParkedFlow { .. }
        | Matter::ClosedFlow { .. } => Stake::Money,
        Matter::RingRepaired { .. }
        | Matter::OutsideLogs { .. }
        | Matter::OrdersNotShown { .. }
        | Matter::SiteRemark { .. }
        | Matter::InputSkipped { .. }
        | Matter::ReadingOdd { .. }
        | Matter::TimesUnread { .. }
        | Matter::UnitTaken { .. }
        | Matter::ClockOdd { .. }
        | Matter::ClockApart { .. }
        | Matter::JumpsDropped { .. }
        | Matter::SharedRigId { .. }
        | Matter::NoLog
        | Matter::CoarseLog { .. }
        | Matter::ReverseTowed { .. }
        | Matter::ClockShifted { .. }
        | Matter::RoundedPositions { .. }
        | Matter::SparseLog { .. }
        | Matter::MeterOdd { .. }
        | Matter::MeterLate { .. }
        | Matter::EndsNotJudged { .. }
        | Matter::PlacesBridged { .. }
        | Matter::GearUnsure { .. }
        | Matter::PositionDrifts { .. }
        | Matter::GroundByCells { .. }
        | Matter::ValveStateOnly => Stake::Data,
    }
}

fn low_or_money(low: bool) -> Stake {
    if low { Stake::LowRate } else { Stake::Money }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Severity;

    fn finding(severity: Severity, matter: Matter, weight: f64) -> Finding {
        let mut finding = Finding::new(severity, matter);
        finding.weight = weight;
        finding
    }

    #[test]
    fn bare_ground_comes_before_waste_and_waste_before_files() {
        let off = |rate_ml_m2| Matter::OffRate {
            rate_ml_m2,
            target_ml_m2: 30.0,
            band: 0.1,
        };
        let thin = |gap_m2| Matter::ThinCover {
            treated_share: 0.5,
            zone_share: None,
            limit: 0.9,
            gap_m2,
        };
        let mut findings = vec![
            finding(Severity::LookInto, Matter::NoLog, 1e6),
            finding(Severity::LookInto, off(40.0), 5e5),
            finding(Severity::LookInto, off(20.0), 1.0),
            finding(Severity::GoBack, thin(1.0), 1.0),
            finding(Severity::GoBack, thin(2.0), 2.0),
        ];
        rank(&mut findings);
        let matters: Vec<Matter> = findings.into_iter().map(|f| f.matter).collect();
        assert_eq!(
            matters,
            [thin(2.0), thin(1.0), off(20.0), off(40.0), Matter::NoLog]
        );
    }
}
