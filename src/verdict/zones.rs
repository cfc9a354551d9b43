//! Verdicts on sites and zones.

mod patches;

use super::LEAST_SOME_L;
use super::{Case, Night};
use crate::findings::cause::GapCause;
use crate::findings::cover::AboutCover;
use crate::findings::liquid::AboutLiquid;
use crate::findings::log::AboutLog;
use crate::findings::rate::AboutRate;
use crate::findings::rig::AboutRig;
use crate::findings::{Finding, Kind, Severity};
use crate::input::sites::Method;
use crate::site::LEAST_KEEP_OFF_M2;
use crate::site::coverage::LEAST_COVER;
use crate::site::outcome::{Application, KeepOffFact, ReverseTowedFact, SetRateFact, ZoneOutcome};

/// Patches with this share of the ground without treatment say it all: one cause, one finding (trade judgement).
const MOST_EXPLAINED: f64 = 0.5;
/// Of the same, what laps between lanes and turns make beside a lap along the line (trade judgement).
const USUAL_OVERLAP: f64 = 0.15;
/// Whole passes that were driven again are worth asking about from this ground on, m2, and this share of the zone:
/// shorter ones are a driver who looks back (trade judgement).
const LEAST_REPEATED_M2: f64 = 60.0;
/// See [`LEAST_REPEATED_M2`] (trade judgement).
const LEAST_REPEATED_SHARE: f64 = 0.10;
/// A shorter silence is a receiver that blinked, s (trade judgement).
const LEAST_SILENCE_S: f64 = 10.0;
/// Probability of a bare patch from which ground that matters more than the rest is to be looked at (trade judgement).
const DOUBTFUL: f64 = 0.25;
/// Greatest overlap as a share of the zone: laps of a foot on a 10 ft boom and headland turns make a tenth to a fifth
/// (published: Luck et al. 2010 and *Precision Agriculture* 2015, doi:10.1007/s11119-015-9404-y, found 3 to 14 % more
/// with one section than with seven).
const GREATEST_OVERLAP: f64 = 0.25;
/// Greatest share of treated ground with under half the target: starts and stops sampled once a second leave a few
/// per cent on a healthy lot (trade judgement).
const GREATEST_LOW: f64 = 0.10;
/// Greatest share of treated ground with over 2.2 times the target: where three passes meet; a healthy lot has one or
/// two per cent (trade judgement).
const GREATEST_HIGH: f64 = 0.05;
/// A dry stretch shorter than this is a pump catching up, s (trade judgement).
const LEAST_DRY_S: f64 = 10.0;
/// Unlogged ground from which a silence is worth reading about, m2: half a patch (trade judgement).
const LEAST_UNLOGGED_M2: f64 = 5.0;
/// Ground sprayed by a trailer backing up in turns from which it is worth reading about, m2: half a patch (trade
/// judgement).
const LEAST_UNSURE_M2: f64 = 5.0;
/// Liquid in silences from which they are worth reading about, L: half a gallon (trade judgement).
const LEAST_SILENT_L: f64 = 2.0;
/// Greatest difference of set rate and target: the band that the swept rate has by default (published: Luck et al., Precision Agriculture, 2010).
const GREATEST_SET_DIFFERENCE: f64 = 0.10;

/// Sites without any treatment, in one line. With orders, what was ordered and not done is reported for each for
/// itself, and the rest is nobody's business.
pub(super) fn not_visited(night: &Night) -> Vec<Finding> {
    if night.has_orders() {
        return Vec::new();
    }
    let untouched = |case: &Case| {
        let mut visits = case.outcome.visits.iter();
        let by_gun = visits.any(|visit| visit.gun_l.is_some_and(|litres| litres > 0.0));
        has_boom_ground(case) && case.outcome.applications.is_empty() && !by_gun
    };
    let sites: Vec<Case> = night.cases().filter(untouched).collect();
    if sites.is_empty() {
        return Vec::new();
    }
    let some_l: f64 = sites
        .iter()
        .flat_map(|case| (0..case.site.zones.len()).map(|zone| case.litres_on(zone)))
        .sum();
    let kind = AboutCover::NotVisited {
        sites: sites.iter().map(|case| case.site.id.clone()).collect(),
        some_l: (some_l >= LEAST_SOME_L).then_some(some_l),
        logs_missing: night.logs_missing(),
    };
    // Without orders nobody knows whether they were to be treated.
    let mut finding = Finding::new(Severity::LookInto, kind);
    let zones = sites.iter().flat_map(|case| &case.site.zones);
    let to_treat = zones.filter(|zone| zone.is_to_treat());
    finding.weight = to_treat.map(|zone| zone.region.area_m2()).sum();
    vec![finding]
}

