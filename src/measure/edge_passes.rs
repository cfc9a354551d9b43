//! Passes along the edges of the reached ground: bent ones first, straight ones beside the edges that are left.

use super::field::{By, Covered, Field};
use super::footprint::Laid;
use super::lane::Lane;
use super::line::{Line, Toward, across};
use super::stripes::is_enough;
use super::terms::Terms;
use crate::geometry::plane::Xy;
use std::sync::Arc;

/// Edges shorter than this get no pass along them, m (trade judgement).
const LEAST_EDGE_M: f64 = 3.0;

/// Passes along the edges of the reached ground, the outermost first.
pub(super) fn edge_passes(
    field: &Field,
    terms: &Terms,
    passes: usize,
    bent: &[Vec<Lane>],
) -> Vec<Arc<Laid>> {
    let boom_m = field.vehicle.boom_m();
    let mut lanes: Vec<Arc<Laid>> = Vec::new();
    let mut covered = Covered::none(&field.cells);
    for pass in 0..passes {
        for lane in bent.get(pass).into_iter().flatten() {
            add_bent(field, lane, &mut lanes, &mut covered);
        }
        for &(a, b) in &field.reach_edges {
            let edge = b.minus(a);
            let length_m = edge.length_m();
            if length_m < LEAST_EDGE_M {
                continue;
            }
            let heading_rad = edge.y_m.atan2(edge.x_m);
            let Some(line) = field.line_along(heading_rad) else {
                continue;
            };
            let line = &field.lines[line];
            // The ground lies to the left of its edges.
            let inward = Xy::new(-edge.y_m / length_m, edge.x_m / length_m);
            let middle = Xy::new(f64::midpoint(a.x_m, b.x_m), f64::midpoint(a.y_m, b.y_m))
                .plus(inward, boom_m / 2.0 + pass as f64 * (boom_m - terms.lap_m));
            let offset_m = middle.dot(across(line.heading_rad));
            let tried = [Toward::Ahead, Toward::Back]
                .map(|toward| along_edge(field, line, toward, offset_m, (a, b), &covered));
            let [ahead, back] = tried;
            let (lane, gain) = if back.1 > ahead.1 { back } else { ahead };
            let Some(mut lane) = lane else { continue };
            if !is_enough(field, &lane, gain) {
                continue;
            }
            lane.edge_pass = true;
            let lane = Laid::of(field, lane);
            covered.add(&lane);
            lanes.push(lane);
        }
    }
    lanes
}

/// The lane beside an edge, no farther than a boom's width beyond the edge's ends, and the cells it adds.
fn along_edge(
    field: &Field,
    line: &Line,
    toward: Toward,
    offset_m: f64,
    (a, b): (Xy, Xy),
    covered: &Covered,
) -> (Option<Lane>, u32) {
    let boom_m = field.vehicle.boom_m();
    let Some(possible_m) = line.possible_m(toward, offset_m) else {
        return (None, 0);
    };
    if (possible_m - offset_m).abs() > boom_m / 2.0 {
        return (None, 0);
    }
    let beside = |lane: &mut Lane| {
        let ahead = Xy::at_angle(lane.start().heading_rad);
        let at = [a, b].map(|corner| corner.minus(lane.start().at).dot(ahead));
        let from_m = (at[0].min(at[1]) - boom_m).max(0.0);
        let to_m = (at[0].max(at[1]) + boom_m).min(lane.length_m());
        if to_m <= from_m {
            return false;
        }
        lane.cut(from_m, to_m);
        true
    };
    field
        .lanes(line, toward, possible_m)
        .into_iter()
        .filter_map(|mut lane| beside(&mut lane).then_some(lane))
        .filter_map(|lane| {
            let gain = field.gain(&lane, covered, By::Switched);
            let mut lane = field.trim(lane, &gain)?;
            lane.either_way = field.either_way(line, toward, &lane);
            Some((lane, gain.cells))
        })
        .max_by_key(|(_, cells)| *cells)
        .map_or((None, 0), |(lane, cells)| (Some(lane), cells))
}

/// Takes a bent lane where it adds enough.
fn add_bent(field: &Field, lane: &Lane, lanes: &mut Vec<Arc<Laid>>, covered: &mut Covered) {
    let gain = field.gain(lane, covered, By::Switched);
    let Some(lane) = field.trim(lane.clone(), &gain) else {
        return;
    };
    if is_enough(field, &lane, gain.cells) {
        let lane = Laid::of(field, lane);
        covered.add(&lane);
        lanes.push(lane);
    }
}
