//! The three rigs, and the fleet file that describes them.

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
}

/// What the simulation needs of a rig.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rig {
    pub id: &'static str,
    pub logger: Logger,
    /// Sprayed width of each section, left to right.
    pub sections_m: &'static [f64],
    /// Antenna ahead of the boom's centre.
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

pub(crate) const NORTH: Rig = Rig {
    id: "north",
    logger: Logger::Own,
    sections_m: &[24.0 * IN_M; 6],
    ahead_m: 13.0 * FT_M,
    right_m: 0.0,
    axle_m: 9.0 * FT_M,
    open_delay_s: 0.4,
    close_delay_s: 0.3,
    radius_m: 5.0,
    lap_m: 0.35,
    lane_speed_m_s: 4.2,
    road_speed_m_s: 12.0,
};

pub(crate) const SOUTH: Rig = Rig {
    id: "south",
    logger: Logger::Valves,
    sections_m: &[7.0 * FT_M, 6.0 * FT_M, 7.0 * FT_M],
    ahead_m: 14.0 * FT_M,
    right_m: 1.0 * FT_M,
    axle_m: 10.0 * FT_M,
    open_delay_s: 0.3,
    close_delay_s: 0.2,
    radius_m: 5.5,
    lap_m: 0.35,
    lane_speed_m_s: 3.8,
    road_speed_m_s: 11.0,
};

pub(crate) const CART: Rig = Rig {
    id: "cart",
    logger: Logger::OwnWithGun,
    sections_m: &[36.0 * IN_M; 2],
    ahead_m: 5.0 * FT_M,
    right_m: 0.0,
    axle_m: 3.0 * FT_M,
    open_delay_s: 0.2,
    close_delay_s: 0.2,
    radius_m: 4.5,
    lap_m: 0.3,
    lane_speed_m_s: 2.2,
    road_speed_m_s: 6.0,
};

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

/// The fleet file. Its numbers are those of the rigs above, in the units of the trade.
pub(crate) const FLEET_TOML: &str = r#"# The fleet of an invented contractor. Times are shown in a zone that belongs to no place.
[defaults]
timezone = "Etc/GMT+2"          # two hours behind UTC: mid-ocean at 30 degrees west
target = "35 gal/ac"
band = "10 %"
dropout = "5 s"
application_pause = "90 min"

[[product]]
id = "NaCl 23.3 %"
solute = "NaCl"
mass_fraction = "23.3 %"
specific_gravity = 1.178
price = "0.20 /gal"
lowest_pavement = "15 degF"

[[product]]
id = "CaCl2 30 %"
solute = "CaCl2"
mass_fraction = "30 %"
specific_gravity = 1.284
price = "1.10 /gal"
lowest_pavement = "-5 degF"
target = "45 gal/ac"

# A truck with six narrow sections; logs the program's own elements, flow only.
[[rig]]
id = "north"
product = "NaCl 23.3 %"
sections = ["24 in", "24 in", "24 in", "24 in", "24 in", "24 in"]
antenna = { ahead = "13 ft", right = "0 ft" }
axle = "9 ft"
position = "1 m"
open_delay = "0.4 s"
close_delay = "0.3 s"
meter = { kind = "magnetic", factor = 1.0 }
tank = "425 gal"
greatest_flow = "45 gal/min"

# A truck with a wide boom; its logger has elements of its own, in gallons, with a meter total.
[[rig]]
id = "south"
product = "NaCl 23.3 %"
logs = ["south*"]
sections = ["7 ft", "6 ft", "7 ft"]
antenna = { ahead = "14 ft", right = "1 ft" }
axle = "10 ft"
position = "1 m"
open_delay = "0.3 s"
close_delay = "0.2 s"
meter = { kind = "turbine", factor = 1.0 }
tank = "500 gal"
greatest_flow = "60 gal/min"

[rig.channels]
flow = { element = "q", unit = "gal/min" }
volume = { element = "total", unit = "gal" }
sections = { element = "valves", bits = 3, first = "left" }

# A utility vehicle for walks, with a hand gun.
[[rig]]
id = "cart"
product = "CaCl2 30 %"
sections = ["36 in", "36 in"]
antenna = { ahead = "5 ft", right = "0 ft" }
axle = "3 ft"
position = "1 m"
open_delay = "0.2 s"
close_delay = "0.2 s"
meter = { kind = "turbine", factor = 1.0 }
tank = "60 gal"
greatest_flow = "8 gal/min"
gun_flow = "0.6 gal/min"
"#;
