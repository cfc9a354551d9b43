//! Driving: a bicycle model whose rear axle is steered along moves, with a driver who wanders, slows in turns and
//! throws the boom's switches.

use crate::chance::{Chance, Wander};
use crate::grid::Grid;
use crate::ground::Site;
use crate::plane::{P, ahead};
use crate::rig::{Pose, Rig};
use crate::route::{Node, STEP_M, wrapped};

/// Interval of the simulation.
pub(crate) const TICK_S: f64 = 0.05;

/// One path in one gear.
pub(crate) struct Move {
    pub(crate) nodes: Vec<Node>,
    pub(crate) reverse: bool,
    pub(crate) speed_mps: f64,
    /// Way of the rear axle between which the boom may be open.
    pub(crate) spray: Option<(f64, f64)>,
    /// Number of the lane, 0 for none.
    pub(crate) lane: u32,
}

impl Move {
    /// Length.
    pub(crate) fn length_m(&self) -> f64 {
        self.nodes
            .windows(2)
            .map(|n| crate::plane::distance(n[0].p, n[1].p))
            .sum()
    }
}

/// Where a rig was and what its switches said.
#[derive(Clone, Copy)]
pub(crate) struct Tick {
    pub(crate) t: f64,
    pub(crate) pose: Pose,
    /// Along the heading; negative in reverse.
    pub(crate) speed_mps: f64,
    /// Switches, first section in the lowest bit.
    pub(crate) open: u64,
    pub(crate) lane: u32,
    /// Number of the site in whose frame the pose stands; `None`: in the night's plane.
    pub(crate) site: Option<usize>,
}

/// A rig at work on one site.
pub(crate) struct Driver<'a> {
    pub(crate) rig: &'a Rig,
    pub(crate) site: &'a Site,
    pub(crate) site_number: usize,
    pub(crate) pose: Pose,
    pub(crate) t: f64,
    pub(crate) ticks: Vec<Tick>,
    /// Ground that the driver means to treat, as far as it is this rig's.
    pub(crate) meant: Grid<bool>,
    curvature: f64,
    speed_mps: f64,
    open: u64,
    decide_in_s: f64,
    wander: Wander,
    pace: Wander,
    chance: Chance,
}

const LATERAL_MPS2: f64 = 1.3; // what a loaded truck takes on ice without sliding
const SPEED_UP_MPS2: f64 = 0.9;
const SLOW_DOWN_MPS2: f64 = 1.5;
const STEERING_LAG_S: f64 = 0.25;

