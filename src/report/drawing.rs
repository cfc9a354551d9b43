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

#[cfg(test)]
mod colours;
mod dose;
mod frame;
mod labels;
pub mod lot;
mod path;
mod patterns;
mod png;

pub use dose::{STEP_COLOURS, dose};
pub use frame::Frame;
pub use patterns::{patterns, swatch};

use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::ground::{Site, Zone};
use crate::input::sites::{LandUse, Method};
use crate::notation::numbers::Units;
use crate::result::{LEAST_PERHAPS, ZoneVerdict};
use crate::site::coverage::PatchGround;
use crate::site::outcome::{Application, Outcome, PassLine, ZoneOutcome};
use labels::{Labels, Marks, Spread};
use path::Paths;
use std::fmt::Write;

/// Ground smaller than this is a speck on paper, m2 (layout).
const LEAST_M2: f64 = 0.3;
/// The same for overlap, whose slivers are many, m2 (layout).
const LEAST_OVERLAP_M2: f64 = 1.0;
/// Outlines are simplified to this, m (tolerance).
const OUTLINE_M: f64 = 0.1;
/// Zone lines are simplified to this, m (tolerance).
const LINE_M: f64 = 0.05;
/// So many patches carry a number, the greatest; the rest is in the table (layout).
const NUMBERED: usize = 5;
/// Length of a drive arrow, m (layout).
const ARROW_M: f64 = 6.0;
/// A pass shorter than this many arrows gets none (layout).
const ARROW_SHARE: f64 = 2.0;

/// A piece that fills this share of its narrowest box is straight (layout).
const STRAIGHT_SHARE: f64 = 0.7;
/// A bent piece is shrunk by this share of its width, to a line nearly (by trial).
const SHRUNK_BY: f64 = 0.42;

/// How classes look: for the page's one style sheet. `k` is the size of the patterns, by the plan's width.
pub const STYLE: &str = include_str!("drawing/plan.css");

/// A finished drawing.
#[derive(Debug, Clone, Default)]
pub struct Drawing {
    /// The SVG element.
    pub svg: String,
    /// What had no room for its name: the letter on the plan, and the name.
    pub letters: Vec<(String, String)>,
    /// Areas of the numbered patches, m2: the first has number 1.
    pub numbered_m2: Vec<f64>,
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
    let scale = patterns::scale_of(frame.width_dm());
    let mut pen = Pen::on(&frame);
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
    pen.names(site);
    pen.svg.push_str(&pen.frame.scale_and_north(units));
    pen.svg += "</svg>";
    Drawing {
        svg: pen.svg,
        letters: pen.letters,
        numbered_m2: pen.numbered_m2,
        scale,
    }
}

/// Draws with one frame.
struct Pen<'a> {
    frame: &'a Frame,
    svg: String,
    letters: Vec<(String, String)>,
    numbered_m2: Vec<f64>,
    labels: Labels,
    marks: Marks,
}

