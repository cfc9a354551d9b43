//! What a night asks for: the unit of work, and what it may cost.

use crate::night::Counts;

/// Processor time for each unit of work.
pub(crate) struct Price {
    /// A fix, read, cleaned and followed, us.
    pub fix_us: f64,
    /// An edge of an outline, laid, united with its neighbours and drawn, us.
    pub edge_us: f64,
    /// A dose cell, filled and counted, us.
    pub cell_us: f64,
}

/// What is aimed at.
pub(crate) const GOAL: Price = Price {
    fix_us: 1.5,
    edge_us: 1.5,
    cell_us: 0.006,
};
/// What comes before it.
pub(crate) const MILESTONE: Price = Price {
    fix_us: 2.0,
    edge_us: 3.0,
    cell_us: 0.006,
};
/// What memory may cost, bytes a fix, above a base.
pub(crate) const GOAL_BYTES: f64 = 200.0;
/// The base: 64 MB.
const BASE_BYTES: f64 = 64.0 * 1024.0 * 1024.0;

impl Price {
    /// Of a whole night, s.
    pub(crate) fn seconds(&self, counts: &Counts) -> f64 {
        1e-6 * (self.fix_us * counts.fixes as f64
            + self.edge_us * counts.edges as f64
            + self.cell_us * counts.cells as f64)
    }
}

/// Memory above the base, bytes a fix.
pub(crate) fn bytes_a_fix(peak_bytes: f64, counts: &Counts) -> f64 {
    (peak_bytes - BASE_BYTES).max(0.0) / counts.fixes as f64
}
