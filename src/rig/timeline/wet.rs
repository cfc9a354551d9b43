//! Wet or dry: which open spans had liquid.
//!
//! A span is dry where the flow is under a quarter of what the boom asks for there; short dry spells beside
//! wet ones are the controller's ramp. What a boom asks for depends on the ground it was over, so a run is
//! judged by its own products alone, and each site judges its own part again.

use crate::input::fleet::Rig;
use crate::rig::meter::{Metered, MeteredBy};
use std::ops::Range;

/// Flow under this share of target x speed x width is dry: a quarter is far below any working controller and far
/// above a leaking valve (trade judgement).
const WET_SHARE: f64 = 0.25;
/// Flow under this share of what the product itself asks for is a leaking valve, however little is asked for on some
/// ground: a leak is a few per cent (trade judgement).
const LEAK_SHARE: f64 = 0.05;
/// Without a target: dry under this share of the greatest flow (trade judgement).
const WET_SHARE_OF_GREATEST: f64 = 0.02;
/// Dry spells shorter than this next to wet ones are the controller's ramp, s; longer by the time between two
/// readings of the meter, since a reading says nothing of what follows it (common practice).
pub(super) const RAMP_S: f64 = 3.0;

/// Rate under which a boom is dry, mL/m2; `None` without any target. `own_ml_m2`: targets of the products
/// carried; `others_ml_m2`: those of the ground. Which of them holds where is not known yet, so the least
/// decides; it must stay over a leak of the products' own rates.
#[must_use]
pub fn dry_below_ml_m2(own_ml_m2: &[f64], others_ml_m2: &[f64]) -> Option<f64> {
    let least = own_ml_m2
        .iter()
        .chain(others_ml_m2)
        .copied()
        .filter(|&target| target > 0.0)
        .min_by(f64::total_cmp)?;
    let leak = LEAK_SHARE * own_ml_m2.iter().copied().fold(0.0, f64::max);
    Some((WET_SHARE * least).max(leak))
}

/// What a span shows.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    /// Width of its open sections, m; 0 where all are closed.
    pub open_m: f64,
    /// Its time, s.
    pub seconds: f64,
    /// Speed of its step, m/s.
    pub speed_m_s: f64,
    /// Flow in its step, L/s.
    pub flow_l_s: f64,
    /// Rate under which it is dry, mL/m2.
    pub dry_below_ml_m2: Option<f64>,
}

/// What of the meter decides.
#[derive(Debug, Clone, Copy)]
pub struct MeterTraits {
    /// Nothing is metered: open is wet.
    silent: bool,
    /// Time between two readings, s.
    interval_s: f64,
    /// Most the pump can give, L/s.
    greatest_l_s: Option<f64>,
    /// The meter may read so much late, s.
    late_s: f64,
}

impl MeterTraits {
    /// Of a run and its rig.
    #[must_use]
    pub fn of(metered: &Metered, rig: &Rig) -> Self {
        Self {
            silent: metered.by == MeteredBy::Nothing,
            interval_s: metered.interval_s,
            greatest_l_s: rig.greatest_flow_l_s,
            late_s: metered.late.greatest_s,
        }
    }

    /// Longest dry spell beside a wet one that is the controller's ramp, s; at the end of a bout the meter may be late.
    fn ramp_s(&self, at_end: bool) -> f64 {
        let late_s = if at_end { self.late_s } else { 0.0 };
        RAMP_S.max(late_s) + self.interval_s
    }
}

/// Of each span of an unbroken stretch: open with liquid.
#[must_use]
pub fn judge(spans: &[Shown], meter: MeterTraits) -> Vec<bool> {
    let mut wet = flowing(spans, meter);
    for spell in spells(spans, &wet) {
        if spell.wet_beside && spell.seconds < meter.ramp_s(spell.at_end) {
            wet[spell.spans].fill(true);
        }
    }
    wet
}

/// Way driven at the ends of bouts that reads dry for longer than any ramp, and is not judged since the meter may be
/// that late, m.
#[must_use]
pub fn not_judged_m(spans: &[Shown], meter: MeterTraits) -> f64 {
    let wet = flowing(spans, meter);
    let longer = |spell: &Spell| {
        let ramps_s = meter.ramp_s(false)..meter.ramp_s(true);
        spell.at_end && spell.wet_beside && ramps_s.contains(&spell.seconds)
    };
    let way_m = |spell: Spell| -> f64 {
        let spans = spans[spell.spans].iter();
        spans.map(|span| span.seconds * span.speed_m_s).sum()
    };
    spells(spans, &wet)
        .into_iter()
        .filter(longer)
        .map(way_m)
        .sum()
}

/// Of each span: open, and enough flows.
fn flowing(spans: &[Shown], meter: MeterTraits) -> Vec<bool> {
    let flows = |span: &Shown| {
        let least_l_s = match (span.dry_below_ml_m2, meter.greatest_l_s) {
            (Some(dry_below), _) => dry_below * span.speed_m_s * span.open_m / 1000.0,
            (None, Some(greatest)) => WET_SHARE_OF_GREATEST * greatest,
            (None, None) => 0.0,
        };
        meter.silent || (span.flow_l_s > 0.0 && span.flow_l_s >= least_l_s)
    };
    let wet = |span: &Shown| span.open_m > 0.0 && flows(span);
    spans.iter().map(wet).collect()
}

/// A row of open spans without liquid.
struct Spell {
    spans: Range<usize>,
    seconds: f64,
    /// Liquid flows right before or after it.
    wet_beside: bool,
    /// It begins with the bout, or ends with it.
    at_end: bool,
}

fn spells(spans: &[Shown], wet: &[bool]) -> Vec<Spell> {
    let is_open = |k: usize| spans.get(k).is_some_and(|span| span.open_m > 0.0);
    let is_wet = |k: usize| wet.get(k).is_some_and(|&wet| wet);
    let mut spells = Vec::new();
    let mut i = 0;
    while i < spans.len() {
        let is_dry = |k: &usize| is_open(*k) && !wet[*k];
        let end = (i..spans.len()).find(|k| !is_dry(k)).unwrap_or(spans.len());
        if end == i {
            i += 1;
            continue;
        }
        let before = i.checked_sub(1);
        spells.push(Spell {
            spans: i..end,
            seconds: spans[i..end].iter().map(|span| span.seconds).sum(),
            wet_beside: before.is_some_and(is_wet) || is_wet(end),
            at_end: !before.is_some_and(is_open) || !is_open(end),
        });
        i = end;
    }
    spells
}
