//! The result of an audit: one plain struct from which every output is made.
//!
//! Field names and units are those of `audit.json` (see `docs/formats.md`). Reports read it and
//! never compute. `None` is "not known"; it is never written as zero.

use crate::findings::Finding;
use crate::geometry::place::{Instant, LonLat};
use crate::input::digest::InputFile;
use crate::input::sites::{LandUse, Method};
use serde::{Deserialize, Serialize};

/// A whole night.
#[derive(Debug, Clone)]
pub struct Audit {
    /// What was read.
    pub inputs: Vec<InputFile>,
    /// Time zone in which reports show times; `None` is UTC.
    pub timezone: Option<jiff::tz::TimeZone>,
    /// Half-width of the band around the target, as a fraction.
    pub band: f64,
    /// One entry per run, in the order of the fleet file's rigs, then by start.
    pub runs: Vec<Run>,
    /// One entry per site, in the order of the sites file.
    pub sites: Vec<Site>,
    /// What became of the orders, by site, then in the order of the file; `None` without an orders file.
    pub orders: Option<Vec<Order>>,
    /// Ranked.
    pub findings: Vec<Finding>,
    /// From the first fix of the night's logs to the last, those of another date left out.
    pub span: Option<NightSpan>,
    /// The logs are plans: nothing was driven.
    pub planned: bool,
    /// A log is known to be missing or to stand under another date, so that ground without treatment may
    /// have been treated.
    pub logs_missing: bool,
    /// The strips of each site, when they were to be kept.
    pub strips: Vec<SiteStrips>,
}

/// The time that the logs of a night cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NightSpan {
    /// First usable fix of its logs.
    pub first: Instant,
    /// Last usable fix of its logs.
    pub last: Instant,
}

/// One file that was written beside `audit.json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutputFile {
    /// Name in the output folder.
    pub name: &'static str,
    /// Size, bytes.
    pub bytes: u64,
    /// SHA-256 of the bytes, lower-case hexadecimal.
    pub sha256: String,
}

/// What one rig did from its first fix of the night to its last.
#[derive(Debug, Clone, Serialize)]
pub struct Run {
    /// Rig id.
    pub rig: String,
    /// Its log files.
    pub logs: Vec<String>,
    /// First fix.
    pub start: Instant,
    /// Last fix.
    pub end: Instant,
    /// Fixes in the files.
    pub fixes: usize,
    /// Fixes left after cleaning.
    pub fixes_used: usize,
    /// Fixes of re-exported, split or overlapping files that say again what another file says.
    pub fixes_repeated: usize,
    /// Distance driven, m.
    pub distance_m: f64,
    /// Time with liquid on the ground, s.
    pub wet_s: f64,
    /// The part of it in reverse, s.
    pub reverse_wet_s: f64,
    /// How forward was told from reverse: `heading` (logged) or `motion` (inferred).
    pub gear_from: &'static str,
    /// Position error (95 %) assumed, m.
    pub position_m: f64,
    /// Where that comes from: a word of [`PositionFrom`](crate::rig::position::PositionFrom::name).
    pub position_from: &'static str,
    /// Added to the logged times, s; 0 where the fleet file says nothing.
    pub clock_offset_s: f64,
    /// How the liquid was metered: `flow`, `volume`, `flow_and_volume`, `rate`, `none`.
    pub metered_by: &'static str,
    /// Silences too long to know what happened.
    pub dropouts: Vec<Dropout>,
    /// Where every metered litre went.
    pub ledger_l: Ledger,
}

/// One silence.
#[derive(Debug, Clone, Serialize)]
pub struct Dropout {
    /// Last fix before it.
    pub start: Instant,
    /// First fix after it.
    pub end: Instant,
    /// Length, s.
    pub seconds: f64,
    /// What the meter total gained, L; `None` without a total.
    pub volume_l: Option<f64>,
}

/// Every metered litre in one line. Lines are numbers, each computed for itself.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Ledger {
    /// Through the meter.
    pub metered: f64,
    /// On walks, drives, lots and blocked ground.
    pub zones: f64,
    /// On keep-off ground.
    pub keep_off: f64,
    /// Outside the zones by less than the position error.
    pub fringe: f64,
    /// Elsewhere.
    pub outside: f64,
    /// On yards, and past the meter with every section closed while in one.
    pub yard: f64,
    /// By the hand gun.
    pub gun: f64,
    /// Past the meter with every section closed, not in a yard.
    pub closed: f64,
    /// Gained by the total in dropouts and while parked in silence.
    pub dropout: f64,
    /// Gained by the total between two logs.
    pub between_logs: f64,
}

