//! Step 2: a route for the rear axle, and the stretches of it on which the boom sprays.

use crate::dubins::{self, Piece, Pose};
use crate::rig::Rig;

/// Straight run before the boom opens: the rig is at lane speed and points along the lane.
pub(crate) const LEAD_M: f64 = 6.0;
/// Straight run after the boom closes, before the next turn.
const TAIL_M: f64 = 1.0;

/// Standing while the gear changes, s.
const GEAR_S: f64 = 1.5;

/// What goes wrong on one stretch.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Trouble {
    /// The pump stands still, from this distance on.
    Dry { at_m: f64, seconds: f64 },
    /// The log is silent, from this distance on.
    Silence { at_m: f64, seconds: f64 },
}

/// A straight line over which the boom is to spray.
#[derive(Debug, Clone)]
pub(crate) struct Stretch {
    /// Site to whose ground it belongs.
    pub site: &'static str,
    /// Distance along the route of the axle at which liquid is to reach the ground, and to stop.
    pub open_at_m: f64,
    pub close_at_m: f64,
    /// Which sections open.
    pub open: Vec<bool>,
    pub rate_ml_m2: f64,
    pub trouble: Option<Trouble>,
}

/// One leg: constant curvature, one speed limit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Leg {
    pub piece: Piece,
    pub start: Pose,
    pub start_m: f64,
    pub limit_m_s: f64,
    /// Driven backward: the pose goes back along the piece.
    pub reverse: bool,
}

/// A stop on the way.
#[derive(Debug, Clone)]
pub(crate) struct Stop {
    pub at_m: f64,
    pub seconds: f64,
    /// Seconds after the stop's beginning during which the hand gun is open.
    pub gun: Vec<(f64, f64)>,
}

/// A route being driven, from its start to `pose`.
#[derive(Debug, Clone)]
pub(crate) struct Route {
    pub rig: Rig,
    pub pose: Pose,
    pub length_m: f64,
    pub legs: Vec<Leg>,
    pub stops: Vec<Stop>,
    pub stretches: Vec<Stretch>,
}

/// How a stretch is sprayed.
#[derive(Debug, Clone)]
pub(crate) struct Manner {
    pub site: &'static str,
    pub open: Vec<bool>,
    pub rate_ml_m2: f64,
    pub speed_m_s: f64,
}

impl Route {
    pub(crate) fn new(rig: Rig, pose: Pose) -> Self {
        Self {
            rig,
            pose,
            length_m: 0.0,
            legs: Vec::new(),
            stops: Vec::new(),
            stretches: Vec::new(),
        }
    }

    /// Drives to a pose by the shortest way.
    pub(crate) fn go(&mut self, to: Pose, limit_m_s: f64) {
        for piece in dubins::shortest(self.pose, to, self.rig.radius_m) {
            self.push(piece, limit_m_s);
        }
        // The heading comes out as whole turns more or less; start afresh so that rounding does not add up.
        self.pose = to;
    }

    /// Stands still.
    pub(crate) fn stop(&mut self, seconds: f64) {
        self.stop_with_gun(seconds, Vec::new());
    }

    /// Stands still while the crew uses the hand gun.
    pub(crate) fn stop_with_gun(&mut self, seconds: f64, gun: Vec<(f64, f64)>) {
        self.stops.push(Stop {
            at_m: self.length_m,
            seconds,
            gun,
        });
    }

    /// Drives to a line for the boom's centre and sprays along it.
    pub(crate) fn spray(
        &mut self,
        from: (f64, f64),
        to: (f64, f64),
        manner: &Manner,
        trouble: Option<Trouble>,
    ) {
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
        self.note(open_at_m, manner, trouble);
        self.push(line(TAIL_M), manner.speed_m_s);
    }

    /// Goes on spraying from the end of the last stretch to a pose, by arcs of `radius_m` at least.
    pub(crate) fn spray_on(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        // The tail that the last stretch added for its closing is sprayed as well.
        let last = self.stretches.pop().expect("some stretch is being sprayed");
        self.curve(to, radius_m, manner);
        self.note(last.open_at_m, manner, last.trouble);
    }

    /// Opens here and sprays to a pose, by arcs of `radius_m` at least.
    pub(crate) fn spray_afresh(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        let open_at_m = self.length_m;
        self.curve(to, radius_m, manner);
        self.note(open_at_m, manner, None);
    }

    fn curve(&mut self, to: Pose, radius_m: f64, manner: &Manner) {
        for piece in dubins::shortest(self.pose, to, radius_m) {
            self.push(piece, manner.speed_m_s);
        }
        self.pose = to;
    }

    /// Writes down a stretch that ends here.
    fn note(&mut self, open_at_m: f64, manner: &Manner, trouble: Option<Trouble>) {
        self.stretches.push(Stretch {
            site: manner.site,
            open_at_m,
            close_at_m: self.length_m,
            open: manner.open.clone(),
            rate_ml_m2: manner.rate_ml_m2,
            trouble,
        });
    }

    /// Stops and backs along an arc, or along a line where `curvature_per_m` is 0, and stops again. The
    /// curvature is that of the same arc driven forward.
    pub(crate) fn back(&mut self, length_m: f64, curvature_per_m: f64, limit_m_s: f64) {
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
    pub(crate) fn arc(&mut self, length_m: f64, curvature_per_m: f64, limit_m_s: f64) {
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
