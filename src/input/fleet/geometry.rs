//! Where antenna, axles, hitch and boom of a rig stand to each other.

use super::Hitch;
use super::limits::in_range;
use super::section::Section;
use crate::error::Result;
use crate::units::Dimension;

/// Farthest that a boom's end may be from its antenna, m: a site looks for rigs within 50 m of its bounds
/// ([`crate::near::NEAR_M`]), so a longer reach would lose liquid. No boom comes near it (limit).
const GREATEST_REACH_M: f64 = 30.0;
/// Shortest trailer, m: below it is a slip in the unit (limit).
const LEAST_TO_AXLE_M: f64 = 0.1;

const HITCH_ADVICE: &str = "Measure along the vehicle and the drawbar:\n\
    hitch = { behind_antenna = \"3 m\", to_axle = \"2.5 m\", axle_to_boom = \"0.5 m\" }";

/// What a rig's keys say of it, m.
pub(super) struct Geometry {
    pub(super) antenna_ahead_m: f64,
    pub(super) antenna_right_m: f64,
    pub(super) axle_m: f64,
    pub(super) hitch: Option<Hitch>,
}

/// Reads `antenna`, `axle` and `hitch` of a rig with a boom this wide.
pub(super) fn read(section: &Section<'_, '_>, width_m: f64) -> Result<Geometry> {
    let hitch = hitch(section)?;
    let (antenna_ahead_m, antenna_right_m) = antenna(section, hitch.is_some())?;
    let behind_m = hitch.map_or(antenna_ahead_m.abs(), |hitch| hitch.length_m());
    let reach = Reach {
        half_m: width_m / 2.0,
        behind_m,
        right_m: antenna_right_m.abs(),
    };
    reach.check(section, hitch.is_some())?;
    let standard_m = hitch.map_or(antenna_ahead_m, |hitch| hitch.behind_antenna_m);
    Ok(Geometry {
        antenna_ahead_m,
        antenna_right_m,
        axle_m: axle(section)?.unwrap_or(standard_m),
        hitch,
    })
}

fn antenna(section: &Section<'_, '_>, towed: bool) -> Result<(f64, f64)> {
    let Some(table) = section.table("antenna", "antenna")? else {
        return Ok((0.0, 0.0));
    };
    table.only(&["ahead", "right"])?;
    if towed && table.has("ahead") {
        let what = "`antenna.ahead` and `hitch` both say how far the boom is behind the antenna";
        let advice =
            "Keep `hitch` for a boom on a trailer, `antenna.ahead` for one on the vehicle.";
        return Err(table.error_at("ahead", what, advice));
    }
    Ok((
        table.quantity("ahead", Dimension::Length)?.unwrap_or(0.0),
        table.quantity("right", Dimension::Length)?.unwrap_or(0.0),
    ))
}

fn hitch(section: &Section<'_, '_>) -> Result<Option<Hitch>> {
    let Some(table) = section.table("hitch", "hitch")? else {
        return Ok(None);
    };
    table.only(&["behind_antenna", "to_axle", "axle_to_boom"])?;
    let needed = |key: &str, fits: fn(f64) -> bool, expected: &str| {
        let value_m = table.quantity(key, Dimension::Length)?;
        let missing = || table.error_at(key, &format!("`hitch` has no `{key}`"), HITCH_ADVICE);
        in_range(&table, key, value_m, fits, expected)?.ok_or_else(missing)
    };
    Ok(Some(Hitch {
        behind_antenna_m: needed("behind_antenna", |m| m >= 0.0, "0 or more")?,
        to_axle_m: needed("to_axle", |m| m >= LEAST_TO_AXLE_M, "10 cm or more")?,
        axle_to_boom_m: table
            .quantity("axle_to_boom", Dimension::Length)?
            .unwrap_or(0.0),
    }))
}

fn axle(section: &Section<'_, '_>) -> Result<Option<f64>> {
    let axle_m = section.quantity("axle", Dimension::Length)?;
    let fits = |x: f64| x.abs() <= GREATEST_REACH_M;
    in_range(section, "axle", axle_m, fits, "30 m at most")
}

/// How far a boom's end may be from its antenna: the sum of these, m.
struct Reach {
    half_m: f64,
    behind_m: f64,
    right_m: f64,
}

impl Reach {
    /// Refuses a boom that reaches farther from its antenna than any does, and says which key is to
    /// blame.
    fn check(&self, section: &Section<'_, '_>, towed: bool) -> Result<()> {
        let offset_m = self.behind_m + self.right_m;
        let reach_m = self.half_m + offset_m;
        if reach_m <= GREATEST_REACH_M {
            return Ok(());
        }
        let key = if self.half_m >= offset_m {
            "sections"
        } else if towed && self.behind_m >= self.right_m {
            "hitch"
        } else {
            "antenna"
        };
        let what = format!(
            "`{key}`: the boom's end is {reach_m:.0} m from the antenna, the most is {GREATEST_REACH_M} m"
        );
        Err(section.error_at(key, &what, "Check the numbers and their units."))
    }
}
