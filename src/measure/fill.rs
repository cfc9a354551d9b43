//! Lanes for what is left, each chosen by ground gained a second, and what stopping earlier or later takes.

use super::bits::Bits;
use super::field::{By, Covered, Field, LEAST_LANE_M};
use super::footprint::Laid;
use super::lane::Lane;
use super::line::{Line, Toward, across};
use super::luck::Luck;
use super::order;
use super::patches::connected;
use super::pool::Pool;
use super::terms::{Stop, Terms, Until};
use super::thin;
use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;
use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

/// Directions tried for what is left (by trial).
const MOST_LINES: usize = 5;
/// Patches looked at in one round, the greatest first (by trial).
const MOST_PATCHES: usize = 6;
/// ... and so many times as many where a lot is full of islands: one for so many cells left (by trial).
const CELLS_A_PATCH: u64 = 2_000;
/// Where nothing passes over a patch, lanes are tried so many to a boom's width (by trial).
const BESIDE_STEPS: f64 = 8.0;
/// Rounds at most; each takes as many lanes as there are patches far enough apart (limit).
const ROUNDS: usize = 60;
/// A lane of a round is taken only while it gains at least this share of what the round's best gained a second (by
/// trial).
const AS_GOOD: f64 = 0.6;
/// A lane that gains less than this is not worth starting, m2 (by trial) ...
const LEAST_GAIN_M2: f64 = 1.0;
/// ... or less than this share of the reach, on a lot so small that a square metre is much (by trial).
const LEAST_GAIN_SHARE: f64 = 0.002;
/// Shares of the reach at which stopping is shown (by trial).
const STOPS: [f64; 3] = [0.95, 0.97, 0.99];

/// What is still to be covered up to a share, and how it is counted; `None` where that is reached.
fn lacking(field: &Field, until: Until, covered: &Covered) -> Option<(By, Bits)> {
    if field.share(&covered.switched) < until.switched {
        return Some((By::Switched, field.left(&covered.switched)));
    }
    (field.share(&covered.swath) < until.swath).then(|| (By::Swath, field.left(&covered.swath)))
}

/// What goes from one filling of a lot to the next.
#[derive(Default)]
pub(super) struct Known {
    /// Patches that no lane is worth, by a hash of their cells: the sections switch past them.
    hopeless: BTreeSet<u64>,
    /// Once all lanes take longer than this together, filling them up is given up.
    pub(super) most_s: Option<f64>,
    /// Lanes are held to be worth a little less than they are.
    pub(super) luck: Luck,
}

impl Known {
    /// These lanes take too long already.
    pub(super) fn gives_up(&self, field: &Field, terms: &Terms, lanes: &[Arc<Laid>]) -> bool {
        let spacing_m = field.vehicle.boom_m() - terms.lap_m;
        self.most_s
            .is_some_and(|most_s| terms.lanes_s(lanes, spacing_m) > most_s)
    }
}

/// Adds lanes until the share of the reach is covered, or nothing more can be gained.
pub(super) fn fill(
    field: &Field,
    terms: &Terms,
    until: Until,
    (lanes, covered): (&mut Vec<Arc<Laid>>, &mut Covered),
    known: &mut Known,
) {
    let mut pool = Pool::new(By::Switched);
    let mut hopeless = Bits::none(&field.cells);
    for _ in 0..ROUNDS {
        let Some((by, mut left)) = lacking(field, until, covered) else {
            return;
        };
        left.take(&hopeless);
        if left.is_empty() {
            return;
        }
        if pool.by != by {
            pool = Pool::new(by);
        }
        let trial = Trial::of(field, terms, covered, by, known.luck);
        trial.candidates(&left, &mut pool, lanes.len(), known, &mut hopeless);
        let laid = lanes.len();
        let mut best = None;
        loop {
            let trial = Trial::of(field, terms, covered, by, known.luck);
            let Some((rate, lane)) = pool.next(lanes.len(), |lane| trial.weighed(lane)) else {
                break;
            };
            if rate < AS_GOOD * *best.get_or_insert(rate) {
                pool.add(vec![(rate, lane)], lanes.len());
                break;
            }
            let lane = Laid::of(field, lane);
            covered.add(&lane);
            lanes.push(lane);
            if known.gives_up(field, terms, lanes) {
                return;
            }
            if lacking(field, until, covered).is_none_or(|(now, _)| now != by) {
                break;
            }
        }
        if lanes.len() == laid {
            // What was found for these patches is gone: they are looked at anew.
            pool.seen.clear();
        }
    }
}

