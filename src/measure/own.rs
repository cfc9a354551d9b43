//! What this contractor's own nights say of the settings, and driven lots beside their plans. Offered as lines for the
//! fleet file, never taken silently.
//!
//! Read from `audit.json` alone: how an application was driven is what the audit says of it. Only visits that treat
//! count.

use super::sheet::{Driven, Observed, OwnNights, SiteSheet, SizeClass};
use crate::input::fleet::Spread;
use crate::report::json::FORMAT;
use serde_json::Value;

/// Lots are told apart by size, m2: up to 300, up to 3,000, greater (0.07 acre; three quarters) (trade judgement).
const SIZES_M2: [f64; 2] = [300.0, 3000.0];
/// Fewer observations than this give no percentiles (trade judgement).
const LEAST_COUNT: usize = 3;

/// One night's file: the name to show, and its bytes.
pub(super) type NightFile = (String, Vec<u8>);

/// One lot treated once.
struct Seen {
    site: String,
    night: String,
    rig: String,
    area_m2: f64,
    one_visit: bool,
    /// As the audit found it.
    driving: Driving,
    wet_length_m: f64,
    spraying_s: f64,
    overlap_share: f64,
    applied: Option<f64>,
}

/// What `driving` of an application says; `None` as there.
struct Driving {
    speed_m_s: Option<f64>,
    lap_m: Option<f64>,
    /// Of one turn.
    turn_time_s: Option<f64>,
    field_efficiency: Option<f64>,
}

impl Driving {
    fn of(application: &Value) -> Self {
        let figure = |key: &str| number(&application["driving"], key);
        let turns = figure("turns").filter(|turns| *turns > 0.0);
        Self {
            speed_m_s: figure("speed_m_s"),
            lap_m: figure("lap_m"),
            turn_time_s: figure("turning_s").zip(turns).map(|(s, turns)| s / turns),
            field_efficiency: figure("field_efficiency"),
        }
    }
}

/// Reads the nights.
pub(super) fn own_nights(files: &[NightFile], sheets: &[SiteSheet]) -> OwnNights {
    let mut seen = Vec::new();
    let mut skipped = Vec::new();
    let mut nights = 0;
    for (name, bytes) in files {
        match read(name, bytes) {
            Ok(own) => {
                nights += 1;
                seen.extend(own);
            }
            Err(why) => skipped.push(format!("{name}: {why}")),
        }
    }
    let classes = [
        (None, None),
        (None, Some(SIZES_M2[0])),
        (Some(SIZES_M2[0]), Some(SIZES_M2[1])),
        (Some(SIZES_M2[1]), None),
    ];
    let classes = classes
        .into_iter()
        .filter_map(|(from_m2, below_m2)| class(&seen, from_m2, below_m2))
        .collect();
    let driven = sheets.iter().flat_map(|sheet| {
        let own = seen
            .iter()
            .filter(|seen| seen.site == sheet.site && seen.one_visit);
        own.map(|seen| beside(seen, sheet))
    });
    OwnNights {
        nights,
        skipped,
        classes,
        driven: driven.collect(),
    }
}

/// What one file holds.
///
/// # Errors
/// Why it was skipped, as a clause.
fn read(name: &str, bytes: &[u8]) -> Result<Vec<Seen>, String> {
    let document: Value =
        serde_json::from_slice(bytes).map_err(|error| format!("it is not JSON ({error})"))?;
    let format = document.get("format").and_then(Value::as_str);
    match format {
        Some(format) if format == FORMAT => {}
        Some(other) => {
            let other: String = other.chars().filter(|c| !c.is_control()).take(60).collect();
            return Err(format!("its format is {other}, not {FORMAT}"));
        }
        None => return Err(format!("it names no format, expected {FORMAT}")),
    }
    if document
        .get("planned")
        .is_some_and(|planned| !planned.is_null())
    {
        return Err("it was planned, not driven".to_owned());
    }
    let mut seen = Vec::new();
    for site in list(&document, "sites") {
        for application in list(site, "applications") {
            seen.extend(lot(name, site, application));
        }
    }
    Ok(seen)
}

fn list<'a>(of: &'a Value, key: &str) -> impl Iterator<Item = &'a Value> {
    of.get(key).and_then(Value::as_array).into_iter().flatten()
}

fn number(of: &Value, key: &str) -> Option<f64> {
    of.get(key)
        .and_then(Value::as_f64)
        .filter(|number| number.is_finite())
}

fn text(of: &Value, key: &str) -> Option<String> {
    of.get(key).and_then(Value::as_str).map(str::to_owned)
}

fn instant_s(of: &Value, key: &str) -> Option<f64> {
    let time: jiff::Timestamp = of.get(key)?.as_str()?.parse().ok()?;
    Some(time.as_microsecond() as f64 / 1e6)
}

