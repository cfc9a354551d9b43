//! The route in time. Speed limits, acceleration, stops, and a driver's unsteady hand.

use crate::chance::Chance;
use crate::dubins::Pose;
use crate::route::Route;
use std::f64::consts::TAU;

/// Distance between the nodes of the speed profile, m.
const NODE_M: f64 = 0.25;
const SPEED_UP_M_S2: f64 = 0.9;
const BRAKE_M_S2: f64 = 1.1;
/// Sideways acceleration that a loaded tank rig takes in turns, m/s2.
const SIDEWAYS_M_S2: f64 = 1.8;
/// Half amplitudes and wavelengths of the wander about the planned line, m.
const WANDER_M: [(f64, f64); 2] = [(0.05, 41.0), (0.03, 23.0)];

/// The rear axle over time: at node `i` the distance is `i * step_m`.
pub struct Motion {
    route: Route,
    step_m: f64,
    arrive_s: Vec<f64>,
    leave_s: Vec<f64>,
    speed_m_s: Vec<f64>,
    phase_rad: [f64; 2],
    /// Where a trailer points at each node.
    trailer_rad: Vec<f64>,
}

/// The trailer is followed in pieces of a node this small.
const TOWED_PIECES: usize = 25;

impl Motion {
    /// Drives the route from second 0.
    pub fn new(route: Route, chance: &mut Chance) -> Self {
        let nodes = (route.length_m / NODE_M).ceil() as usize;
        let step_m = route.length_m / nodes as f64;
        let speed_m_s = speeds(&route, nodes, step_m);
        let mut wait_s = vec![0.0; nodes + 1];
        for stop in &route.stops {
            wait_s[(stop.at_m / step_m).round() as usize] += stop.seconds;
        }
        let (mut arrive_s, mut leave_s) = (vec![0.0; nodes + 1], wait_s);
        for i in 1..=nodes {
            arrive_s[i] = leave_s[i - 1] + 2.0 * step_m / (speed_m_s[i - 1] + speed_m_s[i]);
            leave_s[i] += arrive_s[i];
        }
        let phase_rad = [TAU * chance.uniform(), TAU * chance.uniform()];
        let mut motion = Self {
            trailer_rad: Vec::new(),
            route,
            step_m,
            arrive_s,
            leave_s,
            speed_m_s,
            phase_rad,
        };
        motion.tow(nodes);
        motion
    }

    /// Drags the trailer along: its axle moves the way it points, as far as the hitch draws it. Steps of a
    /// centimetre; nothing tows backward here.
    fn tow(&mut self, nodes: usize) {
        let Some(hitch) = self.route.rig.hitch else {
            return;
        };
        let hitch_m = |pose: Pose| {
            let (sin, cos) = pose.psi_rad.sin_cos();
            (
                pose.x_m - hitch.behind_axle_m * cos,
                pose.y_m - hitch.behind_axle_m * sin,
            )
        };
        let mut psi_rad = self.pose(0.0).psi_rad;
        let mut at_m = hitch_m(self.pose(0.0));
        self.trailer_rad.push(psi_rad);
        for node in 0..nodes {
            for piece in 1..=TOWED_PIECES {
                let share = piece as f64 / TOWED_PIECES as f64;
                let next_m = hitch_m(self.pose((node as f64 + share) * self.step_m));
                let (sin, cos) = psi_rad.sin_cos();
                let across_m = (next_m.1 - at_m.1) * cos - (next_m.0 - at_m.0) * sin;
                psi_rad += across_m / hitch.to_axle_m;
                at_m = next_m;
            }
            self.trailer_rad.push(psi_rad);
        }
    }

    /// The boom's centre and where it points, at a distance along the route.
    pub fn boom(&self, at_m: f64) -> Pose {
        let axle = self.pose(at_m);
        let (sin, cos) = axle.psi_rad.sin_cos();
        let Some(hitch) = self.route.rig.hitch else {
            let behind_m = self.route.rig.boom_behind_m();
            return Pose::new(
                axle.x_m - behind_m * cos,
                axle.y_m - behind_m * sin,
                axle.psi_rad,
            );
        };
        let node = ((at_m / self.step_m) as usize).min(self.trailer_rad.len() - 2);
        let share = at_m / self.step_m - node as f64;
        let (from_rad, to_rad) = (self.trailer_rad[node], self.trailer_rad[node + 1]);
        let psi_rad = from_rad + share * (to_rad - from_rad);
        let back_m = hitch.to_axle_m + hitch.axle_to_boom_m;
        Pose::new(
            axle.x_m - hitch.behind_axle_m * cos - back_m * psi_rad.cos(),
            axle.y_m - hitch.behind_axle_m * sin - back_m * psi_rad.sin(),
            psi_rad,
        )
    }

