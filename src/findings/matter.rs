//! What a finding can be about: the list of all kinds, each with its figures, and its code.

use crate::geometry::place::Instant;
use serde::Serialize;

/// How a log leaves out what happened: by when its logger writes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeftOut {
    /// After a time.
    Time {
        /// Between moving fixes, s.
        interval_s: f64,
    },
    /// After a distance.
    Distance {
        /// Between moving fixes, m.
        step_m: f64,
    },
    /// When a section switches.
    OnChange {
        /// Longest silence that was followed, s.
        longest_s: f64,
        /// Longest way in such a silence, m.
        longest_m: f64,
    },
}

/// What a finding is about. Areas in m2, liquid in L, rates in mL/m2, shares as fractions.
#[derive(Debug, Clone, PartialEq)]
pub enum Matter {
    /// Sites that no rig treated: counted in one line.
    NotVisited {
        /// Their ids.
        sites: Vec<String>,
        /// Liquid that fell on their zones all the same, too little ground for a treatment.
        some_l: Option<f64>,
        /// Logs of some rig are missing, so "no treatment in the logs received".
        logs_missing: bool,
    },
    /// Ordered work that the logs do not show, or hardly.
    NotDone {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Zones, by id.
        zones: Vec<String>,
        /// Their ground, m2.
        area_m2: f64,
        /// Liquid that fell on it all the same, too little ground for a treatment.
        some_l: Option<f64>,
        /// To be finished by, the earliest of the orders'.
        by: Option<Instant>,
        /// Logs of some rig are missing, so "no treatment in the logs received".
        logs_missing: bool,
        /// The ground was treated later in the night.
        treated_later: bool,
    },
    /// Ordered ground that was treated in the same night outside its time.
    OutsideTime {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Their sites.
        sites: Vec<String>,
        /// Their ground, m2.
        area_m2: f64,
        /// Of the first: how long before its time it was begun (negative), or after it finished, s.
        off_s: f64,
        /// What must be added to the rig's clock so that all of its orders fit.
        shift: Option<ShiftTold>,
    },
    /// A rig that was out while no other was, and would not have been with the night's time zone off its clock.
    ClockApart {
        /// That shift.
        shift: ShiftTold,
        /// Orders that it brings into their time.
        mended: usize,
    },
    /// Treated without an order.
    NotOrdered {
        /// Number of the application.
        application: usize,
        /// Zones, by id.
        zones: Vec<String>,
        /// Treated ground, m2; `None` where the logs cannot tell.
        treated_m2: Option<f64>,
        /// Liquid on it.
        volume_l: Option<f64>,
    },
    /// Ordered work was finished after its time.
    Late {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Greatest delay, s.
        late_s: f64,
        /// When that work was finished.
        finished: Instant,
        /// When it was to be finished.
        by: Instant,
        /// Longest delay that does not count, s.
        limit_s: f64,
    },
    /// Another product was laid than ordered.
    OtherProduct {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Product ordered.
        ordered: String,
        /// Product laid, as the logs and the fleet file say.
        applied: String,
        /// Ground with it, m2.
        area_m2: f64,
    },
    /// Orders whose time no log covers: counted in one line.
    OutsideLogs {
        /// The orders, by number, else by line.
        orders: Vec<String>,
    },
    /// Too little of the zone inside its edge was treated.
    ThinCover {
        /// Treated share of the zone inside its edge.
        treated_share: f64,
        /// Treated share of all of the zone.
        zone_share: Option<f64>,
        /// Least share.
        limit: f64,
        /// Ground missed inside the edge.
        gap_m2: f64,
    },
    /// Patches worth going back for.
    BarePatch {
        /// How many.
        count: usize,
        /// Their area together.
        area_m2: f64,
        /// The greatest one.
        greatest_m2: f64,
        /// Probability that the greatest one is truly bare.
        probability: f64,
        /// 90 % interval of what is bare of it inside the edge.
        interval_m2: (f64, f64),
        /// Smallest patch that counts.
        limit_m2: f64,
        /// Most of the patches' ground by cause.
        cause: GapCause,
        /// Which sections were closed, where that is the cause.
        closed: Option<ClosedSections>,
        /// A dropout passes nearby: the rig may have treated it.
        near_dropout: bool,
        /// Treated share of the zone inside its edge.
        treated_share: Option<f64>,
    },
    /// Sections were open without liquid.
    DryRun {
        /// How long, all stretches together.
        seconds: f64,
        /// How far.
        length_m: f64,
        /// How many stretches.
        count: usize,
        /// Shortest stretch that counts, s.
        limit_s: f64,
    },
    /// Too much ground was treated twice.
    Doubled {
        /// Overlap as a share of the zone.
        overlap_share: f64,
        /// Ground of whole passes that were driven again, m2.
        repeated_m2: f64,
        /// Greatest share.
        limit: f64,
        /// Liquid laid on ground already treated.
        extra_l: Option<f64>,
    },
    /// The mean rate is outside the band around the target.
    OffRate {
        /// Swept rate.
        rate_ml_m2: f64,
        /// Target.
        target_ml_m2: f64,
        /// Half-width of the band, as a fraction.
        band: f64,
    },
    /// The mean may be right, but the liquid lies unevenly.
    Uneven {
        /// Share of the treated ground with too little.
        share_low: f64,
        /// Greatest share with too little.
        limit_low: f64,
        /// Share of the treated ground with too much.
        share_high: f64,
        /// Greatest share with too much.
        limit_high: f64,
    },
    /// Keep-off ground was sprayed.
    KeepOffWet {
        /// Ground sprayed, beyond the position error.
        area_m2: f64,
        /// Smallest area that counts.
        limit_m2: f64,
        /// Liquid on it.
        volume_l: Option<f64>,
    },
    /// Liquid was sprayed away from every zone.
    Strayed {
        /// Liquid outside all zones, beyond the position error.
        volume_l: f64,
        /// Its share of what the rig sprayed.
        share: f64,
        /// Greatest share.
        limit: f64,
    },
    /// Liquid ran while the rig stood.
    ParkedFlow {
        /// Liquid.
        volume_l: f64,
        /// How long.
        seconds: f64,
        /// Least volume that counts.
        limit_l: f64,
    },
    /// A section never opened all night.
    NeverOpened {
        /// Which.
        closed: ClosedSections,
        /// How long the others sprayed, s.
        others_open_s: f64,
    },
    /// Silence in the log while the rig was at work there.
    DropoutNearby {
        /// How many.
        count: usize,
        /// Seconds together.
        seconds: f64,
        /// Ground told as unlogged.
        unlogged_m2: f64,
        /// Liquid that the total gained meanwhile; `None` where there is no total.
        volume_l: Option<f64>,
    },
    /// A towed boom sprayed in reverse in turns: where it was is not known well.
    ReverseTowed {
        /// Ground of the site's zones in such swaths.
        area_m2: f64,
        /// Patches within their reach that make no finding.
        patches: usize,
        /// Their area together.
        patches_m2: f64,
    },
    /// The controller was set to another rate than the target.
    SetRateDiffers {
        /// Set on the controller, most of the spraying time.
        set_ml_m2: f64,
        /// Target.
        target_ml_m2: f64,
        /// Greatest difference, as a fraction.
        limit: f64,
    },
    /// Liquid passed the meter with every section closed.
    ClosedFlow {
        /// Liquid.
        volume_l: f64,
        /// Its share of the metered liquid.
        share: f64,
        /// Greatest share.
        limit: f64,
    },
    /// A coarse total may hide a leak with every section closed among what was sprayed.
    PerhapsLeaked {
        /// Best guess.
        volume_l: f64,
        /// 95 % upper bound.
        at_most_l: f64,
        /// Time with every section closed, s.
        closed_s: f64,
        /// Least volume that counts.
        limit_l: f64,
    },
    /// Liquid comes late at the starts, with a meter that is prompt.
    SlowStart {
        /// How much later than the switch, s.
        late_s: f64,
        /// Bouts that it comes from.
        closings: usize,
    },
    /// What a rig laid on ground that was treated already.
    LaidTwice {
        /// Liquid.
        volume_l: f64,
        /// Its share of the rig's liquid on zones.
        share: f64,
    },
    /// Patches of a round that were treated later in the night.
    TouchedUp {
        /// How many.
        count: usize,
        /// Their area together.
        area_m2: f64,
        /// When that was finished.
        covered: Instant,
        /// By which rig.
        rig: String,
    },
    /// An order was done in part.
    OrderInPart {
        /// The order, by number, else by line.
        order: String,
        /// Zones that are not done, each with its treated share (inside its edge where that is known).
        zones: Vec<(String, Option<f64>)>,
        /// Treated share from which a zone is done.
        limit: f64,
        /// Why the greatest of them is not.
        reason: InPartReason,
    },
    /// Orders that are done as far as the logs can show it: counted in one line.
    OrdersNotShown {
        /// The orders, by number, else by line.
        orders: Vec<String>,
        /// Ground of which logs show no coverage, as `site/zone`.
        zones: Vec<String>,
    },
    /// Ground that matters more than other and that positions cannot judge.
    CheckOnFoot {
        /// As `site/zone`.
        zones: Vec<String>,
        /// Its area.
        area_m2: f64,
    },
    /// A drawn ring was repaired.
    RingRepaired {
        /// What was wrong: `crosses itself`, `not closed`, `drawn twice`, ...
        fault: String,
        /// Area as drawn (sum of signed areas), m2.
        before_m2: f64,
        /// Area after.
        after_m2: f64,
    },
    /// A sites file remark that changes no area: missing `use`, zones that overlap, ...
    SiteRemark {
        /// What, as a clause: `has no use; read as a lot`.
        what: String,
        /// Feature number from 0.
        feature: usize,
    },
    /// A point, a feature or a whole file could not be used.
    InputSkipped {
        /// File name.
        file: String,
        /// Line of the first, where known.
        line: Option<u64>,
        /// How many points or features; 0 for a whole file.
        count: u64,
        /// Why, as a clause.
        why: String,
    },
    /// Readings of a log that say nothing, or not enough; their points stay.
    ReadingOdd {
        /// File name.
        file: String,
        /// Line of the first.
        line: Option<u64>,
        /// How many readings.
        count: u64,
        /// What, as a clause.
        what: String,
    },
    /// Orders whose times cannot be read: without them nothing can be late.
    TimesUnread {
        /// File name.
        file: String,
        /// Line of the first.
        line: u64,
        /// How many orders.
        count: u64,
        /// Why the first cannot be read, as a clause.
        why: String,
    },
    /// A channel is mapped without a unit and the log gives none either.
    UnitTaken {
        /// File name.
        file: String,
        /// The channel's name.
        channel: &'static str,
        /// The unit taken.
        unit: &'static str,
        /// What the readings come to in that unit, as a fraction of the target; `None` where there is no
        /// target or nothing to tell it by.
        of_target: Option<f64>,
        /// A unit that fits the target, and the fraction with it, where the one taken does not.
        better: Option<(&'static str, f64)>,
    },
    /// A boom wider than those of the trade: a slip of the unit?
    WideBoom {
        /// Sprayed width of the whole boom, m.
        width_m: f64,
        /// Number of its sections.
        sections: usize,
        /// Width from which on it is asked about, m.
        limit_m: f64,
    },
    /// A log's clock needs a second look: no zone, backwards, another day.
    ClockOdd {
        /// File name.
        file: String,
        /// Line of the first.
        line: Option<u64>,
        /// How many fixes.
        count: u64,
        /// What, as a clause.
        what: String,
    },
    /// Positions that cannot be: jumps that no rig can make.
    JumpsDropped {
        /// How many fixes were left out.
        count: u64,
        /// Speed limit, m/s.
        limit_m_s: f64,
    },
    /// The fleet file moves the logged times.
    ClockShifted {
        /// Added to them, s.
        offset_s: f64,
    },
    /// Coordinates were logged with few decimals.
    RoundedPositions {
        /// Decimals of degrees.
        decimals: u32,
        /// Their step north, m.
        step_m: f64,
        /// Rounding moves 95 % of the positions by less, m.
        radius_m: f64,
    },
    /// What a logger that does not write every second or two cannot show.
    SparseLog {
        /// When it writes, with the figures that tell how much.
        left_out: LeftOut,
    },
    /// The meter reads late; its readings were moved.
    MeterLate {
        /// Lateness, s.
        late_s: f64,
        /// Half of its 95 % interval, s.
        within_s: f64,
        /// Bouts that it comes from.
        closings: usize,
    },
    /// Ends of bouts that read dry for less than the meter may be late: not judged.
    EndsNotJudged {
        /// Way driven there, m.
        length_m: f64,
        /// The meter may be so late, s.
        late_s: f64,
    },
    /// Places that the receiver disowns: bridged by a curve, or left where they were logged.
    PlacesBridged {
        /// Fixes whose place is that of the curve.
        bridged: usize,
        /// Fixes in rows too long for one.
        left: usize,
        /// Rows.
        rows: usize,
        /// Longest bridge, s.
        longest_s: f64,
    },
    /// A rig sprayed where its gear stays uncertain.
    GearUnsure {
        /// Ground of the site's zones in such swaths.
        area_m2: f64,
        /// Patches within their reach that make no finding.
        patches: usize,
        /// Their area together.
        patches_m2: f64,
    },
    /// Parked, the receiver drifted by more than the position error that is told or assumed.
    PositionDrifts {
        /// What the drift comes to (95 %), m.
        shown_m: f64,
        /// Position error of the fleet file, m; `None` where none is told, and the drift is used.
        told_m: Option<f64>,
    },
    /// Outlines lay in a heap on a site: its grounds are made of cells.
    GroundByCells {
        /// Side of a cell, m.
        cell_m: f64,
        /// Outlines are nowhere farther off than this for it, m.
        off_m: f64,
    },
    /// Readings of the meter's total that cannot be.
    MeterOdd {
        /// Readings that the total came back from: left out.
        slips: usize,
        /// Rises that no pump makes: not counted.
        jumps: usize,
        /// Liquid that these, and what resets began with, would come to.
        uncounted_l: f64,
    },
    /// One rig id in two places at once.
    SharedRigId {
        /// Logs of the second run.
        logs: Vec<String>,
        /// Greatest distance at one time, m.
        distance_m: f64,
    },
    /// A fleet rig without a log.
    NoLog,
    /// The log is too coarse for coverage: visits and volume only.
    CoarseLog {
        /// Median time between moving fixes, s.
        interval_s: f64,
        /// Longest that can show coverage, s.
        limit_s: f64,
    },
    /// No flow, volume or rate in the log: treated by valve state only.
    ValveStateOnly,
}

/// Why a zone of an order is not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InPartReason {
    /// Nothing of it was treated.
    Untreated,
    /// A patch of it is open.
    Patch,
    /// Too little of it was treated, mostly for this cause.
    Thin(GapCause),
    /// The log cannot tell.
    NotKnown,
}

