//! Step 1 of a random night: the rigs, each with its boom, meter, logger and faults of position.

use crate::chance::{Chance, Wrong};
use crate::rig::{FT_M, GAL_L, Logger, Rig};
use std::fmt::Write;

/// How a rig's log tells the liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Meter {
    /// Flow only.
    Flow,
    /// A total to a hundredth of a litre only.
    Fine,
    /// Flow and a fine total.
    Both,
    /// A total in whole gallons only.
    Coarse,
}

/// A rig with everything that its log depends on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Machine {
    pub rig: Rig,
    pub meter: Meter,
    pub fixes_per_s: u32,
    pub wrong: Wrong,
    /// Time constant with which the flow follows the controller, s.
    pub lag_s: f64,
    /// The meter's reading is late by this, s.
    pub meter_delay_s: f64,
    /// The logger writes nothing while the rig stands with its boom closed.
    pub quiet: bool,
    /// Writes the set rate.
    pub writes_set_rate: bool,
    pub has_gun: bool,
    pub target_gal_ac: f64,
}

/// Section widths of trucks' booms.
const BOOMS_M: [&[f64]; 6] = [
    &[7.0 * FT_M, 6.0 * FT_M, 7.0 * FT_M],
    &[3.0 * FT_M; 4],
    &[2.5 * FT_M; 5],
    &[2.0 * FT_M; 6],
    &[2.0 * FT_M; 8],
    &[4.0 * FT_M; 3],
];
const CART_BOOM_M: &[f64] = &[2.0 * FT_M; 3];

/// Names of the trucks; the cart comes last.
const TRUCKS: [&str; 2] = ["north", "south"];
const CART: &str = "cart";

/// One or two trucks, and the cart.
pub(crate) fn fleet(chance: &mut Chance) -> Vec<Machine> {
    let trucks = 1 + chance.below(2);
    let mut fleet: Vec<Machine> = TRUCKS[..trucks]
        .iter()
        .map(|id| truck(id, chance))
        .collect();
    fleet.push(cart(chance));
    fleet
}

fn truck(id: &'static str, chance: &mut Chance) -> Machine {
    let boom = chance.below(BOOMS_M.len());
    let width_m: f64 = BOOMS_M[boom].iter().sum();
    let axle_m = chance.between(2.0, 3.2);
    let rig = Rig {
        hitch: None,
        id,
        logger: Logger::Own,
        sections_m: BOOMS_M[boom],
        ahead_m: axle_m + chance.between(0.8, 1.6),
        right_m: chance.between(-0.4, 0.4),
        axle_m,
        open_delay_s: chance.between(0.1, 0.5),
        close_delay_s: chance.between(0.1, 0.4),
        radius_m: chance.between(4.5, 6.0),
        lap_m: chance.between(0.05, 0.12) * width_m,
        lane_speed_m_s: chance.between(3.0, 4.5),
        road_speed_m_s: chance.between(9.0, 13.0),
    };
    let meters = [Meter::Flow, Meter::Fine, Meter::Both, Meter::Coarse];
    let rates = [1, 1, 1, 1, 2, 5];
    Machine {
        rig,
        meter: meters[chance.below(4)],
        fixes_per_s: rates[chance.below(6)],
        wrong: Wrong {
            drift_m: 0.4,
            drift_s: chance.between(60.0, 180.0),
            white_m: 0.015,
            interval_s: 1.0,
        },
        lag_s: chance.between(0.3, 1.5),
        meter_delay_s: f64::from(u8::from(chance.uniform() < 0.3)),
        quiet: chance.uniform() < 0.3,
        writes_set_rate: chance.uniform() < 0.5,
        has_gun: false,
        target_gal_ac: 35.0,
    }
}

fn cart(chance: &mut Chance) -> Machine {
    let like_a_truck = truck(CART, chance);
    let rig = Rig {
        hitch: None,
        sections_m: CART_BOOM_M,
        ahead_m: 1.5,
        right_m: 0.0,
        axle_m: 0.9,
        radius_m: 4.0,
        lap_m: 0.2,
        lane_speed_m_s: 2.0,
        road_speed_m_s: 6.0,
        ..like_a_truck.rig
    };
    Machine {
        rig,
        has_gun: true,
        target_gal_ac: 45.0,
        ..like_a_truck
    }
}

impl Machine {
    /// The error of its positions, with its own interval.
    pub(crate) fn wrong(&self) -> Wrong {
        Wrong {
            interval_s: 1.0 / f64::from(self.fixes_per_s),
            ..self.wrong
        }
    }
}

/// The fleet file.
pub(crate) fn toml(fleet: &[Machine]) -> String {
    let mut text = String::from("[defaults]\ntarget = \"35 gal/ac\"\n");
    for machine in fleet {
        let rig = &machine.rig;
        let sections: Vec<String> = rig
            .sections_m
            .iter()
            .map(|m| format!("\"{m:.4} m\""))
            .collect();
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "\n[[product]]\nid = \"of {id}\"\ntarget = \"{} gal/ac\"\n\n[[rig]]\nid = \"{id}\"\nproduct = \"of {id}\"\nsections = [{}]\nantenna = {{ ahead = \"{:.2} m\", right = \"{:.2} m\" }}\naxle = \"{:.2} m\"\nopen_delay = \"{:.2} s\"\nclose_delay = \"{:.2} s\"\nmeter = {{ factor = 1.0, delay = \"{:.1} s\" }}\ngreatest_flow = \"70 gal/min\"\n",
            machine.target_gal_ac,
            sections.join(", "),
            rig.ahead_m,
            rig.right_m,
            rig.axle_m,
            rig.open_delay_s,
            rig.close_delay_s,
            machine.meter_delay_s,
            id = rig.id,
        );
        if machine.has_gun {
            let _ = writeln!(text, "gun_flow = \"0.6 gal/min\"");
        }
    }
    text
}

/// The hand gun, L/s.
pub(crate) const GUN_L_S: f64 = 0.58 * GAL_L / 60.0;
