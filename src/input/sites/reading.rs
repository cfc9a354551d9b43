//! From the sites file's text to drawn zones: feature by feature, so that one bad feature costs no other.

use super::projection::Projection;
use super::properties::{self, Properties};
use super::{Aid, DrawnZone, SitesReading, aids, rings};
use crate::error::{Error, Result};
use crate::findings::log::AboutLog;
use crate::findings::sites::{AboutSites, Remark};
use crate::findings::{Finding, Kind, Severity};
use crate::input::text::clean;
use geojson::{Feature, GeometryValue, Position};
use serde_json::Value;
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// Most features of a file; a contractor's whole winter has a few thousand zones (limit).
const MOST_FEATURES: usize = 100_000;
/// Most positions of a file: with more, dividing the ground would take hours (limit).
const MOST_POSITIONS: usize = 5_000_000;
/// Most values (numbers, texts, lists, objects) of a file. Each takes some eighty bytes in memory and two in the
/// file: without a limit, a file of nothing but brackets would fill the memory (limit).
const MOST_VALUES: usize = 3 * MOST_POSITIONS + 20 * MOST_FEATURES;
// Depth needs no limit of its own: serde_json stops at 128 nested brackets.

/// Reads the sites file. `epsg` is the coordinate system given by flag; `path` is shown in errors
/// and findings.
///
/// # Errors
/// Not JSON (with line and column), not a FeatureCollection, an unknown coordinate system, more
/// features or positions than any night has, or no zone that can be used.
pub fn read(text: &str, path: &Path, epsg: Option<u32>) -> Result<SitesReading> {
    let mut document = parse(text).map_err(|error| error.at(path))?;
    let projection = Projection::of(&document, epsg).map_err(|error| error.at(path))?;
    let features = features(&mut document).map_err(|error| error.at(path))?;
    let mut reading = Reading {
        file: path.file_name().map_or_else(
            || path.display().to_string(),
            |name| name.to_string_lossy().into_owned(),
        ),
        projection,
        positions: 0,
        zones: Vec::new(),
        aids: Vec::new(),
        zone_ids: Vec::new(),
        findings: Vec::new(),
    };
    for (number, feature) in features.into_iter().enumerate() {
        reading
            .feature(number, feature)
            .map_err(|error| error.at(path))?;
    }
    reading.name_zones();
    if reading.zones.is_empty() {
        return Err(reading.nothing().at(path));
    }
    Ok(SitesReading {
        zones: reading.zones,
        aids: reading.aids,
        findings: reading.findings,
        epsg: reading.projection.epsg,
    })
}

fn parse(text: &str) -> Result<Value> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    // Every value but the first of a list or an object comes after a comma. Those within texts count too.
    let values = text
        .bytes()
        .filter(|byte| matches!(byte, b',' | b'[' | b'{'));
    if values.count() > MOST_VALUES {
        let what = format!("the file has more than {MOST_VALUES} values");
        return Err(Error::new(what).advice("Split the file."));
    }
    serde_json::from_str(text).map_err(|error| {
        Error::new(format!("this is not JSON: {error}"))
            .line(error.line() as u64)
            .advice("The sites file is GeoJSON: one FeatureCollection of Polygon and MultiPolygon features.")
    })
}

fn features(document: &mut Value) -> Result<Vec<Value>> {
    let advice =
        "The sites file is GeoJSON: { \"type\": \"FeatureCollection\", \"features\": [ ... ] }.";
    match document.get("type").and_then(Value::as_str) {
        Some("FeatureCollection") => {}
        Some(other) => {
            let what = format!(
                "expected a GeoJSON FeatureCollection, found the type \"{}\"",
                clean(other)
            );
            return Err(Error::new(what).line(1).advice(advice));
        }
        None => {
            return Err(
                Error::new("expected a GeoJSON FeatureCollection, found no `type`")
                    .line(1)
                    .advice(advice),
            );
        }
    }
    match document.get_mut("features").map(Value::take) {
        Some(Value::Array(features)) if features.len() <= MOST_FEATURES => Ok(features),
        Some(Value::Array(features)) => Err(Error::new(format!(
            "found {} features; the most is {MOST_FEATURES}",
            features.len()
        ))
        .advice("Split the file.")),
        _ => Err(Error::new("expected a list `features`, found none")
            .line(1)
            .advice(advice)),
    }
}