/// One application by one rig on ground whose areas can be told; `None` otherwise.
fn lot(night: &str, site: &Value, application: &Value) -> Option<Seen> {
    let visits: Vec<&Value> = list(application, "visits")
        .filter(|visit| visit.get("kind").and_then(Value::as_str) == Some("treating"))
        .collect();
    let rig = text(visits.first()?, "rig")?;
    if visits
        .iter()
        .any(|visit| text(visit, "rig").as_ref() != Some(&rig))
    {
        return None;
    }
    let zones: Vec<&Value> = list(application, "zones")
        .filter(|zone| zone.get("verdict").and_then(Value::as_str) == Some("area"))
        .collect();
    let of_zones = |key: &str| {
        zones
            .iter()
            .filter_map(|zone| number(zone, key))
            .sum::<f64>()
    };
    let asked: Option<f64> = zones
        .iter()
        .map(|zone| Some(number(zone, "target_ml_m2")? * number(zone, "swept_m2")?))
        .sum();
    let laid_ml = of_zones("volume_l") * 1000.0;
    let treated_m2 = of_zones("treated_m2");
    let seen = Seen {
        site: text(site, "site")?,
        night: night.to_owned(),
        rig,
        area_m2: number(site, "area_m2")?,
        one_visit: visits.len() == 1,
        driving: Driving::of(application),
        wet_length_m: visits
            .iter()
            .filter_map(|visit| number(visit, "wet_length_m"))
            .sum(),
        spraying_s: visits
            .iter()
            .map(|visit| Some(instant_s(visit, "spray_end")? - instant_s(visit, "spray_start")?))
            .sum::<Option<f64>>()?,
        overlap_share: of_zones("overlap_m2") / treated_m2,
        applied: asked
            .filter(|asked| *asked > 0.0 && laid_ml > 0.0)
            .map(|asked| laid_ml / asked),
    };
    (seen.wet_length_m > 0.0 && treated_m2 > 0.0).then_some(seen)
}

fn class(seen: &[Seen], from_m2: Option<f64>, below_m2: Option<f64>) -> Option<SizeClass> {
    let own: Vec<&Seen> = seen
        .iter()
        .filter(|seen| from_m2.is_none_or(|from_m2| seen.area_m2 >= from_m2))
        .filter(|seen| below_m2.is_none_or(|below_m2| seen.area_m2 < below_m2))
        .collect();
    let of = |figure: &dyn Fn(&Seen) -> Option<f64>| {
        observed(own.iter().filter_map(|seen| figure(seen)).collect())
    };
    (!own.is_empty()).then(|| SizeClass {
        from_m2,
        below_m2,
        speed_m_s: of(&|seen| seen.driving.speed_m_s),
        lap_m: of(&|seen| seen.driving.lap_m),
        turn_time_s: of(&|seen| seen.driving.turn_time_s),
        field_efficiency: of(&|seen| seen.driving.field_efficiency),
        applied: of(&|seen| seen.applied),
    })
}

fn observed(mut values: Vec<f64>) -> Option<Observed> {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (values.len() - 1) as f64;
        let (below, above) = (place.floor() as usize, place.ceil() as usize);
        values[below] + (place - below as f64) * (values[above] - values[below])
    };
    (!values.is_empty()).then(|| Observed {
        count: values.len(),
        percentiles: (values.len() >= LEAST_COUNT).then(|| Spread {
            low: at(0.1),
            likely: at(0.5),
            high: at(0.9),
        }),
    })
}

fn beside(seen: &Seen, sheet: &SiteSheet) -> Driven {
    let own = sheet.rigs.iter().find(|rig| rig.rig == seen.rig);
    let planned = own
        .or_else(|| sheet.rigs.first())
        .and_then(|rig| Some((&rig.rig, rig.plan.as_ref()?)));
    let plan = planned.map(|(_, plan)| plan);
    Driven {
        site: seen.site.clone(),
        rig: seen.rig.clone(),
        night: seen.night.clone(),
        length_m: seen.wet_length_m,
        seconds: seen.spraying_s,
        overlap_share: Some(seen.overlap_share),
        plan_rig: planned.map(|(rig, _)| rig.clone()),
        plan_length_m: plan.map(|plan| plan.length_m),
        plan_seconds: plan.and_then(|plan| Some(plan.spraying_s? + plan.turning_s?)),
        plan_overlap_share: plan.and_then(|plan| Some(plan.overlap_m2? / plan.treated_m2?)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy.percentile([1, 2, 4, 8, 16], [10, 50, 90]) = [1.4, 4, 12.8].
    #[test]
    fn percentiles_are_those_of_numpy() {
        let seen = observed(vec![16.0, 1.0, 8.0, 2.0, 4.0]).unwrap();
        let found = seen.percentiles.unwrap();
        assert!((found.low - 1.4).abs() < 1e-12 && (found.high - 12.8).abs() < 1e-12);
        assert_eq!((seen.count, found.likely), (5, 4.0));
        assert!(observed(vec![1.0, 2.0]).unwrap().percentiles.is_none());
    }

    #[test]
    fn other_formats_are_skipped_by_name() {
        let why = read("n", br#"{"format":"swathbook-measure/1"}"#)
            .err()
            .unwrap();
        assert!(why.contains("swathbook-measure/1"), "{why}");
        assert!(read("n", b"[]").is_err() && read("n", b"\xff").is_err());
    }
}
