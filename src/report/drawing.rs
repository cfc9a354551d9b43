//! The plan of a site, drawn like a surveyor's: black lines, hatches and a pale tint on white paper, north up,
//! with scale bar and labels. SVG without any script or style of its own: the page that holds it has both
//! ([`STYLE`], [`patterns`]).
//!
//! Coordinates are whole decimetres on the site's plane turned north up, from the middle of its ground, y
//! downward, as relative moves. Outlines are simplified to 0.1 m, zone lines to 0.05 m, and specks are left out:
//! figures come from the document and are never simplified.
//!
//! Colours are those of M. Okabe and K. Ito, *Color Universal Design* (2002, revised 2008); every class has a
//! pattern too and keeps its meaning in grey.

mod frame;
pub mod lot;
mod path;

pub use frame::Frame;

use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::ground::{Site, Zone};
use crate::input::sites::{LandUse, Method};
use crate::report::numbers::Units;
use crate::result::{LEAST_PERHAPS, ZoneVerdict};
use crate::site::outcome::{Application, Outcome, PassLine, ZoneOutcome};
use path::Paths;
use std::fmt::Write;

/// Ground smaller than this is a speck on paper, m2.
const LEAST_M2: f64 = 0.3;
/// The same for overlap, whose slivers are many, m2.
const LEAST_OVERLAP_M2: f64 = 1.0;
/// Outlines are simplified to this, m.
const OUTLINE_M: f64 = 0.1;
/// Zone lines are simplified to this, m.
const LINE_M: f64 = 0.05;
/// So many patches carry a number, the greatest; the rest is in the table.
const NUMBERED: usize = 5;
/// Length of a drive arrow, m.
const ARROW_M: f64 = 6.0;
/// A pass shorter than this many arrows gets none.
const ARROW_SHARE: f64 = 2.0;

/// How classes look: for the page's one style sheet. `k` is the size of the patterns, by the plan's width.
pub const STYLE: &str = include_str!("drawing/plan.css");

/// Sizes of the patterns: a plan is some hundred to some thousand decimetres wide.
const PATTERN_SCALES: [f64; 5] = [0.1, 1.0, 4.0, 16.0, 64.0];
/// Widest plan of the first size; each next one takes four times as much, the first one a tenth, dm.
const SMALL_DM: f64 = 300.0;

/// A finished drawing.
#[derive(Debug, Clone, Default)]
pub struct Drawing {
    /// The SVG element.
    pub svg: String,
    /// Zones whose name had no room: the letter on the plan, and the name.
    pub letters: Vec<(char, String)>,
    /// Which size of the patterns it draws with.
    pub scale: usize,
}

/// The plan of a site in one of its applications, or of its bare ground. `title` says its figures in a sentence;
/// it must be fit for XML.
#[must_use]
pub fn plan(
    site: &Site,
    outcome: &Outcome,
    application: Option<usize>,
    title: &str,
    units: Units,
) -> Drawing {
    let extents = site.zones.iter().map(|zone| zone.region.extent());
    let frame = Frame::around(extents.fold(Extent::NOWHERE, Extent::with), site);
    let width = frame.width_dm();
    let steps = [SMALL_DM, 2_500.0, 10_000.0, 40_000.0];
    let scale = steps.iter().filter(|step| width > **step).count();
    let mut pen = Pen {
        frame: &frame,
        svg: String::new(),
        letters: Vec::new(),
    };
    let [left, top, wide, high] = frame.view_box();
    let _ = write!(
        pen.svg,
        "<svg class=\"plan k{scale}\" viewBox=\"{left} {top} {wide} {high}\" role=\"img\" style=\"--u:{:.1}px\"><title>{title}</title>",
        frame.unit_dm()
    );
    pen.ground(site, application.is_none());
    if let Some(application) = application.map(|index| &outcome.applications[index]) {
        pen.work(site, application);
    }
    pen.beside_work(site);
    pen.zone_lines(site);
    if let Some(application) = application.map(|index| &outcome.applications[index]) {
        pen.arrows(&application.lines);
        pen.numbers(application);
    }
    pen.labels(site);
    pen.scale_bar(units);
    pen.svg += "</svg>";
    Drawing {
        svg: pen.svg,
        letters: pen.letters,
        scale,
    }
}