    /// What is driven.
    pub fn route(&self) -> &Route {
        &self.route
    }

    /// When it ends.
    pub fn end_s(&self) -> f64 {
        self.leave_s[self.leave_s.len() - 1]
    }

    /// When the axle arrives at a stop.
    pub fn stop_s(&self, at_m: f64) -> f64 {
        self.arrive_s[(at_m / self.step_m).round() as usize]
    }

    /// When the axle is `at_m` along the route (between stops).
    pub fn time_s(&self, at_m: f64) -> f64 {
        let i = ((at_m / self.step_m) as usize).min(self.arrive_s.len() - 2);
        let share = at_m / self.step_m - i as f64;
        self.leave_s[i] + share * (self.arrive_s[i + 1] - self.leave_s[i])
    }

    /// Distance and speed at a time.
    pub fn at(&self, time_s: f64) -> (f64, f64) {
        let next = self
            .arrive_s
            .partition_point(|&arrive_s| arrive_s <= time_s);
        let i = next.saturating_sub(1);
        if time_s <= self.leave_s[i] || next == self.arrive_s.len() {
            return (i as f64 * self.step_m, 0.0);
        }
        let share = (time_s - self.leave_s[i]) / (self.arrive_s[next] - self.leave_s[i]);
        let (v0, v1) = (self.speed_m_s[i], self.speed_m_s[next]);
        // Constant acceleration between nodes: distance is quadratic in time.
        let moved = (v0 * share + (v1 - v0) * share * share / 2.0) / ((v0 + v1) / 2.0);
        ((i as f64 + moved) * self.step_m, v0 + (v1 - v0) * share)
    }

    /// The rear axle at a distance along the route, wander included.
    pub fn pose(&self, at_m: f64) -> Pose {
        let leg = self
            .route
            .legs
            .partition_point(|leg| leg.start_m <= at_m)
            .saturating_sub(1);
        let leg = &self.route.legs[leg];
        let way = if leg.reverse { -1.0 } else { 1.0 };
        let planned = leg.start.along(leg.piece, way * (at_m - leg.start_m));
        let (mut aside_m, mut slope) = (0.0, 0.0);
        for ((half_m, wave_m), phase_rad) in WANDER_M.into_iter().zip(self.phase_rad) {
            let (sin, cos) = (TAU * at_m / wave_m + phase_rad).sin_cos();
            aside_m += half_m * sin;
            slope += way * half_m * cos * TAU / wave_m;
        }
        let (sin, cos) = planned.psi_rad.sin_cos();
        Pose::new(
            planned.x_m - aside_m * sin,
            planned.y_m + aside_m * cos,
            planned.psi_rad + slope.atan(),
        )
    }
}

/// Fastest speed at each node within the limits and the acceleration.
fn speeds(route: &Route, nodes: usize, step_m: f64) -> Vec<f64> {
    let mut speed_m_s = vec![f64::INFINITY; nodes + 1];
    for leg in &route.legs {
        let curve_m_s = (SIDEWAYS_M_S2 / leg.piece.curvature_per_m.abs().max(1e-9)).sqrt();
        let (first, last) = (
            leg.start_m / step_m,
            (leg.start_m + leg.piece.length_m) / step_m,
        );
        for speed_m_s in &mut speed_m_s[first as usize..=(last.ceil() as usize).min(nodes)] {
            *speed_m_s = speed_m_s.min(leg.limit_m_s).min(curve_m_s);
        }
    }
    for stop in &route.stops {
        speed_m_s[(stop.at_m / step_m).round() as usize] = 0.0;
    }
    speed_m_s[0] = 0.0;
    speed_m_s[nodes] = 0.0;
    for i in 1..=nodes {
        speed_m_s[i] =
            speed_m_s[i].min((speed_m_s[i - 1].powi(2) + 2.0 * SPEED_UP_M_S2 * step_m).sqrt());
    }
    for i in (0..nodes).rev() {
        speed_m_s[i] =
            speed_m_s[i].min((speed_m_s[i + 1].powi(2) + 2.0 * BRAKE_M_S2 * step_m).sqrt());
    }
    speed_m_s
}
