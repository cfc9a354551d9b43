//! One lane and its sections as they switch.
//!
//! A lane is the way of the boom's middle, with the heading of the rig at each of its stations. Between two of them the
//! boom's line moves straight: a straight lane has two stations, a bent one one every two degrees.

use super::vehicle::Vehicle;
use crate::geometry::plane::Xy;

/// Openings shorter than this are rounding, m (tolerance).
pub(super) const LEAST_OPEN_M: f64 = 0.01;
/// Shortest way between two switches, m: strips under 5 cm count as standing still, not as treated ground
/// (tolerance).
const LEAST_STEP_M: f64 = 0.06;

/// A stretch of a lane with one section open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Open {
    /// Section, from 0, left to right.
    pub section: usize,
    /// From here, m from the lane's beginning.
    pub from_m: f64,
    /// To here.
    pub to_m: f64,
}

/// A place of the boom on a lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Along the lane, m from its beginning.
    pub along_m: f64,
    /// The boom's middle.
    pub at: Xy,
    /// Where the rig points, counter-clockwise from the plane's x.
    pub heading_rad: f64,
}

/// A lane of the boom's middle.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Two or more, from its beginning to its end.
    pub stations: Vec<Station>,
    /// What is open where, by section, then place.
    pub open: Vec<Open>,
    /// It can be driven from either end.
    pub either_way: bool,
    /// It runs along an edge.
    pub edge_pass: bool,
}

impl Lane {
    /// A straight lane, all closed.
    #[must_use]
    pub fn straight(from: Xy, heading_rad: f64, length_m: f64) -> Self {
        let ahead = Xy::at_angle(heading_rad);
        let station = |along_m: f64| Station {
            along_m,
            at: from.plus(ahead, along_m),
            heading_rad,
        };
        Self {
            stations: vec![station(0.0), station(length_m)],
            open: Vec::new(),
            either_way: false,
            edge_pass: false,
        }
    }

    /// Its beginning.
    #[must_use]
    pub fn start(&self) -> Station {
        self.stations[0]
    }

    /// Its end.
    #[must_use]
    pub fn end(&self) -> Station {
        self.stations[self.stations.len() - 1]
    }

