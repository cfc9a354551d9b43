//! Units at the edge: a quantity written with its unit becomes an SI number, once, on reading.
//!
//! Base module: it uses no other. Inside the program lengths are m, areas m2, volumes L, flows L/s, rates
//! mL/m2, speeds m/s, pressures kPa, temperatures degC, times s, angles deg, shares fractions,
//! prices money per litre, wages money per second. "gal" and "oz" are the US gallon and the US fluid ounce.

/// One foot in metres, exact (published: US Federal Register 85 FR 62698, 2020: the international foot).
pub const M_PER_FT: f64 = 0.3048;
/// One inch in metres: a twelfth of a foot, exact (arithmetic).
pub const M_PER_IN: f64 = 0.0254;
/// One mile in metres: 5,280 ft, exact (arithmetic).
pub const M_PER_MI: f64 = 5280.0 * M_PER_FT;
/// One US gallon in litres: 231 cubic inches (published: pesticidestewardship.org, conversion factors), exact.
pub const L_PER_GAL: f64 = 3.785_411_784;
/// One US fluid ounce in litres: a gallon has 128, exact (arithmetic).
pub const L_PER_OZ: f64 = L_PER_GAL / 128.0;
/// One acre in square metres: 43,560 ft2 (published: CIA Factbook, appendix G), exact.
pub const M2_PER_AC: f64 = 43_560.0 * M2_PER_FT2;
/// One square foot in square metres, exact (arithmetic).
pub const M2_PER_FT2: f64 = M_PER_FT * M_PER_FT;
/// One lane-mile in square metres: 12 ft x 5,280 ft = 63,360 ft2 (published: Minnesota Pollution Control Agency,
/// material conversions for winter maintenance).
pub const M2_PER_LANE_MI: f64 = 63_360.0 * M2_PER_FT2;
/// One pound-force per square inch in kPa: 4.448 221 615 260 5 N on 645.16 mm2, both exact by definition (from
/// memory).
pub const KPA_PER_PSI: f64 = 4.448_221_615_260_5 / 0.645_16;
/// One knot in m/s: 1,852 m in an hour, exact (from memory).
pub const M_S_PER_KN: f64 = 1852.0 / 3600.0;

/// Millilitres in a litre (arithmetic).
pub(crate) const ML_PER_L: f64 = 1000.0;
/// Square metres in a hectare (arithmetic).
const M2_PER_HA: f64 = 10_000.0;

/// What a quantity measures; decides which units are accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// m inside.
    Length,
    /// m2 inside.
    Area,
    /// L/s inside.
    Flow,
    /// L inside.
    Volume,
    /// mL/m2 inside.
    Rate,
    /// m/s inside.
    Speed,
    /// kPa inside.
    Pressure,
    /// degC inside.
    Temperature,
    /// s inside.
    Time,
    /// A fraction inside.
    Share,
    /// Degrees inside.
    Angle,
    /// Money per litre inside.
    Price,
    /// m2/s inside: how fast ground is done by hand.
    AreaRate,
    /// m/s inside: how fast a walk is done, written by the hour.
    WalkRate,
    /// Money inside, in the file's own currency.
    Money,
    /// Money per second inside.
    Wage,
}

/// A unit's names, the first the one shown, and value in SI = scale x number + offset.
struct Unit(&'static [&'static str], f64, f64);

impl Dimension {
    /// What to call it in a message.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Area => "area",
            Self::Flow => "flow",
            Self::Volume => "volume",
            Self::Rate => "rate (liquid per area)",
            Self::Speed => "speed",
            Self::Pressure => "pressure",
            Self::Temperature => "temperature",
            Self::Time => "time",
            Self::Share => "share",
            Self::Angle => "angle",
            Self::Price => "price",
            Self::AreaRate => "rate (ground per time)",
            Self::WalkRate => "rate (length per time)",
            Self::Money => "sum of money",
            Self::Wage => "price per time",
        }
    }

    /// A sample to show in a message.
    #[must_use]
    pub fn sample(self) -> &'static str {
        match self {
            Self::Length => "30 in",
            Self::Area => "500 ft2",
            Self::Flow => "45 gal/min",
            Self::Volume => "425 gal",
            Self::Rate => "35 gal/ac",
            Self::Speed => "8 mph",
            Self::Pressure => "40 psi",
            Self::Temperature => "15 degF",
            Self::Time => "0.4 s",
            Self::Share => "10 %",
            Self::Angle => "90 deg",
            Self::Price => "0.20 /gal",
            Self::AreaRate => "6000 ft2/h",
            Self::WalkRate => "2500 ft/h",
            Self::Money => "140",
            Self::Wage => "35 /h",
        }
    }

    /// The units accepted, as a list for a message.
    #[must_use]
    pub fn accepted(self) -> String {
        let names: Vec<&str> = self.units().iter().map(|unit| unit.0[0]).collect();
        names.join(", ")
    }

    /// The units accepted: the name shown, and the scale to the unit used inside.
    pub fn scales(self) -> impl Iterator<Item = (&'static str, f64)> {
        self.units().iter().map(|unit| (unit.0[0], unit.1))
    }

    fn units(self) -> &'static [Unit] {
        match self {
            Self::Length => LENGTH,
            Self::Area => AREA,
            Self::Flow => FLOW,
            Self::Volume => VOLUME,
            Self::Rate => RATE,
            Self::Speed => SPEED,
            Self::Pressure => PRESSURE,
            Self::Temperature => TEMPERATURE,
            Self::Time => TIME,
            Self::Share => SHARE,
            Self::Angle => ANGLE,
            Self::Price => PRICE,
            Self::AreaRate => AREA_RATE,
            Self::WalkRate => WALK_RATE,
            Self::Money => MONEY,
            Self::Wage => WAGE,
        }
    }
}