/// A log shows hand work by the gun's litres at best, so a site without boom ground is not missed.
fn has_boom_ground(case: &Case) -> bool {
    let mut zones = case.site.zones.iter();
    zones.any(|zone| zone.is_by_boom() && zone.region.area_m2() > 0.0)
}

/// Findings of one site; `asked` are those about its orders.
pub(super) fn judge(case: &Case, asked: &[Finding]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, application) in case.outcome.applications.iter().enumerate() {
        for zone in &application.zones {
            let id = case.zone_id(zone.zone);
            let context = Context {
                case,
                application,
                zone,
                is_last: case.outcome.last_on(zone.zone) == Some(index),
                wanted: (case.rules.orders.is_none() || zone.order.is_some())
                    && !super::asked_for::is_not_done(asked, &id),
            };
            findings.extend(context.judge());
        }
    }
    findings.extend(touched_up(case));
    findings.extend(keep_off(case));
    findings.extend(dry(case));
    let is_told = findings.iter().any(is_patch_in_silence);
    findings.extend(silences(case, is_told));
    findings.extend(set_rates(case));
    findings.extend(reverse_towed(case));
    findings
}

/// One zone in one application.
struct Context<'a> {
    case: &'a Case<'a>,
    application: &'a Application,
    zone: &'a ZoneOutcome,
    /// Only the last application on the zone decides where to go back to.
    is_last: bool,
    /// Ground to go back to: ordered, or no orders are known; and not reported as not done already.
    wanted: bool,
}

