//! Time, liquid and money of one treatment, as functions of the settings.

use super::setting::{Setting, Values};
use super::work::{Way, Work};
use crate::measure::cost_sheet::{LiquidSheet, MoneySheet, TimeSheet};
use crate::units::ML_PER_L;

/// Speed in lanes, m/s: the one set, but never faster than the pump keeps the rate up.
pub(super) fn speed_m_s(work: &Work, values: &Values) -> Option<f64> {
    let set_m_s = values.get(Setting::Speed)?;
    let flow_m_s = work.flow_speed_m_s().unwrap_or(f64::INFINITY);
    Some(set_m_s.min(flow_m_s))
}

/// Where the time goes; `trips` are the ways to the filling place while at work.
pub(super) fn time(work: &Work, values: &Values, trips: f64) -> TimeSheet {
    let get = |setting: Setting| values.get(setting);
    let more = 1.0 + get(Setting::OverlapBeyond).unwrap_or(0.0);
    let spraying_s = speed_m_s(work, values).map(|speed_m_s| work.lane_m * more / speed_m_s);
    let turning_s = match get(Setting::TurnTime) {
        Some(turn_s) => Some(work.turns * turn_s * more),
        None => work.turning_s.map(|turning_s| turning_s * more),
    };
    let sprayed_l = liquid(work, values).map(|liquid| from_tank_l(&liquid));
    let filled_s = sprayed_l
        .zip(get(Setting::FillRate))
        .map(|(litres, rate_l_s)| litres / rate_l_s);
    let trips_s = get(Setting::FillTrip).map(|trip_s| trip_s * trips);
    let between_s = get(Setting::Between).map(|s| s * work.part.between);
    TimeSheet {
        spraying_s: if work.lane_m > 0.0 {
            spraying_s
        } else {
            Some(0.0)
        },
        turning_s: if work.turns > 0.0 {
            turning_s
        } else {
            Some(0.0)
        },
        filling_s: sum([filled_s, trips_s]),
        hand_s: hand_s(work, values),
        fixed_s: get(Setting::PerVisit),
        deadhead_s: sum([
            get(Setting::Deadhead).map(|s| s * work.part.deadhead),
            between_s.filter(|_| work.part.between > 0.0),
        ]),
    }
}

/// All of it, s; `None` where the lanes' own time is not known. What else is not known is left out.
pub(super) fn total_s(time: &TimeSheet) -> Option<f64> {
    let lanes_s = time.spraying_s? + time.turning_s?;
    let others = [time.filling_s, time.hand_s, time.fixed_s, time.deadhead_s];
    Some(lanes_s + others.into_iter().flatten().sum::<f64>())
}

/// The rig's time on site, s: what its field efficiency is measured by.
pub(super) fn on_site_s(time: &TimeSheet) -> Option<f64> {
    Some(time.spraying_s? + time.turning_s? + time.fixed_s.unwrap_or(0.0))
}

/// Time of the hand work by the clock, s: a crew works at it together. `None` where a rate that it needs is
/// not known.
fn hand_s(work: &Work, values: &Values) -> Option<f64> {
    let get = |setting: Setting| values.get(setting);
    let mut person_s = 0.0;
    for part in &work.hand {
        person_s += match part.way {
            Way::Hose => part.area_m2 / get(Setting::HandRate)?,
            Way::Cart(length_m) => length_m / get(Setting::WalkRate)?,
            Way::Steps(steps) => steps * get(Setting::StepTime)?,
        };
        person_s += part.stops * get(Setting::HandSetup).unwrap_or(0.0);
    }
    Some(person_s / get(Setting::Crew).unwrap_or(1.0))
}

