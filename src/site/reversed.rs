//! What is said of swaths that a towed boom laid in reverse in a turn ([`unsure`](super::unsure)).

use super::covers::Covers;
use super::grounds::{PassGround, UnsureGround};
use super::laid::Laid;
use super::outcome::ReverseTowedFact;
use super::overlap;
use super::zones::point_in;
use crate::geometry::overlay::Region;
use crate::site::coverage::LEAST_PATCH_M2;
use std::borrow::Cow;

/// The ground of a pass without its unsure swaths.
pub(super) fn sure_part<'a>(laid: &Laid, pass: &'a PassGround) -> Cow<'a, Region> {
    let of_pass =
        |swath: &&UnsureGround| swath.leg == pass.leg && overlap(&swath.steps, &pass.steps);
    let unsure = laid.unsure.iter().filter(of_pass);
    let unsure = Region::union_of(unsure.map(|swath| &swath.ground));
    if unsure.is_empty() {
        Cow::Borrowed(&pass.region)
    } else {
        Cow::Owned(pass.region.difference(&unsure))
    }
}

/// One fact a leg that laid such swaths on the site's zones.
pub(super) fn facts(laid: &Laid, covers: &Covers) -> Vec<ReverseTowedFact> {
    let mut legs: Vec<usize> = laid.unsure.iter().map(|swath| swath.leg).collect();
    legs.sort_unstable();
    legs.dedup();
    let zones = &laid.site.zones;
    let ground = Region::union_of(zones.iter().map(|zone| &zone.region));
    let fact = |leg: usize| {
        let own = laid.unsure.iter().filter(|swath| swath.leg == leg);
        let own: Vec<&UnsureGround> = own.collect();
        let on_site = Region::union_of(own.iter().map(|swath| &swath.ground)).intersection(&ground);
        let place = point_in(&on_site, &laid.site.plane)?;
        let reach = Region::union_of(own.iter().map(|swath| &swath.reach));
        let patches: Vec<f64> = covers
            .zones
            .iter()
            .flatten()
            .flat_map(|cover| &cover.patches)
            .filter(|patch| patch.unsure && patch.core_m2 >= LEAST_PATCH_M2)
            .filter(|patch| !patch.region.intersection(&reach).is_empty())
            .map(|patch| patch.area_m2)
            .collect();
        Some(ReverseTowedFact {
            leg,
            area_m2: on_site.area_m2(),
            patches: patches.len(),
            patches_m2: patches.iter().sum(),
            start: laid.legs[leg].fixes[own.first()?.steps.start].time,
            place,
        })
    };
    legs.into_iter().filter_map(fact).collect()
}
