//! What pricing new lots needs of the fleet file: the money and time keys of `[estimate]`. None has a default: what is
//! missing leaves its lines out of the sheet, which names the key.

use super::section::Section;
use super::spread::{self, Bound, Spread};
use crate::error::Result;
use crate::units::Dimension;

/// Longest time from the start of a night to the opening, s: more means that the opening lies before the start (limit).
const LONGEST_NIGHT_S: f64 = 18.0 * 3600.0;
/// Seconds of a day (arithmetic).
const DAY_S: f64 = 86_400.0;

/// Keys of `[estimate]` that are read here.
pub(super) const KEYS: [&str; 29] = [
    "turn_time",
    "overlap_beyond",
    "applied",
    "occupied",
    "hand_rate",
    "walk_rate",
    "step_time",
    "hand_setup",
    "fill_rate",
    "fill_trip",
    "heel",
    "rinse",
    "per_visit",
    "deadhead",
    "between",
    "route",
    "crew",
    "crew_hour",
    "trip",
    "trip_in_minimum",
    "minimum_charge",
    "overhead",
    "insurance",
    "margin",
    "begin",
    "opening",
    "storms",
    "per_storm",
    "currency",
];

/// The kinds of treatment in a storm: key, name to show.
const KINDS: [(&str, &str); 3] = [
    ("pre", "pre-treatment"),
    ("post", "post-treatment"),
    ("re_treat", "re-treatment"),
];

/// The keys, in SI; `None` where the file has none.
#[derive(Debug, Clone, Default, serde::Serialize)]
pub struct Costs {
    /// Speed while spraying, m/s: the same key as for the plan, with its spread.
    pub speed_m_s: Option<Spread>,
    /// From one lane to the next, s: in place of the time computed for each turn.
    pub turn_time_s: Option<Spread>,
    /// Driven and swept more than the plan, as a share of it.
    pub overlap_beyond: Option<Spread>,
    /// Rate on the swept ground over the target.
    pub applied: Option<Spread>,
    /// Share of the stalls with a car on.
    pub occupied: Option<Spread>,
    /// Wand or hose, m2/s.
    pub hand_rate_m2_s: Option<Spread>,
    /// Cart along walks, m/s.
    pub walk_rate_m_s: Option<Spread>,
    /// One step of stairs, s.
    pub step_time_s: Option<Spread>,
    /// Each stop for hand work, s.
    pub hand_setup_s: Option<Spread>,
    /// Into the tank, L/s.
    pub fill_rate_l_s: Option<Spread>,
    /// From a lot to the filling place and back, coupling included, s.
    pub fill_trip_s: Option<Spread>,
    /// Left in a tank that the pump cannot take, L.
    pub heel_l: Option<Spread>,
    /// Spent on priming and rinsing, L.
    pub rinse_l: Option<Spread>,
    /// Fixed time on site, s.
    pub per_visit_s: Option<Spread>,
    /// From the yard to a lot and home, s.
    pub deadhead_s: Option<Spread>,
    /// From one lot of a route to the next, s.
    pub between_s: Option<Spread>,
    /// The lots of the file are one route: filling and deadhead are shared.
    pub route: bool,
    /// People on a rig; 1 where the file says nothing: somebody drives.
    pub crew: Option<Spread>,
    /// One person, money per second.
    #[serde(rename = "crew_per_s")]
    pub crew_hour: Option<Spread>,
    /// Charge for coming at all, money.
    pub trip: Option<Spread>,
    /// The charge for coming is part of what the minimum applies to. Default true.
    pub trip_in_minimum: bool,
    /// Least charge of a visit, money.
    pub minimum_charge: Option<f64>,
    /// Share of the direct cost.
    pub overhead: Option<Spread>,
    /// Share of the direct cost.
    pub insurance: Option<Spread>,
    /// Share of the price.
    pub margin: Option<Spread>,
    /// Rigs start at this time of day, s after midnight.
    pub begin_s: Option<f64>,
    /// Lots open at this time of day, s after midnight.
    pub opening_s: Option<f64>,
    /// Storms of a season.
    pub storms: Option<Spread>,
    /// Treatments of a storm.
    pub kinds: Vec<StormKind>,
    /// Stands before sums of money, such as `$`.
    pub currency: Option<String>,
}

/// One kind of treatment in a storm.
#[derive(Debug, Clone, serde::Serialize)]
pub struct StormKind {
    /// Its key.
    #[serde(rename = "kind")]
    pub key: &'static str,
    /// Its name.
    #[serde(skip)]
    pub name: &'static str,
    /// Times a storm.
    pub count: Spread,
    /// Rate, mL/m2; `None`: the zone's own.
    pub target_ml_m2: Option<f64>,
    /// Its line in the fleet file, from 1.
    #[serde(skip)]
    pub line: Option<u64>,
}

impl Costs {
    /// From the start of the night (`begin`) to the opening, s.
    #[must_use]
    pub fn window_s(&self) -> Option<f64> {
        let (begin_s, opening_s) = (self.begin_s?, self.opening_s?);
        Some((opening_s - begin_s).rem_euclid(DAY_S))
    }
}

