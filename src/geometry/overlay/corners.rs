//! Corners on borders that regions share.

use super::{GridPoint, Region};

/// A corner this near to an edge lies on it, grid steps: each of a handful of operations in a row may have bent the
/// edge by one (tolerance).
const CORNER_STEPS: f64 = 4.0;

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
                .then_some((along, GridPoint::new(x, y)))
        })
        .filter(|(_, point)| *point != from && *point != to)
        .collect();
    on.sort_by(|a, b| a.0.total_cmp(&b.0));
    ring.extend(on.into_iter().map(|(_, point)| point));
}
