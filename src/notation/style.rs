//! How one report writes quantities and times: the units chosen and the time zone of the night.
//! Built once per report; used by every text that people read.

use crate::geometry::place::Instant;
use crate::notation::numbers::{NOT_KNOWN, RateUnit, Units};
use jiff::tz::TimeZone;

/// Units and time zone of a report.
#[derive(Debug, Clone)]
pub struct Style {
    /// US or metric.
    pub units: Units,
    /// Unit of liquid per area.
    pub rate_unit: RateUnit,
    /// Zone in which times are written.
    pub timezone: TimeZone,
}

/// Beyond this a length reads better in miles or kilometres, m (layout).
const ROAD_LENGTH_M: f64 = 1600.0;

impl Style {
    /// The style of a night's reports; without a time zone times are in UTC.
    #[must_use]
    pub fn of(timezone: Option<&TimeZone>, units: Units, rate_unit: RateUnit) -> Self {
        Self {
            units,
            rate_unit,
            timezone: timezone.cloned().unwrap_or(TimeZone::UTC),
        }
    }

    /// m2 as `850 ft2`.
    #[must_use]
    pub fn area(&self, area_m2: f64) -> String {
        self.units.area().text(area_m2)
    }

    /// L as `12 gal`.
    #[must_use]
    pub fn volume(&self, volume_l: f64) -> String {
        self.units.volume().text(volume_l)
    }

    /// m as `390 ft`, or `1.2 mi` from a mile on.
    #[must_use]
    pub fn length(&self, length_m: f64) -> String {
        if length_m < ROAD_LENGTH_M {
            self.units.length().text(length_m)
        } else {
            self.units.distance().text(length_m)
        }
    }

    /// m as `3.6 ft`: steps and errors of positions.
    #[must_use]
    pub fn short_length(&self, length_m: f64) -> String {
        self.units.short_length().text(length_m)
    }

    /// mL/m2 as `0.82 gal/1000 ft2 (36 gal/ac)`.
    #[must_use]
    pub fn rate(&self, rate_ml_m2: f64) -> String {
        let text = self.rate_unit.measure().text(rate_ml_m2);
        match self.rate_unit.beside() {
            Some(beside) => format!("{text} ({})", beside.measure().text(rate_ml_m2)),
            None => text,
        }
    }

    /// mL/m2 as `0.82 (36)`, under a heading that has [`Style::rate_label`].
    #[must_use]
    pub fn rate_number(&self, rate_ml_m2: Option<f64>) -> String {
        let Some(rate_ml_m2) = rate_ml_m2.filter(|rate| rate.is_finite()) else {
            return NOT_KNOWN.to_owned();
        };
        let number = self.rate_unit.measure().number(rate_ml_m2);
        match self.rate_unit.beside() {
            Some(beside) => format!("{number} ({})", beside.measure().number(rate_ml_m2)),
            None => number,
        }
    }

    /// `gal/1000 ft2 (gal/ac)`.
    #[must_use]
    pub fn rate_label(&self) -> String {
        let label = self.rate_unit.measure().label;
        match self.rate_unit.beside() {
            Some(beside) => format!("{label} ({})", beside.measure().label),
            None => label.to_owned(),
        }
    }

    /// The rate units of a spreadsheet: the two of the system of units, and the one asked for.
    #[must_use]
    pub fn rate_columns(&self) -> Vec<RateUnit> {
        let mut columns = match self.units {
            Units::Us => vec![RateUnit::GalPer1000Ft2, RateUnit::GalPerAcre],
            Units::Metric => vec![RateUnit::MlPerM2, RateUnit::LPerHa],
        };
        if !columns.contains(&self.rate_unit) {
            columns.push(self.rate_unit);
        }
        columns
    }

    /// `2026-01-11 20:31 CST`.
    #[must_use]
    pub fn time(&self, time: Instant) -> String {
        self.local(time, "%Y-%m-%d %H:%M %Z")
    }

    /// `2026-01-11 20:31:05`, which spreadsheets read as a date; the zone is in the heading.
    #[must_use]
    pub fn sheet_time(&self, time: Instant) -> String {
        self.local(time, "%Y-%m-%d %H:%M:%S")
    }

    /// The time zone as a heading has it, such as `America/Winnipeg`.
    #[must_use]
    pub fn zone_in_heading(&self) -> String {
        self.timezone.iana_name().unwrap_or("UTC").to_owned()
    }

    /// `20:31`, where the date and the zone stand elsewhere.
    #[must_use]
    pub fn clock(&self, time: Instant) -> String {
        self.local(time, "%H:%M")
    }

    fn local(&self, time: Instant, pattern: &str) -> String {
        match time.timestamp() {
            Some(timestamp) => timestamp
                .to_zoned_datetime(self.timezone.clone())
                .strftime(pattern)
                .to_string(),
            // Outside the years that a calendar has: the raw number beats a wrong date.
            None => time.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn style(units: Units, rate_unit: RateUnit) -> Style {
        let timezone = TimeZone::get("America/Winnipeg").expect("the zone database is bundled");
        Style {
            units,
            rate_unit,
            timezone,
        }
    }

    fn instant(text: &str) -> Instant {
        let timestamp: jiff::Timestamp = text.parse().expect("a timestamp");
        Instant(timestamp.as_microsecond())
    }

    #[test]
    fn times_are_local_with_their_zone() {
        let style = style(Units::Us, RateUnit::GalPer1000Ft2);
        // Central Standard Time is six hours behind UTC, daylight time five.
        assert_eq!(
            style.time(instant("2026-01-12T02:31:05Z")),
            "2026-01-11 20:31 CST"
        );
        assert_eq!(
            style.time(instant("2026-07-12T02:31:05Z")),
            "2026-07-11 21:31 CDT"
        );
        assert_eq!(style.clock(instant("2026-01-12T02:31:05Z")), "20:31");
    }

    #[test]
    fn a_lot_rate_has_gallons_an_acre_beside() {
        // 35 gal/ac = 35 x 3785.411784 / 4046.8564224 mL/m2.
        let rate_ml_m2 = 32.738_845_77;
        let us = style(Units::Us, RateUnit::GalPer1000Ft2);
        assert_eq!(us.rate(rate_ml_m2), "0.80 gal/1000 ft2 (35 gal/ac)");
        assert_eq!(us.rate_number(Some(rate_ml_m2)), "0.80 (35)");
        assert_eq!(us.rate_number(None), "-");
        let metric = style(Units::Metric, RateUnit::MlPerM2);
        assert_eq!(metric.rate(rate_ml_m2), "32.7 mL/m2");
    }

    #[test]
    fn spreadsheets_also_have_the_unit_asked_for() {
        let columns = style(Units::Us, RateUnit::GalPerLaneMile).rate_columns();
        assert_eq!(
            columns,
            [
                RateUnit::GalPer1000Ft2,
                RateUnit::GalPerAcre,
                RateUnit::GalPerLaneMile
            ]
        );
    }

    #[test]
    fn long_lengths_are_in_miles() {
        let style = style(Units::Us, RateUnit::GalPerAcre);
        assert_eq!(style.length(100.0), "328 ft");
        assert_eq!(style.length(2000.0), "1.2 mi");
    }
}
