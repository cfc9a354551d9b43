//! `service-record.json`: the figures with what stands around them. Every figure of the page and of the spreadsheet comes
//! from here.

use super::disclose::Show;
use super::evidence::pretty;
use super::evidence::settings::Liquid;
use super::figures::Figures;
use super::intake::By;
use crate::geometry::place::Instant;
use crate::input::fleet;
use crate::notation::numbers::Units;
use crate::notation::style::Style;
use crate::rig::meter::MeteredBy;
use crate::rig::position::PositionFrom;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Name of the file in a record.
pub const FILE: &str = "data/service-record.json";

/// What a claim file asks for beside the logs: its key in the files, and what the page calls it.
pub const ON_FILE: [(&str, &str); 9] = [
    (fleet::ON_FILE[0], "contract or ticket"),
    (fleet::ON_FILE[1], "who asked for it, and when"),
    (fleet::ON_FILE[2], "operator reference"),
    (fleet::ON_FILE[3], "calibration of the meter"),
    (fleet::ON_FILE[4], "catch test of the boom"),
    (fleet::ON_FILE[5], "observer of the weather"),
    (fleet::ON_FILE[6], "pavement and air temperature"),
    (fleet::ON_FILE[7], "photographs"),
    (fleet::ON_FILE[8], "work by hand"),
];

/// The whole document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Layout of the folder: [`super::FORMAT`].
    pub format: String,
    /// Number of the rules by which the figures were computed: [`super::RULES`].
    pub rules: u32,
    /// Version of the program that wrote it.
    pub program: String,
    /// Name of the folder as it was written.
    pub record: String,
    /// Day of issue.
    pub issued: String,
    /// Local date on which the night began.
    pub night: String,
    /// When the night's files were taken in, to the minute.
    pub intake: Instant,
    /// The command that took them in.
    pub intake_by: By,
    /// Site id.
    pub site: String,
    /// Name to show.
    pub name: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// IANA name of the zone in which the page gives times; `None` is UTC.
    pub timezone: Option<String>,
    /// Units of the page and of the spreadsheet.
    pub units: PageUnits,
    /// What is shown beyond the usual.
    pub show: Show,
    /// Fixes in the evidence.
    pub fixes: usize,
    /// Those of them from beyond 10 m, or nearer to another site.
    pub fixes_beyond: usize,
    /// What else is on file, by the names of [`ON_FILE`].
    pub on_file: BTreeMap<String, String>,
    /// In the order of their numbers.
    pub rigs: Vec<RigFigures>,
    /// Products used or ordered here.
    pub products: Vec<Liquid>,
    /// What the logs show.
    pub figures: Figures,
}

/// Units of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PageUnits {
    /// Feet, acres, US gallons.
    Us,
    /// Metres, litres.
    Metric,
}

/// One rig as far as it was here.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RigFigures {
    /// From 1.
    pub rig: usize,
    /// Its id, where it is shown.
    pub id: Option<String>,
    /// Names of its log files, where they are shown.
    pub logs: Vec<String>,
    /// Sections of its boom.
    pub sections: usize,
    /// Width of its boom, m.
    pub boom_m: f64,
    /// What its litres come from.
    pub metered_by: MeteredBy,
    /// 95 % of its positions are within this, m.
    pub position_m: f64,
    /// Where that comes from.
    pub position_from: PositionFrom,
    /// Added to the times in its logs, s.
    pub clock_offset_s: f64,
    /// Median time between its fixes, s, when too long to show coverage.
    pub coarse_interval_s: Option<f64>,
}

impl From<Units> for PageUnits {
    fn from(units: Units) -> Self {
        match units {
            Units::Us => Self::Us,
            Units::Metric => Self::Metric,
        }
    }
}

impl Record {
    /// The bytes of the file.
    #[must_use]
    pub fn write(&self) -> Vec<u8> {
        pretty(self)
    }

    /// How the page writes quantities and times; UTC where nobody knows the zone.
    #[must_use]
    pub fn style(&self) -> Style {
        let units = match self.units {
            PageUnits::Us => Units::Us,
            PageUnits::Metric => Units::Metric,
        };
        let zone = self.timezone.as_deref();
        let zone = zone.and_then(|name| jiff::tz::TimeZone::get(name).ok());
        Style {
            units,
            rate_unit: units.default_rate(),
            timezone: zone.unwrap_or(jiff::tz::TimeZone::UTC),
        }
    }

    /// What a rig is called: its number, and its id where it is shown.
    #[must_use]
    pub fn rig_name(&self, rig: usize) -> String {
        let id = self.rigs.iter().find(|of| of.rig == rig);
        match id.and_then(|of| of.id.as_deref()) {
            Some(id) => format!("Rig {rig} ({})", crate::notation::clean::clean(id)),
            None => format!("Rig {rig}"),
        }
    }
}
