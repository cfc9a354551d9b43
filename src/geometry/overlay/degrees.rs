//! Polygons on a grid of degrees, valid by construction, for files that other programs read.
//!
//! Rounding the corners of a polygon moves its edges: narrow necks close, spikes cross themselves, holes reach over
//! their shell. So rounded rings go through the boolean engine once more, on the grid that they are written in: what
//! comes out is made of whole grid steps and valid as OGC Simple Features wants it (rings touch themselves and each
//! other in single points at most).

use super::general::SOLVER;
use geo::{LineString, MultiPolygon};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;

/// Grid steps in a degree: a step is 0.1 mm north, less east. Coarser ones move long edges as a whole: with seven
/// decimals (11 mm) a lot of a hectare changes by a square metre (tolerance).
pub const STEPS_PER_DEGREE: f64 = 1e9;

/// A ring of grid points, its first point repeated at its end.
pub type GridRing = Vec<[i64; 2]>;

/// The ground of `shape` on the degree grid: polygons, each an outer ring (counter-clockwise) and its holes
/// (clockwise). Ground that is narrower than a step vanishes.
///
/// A ring's own way is not trusted: outer rings are turned counter-clockwise, holes clockwise, by their area.
#[must_use]
pub fn on_degree_grid(shape: &MultiPolygon<f64>) -> Vec<Vec<GridRing>> {
    let options = IntOverlayOptions {
        // Where a ring touches an edge, that edge has a corner too: as decimals the place is the same for both.
        preserve_output_collinear: true,
        ..IntOverlayOptions::ogc()
    };
    let mut overlay: Overlay<i64> = Overlay::new_custom(0, options, SOLVER);
    for polygon in shape {
        overlay.add_contour(&turned(polygon.exterior(), true), ShapeType::Subject);
        for hole in polygon.interiors() {
            overlay.add_contour(&turned(hole, false), ShapeType::Subject);
        }
    }
    // Ground counts where more shells than holes lie over it: a spike that rounding turned inside out is nothing.
    let mut shapes = overlay.overlay(OverlayRule::Subject, FillRule::Positive);
    bring_home(&mut shapes);
    let closed = |ring: Vec<IntPoint<i64>>| -> GridRing {
        let first = ring.first().copied();
        ring.into_iter()
            .chain(first)
            .map(|point| [point.x, point.y])
            .collect()
    };
    shapes
        .into_iter()
        .map(|rings| rings.into_iter().map(closed).collect())
        .collect()
}

/// Puts holes into the shell that they lie in. The engine (9.1) lists some under another one where shells touch: 2
/// of 1,300 grounds of random nights.
fn bring_home(shapes: &mut [Vec<Vec<IntPoint<i64>>>]) {
    if shapes.len() < 2 {
        return;
    }
    let mut strays: Vec<Vec<IntPoint<i64>>> = Vec::new();
    for shape in shapes.iter_mut().filter(|shape| shape.len() > 1) {
        let holes: Vec<_> = shape.drain(1..).collect();
        let shell = Shell::of(&shape[0]);
        let (at_home, away): (Vec<_>, Vec<_>) =
            holes.into_iter().partition(|hole| shell.holds(hole));
        shape.extend(at_home);
        strays.extend(away);
    }
    for hole in strays {
        // Of shells in holes of shells the least one is the hole's own.
        let home = shapes
            .iter_mut()
            .filter(|shape| Shell::of(&shape[0]).holds(&hole))
            .min_by_key(|shape| doubled_area(&shape[0]).abs());
        if let Some(shape) = home {
            shape.push(hole);
        }
    }
}

/// A ring whose edges are found by their height: as many layers as the root of its edges, so that a lot with thousands of
/// holes does not look at every edge for each of them.
struct Shell<'a> {
    ring: &'a [IntPoint<i64>],
    low: i64,
    /// Height of a layer.
    layer: i64,
    /// Edges that reach into each layer, by their first corner.
    layers: Vec<Vec<usize>>,
}

