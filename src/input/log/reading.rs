//! The one pass over a log's text: point by point to the rig it belongs to.

use super::complaint::{self, Lack};
use super::rig_choice::RigChoice;
use super::rig_reader::{At, RigReader};
use super::troubles::{Cause, Troubles};
use super::{Fix, Log, LogReading, decimal, stamp, unit_taken};
use crate::error::{Error, Result};
use crate::findings::log::AboutLog;
use crate::findings::{Finding, Kind, Severity};
use crate::geometry::place::{Instant, LonLat};
use crate::input::fleet::Fleet;
use crate::input::gpx::{Gpx, Leaf, Step};
use std::borrow::Cow;

/// Most points of one file: 115 days at one a second. More is not a night, and would fill the memory (limit).
const MOST_POINTS: u64 = 10_000_000;

/// 1980-01-06T00:00:00Z, in microseconds since 1970: the beginning of GPS time (GPS interface
/// specification IS-GPS-200). A receiver without reception writes years such as 0001 or 1970.
const FIRST_TIME: Instant = Instant(315_964_800_000_000);
/// 2200-01-01T00:00:00Z: beyond it a stamp is damage, and far beyond it has no calendar date at all.
const LAST_TIME: Instant = Instant(7_258_118_400_000_000);

/// Reads the logs in one file's text. `file` is the name as shown and as matched against the rigs'
/// `logs` patterns.
///
/// # Errors
/// The file is of no use: no point with a position and a time, an unknown rig or none to be found, more
/// section states than sections, neither liquid nor section states (or none for a boom of several
/// sections), or XML that is damaged before the first fix. The error names file and, where there is one,
/// the line; other files are not concerned.
pub fn read(file: &str, text: &str, fleet: &Fleet) -> Result<LogReading> {
    read_from(Gpx::new(text), file, text, fleet)
}

/// The same by the general XML reader alone, without the short cut for plain points: what [`read`] is tested against.
///
/// # Errors
/// As [`read`].
pub fn read_by_events(file: &str, text: &str, fleet: &Fleet) -> Result<LogReading> {
    read_from(Gpx::by_events(text), file, text, fleet)
}

fn read_from<'a>(mut gpx: Gpx<'a>, file: &str, text: &'a str, fleet: &Fleet) -> Result<LogReading> {
    let mut reading = Reading::new(file, fleet);
    loop {
        match gpx.step() {
            Step::Track => reading.track(),
            Step::TrackExtensions => reading.constants(&gpx)?,
            Step::Segment => reading.segment(),
            Step::Point if reading.points >= MOST_POINTS => {
                reading.damage = Some((format!("more than {MOST_POINTS} points"), gpx.point.line));
                break;
            }
            Step::Point => reading.point(&gpx).map_err(|error| error.at(file))?,
            Step::Damage { why, line } => {
                reading.damage = Some((why, line));
                break;
            }
            Step::End => break,
        }
    }
    reading.finish(text)
}

/// Greatest dilution that counts as one: receivers write 99.99 and the like where they have no position (common
/// practice); with 50 a metre's receiver would be 50 m off.
const GREATEST_HDOP: f32 = 50.0;

/// Element of a track that marks it as a plan.
const PLANNED: &str = "planned";

struct Reading<'f, 'a> {
    file: &'f str,
    fleet: &'f Fleet,
    choice: RigChoice<'f, 'a>,
    /// Readers in order of their first point, and for each rig of the fleet its place among them.
    readers: Vec<RigReader<'a>>,
    reader_of: Vec<Option<usize>>,
    troubles: Troubles,
    segment: usize,
    points: u64,
    points_in_track: u64,
    track_rig: Option<usize>,
    /// The track is a plan.
    planned: bool,
    point_rig: Option<usize>,
    damage: Option<(String, u32)>,
}

