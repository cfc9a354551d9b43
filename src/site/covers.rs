//! Every zone's cover in every application.

use super::applications::Applications;
use super::laid::Laid;
use super::likely;
use super::lines::{Place, driven};
use crate::geometry::extent::Extent;
use crate::site::coverage::{self, Boxed, Over, PatchGround, ZoneCover, ZoneFrame};
use crate::site::swath::Idle;

/// Sections that spray for so long work, s.
const WORKS_S: f64 = 3.0;

/// Covers of a site.
pub(super) struct Covers {
    /// Of each zone; none where there is no application.
    pub(super) frames: Vec<ZoneFrame>,
    /// Of each application: of each zone.
    pub(super) zones: Vec<Vec<ZoneCover>>,
}

/// Covers all zones in each application.
pub(super) fn cover(laid: &Laid, done: &Applications) -> Covers {
    if done.groups.is_empty() {
        return Covers {
            frames: Vec::new(),
            zones: Vec::new(),
        };
    }
    let zones = || laid.site.zones.iter();
    let frame = |zone: &crate::ground::Zone| {
        ZoneFrame::of(&zone.region, laid.position_m, laid.rules.edge_m)
    };
    let frames: Vec<ZoneFrame> = zones().map(frame).collect();
    let cover = |over: &Over| {
        zones()
            .zip(&frames)
            .map(|(zone, frame)| {
                if zone.is_by_boom() {
                    coverage::cover(&zone.region, frame, over)
                } else {
                    ZoneCover::default()
                }
            })
            .collect()
    };
    let zones = overs(laid, done).iter().map(cover).collect();
    let mut covers = Covers { frames, zones };
    likely::judge(laid, done, &mut covers);
    mark_bent(laid, done, &mut covers);
    mark_again(laid, &mut covers);
    covers
}

/// Says of likely patches which of them the rigs bent round.
fn mark_bent(laid: &Laid, done: &Applications, covers: &mut Covers) {
    for (app, zones) in covers.zones.iter_mut().enumerate() {
        let likely = |patch: &&mut PatchGround| patch.is_likely(laid.rules.likely);
        let patches = zones.iter_mut().flat_map(|cover| &mut cover.patches);
        let mut patches = patches.filter(likely).peekable();
        if patches.peek().is_none() {
            continue;
        }
        let lines = super::lines::of_application(laid, done, app);
        let legs = done.legs[app].iter();
        let ways: Vec<(usize, Vec<Place>)> = legs
            .flat_map(|&leg| {
                driven(&laid.planes[leg])
                    .into_iter()
                    .map(move |way| (leg, way))
            })
            .collect();
        patches.for_each(|patch| super::bent::mark(patch, &lines, &ways, laid.legs));
    }
}

/// Says of sections that were closed over a patch whether they sprayed later on.
fn mark_again(laid: &Laid, covers: &mut Covers) {
    let zones = covers.zones.iter_mut().flatten();
    for patch in zones.flat_map(|cover| &mut cover.patches) {
        if let Some(by) = &mut patch.closed_by {
            let leg = &laid.legs[by.leg];
            let wet_s = super::lines::wet_s_from(leg, by.after());
            let mut named = (0..leg.boom.sections()).filter(|at| by.sections >> at & 1 == 1);
            by.again = named.all(|section| wet_s[section] >= WORKS_S);
        }
    }
}

/// What lies over the site in each application.
fn overs<'a>(laid: &'a Laid, done: &Applications) -> Vec<Over<'a>> {
    let mut overs: Vec<Over> = done.groups.iter().map(|_| Over::default()).collect();
    for (pass, app) in laid.passes.iter().zip(&done.of_pass) {
        if let Some(app) = *app {
            overs[app].passes.push((pass.extent, &pass.region));
        }
    }
    // A boom on the vehicle is nearly where it would be in the other gear: holding patches back for that hid a
    // fifth of the corners left bare, and no false ones.
    let towed = |swath: &&super::unsure::UnsureGround| laid.legs[swath.leg].boom.hitch.is_some();
    for swath in laid.unsure.iter().filter(towed) {
        if let Some(app) = done.of_steps(swath.leg, &swath.steps) {
            overs[app].unsure.push((swath.reach.extent(), &swath.reach));
        }
    }
    for (leg, strips) in laid.strips.iter().enumerate() {
        for idle in &strips.idle {
            if let Some(app) = done.of_steps(leg, &idle.steps) {
                let over = &mut overs[app];
                let boxed: Boxed = (Extent::of(&idle.ring), &idle.ring);
                match idle.idle {
                    Idle::Dry => over.dry.push(boxed),
                    Idle::Off => over.off.push(boxed),
                    Idle::Closed => {
                        over.closed.push(boxed);
                        over.closed_by.push((leg, idle.sections, idle.steps.end));
                    }
                }
            }
        }
        for corridor in &strips.corridors {
            let steps = corridor.step..corridor.step + 1;
            if let Some(app) = done.of_steps(leg, &steps) {
                let boxed: Boxed = (Extent::of(&corridor.ring), &corridor.ring);
                overs[app].dropouts.push(boxed);
                if corridor.unlogged {
                    overs[app].unlogged.push(boxed);
                }
                if corridor.perhaps {
                    overs[app].silent.push(boxed);
                    overs[app].silences.push(corridor);
                }
            }
        }
    }
    overs
}