impl Context<'_> {
    fn judge(&self) -> Vec<Finding> {
        if !self.zone.has_verdict() || self.case.site.zones[self.zone.zone].method == Method::Hand {
            return Vec::new();
        }
        let mut findings = Vec::new();
        if self.wanted {
            findings.extend(self.bare_patches());
            findings.extend(self.thin_cover());
        }
        findings.extend(self.doubled());
        findings.extend(self.off_rate());
        findings.extend(self.uneven());
        findings
    }

    fn finding(&self, severity: Severity, kind: impl Into<Kind>, weight: f64) -> Finding {
        let mut finding = Finding::new(severity, kind);
        finding.site = self.case.id();
        finding.zone = Some(self.case.zone_id(self.zone.zone));
        finding.rig = self.case.only_rig(self.application);
        finding.start = Some(self.application.start);
        finding.place = self.zone.patch_places.first().copied();
        finding.weight = weight * self.case.site.zones[self.zone.zone].priority;
        finding
    }

    /// Go back where the last application left it; earlier ones are history.
    fn severity(&self) -> Severity {
        if self.is_last {
            Severity::GoBack
        } else {
            Severity::ForTheRecord
        }
    }

    /// Treated share of the ground inside the edge; `None` where there is none, or where it is not known.
    fn core_treated_share(&self) -> Option<f64> {
        self.zone.areas?;
        let treated_share = self.zone.cover.core_treated_m2 / self.zone.core_m2;
        treated_share.is_finite().then_some(treated_share)
    }

    /// Patches say where to go, so this one speaks only where they leave most of the gap unexplained:
    /// strips too thin for patches.
    fn thin_cover(&self) -> Option<Finding> {
        let treated_share = self.core_treated_share()?;
        let gap_m2 = self.zone.core_m2 * (1.0 - treated_share);
        let patches = self.likely_patches();
        let in_patches_m2: f64 = patches.iter().map(|(patch, _)| patch.core_m2).sum();
        let for_nobody = patches
            .iter()
            .filter(|(patch, _)| !patch.cause.is_for_a_trip());
        let for_nobody_m2: f64 = for_nobody.map(|(patch, _)| patch.core_m2).sum();
        let cover = &self.zone.cover;
        // Bare ground that a trailer backing up may have reached, that lies in a silence, in a dropout's corridor or that the
        // rigs bent round is no reason to go back.
        let unlogged_m2 = self.zone.areas?.unlogged_m2;
        let perhaps_m2 =
            cover.core_unsure_m2 + unlogged_m2 + for_nobody_m2.max(cover.causes.silence);
        let perhaps_share = treated_share + perhaps_m2 / self.zone.core_m2;
        let thin = self.zone.cover.thin;
        let likely = thin.is_some_and(|thin| thin >= self.case.rules.likely);
        let thin = likely && perhaps_share < LEAST_COVER && in_patches_m2 < MOST_EXPLAINED * gap_m2;
        let error_untold = self.zone.cover.thin_untold;
        thin.then(|| {
            let kind = AboutCover::ThinCover {
                treated_share,
                zone_share: self.zone.treated_share(),
                limit: LEAST_COVER,
                gap_m2,
                error_untold,
            };
            let severity = match self.severity() {
                Severity::GoBack if error_untold => Severity::LookInto,
                severity => severity,
            };
            self.finding(severity, kind, gap_m2)
        })
    }

    fn doubled(&self) -> Option<Finding> {
        let areas = self.zone.areas?;
        let overlap_m2 = areas.overlap_m2;
        let overlap_share = overlap_m2 / self.zone.area_m2;
        let limit = GREATEST_OVERLAP.max(USUAL_OVERLAP + self.round_share());
        let repeated_m2 = areas
            .repeated_m2
            .filter(|&m2| m2 >= LEAST_REPEATED_M2 && m2 >= LEAST_REPEATED_SHARE * self.zone.area_m2)
            .filter(|_| self.round_share() < 1.0)
            .unwrap_or(0.0);
        (overlap_share > limit || repeated_m2 > 0.0).then(|| {
            let twice_m2 = (areas.swept_m2 - areas.treated_m2).max(0.0);
            let rate_ml_m2 = self.zone.rate_swept_ml_m2();
            let extra_l = rate_ml_m2.map(|rate| rate * twice_m2 / 1000.0);
            let kind = AboutCover::Doubled {
                overlap_share,
                repeated_m2,
                limit,
                extra_l,
            };
            self.finding(Severity::LookInto, kind, overlap_m2)
        })
    }

    /// Ground under one lap along all of the zone's line, as a share of it: lots are driven once round and then in
    /// lanes, whose ends and turns lie on that lap.
    fn round_share(&self) -> f64 {
        let line_m = self.case.site.zones[self.zone.zone].region.outline_m();
        let legs = self.application.legs.iter();
        let boom_m = legs.map(|&leg| self.case.outcome.legs[leg].boom_m);
        let boom_m = boom_m.fold(0.0, f64::max);
        (boom_m * line_m / self.zone.area_m2).min(1.0)
    }

    fn off_rate(&self) -> Option<Finding> {
        let (rate_ml_m2, target_ml_m2) = (self.zone.rate_swept_ml_m2()?, self.zone.target_ml_m2?);
        let off = rate_ml_m2 / target_ml_m2 - 1.0;
        (off.abs() > self.case.rules.band).then(|| {
            let kind = AboutRate::OffRate {
                rate_ml_m2,
                target_ml_m2,
                band: self.case.rules.band,
            };
            self.finding(Severity::LookInto, kind, self.zone.area_m2 * off.abs())
        })
    }

    fn uneven(&self) -> Option<Finding> {
        let dose = self.zone.dose.as_ref()?;
        let (share_low, share_high) = (dose.treated_share_low?, dose.treated_share_high?);
        // Where passes lie on each other the dose is twice the rate: that is for the overlap to report.
        let twice_share = self
            .zone
            .areas
            .map_or(0.0, |areas| areas.overlap_m2 / areas.treated_m2);
        (share_low > GREATEST_LOW || share_high > GREATEST_HIGH + twice_share).then(|| {
            let kind = AboutRate::Uneven {
                share_low,
                limit_low: GREATEST_LOW,
                share_high,
                limit_high: GREATEST_HIGH + twice_share,
            };
            self.finding(
                Severity::LookInto,
                kind,
                self.zone.area_m2 * share_low.max(share_high),
            )
        })
    }
}