/// One client property.
#[derive(Debug, Clone, Serialize)]
pub struct Site {
    /// Site id.
    pub site: String,
    /// Name to show.
    pub name: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// Ground of all zones to be treated (walks, drives and lots), m2.
    pub area_m2: f64,
    /// Its ground after dividing, in the order of the file.
    pub ground: Vec<Ground>,
    /// In order of time.
    pub applications: Vec<Application>,
    /// Visits that belong to no application, in order of time.
    pub other_visits: Vec<Visit>,
}

/// One zone's ground after dividing.
#[derive(Debug, Clone, Serialize)]
pub struct Ground {
    /// Zone id.
    pub zone: String,
    /// Use.
    #[serde(rename = "use")]
    pub land_use: LandUse,
    /// Method.
    pub method: Method,
    /// What is left after dividing, m2.
    pub area_m2: f64,
    /// What was drawn, m2.
    pub area_drawn_m2: f64,
    /// What blocked ground took from it, m2; not in `area_m2`.
    pub excluded_m2: f64,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Weight in the ranking.
    pub priority: f64,
    /// From when blocked ground is blocked.
    pub from: Option<Instant>,
    /// Until when.
    pub until: Option<Instant>,
    /// Why.
    pub reason: Option<String>,
    /// Other plain properties of its feature, as they stand in the sites file.
    pub properties: serde_json::Map<String, serde_json::Value>,
}

/// All visits that together treat a site once.
#[derive(Debug, Clone, Serialize)]
pub struct Application {
    /// From 1 in order of time.
    pub number: usize,
    /// First liquid on the site's ground to be treated.
    pub start: Instant,
    /// Last liquid there.
    pub end: Instant,
    /// Rig ids, in alphabetical order.
    pub rigs: Vec<String>,
    /// In order of time.
    pub visits: Vec<Visit>,
    /// Zones to be treated, in the order of the file.
    pub zones: Vec<Zone>,
    /// How it was driven.
    pub driving: Driving,
}

/// How an application was driven.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Driving {
    /// Distance over time with liquid, m/s; `None` where nothing was driven with liquid or the log is too coarse.
    pub speed_m_s: Option<f64>,
    /// What neighbouring lanes lap, m: the median over all pairs; negative where they leave ground between them.
    pub lap_m: Option<f64>,
    /// How often a rig turned from one pass to the next without liquid on the site's ground.
    pub turns: usize,
    /// Time in them, s.
    pub turning_s: f64,
    /// Ground treated, over what the whole boom would cover at that speed in the time on site.
    pub field_efficiency: Option<f64>,
}

/// One rig's unbroken presence at a site.
#[derive(Debug, Clone, Serialize)]
pub struct Visit {
    /// Rig id.
    pub rig: String,
    /// `treating` or `present`.
    pub kind: VisitKind,
    /// Came within 10 m of a zone of the site.
    pub arrive: Instant,
    /// First liquid on the site's ground to be treated; `None` when there was none.
    pub spray_start: Option<Instant>,
    /// Last liquid there.
    pub spray_end: Option<Instant>,
    /// Left the site.
    pub depart: Instant,
    /// Time with liquid on that ground, s.
    pub wet_s: f64,
    /// Distance driven with liquid there, by the share of the open boom, m.
    pub wet_length_m: f64,
    /// Passes driven.
    pub passes: usize,
    /// Hand gun, L; `None` where the log has no gun channel.
    pub gun_l: Option<f64>,
    /// Liquid by product, the gun's included.
    pub products: Vec<ProductVolume>,
}

/// Kind of a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VisitKind {
    /// 10 s or more with liquid on the ground.
    Treating,
    /// There, without treating.
    Present,
}

/// Liquid of one product.
#[derive(Debug, Clone, Serialize)]
pub struct ProductVolume {
    /// Product id; `None` where neither log nor fleet file says.
    pub product: Option<String>,
    /// Liquid, L; `None` where nothing was metered.
    pub volume_l: Option<f64>,
}

