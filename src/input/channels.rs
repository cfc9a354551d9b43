//! The channels of a log, in one table: a row has the channel's name, what it reads, how it is kept in a fix, and
//! whether it holds and is lost in a silence. All that asks for a channel goes through the table: the fleet file's
//! mapping, the log reader, copies that complete each other, silences that forget. A channel is added by a row.

use crate::geometry::place::{Instant, LonLat};
use crate::units::{self, Dimension};

/// What a channel's text is read as.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReadAs {
    /// A number of a dimension, with the unit where neither log nor fleet file names one.
    Number {
        /// What it measures.
        dimension: Dimension,
        /// Unit where none is named.
        unit: &'static str,
        /// Greatest magnitude in the unit used inside; anything beyond is a logger's word for "no value" (such as
        /// 4294967295) or damage, and one such number would drown every sum of the night. Each is far beyond what a
        /// machine or a winter shows: trade judgement.
        greatest: f64,
    },
    /// On or off.
    Flag,
    /// States of sections.
    States,
    /// Id of a product.
    Product,
    /// Id of a rig: says whose the point is.
    Rig,
}

/// A value on its way into a fix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Value {
    /// In SI; not a number where unknown.
    Number(f64),
    /// On or off.
    Flag(Option<bool>),
    /// Open sections, bit 0 the leftmost.
    States(Option<u64>),
    /// Index of a product.
    Product(Option<u16>),
}

/// How a fix keeps a channel: each type has its own word for unknown.
trait Column: Copy {
    const UNKNOWN: Self;
    fn is_known(self) -> bool;
    /// Unknown where the value is of another kind, which the table leaves no way to.
    fn of(value: Value) -> Self;
}

macro_rules! columns {
    ($($type:ty: $unknown:expr, $known:expr, $kind:ident => $make:expr;)*) => {
        $(impl Column for $type {
            const UNKNOWN: Self = $unknown;
            fn is_known(self) -> bool {
                let known: fn(&Self) -> bool = $known;
                known(&self)
            }
            fn of(value: Value) -> Self {
                match value {
                    Value::$kind(value) => $make(value),
                    _ => Self::UNKNOWN,
                }
            }
        })*
    };
}

columns! {
    f64: f64::NAN, |x| !x.is_nan(), Number => f64::from;
    f32: f32::NAN, |x| !x.is_nan(), Number => |x: f64| x as f32;
    Option<bool>: None, Option::is_some, Flag => std::convert::identity;
    Option<u64>: None, Option::is_some, States => std::convert::identity;
    Option<u16>: None, Option::is_some, Product => std::convert::identity;
}

/// Whether a channel holds from its fix to the next that says it, and whether a silence ends that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Held {
    /// Of its own fix only.
    Not,
    /// Until a silence: it may have changed unseen.
    UntilSilence,
    /// Through a silence too: it does not change by itself.
    Throughout,
}

const fn number(dimension: Dimension, unit: &'static str, greatest: f64) -> ReadAs {
    ReadAs::Number {
        dimension,
        unit,
        greatest,
    }
}