/// Id, width and height of the tile, how it is turned, and what is in it: strokes and dots that tell the classes
/// apart in grey as well.
const PATTERNS: [(&str, u32, u32, &str, &str); 7] = [
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
        14,
        14,
        "",
        r##"<circle cx="4" cy="4" r="3" fill="#0072b2"/>"##,
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

/// Pattern definitions of these sizes, once a page.
#[must_use]
pub fn patterns(scales: &[usize]) -> String {
    let mut scales = scales.to_vec();
    scales.sort_unstable();
    scales.dedup();
    let mut svg = String::from(
        "<svg width=\"0\" height=\"0\" class=\"defs\" aria-hidden=\"true\" focusable=\"false\"><defs>",
    );
    for scale in scales {
        let factor = PATTERN_SCALES[scale.min(PATTERN_SCALES.len() - 1)];
        for (name, width, height, turn, inside) in PATTERNS {
            let transform = format!("scale({factor}){turn}");
            let _ = write!(
                svg,
                "<pattern id=\"{name}{scale}\" width=\"{width}\" height=\"{height}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"{transform}\">{inside}</pattern>"
            );
        }
    }
    svg + "</defs></svg>"
}

/// Draws with one frame.
struct Pen<'a> {
    frame: &'a Frame,
    svg: String,
    letters: Vec<(char, String)>,
}

