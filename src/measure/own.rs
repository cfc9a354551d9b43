//! What this contractor's own nights say of the settings, and driven lots beside their plans. Offered as lines for the
//! fleet file, never taken silently.
//!
//! Read from `audit.json` alone. A visit counts that treats; a lot's figures are those of one application.

use super::sheet::SiteSheet;
use crate::input::fleet::{Fleet, Spread};
use crate::report::json::FORMAT;
use serde::Serialize;
use serde_json::Value;

/// Lots are told apart by size, m2: up to 300, up to 3,000, greater (0.07 acre; three quarters) (trade judgement).
const SIZES_M2: [f64; 2] = [300.0, 3000.0];
/// Fewer observations than this give no percentiles (trade judgement).
const LEAST_COUNT: usize = 3;
/// Two passes or more have a turn between them (trade judgement).
const LEAST_PASSES: f64 = 2.0;

/// What the own nights say.
#[derive(Debug, Clone, Serialize)]
pub struct OwnNights {
    /// Nights that were read.
    pub nights: usize,
    /// What was not, and why.
    pub skipped: Vec<String>,
    /// All lots, then by size; only those with an observation.
    pub classes: Vec<SizeClass>,
    /// Lots of this sheet that were driven, in the order of the sheet.
    pub driven: Vec<Driven>,
}

/// Lots of a size.
#[derive(Debug, Clone, Serialize)]
pub struct SizeClass {
    /// Lots from this area on, m2; `None` with `below_m2` `None`: all.
    pub from_m2: Option<f64>,
    /// Lots under this area, m2.
    pub below_m2: Option<f64>,
    /// Speed while spraying, m/s.
    pub speed_m_s: Option<Observed>,
    /// Doubled ground over length, m.
    pub lap_m: Option<Observed>,
    /// Between two passes, s.
    pub turn_time_s: Option<Observed>,
    /// Time of the treated ground over boom times speed, as a share of the time on site.
    pub field_efficiency: Option<Observed>,
    /// Swept rate over target.
    pub applied: Option<Observed>,
}

/// 10th, 50th and 90th percentile of what was seen.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Observed {
    /// How many.
    pub count: usize,
    /// The percentiles; `None` where there are fewer than three.
    pub percentiles: Option<Spread>,
}

/// A driven lot beside its plan.
#[derive(Debug, Clone, Serialize)]
pub struct Driven {
    /// Site id.
    pub site: String,
    /// Rig that drove it; plans of it where it was measured with, else of the first rig.
    pub rig: String,
    /// Night it was driven in: the folder's name.
    pub night: String,
    /// Driven with liquid, m.
    pub length_m: f64,
    /// From the first liquid to the last, s.
    pub seconds: f64,
    /// Doubled ground over treated ground.
    pub overlap_share: Option<f64>,
    /// The plan's rig.
    pub plan_rig: Option<String>,
    /// The plan's lanes, m.
    pub plan_length_m: Option<f64>,
    /// In lanes and between them, s.
    pub plan_seconds: Option<f64>,
    /// Doubled ground over treated ground by the plan.
    pub plan_overlap_share: Option<f64>,
}

/// One night's file: the name to show, and its bytes.
pub type NightFile = (String, Vec<u8>);

/// One lot treated once.
struct Seen {
    site: String,
    night: String,
    rig: String,
    area_m2: f64,
    one_visit: bool,
    wet_s: f64,
    wet_length_m: f64,
    passes: f64,
    spraying_s: f64,
    on_site_s: f64,
    treated_m2: f64,
    swept_m2: f64,
    overlap_m2: f64,
    applied: Option<f64>,
}

/// Reads the nights.
#[must_use]
pub fn own_nights(files: &[NightFile], fleet: &Fleet, sheets: &[SiteSheet]) -> OwnNights {
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
        .filter_map(|(from_m2, below_m2)| class(&seen, fleet, from_m2, below_m2))
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
        serde_json::from_slice(bytes).map_err(|error| format!("it is no JSON ({error})"))?;
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
    let sum = |key: &str| {
        visits
            .iter()
            .filter_map(|visit| number(visit, key))
            .sum::<f64>()
    };
    let lasted = |from: &str, to: &str| -> Option<f64> {
        visits
            .iter()
            .map(|visit| Some(instant_s(visit, to)? - instant_s(visit, from)?))
            .sum()
    };
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
    let seen = Seen {
        site: text(site, "site")?,
        night: night.to_owned(),
        rig,
        area_m2: number(site, "area_m2")?,
        one_visit: visits.len() == 1,
        wet_s: sum("wet_s"),
        wet_length_m: sum("wet_length_m"),
        passes: sum("passes"),
        spraying_s: lasted("spray_start", "spray_end")?,
        on_site_s: lasted("arrive", "depart")?,
        treated_m2: of_zones("treated_m2"),
        swept_m2: of_zones("swept_m2"),
        overlap_m2: of_zones("overlap_m2"),
        applied: asked
            .filter(|asked| *asked > 0.0 && laid_ml > 0.0)
            .map(|asked| laid_ml / asked),
    };
    (seen.wet_s > 0.0 && seen.wet_length_m > 0.0 && seen.treated_m2 > 0.0).then_some(seen)
}

impl Seen {
    fn speed_m_s(&self) -> f64 {
        self.wet_length_m / self.wet_s
    }

    fn turn_time_s(&self) -> Option<f64> {
        let between_s = self.spraying_s - self.wet_s;
        let known = self.one_visit && self.passes >= LEAST_PASSES && between_s > 0.0;
        known.then(|| between_s / (self.passes - 1.0))
    }

    fn field_efficiency(&self, fleet: &Fleet) -> Option<f64> {
        let rig = fleet.rigs.iter().find(|rig| rig.id == self.rig)?;
        let alone_s = self.treated_m2 / (rig.boom_width_m() * self.speed_m_s());
        (self.on_site_s > 0.0).then(|| alone_s / self.on_site_s)
    }
}

fn class(
    seen: &[Seen],
    fleet: &Fleet,
    from_m2: Option<f64>,
    below_m2: Option<f64>,
) -> Option<SizeClass> {
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
        speed_m_s: of(&|seen| Some(seen.speed_m_s())),
        lap_m: of(&|seen| Some((seen.swept_m2 - seen.treated_m2).max(0.0) / seen.wet_length_m)),
        turn_time_s: of(&Seen::turn_time_s),
        field_efficiency: of(&|seen| seen.field_efficiency(fleet)),
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
        overlap_share: Some(seen.overlap_m2 / seen.treated_m2),
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
