//! One polygon's rings: positions checked, closed, wound as RFC 7946 asks.

use super::crossings::{MOST_CROSSINGS, is_scribble};
use super::projection::Projection;
use crate::geometry::place::{LonLat, east_deg};
use geojson::Position;

/// Said of a ring whose last position is not its first.
pub(super) const NOT_CLOSED: &str = "ring not closed";

/// A polygon made ready.
#[derive(Debug, Default)]
pub(super) struct Rings {
    /// The outer ring first; empty if it had no area to speak of.
    pub(super) rings: Vec<Vec<LonLat>>,
    /// Some ring was closed here.
    pub(super) closed: bool,
    /// How many rings had fewer than three distinct positions and were left out.
    pub(super) dropped: usize,
}

/// Makes a polygon ready. With the outer ring its holes go too.
///
/// # Errors
/// Why the polygon cannot be used, as a clause: a position that is none, or a ring that is not an outline.
pub(super) fn read(polygon: &[Vec<Position>], projection: &Projection) -> Result<Rings, String> {
    let mut found = Rings::default();
    for (index, positions) in polygon.iter().enumerate() {
        let mut ring = positions
            .iter()
            .map(|p| place(p, projection))
            .collect::<Result<Vec<_>, _>>()?;
        let open = ring.first() != ring.last();
        // A position repeated on the spot changes nothing.
        ring.dedup();
        if distinct(&ring) < 3 {
            found.dropped += 1;
            if index == 0 {
                found.dropped = polygon.len();
                return Ok(found);
            }
            continue;
        }
        if open {
            ring.push(ring[0]);
            found.closed = true;
        }
        if is_scribble(&ring) {
            return Err(format!(
                "its outline crosses itself more than {MOST_CROSSINGS} times"
            ));
        }
        let counter_clockwise = signed_area(&ring) > 0.0;
        if counter_clockwise != (index == 0) {
            ring.reverse();
        }
        found.rings.push(ring);
    }
    Ok(found)
}

pub(super) fn place(position: &Position, projection: &Projection) -> Result<LonLat, String> {
    let [x, y, ..] = *position.as_slice() else {
        return Err("a position has fewer than two numbers".to_owned());
    };
    projection.to_degrees(x, y).ok_or_else(|| {
        format!("there is no position {x}, {y} (expected longitude, latitude in degrees, or a coordinate system named with --sites-crs EPSG:n)")
    })
}

/// Distinct positions of a ring, counted no further than three.
fn distinct(ring: &[LonLat]) -> usize {
    let mut seen: Vec<LonLat> = Vec::with_capacity(3);
    for place in ring {
        if !seen.contains(place) {
            seen.push(*place);
        }
        if seen.len() == 3 {
            break;
        }
    }
    seen.len()
}

/// Twice the area in square degrees, positive when counter-clockwise. Only its sign is used.
fn signed_area(ring: &[LonLat]) -> f64 {
    let origin = ring[0];
    // Longitudes from the first one, so that a ring across the 180th meridian stays in one piece.
    let east = |place: LonLat| east_deg(origin.lon_deg, place.lon_deg);
    let north = |place: LonLat| place.lat_deg - origin.lat_deg;
    ring.windows(2)
        .map(|pair| east(pair[0]) * north(pair[1]) - east(pair[1]) * north(pair[0]))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn ready(rings: &[&[[f64; 2]]]) -> Rings {
        let polygon: Vec<Vec<Position>> = rings
            .iter()
            .map(|ring| ring.iter().map(|p| Position::from(*p)).collect())
            .collect();
        read(&polygon, &Projection::of(&json!({}), None).unwrap()).unwrap()
    }

    const SQUARE: [[f64; 2]; 5] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 0.0]];

    #[test]
    fn outer_rings_turn_left_and_holes_right() {
        let mut clockwise = SQUARE;
        clockwise.reverse();
        let found = ready(&[
            &clockwise,
            &[[0.2, 0.2], [0.4, 0.2], [0.4, 0.4], [0.2, 0.2]],
        ]);
        assert!(signed_area(&found.rings[0]) > 0.0 && signed_area(&found.rings[1]) < 0.0);
        assert!(!found.closed);
    }

    #[test]
    fn an_unclosed_ring_is_closed_and_said_so() {
        let found = ready(&[&SQUARE[..4]]);
        assert!(found.closed);
        assert_eq!(found.rings[0].len(), 5);
        assert_eq!(found.rings[0].first(), found.rings[0].last());
    }

    #[test]
    fn a_ring_of_two_positions_is_left_out() {
        let found = ready(&[&SQUARE, &[[0.1, 0.1], [0.2, 0.2], [0.1, 0.1]]]);
        assert_eq!((found.rings.len(), found.dropped), (1, 1));
        let found = ready(&[&[[0.1, 0.1], [0.2, 0.2], [0.1, 0.1]], &SQUARE]);
        assert_eq!((found.rings.len(), found.dropped), (0, 2));
    }

    #[test]
    fn winding_is_right_across_the_180th_meridian() {
        let found = ready(&[&[
            [179.9995, 30.5],
            [-179.9995, 30.5],
            [-179.9995, 30.501],
            [179.9995, 30.501],
            [179.9995, 30.5],
        ]]);
        assert!(
            (found.rings[0][1].lon_deg - -179.9995).abs() < 1e-12,
            "counter-clockwise as drawn"
        );
    }
}
