//! The fleet file: rigs, products, defaults and how a log's elements map to channels.
//!
//! Here stands what the file says, in SI; [`read`] makes it from the TOML text. Every later stage
//! takes the machine's description from here.

mod costs;
mod estimate;
mod geometry;
mod limits;
mod mapping;
mod reading;
mod remarks;
mod section;
mod spread;

use super::channels::Channel;
use std::collections::BTreeMap;

pub use costs::{Costs, StormKind};
pub use estimate::{Body, Estimate};
pub use reading::{MOST_TABLES, read};
pub use spread::Spread;

/// What a claim file asks for beside the logs: keys of `[record]` here, and of `record` in the sites file.
pub const ON_FILE: [&str; 9] = [
    "agreement",
    "requested",
    "operator",
    "calibration",
    "catch_test",
    "weather",
    "conditions",
    "photos",
    "hand_work",
];

/// Greatest position error, m: with more, no lot can be told from its neighbour (limit).
pub const GREATEST_POSITION_M: f64 = 20.0;

/// The whole fleet file, in SI (litres for volume, mL/m2 for rates).
#[derive(Debug, Clone)]
pub struct Fleet {
    /// What holds where nothing nearer says otherwise.
    pub defaults: Defaults,
    /// Products in the order of the file.
    pub products: Vec<Product>,
    /// Rigs in the order of the file.
    pub rigs: Vec<Rig>,
    /// How new lots are measured.
    pub estimate: Estimate,
    /// What is on file for service records beside the logs, by the names of [`ON_FILE`].
    pub record: BTreeMap<String, String>,
    /// The logs are plans: see [`Fleet::of_plan`].
    pub planned: bool,
}

impl Fleet {
    /// The fleet as a plan sees it: positions and times are exact, what is open is open on the ground.
    #[must_use]
    pub fn of_plan(mut self) -> Self {
        /// Far below anything that a position error changes, m (tolerance).
        const EXACT_M: f64 = 0.01;
        self.planned = true;
        self.defaults.position_m = EXACT_M;
        self.defaults.dropout_s = Defaults::default().dropout_s;
        for rig in &mut self.rigs {
            rig.position_m = Some(EXACT_M);
            rig.clock_offset_s = 0.0;
            rig.section_log = SectionLog::OnChange;
            rig.log_lag_s = Some(0.0);
            rig.open_delay_s = 0.0;
            rig.close_delay_s = 0.0;
        }
        self
    }
}

/// `[defaults]`: each field has the value used where the file is silent.
#[derive(Debug, Clone)]
pub struct Defaults {
    /// IANA time zone in which times are shown; `None` shows UTC.
    pub timezone: Option<jiff::tz::TimeZone>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Half-width of the band around the target that counts as on rate, as a fraction. Default 0.10.
    pub band: f64,
    /// Shortest silence that can be a dropout, s. Default 5.
    pub dropout_s: f64,
    /// From this pause on, spraying a site again is a new application, s. Default 5400.
    pub application_pause_s: f64,
    /// Ground this near to a zone's line is kept separate, m. Default 1.
    pub edge_m: f64,
    /// Position error (95 %) of a rig that states none, m. Default 1.
    pub position_m: f64,
    /// The fleet file itself says it.
    pub position_told: bool,
    /// Flow this close to spraying belongs to that spraying, s. Default 2.
    pub meter_tail_s: f64,
    /// Probability from which a bare patch is reported. Default 0.75.
    pub likely: f64,
    /// Likely bare ground of a zone from which it is worth going back, m2. Default 46.45 (500 ft2).
    pub go_back_m2: f64,
    /// The same as a share of the zone. Default 0.02.
    pub go_back_share: f64,
}

/// `[[product]]`: one liquid, by substance and strength.
#[derive(Debug, Clone)]
pub struct Product {
    /// Id used by rigs, orders and logs.
    pub id: String,
    /// Dissolved salt, such as `NaCl`.
    pub solute: Option<String>,
    /// Salt by mass, as a fraction.
    pub mass_fraction: Option<f64>,
    /// Density relative to water at 60 degF.
    pub specific_gravity: Option<f64>,
    /// Price, money per litre, in the fleet's own currency.
    pub price_per_l: Option<Spread>,
    /// Lowest pavement temperature it is meant for, degC.
    pub lowest_pavement_degc: Option<f64>,
    /// Rate asked for with this product, mL/m2.
    pub target_ml_m2: Option<f64>,
}

