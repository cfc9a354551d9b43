//! Numbers as people use them: the units of a report, the steps numbers are rounded to, and how
//! they are printed. Base of every report; SI comes in, text goes out.
//!
//! Conversions are exact by definition: 1 ft = 0.3048 m and 1 US gal = 231 in3 (NIST Handbook 44,
//! Appendix C); an acre is 43,560 ft2 and a lane-mile 12 ft x 5,280 ft = 63,360 ft2 (Minnesota
//! Pollution Control Agency, "Material conversions for winter parking lot and sidewalk
//! maintenance").

use crate::units::{L_PER_GAL, M_PER_FT, M_PER_MI, M2_PER_AC, M2_PER_FT2, M2_PER_LANE_MI};

/// Printed where a number is not known; never a zero.
pub const NOT_KNOWN: &str = "-";

/// Millilitres in a US gallon (arithmetic).
const ML_PER_GAL: f64 = 1000.0 * L_PER_GAL;

/// Below this a number is what is left of float arithmetic, not a quantity: areas are good to 1e-6 of a site, and
/// nothing printed has a step finer than 0.01 (tolerance).
const NOTHING: f64 = 1e-6;

/// The units of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Feet, acres, US gallons.
    Us,
    /// Metres, hectares, litres.
    Metric,
}

/// The unit in which a report gives liquid per area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RateUnit {
    /// US gallons per acre.
    GalPerAcre,
    /// US gallons per 1,000 square feet, the unit of lots and walks.
    GalPer1000Ft2,
    /// US gallons per mile of a lane 12 ft wide.
    GalPerLaneMile,
    /// Litres per hectare.
    LPerHa,
    /// Millilitres per square metre.
    MlPerM2,
}

/// One unit: how to reach it from SI, what it is called, how finely it is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// As printed, such as `gal/1000 ft2`.
    pub label: &'static str,
    /// As the end of a spreadsheet heading, such as `gal_1000ft2`.
    pub heading: &'static str,
    /// Units in one SI unit (m, m2, L, mL/m2, m/s).
    pub per_si: f64,
    /// Printed numbers are multiples of this.
    pub step: f64,
    /// Decimals of a spreadsheet cell: finer than printed, so that a column still adds up.
    pub cell_decimals: usize,
}

const fn measure(
    label: &'static str,
    heading: &'static str,
    per_si: f64,
    step: f64,
    cell_decimals: usize,
) -> Measure {
    Measure {
        label,
        heading,
        per_si,
        step,
        cell_decimals,
    }
}

impl Units {
    /// Areas: ft2 to 10, m2 to 1.
    #[must_use]
    pub fn area(self) -> Measure {
        match self {
            Self::Us => measure("ft2", "ft2", 1.0 / M2_PER_FT2, 10.0, 0),
            Self::Metric => measure("m2", "m2", 1.0, 1.0, 1),
        }
    }

    /// Areas of whole lots: acres or hectares to 0.01.
    #[must_use]
    pub fn land(self) -> Measure {
        match self {
            Self::Us => measure("ac", "ac", 1.0 / M2_PER_AC, 0.01, 4),
            Self::Metric => measure("ha", "ha", 1e-4, 0.01, 4),
        }
    }

    /// Liquid: gallons or litres to 1.
    #[must_use]
    pub fn volume(self) -> Measure {
        match self {
            Self::Us => measure("gal", "gal", 1000.0 / ML_PER_GAL, 1.0, 2),
            Self::Metric => measure("L", "l", 1.0, 1.0, 2),
        }
    }

    /// Lengths on a lot: feet or metres to 1.
    #[must_use]
    pub fn length(self) -> Measure {
        match self {
            Self::Us => measure("ft", "ft", 1.0 / M_PER_FT, 1.0, 1),
            Self::Metric => measure("m", "m", 1.0, 1.0, 1),
        }
    }

    /// Steps and errors of positions: ft or m to 0.1.
    #[must_use]
    pub fn short_length(self) -> Measure {
        match self {
            Self::Us => measure("ft", "ft", 1.0 / M_PER_FT, 0.1, 2),
            Self::Metric => measure("m", "m", 1.0, 0.1, 2),
        }
    }

    /// Distances on the road: miles or kilometres to 0.1.
    #[must_use]
    pub fn distance(self) -> Measure {
        match self {
            Self::Us => measure("mi", "mi", 1.0 / M_PER_MI, 0.1, 2),
            Self::Metric => measure("km", "km", 1e-3, 0.1, 2),
        }
    }

    /// Speeds: mph or km/h to 1.
    #[must_use]
    pub fn speed(self) -> Measure {
        match self {
            Self::Us => measure("mph", "mph", 3600.0 / M_PER_MI, 1.0, 1),
            Self::Metric => measure("km/h", "km_h", 3.6, 1.0, 1),
        }
    }

    /// The rate unit where the user names none: the one of lots and walks.
    #[must_use]
    pub fn default_rate(self) -> RateUnit {
        match self {
            Self::Us => RateUnit::GalPer1000Ft2,
            Self::Metric => RateUnit::MlPerM2,
        }
    }
}

impl RateUnit {
    /// How to write a rate in this unit.
    #[must_use]
    pub fn measure(self) -> Measure {
        let per = |m2: f64| m2 / ML_PER_GAL;
        match self {
            Self::GalPerAcre => measure("gal/ac", "gal_ac", per(M2_PER_AC), 1.0, 1),
            Self::GalPer1000Ft2 => measure(
                "gal/1000 ft2",
                "gal_1000ft2",
                per(1000.0 * M2_PER_FT2),
                0.01,
                3,
            ),
            Self::GalPerLaneMile => {
                measure("gal/lane-mi", "gal_lane_mi", per(M2_PER_LANE_MI), 1.0, 1)
            }
            Self::LPerHa => measure("L/ha", "l_ha", 10.0, 1.0, 1),
            Self::MlPerM2 => measure("mL/m2", "ml_m2", 1.0, 0.1, 2),
        }
    }