/// What must be added to a rig's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftTold {
    /// To what its log says now, s.
    pub add_s: f64,
    /// In all, with what the fleet file already adds, s: for `clock_offset`.
    pub offset_s: f64,
    /// Other whole hours that fit as well.
    pub others: usize,
}

/// Why a gap is a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GapCause {
    /// No boom passed over it.
    NeverReached,
    /// No boom passed over it, and the rigs' paths bend round it.
    BentRound,
    /// A boom passed with every section closed.
    SprayingOff,
    /// A boom passed with this section closed and others open.
    Closed,
    /// A boom passed with the section open, without liquid.
    Dry,
    /// The log is silent there, and no total says that no liquid flowed meanwhile.
    Silence,
    /// Nobody told the rig's position error, and with that of a phone there may be no gap.
    ErrorUntold,
}

impl GapCause {
    /// Ground that somebody may be sent back to for this cause: a driver who bends round something saw it, what lies in
    /// a silence may have been treated, and a setting that was left out is no reason for a trip.
    #[must_use]
    pub fn is_for_a_trip(self) -> bool {
        !matches!(self, Self::BentRound | Self::Silence | Self::ErrorUntold)
    }
}

/// Sections of a boom that were closed over some ground while others were open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClosedSections {
    /// Numbers from 1, left to right seen forward.
    pub numbers: Vec<usize>,
    /// How many the boom has.
    pub of: usize,
    /// On which side of the boom they lie.
    pub side: Side,
    /// By the log the rig sprayed with them later on.
    pub again: bool,
}