impl<'a> Shell<'a> {
    fn of(ring: &'a [IntPoint<i64>]) -> Self {
        let heights = || ring.iter().map(|point| point.y);
        let low = heights().min().unwrap_or(0);
        let high = heights().max().unwrap_or(0);
        let count = ring.len().isqrt().max(1);
        let mut shell = Self {
            ring,
            low,
            layer: (high - low) / count as i64 + 1,
            layers: vec![Vec::new(); count],
        };
        for at in 0..ring.len() {
            let (a, b) = shell.edge(at);
            for layer in shell.layer_of(a.y.min(b.y))..=shell.layer_of(a.y.max(b.y)) {
                shell.layers[layer].push(at);
            }
        }
        shell
    }

    fn edge(&self, at: usize) -> (IntPoint<i64>, IntPoint<i64>) {
        (self.ring[at], self.ring[(at + 1) % self.ring.len()])
    }

    /// The layer of a height within the ring's own.
    fn layer_of(&self, y: i64) -> usize {
        usize::try_from((y - self.low) / self.layer).unwrap_or(0)
    }

    /// Whether a ring lies inside this one, which it does not cross: told by its first corner or middle of an edge that
    /// is not on this one's line.
    fn holds(&self, inner: &[IntPoint<i64>]) -> bool {
        let next = inner.iter().cycle().skip(1);
        let mut doubled = inner
            .iter()
            .zip(next)
            .flat_map(|(a, b)| [[2 * a.x, 2 * a.y], [a.x + b.x, a.y + b.y]]);
        doubled.find_map(|point| self.is_inside(point)) == Some(true)
    }

    /// Whether a point (in half grid steps) lies inside; `None` on the line. Exact: rays to the east.
    fn is_inside(&self, [x, y]: [i64; 2]) -> Option<bool> {
        let Some(edges) = self.layers.get(self.layer_of(y.div_euclid(2))) else {
            return Some(false);
        };
        let mut inside = false;
        for &at in edges {
            let (a, b) = self.edge(at);
            let [ax, ay, bx, by] = [2 * a.x, 2 * a.y, 2 * b.x, 2 * b.y];
            let turn =
                i128::from(bx - ax) * i128::from(y - ay) - i128::from(by - ay) * i128::from(x - ax);
            let between =
                (ax.min(bx)..=ax.max(bx)).contains(&x) && (ay.min(by)..=ay.max(by)).contains(&y);
            if turn == 0 && between {
                return None;
            }
            if (ay > y) != (by > y) && (turn > 0) == (by > ay) {
                inside = !inside;
            }
        }
        Some(inside)
    }
}

/// Twice the signed area of a ring, square steps.
fn doubled_area(ring: &[IntPoint<i64>]) -> i128 {
    let next = ring.iter().cycle().skip(1);
    ring.iter()
        .zip(next)
        .map(|(a, b)| i128::from(a.x) * i128::from(b.y) - i128::from(b.x) * i128::from(a.y))
        .sum()
}