/// `[[rig]]`: one spraying vehicle.
#[derive(Debug, Clone)]
pub struct Rig {
    /// Id, unique in the file.
    pub id: String,
    /// Product it carries unless a log says otherwise.
    pub product: Option<String>,
    /// Sprayed width on the ground of each section, m, left to right seen forward; never empty.
    pub section_widths_m: Vec<f64>,
    /// Antenna ahead of the boom's centre, m.
    pub antenna_ahead_m: f64,
    /// Antenna to the right of the boom's centre, m.
    pub antenna_right_m: f64,
    /// Antenna ahead of the rear axle, m; the file's default is `antenna_ahead_m`, with a hitch the
    /// hitch's distance behind the antenna.
    pub axle_m: f64,
    /// The boom rides on a trailer behind this hitch; `antenna_ahead_m` is 0 then.
    pub hitch: Option<Hitch>,
    /// 95 % of positions are within this, m; `None` looks at the logged dilution, then at the default.
    pub position_m: Option<f64>,
    /// Added to the times in its logs, s. Default 0.
    pub clock_offset_s: f64,
    /// When its logger writes section states. Default [`SectionLog::Sampled`].
    pub section_log: SectionLog,
    /// A switch is logged so long after it was thrown, s; `None`: half the interval in a sampled log, 0 in one
    /// that writes on change.
    pub log_lag_s: Option<f64>,
    /// From the switch to liquid on the ground, s.
    pub open_delay_s: f64,
    /// From the switch to no more liquid on the ground, s.
    pub close_delay_s: f64,
    /// The flow meter.
    pub meter: Meter,
    /// Tank, L.
    pub tank_l: Option<f64>,
    /// Most the pump can give, L/s.
    pub greatest_flow_l_s: Option<f64>,
    /// Flow of the hand gun, L/s.
    pub gun_flow_l_s: Option<f64>,
    /// The vehicle's outline, for plans.
    pub body: Option<Body>,
    /// Circle of the outer front wheel, curb to curb, diameter, m.
    pub turning_circle_m: Option<f64>,
    /// Front axle ahead of the rear axle, m.
    pub wheelbase_m: Option<f64>,
    /// Speed in turns, m/s.
    pub turn_speed_m_s: Option<f64>,
    /// Time lost at a change between forward and reverse, s.
    pub gear_change_s: Option<f64>,
    /// What it costs, money per second, without its crew.
    pub rig_hour: Option<Spread>,
    /// File-name patterns (globs) of its logs.
    pub logs: Vec<String>,
    /// Where its logs do not use the program's own elements.
    pub channels: ChannelMap,
}

impl Rig {
    /// The rig with a logger that writes the program's own elements.
    #[must_use]
    pub fn with_own_elements(&self) -> Self {
        Self {
            channels: ChannelMap::default(),
            ..self.clone()
        }
    }

    /// Sprayed width of the whole boom, m.
    #[must_use]
    pub fn boom_width_m(&self) -> f64 {
        self.section_widths_m.iter().sum()
    }
}

#[cfg(test)]
impl Rig {
    /// A rig with these sections and nothing else, for tests of later stages.
    pub(crate) fn bare(section_widths_m: Vec<f64>) -> Self {
        Self {
            id: "r".into(),
            product: None,
            section_widths_m,
            antenna_ahead_m: 0.0,
            antenna_right_m: 0.0,
            axle_m: 0.0,
            hitch: None,
            position_m: None,
            clock_offset_s: 0.0,
            section_log: SectionLog::Sampled,
            log_lag_s: None,
            open_delay_s: 0.0,
            close_delay_s: 0.0,
            meter: Meter {
                kind: None,
                factor: 1.0,
                delay_s: None,
            },
            tank_l: None,
            greatest_flow_l_s: None,
            gun_flow_l_s: None,
            body: None,
            turning_circle_m: None,
            wheelbase_m: None,
            turn_speed_m_s: None,
            gear_change_s: None,
            rig_hour: None,
            logs: vec![],
            channels: ChannelMap::default(),
        }
    }
}