impl Pen<'_> {
    fn region(&mut self, class: &str, region: &Region, least_m2: f64, tolerance_m: f64) {
        let kept = region.greater_than(least_m2);
        let d = Paths::of(&kept, self.frame, tolerance_m);
        if !d.is_empty() {
            let _ = write!(self.svg, "<path class=\"{class}\" d=\"{d}\"/>");
        }
    }

    /// The paper of zones: white, hand work as a grid.
    fn ground(&mut self, site: &Site, bare: bool) {
        for zone in site.zones.iter().filter(|zone| zone.is_to_treat()) {
            let class = match zone.method {
                Method::Hand => "z h",
                Method::Boom if bare => "z p",
                Method::Boom => "z",
            };
            self.region(class, &zone.region, LEAST_M2, LINE_M);
        }
    }

    fn work(&mut self, site: &Site, application: &Application) {
        for zone in &application.zones {
            if zone.areas.is_none() {
                continue;
            }
            self.region("t", &zone.cover.treated, LEAST_M2, OUTLINE_M);
            if zone.verdict == ZoneVerdict::TooNarrow {
                self.middle_line(&site.zones[zone.zone]);
                continue;
            }
            self.region("o", &zone.cover.overlap, LEAST_OVERLAP_M2, OUTLINE_M);
            self.region("u", &zone.cover.unlogged, LEAST_M2, OUTLINE_M);
            for (patch, likely) in zone.cover.patches.iter().zip(&zone.patch_likely) {
                if *likely || patch.is_likely(LEAST_PERHAPS) {
                    let class = if *likely { "p" } else { "q" };
                    self.region(class, &patch.region, LEAST_M2, OUTLINE_M);
                }
            }
        }
    }

    /// A thin line through the middle of a zone too narrow to judge.
    fn middle_line(&mut self, zone: &Zone) {
        for piece in zone.region.pieces() {
            if let Some(axis) = crate::report::page::strip::axis(&piece) {
                let d = Paths::line(&axis.ends, self.frame);
                let _ = write!(self.svg, "<path class=\"n\" d=\"{d}\"/>");
            }
        }
    }

    fn beside_work(&mut self, site: &Site) {
        for zone in &site.zones {
            match zone.land_use {
                LandUse::KeepOff => self.region("k", &zone.region, LEAST_M2, LINE_M),
                LandUse::Blocked => self.region("b", &zone.region, LEAST_M2, LINE_M),
                _ => {}
            }
        }
    }

    fn zone_lines(&mut self, site: &Site) {
        for zone in site.zones.iter().filter(|zone| zone.is_to_treat()) {
            self.region("l", &zone.region, 0.0, LINE_M);
        }
    }

    /// One arrow a pass, a third of the way along.
    fn arrows(&mut self, lines: &[PassLine]) {
        let mut d = String::new();
        for line in lines {
            let length_m: f64 = line
                .middle
                .windows(2)
                .map(|p| p[1].minus(p[0]).length_m())
                .sum();
            if length_m < ARROW_SHARE * ARROW_M {
                continue;
            }
            if let Some((at, ahead)) = along(&line.middle, length_m / 3.0) {
                let left = Xy::new(-ahead.y_m, ahead.x_m);
                let (tail, tip) = (
                    at.plus(ahead, -ARROW_M / 2.0),
                    at.plus(ahead, ARROW_M / 2.0),
                );
                let barb = |side: f64| tip.plus(ahead, -1.5).plus(left, side);
                d += &Paths::line(&[tail, tip], self.frame);
                d += &Paths::line(&[barb(0.9), tip, barb(-0.9)], self.frame);
            }
        }
        if !d.is_empty() {
            let _ = write!(self.svg, "<path class=\"a\" d=\"{d}\"/>");
        }
    }

    /// Numbers of the greatest patches, each at its own share of its patch's length so that stacked strips do not
    /// hide each other's.
    fn numbers(&mut self, application: &Application) {
        for zone in &application.zones {
            self.numbers_of(zone);
        }
    }

    fn numbers_of(&mut self, zone: &ZoneOutcome) {
        for (index, (patch, _)) in zone.likely_patches().take(NUMBERED).enumerate() {
            let Some(axis) = crate::report::page::strip::axis(&patch.region) else {
                continue;
            };
            let share = (index as f64 + 1.0) / (NUMBERED as f64 + 1.0);
            let along = axis.ends[1].minus(axis.ends[0]);
            let (x, y) = self.frame.to_dm(axis.ends[0].plus(along, share));
            let radius = self.frame.unit_dm();
            let _ = write!(
                self.svg,
                "<g class=\"m\"><circle cx=\"{x}\" cy=\"{y}\" r=\"{radius:.0}\"/><text x=\"{x}\" y=\"{:.0}\">{}</text></g>",
                y as f64 + 0.36 * radius,
                index + 1
            );
        }
    }

    /// Names of zones where there is more than one: on a zone with room, else a letter and a line in the table.
    fn labels(&mut self, site: &Site) {
        let zones: Vec<&Zone> = site
            .zones
            .iter()
            .filter(|zone| zone.is_to_treat())
            .collect();
        if zones.len() < 2 {
            return;
        }
        for zone in zones {
            let extent = zone.region.extent();
            let (low, high) = self.frame.box_dm(extent);
            let name = crate::report::clean::clean(&zone.id).into_owned();
            let unit = self.frame.unit_dm();
            // A letter is about 0.6 of its size wide; the size is that of `.plan text`.
            let fits = name.chars().count() as f64 * unit * 0.8 < (high.0 - low.0) as f64
                && ((high.1 - low.1) as f64) > 2.0 * unit;
            let text = if fits {
                name
            } else {
                let letter = char::from(b'a' + (self.letters.len() % 26) as u8);
                self.letters.push((letter, name));
                letter.to_string()
            };
            let x = i64::midpoint(low.0, high.0);
            let y = if fits {
                low.1 + (1.6 * unit) as i64
            } else {
                i64::midpoint(low.1, high.1) + (0.4 * unit) as i64
            };
            let _ = write!(
                self.svg,
                "<text class=\"zl\" x=\"{x}\" y=\"{y}\">{}</text>",
                escaped(&text)
            );
        }
    }

    /// Scale bar and north arrow under the plan.
    fn scale_bar(&mut self, units: Units) {
        let bar = self.frame.scale_bar(units);
        let _ = write!(
            self.svg,
            "<path class=\"s\" d=\"M{} {}v{tick}h{}v-{tick}\"/><text class=\"st\" x=\"{}\" y=\"{}\">{}</text>",
            bar.x,
            bar.y,
            bar.length_dm,
            bar.x + bar.length_dm + bar.tick,
            bar.y + bar.tick,
            bar.label,
            tick = bar.tick,
        );
        let (x, y, size) = self.frame.north();
        let _ = write!(
            self.svg,
            "<path class=\"s\" d=\"M{x} {y}v-{}m-{w} {w}l{w} -{w}l{w} {w}\"/><text class=\"zl\" x=\"{}\" y=\"{y}\">N</text>",
            size,
            x - size / 2,
            w = size / 4,
        );
    }
}

/// The point so far along a line, and the direction there.
fn along(line: &[Xy], at_m: f64) -> Option<(Xy, Xy)> {
    let mut left_m = at_m;
    for pair in line.windows(2) {
        let step = pair[1].minus(pair[0]);
        let step_m = step.length_m();
        if step_m > 0.0 && left_m <= step_m {
            let ahead = Xy::new(step.x_m / step_m, step.y_m / step_m);
            return Some((pair[0].plus(ahead, left_m), ahead));
        }
        left_m -= step_m;
    }
    None
}

/// Text fit for XML.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            '\'' => out += "&#39;",
            c => out.push(c),
        }
    }
    out
}
