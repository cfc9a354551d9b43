//! A patch as a line to drive: the long axis of its narrowest box.

use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::{Plane, Xy};
use geo::{LineString, MinimumRotatedRect, MultiPolygon, Polygon};

/// A box so many times as long as wide is a strip; a squarer one is a place (layout).
const STRIP_SHAPE: f64 = 3.0;

/// A patch as people drive it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Its ground, m2.
    pub area_m2: f64,
    /// A point of it.
    pub place: LonLat,
    /// Both ends of its long axis; `None` where it is not a strip.
    pub ends: Option<[LonLat; 2]>,
    /// Length of that axis, m; of a place, the longer side of its box.
    pub length_m: f64,
}

/// A patch on a plane.
#[must_use]
pub fn of(region: &Region, place: LonLat, plane: &Plane) -> Strip {
    let axis = axis(region);
    let length_m = axis.map_or(0.0, |axis| axis.ends[1].minus(axis.ends[0]).length_m());
    let is_strip = axis.is_some_and(|axis| length_m >= STRIP_SHAPE * axis.width_m);
    Strip {
        area_m2: region.area_m2(),
        place,
        ends: axis
            .filter(|_| is_strip)
            .map(|axis| axis.ends.map(|end| plane.to_lon_lat(end))),
        length_m,
    }
}

/// The long axis of the narrowest box around some ground.
#[derive(Debug, Clone, Copy)]
pub struct Axis {
    /// Middles of the box's short sides.
    pub ends: [Xy; 2],
    /// Length of the short sides, m.
    pub width_m: f64,
}

/// The long axis of some ground; `None` where there is none.
#[must_use]
pub fn axis(region: &Region) -> Option<Axis> {
    let outer = region.shapes().into_iter().filter_map(|shape| {
        let ring = shape.into_iter().next()?;
        let line: LineString<f64> = ring.iter().map(|at| (at.x_m, at.y_m)).collect();
        Some(Polygon::new(line, Vec::new()))
    });
    let ground = MultiPolygon::from_iter(outer);
    let rect = ground.minimum_rotated_rect()?;
    let corners: Vec<Xy> = rect
        .exterior()
        .coords()
        .map(|at| Xy::new(at.x, at.y))
        .collect();
    let [a, b, c, d] = *corners.get(..4)? else {
        return None;
    };
    let middle = |p: Xy, q: Xy| Xy::new(f64::midpoint(p.x_m, q.x_m), f64::midpoint(p.y_m, q.y_m));
    let (first, second) = (b.minus(a).length_m(), c.minus(b).length_m());
    let (mut ends, width_m) = if first >= second {
        ([middle(d, a), middle(b, c)], second)
    } else {
        ([middle(a, b), middle(c, d)], first)
    };
    // One way round, whatever corner the box began with.
    if (ends[1].x_m, ends[1].y_m) < (ends[0].x_m, ends[0].y_m) {
        ends.reverse();
    }
    Some(Axis { ends, width_m })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane() -> Plane {
        let origin = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        Plane::new(origin).unwrap()
    }

    fn rectangle(x_m: f64, y_m: f64) -> Region {
        let ring = [(0.0, 0.0), (x_m, 0.0), (x_m, y_m), (0.0, y_m)].map(|(x, y)| Xy::new(x, y));
        Region::inside_any([ring.as_slice()])
    }

    #[test]
    fn a_long_patch_is_driven_from_the_middle_of_one_end_to_the_other() {
        let plane = plane();
        let strip = of(&rectangle(60.0, 2.0), plane.origin(), &plane);
        let ends = strip.ends.unwrap().map(|end| plane.to_xy(end).unwrap());
        for (end, (x_m, y_m)) in ends.into_iter().zip([(0.0, 1.0), (60.0, 1.0)]) {
            assert!(end.minus(Xy::new(x_m, y_m)).length_m() < 1e-6, "{end:?}");
        }
        assert!((strip.length_m - 60.0).abs() < 1e-6 && (strip.area_m2 - 120.0).abs() < 1e-6);
    }

    #[test]
    fn a_square_patch_is_a_place() {
        let plane = plane();
        assert!(
            of(&rectangle(5.0, 4.0), plane.origin(), &plane)
                .ends
                .is_none()
        );
    }
}
