//! Exact polygon sets: the only caller of the boolean engine, owner of grid, winding and bounds.
//!
//! Base module. Coordinates are rounded once to a grid of 2^-24 m (60 nm) and all set operations
//! are done in whole numbers (`i_overlay`, 64 bits), so that results do not depend on what else
//! lies in the same call: the engine's floating-point interface scales to the bounding box, and one
//! far pass would move every area.
//!
//! Windings: a [`Region`]'s outer rings run counter-clockwise, its holes clockwise, as the engine
//! returns them. The engine's plain union takes its fill rule from the first ring's winding and
//! loses ground where windings are mixed; here every ring's winding is known and the fill rule is
//! always said.

mod heaps;

use crate::extent::Extent;
use crate::plane::Xy;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver, Strategy};
use i_overlay::i_float::int::angle::Angle;
use i_overlay::i_float::int::point::IntPoint;
use i_overlay::mesh::int::arc::ArcOptions;
use i_overlay::mesh::int::outline::offset::IntOutlineOffset;
use i_overlay::mesh::int::style::{IntLineJoin, IntOutlineStyle};

/// Grid steps in a metre.
const STEPS_PER_M: f64 = (1_u32 << 24) as f64;

/// Coordinates beyond this (65 km) are clamped before they reach the engine, which does not check: far
/// more than a plane reaches, far less than the 2^62 steps that the engine can take.
const GREATEST_STEPS: f64 = (1_i64 << 40) as f64;

/// Largest angle between two points of a round corner, in 2^-32 of a turn: 1/64 turn, so that a
/// buffer's area is at most 0.16 % (of the corner's disc) under the true one.
const CORNER_STEP: Angle = Angle::from_bits(1 << 26);

/// A corner this near to an edge lies on it, grid steps: each of a handful of operations in a row may
/// have bent the edge by one.
const CORNER_STEPS: f64 = 4.0;

/// How the engine ends its search for crossings. Splitting an edge at a rounded crossing bends it and makes new
/// crossings, so it goes round again, each time with a greater radius within which a crossing falls on a
/// corner. Its own schedule (radius x 1.4 a round, from one grid step) never catches up with lines a few grid steps
/// apart: ten zones that share a slanted border grew to 800,000 edges and took 12 s. Four times a round ends
/// after a few rounds; usual ground needs one to three, where the radius is at most 16 grid steps (1 um).
const SOLVER: Solver = Solver {
    strategy: Strategy::Auto,
    precision: Precision {
        start: 0,
        progression: 4,
    },
    ..Solver::AUTO
};

/// A point on the grid, a quarter turn counter-clockwise from the plane: the engine sweeps along its x and
/// compares every edge with all that overlap it there. Lanes lie along the plane's x, so turned they
/// overlap few.
type GridPoint = IntPoint<i64>;

/// A set of polygons without overlaps: outer rings counter-clockwise, holes clockwise.
#[derive(Debug, Clone, Default)]
pub struct Region {
    /// Shapes; of each the first ring is the outer one.
    shapes: Vec<Vec<Vec<GridPoint>>>,
}

/// What one pass, one zone and all passes together leave of a zone: see [`cover`].
#[derive(Debug, Clone, Default)]
pub struct Cover {
    /// In the zone, in no outline.
    pub gap: Region,
    /// In the zone, in two outlines or more.
    pub overlap: Region,
}

fn engine() -> Overlay<i64> {
    Overlay::new_custom(0, Default::default(), SOLVER)
}

fn to_grid(point: Xy) -> GridPoint {
    let step = |metres: f64| {
        // NaN becomes 0 by the cast; callers only hand on finite points.
        (metres * STEPS_PER_M)
            .round()
            .clamp(-GREATEST_STEPS, GREATEST_STEPS) as i64
    };
    IntPoint::new(step(-point.y_m), step(point.x_m))
}

fn to_xy(point: GridPoint) -> Xy {
    Xy::new(point.y as f64 / STEPS_PER_M, -point.x as f64 / STEPS_PER_M)
}

/// Signed area of a ring in m2, summed exactly in whole numbers.
fn ring_area_m2(ring: &[GridPoint]) -> f64 {
    let doubled: i128 = (0..ring.len())
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            i128::from(a.x) * i128::from(b.y) - i128::from(b.x) * i128::from(a.y)
        })
        .sum();
    doubled as f64 / (2.0 * STEPS_PER_M * STEPS_PER_M)
}

