//! The general engine (`i_overlay`, 64 bits): what [`super::graph`] gives up.
//!
//! It is asked in whole numbers: its floating-point interface scales to the bounding box, and one far pass would move
//! every area. Its plain union takes its fill rule from the first ring's winding and loses ground where windings
//! are mixed; here every ring's winding is known and the fill rule is always said.

use super::GridPoint;
use super::faces::Shapes;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver, Strategy};
use i_overlay::i_float::int::angle::Angle;
use i_overlay::mesh::int::arc::ArcOptions;
use i_overlay::mesh::int::outline::offset::IntOutlineOffset;
use i_overlay::mesh::int::style::{IntLineJoin, IntOutlineStyle};

/// Round corners: the largest angle between two points is 1/64 turn (in 2^-32 of a turn), so that a
/// buffer's area is at most 0.16 % (of the corner's disc) under the true one. The rest is the engine's default.
pub(super) const CORNERS: ArcOptions = ArcOptions {
    max_step: Angle::from_bits(1 << 26),
    rotation_precision: 5,
};

/// How the engine ends its search for crossings. Splitting an edge at a rounded crossing bends it and makes new
/// crossings, so it goes round again, each time with a greater radius within which a crossing falls on a
/// corner. Its own schedule (radius x 1.4 a round, from one grid step) never catches up with lines a few grid steps
/// apart: ten zones that share a slanted border grew to 800,000 edges and took 12 s. Four times a round ends
/// after a few rounds; usual ground needs one to three, where the radius is at most 16 grid steps (1 um).
pub(super) const SOLVER: Solver = Solver {
    strategy: Strategy::Auto,
    precision: Precision {
        start: 0,
        progression: 4,
    },
    ..Solver::AUTO
};

fn engine() -> Overlay<i64> {
    Overlay::new_custom(0, Default::default(), SOLVER)
}

/// All ground that the rings wind about, both ways round.
pub(super) fn inside_any<'a>(rings: impl IntoIterator<Item = &'a Vec<GridPoint>>) -> Shapes {
    let mut overlay = engine();
    for ring in rings {
        overlay.add_contour(ring, ShapeType::Subject);
    }
    overlay.overlay(OverlayRule::Subject, FillRule::NonZero)
}

/// All ground that the rings wind about counter-clockwise.
pub(super) fn union_of_positive<'a>(rings: impl IntoIterator<Item = &'a Vec<GridPoint>>) -> Shapes {
    let mut overlay = engine();
    for ring in rings {
        overlay.add_contour(ring, ShapeType::Subject);
    }
    overlay.overlay(OverlayRule::Subject, FillRule::Positive)
}

/// What lies in both, or in the first alone.
pub(super) fn combined<'a>(
    of: impl IntoIterator<Item = &'a Vec<Vec<GridPoint>>>,
    by: impl IntoIterator<Item = &'a Vec<Vec<GridPoint>>>,
    in_both: bool,
) -> Shapes {
    let mut overlay = engine();
    for ring in of.into_iter().flatten() {
        overlay.add_contour(ring, ShapeType::Subject);
    }
    for ring in by.into_iter().flatten() {
        overlay.add_contour(ring, ShapeType::Clip);
    }
    let rule = if in_both {
        OverlayRule::Intersect
    } else {
        OverlayRule::Difference
    };
    overlay.overlay(rule, FillRule::Positive)
}

/// What a zone has of gap, of overlap and of treated ground.
///
/// One graph gives the first two. With n the number of outlines over a spot and z = 1 in the zone, the
/// subject's winding is n; the clip is the zone twice and the outlines reversed, winding 2z - n. Positive fill
/// then makes clip without subject the ground with z = 1, n = 0: the gap. Subject without clip is n >= 2 in the
/// zone and n >= 1 outside it; cut with the zone, in a second and much smaller graph, it is the overlap.
pub(super) fn cover(zone: &Shapes, outlines: &[&Vec<Vec<GridPoint>>]) -> [Shapes; 3] {
    let mut overlay = engine();
    for ring in outlines.iter().copied().flatten() {
        overlay.add_contour(ring, ShapeType::Subject);
        overlay.add_path_iter(ring.iter().rev().copied(), ShapeType::Clip);
    }
    for _ in 0..2 {
        overlay.add_source(zone, ShapeType::Clip);
    }
    let Some(graph) = overlay.build_graph_view(FillRule::Positive) else {
        return Default::default();
    };
    let mut buffer = Default::default();
    let gap = graph.extract_shapes(OverlayRule::InverseDifference, &mut buffer);
    let often = graph.extract_shapes(OverlayRule::Difference, &mut buffer);
    let overlap = combined(&often, zone, true);
    let treated = combined(zone, &gap, false);
    [gap, overlap, treated]
}

/// Grown (positive) or shrunk (negative) by a distance in grid steps, corners round.
pub(super) fn offset(shapes: &Shapes, steps: i64) -> Shapes {
    let style = IntOutlineStyle::new(steps).line_join(IntLineJoin::Round(CORNERS));
    // The engine's error means coordinates out of range, which the grid excludes.
    shapes.outline(&style).unwrap_or_default()
}

#[cfg(test)]
thread_local! {
    static ALONE: std::cell::Cell<bool> = const { std::cell::Cell::new(false) };
}

/// Does some work of this thread without our own engine, as where it always gives up.
#[cfg(test)]
pub(crate) fn alone<T>(work: impl FnOnce() -> T) -> T {
    ALONE.set(true);
    let done = work();
    ALONE.set(false);
    done
}

#[cfg(test)]
pub(super) fn is_alone() -> bool {
    ALONE.get()
}
