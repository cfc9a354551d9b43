//! Where a plan's metres lie on paper: turned north up, around the middle of its ground, in decimetres.

use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;
use crate::ground::Site;
use crate::notation::numbers::Units;
use crate::units::M_PER_FT;
use std::fmt::Write as _;

/// Text and marks are this share of a plan's width: 12 points on a phone 360 points wide (layout).
const UNIT_SHARE: f64 = 1.0 / 30.0;
/// A plan taller than this many widths is drawn as wide as if it were so, or its text would be too small (layout).
const TALLEST: f64 = 1.6;
/// Decimetres in a metre (arithmetic).
const DM_PER_M: f64 = 10.0;

/// The paper of a plan.
#[derive(Debug, Clone, Copy)]
pub struct Frame {
    cos: f64,
    sin: f64,
    /// Middle of the ground, east and north, m.
    middle: (f64, f64),
    /// Half its width and height, dm.
    half: (f64, f64),
}

/// A scale bar.
#[derive(Debug, Clone)]
pub struct ScaleBar {
    /// Its left end, dm.
    pub x: i64,
    /// Top of its ticks, dm.
    pub y: i64,
    /// Its length on paper, dm.
    pub length_dm: i64,
    /// Height of its ticks, dm.
    pub tick: i64,
    /// Such as `100 ft (30 m)`.
    pub label: String,
}