impl<'f, 'a> Reading<'f, 'a> {
    fn new(file: &'f str, fleet: &'f Fleet) -> Self {
        Self {
            file,
            fleet,
            choice: RigChoice::new(file, fleet),
            readers: Vec::new(),
            reader_of: vec![None; fleet.rigs.len()],
            troubles: Troubles::default(),
            segment: 0,
            points: 0,
            points_in_track: 0,
            track_rig: None,
            planned: false,
            point_rig: None,
            damage: None,
        }
    }

    fn track(&mut self) {
        self.track_rig = None;
        self.planned = false;
        self.points_in_track = 0;
        self.segment();
    }

    fn segment(&mut self) {
        self.segment += 1;
        self.point_rig = None;
    }

    fn constants(&mut self, gpx: &Gpx<'a>) -> Result<()> {
        if self.points_in_track > 0 {
            self.troubles
                .add(Cause::LateConstants, None, gpx.point.line, "");
            return Ok(());
        }
        if let Some(rig) = self.choice.named(&gpx.track_leaves, gpx.track_line())? {
            self.track_rig = Some(rig);
        }
        let mark = |leaf: &Leaf| leaf.name() == PLANNED && leaf.text.trim() == "1";
        self.planned = gpx.track_leaves.iter().any(mark);
        Ok(())
    }

    fn point(&mut self, gpx: &Gpx<'a>) -> Result<()> {
        self.points += 1;
        self.points_in_track += 1;
        let point = &gpx.point;
        if let Some(rig) = self.choice.named(&point.leaves, point.line)? {
            self.point_rig = Some(rig);
        }
        let rig = match self.point_rig.or(self.track_rig) {
            Some(rig) => rig,
            None => self.choice.by_file()?,
        };
        let fix = fix(gpx, &mut self.troubles);
        let planned = self.planned;
        let reader = *self.reader_of[rig].get_or_insert_with(|| {
            let known = &self.fleet.rigs[rig];
            let mut reader = if planned {
                // A plan is written in the program's own elements, whatever the rig's logger writes.
                RigReader::new(self.file, rig, &known.with_own_elements())
            } else {
                RigReader::new(self.file, rig, known)
            };
            reader.log.planned = planned;
            self.readers.push(reader);
            self.readers.len() - 1
        });
        if self.readers[reader].log.planned != planned {
            return Err(
                Error::new("the file has planned and driven tracks of one rig")
                    .line(u64::from(point.line))
                    .advice("Keep plans and logs in files of their own."),
            );
        }
        let at = At {
            segment: self.segment,
            line: point.line,
        };
        self.readers[reader].point(
            at,
            fix,
            &point.leaves,
            &gpx.track_leaves,
            &mut self.troubles,
        )
    }

    fn finish(mut self, text: &str) -> Result<LogReading> {
        self.readers.retain(|reader| !reader.log.fixes.is_empty());
        self.readers.iter_mut().for_each(RigReader::end);
        if self.readers.is_empty() {
            return Err(self.nothing());
        }
        for reader in &self.readers {
            let rig = &self.fleet.rigs[reader.log.rig];
            if !reader.seen.states && (!reader.seen.liquid || rig.section_widths_m.len() > 1) {
                let lack = if reader.seen.liquid {
                    Lack::States
                } else {
                    Lack::Everything
                };
                return Err(complaint::error(self.file, text, rig, lack));
            }
        }
        for reader in &self.readers {
            if !reader.seen.whole_boom
                && let Some((text, line)) = &reader.unreadable
            {
                let rig = &self.fleet.rigs[reader.log.rig];
                return Err(complaint::no_states(self.file, rig, text, *line));
            }
        }
        self.unknown_products();
        let mut findings = self.troubles.findings(self.file, self.fleet);
        for reader in &self.readers {
            let channels = reader.units_taken();
            findings.extend(unit_taken::findings(&reader.log, self.fleet, &channels));
        }
        let breaks_off = self.damage.is_some();
        if let Some((why, line)) = self.damage {
            let why = format!("the file is damaged here and was read up to this line ({why})");
            let kind = AboutLog::InputSkipped {
                file: self.file.to_owned(),
                line: Some(line.into()),
                count: 0,
                why,
            };
            findings.push(Finding::new(Severity::LookInto, kind));
        }
        let mut logs: Vec<Log> = self.readers.into_iter().map(|reader| reader.log).collect();
        if breaks_off && let Some(log) = logs.iter_mut().max_by_key(|log| log.last_line()) {
            log.breaks_off = true;
        }
        Ok(LogReading { logs, findings })
    }