struct Reading {
    file: String,
    projection: Projection,
    positions: usize,
    zones: Vec<DrawnZone>,
    aids: Vec<Aid>,
    /// The zone id that each feature gives, if any, beside `zones`.
    zone_ids: Vec<Option<String>>,
    findings: Vec<Finding>,
}

impl Reading {
    fn feature(&mut self, number: usize, value: Value) -> Result<()> {
        let site = value
            .get("properties")
            .and_then(Value::as_object)
            .and_then(|p| properties::text(p, "site"));
        match self.zone(number, value) {
            Ok(()) => {}
            Err(why) => self.skipped(number, site, &why),
        }
        if self.positions > MOST_POSITIONS {
            return Err(
                Error::new(format!("the file has more than {MOST_POSITIONS} positions"))
                    .advice("Split the file."),
            );
        }
        Ok(())
    }

    /// Takes up one feature.
    fn zone(&mut self, number: usize, value: Value) -> std::result::Result<(), String> {
        let feature: Feature =
            serde_json::from_value(value).map_err(|error| clean(&error.to_string()))?;
        let properties = feature.properties.unwrap_or_default();
        if let Some(kind) = aids::kind(&properties)? {
            let site = properties::text(&properties, "site").ok_or("it has no `site` id")?;
            let geometry = feature.geometry.ok_or("it has no geometry")?.value;
            let shape = aids::shape(kind, geometry, &self.projection)?;
            self.positions += 1;
            self.aids.push(Aid {
                feature: number,
                site,
                kind,
                shape,
            });
            return Ok(());
        }
        let Some(found) = properties::read(&properties)? else {
            return Ok(());
        };
        let drawn: Vec<Vec<Vec<Position>>> = match feature.geometry.map(|geometry| geometry.value) {
            None => return Err("it has no geometry".to_owned()),
            Some(GeometryValue::Polygon { coordinates }) => vec![coordinates],
            Some(GeometryValue::MultiPolygon { coordinates }) => coordinates,
            Some(other) => {
                return Err(format!(
                    "it is a {}, expected a Polygon or MultiPolygon",
                    other.type_name()
                ));
            }
        };
        self.positions += drawn.iter().flatten().map(Vec::len).sum::<usize>();
        let (mut polygons, mut dropped, mut faults) = (Vec::new(), 0, Vec::new());
        for polygon in &drawn {
            let ready = rings::read(polygon, &self.projection)?;
            dropped += ready.dropped;
            if ready.closed && faults.is_empty() {
                faults.push(rings::NOT_CLOSED.to_owned());
            }
            if !ready.rings.is_empty() {
                polygons.push(ready.rings);
            }
        }
        if polygons.is_empty() {
            return Err("it has no ring of three distinct positions".to_owned());
        }
        self.remarks(number, &found, dropped);
        self.zone_ids.push(found.zone.clone());
        self.zones.push(drawn_zone(number, found, polygons, faults));
        Ok(())
    }

    fn remarks(&mut self, feature: usize, found: &Properties, dropped: usize) {
        let mut all: Vec<(Severity, String)> = Vec::new();
        all.extend(
            found
                .notes
                .iter()
                .map(|what| (Severity::ForTheRecord, what.clone())),
        );
        all.extend(
            found
                .ignored
                .iter()
                .map(|what| (Severity::LookInto, what.clone())),
        );
        if dropped > 0 {
            let what = format!(
                "has {dropped} ring(s) of fewer than three distinct positions (or within one); left out"
            );
            all.push((Severity::LookInto, what));
        }
        for (severity, what) in all {
            let what = Remark::Read(what);
            let mut finding = Finding::new(severity, AboutSites::SiteRemark { what, feature });
            finding.site = Some(found.site.clone());
            finding.zone.clone_from(&found.zone);
            self.findings.push(finding);
        }
    }

