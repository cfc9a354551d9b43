//! The drive plan: straight lanes that cover what is reached, made in several ways, the quickest kept.
//!
//! None of the ways wins everywhere: no, one or two passes along the edges first; lanes in one heading or
//! both; along each edge direction; with the lot cut at a reflex corner, each part in its own direction.
//! What a way leaves is filled lane by lane, each the one that covers most ground a second.

use super::bits::Bits;
use super::field::{Field, Line, Toward, across};
use super::fill;
use super::lane::Lane;
use super::order;
use super::parts;
use super::turns::Turning;
use crate::geometry::plane::Xy;
use rayon::prelude::*;

/// Ways of driving that are tried for the lanes across a lot: those with most edge along them.
const MOST_LINES: usize = 4;
/// ... and for each part of a lot that is cut.
const MOST_PART_LINES: usize = 3;
/// Edges shorter than this get no pass along them, m.
const LEAST_EDGE_M: f64 = 3.0;
/// Plans that are finished and timed in full; the others fell behind by their first lanes.
const FINISHED: usize = 5;
/// Of plans within this of the quickest the one with fewest lanes is kept.
const AS_QUICK: f64 = 1.03;
/// A lane that covers less than this share of its own strip by structure is left to the filling.
const LEAST_SHARE: f64 = 0.25;
/// Ground left over costs so many times what the same ground costs in a long lane: a few square metres take a lane and a
/// turn of their own.
const LEFT_OVER_COST: f64 = 25.0;
/// A number of lanes is rounded up only from this on: the cells are that coarse.
const PART_OF_LANE: f64 = 0.02;

/// How the lanes of a plan were found.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Manner {
    /// Passes along the edges first.
    pub edge_passes: usize,
    /// All lanes across in one heading.
    pub one_heading: bool,
    /// Direction of the lanes across, degrees counter-clockwise from the lot's long edge.
    pub direction_deg: f64,
    /// Cut at a reflex corner.
    pub cut: bool,
}

/// A plan.
pub(super) struct Plan {
    /// How it was made.
    pub(super) manner: Manner,
    /// In driving order.
    pub(super) lanes: Vec<Lane>,
    /// Between lanes, s; metres where turning is not known.
    pub(super) between: f64,
    /// Stopping at other shares of the reach.
    pub(super) stops: Vec<Stop>,
}

/// What stopping elsewhere takes.
#[derive(Debug, Clone, Copy, serde::Serialize)]
pub struct Stop {
    /// Share of the reach.
    pub share: f64,
    /// Lanes.
    pub lanes: usize,
    /// Their length, m.
    pub length_m: f64,
    /// Time between lanes, s; `None` where turning is not known.
    pub turning_s: Option<f64>,
}

/// What planning needs beside the field.
pub(super) struct Terms {
    pub(super) lap_m: f64,
    /// Spraying speed, m/s; where the fleet file has none, lanes are weighed at a walking pace more.
    pub(super) speed_m_s: f64,
    pub(super) until: f64,
    pub(super) turning: Option<Turning>,
}

impl Terms {
    /// Seconds that a lane takes with the turn after it, roughly.
    pub(super) fn lane_s(&self, lane: &Lane, spacing_m: f64) -> f64 {
        lane.length_m() / self.speed_m_s + self.turn_s(spacing_m)
    }

    fn turn_s(&self, spacing_m: f64) -> f64 {
        /// Where nothing is known of turning, s: only ranks lanes, never shown.
        const SOME_TURN_S: f64 = 15.0;
        self.turning.map_or(SOME_TURN_S, |turning| {
            let tight = spacing_m < 2.0 * turning.radius_m;
            let way_m = std::f64::consts::PI * turning.radius_m
                + (spacing_m - 2.0 * turning.radius_m).max(0.0);
            way_m / turning.speed_m_s + if tight { 2.0 * turning.gear_s } else { 0.0 }
        })
    }
}

/// A plan before it is filled and ordered.
struct Draft {
    manner: Manner,
    lanes: Vec<Lane>,
    covered: Bits,
    score: f64,
}

