//! How much of a zone an application treated, as far as the logs can tell.

use super::{NOT_DONE_SHARE, Treatments, ZoneState};
use crate::geometry::overlay::Region;
use crate::input::orders::Order;
use crate::input::sites::Method;
use crate::site::coverage::LEAST_COVER;
use crate::site::zones;

/// The same where only volume can tell (narrow zones, coarse logs), as a share of target x area: an error of 1 m
/// leaves 45 % of a pass along a walk of 6 ft on the walk, 1.35 m a quarter (trade judgement).
const DONE_VOLUME_SHARE: f64 = 0.25;

/// Share of a zone that was treated, and that may have been.
pub(super) struct Share {
    pub(super) treated: f64,
    possible: f64,
    done_from: f64,
}

impl Treatments<'_> {
    /// Boom zones to be treated: the one, or all; blocked or keep-off ground may have left nothing of one.
    pub(super) fn scope(&self, zone: Option<usize>) -> impl Iterator<Item = usize> {
        let zones = self.laid.site.zones.iter().enumerate();
        zones
            .filter(move |(index, of)| {
                of.is_to_treat()
                    && of.method == Method::Boom
                    && of.region.area_m2() > 0.0
                    && zone.is_none_or(|zone| zone == *index)
            })
            .map(|(index, _)| index)
    }

    /// `None` where the logs cannot tell.
    pub(super) fn share(&self, app: usize, zone: usize, order: Option<&Order>) -> Option<Share> {
        let (cover, frame) = (&self.covers.zones[app][zone], &self.covers.frames[zone]);
        let ground = &self.laid.site.zones[zone];
        let area_m2 = ground.region.area_m2();
        if area_m2 <= 0.0 {
            return None;
        }
        let is_coarse = self.done.is_coarse(app);
        if is_coarse || frame.narrow {
            let sum = &self.sums.zones[app][zone];
            let carried = zones::carried(self.laid, self.done, app, sum);
            let targets = &self.laid.rules.targets;
            let target = targets.on_zone(order, ground.target_ml_m2, carried);
            if let Some(target_ml_m2) = target.filter(|_| self.done.is_metered(app)) {
                let share = 1000.0 * sum.litres / (target_ml_m2 * area_m2);
                let near = || self.near_m2(app, zone) / area_m2;
                return Some(Share {
                    treated: share,
                    possible: if frame.narrow && share < NOT_DONE_SHARE {
                        share.max(near())
                    } else {
                        share
                    },
                    done_from: DONE_VOLUME_SHARE,
                });
            }
        }
        if is_coarse {
            return None;
        }
        let core_m2 = frame.core.area_m2();
        let of_zone = |m2: f64| m2 / area_m2;
        let bare_m2 = cover.gap.area_m2() + self.nudge.bare_m2;
        let whole = of_zone(area_m2 - bare_m2 - cover.unlogged.area_m2());
        let treated = if frame.narrow || core_m2 <= 0.0 {
            whole
        } else {
            (cover.core_treated_m2 - self.nudge.bare_m2) / core_m2
        };
        Some(Share {
            treated,
            possible: treated.max(whole) + of_zone(cover.unlogged.area_m2()),
            // The limit of `thin_cover`, with its doubt, so that the two agree.
            done_from: match cover.thin {
                _ if frame.narrow => DONE_VOLUME_SHARE,
                Some(thin) if thin + self.nudge.probability < self.laid.rules.likely => treated,
                _ => LEAST_COVER,
            },
        })
    }

    /// Ground of a zone that passes may have covered if they lie as far off as their receivers may be, m2: what the log
    /// of a cart shows beside a walk may have been on it.
    fn near_m2(&self, app: usize, zone: usize) -> f64 {
        let ground = &self.laid.site.zones[zone].region;
        let reached = self.done.passes(app).map(|pass| {
            let position_m = self.laid.legs[pass.leg].decided.position_m;
            let beside = ground.offset(position_m).intersection(&pass.region);
            beside.offset(position_m).intersection(ground)
        });
        Region::union_of(reached.collect::<Vec<_>>().iter()).area_m2()
    }

    pub(super) fn state(&self, app: usize, zone: usize, order: Option<&Order>) -> ZoneState {
        match self.share(app, zone, order) {
            None => ZoneState::NotKnown,
            Some(share) if share.possible < NOT_DONE_SHARE => ZoneState::NotDone,
            Some(share) if share.treated >= share.done_from && !self.is_open(app, zone) => {
                ZoneState::Done
            }
            Some(_) => ZoneState::InPart,
        }
    }

    /// Patches are open that are worth a trip: nobody calls that done.
    fn is_open(&self, app: usize, zone: usize) -> bool {
        let (cover, frame) = (&self.covers.zones[app][zone], &self.covers.frames[zone]);
        if frame.narrow || self.done.is_coarse(app) {
            return false;
        }
        let rules = self.laid.rules;
        let likely = rules.likely - self.nudge.probability;
        let open = cover.patches.iter();
        let open = open.filter(|patch| patch.is_likely(likely) && patch.cause.is_for_a_trip());
        let open_m2: f64 = open.map(|patch| patch.area_m2 + self.nudge.bare_m2).sum();
        let ground = &self.laid.site.zones[zone];
        open_m2 > 0.0 && rules.is_for_a_trip(open_m2, ground.region.area_m2(), ground.priority)
    }

    /// Ground in an order's scope of which the logs show no coverage: by hand, or too narrow.
    pub(super) fn not_shown(&self, zone: Option<usize>) -> Vec<usize> {
        let zones = self.laid.site.zones.iter().enumerate();
        zones
            .filter(|(index, of)| {
                let narrow = self.covers.frames.get(*index).is_some_and(|of| of.narrow);
                of.is_to_treat()
                    && of.region.area_m2() > 0.0
                    && zone.is_none_or(|zone| zone == *index)
                    && (of.method == Method::Hand || narrow)
            })
            .map(|(index, _)| index)
            .collect()
    }

    pub(super) fn treated_share(&self, app: usize, zones: &[(usize, ZoneState)]) -> Option<f64> {
        if self.done.is_coarse(app) {
            return None;
        }
        let (mut treated_m2, mut area_m2) = (0.0, 0.0);
        for &(zone, _) in zones
            .iter()
            .filter(|(zone, _)| !self.covers.frames[*zone].narrow)
        {
            let (cover, region) = (
                &self.covers.zones[app][zone],
                &self.laid.site.zones[zone].region,
            );
            area_m2 += region.area_m2();
            treated_m2 += region.area_m2() - cover.gap.area_m2() - cover.unlogged.area_m2();
        }
        (area_m2 > 0.0).then(|| treated_m2 / area_m2)
    }
}