/// What lanes over a patch are weighed with.
struct Trial<'a> {
    field: &'a Field<'a>,
    terms: &'a Terms,
    covered: &'a Covered,
    by: By,
    least_cells: f64,
    luck: Luck,
}

impl<'a> Trial<'a> {
    fn of(
        field: &'a Field<'a>,
        terms: &'a Terms,
        covered: &'a Covered,
        by: By,
        luck: Luck,
    ) -> Self {
        let least_cells = LEAST_GAIN_SHARE * field.reach_cells as f64;
        Self {
            field,
            terms,
            covered,
            by,
            least_cells: least_cells.min(LEAST_GAIN_M2 / field.cell_m2()),
            luck,
        }
    }

    /// Adds lanes over the greatest patches left that none were found for yet.
    fn candidates(
        &self,
        left: &Bits,
        pool: &mut Pool,
        laid: usize,
        known: &mut Known,
        hopeless: &mut Bits,
    ) {
        let mut patches = connected(left, &self.field.cells);
        patches.truncate(MOST_PATCHES.max((left.count() / CELLS_A_PATCH) as usize));
        for patch in patches {
            let mut hasher = DefaultHasher::new();
            (self.by == By::Swath, &patch).hash(&mut hasher);
            let hash = hasher.finish();
            if !pool.seen.insert(hash) {
                continue;
            }
            if !known.hopeless.contains(&hash) {
                let own = self.best_over(&patch);
                if !own.is_empty() {
                    pool.add(own, laid);
                    continue;
                }
                known.hopeless.insert(hash);
            }
            for (column, row) in patch {
                hopeless.set(row, column..column + 1);
            }
        }
    }

    /// Lanes over a patch, along the usual directions where that gives any.
    fn best_over(&self, patch: &[(usize, usize)]) -> Vec<(f64, Lane)> {
        let lines = &self.field.lines;
        let (first, more) = lines.split_at(lines.len().min(MOST_LINES));
        let mut own = self.over(patch, first, false);
        self.bent_over(patch, &mut own);
        // A patch so small is worth a lane only beside others, which have lanes of their own.
        if (patch.len() as f64) < self.least_cells {
            return own;
        }
        if own.is_empty() {
            own = self.over(patch, more, false);
        }
        if own.is_empty() {
            own = self.over(patch, lines, true);
        }
        if own.is_empty() {
            own = self.beside(patch, lines);
        }
        own
    }

    /// Lanes along some lines over a patch, in its middle and along its sides, each with the cells it gains a second.
    fn over(
        &self,
        patch: &[(usize, usize)],
        lines: &[Line],
        across_throats: bool,
    ) -> Vec<(f64, Lane)> {
        let boom_m = self.field.vehicle.boom_m();
        // Beside what is covered lanes lap as everywhere.
        let slack_m = self
            .terms
            .lap_m
            .max(self.field.cells.cell_m)
            .min(boom_m / 4.0);
        let offsets_m = |low_m: f64, high_m: f64| {
            let mut offsets_m = vec![f64::midpoint(low_m, high_m)];
            if high_m - low_m > boom_m / 4.0 {
                offsets_m.push(low_m + boom_m / 2.0 - slack_m);
                offsets_m.push(high_m - boom_m / 2.0 + slack_m);
            }
            offsets_m
        };
        self.along(patch, lines, across_throats, offsets_m)
    }

    /// Lanes that pass so near to a patch that some of the boom comes over it: into a nook narrower than the body only a tip
    /// of the boom gets.
    fn beside(&self, patch: &[(usize, usize)], lines: &[Line]) -> Vec<(f64, Lane)> {
        let boom_m = self.field.vehicle.boom_m();
        let step_m = boom_m / BESIDE_STEPS;
        self.along(patch, lines, true, |low_m, high_m| {
            let from_m = low_m - boom_m / 2.0;
            let count = ((high_m - low_m + boom_m) / step_m).ceil() as usize;
            (1..count).map(|k| from_m + k as f64 * step_m).collect()
        })
    }

