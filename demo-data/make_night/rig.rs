//! What a simulation needs of a rig: its boom, its antenna, its manners.

pub(crate) const FT_M: f64 = 0.3048;
pub(crate) const IN_M: f64 = 0.0254;
pub(crate) const GAL_L: f64 = 3.785_411_784;
/// One gallon per acre, mL/m2.
pub(crate) const GAL_AC_ML_M2: f64 = GAL_L * 1000.0 / 4_046.856_422_4;

/// How a rig's logger writes the flow side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Logger {
    /// The audit's own elements, flow in L/min.
    Own,
    /// Elements of its own in gallons, with a meter total, valves as an integer bit field.
    Valves,
    /// The audit's own elements, with a hand gun.
    OwnWithGun,
    /// The audit's own elements; the meter only counts whole gallons, and the clock is an hour behind.
    WholeGallons,
}

/// Where a boom on a trailer is, m.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hitch {
    /// Hitch point behind the rear axle.
    pub behind_axle_m: f64,
    /// Trailer's axle behind the hitch point.
    pub to_axle_m: f64,
    /// Boom's centre behind the trailer's axle.
    pub axle_to_boom_m: f64,
}

/// What the simulation needs of a rig.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rig {
    pub id: &'static str,
    pub logger: Logger,
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
    pub open_delay_s: f64,
    pub close_delay_s: f64,
    /// Tightest turn of the rear axle.
    pub radius_m: f64,
    /// Lap of neighbouring lanes.
    pub lap_m: f64,
    pub lane_speed_m_s: f64,
    pub road_speed_m_s: f64,
}

impl Rig {
    pub(crate) fn width_m(&self) -> f64 {
        self.sections_m.iter().sum()
    }

    /// The boom's centre behind the rear axle.
    pub(crate) fn boom_behind_m(&self) -> f64 {
        self.ahead_m - self.axle_m
    }

    /// From lane to lane.
    pub(crate) fn spacing_m(&self) -> f64 {
        self.width_m() - self.lap_m
    }

    /// Both ends of each run of neighbouring sections for which `wet` holds, metres right of the
    /// boom's centre.
    pub(crate) fn runs(&self, wet: &[bool]) -> Vec<(f64, f64)> {
        let mut edge_m = -self.width_m() / 2.0;
        let mut runs: Vec<(f64, f64)> = Vec::new();
        let mut joined = false;
        for (&width_m, &wet) in self.sections_m.iter().zip(wet) {
            if wet && joined {
                runs.last_mut()
                    .expect("a joined section has a run before it")
                    .1 = edge_m + width_m;
            } else if wet {
                runs.push((edge_m, edge_m + width_m));
            }
            joined = wet;
            edge_m += width_m;
        }
        runs
    }
}