/// The box around a shape; its holes lie inside.
fn extent_of(shape: &[Vec<GridPoint>]) -> Extent {
    let outer = shape.first().map_or(&[][..], Vec::as_slice);
    let (mut low, mut high) = ([i64::MAX; 2], [i64::MIN; 2]);
    for point in outer {
        low = [low[0].min(point.x), low[1].min(point.y)];
        high = [high[0].max(point.x), high[1].max(point.y)];
    }
    if outer.is_empty() {
        return Extent::NOWHERE;
    }
    let corners = [low, high].map(|[x, y]| to_xy(IntPoint::new(x, y)));
    Extent::of(&corners)
}

impl Region {
    /// All ground inside any of the rings, whatever their winding; a ring that crosses itself
    /// covers each of its loops once.
    #[must_use]
    pub fn inside_any<'a>(rings: impl IntoIterator<Item = &'a [Xy]>) -> Self {
        Self::joined(rings, Self::inside_any_at_once)
    }

    fn inside_any_at_once(rings: &[&[Xy]]) -> Self {
        let mut overlay = engine();
        for ring in rings {
            let mut points: Vec<GridPoint> = ring.iter().map(|&point| to_grid(point)).collect();
            if ring_area_m2(&points) < 0.0 {
                points.reverse();
            }
            overlay.add_contour(&points, ShapeType::Subject);
        }
        Self {
            shapes: overlay.overlay(OverlayRule::Subject, FillRule::NonZero),
        }
    }

    /// The union of counter-clockwise rings. Clockwise loops within a ring count as nothing.
    #[must_use]
    pub fn union_of_positive<'a>(rings: impl IntoIterator<Item = &'a [Xy]>) -> Self {
        Self::joined(rings, Self::union_of_positive_at_once)
    }

    fn joined<'a>(
        rings: impl IntoIterator<Item = &'a [Xy]>,
        join: impl Fn(&[&'a [Xy]]) -> Self,
    ) -> Self {
        let rings: Vec<&[Xy]> = rings.into_iter().collect();
        heaps::joined(&rings, |ring| Extent::of(*ring), join)
    }

    fn union_of_positive_at_once(rings: &[&[Xy]]) -> Self {
        let mut overlay = engine();
        for ring in rings {
            overlay.add_path_iter(ring.iter().map(|&point| to_grid(point)), ShapeType::Subject);
        }
        Self {
            shapes: overlay.overlay(OverlayRule::Subject, FillRule::Positive),
        }
    }

    /// The union of regions.
    #[must_use]
    pub fn union_of<'a>(regions: impl IntoIterator<Item = &'a Self>) -> Self {
        let regions: Vec<&Self> = regions
            .into_iter()
            .filter(|region| !region.is_empty())
            .collect();
        heaps::joined(
            &regions,
            |region| region.extent(),
            |regions| match regions {
                [] => Self::default(),
                [only] => (*only).clone(),
                _ => Self::union_at_once(regions),
            },
        )
    }

    fn union_at_once(regions: &[&Self]) -> Self {
        let mut overlay = engine();
        for region in regions {
            overlay.add_source(&region.shapes, ShapeType::Subject);
        }
        Self {
            shapes: overlay.overlay(OverlayRule::Subject, FillRule::Positive),
        }
    }

    /// The ground in both.
    #[must_use]
    pub fn intersection(&self, other: &Self) -> Self {
        self.combined(other, OverlayRule::Intersect)
    }

    /// The ground in `self` and not in `other`.
    #[must_use]
    pub fn difference(&self, other: &Self) -> Self {
        self.combined(other, OverlayRule::Difference)
    }

    fn combined(&self, other: &Self, rule: OverlayRule) -> Self {
        if self.is_empty() || (other.is_empty() && rule == OverlayRule::Intersect) {
            return Self::default();
        }
        let (box_of_self, box_of_other) = (self.extent(), other.extent());
        if other.is_empty() || !box_of_self.meets(&box_of_other) {
            return match rule {
                OverlayRule::Intersect => Self::default(),
                _ => self.clone(),
            };
        }
        let mut overlay = engine();
        for (shapes, kind, near) in [
            (&self.shapes, ShapeType::Subject, box_of_other),
            (&other.shapes, ShapeType::Clip, box_of_self),
        ] {
            // A shape beyond the other's box changes nothing there; only what is left over keeps it.
            let kept = |shape: &&Vec<Vec<GridPoint>>| {
                (kind == ShapeType::Subject && rule != OverlayRule::Intersect)
                    || extent_of(shape).meets(&near)
            };
            shapes
                .iter()
                .filter(kept)
                .flatten()
                .for_each(|ring| overlay.add_contour(ring, kind));
        }
        Self {
            shapes: overlay.overlay(rule, FillRule::Positive),
        }
    }

    /// Moved by a vector, which is rounded to the grid.
    #[must_use]
    pub fn moved(&self, by: Xy) -> Self {
        let (step, none) = (to_grid(by), to_grid(Xy::default()));
        let (dx, dy) = (step.x - none.x, step.y - none.y);
        let moved = |point: &GridPoint| IntPoint::new(point.x + dx, point.y + dy);
        let ring = |ring: &Vec<GridPoint>| ring.iter().map(moved).collect();
        Self {
            shapes: self
                .shapes
                .iter()
                .map(|shape| shape.iter().map(ring).collect())
                .collect(),
        }
    }

    /// Turned counter-clockwise around the plane's origin; corners are rounded to the grid.
    #[must_use]
    pub fn turned(&self, angle_rad: f64) -> Self {
        let (sin, cos) = angle_rad.sin_cos();
        let turned = |&point: &GridPoint| {
            let Xy { x_m, y_m } = to_xy(point);
            to_grid(Xy::new(x_m * cos - y_m * sin, x_m * sin + y_m * cos))
        };
        let ring = |ring: &Vec<GridPoint>| ring.iter().map(turned).collect();
        Self {
            shapes: self
                .shapes
                .iter()
                .map(|shape| shape.iter().map(ring).collect())
                .collect(),
        }
    }

    /// Grown (positive) or shrunk (negative) by a distance in metres, corners round.
    #[must_use]
    pub fn offset(&self, distance_m: f64) -> Self {
        let round = ArcOptions {
            max_step: CORNER_STEP,
            ..ArcOptions::default()
        };
        let style = IntOutlineStyle::new((distance_m * STEPS_PER_M).round() as i64)
            .line_join(IntLineJoin::Round(round));
        // The engine's error means coordinates out of range, which `to_grid` excludes.
        Self {
            shapes: self.shapes.outline(&style).unwrap_or_default(),
        }
    }

    /// Morphological opening: what a disc of this radius reaches when it stays inside. Never more
    /// than the region itself.
    #[must_use]
    pub fn opened(&self, radius_m: f64) -> Self {
        let core = self.offset(-radius_m);
        if core.is_empty() {
            return core;
        }
        core.offset(radius_m).intersection(self)
    }

    /// Area, m2; exact on the grid.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        self.shapes
            .iter()
            .flatten()
            .map(|ring| ring_area_m2(ring))
            .sum()
    }

    /// The box around it.
    #[must_use]
    pub fn extent(&self) -> Extent {
        let boxes = self.shapes.iter().map(|shape| extent_of(shape));
        boxes.fold(Extent::NOWHERE, Extent::with)
    }

    /// No ground at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.shapes.is_empty()
    }

    /// The connected pieces of at least this area.
    #[must_use]
    pub fn greater_than(&self, least_m2: f64) -> Self {
        let area_m2 =
            |shape: &[Vec<GridPoint>]| -> f64 { shape.iter().map(|ring| ring_area_m2(ring)).sum() };
        let great = self
            .shapes
            .iter()
            .filter(|shape| area_m2(shape) >= least_m2);
        Self {
            shapes: great.cloned().collect(),
        }
    }

    /// Each connected piece as a region of its own.
    #[must_use]
    pub fn pieces(&self) -> Vec<Self> {
        self.shapes
            .iter()
            .map(|shape| Self {
                shapes: vec![shape.clone()],
            })
            .collect()
    }

    /// Pieces of one region together again.
    #[must_use]
    pub fn of_pieces(pieces: impl IntoIterator<Item = Self>) -> Self {
        Self {
            shapes: pieces.into_iter().flat_map(|piece| piece.shapes).collect(),
        }
    }

    /// Rings in metres: per shape the outer ring (counter-clockwise), then its holes (clockwise);
    /// rings do not repeat their first point.
    #[must_use]
    pub fn shapes(&self) -> Vec<Vec<Vec<Xy>>> {
        let ring = |ring: &Vec<GridPoint>| ring.iter().map(|&point| to_xy(point)).collect();
        self.shapes
            .iter()
            .map(|shape| shape.iter().map(ring).collect())
            .collect()
    }

    /// All rings of all shapes in metres, windings as in [`Region::shapes`].
    #[must_use]
    pub fn rings(&self) -> Vec<Vec<Xy>> {
        self.shapes().into_iter().flatten().collect()
    }
}

