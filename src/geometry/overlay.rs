//! Exact polygon sets: the only module that knows the boolean engines, owner of grid, winding and bounds.
//!
//! Base module. Coordinates are rounded once to a grid of 2^-24 m (60 nm) and all set operations
//! are done in whole numbers, so that results do not depend on what else lies in the same call.
//!
//! Two engines: one of the house for rings that hardly cross (`overlay/graph.rs`, with a proof in `docs/overlay.md`), which says so
//! when it cannot vouch for its result; and a general one (`overlay/general.rs`), which then does the work.
//!
//! Windings: a [`Region`]'s outer rings run counter-clockwise, its holes clockwise, as both engines
//! return them.

mod arcs;
mod corners;
mod cover;
pub mod degrees;
mod exact;
mod faces;
mod general;
mod graph;
mod grid;
mod heaps;
mod offset;
mod rings;
mod snap;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod trials;
mod west;
mod windings;

use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;
pub use corners::share_corners;
pub use cover::{Cover, cover, covered};
use exact::doubled_area;
use faces::Shapes;
#[cfg(test)]
pub(crate) use general::alone as generally_alone;
use graph::{Graph, Heaps};
use heaps::Joined;
use i_overlay::i_float::int::point::IntPoint;
use rings::{Fail, Rings, Winding};

/// Grid steps in a metre (tolerance).
const STEPS_PER_M: f64 = (1_u32 << 24) as f64;

/// Coordinates beyond this (65 km) are clamped before they reach an engine: far more than a plane reaches, far less
/// than the 2^62 steps that the general engine can take (limit).
const GREATEST_STEPS: f64 = (1_i64 << 40) as f64;

/// A point on the grid, a quarter turn counter-clockwise from the plane: the general engine sweeps along its x and
/// compares every edge with all that overlap it there. Lanes lie along the plane's x, so turned they
/// overlap few.
type GridPoint = IntPoint<i64>;

/// A set of polygons without overlaps: outer rings counter-clockwise, holes clockwise.
#[derive(Debug, Clone, Default)]
pub struct Region {
    /// Shapes; of each the first ring is the outer one.
    shapes: Shapes,
    /// See [`Region::fallbacks`].
    fallbacks: u32,
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

fn ring_to_grid(ring: &[Xy]) -> Vec<GridPoint> {
    ring.iter().map(|&point| to_grid(point)).collect()
}

/// Signed area of a ring in m2, summed exactly in whole numbers.
fn ring_area_m2(ring: &[GridPoint]) -> f64 {
    doubled_area(ring) as f64 / (2.0 * STEPS_PER_M * STEPS_PER_M)
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

/// The rings, wound counter-clockwise.
fn wound(rings: &[&[Xy]]) -> Vec<Vec<GridPoint>> {
    let wound = |ring: &&[Xy]| {
        let mut ring = ring_to_grid(ring);
        if doubled_area(&ring) < 0 {
            ring.reverse();
        }
        ring
    };
    rings.iter().map(wound).collect()
}

/// The ground of some windings about rings of one side.
fn ground(rings: Rings, heaps: Heaps, inside: impl Fn(Winding) -> bool) -> Result<Shapes, Fail> {
    Graph::of(rings, heaps)?.region(inside)
}

/// The union of shapes without overlaps among their own.
fn union(shapes: &[&Shapes], heaps: Heaps) -> Result<Shapes, Fail> {
    let mut rings = Rings::default();
    for shapes in shapes {
        rings.add_shapes(*shapes, Winding::OF);
    }
    ground(rings, heaps, |winding| winding.of > 0)
}

fn union_generally(shapes: &[&Shapes]) -> Shapes {
    general::union_of_positive(shapes.iter().copied().flatten().flatten())
}

fn union_of_two(two: &[Shapes]) -> Joined<Shapes> {
    let two: Vec<&Shapes> = two.iter().collect();
    Joined::or(union(&two, Heaps::Taken), || union_generally(&two))
}

impl Region {
    fn of(joined: Joined<Shapes>) -> Self {
        Self {
            shapes: joined.ground,
            fallbacks: joined.fallbacks,
        }
    }

    /// How often the general engine had to do the work in the operation that made this region. Those that made its
    /// operands count for themselves.
    #[must_use]
    pub fn fallbacks(&self) -> u32 {
        self.fallbacks
    }

    /// All ground inside any of the rings, whatever their winding; a ring that crosses itself
    /// covers each of its loops once.
    #[must_use]
    pub fn inside_any<'a>(rings: impl IntoIterator<Item = &'a [Xy]>) -> Self {
        let rings: Vec<&[Xy]> = rings.into_iter().collect();
        let at_once = |rings: &[&[Xy]], heaps| {
            let mut wound_rings = Rings::default();
            for ring in wound(rings) {
                wound_rings.add(ring, Winding::OF);
            }
            ground(wound_rings, heaps, |winding| winding.of != 0)
        };
        let generally = |rings: &[&[Xy]]| general::inside_any(&wound(rings));
        Self::of(heaps::joined(&rings, &at_once, &generally, &union_of_two))
    }

    /// The union of counter-clockwise rings. Clockwise loops within a ring count as nothing.
    #[must_use]
    pub fn union_of_positive<'a>(rings: impl IntoIterator<Item = &'a [Xy]>) -> Self {
        let rings: Vec<&[Xy]> = rings.into_iter().collect();
        let at_once = |rings: &[&[Xy]], heaps| {
            let mut on_grid = Rings::default();
            for ring in rings {
                on_grid.add(ring.iter().map(|&point| to_grid(point)), Winding::OF);
            }
            ground(on_grid, heaps, |winding| winding.of > 0)
        };
        let generally = |rings: &[&[Xy]]| {
            let rings: Vec<Vec<GridPoint>> = rings.iter().map(|ring| ring_to_grid(ring)).collect();
            general::union_of_positive(&rings)
        };
        Self::of(heaps::joined(&rings, &at_once, &generally, &union_of_two))
    }

