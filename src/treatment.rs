//! Steps 6 to 10 of the flow for one site: strips, applications, coverage, dose and rates.
//!
//! The unit of parallel work. Strips live only as long as their site is being worked on.

pub(crate) mod earth;
mod facts;
mod orders;
mod pieces;
mod record;
mod report;
mod switched;
mod unsure;

pub use facts::{DropoutFact, DryFact, KeepOffFact, SetRateFact};
pub use orders::{NOT_DONE_SHARE, NotOrderedFact, OrderFact, ZoneState};
pub use unsure::ReverseTowedFact;

use crate::application::{self, Group, LONGEST_BREAK_S, Treated};
use crate::coverage::{self, Over, ZoneCover, ZoneFrame};
use crate::extent::Extent;
use crate::ground::Site;
use crate::input::fleet::Fleet;
use crate::near::Near;
use crate::night::NightSpan;
use crate::orders::Placed;
use crate::overlay::Region;
use crate::plane::Plane;
use crate::result;
use crate::run::Run;
use crate::swath::{self, Strips};
use crate::visit::{Visit, Whereabouts};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use switched::SwitchedGround;
use unsure::UnsureGround;

/// Everything a site's work needs.
pub struct Work<'a> {
    /// Index of the site.
    pub index: usize,
    /// The site.
    pub site: &'a Site,
    /// The fleet.
    pub fleet: &'a Fleet,
    /// All runs.
    pub runs: &'a [Run],
    /// Where each run was.
    pub whereabouts: &'a [Whereabouts],
    /// What came near this site.
    pub nears: &'a [Near],
    /// Visits to this site.
    pub visits: Vec<&'a Visit>,
    /// Orders for this site; `None` where there is no orders file.
    pub orders: Option<&'a [Placed]>,
    /// The time of the night's logs.
    pub span: Option<NightSpan>,
    /// Keep the strips for checking elsewhere.
    pub record: bool,
}

/// What became of a site.
pub struct Treatment {
    /// For the outputs.
    pub report: result::Site,
    /// Litres of each run on the ground here, for runs whose home it was.
    pub laid: Vec<Laid>,
    /// Sprayed keep-off ground.
    pub keep_off: Vec<KeepOffFact>,
    /// Open sections without liquid.
    pub dry: Vec<DryFact>,
    /// Silences at work.
    pub dropouts: Vec<DropoutFact>,
    /// What controllers were set to.
    pub set_rates: Vec<SetRateFact>,
    /// Swaths that towed booms laid in reverse in turns.
    pub reverse_towed: Vec<ReverseTowedFact>,
    /// What became of the orders, in the order of the file.
    pub orders: Vec<OrderFact>,
    /// What was treated without an order.
    pub not_ordered: Vec<NotOrderedFact>,
    /// The strips, when they were to be kept.
    pub strips: Option<result::SiteStrips>,
}

/// Litres of one run on the ground at one site, each line computed for itself.
#[derive(Debug, Clone, Default)]
pub struct Laid {
    /// Index of the run.
    pub run: usize,
    /// On zones to be treated.
    pub zones_l: f64,
    /// On keep-off ground.
    pub keep_off_l: f64,
    /// The part of it on this site's own keep-off zones, by zone, whether or not the site was the home.
    pub keep_off_zones_l: BTreeMap<usize, f64>,
    /// In a yard.
    pub yard_l: f64,
    /// Just outside the zones.
    pub fringe_l: f64,
    /// Elsewhere.
    pub outside_l: f64,
}

/// Ground of one pass.
pub(crate) struct PassGround {
    run: usize,
    steps: Range<usize>,
    region: Region,
    extent: Extent,
    /// The application it belongs to.
    app: Option<usize>,
}

/// One site's work in hand.
pub(crate) struct Bench<'a> {
    work: &'a Work<'a>,
    plane: Plane,
    position_m: f64,
    frames: Vec<ZoneFrame>,
    strips: Vec<(usize, Strips)>,
    passes: Vec<PassGround>,
    /// Swaths of which it is not sure where they lie.
    unsure: Vec<UnsureGround>,
    /// Ground crossed while a section switched.
    switched: Vec<SwitchedGround>,
    /// Treating visits in order of their first liquid, as indices into `work.visits`.
    treating: Vec<usize>,
    groups: Vec<Group>,
    /// Of each application: the runs that took part, in order.
    runs: Vec<Vec<usize>>,
    /// The application that serves each order, once that is known.
    served: Vec<Option<usize>>,
}