    /// The unit printed in brackets beside this one: gal/ac beside gal/1000 ft2.
    #[must_use]
    pub fn beside(self) -> Option<Self> {
        (self == Self::GalPer1000Ft2).then_some(Self::GalPerAcre)
    }
}

impl Measure {
    /// The number without its unit, such as `2,310`; `<10` for something too small to print.
    #[must_use]
    pub fn number(&self, si: f64) -> String {
        let value = si * self.per_si;
        if !value.is_finite() {
            return NOT_KNOWN.to_owned();
        }
        let rounded = (value / self.step).round() * self.step;
        if rounded.abs() < self.step / 2.0 && value.abs() > NOTHING {
            return format!("<{}", grouped(self.step, self.decimals()));
        }
        grouped(rounded, self.decimals())
    }

    /// The number with its unit, such as `2,310 ft2`.
    #[must_use]
    pub fn text(&self, si: f64) -> String {
        format!("{} {}", self.number(si), self.label)
    }

    /// A spreadsheet cell: plain digits, empty when not known.
    #[must_use]
    pub fn cell(&self, si: Option<f64>) -> String {
        cell(si.map(|value| value * self.per_si), self.cell_decimals)
    }

    fn decimals(&self) -> usize {
        // Steps are 10, 1, 0.1 or 0.01.
        (-self.step.log10()).round().max(0.0) as usize
    }
}

/// A spreadsheet cell with this many decimals: no thousands separators, empty when not known.
#[must_use]
pub fn cell(value: Option<f64>, decimals: usize) -> String {
    match value {
        Some(value) if value.is_finite() => unsigned_zero(format!("{value:.decimals$}")),
        _ => String::new(),
    }
}

/// A fraction as whole percent; `<1 %` and `>99 %` where rounding would hide that something is
/// there or missing.
#[must_use]
pub fn percent(fraction: f64) -> String {
    let percent = (fraction * 100.0).round();
    if !fraction.is_finite() {
        NOT_KNOWN.to_owned()
    } else if percent < 1.0 && fraction > NOTHING {
        "<1 %".to_owned()
    } else if percent > 99.0 && fraction < 1.0 - NOTHING {
        ">99 %".to_owned()
    } else {
        format!("{} %", grouped(percent, 0))
    }
}

/// `part` of `whole` as a fraction; `None` when either is unknown or the whole is nothing.
#[must_use]
pub fn share(part: Option<f64>, whole: f64) -> Option<f64> {
    part.filter(|_| whole > 0.0).map(|part| part / whole)
}

/// Seconds as `31 s`, `41 min` or `2 h 05 min`.
#[must_use]
pub fn duration(seconds: f64) -> String {
    /// Shorter times read better in seconds, s (layout).
    const IN_SECONDS_BELOW_S: f64 = 120.0;
    /// Shorter times read better in minutes (layout).
    const IN_MINUTES_BELOW_MIN: i64 = 120;
    if !seconds.is_finite() {
        return NOT_KNOWN.to_owned();
    }
    let minutes = (seconds / 60.0).round() as i64;
    if seconds < IN_SECONDS_BELOW_S {
        measure("s", "s", 1.0, 1.0, 1).text(seconds)
    } else if minutes < IN_MINUTES_BELOW_MIN {
        format!("{minutes} min")
    } else {
        format!(
            "{} h {:02} min",
            grouped((minutes / 60) as f64, 0),
            minutes % 60
        )
    }
}

/// A count with its noun: `1 patch`, `1,204 fixes`.
#[must_use]
pub fn count(number: u64, one: &str, many: &str) -> String {
    format!(
        "{} {}",
        grouped(number as f64, 0),
        if number == 1 { one } else { many }
    )
}

/// Digits in groups of three with commas and a decimal point, whatever the locale.
#[must_use]
pub fn grouped(value: f64, decimals: usize) -> String {
    let digits = unsigned_zero(format!("{value:.decimals$}"));
    let whole_end = digits.find('.').unwrap_or(digits.len());
    let mut out = String::with_capacity(digits.len() + 4);
    for (at, character) in digits.char_indices() {
        let left = whole_end.saturating_sub(at);
        let after_digit = out.ends_with(|last: char| last.is_ascii_digit());
        if left > 0 && left % 3 == 0 && after_digit {
            out.push(',');
        }
        out.push(character);
    }
    out
}

/// `-0`, `-0.00` and the like, without the sign.
fn unsigned_zero(digits: String) -> String {
    match digits.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => digits,
    }
}

/// `+2 s`, `-1,024 weeks`: as one would write it in the fleet file.
#[must_use]
pub fn signed_duration(seconds: f64) -> String {
    /// Seconds in a week (arithmetic).
    const WEEK_S: f64 = 604_800.0;
    let sign = if seconds < 0.0 { "-" } else { "+" };
    let weeks = seconds.abs() / WEEK_S;
    if weeks >= 1.0 && (weeks - weeks.round()).abs() < 1e-9 {
        return format!("{sign}{}", count(weeks.round() as u64, "week", "weeks"));
    }
    if seconds.abs() < 60.0 {
        // Clocks are set to a fraction of a second.
        let digits = format!("{:.3}", seconds.abs());
        let digits = digits.trim_end_matches('0').trim_end_matches('.');
        return format!("{sign}{digits} s");
    }
    format!("{sign}{}", duration(seconds.abs()))
}

#[cfg(test)]
mod tests;