/// Makes regions that share borders share the corners on them, so that their areas under any clip add
/// up exactly.
///
/// Each set operation rounds the corners it makes to the grid and bends the edges through them by as
/// much. Two regions cut from the same ground by different operations then leave slivers of 60 nm
/// between them. Here every edge gets all corners that lie within a few grid steps of it (the idea of snap
/// rounding: J. D. Hobby, *Computational Geometry* 13, 1999, doi:10.1016/S0925-7721(99)00021-8).
pub fn share_corners(regions: &mut [Region]) {
    let mut corners: Vec<[i64; 2]> = regions
        .iter()
        .flat_map(|region| region.shapes.iter().flatten().flatten())
        .map(|p| [p.x, p.y])
        .collect();
    corners.sort_unstable();
    corners.dedup();
    for ring in regions
        .iter_mut()
        .flat_map(|region| region.shapes.iter_mut().flatten())
    {
        let mut noded = Vec::with_capacity(ring.len());
        for k in 0..ring.len() {
            let (from, to) = (ring[k], ring[(k + 1) % ring.len()]);
            noded.push(from);
            push_corners_on(&corners, from, to, &mut noded);
        }
        *ring = noded;
    }
}

/// Adds the corners within [`CORNER_STEPS`] of an edge, in the order of the edge. `corners` are sorted by x.
fn push_corners_on(
    corners: &[[i64; 2]],
    from: GridPoint,
    to: GridPoint,
    ring: &mut Vec<GridPoint>,
) {
    let slack = CORNER_STEPS as i64;
    let (low_x, high_x) = (from.x.min(to.x) - slack, from.x.max(to.x) + slack);
    let (low_y, high_y) = (from.y.min(to.y) - slack, from.y.max(to.y) + slack);
    let (dx, dy) = ((to.x - from.x) as f64, (to.y - from.y) as f64);
    let length = dx.hypot(dy);
    let first = corners.partition_point(|corner| corner[0] < low_x);
    let mut on: Vec<(f64, GridPoint)> = corners[first..]
        .iter()
        .take_while(|corner| corner[0] <= high_x)
        .filter(|corner| (low_y..=high_y).contains(&corner[1]))
        .filter_map(|&[x, y]| {
            let (px, py) = ((x - from.x) as f64, (y - from.y) as f64);
            let along = (px * dx + py * dy) / length;
            let off = (px * dy - py * dx).abs() / length;
            (off <= CORNER_STEPS && along > 0.0 && along < length)
                .then_some((along, IntPoint::new(x, y)))
        })
        .filter(|(_, point)| *point != from && *point != to)
        .collect();
    on.sort_by(|a, b| a.0.total_cmp(&b.0));
    ring.extend(on.into_iter().map(|(_, point)| point));
}

