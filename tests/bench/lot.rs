//! A lot of any size: its ground, what of it is missed, and the rig's way over it.

use crate::night::AHEAD_M;
use crate::path::{At, Path};
use making::chance::Chance;

/// Speed at work, m/s.
pub(crate) const WORK_M_S: f64 = 3.0;
/// Width of every boom, m, about; it is cut into 3 to 8 sections.
pub(crate) const BOOM_M: f64 = 4.8;
/// From one lane to the next as a share of the boom: what drivers leave as lap.
pub(crate) const LANE_SHARE: f64 = 0.95;
/// Between lots along a rig's row, and between rows, m.
pub(crate) const APART_M: f64 = 450.0;
/// Where a rig leaves the road for a lot, west of it, and how far south of the lots the road runs, m.
const APPROACH_M: f64 = 40.0;
const ROAD_M: f64 = -40.0;

/// A lot: a rectangle with cut corners and two islands.
pub(crate) struct Lot {
    pub length_m: f64,
    pub lanes: usize,
    /// Ground that is driven over with the boom closed: lower left and upper right corners, m.
    pub missed: Vec<[[f64; 2]; 2]>,
}

impl Lot {
    fn width_m(&self) -> f64 {
        self.lanes as f64 * LANE_SHARE * BOOM_M
    }

    /// The same with 5 % left out: a tenth of every second lane.
    pub(crate) fn with_missed(mut self, chance: &mut Chance) -> Self {
        const SHARE: f64 = 0.1;
        let pitch_m = LANE_SHARE * BOOM_M;
        let missed = (0..self.lanes).step_by(2).map(|lane| {
            let from_m = chance.between(0.0, 1.0 - SHARE) * self.length_m;
            let y_m = lane as f64 * pitch_m;
            [
                [from_m, y_m],
                [from_m + SHARE * self.length_m, y_m + pitch_m],
            ]
        });
        self.missed = missed.collect();
        self
    }

    /// Of the rectangle less its corners and islands of twelve corners.
    pub(crate) fn ground_m2(&self) -> f64 {
        let corners_m2 = 2.0 * self.cut_m() * self.cut_m();
        let island_m2 = |(_, radius_m): ([f64; 2], f64)| {
            6.0 * radius_m * radius_m * (std::f64::consts::TAU / 12.0).sin()
        };
        let islands_m2: f64 = self.islands().into_iter().map(island_m2).sum();
        self.length_m * self.width_m() - corners_m2 - islands_m2
    }

    /// How much is cut off each corner, m.
    fn cut_m(&self) -> f64 {
        0.08 * self.width_m()
    }

    /// Middle and radius of the islands.
    fn islands(&self) -> [([f64; 2], f64); 2] {
        let place = |x: f64, y: f64| [x * self.length_m, y * self.width_m()];
        [(place(0.3, 0.35), 4.0), (place(0.68, 0.6), 3.0)]
    }

    pub(crate) fn rings(&self) -> Vec<Vec<[f64; 2]>> {
        let (l, w, c) = (self.length_m, self.width_m(), self.cut_m());
        let outer = vec![
            [c, 0.0],
            [l - c, 0.0],
            [l, c],
            [l, w - c],
            [l - c, w],
            [c, w],
            [0.0, w - c],
            [0.0, c],
        ];
        let island = |([x, y], radius): ([f64; 2], f64)| {
            let corner = |k: usize| {
                let turn = -std::f64::consts::TAU * k as f64 / 12.0;
                [x + radius * turn.cos(), y + radius * turn.sin()]
            };
            (0..12).map(corner).collect()
        };
        std::iter::once(outer)
            .chain(self.islands().map(island))
            .collect()
    }

    fn contains(&self, [x, y]: [f64; 2]) -> bool {
        let (l, w, c) = (self.length_m, self.width_m(), self.cut_m());
        let inside = (0.0..=l).contains(&x) && (0.0..=w).contains(&y);
        let corner = x.min(l - x) + y.min(w - y) >= c;
        let bare = |([ix, iy], radius): ([f64; 2], f64)| (x - ix).hypot(y - iy) > radius;
        inside && corner && self.islands().into_iter().all(bare)
    }

    fn is_missed(&self, [x, y]: [f64; 2]) -> bool {
        let within = |[[west, south], [east, north]]: &[[f64; 2]; 2]| {
            (*west..*east).contains(&x) && (*south..*north).contains(&y)
        };
        self.missed.iter().any(within)
    }

    /// Sections that are open: those whose middle is over the lot at any of these places on a lane.
    pub(crate) fn open(&self, places: &[&At], sections: usize) -> Vec<bool> {
        let width_m = BOOM_M / sections as f64;
        let over = |at: &At, section: usize| {
            let (sin, cos) = at.heading_rad.sin_cos();
            let left_m = BOOM_M / 2.0 - (section as f64 + 0.5) * width_m;
            let place_m = [
                at.place_m[0] - AHEAD_M * cos - left_m * sin,
                at.place_m[1] - AHEAD_M * sin + left_m * cos,
            ];
            self.contains(place_m) && !self.is_missed(place_m)
        };
        let lanes = places.iter().filter(|at| at.working);
        (0..sections)
            .map(|section| lanes.clone().any(|at| over(at, section)))
            .collect()
    }

    /// The rig's way over the lot, then a wait and the road to the next one, in `seconds` altogether.
    pub(crate) fn path(&self, seconds: f64) -> Path {
        let run_up_m = 2.0;
        let mut path = Path::from([-APPROACH_M, LANE_SHARE * BOOM_M / 2.0]);
        let mut east = true;
        for lane in lane_order(self.lanes) {
            let y_m = (lane as f64 + 0.5) * LANE_SHARE * BOOM_M;
            let ends_m = [-run_up_m, self.length_m + run_up_m];
            let (from_m, to_m) = if east { (0, 1) } else { (1, 0) };
            if path.seconds() > 0.0 {
                let bulge = if east { -1.0 } else { 1.0 };
                path.turn_to([ends_m[from_m], y_m], bulge, WORK_M_S);
            }
            path.line_to([ends_m[to_m], y_m], WORK_M_S, true);
            east = !east;
        }
        let road = |path: &mut Path| {
            path.line_to([APART_M - APPROACH_M, ROAD_M], 12.0, false);
            path.line_to(
                [APART_M - APPROACH_M, LANE_SHARE * BOOM_M / 2.0],
                5.0,
                false,
            );
        };
        path.line_to([self.length_m + APPROACH_M, ROAD_M], 5.0, false);
        let mut rest = Path::from([self.length_m + APPROACH_M, ROAD_M]);
        road(&mut rest);
        path.wait(seconds - path.seconds() - rest.seconds());
        road(&mut path);
        path
    }
}

/// Lanes in blocks of six, every third one next, so that turns are wide enough to drive.
fn lane_order(lanes: usize) -> Vec<usize> {
    let block = |first: usize| [0, 3, 1, 4, 2, 5].map(|k| first + k);
    (0..lanes)
        .step_by(6)
        .flat_map(block)
        .filter(|lane| *lane < lanes)
        .collect()
}
