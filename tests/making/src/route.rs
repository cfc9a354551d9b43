//! A route for the rear axle, and the stretches of it on which the boom sprays.

use crate::dubins::{self, Piece, Pose};
use crate::lot::At;
use crate::rig::{GAL_AC_ML_M2, Rig};

/// Straight run before the boom opens: the rig is at lane speed and points along the lane.
pub const LEAD_M: f64 = 6.0;
/// Straight run after the boom closes, before the next turn.
const TAIL_M: f64 = 1.0;

/// Standing while the gear changes, s.
const GEAR_S: f64 = 1.5;

/// Something that lasts a while on a stretch.
#[derive(Debug, Clone, Copy)]
pub struct While {
    /// From this distance on, m.
    pub at_m: f64,
    /// For so long.
    pub seconds: f64,
}

/// Liquid beside the controller's.
#[derive(Debug, Clone, Copy)]
pub struct Pour {
    /// Distance along the route, m.
    pub at_m: f64,
    /// Begins so long after the rig got there.
    pub after_s: f64,
    /// Goes on for so long.
    pub seconds: f64,
    /// Runs at this, L/s.
    pub l_s: f64,
}

/// A straight line over which the boom is to spray.
#[derive(Debug, Clone)]
pub struct Stretch {
    /// Site to whose ground it belongs.
    pub site: &'static str,
    /// Distance along the route of the axle at which liquid is to reach the ground.
    pub open_at_m: f64,
    /// And at which it is to stop.
    pub close_at_m: f64,
    /// Which sections open.
    pub open: Vec<bool>,
    /// What the controller is to lay.
    pub rate_ml_m2: f64,
    /// The flow is that of this speed, whatever the true one.
    pub as_if_at_m_s: Option<f64>,
    /// The pump stands still.
    pub dry: Option<While>,
    /// The log is silent.
    pub silent: Option<While>,
}

/// One leg: constant curvature, one speed limit.
#[derive(Debug, Clone, Copy)]
pub struct Leg {
    /// Its length and curvature.
    pub piece: Piece,
    /// Where it begins.
    pub start: Pose,
    /// Distance along the route there, m.
    pub start_m: f64,
    /// Not faster than this, m/s.
    pub limit_m_s: f64,
    /// Driven backward: the pose goes back along the piece.
    pub reverse: bool,
}

/// A stop on the way.
#[derive(Debug, Clone)]
pub struct Stop {
    /// Distance along the route, m.
    pub at_m: f64,
    /// For so long.
    pub seconds: f64,
    /// Seconds after the stop's beginning during which the hand gun is open.
    pub gun: Vec<(f64, f64)>,
}

/// A route being driven, from its start to `pose`.
#[derive(Debug, Clone)]
pub struct Route {
    /// Who drives it.
    pub rig: Rig,
    /// Where it ends so far.
    pub pose: Pose,
    /// How long it is so far, m.
    pub length_m: f64,
    /// What is driven.
    pub legs: Vec<Leg>,
    /// Where it stands still.
    pub stops: Vec<Stop>,
    /// What is sprayed.
    pub stretches: Vec<Stretch>,
    /// Liquid that flows beside the controller's.
    pub pours: Vec<Pour>,
}

/// How a stretch is sprayed.
#[derive(Debug, Clone)]
pub struct Manner {
    /// Site to whose ground it belongs.
    pub site: &'static str,
    /// Which sections open.
    pub open: Vec<bool>,
    /// What the controller is to lay.
    pub rate_ml_m2: f64,
    /// Speed at work.
    pub speed_m_s: f64,
}

impl Manner {
    /// The whole boom at a rate, at the speed of lanes.
    pub fn usual(rig: &Rig, site: &'static str, rate_gal_ac: f64) -> Self {
        Self {
            site,
            open: vec![true; rig.sections_m.len()],
            rate_ml_m2: rate_gal_ac * GAL_AC_ML_M2,
            speed_m_s: rig.lane_speed_m_s,
        }
    }
}

impl Route {
    /// A route that begins at a pose.
    pub fn new(rig: Rig, pose: Pose) -> Self {
        Self {
            rig,
            pose,
            length_m: 0.0,
            legs: Vec::new(),
            stops: Vec::new(),
            stretches: Vec::new(),
            pours: Vec::new(),
        }
    }

