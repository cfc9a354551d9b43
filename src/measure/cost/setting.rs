//! The settings that move a figure: each with its key, and its value as one draw of them.

use crate::input::fleet::{Costs, Product, Rig, Spread};

/// A setting that may have a spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Setting {
    Speed,
    TurnTime,
    OverlapBeyond,
    Applied,
    Occupied,
    HandRate,
    WalkRate,
    StepTime,
    HandSetup,
    FillRate,
    FillTrip,
    Heel,
    Rinse,
    PerVisit,
    Deadhead,
    Between,
    Crew,
    CrewHour,
    RigHour,
    Price,
    Trip,
    Overhead,
    Insurance,
    Margin,
}

impl Setting {
    /// All of them, in the order in which the sheet lists them.
    pub(super) const ALL: [Self; 24] = [
        Self::Speed,
        Self::TurnTime,
        Self::OverlapBeyond,
        Self::Applied,
        Self::Occupied,
        Self::HandRate,
        Self::WalkRate,
        Self::StepTime,
        Self::HandSetup,
        Self::FillRate,
        Self::FillTrip,
        Self::Heel,
        Self::Rinse,
        Self::PerVisit,
        Self::Deadhead,
        Self::Between,
        Self::Crew,
        Self::CrewHour,
        Self::RigHour,
        Self::Price,
        Self::Trip,
        Self::Overhead,
        Self::Insurance,
        Self::Margin,
    ];

    /// Its key in the fleet file; those of rigs and products with their table.
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Speed => "speed",
            Self::TurnTime => "turn_time",
            Self::OverlapBeyond => "overlap_beyond",
            Self::Applied => "applied",
            Self::Occupied => "occupied",
            Self::HandRate => "hand_rate",
            Self::WalkRate => "walk_rate",
            Self::StepTime => "step_time",
            Self::HandSetup => "hand_setup",
            Self::FillRate => "fill_rate",
            Self::FillTrip => "fill_trip",
            Self::Heel => "heel",
            Self::Rinse => "rinse",
            Self::PerVisit => "per_visit",
            Self::Deadhead => "deadhead",
            Self::Between => "between",
            Self::Crew => "crew",
            Self::CrewHour => "crew_hour",
            Self::RigHour => "rig.rig_hour",
            Self::Price => "product.price",
            Self::Trip => "trip",
            Self::Overhead => "overhead",
            Self::Insurance => "insurance",
            Self::Margin => "margin",
        }
    }
}

/// What the fleet file says of each setting.
#[derive(Debug, Clone)]
pub(super) struct Known([Option<Spread>; Setting::ALL.len()]);

impl Known {
    /// Of one rig with its product.
    pub(super) fn of(costs: &Costs, rig: &Rig, product: Option<&Product>) -> Self {
        Self(Setting::ALL.map(|setting| match setting {
            Setting::Speed => costs.speed_m_s,
            Setting::TurnTime => costs.turn_time_s,
            Setting::OverlapBeyond => costs.overlap_beyond,
            Setting::Applied => costs.applied,
            Setting::Occupied => costs.occupied,
            Setting::HandRate => costs.hand_rate_m2_s,
            Setting::WalkRate => costs.walk_rate_m_s,
            Setting::StepTime => costs.step_time_s,
            Setting::HandSetup => costs.hand_setup_s,
            Setting::FillRate => costs.fill_rate_l_s,
            Setting::FillTrip => costs.fill_trip_s,
            Setting::Heel => costs.heel_l,
            Setting::Rinse => costs.rinse_l,
            Setting::PerVisit => costs.per_visit_s,
            Setting::Deadhead => costs.deadhead_s,
            Setting::Between => costs.between_s,
            Setting::Crew => costs.crew,
            Setting::CrewHour => costs.crew_hour,
            Setting::RigHour => rig.rig_hour,
            Setting::Price => product.and_then(|product| product.price_per_l),
            Setting::Trip => costs.trip,
            Setting::Overhead => costs.overhead,
            Setting::Insurance => costs.insurance,
            Setting::Margin => costs.margin,
        }))
    }

    /// One setting.
    pub(super) fn get(&self, setting: Setting) -> Option<Spread> {
        self.0[setting as usize]
    }

    /// Replaces one setting.
    pub(super) fn set(&mut self, setting: Setting, spread: Option<Spread>) {
        self.0[setting as usize] = spread;
    }

    /// All at their likely values.
    pub(super) fn likely(&self) -> Values {
        Values(self.0.map(|spread| spread.map(|spread| spread.likely)))
    }
}

/// One value a setting.
#[derive(Debug, Clone, Copy)]
pub(super) struct Values([Option<f64>; Setting::ALL.len()]);

impl Values {
    /// The value; `None` where the fleet file has none.
    pub(super) fn get(&self, setting: Setting) -> Option<f64> {
        self.0[setting as usize]
    }

    /// The same with one setting moved.
    pub(super) fn with(mut self, setting: Setting, value: f64) -> Self {
        self.0[setting as usize] = Some(value);
        self
    }
}
