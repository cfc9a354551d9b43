//! A rate on a small ruler: a line, a grey box for the band, a dashed mark for the target, a black diamond for the
//! rate; beyond the ruler's end an open diamond.

use crate::notation::numbers::percent;
use std::fmt::Write;

/// The ruler reaches from half the target to one and a half times it (layout).
const REACH: f64 = 0.5;
/// Half its length on paper (layout).
const HALF: f64 = 60.0;

/// How far a rate beyond the ruler's ends is off its target, such as ` (+226 %)`.
#[must_use]
pub(super) fn off_it(rate_of_target: f64) -> Option<String> {
    let off = rate_of_target - 1.0;
    let sign = if off < 0.0 { "-" } else { "+" };
    (off.abs() > REACH).then(|| format!(" ({sign}{})", percent(off.abs())))
}

/// The ruler of a rate as a multiple of its target, with the band's half-width as a fraction.
#[must_use]
pub(super) fn ruler(rate_of_target: f64, band: f64) -> String {
    let off = rate_of_target - 1.0;
    let beyond = off.abs() > REACH;
    let at = |off: f64| (off.clamp(-REACH, REACH) / REACH * HALF).round();
    let mut svg = String::from(
        "<svg class=\"rule\" viewBox=\"-68 -10 136 20\" aria-hidden=\"true\" focusable=\"false\"><path d=\"M-60 0h120\" stroke=\"#000\"/>",
    );
    let _ = write!(
        svg,
        "<rect x=\"{}\" y=\"-6\" width=\"{}\" height=\"12\" fill=\"#bbb\"/><path d=\"M0-9v18\" stroke=\"#000\" stroke-dasharray=\"3 2\"/>",
        at(-band),
        at(band) - at(-band),
    );
    let fill = if beyond { "#fff" } else { "#000" };
    let _ = write!(
        svg,
        "<path d=\"M{} 0l6-6 6 6-6 6z\" fill=\"{fill}\" stroke=\"#000\"/></svg>",
        at(off) - 6.0
    );
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_diamond_stands_at_the_rate_and_is_open_beyond_the_end() {
        // 25 % over is half of the way to the end.
        assert!(ruler(1.25, 0.1).contains("M24 0l6-6 6 6-6 6z\" fill=\"#000\""));
        assert!(ruler(1.25, 0.1).contains("x=\"-12\" y=\"-6\" width=\"24\""));
        assert_eq!(
            (off_it(1.25), off_it(3.26).as_deref()),
            (None, Some(" (+226 %)"))
        );
        assert!(ruler(3.0, 0.1).contains("M54 0l6-6 6 6-6 6z\" fill=\"#fff\""));
    }
}