/// Patches of a round that a later visit covered: nobody has to go there.
fn touched_up(case: &Case) -> Vec<Finding> {
    let applications = case.outcome.applications.iter();
    let covered = applications.flat_map(|application| &application.covered);
    covered
        .map(|covered| {
            let visit = &case.outcome.visits[covered.visit];
            let (start, end) = visit.spraying.unwrap_or((visit.arrive, visit.depart));
            let kind = AboutCover::TouchedUp {
                count: covered.count,
                area_m2: covered.area_m2,
                covered: end,
                rig: case.rig(visit.leg),
            };
            let mut finding = Finding::new(Severity::ForTheRecord, kind);
            finding.rig = Some(case.rig(visit.leg));
            finding.site = case.id();
            finding.start = Some(start);
            finding.weight = covered.area_m2;
            finding
        })
        .collect()
}

/// Ground that matters more than the rest and that positions cannot judge, in one line a night.
pub(super) fn check_on_foot(night: &Night) -> Option<Finding> {
    let (mut zones, mut area_m2) = (Vec::new(), 0.0);
    for case in night.cases() {
        for (index, ground) in case.site.zones.iter().enumerate() {
            let matters = ground.is_to_treat() && ground.priority > 1.0;
            if matters && is_untold(&case, index) {
                zones.push(format!("{}/{}", case.site.id, ground.id));
                area_m2 += ground.region.area_m2();
            }
        }
    }
    (!zones.is_empty()).then(|| {
        let kind = AboutCover::CheckOnFoot { zones, area_m2 };
        let mut finding = Finding::new(Severity::LookInto, kind);
        finding.weight = area_m2;
        finding
    })
}

/// Whether the last work at a site leaves open if a zone of it was treated.
fn is_untold(case: &Case, zone: usize) -> bool {
    let last = case.outcome.last_on(zone);
    let application = last.map(|last| &case.outcome.applications[last]);
    let of = application.and_then(|of| of.zones.iter().find(|of| of.zone == zone));
    of.is_some_and(|of| {
        let doubtful = |patch: &crate::site::coverage::PatchGround| {
            let probability = patch.likelihood.map_or(0.0, |of| of.probability);
            (DOUBTFUL..case.rules.likely).contains(&probability)
        };
        !of.has_verdict() || of.cover.patches.iter().any(doubtful)
    })
}

fn keep_off(case: &Case) -> Vec<Finding> {
    let counts = |fact: &&KeepOffFact| fact.probability >= case.rules.likely;
    case.outcome
        .keep_off
        .iter()
        .filter(counts)
        .map(|fact| {
            let (area_m2, volume_l) = (fact.area_m2, fact.volume_l);
            let kind = AboutLiquid::KeepOffWet {
                area_m2,
                limit_m2: LEAST_KEEP_OFF_M2,
                volume_l,
            };
            let mut finding = Finding::new(Severity::LookInto, kind);
            finding.rig = Some(case.rig(fact.leg));
            finding.site = case.id();
            finding.zone = Some(case.zone_id(fact.zone));
            finding.start = Some(fact.start);
            finding.place = Some(fact.place);
            finding.weight = fact.area_m2;
            finding
        })
        .collect()
}

fn dry(case: &Case) -> Vec<Finding> {
    per_leg(
        case.outcome
            .dry
            .iter()
            .filter(|fact| fact.seconds >= LEAST_DRY_S),
        |fact| fact.leg,
    )
    .into_iter()
    .map(|(leg, facts)| {
        let length_m = facts.iter().map(|fact| fact.length_m).sum();
        let kind = AboutRig::OpenDry {
            seconds: facts.iter().map(|fact| fact.seconds).sum(),
            length_m,
            count: facts.len(),
            limit_s: LEAST_DRY_S,
        };
        let mut finding = Finding::new(Severity::LookInto, kind);
        finding.rig = Some(case.rig(leg));
        finding.site = case.id();
        finding.start = Some(facts[0].start);
        finding.place = Some(facts[0].place);
        finding.weight = length_m * case.outcome.legs[leg].boom_m;
        finding
    })
    .collect()
}

/// Bare ground that a silence may hide: it names the silence as well.
fn is_patch_in_silence(finding: &Finding) -> bool {
    let Kind::Cover(AboutCover::BarePatch(patch)) = &finding.kind else {
        return false;
    };
    patch.cause == GapCause::Silence
}

