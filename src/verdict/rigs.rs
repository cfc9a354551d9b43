//! Verdicts on rigs: their night as a whole, wherever they were.

use super::Night;
use crate::findings::clocks::AboutClocks;
use crate::findings::liquid::AboutLiquid;
use crate::findings::log::{AboutLog, LeftOut};
use crate::findings::meter::AboutMeter;
use crate::findings::positions::AboutPositions;
use crate::findings::rig::AboutRig;
use crate::findings::{Finding, Severity};
use crate::rig::meter::{MeteredBy, PerhapsLeaked};
use crate::rig::position::PositionFrom;
use crate::rig::track::Rhythm;
use crate::site::outcome::Outcome;
use crate::site::summary::Summary;

/// Greatest share of a rig's sprayed liquid outside all zones and their fringe. Starts and stops sampled once a
/// second reach 2 m past a zone's line on average at 4 m/s (trade judgement).
const GREATEST_STRAYED: f64 = 0.10;
/// Less than this is not a reason to ask, L (trade judgement).
const LEAST_STRAYED_L: f64 = 40.0;
/// Liquid laid while standing that is worth asking about, L: five gallons, more than a boom gives in the seconds of a
/// healthy start (trade judgement).
const LEAST_PARKED_L: f64 = 20.0;
/// Greatest share of metered liquid with every section closed (trade judgement).
const GREATEST_CLOSED: f64 = 0.05;
/// Less than this is the meter's tail, L: two gallons, where sound nights under a late meter have up to 5 L and leaks from 5 L
/// on (by trial, on seeds 101 to 140 of `tests/field`).
const LEAST_CLOSED_L: f64 = 7.6;
/// Less than this on ground already treated is in every night, L: a gallon (trade judgement).
const LEAST_TWICE_L: f64 = 3.8;
/// Other sections must have sprayed this long before a section that never did is a finding, s (trade judgement).
const LEAST_OTHERS_S: f64 = 600.0;
/// Rounding that is worth more than a remark, m: as much as the receiver's own error by default (trade judgement).
const GREATEST_ROUNDING_M: f64 = 1.0;
/// A log with a fix in so many seconds leaves out switches that one a second shows, s (trade judgement).
const LEAST_INTERVAL_S: f64 = 2.0;
/// A suspicious litre weighs as much as this ground in the ranking, m2 (a litre at 33 mL/m2) (trade judgement).
const M2_PER_L: f64 = 30.0;

/// Findings of one run.
pub(super) fn judge(night: &Night, index: usize) -> Vec<Finding> {
    let run = &night.runs[index];
    let mut findings: Vec<Finding> = [
        strayed(night, index),
        parked_flow(run),
        perhaps_leaked(night, index),
        closed_flow(night, index),
        slow_start(run),
        laid_twice(night, index),
        never_opened(run),
        coarse(run),
        valve_state_only(run),
        meter_odd(run),
        clock_shifted(run),
        rounded(run),
        sparse(run),
        meter_late(run),
        ends_not_judged(run),
        places_bridged(run),
        position_drifts(run),
    ]
    .into_iter()
    .flatten()
    .collect();
    for finding in &mut findings {
        finding.rig = Some(night.rig_id(index));
        finding.start = finding.start.or(Some(run.start));
    }
    findings
}

/// Rigs of the fleet without a log. One with `NoLog` each; without orders nobody knows if they were out.
pub(super) fn without_log(night: &Night) -> Vec<Finding> {
    night
        .fleet
        .rigs
        .iter()
        .enumerate()
        .filter(|(rig, _)| night.runs.iter().all(|run| run.rig != *rig))
        .map(|(_, rig)| {
            let mut finding = Finding::new(Severity::LookInto, AboutLog::NoLog);
            finding.rig = Some(rig.id.clone());
            finding
        })
        .collect()
}

/// Some rig of the fleet has no log.
pub(super) fn logs_missing(night: &Night) -> bool {
    !without_log(night).is_empty()
}

fn strayed(night: &Night, index: usize) -> Option<Finding> {
    let ledger = &night.ledgers[index];
    let sprayed_l = ledger.zones + ledger.keep_off + ledger.fringe + ledger.outside + ledger.yard;
    let share = ledger.outside / sprayed_l;
    // Nothing sprayed gives NaN, which is no finding.
    (share > GREATEST_STRAYED && ledger.outside > LEAST_STRAYED_L).then(|| {
        let kind = AboutLiquid::Strayed {
            volume_l: ledger.outside,
            share,
            limit: GREATEST_STRAYED,
        };
        weighted(Finding::new(Severity::LookInto, kind), ledger.outside)
    })
}

fn weighted(mut finding: Finding, litres: f64) -> Finding {
    finding.weight = M2_PER_L * litres;
    finding
}

