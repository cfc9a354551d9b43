//! How a rig moved.

use serde::{Deserialize, Serialize};

/// How a rig moved over a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Motion {
    /// Standing, or creeping too slowly to tell: heading held.
    Parked,
    /// Forward.
    Forward,
    /// Backward.
    Reverse,
}
