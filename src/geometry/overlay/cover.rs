//! What a zone has of gap, overlap and treated ground.

use super::faces::Shapes;
use super::graph::{Graph, Heaps};
use super::heaps::{self, Joined};
use super::rings::{Fail, Rings, Winding};
use super::{GridPoint, Region, extent_of, general};

/// What one zone and all passes together leave of the zone: see [`cover()`].
#[derive(Debug, Clone, Default)]
pub struct Cover {
    /// In the zone, in no outline.
    pub gap: Region,
    /// In the zone, in two outlines or more.
    pub overlap: Region,
    /// In the zone, in an outline.
    pub treated: Region,
    /// How often the general engine had to do the work.
    pub fallbacks: u32,
}

/// What of a zone lies in any of many outlines: one graph instead of a union and an intersection.
#[must_use]
pub fn covered(zone: &Region, outlines: &[&Region]) -> Region {
    let extent = zone.extent();
    let near = |shape: &&Vec<Vec<GridPoint>>| extent_of(shape).meets(&extent);
    let mut rings = Rings::default();
    for outline in outlines {
        rings.add_shapes(outline.shapes.iter().filter(near), Winding::OF);
    }
    rings.add_shapes(&zone.shapes, Winding::BY);
    let treated = Graph::of(rings, Heaps::Refused)
        .and_then(|graph| graph.region(|winding| winding.by > 0 && winding.of > 0));
    match treated {
        Ok(shapes) => Region {
            shapes,
            fallbacks: 0,
        },
        Err(_) => Region::union_of(outlines.iter().copied()).intersection(zone),
    }
}

/// What a zone has of gap, overlap and treated ground under many outlines.
///
/// `outlines` are regions, each one pass. One graph gives all three. Outlines that lie in heaps are taken as two
/// layers: `heaps.rs`.
#[must_use]
pub fn cover(zone: &Region, outlines: &[&Region]) -> Cover {
    let extent = zone.extent();
    let near = |shape: &&Vec<Vec<GridPoint>>| extent_of(shape).meets(&extent);
    let shapes = || {
        outlines
            .iter()
            .flat_map(|outline| &outline.shapes)
            .filter(near)
    };
    let at_once = |heaps| {
        let mut rings = Rings::default();
        rings.add_shapes(shapes(), Winding::OF);
        cover_of(zone, rings, heaps)
    };
    let heaps = if outlines.len() <= heaps::HANDFUL {
        Heaps::Taken
    } else {
        Heaps::Refused
    };
    let joined = match at_once(heaps) {
        Err(_) if heaps == Heaps::Refused => in_layers(zone, outlines),
        result => Joined::or(result, || {
            general::cover(&zone.shapes, &shapes().collect::<Vec<_>>())
        }),
    };
    let [gap, overlap, treated] = joined.ground.map(|shapes| Region {
        shapes,
        fallbacks: 0,
    });
    Cover {
        gap,
        overlap,
        treated,
        fallbacks: joined.fallbacks,
    }
}

/// The same when outlines lie in a heap.
fn in_layers(zone: &Region, outlines: &[&Region]) -> Joined<[Shapes; 3]> {
    let outlines: Vec<&Shapes> = outlines.iter().map(|outline| &outline.shapes).collect();
    let layers = heaps::layered(&outlines);
    let mut rings = Rings::default();
    for layer in &layers.ground {
        rings.add_shapes(layer, Winding::OF);
    }
    let shapes = || layers.ground.iter().flatten().collect::<Vec<_>>();
    let mut joined = Joined::or(cover_of(zone, rings, Heaps::Taken), || {
        general::cover(&zone.shapes, &shapes())
    });
    joined.fallbacks += layers.fallbacks;
    joined
}

/// Gap, overlap and treated ground of a zone under rings.
fn cover_of(zone: &Region, mut rings: Rings, heaps: Heaps) -> Result<[Shapes; 3], Fail> {
    rings.add_shapes(&zone.shapes, Winding::BY);
    let graph = Graph::of(rings, heaps)?;
    Ok([
        graph.region(|winding| winding.by > 0 && winding.of <= 0)?,
        graph.region(|winding| winding.by > 0 && winding.of > 1)?,
        graph.region(|winding| winding.by > 0 && winding.of > 0)?,
    ])
}