fn parked_flow(run: &Summary) -> Option<Finding> {
    let parked = run
        .parked
        .filter(|parked| parked.volume_l > LEAST_PARKED_L)?;
    let kind = AboutLiquid::ParkedFlow {
        volume_l: parked.volume_l,
        seconds: parked.seconds,
        limit_l: LEAST_PARKED_L,
    };
    let mut finding = weighted(Finding::new(Severity::LookInto, kind), parked.volume_l);
    finding.start = Some(parked.start);
    finding.place = Some(parked.place);
    Some(finding)
}

fn closed_flow(night: &Night, index: usize) -> Option<Finding> {
    if hidden_leak(night, index).is_some() {
        return None;
    }
    let ledger = &night.ledgers[index];
    let share = ledger.closed / ledger.metered;
    (share > GREATEST_CLOSED && ledger.closed > LEAST_CLOSED_L).then(|| {
        let kind = AboutLiquid::ClosedFlow {
            volume_l: ledger.closed,
            share,
            limit: GREATEST_CLOSED,
        };
        weighted(Finding::new(Severity::LookInto, kind), ledger.closed)
    })
}

/// A leak that a coarse total hides among what was sprayed: reported before anything that rests on the rates.
fn perhaps_leaked(night: &Night, index: usize) -> Option<Finding> {
    let leaked = hidden_leak(night, index)?;
    let kind = AboutMeter::PerhapsLeaked {
        volume_l: leaked.litres,
        at_most_l: leaked.at_most_l,
        closed_s: leaked.closed_s,
        limit_l: LEAST_CLOSED_L,
    };
    Some(weighted(
        Finding::new(Severity::LookInto, kind),
        leaked.litres,
    ))
}

/// The same as far as it is worth a finding.
pub(super) fn hidden_leak(night: &Night, index: usize) -> Option<PerhapsLeaked> {
    let metered_l = night.ledgers[index].metered;
    night.runs[index].leaked.filter(|leaked| {
        leaked.litres > LEAST_CLOSED_L && leaked.litres > GREATEST_CLOSED * metered_l
    })
}

/// Liquid that comes late at every start, with a meter that is prompt.
fn slow_start(run: &Summary) -> Option<Finding> {
    let (late_s, closings) = run.late.slow_start()?;
    let kind = AboutMeter::SlowStart { late_s, closings };
    let mut finding = Finding::new(Severity::LookInto, kind);
    finding.weight = run.wet_s;
    Some(finding)
}

/// One line for what a rig laid on ground that was treated already; a drop of it is in every night.
fn laid_twice(night: &Night, index: usize) -> Option<Finding> {
    let volume_l: f64 = night.outcomes.iter().map(|of| twice_l(of, index)).sum();
    let share = volume_l / night.ledgers[index].zones;
    (volume_l >= LEAST_TWICE_L).then(|| {
        let kind = AboutLiquid::LaidTwice { volume_l, share };
        Finding::new(Severity::ForTheRecord, kind)
    })
}

/// What a run laid on ground already treated at one site, L: of each zone, its share of the liquid there.
fn twice_l(outcome: &Outcome, run: usize) -> f64 {
    let zones = outcome.applications.iter().flat_map(|application| {
        let legs = application.legs.iter().map(|&leg| &outcome.legs[leg]);
        let legs: Vec<_> = legs.collect();
        application.zones.iter().filter_map(move |zone| {
            let areas = zone.areas?;
            let twice_m2 = (areas.swept_m2 - areas.treated_m2).max(0.0);
            let twice_l = zone.rate_swept_ml_m2()? * twice_m2 / 1000.0;
            let all_l: f64 = legs.iter().map(|leg| leg.zones_l[zone.zone]).sum();
            let own = legs.iter().filter(|leg| leg.run == run);
            let own_l: f64 = own.map(|leg| leg.zones_l[zone.zone]).sum();
            (all_l > 0.0).then(|| twice_l * own_l / all_l)
        })
    });
    zones.sum()
}

fn never_opened(run: &Summary) -> Option<Finding> {
    let others_open_s = run
        .sections
        .iter()
        .map(|(_, wet_s)| *wet_s)
        .fold(0.0, f64::max);
    let closed = || {
        run.sections
            .iter()
            .zip(1..)
            .filter(|((_, wet_s), _)| *wet_s <= 0.0)
    };
    let numbers: Vec<usize> = closed().map(|(_, number)| number).collect();
    (others_open_s >= LEAST_OTHERS_S && !numbers.is_empty()).then(|| {
        let width_m: f64 = closed().map(|((width_m, _), _)| width_m).sum();
        let kind = AboutRig::NeverOpened {
            closed: super::sections::named(numbers, &run.widths_m()),
            others_open_s,
        };
        let mut finding = Finding::new(Severity::LookInto, kind);
        finding.weight = width_m * run.distance_m;
        finding
    })
}

