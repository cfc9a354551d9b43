//! What became of a site: the output of its work, in metres on its plane, with indices instead of names.
//! Verdicts and drawings read it; documents are made from it last.

use crate::geometry::overlay::Region;
use crate::geometry::place::{Instant, LonLat};
use crate::geometry::plane::Xy;
use crate::result::{Dose, Driving, OrderStatus, SiteStrips, VisitKind, ZoneVerdict, deciding};
use crate::site::coverage::{PatchGround, ZoneCover};
use crate::site::dose::picture::DosePicture;
use std::collections::BTreeMap;
use std::ops::Range;

/// What became of a site.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Of each leg.
    pub legs: Vec<LegOutcome>,
    /// Of each zone, when there is an application: what its shape alone decides.
    pub frames: Vec<FrameOutcome>,
    /// Greatest position error of the rigs that the figures rest on, m.
    pub position_m: f64,
    /// Side of the cells that its grounds are made of, m, where outlines lie in a heap; `None`: they are exact.
    pub cell_m: Option<f64>,
    /// By leg, then in order of time.
    pub visits: Vec<Visit>,
    /// In order of time.
    pub applications: Vec<Application>,
    /// Sprayed keep-off ground.
    pub keep_off: Vec<KeepOffFact>,
    /// Open sections without liquid.
    pub dry: Vec<DryFact>,
    /// Silences at work.
    pub silences: Vec<SilenceFact>,
    /// What controllers were set to.
    pub set_rates: Vec<SetRateFact>,
    /// Swaths that towed booms laid in reverse in turns.
    pub reverse_towed: Vec<ReverseTowedFact>,
    /// What became of the orders, in the order of the rules.
    pub orders: Vec<OrderFact>,
    /// What was treated without an order.
    pub not_ordered: Vec<NotOrderedFact>,
    /// The strips, when they were to be kept.
    pub strips: Option<SiteStrips>,
    /// How often the general overlay engine had to do the work of the house's: for diagnostics, no figure rests on it.
    pub fallbacks: u32,
}

/// What one leg brought.
#[derive(Debug, Clone)]
pub struct LegOutcome {
    /// Number of the run.
    pub run: usize,
    /// Liquid on each zone of the site, whether or not the site was the nearest, L.
    pub zones_l: Vec<f64>,
    /// Liquid on ground of blocked zones of another time, L.
    pub lifted_l: f64,
    /// Width of its whole boom, m.
    pub boom_m: f64,
    /// Litres are known.
    pub metered: bool,
    /// Of each section, left to right: time with liquid in steps that were driven here, s.
    pub sections_wet_s: Vec<f64>,
    /// First and last liquid of the boom here, on whatever ground; `None` where there was none.
    pub wet: Option<(Instant, Instant)>,
}

/// What a zone's shape and the position error decide.
#[derive(Debug, Clone)]
pub struct FrameOutcome {
    /// Ground farther than the edge distance from the zone's line.
    pub core: Region,
    /// Too narrow for a verdict on areas.
    pub narrow: bool,
}

/// One rig's unbroken presence.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Index of the leg.
    pub leg: usize,
    /// Fixes of the leg from arrival to departure.
    pub fixes: Range<usize>,
    /// Kind.
    pub kind: VisitKind,
    /// Arrival.
    pub arrive: Instant,
    /// Departure.
    pub depart: Instant,
    /// First and last liquid on ground to treat.
    pub spraying: Option<(Instant, Instant)>,
    /// Time with liquid on ground to treat, s.
    pub wet_s: f64,
    /// Distance driven with liquid there, m.
    pub wet_length_m: f64,
    /// Passes over it.
    pub passes: usize,
    /// Hand gun, L; `None` where the log has no gun channel.
    pub gun_l: Option<f64>,
    /// Liquid by product on ground to treat and through the gun, L.
    pub products: Vec<(Option<String>, Option<f64>)>,
}

/// All visits that together treat the site once.
#[derive(Debug, Clone)]
pub struct Application {
    /// First liquid.
    pub start: Instant,
    /// Last liquid.
    pub end: Instant,
    /// Indices of the legs that took part, in order.
    pub legs: Vec<usize>,
    /// Indices of its visits, in order of time.
    pub visits: Vec<usize>,
    /// Where its first rig was at the start.
    pub place: Option<LonLat>,
    /// Zones to be treated, in the order of the site.
    pub zones: Vec<ZoneOutcome>,
    /// Patches that one of its visits covered.
    pub covered: Vec<Covered>,
    /// Where its booms drove with liquid, in order of the legs, then of time.
    pub lines: Vec<PassLine>,
    /// How it was driven.
    pub driving: Driving,
    /// How its liquid lies, to be drawn; `None` without a target or litres.
    pub dose: Option<DosePicture>,
}

