//! What a lot costs, as figures. Fields and units are those of `measure.json`; money is in the fleet file's own currency.
//! `None` is "not known": the key that is missing stands in `left_out`.

use crate::geometry::place::LonLat;
use crate::input::fleet::Spread;
use serde::Serialize;

/// What one rig on one site costs.
#[derive(Debug, Clone, Serialize)]
pub struct CostSheet {
    /// Keys of the fleet file without which lines are left out.
    pub left_out: Vec<&'static str>,
    /// The rig, money per second.
    pub rig_per_s: Option<Spread>,
    /// The product, money per litre.
    pub price_per_l: Option<Spread>,
    /// What was assumed, as clauses.
    pub assumed: Vec<&'static str>,
    /// One treatment at the zones' own targets.
    pub application: ApplicationSheet,
    /// Where the tank runs out when it is full at the first lane.
    pub tank_stops: Vec<TankStop>,
    /// What ending the plan at other shares of the reach saves.
    pub stops: Vec<StopSaving>,
    /// One storm; `None` without `per_storm`.
    pub event: Option<EventSheet>,
    /// A season; `None` without `storms`.
    pub season: Option<SeasonSheet>,
}

/// One treatment.
#[derive(Debug, Clone, Default, Serialize)]
pub struct ApplicationSheet {
    /// Mean rate asked for where the boom sweeps, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Speed in lanes, m/s.
    pub speed_m_s: Option<f64>,
    /// Fastest that the pump keeps the rate up with the whole boom open, m/s.
    pub flow_speed_m_s: Option<f64>,
    /// That is slower than the speed that was set, and taken instead.
    pub flow_binds: bool,
    /// Where the time goes, at the likely settings.
    pub time: TimeSheet,
    /// All of it, s.
    pub total_s: Option<Spread>,
    /// Time of the treated ground over boom times speed, as a share of the rig's time on site.
    pub field_efficiency: Option<f64>,
    /// Where the liquid goes, at the likely settings.
    pub liquid: Option<LiquidSheet>,
    /// All that is bought, L.
    pub liquid_l: Option<Spread>,
    /// Tank loads; in a route the part of them that this lot takes.
    pub loads: Option<Spread>,
    /// What it is made of, at the likely settings.
    pub money: MoneySheet,
    /// Rig, crew, product and trip.
    pub direct_cost: Option<Spread>,
    /// With overhead, insurance and margin, once all three are set.
    pub price: Option<Spread>,
    /// The price, else the direct cost; at least the minimum charge.
    pub amount: Option<Spread>,
    /// The likely amount is the minimum charge.
    pub minimum_binds: bool,
    /// What moves the amount most (else the time), first to last.
    pub swings: Vec<Swing>,
    /// Dry salt at the target, g/m2.
    pub dry_salt_g_m2: Option<f64>,
    /// Dry salt in the liquid, kg.
    pub dry_salt_kg: Option<Spread>,
    /// Chloride in it, kg.
    pub chloride_kg: Option<Spread>,
    /// Every product of the fleet file that would bring the same salt.
    pub equal_salt: Vec<EqualSalt>,
}

/// Parts of the time, s.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct TimeSheet {
    /// In lanes.
    pub spraying_s: Option<f64>,
    /// Between lanes.
    pub turning_s: Option<f64>,
    /// Tank loads: filling, and the ways to the filling place while at work.
    pub filling_s: Option<f64>,
    /// Hand work, one after the other.
    pub hand_s: Option<f64>,
    /// Fixed for a visit.
    pub fixed_s: Option<f64>,
    /// From the yard and home.
    pub deadhead_s: Option<f64>,
}

/// Parts of the liquid, L.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct LiquidSheet {
    /// On ground that the boom sweeps once.
    pub ground_l: f64,
    /// On ground that it sweeps again.
    pub overlap_l: f64,
    /// Outside the zones to be treated.
    pub outside_l: f64,
    /// By hand from the rig's tank.
    pub hand_l: f64,
    /// By cart on walks.
    pub cart_l: f64,
    /// Left in the tank.
    pub heel_l: f64,
    /// Spent on priming and rinsing.
    pub rinse_l: f64,
}