    fn skipped(&mut self, number: usize, site: Option<String>, why: &str) {
        let of = site
            .as_ref()
            .map_or(String::new(), |site| format!(" of site \"{site}\""));
        let kind = AboutLog::InputSkipped {
            file: self.file.clone(),
            line: None,
            count: 1,
            // People count from one.
            why: format!("feature {}{of} cannot be used: {why}", number + 1),
        };
        let mut finding = Finding::new(Severity::LookInto, kind);
        finding.site = site;
        self.findings.push(finding);
    }

    /// Gives every zone an id of its own within its site. Ids that are in the file come first, so
    /// that a made-up one never takes a given one.
    fn name_zones(&mut self) {
        let mut taken: HashSet<(String, String)> = HashSet::new();
        let given = self.zones.iter().zip(&self.zone_ids);
        taken.extend(given.filter_map(|(zone, id)| Some((zone.site.clone(), id.clone()?))));
        let mut met: HashSet<(String, String)> = HashSet::new();
        // The next number to try, so that thousands of zones without id stay cheap.
        let mut next: HashMap<(String, Option<String>), usize> = HashMap::new();
        for (zone, given) in self.zones.iter_mut().zip(&self.zone_ids) {
            if let Some(id) = given
                && met.insert((zone.site.clone(), id.clone()))
            {
                zone.zone.clone_from(id);
                continue;
            }
            let number = next
                .entry((zone.site.clone(), given.clone()))
                .or_insert(if given.is_some() { 2 } else { 1 });
            zone.zone = loop {
                let id = given
                    .as_ref()
                    .map_or_else(|| number.to_string(), |id| format!("{id}-{number}"));
                *number += 1;
                if taken.insert((zone.site.clone(), id.clone())) {
                    break id;
                }
            };
            if let Some(id) = given {
                let what = format!(
                    "has the zone id \"{id}\" of another zone of its site; called \"{}\"",
                    zone.zone
                );
                let kind = AboutSites::SiteRemark {
                    what: Remark::Read(what),
                    feature: zone.feature,
                };
                let mut finding = Finding::new(Severity::LookInto, kind);
                (finding.site, finding.zone) = (Some(zone.site.clone()), Some(zone.zone.clone()));
                self.findings.push(finding);
            }
        }
    }

    fn nothing(&self) -> Error {
        let why = self
            .findings
            .iter()
            .find_map(|finding| match &finding.kind {
                Kind::Log(AboutLog::InputSkipped { why, .. }) => Some(why.as_str()),
                _ => None,
            });
        Error::new(format!("no zone can be used: {}", why.unwrap_or("the file has no features"))).advice(
            "Each zone is a Polygon or MultiPolygon feature with the property `site`, in longitude and latitude; name another \
             coordinate system with --sites-crs EPSG:n.",
        )
    }
}

fn drawn_zone(
    feature: usize,
    found: Properties,
    polygons: Vec<Vec<Vec<crate::geometry::place::LonLat>>>,
    faults: Vec<String>,
) -> DrawnZone {
    DrawnZone {
        feature,
        site: found.site,
        zone: found.zone.unwrap_or_default(),
        name: found.name,
        client: found.client,
        land_use: found.land_use,
        method: found.method,
        target_ml_m2: found.target_ml_m2,
        priority: found.priority,
        blocked_from: found.blocked_from,
        blocked_until: found.blocked_until,
        reason: found.reason,
        record: found.record,
        others: found.others,
        faults,
        polygons,
    }
}
