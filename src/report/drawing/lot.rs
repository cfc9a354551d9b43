//! The sheet of a lot nobody has driven yet, to walk it with: ground, curbs, lanes with arrows and numbers, hand work with
//! letters, where the tank runs out. Black on white, so that any printer does; the page that holds it has [`LOT_STYLE`]
//! beside the house's own style.

use super::path::Paths;
use super::{Drawing, Frame, LEAST_M2, LINE_M, OUTLINE_M, escaped, patterns};
use crate::geometry::extent::Extent;
use crate::geometry::overlay::Region;
use crate::geometry::plane::Xy;
use crate::ground::Site;
use crate::input::sites::{LandUse, Method};
use crate::notation::numbers::Units;
use std::fmt::Write;

/// How the sheet's own classes look.
pub const LOT_STYLE: &str = include_str!("lot.css");

/// Text of lanes is this share of the plan's other text (layout).
const SMALL: f64 = 0.62;
/// Two numbers of lanes lie at least this many text sizes apart (layout).
const APART: f64 = 1.15;
/// A lane shorter than this many text sizes gets no arrow of its own (layout).
const ARROW_SHARE: f64 = 1.5;

/// What is drawn of a lot, in metres on the site's plane.
pub struct Lot<'a> {
    /// The ground.
    pub site: &'a Site,
    /// Lanes in driving order.
    pub lanes: Vec<LotLane>,
    /// Pieces of hand work.
    pub hand: Vec<Region>,
    /// Within the clearance of curbs and objects.
    pub edge_strip: Region,
    /// Reached ground that the plan leaves.
    pub gap: Region,
    /// Where wheels stop.
    pub curbs: Vec<[Xy; 2]>,
    /// What stands in the way.
    pub objects: Region,
    /// Where the tank runs out.
    pub tank_stops: Vec<Xy>,
}

/// A lane.
pub struct LotLane {
    /// The boom's middle, from its beginning to its end.
    pub line: Vec<Xy>,
    /// It runs along an edge.
    pub edge_pass: bool,
}

/// The letter of a piece of hand work: A to Z, then AA and so on.
#[must_use]
pub fn letter(index: usize) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// Places looked at around a piece whose own is taken: so many a ring (layout) ...
const WAYS_AROUND: u32 = 12;
/// ... and so many rings (layout).
const RINGS_AROUND: u32 = 4;

/// The drawing. `title` says its figures in a sentence; it must be fit for XML.
#[must_use]
pub fn lot(lot: &Lot, title: &str, units: Units) -> Drawing {
    let site = lot.site;
    let extents = site.zones.iter().map(|zone| zone.region.extent());
    let frame = Frame::around(extents.fold(Extent::NOWHERE, Extent::with), site);
    let scale = patterns::scale_of(frame.width_dm());
    let [left, top, wide, high] = frame.view_box();
    let mut ink = Ink {
        frame: &frame,
        svg: String::new(),
        taken: Vec::new(),
    };
    let _ = write!(
        ink.svg,
        "<svg class=\"plan lot k{scale}\" viewBox=\"{left} {top} {wide} {high}\" role=\"img\" style=\"--u:{:.1}px\"><title>{title}</title>",
        frame.unit_dm()
    );
    ink.ground(lot);
    ink.lanes(&lot.lanes);
    for (index, at) in lot.tank_stops.iter().enumerate() {
        ink.tank_stop(index, *at);
    }
    for (index, hand) in lot.hand.iter().enumerate() {
        ink.hand_letter(index, hand);
    }
    ink.lane_numbers(&lot.lanes);
    ink.svg.push_str(&ink.frame.scale_and_north(units));
    ink.svg += "</svg>";
    Drawing {
        svg: ink.svg,
        scale,
        ..Drawing::default()
    }
}

/// Draws with one frame.
struct Ink<'a> {
    frame: &'a Frame,
    svg: String,
    /// Middles and half sizes of what has been written, dm.
    taken: Vec<(f64, f64, f64)>,
}

