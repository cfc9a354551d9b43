//! Why ground has no liquid.

use super::sections::ClosedSections;
use serde::Serialize;

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
    /// Nobody stated the rig's position error, and with that of a phone there may be no gap.
    ErrorUntold,
}

impl GapCause {
    /// Ground that somebody may be sent back to for this cause: a driver who bends round something saw it, what lies in
    /// a silence may have been treated, and a setting that was left out is not a reason for a trip.
    #[must_use]
    pub fn is_for_a_trip(self) -> bool {
        !matches!(self, Self::BentRound | Self::Silence | Self::ErrorUntold)
    }
}

/// Why most of a patch has no liquid, as a clause.
pub(super) fn cause_clause(cause: GapCause, closed: Option<&ClosedSections>) -> String {
    match (cause, closed) {
        (GapCause::NeverReached, _) => "mostly no boom passed over".to_owned(),
        (GapCause::BentRound, _) => {
            "the rigs steered around it (a car, a snow pile or a cart corral?)".to_owned()
        }
        (GapCause::SprayingOff, _) => "mostly crossed with spraying off".to_owned(),
        (GapCause::Closed, None) => {
            "mostly passed over with a section closed and others open".to_owned()
        }
        (GapCause::Closed, Some(closed)) => format!(
            "mostly passed over with {} closed and others open",
            closed.named()
        ),
        (GapCause::Dry, _) => "mostly passed over with the section open and no liquid".to_owned(),
        (GapCause::Silence, _) => {
            "the log has no fixes over most of it: it may have been treated".to_owned()
        }
        (GapCause::ErrorUntold, _) => {
            "the position error was assumed, as none is stated; with a phone's there may be no gap"
                .to_owned()
        }
    }
}
