//! Drafts of a plan: the lanes that each way of driving lays by structure, and what they are worth.

use super::bits::Bits;
use super::edge_passes::edge_passes;
use super::field::{Covered, Field};
use super::footprint::Laid;
use super::parts::{self, Cut};
use super::stripes::{Headings, stripe};
use super::terms::{Manner, Terms};
use rayon::prelude::*;
use std::sync::Arc;

/// Ways of driving that are tried for the lanes across a lot: those with most edge along them (by trial).
const MOST_LINES: usize = 4;
/// ... where it is full of islands (by trial);
const MOST_LINES_CROWDED: usize = 2;
/// ... and for each part of a lot that is cut (by trial).
const MOST_PART_LINES: usize = 3;
/// ... fewer, and one heading only, where there are more parts than this (by trial);
const MANY_PARTS: usize = 60;
/// ... and for cells between islands (by trial).
const MOST_CELL_LINES: usize = 2;
/// Ways to begin along the edges that a lot is cut with, those that do best without a cut (by trial).
const MOST_FIRST_CUT: usize = 2;
/// Ground left over costs so many times what the same ground costs in a long lane: a few square metres take a lane
/// and a turn of their own (by trial).
const LEFT_OVER_COST: f64 = 25.0;

/// A plan before it is filled and ordered.
pub(super) struct Draft {
    pub(super) manner: Manner,
    pub(super) lanes: Vec<Arc<Laid>>,
    pub(super) covered: Covered,
    /// Time, with what the leftovers are likely to cost, s.
    pub(super) score: f64,
}

/// Passes along the edges that lanes across begin with.
struct First {
    passes: usize,
    bent: bool,
    lanes: Vec<Arc<Laid>>,
}

/// All drafts.
pub(super) fn drafts(field: &Field, terms: &Terms) -> Vec<Draft> {
    let first = firsts(field, terms);
    let most = if field.is_crowded() {
        MOST_LINES_CROWDED
    } else {
        MOST_LINES
    };
    let lines = field.lines.len().min(most);
    // With passes along the edges the ends are covered whichever way the lanes across are driven.
    let headings = |first: &First| match first.passes {
        0 => &Headings::ALL[..],
        _ => &Headings::ALL[..2],
    };
    let ways: Vec<(&First, usize, Headings)> = first
        .iter()
        .flat_map(|first| (0..lines).map(move |line| (first, line)))
        .flat_map(|(first, line)| headings(first).iter().map(move |&of| (first, line, of)))
        .collect();
    let mut drafts: Vec<Draft> = ways
        .into_par_iter()
        .map(|(first, line, headings)| whole(field, terms, first, line, headings))
        .collect();
    let cuts = if field.is_crowded() {
        Vec::new()
    } else {
        parts::cuts(field)
    };
    let first = best_first(&first, &drafts);
    // Several bent passes leave an island of ground in the middle, which no corner cuts.
    let cut: Vec<(&First, &Cut)> = first
        .iter()
        .copied()
        .filter(|first| !first.bent || first.passes == 1)
        .flat_map(|first| cuts.iter().map(move |cut| (first, cut)))
        .collect();
    drafts.extend(
        cut.into_par_iter()
            .map(|(first, cut)| of_parts(field, terms, first, cut))
            .collect::<Vec<_>>(),
    );
    let along: Vec<(usize, Cut)> = (0..lines.min(MOST_CELL_LINES))
        .filter_map(|line| Some((line, parts::cells_along(field, &field.lines[line])?)))
        .collect();
    let celled_ways: Vec<(&First, &(usize, Cut), bool)> = first
        .iter()
        .flat_map(|&first| along.iter().map(move |cells| (first, cells)))
        .flat_map(|(first, cells)| [false, true].map(|own| (first, cells, own)))
        .collect();
    drafts.extend(
        celled_ways
            .into_par_iter()
            .map(|(first, (line, cells), own)| match own {
                false => celled(field, terms, first, *line, cells),
                true => of_parts(field, terms, first, cells),
            })
            .collect::<Vec<_>>(),
    );
    drafts
}

/// The passes along the edges that lanes across the whole lot begin with best.
fn best_first<'a>(firsts: &'a [First], whole: &[Draft]) -> Vec<&'a First> {
    let score = |first: &First| {
        let own = whole.iter().filter(|draft| {
            draft.manner.edge_passes == first.passes && draft.manner.bent == first.bent
        });
        own.map(|draft| draft.score).fold(f64::INFINITY, f64::min)
    };
    let mut best: Vec<(f64, &First)> = firsts.iter().map(|first| (score(first), first)).collect();
    best.sort_by(|a, b| a.0.total_cmp(&b.0));
    best.truncate(MOST_FIRST_CUT);
    best.into_iter().map(|(_, first)| first).collect()
}

/// No, one or two passes along the edges; of bent ones also as many as there are.
fn firsts(field: &Field, terms: &Terms) -> Vec<First> {
    let straight = (0..=2).map(|passes| (passes, false));
    let bent = &field.contours.passes;
    let around = if bent.is_empty() {
        Vec::new()
    } else {
        let mut counts = vec![1, 2, bent.len()];
        counts.sort_unstable();
        counts.dedup();
        counts
            .into_iter()
            .filter(|&count| count <= bent.len())
            .collect()
    };
    let ways: Vec<(usize, bool)> = straight
        .chain(around.into_iter().map(|passes| (passes, true)))
        .collect();
    ways.into_par_iter()
        .map(|(passes, is_bent)| First {
            passes,
            bent: is_bent,
            lanes: edge_passes(field, terms, passes, if is_bent { bent } else { &[] }),
        })
        .filter(|first| first.passes == 0 || !first.lanes.is_empty())
        .collect()
}

