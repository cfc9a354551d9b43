//! The evenest curve through readings that are known to one tick.
//!
//! A total R with a tick q says that the true sum lies between R and R + q: a tube along the axis
//! of whatever the liquid should be even over. The shortest line through that tube (the taut string,
//! Davies and Kovac, *Annals of Statistics* 29, 2001, from memory) has the least variation of slope of
//! all: its slope, the rate, changes only where the readings leave no other way.

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
    if let (Some(last), Some(end)) = (gates.last(), line.last()) {
        if last.h > end.h {
            line.push(Point {
                h: last.h,
                sum_l: last.least_l,
            });
        }
    }
    line
}
