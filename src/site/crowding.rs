//! Whether outlines lie so thick on a site that the cost of exact sets would grow with the square of the distance
//! driven.
//!
//! Exact crossings cannot be fewer than there are: n lanes hatched by n others cross n x n times, and so do the laps
//! of a rig that circles for hours. So before the engine is called, it is counted how often outlines pass each square
//! metre, and how often two of them pass the same one. What two lanes of a healthy night share is some of that;
//! where there are [`MOST_MEETINGS`] for each passage, the site's grounds are made of cells instead ([`super::heaped`]). Both counts go with the length of the outlines.

use super::swath::Strips;
use crate::geometry::plane::Xy;
use crate::geometry::raster::Grid;
use crate::ground::Site;

/// Side of a cell in which outlines are counted, m (tolerance).
const CELL_M: f64 = 1.0;
/// Most such cells; a greater site has greater ones (limit).
const MOST_CELLS: usize = 4_000_000;
/// From this many meetings for each passage of a cell on, outlines are a heap. A lot of the demo treated once has at
/// most 0.6, treated twice 1 (by trial).
const MOST_MEETINGS: f64 = 3.0;
/// Fewer meetings than this are worked through whatever they come to: they take a fifth of a second (limit).
const FEW_MEETINGS: f64 = 300_000.0;

/// How often outlines pass cells, and meet there.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Crowding {
    /// Passages of an outline through a cell.
    passages: f64,
    /// Pairs of passages through one cell.
    meetings: f64,
}

/// Which of a site's legs are to be made of cells: those that are a heap by themselves, and all of them where the others
/// together are one. A healthy rig stays exact beside one that circles.
pub(super) fn heaps(site: &Site, strips: &[Strips]) -> Vec<bool> {
    #[cfg(test)]
    if IN_CELLS.get() {
        return vec![true; strips.len()];
    }
    let all: Vec<&Strips> = strips.iter().collect();
    let is_heap = |of: &[&Strips]| Crowding::of(site, of, grounds).is_heap();
    if !is_heap(&all) {
        return vec![false; all.len()];
    }
    let alone: Vec<bool> = all.iter().map(|of| is_heap(&[*of])).collect();
    let others = all.iter().zip(&alone).filter(|(_, alone)| !**alone);
    let others: Vec<&Strips> = others.map(|(of, _)| *of).collect();
    if is_heap(&others) {
        return vec![true; all.len()];
    }
    alone
}

/// Whether what laid nothing on a site lies in a heap.
pub(super) fn is_idle_heap(site: &Site, strips: &[Strips]) -> bool {
    let all: Vec<&Strips> = strips.iter().collect();
    Crowding::of(site, &all, idle).is_heap()
}

/// Outlines of what was treated, or may have been.
fn grounds(strips: &Strips, add: &mut dyn FnMut(&[Xy])) {
    let passes = strips.passes.iter().flat_map(|pass| &pass.rings);
    passes.for_each(|ring| add(ring));
    let corridors = strips.corridors.iter().map(|corridor| &corridor.ring);
    corridors.for_each(|ring| add(ring));
    let unsure = strips.unsure.iter();
    unsure.for_each(|strip| add(strip.ground.corners()));
}

/// Outlines of boom positions that laid nothing.
fn idle(strips: &Strips, add: &mut dyn FnMut(&[Xy])) {
    strips.idle.iter().for_each(|idle| add(&idle.ring));
}

impl Crowding {
    /// Too many meetings for exact work.
    fn is_heap(self) -> bool {
        self.meetings > FEW_MEETINGS + MOST_MEETINGS * self.passages
    }

    /// Of some rings among each other and with the zones' outlines.
    fn of(site: &Site, strips: &[&Strips], rings: impl Fn(&Strips, &mut dyn FnMut(&[Xy]))) -> Self {
        let mut any = false;
        for strips in strips {
            rings(strips, &mut |_| any = true);
        }
        // Most sites of a fleet were not treated.
        let count = any.then(|| Count::over(site)).flatten();
        let Some(mut count) = count else {
            return Self::default();
        };
        let zones = count.sum();
        for strips in strips {
            rings(strips, &mut |ring| count.add(ring));
        }
        let all = count.sum();
        Self {
            passages: all.passages - zones.passages,
            meetings: all.meetings - zones.meetings,
        }
    }
}

/// Passages of each cell.
struct Count {
    grid: Grid,
    passages: Vec<u32>,
}

impl Count {
    /// Over a site's zones, whose outlines count as well; `None` where there is no ground.
    fn over(site: &Site) -> Option<Self> {
        let rings: Vec<Vec<Xy>> = site
            .zones
            .iter()
            .flat_map(|zone| zone.region.rings())
            .collect();
        if rings.is_empty() {
            return None;
        }
        let grid = Grid::over(rings.iter().flatten(), 0.0, CELL_M, MOST_CELLS);
        let mut count = Self {
            grid,
            passages: vec![0; grid.cells()],
        };
        rings.iter().for_each(|ring| count.add(ring));
        Some(count)
    }

