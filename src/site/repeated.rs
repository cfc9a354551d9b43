//! Whole passes that were driven again. Lots are driven once round and then in lanes, whose ends lie on the lap: such
//! overlap is not a pass repeated. One is where a single earlier pass has nearly all of its ground.

use super::grounds::PassGround;
use super::laid::Laid;
use crate::geometry::extent::Extent;
use crate::ground::Zone;

/// An earlier pass has this share of a pass that repeats it (trade judgement).
const SAME_SHARE: f64 = 0.8;
/// With a position error over this share of the boom's width lanes side by side may look like one driven twice (trade
/// judgement).
const SURE_SHARE: f64 = 0.3;
/// Shorter passes than this many times the boom's width are starts and touch-ups (trade judgement).
const LEAST_LENGTHS: f64 = 3.0;

/// Ground of a zone under passes that repeat an earlier one, m2; `None` where outlines lie in a heap: there a ground is
/// that of many passes, and what they covered again stands beside it.
pub(super) fn m2<'a>(
    laid: &Laid,
    passes: impl Iterator<Item = &'a PassGround>,
    zone: &Zone,
) -> Option<f64> {
    if laid.grid.is_some() {
        return None;
    }
    let extent = zone.region.extent();
    let passes: Vec<&PassGround> = passes.filter(|pass| pass.extent.meets(&extent)).collect();
    let long = passes.iter().enumerate().filter(|(_, pass)| {
        let boom = &laid.legs[pass.leg].boom;
        let width_m = boom.width_m(boom.all());
        laid.position_m < SURE_SHARE * width_m
            && pass.region.area_m2() >= LEAST_LENGTHS * width_m * width_m
    });
    let again = long.filter(|(index, pass)| {
        let earlier = passes[..*index].iter();
        earlier.rev().any(|earlier| has_most(earlier, pass))
    });
    let areas_m2 = again.map(|(_, pass)| pass.region.intersection(&zone.region).area_m2());
    Some(areas_m2.sum())
}

/// Whether a pass has most of another's ground. Boxes come first: lanes beside each other hardly share any.
fn has_most(earlier: &PassGround, pass: &PassGround) -> bool {
    let least_m2 = SAME_SHARE * pass.region.area_m2();
    shared_m2(&earlier.extent, &pass.extent) >= least_m2
        && earlier.region.intersection(&pass.region).area_m2() >= least_m2
}

fn shared_m2(a: &Extent, b: &Extent) -> f64 {
    let width_m = a.high.x_m.min(b.high.x_m) - a.low.x_m.max(b.low.x_m);
    let height_m = a.high.y_m.min(b.high.y_m) - a.low.y_m.max(b.low.y_m);
    width_m.max(0.0) * height_m.max(0.0)
}