/// A draft that begins with passes along the edges.
struct Begun<'a> {
    field: &'a Field<'a>,
    terms: &'a Terms,
    lanes: Vec<Arc<Laid>>,
    covered: Covered,
}

impl<'a> Begun<'a> {
    fn of(field: &'a Field<'a>, terms: &'a Terms, first: &First) -> Self {
        Self {
            field,
            terms,
            lanes: first.lanes.clone(),
            covered: Covered::by_lanes(field, &first.lanes),
        }
    }

    /// Stripes a part along a line; given up once its lanes take longer than `most_s`.
    fn stripe(&mut self, part: &Bits, line: usize, headings: Headings, most_s: f64) {
        let line = (&self.field.lines[line], headings);
        let laid = (&mut self.lanes, &mut self.covered);
        stripe(self.field, self.terms, part, line, laid, most_s);
    }

    fn done(self, first: &First, line: usize, one_heading: bool, cut: bool) -> Draft {
        Draft {
            manner: Manner {
                edge_passes: first.passes,
                bent: first.bent,
                one_heading,
                direction_deg: self.field.lines[line].heading_rad.to_degrees(),
                cut,
            },
            score: score(self.field, self.terms, &self.lanes, &self.covered),
            lanes: self.lanes,
            covered: self.covered,
        }
    }
}

/// Lanes along one line over the whole lot.
fn whole(field: &Field, terms: &Terms, first: &First, line: usize, headings: Headings) -> Draft {
    let mut begun = Begun::of(field, terms, first);
    begun.stripe(&field.reach, line, headings, f64::INFINITY);
    let one = matches!(headings, Headings::Ahead | Headings::Back);
    begun.done(first, line, one, false)
}

/// Each part of a lot that is cut in its own direction.
fn of_parts(field: &Field, terms: &Terms, first: &First, cut: &Cut) -> Draft {
    let mut begun = Begun::of(field, terms, first);
    let ways = ways(field, cut.parts.len());
    for part in &cut.parts {
        stripe_best(&mut begun, part, &ways);
    }
    begun.done(first, 0, false, true)
}

/// Lanes along one line in each cell for itself.
fn celled(field: &Field, terms: &Terms, first: &First, line: usize, cells: &Cut) -> Draft {
    let mut begun = Begun::of(field, terms, first);
    for part in &cells.parts {
        begun.stripe(part, line, Headings::Both, f64::INFINITY);
    }
    begun.done(first, line, false, true)
}

/// Time of the lanes, with what they leave.
fn score(field: &Field, terms: &Terms, lanes: &[Arc<Laid>], covered: &Covered) -> f64 {
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let time_s = terms.lanes_s(lanes, spacing_m);
    let [switched, swath] = terms.until.lacks(field, covered);
    let lacks = switched.max(swath);
    time_s + left_over_s(field, terms, lacks * field.reach_cells as f64)
}

/// What cells left over are likely to cost, s.
fn left_over_s(field: &Field, terms: &Terms, cells: f64) -> f64 {
    LEFT_OVER_COST * cells * field.cell_m2() / (field.vehicle.boom_m() * terms.speed_m_s)
}

/// Stripes what some lanes leave, along whichever direction does it quickest.
pub(super) fn stripe_left(
    field: &Field,
    terms: &Terms,
    lanes: &mut Vec<Arc<Laid>>,
    covered: &mut Covered,
) {
    let left = field.left(&covered.swath);
    let mut begun = Begun {
        field,
        terms,
        lanes: std::mem::take(lanes),
        covered: covered.clone(),
    };
    stripe_best(&mut begun, &left, &ways(field, 1));
    (*lanes, *covered) = (begun.lanes, begun.covered);
}

/// Ways that are tried for each of so many parts.
fn ways(field: &Field, parts: usize) -> Vec<(usize, Headings)> {
    let (lines, headings) = if parts > MANY_PARTS {
        (MOST_CELL_LINES, &Headings::ALL[..1])
    } else {
        (MOST_PART_LINES, &Headings::ALL[..2])
    };
    (0..field.lines.len().min(lines))
        .flat_map(|line| headings.iter().map(move |&of| (line, of)))
        .collect()
}

/// Stripes a part along whichever direction does it quickest.
fn stripe_best(begun: &mut Begun, part: &Bits, ways: &[(usize, Headings)]) {
    let (field, terms) = (begun.field, begun.terms);
    let spacing_m = field.vehicle.boom_m() - terms.lap_m;
    let mut best: Option<(f64, Begun)> = None;
    for &(line, headings) in ways {
        let mut own = Begun {
            field,
            terms,
            lanes: Vec::new(),
            covered: begun.covered.clone(),
        };
        let most_s = best.as_ref().map_or(f64::INFINITY, |best| best.0);
        own.stripe(part, line, headings, most_s);
        let time_s = terms.lanes_s(&own.lanes, spacing_m);
        if time_s >= most_s {
            continue;
        }
        let mut left = part.clone();
        left.keep(&field.reach);
        left.take(&own.covered.switched);
        let score_s = time_s + left_over_s(field, terms, left.count() as f64);
        if score_s < most_s {
            best = Some((score_s, own));
        }
    }
    if let Some((_, own)) = best {
        begun.lanes.extend(own.lanes);
        begun.covered = own.covered;
    }
}
