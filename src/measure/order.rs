//! The order of the lanes: a small travelling-salesman search over both ends of each lane.

use super::field::Field;
use super::footprint::Laid;
use super::lane::{Lane, Station};
use super::turns::{End, Turning};
use std::f64::consts::PI;
use std::sync::Arc;

/// More lanes than this keep the order in which they were laid: a search would take time with the square (limit).
const MOST_LANES: usize = 2000;
/// Rounds of improvement; usual lots are done after three or four (by trial).
const ROUNDS: usize = 12;
/// A saving under this is rounding, s (tolerance).
const LEAST_SAVING_S: f64 = 1e-6;

/// Puts lanes in driving order, each turned the way it is driven, and gives the time between them:
/// seconds where turning is known, else metres of the ways between.
pub(super) fn order(
    field: &Field,
    laid: &[Arc<Laid>],
    turning: Option<&Turning>,
) -> (Vec<Lane>, f64) {
    let lanes: Vec<Lane> = laid.iter().map(|laid| laid.lane.clone()).collect();
    let table = Table::of(field, &lanes, turning);
    let tour = if lanes.len() <= MOST_LANES {
        table.improved(table.nearest())
    } else {
        (0..lanes.len()).map(|lane| (lane, false)).collect()
    };
    let cost = table.cost(&tour);
    let mut waiting: Vec<Option<Lane>> = lanes.into_iter().map(Some).collect();
    let ordered = tour.into_iter().filter_map(|(lane, turned)| {
        let lane = waiting[lane].take()?;
        Some(if turned { back(field, &lane) } else { lane })
    });
    (ordered.collect(), cost)
}

/// A lane and whether it is driven from its other end.
type Leg = (usize, bool);

/// What it costs from any lane to any other.
struct Table<'a> {
    count: usize,
    either_way: Vec<bool>,
    turning: Option<&'a Turning>,
    /// Both starts and both ends of each lane, as it is and turned.
    ends: Vec<[(End, End); 2]>,
    /// Of each lane as it is and turned: its place in `costs`, if it can be driven so.
    places: Vec<[Option<usize>; 2]>,
    /// Between all of those; empty where there are too many.
    costs: Vec<f32>,
    /// Legs that can be driven.
    legs: usize,
}

impl<'a> Table<'a> {
    fn of(field: &Field, lanes: &[Lane], turning: Option<&'a Turning>) -> Self {
        let ends: Vec<[(End, End); 2]> = lanes
            .iter()
            .map(|lane| {
                let ends = [lane.start(), lane.end()];
                let back = [lane.end(), lane.start()].map(turned);
                [
                    both_ends(field, ends, turning),
                    both_ends(field, back, turning),
                ]
            })
            .collect();
        let legs: Vec<Leg> = (0..2 * lanes.len())
            .map(|k| (k / 2, k % 2 == 1))
            .filter(|&(lane, turned)| !turned || lanes[lane].either_way)
            .collect();
        let mut places = vec![[None; 2]; lanes.len()];
        for (place, &(lane, turned)) in legs.iter().enumerate() {
            places[lane][usize::from(turned)] = Some(place);
        }
        let mut table = Self {
            count: lanes.len(),
            places,
            legs: legs.len(),
            either_way: lanes.iter().map(|lane| lane.either_way).collect(),
            turning,
            ends,
            costs: Vec::new(),
        };
        if table.count <= MOST_LANES {
            let pairs = legs
                .iter()
                .flat_map(|&from| legs.iter().map(move |&to| (from, to)));
            table.costs = pairs
                .map(|(from, to)| table.computed(from, to) as f32)
                .collect();
        }
        table
    }

    fn computed(&self, from: Leg, to: Leg) -> f64 {
        let end = &self.ends[from.0][usize::from(from.1)].1;
        let start = &self.ends[to.0][usize::from(to.1)].0;
        cost(self.turning, end, start)
    }

    fn between(&self, from: Leg, to: Leg) -> f64 {
        let place = |leg: Leg| self.places[leg.0][usize::from(leg.1)];
        let known = match (place(from), place(to)) {
            (Some(from), Some(to)) => self.costs.get(from * self.legs + to),
            _ => None,
        };
        known.map_or_else(|| self.computed(from, to), |cost| f64::from(*cost))
    }

    fn cost(&self, tour: &[Leg]) -> f64 {
        tour.windows(2)
            .map(|pair| self.between(pair[0], pair[1]))
            .sum()
    }

