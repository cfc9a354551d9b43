//! The four rigs of the demo night, and the fleet file that describes them.

use making::receiver::Wrong;
use making::rig::{FT_M, Hitch, IN_M, Liquid, Logger, Meter, Rig};

const METER: Meter = Meter {
    lag_s: 0.5,
    late_s: 0.0,
    tick_s: 0.05,
};

/// Flow once a second in the format's own elements.
const LOGGER: Logger = Logger {
    liquid: Liquid::Flow,
    fixes_per_s: 1,
    wrong: Wrong {
        drift_m: 0.4,
        drift_s: 100.0,
        white_m: 0.015,
    },
    set_rate: true,
    gun: false,
    hdop: Some(0.8),
    pavement: true,
    quiet: false,
};

pub(crate) const NORTH: Rig = Rig {
    id: "north",
    meter: METER,
    logger: LOGGER,
    hitch: None,
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
    meter: METER,
    logger: Logger {
        liquid: Liquid::Valves,
        pavement: false,
        ..LOGGER
    },
    hitch: None,
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
    meter: METER,
    logger: Logger {
        gun: true,
        ..LOGGER
    },
    hitch: None,
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

/// A pickup with its boom on a trailer. The antenna is on the cab.
pub(crate) const TRAIL: Rig = Rig {
    id: "trail",
    meter: METER,
    logger: Logger {
        liquid: Liquid::WholeGallons,
        set_rate: false,
        pavement: false,
        ..LOGGER
    },
    hitch: Some(Hitch {
        behind_axle_m: 4.0 * FT_M,
        to_axle_m: 7.0 * FT_M,
        axle_to_boom_m: 2.0 * FT_M,
    }),
    sections_m: &[4.0 * FT_M; 4],
    ahead_m: 21.0 * FT_M,
    right_m: 0.0,
    axle_m: 8.0 * FT_M,
    open_delay_s: 0.3,
    close_delay_s: 0.3,
    radius_m: 5.5,
    lap_m: 0.35,
    lane_speed_m_s: 3.4,
    road_speed_m_s: 11.0,
};
/// What the logger's clock of the trailer rig is behind, s.
pub(crate) const TRAIL_BEHIND_S: f64 = 3_600.0;

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
body = { width = "8 ft", ahead_of_axle = "18 ft", behind_axle = "5 ft" }  # for plans of new lots
turning_circle = "56 ft"
wheelbase = "14 ft"
turn_speed = "3.5 mph"
gear_change = "4 s"
rig_hour = "60 /h"              # invented, as every price here

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
body = { width = "8 ft", ahead_of_axle = "20 ft", behind_axle = "7 ft" }
turning_circle = "62 ft"
wheelbase = "15 ft"
turn_speed = "3.5 mph"
gear_change = "4 s"
rig_hour = "75 /h"

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

# A pickup that tows its boom. Its meter counts whole gallons, its logger's clock is an hour behind.
[[rig]]
id = "trail"
product = "NaCl 23.3 %"
sections = ["4 ft", "4 ft", "4 ft", "4 ft"]
hitch = { behind_antenna = "12 ft", to_axle = "7 ft", axle_to_boom = "2 ft" }
axle = "8 ft"
clock_offset = "1 h"
open_delay = "0.3 s"
close_delay = "0.3 s"
meter = { kind = "turbine", factor = 1.0 }
tank = "300 gal"
greatest_flow = "40 gal/min"

# How new lots are measured and priced (swathbook measure). Three values are low, likely, high: each outer one is passed
# one time in ten. All are invented: put in your own.
[estimate]
currency = "$"
lap = "1 ft"
outline = "2 ft"
speed = ["6 mph", "8 mph", "9 mph"]
overlap_beyond = ["0 %", "4 %", "12 %"]
hand_rate = ["4000 ft2/h", "6000 ft2/h", "8000 ft2/h"]
walk_rate = ["3000 ft/h", "4000 ft/h", "6000 ft/h"]
hand_setup = "3 min"
fill_rate = "60 gal/min"
fill_trip = ["15 min", "20 min", "35 min"]
heel = "5 gal"
rinse = "5 gal"
per_visit = ["4 min", "6 min", "12 min"]
deadhead = ["15 min", "20 min", "35 min"]
between = ["4 min", "6 min", "12 min"]
route = true
crew_hour = "35 /h"
minimum_charge = "45"
begin = "20:00"
opening = "06:00"
storms = [8, 14, 22]

[estimate.per_storm]
pre = { count = 0.7, target = "30 gal/ac" }
post = { count = 1, target = "45 gal/ac" }
re_treat = { count = 0.2, target = "30 gal/ac" }
"#;
