//! `settings.json`: what counts for the figures, and what was decided of whole runs.

use super::{Evidence, Fault, fault, pretty};
use crate::ground::Site;
use crate::input::fleet::GREATEST_POSITION_M;
use crate::rig::boom::Boom;
use crate::site::Rules;
use crate::site::leg::Decided;
use crate::site::likely::{self, decision};
use serde::{Deserialize, Serialize};

const FILE: &str = "settings.json";

/// Most legs of a record (limit).
const MOST_LEGS: usize = 1000;
/// Most products and orders of a record (limit).
const MOST_ROWS: usize = 1000;
/// Most sections of a boom: their states are held in the bits of one 64-bit number (arithmetic).
const MOST_SECTIONS: usize = 64;
/// Narrowest section, m (limit).
const LEAST_WIDTH_M: f64 = 1e-3;
/// Greatest length on a rig, m (limit).
const GREATEST_LENGTH_M: f64 = 100.0;

/// A liquid: what it is, nothing of what it costs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Liquid {
    /// Id used in the fleet file and the logs.
    pub product: String,
    /// Dissolved salt.
    pub solute: Option<String>,
    /// Salt by mass, as a fraction.
    pub mass_fraction: Option<f64>,
    /// Density relative to water at 60 degF.
    pub specific_gravity: Option<f64>,
}

/// What is known of a leg beside its fixes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LegSettings {
    /// Number of the rig in the record, from 0.
    pub rig: usize,
    /// Its boom.
    pub boom: Boom,
    /// What was decided of the whole run.
    pub decided: Decided,
}

/// The constants of the draws, for the reader: the program has its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Draws {
    draws: u32,
    first_draws: u32,
    prior_odds: f64,
    error_forgotten_s: f64,
}

const DRAWS: Draws = Draws {
    draws: likely::DRAWS,
    first_draws: likely::FIRST_DRAWS,
    prior_odds: decision::ODDS_OF_GAP,
    error_forgotten_s: likely::TAU_S,
};

/// What the file says.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Settings {
    pub(super) rules: Rules,
    pub(super) products: Vec<Liquid>,
    pub(super) legs: Vec<LegSettings>,
    likelihood: Draws,
}

pub(super) fn write(evidence: &Evidence) -> Vec<u8> {
    let leg = |leg: &crate::site::Leg| LegSettings {
        rig: leg.run,
        boom: leg.boom.clone(),
        decided: leg.decided,
    };
    pretty(&Settings {
        rules: evidence.rules.clone(),
        products: evidence.products.clone(),
        legs: evidence.legs.iter().map(leg).collect(),
        likelihood: DRAWS,
    })
}

pub(super) fn read(bytes: &[u8], site: &Site) -> Result<Settings, Fault> {
    let settings: Settings =
        serde_json::from_slice(bytes).map_err(|error| fault(FILE, error.to_string()))?;
    let orders = settings.rules.placed();
    let rows = [settings.products.len(), orders.len()];
    if settings.legs.len() > MOST_LEGS || rows.iter().any(|&rows| rows > MOST_ROWS) {
        return Err(fault(
            FILE,
            "more legs, products or orders than a night has",
        ));
    }
    check_rules(&settings.rules)?;
    let on_site = |zone: Option<usize>| zone.is_none_or(|zone| zone < site.zones.len());
    if !orders.iter().all(|placed| on_site(placed.zone)) {
        return Err(fault(FILE, "an order is for a zone that is not there"));
    }
    if settings.likelihood != DRAWS {
        return Err(fault(
            FILE,
            "its likelihoods are not drawn as by these rules",
        ));
    }
    settings.legs.iter().try_for_each(check_leg)?;
    Ok(settings)
}

fn check_rules(rules: &Rules) -> Result<(), Fault> {
    let within = [
        ("band", rules.band, 1.0),
        ("edge_m", rules.edge_m, GREATEST_LENGTH_M),
        ("application_pause_s", rules.application_pause_s, 1e7),
        ("position_m", rules.position_m, GREATEST_POSITION_M),
        ("likely", rules.likely, 1.0),
        ("go_back_m2", rules.go_back_m2, 1e9),
        ("go_back_share", rules.go_back_share, 1.0),
    ];
    for (name, value, most) in within {
        if !(0.0..=most).contains(&value) {
            return Err(fault(FILE, format!("{name} is out of range")));
        }
    }
    let targets = rules.targets.products.iter().map(|(_, target)| *target);
    let placed = rules.placed().iter();
    let ordered = placed.filter_map(|placed| placed.order.target_ml_m2);
    let mut rates = targets.chain(rules.targets.otherwise_ml_m2).chain(ordered);
    if !rates.all(|rate| rate > 0.0 && rate < 1e6) {
        return Err(fault(FILE, "a rate asked for is out of range"));
    }
    Ok(())
}

fn check_leg(leg: &LegSettings) -> Result<(), Fault> {
    let boom = &leg.boom;
    let length = |m: f64| m.abs() <= GREATEST_LENGTH_M;
    let edges = &boom.edges_m;
    let mounted = [boom.antenna_ahead_m, boom.antenna_right_m, boom.axle_m];
    let sound = (2..=MOST_SECTIONS + 1).contains(&edges.len())
        && edges.iter().chain(&mounted).all(|&m| length(m))
        && edges
            .windows(2)
            .all(|pair| pair[1] - pair[0] >= LEAST_WIDTH_M);
    let hitched = boom.hitch.is_none_or(|hitch| {
        (0.0..=GREATEST_LENGTH_M).contains(&hitch.behind_antenna_m)
            && (LEAST_WIDTH_M..=GREATEST_LENGTH_M).contains(&hitch.to_axle_m)
            && length(hitch.axle_to_boom_m)
    });
    let decided = &leg.decided;
    let coarse_s = decided.coarse_interval_s.unwrap_or(0.0);
    let judged = (0.0..=GREATEST_POSITION_M).contains(&decided.position_m)
        && (0.0..=1e6).contains(&coarse_s)
        && decided
            .least_dry_m2
            .is_some_and(|m2| (0.0..=1e9).contains(&m2));
    if !(sound && hitched && judged) || leg.rig >= MOST_LEGS {
        let what = "a boom or what was decided of a run is out of range";
        return Err(fault(FILE, what));
    }
    if decided.planned {
        return Err(fault(FILE, "a leg is a plan: nothing was driven"));
    }
    Ok(())
}