/// One zone in one application.
#[derive(Debug, Clone, Serialize)]
pub struct Zone {
    /// Zone id.
    pub zone: String,
    /// Use.
    #[serde(rename = "use")]
    pub land_use: LandUse,
    /// Method.
    pub method: Method,
    /// What the logs can tell of it.
    pub verdict: ZoneVerdict,
    /// What is left after dividing, m2.
    pub area_m2: f64,
    /// What was drawn, m2.
    pub area_drawn_m2: f64,
    /// What blocked ground took from it, m2: neither treated nor gap, not in `area_m2`.
    pub excluded_m2: f64,
    /// In at least one swath, m2. `None` for hand zones and logs too coarse.
    pub treated_m2: Option<f64>,
    /// Neither treated nor unlogged, m2.
    pub gap_m2: Option<f64>,
    /// A rig may have treated it in a dropout, m2.
    pub unlogged_m2: Option<f64>,
    /// In two or more passes, m2.
    pub overlap_m2: Option<f64>,
    /// Ground farther than `edge` from the zone's line, m2.
    pub core_m2: f64,
    /// Treated ground of the core, m2.
    pub core_treated_m2: Option<f64>,
    /// Liquid on the zone's ground by sections, not by the gun, L.
    pub volume_l: Option<f64>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Number of the order it was treated under, or its line in the orders file.
    pub order: Option<String>,
    /// Litres over the zone's area.
    pub rate_over_zone_ml_m2: Option<f64>,
    /// Litres over the treated area.
    pub rate_where_treated_ml_m2: Option<f64>,
    /// Litres over the sum of the strips' areas.
    pub rate_swept_ml_m2: Option<f64>,
    /// Sum of the strips' areas on the zone, m2.
    pub swept_m2: Option<f64>,
    /// Distance driven with liquid on the zone, m.
    pub wet_length_m: Option<f64>,
    /// Why the gap is a gap; adds up to `gap_m2`.
    pub gap_causes_m2: Option<GapCauses>,
    /// More than 1 m2 of the gap lies in the straight corridor of a dropout.
    pub near_dropout: bool,
    /// Dose on the ground.
    pub dose: Option<Dose>,
    /// Patches, greatest first.
    pub patches: Option<Vec<Patch>>,
}

/// One order and what became of it.
#[derive(Debug, Clone, Serialize)]
pub struct Order {
    /// Its number or name.
    pub order: Option<String>,
    /// Its line in the orders file.
    pub line: u64,
    /// Site id.
    pub site: String,
    /// Zone id; `None` is every zone.
    pub zone: Option<String>,
    /// What the service is called.
    pub service: Option<String>,
    /// Product asked for.
    pub product: Option<String>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Not before.
    pub from: Option<Instant>,
    /// To be finished by.
    pub by: Option<Instant>,
    /// What became of it.
    pub status: OrderStatus,
    /// Number of the application that served it.
    pub application: Option<usize>,
    /// Treated share of its ground.
    pub treated_share: Option<f64>,
    /// When the work was finished.
    pub finished: Option<Instant>,
    /// Its zones of which the logs show no coverage: by hand, or too narrow for the positions.
    pub not_shown: Vec<String>,
}

/// What became of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OrderStatus {
    /// Every zone was treated.
    Done,
    /// Some ground was.
    InPart,
    /// None was, or nearly so.
    NotDone,
    /// Hand work, of which the logs know nothing.
    ByHand,
    /// The logs cannot tell.
    NotKnown,
    /// Its time lies before or after all logs.
    OutsideLogs,
}

/// What the logs can tell of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZoneVerdict {
    /// Areas and rates.
    Area,
    /// Too narrow for the position error: volume and driven length only.
    TooNarrow,
    /// Treated by hand: the log knows nothing of it.
    Hand,
    /// The log is too coarse: volume only.
    CoarseLog,
}

/// Share of each cause in the gap.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct GapCauses {
    /// No boom passed.
    pub never_reached: f64,
    /// Passed with every section closed.
    pub spraying_off: f64,
    /// Passed with this section closed and others open.
    pub closed: f64,
    /// Passed open, without liquid.
    pub dry: f64,
    /// In a silence in which no total stood still.
    pub silence: f64,
}

/// Statistics of the dose over the zone's ground, weighted by area.
#[derive(Debug, Clone, Serialize)]
pub struct Dose {
    /// Side of a grid cell, m.
    pub cell_m: f64,
    /// Mean over the known ground.
    pub mean_ml_m2: f64,
    /// 5th percentile.
    pub p05_ml_m2: f64,
    /// Median.
    pub p50_ml_m2: f64,
    /// 95th percentile.
    pub p95_ml_m2: f64,
    /// Standard deviation over mean; `None` when the mean is zero.
    pub cv: Option<f64>,
    /// Share of the zone under the band; `None` without a target.
    pub share_under: Option<f64>,
    /// Share within the band.
    pub share_within: Option<f64>,
    /// Share over the band.
    pub share_over: Option<f64>,
    /// Share not known (unlogged).
    pub share_unknown: f64,
    /// Share of the treated ground under half the target; `None` without a target.
    pub treated_share_low: Option<f64>,
    /// Share of the treated ground over 2.2 times the target.
    pub treated_share_high: Option<f64>,
}

/// An application that treated this share of a zone decides what is left to do there; one that treated less only
/// clipped it (trade judgement).
const LEAST_TREATED: f64 = 0.1;

