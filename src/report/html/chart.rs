//! The rate of a rig over the night, minute by minute, against the band it was to keep: black on white, dropouts as a
//! break with a label.

use crate::geometry::place::Instant;
use crate::notation::clean::clean;
use crate::notation::numbers::{count, duration};
use crate::notation::style::Style;
use crate::report::drawing;
use crate::report::html::ApplicationDrawing;
use crate::result::{self, Audit};
use crate::rig::run::minutes::Minute;
use crate::site::summary::Trail;
use std::fmt::Write;

/// Size of the chart, in units that are a pixel on a phone (layout).
const WIDTH: f64 = 360.0;
/// Left and right ends of the time (layout).
const SIDES: (f64, f64) = (38.0, 352.0);
/// Top and foot of the rates (layout).
const ENDS: (f64, f64) = (28.0, 128.0);
/// A minute with less liquid than this is a start or an end, not a rate, s (layout).
const LEAST_WET_S: f64 = 10.0;
/// The chart ends at so many times the greatest target (layout).
const TOP: f64 = 2.0;
/// Room that a time of day takes (layout).
const LABEL: f64 = 40.0;
/// Room that a character takes (layout).
const CHARACTER: f64 = 6.6;
/// A minute, us (arithmetic).
const MINUTE_US: i64 = 60_000_000;

/// The chart of a run; `None` where no minute has a rate.
#[must_use]
pub(super) fn chart(
    audit: &Audit,
    plans: &[Vec<ApplicationDrawing>],
    (at, trail): (usize, &Trail),
    style: &Style,
) -> Option<String> {
    let run = &audit.runs[at];
    let rates: Vec<(Instant, f64)> = trail.minutes.iter().filter_map(rate).collect();
    let wanted = wanted(audit, plans, at);
    let target = wanted.iter().map(|of| of.target_ml_m2).fold(0.0, f64::max);
    let greatest = rates.iter().map(|(_, rate)| *rate).fold(0.0, f64::max);
    let least = rates
        .iter()
        .map(|(_, rate)| *rate)
        .fold(f64::INFINITY, f64::min);
    let top = if target > 0.0 { TOP * target } else { greatest };
    if rates.is_empty() || top <= 0.0 {
        return None;
    }
    let chart = Chart {
        run,
        top_ml_m2: top,
        style,
    };
    let mut svg = format!(
        "<svg class=\"chart\" viewBox=\"0 0 {WIDTH} 152\" role=\"img\"><title>{}</title>",
        drawing::escaped(&format!(
            "Rate of rig {} by minutes: {} with liquid, {} to {}; {}.",
            clean(&run.rig),
            count(rates.len() as u64, "minute", "minutes"),
            style.rate_unit.measure().number(least),
            super::blocks::paper(style.rate_unit.measure().text(greatest)),
            count(run.dropouts.len() as u64, "dropout", "dropouts"),
        ))
    );
    chart.bands(&mut svg, &wanted, audit.band);
    chart.rates(&mut svg, &rates);
    chart.dropouts(&mut svg);
    chart.axes(&mut svg, (target > 0.0).then_some(target));
    Some(svg + "</svg>")
}

/// Liquid over ground swept.
fn rate(minute: &Minute) -> Option<(Instant, f64)> {
    let litres = minute.volume_l?;
    let known = minute.wet_s >= LEAST_WET_S && minute.swept_m2 > 0.0;
    known.then(|| (minute.start, 1000.0 * litres / minute.swept_m2))
}

/// What a rig was to lay from one time to another.
struct Wanted {
    start: Instant,
    end: Instant,
    target_ml_m2: f64,
}

/// The targets of the zones that a run's visits treated.
fn wanted(audit: &Audit, plans: &[Vec<ApplicationDrawing>], at: usize) -> Vec<Wanted> {
    let run = &audit.runs[at];
    let mut wanted = Vec::new();
    let sites = audit.sites.iter().zip(plans);
    for (application, sheet) in
        sites.flat_map(|(site, sheets)| site.applications.iter().zip(sheets))
    {
        let zones = application.zones.iter().zip(&sheet.swept_by);
        let treated = zones.filter(|(_, runs)| runs.contains(&at));
        let mut targets: Vec<f64> = treated.filter_map(|(zone, _)| zone.target_ml_m2).collect();
        targets.sort_by(f64::total_cmp);
        targets.dedup();
        let own = application
            .visits
            .iter()
            .filter(|visit| visit.rig == run.rig);
        for (start, end) in own.filter_map(|visit| visit.spray_start.zip(visit.spray_end)) {
            if start >= run.start && end <= run.end {
                let of_target = |&target_ml_m2: &f64| Wanted {
                    start,
                    end,
                    target_ml_m2,
                };
                wanted.extend(targets.iter().map(of_target));
            }
        }
    }
    wanted
}

struct Chart<'a> {
    run: &'a result::Run,
    top_ml_m2: f64,
    style: &'a Style,
}