/// The best plan of all ways; `None` where nothing is reached.
pub(super) fn plan(field: &Field, terms: &Terms) -> Option<Plan> {
    if field.reach.is_empty() {
        return None;
    }
    let mut drafts = drafts(field, terms);
    drafts.sort_by(|a, b| a.score.total_cmp(&b.score));
    drafts.truncate(FINISHED);
    let mut plans: Vec<Plan> = drafts
        .into_par_iter()
        .map(|draft| finish(field, terms, draft))
        .collect();
    let seconds = |plan: &Plan| {
        plan.lanes.iter().map(Lane::length_m).sum::<f64>() / terms.speed_m_s + plan.between
    };
    let best = plans.iter().map(seconds).min_by(f64::total_cmp)?;
    plans.retain(|plan| seconds(plan) <= best * AS_QUICK);
    plans.sort_by(|a, b| {
        (a.lanes.len(), seconds(a))
            .partial_cmp(&(b.lanes.len(), seconds(b)))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let mut plan = plans.into_iter().next()?;
    plan.stops = fill::stops(field, terms, &plan.lanes);
    Some(plan)
}

fn drafts(field: &Field, terms: &Terms) -> Vec<Draft> {
    let first: Vec<(usize, Vec<Lane>)> = (0..=2)
        .map(|passes| (passes, edge_passes(field, terms, passes)))
        .filter(|(passes, lanes)| *passes == 0 || !lanes.is_empty())
        .collect();
    let lines = field.lines.len().min(MOST_LINES);
    // With passes along the edges the ends are covered whichever way the lanes across are driven.
    let manners = |f: usize| {
        if first[f].0 == 0 {
            &Manners::ALL[..]
        } else {
            &Manners::ALL[..1]
        }
    };
    let ways: Vec<(usize, usize, Manners)> = (0..first.len())
        .flat_map(|f| (0..lines).map(move |line| (f, line)))
        .flat_map(|(f, line)| manners(f).iter().map(move |&manner| (f, line, manner)))
        .collect();
    let mut drafts: Vec<Draft> = ways
        .into_par_iter()
        .map(|(f, line, manner)| draft(field, terms, &first[f], line, manner, None))
        .collect();
    let cuts = parts::cuts(field);
    let cut: Vec<Draft> = (0..first.len())
        .flat_map(|f| cuts.iter().map(move |cut| (f, cut)))
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(f, cut)| draft(field, terms, &first[f], 0, Manners::Both, Some(cut)))
        .collect();
    drafts.extend(cut);
    let along: Vec<Draft> = (0..lines)
        .flat_map(|line| {
            let cells = parts::cells_along(field, &field.lines[line]);
            cells.map(|cells| (line, cells))
        })
        .collect::<Vec<_>>()
        .into_par_iter()
        .flat_map_iter(|(line, cells)| {
            let first = &first;
            (0..first.len()).map(move |f| celled(field, terms, &first[f], line, &cells))
        })
        .collect();
    drafts.extend(along);
    drafts
}

/// Headings of the lanes across.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Manners {
    Both,
    Ahead,
    Back,
}

impl Manners {
    const ALL: [Self; 3] = [Self::Both, Self::Ahead, Self::Back];
}

fn draft(
    field: &Field,
    terms: &Terms,
    (passes, first): &(usize, Vec<Lane>),
    line: usize,
    manner: Manners,
    cut: Option<&parts::Cut>,
) -> Draft {
    let mut covered = Bits::none(&field.cells);
    let mut lanes = first.clone();
    lanes
        .iter()
        .for_each(|lane| field.cover(lane, &mut covered));
    match cut {
        None => stripe(
            field,
            terms,
            &field.reach,
            &field.lines[line],
            manner,
            &mut lanes,
            &mut covered,
        ),
        Some(cut) => {
            for part in &cut.parts {
                stripe_best(field, terms, part, &mut lanes, &mut covered);
            }
        }
    }
    Draft {
        manner: Manner {
            edge_passes: *passes,
            one_heading: manner != Manners::Both,
            direction_deg: field.lines[line].heading_rad.to_degrees(),
            cut: cut.is_some(),
        },
        score: score(field, terms, &lanes, &covered),
        lanes,
        covered,
    }
}

/// Lanes along one line in each cell for itself.
fn celled(
    field: &Field,
    terms: &Terms,
    (passes, first): &(usize, Vec<Lane>),
    line: usize,
    cells: &parts::Cut,
) -> Draft {
    let mut covered = Bits::none(&field.cells);
    let mut lanes = first.clone();
    for lane in &lanes {
        field.cover(lane, &mut covered);
    }
    let line = &field.lines[line];
    for part in &cells.parts {
        stripe(
            field,
            terms,
            part,
            line,
            Manners::Both,
            &mut lanes,
            &mut covered,
        );
    }
    Draft {
        manner: Manner {
            edge_passes: *passes,
            one_heading: false,
            direction_deg: line.heading_rad.to_degrees(),
            cut: true,
        },
        score: score(field, terms, &lanes, &covered),
        lanes,
        covered,
    }
}

