//! Step 5: run logs. What the logger saw of it, once a second, as GPX 1.1.

use crate::chance::{Chance, Drift, Wrong};
use crate::ground::lon_lat_deg;
use crate::motion::Motion;
use crate::plan::Outing;
use crate::pump::{Pumped, within};
use crate::rig::{GAL_L, Logger};
use crate::rigs::TRAIL_BEHIND_S;
use std::fmt::Write;

/// How wrong the positions of the demo night are.
const WRONG: Wrong = Wrong {
    drift_m: 0.4,
    drift_s: 100.0,
    white_m: 0.015,
    interval_s: 1.0,
};

/// `2026-01-11T22:26:00Z` and the like; seconds count from the first midnight of the night.
pub(crate) fn stamp(seconds: u64) -> String {
    let (day, second) = (11 + seconds / 86_400, seconds % 86_400);
    format!(
        "2026-01-{day}T{:02}:{:02}:{:02}Z",
        second / 3600,
        second / 60 % 60,
        second % 60
    )
}

/// The log of one outing.
pub(crate) fn gpx(outing: &Outing, motion: &Motion, pumped: &Pumped, chance: Chance) -> String {
    let rig = motion.route().rig;
    let mut text = head(outing, rig.id, rig.logger);
    let mut drift = Drift::new(chance, WRONG);
    for second in 0..=motion.end_s() as u64 {
        let time_s = second as f64;
        // The error goes on while the log is silent.
        let error_m = drift.next_m();
        if pumped
            .silences_s
            .iter()
            .any(|&(from_s, to_s)| from_s < time_s && time_s < to_s)
        {
            continue;
        }
        let [lon_deg, lat_deg] = lon_lat_of(motion, time_s, error_m);
        let behind_s = if rig.logger == Logger::WholeGallons {
            TRAIL_BEHIND_S
        } else {
            0
        };
        let clock = stamp(outing.start_s as u64 + second - behind_s);
        let _ = write!(
            text,
            "<trkpt lat=\"{lat_deg:.7}\" lon=\"{lon_deg:.7}\"><time>{clock}</time><hdop>0.8</hdop><extensions>"
        );
        channels(&mut text, motion, pumped, second);
        text.push_str("</extensions></trkpt>\n");
    }
    text.push_str("</trkseg></trk></gpx>\n");
    text
}

fn lon_lat_of(motion: &Motion, time_s: f64, error_m: [f64; 2]) -> [f64; 2] {
    let rig = motion.route().rig;
    let axle = motion.pose(motion.at(time_s).0);
    let (sin, cos) = axle.psi_rad.sin_cos();
    let x_m = axle.x_m + rig.axle_m * cos + rig.right_m * sin + error_m[0];
    let y_m = axle.y_m + rig.axle_m * sin - rig.right_m * cos + error_m[1];
    lon_lat_deg(x_m, y_m)
}

fn head(outing: &Outing, rig: &str, logger: Logger) -> String {
    let space = if logger == Logger::Valves {
        "xmlns:p=\"urn:example:pump\""
    } else {
        "xmlns:s=\"urn:swathbook:log:1\""
    };
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"demo night\" xmlns=\"http://www.topografix.com/GPX/1/1\" {space}>\n<trk><name>{}</name>",
        outing.file.trim_end_matches(".gz").trim_end_matches(".gpx"),
    );
    if logger != Logger::Valves {
        let _ = write!(text, "<extensions><s:rig>{rig}</s:rig>");
        if let Some(rate) = outing.set_rate_gal_ac {
            let _ = write!(text, "<s:set_rate unit=\"gal/ac\">{rate}</s:set_rate>");
        }
        text.push_str("</extensions>");
    }
    text.push_str("<trkseg>\n");
    text
}

fn channels(text: &mut String, motion: &Motion, pumped: &Pumped, second: u64) {
    let time_s = second as f64;
    let route = motion.route();
    let closed = vec![false; route.rig.sections_m.len()];
    let open = pumped
        .order_at(time_s)
        .map_or(&closed, |index| &route.stretches[index].open);
    let flow_l_min = pumped.flow_at_l_s(time_s) * 60.0;
    // `write!` to a String cannot fail.
    if route.rig.logger == Logger::Valves {
        let valves: u32 = open
            .iter()
            .enumerate()
            .map(|(i, &open)| u32::from(open) << i)
            .sum();
        let (gal_min, gal) = (flow_l_min / GAL_L, pumped.total_at_l(time_s) / GAL_L);
        let _ = write!(
            text,
            "<p:pump><p:q>{gal_min:.2}</p:q><p:total>{gal:.2}</p:total></p:pump><p:valves>{valves}</p:valves>"
        );
        return;
    }
    let states: String = open
        .iter()
        .map(|&open| if open { '1' } else { '0' })
        .collect();
    if route.rig.logger == Logger::WholeGallons {
        let gal = (pumped.total_at_l(time_s) / GAL_L).floor();
        let _ = write!(
            text,
            "<s:volume unit=\"gal\">{gal}</s:volume><s:sections>{states}</s:sections>"
        );
        return;
    }
    let _ = write!(
        text,
        "<s:flow>{flow_l_min:.2}</s:flow><s:sections>{states}</s:sections>"
    );
    if route.rig.logger == Logger::OwnWithGun {
        let gun = pumped.gun_s.iter().any(|&burst| within(time_s, burst));
        let _ = write!(text, "<s:gun>{}</s:gun>", u8::from(gun));
    }
    // The pavement thermometer speaks every five minutes; its value holds until the next.
    if second.is_multiple_of(300) {
        let _ = write!(
            text,
            "<s:pavement>{:.1}</s:pavement>",
            -4.0 - time_s / 3600.0
        );
    }
}
