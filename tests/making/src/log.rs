//! What a rig's logger saw of an outing.

use crate::chance::Chance;
use crate::gpx::{Clock, END, END_FIX, Fix, Head, states};
use crate::lot::At;
use crate::motion::Motion;
use crate::pump::Pumped;
use crate::receiver::Drift;
use crate::rig::{GAL_L, Liquid};
use std::fmt::Write;

/// The pavement thermometer speaks this seldom, s; its value holds until the next.
const PAVEMENT_S: u64 = 300;

/// An outing and how it is logged.
pub struct Log<'a> {
    /// How the rig moved.
    pub motion: &'a Motion,
    /// What it sprayed.
    pub pumped: &'a Pumped,
    /// The file's beginning.
    pub head: Head<'a>,
    /// The logger's clock, and what it shows at the outing's start.
    pub clock: (Clock, f64),
    /// The log goes on in a second file from this second on.
    pub split_s: f64,
}

impl Log<'_> {
    /// The files: one, or two.
    pub fn files(&self, lon_lat_deg: impl Fn(At) -> [f64; 2], chance: Chance) -> Vec<String> {
        let (logger, end_s) = (&self.motion.route().rig.logger, self.motion.end_s());
        let step_s = 1.0 / f64::from(logger.fixes_per_s);
        let mut drift = Drift::new(chance, logger.wrong, step_s);
        let mut texts = vec![self.head.text()];
        if self.split_s.is_finite() {
            texts.push(self.head.text());
        }
        for number in 0..=(end_s / step_s) as u64 {
            let time_s = number as f64 * step_s;
            // The error goes on while the log is silent.
            let error_m = drift.next_m();
            let silent = |span: &(f64, f64)| span.0 < time_s && time_s < span.1;
            if self.pumped.silences_s.iter().any(silent)
                || (logger.quiet && self.parked(time_s, step_s))
            {
                continue;
            }
            let text = &mut texts[usize::from(time_s >= self.split_s)];
            let fix = Fix {
                lon_lat_deg: lon_lat_deg(self.antenna_m(time_s, error_m)),
                stamp: self.clock.0.stamp(self.clock.1 + time_s),
                ele_m: None,
                hdop: logger.hdop,
            };
            fix.begin(text);
            self.channels(text, time_s);
            if logger.pavement && number.is_multiple_of(PAVEMENT_S * u64::from(logger.fixes_per_s))
            {
                // Writing to a String cannot fail.
                let pavement_c = -4.0 - time_s / 3600.0;
                let _ = write!(text, "<s:pavement>{pavement_c:.1}</s:pavement>");
            }
            text.push_str(END_FIX);
        }
        texts.iter_mut().for_each(|text| text.push_str(END));
        texts
    }

    /// Which sections are switched open.
    fn open_at(&self, time_s: f64) -> Option<&[bool]> {
        let stretch = self.pumped.stretch_at(time_s)?;
        Some(&self.motion.route().stretches[stretch].open)
    }

    /// Standing with the boom and the gun closed, now and a step ago.
    fn parked(&self, time_s: f64, step_s: f64) -> bool {
        let parked_at = |time_s: f64| {
            self.motion.at(time_s).1 <= 0.0
                && self.open_at(time_s).is_none()
                && !self.pumped.gun_at(time_s)
        };
        parked_at(time_s) && parked_at((time_s - step_s).max(0.0))
    }

    fn antenna_m(&self, time_s: f64, error_m: [f64; 2]) -> At {
        let rig = &self.motion.route().rig;
        let axle = self.motion.pose(self.motion.at(time_s).0);
        let (sin, cos) = axle.psi_rad.sin_cos();
        (
            axle.x_m + rig.axle_m * cos + rig.right_m * sin + error_m[0],
            axle.y_m + rig.axle_m * sin - rig.right_m * cos + error_m[1],
        )
    }

    fn channels(&self, text: &mut String, time_s: f64) {
        let rig = &self.motion.route().rig;
        let closed = vec![false; rig.sections_m.len()];
        let open = self.open_at(time_s).unwrap_or(&closed);
        let flow_l_min = self.pumped.flow_at_l_s(time_s) * 60.0;
        let total_l = self.pumped.total_at_l(time_s);
        // Writing to a String cannot fail.
        let _ = match rig.logger.liquid {
            Liquid::Flow => write!(text, "<s:flow>{flow_l_min:.2}</s:flow>"),
            Liquid::Total => write!(text, "<s:volume>{total_l:.2}</s:volume>"),
            Liquid::FlowAndTotal => write!(
                text,
                "<s:flow>{flow_l_min:.2}</s:flow><s:volume>{total_l:.2}</s:volume>"
            ),
            Liquid::WholeGallons => write!(
                text,
                "<s:volume unit=\"gal\">{}</s:volume>",
                (total_l / GAL_L).floor()
            ),
            Liquid::Valves => {
                let valves: u32 = open
                    .iter()
                    .enumerate()
                    .map(|(i, &open)| u32::from(open) << i)
                    .sum();
                let (gal_min, gal) = (flow_l_min / GAL_L, total_l / GAL_L);
                let _ = write!(
                    text,
                    "<p:pump><p:q>{gal_min:.2}</p:q><p:total>{gal:.2}</p:total></p:pump><p:valves>{valves}</p:valves>"
                );
                return;
            }
        };
        let _ = write!(text, "<s:sections>{}</s:sections>", states(open));
        if rig.logger.gun {
            let gun = u8::from(self.pumped.gun_at(time_s));
            let _ = write!(text, "<s:gun>{gun}</s:gun>");
        }
    }
}