    /// Drives to a pose by the shortest way.
    pub fn go(&mut self, to: Pose, limit_m_s: f64) {
        for piece in dubins::shortest(self.pose, to, self.rig.radius_m) {
            self.push(piece, limit_m_s);
        }
        // The heading comes out as whole turns more or less; start afresh so that rounding does not add up.
        self.pose = to;
    }

    /// Stands still.
    pub fn stop(&mut self, seconds: f64) {
        self.stop_with_gun(seconds, Vec::new());
    }

    /// Stands still while the crew uses the hand gun.
    pub fn stop_with_gun(&mut self, seconds: f64, gun: Vec<(f64, f64)>) {
        self.stops.push(Stop {
            at_m: self.length_m,
            seconds,
            gun,
        });
    }

    /// Drives to a line for the boom's centre and sprays along it.
    pub fn spray(&mut self, from: At, to: At, manner: &Manner) {
        let (dx_m, dy_m) = (to.0 - from.0, to.1 - from.1);
        let length_m = dx_m.hypot(dy_m);
        let (ux, uy) = (dx_m / length_m, dy_m / length_m);
        let before_m = self.rig.boom_behind_m() - LEAD_M;
        let start = Pose::new(
            from.0 + ux * before_m,
            from.1 + uy * before_m,
            dy_m.atan2(dx_m),
        );
        self.go(start, manner.speed_m_s);
        let open_at_m = self.length_m + LEAD_M;
        let line = |length_m| Piece {
            length_m,
            curvature_per_m: 0.0,
        };
        self.push(line(LEAD_M + length_m), manner.speed_m_s);
        self.note(open_at_m, manner);
        self.push(line(TAIL_M), manner.speed_m_s);
    }

    /// Goes on spraying from the end of the last stretch to a pose, by arcs of `radius_m` at least.
    pub fn spray_on(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        // The tail that the last stretch added for its closing is sprayed as well.
        self.curve(to, radius_m, manner);
        if let Some(last) = self.stretches.last_mut() {
            last.close_at_m = self.length_m;
        }
    }

    /// Opens here and sprays to a pose, by arcs of `radius_m` at least.
    pub fn spray_afresh(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        let open_at_m = self.length_m;
        self.curve(to, radius_m, manner);
        self.note(open_at_m, manner);
    }

    fn curve(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        for piece in dubins::shortest(self.pose, to, radius_m) {
            self.push(piece, manner.speed_m_s);
        }
        self.pose = to;
    }

    /// Writes down a stretch that ends here.
    fn note(&mut self, open_at_m: f64, manner: &Manner) {
        self.stretches.push(Stretch {
            site: manner.site,
            open_at_m,
            close_at_m: self.length_m,
            open: manner.open.clone(),
            rate_ml_m2: manner.rate_ml_m2,
            as_if_at_m_s: None,
            dry: None,
            silent: None,
        });
    }

    /// Stops and backs along an arc, or along a line where `curvature_per_m` is 0, and stops again. The
    /// curvature is that of the same arc driven forward.
    pub fn back(&mut self, length_m: f64, curvature_per_m: f64, limit_m_s: f64) {
        self.stop(GEAR_S);
        self.push_leg(
            Piece {
                length_m,
                curvature_per_m,
            },
            limit_m_s,
            true,
        );
        self.stop(GEAR_S);
    }

    /// Drives an arc forward; left turns have positive curvature.
    pub fn arc(&mut self, length_m: f64, curvature_per_m: f64, limit_m_s: f64) {
        self.push(
            Piece {
                length_m,
                curvature_per_m,
            },
            limit_m_s,
        );
    }

    fn push(&mut self, piece: Piece, limit_m_s: f64) {
        self.push_leg(piece, limit_m_s, false);
    }

    fn push_leg(&mut self, piece: Piece, limit_m_s: f64, reverse: bool) {
        self.legs.push(Leg {
            piece,
            start: self.pose,
            start_m: self.length_m,
            limit_m_s,
            reverse,
        });
        let way = if reverse { -1.0 } else { 1.0 };
        self.pose = self.pose.along(piece, way * piece.length_m);
        self.length_m += piece.length_m;
    }
}