/// Place of the application that decides what is left to do on a zone, from each one's treated share of it: the last one
/// that treated a tenth of it or more, else the last. A later visit to other ground says nothing about it.
#[must_use]
pub fn deciding(
    mut shares: impl DoubleEndedIterator<Item = Option<f64>> + ExactSizeIterator,
) -> Option<usize> {
    let last = shares.len().checked_sub(1);
    let decides = |share: Option<f64>| share.is_some_and(|share| share >= LEAST_TREATED);
    shares.rposition(decides).or(last)
}

impl Site {
    /// The application that decides what is left to do on a zone ([`deciding`]).
    #[must_use]
    pub fn last_on(&self, zone: &str) -> Option<&Application> {
        let share = |application: &Application| {
            let zone = application.zones.iter().find(|known| known.zone == zone)?;
            Some(zone.treated_m2? / zone.area_m2)
        };
        let place = deciding(self.applications.iter().map(share))?;
        self.applications.get(place)
    }
}

/// From this probability on a patch is perhaps bare: drawn and counted; worth a look where it is bare rather than not (trade
/// judgement).
pub const LEAST_PERHAPS: f64 = 0.3;

impl Patch {
    /// Likely enough, and of a cause for which somebody may be sent.
    #[must_use]
    pub fn is_worth_a_trip(&self) -> bool {
        self.likely && self.cause.is_for_a_trip()
    }

    /// Not likely enough for that, but not to be forgotten either.
    #[must_use]
    pub fn is_perhaps(&self) -> bool {
        !self.likely && self.probability.is_some_and(|of| of >= LEAST_PERHAPS)
    }
}

/// A part of a gap worth going back for.
#[derive(Debug, Clone, Serialize)]
pub struct Patch {
    /// Area, m2.
    pub area_m2: f64,
    /// Part of it farther than `edge` from the zone's line, m2.
    pub core_m2: f64,
    /// A point inside it.
    #[serde(flatten)]
    pub place: LonLat,
    /// Most of its ground by cause.
    pub cause: crate::findings::cause::GapCause,
    /// Numbers of the sections that were closed over it, from 1 at the left; empty for another cause.
    pub closed_sections: Vec<usize>,
    /// Probability that 10 m2 or more of it inside the edge are truly bare, given the position errors and switches
    /// of the passes around it; `null` with less than that inside the edge.
    pub probability: Option<f64>,
    /// Lower end of the 90 % interval of what is truly bare of it inside the edge, m2.
    pub area_low_m2: Option<f64>,
    /// Upper end of it, m2.
    pub area_high_m2: Option<f64>,
    /// Likely enough to send somebody.
    pub likely: bool,
    /// Within reach of a swath that a towed boom laid in reverse in a turn, or when pulled on after one: its probability is
    /// held down.
    pub unsure: bool,
}

/// All that a site's areas and volumes were computed from, in metres on its plane, so that they can be
/// computed again elsewhere. Rings do not repeat their first point.
#[derive(Debug, Clone, Serialize)]
pub struct SiteStrips {
    /// Site id.
    pub site: String,
    /// Centre of the plane (transverse Mercator, WGS 84, scale 1).
    pub centre: LonLat,
    /// Direction of the plane's x axis, radians counter-clockwise from east.
    pub turn_rad: f64,
    /// Divided ground, zones in the order of the file: rings, outer ones counter-clockwise.
    pub zones: Vec<(String, Vec<Ring>)>,
    /// In order of time.
    pub applications: Vec<ApplicationStrips>,
}

/// A ring of (x, y), m.
pub type Ring = Vec<(f64, f64)>;

/// The strips of one application.
#[derive(Debug, Clone, Serialize)]
pub struct ApplicationStrips {
    /// From 1 in order of time.
    pub number: usize,
    /// Of each pass: its strips, each convex and counter-clockwise.
    pub passes: Vec<Vec<Ring>>,
    /// Corridors of dropouts that count as unlogged.
    pub unlogged: Vec<Ring>,
    /// Dose pieces: ground and litres.
    pub pieces: Vec<(Ring, f64)>,
    /// The dose grid of each zone that has one.
    pub grids: Vec<DoseCells>,
}

/// Litres in the cells of a zone's dose grid.
#[derive(Debug, Clone, Serialize)]
pub struct DoseCells {
    /// Zone id.
    pub zone: String,
    /// Lower left corner, m.
    pub origin: (f64, f64),
    /// Side of a cell, m.
    pub cell_m: f64,
    /// Cells along x.
    pub columns: usize,
    /// Row by row from the lower left, L.
    pub litres: Vec<f64>,
}
