//! What was drawn, as regions on a site's plane, before anything is cut out.

use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::{Plane, Xy};
use crate::input::sites::{DrawnZone, LandUse};
use std::collections::HashMap;

/// Drawn regions on one plane, each made once: a zone is asked for by every rival that it has.
pub(super) struct Grounds {
    plane: Plane,
    regions: HashMap<usize, Option<Region>>,
}

impl Grounds {
    /// None yet.
    pub(super) fn on(plane: Plane) -> Self {
        Self {
            plane,
            regions: HashMap::new(),
        }
    }

    /// The region of a drawn zone; `None` when a corner is not on the plane.
    pub(super) fn of(&mut self, drawn: &[DrawnZone], index: usize) -> Option<&Region> {
        let plane = &self.plane;
        let make = || region(plane, &drawn[index].polygons);
        self.regions.entry(index).or_insert_with(make).as_ref()
    }

    /// The same, of a zone that was asked for before.
    pub(super) fn known(&self, index: usize) -> Option<&Region> {
        self.regions.get(&index)?.as_ref()
    }
}

/// The ground of a feature as drawn: every ring dissolved by itself, holes taken out, polygons
/// joined. `None` when a corner is not on the plane.
#[must_use]
pub fn region(plane: &Plane, drawn: &[Vec<Vec<LonLat>>]) -> Option<Region> {
    let mut polygons = Vec::new();
    for polygon in drawn {
        let rings: Vec<Vec<Xy>> = polygon
            .iter()
            .map(|ring| on_plane(plane, ring))
            .collect::<Option<_>>()?;
        let (outer, holes) = rings.split_first()?;
        let outer = Region::inside_any([outer.as_slice()]);
        polygons.push(outer.difference(&Region::inside_any(holes.iter().map(Vec::as_slice))));
    }
    match polygons.len() {
        1 => polygons.pop(),
        _ => Some(Region::union_of(&polygons)),
    }
}

pub(super) fn on_plane(plane: &Plane, ring: &[LonLat]) -> Option<Vec<Xy>> {
    ring.iter().map(|&place| plane.to_xy(place)).collect()
}

/// Direction of the longest edge of a site's outer rings, counter-clockwise from east.
pub(super) fn long_edge_rad<'a>(plane: &Plane, zones: impl Iterator<Item = &'a DrawnZone>) -> f64 {
    zones
        .filter(|zone| zone.land_use != LandUse::KeepOff)
        .flat_map(|zone| zone.polygons.iter().filter_map(|polygon| polygon.first()))
        .filter_map(|ring| on_plane(plane, ring))
        .flat_map(|ring| {
            ring.windows(2)
                .map(|pair| pair[1].minus(pair[0]))
                .collect::<Vec<_>>()
        })
        .max_by(|a, b| a.length_m().total_cmp(&b.length_m()))
        .map_or(0.0, |edge| edge.y_m.atan2(edge.x_m))
}
