//! Visits to applications, and each pass to its own.

use super::application::{self, Group, LONGEST_BREAK_S, Treated};
use super::grounds::PassGround;
use super::laid::Laid;
use super::outcome::Visit;
use super::overlap;
use crate::geometry::overlay::Region;
use crate::result::VisitKind;
use std::collections::BTreeSet;
use std::ops::Range;

/// The applications of a site.
pub(super) struct Applications<'a> {
    visits: &'a [Visit],
    laid: &'a Laid<'a>,
    /// Treating visits in order of their first liquid.
    treating: Vec<usize>,
    /// In order of time; their visits are indices into the site's.
    pub(super) groups: Vec<Group>,
    /// Of each application: the legs that took part, in order.
    pub(super) legs: Vec<Vec<usize>>,
    /// Of each pass: its application.
    pub(super) of_pass: Vec<Option<usize>>,
}

/// Finds the applications.
pub(super) fn find<'a>(laid: &'a Laid, visits: &'a [Visit]) -> Applications<'a> {
    let treating = treating(visits);
    let mut done = Applications {
        visits,
        laid,
        groups: groups(laid, visits, &treating),
        treating,
        legs: Vec::new(),
        of_pass: Vec::new(),
    };
    let of_pass = laid
        .passes
        .iter()
        .map(|pass| done.of_steps(pass.leg, &pass.steps));
    done.of_pass = of_pass.collect();
    done.legs = legs(laid, &done);
    done
}

impl Applications<'_> {
    /// The visits of the site.
    pub(super) fn visit(&self, index: usize) -> &Visit {
        &self.visits[index]
    }

    /// Treating visits in order of their first liquid, whether or not they belong to an application.
    pub(super) fn treating(&self) -> impl Iterator<Item = &Visit> {
        self.treating.iter().map(|&index| &self.visits[index])
    }

    /// All visits of the site.
    pub(super) fn visits(&self) -> &[Visit] {
        self.visits
    }

    /// The application that steps of a leg belong to: that of the visit that has any of them (a pass may
    /// start on the way in), else the nearest in time.
    pub(super) fn of_steps(&self, leg: usize, steps: &Range<usize>) -> Option<usize> {
        let own = self.groups.iter().position(|group| {
            group.visits.iter().any(|&index| {
                let visit = &self.visits[index];
                visit.leg == leg && overlap(&visit.fixes, steps)
            })
        });
        if own.is_some() {
            return own;
        }
        let time = self.laid.legs[leg].fixes[steps.start].time;
        let away_s = |group: &Group| {
            group
                .start
                .seconds_since(time)
                .max(time.seconds_since(group.end))
                .max(0.0)
        };
        (0..self.groups.len())
            .filter(|&app| away_s(&self.groups[app]) < LONGEST_BREAK_S)
            .min_by(|&a, &b| away_s(&self.groups[a]).total_cmp(&away_s(&self.groups[b])))
    }

    /// Passes of an application.
    pub(super) fn passes(&self, app: usize) -> impl Iterator<Item = &PassGround> {
        let passes = self.laid.passes.iter().zip(&self.of_pass);
        passes
            .filter(move |(_, of)| **of == Some(app))
            .map(|(pass, _)| pass)
    }

    /// Legs with a log too coarse to show coverage took part in an application.
    pub(super) fn is_coarse(&self, app: usize) -> bool {
        let mut legs = self.legs[app].iter().map(|&leg| &self.laid.legs[leg]);
        legs.any(|leg| leg.decided.coarse_interval_s.is_some())
    }

    /// Litres are known for every leg of an application.
    pub(super) fn is_metered(&self, app: usize) -> bool {
        self.legs[app]
            .iter()
            .all(|&leg| self.laid.legs[leg].is_metered())
    }
}

fn treating(visits: &[Visit]) -> Vec<usize> {
    let is_treating = |index: &usize| {
        visits[*index].kind == VisitKind::Treating && visits[*index].spraying.is_some()
    };
    let mut treating: Vec<usize> = (0..visits.len()).filter(is_treating).collect();
    treating.sort_by_key(|&index| (visits[index].spraying, visits[index].leg));
    treating
}

fn groups(laid: &Laid, visits: &[Visit], treating: &[usize]) -> Vec<Group> {
    if treating.is_empty() {
        return Vec::new();
    }
    let by_boom = laid.site.zones.iter().filter(|zone| zone.is_by_boom());
    let zones: Vec<Region> = by_boom.map(|zone| zone.region.clone()).collect();
    let ground = Region::union_of(&zones);
    let alone = treating.len() == 1;
    let treated: Vec<Treated> = treating
        .iter()
        .filter_map(|&index| {
            Some(Treated {
                spraying: visits[index].spraying?,
                ground: treated_in(laid, &visits[index], &ground, alone),
            })
        })
        .collect();
    let pause_s = laid.rules.application_pause_s;
    // A plan treats whatever its length; of a drive, a corner of the site opens none.
    let planned = laid.legs.iter().any(|leg| leg.decided.planned);
    let site_m2 = if planned { 0.0 } else { ground.area_m2() };
    let mut groups = application::group(&treated, &zones, site_m2, pause_s);
    for group in &mut groups {
        group
            .visits
            .iter_mut()
            .for_each(|index| *index = treating[*index]);
        let covered = group.covered.iter_mut();
        covered.for_each(|covered| covered.visit = treating[covered.visit]);
    }
    groups
}

/// What a visit treated of some ground. Of the only treating visit just enough to open an application:
/// there is no other that might repeat it.
fn treated_in(laid: &Laid, visit: &Visit, ground: &Region, alone: bool) -> Region {
    let of_visit = |pass: &&PassGround| pass.leg == visit.leg && overlap(&visit.fixes, &pass.steps);
    let own = || laid.passes.iter().filter(of_visit);
    if alone {
        let ground_m2 = ground.area_m2();
        let parts = own().map(|pass| pass.region.intersection(ground));
        let enough = |part: &Region| application::opens(part.area_m2(), ground_m2);
        if let Some(part) = parts.into_iter().find(enough) {
            return part;
        }
    }
    Region::union_of(own().map(|pass| &pass.region)).intersection(ground)
}

/// Of each application the legs of its visits, and any whose pass outside a visit lies on ground to be
/// treated.
fn legs(laid: &Laid, done: &Applications) -> Vec<Vec<usize>> {
    let of_visits = |group: &Group| {
        group
            .visits
            .iter()
            .map(|&index| done.visits[index].leg)
            .collect()
    };
    let mut legs: Vec<BTreeSet<usize>> = done.groups.iter().map(of_visits).collect();
    for (pass, app) in laid.passes.iter().zip(&done.of_pass) {
        if let Some(app) = *app
            && !legs[app].contains(&pass.leg)
            && is_on_zones(laid, pass)
        {
            legs[app].insert(pass.leg);
        }
    }
    legs.into_iter()
        .map(|legs| legs.into_iter().collect())
        .collect()
}

/// Whether a pass lies on any ground to be treated.
fn is_on_zones(laid: &Laid, pass: &PassGround) -> bool {
    let mut zones = laid.site.zones.iter();
    zones.any(|zone| zone.is_to_treat() && !zone.region.intersection(&pass.region).is_empty())
}