    /// Its length, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.end().along_m - self.start().along_m
    }

    /// It has no bends.
    #[must_use]
    pub fn is_straight(&self) -> bool {
        self.stations.len() == 2
    }

    /// The boom so far along it; before its beginning and after its end it goes straight on.
    #[must_use]
    pub fn at(&self, along_m: f64) -> Station {
        let after = self
            .stations
            .partition_point(|station| station.along_m <= along_m)
            .clamp(1, self.stations.len() - 1);
        let (a, b) = (self.stations[after - 1], self.stations[after]);
        let step_m = b.along_m - a.along_m;
        let share = if step_m > 0.0 {
            (along_m - a.along_m) / step_m
        } else {
            0.0
        };
        Station {
            along_m,
            at: a.at.plus(b.at.minus(a.at), share),
            heading_rad: a.heading_rad + share * (b.heading_rad - a.heading_rad),
        }
    }

    /// Ground of each opening, piece by piece between stations.
    pub(super) fn strips<'a>(&'a self, vehicle: &'a Vehicle) -> impl Iterator<Item = Strip> + 'a {
        self.open.iter().flat_map(move |open| {
            let edges = (
                vehicle.edges_m[open.section],
                vehicle.edges_m[open.section + 1],
            );
            self.between(open.from_m, open.to_m)
                .map(move |(a, b)| strip(a, b, edges))
        })
    }

    /// The same ground in fewer pieces: where neighbouring sections are open together they are one strip.
    pub(super) fn joined_strips(&self, vehicle: &Vehicle, mut each: impl FnMut(Strip)) {
        let mut rest: &[Open] = &self.open;
        while let Some(first) = rest.first() {
            let together = self.together(rest);
            let (own, more) = rest.split_at(together.max(1));
            rest = more;
            let from_m = own
                .iter()
                .map(|open| open.from_m)
                .fold(first.from_m, f64::max);
            let to_m = own.iter().map(|open| open.to_m).fold(first.to_m, f64::min);
            let mut lay = |sections: (usize, usize), from_m: f64, to_m: f64| {
                if to_m > from_m {
                    let edges = (vehicle.edges_m[sections.0], vehicle.edges_m[sections.1 + 1]);
                    self.between(from_m, to_m)
                        .for_each(|(a, b)| each(strip(a, b, edges)));
                }
            };
            lay((first.section, first.section + own.len() - 1), from_m, to_m);
            for open in own {
                lay((open.section, open.section), open.from_m, from_m);
                lay((open.section, open.section), to_m, open.to_m);
            }
        }
    }

    /// How many of these openings are those of neighbouring sections, each open once, with a stretch in common.
    fn together(&self, rest: &[Open]) -> usize {
        let once = |k: usize| {
            let next = rest.get(k + 1);
            next.is_none_or(|next| next.section != rest[k].section)
        };
        if !once(0) {
            return 1;
        }
        let (mut from_m, mut to_m) = (rest[0].from_m, rest[0].to_m);
        let mut count = 1;
        while count < rest.len()
            && rest[count].section == rest[count - 1].section + 1
            && once(count)
        {
            from_m = from_m.max(rest[count].from_m);
            to_m = to_m.min(rest[count].to_m);
            if to_m <= from_m {
                break;
            }
            count += 1;
        }
        count
    }

    /// Ground under the whole boom, whatever is open, between the first and the last opening.
    pub(super) fn swath<'a>(&'a self, vehicle: &'a Vehicle) -> impl Iterator<Item = Strip> + 'a {
        let edges = (vehicle.edges_m[0], vehicle.edges_m[vehicle.sections()]);
        let (from_m, to_m) = self.busy_m().unwrap_or((0.0, 0.0));
        self.between(from_m, to_m)
            .map(move |(a, b)| strip(a, b, edges))
    }

    /// Stations from one place to another, as neighbours; the ends are stations of their own.
    fn between(&self, from_m: f64, to_m: f64) -> impl Iterator<Item = (Station, Station)> + '_ {
        let (first, last) = (self.at(from_m), self.at(to_m));
        let inner = self
            .stations
            .iter()
            .copied()
            .filter(move |station| station.along_m > from_m && station.along_m < to_m);
        let mut before = first;
        inner.chain([last]).map(move |next| {
            let pair = (before, next);
            before = next;
            pair
        })
    }

    /// Ground swept, strip by strip, m2.
    #[must_use]
    pub fn swept_m2(&self, vehicle: &Vehicle) -> f64 {
        let width_m = |section: usize| vehicle.edges_m[section + 1] - vehicle.edges_m[section];
        self.open
            .iter()
            .map(|open| width_m(open.section) * (open.to_m - open.from_m))
            .sum()
    }

    /// Cut to the part from `from_m` to `to_m` of it.
    pub(super) fn cut(&mut self, from_m: f64, to_m: f64) {
        let (first, last) = (self.at(from_m), self.at(to_m));
        self.stations
            .retain(|station| station.along_m > from_m && station.along_m < to_m);
        self.stations.insert(0, first);
        self.stations.push(last);
        for station in &mut self.stations {
            station.along_m -= from_m;
        }
        for open in &mut self.open {
            open.from_m = open.from_m.max(from_m) - from_m;
            open.to_m = open.to_m.min(to_m) - from_m;
        }
        self.open
            .retain(|open| open.to_m - open.from_m >= LEAST_OPEN_M);
    }

    /// Brings switches that are nearer to each other than a strip counts as driven to one place, the first of them.
    pub(super) fn settle(&mut self) {
        let length_m = self.length_m();
        let mut at_m: Vec<f64> = vec![0.0, length_m];
        at_m.extend(self.open.iter().flat_map(|open| [open.from_m, open.to_m]));
        at_m.sort_by(f64::total_cmp);
        at_m.dedup_by(|next, kept| *next - *kept < LEAST_STEP_M);
        let settled = |place_m: f64| {
            let after = at_m.partition_point(|kept| *kept <= place_m);
            at_m[after.max(1) - 1]
        };
        for open in &mut self.open {
            (open.from_m, open.to_m) = (settled(open.from_m), settled(open.to_m));
        }
        self.open.retain(|open| open.to_m > open.from_m);
        let end_m = settled(length_m);
        self.cut(0.0, end_m);
    }

    /// First and last place with a section open, m; `None` where none is.
    pub(super) fn busy_m(&self) -> Option<(f64, f64)> {
        let from_m = self
            .open
            .iter()
            .map(|open| open.from_m)
            .min_by(f64::total_cmp)?;
        let to_m = self
            .open
            .iter()
            .map(|open| open.to_m)
            .max_by(f64::total_cmp)?;
        Some((from_m, to_m))
    }
}

/// Ground between two places of the boom.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strip {
    /// Counter-clockwise.
    pub(super) ring: [Xy; 4],
    /// The boom at its beginning.
    pub(super) from: Station,
    /// Where the rig points there.
    pub(super) ahead: Xy,
}

/// Ground between two places of a part of the boom, from `left_m` to `right_m` right of its middle.
fn strip(a: Station, b: Station, (left_m, right_m): (f64, f64)) -> Strip {
    let ahead = Xy::at_angle(a.heading_rad);
    let onward = if a.heading_rad.to_bits() == b.heading_rad.to_bits() {
        ahead
    } else {
        Xy::at_angle(b.heading_rad)
    };
    let at = |station: Station, ahead: Xy, right_m: f64| {
        station.at.plus(Xy::new(ahead.y_m, -ahead.x_m), right_m)
    };
    Strip {
        ring: [
            at(a, ahead, right_m),
            at(b, onward, right_m),
            at(b, onward, left_m),
            at(a, ahead, left_m),
        ],
        from: a,
        ahead,
    }
}

/// Bent lanes along a lot's edges.
#[derive(Debug, Default)]
pub(super) struct Contours {
    /// Of each pass, the outermost first; none where no edge bends gently.
    pub(super) passes: Vec<Vec<Lane>>,
    /// Lanes for what is left: those of the passes, and half a pass between them.
    pub(super) pool: Vec<Lane>,
}

#[cfg(test)]
mod tests;