const LENGTH: &[Unit] = &[
    Unit(&["ft", "feet", "foot", "'"], M_PER_FT, 0.0),
    Unit(&["in", "inch", "inches", "\""], M_PER_IN, 0.0),
    Unit(&["yd", "yard", "yards"], 3.0 * M_PER_FT, 0.0),
    Unit(&["mi", "mile", "miles"], M_PER_MI, 0.0),
    Unit(&["mm"], 0.001, 0.0),
    Unit(&["cm"], 0.01, 0.0),
    Unit(&["m"], 1.0, 0.0),
    Unit(&["km"], 1000.0, 0.0),
];
const AREA: &[Unit] = &[
    Unit(&["ft2", "sqft"], M2_PER_FT2, 0.0),
    Unit(&["ac", "acre", "acres"], M2_PER_AC, 0.0),
    Unit(&["m2"], 1.0, 0.0),
    Unit(&["ha"], M2_PER_HA, 0.0),
];
const FLOW: &[Unit] = &[
    Unit(&["gal/min", "gpm"], L_PER_GAL / 60.0, 0.0),
    Unit(&["gal/h", "gal/hr", "gph"], L_PER_GAL / 3600.0, 0.0),
    Unit(&["oz/min"], L_PER_OZ / 60.0, 0.0),
    Unit(&["L/min"], 1.0 / 60.0, 0.0),
    Unit(&["L/s"], 1.0, 0.0),
    Unit(&["L/h"], 1.0 / 3600.0, 0.0),
    Unit(&["mL/min"], 0.001 / 60.0, 0.0),
    Unit(&["mL/s"], 0.001, 0.0),
    Unit(&["m3/h"], 1000.0 / 3600.0, 0.0),
];
const VOLUME: &[Unit] = &[
    Unit(&["gal", "gallon", "gallons"], L_PER_GAL, 0.0),
    Unit(&["qt"], L_PER_GAL / 4.0, 0.0),
    Unit(&["oz", "floz"], L_PER_OZ, 0.0),
    Unit(&["L", "litre", "liter", "litres", "liters"], 1.0, 0.0),
    Unit(&["mL"], 0.001, 0.0),
    Unit(&["m3"], 1000.0, 0.0),
];
const RATE: &[Unit] = &[
    Unit(
        &["gal/ac", "gal/acre"],
        L_PER_GAL * ML_PER_L / M2_PER_AC,
        0.0,
    ),
    Unit(
        &["gal/1000ft2", "gal/1000sqft"],
        L_PER_GAL * ML_PER_L / (1000.0 * M2_PER_FT2),
        0.0,
    ),
    Unit(
        &["gal/lane-mi", "gal/lane-mile"],
        L_PER_GAL * ML_PER_L / M2_PER_LANE_MI,
        0.0,
    ),
    Unit(
        &["oz/1000ft2", "oz/1000sqft"],
        L_PER_OZ * ML_PER_L / (1000.0 * M2_PER_FT2),
        0.0,
    ),
    Unit(&["oz/ac", "oz/acre"], L_PER_OZ * ML_PER_L / M2_PER_AC, 0.0),
    Unit(&["L/ha"], ML_PER_L / M2_PER_HA, 0.0),
    Unit(&["mL/m2"], 1.0, 0.0),
    Unit(&["L/m2"], ML_PER_L, 0.0),
];
const SPEED: &[Unit] = &[
    Unit(&["mph", "mi/h"], M_PER_MI / 3600.0, 0.0),
    Unit(&["km/h", "kmh"], 1.0 / 3.6, 0.0),
    Unit(&["m/s"], 1.0, 0.0),
    Unit(&["ft/s"], M_PER_FT, 0.0),
    Unit(&["ft/min"], M_PER_FT / 60.0, 0.0),
    Unit(&["kn"], M_S_PER_KN, 0.0),
];
const PRESSURE: &[Unit] = &[
    Unit(&["psi"], KPA_PER_PSI, 0.0),
    Unit(&["kPa"], 1.0, 0.0),
    Unit(&["bar"], 100.0, 0.0),
    Unit(&["Pa"], 0.001, 0.0),
];
// Degrees Fahrenheit: (F - 32) x 5/9, written as scale and offset.
const TEMPERATURE: &[Unit] = &[
    Unit(&["degF", "F"], 5.0 / 9.0, -160.0 / 9.0),
    Unit(&["degC", "C"], 1.0, 0.0),
];
const TIME: &[Unit] = &[
    Unit(&["s", "sec"], 1.0, 0.0),
    Unit(&["ms"], 0.001, 0.0),
    Unit(&["min"], 60.0, 0.0),
    Unit(&["h", "hr", "hour", "hours"], 3600.0, 0.0),
    Unit(&["d", "day", "days"], 86_400.0, 0.0),
    Unit(&["weeks", "week", "wk"], 604_800.0, 0.0),
];
const SHARE: &[Unit] = &[
    Unit(&["%"], 0.01, 0.0),
    Unit(&["(no unit: a fraction)", ""], 1.0, 0.0),
];
const ANGLE: &[Unit] = &[
    Unit(&["deg"], 1.0, 0.0),
    Unit(&["rad"], 180.0 / std::f64::consts::PI, 0.0),
];
const PRICE: &[Unit] = &[
    Unit(&["/gal"], 1.0 / L_PER_GAL, 0.0),
    Unit(&["/L"], 1.0, 0.0),
];
const AREA_RATE: &[Unit] = &[
    Unit(&["ft2/h", "sqft/h", "ft2/hr"], M2_PER_FT2 / 3600.0, 0.0),
    Unit(&["ft2/min", "sqft/min"], M2_PER_FT2 / 60.0, 0.0),
    Unit(&["m2/h"], 1.0 / 3600.0, 0.0),
    Unit(&["m2/min"], 1.0 / 60.0, 0.0),
];
const WALK_RATE: &[Unit] = &[
    Unit(&["ft/h", "ft/hr"], M_PER_FT / 3600.0, 0.0),
    Unit(&["ft/min"], M_PER_FT / 60.0, 0.0),
    Unit(&["mi/h", "mph"], M_PER_MI / 3600.0, 0.0),
    Unit(&["m/h"], 1.0 / 3600.0, 0.0),
    Unit(&["m/min"], 1.0 / 60.0, 0.0),
    Unit(&["km/h"], 1.0 / 3.6, 0.0),
];
const MONEY: &[Unit] = &[Unit(&["(no unit)", ""], 1.0, 0.0)];
const WAGE: &[Unit] = &[
    Unit(&["/h", "/hr", "/hour"], 1.0 / 3600.0, 0.0),
    Unit(&["/min"], 1.0 / 60.0, 0.0),
];