/// Works on one site.
#[must_use]
pub fn treat(work: &Work) -> Treatment {
    let mut bench = Bench::new(work);
    let covers = bench.covers();
    let sums = pieces::add_up(&bench);
    bench.served = orders::serve(&bench, &covers, &sums);
    Treatment {
        keep_off: facts::keep_off(&bench, &sums.laid),
        dry: facts::dry(&bench),
        dropouts: facts::dropouts(&bench, &covers),
        set_rates: facts::set_rates(&bench),
        reverse_towed: unsure::facts(&bench, &covers),
        orders: orders::facts(&bench, &covers, &sums),
        not_ordered: orders::not_ordered(&bench, &covers, &sums),
        strips: work.record.then(|| record::strips(&bench, &sums)),
        report: report::site(&bench, covers, &sums),
        laid: sums.laid,
    }
}

impl<'a> Bench<'a> {
    fn new(work: &'a Work<'a>) -> Self {
        let plane = work.site.plane;
        let strips: Vec<(usize, Strips)> = work
            .nears
            .iter()
            .map(|near| {
                (
                    near.run,
                    swath::strips(&work.runs[near.run], near, &plane, work.record),
                )
            })
            .collect();
        let passes: Vec<PassGround> = strips
            .iter()
            .flat_map(|(run, strips)| strips.passes.iter().map(|pass| (*run, pass)))
            .map(|(run, pass)| {
                let rings = pass.rings.iter().map(Vec::as_slice);
                let region = Region::union_of_positive(rings);
                PassGround {
                    run,
                    steps: pass.steps.clone(),
                    extent: region.extent(),
                    region,
                    app: None,
                }
            })
            .collect();
        let position_m = position_m(work, &passes);
        let unsure = unsure::swaths(work, &strips, position_m);
        let switched = switched::grounds(&strips);
        let mut bench = Self {
            work,
            plane,
            position_m,
            frames: vec![],
            strips,
            passes,
            unsure,
            switched,
            treating: vec![],
            groups: vec![],
            runs: vec![],
            served: vec![],
        };
        bench.group();
        bench.assign();
        bench.frame();
        bench
    }