// Limits: 100 L/s is about 1,600 gal/min, where a boom's pump gives under 200; a meter that never was set back shows
// millions of litres; 1e5 mL/m2 is 1,000 times a heavy treatment; a pressure washer has 20,000 kPa, a road tanker
// 40,000 L; some loggers count full turns of the heading. A tank's product does not change by itself in a silence.
macro_rules! channels {
    ($(#[doc = $doc:literal] $channel:ident $name:literal $reading:expr
        $(=> $field:ident: $type:ty, $held:ident)?;)*) => {
        /// A channel of a log.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Channel {
            $(#[doc = $doc] $channel,)*
        }

        impl Channel {
            /// Every channel, in the order of the documentation.
            pub const ALL: &'static [Self] = &[$(Self::$channel,)*];

            /// The channels that may change unseen in a silence (arithmetic).
            const LOST_IN_SILENCE: u16 = 0
                $($(| Self::$channel.bit_if(matches!(Held::$held, Held::UntilSilence)))?)*;

            /// The channel's name: the local name of its own element, and its key in the fleet file.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$channel => $name,)*
                }
            }

            /// What its text is read as.
            #[must_use]
            pub fn reading(self) -> ReadAs {
                match self {
                    $(Self::$channel => $reading,)*
                }
            }

            fn held(self) -> Held {
                match self {
                    $($(Self::$channel => Held::$held,)?)*
                    _ => Held::Not,
                }
            }
        }

        /// One logged position with its channels, in SI.
        ///
        /// Within a segment a channel that holds already holds from its fix to the next fix that has it. `NaN` (or
        /// `None`) means not logged. Numbers that only need a few digits are `f32`, and channels that nothing is
        /// computed from are checked on reading and not kept: a fleet's night has millions of fixes.
        #[derive(Debug, Clone, Copy)]
        pub struct Fix {
            /// When.
            pub time: Instant,
            /// Where the antenna was.
            pub place: LonLat,
            $($(#[doc = $doc] pub $field: $type,)?)*
            /// Horizontal dilution of precision. Not held.
            pub hdop: f32,
            /// Which channels that hold the point says itself ([`Channel::bit`]); the others hold from before.
            pub own: u16,
            /// Line in the file.
            pub line: u32,
        }

        impl Fix {
            /// A fix of which only time, place and line are known.
            #[must_use]
            pub fn bare(time: Instant, place: LonLat, line: u32) -> Self {
                Self {
                    time,
                    place,
                    $($($field: Column::UNKNOWN,)?)*
                    hdop: f32::NAN,
                    own: 0,
                    line,
                }
            }

            /// Sets a channel; those that nothing is computed from are not kept.
            pub(super) fn set(&mut self, channel: Channel, value: Value) {
                match channel {
                    $($(Channel::$channel => self.$field = Column::of(value),)?)*
                    _ => {}
                }
                self.own |= channel.bit_if(channel.held() != Held::Not);
            }

            /// Takes from a copy what the fix lacks, and what the copy says itself where the fix only holds it from
            /// before.
            pub fn complete(&mut self, copy: &Self) {
                let news = copy.own & !self.own;
                $($(if !self.$field.is_known() || news & Channel::$channel.bit() != 0 {
                    self.$field = copy.$field;
                })?)*
                if !self.hdop.is_known() {
                    self.hdop = copy.hdop;
                }
                self.own |= copy.own;
            }

            /// Forgets these channels.
            fn forget(&mut self, lost: u16) {
                $($(if lost & Channel::$channel.bit() != 0 {
                    self.$field = Column::UNKNOWN;
                })?)*
            }
        }
    };
}

channels! {
    /// Liquid through the meter now, L/s, before the meter factor.
    Flow "flow" number(Dimension::Flow, "L/min", 100.0) => flow_l_s: f64, UntilSilence;
    /// Meter total, or volume since the last fix, L, before the meter factor.
    Volume "volume" number(Dimension::Volume, "L", 1e9) => volume_l: f64, Not;
    /// Open sections, bit 0 the leftmost.
    Sections "sections" ReadAs::States => open: Option<u64>, UntilSilence;
    /// Spraying switched on at all.
    Master "master" ReadAs::Flag => master: Option<bool>, UntilSilence;
    /// Rate set on the controller, mL/m2.
    SetRate "set_rate" number(Dimension::Rate, "mL/m2", 1e5) => set_rate_ml_m2: f32, UntilSilence;
    /// Rate the controller says it applied, mL/m2.
    Rate "rate" number(Dimension::Rate, "mL/m2", 1e5) => rate_ml_m2: f64, UntilSilence;
    /// The controller's own speed, m/s.
    Speed "speed" number(Dimension::Speed, "m/s", 200.0) => speed_m_s: f32, UntilSilence;
    /// Boom pressure.
    Pressure "pressure" number(Dimension::Pressure, "kPa", 1e5);
    /// Hand gun open.
    Gun "gun" ReadAs::Flag => gun: Option<bool>, UntilSilence;
    /// Where the vehicle points, not where it moves: degrees clockwise from north.
    Heading "heading" number(Dimension::Angle, "deg", 1e6) => heading_deg: f32, UntilSilence;
    /// Tank content.
    Level "level" number(Dimension::Volume, "L", 1e6);
    /// Pavement temperature.
    Pavement "pavement" number(Dimension::Temperature, "degC", 200.0);
    /// Air temperature.
    Air "air" number(Dimension::Temperature, "degC", 200.0);
    /// Rig id.
    Rig "rig" ReadAs::Rig;
    /// Product, as an index into the log's products.
    Product "product" ReadAs::Product => product: Option<u16>, Throughout;
}