    /// Lanes along some lines at the offsets that a patch's spread across each gives.
    fn along(
        &self,
        patch: &[(usize, usize)],
        lines: &[Line],
        across_throats: bool,
        offsets_m: impl Fn(f64, f64) -> Vec<f64>,
    ) -> Vec<(f64, Lane)> {
        let mut found = Vec::new();
        for line in lines {
            let (low_m, high_m) = self.spread_m(patch, across(line.heading_rad));
            let over_m = self.spread_m(patch, Xy::at_angle(line.heading_rad));
            for offset_m in offsets_m(low_m, high_m) {
                for toward in [Toward::Ahead, Toward::Back] {
                    let Some(offset_m) = line.possible_m(toward, offset_m) else {
                        continue;
                    };
                    let first = found.len();
                    for lane in self.field.lanes_over(line, toward, offset_m, over_m) {
                        if across_throats || !self.field.manners.is_across(&lane) {
                            found.extend(self.weighed(lane));
                        }
                    }
                    for (_, lane) in &mut found[first..] {
                        lane.either_way = self.field.either_way(line, toward, lane);
                    }
                }
            }
        }
        found
    }

    /// How far a patch spreads in a direction, m from the plane's origin.
    fn spread_m(&self, patch: &[(usize, usize)], direction: Xy) -> (f64, f64) {
        let at = patch
            .iter()
            .map(|&(column, row)| self.field.cells.middle(column, row).dot(direction));
        at.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at_m| {
            (low.min(at_m), high.max(at_m))
        })
    }

    /// Parts of lanes along bent edges that pass over a patch.
    fn bent_over(&self, patch: &[(usize, usize)], found: &mut Vec<(f64, Lane)>) {
        let pool = &self.field.contours.pool;
        if pool.is_empty() {
            return;
        }
        let margin = Xy::new(1.0, 1.0);
        let half_m = self.field.vehicle.half_boom_m();
        let middles: Vec<Xy> = patch
            .iter()
            .map(|&(column, row)| self.field.cells.middle(column, row))
            .collect();
        let around = Extent::of(&middles);
        let around = Extent {
            low: around.low.plus(margin, -half_m),
            high: around.high.plus(margin, half_m),
        };
        for lane in pool {
            let near = lane
                .stations
                .windows(2)
                .filter(|pair| Extent::of(&[pair[0].at, pair[1].at]).meets(&around));
            let (from_m, to_m) = near
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), pair| {
                    (low.min(pair[0].along_m), high.max(pair[1].along_m))
                });
            if to_m - from_m < LEAST_LANE_M {
                continue;
            }
            let mut part = lane.clone();
            part.cut(from_m, to_m);
            part.edge_pass = false;
            found.extend(self.weighed(part));
        }
    }

    /// A lane with what it gains a second, if that is worth starting.
    fn weighed(&self, lane: Lane) -> Option<(f64, Lane)> {
        let gain = self.field.gain(&lane, self.covered, self.by);
        if f64::from(gain.cells) < self.least_cells {
            return None;
        }
        let lane = self.field.trim(lane, &gain)?;
        let spacing_m = self.field.vehicle.boom_m() - self.terms.lap_m;
        let rate = f64::from(gain.cells) / self.terms.lane_s(&lane, spacing_m);
        Some((rate * self.luck.of(&lane), lane))
    }
}

/// What it takes to stop at other shares of the reach.
pub(super) fn stops(field: &Field, terms: &Terms, lanes: &[Arc<Laid>]) -> Vec<Stop> {
    STOPS
        .iter()
        .map(|&share| {
            let until = Until::share(share);
            let mut own = lanes.to_vec();
            let mut covered = Covered::by_lanes(field, &own);
            fill(
                field,
                terms,
                until,
                (&mut own, &mut covered),
                &mut Known::default(),
            );
            let own = thin::thinned(field, terms, until, own);
            let (own, between) = order::order(field, &own, terms.turning.as_ref());
            Stop {
                share,
                lanes: own.len(),
                length_m: own.iter().map(Lane::length_m).sum(),
                turning_s: terms.turning.is_some().then_some(between),
            }
        })
        .collect()
}