/// A ring's grid points, counter-clockwise or clockwise.
fn turned(line: &LineString<f64>, counter_clockwise: bool) -> Vec<IntPoint<i64>> {
    let step = |degrees: f64| (degrees * STEPS_PER_DEGREE).round() as i64;
    let mut points: Vec<IntPoint<i64>> = line
        .coords()
        .map(|corner| IntPoint::new(step(corner.x), step(corner.y)))
        .collect();
    points.dedup();
    if (doubled_area(&points) < 0) == counter_clockwise {
        points.reverse();
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, Validation, polygon};

    fn back(polygons: &[Vec<GridRing>]) -> MultiPolygon<f64> {
        let line = |ring: &GridRing| -> LineString<f64> {
            ring.iter().map(|&[x, y]| (x as f64, y as f64)).collect()
        };
        let polygons = polygons.iter().map(|rings| {
            let holes = rings[1..].iter().map(line).collect();
            geo::Polygon::new(line(&rings[0]), holes)
        });
        MultiPolygon::new(polygons.collect())
    }

    #[test]
    fn rings_run_as_the_format_wants_whatever_way_they_came() {
        let clockwise = polygon![
            exterior: [(x: 0.0, y: 0.0), (x: 0.0, y: 4e-9), (x: 4e-9, y: 4e-9), (x: 4e-9, y: 0.0)],
            interiors: [[(x: 1e-9, y: 1e-9), (x: 2e-9, y: 1e-9), (x: 2e-9, y: 2e-9), (x: 1e-9, y: 2e-9)]],
        ];
        let made = on_degree_grid(&MultiPolygon::new(vec![clockwise]));
        let made = back(&made);
        // On squared paper: 16 squares less one.
        assert_eq!(made.signed_area(), 15.0);
        assert!(made.is_valid());
    }

    /// A neck of half a step: rounded, its sides fall together, and the ring would touch itself along a line.
    #[test]
    fn a_neck_narrower_than_a_step_parts_the_ground() {
        let neck = polygon![
            (x: 0.0, y: 0.0), (x: 4e-9, y: 0.0), (x: 4e-9, y: 2e-9), (x: 9e-9, y: 2e-9), (x: 9e-9, y: 0.0), (x: 13e-9, y: 0.0),
            (x: 13e-9, y: 4e-9), (x: 9e-9, y: 4e-9), (x: 9e-9, y: 2.4e-9), (x: 4e-9, y: 2.4e-9), (x: 4e-9, y: 4e-9), (x: 0.0, y: 4e-9)
        ];
        let made = back(&on_degree_grid(&MultiPolygon::new(vec![neck])));
        assert!(made.is_valid());
        assert_eq!((made.0.len(), made.signed_area()), (2, 32.0));
    }

    #[test]
    fn a_hole_that_came_with_another_shell_goes_home() {
        let square = |x: i64, y: i64, side: i64| {
            [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
                .map(|(x, y)| IntPoint::new(x, y))
                .to_vec()
        };
        let (west, east) = (square(0, 0, 10), square(10, 10, 10));
        // It touches its own shell in a corner, and so it does with the one that it came with.
        let hole = square(10, 10, 3);
        let mut shapes = vec![vec![west.clone(), hole.clone()], vec![east.clone()]];
        bring_home(&mut shapes);
        assert_eq!(shapes, [vec![west], vec![east, hole]]);
    }

    #[test]
    fn random_stars_come_out_valid_and_of_the_same_size() {
        use rand::{RngExt, SeedableRng};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(13);
        for _ in 0..300 {
            let corners = random.random_range(5..60);
            let line: LineString<f64> = (0..corners)
                .map(|i| {
                    let angle = std::f64::consts::TAU * i as f64 / corners as f64;
                    let radius = random.random_range(2e-9..3e-8);
                    (-30.0 + radius * angle.cos(), 45.0 + radius * angle.sin())
                })
                .collect();
            let star = geo::Polygon::new(line, vec![]);
            let grid_area = star.unsigned_area() * STEPS_PER_DEGREE * STEPS_PER_DEGREE;
            let outline: f64 = star.exterior().lines().map(|l| l.dx().hypot(l.dy())).sum();
            let made = back(&on_degree_grid(&MultiPolygon::new(vec![star])));
            assert!(made.is_valid(), "{made:?}");
            // Each edge moves by less than a step.
            let moved = (made.unsigned_area() - grid_area).abs();
            assert!(moved <= outline * STEPS_PER_DEGREE, "{moved}");
        }
    }

    #[test]
    fn ground_below_a_step_is_nothing() {
        let sliver = polygon![(x: 1.0, y: 1.0), (x: 1.0 + 1e-11, y: 1.0), (x: 1.0, y: 1.0 + 1e-11)];
        assert!(on_degree_grid(&MultiPolygon::new(vec![sliver])).is_empty());
    }
}