/// Where the liquid goes; `None` where a zone that is treated has no target.
pub(super) fn liquid(work: &Work, values: &Values) -> Option<LiquidSheet> {
    let get = |setting: Setting| values.get(setting);
    let target_ml_m2 = match work.target_ml_m2() {
        None if work.lane_m > 0.0 => return None,
        target => target.unwrap_or(0.0),
    };
    let open = 1.0 - get(Setting::Occupied).unwrap_or(0.0) * work.stalls_share;
    let applied = get(Setting::Applied).unwrap_or(1.0) * open;
    let beyond = get(Setting::OverlapBeyond).unwrap_or(0.0);
    let mut liquid = LiquidSheet {
        outside_l: work.outside_m2 * target_ml_m2 / ML_PER_L * applied,
        heel_l: get(Setting::Heel).unwrap_or(0.0) * work.part.liquid,
        rinse_l: get(Setting::Rinse).unwrap_or(0.0) * work.part.liquid,
        ..LiquidSheet::default()
    };
    for ground in &work.grounds {
        let l_m2 = ground.target_ml_m2.unwrap_or(0.0) / ML_PER_L * applied;
        let again_m2 = (ground.swept_m2 - ground.treated_m2).max(0.0) + beyond * ground.swept_m2;
        liquid.ground_l += ground.treated_m2 * l_m2;
        liquid.overlap_l += again_m2 * l_m2;
    }
    for part in &work.hand {
        let litres = part.area_m2 * part.target_ml_m2? / ML_PER_L;
        match part.way {
            Way::Cart(_) => liquid.cart_l += litres,
            Way::Hose | Way::Steps(_) => liquid.hand_l += litres,
        }
    }
    Some(liquid)
}

/// Sprayed from the rig's tank, L.
pub(super) fn from_tank_l(liquid: &LiquidSheet) -> f64 {
    liquid.ground_l + liquid.overlap_l + liquid.outside_l + liquid.hand_l
}

/// All that is bought, L.
pub(super) fn bought_l(liquid: &LiquidSheet) -> f64 {
    from_tank_l(liquid) + liquid.cart_l + liquid.heel_l + liquid.rinse_l
}

/// What it costs; lines of missing keys are left out.
pub(super) fn money(work: &Work, values: &Values, trips: f64) -> MoneySheet {
    let get = |setting: Setting| values.get(setting);
    let total_s = total_s(&time(work, values, trips));
    let crew = get(Setting::Crew).unwrap_or(1.0);
    let mut money = MoneySheet {
        rig: total_s.zip(get(Setting::RigHour)).map(|(s, wage)| s * wage),
        crew: total_s
            .zip(get(Setting::CrewHour))
            .map(|(s, wage)| s * wage * crew),
        product: liquid(work, values)
            .zip(get(Setting::Price))
            .map(|(liquid, price)| bought_l(&liquid) * price),
        trip: get(Setting::Trip),
        ..MoneySheet::default()
    };
    if let (Some(direct), Some(markup)) = (direct(&money), Markup::of(values)) {
        money.overhead = Some(direct * markup.on_cost);
        money.margin = Some(markup.price(direct) - direct * (1.0 + markup.on_cost));
    }
    money
}

/// Direct cost: the lines that are known; `None` where neither rig nor crew hours are.
pub(super) fn direct(money: &MoneySheet) -> Option<f64> {
    let hours = sum([money.rig, money.crew])?;
    Some(hours + money.product.unwrap_or(0.0) + money.trip.unwrap_or(0.0))
}

/// What turns a cost into a price.
#[derive(Debug, Clone, Copy)]
pub(super) struct Markup {
    /// Overhead and insurance over the direct cost.
    on_cost: f64,
    /// Margin over the price.
    margin: f64,
}

impl Markup {
    /// `None` until overhead, insurance and margin are all set.
    pub(super) fn of(values: &Values) -> Option<Self> {
        Some(Self {
            on_cost: values.get(Setting::Overhead)? + values.get(Setting::Insurance)?,
            margin: values.get(Setting::Margin)?,
        })
    }

    /// The price of a direct cost.
    pub(super) fn price(&self, direct: f64) -> f64 {
        direct * (1.0 + self.on_cost) / (1.0 - self.margin)
    }
}

/// The price where its settings are given, else the direct cost; without the trip where that comes after the minimum.
pub(super) fn amount(work: &Work, values: &Values, trips: f64, with_trip: bool) -> Option<f64> {
    let mut money = money(work, values, trips);
    if !with_trip {
        money.trip = None;
    }
    let direct = direct(&money)?;
    Some(Markup::of(values).map_or(direct, |markup| markup.price(direct)))
}

/// The sum of what is known; `None` where nothing is.
fn sum<const N: usize>(parts: [Option<f64>; N]) -> Option<f64> {
    let known: Vec<f64> = parts.into_iter().flatten().collect();
    (!known.is_empty()).then(|| known.iter().sum())
}
