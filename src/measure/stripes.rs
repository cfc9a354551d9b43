//! Lanes side by side along one direction, laps spread evenly over the fewest that cover.

use super::bits::Bits;
use super::field::{By, Covered, EVERYWHERE, Field};
use super::footprint::Laid;
use super::lane::Lane;
use super::line::{Line, Toward, across};
use super::terms::Terms;
use std::f64::consts::FRAC_PI_2;
use std::sync::Arc;

/// A lane that covers less than this share of its own strip by structure is left to the filling (by trial).
pub(super) const LEAST_SHARE: f64 = 0.25;
/// A number of lanes is rounded up only from this on: the cells are that coarse (by trial).
const PART_OF_LANE: f64 = 0.02;
/// Lanes in either heading that cover within this of each other are alike (by trial).
const ALIKE: f64 = 0.98;

/// Headings of the lanes across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Headings {
    /// Every other lane the other way.
    Both,
    /// All along the line.
    Ahead,
    /// All against it.
    Back,
    /// Each line from both ends: a lane ends a body's length short of the curb ahead, and another begins backed up to that
    /// curb.
    Twice,
}

impl Headings {
    pub(super) const ALL: [Self; 4] = [Self::Both, Self::Twice, Self::Ahead, Self::Back];
}

/// Lanes along one direction over what is not covered of a part; given up once they take longer than `most_s`.
pub(super) fn stripe(
    field: &Field,
    terms: &Terms,
    part: &Bits,
    (line, headings): (&Line, Headings),
    (lanes, covered): (&mut Vec<Arc<Laid>>, &mut Covered),
    most_s: f64,
) {
    let mut open = part.clone();
    open.keep(&field.reach);
    let whole = open.clone();
    open.take(&covered.swath);
    let Some((mut low_m, mut high_m)) = spread_m(field, &open, line.heading_rad) else {
        return;
    };
    if open == whole {
        // The ground's own corners are exact where cells are not.
        let across = across(line.heading_rad);
        let slack_m = 1.5 * field.cells.cell_m;
        let corners = field.reach_edges.iter().map(|(a, _)| a.dot(across));
        let near = |edge_m: f64| {
            corners
                .clone()
                .filter(move |at_m| (at_m - edge_m).abs() <= slack_m)
        };
        low_m = near(low_m).min_by(f64::total_cmp).unwrap_or(low_m);
        high_m = near(high_m).max_by(f64::total_cmp).unwrap_or(high_m);
    } else {
        low_m -= terms.lap_m;
        high_m += terms.lap_m;
    }
    // Stretches of the line that pass over other parts are theirs.
    let over_m = spread_m(field, &open, line.heading_rad - FRAC_PI_2).unwrap_or(EVERYWHERE);
    let offsets = offsets_m(low_m, high_m, field.vehicle.boom_m(), terms.lap_m);
    let before = lanes.len();
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    for (index, offset_m) in offsets.into_iter().enumerate() {
        if terms.lanes_s(&lanes[before..], spacing_m) > most_s {
            return;
        }
        let found_toward = |toward: Toward, covered: &Covered| {
            worthwhile(field, line, toward, offset_m, over_m, covered)
        };
        let (toward, (found, _)) = match headings {
            Headings::Ahead => (Toward::Ahead, found_toward(Toward::Ahead, covered)),
            Headings::Back => (Toward::Back, found_toward(Toward::Back, covered)),
            Headings::Both | Headings::Twice => better_way(
                index,
                found_toward(Toward::Ahead, covered),
                found_toward(Toward::Back, covered),
            ),
        };
        add(field, found, lanes, covered);
        if headings == Headings::Twice {
            let (again, _) = found_toward(toward.turned(), covered);
            add(field, again, lanes, covered);
        }
    }
}

fn add(field: &Field, found: Vec<Lane>, lanes: &mut Vec<Arc<Laid>>, covered: &mut Covered) {
    for lane in found {
        let lane = Laid::of(field, lane);
        covered.add(&lane);
        lanes.push(lane);
    }
}

