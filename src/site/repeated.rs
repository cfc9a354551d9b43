//! Whole passes that were driven again. Lots are driven once round and then in lanes, whose ends lie on the lap: such
//! overlap is no pass repeated. One is where a single other pass has nearly all of its ground.

use super::coverage::ZoneCover;
use super::laid::{Laid, PassGround};
use crate::geometry::overlay::Region;
use crate::ground::Zone;

/// A pass lies on ground treated twice with this share of its own.
const TWICE_SHARE: f64 = 0.9;
/// One other pass has this share of it.
const SAME_SHARE: f64 = 0.8;
/// Shorter passes than this many times the boom's width are starts and touch-ups.
const LEAST_LENGTHS: f64 = 3.0;
/// With less overlap than this share of the zone no pass is looked at.
const SOME_OVERLAP: f64 = 0.05;

/// Ground of a zone under passes that repeat an earlier one, m2.
pub(super) fn m2<'a>(
    laid: &Laid,
    passes: impl Iterator<Item = &'a PassGround>,
    zone: &Zone,
    cover: &ZoneCover,
) -> f64 {
    if cover.overlap.area_m2() < SOME_OVERLAP * zone.region.area_m2() {
        return 0.0;
    }
    let extent = zone.region.extent();
    let passes: Vec<&PassGround> = passes.filter(|pass| pass.extent.meets(&extent)).collect();
    let mut repeated_m2 = 0.0;
    for (index, pass) in passes.iter().enumerate() {
        let boom = &laid.legs[pass.leg].boom;
        let width_m = boom.width_m(boom.all());
        if pass.region.area_m2() < LEAST_LENGTHS * width_m * width_m {
            continue;
        }
        let own = pass.region.intersection(&zone.region);
        let own_m2 = own.area_m2();
        let twice_m2 = own.intersection(&cover.overlap).area_m2();
        if own_m2 <= 0.0 || twice_m2 < TWICE_SHARE * own_m2 {
            continue;
        }
        let has_it = |other: &&PassGround| has_most(&other.region, &own, own_m2);
        let near = |other: &&&PassGround| other.extent.meets(&pass.extent);
        if passes[..index].iter().filter(near).any(|other| has_it(other)) {
            repeated_m2 += own_m2;
        }
    }
    repeated_m2
}

fn has_most(other: &Region, own: &Region, own_m2: f64) -> bool {
    other.intersection(own).area_m2() >= SAME_SHARE * own_m2
}