/// `is_told`: another finding sends somebody to ask about this site's silences.
fn silences(case: &Case, is_told: bool) -> Vec<Finding> {
    per_leg(case.outcome.silences.iter(), |fact| fact.leg)
        .into_iter()
        .filter_map(|(leg, mut facts)| {
            // With all sections closed and no gain a silence hides nothing.
            facts.retain(|fact| {
                fact.unlogged_m2 > 0.0 || fact.volume_l.is_some_and(|litres| litres > 0.0)
            });
            let volume_l = facts.iter().map(|fact| fact.volume_l).sum::<Option<f64>>();
            let unlogged_m2 = facts.iter().map(|fact| fact.unlogged_m2).sum::<f64>();
            let counts = unlogged_m2 >= LEAST_UNLOGGED_M2
                || volume_l.is_some_and(|litres| litres >= LEAST_SILENT_L);
            if !counts {
                return None;
            }
            let kind = AboutLog::DropoutNearby {
                count: facts.len(),
                seconds: facts.iter().map(|fact| fact.seconds).sum(),
                unlogged_m2,
                volume_l,
            };
            let longest_s = facts.iter().map(|fact| fact.seconds).fold(0.0, f64::max);
            let severity = if longest_s < LEAST_SILENCE_S || is_told {
                Severity::ForTheRecord
            } else {
                Severity::LookInto
            };
            let mut finding = Finding::new(severity, kind);
            finding.rig = Some(case.rig(leg));
            finding.site = case.id();
            finding.start = Some(facts[0].start);
            finding.place = Some(facts[0].place);
            finding.weight = unlogged_m2;
            Some(finding)
        })
        .collect()
}

/// One finding per rig that backed its trailer up in turns here while spraying, or whose gear is uncertain.
fn reverse_towed(case: &Case) -> Vec<Finding> {
    let counts = |fact: &&ReverseTowedFact| fact.area_m2 >= LEAST_UNSURE_M2 || fact.patches > 0;
    let facts = case.outcome.reverse_towed.iter().filter(counts);
    facts
        .map(|fact| {
            let (area_m2, patches, patches_m2) = (fact.area_m2, fact.patches, fact.patches_m2);
            let rig = case.night.runs[case.outcome.legs[fact.leg].run].rig;
            let kind = if case.night.fleet.rigs[rig].hitch.is_some() {
                AboutRig::ReverseTowed {
                    area_m2,
                    patches,
                    patches_m2,
                }
            } else {
                AboutRig::GearUnsure {
                    area_m2,
                    patches,
                    patches_m2,
                }
            };
            let mut finding = Finding::new(Severity::ForTheRecord, kind);
            finding.rig = Some(case.rig(fact.leg));
            finding.site = case.id();
            finding.start = Some(fact.start);
            finding.place = Some(fact.place);
            finding.weight = fact.area_m2 + fact.patches_m2;
            finding
        })
        .collect()
}

/// One finding per rig and zone where the controller was set to another rate than the zone asks for.
fn set_rates(case: &Case) -> Vec<Finding> {
    let off = |fact: &SetRateFact| (fact.set_ml_m2 / fact.target_ml_m2 - 1.0).abs();
    let mut findings: Vec<Finding> = Vec::new();
    for fact in case
        .outcome
        .set_rates
        .iter()
        .filter(|fact| off(fact) > GREATEST_SET_DIFFERENCE)
    {
        let rig = Some(case.rig(fact.leg));
        let zone = Some(case.zone_id(fact.zone));
        if findings
            .iter()
            .any(|known| known.rig == rig && known.zone == zone)
        {
            continue;
        }
        let (set_ml_m2, target_ml_m2) = (fact.set_ml_m2, fact.target_ml_m2);
        let kind = AboutRate::SetRateDiffers {
            set_ml_m2,
            target_ml_m2,
            limit: GREATEST_SET_DIFFERENCE,
        };
        let mut finding = Finding::new(Severity::LookInto, kind);
        let area_m2 = case.site.zones[fact.zone].region.area_m2();
        finding.rig = rig;
        finding.site = case.id();
        finding.zone = zone;
        finding.start = Some(fact.start);
        finding.place = Some(fact.place);
        finding.weight = area_m2 * off(fact);
        findings.push(finding);
    }
    findings
}

/// Facts by leg, in the order of the legs.
fn per_leg<'a, T>(
    facts: impl Iterator<Item = &'a T>,
    leg: impl Fn(&T) -> usize,
) -> Vec<(usize, Vec<&'a T>)> {
    let mut by_leg: std::collections::BTreeMap<usize, Vec<&T>> = std::collections::BTreeMap::new();
    for fact in facts {
        by_leg.entry(leg(fact)).or_default().push(fact);
    }
    by_leg.into_iter().collect()
}