impl<'a> Pen<'a> {
    fn on(frame: &'a Frame) -> Self {
        Self {
            frame,
            svg: String::new(),
            letters: Vec::new(),
            numbered_m2: Vec::new(),
            labels: Labels::default(),
            marks: Marks::default(),
        }
    }

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
            self.marks.add(&zone.cover.unlogged);
            for (patch, likely) in zone.cover.patches.iter().zip(&zone.patch_likely) {
                if *likely || patch.is_likely(LEAST_PERHAPS) {
                    let class = if *likely { "p" } else { "q" };
                    self.marks.add(&patch.region);
                    self.region(class, &patch.region, LEAST_M2, OUTLINE_M);
                }
            }
        }
    }

    /// A thin line through the middle of a zone too narrow to judge: the long axis of a straight piece, else what is
    /// left of it when it shrinks by nearly half its width.
    fn middle_line(&mut self, zone: &Zone) {
        for piece in zone.region.pieces() {
            let Some(axis) = crate::report::page::strip::axis(&piece) else {
                continue;
            };
            let length_m = axis.ends[1].minus(axis.ends[0]).length_m();
            let area_m2 = piece.area_m2();
            if area_m2 >= STRAIGHT_SHARE * length_m * axis.width_m {
                let d = Paths::line(&axis.ends, self.frame);
                let _ = write!(self.svg, "<path class=\"n\" d=\"{d}\"/>");
            } else {
                let rings = piece.rings();
                let around = rings.iter().map(|ring| around_m(ring));
                let width_m = 2.0 * area_m2 / around.sum::<f64>().max(f64::MIN_POSITIVE);
                let middle = piece.offset(-SHRUNK_BY * width_m);
                self.region("n", &middle, 0.0, LINE_M);
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
        let zones = application.zones.iter();
        let mut patches: Vec<&PatchGround> = zones
            .flat_map(ZoneOutcome::likely_patches)
            .map(|(patch, _)| patch)
            .collect();
        patches.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
        for (index, patch) in patches.into_iter().take(NUMBERED).enumerate() {
            self.number(index, patch);
        }
    }

    fn number(&mut self, index: usize, patch: &PatchGround) {
        let Some(axis) = crate::report::page::strip::axis(&patch.region) else {
            return;
        };
        let spread = Spread::over(&patch.region);
        let along = axis.ends[1].minus(axis.ends[0]);
        // Its own share first, then the others'.
        let share = |turn: usize| ((index + turn) % NUMBERED + 1) as f64 / (NUMBERED + 1) as f64;
        let on_axis = (0..NUMBERED).map(|turn| axis.ends[0].plus(along, share(turn)));
        let places = on_axis
            .filter(|at| spread.holds(*at))
            .chain(spread.places());
        let radius = self.frame.unit_dm();
        let Some((x, y)) = self.labels.first_free(places, (radius, radius), self.frame) else {
            return;
        };
        self.numbered_m2.push(patch.area_m2);
        let _ = write!(
            self.svg,
            "<g class=\"m\"><circle cx=\"{x}\" cy=\"{y}\" r=\"{radius:.0}\"/><text x=\"{x}\" y=\"{:.0}\">{}</text></g>",
            y as f64 + 0.36 * radius,
            self.numbered_m2.len()
        );
    }

    /// Names of zones where there is more than one, and why ground is blocked: on ground with room, else a letter
    /// and a line under the plan.
    fn names(&mut self, site: &Site) {
        let to_treat = || site.zones.iter().filter(|zone| zone.is_to_treat());
        let blocked = site
            .zones
            .iter()
            .filter(|zone| zone.land_use == LandUse::Blocked);
        for zone in blocked {
            let reason = zone.reason.as_deref().unwrap_or("blocked");
            self.name(&zone.region, reason);
        }
        if to_treat().nth(1).is_some() {
            to_treat().for_each(|zone| self.name(&zone.region, &zone.id));
        }
    }

    fn name(&mut self, ground: &Region, name: &str) {
        let name = crate::notation::clean::clean(name).into_owned();
        let spread = Spread::over(ground);
        let half = Labels::text_half(&name, self.frame);
        let clear = spread.roomy(half, self.frame, &self.marks);
        let no_marks = Marks::default();
        let roomy = spread.roomy(half, self.frame, &no_marks);
        if let Some(at) = self.labels.first_free(clear.chain(roomy), half, self.frame) {
            self.text(at, &name);
            return;
        }
        let letter = labels::letter(self.letters.len());
        let half = Labels::text_half(&letter, self.frame);
        if let Some(at) = self.labels.first_free(spread.places(), half, self.frame) {
            self.text(at, &letter);
            self.letters.push((letter, name));
        }
    }

    fn text(&mut self, (x, y): (i64, i64), text: &str) {
        let base = y as f64 + 0.36 * self.frame.unit_dm();
        let text = escaped(text);
        let _ = write!(
            self.svg,
            "<text class=\"zl\" x=\"{x}\" y=\"{base:.0}\">{text}</text>"
        );
    }
}

/// Length of a ring, m.
fn around_m(ring: &[Xy]) -> f64 {
    let ends = ring.iter().zip(ring.iter().cycle().skip(1));
    ends.map(|(from, to)| to.minus(*from).length_m()).sum()
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