/// Offsets of the fewest lanes that cover from `low_m` to `high_m`, laps spread evenly.
pub(super) fn offsets_m(low_m: f64, high_m: f64, boom_m: f64, lap_m: f64) -> Vec<f64> {
    let across_m = high_m - low_m;
    let spacing_m = (boom_m - lap_m).max(boom_m / 10.0);
    let count = ((across_m - lap_m) / spacing_m - PART_OF_LANE)
        .ceil()
        .max(1.0) as usize;
    if count == 1 {
        return vec![f64::midpoint(low_m, high_m)];
    }
    let step_m = (across_m - boom_m) / (count - 1) as f64;
    (0..count)
        .map(|k| low_m + boom_m / 2.0 + k as f64 * step_m)
        .collect()
}

/// The heading at one offset: every other lane the other way, unless that covers less.
fn better_way(
    index: usize,
    ahead: (Vec<Lane>, u32),
    back: (Vec<Lane>, u32),
) -> (Toward, (Vec<Lane>, u32)) {
    let (ahead_cells, back_cells) = (f64::from(ahead.1), f64::from(back.1));
    let alike = ahead_cells.min(back_cells) >= ALIKE * ahead_cells.max(back_cells);
    match if alike {
        index.is_multiple_of(2)
    } else {
        ahead_cells > back_cells
    } {
        true => (Toward::Ahead, ahead),
        false => (Toward::Back, back),
    }
}

/// Lanes at an offset that add enough ground, and the cells that they add.
fn worthwhile(
    field: &Field,
    line: &Line,
    toward: Toward,
    offset_m: f64,
    over_m: (f64, f64),
    covered: &Covered,
) -> (Vec<Lane>, u32) {
    let Some(offset_m) = line.possible_m(toward, offset_m) else {
        return (Vec::new(), 0);
    };
    let mut cells = 0;
    let lanes = field.lanes_over(line, toward, offset_m, over_m).into_iter();
    let lanes = lanes
        .filter(|lane| !field.manners.is_across(lane))
        .filter_map(|lane| {
            let gain = field.gain(&lane, covered, By::Switched);
            let mut lane = field.trim(lane, &gain)?;
            if !is_enough(field, &lane, gain.cells) {
                return None;
            }
            lane.either_way = field.either_way(line, toward, &lane);
            cells += gain.cells;
            Some(lane)
        })
        .collect();
    (lanes, cells)
}

/// A lane covers enough of its own strip to be laid by structure.
pub(super) fn is_enough(field: &Field, lane: &Lane, cells: u32) -> bool {
    f64::from(cells) * field.cell_m2() >= LEAST_SHARE * lane.swept_m2(field.vehicle)
}

/// How far cells reach across a heading, m left of the plane's origin.
pub(super) fn spread_m(field: &Field, bits: &Bits, heading_rad: f64) -> Option<(f64, f64)> {
    let across = across(heading_rad);
    let half_m = field.cells.cell_m / 2.0 * (across.x_m.abs().max(across.y_m.abs()));
    let (mut low_m, mut high_m) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, first, last) in bits.row_ends() {
        for column in [first, last] {
            let at_m = field.cells.middle(column, row).dot(across);
            low_m = low_m.min(at_m - half_m);
            high_m = high_m.max(at_m + half_m);
        }
    }
    (low_m < high_m).then_some((low_m, high_m))
}

#[cfg(test)]
mod tests {
    use super::offsets_m;

    #[test]
    fn laps_are_spread_evenly() {
        // 120 ft at 10 ft less 1 ft: 14 lanes, the outer ones along the edges.
        let offsets = offsets_m(0.0, 120.0, 10.0, 1.0);
        assert_eq!(offsets.len(), 14);
        assert!((offsets[0] - 5.0).abs() < 1e-12 && (offsets[13] - 115.0).abs() < 1e-12);
        let step = 110.0 / 13.0;
        assert!(
            offsets
                .windows(2)
                .all(|pair| (pair[1] - pair[0] - step).abs() < 1e-12)
        );
    }

    #[test]
    fn what_is_narrower_than_the_boom_takes_one_lane_in_the_middle() {
        assert_eq!(offsets_m(2.0, 10.0, 10.0, 1.0), [6.0]);
    }
}