impl Ink<'_> {
    fn region(&mut self, class: &str, region: &Region, least_m2: f64, tolerance_m: f64) {
        let kept = region.greater_than(least_m2);
        let d = Paths::of(&kept, self.frame, tolerance_m);
        self.path(class, &d);
    }

    fn path(&mut self, class: &str, d: &str) {
        if !d.is_empty() {
            let _ = write!(self.svg, "<path class=\"{class}\" d=\"{d}\"/>");
        }
    }

    fn ground(&mut self, lot: &Lot) {
        let zones = || lot.site.zones.iter();
        for zone in zones().filter(|zone| zone.is_to_treat()) {
            let class = match zone.method {
                Method::Hand => "z h",
                Method::Boom => "z",
            };
            self.region(class, &zone.region, LEAST_M2, LINE_M);
        }
        self.region("es", &lot.edge_strip, LEAST_M2, OUTLINE_M);
        self.region("lg", &lot.gap, LEAST_M2, OUTLINE_M);
        for hand in &lot.hand {
            self.region("hw h", hand, LEAST_M2, OUTLINE_M);
        }
        for zone in zones() {
            match zone.land_use {
                LandUse::KeepOff => self.region("k", &zone.region, LEAST_M2, LINE_M),
                LandUse::Blocked => self.region("b", &zone.region, LEAST_M2, LINE_M),
                _ => {}
            }
        }
        self.region("ob", &lot.objects, 0.0, LINE_M);
        for zone in zones().filter(|zone| zone.is_to_treat()) {
            self.region("zo", &zone.region, 0.0, LINE_M);
        }
        let curbs: String = lot
            .curbs
            .iter()
            .map(|curb| Paths::line(curb, self.frame))
            .collect();
        self.path("cu", &curbs);
    }

    /// Lines, edge passes dashed, each with an arrow in its middle.
    fn lanes(&mut self, lanes: &[LotLane]) {
        let unit_m = self.frame.unit_dm() / 10.0;
        let (mut plain, mut edge, mut arrows) = (String::new(), String::new(), String::new());
        for lane in lanes {
            let d = Paths::line(&lane.line, self.frame);
            if lane.edge_pass {
                edge += &d;
            } else {
                plain += &d;
            }
            let length_m = length_m(&lane.line);
            if length_m < ARROW_SHARE * unit_m {
                continue;
            }
            if let Some((at, ahead)) = super::along(&lane.line, length_m * 0.55) {
                let left = Xy::new(-ahead.y_m, ahead.x_m);
                let barb = |side: f64| at.plus(ahead, -0.5 * unit_m).plus(left, side * unit_m);
                arrows += &Paths::line(&[barb(0.22), at, barb(-0.22)], self.frame);
                arrows.push('z');
            }
        }
        self.path("la", &plain);
        self.path("la ed", &edge);
        self.path("ar", &arrows);
    }

    /// The first and the last lane's number, then as many others as there is room for, round ones first.
    fn lane_numbers(&mut self, lanes: &[LotLane]) {
        let last = lanes.len().saturating_sub(1);
        let rank = |index: usize| match index {
            0 => 0,
            _ if index == last => 1,
            _ if (index + 1).is_multiple_of(10) => 2,
            _ if (index + 1).is_multiple_of(5) => 3,
            _ => 4,
        };
        let mut order: Vec<usize> = (0..lanes.len()).collect();
        order.sort_by_key(|&index| (rank(index), index));
        let size = self.frame.unit_dm() * SMALL;
        for index in order {
            let lane = &lanes[index];
            let Some((x, y)) = self.free_place(&lane.line, size * APART / 2.0) else {
                continue;
            };
            let _ = write!(
                self.svg,
                "<text class=\"ln\" x=\"{x}\" y=\"{:.0}\">{}</text>",
                y as f64 + 0.36 * size,
                index + 1
            );
        }
    }

    /// A free square of paper near a lane's beginning, kept; on past what is written there already.
    fn free_place(&mut self, line: &[Xy], half: f64) -> Option<(i64, i64)> {
        /// Where a number of lanes may stand, in text sizes from its line (layout).
        const PLACES: [f64; 4] = [0.8, 1.8, 2.8, 3.8];
        let (unit_m, length_m) = (self.frame.unit_dm() / 10.0, length_m(line));
        PLACES.iter().find_map(|units| {
            let along_m = (units * unit_m).min(length_m / 2.0);
            let (at, _) = super::along(line, along_m)?;
            let (x, y) = self.frame.to_dm(at);
            self.take(x as f64, y as f64, half).then_some((x, y))
        })
    }

    /// Keeps a square of paper; `false` where something is written already.
    fn take(&mut self, x: f64, y: f64, half: f64) -> bool {
        let meets = |&(other_x, other_y, other): &(f64, f64, f64)| {
            (x - other_x).abs() < half + other && (y - other_y).abs() < half + other
        };
        if self.taken.iter().any(meets) {
            return false;
        }
        self.taken.push((x, y, half));
        true
    }

    /// A letter in a disc on a piece of hand work, or beside it with a line to it where something is written already.
    fn hand_letter(&mut self, index: usize, hand: &Region) {
        let Some(at) = hand.point_inside() else {
            return;
        };
        let (x, y) = self.frame.to_dm(at);
        let unit = self.frame.unit_dm();
        let radius = 0.85 * unit;
        let (own_x, own_y) = self.beside((x as f64, y as f64), radius);
        if (own_x, own_y) != (x as f64, y as f64) {
            let _ = write!(
                self.svg,
                "<path class=\"n\" d=\"M{x} {y}L{own_x:.0} {own_y:.0}\"/>"
            );
        }
        let _ = write!(
            self.svg,
            "<g class=\"m\"><circle cx=\"{own_x:.0}\" cy=\"{own_y:.0}\" r=\"{radius:.0}\"/><text x=\"{own_x:.0}\" y=\"{:.0}\">{}</text></g>",
            own_y + 0.36 * unit,
            letter(index)
        );
    }

    /// The place nearest to a point where a disc meets nothing that is written, kept; the point itself where all around it is
    /// taken.
    fn beside(&mut self, (x, y): (f64, f64), half: f64) -> (f64, f64) {
        let [left, top, wide, high] = self.frame.view_box().map(|dm| dm as f64);
        // Below the ground stand the scale and the arrow to the north.
        let foot = top + high - 4.0 * self.frame.unit_dm();
        let is_inside = |&(x, y): &(f64, f64)| {
            (left + half..left + wide - half).contains(&x) && (top + half..foot).contains(&y)
        };
        let around = |ring: u32| {
            (0..WAYS_AROUND).map(move |way| {
                let angle_rad = std::f64::consts::TAU * f64::from(way) / f64::from(WAYS_AROUND);
                let away = 2.1 * half * f64::from(ring);
                (x + away * angle_rad.cos(), y + away * angle_rad.sin())
            })
        };
        let places = [(x, y)]
            .into_iter()
            .chain((1..=RINGS_AROUND).flat_map(around));
        let free: Vec<(f64, f64)> = places.filter(is_inside).collect();
        let found = free.into_iter().find(|&(x, y)| self.take(x, y, half));
        found.unwrap_or((x, y))
    }

    /// A black drop with a number.
    fn tank_stop(&mut self, index: usize, at: Xy) {
        let (x, y) = self.frame.to_dm(at);
        let unit = self.frame.unit_dm();
        self.take(x as f64, y as f64 - 0.7 * unit, 0.8 * unit);
        let (r, h) = (0.7 * unit, 1.3 * unit);
        let _ = write!(
            self.svg,
            "<g class=\"ts\"><path d=\"M{x} {y}l{r:.0} {:.0}h{:.0}z\"/><text x=\"{x}\" y=\"{:.0}\">{}</text></g>",
            -h,
            -2.0 * r,
            y as f64 - 0.62 * unit,
            escaped(&format!("{}", index + 1))
        );
    }
}

fn length_m(line: &[Xy]) -> f64 {
    line.windows(2)
        .map(|pair| pair[1].minus(pair[0]).length_m())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::letter;

    #[test]
    fn letters_go_on_after_z() {
        let letters: Vec<String> = [0, 25, 26, 51, 52, 702].map(letter).into();
        assert_eq!(letters, ["A", "Z", "AA", "AZ", "BA", "AAA"]);
    }
}