impl Frame {
    /// Around this box of a site's plane.
    #[must_use]
    pub fn around(extent: Extent, site: &Site) -> Self {
        let (sin, cos) = site.plane.turn_rad().sin_cos();
        let mut frame = Self {
            cos,
            sin,
            middle: (0.0, 0.0),
            half: (1.0, 1.0),
        };
        let (mut low, mut high) = ((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for point in site
            .zones
            .iter()
            .flat_map(|zone| zone.region.rings())
            .flatten()
        {
            let (east, north) = frame.east_north(point);
            low = (low.0.min(east), low.1.min(north));
            high = (high.0.max(east), high.1.max(north));
        }
        if extent == Extent::NOWHERE || low.0 > high.0 {
            return frame;
        }
        frame.middle = (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1));
        let half = |low: f64, high: f64| ((high - low) * DM_PER_M / 2.0).max(1.0);
        frame.half = (half(low.0, high.0), half(low.1, high.1));
        frame
    }

    fn east_north(&self, at: Xy) -> (f64, f64) {
        (
            at.x_m * self.cos - at.y_m * self.sin,
            at.x_m * self.sin + at.y_m * self.cos,
        )
    }

    /// A point on paper, whole decimetres, y downward.
    #[must_use]
    pub fn to_dm(&self, at: Xy) -> (i64, i64) {
        let (east, north) = self.east_north(at);
        let dm = |m: f64| (m * DM_PER_M).round() as i64;
        (dm(east - self.middle.0), dm(self.middle.1 - north))
    }

    /// The box on paper around a box of the plane.
    #[must_use]
    pub fn box_dm(&self, extent: Extent) -> ((i64, i64), (i64, i64)) {
        let (low, high) = (extent.low, extent.high);
        let corners = [
            low,
            high,
            Xy::new(low.x_m, high.y_m),
            Xy::new(high.x_m, low.y_m),
        ];
        let corners = corners.map(|corner| self.to_dm(corner));
        let xs = corners.map(|corner| corner.0);
        let ys = corners.map(|corner| corner.1);
        let least = |of: [i64; 4]| of.into_iter().fold(i64::MAX, i64::min);
        let most = |of: [i64; 4]| of.into_iter().fold(i64::MIN, i64::max);
        ((least(xs), least(ys)), (most(xs), most(ys)))
    }

    /// The point so far right of and below another on paper, dm.
    #[must_use]
    pub fn beside(&self, at: Xy, (right_dm, down_dm): (f64, f64)) -> Xy {
        let (east_m, north_m) = (right_dm / DM_PER_M, -down_dm / DM_PER_M);
        Xy::new(
            at.x_m + east_m * self.cos + north_m * self.sin,
            at.y_m - east_m * self.sin + north_m * self.cos,
        )
    }

    /// `a b c d e f` of the SVG transform that lays an image on its ground: a pixel a cell, so many rows of cells from
    /// the lower left corner at `origin`, the last of them the image's first.
    #[must_use]
    pub fn image_matrix(&self, origin: Xy, cell_m: f64, rows: usize) -> [f64; 6] {
        let cell_dm = cell_m * DM_PER_M;
        let top = Xy::new(origin.x_m, origin.y_m + rows as f64 * cell_m);
        let (east, north) = self.east_north(top);
        [
            cell_dm * self.cos,
            -cell_dm * self.sin,
            cell_dm * self.sin,
            cell_dm * self.cos,
            (east - self.middle.0) * DM_PER_M,
            (self.middle.1 - north) * DM_PER_M,
        ]
    }

    /// Left, top, width and height of the ground without the strip for the scale, dm.
    #[must_use]
    pub fn ground_box(&self) -> [i64; 4] {
        let (width, unit) = (self.width_dm(), self.unit_dm());
        let half = self.half.1 + unit;
        [-width / 2.0, -half, width, 2.0 * half].map(|dm| dm.round() as i64)
    }

    /// Width of the paper, dm.
    #[must_use]
    pub fn width_dm(&self) -> f64 {
        let width = (2.0 * self.half.0).max(2.0 * self.half.1 / TALLEST);
        width * (1.0 + 4.0 * UNIT_SHARE)
    }

    /// Size of text and marks, dm.
    #[must_use]
    pub fn unit_dm(&self) -> f64 {
        self.width_dm() * UNIT_SHARE
    }

    /// Left, top, width and height of the paper, dm.
    #[must_use]
    pub fn view_box(&self) -> [i64; 4] {
        let (width, unit) = (self.width_dm(), self.unit_dm());
        let top = -self.half.1 - 1.5 * unit;
        let bottom = self.half.1 + 4.5 * unit;
        [-width / 2.0, top, width, bottom - top].map(|dm| dm.round() as i64)
    }

    /// A bar of a round length, about a quarter of the paper.
    #[must_use]
    pub fn scale_bar(&self, units: Units) -> ScaleBar {
        let quarter_m = self.width_dm() / 4.0 / DM_PER_M;
        let (per_m, label): (f64, fn(f64, f64) -> String) = match units {
            Units::Us => (1.0 / M_PER_FT, |own, m| format!("{own} ft ({m:.0} m)")),
            Units::Metric => (1.0, |own, m| format!("{own} m ({:.0} ft)", m / M_PER_FT)),
        };
        let own = round_length(quarter_m * per_m);
        let length_m = own / per_m;
        let unit = self.unit_dm();
        ScaleBar {
            x: (-self.width_dm() / 2.0 + unit).round() as i64,
            y: (self.half.1 + 2.6 * unit).round() as i64,
            length_dm: (length_m * DM_PER_M).round() as i64,
            tick: (0.6 * unit).round().max(1.0) as i64,
            label: label(own, length_m),
        }
    }

    /// Foot of the north arrow and its height, dm.
    #[must_use]
    pub fn north(&self) -> (i64, i64, i64) {
        let unit = self.unit_dm();
        (
            (self.width_dm() / 2.0 - unit).round() as i64,
            (self.half.1 + 3.6 * unit).round() as i64,
            (2.2 * unit).round().max(4.0) as i64,
        )
    }

    /// Scale bar and north arrow under the plan.
    #[must_use]
    pub fn scale_and_north(&self, units: Units) -> String {
        let mut svg = String::new();
        let bar = self.scale_bar(units);
        let _ = write!(
            svg,
            "<path class=\"s\" d=\"M{} {}v{tick}h{}v-{tick}\"/><text class=\"st\" x=\"{}\" y=\"{}\">{}</text>",
            bar.x,
            bar.y,
            bar.length_dm,
            bar.x + bar.length_dm + bar.tick,
            bar.y + bar.tick,
            bar.label,
            tick = bar.tick,
        );
        let (x, y, size) = self.north();
        let _ = write!(
            svg,
            "<path class=\"s\" d=\"M{x} {y}v-{}m-{w} {w}l{w} -{w}l{w} {w}\"/><text class=\"zl\" x=\"{}\" y=\"{y}\">N</text>",
            size,
            x - size / 2,
            w = size / 4,
        );
        svg
    }
}

/// The greatest 1, 2 or 5 times a power of ten up to this.
fn round_length(most: f64) -> f64 {
    let power = 10_f64.powf(most.max(1.0).log10().floor());
    let steps = [5.0, 2.0, 1.0].into_iter().map(|step| step * power);
    steps
        .into_iter()
        .find(|length| *length <= most)
        .unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_image_lies_on_its_ground_whatever_the_turn() {
        let frame = Frame {
            cos: 0.6,
            sin: 0.8,
            middle: (3.0, -7.0),
            half: (100.0, 100.0),
        };
        let origin = Xy::new(-12.0, 5.0);
        let [a, b, c, d, e, f] = frame.image_matrix(origin, 2.0, 9);
        // Five pixels along and two down from the top left corner: 10 m along x, 4 m under 18 m of y.
        let (x, y) = (a * 5.0 + c * 2.0 + e, b * 5.0 + d * 2.0 + f);
        let want = frame.to_dm(Xy::new(-2.0, 19.0));
        assert_eq!((x.round() as i64, y.round() as i64), want);
        let moved = frame.to_dm(frame.beside(origin, (30.0, 40.0)));
        let from = frame.to_dm(origin);
        assert_eq!((moved.0 - from.0, moved.1 - from.1), (30, 40));
    }

    #[test]
    fn bars_have_round_lengths() {
        let lengths = [0.3, 1.0, 4.9, 5.0, 19.0, 99.0, 240.0].map(round_length);
        assert_eq!(lengths, [1.0, 1.0, 2.0, 5.0, 10.0, 50.0, 200.0]);
    }
}