    fn unknown_products(&mut self) {
        for reader in &self.readers {
            for (index, id) in reader.log.products.iter().enumerate() {
                if self.fleet.products.iter().any(|product| product.id == *id) {
                    continue;
                }
                let uses = |fix: &&Fix| {
                    fix.product
                        .is_some_and(|product| usize::from(product) == index)
                };
                let line = reader.log.fixes.iter().find(uses).map_or(0, |fix| fix.line);
                self.troubles.add(
                    Cause::UnknownProduct(id.clone()),
                    Some(reader.log.rig),
                    line,
                    "",
                );
            }
        }
    }

    /// The error of a file without a fix.
    fn nothing(self) -> Error {
        if let Some((why, line)) = self.damage {
            return Error::new(format!("the file is damaged before its first fix: {why}"))
                .at(self.file)
                .line(u64::from(line))
                .advice("Export the log again from the logger.");
        }
        let skipped = self.troubles.findings(self.file, self.fleet);
        let why = skipped.into_iter().find_map(|finding| match finding.kind {
            Kind::Log(AboutLog::InputSkipped { why, line, .. }) => Some((why, line)),
            _ => None,
        });
        let error = match (self.points, why) {
            (0, _) | (_, None) => {
                Error::new("no points: expected GPX with <trkpt> elements in <trk>, <trkseg>")
                    .at(self.file)
            }
            (points, Some((why, line))) => {
                let error = Error::new(format!("no points that can be used, of {points}: {why}"))
                    .at(self.file);
                match line {
                    Some(line) => error.line(line),
                    None => error,
                }
            }
        };
        error.advice("A run log needs track points with lat, lon and <time>; check what the logger was set to export.")
    }
}

/// Position and time of a point; `None`, counted, where it has none that can be used.
fn fix(gpx: &Gpx<'_>, troubles: &mut Troubles) -> Option<Fix> {
    let point = &gpx.point;
    let line = point.line;
    let (lat, lon) = point.lat_lon();
    let number = |text: Option<Cow<'_, str>>| {
        text.and_then(|text| decimal::number(text.trim()))
            .filter(|x| x.is_finite())
    };
    let (Some(lat_deg), Some(lon_deg)) = (number(lat), number(lon)) else {
        troubles.add(Cause::NoPosition, None, line, "");
        return None;
    };
    let place = LonLat { lon_deg, lat_deg };
    if !place.is_valid() {
        troubles.add(
            Cause::OutOfRange,
            None,
            line,
            &format!("{lat_deg}, {lon_deg}"),
        );
        return None;
    }
    if point.time.is_empty() {
        troubles.add(Cause::NoTime, None, line, "");
        return None;
    }
    let Some(stamp) = stamp::read(&point.time) else {
        troubles.add(Cause::BadTime, None, line, &point.time);
        return None;
    };
    if !(FIRST_TIME..LAST_TIME).contains(&stamp.instant) {
        troubles.add(Cause::NoReceiverTime, None, line, &point.time);
        return None;
    }
    if !stamp.zoned {
        troubles.add(Cause::NoZone, None, line, "");
    }
    let mut fix = Fix::bare(stamp.instant, place, line);
    fix.hdop = point
        .hdop
        .trim()
        .parse()
        .ok()
        .filter(|hdop: &f32| *hdop > 0.0 && *hdop <= GREATEST_HDOP)
        .unwrap_or(f32::NAN);
    Some(fix)
}
