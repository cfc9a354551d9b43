//! The evenest curve through readings that are known to one tick.
//!
//! A total R with a tick q says that the true sum lies between R and R + q: a tube along the axis
//! of whatever the liquid should be even over. The shortest line through that tube (the taut string,
//! Davies and Kovac, *Annals of Statistics* 29, 2001, from memory) has the least variation of slope of all: its slope,
//! the rate, changes only where the readings force it to.

use std::collections::VecDeque;

/// A place along the axis, and the sum there, L.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Along the axis; later ones are greater.
    pub(super) h: f64,
    /// Sum, L.
    pub(super) sum_l: f64,
}

/// What the sum lies between at one place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gate {
    pub(super) h: f64,
    pub(super) least_l: f64,
    pub(super) most_l: f64,
}

fn slope(from: Point, to: Point) -> f64 {
    (to.sum_l - from.sum_l) / (to.h - from.h)
}

/// Corners of the shortest line from `start` through the gates; the last gate is one point. Each
/// gate is looked at once and dropped at most twice: time and memory are linear.
pub(super) fn shortest(start: Point, gates: &[Gate]) -> Vec<Point> {
    let mut line = vec![start];
    // What the line may have to bend around next: over floors it bends down, under ceilings up.
    let mut floors = VecDeque::from([start]);
    let mut ceilings = VecDeque::from([start]);
    for gate in gates {
        let point = |sum_l| Point { h: gate.h, sum_l };
        let most = point(gate.most_l);
        while ceilings.len() > 1
            && slope(ceilings[ceilings.len() - 2], ceilings[ceilings.len() - 1])
                >= slope(ceilings[ceilings.len() - 1], most)
        {
            ceilings.pop_back();
        }
        ceilings.push_back(most);
        while ceilings.len() == 2
            && floors.len() > 1
            && slope(floors[0], floors[1]) > slope(ceilings[0], most)
        {
            floors.pop_front();
            ceilings[0] = floors[0];
            line.push(floors[0]);
        }
        let least = point(gate.least_l);
        while floors.len() > 1
            && slope(floors[floors.len() - 2], floors[floors.len() - 1])
                <= slope(floors[floors.len() - 1], least)
        {
            floors.pop_back();
        }
        floors.push_back(least);
        while floors.len() == 2
            && ceilings.len() > 1
            && slope(ceilings[0], ceilings[1]) < slope(floors[0], least)
        {
            ceilings.pop_front();
            floors[0] = ceilings[0];
            line.push(ceilings[0]);
        }
    }
    if let (Some(last), Some(end)) = (gates.last(), line.last())
        && last.h > end.h
    {
        line.push(Point {
            h: last.h,
            sum_l: last.least_l,
        });
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    fn length(line: &[Point]) -> f64 {
        line.windows(2)
            .map(|pair| (pair[1].h - pair[0].h).hypot(pair[1].sum_l - pair[0].sum_l))
            .sum()
    }

    fn at(line: &[Point], h: f64) -> f64 {
        let k = line
            .partition_point(|point| point.h < h)
            .clamp(1, line.len() - 1);
        line[k - 1].sum_l + slope(line[k - 1], line[k]) * (h - line[k - 1].h)
    }

    /// Shortest length over a fine grid of sums at every gate, by going through all of them.
    fn brute_force(start: Point, gates: &[Gate]) -> f64 {
        let sums = |gate: &Gate| {
            let (least, most) = (gate.least_l, gate.most_l);
            (0..=60).map(move |k| least + (most - least) * f64::from(k) / 60.0)
        };
        let mut best = vec![(start, 0.0)];
        for gate in gates {
            best = sums(gate)
                .map(|sum_l| {
                    let to = Point { h: gate.h, sum_l };
                    let lengths = best
                        .iter()
                        .map(|(from, so_far)| so_far + length(&[*from, to]));
                    (to, lengths.fold(f64::INFINITY, f64::min))
                })
                .collect();
        }
        best.iter()
            .map(|(_, length)| *length)
            .fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn the_line_stays_in_the_tube_and_no_other_is_shorter() {
        let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        for _ in 0..200 {
            let count = chance.random_range(1..12);
            let (mut h, mut floor) = (0.0, 0.0);
            let mut gates: Vec<Gate> = (0..count)
                .map(|_| {
                    h += chance.random_range(0.2..2.0);
                    floor += f64::from(chance.random_range(0_u8..3));
                    Gate {
                        h,
                        least_l: floor,
                        most_l: floor + 1.0,
                    }
                })
                .collect();
            gates[count - 1].most_l = gates[count - 1].least_l;
            let start = Point { h: 0.0, sum_l: 0.5 };
            let line = shortest(start, &gates);
            for gate in &gates {
                let sum_l = at(&line, gate.h);
                assert!((gate.least_l - 1e-9..=gate.most_l + 1e-9).contains(&sum_l));
            }
            let other = brute_force(start, &gates);
            assert!(length(&line) <= other + 1e-9 && length(&line) > other - 0.02);
        }
    }
}
