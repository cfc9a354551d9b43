//! A rig: its boom, its manners, its meter and its logger.

use crate::receiver::Wrong;

/// A foot, m.
pub const FT_M: f64 = 0.3048;
/// An inch, m.
pub const IN_M: f64 = 0.0254;
/// A gallon, L.
pub const GAL_L: f64 = 3.785_411_784;
/// One gallon per acre, mL/m2.
pub const GAL_AC_ML_M2: f64 = GAL_L * 1000.0 / 4_046.856_422_4;

/// What a log tells of liquid and sections.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Liquid {
    /// Flow, L/min.
    Flow,
    /// A total to a hundredth of a litre.
    Total,
    /// Both.
    FlowAndTotal,
    /// A total in whole gallons.
    WholeGallons,
    /// Elements of its own: flow and total in gallons, valves as the bits of a number.
    Valves,
}

/// What writes the log.
#[derive(Debug, Clone, Copy)]
pub struct Logger {
    /// How it tells the liquid.
    pub liquid: Liquid,
    /// Fixes a second.
    pub fixes_per_s: u32,
    /// The errors of its receiver.
    pub wrong: Wrong,
    /// Writes the set rate.
    pub set_rate: bool,
    /// Writes whether the hand gun is open.
    pub gun: bool,
    /// Writes the receiver's dilution of precision.
    pub hdop: Option<f64>,
    /// Writes the pavement's temperature every five minutes.
    pub pavement: bool,
    /// Writes nothing while the rig stands with its boom closed.
    pub quiet: bool,
}

/// What counts the liquid.
#[derive(Debug, Clone, Copy)]
pub struct Meter {
    /// Time constant with which the flow follows the controller, s.
    pub lag_s: f64,
    /// The reading is late by this, s.
    pub late_s: f64,
    /// Step in which pump and meter are followed, s.
    pub tick_s: f64,
}

/// Where a boom on a trailer is, m.
#[derive(Debug, Clone, Copy)]
pub struct Hitch {
    /// Hitch point behind the rear axle.
    pub behind_axle_m: f64,
    /// Trailer's axle behind the hitch point.
    pub to_axle_m: f64,
    /// Boom's centre behind the trailer's axle.
    pub axle_to_boom_m: f64,
}

/// A rig with everything that its log depends on.
#[derive(Debug, Clone, Copy)]
pub struct Rig {
    /// Its name.
    pub id: &'static str,
    /// Sprayed width of each section, left to right.
    pub sections_m: &'static [f64],
    /// The boom rides on a trailer.
    pub hitch: Option<Hitch>,
    /// Antenna ahead of the boom's centre (on a straight line).
    pub ahead_m: f64,
    /// Antenna right of the boom's centre.
    pub right_m: f64,
    /// Antenna ahead of the rear axle.
    pub axle_m: f64,
    /// From the switch to liquid on the ground.
    pub open_delay_s: f64,
    /// From the switch to the last of it.
    pub close_delay_s: f64,
    /// Tightest turn of the rear axle.
    pub radius_m: f64,
    /// Lap of neighbouring lanes.
    pub lap_m: f64,
    /// Speed at work.
    pub lane_speed_m_s: f64,
    /// Speed on the road.
    pub road_speed_m_s: f64,
    /// Its flow meter.
    pub meter: Meter,
    /// Its logger.
    pub logger: Logger,
}

impl Rig {
    /// Sprayed width of the whole boom.
    pub const fn width_m(&self) -> f64 {
        let (mut width_m, mut section) = (0.0, 0);
        while section < self.sections_m.len() {
            width_m += self.sections_m[section];
            section += 1;
        }
        width_m
    }

    /// The boom's centre behind the rear axle.
    pub fn boom_behind_m(&self) -> f64 {
        self.ahead_m - self.axle_m
    }

    /// From lane to lane.
    pub const fn spacing_m(&self) -> f64 {
        self.width_m() - self.lap_m
    }

    /// Both ends of each run of neighbouring sections for which `wet` holds, metres right of the
    /// boom's centre.
    pub fn runs(&self, wet: &[bool]) -> Vec<(f64, f64)> {
        let mut edge_m = -self.width_m() / 2.0;
        let mut runs: Vec<(f64, f64)> = Vec::new();
        let mut joined = false;
        for (&width_m, &wet) in self.sections_m.iter().zip(wet) {
            match runs.last_mut().filter(|_| joined && wet) {
                Some(run) => run.1 = edge_m + width_m,
                None if wet => runs.push((edge_m, edge_m + width_m)),
                None => {}
            }
            joined = wet;
            edge_m += width_m;
        }
        runs
    }
}
