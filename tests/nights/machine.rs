//! The rigs of a random night, each with its boom, meter, logger and faults of position.

use making::chance::Chance;
use making::receiver::Wrong;
use making::rig::{FT_M, Liquid, Logger, Meter, Rig};
use std::fmt::Write;

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
pub(crate) fn fleet(chance: &mut Chance) -> Vec<Rig> {
    let trucks = 1 + chance.below(2);
    let mut fleet: Vec<Rig> = TRUCKS[..trucks]
        .iter()
        .map(|id| truck(id, chance))
        .collect();
    fleet.push(cart(chance));
    fleet
}

/// What a rig's product is to be laid at, gal/ac.
pub(crate) fn target_gal_ac(rig: &Rig) -> f64 {
    if rig.id == CART { 45.0 } else { 35.0 }
}

fn truck(id: &'static str, chance: &mut Chance) -> Rig {
    let boom = chance.below(BOOMS_M.len());
    let width_m: f64 = BOOMS_M[boom].iter().sum();
    let axle_m = chance.between(2.0, 3.2);
    let mut rig = Rig {
        hitch: None,
        id,
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
        logger: logger(chance),
        meter: Meter {
            lag_s: chance.between(0.3, 1.5),
            late_s: f64::from(u8::from(chance.uniform() < 0.3)),
            tick_s: 0.1,
        },
    };
    rig.logger.quiet = chance.uniform() < 0.3;
    rig.logger.set_rate = chance.uniform() < 0.5;
    rig
}

fn logger(chance: &mut Chance) -> Logger {
    let liquids = [
        Liquid::Flow,
        Liquid::Total,
        Liquid::FlowAndTotal,
        Liquid::WholeGallons,
    ];
    let rates = [1, 1, 1, 1, 2, 5];
    Logger {
        liquid: liquids[chance.below(4)],
        fixes_per_s: rates[chance.below(6)],
        wrong: Wrong {
            drift_m: 0.4,
            drift_s: chance.between(60.0, 180.0),
            white_m: 0.015,
        },
        quiet: false,
        set_rate: false,
        gun: false,
        hdop: None,
        pavement: false,
    }
}

fn cart(chance: &mut Chance) -> Rig {
    let like_a_truck = truck(CART, chance);
    Rig {
        sections_m: CART_BOOM_M,
        ahead_m: 1.5,
        right_m: 0.0,
        axle_m: 0.9,
        radius_m: 4.0,
        lap_m: 0.2,
        lane_speed_m_s: 2.0,
        road_speed_m_s: 6.0,
        logger: Logger {
            gun: true,
            ..like_a_truck.logger
        },
        ..like_a_truck
    }
}

/// The fleet file.
pub(crate) fn toml(fleet: &[Rig]) -> String {
    let mut text = String::from("[defaults]\ntarget = \"35 gal/ac\"\n");
    for rig in fleet {
        let sections: Vec<String> = rig
            .sections_m
            .iter()
            .map(|m| format!("\"{m:.4} m\""))
            .collect();
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "\n[[product]]\nid = \"of {id}\"\ntarget = \"{} gal/ac\"\n\n[[rig]]\nid = \"{id}\"\nproduct = \"of {id}\"\nsections = [{}]\nantenna = {{ ahead = \"{:.2} m\", right = \"{:.2} m\" }}\naxle = \"{:.2} m\"\nopen_delay = \"{:.2} s\"\nclose_delay = \"{:.2} s\"\nmeter = {{ factor = 1.0, delay = \"{:.1} s\" }}\ngreatest_flow = \"70 gal/min\"\n",
            target_gal_ac(rig),
            sections.join(", "),
            rig.ahead_m,
            rig.right_m,
            rig.axle_m,
            rig.open_delay_s,
            rig.close_delay_s,
            rig.meter.late_s,
            id = rig.id,
        );
        if rig.logger.gun {
            let _ = writeln!(text, "gun_flow = \"0.6 gal/min\"");
        }
    }
    text
}
