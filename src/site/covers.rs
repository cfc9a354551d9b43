//! Every zone's cover in every application.

use super::applications::Applications;
use super::laid::Laid;
use crate::geometry::extent::Extent;
use crate::site::coverage::{self, BoxedRing, Over, ZoneCover, ZoneFrame};
use crate::site::swath::Idle;

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
    Covers { frames, zones }
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
    let towed = |swath: &&super::grounds::UnsureGround| laid.legs[swath.leg].boom.hitch.is_some();
    for swath in laid.unsure.iter().filter(towed) {
        if let Some(app) = done.of_steps(swath.leg, &swath.steps) {
            overs[app].unsure.push((swath.reach.extent(), &swath.reach));
        }
    }
    for (leg, strips) in laid.strips.iter().enumerate() {
        for idle in &strips.idle {
            if let Some(app) = done.of_steps(leg, &idle.steps) {
                let over = &mut overs[app];
                let boxed: BoxedRing = (Extent::of(&idle.ring), &idle.ring);
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
                let boxed: BoxedRing = (Extent::of(&corridor.ring), &corridor.ring);
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
