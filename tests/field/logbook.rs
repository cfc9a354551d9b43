//! Writes the night folder: fleet, sites, orders and logs in the published formats.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use jiff::Timestamp;

use crate::chance::Chance;
use crate::drive::TICK_S;
use crate::ground::Use;
use crate::night::{Night, Work};
use crate::plane::P;
use crate::receiver::Errors;

const GALLON_L: f64 = 3.785_411_784;

/// Writes all of a night; `position_factor` scales what the fleet file says of position errors.
pub(crate) fn write(night: &Night, folder: &Path, position_factor: f64) -> std::io::Result<()> {
    std::fs::create_dir_all(folder.join("logs"))?;
    std::fs::write(folder.join("fleet.toml"), fleet(night, position_factor))?;
    std::fs::write(folder.join("sites.geojson"), sites(night))?;
    std::fs::write(folder.join("orders.csv"), orders(night))?;
    for (number, work) in night.works.iter().enumerate() {
        let text = log(
            night,
            work,
            &mut Chance::new(night.seed, 900 + number as u64),
        );
        let name = format!("logs/{}.gpx", work.rig.id);
        if night.seed.is_multiple_of(5) {
            let file = std::fs::File::create(folder.join(name + ".gz"))?;
            let mut gz = flate2::write::GzEncoder::new(file, flate2::Compression::fast());
            gz.write_all(text.as_bytes())?;
            gz.finish()?;
        } else {
            std::fs::write(folder.join(name), text)?;
        }
    }
    Ok(())
}

fn time(night: &Night, t: f64, clock_s: f64) -> String {
    let ms = night.start_ms + ((t + clock_s) * 1000.0).round() as i64;
    Timestamp::from_millisecond(ms)
        .expect("a winter night of this century")
        .to_string()
}

fn fleet(night: &Night, position_factor: f64) -> String {
    let mut text = format!(
        "[defaults]\ntimezone = \"Etc/GMT+6\"\ntarget = \"{:.2} mL/m2\"\n",
        night.target_ml_m2
    );
    for work in &night.works {
        let rig = &work.rig;
        let widths: Vec<String> = rig
            .sections_m
            .iter()
            .map(|w| format!("\"{w} m\""))
            .collect();
        let _ = write!(
            text,
            "\n[[rig]]\nid = \"{}\"\nsections = [{}]\n",
            rig.id,
            widths.join(", ")
        );
        let right = format!("right = \"{:.2} m\"", rig.antenna_right_m);
        match rig.hitch {
            None => {
                let ahead = rig.antenna_ahead_axle_m + rig.boom_behind_axle_m;
                let _ = writeln!(text, "antenna = {{ ahead = \"{ahead:.2} m\", {right} }}");
            }
            Some(h) => {
                let behind = rig.antenna_ahead_axle_m + h.behind_axle_m;
                let (to_axle, to_boom) = (h.to_axle_m, h.axle_to_boom_m);
                let _ = writeln!(text, "antenna = {{ {right} }}");
                let _ = writeln!(
                    text,
                    "hitch = {{ behind_antenna = \"{behind:.2} m\", to_axle = \"{to_axle:.2} m\", axle_to_boom = \"{to_boom:.2} m\" }}"
                );
            }
        }
        let _ = writeln!(text, "axle = \"{:.2} m\"", rig.antenna_ahead_axle_m);
        let _ = writeln!(
            text,
            "open_delay = \"{:.2} s\"\nclose_delay = \"{:.2} s\"",
            rig.open_delay_s, rig.close_delay_s
        );
        if rig.receiver.told {
            let _ = writeln!(
                text,
                "position = \"{:.2} m\"",
                (rig.receiver.within_m * position_factor).min(20.0)
            );
        }
    }
    text
}

fn sites(night: &Night) -> String {
    let mut features = Vec::new();
    for site in &night.sites {
        let ring = |ring: &[P], outer: bool| {
            let mut points = ring.to_vec();
            if !outer {
                points.reverse();
            }
            points.push(points[0]);
            let texts: Vec<String> = points
                .iter()
                .map(|p| {
                    let (lon, lat) = night.plane.degrees(site.frame.out(*p));
                    format!("[{lon:.9},{lat:.9}]")
                })
                .collect();
            format!("[{}]", texts.join(","))
        };
        for zone in &site.zones {
            let mut rings = vec![ring(&zone.ring, true)];
            rings.extend(zone.holes.iter().map(|h| ring(h, false)));
            let method = if zone.kind == Use::KeepOff {
                String::new()
            } else {
                format!(
                    ",\"method\":\"{}\"",
                    if zone.by_hand { "hand" } else { "boom" }
                )
            };
            features.push(format!(
                "{{\"type\":\"Feature\",\"properties\":{{\"site\":\"{}\",\"zone\":\"{}\",\"use\":\"{}\"{method}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[{}]}}}}",
                site.id,
                zone.id,
                zone.kind.word(),
                rings.join(",")
            ));
        }
    }
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[\n{}\n]}}\n",
        features.join(",\n")
    )
}

