//! The result of measuring: one plain struct from which every output is made. Fields and units are those of
//! `measure.json`. `None` is "not known": the key that is missing is named beside it.

use super::cost_sheet::{CostSheet, NightSheet};
use super::lane::Lane;
use super::terms::{Manner, Stop};
use crate::findings::Finding;
use crate::geometry::overlay::Region;
use crate::geometry::place::LonLat;
use crate::geometry::plane::Xy;
use crate::input::digest::InputFile;
use crate::input::fleet::{Costs, Spread};
use crate::input::sites::{LandUse, Method};
use serde::Serialize;

/// All measured sites.
#[derive(Debug, Clone, Serialize)]
pub struct Sheet {
    /// What was read.
    pub inputs: Vec<InputFile>,
    /// What was set.
    pub settings: SheetSettings,
    /// Sites in the order of the file.
    pub sites: Vec<SiteSheet>,
    /// All sites together, one entry a rig that has something to do.
    pub nights: Vec<NightSheet>,
    /// What the contractor's own nights say; `None` where none was named.
    pub own: Option<OwnNights>,
    /// Remarks on the sites file.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// The settings that figures depend on.
#[derive(Debug, Clone, Serialize)]
pub struct SheetSettings {
    /// Lap of neighbouring lanes, m.
    pub lap_m: Option<f64>,
    /// Spraying speed, m/s.
    pub speed_m_s: Option<f64>,
    /// From curbs, m.
    pub curb_clearance_m: f64,
    /// From objects, m.
    pub object_clearance_m: f64,
    /// Of the body, m.
    pub body_clearance_m: f64,
    /// How far a drawn line may be off, m.
    pub outline_m: Option<f64>,
    /// Share of the reach at which plans end.
    pub plan_until: f64,
    /// Sections close over ground already planned.
    pub reclose: bool,
    /// Hose, m.
    pub hose_m: Option<f64>,
    /// What time and liquid cost.
    pub costs: Costs,
}

/// One site.
#[derive(Debug, Clone, Serialize)]
pub struct SiteSheet {
    /// Site id.
    pub site: String,
    /// Name to show.
    pub name: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// Ground to be treated, m2.
    pub area_m2: f64,
    /// How far that may be off, m2; `None` without `outline`.
    pub area_error_m2: Option<f64>,
    /// Zones in the order of the file.
    pub zones: Vec<ZoneSheet>,
    /// Ground that cars are likely to stand on, m2; `None` where no row of stalls says how full it is.
    pub cars_expected_m2: Option<f64>,
    /// What was assumed, as clauses.
    pub assumed: Vec<String>,
    /// What to look at, as clauses.
    pub remarks: Vec<String>,
    /// One entry a rig.
    pub rigs: Vec<RigSheet>,
    /// For drawings, metres on the site's plane.
    #[serde(skip)]
    pub shapes: SiteShapes,
}

/// What a drawing shows beside zones and lanes.
#[derive(Debug, Clone, Default)]
pub struct SiteShapes {
    /// Edges of the pavement where wheels stop.
    pub curbs: Vec<[Xy; 2]>,
    /// What stands in the way.
    pub objects: Region,
}

/// One zone's ground.
#[derive(Debug, Clone, Serialize)]
pub struct ZoneSheet {
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
    /// How far the area may be off, m2.
    pub area_error_m2: Option<f64>,
    /// Length of all its edges, m.
    pub perimeter_m: f64,
    /// Holes in it.
    pub holes: usize,
    /// Longest straight line inside, along an edge or at a multiple of 15 degrees, m.
    pub longest_run_m: f64,
    /// Area that the contract names, m2.
    pub contract_area_m2: Option<f64>,
}

/// What one rig does on one site.
#[derive(Debug, Clone, Serialize)]
pub struct RigSheet {
    /// Rig id.
    pub rig: String,
    /// Keys of the fleet file that are missing for what is not here.
    pub missing: Vec<String>,
    /// Width of the boom, m.
    pub boom_m: f64,
    /// Ground reached, m2.
    pub reach_m2: Option<f64>,
    /// Ground within the clearance of curbs and objects, m2.
    pub edge_strip_m2: Option<f64>,
    /// Length of curbs along it, m.
    pub edge_strip_m: Option<f64>,
    /// Pieces of hand work, the greatest first: of boom zones, then hand zones.
    pub hand: Vec<HandSheet>,
    /// Walks among the hand zones, m.
    pub hand_walk_m: f64,
    /// Too narrow or too small for either, m2.
    pub slivers_m2: Option<f64>,
    /// The drive plan; `None` where keys are missing or nothing is reached.
    pub plan: Option<PlanSheet>,
    /// What it costs; `None` where there is nothing to do.
    pub cost: Option<CostSheet>,
    /// For maps, lon/lat degrees.
    #[serde(skip)]
    pub shapes: RigShapes,
}

/// One piece of hand work.
#[derive(Debug, Clone, Serialize)]
pub struct HandSheet {
    /// A zone treated by hand anyhow.
    pub hand_zone: bool,
    /// The boom reaches it, but the plan ends before it is done: part of the plan's gap.
    pub left_by_plan: bool,
    /// Ground, m2.
    pub area_m2: f64,
    /// Hose along ground from where the rig stands to the farthest spot, m; `None` where no way leads there.
    pub hose_m: Option<f64>,
    /// Where it is.
    #[serde(flatten)]
    pub place: Option<LonLat>,
}

/// A drive plan.
#[derive(Debug, Clone, Serialize)]
pub struct PlanSheet {
    /// How it was made.
    pub manner: Manner,
    /// Lanes.
    pub lanes: usize,
    /// Their length, m.
    pub length_m: f64,
    /// Length over reach / (boom - lap).
    pub length_ratio: f64,
    /// Time in lanes, s.
    pub spraying_s: Option<f64>,
    /// Time between lanes, s.
    pub turning_s: Option<f64>,
    /// In at least one swath, as the site's own engine says of the planned drive, m2.
    pub treated_m2: Option<f64>,
    /// In two or more lanes, the same, m2.
    pub overlap_m2: Option<f64>,
    /// Sum of the strips' areas on zones, the same, m2.
    pub swept_m2: Option<f64>,
    /// Reached ground that the sections as they switch leave, m2.
    pub gap_m2: f64,
    /// Sprayed outside the zones to be treated, m2.
    pub outside_m2: f64,
    /// Zone by zone, as the audit of the plan file says.
    pub zones: Vec<ZonePlan>,
    /// What stopping at other shares takes.
    pub stops: Vec<Stop>,
    /// In driving order.
    #[serde(skip)]
    pub driven: Vec<DrivenLane>,
}

/// One zone in a plan.
#[derive(Debug, Clone, Serialize)]
pub struct ZonePlan {
    /// Zone id.
    pub zone: String,
    /// In at least one swath, m2.
    pub treated_m2: f64,
    /// In two or more lanes, m2.
    pub overlap_m2: f64,
    /// Sum of the strips' areas on it, m2.
    pub swept_m2: f64,
}

/// One lane for maps.
#[derive(Debug, Clone)]
pub struct DrivenLane {
    /// The boom's middle at its ends.
    pub ends: [LonLat; 2],
    /// The way of the boom's middle, bends included.
    pub line: Vec<LonLat>,
    /// The lane on the site's plane.
    pub lane: Lane,
}

impl DrivenLane {
    /// The boom's middle so far along the lane: on a lot degrees are as straight as metres.
    #[must_use]
    pub fn at(&self, along_m: f64) -> LonLat {
        let stations = &self.lane.stations;
        let after = stations
            .partition_point(|station| station.along_m <= along_m)
            .clamp(1, stations.len() - 1);
        let (from, to) = (stations[after - 1].along_m, stations[after].along_m);
        let share = (along_m - from) / (to - from).max(f64::MIN_POSITIVE);
        let between = |a: f64, b: f64| a + share * (b - a);
        let [a, b] = [self.line[after - 1], self.line[after]];
        LonLat {
            lon_deg: between(a.lon_deg, b.lon_deg),
            lat_deg: between(a.lat_deg, b.lat_deg),
        }
    }
}

/// Polygons for maps.
#[derive(Debug, Clone)]
pub struct RigShapes {
    /// Reached.
    pub reach: geo::MultiPolygon<f64>,
    /// Edge strip.
    pub edge_strip: geo::MultiPolygon<f64>,
    /// Hand work, as in `hand`.
    pub hand: Vec<geo::MultiPolygon<f64>>,
    /// Reached ground left by the plan.
    pub gap: geo::MultiPolygon<f64>,
}

impl Default for RigShapes {
    fn default() -> Self {
        let none = || geo::MultiPolygon(Vec::new());
        Self {
            reach: none(),
            edge_strip: none(),
            hand: Vec::new(),
            gap: none(),
        }
    }
}

/// What the contractor's own nights say.
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
    /// What neighbouring lanes lap, m.
    pub lap_m: Option<Observed>,
    /// Of a turn between two passes, s.
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
