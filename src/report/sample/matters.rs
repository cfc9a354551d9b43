//! One finding's matter of every kind, in the order of the list.

use super::*;

/// One of every kind.
pub(crate) fn matters() -> Vec<Matter> {
    let file = || "logs/north.gpx".to_owned();
    vec![
        Matter::NotVisited {
            sites: vec!["=mill".into()],
            some_l: None,
            logs_missing: true,
        },
        Matter::NotVisited {
            sites: vec!["=mill".into()],
            some_l: Some(98.0),
            logs_missing: false,
        },
        not_done(true, false),
        not_done(false, true),
        not_done(false, false),
        Matter::NotOrdered {
            application: 2,
            zones: vec!["main".into()],
            treated_m2: Some(9_000.0),
            volume_l: Some(250.0),
        },
        Matter::Late {
            orders: vec!["A-17".into()],
            late_s: 2_400.0,
            finished: at(100),
            by: at(60),
            limit_s: 60.0,
        },
        Matter::OtherProduct {
            orders: vec!["A-17".into()],
            ordered: "NaCl 23.3 %".into(),
            applied: "blend".into(),
            area_m2: 9_000.0,
        },
        Matter::OutsideLogs {
            orders: vec!["line 4".into()],
        },
        Matter::ThinCover {
            treated_share: 0.87,
            zone_share: Some(0.84),
            limit: 0.9,
            gap_m2: 114.0,
        },
        Matter::BarePatch {
            count: 3,
            area_m2: 215.0,
            greatest_m2: 120.0,
            probability: 0.97,
            interval_m2: (86.0, 110.0),
            limit_m2: 10.0,
            cause: GapCause::Closed,
            closed: Some(second_of_four()),
            near_dropout: false,
            treated_share: Some(0.67),
        },
        Matter::DryRun {
            seconds: 31.0,
            length_m: 119.0,
            count: 2,
            limit_s: 10.0,
        },
        Matter::Doubled {
            overlap_share: 0.31,
            repeated_m2: 0.0,
            limit: 0.25,
            extra_l: Some(53.0),
        },
        Matter::OffRate {
            rate_ml_m2: TARGET_ML_M2 * 1.25,
            target_ml_m2: TARGET_ML_M2,
            band: 0.1,
        },
        Matter::Uneven {
            share_low: 0.12,
            limit_low: 0.1,
            share_high: 0.03,
            limit_high: 0.05,
        },
        Matter::KeepOffWet {
            area_m2: 25.0,
            limit_m2: 10.0,
            volume_l: Some(1.0),
        },
        Matter::Strayed {
            volume_l: 87.0,
            share: 0.04,
            limit: 0.03,
        },
        Matter::ParkedFlow {
            volume_l: 23.0,
            seconds: 45.0,
            limit_l: 10.0,
        },
        Matter::NeverOpened {
            closed: second_of_four(),
            others_open_s: 2_460.0,
        },
        Matter::DropoutNearby {
            count: 1,
            seconds: 8.0,
            unlogged_m2: 98.0,
            volume_l: Some(3.2),
        },
        Matter::ReverseTowed {
            area_m2: 61.0,
            patches: 1,
            patches_m2: 14.0,
        },
        Matter::SetRateDiffers {
            set_ml_m2: 24.0,
            target_ml_m2: TARGET_ML_M2,
            limit: 0.05,
        },
        Matter::ClosedFlow {
            volume_l: 30.0,
            share: 0.03,
            limit: 0.02,
        },
        Matter::PerhapsLeaked {
            volume_l: 208.0,
            at_most_l: 240.0,
            closed_s: 1_900.0,
            limit_l: 20.0,
        },
        Matter::SlowStart {
            late_s: 2.6,
            closings: 31,
        },
        Matter::LaidTwice {
            volume_l: 38.0,
            share: 0.17,
        },
        Matter::TouchedUp {
            count: 2,
            area_m2: 393.0,
            covered: at(125),
            rig: "south".into(),
        },
        Matter::OrderInPart {
            order: "A-17".into(),
            zones: vec![("entry".into(), Some(0.847))],
            limit: 0.9,
            reason: InPartReason::Thin(GapCause::SprayingOff),
        },
        Matter::OrdersNotShown {
            orders: vec!["A-17".into()],
            zones: vec!["quay/steps".into(), "quay/walk".into()],
        },
        Matter::CheckOnFoot {
            zones: vec!["quay/ramp".into()],
            area_m2: 9.0,
        },
        Matter::OutsideTime {
            orders: vec!["N-1".into(), "N-3".into()],
            sites: vec!["quay".into(), "mill".into()],
            area_m2: 7_000.0,
            off_s: -15_240.0,
            shift: Some(later()),
        },
        Matter::OutsideTime {
            orders: vec!["N-1".into()],
            sites: vec!["quay".into()],
            area_m2: 7_000.0,
            off_s: 15_240.0,
            shift: None,
        },
        Matter::ClockApart {
            shift: later(),
            mended: 1,
        },
        Matter::RingRepaired {
            fault: "crosses itself".into(),
            before_m2: 93.0,
            after_m2: 95.0,
        },
        Matter::SiteRemark {
            what: "has no use; read as a lot".into(),
            feature: 3,
        },
        Matter::InputSkipped {
            file: file(),
            line: Some(12),
            count: 3,
            why: "the latitude is not a number".into(),
        },
        Matter::ReadingOdd {
            file: file(),
            line: Some(15),
            count: 65,
            what: "\"15\" is no reading of `sections`; taken as unknown".into(),
        },
        Matter::TimesUnread {
            file: "orders.csv".into(),
            line: 2,
            count: 3,
            why: "`by` cannot be read (\"1/12/2026 5:30 AM\" is no time)".into(),
        },
        Matter::UnitTaken {
            file: file(),
            channel: "flow",
            unit: "L/min",
            of_target: Some(0.98),
            better: None,
        },
        Matter::UnitTaken {
            file: file(),
            channel: "flow",
            unit: "L/min",
            of_target: Some(0.26),
            better: Some(("gal/min", 0.99)),
        },
        Matter::WideBoom {
            width_m: 42.7,
            sections: 4,
            limit_m: 12.2,
        },
        Matter::ClockOdd {
            file: file(),
            line: Some(9),
            count: 3_600,
            what: "times have no zone, read as UTC".into(),
        },
        Matter::JumpsDropped {
            count: 12,
            limit_m_s: 45.0,
        },
        Matter::ClockShifted { offset_s: -3_600.0 },
        Matter::RoundedPositions {
            decimals: 5,
            step_m: 1.11,
            radius_m: 0.57,
        },
        Matter::SparseLog {
            left_out: crate::findings::LeftOut::Distance { step_m: 10.0 },
        },
        Matter::MeterLate {
            late_s: 3.4,
            within_s: 0.3,
            closings: 42,
        },
        Matter::EndsNotJudged {
            length_m: 240.0,
            late_s: 5.0,
        },
        Matter::PlacesBridged {
            bridged: 22,
            left: 16,
            rows: 9,
            longest_s: 7.0,
        },
        Matter::GearUnsure {
            area_m2: 62.0,
            patches: 1,
            patches_m2: 14.0,
        },
        Matter::PositionDrifts {
            shown_m: 2.9,
            told_m: Some(0.9),
        },
        Matter::GroundByCells {
            cell_m: 0.1,
            off_m: 0.071,
        },
        Matter::MeterOdd {
            slips: 2,
            jumps: 1,
            uncounted_l: 4_000.0,
        },
        Matter::SharedRigId {
            logs: vec!["a.gpx".into(), "b.gpx".into()],
            distance_m: 1_900.0,
        },
        Matter::NoLog,
        Matter::CoarseLog {
            interval_s: 10.0,
            limit_s: 5.0,
        },
        Matter::ValveStateOnly,
    ]
}
