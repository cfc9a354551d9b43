//! Logs as GPX 1.1: how a file begins and ends, how a fix begins.

use std::fmt::Write;

/// The end of every log.
pub const END: &str = "</trkseg></trk></gpx>\n";
/// The end of every fix.
pub const END_FIX: &str = "</extensions></trkpt>\n";

/// A date, and how finely a logger's clock tells the time since its midnight.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    /// Year and month, such as `2026-01`.
    pub month: &'static str,
    /// Day of the month whose midnight is second 0.
    pub day: u64,
    /// Digits after the second's point, where they are not all zero.
    pub digits: u32,
}

impl Clock {
    /// `2026-01-11T22:26:00Z` and the like; seconds count from the clock's midnight.
    pub fn stamp(&self, seconds: f64) -> String {
        let parts = 10_u64.pow(self.digits);
        let whole = (seconds * parts as f64).round() as u64;
        let (second, part) = (whole / parts, whole % parts);
        let fraction = if part == 0 {
            String::new()
        } else {
            format!(".{part:0digits$}", digits = self.digits as usize)
        };
        format!(
            "{}-{:02}T{:02}:{:02}:{:02}{fraction}Z",
            self.month,
            self.day + second / 86_400,
            second / 3600 % 24,
            second / 60 % 60,
            second % 60
        )
    }
}

/// A rate that the log says was set.
#[derive(Debug, Clone, Copy)]
pub enum SetRate {
    /// In gal/ac.
    GalAc(f64),
    /// In mL/m2, the unit of the format.
    MlM2(f64),
}

/// The beginning of a log.
#[derive(Debug, Clone, Copy, Default)]
pub struct Head<'a> {
    /// What made it.
    pub creator: &'a str,
    /// Its name, where it has one.
    pub name: Option<&'a str>,
    /// Its rig; without it the log has elements of its own.
    pub rig: Option<&'a str>,
    /// What the controller was set to.
    pub set_rate: Option<SetRate>,
}

impl Head<'_> {
    /// As text.
    pub fn text(&self) -> String {
        let space = match self.rig {
            Some(_) => "xmlns:s=\"urn:swathbook:log:1\"",
            None => "xmlns:p=\"urn:example:pump\"",
        };
        let mut text = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"{}\" xmlns=\"http://www.topografix.com/GPX/1/1\" {space}>\n<trk>",
            self.creator
        );
        if let Some(name) = self.name {
            text += &format!("<name>{name}</name>");
        }
        if let Some(rig) = self.rig {
            text += &format!("<extensions><s:rig>{rig}</s:rig>");
            text += &match self.set_rate {
                Some(SetRate::GalAc(rate)) => {
                    format!("<s:set_rate unit=\"gal/ac\">{rate}</s:set_rate>")
                }
                Some(SetRate::MlM2(rate)) => format!("<s:set_rate>{rate:.2}</s:set_rate>"),
                None => String::new(),
            };
            text += "</extensions>";
        }
        text + "<trkseg>\n"
    }
}

/// What stands before a fix's channels.
#[derive(Debug, Clone, Default)]
pub struct Fix {
    /// Longitude and latitude, degrees.
    pub lon_lat_deg: [f64; 2],
    /// The logger's time.
    pub stamp: String,
    /// Height, m.
    pub ele_m: Option<f64>,
    /// Dilution of precision.
    pub hdop: Option<f64>,
}

impl Fix {
    /// Writes it up to its channels.
    pub fn begin(&self, text: &mut String) {
        let [lon_deg, lat_deg] = self.lon_lat_deg;
        // Writing to a String cannot fail.
        let _ = write!(text, "<trkpt lat=\"{lat_deg:.7}\" lon=\"{lon_deg:.7}\">");
        if let Some(ele_m) = self.ele_m {
            let _ = write!(text, "<ele>{ele_m:.1}</ele>");
        }
        let _ = write!(text, "<time>{}</time>", self.stamp);
        if let Some(hdop) = self.hdop {
            let _ = write!(text, "<hdop>{hdop:.1}</hdop>");
        }
        text.push_str("<extensions>");
    }
}

/// Sections as the format writes them, from the left: open 1, closed 0.
pub fn states(open: &[bool]) -> String {
    open.iter()
        .map(|&open| if open { '1' } else { '0' })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stamp_goes_on_past_midnight_and_drops_empty_fractions() {
        let clock = |digits| Clock {
            month: "2026-01",
            day: 11,
            digits,
        };
        assert_eq!(clock(0).stamp(80_760.0), "2026-01-11T22:26:00Z");
        assert_eq!(clock(1).stamp(86_400.0), "2026-01-12T00:00:00Z");
        assert_eq!(clock(1).stamp(86_399.96), "2026-01-12T00:00:00Z");
        assert_eq!(clock(3).stamp(0.04), "2026-01-11T00:00:00.040Z");
    }
}
