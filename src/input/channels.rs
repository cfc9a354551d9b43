//! The channels of a log: their names, what they measure, and the unit that holds where neither the
//! log nor the fleet file names one. Used by the fleet file's mapping and by the log reader.

use super::fleet::{Channel, ScalarRule};
use crate::units::{self, Dimension};

impl Channel {
    /// Every channel, in the order of the documentation.
    pub const ALL: [Self; 15] = [
        Self::Flow,
        Self::Volume,
        Self::Sections,
        Self::Master,
        Self::SetRate,
        Self::Rate,
        Self::Speed,
        Self::Pressure,
        Self::Gun,
        Self::Heading,
        Self::Level,
        Self::Pavement,
        Self::Air,
        Self::Rig,
        Self::Product,
    ];

    /// The channel's name: the local name of its own element, and its key in the fleet file.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Flow => "flow",
            Self::Volume => "volume",
            Self::Sections => "sections",
            Self::Master => "master",
            Self::SetRate => "set_rate",
            Self::Rate => "rate",
            Self::Speed => "speed",
            Self::Pressure => "pressure",
            Self::Gun => "gun",
            Self::Heading => "heading",
            Self::Level => "level",
            Self::Pavement => "pavement",
            Self::Air => "air",
            Self::Rig => "rig",
            Self::Product => "product",
        }
    }

    /// What the channel measures and its default unit; `None` for states and ids.
    #[must_use]
    pub fn measure(self) -> Option<(Dimension, &'static str)> {
        match self {
            Self::Flow => Some((Dimension::Flow, "L/min")),
            Self::Volume | Self::Level => Some((Dimension::Volume, "L")),
            Self::SetRate | Self::Rate => Some((Dimension::Rate, "mL/m2")),
            Self::Speed => Some((Dimension::Speed, "m/s")),
            Self::Pressure => Some((Dimension::Pressure, "kPa")),
            Self::Heading => Some((Dimension::Angle, "deg")),
            Self::Pavement | Self::Air => Some((Dimension::Temperature, "degC")),
            Self::Sections | Self::Master | Self::Gun | Self::Rig | Self::Product => None,
        }
    }

    /// Greatest magnitude of a reading in the unit used inside; anything beyond is a logger's word for
    /// "no value" (such as 4294967295) or damage, and one such number would drown every sum of the
    /// night. Each is far beyond what a machine or a winter shows: trade judgement.
    #[must_use]
    pub fn greatest_reading(self) -> f64 {
        match self {
            // L/s; about 1,600 gal/min, where a boom's pump gives under 200.
            Self::Flow => 100.0,
            // L; a meter that never was set back shows millions.
            Self::Volume => 1e9,
            // mL/m2; 1,000 times a heavy treatment.
            Self::SetRate | Self::Rate => 1e5,
            // m/s.
            Self::Speed => 200.0,
            // kPa; a pressure washer has 20,000.
            Self::Pressure => 1e5,
            // L; a road tanker has 40,000.
            Self::Level => 1e6,
            // degC.
            Self::Pavement | Self::Air => 200.0,
            // Degrees; some loggers count full turns.
            Self::Heading => 1e6,
            Self::Sections | Self::Master | Self::Gun | Self::Rig | Self::Product => f64::INFINITY,
        }
    }

    /// The rule of a log that uses the program's own element for this channel.
    #[must_use]
    pub fn own_rule(self) -> ScalarRule {
        let (scale, offset) = self.default_scale();
        ScalarRule {
            element: self.name().to_owned(),
            attribute: None,
            scale,
            offset,
            unit_given: false,
            since_last_fix: false,
        }
    }

    /// Scale and offset of the default unit; 1 and 0 for states and ids.
    ///
    /// # Panics
    /// Never: every default unit stands in the table of units, which a test checks.
    #[must_use]
    pub fn default_scale(self) -> (f64, f64) {
        match self.measure() {
            Some((dimension, unit)) => units::linear(unit, dimension)
                .expect("default units are in the table of units (tested)"),
            None => (1.0, 0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_channel_has_a_default_scale_and_a_name_of_its_own() {
        let mut names: Vec<&str> = Channel::ALL.iter().map(|c| c.name()).collect();
        for channel in Channel::ALL {
            assert!(channel.default_scale().0 > 0.0);
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Channel::ALL.len());
    }

    #[test]
    fn flow_without_a_unit_is_litres_per_minute() {
        assert!((Channel::Flow.default_scale().0 * 60.0 - 1.0).abs() < 1e-15);
    }
}