    fn ways(&self, lane: usize) -> &'static [bool] {
        if self.either_way[lane] {
            &[false, true]
        } else {
            &[false]
        }
    }

    /// Always on to the lane that is quickest to get to, from the first lane.
    fn nearest(&self) -> Vec<Leg> {
        if self.count == 0 {
            return Vec::new();
        }
        let mut left: Vec<usize> = (1..self.count).collect();
        let mut tour = vec![(0, false)];
        while !left.is_empty() {
            let here = tour[tour.len() - 1];
            let mut best = (f64::INFINITY, 0, false);
            for (index, &lane) in left.iter().enumerate() {
                for &turned in self.ways(lane) {
                    let cost = self.between(here, (lane, turned));
                    if cost < best.0 {
                        best = (cost, index, turned);
                    }
                }
            }
            tour.push((left.remove(best.1), best.2));
        }
        tour
    }

    /// Moves single lanes and turns stretches around as long as that saves time.
    fn improved(&self, mut tour: Vec<Leg>) -> Vec<Leg> {
        for _ in 0..ROUNDS {
            let moved = self.move_lanes(&mut tour);
            let turned = self.turn_stretches(&mut tour);
            if !moved && !turned {
                break;
            }
        }
        tour
    }

    fn step(&self, from: Option<&Leg>, to: Option<&Leg>) -> f64 {
        match (from, to) {
            (Some(&from), Some(&to)) => self.between(from, to),
            _ => 0.0,
        }
    }

    /// Takes each lane out and puts it where it costs least.
    fn move_lanes(&self, tour: &mut Vec<Leg>) -> bool {
        let mut changed = false;
        for lane in 0..self.count {
            let Some(at) = tour.iter().position(|leg| leg.0 == lane) else {
                continue;
            };
            let leg = tour[at];
            let (before, after) = (
                at.checked_sub(1).map(|k| tour[k]),
                tour.get(at + 1).copied(),
            );
            let saved = self.step(before.as_ref(), Some(&leg))
                + self.step(Some(&leg), after.as_ref())
                - self.step(before.as_ref(), after.as_ref());
            tour.remove(at);
            let mut best = (saved - LEAST_SAVING_S, at, leg.1);
            for place in 0..=tour.len() {
                let (before, after) = (
                    place.checked_sub(1).map(|k| tour[k]),
                    tour.get(place).copied(),
                );
                for &turned in self.ways(lane) {
                    let leg = (lane, turned);
                    let added = self.step(before.as_ref(), Some(&leg))
                        + self.step(Some(&leg), after.as_ref())
                        - self.step(before.as_ref(), after.as_ref());
                    if added < best.0 {
                        best = (added, place, turned);
                        changed = true;
                    }
                }
            }
            tour.insert(best.1, (lane, best.2));
        }
        changed
    }

    /// Turns stretches around whose lanes can all be driven from either end.
    fn turn_stretches(&self, tour: &mut [Leg]) -> bool {
        let mut changed = false;
        for first in 0..tour.len() {
            let mut last = first;
            // Inside the stretch, its own ways in either direction.
            let (mut onward, mut backward) = (0.0, 0.0);
            while last < tour.len() && self.either_way[tour[last].0] {
                if last > first {
                    let flip = |leg: Leg| (leg.0, !leg.1);
                    onward += self.between(tour[last - 1], tour[last]);
                    backward += self.between(flip(tour[last]), flip(tour[last - 1]));
                }
                let before = first.checked_sub(1).map(|k| tour[k]);
                let after = tour.get(last + 1).copied();
                let (a, b) = (tour[first], tour[last]);
                let now = self.step(before.as_ref(), Some(&a))
                    + onward
                    + self.step(Some(&b), after.as_ref());
                let (a, b) = ((b.0, !b.1), (a.0, !a.1));
                let then = self.step(before.as_ref(), Some(&a))
                    + backward
                    + self.step(Some(&b), after.as_ref());
                if then < now - LEAST_SAVING_S {
                    tour[first..=last].reverse();
                    tour[first..=last].iter_mut().for_each(|leg| leg.1 = !leg.1);
                    std::mem::swap(&mut onward, &mut backward);
                    changed = true;
                }
                last += 1;
            }
        }
        changed
    }
}

/// The other way around.
fn turned(station: Station) -> Station {
    Station {
        heading_rad: (station.heading_rad + PI).rem_euclid(2.0 * PI),
        ..station
    }
}

/// The same straight lane driven from the other end.
fn back(field: &Field, lane: &Lane) -> Lane {
    let start = turned(lane.end());
    let mut back = Lane {
        either_way: lane.either_way,
        edge_pass: lane.edge_pass,
        ..Lane::straight(start.at, start.heading_rad, lane.length_m())
    };
    // Sections of uneven widths have their middles elsewhere.
    back.open = field.switches.open(field.vehicle, &back);
    back
}

fn both_ends(field: &Field, [start, end]: [Station; 2], turning: Option<&Turning>) -> (End, End) {
    match turning {
        Some(turning) => (
            turning.start(start),
            turning.end(end, field.body.drivable()),
        ),
        None => {
            let here = |station: Station| End {
                axle: station.at,
                heading_rad: station.heading_rad,
                lacks_m: 0.0,
            };
            (here(start), here(end))
        }
    }
}

fn cost(turning: Option<&Turning>, from: &End, to: &End) -> f64 {
    match turning {
        Some(turning) => turning.seconds(from, to),
        None => to.axle.minus(from.axle).length_m(),
    }
}