impl<'a> Driver<'a> {
    /// Arrives at `pose`.
    pub(crate) fn new(
        rig: &'a Rig,
        site: (usize, &'a Site),
        pose: Pose,
        t: f64,
        mut chance: Chance,
    ) -> Self {
        let wander = Wander::new(0.07, 8.0, &mut chance);
        let pace = Wander::new(0.04, 10.0, &mut chance);
        Self {
            rig,
            site: site.1,
            site_number: site.0,
            pose,
            t,
            ticks: Vec::new(),
            meant: site.1.meant.clone(),
            curvature: 0.0,
            speed_mps: 0.0,
            open: 0,
            decide_in_s: 0.0,
            wander,
            pace,
            chance,
        }
    }

    /// Stands for a while, all closed.
    pub(crate) fn stand(&mut self, seconds: f64) {
        self.open = 0;
        self.speed_mps = 0.0;
        for _ in 0..(seconds / TICK_S) as usize {
            self.note(0, false);
        }
    }

    fn note(&mut self, lane: u32, reverse: bool) {
        let speed_mps = if reverse {
            -self.speed_mps
        } else {
            self.speed_mps
        };
        let site = Some(self.site_number);
        self.ticks.push(Tick {
            t: self.t,
            pose: self.pose,
            speed_mps,
            open: self.open,
            lane,
            site,
        });
        self.t += TICK_S;
    }

    /// Drives a move; `rolls_on`: the next one goes on in the same gear.
    pub(crate) fn drive(&mut self, way: &Move, rolls_on: bool) {
        let profile = speeds(
            way,
            if rolls_on {
                2.2
            } else if self.rig.full_stop {
                0.25
            } else {
                0.9
            },
        );
        let length = way.length_m();
        let step = length / (way.nodes.len() - 1).max(1) as f64;
        let late_s = 0.12 * self.chance.normal(); // of the driver's hand
        let margin_m = if self.rig.one_lever { 0.4 } else { 0.25 };
        let mut s = 0.0;
        let limit = self.t + 60.0 + length / 0.3;
        while s < length - 0.02 && self.t < limit {
            let at = s / step;
            let node = between(&way.nodes, at);
            let soon = between(&way.nodes, at + self.speed_mps * STEERING_LAG_S / step);
            self.steer(&node, soon.curvature, way.reverse);
            let wanted = profile[(at as usize + 1).min(profile.len() - 1)]
                * (1.0 + self.pace.after(TICK_S, &mut self.chance));
            let change = (wanted - self.speed_mps)
                .clamp(-2.0 * SLOW_DOWN_MPS2 * TICK_S, SPEED_UP_MPS2 * TICK_S);
            self.speed_mps = (self.speed_mps + change).max(0.2);
            self.advance(way.reverse);
            let ahead_m = (self.pose.axle[0] - node.p[0]) * node.direction.cos()
                + (self.pose.axle[1] - node.p[1]) * node.direction.sin();
            s += ahead_m;
            self.decide(way, s, late_s, margin_m);
            self.note(way.lane, way.reverse);
        }
        if !rolls_on {
            if self.rig.full_stop {
                let stand_s = self.chance.even(1.2, 3.0);
                self.stand(stand_s);
            } else {
                self.speed_mps = 0.8; // the clutch is not waited for: gears change while it rolls
            }
        }
    }

    fn steer(&mut self, node: &Node, curvature_soon: f64, reverse: bool) {
        if let (true, Some(hitch), true) = (reverse, self.rig.hitch, self.rig.pushes) {
            self.push(node, hitch);
            return;
        }
        let travel = self.pose.heading + if reverse { std::f64::consts::PI } else { 0.0 };
        let (sin, cos) = node.direction.sin_cos();
        let d = [self.pose.axle[0] - node.p[0], self.pose.axle[1] - node.p[1]];
        let aside = -sin * d[0] + cos * d[1] - self.wander.after(TICK_S, &mut self.chance);
        let askew = wrapped(travel - node.direction);
        let most = 1.0 / (0.85 * self.rig.least_radius_m);
        let wanted = (curvature_soon - 0.14 * aside - 0.75 * askew.sin()).clamp(-most, most);
        self.curvature += (wanted - self.curvature) * (TICK_S / STEERING_LAG_S);
    }

    /// Steers a pushed trailer along a straight path: its heading by the angle at the hitch, that angle by the wheel. Each
    /// metre backward turns the trailer by -sin(angle) / length; without a hand at the wheel it folds.
    fn push(&mut self, node: &Node, hitch: crate::rig::Hitch) {
        let line = node.direction + std::f64::consts::PI;
        let (sin, cos) = line.sin_cos();
        let pin = ahead(self.pose.axle, self.pose.heading, -hitch.behind_axle_m);
        let wheels = ahead(pin, self.pose.trailer, -hitch.to_axle_m);
        let d = [wheels[0] - node.p[0], wheels[1] - node.p[1]];
        let aside = -sin * d[0] + cos * d[1] - self.wander.after(TICK_S, &mut self.chance);
        let askew = wrapped(self.pose.trailer - line);
        let angle = wrapped(self.pose.heading - self.pose.trailer);
        let wanted_angle = (hitch.to_axle_m * 0.4 * (askew - 0.15 * aside).sin()).clamp(-0.5, 0.5);
        let most = 1.0 / (0.85 * self.rig.least_radius_m);
        let wanted = -angle.sin() / hitch.to_axle_m - 0.8 * (angle - wanted_angle);
        self.curvature += (wanted.clamp(-most, most) - self.curvature) * (TICK_S / STEERING_LAG_S);
    }

    fn advance(&mut self, reverse: bool) {
        let way = self.speed_mps * TICK_S;
        let back = if reverse { std::f64::consts::PI } else { 0.0 };
        let turn = self.curvature * way;
        self.pose.axle = ahead(self.pose.axle, self.pose.heading + back + turn / 2.0, way);
        self.pose.heading += turn;
        match self.rig.hitch {
            None => self.pose.trailer = self.pose.heading,
            Some(h) => {
                let askew = self.pose.heading - self.pose.trailer;
                let signed = if reverse { -way } else { way };
                self.pose.trailer +=
                    (signed * askew.sin() - h.behind_axle_m * turn * askew.cos()) / h.to_axle_m;
            }
        }
    }

    /// Opens and closes, five times a second, looking ahead by the delays and the driver's margin.
    fn decide(&mut self, way: &Move, s: f64, late_s: f64, margin_m: f64) {
        let within = |s: f64| way.spray.is_some_and(|(a, b)| s >= a && s <= b);
        if self.speed_mps < 0.35 || way.spray.is_none() {
            self.open = 0;
            return;
        }
        self.decide_in_s -= TICK_S;
        if self.decide_in_s > 0.0 {
            return;
        }
        self.decide_in_s = 0.2;
        let (_, facing) = self.rig.boom(self.pose);
        let travel = facing
            + if way.reverse {
                std::f64::consts::PI
            } else {
                0.0
            };
        let opening = self.speed_mps * (self.rig.open_delay_s + late_s) + margin_m;
        let closing = self.speed_mps * (self.rig.close_delay_s + late_s) - margin_m;
        let ends = self.rig.section_ends(self.pose);
        let middle = |i: usize| {
            [
                (ends[i][0] + ends[i + 1][0]) / 2.0,
                (ends[i][1] + ends[i + 1][1]) / 2.0,
            ]
        };
        let count = self.rig.sections_m.len();
        let all = (1u64 << count) - 1;
        let wants = |p: P, is_open: bool| {
            let look = if is_open { closing } else { opening };
            within(s + look) && self.meant.at(ahead(p, travel, look)) == Some(true)
        };
        self.open = if self.rig.one_lever {
            let (centre, _) = self.rig.boom(self.pose);
            if wants(centre, self.open != 0) {
                all
            } else {
                0
            }
        } else {
            (0..count)
                .filter(|i| wants(middle(*i), self.open >> i & 1 == 1))
                .map(|i| 1 << i)
                .sum()
        };
    }
}

fn between(nodes: &[Node], at: f64) -> Node {
    let last = nodes.len() - 1;
    let i = (at.max(0.0) as usize).min(last.saturating_sub(1));
    let part = at - i as f64;
    let (a, b) = (nodes[i], nodes[(i + 1).min(last)]);
    Node {
        p: [
            a.p[0] + part * (b.p[0] - a.p[0]),
            a.p[1] + part * (b.p[1] - a.p[1]),
        ],
        direction: a.direction + part.clamp(0.0, 1.0) * wrapped(b.direction - a.direction),
        curvature: a.curvature + part.clamp(0.0, 1.0) * (b.curvature - a.curvature),
    }
}

/// Speed at each node: what turns allow, and braking to the end.
fn speeds(way: &Move, at_end_mps: f64) -> Vec<f64> {
    let mut speeds: Vec<f64> = way
        .nodes
        .iter()
        .map(|n| {
            way.speed_mps
                .min((LATERAL_MPS2 / n.curvature.abs().max(1e-6)).sqrt())
        })
        .collect();
    let mut next: f64 = at_end_mps;
    for speed in speeds.iter_mut().rev() {
        *speed = speed.min(next);
        next = (*speed * *speed + 2.0 * SLOW_DOWN_MPS2 * STEP_M).sqrt();
    }
    speeds
}