/// Greatest rate that is not a slip in the unit, mL/m2: ten litres on a square metre are a flood (limit).
const GREATEST_RATE_ML_M2: f64 = 10_000.0;

/// Reads a quantity such as `35 gal/ac` or `0.4 s` and gives it in the unit used inside.
///
/// # Errors
/// A sentence that says what was found and lists the units accepted: no number, a number that is
/// not finite, no unit, or a unit of another dimension.
pub fn parse(text: &str, dimension: Dimension) -> Result<f64, String> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E')))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let wrong = |hint: &str| {
        let (name, sample) = (dimension.name(), dimension.sample());
        format!("expected a {name} such as \"{sample}\", found \"{text}\"{hint}")
    };
    if unit.starts_with(',') {
        return Err(wrong(" (write numbers without commas)"));
    }
    let number: f64 = number.parse().map_err(|_| wrong(""))?;
    let (scale, offset) = linear(unit, dimension)?;
    let value = number.mul_add(scale, offset);
    if dimension == Dimension::Rate && value > GREATEST_RATE_ML_M2 {
        return Err(wrong(" (more than 10 L/m2)"));
    }
    if value.is_finite() {
        Ok(value)
    } else {
        Err(format!("\"{text}\" is too large a number"))
    }
}

/// Scale and offset of a unit: value in the unit used inside = scale x number + offset. The offset
/// is other than zero for temperatures only. Letter case and blanks do not matter.
///
/// # Errors
/// A sentence that lists the units accepted.
pub fn linear(unit: &str, dimension: Dimension) -> Result<(f64, f64), String> {
    let plain: String = unit.chars().filter(|c| !c.is_whitespace()).collect();
    let plain = plain
        .replace('²', "2")
        .replace('³', "3")
        .replace('°', "deg");
    let found = dimension
        .units()
        .iter()
        .find(|known| known.0.iter().any(|name| name.eq_ignore_ascii_case(&plain)));
    match found {
        Some(&Unit(_, scale, offset)) => Ok((scale, offset)),
        None if plain.is_empty() => Err(format!(
            "a {} needs a unit, one of: {}",
            dimension.name(),
            dimension.accepted()
        )),
        None => Err(format!(
            "\"{}\" is not a unit of {}; accepted are: {}",
            unit.trim(),
            dimension.name(),
            dimension.accepted()
        )),
    }
}

#[cfg(test)]
mod tests;
