//! One run to its legs: who saw it, when it was where, and what it laid on nobody's ground.

use super::leg::Leg;
use super::logged::{Approach, Beside};
use super::near::{self, Near};
use super::presence::{self, Whereabouts};
use super::rules::Rules;
use super::sight::Sight;
use super::summary::Summary;
use crate::geometry::bounds::Boxed;
use crate::ground::Site;
use crate::input::fleet::Fleet;
use crate::rig::run::Run;
use crate::rig::timeline::wet;
use rayon::prelude::*;
use rstar::RTree;
use std::ops::Range;

/// What runs are cut against.
pub struct Grounds<'a> {
    sights: Vec<Sight<'a>>,
    boxes: RTree<Boxed>,
    rules: &'a [Rules],
    fleet: &'a Fleet,
}

impl<'a> Grounds<'a> {
    /// Of all sites, with the rules of each.
    #[must_use]
    pub fn of(sites: &'a [Site], rules: &'a [Rules], fleet: &'a Fleet) -> Self {
        Self {
            sights: sites.iter().map(|site| Sight::new(site, sites)).collect(),
            boxes: near::boxes(sites),
            rules,
            fleet,
        }
    }

    /// The legs of a run, each with the index of its site, in the order of the sites; and what is left of the
    /// run. Legs carry run number 0: it is known when all runs are.
    #[must_use]
    pub fn cut(&self, run: &Run) -> (Vec<(usize, Leg)>, Summary) {
        let ranges = near::ranges(&self.boxes, &run.track, run.boom.reach_m());
        let nears: Vec<(usize, Near)> = ranges
            .into_par_iter()
            .map(|(index, fixes)| {
                let sight = &self.sights[index];
                let near = near::approach(sight.site, sight.outlines(), &run.track, fixes);
                (index, near)
            })
            .collect();
        let whereabouts = Whereabouts::of(run.track.fixes.len(), &nears);
        let presences = presence::presences(&run.track, &whereabouts);
        let by_site: Vec<&[(usize, Near)]> = nears.chunk_by(|a, b| a.0 == b.0).collect();
        let cut: Vec<(usize, Option<Leg>, Beside)> = by_site
            .into_par_iter()
            .map(|nears| {
                let (leg, beside) = self.approach(run, nears, &whereabouts, &presences).leg();
                (nears[0].0, leg, beside)
            })
            .collect();
        let mut legs = Vec::new();
        let mut besides = Vec::new();
        for (site, leg, beside) in cut {
            legs.extend(leg.map(|leg| (site, leg)));
            besides.push(beside);
        }
        (legs, Summary::of(run, &whereabouts, &besides))
    }

    fn approach<'b>(
        &'b self,
        run: &'b Run,
        nears: &'b [(usize, Near)],
        whereabouts: &'b Whereabouts,
        presences: &[(usize, Range<usize>)],
    ) -> Approach<'b> {
        let site = nears[0].0;
        let rig = &self.fleet.rigs[run.track.rig];
        let own = presences.iter().filter(|(of, _)| *of == site);
        Approach {
            run,
            product: rig.product.as_deref(),
            meter: wet::MeterTraits::of(&run.metered, rig),
            sight: &self.sights[site],
            site,
            nears,
            whereabouts,
            presences: own.map(|(_, fixes)| fixes.clone()).collect(),
            rules: &self.rules[site],
        }
    }
}