/// Reads the keys of `[estimate]` that cost something.
///
/// # Errors
/// With line and key: three values that do not rise, negative prices, an opening before the night begins, storms
/// without a kind.
pub(super) fn read(section: &Section<'_, '_>) -> Result<Costs> {
    use Bound::{LessThanAll, NotNegative, Positive, Share};
    use Dimension as D;
    let of =
        |key: &str, dimension: D, bound: Bound| spread::quantity(section, key, dimension, bound);
    let minimum_charge = section.quantity("minimum_charge", D::Money)?;
    let costs = Costs {
        speed_m_s: of("speed", D::Speed, Positive)?,
        turn_time_s: of("turn_time", D::Time, NotNegative)?,
        overlap_beyond: of("overlap_beyond", D::Share, NotNegative)?,
        applied: of("applied", D::Share, Positive)?,
        occupied: of("occupied", D::Share, Share)?,
        hand_rate_m2_s: of("hand_rate", D::AreaRate, Positive)?,
        walk_rate_m_s: of("walk_rate", D::WalkRate, Positive)?,
        step_time_s: of("step_time", D::Time, NotNegative)?,
        hand_setup_s: of("hand_setup", D::Time, NotNegative)?,
        fill_rate_l_s: of("fill_rate", D::Flow, Positive)?,
        fill_trip_s: of("fill_trip", D::Time, NotNegative)?,
        heel_l: of("heel", D::Volume, NotNegative)?,
        rinse_l: of("rinse", D::Volume, NotNegative)?,
        per_visit_s: of("per_visit", D::Time, NotNegative)?,
        deadhead_s: of("deadhead", D::Time, NotNegative)?,
        between_s: of("between", D::Time, NotNegative)?,
        route: section.flag("route")?.unwrap_or(false),
        crew: spread::number(section, "crew", Positive)?,
        crew_hour: of("crew_hour", D::Wage, NotNegative)?,
        trip: of("trip", D::Money, NotNegative)?,
        trip_in_minimum: section.flag("trip_in_minimum")?.unwrap_or(true),
        minimum_charge: super::limits::in_range(
            section,
            "minimum_charge",
            minimum_charge,
            |money| money >= 0.0,
            "0 or more",
        )?,
        overhead: of("overhead", D::Share, NotNegative)?,
        insurance: of("insurance", D::Share, NotNegative)?,
        margin: of("margin", D::Share, LessThanAll)?,
        begin_s: clock(section, "begin")?,
        opening_s: clock(section, "opening")?,
        storms: spread::number(section, "storms", NotNegative)?,
        kinds: kinds(section)?,
        currency: section.text("currency")?,
    };
    check_night(section, &costs)?;
    if costs.storms.is_some() && costs.kinds.is_empty() {
        return Err(section.error_at(
            "storms",
            "`storms` in [estimate]: no kind of treatment says what a storm takes",
            "Add per_storm = { post = { count = 1 } }; kinds are pre, post and re_treat.",
        ));
    }
    Ok(costs)
}

fn check_night(section: &Section<'_, '_>, costs: &Costs) -> Result<()> {
    match costs.window_s() {
        Some(window_s) if window_s <= 0.0 || window_s > LONGEST_NIGHT_S => Err(section.error_at(
            "opening",
            "`opening` in [estimate]: the lots would open before the night begins",
            "From `begin` to `opening` it is 18 hours at most, over midnight where need be.",
        )),
        _ => Ok(()),
    }
}

/// A time of day such as `06:00`, s after midnight.
fn clock(section: &Section<'_, '_>, key: &str) -> Result<Option<f64>> {
    let Some(text) = section.text(key)? else {
        return Ok(None);
    };
    let part = |part: &str, least: usize, below: u32| {
        let digits = (least..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        part.parse::<u32>().ok().filter(|n| digits && *n < below)
    };
    let time = text
        .split_once(':')
        .and_then(|(hour, minute)| part(hour, 1, 24).zip(part(minute, 2, 60)));
    match time {
        Some((hour, minute)) => Ok(Some(f64::from(hour) * 3600.0 + f64::from(minute) * 60.0)),
        None => {
            let what = format!("`{key}` in [estimate]: expected a time of day, found \"{text}\"");
            Err(section.error_at(key, &what, "Write it as \"06:00\", with 24 hours."))
        }
    }
}

fn kinds(section: &Section<'_, '_>) -> Result<Vec<StormKind>> {
    let Some(table) = section.table("per_storm", "per_storm")? else {
        return Ok(Vec::new());
    };
    table.only(&KINDS.map(|(key, _)| key))?;
    let mut kinds = Vec::new();
    for (key, name) in KINDS {
        let Some(kind) = table.table(key, key)? else {
            continue;
        };
        kind.only(&["count", "target"])?;
        let count = spread::number(&kind, "count", Bound::NotNegative)?.ok_or_else(|| {
            let what = format!("`{key}` in per_storm has no `count`");
            table.error_at(
                key,
                &what,
                "Say how often a storm takes it, such as count = 1.",
            )
        })?;
        kinds.push(StormKind {
            key,
            name,
            count,
            target_ml_m2: super::limits::positive(&kind, "target", Dimension::Rate)?,
            line: table.error_at(key, "", "").line,
        });
    }
    Ok(kinds)
}