/// Patches of an application that a later visit of it covered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covered {
    /// Index of the visit.
    pub visit: usize,
    /// How many.
    pub count: usize,
    /// Their area together, m2.
    pub area_m2: f64,
}

/// Where the middle of the whole boom drove in one pass: a closed section does not bend it.
#[derive(Debug, Clone)]
pub struct PassLine {
    /// Index of the leg.
    pub leg: usize,
    /// Its first moment.
    pub start: Instant,
    /// Its last moment.
    pub end: Instant,
    /// It was driven in reverse.
    pub reverse: bool,
    /// Positions on the site's plane, simplified to 0.1 m.
    pub middle: Vec<Xy>,
}

/// One zone in one application.
#[derive(Debug, Clone)]
pub struct ZoneOutcome {
    /// Index of the zone.
    pub zone: usize,
    /// What the logs can tell of it.
    pub verdict: ZoneVerdict,
    /// Area of the zone, m2.
    pub area_m2: f64,
    /// Its ground by what became of it; the overlap as it is drawn, simplified.
    pub cover: ZoneCover,
    /// Areas, where the logs can show them.
    pub areas: Option<ZoneAreas>,
    /// Ground inside the edge, m2.
    pub core_m2: f64,
    /// Liquid on the zone's ground, L; `None` where it is not metered.
    pub litres: Option<f64>,
    /// Rate asked for, mL/m2.
    pub target_ml_m2: Option<f64>,
    /// Index of the order it was treated under.
    pub order: Option<usize>,
    /// Indices of the legs that swept a share of it worth naming.
    pub legs: Vec<usize>,
    /// Dose on the ground.
    pub dose: Option<Dose>,
    /// Of each patch of the cover: likely enough for a finding.
    pub patch_likely: Vec<bool>,
    /// A point inside each patch of the cover, in the same order.
    pub patch_places: Vec<LonLat>,
}

/// Areas and lengths of a zone in one application.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneAreas {
    /// In at least one swath, m2.
    pub treated_m2: f64,
    /// Neither treated nor unlogged, m2.
    pub gap_m2: f64,
    /// Perhaps treated in a silence, m2.
    pub unlogged_m2: f64,
    /// In two passes or more, m2.
    pub overlap_m2: f64,
    /// Of whole passes that were driven again, m2; `None` where passes are not kept apart.
    pub repeated_m2: Option<f64>,
    /// Sum of the strips' areas on the zone, m2.
    pub swept_m2: f64,
    /// Distance driven with liquid on the zone, m.
    pub wet_length_m: f64,
}

impl ZoneOutcome {
    /// The patches that are likely enough for a finding, each with a point inside it.
    pub fn likely_patches(&self) -> impl Iterator<Item = (&PatchGround, &LonLat)> {
        let patches = self.cover.patches.iter().zip(&self.patch_places);
        let patches = patches.zip(&self.patch_likely);
        patches
            .filter(|(_, likely)| **likely)
            .map(|(patch, _)| patch)
    }

    /// Areas can be judged.
    #[must_use]
    pub fn has_verdict(&self) -> bool {
        self.verdict == ZoneVerdict::Area
    }

    /// Litres over some ground, mL/m2.
    #[must_use]
    pub fn rate_ml_m2(&self, ground_m2: f64) -> Option<f64> {
        let litres = self.litres.filter(|_| ground_m2 > 0.0)?;
        Some(1000.0 * litres / ground_m2)
    }

    /// Litres over the sum of the strips' areas, mL/m2.
    #[must_use]
    pub fn rate_swept_ml_m2(&self) -> Option<f64> {
        self.rate_ml_m2(self.areas?.swept_m2)
    }

    /// Treated share of the whole zone.
    #[must_use]
    pub fn treated_share(&self) -> Option<f64> {
        Some(self.areas?.treated_m2 / self.area_m2)
    }
}

impl Outcome {
    /// Indices of visits that belong to no application, in order of arrival.
    #[must_use]
    pub fn other_visits(&self) -> Vec<usize> {
        let grouped = |index: &usize| {
            self.applications
                .iter()
                .any(|app| app.visits.contains(index))
        };
        let mut others: Vec<usize> = (0..self.visits.len())
            .filter(|index| !grouped(index))
            .collect();
        others.sort_by_key(|&index| self.visits[index].arrive);
        others
    }

