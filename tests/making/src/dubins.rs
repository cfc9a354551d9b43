//! The shortest path of arcs and straight lines between two poses.
//!
//! The rear axle of a rig follows such paths. Six shapes exist for one least radius (L. E. Dubins,
//! "On curves of minimal length with a constraint on average curvature", Amer. J. Math. 79, 1957);
//! each candidate is driven to its end and kept only if it arrives.

use std::f64::consts::{PI, TAU};

/// Where the rear axle is and where the vehicle points. `psi_rad` counts from east, left positive.
#[derive(Debug, Clone, Copy)]
pub struct Pose {
    /// East.
    pub x_m: f64,
    /// North.
    pub y_m: f64,
    /// Where it points.
    pub psi_rad: f64,
}

/// A stretch of constant curvature; left turns are positive.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    /// How long it is.
    pub length_m: f64,
    /// One over its radius; 0 for a straight line.
    pub curvature_per_m: f64,
}

/// A path must end this near to its goal to count, m. The formulas are exact but for rounding.
const ARRIVED_M: f64 = 1e-6;

impl Pose {
    /// A place and a direction.
    pub fn new(x_m: f64, y_m: f64, psi_rad: f64) -> Self {
        Self { x_m, y_m, psi_rad }
    }

    /// The pose `length_m` further along `piece`.
    pub fn along(self, piece: Piece, length_m: f64) -> Self {
        let turn_rad = piece.curvature_per_m * length_m;
        let chord_m = if turn_rad.abs() < 1e-12 {
            length_m
        } else {
            (turn_rad / 2.0).sin() * 2.0 / piece.curvature_per_m
        };
        let (sin, cos) = (self.psi_rad + turn_rad / 2.0).sin_cos();
        Self::new(
            self.x_m + chord_m * cos,
            self.y_m + chord_m * sin,
            self.psi_rad + turn_rad,
        )
    }
}

/// The shortest path from `from` to `to` with no turn tighter than `radius_m`.
///
/// # Panics
///
/// A coordinate is not a number.
pub fn shortest(from: Pose, to: Pose, radius_m: f64) -> Vec<Piece> {
    let mut best: Option<(f64, Vec<Piece>)> = None;
    for (turns, lengths) in candidates(from, to, radius_m) {
        let pieces: Vec<Piece> = turns
            .iter()
            .zip(lengths)
            .map(|(&turn, length)| Piece {
                length_m: length * radius_m,
                curvature_per_m: f64::from(turn) / radius_m,
            })
            .filter(|piece| piece.length_m > 1e-6)
            .collect();
        let end = pieces
            .iter()
            .fold(from, |pose, &piece| pose.along(piece, piece.length_m));
        let total_m: f64 = pieces.iter().map(|piece| piece.length_m).sum();
        let arrived = (end.x_m - to.x_m).hypot(end.y_m - to.y_m) < ARRIVED_M;
        if arrived
            && best
                .as_ref()
                .is_none_or(|(shortest_m, _)| total_m < *shortest_m)
        {
            best = Some((total_m, pieces));
        }
    }
    best.expect("LSL or RSR exists between any two poses").1
}