/// `hitch` of a rig whose boom rides on a trailer, m.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Hitch {
    /// Hitch point behind the antenna, along the vehicle's heading; 0 or more.
    pub behind_antenna_m: f64,
    /// Trailer's axle behind the hitch point; more than 0.
    pub to_axle_m: f64,
    /// Boom's centre behind the trailer's axle; negative: ahead of it.
    pub axle_to_boom_m: f64,
}

impl Hitch {
    /// Farthest that the boom's centre can be from the antenna's place on the vehicle's centreline, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.behind_antenna_m + (self.to_axle_m + self.axle_to_boom_m).abs()
    }
}

/// `section_log` of a rig: when its logger writes section states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SectionLog {
    /// At each fix: between two fixes a section may switch unseen.
    #[default]
    Sampled,
    /// Whenever a section switches there is a fix: between two fixes the states are known.
    OnChange,
}

/// `meter` of a rig.
#[derive(Debug, Clone)]
pub struct Meter {
    /// Such as `magnetic` or `turbine`: for the reader of the fleet file, never computed with.
    pub kind: Option<String>,
    /// Litres = factor x reading. Default 1.
    pub factor: f64,
    /// The reading is this late, s; `None` looks at the log ([`crate::rig::meter::Late`]).
    pub delay_s: Option<f64>,
}

/// Where each channel is in the log. Channels without a rule use the element of their own name
/// (`flow`, `set_rate`, ...), with the unit attribute or the default unit.
#[derive(Debug, Clone, Default)]
pub struct ChannelMap {
    /// Rules for channels with one number or text.
    pub scalars: Vec<(Channel, ScalarRule)>,
    /// Rule for the section states.
    pub sections: Option<SectionRule>,
}

/// One element or attribute that holds one value.
#[derive(Debug, Clone)]
pub struct ScalarRule {
    /// Local name of the element, wherever it is nested in `<extensions>`.
    pub element: String,
    /// The attribute that holds the value; `None`: the element's text.
    pub attribute: Option<String>,
    /// Value in SI = scale x number + offset (the offset for temperatures only).
    pub scale: f64,
    /// See `scale`.
    pub offset: f64,
    /// The rule names its unit; otherwise a `unit` attribute in the log outranks the default unit.
    pub unit_given: bool,
    /// For `volume`: the value is the volume since the last fix, not a total.
    pub since_last_fix: bool,
}

impl ScalarRule {
    /// The rule of a log that uses the program's own element for this channel.
    #[must_use]
    pub fn own(channel: Channel) -> Self {
        let (scale, offset) = channel.default_scale();
        Self {
            element: channel.name().to_owned(),
            attribute: None,
            scale,
            offset,
            unit_given: false,
            since_last_fix: false,
        }
    }
}

/// How section states are written.
#[derive(Debug, Clone)]
pub struct SectionRule {
    /// Which elements or attributes hold them.
    pub source: SectionSource,
    /// Section 1 is the leftmost as written (for bits: `true`, the lowest bit is the leftmost section).
    pub first_left: bool,
    /// A state that reads as open means closed.
    pub invert: bool,
}

/// Where section states stand.
#[derive(Debug, Clone)]
pub enum SectionSource {
    /// One character per section in the element's text (or attribute).
    Text {
        /// Local name of the element.
        element: String,
        /// Attribute, or `None` for the text.
        attribute: Option<String>,
    },
    /// One element for each section, in order.
    Elements(Vec<String>),
    /// One attribute for each section, in order, on one element.
    Attributes {
        /// Local name of the element.
        element: String,
        /// Attribute names.
        attributes: Vec<String>,
    },
    /// States separated by this character in the element's text.
    List {
        /// Local name of the element.
        element: String,
        /// Attribute, or `None` for the text.
        attribute: Option<String>,
        /// Separator.
        separator: char,
    },
    /// An integer bit field (decimal, or hexadecimal with `0x`).
    Bits {
        /// Local name of the element.
        element: String,
        /// Attribute, or `None` for the text.
        attribute: Option<String>,
        /// Number of sections in the field.
        bits: u32,
        /// 1 or 2 bits for each section; of two bits only 01 is open.
        bits_per_section: u32,
    },
}

#[cfg(test)]
mod tests;