fn coarse(run: &Summary) -> Option<Finding> {
    let interval_s = run.coarse_interval_s?;
    let kind = AboutLog::CoarseLog {
        interval_s,
        limit_s: run.coarse_limit_s,
    };
    Some(Finding::new(Severity::LookInto, kind))
}

/// Readings of the total that cannot be.
fn meter_odd(run: &Summary) -> Option<Finding> {
    let odd = run.oddities;
    let severity = if odd.jumps > 0 {
        Severity::LookInto
    } else {
        Severity::ForTheRecord
    };
    let kind = AboutMeter::MeterOdd {
        slips: odd.slips,
        jumps: odd.jumps,
        uncounted_l: odd.uncounted_l,
    };
    let mut finding = Finding::new(severity, kind);
    finding.start = odd.first;
    (odd.slips + odd.jumps > 0).then_some(finding)
}

/// Nothing to do: it explains why the readings of flow and ground differ.
fn meter_late(run: &Summary) -> Option<Finding> {
    let late = run.late;
    let fitted = late.fitted.filter(|_| late.moved_s > 0.0)?;
    let kind = AboutMeter::MeterLate {
        late_s: late.moved_s,
        within_s: 2.0 * fitted.deviation_s,
        closings: fitted.closings,
    };
    Some(Finding::new(Severity::ForTheRecord, kind))
}

/// Ends of bouts that read dry for less than the meter may be late.
fn ends_not_judged(run: &Summary) -> Option<Finding> {
    let kind = AboutMeter::EndsNotJudged {
        length_m: run.not_judged_m,
        late_s: run.late.greatest_s,
    };
    (run.not_judged_m > 0.0).then(|| Finding::new(Severity::ForTheRecord, kind))
}

/// Places that count as missing, or as less certain.
fn places_bridged(run: &Summary) -> Option<Finding> {
    let disowned = run.disowned;
    let kind = AboutPositions::PlacesBridged {
        bridged: disowned.bridged,
        left: disowned.left,
        rows: disowned.rows,
        longest_s: disowned.longest_s,
    };
    (disowned.rows > 0).then(|| Finding::new(Severity::ForTheRecord, kind))
}

/// A stated error that the log contradicts makes false patches: somebody should look. One that was taken over is only
/// explained.
fn position_drifts(run: &Summary) -> Option<Finding> {
    let shown_m = run.drift_m?;
    let told = run.position_from == PositionFrom::Fleet;
    let severity = if told {
        Severity::LookInto
    } else {
        Severity::ForTheRecord
    };
    let kind = AboutPositions::PositionDrifts {
        shown_m,
        told_m: told.then_some(run.position_m),
    };
    Some(Finding::new(severity, kind))
}

fn clock_shifted(run: &Summary) -> Option<Finding> {
    let offset_s = run.clock_offset_s;
    (offset_s.abs() > 0.0).then(|| {
        Finding::new(
            Severity::ForTheRecord,
            AboutClocks::ClockShifted { offset_s },
        )
    })
}

fn rounded(run: &Summary) -> Option<Finding> {
    let rounding = run.rounding?;
    let radius_m = rounding.radius_m();
    // Five decimals blur what a good receiver gives; with fewer the log is of little use for areas.
    let severity = if radius_m > GREATEST_ROUNDING_M {
        Severity::LookInto
    } else {
        Severity::ForTheRecord
    };
    let kind = AboutPositions::RoundedPositions {
        decimals: rounding.decimals,
        step_m: rounding.north_m,
        radius_m,
    };
    Some(Finding::new(severity, kind))
}

/// What a log that is good enough for coverage still leaves out. A coarse one says more than that.
fn sparse(run: &Summary) -> Option<Finding> {
    let left_out = match run.rhythm {
        Rhythm::Time { interval_s } if interval_s >= LEAST_INTERVAL_S => {
            LeftOut::Time { interval_s }
        }
        Rhythm::Distance { step_m, .. } => LeftOut::Distance { step_m },
        Rhythm::OnChange {
            longest_s,
            longest_m,
            ..
        } if longest_s > 0.0 => LeftOut::OnChange {
            longest_s,
            longest_m,
        },
        Rhythm::Time { .. } | Rhythm::OnChange { .. } => return None,
    };
    run.coarse_interval_s
        .is_none()
        .then(|| Finding::new(Severity::ForTheRecord, AboutLog::SparseLog { left_out }))
}

fn valve_state_only(run: &Summary) -> Option<Finding> {
    (run.metered_by == MeteredBy::Nothing)
        .then(|| Finding::new(Severity::LookInto, AboutMeter::ValveStateOnly))
}