    /// Adds a ring: a cell that it passes in one go counts once, however many corners lie there.
    fn add(&mut self, ring: &[Xy]) {
        let Some(&last) = ring.last() else { return };
        let mut at = None;
        let mut from = last;
        for &to in ring {
            self.walk(from, to, &mut at);
            from = to;
        }
    }

    /// Walks an edge in steps of a cell: a cell of which it only cuts a corner may be left out.
    fn walk(&mut self, from: Xy, to: Xy, at: &mut Option<usize>) {
        let end = self.cell(to);
        // Most edges of a fast log end in the cell they begin in.
        if end.is_some() && end == *at {
            return;
        }
        let way = to.minus(from);
        let steps = (way.length_m() / self.grid.cell_m).ceil().max(1.0);
        for k in 1..=steps as usize {
            let cell = self.cell(from.plus(way, k as f64 / steps));
            if let Some(cell) = cell.filter(|_| cell != *at) {
                self.passages[cell] += 1;
            }
            *at = cell;
        }
    }

    /// The cell of a place on the grid.
    fn cell(&self, place: Xy) -> Option<usize> {
        let (column, row) = self.grid.cell_of(place);
        let (columns, rows) = (self.grid.columns as isize, self.grid.rows as isize);
        let within = (0..columns).contains(&column) && (0..rows).contains(&row);
        within.then(|| (row * columns + column) as usize)
    }

    fn sum(&self) -> Crowding {
        let passages = self.passages.iter().map(|&count| f64::from(count));
        let meetings = passages.clone().map(|count| count * (count - 1.0) / 2.0);
        Crowding {
            passages: passages.sum(),
            meetings: meetings.sum(),
        }
    }
}

#[cfg(test)]
thread_local! {
    static IN_CELLS: std::cell::Cell<bool> = const { std::cell::Cell::new(false) };
}

/// Does some work of this thread as where every leg is a heap.
#[cfg(test)]
pub(super) fn in_cells<T>(work: impl FnOnce() -> T) -> T {
    IN_CELLS.set(true);
    let done = work();
    IN_CELLS.set(false);
    done
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::swath::PassRings;
    use crate::site::tests::lot;

    /// So many lanes of 2 m side by side, each driven so often.
    fn lanes(lanes: usize, times: usize) -> Strips {
        let ring = |k: usize| {
            let (low, high) = (-5.0 + 2.0 * k as f64, -3.0 + 2.0 * k as f64);
            [(-30.0, low), (30.0, low), (30.0, high), (-30.0, high)].map(|(x, y)| Xy::new(x, y))
        };
        let rings = (0..lanes * times).map(|k| ring(k % lanes).to_vec());
        Strips {
            passes: vec![PassRings {
                pass: 0,
                steps: 0..1,
                rings: rings.collect(),
            }],
            ..Strips::default()
        }
    }

    #[test]
    fn a_lot_treated_once_is_no_heap_and_one_treated_a_thousand_times_is() {
        let site = lot();
        let of = |strips: &Strips| Crowding::of(&site, &[strips], grounds);
        let once = of(&lanes(5, 1));
        assert!(!once.is_heap() && once.meetings < once.passages, "{once:?}");
        let often = of(&lanes(5, 1000));
        assert!(often.is_heap(), "{often:?}");
    }

    #[test]
    fn a_healthy_leg_stays_exact_beside_a_heap_and_many_that_are_one_together_do_not() {
        let site = lot();
        assert_eq!(
            heaps(&site, &[lanes(5, 1), lanes(5, 1000), lanes(5, 2)]),
            [false, true, false]
        );
        assert_eq!(heaps(&site, &[lanes(5, 1), lanes(5, 2)]), [false, false]);
        let many: Vec<Strips> = (0..60).map(|_| lanes(5, 10)).collect();
        assert_eq!(heaps(&site, &many), vec![true; 60]);
    }

    #[test]
    fn corners_close_together_are_one_passage() {
        let site = lot();
        let straight = [(0.0, 0.0), (20.0, 0.0)].map(|(x, y)| Xy::new(x, y));
        let mut fine: Vec<Xy> = (0..=2000)
            .map(|k| Xy::new(f64::from(k) / 100.0, 0.0))
            .collect();
        fine.dedup();
        let passages = |ring: &[Xy]| {
            let mut count = Count::over(&site).unwrap();
            let before = count.sum().passages;
            count.add(ring);
            count.sum().passages - before
        };
        let (of_two, of_many) = (passages(&straight), passages(&fine));
        assert!((of_two - of_many).abs() <= 2.0, "{of_two}, {of_many}");
    }

    #[test]
    fn zones_alone_are_no_heap() {
        let alone = Crowding::of(&lot(), &[], grounds);
        assert_eq!((alone.passages, alone.meetings), (0.0, 0.0));
    }
}