fn orders(night: &Night) -> String {
    let end = night
        .works
        .iter()
        .filter_map(|w| w.ticks.last())
        .map(|t| t.t)
        .fold(0.0, f64::max);
    let mut text = "site,zone,service,from,by,order\n".to_owned();
    for (number, site) in night.orders.iter().enumerate() {
        let (from, by) = (time(night, -3600.0, 0.0), time(night, end + 5400.0, 0.0));
        let _ = writeln!(
            text,
            "{},,pre-treat,{from},{by},F-{number}",
            night.sites[*site].id
        );
    }
    text
}

fn log(night: &Night, work: &Work, chance: &mut Chance) -> String {
    let rig = &work.rig;
    let receiver = rig.receiver;
    let mut errors = Errors::new(&receiver, &night.common_error, chance);
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"other people's nights\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:swathbook:log:1\">\n<trk><extensions><s:rig>{}</s:rig></extensions><trkseg>\n",
        rig.id
    );
    let Some(first) = work.ticks.first() else {
        return text;
    };
    let phase_s = chance.even(0.0, receiver.interval_s);
    for k in 0.. {
        let t = first.t + phase_s + k as f64 * receiver.interval_s;
        let number = ((t - first.t) / TICK_S).round() as usize;
        let Some(tick) = work.ticks.get(number) else {
            break;
        };
        let antenna = rig.antenna(tick.pose);
        let site = tick.site.map(|s| &night.sites[s]);
        let seen = errors.at(t, receiver.interval_s, site.map(|s| (s, antenna)), chance);
        let silent = work.silences.iter().any(|(a, b)| t > *a && t < *b);
        if silent || chance.yes(receiver.lost) {
            continue;
        }
        let true_place = site.map_or(antenna, |s| s.frame.out(antenna));
        let (lon, lat) = night
            .plane
            .degrees([true_place[0] + seen.error[0], true_place[1] + seen.error[1]]);
        let d = receiver.decimals;
        let _ = write!(
            text,
            "<trkpt lat=\"{lat:.d$}\" lon=\"{lon:.d$}\"><time>{}</time>",
            time(night, t, work.clock_s)
        );
        if receiver.hdop {
            let _ = write!(text, "<hdop>{:.1}</hdop>", seen.hdop);
        }
        text.push_str("<extensions>");
        let reading = work.readings[number];
        if rig.meter.flow {
            let _ = if rig.meter.gallons {
                write!(
                    text,
                    "<s:flow unit=\"gal/min\">{:.2}</s:flow>",
                    reading.flow_lps * 60.0 / GALLON_L
                )
            } else {
                write!(text, "<s:flow>{:.1}</s:flow>", reading.flow_lps * 60.0)
            };
        }
        if let Some(tick_l) = rig.meter.tick_l {
            let ticks = (reading.total_l / tick_l).floor();
            let _ = if (tick_l - GALLON_L).abs() < 1e-9 {
                write!(text, "<s:volume unit=\"gal\">{ticks:.0}</s:volume>")
            } else {
                write!(text, "<s:volume>{:.3}</s:volume>", ticks * tick_l)
            };
        }
        let states: String = (0..rig.sections_m.len())
            .map(|i| if tick.open >> i & 1 == 1 { '1' } else { '0' })
            .collect();
        let _ = write!(text, "<s:sections>{states}</s:sections>");
        if receiver.heading {
            let turn = site.map_or(0.0, |s| s.frame.turn_rad);
            let heading = (90.0 - (tick.pose.heading + turn).to_degrees() + 1.5 * chance.normal())
                .rem_euclid(360.0);
            let _ = write!(text, "<s:heading>{heading:.1}</s:heading>");
        }
        text.push_str("</extensions></trkpt>\n");
    }
    text.push_str("</trkseg></trk></gpx>\n");
    text
}