impl Channel {
    /// Its bit in [`Fix::own`].
    #[must_use]
    pub const fn bit(self) -> u16 {
        1 << self as u16
    }

    const fn bit_if(self, is: bool) -> u16 {
        if is { self.bit() } else { 0 }
    }

    /// What the channel measures and its default unit; `None` for states and ids.
    #[must_use]
    pub fn measure(self) -> Option<(Dimension, &'static str)> {
        match self.reading() {
            ReadAs::Number {
                dimension, unit, ..
            } => Some((dimension, unit)),
            ReadAs::Flag | ReadAs::States | ReadAs::Product | ReadAs::Rig => None,
        }
    }

    /// Scale and offset of the default unit; 1 and 0 for states and ids.
    ///
    /// # Panics
    /// Never: every default unit is in the table of units, which a test checks.
    #[must_use]
    pub fn default_scale(self) -> (f64, f64) {
        match self.measure() {
            Some((dimension, unit)) => units::linear(unit, dimension)
                .expect("default units are in the table of units (tested)"),
            None => (1.0, 0.0),
        }
    }

    /// A log that has one of these can say what was laid.
    #[must_use]
    pub(super) fn tells_liquid(self) -> bool {
        matches!(self, Self::Flow | Self::Volume | Self::Rate)
    }
}

/// Takes away what a fix has from before a silence, up to the first fix that says it itself.
#[derive(Debug, Default)]
pub struct Forgetting {
    lost: u16,
}

impl Forgetting {
    /// A silence begins: what may change unseen in it is lost.
    pub fn begins(&mut self) {
        self.lost = Channel::LOST_IN_SILENCE;
    }

    /// The next fix after it.
    pub fn pass(&mut self, fix: &mut Fix) {
        self.lost &= !fix.own;
        if self.lost != 0 {
            fix.forget(self.lost);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_channel_has_a_default_scale_a_bit_and_a_name_of_its_own() {
        let mut names: Vec<&str> = Channel::ALL.iter().map(|c| c.name()).collect();
        for channel in Channel::ALL {
            assert!(channel.default_scale().0 > 0.0);
            assert_eq!(channel.bit().count_ones(), 1);
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Channel::ALL.len());
    }

    #[test]
    fn flow_without_a_unit_is_litres_per_minute() {
        assert!((Channel::Flow.default_scale().0 * 60.0 - 1.0).abs() < 1e-15);
    }

    /// A fix that says every channel itself.
    fn full() -> Fix {
        let place = LonLat {
            lon_deg: -30.0,
            lat_deg: 45.0,
        };
        let mut fix = Fix::bare(Instant(0), place, 1);
        for channel in Channel::ALL {
            let value = match channel.reading() {
                ReadAs::Number { .. } => Value::Number(1.5),
                ReadAs::Flag => Value::Flag(Some(true)),
                ReadAs::States => Value::States(Some(3)),
                ReadAs::Product | ReadAs::Rig => Value::Product(Some(0)),
            };
            fix.set(*channel, value);
        }
        fix
    }

    #[test]
    fn a_silence_ends_all_that_holds_but_the_product() {
        let mut fix = full();
        fix.own = 0;
        let mut silence = Forgetting::default();
        silence.begins();
        silence.pass(&mut fix);
        assert!(fix.flow_l_s.is_nan() && fix.rate_ml_m2.is_nan() && fix.set_rate_ml_m2.is_nan());
        assert!(fix.speed_m_s.is_nan() && fix.heading_deg.is_nan());
        assert_eq!((fix.open, fix.master, fix.gun), (None, None, None));
        assert_eq!(fix.product, Some(0));
        assert_eq!(fix.volume_l, 1.5, "a total is of its own fix");
    }

    #[test]
    fn a_copy_completes_every_channel_that_is_kept() {
        let whole = full();
        let mut bare = Fix::bare(whole.time, whole.place, 1);
        bare.complete(&whole);
        assert_eq!(format!("{bare:?}"), format!("{whole:?}"));
    }
}