/// Time of the lanes, with what they leave.
fn score(field: &Field, terms: &Terms, lanes: &[Lane], covered: &Bits) -> f64 {
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let time_s: f64 = lanes.iter().map(|lane| terms.lane_s(lane, spacing_m)).sum();
    let mut left = field.reach.clone();
    left.take(covered);
    let left_m2 = left.count() as f64 * field.cell_m2();
    let allowed_m2 = (1.0 - terms.until) * field.reach.count() as f64 * field.cell_m2();
    let over_m2 = (left_m2 - allowed_m2).max(0.0);
    time_s + LEFT_OVER_COST * over_m2 / (field.vehicle.boom_m() * terms.speed_m_s)
}

/// Stripes a part along whichever direction does it quickest.
fn stripe_best(
    field: &Field,
    terms: &Terms,
    part: &Bits,
    lanes: &mut Vec<Lane>,
    covered: &mut Bits,
) {
    let tried = (0..field.lines.len().min(MOST_PART_LINES)).map(|line| {
        let (mut own, mut own_covered) = (Vec::new(), covered.clone());
        stripe(
            field,
            terms,
            part,
            &field.lines[line],
            Manners::Both,
            &mut own,
            &mut own_covered,
        );
        let mut left = part.clone();
        left.keep(&field.reach);
        left.take(&own_covered);
        let left_m2 = left.count() as f64 * field.cell_m2();
        let spacing_m = field.vehicle.boom_m() - terms.lap_m;
        let time_s: f64 = own.iter().map(|lane| terms.lane_s(lane, spacing_m)).sum();
        let score = time_s + LEFT_OVER_COST * left_m2 / (field.vehicle.boom_m() * terms.speed_m_s);
        (score, own, own_covered)
    });
    if let Some((_, own, own_covered)) = tried.min_by(|a, b| a.0.total_cmp(&b.0)) {
        lanes.extend(own);
        *covered = own_covered;
    }
}

