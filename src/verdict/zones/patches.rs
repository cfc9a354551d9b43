//! Bare patches: one finding for those that somebody may be sent for, and one each for those in a silence, those that
//! the rigs bent round, those that rest on a position error that nobody stated, and those that are only more likely bare
//! than not: worth a look, no trip.

use super::Context;
use crate::findings::cause::GapCause;
use crate::findings::cover::{AboutCover, BarePatch};
use crate::findings::sections::ClosedSections;
use crate::findings::{Finding, Severity};
use crate::geometry::place::LonLat;
use crate::rig::boom::{self, Sections};
use crate::site::coverage::{ClosedBy, LEAST_LOOK, LEAST_PATCH_M2, PatchGround};
use crate::verdict::sections;
use std::collections::BTreeMap;

/// A likely patch and a point inside it.
pub(super) type Placed<'a> = (&'a PatchGround, LonLat);

/// Why patches are reported together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Group {
    Trip,
    Silence,
    BentRound,
    ErrorUntold,
}

impl Group {
    fn of(cause: GapCause) -> Self {
        match cause {
            GapCause::Silence => Self::Silence,
            GapCause::BentRound => Self::BentRound,
            GapCause::ErrorUntold => Self::ErrorUntold,
            GapCause::NeverReached | GapCause::SprayingOff | GapCause::Closed | GapCause::Dry => {
                Self::Trip
            }
        }
    }
}

impl Context<'_> {
    pub(super) fn bare_patches(&self) -> Vec<Finding> {
        let patches = self.likely_patches();
        let likely = [
            Group::Trip,
            Group::Silence,
            Group::BentRound,
            Group::ErrorUntold,
        ]
        .into_iter()
        .filter_map(|group| {
            let own = patches
                .iter()
                .filter(|(patch, _)| Group::of(patch.cause) == group);
            self.bare_patch(&own.copied().collect::<Vec<_>>(), true)
        });
        let perhaps = self.bare_patch(&self.perhaps_patches(), false);
        likely.chain(perhaps).collect()
    }

    fn bare_patch(&self, patches: &[Placed], likely: bool) -> Option<Finding> {
        let area_m2: f64 = patches.iter().map(|(patch, _)| patch.area_m2).sum();
        let (greatest, place) = patches.first()?;
        let likelihood = greatest.likelihood?;
        let cause = main_cause(patches);
        let closed = (cause == GapCause::Closed)
            .then(|| closed_by(patches))
            .flatten();
        let kind = AboutCover::BarePatch(BarePatch {
            count: patches.len(),
            area_m2,
            greatest_m2: greatest.area_m2,
            likely,
            probability: likelihood.probability,
            interval_m2: likelihood.interval_m2,
            limit_m2: LEAST_PATCH_M2,
            cause,
            closed: closed.map(|by| self.named(by)),
            near_dropout: self.zone.cover.near_dropout,
            treated_share: self.core_treated_share(),
        });
        let severity = match self.severity_of(area_m2) {
            Severity::GoBack if !likely || !cause.is_for_a_trip() => Severity::LookInto,
            severity => severity,
        };
        let mut finding = self.finding(severity, kind, area_m2);
        finding.place = Some(*place);
        if let Some(by) = closed {
            finding.rig = Some(self.case.rig(by.leg));
        }
        Some(finding)
    }

    /// Sections by number and side, and whether they sprayed later on.
    fn named(&self, by: ClosedBy) -> ClosedSections {
        let run = &self.case.night.runs[self.case.outcome.legs[by.leg].run];
        let named = sections::named(boom::numbers(by.sections), &run.widths_m());
        let (rig, end) = (self.case.rig(by.leg), self.application.end);
        let elsewhere = || sections::sprayed_again(self.case.night, &rig, &named.numbers, end);
        ClosedSections {
            again: by.again || elsewhere().is_some(),
            ..named.clone()
        }
    }

    fn severity_of(&self, likely_m2: f64) -> Severity {
        let priority = self.case.site.zones[self.zone.zone].priority;
        let rules = self.case.rules;
        match self.severity() {
            Severity::GoBack if !rules.is_for_a_trip(likely_m2, self.zone.area_m2, priority) => {
                Severity::LookInto
            }
            severity => severity,
        }
    }

    /// Likely patches, greatest first.
    pub(super) fn likely_patches(&self) -> Vec<Placed<'_>> {
        let patches = self.placed();
        patches
            .filter(|(patch, _)| patch.is_likely(self.case.rules.likely))
            .collect()
    }

    /// Patches more likely bare than not that nothing but their probability speaks against, greatest first.
    fn perhaps_patches(&self) -> Vec<Placed<'_>> {
        let look = |patch: &PatchGround| {
            let likely = patch.is_likely(self.case.rules.likely);
            !likely && patch.is_likely(LEAST_LOOK) && !patch.unsure && patch.cause.is_for_a_trip()
        };
        self.placed().filter(|(patch, _)| look(patch)).collect()
    }

    fn placed(&self) -> impl Iterator<Item = Placed<'_>> {
        let patches = self.zone.cover.patches.iter();
        patches.zip(self.zone.patch_places.iter().copied())
    }
}

/// The cause with most ground among patches; of equals the one that says least.
fn main_cause(patches: &[Placed]) -> GapCause {
    let mut area_m2: BTreeMap<GapCause, f64> = BTreeMap::new();
    for (patch, _) in patches {
        *area_m2.entry(patch.cause).or_default() += patch.area_m2;
    }
    let mut main = (GapCause::NeverReached, 0.0);
    for (cause, area_m2) in area_m2 {
        if area_m2 > main.1 {
            main = (cause, area_m2);
        }
    }
    main.0
}

/// What was closed over most of the patches' ground; it works again where it did after the last of them.
fn closed_by(patches: &[Placed]) -> Option<ClosedBy> {
    let mut area_m2: BTreeMap<(usize, Sections), f64> = BTreeMap::new();
    let all = || {
        patches
            .iter()
            .filter_map(|(patch, _)| Some((patch, patch.closed_by?)))
    };
    for (patch, by) in all() {
        *area_m2.entry((by.leg, by.sections)).or_default() += patch.area_m2;
    }
    let (most, _) = area_m2.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let own = all().map(|(_, by)| by);
    own.filter(|by| (by.leg, by.sections) == most)
        .max_by_key(|by| by.after())
}