/// Turn directions and lengths, in radii, of the six shapes; impossible ones are left out.
fn candidates(from: Pose, to: Pose, radius_m: f64) -> Vec<([i8; 3], [f64; 3])> {
    let (dx_m, dy_m) = (to.x_m - from.x_m, to.y_m - from.y_m);
    let d = dx_m.hypot(dy_m) / radius_m;
    let theta = dy_m.atan2(dx_m);
    let (a, b) = (whole(from.psi_rad - theta), whole(to.psi_rad - theta));
    let ((sa, ca), (sb, cb), cab) = (a.sin_cos(), b.sin_cos(), (a - b).cos());
    let mut found = Vec::new();
    let mut outer = |turns: [i8; 3], square: f64, th: &dyn Fn(f64) -> f64| {
        if square >= -1e-12 {
            let p = square.max(0.0).sqrt();
            let th = th(p);
            let (first, last) = (f64::from(turns[0]), f64::from(turns[2]));
            found.push((turns, [whole(first * (th - a)), p, whole(last * (b - th))]));
        }
    };
    outer(
        [1, 0, 1],
        d * d + 2.0 - 2.0 * cab + 2.0 * d * (sa - sb),
        &|_| (cb - ca).atan2(d + sa - sb),
    );
    outer(
        [-1, 0, -1],
        d * d + 2.0 - 2.0 * cab + 2.0 * d * (sb - sa),
        &|_| (ca - cb).atan2(d - sa + sb),
    );
    let both = d * d - 2.0 + 2.0 * cab;
    outer([1, 0, -1], both + 2.0 * d * (sa + sb), &|p| {
        (-ca - cb).atan2(d + sa + sb) - (-2.0_f64).atan2(p)
    });
    outer([-1, 0, 1], both - 2.0 * d * (sa + sb), &|p| {
        (ca + cb).atan2(d - sa - sb) - 2.0_f64.atan2(p)
    });
    for sign in [1.0, -1.0] {
        let cosine = (6.0 - d * d + 2.0 * cab + sign * 2.0 * d * (sa - sb)) / 8.0;
        if cosine.abs() <= 1.0 {
            let p = TAU - cosine.acos();
            // sign +1 is right-left-right, -1 its mirror image.
            let first = whole(sign * a - (ca - cb).atan2(d - sign * (sa - sb)) + p / 2.0);
            let last = whole(sign * (a - b) - first + p);
            let side: i8 = if sign > 0.0 { -1 } else { 1 };
            found.push(([side, -side, side], [first, p, last]));
        }
    }
    found
}

/// The angle in [0, 2 pi); a hair under a full turn is no turn.
fn whole(angle_rad: f64) -> f64 {
    let angle_rad = angle_rad.rem_euclid(TAU);
    if angle_rad > TAU - 1e-9 {
        0.0
    } else {
        angle_rad
    }
}

/// East as `psi_rad`.
pub const EAST: f64 = 0.0;
/// North as `psi_rad`.
pub const NORTH: f64 = PI / 2.0;
/// West as `psi_rad`.
pub const WEST: f64 = PI;

#[cfg(test)]
mod tests {
    use super::*;

    fn length_m(from: Pose, to: Pose) -> f64 {
        shortest(from, to, 5.0)
            .iter()
            .map(|piece| piece.length_m)
            .sum()
    }

    #[test]
    fn shortest_paths_have_the_lengths_of_plane_geometry() {
        let start = Pose::new(0.0, 0.0, EAST);
        // Straight on; a half turn onto the lane beside; back past the start: two half turns and the way between.
        for (to, wanted_m) in [
            (Pose::new(30.0, 0.0, EAST), 30.0),
            (Pose::new(0.0, 10.0, WEST), 5.0 * PI),
            (Pose::new(-40.0, 0.0, EAST), 10.0 * PI + 40.0),
        ] {
            assert!((length_m(start, to) - wanted_m).abs() < 1e-9);
        }
    }

    #[test]
    fn a_path_ends_at_its_goal_and_is_no_shorter_than_the_straight_way() {
        for step in 0_u32..200 {
            let turn = f64::from(step) * 0.7;
            let to = Pose::new(20.0 * turn.sin(), 3.0 * turn.cos(), turn);
            let from = Pose::new(0.0, 0.0, EAST);
            let pieces = shortest(from, to, 5.0);
            let end = pieces
                .iter()
                .fold(from, |pose, &piece| pose.along(piece, piece.length_m));
            assert!((end.x_m - to.x_m).hypot(end.y_m - to.y_m) < ARRIVED_M);
            let off_rad = (end.psi_rad - to.psi_rad).sin().abs();
            assert!(off_rad < 1e-9, "{off_rad}");
            assert!(length_m(from, to) >= to.x_m.hypot(to.y_m) - ARRIVED_M);
        }
    }
}