/// A side of a boom, seen forward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Left of its middle.
    Left,
    /// Over its middle, or on both sides of it.
    Middle,
    /// Right of its middle.
    Right,
}

impl Matter {
    /// The sections that it is about.
    #[must_use]
    pub fn closed(&self) -> Option<&ClosedSections> {
        match self {
            Self::BarePatch { closed, .. } => closed.as_ref(),
            Self::NeverOpened { closed, .. } => Some(closed),
            _ => None,
        }
    }

    /// The code, as in `audit.json`.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NotVisited { .. } => "not_visited",
            Self::NotDone { .. } => "not_done",
            Self::OutsideTime { .. } => "outside_time",
            Self::ClockApart { .. } => "clock_apart",
            Self::NotOrdered { .. } => "not_ordered",
            Self::Late { .. } => "late",
            Self::OtherProduct { .. } => "other_product",
            Self::OutsideLogs { .. } => "outside_logs",
            Self::ThinCover { .. } => "thin_cover",
            Self::BarePatch { .. } => "bare_patch",
            Self::DryRun { .. } => "dry_run",
            Self::Doubled { .. } => "doubled",
            Self::OffRate { .. } => "off_rate",
            Self::Uneven { .. } => "uneven",
            Self::KeepOffWet { .. } => "keep_off_wet",
            Self::Strayed { .. } => "strayed",
            Self::ParkedFlow { .. } => "parked_flow",
            Self::NeverOpened { .. } => "never_opened",
            Self::DropoutNearby { .. } => "dropout_nearby",
            Self::ReverseTowed { .. } => "reverse_towed",
            Self::SetRateDiffers { .. } => "set_rate_differs",
            Self::ClosedFlow { .. } => "closed_flow",
            Self::PerhapsLeaked { .. } => "perhaps_leaked",
            Self::SlowStart { .. } => "slow_start",
            Self::LaidTwice { .. } => "laid_twice",
            Self::TouchedUp { .. } => "touched_up",
            Self::OrderInPart { .. } => "order_in_part",
            Self::OrdersNotShown { .. } => "orders_not_shown",
            Self::CheckOnFoot { .. } => "check_on_foot",
            Self::RingRepaired { .. } => "ring_repaired",
            Self::SiteRemark { .. } => "site_remark",
            Self::InputSkipped { .. } => "input_skipped",
            Self::ReadingOdd { .. } => "reading_odd",
            Self::TimesUnread { .. } => "times_unread",
            Self::UnitTaken { .. } => "unit_taken",
            Self::WideBoom { .. } => "wide_boom",
            Self::ClockOdd { .. } => "clock_odd",
            Self::JumpsDropped { .. } => "jumps_dropped",
            Self::ClockShifted { .. } => "clock_shifted",
            Self::RoundedPositions { .. } => "rounded_positions",
            Self::SparseLog { .. } => "sparse_log",
            Self::MeterLate { .. } => "meter_late",
            Self::EndsNotJudged { .. } => "ends_not_judged",
            Self::PlacesBridged { .. } => "places_bridged",
            Self::GearUnsure { .. } => "gear_unsure",
            Self::PositionDrifts { .. } => "position_drifts",
            Self::GroundByCells { .. } => "ground_by_cells",
            Self::MeterOdd { .. } => "meter_odd",
            Self::SharedRigId { .. } => "shared_rig_id",
            Self::NoLog => "no_log",
            Self::CoarseLog { .. } => "coarse_log",
            Self::ValveStateOnly => "valve_state_only",
        }
    }
}