    /// The application that decides what is left to do on a zone ([`deciding`]).
    #[must_use]
    pub fn last_on(&self, zone: usize) -> Option<usize> {
        let share = |application: &Application| {
            let of = application.zones.iter().find(|of| of.zone == zone);
            of.and_then(ZoneOutcome::treated_share)
        };
        deciding(self.applications.iter().map(share))
    }
}

/// Keep-off ground that one rig sprayed.
#[derive(Debug, Clone)]
pub struct KeepOffFact {
    /// Index of the leg.
    pub leg: usize,
    /// Index of the zone.
    pub zone: usize,
    /// Ground sprayed, m2.
    pub area_m2: f64,
    /// Probability that the smallest area that counts was truly sprayed.
    pub probability: f64,
    /// Liquid on the zone's whole ground, L; `None` where nothing is metered.
    pub volume_l: Option<f64>,
    /// First liquid on it.
    pub start: Instant,
    /// A point of the sprayed ground.
    pub place: LonLat,
    /// The ground sprayed, as far as it is sure.
    pub region: Region,
}

/// A stretch with sections open, the rig moving and no liquid.
#[derive(Debug, Clone)]
pub struct DryFact {
    /// Index of the leg.
    pub leg: usize,
    /// How long, s.
    pub seconds: f64,
    /// How far, m.
    pub length_m: f64,
    /// Ground under the open sections, m2.
    pub area_m2: f64,
    /// When it began.
    pub start: Instant,
    /// Where it began.
    pub place: LonLat,
}

/// A silence of a rig at work.
#[derive(Debug, Clone)]
pub struct SilenceFact {
    /// Index of the leg.
    pub leg: usize,
    /// How long, s.
    pub seconds: f64,
    /// What the total gained, L.
    pub volume_l: Option<f64>,
    /// Ground of the site's zones reported as unlogged for it, m2.
    pub unlogged_m2: f64,
    /// Last fix before it.
    pub start: Instant,
    /// Where that was.
    pub place: LonLat,
}

/// What a controller was set to over most of the spraying of one zone in one visit.
#[derive(Debug, Clone)]
pub struct SetRateFact {
    /// Index of the leg.
    pub leg: usize,
    /// Index of the zone.
    pub zone: usize,
    /// Median over spraying time, mL/m2.
    pub set_ml_m2: f64,
    /// Rate asked for on the zone, mL/m2.
    pub target_ml_m2: f64,
    /// When spraying the zone began.
    pub start: Instant,
    /// Where that was.
    pub place: LonLat,
}

/// What one rig laid with its trailer backing up in a turn.
#[derive(Debug, Clone)]
pub struct ReverseTowedFact {
    /// Index of the leg.
    pub leg: usize,
    /// Ground of the site's zones in such swaths, m2.
    pub area_m2: f64,
    /// Patches within their reach that would have made a finding.
    pub patches: usize,
    /// Their area together, m2.
    pub patches_m2: f64,
    /// When the first began.
    pub start: Instant,
    /// A point of the ground.
    pub place: LonLat,
}

/// How far areas may differ where another processor rounds the last digit differently, m2: by the overlay's grid along
/// an outline of 3 km (tolerance).
pub const ROUNDED_M2: f64 = 1e-4;
/// The same of probabilities, which come from 64 draws on a raster: one draw is 0.016 (tolerance).
pub const ROUNDED_PROBABILITY: f64 = 0.02;

/// What became of one order.
#[derive(Debug, Clone)]
pub struct OrderFact {
    /// Index of the application that served it.
    pub application: Option<usize>,
    /// Its boom zones and what became of each.
    pub zones: Vec<(usize, ZoneState)>,
    /// What became of it as a whole; that its time lies outside the logs is for the night to say.
    pub status: OrderStatus,
    /// What would have become of it with every draw and area at the end of its rounding, either way.
    pub near: [OrderStatus; 2],
    /// Treated share of the ground that areas can be told of.
    pub treated_share: Option<f64>,
    /// When the work was finished.
    pub finished: Option<Instant>,
    /// Its ground of which the logs show no coverage: by hand, or too narrow.
    pub not_shown: Vec<usize>,
    /// Ground treated with another product than ordered, m2, by product.
    pub other_products: BTreeMap<String, f64>,
}

/// What became of one zone of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ZoneState {
    /// Treated.
    Done,
    /// Partly treated.
    InPart,
    /// Not treated, or nearly so.
    NotDone,
    /// Nothing can be told.
    NotKnown,
}

/// Ground treated without an order.
#[derive(Debug, Clone)]
pub struct NotOrderedFact {
    /// Index of the application.
    pub application: usize,
    /// Its zones; all of the application's when nothing of it was ordered.
    pub zones: Vec<usize>,
    /// No zone of the application was ordered.
    pub whole: bool,
}
