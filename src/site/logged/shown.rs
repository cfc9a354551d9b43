//! Which sections of a step were over the site's ground, and what fell on nobody's.
//!
//! Most steps are settled without a look at where the boom was: deep in the site's ground, or out of reach of it. Next
//! come boxes around the whole boom and around a section, against the map of cells that lie wholly in one tract; only
//! what a line passes is clipped.

use super::{Approach, Wide};
use crate::geometry::extent::Extent;
use crate::geometry::plane::{Degrees, Xy};
use crate::rig::boom::Sections;
use crate::rig::run::outside::Outside;
use crate::site::leg::LegLink;
use crate::site::near;
use crate::site::swath::{self, BoomPlaces, Convex, OnPlane};
use crate::site::tracts::{TractKind, Tracts};
use std::cell::Cell;
use std::sync::Arc;

/// Beyond the boom's own reach, steps this near to a zone may lay liquid on it, m: the path between two fixes may
/// come nearer than either (trade judgement).
const REACH_MARGIN_M: f64 = 10.0;
/// A boom whose farthest reach ends so far from a zone is off it, m: more than the ground under a standing boom is
/// deep, and than distances are rounded (tolerance).
const FAR_M: f64 = 0.1;

/// What a leg leaves to the night: litres of the run, nearest to this site then, on nobody's ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// Outside all zones by less than the position error, L.
    pub fringe_l: f64,
    /// Elsewhere, L.
    pub outside_l: f64,
    /// Where that lies, to draw it.
    pub outside: Outside,
}

impl Approach<'_> {
    /// The boom of a step lies deep inside the site's ground, whatever it did there.
    fn is_deep(&self, wide: &Wide, k: usize) -> bool {
        let outer_m = wide.distance_m[k].max(wide.distance_m[k + 1]);
        outer_m + self.run.boom.reach_m() + wide.leg.steps[k].length_m < 0.0
    }

    fn is_within_reach(&self, wide: &Wide, k: usize) -> bool {
        let nearest_m = wide.distance_m[k].min(wide.distance_m[k + 1]);
        let margin_m = wide.leg.steps[k].length_m.max(REACH_MARGIN_M);
        nearest_m <= self.run.boom.reach_m() + self.run.position_m + margin_m
    }

    /// Sections whose ground in a step touches the site's; all of them where it is not sure where they were.
    /// Liquid on nobody's ground while this site was the nearest goes to `beside`.
    pub(super) fn shown(
        &self,
        wide: &Wide,
        on_plane: &OnPlane,
        k: usize,
        beside: &mut Beside,
    ) -> Sections {
        let leg = &wide.leg;
        if leg.steps[k].link != LegLink::Driven {
            return 0;
        }
        let is_home = self.whereabouts.nearest(wide.of_run[k]) == Some(self.site);
        if !self.is_within_reach(wide, k) {
            if is_home {
                beside.outside_l += leg.of_step(k).iter().map(|span| span.litres).sum::<f64>();
                beside.outside.add_step(self.run, wide.of_run[k]);
            }
            return 0;
        }
        let all = leg.boom.all();
        if self.is_deep(wide, k) {
            return all;
        }
        let told = if leg.steps[k].unsure { all } else { 0 };
        let zones = self.sight.zones();
        let lays = is_home && leg.of_step(k).iter().any(|span| span.litres > 0.0);
        let is_far = self.is_far(wide, k);
        if is_far && !lays {
            return told;
        }
        let places = swath::places_of_step(on_plane, k);
        let extent = swath::extent_of(&places);
        if !leg.span_range(k).is_empty() && zones.have_all(&extent) {
            return all;
        }
        let is_apart = is_far || zones.have_none(&extent);
        if is_apart && !lays {
            return told;
        }
        told | self.looked_at(on_plane, k, &places, is_apart, lays, beside)
    }

    /// The same, section by section.
    fn looked_at(
        &self,
        on_plane: &OnPlane,
        k: usize,
        places: &BoomPlaces,
        is_apart: bool,
        lays: bool,
        beside: &mut Beside,
    ) -> Sections {
        let zones = self.sight.zones();
        let shown = Cell::new(0);
        let is_shown = |section: usize| shown.get() >> section & 1 == 1;
        let show = |section: usize| shown.set(shown.get() | 1 << section);
        let is_asked = |section: usize, extent: &Extent, laid: bool| {
            // Most ground lies wholly on the site's own.
            let is_whole = !is_apart && zones.have_all(extent);
            if is_whole {
                show(section);
            }
            !is_whole && (lays && laid || !is_apart && !is_shown(section))
        };
        let around = lays.then(|| self.around(on_plane, k));
        swath::each_section(on_plane, k, places, is_asked, |section, ground, litres| {
            if !is_apart {
                if zones.is_whole(ground) {
                    show(section);
                    return;
                }
                if !is_shown(section) && zones.touches(ground) {
                    show(section);
                }
            }
            if let Some(around) = around.as_deref().filter(|_| litres > 0.0) {
                beside.add(around, self.sight.degrees(), ground, litres);
            }
        });
        shown.get()
    }

    /// What lies around the site, as far as the step may lead.
    fn around(&self, on_plane: &OnPlane, k: usize) -> Arc<Tracts> {
        let leg = on_plane.leg;
        let (length_m, reach_m) = (leg.steps[k].length_m, self.run.boom.reach_m());
        let stride_m = near::is_stride(length_m, reach_m).then_some(length_m + reach_m);
        self.sight.around(leg.decided.position_m, stride_m)
    }

    /// The boom of a step lies off the site's ground, whatever it did there.
    fn is_far(&self, wide: &Wide, k: usize) -> bool {
        let nearest_m = wide.distance_m[k].min(wide.distance_m[k + 1]);
        nearest_m - self.run.boom.reach_m() - wide.leg.steps[k].length_m > FAR_M
    }
}

impl Beside {
    fn add(&mut self, around: &Tracts, degrees: &Degrees, ground: &Convex, litres: f64) {
        around.each_share(ground, |tract, share, rings| {
            let litres = litres * share;
            match around.list[tract].kind {
                TractKind::Fringe => self.fringe_l += litres,
                TractKind::Outside => {
                    self.outside_l += litres;
                    let place = |ring: &[Xy]| ring.iter().map(|&at| degrees.at(at)).collect();
                    let mut rings: Vec<_> = rings.iter().map(|ring| place(ring)).collect();
                    if rings.is_empty() {
                        rings.push(place(ground.corners()));
                    }
                    self.outside.add(&rings);
                }
                TractKind::Zone(_) | TractKind::Lifted | TractKind::Taken => {}
            }
        });
    }
}