    /// The union of regions.
    #[must_use]
    pub fn union_of<'a>(regions: impl IntoIterator<Item = &'a Self>) -> Self {
        let regions: Vec<&Shapes> = regions
            .into_iter()
            .map(|region| &region.shapes)
            .filter(|shapes| !shapes.is_empty())
            .collect();
        match regions[..] {
            [] => Self::default(),
            [only] => Self {
                shapes: only.clone(),
                fallbacks: 0,
            },
            _ => Self::of(heaps::joined(
                &regions,
                &union,
                &union_generally,
                &union_of_two,
            )),
        }
    }

    /// The ground in both.
    #[must_use]
    pub fn intersection(&self, other: &Self) -> Self {
        self.combined(other, true)
    }

    /// The ground in `self` and not in `other`.
    #[must_use]
    pub fn difference(&self, other: &Self) -> Self {
        self.combined(other, false)
    }

    fn combined(&self, other: &Self, in_both: bool) -> Self {
        let (extent, others) = (self.extent(), other.extent());
        if !extent.meets(&others) {
            let shapes = if in_both {
                Shapes::new()
            } else {
                self.shapes.clone()
            };
            return Self {
                shapes,
                fallbacks: 0,
            };
        }
        // A shape beyond the other's box changes nothing there; only what is left over keeps it.
        let of = || {
            let kept = |shape: &&Vec<Vec<GridPoint>>| !in_both || extent_of(shape).meets(&others);
            self.shapes.iter().filter(kept)
        };
        let by = || {
            let near = |shape: &&Vec<Vec<GridPoint>>| extent_of(shape).meets(&extent);
            other.shapes.iter().filter(near)
        };
        let mut rings = Rings::default();
        rings.add_shapes(of(), Winding::OF);
        rings.add_shapes(by(), Winding::BY);
        let inside = |winding: Winding| winding.of > 0 && (winding.by > 0) == in_both;
        Self::of(Joined::or(ground(rings, Heaps::Taken, inside), || {
            general::combined(of(), by(), in_both)
        }))
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
            fallbacks: 0,
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
            fallbacks: 0,
        }
    }

    /// Grown (positive) or shrunk (negative) by a distance in metres, corners round.
    #[must_use]
    pub fn offset(&self, distance_m: f64) -> Self {
        let steps = (distance_m * STEPS_PER_M).round() as i64;
        let mut rings = Rings::default();
        offset::add(&mut rings, &self.shapes, steps);
        Self::of(Joined::or(
            ground(rings, Heaps::Taken, |winding| winding.of > 0),
            || general::offset(&self.shapes, steps),
        ))
    }

    /// Morphological opening: what a disc of this radius reaches when it stays inside. Never more
    /// than the region itself.
    #[must_use]
    pub fn opened(&self, radius_m: f64) -> Self {
        let core = self.offset(-radius_m);
        if core.is_empty() {
            return core;
        }
        let steps = (radius_m * STEPS_PER_M).round() as i64;
        let around = core.extent();
        let near = |shape: &&Vec<Vec<GridPoint>>| extent_of(shape).meets(&around);
        let mut rings = Rings::default();
        offset::add(&mut rings, &core.shapes, steps);
        rings.add_shapes(self.shapes.iter().filter(near), Winding::BY);
        let opened = ground(rings, Heaps::Taken, |winding| {
            winding.of > 0 && winding.by > 0
        });
        let mut opened = Self::of(Joined::or(opened, || {
            general::combined(&general::offset(&core.shapes, steps), &self.shapes, true)
        }));
        opened.fallbacks += core.fallbacks;
        opened
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

    /// Length of all its rings, m.
    #[must_use]
    pub fn outline_m(&self) -> f64 {
        let length_m = |ring: &Vec<Xy>| -> f64 {
            let next = ring.iter().cycle().skip(1);
            let edges = ring.iter().zip(next);
            edges.map(|(a, b)| b.minus(*a).length_m()).sum()
        };
        self.rings().iter().map(length_m).sum()
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
            fallbacks: 0,
        }
    }

    /// Each connected piece as a region of its own.
    #[must_use]
    pub fn pieces(&self) -> Vec<Self> {
        self.shapes
            .iter()
            .map(|shape| Self {
                shapes: vec![shape.clone()],
                fallbacks: 0,
            })
            .collect()
    }

    /// Pieces of one region together again.
    #[must_use]
    pub fn of_pieces(pieces: impl IntoIterator<Item = Self>) -> Self {
        Self {
            shapes: pieces.into_iter().flat_map(|piece| piece.shapes).collect(),
            fallbacks: 0,
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

    /// The region of shapes as [`Region::shapes`] gave them, taken as they stand: a union would put their corners
    /// into another order, and figures would differ in the last digit. Whether they are a region is for the
    /// caller to see.
    #[must_use]
    pub fn of_shapes(shapes: &[Vec<Vec<Xy>>]) -> Self {
        let ring = |ring: &Vec<Xy>| ring_to_grid(ring);
        Self {
            shapes: shapes
                .iter()
                .map(|shape| shape.iter().map(ring).collect())
                .collect(),
            fallbacks: 0,
        }
    }

    /// All rings of all shapes in metres, windings as in [`Region::shapes`].
    #[must_use]
    pub fn rings(&self) -> Vec<Vec<Xy>> {
        self.shapes().into_iter().flatten().collect()
    }

    /// A point inside; `None` for an empty region.
    #[must_use]
    pub fn point_inside(&self) -> Option<Xy> {
        use geo::InteriorPoint;
        let line =
            |ring: &Vec<Xy>| geo::LineString::from_iter(ring.iter().map(|at| (at.x_m, at.y_m)));
        let polygon = |shape: &Vec<Vec<Xy>>| {
            let (outer, holes) = shape.split_first()?;
            Some(geo::Polygon::new(
                line(outer),
                holes.iter().map(line).collect(),
            ))
        };
        let shape = geo::MultiPolygon(self.shapes().iter().filter_map(polygon).collect());
        let point = shape.interior_point()?;
        Some(Xy::new(point.x(), point.y()))
    }
}