/// Lanes along one direction over what is not covered of a part, laps spread evenly.
fn stripe(
    field: &Field,
    terms: &Terms,
    part: &Bits,
    line: &Line,
    manner: Manners,
    lanes: &mut Vec<Lane>,
    covered: &mut Bits,
) {
    let mut open = part.clone();
    open.keep(&field.reach);
    let untouched = {
        let mut left = open.clone();
        left.take(covered);
        let same = left == open;
        open = left;
        same
    };
    let Some((mut low_m, mut high_m)) = spread_m(field, &open, line.heading_rad) else {
        return;
    };
    if untouched {
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
    let offsets = offsets_m(low_m, high_m, field.vehicle.boom_m(), terms.lap_m);
    for (index, offset_m) in offsets.into_iter().enumerate() {
        let found = lanes_at(field, line, manner, index, offset_m, covered);
        for lane in found {
            field.cover(&lane, covered);
            lanes.push(lane);
        }
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

/// The lanes at one offset, in the heading that suits.
fn lanes_at(
    field: &Field,
    line: &Line,
    manner: Manners,
    index: usize,
    offset_m: f64,
    covered: &Bits,
) -> Vec<Lane> {
    let toward = |toward: Toward| worthwhile(field, line, toward, offset_m, covered);
    match manner {
        Manners::Ahead => toward(Toward::Ahead).0,
        Manners::Back => toward(Toward::Back).0,
        Manners::Both => {
            let (ahead, back) = (toward(Toward::Ahead), toward(Toward::Back));
            // Every other lane the other way, unless that covers less.
            let (greater, smaller) = (ahead.1.max(back.1), ahead.1.min(back.1));
            let alike = f64::from(smaller) >= 0.98 * f64::from(greater);
            let choose_ahead = if alike {
                index.is_multiple_of(2)
            } else {
                ahead.1 > back.1
            };
            if choose_ahead { ahead.0 } else { back.0 }
        }
    }
}

/// Lanes at an offset that add enough ground, and the cells that they add.
fn worthwhile(
    field: &Field,
    line: &Line,
    toward: Toward,
    offset_m: f64,
    covered: &Bits,
) -> (Vec<Lane>, u32) {
    let Some(offset_m) = line.possible_m(toward, offset_m) else {
        return (Vec::new(), 0);
    };
    let mut cells = 0;
    let lanes = field
        .lanes(line, toward, offset_m)
        .into_iter()
        .filter_map(|lane| {
            let gain = field.gain(&lane, covered);
            let mut lane = field.trim(lane, &gain)?;
            let own_m2 = lane.swept_m2(field.vehicle);
            if f64::from(gain.cells) * field.cell_m2() < LEAST_SHARE * own_m2 {
                return None;
            }
            lane.either_way = field.either_way(line, toward, &lane);
            cells += gain.cells;
            Some(lane)
        })
        .collect();
    (lanes, cells)
}

/// How far cells spread across a heading, m left of the plane's origin.
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

/// Passes along the edges of the reached ground, the outermost first.
fn edge_passes(field: &Field, terms: &Terms, passes: usize) -> Vec<Lane> {
    let boom_m = field.vehicle.boom_m();
    let mut lanes: Vec<Lane> = Vec::new();
    let mut covered = Bits::none(&field.cells);
    for pass in 0..passes {
        for &(a, b) in &field.reach_edges {
            let edge = b.minus(a);
            let length_m = edge.length_m();
            if length_m < LEAST_EDGE_M {
                continue;
            }
            let heading_rad = edge.y_m.atan2(edge.x_m);
            let Some(line) = field.line_along(heading_rad) else {
                continue;
            };
            let line = &field.lines[line];
            // The ground lies to the left of its edges.
            let inward = Xy::new(-edge.y_m / length_m, edge.x_m / length_m);
            let middle = Xy::new(f64::midpoint(a.x_m, b.x_m), f64::midpoint(a.y_m, b.y_m))
                .plus(inward, boom_m / 2.0 + pass as f64 * (boom_m - terms.lap_m));
            let offset_m = middle.dot(across(line.heading_rad));
            let tried = [Toward::Ahead, Toward::Back]
                .map(|toward| along_edge(field, line, toward, offset_m, (a, b), &covered));
            let [ahead, back] = tried;
            let (lane, gain) = if back.1 > ahead.1 { back } else { ahead };
            let Some(mut lane) = lane else { continue };
            if f64::from(gain) * field.cell_m2() < LEAST_SHARE * lane.swept_m2(field.vehicle) {
                continue;
            }
            lane.edge_pass = true;
            field.cover(&lane, &mut covered);
            lanes.push(lane);
        }
    }
    lanes
}

/// The lane beside an edge, no farther than a boom's width beyond the edge's ends, and the cells it adds.
fn along_edge(
    field: &Field,
    line: &Line,
    toward: Toward,
    offset_m: f64,
    (a, b): (Xy, Xy),
    covered: &Bits,
) -> (Option<Lane>, u32) {
    let boom_m = field.vehicle.boom_m();
    let Some(possible_m) = line.possible_m(toward, offset_m) else {
        return (None, 0);
    };
    if (possible_m - offset_m).abs() > boom_m / 2.0 {
        return (None, 0);
    }
    let beside = |lane: &mut Lane| {
        let ahead = lane.ahead();
        let at = [a, b].map(|corner| corner.minus(lane.from).dot(ahead));
        let from_m = (at[0].min(at[1]) - boom_m).max(0.0);
        let to_m = (at[0].max(at[1]) + boom_m).min(lane.length_m());
        if to_m <= from_m {
            return false;
        }
        lane.cut(from_m, to_m);
        true
    };
    field
        .lanes(line, toward, possible_m)
        .into_iter()
        .filter_map(|mut lane| beside(&mut lane).then_some(lane))
        .filter_map(|lane| {
            let gain = field.gain(&lane, covered);
            let mut lane = field.trim(lane, &gain)?;
            lane.either_way = field.either_way(line, toward, &lane);
            Some((lane, gain.cells))
        })
        .max_by_key(|(_, cells)| *cells)
        .map_or((None, 0), |(lane, cells)| (Some(lane), cells))
}

/// Fills a draft up and puts it in order.
fn finish(field: &Field, terms: &Terms, draft: Draft) -> Plan {
    let Draft {
        manner,
        mut lanes,
        mut covered,
        ..
    } = draft;
    fill::fill(field, terms, terms.until, &mut lanes, &mut covered);
    let lanes = fill::pruned(field, terms, terms.until, lanes);
    let (lanes, between) = order::order(field, lanes, terms.turning.as_ref());
    Plan {
        manner,
        lanes,
        between,
        stops: Vec::new(),
    }
}

/// The lanes in driving order with sections closed over ground that lanes before them covered.
pub(super) fn reclosed(
    lot: &super::lot::Lot,
    vehicle: &super::vehicle::Vehicle,
    lanes: Vec<Lane>,
) -> Vec<Lane> {
    let mut left = lot.target.clone();
    let mut reclosed = Vec::with_capacity(lanes.len());
    for mut lane in lanes {
        let switches = super::lane::Switches {
            target: super::minkowski::edges(&left),
            strict: super::field::strict(lot),
        };
        lane.open = switches.open(vehicle, lane.from, lane.heading_rad, lane.length_m());
        let ground = super::field::ground(std::slice::from_ref(&lane), vehicle);
        left = left.difference(&ground);
        reclosed.push(lane);
    }
    reclosed.retain(|lane| !lane.open.is_empty());
    reclosed
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