    /// The site's orders.
    fn orders(&self) -> &'a [Placed] {
        self.work.orders.unwrap_or_default()
    }

    /// Finds the applications.
    fn group(&mut self) {
        let work = self.work;
        let spraying = |&index: &usize| work.visits[index].spraying;
        let kind = |index: &usize| work.visits[*index].kind == result::VisitKind::Treating;
        self.treating = (0..work.visits.len())
            .filter(kind)
            .filter(|index| spraying(index).is_some())
            .collect();
        self.treating
            .sort_by_key(|index| (spraying(index), work.visits[*index].run));
        if self.treating.is_empty() {
            return;
        }
        let by_boom = work.site.zones.iter().filter(|zone| zone.is_by_boom());
        let ground = Region::union_of(by_boom.map(|zone| &zone.region));
        let treated: Vec<Treated> = self
            .treating
            .iter()
            .filter_map(|&index| {
                let visit = work.visits[index];
                Some(Treated {
                    spraying: visit.spraying?,
                    ground: self.treated_in(visit, &ground),
                })
            })
            .collect();
        let pause_s = work.fleet.defaults.application_pause_s;
        // A plan treats whatever its length; of a drive, a corner of the site opens none.
        let site_m2 = if work.fleet.planned {
            0.0
        } else {
            ground.area_m2()
        };
        self.groups = application::group(&treated, site_m2, pause_s);
    }

    /// What a visit treated of some ground. Of the only treating visit just enough to open an application:
    /// there is no other that might repeat it.
    fn treated_in(&self, visit: &Visit, ground: &Region) -> Region {
        let of_visit =
            |pass: &&PassGround| pass.run == visit.run && overlap(&visit.fixes, &pass.steps);
        let own = || self.passes.iter().filter(of_visit);
        if self.treating.len() == 1 {
            let ground_m2 = ground.area_m2();
            let parts = own().map(|pass| pass.region.intersection(ground));
            let enough = |part: &Region| application::opens(part.area_m2(), ground_m2);
            if let Some(part) = parts.into_iter().find(enough) {
                return part;
            }
        }
        Region::union_of(own().map(|pass| &pass.region)).intersection(ground)
    }

    /// Gives each pass its application, and each application its runs: those of its visits, and any
    /// whose pass outside a visit lies on ground to be treated.
    fn assign(&mut self) {
        for k in 0..self.passes.len() {
            let pass = &self.passes[k];
            self.passes[k].app = self.application_of(pass.run, &pass.steps);
        }
        let visit = |k: &usize| self.work.visits[self.treating[*k]];
        let mut runs: Vec<BTreeSet<usize>> = self
            .groups
            .iter()
            .map(|group| group.visits.iter().map(|k| visit(k).run).collect())
            .collect();
        for pass in &self.passes {
            if let Some(app) = pass.app
                && !runs[app].contains(&pass.run)
                && self.is_on_zones(pass)
            {
                runs[app].insert(pass.run);
            }
        }
        self.runs = runs
            .into_iter()
            .map(|runs| runs.into_iter().collect())
            .collect();
    }

    /// Whether a pass lies on any ground to be treated.
    fn is_on_zones(&self, pass: &PassGround) -> bool {
        let mut zones = self.work.site.zones.iter();
        zones.any(|zone| zone.is_to_treat() && !zone.region.intersection(&pass.region).is_empty())
    }

    /// Frames the zones, where there is an application that needs them.
    fn frame(&mut self) {
        if self.groups.is_empty() {
            return;
        }
        let edge_m = self.work.fleet.defaults.edge_m;
        let zones = self.work.site.zones.iter();
        self.frames = zones
            .map(|zone| ZoneFrame::of(&zone.region, self.position_m, edge_m))
            .collect();
    }

    /// The application that steps of a run belong to: that of the visit that has any of them (a pass may
    /// start on the way in), else the nearest in time.
    fn application_of(&self, run: usize, steps: &Range<usize>) -> Option<usize> {
        let own = self.groups.iter().position(|group| {
            group.visits.iter().any(|&k| {
                let visit = self.work.visits[self.treating[k]];
                visit.run == run && overlap(&visit.fixes, steps)
            })
        });
        if own.is_some() {
            return own;
        }
        let time = self.work.runs[run].track.fixes[steps.start].time;
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

    /// What lies over the site in each application.
    fn overs(&self) -> Vec<Over<'_>> {
        let mut overs: Vec<Over> = self.groups.iter().map(|_| Over::default()).collect();
        for pass in &self.passes {
            if let Some(app) = pass.app {
                overs[app].passes.push((pass.extent, &pass.region));
            }
        }
        let unsure = self.unsure.iter();
        let unsure = unsure.map(|swath| (swath.run, &swath.steps, &swath.reach));
        let closed = self.switched.iter().filter(|ground| !ground.wet);
        let switched = closed.map(|ground| (ground.run, &ground.steps, &ground.ground));
        for (run, steps, ground) in unsure.chain(switched) {
            if let Some(app) = self.application_of(run, steps) {
                overs[app].unsure.push((ground.extent(), ground));
            }
        }
        for (run, strips) in &self.strips {
            for idle in &strips.idle {
                if let Some(app) = self.application_of(*run, &idle.steps) {
                    let over = &mut overs[app];
                    let side = if idle.dry {
                        &mut over.dry
                    } else {
                        &mut over.closed
                    };
                    let boxed: coverage::Boxed = (Extent::of(&idle.ring), &idle.ring);
                    side.push(boxed);
                    if idle.inner {
                        over.inner.push(boxed);
                    }
                }
            }
            for corridor in &strips.corridors {
                let steps = corridor.step..corridor.step + 1;
                if let Some(app) = self.application_of(*run, &steps) {
                    let boxed: coverage::Boxed = (Extent::of(&corridor.ring), &corridor.ring);
                    overs[app].dropouts.push(boxed);
                    if corridor.unlogged {
                        overs[app].unlogged.push(boxed);
                    }
                }
            }
        }
        overs
    }

    /// Covers all zones in each application.
    fn covers(&self) -> Vec<Vec<ZoneCover>> {
        let zones = || self.work.site.zones.iter().zip(&self.frames);
        let cover = |over: &Over| {
            zones()
                .map(|(zone, frame)| {
                    if zone.is_by_boom() {
                        coverage::cover(&zone.region, frame, over)
                    } else {
                        ZoneCover::default()
                    }
                })
                .collect()
        };
        self.overs().iter().map(cover).collect()
    }

    /// Runs with a log too coarse to show coverage took part in an application.
    fn is_coarse(&self, app: usize) -> bool {
        self.runs[app]
            .iter()
            .any(|&run| self.work.runs[run].track.coarse_interval_s.is_some())
    }

    /// Litres are known for every run of an application.
    fn is_metered(&self, app: usize) -> bool {
        self.runs[app]
            .iter()
            .all(|&run| self.work.runs[run].timeline.metered)
    }
}

/// The greatest position error of the runs that sprayed or stayed here; a rig that only drove past
/// says nothing about the site's figures.
fn position_m(work: &Work, passes: &[PassGround]) -> f64 {
    let sprayed = passes.iter().map(|pass| pass.run);
    let stayed = work.visits.iter().map(|visit| visit.run);
    let greatest_m = sprayed
        .chain(stayed)
        .map(|run| work.runs[run].position_m)
        .fold(0.0, f64::max);
    if greatest_m > 0.0 {
        greatest_m
    } else {
        work.fleet.defaults.position_m
    }
}

/// Two ranges have something in common.
fn overlap(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
}
