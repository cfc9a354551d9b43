//! Lanes for what is left, each chosen by ground gained a second, and what stopping earlier or later takes.

use super::bits::Bits;
use super::field::{By, Covered, Field, LEAST_LANE_M, Line, Toward, across};
use super::lane::Lane;
use super::order;
use super::patches::connected;
use super::terms::{SWITCHED_SHARE, Stop, Terms};
use super::thin;
use crate::geometry::extent::Extent;
use crate::geometry::plane::Xy;

/// Directions tried for what is left (by trial).
const MOST_LINES: usize = 5;
/// Patches looked at in one round, the greatest first (by trial).
const MOST_PATCHES: usize = 6;
/// ... and so many times as many where a lot is full of islands: one for so many cells left (by trial).
const CELLS_A_PATCH: u64 = 2_000;
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
fn lacking(field: &Field, until: f64, covered: &Covered) -> Option<(By, Bits)> {
    if field.share(&covered.switched) < until.min(SWITCHED_SHARE) {
        return Some((By::Switched, field.left(&covered.switched)));
    }
    (field.share(&covered.swath) < until).then(|| (By::Swath, field.left(&covered.swath)))
}

/// Adds lanes until the share of the reach is covered, or nothing more can be gained.
pub(super) fn fill(
    field: &Field,
    terms: &Terms,
    until: f64,
    lanes: &mut Vec<Lane>,
    covered: &mut Covered,
) {
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    // Patches that no lane is worth: the sections switch past them.
    let mut hopeless = Bits::none(&field.cells);
    for _ in 0..ROUNDS {
        let Some((by, mut left)) = lacking(field, until, covered) else {
            return;
        };
        left.take(&hopeless);
        if left.is_empty() {
            return;
        }
        let trial = Trial::of(field, terms, covered, by);
        let mut found = trial.candidates(&left, &mut hopeless);
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let Some(best) = found.first().map(|(rate, _)| *rate) else {
            continue;
        };
        let good = found
            .into_iter()
            .take_while(|(rate, _)| *rate >= AS_GOOD * best);
        for (_, lane) in good {
            let gain = field.gain(&lane, covered, by);
            if f64::from(gain.cells) / terms.lane_s(&lane, spacing_m) < AS_GOOD * best {
                continue;
            }
            field.cover(&lane, covered);
            lanes.push(lane);
            if lacking(field, until, covered).is_none_or(|(now, _)| now != by) {
                break;
            }
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
}

impl<'a> Trial<'a> {
    fn of(field: &'a Field<'a>, terms: &'a Terms, covered: &'a Covered, by: By) -> Self {
        let least_cells = LEAST_GAIN_SHARE * field.reach_cells as f64;
        Self {
            field,
            terms,
            covered,
            by,
            least_cells: least_cells.min(LEAST_GAIN_M2 / field.cell_m2()),
        }
    }

    /// Lanes over the greatest patches left, with the cells that each gains a second.
    fn candidates(&self, left: &Bits, hopeless: &mut Bits) -> Vec<(f64, Lane)> {
        let mut patches = connected(left, &self.field.cells);
        patches.truncate(MOST_PATCHES.max((left.count() / CELLS_A_PATCH) as usize));
        let lines = &self.field.lines;
        let (first, more) = lines.split_at(lines.len().min(MOST_LINES));
        let mut found = Vec::new();
        for patch in patches {
            let mut own = self.over(&patch, first, false);
            self.bent_over(&patch, &mut own);
            if own.is_empty() {
                own = self.over(&patch, more, false);
            }
            if own.is_empty() {
                own = self.over(&patch, lines, true);
            }
            if own.is_empty() {
                for (column, row) in patch {
                    hopeless.set(row, column..column + 1);
                }
            }
            found.extend(own);
        }
        found
    }

    /// Lanes along some lines over a patch, in its middle and along its sides, each with the cells it gains a second.
    fn over(
        &self,
        patch: &[(usize, usize)],
        lines: &[Line],
        across_throats: bool,
    ) -> Vec<(f64, Lane)> {
        let boom_m = self.field.vehicle.boom_m();
        let mut found = Vec::new();
        for line in lines {
            let across = across(line.heading_rad);
            let at = patch
                .iter()
                .map(|&(column, row)| self.field.cells.middle(column, row).dot(across));
            let low_m = at.clone().fold(f64::INFINITY, f64::min);
            let high_m = at.fold(f64::NEG_INFINITY, f64::max);
            // Beside what is covered lanes lap as everywhere.
            let slack_m = self
                .terms
                .lap_m
                .max(self.field.cells.cell_m)
                .min(boom_m / 4.0);
            let mut offsets_m = vec![f64::midpoint(low_m, high_m)];
            if high_m - low_m > boom_m / 4.0 {
                offsets_m.push(low_m + boom_m / 2.0 - slack_m);
                offsets_m.push(high_m - boom_m / 2.0 + slack_m);
            }
            for offset_m in offsets_m {
                for toward in [Toward::Ahead, Toward::Back] {
                    self.at(line, toward, offset_m, across_throats, &mut found);
                }
            }
        }
        found
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
            self.weigh(part, found);
        }
    }

    /// Takes a lane with what it gains a second, if that is worth starting.
    fn weigh(&self, lane: Lane, found: &mut Vec<(f64, Lane)>) {
        let gain = self.field.gain(&lane, self.covered, self.by);
        if f64::from(gain.cells) < self.least_cells {
            return;
        }
        if let Some(lane) = self.field.trim(lane, &gain) {
            let spacing_m = self.field.vehicle.boom_m() - self.terms.lap_m;
            let rate = f64::from(gain.cells) / self.terms.lane_s(&lane, spacing_m);
            found.push((rate, lane));
        }
    }

    fn at(
        &self,
        line: &Line,
        toward: Toward,
        offset_m: f64,
        across_throats: bool,
        found: &mut Vec<(f64, Lane)>,
    ) {
        let Some(offset_m) = line.possible_m(toward, offset_m) else {
            return;
        };
        let first = found.len();
        for lane in self.field.lanes(line, toward, offset_m) {
            if across_throats || !self.field.manners.is_across(&lane) {
                self.weigh(lane, found);
            }
        }
        for (_, lane) in &mut found[first..] {
            lane.either_way = self.field.either_way(line, toward, lane);
        }
    }
}

/// What it takes to stop at other shares of the reach.
pub(super) fn stops(field: &Field, terms: &Terms, lanes: &[Lane]) -> Vec<Stop> {
    STOPS
        .iter()
        .map(|&share| {
            let mut own = lanes.to_vec();
            let mut covered = field.covered_by(&own);
            fill(field, terms, share, &mut own, &mut covered);
            let own = thin::thinned(field, terms, share, own);
            let (own, between) = order::order(field, own, terms.turning.as_ref());
            Stop {
                share,
                lanes: own.len(),
                length_m: own.iter().map(Lane::length_m).sum(),
                turning_s: terms.turning.is_some().then_some(between),
            }
        })
        .collect()
}
