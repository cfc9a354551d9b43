//! Lanes for what is left, each chosen by ground gained a second, and what stopping earlier or later takes.

use super::bits::{Bits, Cells};
use super::field::{Field, Line, Toward, across};
use super::lane::Lane;
use super::order;
use super::plan::{Stop, Terms};

/// Directions tried for what is left.
const MOST_LINES: usize = 5;
/// Patches looked at in one round, the greatest first.
const MOST_PATCHES: usize = 6;
/// Rounds at most; each takes as many lanes as there are patches far enough apart.
const ROUNDS: usize = 40;
/// A lane of a round is taken only while it gains at least this share of what the round's best gained a second.
const AS_GOOD: f64 = 0.6;
/// Only lanes that cover less ground of their own a second than this share of what all do are left out: a good lane left
/// out would leave a bare stripe.
const AS_POOR: f64 = 0.6;
/// With more lanes than this none is left out: each needs bit rows of its own.
const MOST_THINNED: usize = 400;
/// A lane that gains less than this is not worth starting, m2 ...
const LEAST_GAIN_M2: f64 = 1.0;
/// ... or less than this share of the reach, on a lot so small that a square metre is much.
const LEAST_GAIN_SHARE: f64 = 0.002;
/// Shares of the reach at which stopping is shown.
const STOPS: [f64; 3] = [0.95, 0.97, 0.99];

/// Adds lanes until the share of the reach is covered, or nothing more can be gained.
pub(super) fn fill(
    field: &Field,
    terms: &Terms,
    until: f64,
    lanes: &mut Vec<Lane>,
    covered: &mut Bits,
) {
    // Patches that no lane is worth: the sections switch past them.
    let mut hopeless = Bits::none(&field.cells);
    for _ in 0..ROUNDS {
        if field.share(covered) >= until {
            return;
        }
        let mut left = field.reach.clone();
        left.take(covered);
        left.take(&hopeless);
        if left.is_empty() {
            return;
        }
        let mut found = candidates(field, terms, covered, &left, &mut hopeless);
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let Some(best) = found.first().map(|(rate, _)| *rate) else {
            continue;
        };
        for (_, lane) in found
            .into_iter()
            .take_while(|(rate, _)| *rate >= AS_GOOD * best)
        {
            let gain = field.gain(&lane, covered);
            let spacing_m = field.vehicle.boom_m() - terms.lap_m;
            if f64::from(gain.cells) / terms.lane_s(&lane, spacing_m) < AS_GOOD * best {
                continue;
            }
            field.cover(&lane, covered);
            lanes.push(lane);
            if field.share(covered) >= until {
                return;
            }
        }
    }
}

/// Lanes over the greatest patches left, with the cells that each gains a second.
fn candidates(
    field: &Field,
    terms: &Terms,
    covered: &Bits,
    left: &Bits,
    hopeless: &mut Bits,
) -> Vec<(f64, Lane)> {
    let least_cells = LEAST_GAIN_SHARE * field.reach.count() as f64;
    let least_cells = least_cells.min(LEAST_GAIN_M2 / field.cell_m2());
    let trial = Trial {
        field,
        terms,
        covered,
        least_cells,
    };
    let mut found = Vec::new();
    for patch in patches(field, left) {
        let (first, more) = field.lines.split_at(field.lines.len().min(MOST_LINES));
        let mut own = trial.over(&patch, first);
        if own.is_empty() {
            own = trial.over(&patch, more);
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

/// What lanes over a patch are weighed with.
struct Trial<'a> {
    field: &'a Field<'a>,
    terms: &'a Terms,
    covered: &'a Bits,
    least_cells: f64,
}

impl Trial<'_> {
    /// Lanes along some lines over a patch, in its middle and along its sides, each with the cells it gains a second.
    fn over(&self, patch: &[(usize, usize)], lines: &[Line]) -> Vec<(f64, Lane)> {
        let boom_m = self.field.vehicle.boom_m();
        let mut found = Vec::new();
        for line in lines {
            let across = across(line.heading_rad);
            let at = patch
                .iter()
                .map(|&(column, row)| self.field.cells.middle(column, row).dot(across));
            let low_m = at.clone().fold(f64::INFINITY, f64::min);
            let high_m = at.fold(f64::NEG_INFINITY, f64::max);
            let slack_m = self.field.cells.cell_m.min(boom_m / 8.0);
            let mut offsets_m = vec![f64::midpoint(low_m, high_m)];
            if high_m - low_m > boom_m / 4.0 {
                offsets_m.push(low_m + boom_m / 2.0 - slack_m);
                offsets_m.push(high_m - boom_m / 2.0 + slack_m);
            }
            for offset_m in offsets_m {
                for toward in [Toward::Ahead, Toward::Back] {
                    self.at(line, toward, offset_m, &mut found);
                }
            }
        }
        found
    }

    fn at(&self, line: &Line, toward: Toward, offset_m: f64, found: &mut Vec<(f64, Lane)>) {
        let spacing_m = self.field.vehicle.boom_m() - self.terms.lap_m;
        let Some(offset_m) = line.possible_m(toward, offset_m) else {
            return;
        };
        for lane in self.field.lanes(line, toward, offset_m) {
            let gain = self.field.gain(&lane, self.covered);
            if f64::from(gain.cells) < self.least_cells {
                continue;
            }
            let Some(mut lane) = self.field.trim(lane, &gain) else {
                continue;
            };
            lane.either_way = self.field.either_way(line, toward, &lane);
            let rate = f64::from(gain.cells) / self.terms.lane_s(&lane, spacing_m);
            found.push((rate, lane));
        }
    }
}

/// The greatest connected patches of cells.
fn patches(field: &Field, left: &Bits) -> Vec<Vec<(usize, usize)>> {
    let mut patches = connected(left, &field.cells);
    patches.truncate(MOST_PATCHES);
    patches
}

/// Connected patches of cells, the greatest first.
pub(super) fn connected(left: &Bits, cells: &Cells) -> Vec<Vec<(usize, usize)>> {
    let mut waiting = left.clone();
    let mut patches: Vec<Vec<(usize, usize)>> = Vec::new();
    let mut from = 0;
    while let Some((word, start)) = waiting.first_from(from) {
        from = word;
        waiting.clear(start.1, start.0..start.0 + 1);
        let mut patch = vec![start];
        let mut next = 0;
        while next < patch.len() {
            let (column, row) = patch[next];
            next += 1;
            for (dc, dr) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                let (Some(c), Some(r)) =
                    (column.checked_add_signed(dc), row.checked_add_signed(dr))
                else {
                    continue;
                };
                if c < cells.columns && r < cells.rows && waiting.has(c, r) {
                    waiting.clear(r, c..c + 1);
                    patch.push((c, r));
                }
            }
        }
        patches.push(patch);
    }
    patches.sort_by_key(|patch| std::cmp::Reverse(patch.len()));
    patches
}