/// Parts of the money.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct MoneySheet {
    /// Rig hours.
    pub rig: Option<f64>,
    /// Crew hours.
    pub crew: Option<f64>,
    /// Liquid.
    pub product: Option<f64>,
    /// For coming at all.
    pub trip: Option<f64>,
    /// Overhead and insurance.
    pub overhead: Option<f64>,
    /// Margin.
    pub margin: Option<f64>,
}

/// Where the tank is empty.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct TankStop {
    /// Lane in driving order, from 1.
    pub lane: usize,
    /// From the lane's beginning, m.
    pub along_m: f64,
    /// The boom's middle there.
    #[serde(flatten)]
    pub place: LonLat,
}

/// What another end of the plan saves; negative: costs more.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct StopSaving {
    /// Share of the reach.
    pub share: f64,
    /// Lanes saved.
    pub lanes: i64,
    /// Time saved, s.
    pub seconds: Option<f64>,
    /// Liquid saved, L.
    pub liquid_l: Option<f64>,
    /// Money saved, without the minimum charge.
    pub money: Option<f64>,
}

/// Another product with as much dry salt.
#[derive(Debug, Clone, Serialize)]
pub struct EqualSalt {
    /// Product id.
    pub product: String,
    /// Liquid, L.
    pub liquid_l: f64,
    /// Its price.
    pub money: Option<f64>,
    /// Chloride, kg.
    pub chloride_kg: Option<f64>,
}

/// One storm.
#[derive(Debug, Clone, Serialize)]
pub struct EventSheet {
    /// Each kind of treatment, once.
    pub kinds: Vec<KindSheet>,
    /// All of them, as often as a storm takes them.
    pub sums: Sums,
}

/// One kind of treatment.
#[derive(Debug, Clone, Serialize)]
pub struct KindSheet {
    /// `pre`, `post` or `re_treat`.
    pub kind: &'static str,
    /// Its name.
    #[serde(skip)]
    pub name: &'static str,
    /// Times a storm.
    pub count: Spread,
    /// Rate, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// The treatment slows the rig.
    pub flow_binds: bool,
    /// One such treatment.
    pub once: Sums,
}

/// A season.
#[derive(Debug, Clone, Serialize)]
pub struct SeasonSheet {
    /// Storms.
    pub storms: Spread,
    /// All of them.
    pub sums: Sums,
}

/// Sums over treatments.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Sums {
    /// Time, s.
    pub total_s: Option<Spread>,
    /// Liquid, L.
    pub liquid_l: Option<Spread>,
    /// Dry salt, kg.
    pub dry_salt_kg: Option<Spread>,
    /// Chloride, kg.
    pub chloride_kg: Option<Spread>,
    /// Money: price or direct cost, minimum charges included.
    pub amount: Option<Spread>,
}

/// All lots of the file with one rig.
#[derive(Debug, Clone, Serialize)]
pub struct NightSheet {
    /// Rig id.
    pub rig: String,
    /// The lots share filling and deadhead.
    pub route: bool,
    /// Lots with a plan or hand work.
    pub sites: usize,
    /// One treatment of all.
    pub application: Sums,
    /// Tank loads.
    pub loads: Option<Spread>,
    /// One storm.
    pub event: Option<Sums>,
    /// A season.
    pub season: Option<Sums>,
    /// From the start of the night (`begin`) to the opening, s.
    pub window_s: Option<f64>,
    /// What so many rigs of this kind take, from one on.
    pub crews: Vec<CrewSheet>,
}

/// So many rigs at work at once.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct CrewSheet {
    /// Rigs.
    pub rigs: usize,
    /// Until the last is done, s.
    pub finish_s: Spread,
    /// Done before the opening at the likely settings; `None` without `begin` and `opening`.
    pub in_time: Option<bool>,
    /// Done before it even where things go badly, one time in ten excepted.
    pub surely_in_time: Option<bool>,
    /// How much more it costs than with one rig fewer, direct cost.
    pub one_more: Option<f64>,
}

/// What moving one setting alone does to a figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Swing {
    /// Key of the setting in the fleet file.
    pub key: &'static str,
    /// The figure falls by this at one end of the setting; 0 or less.
    pub down: f64,
    /// The figure rises by this at the other; 0 or more.
    pub up: f64,
}
