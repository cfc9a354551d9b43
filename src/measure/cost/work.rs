//! What there is to do for one rig on one site, in figures alone: everything that time, liquid and money come from.

use crate::input::fleet::{Product, Spread};

/// Chloride in the dry salt, by mass: atomic weights Cl 35.453, Na 22.990, Mg 24.305, Ca 40.078. NaCl 60.66 % (published: Salt
/// Institute: "60.663 % elemental chlorine").
const CHLORIDE: [(&str, f64); 3] = [("NaCl", 0.606_63), ("MgCl2", 0.744_72), ("CaCl2", 0.638_88)];
/// Water at 60 degF, kg/L: what a specific gravity is relative to (published).
const WATER_KG_L: f64 = 0.999_02;

/// One rig's work on one site.
#[derive(Debug, Clone, Default)]
pub(super) struct Work {
    /// All lanes together, m.
    pub(super) lane_m: f64,
    /// Ways from one lane to the next.
    pub(super) turns: f64,
    /// Time of these by the plan, s.
    pub(super) turning_s: Option<f64>,
    /// Width of the boom, m.
    pub(super) boom_m: f64,
    /// Zones that the boom sweeps.
    pub(super) grounds: Vec<Ground>,
    /// Swept outside them, m2.
    pub(super) outside_m2: f64,
    /// Share of the swept ground that lies on stalls.
    pub(super) stalls_share: f64,
    /// Hand work.
    pub(super) hand: Vec<HandPart>,
    /// Most that the pump gives, L/s.
    pub(super) greatest_flow_l_s: Option<f64>,
    /// Tank, L.
    pub(super) tank_l: Option<f64>,
    /// What of deadhead, heel and loads is this lot's.
    pub(super) part: Part,
}

/// Ground of one zone under the boom.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ground {
    /// Rate asked for, mL/m2.
    pub(super) target_ml_m2: Option<f64>,
    /// In at least one swath, m2.
    pub(super) treated_m2: f64,
    /// Sum of the strips, m2.
    pub(super) swept_m2: f64,
}

/// One piece of hand work, done one way only.
#[derive(Debug, Clone, Copy)]
pub(super) struct HandPart {
    /// How.
    pub(super) way: Way,
    /// Ground, m2.
    pub(super) area_m2: f64,
    /// Rate asked for, mL/m2.
    pub(super) target_ml_m2: Option<f64>,
    /// Stops to do it.
    pub(super) stops: f64,
}

/// How hand work is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Way {
    /// By wand or hose from the rig, by area.
    Hose,
    /// With a cart along a walk of this length, m.
    Cart(f64),
    /// Stairs of so many steps.
    Steps(f64),
}

/// What of the costs that lots of a route share is one lot's.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    /// Deadheads.
    pub(super) deadhead: f64,
    /// Ways from lot to lot.
    pub(super) between: f64,
    /// Share of heel, rinse and the route's loads.
    pub(super) liquid: f64,
    /// Sprayed on the whole route from the rig's tank, L; `None`: the lot stands alone.
    pub(super) route_l: Option<Spread>,
}

impl Default for Part {
    fn default() -> Self {
        Self {
            deadhead: 1.0,
            between: 0.0,
            liquid: 1.0,
            route_l: None,
        }
    }
}

impl Work {
    /// The same with another target everywhere; `None` leaves the zones' own.
    pub(super) fn at_target(&self, target_ml_m2: Option<f64>) -> Self {
        let mut work = self.clone();
        if target_ml_m2.is_some() {
            for ground in &mut work.grounds {
                ground.target_ml_m2 = target_ml_m2;
            }
            for part in &mut work.hand {
                part.target_ml_m2 = target_ml_m2;
            }
        }
        work
    }

    /// Ground in at least one swath, m2.
    pub(super) fn treated_m2(&self) -> f64 {
        self.grounds.iter().map(|ground| ground.treated_m2).sum()
    }

    /// Ground swept on zones, m2.
    pub(super) fn swept_m2(&self) -> f64 {
        self.grounds.iter().map(|ground| ground.swept_m2).sum()
    }

    /// Mean target over the swept ground, mL/m2; `None` where a swept zone has none.
    pub(super) fn target_ml_m2(&self) -> Option<f64> {
        let swept_m2 = self.swept_m2();
        let litres = self.grounds.iter().map(|ground| {
            if ground.swept_m2 > 0.0 {
                ground.target_ml_m2.map(|target| target * ground.swept_m2)
            } else {
                Some(0.0)
            }
        });
        let sum: Option<f64> = litres.sum();
        sum.filter(|_| swept_m2 > 0.0).map(|sum| sum / swept_m2)
    }

    /// Fastest that the pump keeps the greatest target up with the whole boom open, m/s.
    pub(super) fn flow_speed_m_s(&self) -> Option<f64> {
        let swept = self.grounds.iter().filter(|ground| ground.swept_m2 > 0.0);
        let targets = swept.filter_map(|ground| ground.target_ml_m2);
        let greatest_ml_m2 = targets.max_by(f64::total_cmp)?;
        Some(self.greatest_flow_l_s? * 1000.0 / (greatest_ml_m2 * self.boom_m))
    }

    /// Whether anything is to be done.
    pub(super) fn is_any(&self) -> bool {
        self.lane_m > 0.0 || !self.hand.is_empty()
    }
}

/// Dry salt in a product, kg/L; `None` where the fleet file lacks its strength or density.
pub(super) fn salt_kg_l(product: &Product) -> Option<f64> {
    Some(product.mass_fraction? * product.specific_gravity? * WATER_KG_L)
}

/// Chloride in a product's dry salt, as a fraction; 0 for salts that have none, `None` where the salt is not known.
pub(super) fn chloride_share(product: &Product) -> Option<f64> {
    let solute = product.solute.as_deref()?;
    let known = CHLORIDE
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(solute));
    known.map(|(_, share)| *share)
}