/// Leaves out lanes, those that cover least ground of their own a second first, as long as the share stays
/// covered.
pub(super) fn pruned(field: &Field, terms: &Terms, until: f64, lanes: Vec<Lane>) -> Vec<Lane> {
    if lanes.len() > MOST_THINNED {
        return lanes;
    }
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let covers: Vec<Bits> = lanes
        .iter()
        .map(|lane| {
            let mut own = Bits::none(&field.cells);
            field.cover(lane, &mut own);
            own.keep(&field.reach);
            own
        })
        .collect();
    let mut kept: Vec<bool> = vec![true; lanes.len()];
    let whole_s: f64 = lanes.iter().map(|lane| terms.lane_s(lane, spacing_m)).sum();
    let poor = AS_POOR * covered_by(field, &covers, &kept).count() as f64 / whole_s;
    let all = field.reach.count() as f64;
    let mut spare = covered_by(field, &covers, &kept).count() as f64 - until * all;
    while spare >= 0.0 {
        let alone = own_counts(&covers, &kept, field);
        let rate = |k: usize| alone[k] as f64 / terms.lane_s(&lanes[k], spacing_m);
        let fits =
            (0..lanes.len()).filter(|&k| kept[k] && alone[k] as f64 <= spare && rate(k) <= poor);
        let Some(k) = fits.min_by(|&a, &b| rate(a).total_cmp(&rate(b))) else {
            break;
        };
        kept[k] = false;
        spare -= alone[k] as f64;
    }
    lanes
        .into_iter()
        .zip(kept)
        .filter_map(|(lane, kept)| kept.then_some(lane))
        .collect()
}

fn covered_by(field: &Field, covers: &[Bits], kept: &[bool]) -> Bits {
    let mut covered = Bits::none(&field.cells);
    for (cover, kept) in covers.iter().zip(kept) {
        if *kept {
            covered.add(cover);
        }
    }
    covered
}

/// Of each kept lane: cells that no other kept lane covers.
fn own_counts(covers: &[Bits], kept: &[bool], field: &Field) -> Vec<u64> {
    let (mut once, mut twice) = (Bits::none(&field.cells), Bits::none(&field.cells));
    for (cover, _) in covers.iter().zip(kept).filter(|(_, kept)| **kept) {
        let mut again = once.clone();
        again.keep(cover);
        twice.add(&again);
        once.add(cover);
    }
    once.take(&twice);
    covers
        .iter()
        .zip(kept)
        .map(|(cover, kept)| if *kept { cover.count_common(&once) } else { 0 })
        .collect()
}

/// What it takes to stop at other shares of the reach.
pub(super) fn stops(field: &Field, terms: &Terms, lanes: &[Lane]) -> Vec<Stop> {
    STOPS
        .iter()
        .map(|&share| {
            let mut own = lanes.to_vec();
            let mut covered = Bits::none(&field.cells);
            own.iter().for_each(|lane| field.cover(lane, &mut covered));
            fill(field, terms, share, &mut own, &mut covered);
            let own = pruned(field, terms, share, own);
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