/// What a zone has of gap and overlap under many outlines.
///
/// `outlines` are regions, each one pass. One graph gives both sets. With n the number of outlines
/// over a spot and z = 1 in the zone, the subject's winding is n; the clip is the zone twice and
/// the outlines reversed, winding 2z - n. Positive fill then makes clip without subject the ground
/// with z = 1, n = 0: the gap. Subject without clip is n >= 2 in the zone and n >= 1 outside it; cut
/// with the zone, in a second and much smaller graph, it is the overlap.
#[must_use]
pub fn cover(zone: &Region, outlines: &[&Region]) -> Cover {
    let mut overlay = engine();
    for outline in outlines {
        for ring in outline.shapes.iter().flatten() {
            overlay.add_contour(ring, ShapeType::Subject);
            overlay.add_path_iter(ring.iter().rev().copied(), ShapeType::Clip);
        }
    }
    for _ in 0..2 {
        overlay.add_source(&zone.shapes, ShapeType::Clip);
    }
    let Some(graph) = overlay.build_graph_view(FillRule::Positive) else {
        return Cover::default();
    };
    let mut buffer = Default::default();
    let gap = Region {
        shapes: graph.extract_shapes(OverlayRule::InverseDifference, &mut buffer),
    };
    let often = Region {
        shapes: graph.extract_shapes(OverlayRule::Difference, &mut buffer),
    };
    Cover {
        gap,
        overlap: often.intersection(zone),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x_m: f64, y_m: f64, width_m: f64, height_m: f64) -> Vec<Xy> {
        [
            (0.0, 0.0),
            (width_m, 0.0),
            (width_m, height_m),
            (0.0, height_m),
        ]
        .map(|(dx, dy)| Xy::new(x_m + dx, y_m + dy))
        .to_vec()
    }

    fn region(rings: &[Vec<Xy>]) -> Region {
        Region::inside_any(rings.iter().map(Vec::as_slice))
    }

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-5
    }

    #[test]
    fn winding_does_not_matter_for_inside_any() {
        let mut clockwise = rectangle(5.0, 0.0, 10.0, 10.0);
        clockwise.reverse();
        assert!(close(
            region(&[rectangle(0.0, 0.0, 10.0, 10.0), clockwise]).area_m2(),
            150.0
        ));
    }

    #[test]
    fn bow_tie_covers_both_loops() {
        let bow = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]
            .map(|(x, y)| Xy::new(x, y))
            .to_vec();
        assert!(close(region(&[bow]).area_m2(), 50.0));
    }

    #[test]
    fn gap_and_overlap_on_squared_paper() {
        // Zone 20 x 10. Three passes 4 wide over its full length at y = 0, 3 and 8:
        // 0..4 and 3..7 overlap on 1 m, 7..8 stays bare, 8..10 is single (10..12 is outside).
        let zone = region(&[rectangle(0.0, 0.0, 20.0, 10.0)]);
        let passes = [0.0, 3.0, 8.0].map(|y| region(&[rectangle(-5.0, y, 30.0, 4.0)]));
        let cover = cover(&zone, &passes.iter().collect::<Vec<_>>());
        assert!(close(cover.gap.area_m2(), 20.0), "{}", cover.gap.area_m2());
        assert!(
            close(cover.overlap.area_m2(), 20.0),
            "{}",
            cover.overlap.area_m2()
        );
    }

    #[test]
    fn ground_outside_the_zone_counts_for_nothing() {
        let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
        let outside = region(&[rectangle(20.0, 0.0, 5.0, 5.0)]);
        let twice = cover(&zone, &[&outside, &outside]);
        assert!(close(twice.gap.area_m2(), 100.0) && twice.overlap.is_empty());
    }

    #[test]
    fn a_third_pass_is_still_overlap() {
        let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
        let cover = cover(&zone, &[&zone, &zone, &zone]);
        assert!(cover.gap.is_empty() && close(cover.overlap.area_m2(), 100.0));
    }

    #[test]
    fn no_pass_leaves_the_whole_zone() {
        let zone = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]);
        assert!(close(cover(&zone, &[]).gap.area_m2(), 100.0));
    }

    #[test]
    fn opening_keeps_the_wide_part_only() {
        // A 10 x 10 square with a tail 20 x 0.8: the tail is narrower than 1 m.
        let shape = region(&[
            rectangle(0.0, 0.0, 10.0, 10.0),
            rectangle(10.0, 4.0, 20.0, 0.8),
        ]);
        let opened = shape.opened(0.5);
        // Four corners lose (4 - pi)/4 x 0.25 each; the rounded stub of the tail adds under 0.1.
        assert!(
            (opened.area_m2() - 99.8).abs() < 0.15,
            "{}",
            opened.area_m2()
        );
    }

    #[test]
    fn offset_of_a_square_has_the_closed_form() {
        let grown = region(&[rectangle(0.0, 0.0, 10.0, 10.0)]).offset(1.0);
        let exact = 100.0 + 40.0 + std::f64::consts::PI;
        assert!(
            (grown.area_m2() - exact).abs() < 0.0016 * std::f64::consts::PI,
            "{}",
            grown.area_m2()
        );
        assert!(close(
            region(&[rectangle(0.0, 0.0, 10.0, 10.0)])
                .offset(-1.0)
                .area_m2(),
            64.0
        ));
    }

    #[test]
    fn regions_that_share_a_border_share_its_corners() {
        // The left square's right edge has no corner where the right ones meet.
        let mut regions = [
            region(&[rectangle(0.0, 0.0, 10.0, 10.0)]),
            region(&[rectangle(10.0, 0.0, 5.0, 4.0)]),
            region(&[rectangle(10.0, 4.0, 5.0, 6.0)]),
        ];
        share_corners(&mut regions);
        assert_eq!(regions[0].rings()[0].len(), 5);
        assert!(close(regions[0].area_m2(), 100.0));
    }

    #[test]
    fn a_hole_stays_a_hole_through_difference_and_union() {
        let ring = region(&[rectangle(0.0, 0.0, 10.0, 10.0)])
            .difference(&region(&[rectangle(4.0, 4.0, 2.0, 2.0)]));
        assert!(close(ring.area_m2(), 96.0));
        assert!(close(Region::union_of([&ring, &ring]).area_m2(), 96.0));
        assert_eq!(ring.rings().len(), 2);
    }
}
