//! Patterns of a plan's classes: strokes and dots that tell them apart in grey as well, in sizes by the width of
//! plans, and samples of them for a key.

use std::fmt::Write;

/// Width of a plan whose patterns have their own size, dm: a hatch is then as wide as half a letter (layout).
const OWN_SIZE_DM: f64 = 900.0;
/// Sizes of patterns, each twice the one before; plans are some ten to some hundred thousand decimetres wide
/// (layout).
const SIZES: usize = 16;
/// The size that patterns are drawn for (arithmetic).
const OWN_SIZE: usize = 6;

/// Which size of the patterns a plan of this width draws with.
#[must_use]
pub(super) fn scale_of(width_dm: f64) -> usize {
    let doublings = (width_dm / OWN_SIZE_DM).log2().round();
    (OWN_SIZE as f64 + doublings).clamp(0.0, SIZES as f64 - 1.0) as usize
}

/// Id, width and height of the tile, how it is turned, and what is in it: strokes and dots that tell the classes
/// apart in grey as well (layout).
pub(super) const PATTERNS: [(&str, u32, u32, &str, &str); 7] = [
    (
        "p",
        18,
        18,
        " rotate(45)",
        r##"<path d="M4 0V18" stroke="#d55e00" stroke-width="8"/>"##,
    ),
    (
        "q",
        26,
        26,
        " rotate(45)",
        r##"<path d="M4 0V26" stroke="#d55e00" stroke-width="3"/>"##,
    ),
    (
        "o",
        10,
        10,
        "",
        r##"<circle cx="3" cy="3" r="2.2" fill="#0072b2"/>"##,
    ),
    (
        "u",
        26,
        16,
        "",
        r##"<path d="M2 5h15M15 13h11M0 13h2" stroke="#a0457e" stroke-width="4"/>"##,
    ),
    (
        "k",
        22,
        22,
        "",
        r##"<path d="M5 5l12 12M17 5l-12 12" stroke="#000" stroke-width="2.2"/>"##,
    ),
    (
        "b",
        14,
        14,
        "",
        r##"<path d="M3 0V14" stroke="#000" stroke-width="3"/>"##,
    ),
    (
        "h",
        20,
        20,
        "",
        r##"<path d="M0 10h20M10 0v20" stroke="#666" stroke-width="1.5"/>"##,
    ),
];

/// Pattern definitions of these sizes and of [`swatch`], with the rules by which classes find them; once a page.
#[must_use]
pub fn patterns(scales: &[usize]) -> String {
    let mut scales: Vec<usize> = scales.iter().copied().chain([OWN_SIZE]).collect();
    scales.sort_unstable();
    scales.dedup();
    let (mut defs, mut rules) = (String::new(), String::new());
    for scale in scales {
        let factor = 2_f64.powi(scale as i32 - OWN_SIZE as i32);
        for (name, width, height, turn, inside) in PATTERNS {
            let _ = write!(
                defs,
                "<pattern id=\"{name}{scale}\" width=\"{width}\" height=\"{height}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"scale({factor}){turn}\">{inside}</pattern>"
            );
            let _ = write!(rules, ".k{scale} .{name}{{fill:url(#{name}{scale})}}");
        }
    }
    format!(
        "<svg width=\"0\" height=\"0\" class=\"defs\" aria-hidden=\"true\" focusable=\"false\"><style>{rules}</style><defs>{defs}</defs></svg>"
    )
}

/// A sample of a class for a key.
#[must_use]
pub fn swatch(class: &str) -> String {
    let ground = |class: &str| format!("<path class=\"{class}\" d=\"M0 0h48v30h-48z\"/>");
    let line = |d: &str| format!("{}<path class=\"{class}\" d=\"{d}\"/>", ground("t"));
    let inside = match class {
        "o" => ground("t") + &ground("o"),
        "n" => line("M0 15h48"),
        "a" => line("M8 15h32M33 9l7 6-7 6"),
        class => ground(class),
    };
    format!(
        "<svg class=\"swatch k{OWN_SIZE}\" viewBox=\"0 0 48 30\" aria-hidden=\"true\" focusable=\"false\" style=\"--u:30px\">{inside}</svg>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_grow_with_the_plan() {
        let scales = [34.0, 900.0, 1800.0, 2600.0, 100_000.0, 1e9].map(scale_of);
        assert_eq!(scales, [1, 6, 7, 8, 13, 15]);
    }
}
