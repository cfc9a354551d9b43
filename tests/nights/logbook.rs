//! Step 6: what the logger writes, as GPX 1.1.

use crate::chance::{Chance, Drift};
use crate::machine::Meter;
use crate::pumping::Driven;
use crate::rig::{GAL_AC_ML_M2, GAL_L};
use crate::scene::Scene;
use std::fmt::Write;

/// The log of one outing: one file, or two.
pub(crate) fn files(
    driven: &Driven,
    scene: &Scene,
    seed: u64,
    number: u64,
) -> Vec<(String, String)> {
    let (machine, end_s) = (&driven.outing.machine, driven.motion.end_s());
    let split_s = driven
        .outing
        .split_at
        .map_or(f64::INFINITY, |share| share * end_s);
    let mut drift = Drift::new(Chance::new(seed, 500 + number), machine.wrong());
    let mut texts = [head(driven), head(driven)];
    let step_s = 1.0 / f64::from(machine.fixes_per_s);
    for i in 0..=(end_s / step_s) as u64 {
        let time_s = i as f64 * step_s;
        // The error goes on while the log is silent.
        let error_m = drift.next_m();
        let silent = |span: &(f64, f64)| span.0 < time_s && time_s < span.1;
        if driven.silences_s.iter().any(silent) || (machine.quiet && parked(driven, time_s, step_s))
        {
            continue;
        }
        let text = &mut texts[usize::from(time_s >= split_s)];
        let [lon_deg, lat_deg] = scene.lon_lat_deg(antenna_m(driven, time_s, error_m));
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "<trkpt lat=\"{lat_deg:.7}\" lon=\"{lon_deg:.7}\"><time>{}</time><extensions>",
            stamp(driven.outing.start_s + time_s, driven.outing.rolled_over)
        );
        channels(text, driven, time_s);
        text.push_str("</extensions></trkpt>\n");
    }
    let used = if split_s.is_finite() { 2 } else { 1 };
    texts
        .into_iter()
        .take(used)
        .enumerate()
        // A logger that sleeps begins no file.
        .filter(|(_, text)| text.contains("<trkpt"))
        .map(|(part, text)| {
            (
                format!("{number}-{part}.gpx"),
                text + "</trkseg></trk></gpx>\n",
            )
        })
        .collect()
}

/// Standing with the boom and the gun closed, now and a step ago.
fn parked(driven: &Driven, time_s: f64, step_s: f64) -> bool {
    [time_s, (time_s - step_s).max(0.0)]
        .into_iter()
        .all(|time_s| {
            driven.motion.at(time_s).1 <= 0.0
                && driven.open_at(time_s).is_none()
                && !driven.gun_at(time_s)
        })
}

/// 2026-01-11 is day 11; 1,024 weeks earlier that was 2006-05-28.
fn stamp(seconds: f64, rolled_over: bool) -> String {
    let (month, first) = if rolled_over {
        ("2006-05", 28)
    } else {
        ("2026-01", 11)
    };
    let tenths = (seconds * 10.0).round() as u64;
    let (day, second) = (first + tenths / 864_000, tenths / 10 % 86_400);
    let fraction = match tenths % 10 {
        0 => String::new(),
        tenth => format!(".{tenth}"),
    };
    format!(
        "{month}-{day}T{:02}:{:02}:{:02}{fraction}Z",
        second / 3600,
        second / 60 % 60,
        second % 60
    )
}

fn antenna_m(driven: &Driven, time_s: f64, error_m: [f64; 2]) -> (f64, f64) {
    let rig = &driven.outing.machine.rig;
    let axle = driven.motion.pose(driven.motion.at(time_s).0);
    let (sin, cos) = axle.psi_rad.sin_cos();
    (
        axle.x_m + rig.axle_m * cos + rig.right_m * sin + error_m[0],
        axle.y_m + rig.axle_m * sin - rig.right_m * cos + error_m[1],
    )
}

fn head(driven: &Driven) -> String {
    let machine = &driven.outing.machine;
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"random night\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:swathbook:log:1\">\n<trk><extensions><s:rig>{}</s:rig>",
        driven.outing.id
    );
    if machine.writes_set_rate {
        let rate_ml_m2 = driven.outing.set_rate * machine.target_gal_ac * GAL_AC_ML_M2;
        let _ = write!(text, "<s:set_rate>{rate_ml_m2:.2}</s:set_rate>");
    }
    text.push_str("</extensions><trkseg>\n");
    text
}

fn channels(text: &mut String, driven: &Driven, time_s: f64) {
    let machine = &driven.outing.machine;
    let (flow_l_min, total_l) = (driven.flow_at_l_s(time_s) * 60.0, driven.total_at_l(time_s));
    if matches!(machine.meter, Meter::Flow | Meter::Both) {
        let _ = write!(text, "<s:flow>{flow_l_min:.2}</s:flow>");
    }
    if matches!(machine.meter, Meter::Fine | Meter::Both) {
        let _ = write!(text, "<s:volume>{total_l:.2}</s:volume>");
    }
    if machine.meter == Meter::Coarse {
        let _ = write!(
            text,
            "<s:volume unit=\"gal\">{:.0}</s:volume>",
            (total_l / GAL_L).floor()
        );
    }
    text.push_str("<s:sections>");
    match driven.open_at(time_s) {
        Some(open) => text.extend(open.iter().map(|&open| if open { '1' } else { '0' })),
        None => text.extend(machine.rig.sections_m.iter().map(|_| '0')),
    }
    text.push_str("</s:sections>");
    if machine.has_gun {
        let _ = write!(text, "<s:gun>{}</s:gun>", u8::from(driven.gun_at(time_s)));
    }
}