impl Chart<'_> {
    fn x(&self, time: Instant) -> f64 {
        let whole_s = self.run.end.seconds_since(self.run.start).max(60.0);
        let share = time.seconds_since(self.run.start) / whole_s;
        SIDES.0 + share.clamp(0.0, 1.0) * (SIDES.1 - SIDES.0)
    }

    fn y(&self, rate_ml_m2: f64) -> f64 {
        ENDS.1 - (rate_ml_m2 / self.top_ml_m2).clamp(0.0, 1.0) * (ENDS.1 - ENDS.0)
    }

    fn bands(&self, svg: &mut String, wanted: &[Wanted], band: f64) {
        for of in wanted {
            let (left, right) = (self.x(of.start), self.x(of.end));
            let [high, low] = [1.0 + band, 1.0 - band].map(|share| self.y(of.target_ml_m2 * share));
            let _ = write!(
                svg,
                "<rect class=\"band\" x=\"{left:.1}\" y=\"{high:.1}\" width=\"{:.1}\" height=\"{:.1}\"/><path class=\"want\" d=\"M{left:.1} {:.1}H{right:.1}\"/>",
                (right - left).max(1.0),
                low - high,
                self.y(of.target_ml_m2)
            );
        }
    }

    /// Minutes that follow each other are one line.
    fn rates(&self, svg: &mut String, rates: &[(Instant, f64)]) {
        let mut d = String::new();
        let mut last: Option<Instant> = None;
        for &(start, rate) in rates {
            let end = Instant(start.0 + MINUTE_US);
            let _ = match last {
                Some(before) if before == start => write!(d, "V{:.1}", self.y(rate)),
                _ => write!(d, "M{:.1} {:.1}", self.x(start), self.y(rate)),
            };
            let _ = write!(d, "H{:.1}", self.x(end));
            last = Some(end);
        }
        let _ = write!(svg, "<path class=\"rate\" d=\"{d}\"/>");
    }

    /// Each is a break; those that have room for a label also have their edges drawn.
    fn dropouts(&self, svg: &mut String) {
        let (top, foot) = ENDS;
        let mut free = SIDES.0;
        for dropout in &self.run.dropouts {
            let (left, right) = (self.x(dropout.start), self.x(dropout.end));
            let width = (right - left).max(2.0);
            let _ = write!(
                svg,
                "<rect class=\"gone\" x=\"{left:.1}\" y=\"{top}\" width=\"{width:.1}\" height=\"{}\"/>",
                foot - top
            );
            let label = format!("silent {}", duration(dropout.seconds));
            let half = CHARACTER * label.chars().count() as f64 / 2.0;
            let middle = (left + width / 2.0).clamp(SIDES.0 + half, SIDES.1 - half);
            if middle - half < free {
                continue;
            }
            free = middle + half + CHARACTER;
            let _ = write!(
                svg,
                "<path class=\"axis\" d=\"M{left:.1} {0}V{foot}M{1:.1} {0}V{foot}\" stroke-dasharray=\"1 3\"/><text x=\"{middle:.1}\" y=\"16\" text-anchor=\"middle\">{label}</text>",
                top - 8.0,
                left + width
            );
        }
    }

    fn axes(&self, svg: &mut String, target_ml_m2: Option<f64>) {
        let (left, right) = SIDES;
        let _ = write!(
            svg,
            "<path class=\"axis\" d=\"M{left} {}V{}H{right}\"/>",
            ENDS.0, ENDS.1
        );
        let marks = [Some(0.0), target_ml_m2, Some(self.top_ml_m2)];
        for rate in marks.into_iter().flatten() {
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
                left - 3.0,
                self.y(rate) + 4.0,
                self.style.rate_unit.measure().number(rate)
            );
        }
        let ends = [
            (self.run.start, left, "start"),
            (self.run.end, right, "end"),
        ];
        for (time, x, anchor) in ends {
            let clock = self.style.clock(time);
            let _ = write!(
                svg,
                "<text x=\"{x}\" y=\"{}\" text-anchor=\"{anchor}\">{clock}</text>",
                ENDS.1 + 15.0
            );
        }
        let mut free = left + LABEL;
        for hour in self.hours() {
            let x = self.x(hour);
            let _ = write!(svg, "<path class=\"axis\" d=\"M{x:.1} {}v4\"/>", ENDS.1);
            if x - LABEL / 2.0 >= free && x + LABEL <= right - LABEL / 2.0 {
                free = x + LABEL / 2.0;
                let clock = self.style.clock(hour);
                let _ = write!(
                    svg,
                    "<text x=\"{x:.1}\" y=\"{}\" text-anchor=\"middle\">{clock}</text>",
                    ENDS.1 + 15.0
                );
            }
        }
    }

    /// Whole hours of UTC within the run; a run is a night, and no more are drawn than fit.
    fn hours(&self) -> impl Iterator<Item = Instant> + use<> {
        /// An hour, us (arithmetic).
        const HOUR_US: i64 = 60 * MINUTE_US;
        /// More bars than this are drawn wider (layout).
        const MOST: i64 = 72;
        let first = self.run.start.0.div_euclid(HOUR_US) + 1;
        let last = self.run.end.0.div_euclid(HOUR_US).min(first + MOST);
        (first..=last).map(|hour| Instant(hour * HOUR_US))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notation::numbers::{RateUnit, Units};
    use crate::report::sample;

    fn svg() -> String {
        let audit = sample::audit();
        let style = Style::of(audit.timezone.as_ref(), Units::Us, RateUnit::GalPer1000Ft2);
        let trail = &sample::trails()[0];
        chart(&audit, &sample::plans(), (0, trail), &style).expect("it sprayed")
    }

    #[test]
    fn minutes_that_follow_are_one_line_and_a_minute_hardly_wet_is_none() {
        let svg = svg();
        let line = svg.split("class=\"rate\" d=\"").nth(1).expect("a line");
        let line = &line[..line.find('"').expect("its end")];
        assert_eq!(line.matches('M').count(), 2, "{line}");
        // Twice the target is the top; the target is half way.
        assert!(line.contains("V28.0") && line.contains(" 78.0H"), "{line}");
    }

    #[test]
    fn a_silence_is_a_break_with_a_label() {
        assert!(
            svg().contains("class=\"gone\"") && svg().contains(">silent 60 s<")
                || svg().contains(">silent 1 min<")
        );
    }
}
