//! Steps 6 to 10 of the flow for one site: strips, applications, coverage, dose and rates.
//!
//! The unit of parallel work. Strips live only as long as their site is being worked on.

mod earth;
mod facts;
mod pieces;
mod record;
mod report;
mod switched;
mod unsure;

pub use facts::{DropoutFact, DryFact, KeepOffFact, SetRateFact};
pub use unsure::ReverseTowedFact;

use crate::application::{self, Group, LONGEST_BREAK_S, Treated};
use crate::coverage::{self, Over, ZoneCover, ZoneFrame};
use crate::ground::Site;
use crate::input::fleet::Fleet;
use crate::input::sites::Method;
use crate::near::Near;
use crate::overlay::Region;
use crate::parcels::Parcels;
use crate::plane::Plane;
use crate::result;
use crate::run::Run;
use crate::swath::{self, Strips};
use crate::visit::{Visit, Whereabouts};
use std::collections::BTreeMap;
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
}

/// Works on one site.
#[must_use]
pub fn treat(work: &Work) -> Treatment {
    let bench = Bench::new(work);
    let parcels = Parcels::of(work.site, bench.position_m);
    let covers: Vec<Vec<ZoneCover>> = (0..bench.groups.len())
        .map(|app| bench.cover(app))
        .collect();
    let sums = pieces::add_up(&bench, &parcels);
    Treatment {
        keep_off: facts::keep_off(&bench, &sums.laid),
        dry: facts::dry(&bench),
        dropouts: facts::dropouts(&bench, &covers),
        set_rates: facts::set_rates(&bench),
        reverse_towed: unsure::facts(&bench, &covers),
        strips: work.record.then(|| record::strips(&bench)),
        report: report::site(&bench, covers, &sums),
        laid: sums.laid,
    }
}

impl<'a> Bench<'a> {
    fn new(work: &'a Work<'a>) -> Self {
        let plane = work.site.plane;
        let near_runs = work.nears.iter().map(|near| work.runs[near.run].position_m);
        let position_m = near_runs.fold(0.0, f64::max);
        let position_m = if position_m > 0.0 {
            position_m
        } else {
            work.fleet.defaults.position_m
        };
        let edge_m = work.fleet.defaults.edge_m;
        let frames = work
            .site
            .zones
            .iter()
            .map(|zone| ZoneFrame::of(&zone.region, position_m, edge_m))
            .collect();
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
        let passes = strips
            .iter()
            .flat_map(|(run, strips)| strips.passes.iter().map(|pass| (*run, pass)))
            .map(|(run, pass)| PassGround {
                run,
                steps: pass.steps.clone(),
                region: Region::union_of_positive(pass.rings.iter().map(Vec::as_slice)),
            })
            .collect();
        let unsure = unsure::swaths(work, &strips, position_m);
        let switched = switched::grounds(&strips);
        let mut bench = Self {
            work,
            plane,
            position_m,
            frames,
            strips,
            passes,
            unsure,
            switched,
            treating: vec![],
            groups: vec![],
        };
        bench.group();
        bench
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
        let ground = Region::union_of(
            work.site
                .zones
                .iter()
                .filter(|zone| zone.is_to_treat() && zone.method == Method::Boom)
                .map(|zone| &zone.region),
        );
        let treated: Vec<Treated> = self
            .treating
            .iter()
            .filter_map(|&index| {
                let visit = work.visits[index];
                let own = self
                    .passes
                    .iter()
                    .filter(|pass| pass.run == visit.run && overlap(&visit.fixes, &pass.steps));
                let ground = Region::union_of(own.map(|pass| &pass.region)).intersection(&ground);
                Some(Treated {
                    spraying: visit.spraying?,
                    ground,
                })
            })
            .collect();
        let pause_s = work.fleet.defaults.application_pause_s;
        self.groups = application::group(&treated, ground.area_m2(), pause_s);
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

    /// Covers all zones in one application.
    fn cover(&self, app: usize) -> Vec<ZoneCover> {
        let of_app =
            |run: usize, steps: &Range<usize>| self.application_of(run, steps) == Some(app);
        let mut over = Over {
            passes: vec![],
            dry: vec![],
            closed: vec![],
            inner: vec![],
            unlogged: vec![],
            dropouts: vec![],
            unsure: vec![],
        };
        over.unsure.extend(
            self.unsure
                .iter()
                .filter(|swath| of_app(swath.run, &swath.steps))
                .map(|swath| &swath.reach),
        );
        over.unsure.extend(
            self.switched
                .iter()
                .filter(|ground| !ground.wet && of_app(ground.run, &ground.steps))
                .map(|ground| &ground.ground),
        );
        over.passes.extend(
            self.passes
                .iter()
                .filter(|pass| of_app(pass.run, &pass.steps))
                .map(|pass| &pass.region),
        );
        for (run, strips) in &self.strips {
            for idle in strips.idle.iter().filter(|idle| of_app(*run, &idle.steps)) {
                if idle.dry {
                    over.dry.push(&idle.ring)
                } else {
                    over.closed.push(&idle.ring)
                }
                if idle.inner {
                    over.inner.push(&idle.ring);
                }
            }
            for corridor in strips
                .corridors
                .iter()
                .filter(|corridor| of_app(*run, &(corridor.step..corridor.step + 1)))
            {
                over.dropouts.push(&corridor.ring);
                if corridor.unlogged {
                    over.unlogged.push(&corridor.ring);
                }
            }
        }
        self.work
            .site
            .zones
            .iter()
            .zip(&self.frames)
            .map(|(zone, frame)| {
                if zone.is_to_treat() && zone.method == Method::Boom {
                    coverage::cover(&zone.region, frame, &over)
                } else {
                    ZoneCover::default()
                }
            })
            .collect()
    }

    /// Runs with a log too coarse to show coverage took part in an application.
    fn is_coarse(&self, app: usize) -> bool {
        self.runs_of(app)
            .iter()
            .any(|&run| self.work.runs[run].track.coarse_interval_s.is_some())
    }

    /// Litres are known for every run of an application.
    fn is_metered(&self, app: usize) -> bool {
        self.runs_of(app)
            .iter()
            .all(|&run| self.work.runs[run].timeline.metered)
    }

    /// Runs that took part in an application, in order.
    fn runs_of(&self, app: usize) -> Vec<usize> {
        let mut runs: Vec<usize> = self.groups[app]
            .visits
            .iter()
            .map(|&k| self.work.visits[self.treating[k]].run)
            .collect();
        runs.sort_unstable();
        runs.dedup();
        runs
    }
}

/// Two ranges have something in common.
fn overlap(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
}
